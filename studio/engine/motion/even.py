"""Poses that a drive can follow: the best ones, evened out where the light does not care.

The best pose is a plateau: where the spot is wide or the sun askew, the very best jumps about by centimetres for a
thousandth of the light. Each motion becomes one smooth function of the sun's declination and hour angle, fitted to the
best poses with the light that being off would cost as the weight.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.form import Floats
from studio.engine.motion.compact import (
    DECLINATION_SCALE_DEG,
    EXCESS_SCALE_DEG,
    ROLL_WITHIN_DEG,
    SLIDE_WITHIN_M,
    DriveLaw,
    MotionLaw,
    Term,
    columns,
    poses_of,
    thin,
)
from studio.engine.motion.offsets import offset_table
from studio.engine.motion.table import OpticsTable, blend
from studio.errors import BadInputError
from studio.text import _

_ORDERS, _COUPLED_ORDERS = (8, 14), (4, 4)
_CORNER, _EVEN = 1.3, 1e-4
"""How far the orders reach past a triangle, and how much a high order must bring."""
_STEP = 0.2
"""Offset at which the cost of being off is felt out, in widths or heights of the window."""
_LEAST_COST = 1e-3
_COUPLED_FROM_DEG = 1.0


@dataclass(frozen=True)
class Care:
    """Light lost (N,) by the same small step off the best slide and off the best roll."""

    slide: Floats
    roll: Floats


def care_of(table: OpticsTable, suns: Floats, light: Floats) -> Care:
    """What a step of a fifth of the window costs at ``suns`` (N, 3) of the mirror frame that bring ``light`` (N,).

    ``table`` must cover the suns.
    """
    step_m = _STEP * table.window.width_m
    step_deg = float(np.degrees(_STEP * table.window.height_m / table.motion.arm_m))
    offsets = offset_table(
        table,
        suns,
        slide_offsets_m=np.array([-step_m, 0.0, step_m]),
        roll_offsets_deg=np.array([-step_deg, 0.0, step_deg]),
    )
    taken = blend(offsets.accepted, *table.weights(suns))
    best = taken[:, 1, 1]
    slide = best - (taken[:, 0, 1] + taken[:, 2, 1]) / 2
    roll = best - (taken[:, 1, 0] + taken[:, 1, 2]) / 2
    return Care(light * np.maximum(slide, _LEAST_COST), light * np.maximum(roll, _LEAST_COST))


@dataclass(frozen=True)
class EvenLaw:
    """The smooth law with all its terms, and the same in few: what the table is made from, and what a controller holds.

    ``full.slide`` takes the roll's excess over its limit from ``few.roll``, as a controller does.
    """

    full: DriveLaw
    few: DriveLaw

    def at(self, declination_deg: Floats, hour_angle_deg: Floats) -> tuple[Floats, Floats]:
        """Slide and roll (N,) of the full law at geometric places of the sun (N,)."""
        roll = poses_of(replace(self.full, slide=None), declination_deg, hour_angle_deg).roll_deg
        return poses_of(replace(self.full, roll=self.few.roll), declination_deg, hour_angle_deg).slide_m, roll


def even_law(
    declination_deg: Floats,
    hour_angle_deg: Floats,
    *,
    slide_m: Floats,
    roll_deg: Floats,
    care: Care,
    slide_limits_m: tuple[float, float],
    roll_limits_deg: tuple[float, float],
    works_at: tuple[Floats, Floats],
    by_hand: tuple[bool, bool] = (False, False),
) -> EvenLaw:
    """The smooth law through best poses ``slide_m``, ``roll_deg`` (N,) at geometric places of the sun (N,).

    A pose at a limit says only that the free one lies there or beyond. ``works_at``: declination and hour angle (M,) of
    all moments at which the line works, for which the few terms must do; there the law is what is asked for. ``by_hand``: slide or roll is set by hand and
    has no law. Raises ``BadInputError`` where the line never works.
    """
    if len(declination_deg) == 0:
        raise BadInputError(_("The line never works, so its drive has nothing to follow."))
    reach = float(np.ceil((np.abs(hour_angle_deg).max() + 1.0) / 5.0) * 5.0)
    x, y = declination_deg / DECLINATION_SCALE_DEG, hour_angle_deg / reach
    plain = _terms(_ORDERS, _CORNER, coupled=False)
    places = works_at[0] / DECLINATION_SCALE_DEG, works_at[1] / reach
    slide = roll = few_slide = few_roll = None
    excess, excess_there = np.zeros(len(x)), np.zeros(len(places[0]))
    if not by_hand[1]:
        roll = _law(plain, columns(plain, x, y, excess), roll_deg, care.roll, roll_limits_deg)
        few_roll = thin(roll, columns(roll.terms, *places, excess_there), ROLL_WITHIN_DEG)
        rolls = DriveLaw(reach, None, few_roll)
        excess, excess_there = _excess(rolls, declination_deg, hour_angle_deg), _excess(rolls, *works_at)
    if not by_hand[0]:
        terms = plain
        if np.abs(excess).max() * EXCESS_SCALE_DEG > _COUPLED_FROM_DEG:
            terms = plain + _terms(_COUPLED_ORDERS, 1.0, coupled=True)
        slide = _law(terms, columns(terms, x, y, excess), slide_m, care.slide, slide_limits_m)
        few_slide = thin(slide, columns(slide.terms, *places, excess_there), SLIDE_WITHIN_M)
    return EvenLaw(DriveLaw(reach, slide, roll), DriveLaw(reach, few_slide, few_roll))


def _excess(law: DriveLaw, declination_deg: Floats, hour_angle_deg: Floats) -> Floats:
    at = poses_of(law, declination_deg, hour_angle_deg)
    return np.asarray((at.free_roll_deg - at.roll_deg) / EXCESS_SCALE_DEG)


def _terms(orders: tuple[int, int], corner: float, *, coupled: bool) -> tuple[Term, ...]:
    return tuple(
        Term(i, j, coupled, 0.0)
        for i in range(orders[0] + 1)
        for j in range(orders[1] + 1)
        if i / orders[0] + j / orders[1] <= corner + 1e-9
    )


def _law(
    terms: tuple[Term, ...], values: Floats, wanted: Floats, care: Floats, limits: tuple[float, float]
) -> MotionLaw:
    """The law by least squares with a price on high orders, poses at a limit taken as bounds."""
    low, high = limits
    if low == high:
        return MotionLaw(low, high, (Term(0, 0, False, low),))
    near = 1e-3 * (high - low)
    at_high, at_low = wanted >= high - near, wanted <= low + near
    order = np.array(
        [
            t.i / _COUPLED_ORDERS[0] + t.j / _COUPLED_ORDERS[1]
            if t.coupled
            else t.i / _ORDERS[0] + t.j / _ORDERS[1]
            for t in terms
        ]
    )
    price = np.diag(_EVEN * (1 + 6 * order) ** 4 / 1e3)
    bound: NDArray[np.bool_] = at_high | at_low
    answer = np.zeros(len(terms))
    for _round in range(10):
        weight = np.where(bound, 0.0, care) / care.sum()
        answer = np.linalg.solve(values.T @ (weight[:, None] * values) + price, values.T @ (weight * wanted))
        free = values @ answer
        beyond = (at_high & (free > high)) | (at_low & (free < low))
        if np.array_equal(beyond, bound):
            break
        bound = beyond
    found = tuple(Term(t.i, t.j, t.coupled, float(c)) for t, c in zip(terms, answer, strict=True))
    return MotionLaw(low, high, found)
