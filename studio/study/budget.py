"""The error budget: what a year's intercept would gain if one error were gone, each worked out anew with its own poses."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from studio.design.design import Design
from studio.design.fields import mark
from studio.engine.mirror.form import Errors, MirrorForm, Window
from studio.engine.motion.held import held_optics
from studio.engine.motion.pose import LineMotion
from studio.engine.motion.spread import Spread, spread_table
from studio.engine.motion.table import optics_table
from studio.study.assessment import Array, PlacedLine
from studio.study.beside import spread_of
from studio.study.heat import shares_of
from studio.study.optics import errors_of, motion_of, window_of
from studio.study.place import form_of
from studio.study.sky import Sky

STEP_DEG = 5.0
"""Twice the step of the year's own table: it moves the year by 0.2 %, a bar by far less than 0.2 % points."""
_LEAST_BLUR_MRAD = 2.0
"""Blur of scatter and slope from which the Gaussian sun of the cone way serves (``Errors.gaussian_sun_serves``)."""
_SUNS_AT_ONCE = 500

Watch = Callable[[], None]
"""Called now and then while a bar is worked out; raises to leave it."""


@dataclass(frozen=True)
class Optics:
    """What the intercept of a mirror comes from."""

    form: MirrorForm
    errors: Errors
    window: Window
    motion: LineMotion
    spread: Spread


@dataclass(frozen=True)
class Switch:
    """An error that can be switched off: its key, label, what is done instead, and the design's fields behind it."""

    key: str
    label: str
    instead: str
    comes_from: tuple[str, ...]
    off: Callable[[Optics], Optics] | None
    """None: the sun stands on the mirror's axis instead."""


@dataclass(frozen=True)
class Sum:
    """Of one mirror over a year without shade: accepted share (0..1) of the reflected light, and absorbed light in kWh.

    ``limited``: the error could not be taken away whole, for the cone way ends there.
    """

    accepted: float
    absorbed_kwh: float
    limited: bool = False


@dataclass(frozen=True)
class Bar:
    """What switching an error off would bring: share (0..1) of the reflected light, and kWh of a mirror and year."""

    key: str
    gain: float
    gain_kwh: float
    limited: bool


def _ideal_form(optics: Optics) -> Optics:
    return replace(optics, form=replace(optics.form, surface="paraboloid", focal_across_m=None))


def _no_strips(optics: Optics) -> Optics:
    """The film curved between ribs as the surface is there: what ever more ribs come to."""
    form = optics.form
    return replace(optics, form=replace(form, tension_ratio=0.0, pressure_per_m=1 / (2 * form.across_m)))


def _no_saddle(optics: Optics) -> Optics:
    return replace(optics, form=replace(optics.form, tension_ratio=0.0))


def _no_wind(optics: Optics) -> Optics:
    return replace(optics, form=replace(optics.form, pressure_per_m=0.0))


def _no_slope(optics: Optics) -> Optics:
    rest = _LEAST_BLUR_MRAD**2 - optics.errors.scatter_mrad**2
    least = sqrt(max(rest, 0.0)) / 2
    return replace(
        optics, errors=replace(optics.errors, slope_mrad=min(optics.errors.slope_mrad, _up(least)))
    )


def _no_scatter(optics: Optics) -> Optics:
    rest = _LEAST_BLUR_MRAD**2 - 4 * optics.errors.slope_mrad**2
    least = sqrt(max(rest, 0.0))
    return replace(
        optics, errors=replace(optics.errors, scatter_mrad=min(optics.errors.scatter_mrad, _up(least)))
    )


def _up(least: float) -> float:
    """A hair more, so that rounding does not fall below what serves; nothing stays nothing."""
    return least * (1 + 1e-9)


def _point_sun(optics: Optics) -> Optics:
    return replace(optics, errors=replace(optics.errors, sun_mrad=0.0))


def _wide_open(optics: Optics) -> Optics:
    return replace(optics, window=replace(optics.window, acceptance_deg=90.0))


def _no_growth(optics: Optics) -> Optics:
    return replace(optics, spread=replace(optics.spread, slides_m=(0.0,)))


def _no_aim(optics: Optics) -> Optics:
    return replace(optics, spread=replace(optics.spread, slide_rms_m=0.0, roll_rms_deg=0.0))


