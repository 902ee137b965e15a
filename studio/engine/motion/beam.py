"""The pipe as a beam and as a shaft: sag between frames, twist under the roll's torque, and what the drive must give.

These are sizes to reason with, not a proof of strength: pipes that carry hot oil under pressure follow local codes and
are checked by licensed people.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import cos, pi, sin, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from studio.engine.heat.steel import DENSITY_KG_M3
from studio.engine.mirror.form import Floats
from studio.errors import BadInputError
from studio.text import _
from studio.units import GRAVITY

STEEL_E_PA, STEEL_G_PA = 210e9, 81e9
"""EN 1993-1-1:2005, 3.2.6."""
_HOT_C = (20.0, 100.0, 200.0, 300.0, 400.0)
_STIFFNESS_LEFT = (1.0, 1.0, 0.9, 0.8, 0.7)
"""EN 1993-1-2:2005, table 3.1, reduction of the elastic modulus."""
_POINTS = 201


def stiffness_left(temperature_c: float) -> float:
    """Elastic modulus of carbon steel over its value at 20 degC, up to 400 degC (EN 1993-1-2, table 3.1)."""
    if temperature_c > _HOT_C[-1]:
        raise BadInputError(
            _("The stiffness of steel is tabulated up to {most} °C; found {found} °C.").format(
                most=_HOT_C[-1], found=temperature_c
            )
        )
    return float(np.interp(temperature_c, _HOT_C, _STIFFNESS_LEFT))


@dataclass(frozen=True)
class Tube:
    """A round tube's section. ``pipe_c`` softens it (EN 1993-1-2, table 3.1)."""

    outside_m: float
    wall_m: float
    pipe_c: float = 20.0

    def __post_init__(self) -> None:
        if not 0 < 2 * self.wall_m < self.outside_m:
            raise BadInputError(
                _("A tube of {d} m outside needs a wall above 0 and below half of that; found {t} m.").format(
                    d=self.outside_m, t=self.wall_m
                )
            )

    @property
    def bore_m(self) -> float:
        """Inside diameter."""
        return self.outside_m - 2 * self.wall_m

    @property
    def section_m2(self) -> float:
        """Area of the metal."""
        return pi * (self.outside_m**2 - self.bore_m**2) / 4

    @property
    def second_moment_m4(self) -> float:
        """I = pi (D^4 - d^4)/64 (EN 10210-2, annex B)."""
        return pi * (self.outside_m**4 - self.bore_m**4) / 64

    @property
    def torsion_m4(self) -> float:
        """J = 2 I for a round tube (EN 10210-2, annex B)."""
        return 2 * self.second_moment_m4

    @property
    def mass_kg_m(self) -> float:
        """Of the empty tube."""
        return self.section_m2 * DENSITY_KG_M3

    @property
    def bending_n_m2(self) -> float:
        """E I, hot."""
        return STEEL_E_PA * stiffness_left(self.pipe_c) * self.second_moment_m4

    @property
    def twisting_n_m2(self) -> float:
        """G J, hot."""
        return STEEL_G_PA * stiffness_left(self.pipe_c) * self.torsion_m4


@dataclass(frozen=True)
class Carried:
    """What hangs on the pipe: oil, insulation with jacket, and ``receiver_kg`` every ``spacing_m`` where mirrors stand."""

    oil_kg_m: float
    insulation_kg_m: float
    receiver_kg: float
    spacing_m: float

    @property
    def bare_kg_m(self) -> float:
        """Without receivers and the pipe itself."""
        return self.oil_kg_m + self.insulation_kg_m

    @property
    def mass_kg_m(self) -> float:
        """Meaned along a pipe with a receiver at every place; without the pipe itself."""
        return self.bare_kg_m + self.receiver_kg / self.spacing_m


@dataclass(frozen=True)
class Sag:
    """Sag and slope of a pipe on equal spans, each loaded evenly.

    ``hinged_m`` 5 w L^4/(384 E I) and ``fixed_m`` w L^4/(384 E I) are the bounds of one span among alike ones, of the
    heaviest load (Roark, table 8.1, cases 2e and 2d); ``deepest_m`` is the pipe run on over all supports, by the three-moment equation, ends included: of the
    spans the deepest point below the line of supports, ``ends_m`` (2,) the drop of the overhanging ends, and
    ``steepest_deg`` the largest slope anywhere, by which a receiver leans along the line.
    """

    hinged_m: float
    fixed_m: float
    deepest_m: float
    ends_m: tuple[float, float]
    steepest_deg: float


