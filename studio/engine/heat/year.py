"""The heat of a field over a year of hours: lines in parallel, headers, warm-up, outlet heat.

Each hour of a line is spent warming its loop up to the mean working temperature, then working (the flow holds the outlet
temperature) if the net heat gives at least the least flow, else idling: the loop goes round, keeps warm, and what is too
much is turned away. Receiver and pipe loss are those of the working time; idle loss is the light that was
absorbed in all other time: heat that went into steel and oil and is lost overnight, what a loop loses until it works, and
light below the threshold. Night losses are paid by the warm-up and not counted twice."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from studio.engine.heat import fast, steel, warmup
from studio.engine.heat.oil import OilTable
from studio.engine.heat.pipe import PipeRun, insulated_loss_w_m
from studio.engine.heat.receiver import ReceiverBuild
from studio.engine.heat.solve import Numbers
from studio.engine.heat.turning import Lines, Spent, followed, turning
from studio.errors import BadInputError
from studio.text import _

_COLD_C = 20.0
_SLIVER = 1e-6
"""Share of an hour that each of its two parts lasts at least, so that no step is empty."""


@dataclass(frozen=True)
class LineHeat:
    """A line as the heat sees it: ``pipe_m`` is all of its insulated pipe (pieces between receivers and overhang), steel
    and oil what a warm-up has to heat, receivers included."""

    mirrors: int
    pipe_m: float
    steel_kg: float
    oil_kg: float


@dataclass(frozen=True)
class HeaderHeat:
    """The headers: length of the supply (hot) and return (cold) pipe, their run, steel and oil."""

    supply_m: float
    return_m: float
    run: PipeRun
    steel_kg: float
    oil_kg: float


@dataclass(frozen=True)
class Conditions:
    """What all lines of a field share: weather (H,), oil and its temperatures, receivers and the lines' pipe.

    Every line's oil enters at ``inlet_c`` and leaves at ``outlet_c``; below ``least_flow_kg_s`` a line delivers nothing.
    ``BadInputError`` for air and wind of unlike length or that cannot be, temperatures outside the oil's table or the
    wrong way round, and a least flow below 0.
    """

    air_c: Numbers
    wind_m_s: Numbers
    oil: OilTable
    inlet_c: float
    outlet_c: float
    least_flow_kg_s: float
    receiver: ReceiverBuild
    pipe: PipeRun
    step_h: float = 1.0

    def __post_init__(self) -> None:
        if self.air_c.ndim != 1 or self.wind_m_s.shape != self.air_c.shape:
            raise BadInputError(
                _("The heat of a year needs as many values of wind as of air temperature: {hours}.").format(
                    hours=self.air_c.size
                )
            )
        if not (np.isfinite(self.air_c).all() and np.isfinite(self.wind_m_s).all()):
            raise BadInputError(_("Air temperature and wind must be numbers in every hour."))
        if not (self.wind_m_s >= 0.0).all():
            raise BadInputError(_("Wind must be 0 m/s or more."))
        self.oil.require_within(self.inlet_c, what=_("The oil's inlet temperature"))
        self.oil.require_within(self.outlet_c, what=_("The oil's outlet temperature"))
        if not _COLD_C < self.inlet_c < self.outlet_c:
            raise BadInputError(
                _(
                    "The oil enters at {inlet:g} and leaves at {outlet:g} °C; it must enter above 20 °C and leave hotter."
                ).format(inlet=self.inlet_c, outlet=self.outlet_c)
            )
        if not self.least_flow_kg_s >= 0.0:
            raise BadInputError(_("A line's least flow is 0 kg/s or more."))

    @cached_property
    def places(self) -> fast.WeatherPlaces:
        """Where each hour lies among the weather of the loss tables."""
        return fast.place_weather(self.air_c, self.wind_m_s)

    def loss_w_m(self, run: PipeRun) -> Numbers:
        """Loss (3, H) in W/m of a header at outlet, inlet and mean working temperature; the last one asked for is kept."""
        if self._headers.get("run") != run:
            air, wind = self.places.air_nodes_c[:, None, None], self.places.wind_nodes_m_s[None, :, None]
            hot = np.asarray([self.outlet_c, self.inlet_c, self.working_c])
            along = insulated_loss_w_m(hot, air, wind, run=run)
            self._headers.update(run=run, loss=self.places.spread(along).T)
        return np.asarray(self._headers["loss"])

    @cached_property
    def _headers(self) -> dict[str, Any]:
        return {}

    @cached_property
    def losses_working(self) -> Numbers:
        """Losses of a working line in every hour (H, 12), see ``fast.LossTables``."""
        return self.places.spread(self._losses.working)

    @cached_property
    def losses_idle(self) -> Numbers:
        """Conductances of receiver and pipe while a loop warms or cools, in every hour (H, 2)."""
        return self.places.spread(self._losses.idle)

    @cached_property
    def _losses(self) -> fast.LossTables:
        return fast.loss_tables(
            air_nodes_c=tuple(self.places.air_nodes_c.tolist()),
            wind_nodes_m_s=tuple(self.places.wind_nodes_m_s.tolist()),
            oil=self.oil,
            receiver=self.receiver,
            run=self.pipe,
            inlet_c=self.inlet_c,
            outlet_c=self.outlet_c,
        )

    @cached_property
    def rise_j_kg(self) -> float:
        """Enthalpy that a kilogram of oil takes up."""
        return float(self.oil.enthalpy_j_kg(self.outlet_c) - self.oil.enthalpy_j_kg(self.inlet_c))

    @property
    def working_c(self) -> float:
        """Mean temperature of a working loop."""
        return 0.5 * (self.inlet_c + self.outlet_c)


@dataclass(frozen=True)
class LinesHeat:
    """Heat of H hours and L lines before the headers, in W; ``delivers`` (H, L) the share of each hour in which a line
    delivers; ``stored_w`` (L,) the sum over the hours of what warmed steel and oil."""

    absorbed_w: Numbers
    receiver_loss_w: Numbers
    line_pipe_loss_w: Numbers
    idle_loss_w: Numbers
    flow_kg_s: Numbers
    delivers: Numbers
    stored_w: Numbers


@dataclass(frozen=True)
class LinesSum:
    """Heat of lines before the headers, summed over them: W (H,), ``flow_kg_s`` (H,); ``delivers`` (H,) the share of each hour
    in which any line delivers, the longest of theirs; ``stored_w`` summed over the hours too."""

    absorbed_w: Numbers
    receiver_loss_w: Numbers
    line_pipe_loss_w: Numbers
    idle_loss_w: Numbers
    flow_kg_s: Numbers
    delivers: Numbers
    stored_w: float


@dataclass(frozen=True)
class FieldYear:
    """Heat of a field of lines summed, W (H,), mean over the hour.

    absorbed - receiver loss - line pipe loss - header loss - idle loss = outlet, to round-off. ``warm_up_kwh`` is the part
    of the idle loss that went into steel and oil of lines and headers. ``turned_back`` (H,) is the share of the heat that the lines gathered
    which headers that warmed up or could not work did not let through; it stands in ``idle_loss_w``.
    """

    absorbed_w: Numbers
    receiver_loss_w: Numbers
    line_pipe_loss_w: Numbers
    header_loss_w: Numbers
    idle_loss_w: Numbers
    outlet_w: Numbers
    flow_kg_s: Numbers
    turned_back: Numbers
    warm_up_kwh: float
    step_h: float

    @cached_property
    def outlet_kwh(self) -> float:
        """Outlet heat."""
        return float(self.outlet_w.sum()) * self.step_h / 1000.0

    @cached_property
    def header_loss_kwh(self) -> float:
        """Lost by the headers while they carried heat."""
        return float(self.header_loss_w.sum()) * self.step_h / 1000.0


def lines_heat(
    absorbed_w: Numbers,
    lines: tuple[LineHeat, ...],
    conditions: Conditions,
    *,
    most_absorbed_w: float,
    parts_w: Numbers | None = None,
) -> LinesHeat:
    """Heat of the lines one by one: no line's heat depends on another's.

    ``absorbed_w`` (H, L); ``parts_w`` (H, P, L) that of equal parts of every hour, whose mean it is, where they are known.
    ``most_absorbed_w`` bounds the light of a line: the tables reach to the flow it makes, so lines worked out apart with
    one bound are exactly what they are together. ``BadInputError`` for light of another shape or that cannot be, and
    for a line of less than nothing.
    """
    _refuse_bad(absorbed_w, lines, hours=conditions.air_c.size)
    sunny = np.flatnonzero((absorbed_w > 0.0).any(axis=1)) if lines else np.zeros(0, dtype=np.intp)
    if sunny.size == 0:
        nothing, none = np.zeros(absorbed_w.shape), np.zeros(len(lines))
        return LinesHeat(absorbed_w, nothing, nothing, nothing, nothing, nothing, none)

    def whole(part: Numbers) -> Numbers:
        full = np.zeros(absorbed_w.shape)
        full[sunny] = part
        return full

    c = conditions
    mirrors = np.asarray([line.mirrors for line in lines], dtype=np.float64)
    pipe_m = np.asarray([line.pipe_m for line in lines], dtype=np.float64)
    light = absorbed_w[sunny]
    films = fast.film_tables(
        oil=c.oil,
        receiver=c.receiver,
        run=c.pipe,
        inlet_c=c.inlet_c,
        outlet_c=c.outlet_c,
        most_flow_kg_s=most_absorbed_w / c.rise_j_kg,
    )
    working = fast.work_lines(
        absorbed_w=light,
        working=c.losses_working[sunny],
        films=films,
        mirrors=mirrors,
        pipe_m=pipe_m,
        rise_j_kg=c.rise_j_kg,
    )
    loops = warmup.Loops(
        heat_w=absorbed_w,
        conductance_w_k=c.losses_idle[:, :1] * mirrors + c.losses_idle[:, 1:] * pipe_m,
        capacity_j_k=np.asarray(
            [_capacity_j_k(line.steel_kg, line.oil_kg, c.oil, c.working_c) for line in lines],
            dtype=np.float64,
        ),
        air_c=c.air_c,
        working_c=c.working_c,
        step_h=c.step_h,
    )
    in_sun, parts = loops.at(sunny), None if parts_w is None else parts_w[sunny]
    ramp = None if parts is None else whole(warmup.ramp_k(in_sun, parts))
    start_c = warmup.temperatures_at_start(loops, ramp)[sunny]
    warming = warmup.warm_up(in_sun, start_c)
    spent = Spent.of(light, working, warming, least_flow_kg_s=c.least_flow_kg_s)
    if parts is not None:
        which = Lines(c.losses_working[sunny], films, mirrors, pipe_m, c.rise_j_kg, c.least_flow_kg_s)
        spent = followed(spent, parts, turning(parts, working, warming, which), in_sun, start_c, which)

    return LinesHeat(
        absorbed_w=absorbed_w,
        receiver_loss_w=whole(spent.receiver_loss_w),
        line_pipe_loss_w=whole(spent.line_pipe_loss_w),
        idle_loss_w=whole(spent.idle_loss_w),
        flow_kg_s=whole(spent.flow_kg_s),
        delivers=whole(spent.share),
        stored_w=np.maximum(spent.stored_w, 0.0).sum(axis=0),
    )


def _refuse_bad(absorbed_w: Numbers, lines: tuple[LineHeat, ...], *, hours: int) -> None:
    if absorbed_w.shape != (hours, len(lines)):
        raise BadInputError(
            _("The light of {lines} lines in {hours} hours cannot come as a table of {found}.").format(
                lines=len(lines), hours=hours, found=" × ".join(map(str, absorbed_w.shape))
            )
        )
    # least and most alone say it: a value that is no number is least and most alike
    if not 0.0 <= absorbed_w.min(initial=0.0) <= absorbed_w.max(initial=0.0) < np.inf:
        raise BadInputError(_("Absorbed light must be a number, 0 W or more, in every hour of every line."))
    for place, line in enumerate(lines, start=1):
        if line.mirrors < 0 or not min(line.pipe_m, line.steel_kg, line.oil_kg) >= 0.0:
            raise BadInputError(
                _("Line {line}: mirrors, pipe, steel and oil must be 0 or more.").format(line=place)
            )


def field_year(lines: LinesSum, header: HeaderHeat, conditions: Conditions) -> FieldYear:
    """The field's heat from the sum of its lines': their oil mixed and carried through the headers."""
    c = conditions
    gathered = c.rise_j_kg * lines.flow_kg_s
    headers = _headers(gathered, lines.delivers, header, c)
    return FieldYear(
        absorbed_w=lines.absorbed_w,
        receiver_loss_w=lines.receiver_loss_w,
        line_pipe_loss_w=lines.line_pipe_loss_w,
        header_loss_w=headers.loss_w,
        idle_loss_w=lines.idle_loss_w + headers.idle_w,
        outlet_w=headers.outlet_w,
        flow_kg_s=lines.flow_kg_s,
        turned_back=headers.idle_w / np.where(gathered > 0.0, gathered, 1.0),
        warm_up_kwh=(lines.stored_w + float(headers.stored_w.sum())) * c.step_h / 1000.0,
        step_h=c.step_h,
    )


@dataclass(frozen=True)
class _Headers:
    """(H,) in W: heat at the field's outlet, loss of both headers, and heat of the lines that did not get through
    because the headers were warming up or lost more than came; of which stored in steel and oil."""

    outlet_w: Numbers
    loss_w: Numbers
    idle_w: Numbers
    stored_w: Numbers


def _headers(gathered_w: Numbers, delivers: Numbers, header: HeaderHeat, conditions: Conditions) -> _Headers:
    """Headers warm up on the lines' first heat; then, while lines deliver, supply and return lose at outlet and inlet
    temperature. What they lose in the rest of an hour is paid by the next warm-up."""
    c = conditions
    oil, inlet_c, outlet_c, air_c = c.oil, c.inlet_c, c.outlet_c, c.air_c
    length, working_c = header.supply_m + header.return_m, c.working_c
    if not gathered_w.any():
        return _Headers(*(np.zeros(gathered_w.size) for _part in range(4)))
    supply, back, middle = c.loss_w_m(header.run)
    supply, back = supply * header.supply_m, back * header.return_m
    conductance = length * middle / np.maximum(working_c - air_c, 1.0)
    capacity_j_k = _capacity_j_k(header.steel_kg, header.oil_kg, oil, working_c)
    warming = _warming(gathered_w, delivers, conductance, capacity_j_k, c)
    some = np.flatnonzero(gathered_w > 0.0)
    heat, lag = gathered_w[some], warming.lag[some]
    supply, back = supply[some] * delivers[some], back[some] * delivers[some]
    works = heat > supply + back
    share = np.where(works, 1.0 - lag, 0.0)
    enthalpy_in, enthalpy_out = (float(oil.enthalpy_j_kg(t)) for t in (inlet_c, outlet_c))
    flow_kg_s = heat / (enthalpy_out - enthalpy_in)
    delivered = (enthalpy_out - supply / flow_kg_s) - (enthalpy_in + back / flow_kg_s)
    outlet, loss, idle, stored = (np.zeros(gathered_w.size) for _part in range(4))
    outlet[some] = share * flow_kg_s * delivered
    loss[some] = share * (supply + back)
    idle[some] = warming.stored_w[some] + warming.lost_w[some] + np.where(works, 0.0, (1.0 - lag) * heat)
    stored[some] = np.maximum(warming.stored_w[some], 0.0)
    return _Headers(outlet, loss, idle, stored)


def _warming(
    gathered_w: Numbers,
    delivers: Numbers,
    conductance_w_k: Numbers,
    capacity_j_k: float,
    conditions: Conditions,
) -> warmup.WarmUp:
    """How the headers warm up, (H,): each hour is the time in which lines deliver and the time in which they do not, in that
    order where the next hour brings nothing and else in the other. ``lag`` is the share of the first that passes before
    the headers are warm."""
    c = conditions
    most = np.clip(delivers, _SLIVER, 1.0 - _SLIVER)
    ends = np.append(gathered_w[1:], 0.0) <= 0.0
    step = np.stack([np.where(ends, most, 1.0 - most), np.where(ends, 1.0 - most, most)], axis=1)
    with_heat = np.stack([ends, ~ends], axis=1)
    loops = warmup.Loops(
        heat_w=np.where(with_heat, (gathered_w / most)[:, None], 0.0).reshape(-1, 1),
        conductance_w_k=np.repeat(conductance_w_k, 2)[:, None],
        capacity_j_k=np.asarray([capacity_j_k]),
        air_c=np.repeat(c.air_c, 2),
        working_c=c.working_c,
        step_h=step.reshape(-1, 1) * c.step_h,
    )
    steps = warmup.warm_up(loops, warmup.temperatures_at_start(loops))
    lag, stored, lost = (values.reshape(-1, 2) for values in (steps.lag, steps.stored_w, steps.lost_w))
    return warmup.WarmUp(lag[with_heat], (stored * step).sum(axis=1), (lost * step).sum(axis=1))


def _capacity_j_k(steel_kg: float, oil_kg: float, oil: OilTable, working_c: float) -> float:
    """J/K of steel and oil, mean between 20 degC and the working temperature."""
    of_oil = float(oil.enthalpy_j_kg(working_c) - oil.enthalpy_j_kg(_COLD_C)) / (working_c - _COLD_C)
    return steel_kg * float(steel.heat_capacity_j_kgk(0.5 * (working_c + _COLD_C))) + oil_kg * of_oil
