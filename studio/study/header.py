"""Stage: how the header runs from line ends to the store, and how long it is."""

from collections.abc import Sequence
from functools import lru_cache
from itertools import chain, pairwise

import numpy as np
import shapely

from studio.design.design import Design
from studio.engine.ground.route import Obstacles, length_of, shortest_tree
from studio.engine.ground.straight import laid_length
from studio.ground import surface_of
from studio.study.assessment import Array, HeaderRun, PlacedLine
from studio.study.place import swept_m

Point = tuple[float, float]
Run = tuple[Point, ...]
_STUB_M = 0.5
"""Room between a line's stroke end and the header that passes it."""
_ACROSS_M = 1e-3
"""A way nearer than this to the middle of a row crosses it, or runs along it."""
_CLEAR_M = 0.25
"""Between the header and what it goes round."""


def header_of(design: Design, placed: tuple[PlacedLine, ...]) -> HeaderRun:
    """The hot header joins the far ends to the store, the cold one the drive ends.

    A drawn route is followed: each line end is joined to its nearest point, and the store to its nearest point. Where
    none is drawn the route passes the line ends half a metre outside their stroke ends, in their order square to the
    lines, and goes on to the store: straight, or round the rows where they lie between. Where a row would lie across
    the route itself, as with lines end to end, the route branches. What is not drawn goes round no-build areas by the
    shortest way. No line, no header.
    """
    if not placed:
        return HeaderRun((), (), 0.0, 0.0)
    field = _Field(design, placed)
    hot = field.runs(design.header.hot, far=True)
    cold = field.runs(design.header.cold, far=False)
    return HeaderRun(hot=hot, cold=cold, hot_m=_length(design, hot), cold_m=_length(design, cold))


class _Field:
    """What a header runs through: rows and their ends, no-build areas, the store."""

    def __init__(self, design: Design, placed: tuple[PlacedLine, ...]) -> None:
        self.store = (design.store.x_m, design.store.y_m)
        self.reach = swept_m(design)
        self.wide, self.deep = design.mirror.width_m, design.mirror.height_m
        ways = np.stack([line.along[:2] for line in placed])
        self.ways: Array = ways / np.hypot(ways[:, 0], ways[:, 1])[:, None]
        self.along: Array = self.ways[0]
        self.square = np.array([-self.along[1], self.along[0]])
        self.rows = (
            np.stack([line.first[:2] for line in placed]),
            np.stack([_last(line)[:2] for line in placed]),
        )
        self.middles = shapely.multilinestrings(np.stack(self.rows, axis=1))
        self.areas = tuple(area.ring for area in design.plot.no_build if len(area.ring) >= 3)

    def runs(self, drawn: Run, *, far: bool) -> tuple[Run, ...]:
        """The route, a piece from each line end to it, and the way on to the store."""
        ends, passing = self._ends(far=far)
        passing.sort(key=lambda place: place[0] * self.square[0] + place[1] * self.square[1])
        followed = len(drawn) >= 2
        branches = not followed and self._rows_across(tuple(passing))
        if followed:
            trunk = [drawn]
        elif branches:
            trunk = list(shortest_tree(passing, self._obstacles()))
        else:
            trunk = self._round_areas([tuple(passing)])
        joined = _lines(trunk) if len(passing) >= 2 or followed else shapely.Point(passing[0])
        *places, at_store = _nearest(joined, [*ends, self.store])
        on: Run = (at_store, self.store)
        if branches:
            on = self._obstacles().way(*on) or on
        elif not followed and self._rows_across(on):
            on = self._round_rows(passing[0], passing[-1])
        pieces: list[Run] = list(zip(ends, places, strict=True))
        runs = [*trunk, *self._round_areas([*pieces, on])]
        return tuple(run for run in runs if len(run) >= 2 and length_of(run) > 1e-6)

    def _ends(self, *, far: bool) -> tuple[list[Point], list[Point]]:
        """Where the lines' pipes end on the plan at full slide, and where a header passes them."""
        vertices, way = (self.rows[1], self.ways) if far else (self.rows[0], -self.ways)
        return _points(vertices + way * self.reach), _points(vertices + way * (self.reach + _STUB_M))

    def _rows_across(self, way: Run) -> bool:
        """Whether a way crosses the middle of a row."""
        return len(way) > 1 and bool(shapely.dwithin(shapely.LineString(way), self.middles, _ACROSS_M))

    def _round_rows(self, first: Point, last: Point) -> Run:
        """The way to the store round the nearer end of the rows, from the route's first or last point."""
        ways = []
        for end, outward in ((first, -1.0), (last, 1.0)):
            clear = float(np.dot(end, self.square)) + outward * (self.deep / 2 + 1.0)
            corners = [
                float(np.dot(place, self.along)) * self.along + clear * self.square
                for place in (end, self.store)
            ]
            ways.append((end, *((float(x), float(y)) for x, y in corners), self.store))
        return min(ways, key=length_of)

    def _round_areas(self, runs: list[Run]) -> list[Run]:
        """Runs whose legs go round no-build areas, and then round rows too; a leg that ends in an area stays straight."""
        if not self.areas:
            return runs
        legs = [leg for run in runs for leg in pairwise(run)]
        if not legs or not (blocked := _obstacles(self.areas, b"").block(np.array(legs))).any():
            return runs
        across = iter(blocked.tolist())
        return [_joined([self._way(leg) if next(across) else leg for leg in pairwise(run)]) for run in runs]

    def _way(self, leg: tuple[Point, Point]) -> Run:
        return self._obstacles().way(*leg) or leg

    def _obstacles(self) -> Obstacles:
        """No-build areas, and what the mirrors of each row stand on."""
        aside = np.stack([-self.ways[:, 1], self.ways[:, 0]], axis=1) * self.deep / 2
        reach = self.wide / 2 * self.ways
        back, ahead = self.rows[0] - reach, self.rows[1] + reach
        corners = np.stack([back - aside, ahead - aside, ahead + aside, back + aside], axis=1)
        return _obstacles(self.areas, corners.tobytes())


