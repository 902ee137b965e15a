"""Shadows of convex bodies on an aperture, and the exact interval union along scan lines.

Every body here (pipe, box, rod, flat mirror) is a centre with up to three half-extents, so its shadow on a plane is a
centre-symmetric polygon: the sum of the projected half-extents. Along a scan line such a polygon is one interval, and
the length of a union of intervals follows from sorting starts and ends apart: between the j-th end and the (j+1)-th
start there is nothing if the start is the later one.

Scan lines stand in the middle of the slabs between neighbouring corners. Inside a slab all edges are straight, so the
midpoint is exact unless edges of two shadows cross there.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from studio.engine.shade.reach import Bools, Ints
from studio.engine.shade.rows import LEAST_SUN_COSINE, Floats, project

_LEVEL = 1e-9
_WIDE = 1e9
_THINNEST_SLAB = 1e-6
_SIGNS = np.array([[1, 1, 1], [1, 1, -1], [1, -1, 1], [1, -1, -1]], dtype=float)


@dataclass(frozen=True)
class Bodies:
    """What stands along one line, in space: G kinds of bodies for S suns, each an even series.

    ``centre`` (S, G, 3) is member 0 of each kind, from the aperture's middle of the line's first mirror, m; ``extents``
    (S, G, 3, 3) are its half-extents as vectors (unused ones zero). Member j stands j ``step`` (3,) on; ``first`` and
    ``last`` (G,) bound j, and only every ``stride``-th j (G,) and the last exist. Of the kinds that go with a mirror,
    ``of_mirrors`` (G,), the members ``absent`` (N,) do not.
    """

    centre: Floats
    extents: Floats
    step: Floats
    first: Ints
    last: Ints
    stride: Ints
    of_mirrors: Bools
    absent: tuple[int, ...] = ()


@dataclass(frozen=True)
class Shadows:
    """Bodies as they fall along the sun on a plane of their own frame: ``centre`` (S, G, 2), ``extents`` (S, G, 3, 2),
    ``half`` (S, G, 2) half the box around a shadow, ``lift`` (S, G) the height of the bodies' centres in front of the
    plane, ``rises`` (S, G, 3) what each half-extent adds to it and ``top`` (S, G) that of the highest point; the rest as
    in :class:`Bodies`."""

    centre: Floats
    extents: Floats
    half: Floats
    lift: Floats
    rises: Floats
    top: Floats
    step: Floats
    first: Ints
    last: Ints
    stride: Ints
    of_mirrors: Bools
    absent: tuple[int, ...] = ()

    @cached_property
    def around(self) -> Floats:
        """Least and most (S, 2, 2) along x and y of the boxes around all of them together."""
        return np.stack(
            [(self.centre - self.half).min(axis=1), (self.centre + self.half).max(axis=1)], axis=1
        )

    def at(self, suns: Bools) -> "Shadows":
        """The same under some of the suns (S,)."""
        by_sun = ("centre", "extents", "half", "lift", "rises", "top")
        return replace(self, **{name: getattr(self, name)[suns] for name in by_sun})


def cast(bodies: Bodies, sun: Floats) -> Shadows:
    """Shadows of ``bodies`` on the plane z = 0 for ``sun`` (S, 3), same frame; a sun in or behind it casts none.

    In single precision: good to a micrometre some metres about a line's first mirror, in half the memory.
    """
    light = np.where(sun[:, 2:] > LEAST_SUN_COSINE, sun, np.array([0.0, 0.0, 1.0]))
    extents = project(bodies.extents, light[:, None, None])
    single = np.float32
    return Shadows(
        centre=project(bodies.centre, light[:, None]).astype(single),
        extents=extents.astype(single),
        half=_sum_of_three(np.abs(extents)).astype(single),
        lift=bodies.centre[..., 2].astype(single),
        rises=bodies.extents[..., 2].astype(single),
        top=(bodies.centre[..., 2] + np.abs(bodies.extents[..., 2]).sum(axis=-1)).astype(single),
        step=bodies.step,
        first=bodies.first,
        last=bodies.last,
        stride=bodies.stride,
        of_mirrors=bodies.of_mirrors,
        absent=bodies.absent,
    )


def _sum_of_three(values: Floats) -> Floats:
    """Sum over the axis before the last, of length 3 (a plain reduction over so short an axis is slow)."""
    return np.asarray(values[..., 0, :] + values[..., 1, :] + values[..., 2, :])


def in_front(centre: Floats, extents: Floats, lift: Floats, rises: Floats) -> tuple[Floats, Floats]:
    """Shadows of what of the bodies stands in front of the plane: ``centre`` (..., 2) and ``extents`` (..., 3, 2).

    A body that the plane ``lift + rises = 0`` cuts is shortened along the half-extent that rises most: exact for bars,
    whose other extents are thin.
    """
    cut = np.abs(rises).sum(axis=-1) > lift
    if not cut.any():
        return centre, extents
    at = np.flatnonzero(cut)
    most = np.abs(rises).reshape(-1, 3)[at].argmax(axis=1)
    rise = rises.reshape(-1, 3)[at, most]
    rise = np.where(np.abs(rise) < _LEVEL, _LEVEL, rise)
    edge = np.clip(-lift.ravel()[at] / rise, -1.0, 1.0)
    low, high = np.where(rise > 0, edge, -1.0), np.where(rise > 0, 1.0, edge)
    centre, extents = centre.copy(), extents.copy()
    side = extents.reshape(-1, 3, 2)[at, most]
    centre.reshape(-1, 2)[at] += side * ((low + high) / 2)[:, None]
    extents.reshape(-1, 3, 2)[at, most] = side * ((high - low) / 2)[:, None]
    return centre, extents


@dataclass(frozen=True)
class Scans:
    """Scan lines of A apertures, in the aperture's order: ``row`` (F,) the aperture, ``y`` and ``thickness`` (F,) of
    each; ``start`` and ``end`` (F, K) of every shadow on it (both the aperture's right edge where it is not met)."""

    row: Ints
    y: Floats
    thickness: Floats
    start: Floats
    end: Floats


def scan(centre: Floats, extents: Floats, used: Bools, *, width: float, height: float, slabs: int) -> Scans:
    """Scan lines of apertures ``width`` by ``height`` under K shadows.

    ``centre`` (A, K, 2) from the aperture's middle, ``extents`` (A, K, 3, 2) and ``used`` (A, K) describe the shadows.
    The aperture is cut into ``slabs`` at least, so that where edges cross inside one the error stays small.
    """
    levels = _levels(centre, extents, used, width=width, height=height, slabs=slabs)
    thick = np.diff(levels, axis=1)
    row, slab = np.nonzero(thick > _THINNEST_SLAB * height)
    y = (levels[row, slab] + levels[row, slab + 1]) / 2
    start, end = _intervals(y, row, centre, extents, used, width=width)
    return Scans(row=row, y=y, thickness=thick[row, slab], start=start, end=end)


def covered(
    scans: Scans, row: Ints, present: Bools, *, right: float, weights: Floats | None = None
) -> tuple[Floats, Floats]:
    """Area (P,) under the union of the shadows ``present`` (P, K) on the apertures ``row`` (P,); ``right`` is the
    aperture's right edge.

    With ``weights`` (F, 3) also the integral (P,) over that union of what along each scan line is the polynomial with these
    factors of 1, t and t2, t from 0 to 1 across the aperture; in the area's unit, 0 without them.
    """
    area = np.zeros(len(row))
    weighed = np.zeros(len(row))
    lines = np.bincount(scans.row, minlength=int(row.max(initial=-1)) + 1)
    before = np.cumsum(lines) - lines
    crowd = present.sum(axis=1)
    front = np.argsort(~present, axis=1, kind="stable")
    nothing = present.shape[1]  # a column that covers nothing, for padding
    edge = np.full((len(scans.row), 1), right)
    starts, ends = (np.concatenate([sides, edge], axis=1).ravel() for sides in (scans.start, scans.end))
    limit = 0
    while limit < crowd.max(initial=0):  # like crowds together, so that a few do not pad all the others
        below, limit = limit, min(max(4, limit * 3 // 2), nothing)
        chosen = np.flatnonzero((crowd > below) & (crowd <= limit))
        if not chosen.size:
            continue
        each = lines[row[chosen]]
        pattern = np.repeat(np.arange(chosen.size), each)
        line = np.arange(pattern.size) + np.repeat(before[row[chosen]] - (np.cumsum(each) - each), each)
        member = np.arange(limit)
        column = np.where(member < crowd[chosen, None], front[chosen, :limit], nothing)
        cell = line[:, None] * (nothing + 1) + column[pattern]
        start, end = starts.take(cell), ends.take(cell)
        start.sort(axis=1)
        end.sort(axis=1)
        start, end = (
            np.ascontiguousarray(start.T),
            np.ascontiguousarray(end.T),
        )  # sums over few are quick there
        length, thickness = _length(start, end), scans.thickness[line]
        area[chosen] = np.bincount(pattern, weights=length * thickness, minlength=chosen.size)
        if weights is not None:
            once, twice = _higher(start, end, right)
            plain, first, second = weights[line].T
            taken = (plain * length + first * once + second * twice) * thickness
            weighed[chosen] = np.bincount(pattern, weights=taken, minlength=chosen.size)
    return area, weighed


def _length(start: Floats, end: Floats) -> Floats:
    """Length (n,) of the union of intervals from ``start`` to ``end`` (K, n), each sorted by itself."""
    gaps = start[1:] - end[:-1]
    return np.asarray(end[-1] - start[0] - np.maximum(gaps, 0.0, out=gaps).sum(axis=0))


def _higher(start: Floats, end: Floats, right: float) -> tuple[Floats, Floats]:
    """Integrals (n,) of t and t2 over the union of intervals, t from 0 at -``right`` to 1 at ``right``, in ``start``'s unit.

    What rises with t keeps the order of starts and ends: the integral of t is half the length of the union of squares.
    """
    start, end = (start + right) * (0.5 / right), (end + right) * (0.5 / right)
    start_2, end_2 = start * start, end * end
    first = _length(start_2, end_2) * right
    start_2 *= start
    end_2 *= end
    return first, _length(start_2, end_2) * (2 * right / 3)


def _levels(
    centre: Floats, extents: Floats, used: Bools, *, width: float, height: float, slabs: int
) -> Floats:
    """Sorted levels (N, L) at which a used shadow has a corner in the aperture or crosses its sides."""
    top = height / 2
    corners = _SIGNS @ extents
    corners = np.concatenate([corners, -corners], axis=-2) + centre[..., None, :]
    inside = np.abs(corners[..., 0]) <= width / 2
    levels = np.concatenate(
        [np.where(inside, corners[..., 1], top), *_side_levels(centre, extents, width=width, none=top)],
        axis=-1,
    )
    levels = np.where(used[..., None], np.clip(levels, -top, top), top).reshape(len(centre), -1)
    fixed = np.broadcast_to(np.linspace(-top, top, slabs + 1), (len(levels), slabs + 1))
    return np.sort(np.concatenate([levels, fixed], axis=1), axis=1)


def _side_levels(centre: Floats, extents: Floats, *, width: float, none: float) -> list[Floats]:
    """Levels (A, K, 3) at which a shadow's edges cross the aperture's sides; ``none`` where they do not."""
    across, bound = _edges(extents), _bounds(extents)
    found = []
    run = np.where(np.abs(extents[..., 0]) > _LEVEL, extents[..., 0], np.inf)
    for side in (-width / 2, width / 2):
        reach = side - centre[..., :1]
        for edge in (bound, -bound):
            level = (extents[..., 1] * reach + edge) / run
            on = np.isfinite(run)
            for other in range(extents.shape[-2]):
                off = np.abs(across[..., other, :1] * reach + across[..., other, 1:] * level)
                on &= off <= bound[..., other, None] * (1 + _LEVEL) + _LEVEL**2
            found.append(np.where(on, level + centre[..., 1:], none))
    return found


def _edges(extents: Floats) -> Floats:
    """Vectors square to each half-extent, (..., 3, 2): a centre-symmetric polygon is where their product with a point
    stays within :func:`_bounds`, one pair of parallel edges for each."""
    return np.stack([-extents[..., 1], extents[..., 0]], axis=-1)


def _bounds(extents: Floats) -> Floats:
    """Greatest product (..., 3) of each of :func:`_edges` inside the polygon."""
    bound = np.zeros(extents.shape[:-1])
    for other in range(extents.shape[-2]):
        bound += np.abs(
            extents[..., 0] * extents[..., other, None, 1] - extents[..., 1] * extents[..., other, None, 0]
        )
    return bound


def _intervals(
    y: Floats, row: Ints, centre: Floats, extents: Floats, used: Bools, *, width: float
) -> tuple[Floats, Floats]:
    """Start and end (F, K) of every shadow on scan lines at ``y`` (F,) of the apertures ``row`` (F,).

    Where a shadow does not meet a scan line both are the aperture's right edge.
    """
    right = width / 2
    rise = extents[..., 1]
    slanted = np.abs(rise) > _LEVEL
    safe = np.where(slanted, rise, 1.0)
    lean = np.where(slanted, extents[..., 0] / safe, 0.0)
    half = np.where(slanted, _bounds(extents) / np.abs(safe), _WIDE)
    tall = np.where(used, np.abs(rise).sum(axis=-1), -1.0)
    level = y[:, None] - centre[row, :, 1]
    low, high = np.full_like(level, -_WIDE), np.full_like(level, _WIDE)
    for edge in range(extents.shape[2]):
        middle, reach = lean[..., edge][row] * level, half[..., edge][row]
        np.maximum(low, middle - reach, out=low)
        np.minimum(high, middle + reach, out=high)
    shift = centre[row, :, 0]
    met = np.abs(level) < tall[row]
    start = np.where(met, np.clip(low + shift, -right, right), right)
    return start, np.where(met, np.clip(high + shift, -right, right), right)
