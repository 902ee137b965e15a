"""The drive's law: slide and roll over the sun's declination and hour angle, in few enough numbers for a small controller.

Each motion is a sum of Chebyshev polynomials T_i(declination/24) T_j(hour angle/reach), clipped at its limits. Where
the roll is at its limit the slide has still somewhat to follow: coupled terms count times the roll's excess over the
limit. Declination and hour angle are the geometric ones (no refraction), as a controller computes them.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.form import Floats

DECLINATION_SCALE_DEG = 24.0
EXCESS_SCALE_DEG = 10.0
SLIDE_WITHIN_M, ROLL_WITHIN_DEG = 0.005, 0.3
"""What a compact law may be off where the line works."""
_MARGIN = 0.9
"""Of it is used up where the law is thinned, for the moments in between."""
_BEYOND = 0.1
"""Share of the range past a limit within which a thinned law still follows."""
_VECTORS = 48


@dataclass(frozen=True)
class Term:
    """``coefficient`` x T_i(declination/24) T_j(hour angle/reach), times the roll's excess/10 deg if ``coupled``."""

    i: int
    j: int
    coupled: bool
    coefficient: float


@dataclass(frozen=True)
class MotionLaw:
    """One motion, m or deg: the sum of its terms, clipped from ``low`` to ``high``."""

    low: float
    high: float
    terms: tuple[Term, ...]


@dataclass(frozen=True)
class DriveLaw:
    """Both motions of a line; None where one is set by hand. ``reach_deg`` scales the hour angle."""

    reach_deg: float
    slide: MotionLaw | None
    roll: MotionLaw | None

    @property
    def coefficients(self) -> int:
        """How many numbers a controller has to hold, limits apart."""
        return sum(len(law.terms) for law in (self.slide, self.roll) if law is not None)


def pose_by_hand(law: DriveLaw, declination_deg: float, hour_angle_deg: float) -> tuple[float, float]:
    """Slide (m) and roll (deg), in arithmetic that any controller has; NaN for a motion that is set by hand.

    T_0 = 1, T_1 = x, T_n = 2 x T_(n-1) - T_(n-2) (Abramowitz & Stegun 22.7.4).
    """
    x, y = declination_deg / DECLINATION_SCALE_DEG, hour_angle_deg / law.reach_deg
    tx, ty = [1.0, x], [1.0, y]
    for law_of_one in (law.slide, law.roll):
        for term in law_of_one.terms if law_of_one is not None else ():
            while len(tx) <= term.i:
                tx.append(2 * x * tx[-1] - tx[-2])
            while len(ty) <= term.j:
                ty.append(2 * y * ty[-1] - ty[-2])
    slide = roll = float("nan")
    excess = 0.0
    if law.roll is not None:
        free = 0.0
        for term in law.roll.terms:
            free += term.coefficient * tx[term.i] * ty[term.j]
        roll = min(max(free, law.roll.low), law.roll.high)
        excess = (free - roll) / EXCESS_SCALE_DEG
    if law.slide is not None:
        free = 0.0
        for term in law.slide.terms:
            free += term.coefficient * tx[term.i] * ty[term.j] * (excess if term.coupled else 1.0)
        slide = min(max(free, law.slide.low), law.slide.high)
    return slide, roll


@dataclass(frozen=True)
class LawAt:
    """Of N places of the sun, (N,): the pose, and what it would be without limits; NaN for a motion set by hand."""

    slide_m: Floats
    roll_deg: Floats
    free_slide_m: Floats
    free_roll_deg: Floats


def poses_of(law: DriveLaw, declination_deg: Floats, hour_angle_deg: Floats) -> LawAt:
    """``pose_by_hand`` for arrays (N,)."""
    x, y = declination_deg / DECLINATION_SCALE_DEG, hour_angle_deg / law.reach_deg
    unset = np.full(len(x), np.nan)
    slide = roll = free_slide = free_roll = unset
    excess = np.zeros(len(x))
    if law.roll is not None:
        free_roll = columns(law.roll.terms, x, y, excess) @ _numbers(law.roll.terms)
        roll = np.clip(free_roll, law.roll.low, law.roll.high)
        excess = (free_roll - roll) / EXCESS_SCALE_DEG
    if law.slide is not None:
        free_slide = columns(law.slide.terms, x, y, excess) @ _numbers(law.slide.terms)
        slide = np.clip(free_slide, law.slide.low, law.slide.high)
    return LawAt(slide, roll, free_slide, free_roll)


def columns(terms: Sequence[Term], x: Floats, y: Floats, excess: Floats) -> Floats:
    """Each term's value for a coefficient of 1, (N, terms)."""
    order_i = max((term.i for term in terms), default=0)
    order_j = max((term.j for term in terms), default=0)
    tx = np.polynomial.chebyshev.chebvander(x, order_i)
    ty = np.polynomial.chebyshev.chebvander(y, order_j)
    parts = [tx[:, t.i] * ty[:, t.j] * (excess if t.coupled else 1.0) for t in terms]
    return np.stack(parts, axis=1) if parts else np.zeros((len(x), 0))


