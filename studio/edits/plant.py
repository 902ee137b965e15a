"""What a hand does when it plants the plot with lines."""

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, cos, isfinite, pi

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from studio.design.design import Design
from studio.design.field import Line
from studio.design.obstacles import AnyObstacle, Block, Fence, Pole
from studio.design.site import Ring
from studio.edits.edit import Edit
from studio.edits.geometry import MOST_MIRRORS, behind, direction, level_spacing
from studio.edits.line_room import LineRoom, room_of
from studio.edits.lines import next_id, usual_spacing
from studio.engine.ground.plant import PlantedLine, Planting, azimuths_of, plant
from studio.errors import BadInputError
from studio.text import _, number

LEAST = 4
"""Mirrors below which a line is not worth its drive, unless fewer are asked for."""
_MOST_LINES = 1000
_SPARE_M = 1e-6
"""Kept free at every edge, so that rounding puts nothing outside."""
_HEADER_M = 0.75
"""Kept free along the line beyond its stroke and its drive, where a header passes its end."""
_QUARTER = 4
"""Corners to a quarter of the polygon that stands for the round of the store."""


@dataclass(frozen=True)
class Offer:
    """An azimuth along an edge of the plot, and how many mirrors planting along it gives."""

    azimuth_deg: float
    mirrors: int


@dataclass(frozen=True)
class _Wish:
    """What is to be planted: a line like all of them, what it takes up, and how they follow one another."""

    line: Line
    room: LineRoom
    pitch_m: float
    longest: int
    least: int
    lane_every: int
    lane_m: float
    keep: bool

    def on(self, design: Design, land: BaseGeometry) -> Planting:
        """The best planting of some land."""
        return plant(
            land,
            azimuth_deg=self.line.azimuth_deg,
            pitch_m=self.pitch_m,
            spacing_m=_spacing_on_plan(self.line, design),
            reach_along_m=(self.room.before_m, self.room.after_m),
            reach_square_m=(self.room.right_m, self.room.left_m),
            longest=self.longest,
            least=self.least,
            lane_every=self.lane_every,
            lane_m=self.lane_m,
            between_m=_HEADER_M,
        )


def _spacing_on_plan(line: Line, design: Design) -> float:
    """Between neighbouring vertices on the plan. Over uneven ground each line gets a grade of its own where it comes to
    lie; none then takes more room on the plan than a level one."""
    return line.spacing_m if design.ground.heights is not None else level_spacing(line, design.ground)


def plant_lines(
    design: Design,
    *,
    azimuth_deg: float,
    pitch_m: float,
    spacing_m: float | None = None,
    longest: int | None = None,
    least: int | None = None,
    lane_every: int = 0,
    lane_m: float = 0.0,
    replace: bool = True,
) -> Edit:
    """Plant the plot with parallel lines at a pitch, where most mirrors fit; they are numbered from the front.

    Mirrors, strokes and drives stay inside the setback and clear of no-build areas, of obstacles and of the store. The lines take the
    place of those there are and are numbered from 1; not ``replace``, they are added to them by the maintenance gap, with numbers that go on.
    ``spacing_m`` counts along the line; without it the usual one is taken. ``longest`` and ``least`` are mirrors of a
    line; after every ``lane_every`` lines a lane of ``lane_m`` is left. Raises BadInputError where nothing fits, and
    says which limit leaves no room.
    """
    wish = _wish(design, azimuth_deg, pitch_m, spacing_m, longest, least, lane_every, lane_m, not replace)
    found = wish.on(design, _land(design, azimuth_deg=wish.line.azimuth_deg, keep=wish.keep))
    if not found.lines:
        raise BadInputError(_why_nothing(design, wish))
    if len(found.lines) > _MOST_LINES:
        raise BadInputError(
            _(
                "{count} lines would fit; a field has at most {most}, so a wider pitch or longer lines would be right."
            ).format(count=number(len(found.lines), digits=0), most=number(_MOST_LINES, digits=0))
        )
    first = next_id(design) if wish.keep else 1
    new = tuple(
        dataclasses.replace(
            wish.line, id=first + place, x_m=round(one.x_m, 9), y_m=round(one.y_m, 9), count=one.count
        )
        for place, one in enumerate(_from_the_front(design, wish.line, found))
    )
    label = _("Plant {lines} lines with {mirrors} mirrors at {pitch} m").format(
        lines=len(new), mirrors=number(found.mirrors, digits=0), pitch=number(pitch_m, digits=2)
    )
    if wish.keep:
        return Edit(label, dataclasses.replace(design, lines=(*design.lines, *new)))
    return Edit(label, dataclasses.replace(design, lines=new, last_line=0))


