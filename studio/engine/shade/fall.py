"""How much of each mirror the shadows that fall on it cover, and where they overlap."""

from dataclasses import dataclass

import numpy as np

from studio.engine.shade.crowded import Crowded, Crowds
from studio.engine.shade.reach import LEAST_LIFT_M, Bools, Ints
from studio.engine.shade.rings import ring_areas
from studio.engine.shade.rows import Floats
from studio.engine.shade.series import Rows, Series

_CORNERS = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
_LEAST_SHARE = 1e-13
_NOTHING = 1e-15
_TOGETHER = 24_000
"""Pairs of a shadow series and a mirror worked on at once, so that they stay in near memory."""


@dataclass(frozen=True)
class Cover:
    """What shadows cover. ``by_seat`` (cells,): shares of the mirrors looked at under the suns that any series was found
    for, sun by sun; those of sun s from ``begins`` [s] on (S + 1,). ``by_series`` (P,): what each series covers alone,
    summed over the seats."""

    by_seat: Floats
    begins: Ints
    by_series: Floats


def cover(rows: Rows, series: Series, seats: Floats, half: Floats) -> Cover:
    """What ``series`` cover of the ``seats`` (looks, M) of each look, nan where it has fewer. The targets' apertures reach
    ``half`` (2,) either way."""
    number = np.isfinite(seats).sum(axis=1)
    last_seat = seats[np.arange(len(seats)), number - 1]
    begins = np.concatenate([[0], np.cumsum(number[series.of_look])])
    by_seat, by_series = np.zeros(begins[-1]), np.zeros(len(series.row))
    crowded = Crowded(by_seat, half)
    ends = np.cumsum(np.bincount(series.seen, minlength=len(series.sun)))
    weight = number[series.look].cumsum()
    first = 0
    while first < len(ends):
        done = int(ends[first - 1]) if first else 0
        limit = int(np.searchsorted(weight, (weight[done - 1] if done else 0) + _TOGETHER, side="right"))
        last = max(first + 1, int(np.searchsorted(ends, limit, side="right")))
        chosen = slice(done, int(ends[last - 1]))
        part = series.part(chosen)
        some = seats[:, : int(number[part.look].max())].take(part.look, axis=0)
        shadows = _shadows(rows, part, some, last_seat[part.look], half)
        by_series[chosen] = _shares(shadows, begins, (first, last), by_seat, crowded)
        first = last
    crowded.settle()
    return Cover(by_seat, begins, by_series)


@dataclass(frozen=True)
class _Shadows:
    """E shadows on seats: ``pair`` (E,) the series of each, ``seat`` the place among its look's that it falls on,
    ``place`` (E,) the target's mirror that is, and ``member`` the mirror that throws it; ``x`` and ``y`` (E,) its
    middle."""

    rows: Rows
    series: Series
    half: Floats
    pair: Ints
    seat: Ints
    place: Floats
    member: Ints
    x: Floats
    y: Floats

    def box(self) -> Floats:
        """Its bounds within the aperture (4, E): least and most x, least and most y."""
        reach = np.abs(self.series.sides).sum(axis=0)
        found = np.empty((4, self.pair.size))
        for axis, (middle, most) in enumerate(zip((self.x, self.y), self.half, strict=True)):
            away = reach[axis].take(self.pair)
            np.maximum(np.subtract(middle, away, out=found[2 * axis]), -most, out=found[2 * axis])
            np.minimum(np.add(middle, away, out=found[2 * axis + 1]), most, out=found[2 * axis + 1])
        return found

    def inner(self, some: Ints) -> Floats:
        """Bounds (4, N) of boxes that lie within the shadows ``some`` (N,) and the aperture; empty ones end before they begin.

        A parallelogram of half-sides a and b holds a box that reaches |a| - |b| along x and |b| - |a| along y.
        """
        across, up = np.abs(self.series.sides[..., self.pair[some]])
        reach = (across - up) * [[1.0], [-1.0]]
        x, y, (right, top) = self.x[some], self.y[some], self.half
        return np.stack(
            [
                np.maximum(x - reach[0], -right),
                np.minimum(x + reach[0], right),
                np.maximum(y - reach[1], -top),
                np.minimum(y + reach[1], top),
            ]
        )

    def rings(self, some: Ints) -> tuple[Floats, Bools]:
        """Polygons (N, 4 or 8, 2) of ``some`` (N,), of what of each aperture stands before the target's plane, and which of
        them (N,) that does not cut."""
        pair, rows = self.pair[some], self.rows
        row = self.series.row[pair]
        corners = _CORNERS @ self.series.sides[..., pair].transpose(2, 0, 1)
        corners[..., 0] += self.x[some][:, None]
        corners[..., 1] += self.y[some][:, None]
        lift = rows.middle[row, 2] + self.member[some] * rows.step[row, 2]
        lift -= self.place[some] * rows.own_step[row, 2]
        heights = lift[:, None] + rows.sides[row, :, 2] @ _CORNERS.T
        whole = (heights > LEAST_LIFT_M).all(axis=1)
        return corners if whole.all() else cut_at_plane(corners, heights), whole


