"""Stage: from absorbed light to heat at the field's outlet."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from studio.design.design import Design
from studio.engine.heat.flow import pressure_loss_pa_m, pump_power_w
from studio.engine.heat.oil import OilLimits, OilTable
from studio.engine.heat.pipe import PipeRun, pipe_size
from studio.engine.heat.receiver import BLACK_PAINT, SELECTIVE_COATING, ReceiverBuild
from studio.engine.heat.year import (
    Conditions,
    HeaderHeat,
    LineHeat,
    LinesHeat,
    YearHeat,
    lines_heat,
    with_headers,
)
from studio.study.assessment import Array, HeaderRun, PlacedLine
from studio.study.cache import Cache
from studio.study.light import LineLight, Shares
from studio.study.place import overhang_m
from studio.study.sky import Sky
from studio.units import HOURS_PER_YEAR

_SHEET_MM = 2.0
"""Sheet that a receiver is bent from, for its mass: an assumption of ours."""
_STEEL_KG_M3 = 7850.0


def oil_of(design: Design) -> OilTable:
    """The design's oil as the engine takes it."""
    oil = design.oil
    rows = oil.rows
    return OilTable(
        key=oil.kind,
        label=oil.kind,
        temperature_c=tuple(row.temperature_c for row in rows),
        density_kg_m3=tuple(row.density_kg_m3 for row in rows),
        heat_capacity_j_kgk=tuple(row.heat_capacity_j_kgk for row in rows),
        conductivity_w_mk=tuple(row.conductivity_w_mk for row in rows),
        viscosity_mpa_s=tuple(row.viscosity_mpa_s for row in rows),
        vapour_pressure_kpa=tuple(row.vapour_pressure_kpa or None for row in rows),
        limits=OilLimits(
            bulk_c=oil.bulk_limit_c,
            film_c=oil.film_limit_c,
            flash_c=oil.flash_c,
            ignition_c=float("nan"),
            freezing_c=None,
            source=oil.kind,
        ),
        source=oil.kind,
    )


def receiver_of(design: Design) -> ReceiverBuild:
    """The design's receiver as the engine takes it; its window faces down as far as the mirror axis stands up."""
    receiver = design.receiver
    return ReceiverBuild(
        window_width_m=receiver.window_width_m,
        window_height_m=receiver.window_height_m,
        box_depth_m=receiver.depth_m,
        coating=SELECTIVE_COATING if receiver.coating == "selective" else BLACK_PAINT,
        fins=receiver.fins,
        fin_height_mm=receiver.fin_height_mm,
        fin_thickness_mm=receiver.fin_thickness_mm,
        back_insulation_mm=receiver.back_insulation_mm,
        cover=receiver.glass == "single",
        facing_down_deg=90.0 - design.mirror.tilt_deg,
    )


def shares_of(design: Design) -> Shares:
    """What film, dirt and age, and the absorber, leave of the light."""
    mirror = design.mirror
    return Shares(
        reflectance=mirror.reflectance * mirror.dirt_factor * mirror.age_factor,
        absorptance=receiver_of(design).absorptance,
    )


def line_pipe_of(design: Design) -> PipeRun:
    """The line's pipe with its insulation."""
    pipe = design.pipe
    return PipeRun(pipe_size(pipe.size), pipe.insulation_mm, pipe.insulation_w_mk)


def header_pipe_of(design: Design) -> PipeRun:
    """The header's pipe with its insulation."""
    header = design.header
    return PipeRun(pipe_size(header.size), header.insulation_mm, header.insulation_w_mk)


def line_pipe_m(design: Design, placed: PlacedLine) -> float:
    """Length of a line's sliding pipe: between its mirrors, half a mirror and the stroke past either end."""
    return (placed.count - 1) * placed.spacing_m + 2 * overhang_m(design)


@dataclass(frozen=True)
class FieldHeat:
    """The heat of the year. ``year`` holds all 8760 hours; ``pump_kwh`` is the pump's electricity."""

    year: YearHeat
    pump_kwh: float
    most_flow_kg_s: float
    most_loss_kpa: float


_PUMP_SHARE = 0.5
"""Of the electricity that reaches the oil, a small circulating pump with its motor: common practice, no source."""


def heat_of(
    design: Design,
    placed: tuple[PlacedLine, ...],
    header: HeaderRun,
    sky: Sky,
    lights: tuple[LineLight, ...],
    cache: Cache,
) -> FieldHeat:
    """The field's heat from the light of its lines; a line whose light did not change is not worked out anew."""
    oil, receiver, pipe, run = (
        oil_of(design),
        receiver_of(design),
        line_pipe_of(design),
        header_pipe_of(design),
    )
    made = ("heat", sky.key, design.oil, design.receiver, design.pipe, design.mirror.tilt_deg)
    conditions = cache.get(
        made,
        lambda: Conditions(
            air_c=sky.year.air_c,
            wind_m_s=sky.year.wind_m_s,
            oil=oil,
            inlet_c=design.oil.inlet_c,
            outlet_c=design.oil.outlet_c,
            least_flow_kg_s=design.oil.least_flow_kg_s,
            receiver=receiver,
            pipe=pipe,
        ),
    )
    cold = float(oil.density(20.0))
    lines = tuple(_line_heat(design, line, receiver, pipe, cold) for line in placed)
    year = with_headers(
        _lines_heat(design, placed, lines, lights, sky, conditions, cache),
        HeaderHeat(
            supply_m=header.hot_m,
            return_m=header.cold_m,
            run=run,
            steel_kg=header.length_m * run.size.mass_kg_m,
            oil_kg=header.length_m * run.size.content_m3_m * cold,
        ),
        conditions,
    )
    return _with_pump(design, placed, header, year, oil, receiver)


