"""Exact areas of convex polygons, and of their union, inside an aperture.

Both follow from Green's theorem: the area inside a closed boundary is the integral of x dy along it. The boundary of a
union, cut by the aperture, is what of each polygon's edges lies in the aperture and in no other polygon, and what of the
aperture's two upright sides lies in any polygon; level edges have dy = 0 and bring nothing. A polygon is convex, so each
takes one interval of an edge, found from its half-planes.
"""

from dataclasses import dataclass

import numpy as np

from studio.engine.shade.reach import Bools, Ints
from studio.engine.shade.rows import Floats

_PARALLEL = 1e-12
_ONE_LINE_M = 1e-9
"""Parallel edges nearer than this lie on one line: of two alike the first bounds the union."""
_SHORTEST_M = 1e-12
_LEAST_AREA_M2 = 1e-12
_TOGETHER = 6_000
"""Polygons worked on at once, so that they stay in near memory."""


def ring_areas(rings: Floats, half: Floats) -> Floats:
    """Areas (...) of convex polygons ``rings`` (..., R, 2) inside the aperture that reaches ``half`` (2,) either way.

    Corners may be repeated, and run either way round.
    """
    area = np.zeros(rings.shape[:-2])
    for corner in range(rings.shape[-2]):
        here, there = rings[..., corner, :], rings[..., corner - 1, :]
        x, y, run, rise = (
            here[..., 0],
            here[..., 1],
            there[..., 0] - here[..., 0],
            there[..., 1] - here[..., 1],
        )
        level = np.where(np.abs(rise) < _SHORTEST_M, 1.0, rise)
        one, other = np.clip((-half[1] - y) / level, 0.0, 1.0), np.clip((half[1] - y) / level, 0.0, 1.0)
        area += np.abs(other - one) * rise * _mean_held(x + one * run, x + other * run, half[0])
    return np.abs(area)


def _mean_held(start: Floats, end: Floats, most: float) -> Floats:
    """Mean of a value that runs evenly from ``start`` to ``end`` and is held within ``most`` either way."""
    low, high = np.minimum(start, end), np.maximum(start, end)
    run = high - low
    from_, to = np.clip(low, -most, most), np.clip(high, -most, most)
    beyond = np.clip(high - most, 0.0, run) - np.clip(-most - low, 0.0, run)
    narrow = run < _SHORTEST_M
    whole = (to - from_) * 0.5 * (from_ + to) + most * beyond
    return np.where(narrow, from_, whole / np.where(narrow, 1.0, run))


def union_of_rings(rings: Floats, number: Ints, half: Floats) -> Floats:
    """Exact areas (n,) of unions of convex polygons ``rings`` (m, R, 2), of so many after one another as ``number`` (n,)
    says, inside the aperture that reaches ``half`` (2,) either way. Corners may be repeated, and run either way round."""
    group = np.repeat(np.arange(len(number)), number)
    signed = _signed(rings)
    some = np.flatnonzero(signed)  # what has no area bounds nothing
    rings, group = np.where((signed < 0.0)[:, None, None], rings[:, ::-1], rings)[some], group[some]
    ends = np.searchsorted(group, np.arange(len(number)), side="right")
    area = np.zeros(len(number))
    first = 0
    while first < len(number):
        done = int(ends[first - 1]) if first else 0
        last = max(first + 1, int(np.searchsorted(ends, done + _TOGETHER, side="right")))
        part = slice(done, int(ends[last - 1]))
        if part.stop > done:
            area[first:last] = _union(rings[part], group[part] - first, last - first, half)
        first = last
    return area


def _signed(rings: Floats) -> Floats:
    """Twice the area (...) of polygons, below zero where they run clockwise; 0 where it is nothing to speak of."""
    x, y = rings[..., 0] - rings[..., :1, 0], rings[..., 1] - rings[..., :1, 1]
    twice = (x[..., :-1] * y[..., 1:] - y[..., :-1] * x[..., 1:]).sum(axis=-1)
    return np.where(np.abs(twice) < _LEAST_AREA_M2, 0.0, twice)


@dataclass(frozen=True)
class _Edges:
    """E edges: where they start and how they run, m; ``group`` (E,) and ``polygon`` (E,) say whose they are, polygon -1
    for the aperture's sides. ``enters`` and ``leaves`` (E,) bound what of each counts, 0..1."""

    x: Floats
    y: Floats
    run: Floats
    rise: Floats
    group: Ints
    polygon: Ints
    enters: Floats
    leaves: Floats

    def integral(self, at: Floats, of: Ints | slice) -> Floats:
        """Integral of x dy from the start of edges ``of`` to ``at``."""
        return np.asarray(self.rise[of] * at * (self.x[of] + 0.5 * at * self.run[of]))


def _union(rings: Floats, group: Ints, groups: int, half: Floats) -> Floats:
    x, y = np.ascontiguousarray(rings.transpose(2, 1, 0))
    run, rise = np.roll(x, -1, axis=0) - x, np.roll(y, -1, axis=0) - y
    edges = _edges(x, y, run, rise, group, groups, half)
    edge, polygon = _beside(edges, group, (x.min(axis=0), x.max(axis=0)), (y.min(axis=0), y.max(axis=0)))
    enters, leaves = edges.enters[edge], edges.leaves[edge]
    mine = edges.x[edge], edges.y[edge], edges.run[edge], edges.rise[edge]
    own = edges.polygon[edge]
    on_it = (own < 0) | (polygon < own)
    for side in range(len(x)):
        plane = (part[side].take(polygon) for part in (x, y, run, rise))
        _cut(*mine, *plane, enters=enters, leaves=leaves, on_it=on_it)
    inside = np.flatnonzero(leaves > enters)
    hidden = _covered(edges, edge[inside], enters[inside], leaves[inside])
    whole = edges.integral(edges.leaves, slice(None)) - edges.integral(edges.enters, slice(None))
    bounds = np.where(edges.polygon < 0, hidden, whole - hidden)
    return np.asarray(np.bincount(edges.group, bounds, minlength=groups), dtype=np.float64)


