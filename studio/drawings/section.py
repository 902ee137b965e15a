"""A section as display data in metres: the ground cut along two points, with all that stands on it, at a moment. No Qt.

Places are (along, height): metres from A along the cut, and above the site's reference point, at one scale.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan, cos, degrees, radians, tan
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.design.mirror import Mirror
from studio.drawings.lines import line_on_plan
from studio.drawings.moment import Sun, parts_of, sun_at
from studio.drawings.plan import header_on_plan
from studio.drawings.section_cut import Cut
from studio.drawings.section_gear import GearInSection, gear_in_section
from studio.drawings.section_ground import (
    GroundInSection,
    HeaderInSection,
    ground_in_section,
    headers_in_section,
)
from studio.drawings.section_lengths import Height, Pitch, Shadow, heights_of, pitches_of, shadows_of
from studio.drawings.section_light import LightOnMirror, Target, field_of, lights_on
from studio.drawings.section_lines import LineAlong, LineInSection, crossed_line, line_along
from studio.engine.sky.horizon import is_hidden
from studio.study.assessment import PlacedLine
from studio.study.cache import Cache
from studio.study.place import swept_m

Array = NDArray[np.float64]
SunState = Literal["shines", "down", "behind the skyline"]
_ACROSS = 1e-6
_gears = Cache(most_bytes=2_000_000)


@dataclass(frozen=True, eq=False)
class SunInSection:
    """The sun in the cut's plane: ``profile_deg`` its elevation there (None while it is down), + ``from_right``."""

    sun: Sun
    state: SunState
    profile_deg: float | None
    from_right: bool


@dataclass(frozen=True, eq=False)
class CrossedLine:
    """A line that the cut crosses, with all of the moment."""

    line: LineInSection
    gear: GearInSection
    light: LightOnMirror
    shadow: Shadow | None


@dataclass(frozen=True, eq=False)
class AlongLine:
    """A line that the cut runs along: ``frames`` (F, 2, 2) in their gaps, ``pipe`` (2, 2) and ``stops`` (2, 2) at full slide,

    ``light`` of every mirror."""

    line: LineAlong
    gear: GearInSection
    light: tuple[LightOnMirror, ...]
    frames: Array
    pipe: Array
    stops: Array


@dataclass(frozen=True)
class Shades:
    """Line ``by`` shades the shown mirror of line ``on`` now: the share that its mirrors alone take."""

    by: int
    on: int
    share: float


@dataclass(frozen=True, eq=False)
class SectionDrawing:
    """All of a section at one moment; lines from left to right. ``bounds``: least x, least y, most x, most y."""

    cut: Cut
    sun: SunInSection
    ground: GroundInSection
    headers: tuple[HeaderInSection, ...]
    lines: tuple[CrossedLine, ...]
    along: tuple[AlongLine, ...]
    pitches: tuple[Pitch, ...]
    shades: tuple[Shades, ...]
    bounds: tuple[float, float, float, float]

    def crossed(self, line_id: int) -> CrossedLine | None:
        """The crossed line with this id."""
        return next((one for one in self.lines if one.line.id == line_id), None)

    def heights(self, line_id: int) -> tuple[Height, ...]:
        """How high the parts of a crossed line stand above the ground; none of one that is not there."""
        one = self.crossed(line_id)
        return () if one is None else heights_of(one.line, one.gear, self.ground)

    def ids(self) -> tuple[int, ...]:
        """Ids of all lines in the section."""
        return (*(one.line.id for one in self.lines), *(one.line.id for one in self.along))


