"""Ways of searching for the least of a costly figure over a few bounded numbers, by comparing values alone.

Which way fits is said once, in ``best_way``: all of a few whole numbers; one number by even steps and then Brent's
parabolas; two or three by a simplex; more, or whole numbers among them, by differential evolution and a simplex.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import Literal, Protocol

import numpy as np

from studio.study.assessment import Array

Point = tuple[float, ...]
Way = Literal["every one", "one number", "simplex", "evolution"]
Loss = Callable[[Point], float | None]

SETTLED = 1e-4
"""Change of the figure, as a share of the present one, below which a way is at its end: the ripple of the tables."""
_WILL_NOT_DO = 1e6
"""Stands for the loss of a design that will not do; far above any other."""
_EVEN_STEPS = 8
_MOST_IN_SIMPLEX = 3
_SEED = 20240320
_KINDS = 5
"""Members of a generation per number. Few and many generations: the budget is hundreds of designs, not thousands."""


class EnoughError(Exception):
    """No further design may be assessed."""


@dataclass(frozen=True)
class Axis:
    """One number between ``low`` and ``high``: a whole one, or one of so many ``digits``."""

    low: float
    high: float
    whole: bool
    digits: int

    def on_grid(self, value: float) -> float:
        """The nearest value with so many digits, within the bounds."""
        return min(max(round(float(value), self.digits), self.low), self.high)

    def at(self, share: float) -> float:
        """The value at a share 0..1 of the way from low to high."""
        return self.on_grid(self.low + share * (self.high - self.low))

    def share(self, value: float) -> float:
        """How far a value lies from low to high, 0..1."""
        return (value - self.low) / (self.high - self.low)


class Run(Protocol):
    """Runs a way to its end; whether it came there. Raises EnoughError when no further design may be assessed."""

    def __call__(
        self, loss: Loss, axes: Sequence[Axis], start: Point, *, allow: Callable[[int], None], most: int
    ) -> bool:
        """``allow`` sets how many designs may be assessed in all, at most ``most``."""
        ...


@dataclass(frozen=True)
class ChosenWay:
    """A way, what it is called, and how many designs it takes at most."""

    name: Way
    run: Run
    most: int


def best_way(axes: Sequence[Axis], most: int) -> ChosenWay:
    """The way that fits what is varied, given that ``most`` designs may be assessed."""
    count = prod(round(axis.high - axis.low) + 1 for axis in axes)
    if all(axis.whole for axis in axes) and count < most:
        return ChosenWay("every one", _every_one, count)
    if len(axes) == 1 and not axes[0].whole:
        return ChosenWay("one number", _one_number, most)
    if len(axes) <= _MOST_IN_SIMPLEX and not any(axis.whole for axis in axes):
        return ChosenWay("simplex", _simplex, most)
    return ChosenWay("evolution", _evolution, most)


def _every_one(
    loss: Loss, axes: Sequence[Axis], start: Point, *, allow: Callable[[int], None], most: int
) -> bool:
    """All whole numbers there are."""
    allow(most)
    for point in product(*(range(round(axis.low), round(axis.high) + 1) for axis in axes)):
        loss(tuple(float(value) for value in point))
    return True


def _one_number(
    loss: Loss, axes: Sequence[Axis], start: Point, *, allow: Callable[[int], None], most: int
) -> bool:
    """Even steps tell which hump is the highest, parabolas and golden sections (Brent 1973) its top."""
    from scipy.optimize import minimize_scalar

    allow(most)
    axis = axes[0]

    def at(share: float) -> float:
        return _finite(loss((axis.at(share),)))

    steps = [place / _EVEN_STEPS for place in range(_EVEN_STEPS + 1)]
    known = sorted({*steps, axis.share(start[0])})
    best = min(known, key=at)
    below = max((share for share in known if share < best), default=0.0)
    above = min((share for share in known if share > best), default=1.0)
    found = minimize_scalar(at, bounds=(below, above), method="bounded", options={"xatol": 2e-3})
    return bool(found.success)


def _simplex(
    loss: Loss, axes: Sequence[Axis], start: Point, *, allow: Callable[[int], None], most: int
) -> bool:
    """Nelder and Mead's simplex within bounds (1965), from the better of start and middle, begun anew until that brings nothing."""
    allow(most)
    middle = tuple(axis.at(0.5) for axis in axes)
    best = min((start, middle), key=lambda point: _finite(loss(point)))
    reach = 0.25
    while True:
        before = _finite(loss(best))
        best, ended = _one_simplex(loss, axes, best, reach=reach)
        if not ended or before - _finite(loss(best)) < SETTLED:
            return ended
        reach = max(0.05, reach / 2)


