"""Receivers that stand beside their spots: the hot pipe's growth from its anchor, and the aim of mirrors on one drive.

Places and offsets run along e, from the drive end; + is towards the far end. Steel's growth is that of
EN 1993-1-2:2005, 3.4.1.1 (``heat.steel.elongation_mm_m``), counted from 20 degC; below that it is carried on. Tables
of the pipe trade differ from it by up to 8 %, which is some 8 mm at 25 m and 300 degC: take offsets as a range.
"""

from dataclasses import dataclass
from math import sqrt
from typing import Literal

import numpy as np

from studio.engine.heat.steel import elongation_mm_m
from studio.engine.mirror.form import Floats
from studio.engine.motion.offsets import OffsetTable, cubic
from studio.engine.motion.table import blend
from studio.errors import BadInputError
from studio.text import _

Flow = Literal["outward", "inward"]
_COLDEST_C, _HOTTEST_C = -40.0, 750.0
_NODES = 15
_TRIALS = 201


@dataclass(frozen=True)
class ReceiversOnPipe:
    """``count`` receivers, the first ``first_m`` from the pipe's drive end, then every ``spacing_m``; the anchor, which

    heat does not move, ``anchor_m`` from the drive end (it may lie anywhere, also beyond the pipe)."""

    count: int
    spacing_m: float
    first_m: float = 0.0
    anchor_m: float = 0.0

    def __post_init__(self) -> None:
        if self.count < 1 or not self.spacing_m > 0:
            raise BadInputError(
                _(
                    "A pipe carries at least 1 receiver, spaced above 0 m; found {count} at {spacing} m."
                ).format(count=self.count, spacing=self.spacing_m)
            )

    @property
    def places_m(self) -> Floats:
        """Where the receivers sit on the pipe, (count,)."""
        return np.asarray(self.first_m + self.spacing_m * np.arange(self.count), dtype=float)


@dataclass(frozen=True)
class OilAlong:
    """Oil that warms by the same step in every receiver, from inlet to outlet; ``outward``: from drive end to far end."""

    inlet_c: float
    outlet_c: float
    flow: Flow = "outward"

    def __post_init__(self) -> None:
        if not all(_COLDEST_C <= t <= _HOTTEST_C for t in (self.inlet_c, self.outlet_c)):
            raise BadInputError(
                _(
                    "The growth of steel is known from {low} to {high} °C; the pipe is said to be at {a} and {b} °C."
                ).format(low=_COLDEST_C, high=_HOTTEST_C, a=self.inlet_c, b=self.outlet_c)
            )

    @classmethod
    def all_at(cls, pipe_c: float) -> "OilAlong":
        """A pipe of one temperature throughout, as when it is set out cold."""
        return cls(pipe_c, pipe_c)

    def pieces_c(self, count: int) -> Floats:
        """Temperatures (count + 1,) of the pipe before the first receiver, between receivers, and after the last."""
        passed = np.arange(count + 1) / count
        if self.flow == "inward":
            passed = passed[::-1]
        return np.asarray(self.inlet_c + passed * (self.outlet_c - self.inlet_c))


def moved_m(pipe: ReceiversOnPipe, oil: OilAlong) -> Floats:
    """How far each receiver (count,) has gone from where it sits at 20 degC: the integral of growth from the anchor."""
    places = pipe.places_m
    growth = np.asarray(elongation_mm_m(oil.pieces_c(pipe.count))) / 1000.0
    # growth summed from the first receiver to each; the anchor's own is taken off
    summed = np.concatenate([[0.0], np.cumsum(growth[1:-1] * np.diff(places))])
    at_anchor = float(np.interp(pipe.anchor_m, places, summed))
    at_anchor += growth[0] * min(pipe.anchor_m - places[0], 0.0)
    at_anchor += growth[-1] * max(pipe.anchor_m - places[-1], 0.0)
    return np.asarray(summed - at_anchor)


def growth_offsets_m(pipe: ReceiversOnPipe, now: OilAlong, *, spaced_for: OilAlong) -> Floats:
    """How far each receiver (count,) stands off its spot along e with the oil as ``now``.

    ``spaced_for``: the temperatures at which every receiver meets its spot: those of a working day for receivers spaced
    for the hot pipe, ``OilAlong.all_at(20)`` for the cold one.
    """
    return moved_m(pipe, now) - moved_m(pipe, spaced_for)