def _numbers(terms: Sequence[Term]) -> Floats:
    return np.array([term.coefficient for term in terms], dtype=float)


@dataclass(frozen=True)
class LawError:
    """How far a law is off at N places: worst and RMS, 0 for a motion set by hand."""

    slide_worst_mm: float
    slide_rms_mm: float
    roll_worst_deg: float
    roll_rms_deg: float

    @property
    def within(self) -> bool:
        """Whether the worst is within 5 mm and 0.3 deg."""
        return self.slide_worst_mm <= 1000 * SLIDE_WITHIN_M and self.roll_worst_deg <= ROLL_WITHIN_DEG


def law_error(
    law: DriveLaw, declination_deg: Floats, hour_angle_deg: Floats, *, slide_m: Floats, roll_deg: Floats
) -> LawError:
    """How far ``law`` is from poses ``slide_m`` and ``roll_deg`` (N,) at places of the sun (N,)."""
    at = poses_of(law, declination_deg, hour_angle_deg)
    slide_off = np.zeros(1) if law.slide is None else at.slide_m - slide_m
    roll_off = np.zeros(1) if law.roll is None else at.roll_deg - roll_deg
    return LawError(
        slide_worst_mm=1000 * float(np.abs(slide_off).max(initial=0.0)),
        slide_rms_mm=1000 * float(np.sqrt(np.square(slide_off).mean())) if len(slide_off) else 0.0,
        roll_worst_deg=float(np.abs(roll_off).max(initial=0.0)),
        roll_rms_deg=float(np.sqrt(np.square(roll_off).mean())) if len(roll_off) else 0.0,
    )


def thin(law: MotionLaw, values: Floats, within: float) -> MotionLaw:
    """The same motion in as few terms as keep it ``within`` (m or deg) at N places of the sun where the line works.

    ``values`` (N, K) are the columns of its K terms. Terms are taken one by one, each time the one that explains most of
    what is left (orthogonal least squares: Chen, Billings & Luo, Int. J. Control 50 (1989) 1873). What lies well past
    a limit is not fitted but must still be clipped. With no fewer terms that do, all stay.
    """
    terms, free = values, values @ _numbers(law.terms)
    within = _MARGIN * within
    wanted = np.clip(free, law.low, law.high)
    past = _BEYOND * (law.high - law.low)
    followed = (free >= law.low - past) & (free <= law.high + past)
    inside, target = terms[followed], free[followed]
    # the target is a sum of the columns, so that all is told by the small triangle of their QR
    square, triangle = np.linalg.qr(inside)
    wanted_small = triangle @ _numbers(law.terms)
    left, rest = triangle, wanted_small
    size = np.linalg.norm(left, axis=0)
    chosen: list[int] = []
    for _step in range(terms.shape[1]):
        length = np.linalg.norm(left, axis=0)
        open_still = length > 1e-9 * size
        if not open_still.any():
            break
        gain = np.where(open_still, np.abs(left.T @ rest) / np.where(open_still, length, 1.0), -1.0)
        best = int(np.argmax(gain))
        chosen.append(best)
        direction = left[:, best] / length[best]
        rest = rest - direction * (direction @ rest)
        left = left - np.outer(direction, direction @ left)
        left[:, chosen] = 0.0
        off = np.clip(target - square @ rest, law.low, law.high) - wanted[followed]
        if np.abs(off).max(initial=0.0) > within:
            continue
        answer = np.asarray(np.linalg.lstsq(triangle[:, chosen], wanted_small, rcond=None)[0]).round(6)
        if np.abs(np.clip(terms[:, chosen] @ answer, law.low, law.high) - wanted).max() <= within:
            return replace(law, terms=_with(law.terms, chosen, answer))
    return law


def _with(terms: Sequence[Term], chosen: Sequence[int], answer: Floats) -> tuple[Term, ...]:
    found = [replace(terms[at], coefficient=float(c)) for at, c in zip(chosen, answer, strict=True)]
    return tuple(sorted(found, key=lambda term: (term.coupled, term.i + term.j, term.i)))


@dataclass(frozen=True)
class LawVector:
    """What a controller's own evaluation must give: slide and roll (NaN: set by hand) for a place of the sun."""

    declination_deg: float
    hour_angle_deg: float
    slide_m: float
    roll_deg: float


def vectors_of(law: DriveLaw, declination_deg: Floats, hour_angle_deg: Floats) -> tuple[LawVector, ...]:
    """Test vectors spread over the places (N,) at which the line works, by the plain function."""
    order: NDArray[np.intp] = np.lexsort((hour_angle_deg, declination_deg))
    picked = order[np.unique(np.linspace(0, len(order) - 1, min(_VECTORS, len(order))).astype(np.intp))]
    vectors = []
    for at in picked:
        declination, hour_angle = round(float(declination_deg[at]), 3), round(float(hour_angle_deg[at]), 3)
        slide, roll = pose_by_hand(law, declination, hour_angle)
        vectors.append(LawVector(declination, hour_angle, round(slide, 6), round(roll, 5)))
    return tuple(vectors)
