"""Slide and roll of a line's receivers: where they stand, and the pose that takes in most for every sun.

Pose: p = axis + q e + Rot(e, roll) arm, the window turning with the roll. q is the slide (+ along e), the roll
right-handed about e; at roll 0 the arm lies along the mirror axis, or leans from it. The window's width lies along e;
light goes in square to e along the arm, or turned from it: at roll 0 as near the mirror axis as that allows (exactly
along it where e is square to it).
"""

from dataclasses import dataclass
from math import cos, radians, sqrt
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.cone import (
    WindowFrames,
    acceptance,
    blocks,
    blurs,
    landings,
    shares_by_sun,
    spot_centre,
)
from studio.engine.mirror.form import Errors, Floats, MirrorForm, Window
from studio.engine.mirror.normal import quick_between
from studio.engine.mirror.points import Points, points_by_sun
from studio.errors import BadInputError
from studio.text import _

Mode = Literal["follow", "held", "fixed"]

_DARK_M2 = 1e-12
_WIDEST_STEP_DEG = 45.0
"""The search never rolls farther in one round, however tall the window."""
_ROUNDS = ((1.0, 11), (0.3, 7), (0.1, 5))
"""Rounds of the search: how far either way, in widths or heights of the window, and with how many steps."""
_PULL = 1e-3
"""Share of the light that a pose a whole window away from the middle of the spot must bring more to be taken."""


@dataclass(frozen=True)
class LineMotion:
    """What the line's drive can do, in the mirror frame.

    ``along``: the line's e, from drive end to far end (made a unit vector here). ``axis_offset_m``: a point of the
    roll axis, from the vertex. ``arm_m``: from the roll axis to the window, along the mirror axis at slide 0 and roll
    0, or leaning from it by ``arm_lean_deg``; ``window_turn_deg`` turns the window on its arm. Both are right-handed
    about e. A mode is "follow" (moves all day), "held" (set by hand every ``hold_days`` days within the limits) or
    "fixed" (stays at its fixed value).
    """

    along: tuple[float, float, float]
    arm_m: float
    slide_min_m: float
    slide_max_m: float
    roll_min_deg: float
    roll_max_deg: float
    axis_offset_m: tuple[float, float, float] = (0.0, 0.0, 0.0)
    slide_mode: Mode = "follow"
    roll_mode: Mode = "follow"
    slide_fixed_m: float = 0.0
    roll_fixed_deg: float = 0.0
    hold_days: int = 7
    arm_lean_deg: float = 0.0
    window_turn_deg: float = 0.0

    def __post_init__(self) -> None:
        length = sqrt(sum(part * part for part in self.along))
        if not (length > 0 and abs(self.along[2]) <= 0.9 * length):
            raise BadInputError(
                _(
                    "A line must not run along the mirror axis; its direction in the mirror frame is {e}."
                ).format(e=self.along)
            )
        object.__setattr__(self, "along", tuple(part / length for part in self.along))
        if not self.arm_m > 0:
            raise BadInputError(_("The arm must be above 0 m; found {arm} m.").format(arm=self.arm_m))
        if not (self.slide_min_m <= self.slide_max_m and self.roll_min_deg <= self.roll_max_deg):
            raise BadInputError(
                _(
                    "The lower limit of slide and roll must not lie above the upper one; found {a} to {b} m and "
                    "{c} to {d} degrees."
                ).format(a=self.slide_min_m, b=self.slide_max_m, c=self.roll_min_deg, d=self.roll_max_deg)
            )
        if not all(abs(roll) < 90 for roll in (self.roll_min_deg, self.roll_max_deg, self.roll_fixed_deg)):
            raise BadInputError(_("The roll must stay within 90 degrees either way."))
        if not all(abs(turn) < 90 for turn in (self.arm_lean_deg, self.window_turn_deg)):
            raise BadInputError(
                _("The arm's lean and the window's turn must stay within 90 degrees either way.")
            )
        if self.hold_days < 1:
            raise BadInputError(
                _("A held setting stays for at least 1 day; found {days}.").format(days=self.hold_days)
            )

    @property
    def slide_limits_m(self) -> tuple[float, float]:
        """What the slide can reach; a fixed slide reaches one value."""
        if self.slide_mode == "fixed":
            return self.slide_fixed_m, self.slide_fixed_m
        return self.slide_min_m, self.slide_max_m

    @property
    def roll_limits_deg(self) -> tuple[float, float]:
        """What the roll can reach; a fixed roll reaches one value."""
        if self.roll_mode == "fixed":
            return self.roll_fixed_deg, self.roll_fixed_deg
        return self.roll_min_deg, self.roll_max_deg