def sag_of(
    tube: Tube,
    load_n_m: ArrayLike,
    *,
    span_m: float,
    spans: int = 1,
    overhang_m: tuple[float, float] = (0.0, 0.0),
    overhang_n_m: float | None = None,
) -> Sag:
    """Sag of a tube under ``load_n_m``, one for all or one for each of ``spans`` equal spans, that runs past its first and
    last support, there under ``overhang_n_m`` or, unless given, the load of the span beside.

    Clapeyron's three-moment equation, M0 L + 4 M1 L + M2 L = -(w1 + w2) L^3/4 (Timoshenko, Strength of Materials I, art.
    49), with -w a^2/2 over the outer supports. All in the plane of the load.
    """
    given = np.asarray(load_n_m, dtype=np.float64)
    fits = span_m > 0 and spans >= 1 and min(overhang_m) >= 0 and given.shape in ((), (spans,))
    if not fits or not min(float(given.min()), overhang_n_m or 0.0) >= 0:
        raise BadInputError(
            _(
                "A pipe lies on at least 1 span above 0 m, with a load and overhangs of 0 or more; found {n} of {span} m."
            ).format(n=spans, span=span_m)
        )
    stiff = tube.bending_n_m2
    loads = np.broadcast_to(given, (spans,))
    beyond = (loads[0], loads[-1]) if overhang_n_m is None else (overhang_n_m,) * 2
    at_ends = [-load * reach**2 / 2 for load, reach in zip(beyond, overhang_m, strict=True)]
    moments = _support_moments(loads, span_m, at_ends)
    load = loads[:, None]
    x = np.linspace(0, span_m, _POINTS)
    left, right = moments[:-1, None], moments[1:, None]
    # upward deflection of a span between its two end moments (sagging +)
    up = -load * x * (span_m**3 - 2 * span_m * x**2 + x**3) / 24
    up = up - left * x * (span_m - x) * (2 * span_m - x) / (6 * span_m)
    up = up - right * x * (span_m**2 - x**2) / (6 * span_m)
    slope = -load * (span_m**3 - 6 * span_m * x**2 + 4 * x**3) / 24
    slope = slope - left * (2 * span_m**2 - 6 * span_m * x + 3 * x**2) / (6 * span_m)
    slope = slope - right * (span_m**2 - 3 * x**2) / (6 * span_m)
    ends, end_slopes = [], []
    for own, reach, at_support in zip(beyond, overhang_m, (-slope[0, 0], slope[-1, -1]), strict=True):
        # a cantilever of w turned by the slope at its support
        ends.append((own * reach**4 / 8 - at_support * reach) / stiff)
        end_slopes.append(at_support - own * reach**3 / 6)
    steepest = max(float(np.abs(slope).max()), *(abs(s) for s in end_slopes)) / stiff
    unit = float(loads.max()) * span_m**4 / (384 * stiff)
    return Sag(
        hinged_m=5 * unit,
        fixed_m=unit,
        deepest_m=max(0.0, -float(up.min()) / stiff),
        ends_m=(float(ends[0]), float(ends[1])),
        steepest_deg=float(np.degrees(steepest)),
    )


def _support_moments(loads: Floats, span: float, at_ends: Sequence[float]) -> Floats:
    """Moments (spans + 1,) over the supports, sagging +, with spans under ``loads`` (spans,)."""
    first, last = at_ends
    inner = len(loads) - 1
    if inner == 0:
        return np.array([first, last])
    matrix = 4 * np.eye(inner) + np.eye(inner, k=1) + np.eye(inner, k=-1)
    right = -(loads[:-1] + loads[1:]) * span**2 / 4
    right[0] -= first
    right[-1] -= last
    return np.concatenate([[first], np.linalg.solve(matrix, right), [last]])


@dataclass(frozen=True)
class FrameLoad:
    """What one frame asks of the roll: its bearing's friction, and the weight that hangs off the roll axis.

    ``mass_kg`` of its share of pipe, oil, insulation, receivers and itself, with its centre ``arm_m`` from the axis at
    ``upright_deg`` from the vertical when the roll is 0, + the way the roll turns; ``balance_kg_m`` of counterweight
    (mass times arm) opposite. ``grade_percent`` of the line lessens the part of gravity that turns it.
    """

    friction_nm: float
    mass_kg: float
    arm_m: float
    upright_deg: float = 0.0
    balance_kg_m: float = 0.0
    grade_percent: float = 0.0

    def weight_nm(self, roll_deg: Floats) -> Floats:
        """Torque of the weight at rolls (any shape), + the way the roll turns: m g r sin(angle from the vertical)."""
        across = GRAVITY / sqrt(1 + (self.grade_percent / 100) ** 2)
        lever = self.mass_kg * self.arm_m - self.balance_kg_m
        return np.asarray(lever * across * np.sin(np.radians(self.upright_deg + roll_deg)))

    def most_nm(self, roll_limits_deg: tuple[float, float]) -> float:
        """Friction and weight together at the worst roll within limits."""
        rolls = np.linspace(*roll_limits_deg, 181)
        return self.friction_nm + float(np.abs(self.weight_nm(rolls)).max())


