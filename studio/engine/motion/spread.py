"""What a line takes in whose receivers do not all stand on their spots: its optics table, meaned over their offsets."""

from dataclasses import dataclass, replace
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.form import Floats
from studio.engine.motion.offsets import cubic, offset_table, window_offsets
from studio.engine.motion.table import OpticsTable
from studio.errors import BadInputError
from studio.text import _

_NODES = 9
_FEWEST, _MOST = 0.75, 3.0
"""Offsets are tabulated this far at least and at most, in sizes of the window; farther off hardly any light is caught."""


@dataclass(frozen=True)
class Spread:
    """How the receivers of a line stand off their spots: ``slides_m`` (N,) each one's own offset along e, all of them
    scattered alike by ``slide_rms_m`` and ``roll_rms_deg`` about it."""

    slides_m: tuple[float, ...] = (0.0,)
    slide_rms_m: float = 0.0
    roll_rms_deg: float = 0.0

    def __post_init__(self) -> None:
        if not self.slides_m or self.slide_rms_m < 0 or self.roll_rms_deg < 0:
            raise BadInputError(
                _(
                    "A line has one offset or more and spreads of 0 or more; found {n}, {slide} m and {roll} degrees."
                ).format(n=len(self.slides_m), slide=self.slide_rms_m, roll=self.roll_rms_deg)
            )

    @property
    def none(self) -> bool:
        """Whether every receiver stands on its spot."""
        return self.slide_rms_m == 0 and self.roll_rms_deg == 0 and not any(self.slides_m)

    @property
    def slide_places(self) -> tuple[Floats, Floats]:
        """Offsets along e and their shares, (K,) each: Gauss-Hermite (Abramowitz & Stegun 25.4.46) about every receiver."""
        x, w = _normal(self.slide_rms_m)
        return np.add.outer(self.slides_m, x).ravel(), np.tile(w / len(self.slides_m), len(self.slides_m))


def spread_table(table: OpticsTable, suns: Floats, spread: Spread) -> OpticsTable:
    """``table`` with the shares that the line takes in on the mean of its receivers; the poses stay.

    Only the nodes that ``suns`` (N, 3) touch are known in the answer; ``table`` must cover them.
    """
    if spread.none:
        return table
    slides, slide_share = spread.slide_places
    rolls, roll_share = _normal(spread.roll_rms_deg)
    window = table.window
    offsets = offset_table(
        table,
        suns,
        slide_offsets_m=window_offsets(window.width_m, reach=_reach(slides, window.width_m)),
        roll_offsets_deg=np.degrees(
            window_offsets(
                window.height_m, reach=_reach(np.radians(rolls) * table.motion.arm_m, window.height_m)
            )
            / table.motion.arm_m
        ),
    )
    slides, slide_share = _gathered(slides, slide_share, offsets.slide_offsets_m)

    def meaned(shares: Floats) -> Floats:
        known: NDArray[np.intp] = np.flatnonzero(~np.isnan(shares[:, 0, 0]))
        by_slide = cubic(np.moveaxis(shares[known], 1, 2), offsets.slide_offsets_m, slides) @ slide_share
        mean = np.full(len(shares), np.nan)
        mean[known] = cubic(by_slide, offsets.roll_offsets_deg, rolls) @ roll_share
        mean.flags.writeable = False
        return mean

    return replace(table, into_window=meaned(offsets.into_window), accepted=meaned(offsets.accepted))


def _normal(rms: float) -> tuple[Floats, Floats]:
    """Places and shares of a normal spread; one place where there is none."""
    if rms == 0:
        return np.zeros(1), np.ones(1)
    x, w = np.polynomial.hermite.hermgauss(_NODES)
    return np.asarray(sqrt(2) * rms * x), np.asarray(w / w.sum())


def _reach(places: Floats, size: float) -> float:
    farthest = float(np.max(np.abs(places))) / size
    return 0.0 if farthest == 0 else min(max(farthest * 1.05, _FEWEST), _MOST)


def _gathered(places: Floats, shares: Floats, at: Floats) -> tuple[Floats, Floats]:
    """As many places as needed: where there are more than ten to a step of ``at``, they are gathered on a fine grid.

    What lies beyond the last offset catches nothing and keeps its share there, outside.
    """
    if len(at) == 1 or len(places) <= 10 * len(at):
        return places, shares
    step = (at[1] - at[0]) / 10
    fine = np.arange(np.floor(places.min() / step), np.ceil(places.max() / step) + 1)
    left = np.floor(places / step)
    part = places / step - left
    first = (left - fine[0]).astype(np.intp)
    mass = np.bincount(first, shares * (1 - part), len(fine)) + np.bincount(
        np.minimum(first + 1, len(fine) - 1), shares * part, len(fine)
    )
    return np.asarray(fine * step), np.asarray(mass, dtype=float)