def section_drawing(design: Design, cut: Cut, *, day_of_year: int, clock_h: float) -> SectionDrawing:
    """The section of a design along a cut at a moment of standard clock time."""
    sun = sun_at(design.site, day_of_year, clock_h)
    ground = ground_in_section(design, cut)
    reach = swept_m(design)
    on_plan = tuple(line_on_plan(line, design.mirror, design.ground, reach) for line in design.lines)
    placed = tuple(line.placed for line in on_plan)
    field = field_of(design, on_plan, sun)

    def gear_of(line: LineInSection | LineAlong) -> GearInSection:
        """Lines that stand, run and are cut alike share their gear, from one cut to the next too."""
        own = line.placed
        frames = (own.count // 2) % design.motion.mirrors_per_frame
        seen, crossed = line.seen.see.tobytes(), isinstance(line, LineInSection)
        stand = own.axes.tobytes(), own.along.tobytes(), own.spacing_m, frames, min(own.count, 3)
        key = (
            parts_of(design),
            design.materials.rod_mm,
            sun.direction.tobytes(),
            sun.shines,
            seen,
            crossed,
            stand,
        )
        return _gears.get(key, lambda: gear_in_section(design, line, sun))

    crossed, along = _lines(placed, design.mirror, cut, ground)
    shown = [Target(line, line.mirror, gear_of(line)) for line in crossed]
    beside = [
        [Target(line, number, gear_of(line)) for number in line.placed.there.tolist()] for line in along
    ]
    targets = [*shown, *(target for row in beside for target in row)]
    lights = iter(lights_on(field, targets, day_of_year, ground.obstacles))
    shadows = shadows_of(crossed, sun, ground)
    lines = tuple(
        CrossedLine(line, target.gear, next(lights), shadow)
        for line, target, shadow in zip(crossed, shown, shadows, strict=True)
    )
    rows = tuple(
        _along(design, line, row[0].gear, tuple(next(lights) for _target in row))
        for line, row in zip(along, beside, strict=True)
    )
    return SectionDrawing(
        cut=cut,
        sun=_sun_in(design, cut, sun),
        ground=ground,
        headers=headers_in_section(design, header_on_plan(design, placed, reach), cut, ground),
        lines=lines,
        along=rows,
        pitches=pitches_of(crossed, cut),
        shades=tuple(Shades(by, one.line.id, share) for one in lines for by, share in one.light.by),
        bounds=_bounds(ground, lines, rows),
    )


def _lines(
    placed: Sequence[PlacedLine], mirror: Mirror, cut: Cut, ground: GroundInSection
) -> tuple[tuple[LineInSection, ...], list[LineAlong]]:
    """The lines that the cut crosses, from left to right, and those that it runs along."""
    crossed, along = [], []
    for line in placed:
        across = crossed_line(line, mirror, cut, ground)
        if across is not None:
            crossed.append(across)
            continue
        beside = line_along(line, mirror, cut, ground)
        if beside is not None:
            along.append(beside)
    return tuple(sorted(crossed, key=lambda line: float(line.vertex[0]))), along


def profile_deg(sun: Sun, azimuth_deg: float) -> tuple[float, bool]:
    """Elevation of the sun seen in the upright plane along an azimuth, 0 to 90, and whether it stands towards that azimuth.

    tan p = tan(elevation) / cos(azimuth of the sun - that of the plane): the profile angle of rows square to the plane
    (Duffie & Beckman, Solar Engineering of Thermal Processes, on shading by overhangs and rows).
    """
    along = cos(radians(sun.azimuth_deg - azimuth_deg))
    if abs(along) < _ACROSS:
        return 90.0, True
    return degrees(atan(tan(radians(sun.elevation_deg)) / abs(along))), along > 0.0


def _sun_in(design: Design, cut: Cut, sun: Sun) -> SunInSection:
    if not sun.shines:
        return SunInSection(sun, "down", None, False)
    angle, right = profile_deg(sun, cut.azimuth_deg)
    hidden = bool(is_hidden(design.horizon.skyline, sun.direction[None])[0])
    return SunInSection(sun, "behind the skyline" if hidden else "shines", angle, right)


def _along(
    design: Design, line: LineAlong, gear: GearInSection, light: tuple[LightOnMirror, ...]
) -> AlongLine:
    placed, see = line.placed, line.seen.see
    step = (line.vertices[-1] - line.vertices[0]) / max(placed.count - 1, 1)
    gaps = (
        np.unique(np.append(np.arange(0, placed.count, design.motion.mirrors_per_frame), placed.count)) - 0.5
    )
    seats = line.vertices[0] + gaps[:, None] * step
    e = placed.axes @ placed.along @ see
    half = design.mirror.width_m / 2
    ends = np.stack([line.vertices[0] - half * e, line.vertices[-1] + half * e])
    low, high = gear.slide_limits_m
    out = np.stack([(low - gear.slide_m) * e, (high - gear.slide_m) * e])
    tail = design.motion.stroke_m * e
    return AlongLine(
        line=line,
        gear=gear,
        light=light,
        frames=seats[:, None] + gear.frame[None],
        pipe=ends + gear.pipe + np.stack([-tail, tail]),
        stops=ends + gear.pipe + np.stack([-tail, tail]) + out,
    )


def _bounds(
    ground: GroundInSection, crossed: tuple[CrossedLine, ...], along: tuple[AlongLine, ...]
) -> tuple[float, float, float, float]:
    points = [ground.profile]
    for one in crossed:
        points += [one.line.film, one.line.vertex + one.gear.path, one.line.vertex + one.gear.box]
    for line in along:
        points += [line.line.films.reshape(-1, 2), line.pipe, line.stops]
    for obstacle in ground.obstacles:
        points += obstacle.outlines
    every = np.concatenate(points)
    (x0, y0), (x1, y1) = every.min(axis=0), every.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)