def _shadows(rows: Rows, series: Series, seats: Floats, last_seat: Floats, half: Floats) -> _Shadows:
    """The shadows of each series that meet one of its ``seats`` (P, M), up to the ``last_seat`` (P,): their boxes do."""
    high = np.broadcast_to((rows.count[series.row] - 1.0)[:, None], seats.shape)
    low: Floats = np.zeros_like(seats)
    reach = np.abs(series.sides).sum(axis=0)
    behind = []
    for axis in (0, 1):
        # shadow k meets seat i where |middle + k step - i own| < reach
        step = series.step[axis]
        pace = 1.0 / np.where(np.abs(step) < _NOTHING, _NOTHING, step)
        within = (reach[axis] + half[axis]) * np.abs(pace)
        away = seats * series.own[axis][:, None]
        away -= series.middle[axis][:, None]
        behind.append(away)
        at = away * pace[:, None]
        at -= within[:, None]
        low = np.maximum(low, at, out=low)
        at += (2.0 * within)[:, None]
        high = np.minimum(high, at)
    low, high = _ahead(rows, series, seats, last_seat, low, high)
    least, most = np.ceil(low, out=low).ravel(), np.floor(high, out=high).ravel()
    some = np.flatnonzero(most >= least)
    first = least[some].astype(np.int64)
    each = most[some].astype(np.int64) - first + 1
    pair = some // seats.shape[1]
    seat = (some - pair * seats.shape[1]).repeat(each)
    pair = pair.repeat(each)
    member = (first - (np.cumsum(each) - each)).repeat(each)
    member += np.arange(member.size)
    x, y = (
        member * step.take(pair) - away.ravel().take(some).repeat(each)
        for step, away in zip(series.step, behind, strict=True)
    )
    place = seats.ravel().take(some).repeat(each)
    kept = np.ones(member.size, np.bool_)
    own = rows.own[series.row]
    if own.any():
        kept &= ~own[pair] | (member != place)
    if rows.absent is not None:
        kept &= ~rows.absent[series.row[pair], member]
    if not kept.all():
        pair, seat, place, member, x, y = (part[kept] for part in (pair, seat, place, member, x, y))
    return _Shadows(rows, series, half, pair, seat, place, member, x, y)


def _ahead(
    rows: Rows, series: Series, seats: Floats, last_seat: Floats, low: Floats, high: Floats
) -> tuple[Floats, Floats]:
    """Bounds (P, M) of the members of each series, cut to those that stand before the target's plane in part."""
    row = series.row
    top = (rows.middle[:, 2] + np.abs(rows.sides[..., 2]).sum(axis=1) - LEAST_LIFT_M)[row]
    rise, fall = rows.step[row, 2], rows.own_step[row, 2]
    most = np.maximum(seats[:, 0] * fall, last_seat * fall)
    cut = np.flatnonzero(top + np.minimum(0.0, rise * (rows.count[row] - 1)) - most <= 0.0)
    if cut.size:
        pace = np.where(np.abs(rise) < _NOTHING, _NOTHING, rise)[cut][:, None]
        level = (seats[cut] * fall[cut][:, None] - top[cut][:, None]) / pace
        low[cut] = np.where(pace > 0.0, np.maximum(low[cut], level), low[cut])
        high[cut] = np.where(pace > 0.0, high[cut], np.minimum(high[cut], level))
    return low, high