@dataclass(frozen=True)
class Poses:
    """For S suns, (S,) each: the pose, the share of light into the window there, and the accepted share of it; ``over``
    (S, TERMS): how accepted light lies over the aperture (:mod:`studio.engine.mirror.favour`)."""

    slide_m: Floats
    roll_deg: Floats
    into_window: Floats
    accepted: Floats
    over: Floats


def transverse_axes(motion: LineMotion) -> tuple[Floats, Floats]:
    """Unit vectors square to e: across and forward at roll 0; along x across = forward."""
    along = np.array(motion.along)
    forward = np.array([0.0, 0.0, 1.0]) - along[2] * along
    forward /= np.linalg.norm(forward)
    return np.cross(forward, along), forward


def window_frames(motion: LineMotion, slide_m: Floats, roll_deg: Floats) -> WindowFrames:
    """Windows in the mirror frame for poses (S,), by Rodrigues' rotation of the arm about e."""
    along = np.array(motion.along)
    across, forward = transverse_axes(motion)

    def turned(more_deg: float) -> Floats:
        angle = np.radians(roll_deg + more_deg)[:, None]
        return np.asarray(np.cos(angle) * forward - np.sin(angle) * across)

    lead, arm = motion.arm_m * along[2], motion.arm_m * forward[2]
    outward = turned(motion.arm_lean_deg)
    centre = np.array(motion.axis_offset_m) + (slide_m[:, None] + lead) * along + arm * outward
    faces = outward if motion.window_turn_deg == 0 else turned(motion.arm_lean_deg + motion.window_turn_deg)
    return WindowFrames(centre=centre, along=along, forward=faces)


def best_poses(
    form: MirrorForm,
    errors: Errors,
    window: Window,
    motion: LineMotion,
    suns: Floats,
) -> Poses:
    """The pose within the limits that brings most accepted light, for every sun of ``suns`` (S, 3), free of any hold.

    From the centre of the spot the search steps out over one window either way, then in finer steps; equal yields go
    to the middle of the spot, so that the motion is smooth in the sun. It searches on fewer points than it weighs the
    answer with, see :func:`shares_by_sun`. Suns behind the aperture bring 0 at the pose nearest to the mirror axis.
    """
    toward = np.where((suns[:, 2] > 0)[:, None], suns, [0.0, 0.0, 1.0])
    slide, roll = np.empty(len(suns)), np.empty(len(suns))
    for some in points_by_sun(form, errors, toward):
        for part in blocks(len(some.rows), 4 * len(some.search)):
            rows = some.rows[part]
            slide[rows], roll[rows] = _search(some.search, errors, window, motion, toward[rows])
    frames = window_frames(motion, slide, roll)
    shares = shares_by_sun(form, errors, window, suns, frames)
    return Poses(slide, roll, shares.into_window, shares.accepted, shares.over)