def offers(
    design: Design,
    *,
    pitch_m: float,
    spacing_m: float | None = None,
    longest: int | None = None,
    least: int | None = None,
    lane_every: int = 0,
    lane_m: float = 0.0,
    replace: bool = True,
    most: int = 8,
) -> tuple[Offer, ...]:
    """Azimuths along the plot's edges (of its ``most`` / 2 longest directions, either way), that of most mirrors first.

    Azimuths along which no line can be planted are left out.
    """
    _hold_boundary(design)
    found = []
    for azimuth in azimuths_of(Polygon(design.plot.boundary))[:most]:
        azimuth = round(azimuth, 6) % 360.0
        try:
            wish = _wish(design, azimuth, pitch_m, spacing_m, longest, least, lane_every, lane_m, not replace)
        except BadInputError:
            continue
        land = _land(design, azimuth_deg=azimuth, keep=wish.keep)
        if mirrors := wish.on(design, land).mirrors:
            found.append(Offer(azimuth, mirrors))
    return tuple(sorted(found, key=lambda offer: -offer.mirrors))


def _hold_boundary(design: Design) -> None:
    if len(design.plot.boundary) < 3:
        raise BadInputError(_("There is no plot to plant yet; draw its boundary or bring it in first."))


def _wish(
    design: Design,
    azimuth_deg: float,
    pitch_m: float,
    spacing_m: float | None,
    longest: int | None,
    least: int | None,
    lane_every: int,
    lane_m: float,
    keep: bool,
) -> _Wish:
    """What is asked for, with what was left open filled in. BadInputError where its mirrors would overlap."""
    _hold_boundary(design)
    if not isfinite(azimuth_deg):
        raise BadInputError(
            _("An azimuth of {azimuth}° will not do; 0 to 360 would be right.").format(azimuth=azimuth_deg)
        )
    like = Line(id=1, x_m=0.0, y_m=0.0, azimuth_deg=azimuth_deg)
    room = room_of(design, like)
    if spacing_m is None:
        spacing_m = max(usual_spacing(design), ceil(100 * room.least_spacing_m - 1e-9) / 100)
    elif spacing_m < room.least_spacing_m:
        raise BadInputError(
            _(
                "A spacing of {spacing} m leaves no room for a mirror and its frame; {least} m or more would be right."
            ).format(
                spacing=number(spacing_m, digits=2),
                least=number(ceil(100 * room.least_spacing_m) / 100, digits=2),
            )
        )
    if 0 < pitch_m < room.deep_m:
        raise BadInputError(
            _(
                "A pitch of {pitch} m lets lines overlap; mirrors are {deep} m deep on the plan, and the maintenance gap comes on top."
            ).format(pitch=number(pitch_m, digits=2), deep=number(room.deep_m, digits=2))
        )
    longest = MOST_MIRRORS if longest is None else longest
    return _Wish(
        line=dataclasses.replace(like, spacing_m=spacing_m),
        room=room,
        pitch_m=pitch_m,
        longest=min(longest, MOST_MIRRORS),
        least=min(LEAST, longest) if least is None else least,
        lane_every=lane_every,
        lane_m=lane_m,
        keep=keep,
    )


def _land(
    design: Design,
    *,
    azimuth_deg: float,
    keep: bool,
    setback: bool = True,
    no_build: bool = True,
    obstacles: bool = True,
) -> BaseGeometry:
    """Where lines may lie: the plot less its setback, no-build areas, obstacles, the store and the lines that stay."""
    plot = design.plot
    edge = _SPARE_M + (plot.setback_m if setback else 0.0)
    land = shapely.buffer(Polygon(plot.boundary), -edge, join_style="mitre")
    taken = [*_stays(design)] if keep else []
    if no_build:
        taken += [_lengthened(area.ring, azimuth_deg) for area in plot.no_build if len(area.ring) >= 3]
    if obstacles:
        taken += [_footprint(one, azimuth_deg) for one in design.obstacles]
    store = design.store
    clear = (store.radius_m + plot.maintenance_gap_m) / cos(pi / 4 / _QUARTER)
    taken.append(Point(store.x_m, store.y_m).buffer(clear, quad_segs=_QUARTER))
    return shapely.difference(land, shapely.union_all(taken))


