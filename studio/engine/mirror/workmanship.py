"""What workmanship gives what slope error: setting-out computed, the film's own waviness guessed or sourced."""

from dataclasses import dataclass
from math import hypot, inf, sqrt

from studio.engine.mirror.film import must_be_above_zero
from studio.errors import BadInputError
from studio.text import _


def combined_slope_mrad(*parts_mrad: float) -> float:
    """Independent slope errors (mrad RMS per axis) together: the root of the sum of their squares."""
    if not all(0 <= part < inf for part in parts_mrad):
        raise BadInputError(
            _("Slope errors must not be below 0 mrad; found {parts} mrad.").format(
                parts=", ".join(f"{part:g}" for part in parts_mrad)
            )
        )
    return hypot(*parts_mrad)


@dataclass(frozen=True)
class SettingOut:
    """Slope errors in mrad RMS from points that stand too high or too low: across and along the ribs."""

    across_mrad: float
    along_mrad: float

    @property
    def slope_mrad(self) -> float:
        """One value per axis with the same sum of squares."""
        return sqrt((self.across_mrad**2 + self.along_mrad**2) / 2)


def setting_out_slope(height_mm: float, *, strip_width_m: float, held_every_m: float) -> SettingOut:
    """Slope errors of ribs set out with an independent height error of ``height_mm`` (one standard deviation).

    Two heights differ by sqrt(2) of it: over the strip's width between neighbouring ribs, over ``held_every_m``
    between neighbouring points at which a rib is held. mm per m are mrad.
    """
    if not 0 <= height_mm < inf:
        raise BadInputError(
            _("An error of setting-out must not be below 0 mm; found {s:g} mm.").format(s=height_mm)
        )
    must_be_above_zero(_("The strip's width"), strip_width_m, "m")
    must_be_above_zero(_("The distance between the points that hold a rib"), held_every_m, "m")
    apart_mm = sqrt(2) * height_mm
    return SettingOut(apart_mm / strip_width_m, apart_mm / held_every_m)


@dataclass(frozen=True)
class Workmanship:
    """One row: what was done, its error of setting-out (None: not told), the slope error, and where that is from.

    ``origin`` is ``guess`` where the millimetres and the film's waviness are ours (the slope from the millimetres is
    computed), else the source of the slope.
    """

    words: str
    setting_out_mm: float | None
    slope_mrad: float
    origin: str


def workmanship_table(*, strip_width_m: float, held_every_m: float) -> tuple[Workmanship, ...]:
    """What workmanship gives what Gaussian slope error (mrad RMS per axis), on this mirror, finest first."""
    guesses = (
        (_("every rib set in a jig and checked with a dial gauge; film without a visible wrinkle"), 0.1, 1.5),
        (_("ribs bent to a template, set on drilled rails; film pulled evenly"), 0.3, 2.5),
        (_("ribs set with tape, string and spirit level; film pulled by hand"), 1.0, 4.0),
        (_("ribs set by eye; wrinkles left in the film"), 3.0, 8.0),
    )
    rows = [
        Workmanship(
            words,
            height_mm,
            combined_slope_mrad(
                setting_out_slope(
                    height_mm, strip_width_m=strip_width_m, held_every_m=held_every_m
                ).slope_mrad,
                waviness_mrad,
            ),
            "guess",
        )
        for words, height_mm, waviness_mrad in guesses
    ]
    measured = Workmanship(
        _("film over a formed metal membrane, a tracking dish of 7 m, measured"),
        None,
        2.3,
        "Sandia, Testing of the single-element stretched-membrane dish, 1992",
    )
    return tuple(sorted([*rows, measured], key=lambda row: row.slope_mrad))
