"""Settings that are held: the one slide or roll that brings most over the days it is held for, under a clear sky."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.form import Floats
from studio.engine.motion.offsets import OffsetTable, cubic, offset_table, window_offsets
from studio.engine.motion.pose import vertex
from studio.engine.motion.table import OpticsAt, OpticsTable, blend
from studio.errors import BadInputError
from studio.text import _

_CANDIDATES = 61
_REACH_HELD, _REACH_FOLLOWING = 1.2, 0.3
"""Offsets tabulated for a held and for a following motion, in widths or heights of the window."""


@dataclass(frozen=True)
class HeldOptics:
    """``optics``: shares and poses by the hour (H,), with the held values in place of the best ones.

    ``block`` (H,): which block of days an hour belongs to; ``slide_m``, ``roll_deg`` (B,): the setting of every
    block, NaN where that motion is not held or no light comes.
    """

    optics: OpticsAt
    block: NDArray[np.intp]
    slide_m: Floats
    roll_deg: Floats


def held_optics(
    table: OpticsTable, suns: Floats, *, weights: Floats, days: NDArray[np.intp], hold_days: int | None = None
) -> HeldOptics:
    """What a line brings whose slide or roll, or both, stand still for blocks of days.

    ``suns`` (H, 3) in the mirror frame, clear-sky ``weights`` (H,) (DNI x cosine), ``days`` (H,) counted from 0;
    blocks of ``hold_days`` (the motion's own unless given) start with day 0. A motion that follows makes the best of
    what is held. Where both are held they are set in turn until neither gains. With nothing held this is
    ``table.at``. Raises ``BadInputError`` where lengths differ.
    """
    if not len(suns) == len(weights) == len(days):
        raise BadInputError(
            _("Held settings need as many suns as weights and days; found {a}, {b} and {c}.").format(
                a=len(suns), b=len(weights), c=len(days)
            )
        )
    motion = table.motion
    held_for = motion.hold_days if hold_days is None else hold_days
    if held_for < 1 or (len(days) and np.min(days) < 0):
        raise BadInputError(
            _("Days count from 0 and a held setting stays for at least 1 day; found {days} days.").format(
                days=held_for
            )
        )
    block = np.asarray(days) // held_for
    table = table.covering(suns)
    best = table.at(suns)
    slide_held, roll_held = motion.slide_mode == "held", motion.roll_mode == "held"
    unset = np.full(int(block.max()) + 1 if len(block) else 0, np.nan)
    if not (slide_held or roll_held) or len(block) == 0:
        return HeldOptics(best, block, unset, unset)
    offsets = _offsets(table, suns)
    nodes, node_weights = table.weights(suns)
    accepted = blend(offsets.accepted, nodes, node_weights)
    slide_set, roll_set = unset, unset
    slide_off = np.zeros(len(suns)) if slide_held else None
    roll_off = np.zeros(len(suns)) if roll_held else None
    for _round in range(3 if slide_held and roll_held else 1):
        if roll_held:
            profile = _over_rolls(accepted, offsets, slide_off)
            roll_set = _settings(
                profile, offsets.roll_offsets_deg, best.roll_deg, motion.roll_limits_deg, weights, block
            )
            roll_off = roll_set[block] - best.roll_deg
        if slide_held:
            profile = _over_slides(accepted, offsets, roll_off)
            slide_set = _settings(
                profile, offsets.slide_offsets_m, best.slide_m, motion.slide_limits_m, weights, block
            )
            slide_off = slide_set[block] - best.slide_m
    if slide_off is None:
        slide_off = _top(_over_slides(accepted, offsets, roll_off), offsets.slide_offsets_m)
    if roll_off is None:
        roll_off = _top(_over_rolls(accepted, offsets, slide_off), offsets.roll_offsets_deg)
    slide_off = np.clip(best.slide_m + slide_off, *motion.slide_limits_m) - best.slide_m
    roll_off = np.clip(best.roll_deg + roll_off, *motion.roll_limits_deg) - best.roll_deg
    return HeldOptics(
        optics=offsets.at(suns, slide_offset_m=slide_off, roll_offset_deg=roll_off),
        block=block,
        slide_m=slide_set,
        roll_deg=roll_set,
    )


def _offsets(table: OpticsTable, suns: Floats) -> OffsetTable:
    """Wide offsets for what is held, narrow ones for what makes the best of it."""
    motion, window = table.motion, table.window

    def reach(mode: str) -> float:
        return {"held": _REACH_HELD, "follow": _REACH_FOLLOWING, "fixed": 0.0}[mode]

    roll_m = window_offsets(window.height_m, reach=reach(motion.roll_mode))
    return offset_table(
        table,
        suns,
        slide_offsets_m=window_offsets(window.width_m, reach=reach(motion.slide_mode)),
        roll_offsets_deg=np.degrees(roll_m / motion.arm_m),
    )


def _over_rolls(values: Floats, offsets: OffsetTable, slide_off: Floats | None) -> Floats:
    """(H, J) of ``values`` (H, I, J): at slide offsets (H,), or at the best slide for every roll."""
    if slide_off is None:
        return np.asarray(values.max(axis=1))
    return cubic(np.moveaxis(values, 1, 2), offsets.slide_offsets_m, slide_off[:, None, None])[..., 0]


def _over_slides(values: Floats, offsets: OffsetTable, roll_off: Floats | None) -> Floats:
    """(H, I) of ``values`` (H, I, J): at roll offsets (H,), or at the best roll for every slide."""
    if roll_off is None:
        return np.asarray(values.max(axis=2))
    return cubic(values, offsets.roll_offsets_deg, roll_off[:, None, None])[..., 0]


def _top(profile: Floats, at: Floats) -> Floats:
    """Where each row of ``profile`` (H, K), given at ``at`` (K,), is largest."""
    if len(at) == 1:
        return np.zeros(len(profile))
    # the pull to the middle that the search for the best pose has too
    pulled = profile - 1e-3 * np.square(at / at[-1])
    return vertex(pulled, np.argmax(pulled, axis=1), np.broadcast_to(at, profile.shape))


def _settings(
    profile: Floats,
    at: Floats,
    best: Floats,
    limits: tuple[float, float],
    weights: Floats,
    block: NDArray[np.intp],
) -> Floats:
    """The setting (B,) of every block that brings most of ``profile`` (H, K), known at offsets ``at`` (K,) from

    ``best`` (H,); for a block without light the one nearest to 0."""
    count = int(block.max()) + 1
    lit = (weights > 0) & (profile.max(axis=1) > 0)
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, block[lit], best[lit])
    np.maximum.at(high, block[lit], best[lit])
    dark = low > high
    low, high = np.where(dark, 0.0, low), np.where(dark, 0.0, high)
    candidates = np.clip(low[:, None] + (high - low)[:, None] * np.linspace(0, 1, _CANDIDATES), *limits)
    brought = cubic(profile[lit], at, candidates[block[lit]] - best[lit, None]) * weights[lit, None]
    total = np.zeros((count, _CANDIDATES))
    np.add.at(total, block[lit], brought)
    return vertex(total, np.argmax(total, axis=1), candidates)