def _lengthened(ring: Ring, azimuth_deg: float) -> BaseGeometry:
    """A no-build area with room for a header before it and behind it, along the azimuth."""
    area = Polygon(ring).buffer(_SPARE_M, join_style="mitre")
    shift = _HEADER_M * np.array(direction(azimuth_deg))
    corners = shapely.get_coordinates(area.exterior)
    ends = np.stack([corners - shift, corners + shift], axis=1)
    swept = [shapely.MultiPoint(np.concatenate(pair)).convex_hull for pair in pairwise(ends)]
    return shapely.union_all([area, *(part for part in swept if part.area > 0)])


_SCREEN_M = 0.05
"""To either side of a fence nothing is planted: room for its posts."""


def _footprint(one: AnyObstacle, azimuth_deg: float) -> BaseGeometry:
    """Where an obstacle leaves no room: a shed with room for a header round it, a fence, a pole, all below a crown."""
    if isinstance(one, Block):
        return _lengthened(one.ring, azimuth_deg)
    if isinstance(one, Fence):
        return LineString(one.path).buffer(_SCREEN_M + _SPARE_M, cap_style="flat", join_style="mitre")
    radius = one.radius_m if isinstance(one, Pole) else one.crown_radius_m
    return Point(one.place).buffer((radius + _SPARE_M) / cos(pi / 4 / _QUARTER), quad_segs=_QUARTER)


def _stays(design: Design) -> Iterator[BaseGeometry]:
    """What the lines there are take up, and the maintenance gap round it."""
    for line in design.lines:
        there = room_of(design, line).rectangle(line, design)
        yield there.buffer(design.plot.maintenance_gap_m + _SPARE_M, join_style="mitre")


def _from_the_front(design: Design, like: Line, found: Planting) -> list[PlantedLine]:
    """Planted lines, strip by strip from the front, each strip along the azimuth."""
    if behind(design, like) > 0:  # the planting counts to the left
        return list(found.lines)
    strips: dict[float, list[PlantedLine]] = {}
    for one in found.lines:
        strips.setdefault(one.offset_m, []).append(one)
    return [one for strip in reversed(strips.values()) for one in strip]


def _why_nothing(design: Design, wish: _Wish) -> str:
    """Which limit leaves no room for a single line."""
    land = _land(design, azimuth_deg=wish.line.azimuth_deg, keep=wish.keep)
    single = wish.on(design, land) if wish.least == 1 else dataclasses.replace(wish, least=1).on(design, land)
    if single.lines:
        return _(
            "No line of {least} mirrors fits; the longest that fits has {found}, and so many or fewer would be right as the least."
        ).format(least=wish.least, found=max(line.count for line in single.lines))
    plot, stroke = design.plot, design.motion.stroke_m
    azimuth = wish.line.azimuth_deg
    if wish.keep and wish.on(design, _land(design, azimuth_deg=azimuth, keep=False)).lines:
        return _("No line fits beside the lines there are; planted in their place lines would fit.")
    if wish.on(design, _land(design, azimuth_deg=azimuth, keep=wish.keep, setback=False)).lines:
        return _("No line fits inside the setback of {setback} m; without it lines would fit.").format(
            setback=number(plot.setback_m, digits=2)
        )
    bare = wish.on(design, _land(design, azimuth_deg=azimuth, keep=wish.keep, no_build=False))
    if plot.no_build and bare.lines:
        return _("No line fits beside the no-build areas; without them lines would fit.")
    free = wish.on(design, _land(design, azimuth_deg=azimuth, keep=wish.keep, obstacles=False))
    if design.obstacles and free.lines:
        return _("No line fits beside the obstacles; without them lines would fit.")
    still = dataclasses.replace(wish, room=wish.room.without_stroke(stroke))
    if stroke and still.on(design, land).lines:
        return _(
            "No line fits with its stroke of {stroke} m each way; without a slide lines would fit."
        ).format(stroke=number(stroke, digits=2))
    room = wish.room
    return _("No line fits on this plot: one of {least} mirrors takes up {long} m by {deep} m.").format(
        least=wish.least,
        long=number(
            room.before_m + (wish.least - 1) * _spacing_on_plan(wish.line, design) + room.after_m,
            digits=1,
        ),
        deep=number(room.right_m + room.left_m, digits=1),
    )