@dataclass(frozen=True)
class LightBeside:
    """Accepted share of the reflected light (I, J), meaned over suns by their weights, at I slide and J roll offsets

    from the best pose. An offset beyond the last one counts as no light."""

    slide_offsets_m: Floats
    roll_offsets_deg: Floats
    accepted: Floats

    @property
    def best(self) -> float:
        """What a receiver in the best pose takes in."""
        return float(self.accepted[len(self.slide_offsets_m) // 2, len(self.roll_offsets_deg) // 2])

    def at(self, slide_offset_m: Floats, roll_offset_deg: Floats) -> Floats:
        """Accepted share (N,) at pairs of offsets (N,)."""
        slides, rolls = np.broadcast_arrays(slide_offset_m, roll_offset_deg)
        by_roll = cubic(self.accepted.T[None], self.slide_offsets_m, slides[:, None, None])[..., 0]
        return cubic(by_roll, self.roll_offsets_deg, rolls[:, None])[:, 0]


def light_beside(offsets: OffsetTable, suns: Floats, weights: Floats) -> LightBeside:
    """Mean over ``suns`` (S, 3) of the mirror frame, each by its weight (S,) (DNI x cosine of a year, say).

    Offsets are against the pose of the same sun, so one profile serves a whole year: the mean is taken first. Raises
    ``BadInputError`` where no light comes.
    """
    if not (len(suns) == len(weights) and np.sum(weights) > 0):
        raise BadInputError(
            _(
                "A mean over suns needs a weight for each and some of them above 0; found {a} and {b}, sum {c}."
            ).format(a=len(suns), b=len(weights), c=float(np.sum(weights)))
        )
    nodes, node_weights = offsets.table.weights(suns)
    share = np.bincount(
        nodes.ravel(), (node_weights * weights[:, None]).ravel(), minlength=len(offsets.accepted)
    )
    lit = np.flatnonzero(share)
    mean = blend(offsets.accepted, lit[None, :], share[None, lit] / np.sum(weights))[0]
    return LightBeside(offsets.slide_offsets_m, offsets.roll_offsets_deg, mean)


@dataclass(frozen=True)
class LossBeside:
    """What standing beside the spot costs: ``loss`` (0..1) of the accepted light of the line, ``by_receiver`` (N,) of

    each one's own; ``correction_m`` the common slide that the drive adds, ``left_m`` (N,) the offsets that remain."""

    loss: float
    by_receiver: Floats
    correction_m: float
    left_m: Floats


Correct = Literal["none", "mean", "best"]


def growth_loss(light: LightBeside, offsets_m: Floats, *, correct: Correct = "best") -> LossBeside:
    """Loss of a line whose receivers stand off by ``offsets_m`` (N,) along e.

    The drive can slide all of them alike: by nothing, against the mean offset, or by what brings most light. Near the
    end of the stroke it may not have that way left; a limit is not looked at here.
    """
    offsets = np.asarray(offsets_m, dtype=float)
    if correct == "none":
        correction = 0.0
    elif correct == "mean":
        correction = -float(offsets.mean())
    else:
        correction = _best_correction(light, offsets)
    left = offsets + correction
    taken = light.at(left, np.zeros(len(left)))
    lost = 1.0 - taken / light.best
    return LossBeside(float(lost.mean()), lost, correction, left)


def _best_correction(light: LightBeside, offsets: Floats) -> float:
    """The common slide between the two outermost receivers that brings most, in two rounds of trials."""
    low, high = -float(offsets.max()), -float(offsets.min())
    best = -float(offsets.mean())
    for _round in range(2):
        trials = np.append(np.linspace(low, high, _TRIALS), best)
        moved = trials[:, None] + offsets
        taken = light.at(moved.ravel(), np.zeros(moved.size)).reshape(moved.shape).sum(axis=1)
        best = float(trials[np.argmax(taken)])
        step = (high - low) / (_TRIALS - 1)
        low, high = best - step, best + step
    return best


def aim_loss(light: LightBeside, *, slide_rms_m: float, roll_rms_deg: float) -> float:
    """Mean loss (0..1) of mirrors whose aims scatter about their common drive, normally with these standard deviations.

    Gauss-Hermite quadrature (Abramowitz & Stegun 25.4.46) in both. A mirror's own aim turned by an angle moves the spot
    by twice that angle times the arm; give it here as the slide and roll that would meet it again.
    """
    if slide_rms_m < 0 or roll_rms_deg < 0:
        raise BadInputError(
            _("A spread of aims is 0 or more; found {slide} m and {roll} degrees.").format(
                slide=slide_rms_m, roll=roll_rms_deg
            )
        )
    x, w = np.polynomial.hermite.hermgauss(_NODES)
    slides, rolls = np.meshgrid(sqrt(2) * slide_rms_m * x, sqrt(2) * roll_rms_deg * x, indexing="ij")
    share = np.outer(w, w) / np.pi
    taken = light.at(slides.ravel(), rolls.ravel()).reshape(share.shape)
    return 1.0 - float(np.sum(share * taken)) / light.best


def loss_of_rolls(light: LightBeside, roll_errors_deg: Floats) -> float:
    """Mean loss (0..1) of receivers whose rolls stand off by ``roll_errors_deg`` (N,), as a twisted pipe's do."""
    errors = np.asarray(roll_errors_deg, dtype=float)
    return 1.0 - float(light.at(np.zeros(len(errors)), errors).mean()) / light.best
