"""Shade between flat apertures of any tilt, facing and step, exact and without a loop over mirrors or lines.

A shadow of a plane aperture by parallel light is a parallelogram (a rectangle where it is parallel to the target's). Of
each pair of a casting line and a sun it is first asked whether any of the line's shadows falls on any mirror of the target
(:mod:`studio.engine.shade.series`); then which members fall on which mirror, and how much each covers, in closed form
(:mod:`studio.engine.shade.fall`). Where shadows overlap, their union is cut exactly (:mod:`studio.engine.shade.rings`,
:func:`studio.engine.shade.parallel.union_of_rectangles`).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from studio.engine.shade.fall import cover
from studio.engine.shade.parallel import LineShade
from studio.engine.shade.reach import Bools, Ints
from studio.engine.shade.rows import LEAST_SUN_COSINE, Floats, RowOfMirrors
from studio.engine.shade.series import Look, rows_before, series_of

DIM_STRIDE = 5
"""At dim suns one mirror stands for about so many."""
_MOST_AT_ONCE = 2_000_000
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
        for look, its_seats in zip(looks, seats, strict=True):
            its_seats[: len(look.seats)] = look.seats
        rows, half = rows_before(everyone), np.array(_half(tasks[0]))
        series = series_of(rows, looks, half)
        covered = cover(rows, series, seats, half)
        mean = np.add.reduceat(covered.by_seat, covered.begins[:-1]) / np.diff(covered.begins)
        worst = np.maximum.reduceat(covered.by_seat, covered.begins[:-1])
        suns = np.searchsorted(series.of_look, np.arange(len(looks) + 1)).tolist()
        pairs = np.searchsorted(series.look, np.arange(len(looks) + 1)).tolist()
        for number, look in enumerate(looks):
            its, some = slice(*suns[number : number + 2]), slice(*pairs[number : number + 2])
            at = look.at[series.sun[its]]
            cells = slice(covered.begins[its.start], covered.begins[its.stop])
            found[look.task].append(
                _Seen(
                    stands_for=look.stands_for,
                    at=at,
                    shares=covered.by_seat[cells].reshape(at.size, len(look.seats)),
                    mean=mean[its],
                    worst=worst[its],
                    pairs=(at[series.seen[some] - its.start], series.row[some] - look.first_row),
                    by_series=covered.by_series[some] / len(look.seats),
                )
            )
    return (_answer(task, seen) for task, seen in zip(tasks, found, strict=True))


@dataclass(frozen=True)
class _Seen:
    """What a look found: at the suns ``at`` (N,) under which any shadow may fall, ``shares`` (N, M) of its seats, each of
    which ``stands_for`` (M,) so many mirrors, their plain ``mean`` and ``worst`` (N,); and of each of its ``pairs`` (sun and row, (P,)
    each) what the row's shadows cover alone, ``by_series`` (P,)."""

    stands_for: Ints
    at: Ints
    shares: Floats
    mean: Floats
    worst: Floats
    pairs: tuple[Ints, Ints]
    by_series: Floats


def _answer(task: LineTask, seen: Sequence[_Seen]) -> LineShade:
    target, suns = task.target, len(task.suns)
    mean, worst, worst_mirror = np.zeros(suns), np.zeros(suns), np.zeros(suns, np.intp)
    by_line = np.zeros((suns, len(task.casters) + 1))
    for some in seen:
        mean[some.at], worst[some.at] = some.mean, some.worst
        worst_mirror[some.at] = target.there[
            (some.stands_for.cumsum() - some.stands_for)[some.shares.argmax(axis=1)]
        ]
        if len(some.stands_for) < target.mirrors:
            mean[some.at] = some.shares @ (some.stands_for / target.mirrors)
        by_line[some.pairs] = some.by_series

    def tell() -> Floats:
        by_mirror = np.zeros((suns, target.count))
        for some in seen:
            shares = some.shares.repeat(some.stands_for, axis=1)
            by_mirror[some.at if not target.absent else np.ix_(some.at, target.there)] = shares
        return by_mirror

    return LineShade(mean, worst, worst_mirror, by_line[:, :-1], by_line[:, -1], tell)


def _looks(tasks: Sequence[LineTask]) -> list[Look]:
    """What is looked at of each task: every mirror under the suns before it, some mirrors under dim ones; those with few
    seats first."""
    found: list[Look] = []
    known: dict[object, list[tuple[bool, Ints, Floats, Ints]]] = {}
    first_row = 0
    for number, task in enumerate(tasks):
        target, rows = task.target, len(task.casters) + 1
        key = (id(task.suns), None if task.dim is None else task.dim.tobytes(), target.axes)
        if key not in known:
            known[key] = _lights(task)
        for dim, at, light, order in known[key]:
            places, stands_for = _standing_for(target.mirrors, DIM_STRIDE if dim else 1)
            found.append(Look(number, at, light, order, target.there[places], stands_for, first_row, rows))
        first_row += rows
    return sorted(found, key=lambda look: len(look.seats))


@cache
def _standing_for(mirrors: int, stride: int) -> tuple[Ints, Ints]:
    """Of so many mirrors in a row those (M,) in the middle of groups of about ``stride``, and the sizes (M,) of these."""
    groups = max(1, round(mirrors / stride))
    bounds = np.rint(np.arange(groups + 1) * (mirrors / groups)).astype(np.intp)
    return (bounds[:-1] + bounds[1:] - 1) // 2, np.diff(bounds)


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
