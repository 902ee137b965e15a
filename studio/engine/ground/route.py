"""Ways for a pipe over the land: the shortest one round what must not be crossed.

The shortest way among polygons bends only at their corners (the visibility graph: Lozano-Perez and Wesley 1979, An
algorithm for planning collision-free paths among polyhedral obstacles). Corners are looked at as the search comes to them
(A*: Hart, Nilsson and Raphael 1968), so that a way round one area costs next to nothing on a field of many rows.
"""

from collections.abc import Sequence
from heapq import heappop, heappush
from itertools import pairwise
from math import dist, inf

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

Floats = NDArray[np.float64]
Point = tuple[float, float]
_GRAZING_M = 1e-6
"""What a way may overlap an obstacle's margin by, so that it may run along it."""
_MITRE = 2.0
"""Corners of margins reach at most so many margins out."""
_NEIGHBOURS, _TRIED = 12, 3
"""Of a tree's point, those it may be joined straight with; ways tried to join what is parted."""


class Obstacles:
    """What a way goes round, at a distance of ``clear_m``; polygons that may overlap.

    A way that begins or ends inside a margin may lead through it; only the obstacle itself stays closed there.
    """

    def __init__(self, polygons: Sequence[Polygon], *, clear_m: float) -> None:
        bare = np.array(list(polygons), dtype=object)
        margins = shapely.buffer(bare, clear_m, join_style="mitre", mitre_limit=_MITRE)
        self._closed = shapely.buffer(margins, -_GRAZING_M, join_style="mitre")
        self._cores = shapely.buffer(bare, -_GRAZING_M, join_style="mitre")
        self._margins = margins
        self._tree = shapely.STRtree(self._closed) if len(bare) else None
        shapely.prepare(self._closed)
        shapely.prepare(self._cores)

    def block(self, straight: Floats) -> NDArray[np.bool_]:
        """Whether an obstacle itself lies across straight ways, from and to (N, 2, 2)."""
        blocked = np.zeros(len(straight), dtype=bool)
        if self._tree is not None and len(straight):
            lines = np.asarray(shapely.linestrings(straight), dtype=object)
            ways, near = self._tree.query(lines)
            blocked[ways[shapely.intersects(self._cores[near], lines[ways])]] = True
        return blocked

    def way(self, start: Point, end: Point) -> tuple[Point, ...] | None:
        """The shortest way from ``start`` to ``end``, both among its points; None where there is none.

        Obstacles are looked at once a way runs into them: the shortest way round some of them that is clear of all is the
        shortest round all.
        """
        if self._tree is None:
            return start, end
        ends = np.asarray(shapely.points([start, end]), dtype=object)
        leaving = np.unique(self._tree.query(ends, predicate="intersects")[1])
        if shapely.intersects(self._cores[leaving][:, None], ends).any():
            return None
        shapes = self._closed.copy()
        shapes[leaving] = self._cores[leaving]
        known: NDArray[np.int64] = np.empty(0, dtype=np.int64)
        corners: list[Floats] = []
        way: tuple[Point, ...] | None = (start, end)
        while way is not None:
            legs = np.asarray(shapely.linestrings(list(pairwise(way))), dtype=object)
            of_leg, near = self._tree.query(legs)
            met = np.setdiff1d(near[shapely.intersects(shapes[near], legs[of_leg])], known)
            if not len(met):
                return way
            known = np.concatenate([known, met])
            corners += [_corners(self._margins[one], inside=one in leaving) for one in met.tolist()]
            way = _shortest(start, end, corners, shapes[known])
        return None


def _corners(margin: Polygon, *, inside: bool) -> Floats:
    """Corners (N, 3, 2) of a margin, each with the one before and the one after; seen from inside it has no outside."""
    ring = shapely.get_coordinates(margin.exterior)[:-1]
    turns = (0, 0, 0) if inside else (0, 1, -1)
    return np.stack([np.roll(ring, turn, axis=0) for turn in turns], axis=1)


