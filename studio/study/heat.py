"""Stage: from absorbed light to heat at the field's outlet."""

from dataclasses import dataclass, replace

import numpy as np

from studio.design.design import Design
from studio.engine.heat.carried import carried_year
from studio.engine.heat.flow import pressure_loss_pa_m, pump_power_w
from studio.engine.heat.oil import OilLimits, OilTable
from studio.engine.heat.pipe import PipeRun, pipe_size
from studio.engine.heat.receiver import BLACK_PAINT, SELECTIVE_COATING, ReceiverBuild
from studio.engine.heat.year import (
    Conditions,
    FieldYear,
    HeaderHeat,
    LineHeat,
    LinesSum,
    field_year,
)
from studio.study.assessment import Array, HeaderRun, PlacedLine
from studio.study.cache import Cache, Tick, no_tick
from studio.study.light import LineLight, Shares
from studio.study.line_heat import blocks_of
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
    """The heat of the year. ``year`` holds all 8760 hours; ``delivered_kwh`` (L,) is what each line gave to the headers that
    they let through; ``most_line_flow_kg_s`` the strongest flow of any line; ``pump_kwh`` the pump's electricity."""

    year: FieldYear
    delivered_kwh: Array
    most_line_flow_kg_s: float
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
    *,
    exact: bool = True,
    before: FieldHeat | None = None,
    tick: Tick = no_tick,
) -> FieldHeat:
    """The field's heat from the light of its lines; a line whose light did not change is not worked out anew.

    Not ``exact``: a line whose light changed keeps the losses and the hours of its last exact answer, see :func:`studio.study.line_heat.blocks_of`.
    With ``before``, the heat of a field alike but for where its lines stand, headers warm up as they did there, and the pump
    takes as much.
    """
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
    unlike = {line.make: line for line in placed}
    makes = {make: _line_heat(design, line, receiver, pipe, cold) for make, line in unlike.items()}
    lines = tuple(makes[line.make] for line in placed)
    blocks = blocks_of(design, placed, lines, lights, sky, conditions, cache, exact, tick)
    total = np.zeros((5, HOURS_PER_YEAR))
    most_flow, delivers = np.zeros(HOURS_PER_YEAR), np.zeros(HOURS_PER_YEAR)
    if blocks:
        total[:, sky.hour] = np.sum([block.hourly for block in blocks], axis=0)
        most_flow[sky.hour] = np.max([block.most_flow for block in blocks], axis=0)
        delivers[sky.hour] = np.max([block.delivers for block in blocks], axis=0)
    gathered = LinesSum(
        absorbed_w=total[0],
        receiver_loss_w=total[1],
        line_pipe_loss_w=total[2],
        idle_loss_w=total[3],
        flow_kg_s=total[4],
        delivers=delivers,
        stored_w=sum(year.stored_w for block in blocks for year in block.years),
    )
    headers = HeaderHeat(
        supply_m=header.hot_m,
        return_m=header.cold_m,
        run=run,
        steel_kg=header.length_m * run.size.mass_kg_m,
        oil_kg=header.length_m * run.size.content_m3_m * cold,
    )
    year = (
        field_year(gathered, headers, conditions)
        if before is None
        else carried_year(gathered, before.year, conditions)
    )
    back = year.turned_back[sky.hour] * conditions.rise_j_kg / 1000.0
    net = np.array([year.net_kwh for block in blocks for year in block.years])
    turned = np.concatenate([block.flows @ back for block in blocks]) if blocks else net
    if before is not None:
        return replace(before, year=year, delivered_kwh=net - turned)
    return _with_pump(design, placed, header, year, net - turned, most_flow, oil, receiver)


def _line_heat(
    design: Design, line: PlacedLine, receiver: ReceiverBuild, pipe: PipeRun, cold_kg_m3: float
) -> LineHeat:
    length = line_pipe_m(design, line)
    sheet_m2 = (
        2.0 * receiver.window_m2 + receiver.fins * receiver.window_width_m * receiver.fin_height_mm / 1000
    )
    return LineHeat(
        mirrors=line.mirrors,
        pipe_m=max(0.0, length - line.mirrors * receiver.window_width_m),
        steel_kg=length * pipe.size.mass_kg_m + line.mirrors * sheet_m2 * _SHEET_MM / 1000 * _STEEL_KG_M3,
        oil_kg=(length * pipe.size.content_m3_m + line.mirrors * receiver.oil_content_m3()) * cold_kg_m3,
    )


def _with_pump(
    design: Design,
    placed: tuple[PlacedLine, ...],
    header: HeaderRun,
    year: FieldYear,
    delivered_kwh: Array,
    most_flow: Array,
    oil: OilTable,
    receiver: ReceiverBuild,
) -> FieldHeat:
    """The pump's electricity: pressure lost by the longest way (line, receivers, header) × volume flow, every hour."""
    total = year.flow_kg_s
    if not placed or not total.any():
        return FieldHeat(year, delivered_kwh, 0.0, 0.0, 0.0, 0.0)
    middle = 0.5 * (design.oil.inlet_c + design.oil.outlet_c)

    def loss(kg_s: Array, bore_m: float, length_m: float) -> Array:
        return np.asarray(pressure_loss_pa_m(oil, middle, kg_s, bore_m=bore_m)) * length_m

    grid = np.linspace(0.0, 1.0, 33)
    line_flow, field_flow = float(most_flow.max()), float(total.max())
    longest = max(line_pipe_m(design, line) for line in placed)
    most = max(line.mirrors for line in placed)
    pipe, run = line_pipe_of(design), header_pipe_of(design)
    in_line = loss(grid * line_flow, pipe.size.bore_m, longest) + most * np.asarray(
        receiver.pressure_loss_pa(oil, middle, grid * line_flow)
    )
    in_header = loss(grid * field_flow, run.size.bore_m, header.length_m)
    pressure = np.interp(most_flow, grid * line_flow, in_line) + np.interp(
        total, grid * field_flow, in_header
    )
    watts = pump_power_w(
        flow_kg_s=total, density_kg_m3=oil.density(middle), pressure_pa=pressure, efficiency=_PUMP_SHARE
    )
    return FieldHeat(
        year=year,
        delivered_kwh=delivered_kwh,
        most_line_flow_kg_s=line_flow,
        pump_kwh=float(watts.sum()) / 1000.0,
        most_flow_kg_s=field_flow,
        most_loss_kpa=float(pressure.max()) / 1000.0,
    )