@lru_cache(maxsize=16)
def _obstacles(areas: tuple[Run, ...], rows: bytes) -> Obstacles:
    """No-build areas, and outlines (L, 4, 2) of rows as bytes of floats."""
    outlines = np.asarray(shapely.polygons(np.frombuffer(rows).reshape(-1, 4, 2)), dtype=object)
    return Obstacles([*(shapely.Polygon(ring) for ring in areas), *outlines.tolist()], clear_m=_CLEAR_M)


def _lines(runs: Sequence[Run]) -> shapely.MultiLineString:
    whose = np.repeat(np.arange(len(runs)), [len(run) for run in runs])
    lines = shapely.linestrings(np.array(list(chain(*runs))), indices=whose)
    return shapely.MultiLineString(np.asarray(lines, dtype=object).tolist())


def _points(places: Array) -> list[Point]:
    return [(x, y) for x, y in places.tolist()]


def _joined(legs: list[Run]) -> Run:
    return (*legs[0], *(point for leg in legs[1:] for point in leg[1:]))


def _last(line: PlacedLine) -> Array:
    return np.asarray(line.first + (line.count - 1) * line.spacing_m * line.along)


def _nearest(trunk: shapely.Geometry, points: list[Point]) -> list[Point]:
    """The point of the trunk that lies nearest to each of ``points``."""
    joins = shapely.shortest_line(trunk, np.asarray(shapely.points(points), dtype=object))
    return _points(shapely.get_coordinates(joins)[::2])


def _length(design: Design, runs: tuple[Run, ...]) -> float:
    ground = design.ground
    if ground.heights is None and not ground.slope_percent:
        return sum(map(length_of, runs))
    return sum(laid_length(surface_of(ground), run) for run in runs)