def _shortest(
    start: Point, end: Point, corners: Sequence[Floats], closed: NDArray[np.object_]
) -> tuple[Point, ...] | None:
    """The shortest way among some obstacles."""
    around = np.concatenate([[[start] * 3, [end] * 3], *corners])
    nodes = around[:, 0]
    to_end = np.hypot(*(nodes - nodes[1]).T)
    length, before = np.full(len(nodes), inf), np.zeros(len(nodes), dtype=np.int64)
    open_ = np.ones(len(nodes), dtype=bool)
    length[0] = 0.0
    queue = [(float(to_end[0]), 0)]
    while queue:
        _least, node = heappop(queue)
        if not open_[node]:
            continue
        open_[node] = False
        if node == 1:
            return _back(nodes, before)
        step = nodes - nodes[node]
        further = length[node] + np.hypot(*step.T)
        shorter = np.flatnonzero(open_ & (further < length) & _bends_round(step, around, node))
        if not len(shorter):
            continue
        ways = np.stack([np.broadcast_to(nodes[node], (len(shorter), 2)), nodes[shorter]], axis=1)
        straight = np.asarray(shapely.linestrings(ways), dtype=object)
        for other in shorter[~shapely.intersects(closed[:, None], straight).any(axis=0)].tolist():
            length[other], before[other] = further[other], node
            heappush(queue, (float(further[other] + to_end[other]), other))
    return None


def _bends_round(step: Floats, around: Floats, node: int) -> NDArray[np.bool_]:
    """Whether a straight way from a node passes both its own corner and the other one on the outside.

    A shortest way bends only where the two edges of the corner lie on one side of it.
    """

    def outside(edges: Floats) -> NDArray[np.bool_]:
        sides = step[:, None, 0] * edges[..., 1] - step[:, None, 1] * edges[..., 0]
        return np.asarray(sides[:, 0] * sides[:, 1] >= -(_GRAZING_M**2))

    return outside(around[:, 1:] - around[:, :1]) & outside(around[node, 1:] - around[node, 0])


def _back(nodes: Floats, before: NDArray[np.int64]) -> tuple[Point, ...]:
    at, way = 1, [1]
    while at != 0:
        at = int(before[at])
        way.append(at)
    return tuple((float(nodes[node, 0]), float(nodes[node, 1])) for node in reversed(way))


def length_of(way: Sequence[Point]) -> float:
    """Length of a way in metres."""
    return sum(dist(one, other) for one, other in pairwise(way))


def shortest_tree(points: Sequence[Point], obstacles: Obstacles) -> tuple[tuple[Point, ...], ...]:
    """Ways that join all ``points``: of those that run straight the shortest, and what is parted by obstacles round them.

    The least tree over straight ways (Kruskal 1956) between near neighbours; what it leaves parted is joined by the shortest
    way between those of its pairs that lie nearest, again and again. Two that no way joins are joined straight.
    """
    count = len(points)
    place = np.array(points, dtype=float).reshape(-1, 2)
    apart = np.hypot(*(place[:, None] - place).transpose(2, 0, 1))
    pairs = np.stack(np.triu_indices(count, 1), axis=1)
    pairs = pairs[np.argsort(apart[pairs[:, 0], pairs[:, 1]], kind="stable")]
    rank = apart.argsort(axis=1).argsort(axis=1)
    near = (rank[pairs[:, 0], pairs[:, 1]] <= _NEIGHBOURS) | (rank[pairs[:, 1], pairs[:, 0]] <= _NEIGHBOURS)
    group = np.arange(count)
    ways: list[tuple[Point, ...]] = []

    def join(one: int, other: int, way: tuple[Point, ...]) -> None:
        group[group == group[one]] = group[other]
        ways.append(way)

    close = pairs[near]
    for one, other in close[~obstacles.block(place[close])].tolist():
        if group[one] != group[other]:
            join(one, other, (points[one], points[other]))
    known: dict[tuple[int, int], tuple[Point, ...]] = {}
    while True:
        parted = [tuple(pair) for pair in pairs[group[pairs[:, 0]] != group[pairs[:, 1]]][:_TRIED].tolist()]
        if not parted:
            return tuple(ways)
        for one, other in parted:
            if (one, other) not in known:
                straight = points[one], points[other]
                known[one, other] = obstacles.way(*straight) or straight
        found = [known[one, other] for one, other in parted]
        best = min(range(len(found)), key=lambda each: length_of(found[each]))
        join(parted[best][0], parted[best][1], found[best])
