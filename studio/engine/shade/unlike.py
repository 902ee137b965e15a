"""Shade between flat apertures of any tilt, facing and step, exact and without a loop over mirrors or lines.

A shadow of a plane aperture by parallel light is a parallelogram (a rectangle where it is parallel to the target's). Of
each pair of a casting line and a sun it is first asked whether any of the line's shadows falls on any mirror of the target
(:mod:`studio.engine.shade.series`); then which members fall on which mirror, and how much each covers, in closed form
(:mod:`studio.engine.shade.fall`). Where shadows overlap, their union is cut exactly (:mod:`studio.engine.shade.rings`,
:func:`studio.engine.shade.parallel.union_of_rectangles`).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from studio.engine.shade.fall import cover
from studio.engine.shade.parallel import LineShade
from studio.engine.shade.reach import Bools, Ints
from studio.engine.shade.rows import LEAST_SUN_COSINE, Floats, RowOfMirrors
from studio.engine.shade.series import Look, rows_before, series_of

DIM_STRIDE = 6
"""At dim suns one mirror in so many is looked at."""
_MOST_AT_ONCE = 1_000_000
"""Mirrors times suns of the lines that are worked out together."""


@dataclass(frozen=True)
class LineTask:
    """What is asked of :func:`shade_of_lines`: the shade on ``target`` by ``casters`` and by its own row for ``suns`` (S, 3),
    unit, site frame. At the suns that are ``dim`` (S,) hardly any light is lost or won: one mirror in ``DIM_STRIDE``
    stands for its neighbours there."""

    target: RowOfMirrors
    casters: tuple[RowOfMirrors, ...]
    suns: Floats
    dim: Bools | None = None


def shade_of_line(
    target: RowOfMirrors, casters: tuple[RowOfMirrors, ...], suns: Floats, *, dim: Bools | None = None
) -> LineShade:
    """:func:`shade_of_lines` of one task, see :class:`LineTask`."""
    return next(shade_of_lines([LineTask(target, casters, suns, dim)]))


def shade_of_lines(tasks: Sequence[LineTask]) -> Iterator[LineShade]:
    """The answers to many tasks, in their order: lines are worked out together, which is quicker.

    Tilt, facing, size, step and place of the rows are free. Fields as in :class:`LineShade`; exact to rounding but at
    dim suns.
    """
    some: list[LineTask] = []
    weight = 0
    for task in tasks:
        more = len(task.suns) * task.target.count
        if some and (weight + more > _MOST_AT_ONCE or _half(task) != _half(some[0])):
            yield from _together(some)
            some, weight = [], 0
        some.append(task)
        weight += more
    if some:
        yield from _together(some)


def _half(task: LineTask) -> tuple[float, float]:
    """How far the target's apertures reach either way, m."""
    return task.target.width_m / 2, task.target.height_m / 2


def _together(tasks: list[LineTask]) -> Iterator[LineShade]:
    """The answers to tasks whose targets' apertures are of one size."""
    everyone = [(*task.casters, task.target) for task in tasks]
    looks = _looks(tasks)
    found: list[list[_Seen]] = [[] for _task in tasks]
    if looks:
        seats = np.full((len(looks), max(len(look.seats) for look in looks)), np.nan)
        for row, look in zip(seats, looks, strict=True):
            row[: len(look.seats)] = look.seats
        rows, half = rows_before(everyone), np.array(_half(tasks[0]))
        series = series_of(rows, looks, half)
        covered = cover(rows, series, seats, half)
        suns = np.searchsorted(series.of_look, np.arange(len(looks) + 1)).tolist()
        pairs = np.searchsorted(series.look, np.arange(len(looks) + 1)).tolist()
        for number, look in enumerate(looks):
            first, last = suns[number : number + 2]
            some = slice(*pairs[number : number + 2])
            at = look.at[series.sun[first:last]]
            found[look.task].append(
                _Seen(
                    look=look,
                    at=at,
                    shares=covered.by_seat[covered.begins[first] : covered.begins[last]].reshape(
                        at.size, len(look.seats)
                    ),
                    pairs=(at[series.seen[some] - first], series.row[some] - look.first_row),
                    by_series=covered.by_series[some] / len(look.seats),
                )
            )
    return (_answer(task, seen) for task, seen in zip(tasks, found, strict=True))


@dataclass(frozen=True)
class _Seen:
    """What a look found: at the suns ``at`` (N,) under which any shadow may fall, ``shares`` (N, M) of its seats; and of
    each of its ``pairs`` (sun and row, (P,) each) what the row's shadows cover alone, ``by_series`` (P,)."""

    look: Look
    at: Ints
    shares: Floats
    pairs: tuple[Ints, Ints]
    by_series: Floats


def _answer(task: LineTask, seen: Sequence[_Seen]) -> LineShade:
    target, suns = task.target, len(task.suns)
    by_mirror, mean, worst = np.zeros((suns, target.count)), np.zeros(suns), np.zeros(suns)
    by_line = np.zeros((suns, len(task.casters) + 1))
    for some in seen:
        shares, stride = some.shares, some.look.stride
        if stride > 1:
            nearest = np.minimum(np.arange(target.mirrors) // stride, shares.shape[1] - 1)
            shares = shares[:, nearest]
        by_mirror[some.at if not target.absent else np.ix_(some.at, target.there)] = shares
        mean[some.at], worst[some.at] = shares.mean(axis=1), shares.max(axis=1)
        by_line[some.pairs] = some.by_series
    return LineShade(
        by_mirror=by_mirror, mean=mean, worst=worst, by_caster=by_line[:, :-1], by_own_row=by_line[:, -1]
    )


def _looks(tasks: Sequence[LineTask]) -> list[Look]:
    """What is looked at of each task: every mirror under the suns before it, some mirrors under dim ones; those with few
    seats first."""
    found: list[Look] = []
    known: dict[object, list[tuple[bool, Ints, Floats, Ints]]] = {}
    first_row = 0
    for number, task in enumerate(tasks):
        target, rows = task.target, len(task.casters) + 1
        key = (id(task.suns), id(task.dim), target.axes)
        if key not in known:
            known[key] = _lights(task)
        for dim, at, light, order in known[key]:
            stride = min(DIM_STRIDE, target.mirrors) if dim else 1
            seats = target.there[stride // 2 :: stride]
            found.append(Look(number, at, light, order, seats, stride, first_row, rows))
        first_row += rows
    return sorted(found, key=lambda look: len(look.seats))


def _lights(task: LineTask) -> list[tuple[bool, Ints, Floats, Ints]]:
    """The suns before the target's mirrors, those that are not dim and those that are: which, their numbers (L,), what a
    shadow shifts under each for each metre of height (L, 2), and their order by either part of it (2, L)."""
    sun = task.target.into_mirror_frame(np.asarray(task.suns, dtype=float))
    lit = sun[:, 2] > LEAST_SUN_COSINE
    found = []
    for dim in (False,) if task.dim is None else (False, True):
        at = np.flatnonzero(lit if task.dim is None else lit & (task.dim == dim))
        if at.size:
            light = sun[at, :2] / sun[at, 2:]
            found.append((dim, at, light, light.T.argsort(axis=1)))
    return found
