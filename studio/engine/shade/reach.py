"""Which members of an evenly stepped series of shadows meet an aperture, and which mirrors see the same ones.

A line casts a series of equal shadows: number k lies at start + k step, both linear in the offsets. So the members
that meet an aperture are a range of k, found without looking at each. A mirror of the target sees only those k whose
caster exists; mirrors that see the same members form a pattern and are computed once.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from studio.engine.shade.rows import Floats, RowOfMirrors, same_steps

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LEAST_LIFT_M = 1e-9
"""A caster less than this in front of the target's plane is taken to lie in it and casts nothing."""
_NOTHING = 1e-15


def index_range(
    start: Floats, step: Floats, half: Floats, lift: Floats, lift_step: Floats, first: Ints, last: Ints
) -> tuple[Ints, Ints]:
    """First and last k (inclusive; empty when last < first) of the shadows that meet an aperture.

    Shadow k has its centre at ``start + k step`` (..., 2) from the aperture's centre, and meets it when that is nearer
    than ``half`` (..., 2) along x and y; its caster is ``lift + k lift_step`` (...) in front of the aperture's plane,
    and casts only when that is above zero. ``first`` and ``last`` bound k. Metres; all broadcast.
    """
    lowest, highest = _span(start, step, half, lift, lift_step, first, last)
    empty = ~(highest >= lowest)
    low = np.where(empty, 0, np.ceil(np.where(empty, 0, lowest))).astype(np.int64)
    return low, np.where(empty, -1, np.floor(np.where(empty, 0, highest))).astype(np.int64)


def any_meets(
    start: Floats, step: Floats, half: Floats, lift: Floats, lift_step: Floats, first: Ints, last: Ints
) -> Bools:
    """Whether any of the shadows meets an aperture; all as :func:`index_range` has it."""
    lowest, highest = _span(start, step, half, lift, lift_step, first, last)
    return np.asarray(np.floor(highest) >= np.ceil(lowest))


def _span(
    start: Floats, step: Floats, half: Floats, lift: Floats, lift_step: Floats, first: Ints, last: Ints
) -> tuple[Floats, Floats]:
    """Least and greatest k, not yet whole numbers."""
    lowest, highest = np.asarray(first, dtype=float), np.asarray(last, dtype=float)
    for axis in (0, 1):
        pace = _not_zero(step[..., axis])
        middle, reach = -start[..., axis] / pace, half[..., axis] / np.abs(pace)
        lowest, highest = np.maximum(lowest, middle - reach), np.minimum(highest, middle + reach)
    rise = _not_zero(lift_step)
    level = (LEAST_LIFT_M - lift) / rise
    lowest = np.where(rise > 0, np.maximum(lowest, level), lowest)
    return lowest, np.where(rise > 0, highest, np.minimum(highest, level))


def _not_zero(values: Floats) -> Floats:
    return np.where(np.abs(values) < _NOTHING, _NOTHING, values)


@dataclass(frozen=True)
class Slots:
    """The shadows that meet an aperture, one row per (view, sun) that has any, padded to the longest row.

    ``row`` (A,) numbers the rows kept; ``source`` and ``k`` (A, K) say which series and which member; ``used`` (A, K)
    tells filling from padding.
    """

    row: Ints
    source: Ints
    k: Ints
    used: Bools


def fill_slots(low: Ints, high: Ints) -> Slots:
    """Slots from the ranges ``low``, ``high`` (R, Q) of Q series over R rows."""
    members = np.maximum(high - low + 1, 0)
    row = np.flatnonzero(members.any(axis=1))
    members, low = members[row], low[row]
    each = members.ravel()
    series = np.repeat(np.arange(each.size), each)
    before = np.cumsum(each) - each
    of_row = members.sum(axis=1)
    place = np.arange(series.size)
    at = series // members.shape[1]
    slot = place - (np.cumsum(of_row) - of_row)[at]
    shape = (row.size, int(of_row.max(initial=0)))
    source, k, used = np.zeros(shape, np.int64), np.zeros(shape, np.int64), np.zeros(shape, np.bool_)
    source[at, slot] = series % members.shape[1]
    k[at, slot] = low.ravel()[series] + place - before[series]
    used[at, slot] = True
    return Slots(row=row, source=source, k=k, used=used)


@dataclass(frozen=True)
class Patterns:
    """Mirrors that see the same shadows: ``of`` (A, M) is the pattern of each mirror, ``row`` (P,) the row it belongs
    to and ``present`` (P, K) the slots it sees."""

    of: Ints
    row: Ints
    present: Bools


def patterns(present: Bools, *, period: int = 1) -> Patterns:
    """Patterns of ``present`` (A, M, K): which slots each of M mirrors sees, in each of A rows.

    Runs of equal mirrors are shared; where something recurs only every ``period`` mirrors, runs are taken at that
    step.
    """
    mirrors = present.shape[1]
    order = np.argsort(np.arange(mirrors) % period, kind="stable")
    ordered = present[:, order]
    new = np.ones(ordered.shape[:2], np.bool_)
    new[:, 1:] = (ordered[:, 1:] != ordered[:, :-1]).any(axis=2)
    row, mirror = np.nonzero(new)
    of = np.empty(new.shape, np.int64)
    of[:, order] = (np.cumsum(new.ravel()) - 1).reshape(new.shape)
    return Patterns(of=of, row=row, present=ordered[row, mirror])


@dataclass(frozen=True)
class Views:
    """From where a target row looks at its casters.

    ``base`` (V, C, 3) leads from the view's vertex to the first vertex of each caster, mirror frame, m. Rows that all
    step alike need one view, ``mirrors`` = the target's count: what member k is to mirror i depends on k - i alone.
    Else every mirror has its own view and ``mirrors`` is 1.
    """

    base: Floats
    mirrors: int


def views(target: RowOfMirrors, casters: tuple[RowOfMirrors, ...], some: Ints | None = None) -> Views:
    """The views of ``target`` on ``casters``; where not all rows step alike of ``some`` (V,) of its mirrors, if they are
    given."""
    alike = all(same_steps(target, caster) for caster in casters)
    each = np.arange(target.count) if some is None else some
    seats = target.vertices()[np.zeros(1, np.intp) if alike else each]
    firsts = np.array([caster.first for caster in casters]).reshape(-1, 3)
    base = target.into_mirror_frame(firsts[None] - seats[:, None])
    return Views(base=base, mirrors=target.count if alike else 1)


def seen(k: Ints, used: Bools, first: Ints, last: Ints, *, mirrors: int) -> Bools:
    """Which slots (A, K) exist for each of ``mirrors``: (A, M, K). ``first`` and ``last`` (A, K) bound the caster's
    own number, k + mirror."""
    number = k[:, None, :] + np.arange(mirrors)[:, None]
    return np.asarray(used[:, None, :] & (number >= first[:, None, :]) & (number <= last[:, None, :]))


def left_out(rows: Sequence[RowOfMirrors]) -> Bools | None:
    """Which places [row, place] of some rows have no mirror; None where all have."""
    if not any(row.absent for row in rows):
        return None
    absent = np.zeros((len(rows), max(row.count for row in rows)), np.bool_)
    for number, row in enumerate(rows):
        absent[number, list(row.absent)] = True
    return absent


def not_left_out(k: Ints, source: Ints, absent: Bools, *, mirrors: int) -> Bools:
    """Which slots (A, K) each of ``mirrors`` may see (A, M, K) though some places of the casters are ``absent``
    [source, number]."""
    number = np.clip(k[:, None, :] + np.arange(mirrors)[:, None], 0, absent.shape[1] - 1)
    return np.asarray(~absent[source[:, None, :], number])
