"""What has room: mirrors, strokes, drives and headers against the plot, its no-build areas and one another."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from studio.engine.ground.line_on_plan import LineOnPlan, distance_from_posts
from studio.engine.shade.rows import Floats

Kind = Literal[
    "mirror outside plot",
    "mirror inside setback",
    "mirror in no-build area",
    "drive outside plot",
    "drive in no-build area",
    "stroke outside plot",
    "stroke in no-build area",
    "stroke meets support",
    "stroke meets mirror",
    "strokes meet",
    "lines near",
    "lines cross",
    "no room for frame",
    "header in no-build area",
    "mirror in obstacle",
    "stroke in obstacle",
    "drive in obstacle",
    "header in obstacle",
]


@dataclass(frozen=True)
class Conflict:
    """One thing that has no room.

    ``line`` is None for a header (``other`` then numbers the header); beside an obstacle ``other`` numbers that. ``measured_m`` against ``limit_m``: for what
    leaves the plot, how far it reaches outside; in a no-build area, the longest stretch inside (the limit of both is 0);
    elsewhere the distance there is and the least that is wanted. A negative distance is an overlap. ``place`` is on
    the plan, x east, y north, m.
    """

    kind: Kind
    line: int | None
    mirror: int | None
    other: int | None
    measured_m: float
    limit_m: float
    place: tuple[float, float]


@dataclass(frozen=True)
class Plot:
    """Where may be built: the boundary, the strip inside it that stays free, and areas where nothing is built."""

    boundary: Polygon
    setback_m: float = 0.0
    no_build: tuple[Polygon, ...] = ()


def spacing_conflicts(
    plot: Plot,
    lines: tuple[LineOnPlan, ...],
    *,
    maintenance_gap_m: float,
    clearance_m: float = 0.05,
    frame_clearance_m: float = 0.02,
    headers: tuple[BaseGeometry, ...] = (),
) -> tuple[Conflict, ...]:
    """Everything that has no room, in the order mirrors, drives, strokes, lines, frames, headers.

    ``maintenance_gap_m`` is wanted on plan between the mirrors of two lines; ``clearance_m`` between what moves and
    what stands (in space: heights are compared), ``frame_clearance_m`` on either side of a frame in its gap. ``headers`` are lines or polygons on
    plan. One conflict per mirror, stroke, drive and no-build area, one per pair of lines.
    """
    if not lines:  # shapely's tree takes no empty array
        return tuple(_headers(plot, headers))
    return (
        *_mirrors(plot, lines),
        *_drives(plot, lines),
        *_strokes(plot, lines, clearance_m),
        *_pairs(lines, maintenance_gap_m),
        *_frames(lines, frame_clearance_m),
        *_headers(plot, headers),
    )


def _point(shape: BaseGeometry) -> tuple[float, float]:
    point = shapely.centroid(shape)
    return float(point.x), float(point.y)


def _longest(shape: BaseGeometry) -> float:
    return 2 * float(shapely.minimum_bounding_radius(shape))


def _outside(boundary: Polygon, shape: BaseGeometry) -> float:
    return float(shapely.distance(shapely.points(shapely.get_coordinates(shape)), boundary).max())


def _mirrors(plot: Plot, lines: tuple[LineOnPlan, ...]) -> Iterator[Conflict]:
    edge = plot.boundary.boundary
    shapely.prepare(plot.boundary)
    hulls = np.array([line.stand for line in lines], dtype=object)
    tight = ~(shapely.covers(plot.boundary, hulls) & (shapely.distance(hulls, edge) >= plot.setback_m))
    for area in plot.no_build:
        tight |= shapely.intersects(hulls, area)
    for number in np.flatnonzero(tight).tolist():
        line = lines[number]
        bad_areas = [area for area in plot.no_build if line.stand.intersects(area)]
        feet = line.feet
        inside, margin = shapely.covers(plot.boundary, feet), shapely.distance(feet, edge)
        for mirror in np.flatnonzero(~inside):
            far = _outside(plot.boundary, feet[mirror])
            place = int(line.places[mirror])
            yield Conflict("mirror outside plot", number, place, None, far, 0.0, _point(feet[mirror]))
        for mirror in np.flatnonzero(inside & (margin < plot.setback_m)):
            yield Conflict(
                "mirror inside setback",
                number,
                int(line.places[mirror]),
                None,
                float(margin[mirror]),
                plot.setback_m,
                _point(feet[mirror]),
            )
        for area in bad_areas:
            common = shapely.intersection(feet, area)
            for mirror in np.flatnonzero(shapely.area(common) > 0):
                stretch, place = _longest(common[mirror]), int(line.places[mirror])
                yield Conflict(
                    "mirror in no-build area", number, place, None, stretch, 0.0, _point(common[mirror])
                )


def _drives(plot: Plot, lines: tuple[LineOnPlan, ...]) -> Iterator[Conflict]:
    drives = np.array([line.drive for line in lines], dtype=object)
    tight = ~shapely.covers(plot.boundary, drives)  # also where there is no drive
    for area in plot.no_build:
        tight |= shapely.intersects(drives, area)
    for number in np.flatnonzero(tight).tolist():
        line = lines[number]
        if line.drive is None:
            continue
        if not plot.boundary.covers(line.drive):
            far = _outside(plot.boundary, line.drive)
            yield Conflict("drive outside plot", number, None, None, far, 0.0, _point(line.drive))
        for area in plot.no_build:
            common = area.intersection(line.drive)
            if common.area > 0:
                yield Conflict(
                    "drive in no-build area", number, None, None, _longest(common), 0.0, _point(common)
                )


def _headers(plot: Plot, headers: tuple[BaseGeometry, ...]) -> Iterator[Conflict]:
    for number, header in enumerate(headers):
        for area in plot.no_build:
            common = area.intersection(header)
            if common.length > 0:
                yield Conflict(
                    "header in no-build area", None, None, number, _longest(common), 0.0, _point(common)
                )


def _strokes(plot: Plot, lines: tuple[LineOnPlan, ...], clearance_m: float) -> Iterator[Conflict]:
    hulls = np.array([line.swept for line in lines], dtype=object)
    for number in np.flatnonzero(~shapely.covers(plot.boundary, hulls)).tolist():
        out = shapely.difference(hulls[number], plot.boundary)
        far = _outside(plot.boundary, out)
        yield Conflict("stroke outside plot", number, None, None, far, 0.0, _point(out))
    for area in plot.no_build:
        for number in np.flatnonzero(shapely.intersects(area, hulls)).tolist():
            common = shapely.intersection(hulls[number], area)
            if common.area > 0:
                yield Conflict(
                    "stroke in no-build area", number, None, None, _longest(common), 0.0, _point(common)
                )
    stands = [line.stand for line in lines]
    tree = shapely.STRtree(stands)
    for number, other in np.transpose(tree.query(hulls, predicate="intersects")).tolist():
        if number != other:
            yield from _stroke_on_mirrors(number, lines[number], other, lines[other], clearance_m)
        line, beside = lines[number], lines[other]
        gap, mirror = line.from_own_support if number == other else distance_from_posts(line, beside)
        if gap < clearance_m:
            x, y = beside.heads[mirror, :2].tolist()
            place = int(beside.places[mirror])
            yield Conflict("stroke meets support", number, place, other, gap, clearance_m, (x, y))
    for number, other in np.transpose(
        shapely.STRtree(hulls).query(hulls, predicate="dwithin", distance=clearance_m)
    ).tolist():
        low, high = lines[number].heights, lines[other].heights
        if number < other and low[0] < high[1] + clearance_m and high[0] < low[1] + clearance_m:
            apart = float(shapely.distance(hulls[number], hulls[other]))
            between = shapely.shortest_line(hulls[number], hulls[other])
            yield Conflict("strokes meet", number, None, other, apart, clearance_m, _point(between))


def _stroke_on_mirrors(
    number: int, line: LineOnPlan, other: int, beside: LineOnPlan, clearance_m: float
) -> Iterator[Conflict]:
    """The mirror of ``beside`` that the sliding bar of ``line`` comes nearest to, if too near.

    Over the part of the plan that both take up, the height of a flat aperture and of a straight bar are linear, so
    their least distance in height is found at its corners.
    """
    feet = beside.feet
    worst: Conflict | None = None
    for ends in line.bars:
        axis = ends[1] - ends[0]
        strip = shapely.linestrings(ends[:, :2]).buffer(line.bar_radius_m, cap_style="flat")
        for mirror in np.flatnonzero(shapely.intersects(feet, strip)).tolist():
            common = shapely.intersection(feet[mirror], strip)
            points = shapely.get_coordinates(common)
            on_bar = ends[0, 2] + (points - ends[0, :2]) @ axis[:2] / (axis[:2] @ axis[:2]) * axis[2]
            above = on_bar - _height_on(beside.corners[mirror], points)
            gap = float(max(above.min(), -above.max())) - line.bar_radius_m
            if gap < clearance_m and (worst is None or gap < worst.measured_m):
                place = int(beside.places[mirror])
                worst = Conflict(
                    "stroke meets mirror", number, place, other, gap, clearance_m, _point(common)
                )
    if worst is not None:
        yield worst


def _height_on(corners: Floats, points: Floats) -> Floats:
    """Height (P,) of the plane through an aperture's ``corners`` (4, 3) at ``points`` (P, 2) of the plan."""
    normal = np.cross(corners[1] - corners[0], corners[3] - corners[0])
    return np.asarray(corners[0, 2] - (points - corners[0, :2]) @ normal[:2] / normal[2])


