"""Where the ground is cut for a section: two points on the plan, and cuts square to a line. Plan metres."""

from dataclasses import dataclass
from math import atan2, degrees, hypot

import numpy as np
import shapely

from studio.design.design import Design
from studio.design.field import Line
from studio.design.site import Point
from studio.edits.geometry import (
    azimuth_between,
    direction,
    distance,
    level_spacing,
    middle,
    moved,
    square,
)

LEAST_M = 0.5
"""A cut shorter than this shows nothing."""
_BEYOND_M = 3.0
"""A cut made by itself reaches so far beyond the outermost lines."""
_NO_FIELD_M = 10.0
_EDGE_M = 0.5


@dataclass(frozen=True)
class Cut:
    """A cut of the ground from ``start`` (A, left in the section) to ``end`` (B); one looks to the left of that way.

    ``drawn``: a hand drew it; else the section made it by itself.
    """

    start: Point
    end: Point
    drawn: bool = False

    @property
    def length_m(self) -> float:
        """From A to B on the plan."""
        return distance(self.start, self.end)

    @property
    def azimuth_deg(self) -> float:
        """From A to B, clockwise from true north."""
        return azimuth_between(self.start, self.end)

    @property
    def looks_deg(self) -> float:
        """The azimuth one looks to, with A on the left and B on the right."""
        return (self.azimuth_deg - 90.0) % 360.0

    @property
    def way(self) -> Point:
        """Unit vector from A to B."""
        return direction(self.azimuth_deg)

    @property
    def look(self) -> Point:
        """Unit vector of the look."""
        return direction(self.looks_deg)

    def at(self, point: Point) -> tuple[float, float]:
        """A point of the plan seen from A: how far along the cut, and how far behind it (+ in the look)."""
        x, y = point[0] - self.start[0], point[1] - self.start[1]
        (a, b), (c, d) = self.way, self.look
        return x * a + y * b, x * c + y * d

    def point(self, along_m: float) -> Point:
        """The point of the plan so far along the cut."""
        return moved(self.start, self.way, along_m)

    def flipped(self) -> "Cut":
        """The same cut, looked at from its other side."""
        return Cut(self.end, self.start, self.drawn)

    def shifted(self, by: Point) -> "Cut":
        """The cut moved as a whole."""
        return Cut(moved(self.start, by), moved(self.end, by), self.drawn)


def square_cut(design: Design, line_id: int, at: Point | None = None, *, drawn: bool = False) -> Cut:
    """The cut square to a line through its mirror nearest to ``at`` (its middle unless given).

    It reaches over all lines that it crosses and over the plot, the mirrors' low side on the left. KeyError for an
    unknown line.
    """
    line = design.line(line_id)
    return _through(design, vertex_near(design, line, at), _up(design, line), drawn=drawn)


def first_cut(design: Design, ids: tuple[int, ...]) -> Cut:
    """The cut to begin with: square to the first of ``ids``, else to the line nearest to the field's middle."""
    known = {line.id for line in design.lines}
    chosen = [line_id for line_id in ids if line_id in known]
    if chosen:
        return square_cut(design, chosen[0])
    if design.lines:
        places = np.array([middle(line, design.ground) for line in design.lines])
        away = np.hypot(*(places - places.mean(axis=0)).T)
        return square_cut(design, design.lines[int(np.argmin(away))].id)
    if len(design.plot.boundary) >= 3:
        ring = np.array(design.plot.boundary)
        low, high = ring.min(axis=0), ring.max(axis=0)
        x, y = ((low + high) / 2).tolist()
        return _through(design, (x, y), (0.0, 1.0), drawn=False)
    return Cut((0.0, -_NO_FIELD_M), (0.0, _NO_FIELD_M))


def vertex_near(design: Design, line: Line, at: Point | None = None) -> Point:
    """The vertex of a line on the plan that is nearest to a point; to its middle unless given."""
    place = middle(line, design.ground) if at is None else at
    ahead, step = direction(line.azimuth_deg), level_spacing(line, design.ground)
    run = (place[0] - line.x_m) * ahead[0] + (place[1] - line.y_m) * ahead[1]
    number = min(max(round(run / step), 0), line.count - 1)
    return moved((line.x_m, line.y_m), ahead, number * step)


def next_mirror(design: Design, line_id: int, cut: Cut, by: int) -> Cut:
    """The cut moved along a line by so many mirrors, not beyond its ends."""
    line = design.line(line_id)
    here = vertex_near(design, line, crossing(cut, line) or cut.point(cut.length_m / 2))
    ahead, step = direction(line.azimuth_deg), level_spacing(line, design.ground)
    there = vertex_near(design, line, moved(here, ahead, by * step))
    return cut.shifted((there[0] - here[0], there[1] - here[1]))


def crossing(cut: Cut, line: Line) -> Point | None:
    """Where the cut's straight line meets that of a row of mirrors on the plan; None where they run alike."""
    (ax, ay), (bx, by) = cut.way, direction(line.azimuth_deg)
    cross = ax * by - ay * bx
    if abs(cross) < 1e-6:
        return None
    x, y = line.x_m - cut.start[0], line.y_m - cut.start[1]
    return cut.point((x * by - y * bx) / cross)


def angle_to(cut: Cut, azimuth_deg: float) -> float:
    """Angle between the cut and a line of this azimuth, 0 (along it) to 90 degrees (square to it)."""
    apart = (azimuth_deg - cut.azimuth_deg) % 180.0
    return min(apart, 180.0 - apart)


def _up(design: Design, line: Line) -> Point:
    """Square to a line, towards the mirrors' high edge; of two that are alike the northern one."""
    facing = direction(design.mirror.facing_deg if line.facing_deg is None else line.facing_deg)
    x, y = square(line.azimuth_deg)
    side = x * facing[0] + y * facing[1]
    if abs(side) < 1e-6:
        side = -y
    return (-x, -y) if side > 0 else (x, y)


def _through(design: Design, point: Point, way: Point, *, drawn: bool) -> Cut:
    azimuth = degrees(atan2(way[0], way[1])) % 360.0
    base = Cut(point, moved(point, way), drawn)
    room = hypot(design.mirror.height_m, design.motion.arm_m) + _BEYOND_M
    reach = [-room, room]
    for line in design.lines:
        if angle_to(base, line.azimuth_deg) < 20.0:
            continue
        met = crossing(base, line)
        if met is not None and distance(met, vertex_near(design, line, met)) <= line.spacing_m:
            along = base.at(met)[0]
            reach += [along - room, along + room]
    reach += _over_plot(design, base)
    way = direction(azimuth)
    start, end = moved(point, way, min(reach)), moved(point, way, max(reach))
    return Cut((round(start[0], 6), round(start[1], 6)), (round(end[0], 6), round(end[1], 6)), drawn)


def _over_plot(design: Design, base: Cut) -> list[float]:
    """How far the plot reaches along the cut's straight line."""
    ring = design.plot.boundary
    if len(ring) < 3:
        return []
    far = 2.0 * max(distance(base.start, corner) for corner in ring) + 1.0
    whole = shapely.LineString([base.point(-far), base.point(far)])
    shared = shapely.get_coordinates(whole.intersection(shapely.Polygon(ring).buffer(0)))
    along = [base.at((float(x), float(y)))[0] for x, y in shared]
    return [min(along) - _EDGE_M, max(along) + _EDGE_M] if along else []