def _search(
    points: Points, errors: Errors, window: Window, motion: LineMotion, suns: Floats
) -> tuple[Floats, Floats]:
    slide_limits, roll_limits = motion.slide_limits_m, motion.roll_limits_deg
    # how far the window moves across itself for a small roll
    arm = motion.arm_m * float(transverse_axes(motion)[1][2]) * cos(radians(motion.window_turn_deg))
    slide = np.full(len(suns), np.clip(0.0, *slide_limits))
    roll = np.full(len(suns), np.clip(0.0, *roll_limits))
    for _round in range(3):
        landing = landings(points, suns, window_frames(motion, slide, roll))
        # light that comes too askew counts only where there is no other
        counts = np.where(landing.front > cos(radians(window.acceptance_deg)), 1.0, 1e-6)
        u, v = spot_centre(landing, landing.light * counts)
        slide = np.clip(slide + np.nan_to_num(u), *slide_limits)
        roll = np.clip(roll - np.degrees(np.arctan2(np.nan_to_num(v), arm)), *roll_limits)
    middle_slide, middle_roll = slide, roll
    window_deg = min(np.degrees(window.height_m / arm), _WIDEST_STEP_DEG)
    for span, steps in _ROUNDS:
        offsets = np.linspace(-span, span, steps)
        slides = np.clip(slide[:, None] + offsets * window.width_m, *slide_limits)
        rolls = np.clip(roll[:, None] - offsets * window_deg, *roll_limits)
        landing = landings(points, suns, window_frames(motion, slide, roll))
        blur = blurs(landing, errors)
        light = landing.light * acceptance(landing, blur, window.acceptance_deg)
        over_u = strip_share(landing.u, blur.u, slides - slide[:, None], window.width_m / 2)
        moved = arm * np.tan(np.radians(roll[:, None] - rolls))
        over_v = strip_share(landing.v, blur.v, moved, window.height_m / 2)
        shares = light / np.maximum(landing.total, _DARK_M2)[:, None]
        over_u *= shares.astype(np.float32)[:, :, None]
        yields = np.matmul(np.swapaxes(over_u, 1, 2), over_v).astype(float)
        away_u = (slides - middle_slide[:, None]) / window.width_m
        away_v = np.radians(rolls - middle_roll[:, None]) * arm / window.height_m
        yields -= _PULL * (np.square(away_u)[:, :, None] + np.square(away_v)[:, None, :])
        slide, roll = _peak(yields, slides, rolls)
    return slide, roll


def strip_share(at: Floats, blur: Floats, moved: Floats, half: float) -> NDArray[np.float32]:
    """Share of spots ``at`` (S, P) within ``half`` of the window moved by ``moved`` (S, M): (S, P, M).

    Quick, in single precision: good to 2e-4, for finding and comparing poses.
    """
    narrow = (1 / blur).astype(np.float32)[:, :, None]
    low = at.astype(np.float32)[:, :, None] - moved.astype(np.float32)[:, None, :]
    low *= narrow
    reach = np.float32(half) * narrow
    high = low + reach
    low -= reach
    return quick_between(low, high)


def _peak(yields: Floats, slides: Floats, rolls: Floats) -> tuple[Floats, Floats]:
    """Where ``yields`` (S, U, V) peaks, by a parabola through the best node and its neighbours on each axis."""
    rows = np.arange(len(yields))
    best_u, best_v = np.unravel_index(np.argmax(yields.reshape(len(yields), -1), axis=1), yields.shape[1:])
    along_u = yields[rows, :, best_v]
    along_v = yields[rows, best_u, :]
    return vertex(along_u, best_u, slides), vertex(along_v, best_v, rolls)


def vertex(values: Floats, best: NDArray[np.intp], at: Floats) -> Floats:
    """Abscissa (S,) of the top of ``values`` (S, K) at ``at`` (S, K): a parabola through ``best`` (S,) and its

    neighbours, or the best node itself at an end, on a flat top and where the nodes are uneven."""
    rows = np.arange(len(values))
    inner = np.clip(best, 1, values.shape[1] - 2)
    low, mid, high = (values[rows, inner + step] for step in (-1, 0, 1))
    x_low, x_mid, x_high = (at[rows, inner + step] for step in (-1, 0, 1))
    bend = low - 2 * mid + high
    even = (inner == best) & (bend < 0) & np.isclose(x_high - x_mid, x_mid - x_low)
    shift = np.where(even, (low - high) / np.where(even, 2 * bend, 1.0), 0.0)
    return np.where(even, x_mid + shift * (x_high - x_mid), at[rows, best])