def _lines_heat(
    design: Design,
    placed: tuple[PlacedLine, ...],
    lines: tuple[LineHeat, ...],
    lights: tuple[LineLight, ...],
    sky: Sky,
    conditions: Conditions,
    cache: Cache,
) -> LinesHeat:
    """The heat of every line, those that changed worked out together."""
    if not placed:
        return lines_heat(np.zeros((HOURS_PER_YEAR, 0)), (), conditions, most_absorbed_w=1.0)
    # no line takes more than this: the strongest hour on the longest line, all of it absorbed
    aperture = max(line.count for line in placed) * design.mirror.width_m * design.mirror.height_m
    most = max(1.0, float(sky.year.dni_w_m2.max())) * aperture
    slots = cache.get(("heat slots",), lambda: _Slots(None, 0.0, {}))
    if slots.conditions is not conditions or slots.most != most:
        slots = _Slots(conditions, most, {})
    done = dict(slots.lines)
    changed = [
        place
        for place, line in enumerate(placed)
        if line.id not in done or done[line.id][0] is not lights[place] or done[line.id][1] != lines[place]
    ]
    if changed:
        absorbed = np.zeros((HOURS_PER_YEAR, len(changed)))
        absorbed[sky.hour] = np.stack([lights[place].absorbed_w for place in changed], axis=1)
        heat = lines_heat(
            absorbed, tuple(lines[place] for place in changed), conditions, most_absorbed_w=most
        )
        for column, place in enumerate(changed):
            done[placed[place].id] = (lights[place], lines[place], heat.line(column))
        here = {line.id for line in placed}
        done = {line_id: held for line_id, held in done.items() if line_id in here}
        cache.put(("heat slots",), _Slots(conditions, most, done), size=len(done) * HOURS_PER_YEAR * 8 * 5)
    return LinesHeat.side_by_side([done[line.id][2] for line in placed])


@dataclass(frozen=True)
class _Slots:
    """The heat of lines as last worked out, by id, each with the light and the make it came from."""

    conditions: Conditions | None
    most: float
    lines: Mapping[int, tuple[LineLight, LineHeat, LinesHeat]]


def _line_heat(
    design: Design, line: PlacedLine, receiver: ReceiverBuild, pipe: PipeRun, cold_kg_m3: float
) -> LineHeat:
    length = line_pipe_m(design, line)
    sheet_m2 = (
        2.0 * receiver.window_m2 + receiver.fins * receiver.window_width_m * receiver.fin_height_mm / 1000
    )
    return LineHeat(
        mirrors=line.count,
        pipe_m=max(0.0, length - line.count * receiver.window_width_m),
        steel_kg=length * pipe.size.mass_kg_m + line.count * sheet_m2 * _SHEET_MM / 1000 * _STEEL_KG_M3,
        oil_kg=(length * pipe.size.content_m3_m + line.count * receiver.oil_content_m3()) * cold_kg_m3,
    )


def _with_pump(
    design: Design,
    placed: tuple[PlacedLine, ...],
    header: HeaderRun,
    year: YearHeat,
    oil: OilTable,
    receiver: ReceiverBuild,
) -> FieldHeat:
    """The pump's electricity: pressure lost by the longest way (line, receivers, header) × volume flow, every hour."""
    flow = year.flow_kg_s
    total = flow.sum(axis=1)
    if not placed or not total.any():
        return FieldHeat(year, 0.0, 0.0, 0.0)
    middle = 0.5 * (design.oil.inlet_c + design.oil.outlet_c)

    def loss(kg_s: Array, bore_m: float, length_m: float) -> Array:
        return np.asarray(pressure_loss_pa_m(oil, middle, kg_s, bore_m=bore_m)) * length_m

    grid = np.linspace(0.0, 1.0, 33)
    line_flow, field_flow = float(flow.max()), float(total.max())
    longest = max(line_pipe_m(design, line) for line in placed)
    most = max(line.count for line in placed)
    pipe, run = line_pipe_of(design), header_pipe_of(design)
    in_line = loss(grid * line_flow, pipe.size.bore_m, longest) + most * np.asarray(
        receiver.pressure_loss_pa(oil, middle, grid * line_flow)
    )
    in_header = loss(grid * field_flow, run.size.bore_m, header.length_m)
    pressure = np.interp(flow.max(axis=1), grid * line_flow, in_line) + np.interp(
        total, grid * field_flow, in_header
    )
    watts = pump_power_w(
        flow_kg_s=total, density_kg_m3=oil.density(middle), pressure_pa=pressure, efficiency=_PUMP_SHARE
    )
    return FieldHeat(
        year=year,
        pump_kwh=float(watts.sum()) / 1000.0,
        most_flow_kg_s=field_flow,
        most_loss_kpa=float(pressure.max()) / 1000.0,
    )
