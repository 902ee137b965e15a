"""A mirror's spot as it leaves: JSON for other programs, tables for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from studio.design.fields import mark
from studio.papers.terminal import broken, table_of, terminal
from studio.study.spot import SpotAt
from studio.text import DASH, _, number, percent

if TYPE_CHECKING:
    from rich.console import Console

LOSSES: dict[str, str] = {
    "facing": mark("sun on a facing mirror"),
    "cosine": mark("cosine"),
    "shaded_by_own_rim": mark("shade of its own rim"),
    "shaded_by_receiver": mark("shade of receivers"),
    "shaded_by_pipe": mark("shade of the pipe"),
    "shaded_by_arm": mark("shade of the frames"),
    "shaded_by_neighbour": mark("shade of the mirrors beside it"),
    "film": mark("film"),
    "stopped_by_receiver": mark("stopped by receivers"),
    "stopped_by_pipe": mark("stopped by the pipe"),
    "stopped_by_arm": mark("stopped by the frames"),
    "stopped_by_mirror": mark("stopped by film"),
    "missed_window": mark("past the window"),
    "outside_acceptance": mark("acceptance"),
    "absorptance": mark("absorber"),
    "absorbed": mark("absorbed light"),
}


def spot_tree(spot: SpotAt) -> dict[str, Any]:
    """A spot as plain dicts; numbers carry their units in their names, what cannot be told is null."""
    flux = spot.flux
    azimuth, elevation = _place_of(spot)
    return {
        "line": spot.line_id,
        "sun": {"azimuth_deg": azimuth, "elevation_deg": elevation, "off_axis_deg": spot.off_axis_deg},
        "pose": {"slide_m": spot.slide_m, "roll_deg": spot.roll_deg, "best": spot.best},
        "cone_way": {
            "intercept": float(spot.cone.into_window[0]),
            "accepted": float(spot.cone.accepted[0]),
            "serves": spot.gaussian_serves,
        },
        "ray_way": {
            "rays": spot.count,
            "intercept": spot.rays.into_window,
            "intercept_error": spot.rays.into_window_error,
            "accepted": spot.rays.accepted,
            "accepted_error": spot.rays.accepted_error,
        },
        "dni_w_m2": spot.dni_w_m2,
        "window": {
            "power_kw": spot.on_window_kw,
            "mean_kw_m2": spot.window_mean_kw_m2,
            "peak_kw_m2": _known(flux.peak_kw_m2),
            "peak_error_kw_m2": _known(flux.peak_error_kw_m2),
            "peak_concentration": _known(flux.peak_concentration),
            "plane_beyond_m": spot.beyond_m,
        },
        "spot": {
            "centroid_along_m": _known(flux.centroid_m[0]),
            "centroid_across_m": _known(flux.centroid_m[1]),
            "rms_along_m": _known(flux.rms_m[0]),
            "rms_across_m": _known(flux.rms_m[1]),
            "circle_90_m": _known(flux.circle_90_m),
            "square_90_m": _known(flux.square_90_m),
        },
        "losses": [
            {"key": key, "label": _(LOSSES[key]), "w": watts} for key, watts in spot.losses_w().items()
        ],
    }


def print_spot(spot: SpotAt, *, when: str) -> None:
    """The spot for a person at a terminal."""
    console = terminal()
    azimuth, elevation = _place_of(spot)
    console.print(_("Line {number}, a mirror in its middle; {when}").format(number=spot.line_id, when=when))
    console.print(
        _("Sun {up}° up, azimuth {azimuth}°, {off}° off the mirror axis; DNI {dni} W/m²").format(
            up=number(elevation, digits=1), azimuth=number(azimuth, digits=1),
            off=number(spot.off_axis_deg, digits=1), dni=number(spot.dni_w_m2, digits=0),
        )
    )  # fmt: skip
    pose = _("best pose") if spot.best else _("pose as given")
    console.print(
        _("{pose}: slide {slide} m, roll {roll}°").format(
            pose=pose[:1].upper() + pose[1:], slide=number(spot.slide_m, digits=3, sign=True),
            roll=number(spot.roll_deg, digits=1, sign=True),
        )
    )  # fmt: skip
    table = table_of(_("The two ways"), _("way"), _("intercept"), _("accepted"), _("standard error"))
    cone, rays = spot.cone, spot.rays
    table.add_row(_("cone"), _share(float(cone.into_window[0])), _share(float(cone.accepted[0])), DASH)
    named = _("{count} rays").format(count=number(spot.count, digits=0))
    table.add_row(
        named, _share(rays.into_window), _share(rays.accepted), number(rays.accepted_error, digits=4)
    )
    console.print(table)
    if not spot.gaussian_serves:
        sharp = _("So little blur shows the sun as a disc, which the cone way does not know: trust the rays.")
        console.print(broken(sharp))
    flux = spot.flux
    rows = (
        (_("into the window"), number(spot.on_window_kw, digits=3), "kW"),
        (_("mean flux on the window"), number(spot.window_mean_kw_m2), "kW/m²"),
        (_("peak flux"), f"{number(flux.peak_kw_m2)} ± {number(flux.peak_error_kw_m2, digits=1)}", "kW/m²"),
        (_("peak concentration"), number(flux.peak_concentration), _("suns")),
        (_("centroid along, across"), _pair(flux.centroid_m), "mm"),
        (_("RMS along, across"), _pair(flux.rms_m), "mm"),
        (_("circle that holds 90 %"), number(1000 * flux.circle_90_m, digits=0), "mm"),
    )
    where = (
        _("on the window's plane")
        if spot.beyond_m == 0
        else _("flux on a plane {m} m behind the window").format(m=number(spot.beyond_m, digits=2))
    )
    table = table_of(_("The spot"), where, "", "")
    table.columns[2].justify = "left"
    for row in rows:
        table.add_row(*row)
    console.print(table)
    danger = _(
        "Light like this burns skin and eyes at once and lights what is dry: cover the mirror before work near it."
    )
    console.print(broken(danger))
    _print_losses(spot, console)


def _print_losses(spot: SpotAt, console: Console) -> None:
    table = table_of(_("Where its light goes"), _("step"), "W", _("% of sun"))
    steps = spot.losses_w()
    for key, watts in steps.items():
        signed = watts if key in ("facing", "absorbed") else -watts
        if watts > 0 or key in ("facing", "absorbed"):
            table.add_row(_(LOSSES[key]), number(signed, digits=1), percent(watts / steps["facing"]))
    console.print(table)


def _place_of(spot: SpotAt) -> tuple[float, float]:
    x, y, z = (float(part) for part in spot.sun)
    return float(np.degrees(np.arctan2(x, y)) % 360), float(np.degrees(np.arcsin(np.clip(z, -1, 1))))


def _share(value: float) -> str:
    return number(value, digits=4)


def _pair(metres: tuple[float, float]) -> str:
    return ", ".join(number(1000 * part, digits=0) for part in metres)


def _known(value: float) -> float | None:
    return value if np.isfinite(value) else None