@dataclass(frozen=True)
class Twist:
    """Of a pipe turned from its drive end: ``torque_nm`` there, ``by_frame_deg`` (M,) how far each frame lags behind

    it, and what is left in ``centred_deg`` (M,) when the drive leads by the middle of first and last."""

    torque_nm: float
    by_frame_deg: Floats
    centred_deg: Floats


def twist_of(tube: Tube, frames_m: ArrayLike, torques_nm: ArrayLike) -> Twist:
    """Twist of a tube with frames at ``frames_m`` (M,) from the drive, in order, that each ask ``torques_nm`` (M,).

    The torque grows from the far end to the drive; between frames it is constant, so twist = sum of T L/(G J)
    (Roark, table 10.1, case 1).
    """
    places, torques = np.asarray(frames_m, dtype=float), np.asarray(torques_nm, dtype=float)
    if len(places) == 0 or len(places) != len(torques) or places[0] < 0 or np.any(np.diff(places) < 0):
        raise BadInputError(
            _(
                "Frames stand in order from the drive outward, each with its torque; found {a} places, {b} torques."
            ).format(a=len(places), b=len(torques))
        )
    carried = np.cumsum(torques[::-1])[::-1]
    steps = np.diff(places, prepend=0.0)
    lag = np.degrees(np.cumsum(carried * steps) / tube.twisting_n_m2)
    return Twist(float(carried[0]), lag, lag - (lag[0] + lag[-1]) / 2)


def most_mirrors(error_at: Callable[[int], float], *, limit: float, most: int = 400) -> int:
    """The largest count of mirrors, up to ``most``, whose ``error_at`` (deg of twist, or share of light) is within limit.

    By bisection: ``error_at`` must not fall with the count. 0 when not even one is within.
    """
    low, high = 0, most + 1
    while high - low > 1:
        middle = (low + high) // 2
        if error_at(middle) <= limit:
            low = middle
        else:
            high = middle
    return low


def slide_force_n(*, mass_kg: float, rolling: float, grade_percent: float = 0.0) -> float:
    """Force (N) that starts a pipe of ``mass_kg`` up its grade on rollers: m g (mu cos + sin).

    ``rolling``: resistance over weight; 0.01 to 0.05 for steel on steel rollers with clean bearings, several times
    that with dirt (common practice, no source). Flexible ends push back on top of it.
    """
    slope = np.arctan(abs(grade_percent) / 100)
    return float(mass_kg * GRAVITY * (rolling * cos(slope) + sin(slope)))


@dataclass(frozen=True)
class Travel:
    """Of a year: ``total`` way gone, ``widest`` from end to end, ``per_day`` the most in one day, ``fastest`` per hour

    between two moments in which the line works; in m for a slide, in deg for a roll."""

    total: float
    widest: float
    per_day: float
    fastest_per_h: float


def travel_of(poses: Floats, works: NDArray[np.bool_], *, step_h: float) -> Travel:
    """Way of one motion given at (D, Q) moments every ``step_h``; ``works`` (D, Q) tells where it follows the sun.

    The ways to and from rest count in the total, not in the speed.
    """
    values = np.asarray(poses, dtype=float)
    steps = np.abs(np.diff(values, axis=1))
    between_days = np.abs(np.diff(values.ravel())).sum() - steps.sum()
    both = works[:, 1:] & works[:, :-1]
    return Travel(
        total=float(steps.sum() + between_days),
        widest=float(values.max() - values.min()),
        per_day=float(steps.sum(axis=1).max()),
        fastest_per_h=float(steps[both].max() / step_h) if both.any() else 0.0,
    )


def lean_of_arm_deg(
    *, arm_east_north_up: tuple[float, float, float], along: tuple[float, float, float]
) -> float:
    """Angle of an arm at roll 0 from the vertical, in the plane square to the line, + right-handed about e."""
    e = np.array(along) / np.linalg.norm(along)
    up = np.array([0.0, 0.0, 1.0]) - e[2] * e
    arm = np.array(arm_east_north_up) - np.dot(arm_east_north_up, e) * e
    return float(np.degrees(np.arctan2(np.dot(np.cross(up, arm), e), np.dot(up, arm))))
