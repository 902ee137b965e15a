"""Stage: figures, staircase and months, summed from the worked stages."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
import shapely

from studio.design.pitches import pitches
from studio.engine.money.cost import HeatCost
from studio.engine.sky.calendar import DAYS_OF_MONTHS
from studio.study.assessment import Array, Months, Step
from studio.study.build import mirror_build
from studio.study.figures import FIGURES
from studio.study.light import LOSSES
from studio.study.place import field_area_m2
from studio.text import _

if TYPE_CHECKING:
    from studio.study.assess import Worked

SHADE = ("horizon", "obstacles", "mirrors", "gear")
"""Losses that count as shade."""
HEAT_LOSSES = ("receiver", "line_pipe", "header", "idle")


def step_labels() -> Mapping[str, str]:
    """What each step of the staircase is called."""
    return {
        "facing": _("sun on facing mirrors"),
        "cosine": _("cosine"),
        "horizon": _("horizon"),
        "obstacles": _("shade, obstacles"),
        "mirrors": _("shade, mirrors"),
        "gear": _("shade, receivers and pipes"),
        "film": _("film"),
        "intercept": _("intercept"),
        "acceptance": _("acceptance"),
        "absorptance": _("absorber"),
        "absorbed": _("absorbed light"),
        "receiver": _("receiver loss"),
        "line_pipe": _("line pipe"),
        "header": _("header"),
        "idle": _("idle, warm-up"),
        "outlet": _("outlet heat"),
    }


def months_of(work: Worked) -> Months:
    """Every step of the staircase by month, kWh (12,)."""
    zero = np.zeros(12)
    lights = work.lights
    kwh: dict[str, Array] = {"facing": np.sum([zero, *(light.facing_kwh for light in lights)], axis=0)}
    losses = np.sum([light.losses_kwh for light in lights], axis=0) if lights else np.zeros((len(LOSSES), 12))
    kwh |= zip(LOSSES, losses, strict=True)
    kwh["absorbed"] = np.sum([zero, *(light.absorbed_kwh for light in lights)], axis=0)
    year = work.heat.year
    hourly = {
        "receiver": year.receiver_loss_w,
        "line_pipe": year.line_pipe_loss_w,
        "header": year.header_loss_w,
        "idle": year.idle_loss_w,
        "outlet": year.outlet_w,
    }
    starts = 24 * np.concatenate([[0], np.cumsum(DAYS_OF_MONTHS)[:-1]])
    for key, watts in hourly.items():
        kwh[key] = np.add.reduceat(watts, starts) / 1000.0
    return Months(kwh)


def staircase_of(months: Months) -> tuple[Step, ...]:
    """The staircase of the year: landings stand, losses are negative. Every loss is from its own state."""
    sums = {key: float(values.sum()) for key, values in months.kwh.items()}
    labels = step_labels()
    landings = ("facing", "absorbed", "outlet")
    order = ("facing", *LOSSES, "absorbed", *HEAT_LOSSES, "outlet")
    return tuple(
        Step(key, labels[key], sums[key] if key in landings else 0.0 - sums[key], landing=key in landings)
        for key in order
    )


def figures_of(
    work: Worked, staircase: tuple[Step, ...], cost: HeatCost, hours: float, passing_pitch_m: float | None
) -> Mapping[str, float | None]:
    """Every figure of ``FIGURES``; None where there is nothing to compute it from."""
    design, shopping, year = work.design, work.shopping, work.heat.year
    kwh = {step.key: abs(step.kwh) for step in staircase}
    mirrors = sum(line.mirrors for line in work.placed)
    aperture = mirrors * design.mirror.width_m * design.mirror.height_m
    boundary = design.plot.boundary
    area = float(shapely.Polygon(boundary).area) if boundary else None
    facing, on_aperture = kwh["facing"], kwh["facing"] - kwh["cosine"]
    useful = (kwh["absorbed"] / work.shares.reflectance / work.shares.absorptance) if mirrors else 0.0
    worst = max(work.winter, key=lambda line: line.mean, default=None)
    covered = field_area_m2(work.placed, design.mirror)
    gaps = pitches(design)
    build = mirror_build(design)
    values: dict[str, float | None] = {
        "heat_cost_per_kwh": cost.per_kwh if shopping.known else None,
        "annual_heat_kwh": year.outlet_kwh,
        "heat_per_mirror_kwh": year.outlet_kwh / mirrors if mirrors else None,
        "shade_loss_winter": worst.mean if worst else None,
        "winter_largest": max((line.largest for line in work.winter), default=None),
        "winter_with_gear": worst.with_gear if worst else None,
        "passing_pitch_m": passing_pitch_m,
        "mean_pitch_m": float(np.mean(gaps)) if gaps else None,
        "mirrors": float(mirrors),
        "aperture_m2": aperture,
        "plot_area_m2": area,
        "land_use": aperture / area if area else None,
        "field_area_m2": covered if mirrors else None,
        "ground_cover": aperture / covered if mirrors else None,
        "pipe_length_m": shopping.lines.pipe_m + work.header.length_m,
        "line_pipe_m": shopping.lines.pipe_m,
        "header_length_m": work.header.length_m,
        "film_m2": shopping.film_m2,
        "rod_length_m": shopping.rod_length_m,
        "rod_bars": shopping.rod_bars,
        "oil_litres": shopping.oil_litres,
        "facing_sun_kwh": facing,
        "dni_kwh_m2": work.sky.year.dni_kwh_m2,
        "absorbed_kwh": kwh["absorbed"],
        "shade_loss_year": sum(kwh[key] for key in SHADE) / on_aperture if on_aperture > 0 else None,
        "obstacle_loss_year": kwh["obstacles"] / on_aperture if on_aperture > 0 else None,
        "horizon_loss_year": kwh["horizon"] / on_aperture if on_aperture > 0 else None,
        "optical_efficiency_year": kwh["absorbed"] / facing if facing > 0 else None,
        "working_hours_per_day": hours if mirrors else None,
        "stagnation_c": work.hot.stagnation_c if work.hot else None,
        "stagnation_peak_c": work.hot.stagnation_peak_c if work.hot else None,
        "peak_flux_kw_m2": work.hot.peak_kw_m2 if work.hot else None,
        "slope_error_total_mrad": build.slope_error_total_mrad,
        "rib_bend_radius_m": build.middle.bending.bend_to_m,
        "film_stress_share": build.film.yield_share,
        "capital_cost": shopping.capital if shopping.known else None,
        "capital_yearly": cost.capital_yearly if shopping.known else None,
        "film_yearly": cost.film_yearly if design.prices.film_per_m2 is not None else None,
        "upkeep_yearly": cost.upkeep_yearly if shopping.known else None,
        "pump_yearly": cost.pump_yearly,
        "other_yearly": cost.other_yearly,
        "yearly_cost": cost.total_yearly if shopping.known else None,
        "fuel_per_kwh": design.money.fuel_per_kwh,
        "dish_share": useful / facing if facing > 0 else None,
    }
    return {key: values[key] for key in FIGURES}
