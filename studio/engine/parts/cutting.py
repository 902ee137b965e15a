"""Bars bought for the pieces cut from them: one-dimensional cutting stock.

The linear programme over cutting patterns is that of Gilmore and Gomory, A linear programming approach to the
cutting-stock problem, Operations Research 9 (1961) 849-859; Part II, 11 (1963) 863-888. All lengths are whole
tenths of a millimetre inside. The saw's kerf is counted once per piece and the stock is lengthened by one kerf:
the last piece of a bar needs no cut behind it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import ceil, gcd, isfinite

import numpy as np
import numpy.typing as npt

from studio.errors import BadInputError, ComputationError
from studio.text import _, number

_TENTHS_PER_M = 10_000
_MOST_PATTERNS = 20_000
_MOST_PIVOTS = 300
_SLACK = 1e-7

_Counts = tuple[int, ...]
_Matrix = npt.NDArray[np.float64]


@dataclass(frozen=True)
class CutBar:
    """A way to cut one bar: ``pieces`` are (length in m, how many of it), done on ``times`` bars."""

    times: int
    pieces: tuple[tuple[float, int], ...]
    rest_m: float
    """What is left of each such bar after pieces and kerfs."""


@dataclass(frozen=True)
class BarsNeeded:
    """Bars to buy, how they are cut, and how few bars there could be at all."""

    bars: int
    bound: int
    """No way of cutting needs fewer bars than this."""
    waste_m: float
    """Length bought less the length of the pieces; kerfs are part of it."""
    plan: tuple[CutBar, ...]

    @property
    def gap(self) -> int:
        """Bars by which a better way of cutting might still do with less; 0 is proven best."""
        return self.bars - self.bound


@dataclass(frozen=True)
class _Job:
    """Distinct lengths (kerf included), longest first, with the demand for each; all in tenths of a millimetre."""

    lengths: _Counts
    counts: _Counts
    stock: int
    kerf: int


_Fill = Callable[[_Job, Sequence[int]], _Counts]


def bars_needed(
    cuts: Sequence[tuple[float, int]], *, stock_m: float = 6.0, kerf_mm: float = 3.0
) -> BarsNeeded:
    """Bars for ``cuts``, each (length in m, count), fast enough for every frame of a drag.

    The linear programme's patterns are used as often as they go whole; what is left over is cut greedily. The
    result is mostly on ``bound``; ``gap`` tells. With so many distinct lengths that their patterns are too many to
    list, all is cut greedily and ``bound`` is the larger of that of the longer pieces and that of the material.

    Raises BadInputError for a piece longer than the bar, and for lengths or counts that make no sense.
    """
    job = _job(cuts, stock_m, kerf_mm)
    if not job.lengths:
        return BarsNeeded(bars=0, bound=0, waste_m=0.0, plan=())
    relaxed = _relaxed(job)
    if relaxed is None:
        return _answer(job, _greedy(job, job.counts), bound=_bound_of_longer(job))
    patterns, uses, bound = relaxed
    plan, left = _used(job, patterns, [int(use + _SLACK) for use in uses])
    return _answer(job, plan + _greedy(job, left), bound=bound)


def bars_exact(
    cuts: Sequence[tuple[float, int]],
    *,
    stock_m: float = 6.0,
    kerf_mm: float = 3.0,
    seconds: float = 20.0,
) -> BarsNeeded:
    """The fewest bars for ``cuts``, by an integer programme over all patterns; for papers, not for a drag.

    Where the fast way already meets its bound that answer stands. ``seconds`` limits the integer programme; what
    it has not proven by then shows as ``gap``. So it does where the patterns are too many to list.

    Raises as :func:`bars_needed`, and ComputationError when the programme ends without any answer.
    """
    fast = bars_needed(cuts, stock_m=stock_m, kerf_mm=kerf_mm)
    job = _job(cuts, stock_m, kerf_mm)
    if fast.gap == 0:
        return fast
    patterns = _patterns(job.lengths, job.stock)
    if patterns is None:
        return fast

    from scipy.optimize import Bounds, LinearConstraint, milp

    found = milp(
        np.ones(len(patterns)),
        constraints=LinearConstraint(patterns.T, lb=np.asarray(job.counts, dtype=np.float64)),
        integrality=np.ones(len(patterns), dtype=np.int64),
        bounds=Bounds(0, float(fast.bars)),
        options={"time_limit": seconds},
    )
    if found.x is None:
        raise ComputationError(_("No way of cutting the bars was found: {why}").format(why=found.message))
    bound = max(fast.bound, ceil(found.mip_dual_bound - _SLACK))
    chosen = np.flatnonzero(found.x > 0.5)
    plan, _none_left = _used(
        job,
        [tuple(int(n) for n in patterns[row]) for row in chosen],
        [round(found.x[row]) for row in chosen],
    )
    best = _answer(job, plan, bound=bound)
    return best if best.bars < fast.bars else replace(fast, bound=bound)


def _job(cuts: Sequence[tuple[float, int]], stock_m: float, kerf_mm: float) -> _Job:
    if not (isfinite(stock_m) and stock_m > 0):
        raise BadInputError(
            _("A stock bar of {length} m cannot be cut; give a length above 0 m").format(length=stock_m)
        )
    if not (isfinite(kerf_mm) and kerf_mm >= 0):
        raise BadInputError(
            _("A saw cut of {width} mm cannot be; give a width of 0 mm or more").format(width=kerf_mm)
        )
    kerf = _tenths(kerf_mm / 1000)
    stock = int(stock_m * _TENTHS_PER_M + 1e-6) + kerf
    wanted: dict[int, int] = {}
    for length_m, count in cuts:
        if not (isfinite(length_m) and length_m > 0) or count < 0:
            raise BadInputError(
                _(
                    "{count} pieces of {length} m cannot be cut; give a length above 0 m and a count of 0 or more"
                ).format(count=count, length=length_m)
            )
        piece = _tenths(length_m) + kerf
        if piece > stock:
            raise BadInputError(
                _(
                    "A piece of {length} m is longer than the stock bar of {stock} m; choose a longer bar, "
                    "or make the piece of two that are welded"
                ).format(length=number(length_m, digits=3), stock=number(stock_m, digits=2))
            )
        if count:
            wanted[piece] = wanted.get(piece, 0) + count
    lengths = tuple(sorted(wanted, reverse=True))
    return _Job(lengths, tuple(wanted[length] for length in lengths), stock, kerf)


def _tenths(metres: float) -> int:
    """Whole tenths of a millimetre, rounded up, so that no piece is short."""
    return ceil(metres * _TENTHS_PER_M - 1e-6)


def _material_bound(job: _Job) -> int:
    return -(-sum(n * length for n, length in zip(job.counts, job.lengths, strict=True)) // job.stock)


def _bound_of_longer(job: _Job) -> int:
    """Bars that the longer pieces need by themselves, as many lengths as can be listed, or the material's bound."""
    for kept in range(len(job.lengths) - 1, 0, -1):
        longer = _Job(job.lengths[:kept], job.counts[:kept], job.stock, job.kerf)
        relaxed = _relaxed(longer)
        if relaxed is not None:
            return max(relaxed[2], _material_bound(job))
    return _material_bound(job)