SWITCHES: tuple[Switch, ...] = (
    Switch(
        "form", mark("Form"), mark("a paraboloid of the same focal length along the ribs and across them"),
        ("mirror.surface", "mirror.focal_across_m"), _ideal_form,
    ),
    Switch(
        "strips", mark("Strips"), mark("the film curved between the ribs too, as with ever more ribs"),
        ("mirror.ribs", "mirror.pull_along_n_m", "mirror.pull_across_n_m"), _no_strips,
    ),
    Switch(
        "saddle", mark("Saddle"), mark("strips flat from rib to rib, without the wrong-way bulge of tension"),
        ("mirror.pull_along_n_m", "mirror.pull_across_n_m"), _no_saddle,
    ),
    Switch("wind", mark("Wind"), mark("still air on the film"), ("mirror.wind_on_film_m_s",), _no_wind),
    Switch(
        "slope", mark("Slope"), mark("rods and film set out without error"),
        ("mirror.slope_error_mrad",), _no_slope,
    ),
    Switch(
        "scatter", mark("Scatter"), mark("a film that reflects like glass"),
        ("mirror.scatter_mrad",), _no_scatter,
    ),
    Switch("sun", mark("Sun's size"), mark("a sun that is a point"), (), _point_sun),
    Switch(
        "off_axis", mark("Off axis"), mark("the sun on the mirror's axis all year"),
        ("mirror.tilt_deg", "mirror.facing_deg"), None,
    ),
    Switch(
        "acceptance", mark("Acceptance"), mark("a window that takes light from its whole front"),
        ("receiver.acceptance_deg",), _wide_open,
    ),
    Switch(
        "growth", mark("Pipe's growth"), mark("receivers on their spots however hot the pipe is"),
        ("motion.spaced_for", "motion.anchor_share"), _no_growth,
    ),
    Switch(
        "aim", mark("Aim"), mark("mirrors of one drive aimed alike"),
        ("motion.aim_slide_mm", "motion.aim_roll_deg"), _no_aim,
    ),
)  # fmt: skip
_SWITCH = {switch.key: switch for switch in SWITCHES}


def optics_in(design: Design, line: PlacedLine) -> Optics:
    """What a line's intercept comes from, with every error on."""
    motion = motion_of(design.motion, line.axes @ line.along)
    return Optics(
        form_of(design.mirror), errors_of(design), window_of(design), motion, spread_of(design, line)
    )


def serves(design: Design) -> bool:
    """Whether the cone way's Gaussian sun serves this design, so that the budget can be trusted."""
    return errors_of(design).gaussian_sun_serves


def nothing() -> None:
    """The watch of one who never stops."""


def mattering(design: Design, line: PlacedLine) -> tuple[str, ...]:
    """The errors whose switching off changes anything; a paraboloid, say, has its ideal form."""
    optics = optics_in(design, line)
    return tuple(s.key for s in SWITCHES if s.off is None or s.off(optics) != optics)


def year_sum(
    design: Design, line: PlacedLine, sky: Sky, *, switch: str = "", watch: Watch = nothing,
    step_deg: float = STEP_DEG,
) -> Sum:  # fmt: skip
    """A mirror's year with the error ``switch`` off; with "" all are on. Weighted by the light that the year brings.

    The mean of the line's mirrors. Raises KeyError for an unknown switch.
    """
    optics = optics_in(design, line)
    suns = sky.part_suns @ line.axes.T
    light = sky.part_dni * np.maximum(suns[:, 2], 0.0)
    total = float(light.sum())
    off = _SWITCH[switch].off if switch else _unchanged
    if off is None:
        suns = np.broadcast_to([0.0, 0.0, 1.0], suns.shape)
    else:
        optics = off(optics)
    by_part = _accepted(optics, suns, sky, watch, step_deg)
    accepted = float((light * by_part).sum()) / total if total > 0 else 0.0
    shares = shares_of(design)
    per_kwh = optics.form.aperture_m2 * shares.reflectance * shares.absorptance / 1000.0
    left = {"slope": optics.errors.slope_mrad, "scatter": optics.errors.scatter_mrad}
    return Sum(accepted, total * accepted * per_kwh, left.get(switch, 0.0) > 0.0)


def _unchanged(optics: Optics) -> Optics:
    return optics


def _accepted(optics: Optics, suns: Array, sky: Sky, watch: Watch, step_deg: float) -> Array:
    """Accepted share (P,) at the parts of the sunlit hours, by a table of its own."""
    table = optics_table(
        optics.form, optics.errors, optics.window, optics.motion, suns=np.zeros((0, 3)), step_deg=step_deg
    )
    for first in range(0, len(suns), _SUNS_AT_ONCE):
        watch()
        table = table.covering(suns[first : first + _SUNS_AT_ONCE])
    table = spread_table(table, suns, optics.spread)
    watch()
    if "held" in (optics.motion.slide_mode, optics.motion.roll_mode):
        weights = sky.of_parts(sky.clear) * np.maximum(suns[:, 2], 0.0)
        return held_optics(table, suns, weights=weights, days=sky.part_day).optics.accepted
    return table.at(suns).accepted


def bar_of(key: str, with_all: Sum, without: Sum) -> Bar:
    """The bar of a switch from the two years."""
    gain = without.accepted - with_all.accepted
    return Bar(key, gain, without.absorbed_kwh - with_all.absorbed_kwh, without.limited)