def _one_simplex(loss: Loss, axes: Sequence[Axis], start: Point, *, reach: float) -> tuple[Point, bool]:
    """One descent from ``start``, its first simplex ``reach`` of every range wide, towards the farther bound."""
    from scipy.optimize import minimize

    shares = [axis.share(value) for axis, value in zip(axes, start, strict=True)]
    corners = [shares]
    for place, share in enumerate(shares):
        corner = list(shares)
        corner[place] += reach if share <= 0.5 else -reach
        corners.append(corner)
    best: list[tuple[float, Point]] = []

    def at(x: Array, /) -> float:
        point = tuple(axis.at(float(share)) for axis, share in zip(axes, x, strict=True))
        value = _finite(loss(point))
        if not best or value < best[0][0]:
            best[:] = [(value, point)]
        return value

    found = minimize(
        at,
        np.array(shares),
        method="Nelder-Mead",
        bounds=[(0.0, 1.0)] * len(axes),
        options={
            "initial_simplex": np.array(corners),
            "xatol": 5e-3,
            "fatol": SETTLED,
            "maxfev": 2000,
            "adaptive": len(axes) > _MOST_IN_SIMPLEX,
        },
    )
    return best[0][1], bool(found.success)


def _evolution(
    loss: Loss, axes: Sequence[Axis], start: Point, *, allow: Callable[[int], None], most: int
) -> bool:
    """Differential evolution (Storn and Price 1997) with whole numbers kept whole, seeded, and a polish of its best."""
    from scipy.optimize import Bounds, differential_evolution

    rough = most - most // 4
    allow(rough)
    best: list[tuple[float, Point]] = []

    def at(x: Array, /) -> float:
        point = tuple(axis.on_grid(float(value)) for axis, value in zip(axes, x, strict=True))
        value = _finite(loss(point))
        if not best or value < best[0][0]:
            best[:] = [(value, point)]
        return value

    at(np.array(start))
    ended = False
    try:
        found = differential_evolution(
            at,
            bounds=Bounds([axis.low for axis in axes], [axis.high for axis in axes]),
            x0=start,
            integrality=[axis.whole for axis in axes],
            popsize=_KINDS,
            tol=10 * SETTLED,
            maxiter=most,
            seed=_SEED,
            polish=False,
        )
        ended = bool(found.success)
    except EnoughError:
        pass  # what is left is for polishing
    allow(most)
    _point, polished = _polished(loss, axes, best[0][1])
    return ended and polished


def _polished(loss: Loss, axes: Sequence[Axis], start: Point) -> tuple[Point, bool]:
    """From a good point to the best near it: a simplex on what is not whole, then whole numbers a step either way."""
    point, ended = start, True
    free = [place for place, axis in enumerate(axes) if not axis.whole]
    while True:
        if free:
            point, ended = _simplex_on(loss, axes, point, free)
        steps = [point]
        for place, axis in enumerate(axes):
            if axis.whole:
                steps += [
                    (*point[:place], value, *point[place + 1 :])
                    for value in (axis.on_grid(point[place] - 1), axis.on_grid(point[place] + 1))
                ]
        best = min(steps, key=lambda step: _finite(loss(step)))
        if best == point or not ended:
            return point, ended
        point = best


def _simplex_on(loss: Loss, axes: Sequence[Axis], start: Point, free: Sequence[int]) -> tuple[Point, bool]:
    """One small simplex over the axes in ``free``, the others held."""

    def whole_of(values: Point) -> Point:
        point = list(start)
        for place, value in zip(free, values, strict=True):
            point[place] = value
        return tuple(point)

    best, ended = _one_simplex(
        lambda values: loss(whole_of(values)),
        [axes[place] for place in free],
        tuple(start[place] for place in free),
        reach=0.1,
    )
    return whole_of(best), ended


def _finite(loss: float | None) -> float:
    return _WILL_NOT_DO if loss is None else loss