@lru_cache(maxsize=8)
def _patterns(lengths: _Counts, stock: int) -> _Matrix | None:
    """All ways to fill a bar to which no further shortest piece can be added; None where they are too many.

    Rows are patterns, columns the pieces of each length.
    """
    rows = np.zeros((1, 0), dtype=np.int64)
    rest = np.array([stock], dtype=np.int64)
    for length in lengths[:-1]:
        most = rest // length
        if int((most + 1).sum()) > _MOST_PATTERNS:
            return None
        parent = np.repeat(np.arange(len(rest)), most + 1)
        first = np.cumsum(most + 1) - (most + 1)
        taken = np.arange(len(parent)) - first[parent]
        rows = np.column_stack([rows[parent], taken])
        rest = rest[parent] - taken * length
    patterns = np.column_stack([rows, rest // lengths[-1]]).astype(np.float64)
    patterns.flags.writeable = False
    return patterns


def _relaxed(job: _Job) -> tuple[tuple[_Counts, ...], tuple[float, ...], int] | None:
    """Patterns, how often each is used, and the bound: the linear programme's answer, or None as _patterns."""
    shared = gcd(*job.counts)
    solved = _solved(job.lengths, tuple(n // shared for n in job.counts), job.stock)
    if solved is None:
        return None
    patterns, uses, bound = solved
    bound_bars = max(ceil(bound * shared - _SLACK), _material_bound(job))
    return patterns, tuple(use * shared for use in uses), bound_bars


@lru_cache(maxsize=64)
def _solved(
    lengths: _Counts, proportions: _Counts, stock: int
) -> tuple[tuple[_Counts, ...], tuple[float, ...], float] | None:
    """The linear programme by the revised simplex method, all patterns priced at once.

    Every length must be cut at least as often as wanted; columns of the basis are patterns or pieces too many. Only
    the proportions of the demand matter, so a line that grows by a mirror finds its answer here. The bound is Farley's (A note on bounding a class of linear programming problems, Operations Research 38 (1990) 922): the
    dual value over the largest pattern value, valid at any pivot and exact at the last.
    """
    patterns = _patterns(lengths, stock)
    if patterns is None:
        return None
    demand = np.asarray(proportions, dtype=np.float64)
    basis = np.diag([float(stock // length) for length in lengths])
    costs = np.ones(len(lengths))  # a pattern is a bar; a column of pieces too many costs nothing
    bound = 0.0
    for _pivot in range(_MOST_PIVOTS):
        inverse = np.linalg.inv(basis)
        uses = inverse @ demand
        duals = costs @ inverse
        values = patterns @ duals
        best, surplus = int(np.argmax(values)), int(np.argmin(duals))
        kept = np.maximum(duals, 0.0)
        bound = max(bound, float(kept @ demand) / max(float((patterns @ kept).max()), 1.0))
        if values[best] > 1 + _SLACK:
            entering, cost = patterns[best], 1.0
        elif duals[surplus] < -_SLACK:
            entering, cost = -np.eye(len(lengths))[surplus], 0.0
        else:
            break
        direction = inverse @ entering
        leaves = direction > 1e-9
        ratios = np.where(leaves, uses / np.where(leaves, direction, 1.0), np.inf)
        out = int(np.argmin(ratios))
        basis[:, out], costs[out] = entering, cost
    uses = np.maximum(np.linalg.solve(basis, demand), 0.0)
    chosen = [(column, use) for column, use, cost in zip(basis.T, uses, costs, strict=True) if cost]
    columns = tuple(tuple(int(n) for n in column) for column, _use in chosen)
    return columns, tuple(float(use) for _column, use in chosen), bound


def _greedy(job: _Job, counts: _Counts) -> list[tuple[int, _Counts]]:
    """First-fit decreasing, and best fill of each bar; whichever needs fewer bars."""
    plans = (_filled(job, counts, _longest_first), _filled(job, counts, _fullest))
    return min(plans, key=lambda plan: sum(times for times, _pattern in plan))


def _filled(job: _Job, counts: _Counts, fill: _Fill) -> list[tuple[int, _Counts]]:
    left = list(counts)
    plan: list[tuple[int, _Counts]] = []
    while any(left):
        pattern = fill(job, left)
        times = min(have // n for have, n in zip(left, pattern, strict=True) if n)
        plan.append((times, pattern))
        left = [have - times * n for have, n in zip(left, pattern, strict=True)]
    return plan


def _longest_first(job: _Job, left: Sequence[int]) -> _Counts:
    rest = job.stock
    pattern: list[int] = []
    for length, have in zip(job.lengths, left, strict=True):
        taken = min(have, rest // length)
        rest -= taken * length
        pattern.append(taken)
    return tuple(pattern)


def _fullest(job: _Job, left: Sequence[int]) -> _Counts:
    """One of the longest pieces left, and of the others what fills the bar best.

    Sums that can be reached are the set bits of one integer; each piece shifts them by its length.
    """
    longest = next(i for i, have in enumerate(left) if have)
    pattern = [int(i == longest) for i in range(len(left))]
    room = job.stock - job.lengths[longest]
    within = (1 << (room + 1)) - 1
    sums = [1]
    pieces: list[int] = []
    for i, length in enumerate(job.lengths):
        for _copy in range(min(left[i] - pattern[i], room // length)):
            pieces.append(i)
            sums.append((sums[-1] | sums[-1] << length) & within)
    reached = sums[-1].bit_length() - 1
    for i, before in zip(reversed(pieces), reversed(sums[:-1]), strict=True):
        if not before >> reached & 1:
            pattern[i] += 1
            reached -= job.lengths[i]
    return tuple(pattern)


def _used(
    job: _Job, patterns: Sequence[_Counts], times: Sequence[int]
) -> tuple[list[tuple[int, _Counts]], _Counts]:
    """Patterns as often as ``times`` says, without the pieces beyond what is wanted; and what is still wanted."""
    left = job.counts
    plan: list[tuple[int, _Counts]] = []
    for pattern, uses in zip(patterns, times, strict=True):
        todo = uses
        while todo:
            taken = tuple(min(n, have) for n, have in zip(pattern, left, strict=True))
            if not any(taken):
                break
            now = min(todo, *(have // n for n, have in zip(taken, left, strict=True) if n))
            plan.append((now, taken))
            left = tuple(have - now * n for have, n in zip(left, taken, strict=True))
            todo -= now
    return plan, left


def _metres(job: _Job, length: int) -> float:
    return (length - job.kerf) / _TENTHS_PER_M


def _answer(job: _Job, plan: Sequence[tuple[int, _Counts]], *, bound: int) -> BarsNeeded:
    """The plan in metres, most used patterns first."""
    stock = job.stock - job.kerf
    together: dict[_Counts, int] = {}
    for times, pattern in plan:
        together[pattern] = together.get(pattern, 0) + times
    bars = sum(together.values())
    cut = []
    for pattern, times in sorted(together.items(), key=lambda item: (-item[1], item[0])):
        used = sum(n * length for n, length in zip(pattern, job.lengths, strict=True))
        pieces = tuple((_metres(job, length), n) for n, length in zip(pattern, job.lengths, strict=True) if n)
        cut.append(CutBar(times=times, pieces=pieces, rest_m=max(0, stock - used) / _TENTHS_PER_M))
    net = sum(n * (length - job.kerf) for n, length in zip(job.counts, job.lengths, strict=True))
    return BarsNeeded(bars=bars, bound=bound, waste_m=(bars * stock - net) / _TENTHS_PER_M, plan=tuple(cut))
