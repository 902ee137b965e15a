"""Stage: how the header runs from line ends to the store, and how long it is."""

import numpy as np
import shapely

from studio.design.design import Design
from studio.study.assessment import Array, HeaderRun, PlacedLine
from studio.study.place import swept_m

Point = tuple[float, float]
_STUB_M = 0.5
"""Room between a line's stroke end and the header that passes it."""


def header_of(design: Design, placed: tuple[PlacedLine, ...]) -> HeaderRun:
    """The hot header joins the far ends to the store, the cold one the drive ends.

    A drawn route is followed: each line end is joined to its nearest point, and the store to its nearest point. Where
    none is drawn the route passes the line ends half a metre outside their stroke ends, in their order square to the
    lines, and goes on to the store: straight, or round the rows where they lie between. No line, no header.
    """
    if not placed:
        return HeaderRun((), (), 0.0, 0.0)
    store = (design.store.x_m, design.store.y_m)
    reach = swept_m(design)
    room = design.mirror.height_m / 2 + 1.0
    hot = _runs(design.header.hot, [_end(line, reach, far=True) for line in placed], placed, store, room)
    cold = _runs(design.header.cold, [_end(line, reach, far=False) for line in placed], placed, store, room)
    return HeaderRun(hot=hot, cold=cold, hot_m=_length(hot), cold_m=_length(cold))


def _end(line: PlacedLine, reach: float, *, far: bool) -> tuple[Point, Point]:
    """Where a line's pipe ends on the plan at full slide, and where a header passes it."""
    along = line.along[:2] / np.linalg.norm(line.along[:2])
    vertex = line.first + (line.count - 1) * line.spacing_m * line.along if far else line.first
    way = along if far else -along
    end, passing = vertex[:2] + way * reach, vertex[:2] + way * (reach + _STUB_M)
    return (float(end[0]), float(end[1])), (float(passing[0]), float(passing[1]))


def _runs(
    drawn: tuple[Point, ...],
    ends: list[tuple[Point, Point]],
    placed: tuple[PlacedLine, ...],
    store: Point,
    room_m: float,
) -> tuple[tuple[Point, ...], ...]:
    """The route, a piece from each line end to it, and the way on to the store."""
    along = placed[0].along[:2] / np.linalg.norm(placed[0].along[:2])
    square = np.array([-along[1], along[0]])
    if len(drawn) >= 2:
        route = drawn
    else:
        route = tuple(sorted((point for _end_point, point in ends), key=lambda p: float(np.dot(p, square))))
    trunk = shapely.LineString(route) if len(route) >= 2 else shapely.Point(route[0])
    straight = (_nearest(trunk, store), store)
    on = straight if len(drawn) >= 2 else _round_rows(route, store, straight, placed, (along, square), room_m)
    runs = [route, *((end, _nearest(trunk, end)) for end, _point in ends), on]
    return tuple(run for run in runs if len(run) >= 2 and shapely.LineString(run).length > 1e-6)


def _round_rows(
    route: tuple[Point, ...],
    store: Point,
    straight: tuple[Point, Point],
    placed: tuple[PlacedLine, ...],
    frame: tuple[Array, Array],
    room_m: float,
) -> tuple[Point, ...]:
    """The way to the store: straight where no row lies between, else round the nearer end of the rows."""
    rows = shapely.multilinestrings([line.vertices()[[0, -1], :2] for line in placed])
    if not shapely.LineString(straight).intersects(rows):
        return straight
    along, square = frame
    ways = []
    for end, outward in ((route[0], -1.0), (route[-1], 1.0)):
        clear = float(np.dot(end, square)) + outward * room_m
        corners = [
            float(np.dot(end, along)) * along + clear * square,
            float(np.dot(store, along)) * along + clear * square,
        ]
        ways.append((end, *((float(x), float(y)) for x, y in corners), store))
    return min(ways, key=lambda way: shapely.LineString(way).length)


def _nearest(trunk: shapely.Geometry, point: Point) -> Point:
    join = shapely.get_coordinates(shapely.shortest_line(trunk, shapely.Point(point)))[0]
    return float(join[0]), float(join[1])


def _length(runs: tuple[tuple[Point, ...], ...]) -> float:
    return float(sum(shapely.LineString(run).length for run in runs))
