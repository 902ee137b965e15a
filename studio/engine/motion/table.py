"""The optics of one mirror and its line, tabulated over the sun's direction in the mirror frame.

Grid: a = atan2(sx, sz), like an hour angle (+ towards x), and b = asin(sy), like a declination (+ up the slope),
both in degrees. Neither tilt, facing nor latitude enters, so a table serves any site.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from math import ceil

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.favour import ODD_X, TERMS, favour_of
from studio.engine.mirror.form import Errors, Floats, MirrorForm, Window
from studio.engine.motion.pose import LineMotion, best_poses
from studio.errors import BadInputError, ComputationError
from studio.text import _

STEP_DEG = 2.5
"""Halving it moves a year's accepted light by less than 0.2 %."""
_REACH_A_DEG, _REACH_B_DEG = 70.0, 62.0


@dataclass(frozen=True)
class OpticsAt:
    """For N suns, all (N,): light into the window and accepted light, as shares of what the mirror reflects,

    and the pose of the receiver that takes it in."""

    into_window: Floats
    accepted: Floats
    slide_m: Floats
    roll_deg: Floats


@dataclass(frozen=True)
class SunGrid:
    """Nodes at every ``step_deg`` in a and b, counted row by row (a slow, b fast), N in all."""

    step_deg: float

    @property
    def half_counts(self) -> tuple[int, int]:
        """Steps from the middle to the edge, in a and in b."""
        return ceil(_REACH_A_DEG / self.step_deg), ceil(_REACH_B_DEG / self.step_deg)

    @property
    def shape(self) -> tuple[int, int]:
        """Nodes in a and in b."""
        half_a, half_b = self.half_counts
        return 2 * half_a + 1, 2 * half_b + 1

    def mirrored(self, nodes: NDArray[np.intp]) -> NDArray[np.intp]:
        """The nodes whose suns are those of ``nodes`` with x turned round."""
        row, column = np.divmod(nodes, self.shape[1])
        return np.asarray((self.shape[0] - 1 - row) * self.shape[1] + column)

    def suns(self, nodes: NDArray[np.intp]) -> Floats:
        """Unit vectors (n, 3) to the suns of ``nodes`` (n,)."""
        half_a, half_b = self.half_counts
        row, column = np.divmod(nodes, self.shape[1])
        a = np.radians((row - half_a) * self.step_deg)
        b = np.radians((column - half_b) * self.step_deg)
        return np.stack([np.cos(b) * np.sin(a), np.sin(b), np.cos(b) * np.cos(a)], axis=-1)

    def weights(self, suns: Floats) -> tuple[NDArray[np.intp], Floats]:
        """Nodes (N, 4) and bilinear weights (N, 4) of ``suns`` (N, 3).

        The weights of a sun sum up to 1, or are all 0 where it stands behind the aperture or beyond the grid.
        """
        half_a, half_b = self.half_counts
        a = np.degrees(np.arctan2(suns[:, 0], suns[:, 2])) / self.step_deg + half_a
        b = np.degrees(np.arcsin(np.clip(suns[:, 1], -1, 1))) / self.step_deg + half_b
        on_grid = (suns[:, 2] > 0) & (a >= 0) & (a <= 2 * half_a) & (b >= 0) & (b <= 2 * half_b)
        row = np.clip(np.floor(a), 0, 2 * half_a - 1)
        column = np.clip(np.floor(b), 0, 2 * half_b - 1)
        share_a, share_b = np.where(on_grid, a - row, 0.0), np.where(on_grid, b - column, 0.0)
        first = (row * self.shape[1] + column).astype(np.intp)
        nodes = np.stack([first, first + 1, first + self.shape[1], first + self.shape[1] + 1], axis=-1)
        weights = np.stack(
            [
                (1 - share_a) * (1 - share_b),
                (1 - share_a) * share_b,
                share_a * (1 - share_b),
                share_a * share_b,
            ],
            axis=-1,
        )
        return nodes, weights * on_grid[:, None]

    def touched(self, suns: Floats) -> NDArray[np.intp]:
        """The nodes that carry weight for any of ``suns`` (N, 3), in order."""
        nodes, weights = self.weights(suns)
        carries = np.zeros(self.shape[0] * self.shape[1], dtype=bool)
        carries[nodes[weights > 0]] = True
        return np.flatnonzero(carries)