def _shares(
    shadows: _Shadows, begins: Ints, suns: tuple[int, int], by_seat: Floats, crowded: Crowded
) -> Floats:
    """Fill the shares ``by_seat`` of the suns from ``suns[0]`` to ``suns[1]`` and give what each series covers alone (P,).
    Where shadows overlap it is put off to ``crowded``."""
    series, pair = shadows.series, shadows.pair
    box = shadows.box()
    share = np.maximum(box[1] - box[0], 0.0)
    share *= np.maximum(box[3] - box[2], 0.0)
    share *= 0.25 / float(shadows.half.prod())
    slanted = ~shadows.rows.upright[series.row]
    if slanted.any():
        some = np.flatnonzero(slanted[pair] & (share > 0.0))
        share[some] = ring_areas(shadows.rings(some)[0], shadows.half) * (0.25 / float(shadows.half.prod()))
    start, stop = begins[suns[0]], begins[suns[1]]
    cell = (begins[series.seen] - start).take(pair)
    cell += shadows.seat
    by_seat[start:stop] = np.bincount(cell, share, stop - start)
    _put_off(shadows, box, cell, np.flatnonzero(share > _LEAST_SHARE), slanted, int(start), crowded)
    return np.asarray(np.bincount(pair, share, len(series.row)), dtype=np.float64)


def _put_off(
    shadows: _Shadows, box: Floats, cell: Ints, covering: Ints, slanted: Bools, start: int, crowded: Crowded
) -> None:
    """Put off the cells in which ``covering`` shadows lie that may overlap; ``slanted`` (P,) marks series of such."""
    of, pair = cell.take(covering), shadows.pair.take(covering)
    # shadows of a series on a mirror follow one another; those of a series that lie apart count as one
    counts = ~shadows.series.apart.take(pair)
    counts[:1] = True
    counts[1:] |= (of[1:] != of[:-1]) | (pair[1:] != pair[:-1])
    order = covering[np.bincount(of, counts).take(of) > 1]
    if not order.size:
        return
    cells = cell.take(order)
    # few cells are worked on at once, and short numbers are sorted at once
    by_cell = np.argsort(cells.astype(np.uint16) if cells.max() < 2**16 else cells, kind="stable")
    order, cells = order.take(by_cell), cells.take(by_cell)
    pairs = shadows.pair.take(order)
    new = np.diff(cells, prepend=-1) != 0
    which = np.cumsum(new) - 1
    depth = np.bincount(which, new | (np.diff(pairs, prepend=-1) != 0)).astype(np.int64)
    alone = np.bincount(which, ~shadows.series.apart[pairs]) == 0
    depth *= alone
    rings = np.bincount(which, slanted[pairs]) > 0
    number, first = np.bincount(which), np.flatnonzero(new)
    for slant in (False, True):
        chosen = rings == slant
        if chosen.any():
            members = order[chosen[which]]
            boxes = box.take(members, axis=1)
            inner, polygons = boxes, None
            if slant:
                polygons, whole = shadows.rings(members)
                inner = np.where(whole, shadows.inner(members), 0.0)
            crowded.put_off(
                Crowds(
                    cell=cells[first[chosen]] + start,
                    number=number[chosen],
                    depth=depth[chosen],
                    boxes=boxes,
                    inner=inner,
                    rings=polygons,
                )
            )


def cut_at_plane(rings: Floats, heights: Floats) -> Floats:
    """What of the polygons ``rings`` (N, 4, 2) stands higher than a plane, corners at ``heights`` (N, 4) over it: rings
    (N, 8, 2) with corners repeated; all at one place where nothing does."""
    ahead = heights > LEAST_LIFT_M
    after, after_ahead = np.roll(rings, -1, axis=1), np.roll(ahead, -1, axis=1)
    drop = heights - np.roll(heights, -1, axis=1)
    cuts = ahead != after_ahead
    at = np.where(cuts, heights / np.where(cuts, drop, 1.0), 0.0)
    crossing = rings + at[..., None] * (after - rings)
    ring = np.stack([rings, crossing], axis=2).reshape(len(rings), 8, 2)
    real = np.stack([ahead, cuts], axis=2).reshape(len(rings), 8)
    # corner, crossing, corner, crossing ...; what does not stand in front repeats the last point before it that does
    last = np.maximum.accumulate(np.where(np.tile(real, (1, 2)), np.arange(16), -1), axis=1)[:, 8:]
    last = np.where(last < 0, 0, last % 8)
    return np.take_along_axis(ring, last[..., None], axis=1)
