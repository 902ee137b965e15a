"""Stage: the clear-sky year as a picture, and the working hours that it tells."""

import numpy as np

from studio.design.design import Design
from studio.engine.heat.pipe import insulated_loss_w_m
from studio.engine.sky.sun import sunrise_sunset
from studio.study.assessment import Array, HeaderRun, PlacedLine, SunCalendar
from studio.study.heat import header_pipe_of, line_pipe_m, line_pipe_of, receiver_of
from studio.study.light import GridLight
from studio.study.optics import LineOptics
from studio.study.sky import GRID_STEP_H, Sky

_AIR_C, _WIND_M_S = 20.0, 2.0
"""Air and wind of the picture; the year itself takes the weather's."""


def working_hours(lights: tuple[GridLight, ...], sky: Sky) -> float:
    """Mean over the year's days of the clear-sky hours in which absorbed light per DNI is at least half of the day's most.

    Between quarter hours the light is taken as straight, so that the crossing of the half is found between them.
    """
    if not lights:
        return 0.0
    absorbed = np.sum([light.absorbed_m2 for light in lights], axis=0)
    days = sky.grid.spread(absorbed, night=0.0)
    half = 0.5 * days.max(axis=1, keepdims=True)
    above = np.pad(days - half, ((0, 0), (1, 1)), constant_values=-1e-12)
    left, right = above[:, :-1], above[:, 1:]
    rise = np.abs(left) + np.abs(right)
    both = (left >= 0) & (right >= 0)
    one = (left >= 0) != (right >= 0)
    share = np.where(both, 1.0, np.where(one, np.maximum(left, right) / np.where(rise > 0, rise, 1.0), 0.0))
    hours = share.sum(axis=1) * GRID_STEP_H
    return float(np.where(half[:, 0] > 0, hours, 0.0).mean())


def calendar_of(
    design: Design,
    placed: tuple[PlacedLine, ...],
    header: HeaderRun,
    lights: tuple[GridLight, ...],
    first: LineOptics | None,
    sky: Sky,
) -> SunCalendar:
    """The sun calendar under a clear sky: outlet heat in kW of a line that is already warm, intercept, shade."""
    grid = sky.grid
    site = design.site
    times = sunrise_sunset(
        grid.day_of_year,
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        altitude_m=site.altitude_m,
        utc_offset_h=site.utc_offset_h,
    )
    nothing = np.zeros(len(grid.clear))
    facing = np.sum([light.facing_m2 for light in lights], axis=0) if lights else nothing
    lit = np.sum([light.lit_m2 for light in lights], axis=0) if lights else nothing
    lost = np.where(facing > 0, 1.0 - lit / np.where(facing > 0, facing, 1.0), 0.0)
    heat = _heat_w(design, placed, header, lights, grid.clear) if lights else nothing
    intercept = first.at_grid.accepted if first is not None else nothing
    return SunCalendar(
        day_of_year=grid.day_of_year,
        clock_h=grid.clock_h,
        heat_kw=grid.spread(heat / 1000.0, night=np.nan),
        intercept=grid.spread(intercept, night=np.nan),
        shade=grid.spread(lost, night=np.nan),
        sunrise_h=times.sunrise_h,
        sunset_h=times.sunset_h,
    )


def _heat_w(
    design: Design,
    placed: tuple[PlacedLine, ...],
    header: HeaderRun,
    lights: tuple[GridLight, ...],
    clear: Array,
) -> Array:
    """Outlet heat (U,) W: every line's absorbed light less its losses at the mean oil temperature, header off."""
    middle = 0.5 * (design.oil.inlet_c + design.oil.outlet_c)
    per_receiver = float(receiver_of(design).loss_w(middle, _AIR_C, _WIND_M_S))
    per_m = float(insulated_loss_w_m(middle, _AIR_C, _WIND_M_S, run=line_pipe_of(design)))
    per_header_m = float(insulated_loss_w_m(middle, _AIR_C, _WIND_M_S, run=header_pipe_of(design)))
    total = np.zeros(len(clear))
    for line, light in zip(placed, lights, strict=True):
        bare_m = max(0.0, line_pipe_m(design, line) - line.mirrors * design.receiver.window_width_m)
        total += np.maximum(clear * light.absorbed_m2 - line.mirrors * per_receiver - bare_m * per_m, 0.0)
    return np.asarray(np.maximum(total - header.length_m * per_header_m, 0.0))
