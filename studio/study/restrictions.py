"""What every restriction of slide and roll costs against a receiver that follows freely, over a clear year."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.engine.motion.held import held_optics
from studio.engine.motion.pose import LineMotion
from studio.engine.motion.spread import spread_table
from studio.engine.motion.table import OpticsTable, optics_table
from studio.study.assessment import Array, PlacedLine
from studio.study.beside import spread_of
from studio.study.optics import errors_of, motion_of, window_of
from studio.study.place import form_of
from studio.study.sky import Sky
from studio.text import _

FREE_STROKE_M, FREE_ROLL_DEG = 15.0, 80.0
_YEAR_DAYS = 365


@dataclass(frozen=True)
class Restriction:
    """``loss`` (0..1) of the accepted light of a clear year against following freely; ``as_built``: the design's own."""

    key: str
    label: str
    loss: float
    as_built: bool = False


def restrictions_of(design: Design, line: PlacedLine, sky: Sky) -> tuple[Restriction, ...]:
    """The restrictions of a line one by one, each beside free following and all else free, and at last the line as it is.

    Held settings are the best of each block of days under a clear sky; a fixed one is the best of the whole year.
    """
    suns = sky.suns @ line.axes.T
    before = suns[:, 2] > 0
    suns, days = suns[before], sky.hour[before] // 24
    weights = sky.clear[before] * suns[:, 2]
    built = motion_of(design.motion, line.axes @ line.along)
    free = replace(
        built, slide_mode="follow", roll_mode="follow", slide_min_m=-FREE_STROKE_M, slide_max_m=FREE_STROKE_M,
        roll_min_deg=-FREE_ROLL_DEG, roll_max_deg=FREE_ROLL_DEG,
    )  # fmt: skip
    form, errors, window = form_of(design.mirror), errors_of(design), window_of(design)

    def table(motion: LineMotion) -> OpticsTable:
        return optics_table(form, errors, window, motion, suns=suns)

    def brings(base: OpticsTable, *, slide_days: int = 0, roll_days: int = 0) -> float:
        """Accepted light with slide or roll held for so many days (0: following)."""
        if not (slide_days or roll_days):
            return float(weights @ base.at(suns).accepted)
        motion = replace(
            base.motion,
            slide_mode="held" if slide_days else "follow",
            roll_mode="held" if roll_days else "follow",
        )
        held = held_optics(
            replace(base, motion=motion),
            suns,
            weights=weights,
            days=days,
            hold_days=max(slide_days, roll_days),
        )
        return float(weights @ held.optics.accepted)

    freely = table(free)
    whole = brings(freely)
    hold = design.motion.hold_days
    within = replace(built, slide_mode="follow", roll_mode="follow")
    found = [
        ("limits", _("slide and roll within their limits"), brings(table(within))),
        (
            "slide_set",
            _("slide set by hand every {days} days").format(days=hold),
            brings(freely, slide_days=hold),
        ),
        ("slide_fixed", _("slide fixed where it brings most"), brings(freely, slide_days=_YEAR_DAYS)),
        (
            "roll_set",
            _("roll set by hand every {days} days").format(days=hold),
            brings(freely, roll_days=hold),
        ),
        ("roll_fixed", _("roll fixed where it brings most"), brings(freely, roll_days=_YEAR_DAYS)),
    ]
    rows = [Restriction(key, label, _loss(light, whole)) for key, label, light in found]
    return (
        *rows,
        Restriction(
            "as_built",
            _("this line as it is"),
            _loss(_as_built(design, line, table(built), suns, weights, days), whole),
            as_built=True,
        ),
    )


def _as_built(
    design: Design, line: PlacedLine, base: OpticsTable, suns: Array, weights: Array, days: NDArray[np.intp]
) -> float:
    meaned = spread_table(base, suns, spread_of(design, line))
    if "held" not in (design.motion.slide, design.motion.roll):
        return float(weights @ meaned.at(suns).accepted)
    held = held_optics(meaned, suns, weights=weights, days=days)
    return float(weights @ held.optics.accepted)


def _loss(light: float, whole: float) -> float:
    return 1.0 - light / whole if whole > 0 else 0.0
