"""What a receiver takes in beside its best pose: an axis of offsets in slide and in roll over the optics table.

Two things stand off the best pose: a setting that is held for days, and a receiver that the pipe's growth or a
mirror's aim has put beside its spot. Offsets are relative to the best pose of the same sun, so that the coarse grid of
suns serves.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.cone import acceptance, blocks, blurs, landings
from studio.engine.mirror.form import Floats
from studio.engine.mirror.points import search_points
from studio.engine.motion.pose import strip_share, window_frames
from studio.engine.motion.table import OpticsAt, OpticsTable, blend, mirror_signs
from studio.errors import ComputationError
from studio.text import _

STEP_SHARE = 0.1
"""Steps of the offsets, in widths or heights of the window."""
_DARK, _CORRECTION = 1e-6, 0.1
"""Where the spot all but misses, few and many points differ by their ratio; the correction stays within a tenth."""


@dataclass(frozen=True, eq=False)
class OffsetTable:
    """Shares (N, I, J) at N nodes of ``table`` (NaN where not computed), by I slide and J roll offsets.

    Offsets are evenly spaced about 0; an axis of one offset is not moved on. Both shares are of the light reflected.
    """

    table: OpticsTable
    slide_offsets_m: Floats
    roll_offsets_deg: Floats
    into_window: Floats
    accepted: Floats

    def at(self, suns: Floats, *, slide_offset_m: Floats, roll_offset_deg: Floats) -> OpticsAt:
        """Shares and poses for ``suns`` (N, 3) at offsets (N,) from the best pose.

        Bilinear in the sun, cubic in the offsets; 0 beyond the last offset.
        """
        nodes, weights = self.table.weights(suns)
        into = blend(self.into_window, nodes, weights)
        accepted = blend(self.accepted, nodes, weights)
        if np.isnan(accepted).any():
            raise ComputationError(
                _("The table of offsets does not reach some of the suns asked for; build it for them too.")
            )
        best = self.table.at(suns)

        def taken(values: Floats) -> Floats:
            by_roll = cubic(np.moveaxis(values, 1, 2), self.slide_offsets_m, slide_offset_m[:, None, None])[
                ..., 0
            ]
            return cubic(by_roll, self.roll_offsets_deg, roll_offset_deg[:, None])[:, 0]

        return OpticsAt(
            into_window=taken(into),
            accepted=taken(accepted),
            slide_m=best.slide_m + slide_offset_m,
            roll_deg=best.roll_deg + roll_offset_deg,
        )


def window_offsets(size_m: float, *, reach: float) -> Floats:
    """Evenly spaced offsets in metres, up to ``reach`` sizes of the window either way; ``[0]`` for reach 0."""
    steps = round(reach / STEP_SHARE)
    return np.asarray(np.arange(-steps, steps + 1) * (STEP_SHARE * size_m), dtype=float)


def offset_table(
    table: OpticsTable, suns: Floats, *, slide_offsets_m: Floats, roll_offsets_deg: Floats
) -> OffsetTable:
    """Shares beside the best pose at the nodes that ``suns`` (N, 3) touch; ``table`` must cover them.

    The spot at every offset is computed afresh with the window turned to its roll, on the points of the search, and
    scaled to the table's own value at offset 0.
    """
    touched = table.grid.touched(suns)
    nodes = touched[table.accepted[touched] > 0]
    signs = mirror_signs(table.motion)
    wanted = nodes
    if signs is not None:
        wanted = np.unique(np.maximum(nodes, table.grid.mirrored(nodes)))
    shape = (len(table.accepted), len(slide_offsets_m), len(roll_offsets_deg))
    into, accepted = np.full(shape, np.nan), np.full(shape, np.nan)
    into[touched] = accepted[touched] = 0.0
    for shares, filled in zip(
        _beside(table, wanted, slide_offsets_m, roll_offsets_deg), (into, accepted), strict=True
    ):
        filled[wanted] = shares
        if signs is not None:
            filled[table.grid.mirrored(wanted)] = shares[:, :: signs[0], :: signs[1]]
    return OffsetTable(table, slide_offsets_m, roll_offsets_deg, into, accepted)


def _beside(
    table: OpticsTable, nodes: NDArray[np.intp], slide_offsets_m: Floats, roll_offsets_deg: Floats
) -> tuple[Floats, Floats]:
    few = search_points(table.form, table.errors)
    suns = table.grid.suns(nodes)
    window = table.window
    into = np.empty((len(nodes), len(slide_offsets_m), len(roll_offsets_deg)))
    accepted = np.empty_like(into)
    for rows in blocks(len(nodes), 2 * len(few)):
        slide, roll = table.slide_m[nodes[rows]], table.roll_deg[nodes[rows]]
        moved = np.broadcast_to(slide_offsets_m, (len(slide), len(slide_offsets_m)))
        for j, offset in enumerate(roll_offsets_deg):
            landing = landings(few, suns[rows], window_frames(table.motion, slide, roll + offset))
            blur = blurs(landing, table.errors)
            over_u = strip_share(landing.u, blur.u, moved, window.width_m / 2)
            over_v = strip_share(landing.v, blur.v, np.zeros((len(slide), 1)), window.height_m / 2)[..., 0]
            inside = landing.light * over_v / landing.total[:, None]
            entering = inside * acceptance(landing, blur, window.acceptance_deg)
            into[rows, :, j] = np.matmul(inside.astype(np.float32)[:, None, :], over_u)[:, 0]
            accepted[rows, :, j] = np.matmul(entering.astype(np.float32)[:, None, :], over_u)[:, 0]
    middle = (len(slide_offsets_m) // 2, len(roll_offsets_deg) // 2)
    for shares, exact in ((into, table.into_window), (accepted, table.accepted)):
        here = shares[:, middle[0], middle[1]]
        ratio = exact[nodes] / np.maximum(here, _DARK)
        shares *= np.clip(ratio, 1 - _CORRECTION, 1 + _CORRECTION)[:, None, None]
    return np.clip(into, 0.0, 1.0), np.clip(accepted, 0.0, 1.0)


def cubic(values: Floats, at: Floats, wanted: Floats) -> Floats:
    """Interpolate ``values`` (..., I) given at evenly spaced ``at`` (I,) to ``wanted`` (..., K): cubic convolution.

    Keys, IEEE Trans. ASSP 29 (1981) 1153, with a = -1/2. 0 outside ``at``; with one ``at`` the value there.
    """
    if len(at) == 1:
        return np.broadcast_to(values, np.broadcast_shapes((*values.shape[:-1], 1), wanted.shape))
    place = (wanted - at[0]) / (at[1] - at[0])
    outside = (place < 0) | (place > len(at) - 1)
    place = np.clip(place, 0, len(at) - 1)
    left = np.minimum(np.floor(place).astype(np.intp), len(at) - 2)
    t = place - left
    lead = np.broadcast_shapes(values.shape[:-1], left.shape[:-1])
    values = np.broadcast_to(values, (*lead, len(at)))
    left = np.broadcast_to(left, (*lead, left.shape[-1]))

    def value(step: int) -> Floats:
        return np.take_along_axis(values, np.clip(left + step, 0, len(at) - 1), axis=-1)

    before, low, high, after = (value(step) for step in (-1, 0, 1, 2))
    curve = low + 0.5 * t * (
        high
        - before
        + t * (2 * before - 5 * low + 4 * high - after + t * (3 * (low - high) + after - before))
    )
    return np.where(outside, 0.0, np.clip(curve, 0.0, 1.0))
