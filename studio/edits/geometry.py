"""Where lines stand on the plan: ends, lengths, and distances square to them. Plan metres, x east, y north."""

from collections.abc import Iterable, Sequence
from math import atan2, ceil, cos, degrees, hypot, isfinite, radians, sin, sqrt, tan

from studio.design.design import Design
from studio.design.field import Line
from studio.design.site import Ground, Point
from studio.ground import straight_of, surface_of
from studio.text import _

PARALLEL_DEG = 10.0
"""Lines that differ by less in azimuth are neighbours with a pitch."""
SOLSTICE_DEG = 23.44
"""Declination of the sun at the winter solstice."""
MOST_MIRRORS = 400


def direction(azimuth_deg: float) -> Point:
    """Unit vector of an azimuth, clockwise from true north."""
    return sin(radians(azimuth_deg)), cos(radians(azimuth_deg))


def square(azimuth_deg: float) -> Point:
    """Unit vector square to an azimuth, to its left (north of an eastward line)."""
    x, y = direction(azimuth_deg)
    return -y, x


def azimuth_between(start: Point, end: Point) -> float:
    """Azimuth from one point to another, 0 to 360."""
    return degrees(atan2(end[0] - start[0], end[1] - start[1])) % 360.0


def distance(start: Point, end: Point) -> float:
    """Distance between two points."""
    return hypot(end[0] - start[0], end[1] - start[1])


def moved(point: Point, way: Point, by: float = 1.0) -> Point:
    """A point moved along a vector."""
    return point[0] + way[0] * by, point[1] + way[1] * by


def turned(point: Point, about: Point, angle_deg: float) -> Point:
    """A point turned clockwise about another."""
    c, s = cos(radians(angle_deg)), sin(radians(angle_deg))
    x, y = point[0] - about[0], point[1] - about[1]
    return about[0] + c * x + s * y, about[1] - s * x + c * y


def ground_height(ground: Ground, x_m: float, y_m: float) -> float:
    """Height of the land in metres above that of the reference point, or above what its measured heights count from."""
    if ground.heights is not None:
        return float(surface_of(ground).height_at(x_m, y_m))
    x, y = direction(ground.falls_towards_deg)
    return -ground.slope_percent / 100 * (x_m * x + y_m * y)


def grade_of(line: Line, ground: Ground) -> float:
    """Rise of a line, in metres per level metre: that of its land, over uneven land that of its own straight way."""
    if ground.heights is not None:
        return straight_of(line, ground).grade_percent / 100
    return -ground.slope_percent / 100 * cos(radians(line.azimuth_deg - ground.falls_towards_deg))


def level_spacing(line: Line, ground: Ground) -> float:
    """The line's spacing as the plan shows it: the line keeps its own grade."""
    return line.spacing_m / sqrt(1.0 + grade_of(line, ground) ** 2)


def level_length(line: Line, ground: Ground) -> float:
    """From the first vertex to the last, as the plan shows it."""
    return (line.count - 1) * level_spacing(line, ground)


def first_vertex(line: Line) -> Point:
    """Vertex of the first mirror."""
    return line.x_m, line.y_m


def last_vertex(line: Line, ground: Ground) -> Point:
    """Vertex of the last mirror."""
    return moved(first_vertex(line), direction(line.azimuth_deg), level_length(line, ground))


def middle(line: Line, ground: Ground) -> Point:
    """Middle between first and last vertex."""
    return moved(first_vertex(line), direction(line.azimuth_deg), level_length(line, ground) / 2)


def mirrors_for(length_m: float, spacing_m: float) -> int:
    """How many mirrors stand on a length from the first vertex to the last."""
    if not isfinite(length_m):
        return 1
    return max(1, min(MOST_MIRRORS, int(length_m / spacing_m + 1e-6) + 1))


def offset(line: Line, other: Line, ground: Ground) -> float:
    """How far the other line's middle lies from this line, square to it; positive to its left."""
    mine, there = first_vertex(line), middle(other, ground)
    x, y = square(line.azimuth_deg)
    return (there[0] - mine[0]) * x + (there[1] - mine[1]) * y


def parallel(line: Line, other: Line) -> bool:
    """Whether two lines run alike, either way round, so that there is a pitch between them."""
    between = (line.azimuth_deg - other.azimuth_deg) % 180.0
    return min(between, 180.0 - between) < PARALLEL_DEG


def behind(design: Design, line: Line) -> float:
    """+1 when the side behind the line's mirrors is to its left, else -1."""
    facing = design.mirror.facing_deg if line.facing_deg is None else line.facing_deg
    ahead, left = direction(facing), square(line.azimuth_deg)
    return -1.0 if ahead[0] * left[0] + ahead[1] * left[1] > 0 else 1.0


def neighbour(design: Design, line: Line) -> Line | None:
    """The parallel line this one's pitch is counted to: the next one in front, else the next one behind."""
    side = behind(design, line)
    apart = [
        (side * offset(line, other, design.ground), other)
        for other in design.lines
        if other.id != line.id and parallel(line, other)
    ]
    front = [each for each in apart if each[0] < 0]
    return min(front or apart, key=lambda each: abs(each[0]), default=(0.0, None))[1]


def pitch(design: Design, line: Line) -> float | None:
    """Distance to the neighbour, square to the line; None for a line that has none."""
    other = neighbour(design, line)
    return None if other is None else abs(offset(line, other, design.ground))


def front_line(design: Design, lines: Sequence[Line] | None = None) -> Line:
    """The line that stands farthest towards where the field's mirrors face."""
    ahead = direction(design.mirror.facing_deg)
    chosen = design.lines if lines is None else lines

    def lead(line: Line) -> float:
        x, y = middle(line, design.ground)
        return x * ahead[0] + y * ahead[1]

    return max(chosen, key=lead)


def usual_pitch(design: Design) -> float:
    """A pitch to begin with: that of the lines there are, else the one that clears the noon sun of the winter solstice.

    D = h (cos b + sin b / tan p), h the mirror's height, b its tilt, p the sun's elevation at noon: the spacing of
    unshaded rows (Duffie & Beckman, Solar Engineering of Thermal Processes, on shading of collectors in rows).
    """
    pitches = [p for p in (pitch(design, line) for line in design.lines) if p is not None and p > 0.05]
    if pitches:
        return round(sorted(pitches)[len(pitches) // 2], 3)
    noon = radians(max(8.0, 90.0 - abs(design.site.latitude_deg) - SOLSTICE_DEG))
    tilt = radians(design.mirror.tilt_deg)
    needed = design.mirror.height_m * (cos(tilt) + sin(tilt) / tan(noon))
    return ceil(needed * 20.0) / 20.0


_WINDS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")


def compass_word(azimuth_deg: float, *, within_deg: float = 0.5) -> str:
    """An azimuth as a person says it: 'south' within so many degrees of it, or '200°' between the eight winds."""
    eighth = round(azimuth_deg / 45.0)
    if abs(azimuth_deg - 45.0 * eighth) < within_deg:
        return _(_WINDS[eighth % 8])
    return f"{azimuth_deg % 360.0:.0f}°"


def line_names(ids: Iterable[int]) -> str:
    """Lines as a label names them: 'Line 3', 'Lines 1 and 4', '5 lines'."""
    numbers = sorted(ids)
    if len(numbers) == 1:
        return _("Line {number}").format(number=numbers[0])
    if len(numbers) == 2:
        return _("Lines {first} and {second}").format(first=numbers[0], second=numbers[1])
    return _("{count} lines").format(count=len(numbers))
