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


def union_of_rings(rings: Floats, used: Bools, half: Floats) -> Floats:
    """Exact area (n,) of the union of the convex polygons ``rings`` (n, K, R, 2) that are ``used`` (n, K), inside the
    aperture that reaches ``half`` (2,) either way. Corners may be repeated, and run either way round."""
    used = used & (_signed(rings) != 0.0)  # what has no area bounds nothing
    area = np.zeros(len(rings))
    step = max(1, _TOGETHER // max(1, rings.shape[1]))
    for first in range(0, len(rings), step):
        part = slice(first, first + step)
        area[part] = _union(_counter_clockwise(rings[part]), used[part], half)
    return area


def _signed(rings: Floats) -> Floats:
    """Twice the area (...) of polygons, below zero where they run clockwise; 0 where it is nothing to speak of."""
    x, y = rings[..., 0] - rings[..., :1, 0], rings[..., 1] - rings[..., :1, 1]
    twice = (x[..., :-1] * y[..., 1:] - y[..., :-1] * x[..., 1:]).sum(axis=-1)
    return np.where(np.abs(twice) < _LEAST_AREA_M2, 0.0, twice)


def _counter_clockwise(rings: Floats) -> Floats:
    return np.where((_signed(rings) < 0.0)[..., None, None], rings[..., ::-1, :], rings)


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


def _union(rings: Floats, used: Bools, half: Floats) -> Floats:
    x, y = rings[..., 0], rings[..., 1]
    run = np.concatenate([x[..., 1:], x[..., :1]], axis=-1) - x
    rise = np.concatenate([y[..., 1:], y[..., :1]], axis=-1) - y
    edges = _edges(x, y, run, rise, used, half)
    low, high = np.minimum(edges.enters, edges.leaves), edges.leaves
    # which polygons an edge may run through: those whose box it meets
    boxes = x.min(axis=2), x.max(axis=2), y.min(axis=2), y.max(axis=2)
    ends = (
        (edges.x + low * edges.run, edges.x + high * edges.run),
        (
            edges.y + low * edges.rise,
            edges.y + high * edges.rise,
        ),
    )
    meets = used[edges.group]
    for axis, (one, other) in enumerate(ends):
        least, most = boxes[2 * axis][edges.group], boxes[2 * axis + 1][edges.group]
        meets &= (np.minimum(one, other)[:, None] <= most + _ONE_LINE_M) & (
            np.maximum(one, other)[:, None] >= least - _ONE_LINE_M
        )
    number = np.arange(rings.shape[1])
    meets &= number != edges.polygon[:, None]
    edge, polygon = np.nonzero(meets)
    enters, leaves = edges.enters[edge], edges.leaves[edge]
    group = edges.group[edge]
    for side in range(rings.shape[2]):
        plane = (part[group, polygon, side] for part in (x, y, run, rise))
        _cut(
            edges.x[edge], edges.y[edge], edges.run[edge], edges.rise[edge], *plane,
            enters=enters, leaves=leaves, on_it=polygon < np.where(edges.polygon[edge] < 0, len(number), edges.polygon[edge]),
        )  # fmt: skip
    inside = np.flatnonzero(leaves > enters)
    hidden = _covered(edges, edge[inside], enters[inside], leaves[inside])
    whole = edges.integral(edges.leaves, slice(None)) - edges.integral(edges.enters, slice(None))
    bounds = np.where(edges.polygon < 0, hidden, whole - hidden)
    return np.asarray(np.bincount(edges.group, bounds, minlength=len(rings)), dtype=np.float64)


def _edges(x: Floats, y: Floats, run: Floats, rise: Floats, used: Bools, half: Floats) -> _Edges:
    """The edges that count: those of the polygons that are not level, as far as they lie in the aperture, and its sides."""
    group, polygon, side = np.nonzero(used[..., None] & (np.abs(rise) > _SHORTEST_M))
    mine = (
        x[group, polygon, side],
        y[group, polygon, side],
        run[group, polygon, side],
        rise[group, polygon, side],
    )
    enters, leaves = np.zeros(group.size), np.ones(group.size)
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    for corner, then in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        plane = np.array([*corner, *(then - corner)])
        _cut(*mine, *plane, enters=enters, leaves=leaves, on_it=np.False_)
    kept = leaves > enters
    groups = len(used)
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
        group=np.concatenate([group[kept], number, number]),
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