def _beside(
    edges: _Edges, group: Ints, across: tuple[Floats, Floats], up: tuple[Floats, Floats]
) -> tuple[Ints, Ints]:
    """Pairs (N,) of an edge and another polygon of its group that it may run through: one whose box, which reaches
    ``across`` and ``up`` between bounds (m,), it meets."""
    number = np.bincount(group, minlength=int(edges.group[-1]) + 1)
    begins = np.cumsum(number) - number
    each = number[edges.group]
    edge = np.repeat(np.arange(each.size), each)
    polygon = np.arange(edge.size) + np.repeat(begins[edges.group] - (np.cumsum(each) - each), each)
    meets = polygon != edges.polygon[edge]
    low, high = np.minimum(edges.enters, edges.leaves), edges.leaves
    for start, way, (least, most) in ((edges.x, edges.run, across), (edges.y, edges.rise, up)):
        one, other = start + low * way, start + high * way
        meets &= np.minimum(one, other).take(edge) <= (most + _ONE_LINE_M).take(polygon)
        meets &= np.maximum(one, other).take(edge) >= (least - _ONE_LINE_M).take(polygon)
    return edge[meets], polygon[meets]


def _edges(x: Floats, y: Floats, run: Floats, rise: Floats, group: Ints, groups: int, half: Floats) -> _Edges:
    """The edges that count: those of the polygons (R, m) that are not level, as far as they lie in the aperture, and its
    sides."""
    side, polygon = np.nonzero(np.abs(rise) > _SHORTEST_M)
    mine = x[side, polygon], y[side, polygon], run[side, polygon], rise[side, polygon]
    enters, leaves = np.zeros(side.size), np.ones(side.size)
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    for corner, then in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        plane = np.array([*corner, *(then - corner)])
        _cut(*mine, *plane, enters=enters, leaves=leaves, on_it=np.False_)
    kept = leaves > enters
    right, left = np.full(groups, half[0]), np.full(groups, -half[0])
    tall = np.full(groups, 2 * half[1])
    nothing, number = np.zeros(groups), np.arange(groups)
    sides = (
        np.concatenate([right, left]),
        np.concatenate([-tall / 2, tall / 2]),
        np.concatenate([nothing, nothing]),
        np.concatenate([tall, -tall]),
    )
    start_x, start_y, run, rise = (
        np.concatenate([part[kept], more]) for part, more in zip(mine, sides, strict=True)
    )
    return _Edges(
        x=start_x,
        y=start_y,
        run=run,
        rise=rise,
        group=np.concatenate([group[polygon[kept]], number, number]),
        polygon=np.concatenate([polygon[kept], np.full(2 * groups, -1)]),
        enters=np.concatenate([enters[kept], nothing, nothing]),
        leaves=np.concatenate([leaves[kept], nothing + 1.0, nothing + 1.0]),
    )


def _cut(
    x: Floats, y: Floats, run: Floats, rise: Floats, plane_x: Floats, plane_y: Floats, plane_run: Floats, plane_rise: Floats,
    *, enters: Floats, leaves: Floats, on_it: Bools | np.bool_,
) -> None:  # fmt: skip
    """Cut the intervals of edges to what lies left of planes; an edge on one counts where ``on_it`` and it runs alike.

    A plane of no length cuts nothing.
    """
    size = np.hypot(plane_run, plane_rise)
    none = size < _SHORTEST_M
    size = np.maximum(size, _SHORTEST_M)
    off = (plane_run * (y - plane_y) - plane_rise * (x - plane_x)) / size
    gain = (plane_run * rise - plane_rise * run) / size
    level = np.abs(gain) <= _PARALLEL * (np.abs(run) + np.abs(rise))
    at = -off / np.where(level, 1.0, gain)
    np.maximum(enters, at, out=enters, where=~level & ~none & (gain > 0.0))
    np.minimum(leaves, at, out=leaves, where=~level & ~none & (gain < 0.0))
    if level.any():
        alike = plane_run * run + plane_rise * rise > 0.0
        within = (off > _ONE_LINE_M) | ((off >= -_ONE_LINE_M) & alike & on_it)
        np.copyto(leaves, 0.0, where=level & ~none & ~within)


def _covered(edges: _Edges, edge: Ints, low: Floats, high: Floats) -> Floats:
    """Integral (E,) of x dy over the union of intervals ``low`` to ``high`` (N,) of each ``edge`` (N,)."""
    order = np.lexsort((low, edge))
    edge, low, high = edge[order], low[order], high[order]
    crowd = np.bincount(edge, minlength=len(edges.x))
    first = np.cumsum(crowd) - crowd
    total, reached = np.zeros(len(edges.x)), edges.enters.copy()
    for place in range(int(crowd.max(initial=0))):
        some = np.flatnonzero(crowd > place)
        at = first[some] + place
        start = np.maximum(low[at], reached[some])
        end = np.maximum(high[at], start)
        total[some] += edges.integral(end, some) - edges.integral(start, some)
        reached[some] = end
    return total