def _pairs(lines: tuple[LineOnPlan, ...], gap_m: float) -> Iterator[Conflict]:
    hulls = [line.stand for line in lines]
    found = shapely.STRtree(hulls).query(hulls, predicate="dwithin", distance=gap_m)
    for number, other in sorted(pair for pair in np.transpose(found).tolist() if pair[0] < pair[1]):
        middles = lines[number].middle, lines[other].middle
        if shapely.intersects(*middles):
            place = _point(shapely.intersection(*middles))
            yield Conflict("lines cross", number, None, other, 0.0, gap_m, place)
            continue
        feet, beside = lines[number].feet, lines[other].feet
        nearest, apart = shapely.STRtree(beside).query_nearest(feet, return_distance=True, all_matches=False)
        mirror = int(apart.argmin())
        if apart[mirror] < gap_m:
            between = shapely.shortest_line(feet[mirror], beside[nearest[1, mirror]])
            near = int(lines[number].places[mirror])
            yield Conflict("lines near", number, near, other, float(apart[mirror]), gap_m, _point(between))


def _frames(lines: tuple[LineOnPlan, ...], clearance_m: float) -> Iterator[Conflict]:
    for number, line in enumerate(lines):
        wanted = line.frame_width_m + 2 * clearance_m
        if line.gap is not None and line.gap[0] < wanted:
            yield Conflict("no room for frame", number, 0, None, line.gap[0], wanted, line.gap[1])