@dataclass(frozen=True, eq=False)
class OpticsTable:
    """Best poses and their shares at the nodes of a ``SunGrid``; every array (N,), NaN at nodes not yet computed.

    ``over`` (N, TERMS): how accepted light lies over the aperture at the best pose.
    """

    form: MirrorForm
    errors: Errors
    window: Window
    motion: LineMotion
    grid: SunGrid
    into_window: Floats
    accepted: Floats
    slide_m: Floats
    roll_deg: Floats
    over: Floats

    @cached_property
    def known(self) -> NDArray[np.bool_]:
        """Which nodes are computed, (N,)."""
        return ~np.isnan(self.accepted)

    def covering(self, suns: Floats) -> "OpticsTable":
        """A table that also serves ``suns`` (N, 3); this one if it does already."""
        touched = self.grid.touched(suns)
        missing = touched[~self.known[touched]]
        return self if len(missing) == 0 else self._extended(missing)

    def _extended(self, missing: NDArray[np.intp]) -> "OpticsTable":
        signs = mirror_signs(self.motion)
        if signs is not None:
            missing = np.unique(np.maximum(missing, self.grid.mirrored(missing)))
        poses = best_poses(self.form, self.errors, self.window, self.motion, self.grid.suns(missing))
        filled = {
            name: getattr(self, name).copy()
            for name in ("into_window", "accepted", "slide_m", "roll_deg", "over")
        }
        for name, values in filled.items():
            values[missing] = getattr(poses, name)
            if signs is not None:
                turned = {"slide_m": signs[0], "roll_deg": signs[1], "over": np.where(ODD_X, -1, 1)}
                values[self.grid.mirrored(missing)] = turned.get(name, 1) * getattr(poses, name)
            values.flags.writeable = False
        return replace(self, **filled)

    def weights(self, suns: Floats) -> tuple[NDArray[np.intp], Floats]:
        """The sparse form of ``at``: nodes (N, 4) and weights (N, 4); raises where a node is not yet computed."""
        nodes, weights = self.grid.weights(suns)
        if not np.all(self.known[nodes] | (weights == 0)):
            raise ComputationError(
                _(
                    "The optics table does not reach some of the suns asked for; extend it to cover them first."
                )
            )
        return nodes, weights

    def at(self, suns: Floats) -> OpticsAt:
        """Shares and poses for ``suns`` (N, 3), bilinear between nodes; 0 behind the aperture and beyond the grid."""
        nodes, weights = self.weights(suns)
        return OpticsAt(
            into_window=blend(self.into_window, nodes, weights),
            accepted=blend(self.accepted, nodes, weights),
            slide_m=blend(self.slide_m, nodes, weights),
            roll_deg=blend(self.roll_deg, nodes, weights),
        )

    def over_at(self, suns: Floats) -> Floats:
        """How accepted light lies over the aperture, (N, TERMS), for ``suns`` (N, 3); see :func:`favour_of`."""
        return blend(self.over, *self.weights(suns))

    def favour_at(self, suns: Floats) -> Floats:
        """How accepted light favours parts of the aperture, (N, TERMS), for ``suns`` (N, 3): shares of the light itself,
        see :func:`favour_of`."""
        return favour_of(self.over_at(suns))


def blend(values: Floats, nodes: NDArray[np.intp], weights: Floats) -> Floats:
    """Weighted sum (N, ...) of node ``values`` (nodes, ...); a node without weight counts 0 even where it is NaN."""
    total = np.zeros((len(nodes), *values.shape[1:]))
    beside = (1,) * (values.ndim - 1)
    for corner in range(nodes.shape[1]):
        weight = weights[:, corner].reshape(-1, *beside)
        total += np.where(weight > 0, values[nodes[:, corner]] * weight, 0.0)
    return total


def mirror_signs(motion: LineMotion) -> tuple[int, int] | None:
    """Signs of slide and roll when the sun's x is turned round, or None where that is not symmetric.

    Along +-x the slide turns round, square to x the roll does, if the limits are alike either way.
    """
    if motion.axis_offset_m[0] != 0:
        return None
    if abs(motion.along[0]) > 1 - 1e-12 and sum(motion.slide_limits_m) == 0:
        return -1, 1
    straight = motion.arm_lean_deg == 0 and motion.window_turn_deg == 0
    if abs(motion.along[0]) < 1e-12 and straight and sum(motion.roll_limits_deg) == 0:
        return 1, -1
    return None


def optics_table(
    form: MirrorForm,
    errors: Errors,
    window: Window,
    motion: LineMotion,
    *,
    suns: Floats | None = None,
    step_deg: float = STEP_DEG,
) -> OpticsTable:
    """The table of a mirror and its line: for all suns of the grid, or only the nodes that ``suns`` (N, 3) touch.

    A held motion counts as following here; ``held_optics`` takes off what the hold costs.
    """
    if not 0.1 <= step_deg <= 15:
        raise BadInputError(
            _("The step of an optics table must be from 0.1 to 15 degrees; found {step}.").format(
                step=step_deg
            )
        )
    grid = SunGrid(step_deg)
    count = grid.shape[0] * grid.shape[1]
    nothing = np.full(count, np.nan)
    nothing.flags.writeable = False
    nowhere = np.full((count, TERMS), np.nan)
    nowhere.flags.writeable = False
    empty = OpticsTable(form, errors, window, motion, grid, nothing, nothing, nothing, nothing, nowhere)
    return empty.covering(grid.suns(np.arange(count)) if suns is None else suns)
