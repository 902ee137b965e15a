"""Stage: receivers beside their spots, by the hot pipe's growth and by the mirrors' aim."""

import numpy as np

from studio.design.design import Design
from studio.engine.motion.growth import OilAlong, ReceiversOnPipe, growth_offsets_m
from studio.engine.motion.spread import Spread
from studio.study.assessment import Array, PlacedLine
from studio.study.place import overhang_m

COLD_C = 20.0
"""At which a cold pipe is set out."""


def pipe_of(design: Design, line: PlacedLine) -> ReceiversOnPipe:
    """The receivers of a line on their pipe, with its anchor where the design has it."""
    overhang = overhang_m(design)
    length = 2 * overhang + (line.count - 1) * line.spacing_m
    return ReceiversOnPipe(
        count=line.count,
        spacing_m=line.spacing_m,
        first_m=overhang,
        anchor_m=design.motion.anchor_share * length,
    )


def offsets_of(design: Design, line: PlacedLine, *, now: OilAlong | None = None) -> Array:
    """How far each receiver (count,), or the place of one left out, stands off its spot along the line with the oil as ``now`` (as designed, unless
    given: cold at the drive end, hot at the far end)."""
    working = OilAlong(inlet_c=design.oil.inlet_c, outlet_c=design.oil.outlet_c)
    spaced = working if design.motion.spaced_for == "hot" else OilAlong.all_at(COLD_C)
    return growth_offsets_m(pipe_of(design, line), working if now is None else now, spaced_for=spaced)


def spread_of(design: Design, line: PlacedLine) -> Spread:
    """How a line's receivers stand off their spots on a working day.

    The drive takes off what all of them share, so what is left lies about the middle between the two outermost.
    """
    offsets = offsets_of(design, line)[line.there]
    left = offsets - (offsets.max() + offsets.min()) / 2
    return Spread(
        slides_m=(0.0,) if not np.any(offsets) else tuple(round(float(x), 4) for x in left),
        slide_rms_m=design.motion.aim_slide_mm / 1000,
        roll_rms_deg=design.motion.aim_roll_deg,
    )
