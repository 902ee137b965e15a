"""Heat of days the slow way: light by rays every quarter hour, the march along each line receiver by receiver, and loops
that warm and cool minute by minute.

What it shares with the live way are the parameters, the weather, the poses and the laws of one receiver and one metre of pipe
(their own tests hold these against the outside); how they are put together along a line and over a day is done here anew,
with the loss at each minute's own temperature.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from studio.design.design import Document
from studio.engine.heat import steel
from studio.engine.heat.line import march_line
from studio.engine.heat.oil import OilTable
from studio.engine.heat.pipe import PipeRun, insulated_loss_w_m
from studio.engine.heat.receiver import ReceiverBuild
from studio.study.assessment import HeaderRun, PlacedLine
from studio.study.cache import Cache
from studio.study.heat import header_pipe_of, line_pipe_m, line_pipe_of, oil_of, receiver_of
from studio.study.sky import sky_of
from tests.study.slow_field import Floats, SlowField
from tests.study.slow_way import quarters_of

_Loss = Callable[[Floats, Floats, Floats], Floats]

_QUARTERS = 96
_MINUTES = 15
_ROUNDS = 40
_COLD_C = 20.0
_SHEET_M, _STEEL_KG_M3 = 0.002, 7850.0


@dataclass(frozen=True)
class SlowDays:
    """Of each day (D,), kWh: ``absorbed`` by all receivers and what comes out at the field's ``outlet`` with apertures as flat
    rectangles, and what is ``absorbed_curved`` with the films' own form."""

    absorbed: Floats
    outlet: Floats
    absorbed_curved: Floats


def slow_days(
    document: Document,
    header: HeaderRun,
    days: Sequence[int],
    day_before_w: Floats,
    *,
    rays_per_mirror: int,
    seed: int,
) -> SlowDays:
    """The heat of ``days`` (from 0). ``day_before_w`` (D, 24, L): light that each line absorbs on the day before, W, which
    only sets how warm loops and headers begin."""
    field = SlowField(document)
    light, of_curved = _absorbed(document, field, days, rays_per_mirror, seed)
    year = sky_of(document.design.site, document.asset, Cache()).year
    rows = [np.arange(24 * (day - 1), 24 * (day + 1)) % len(year.air_c) for day in days]
    air, wind = (
        np.repeat(np.stack([part[row] for row in rows]), 4, axis=1) for part in (year.air_c, year.wind_m_s)
    )
    design = document.design
    loop = _Loop(
        oil_of(design),
        receiver_of(design),
        line_pipe_of(design),
        header_pipe_of(design),
        design.oil.inlet_c,
        design.oil.outlet_c,
    )
    starts = np.cumsum([0] + [line.mirrors for line in field.lines])
    gathered = np.zeros(air.shape)
    for number, line in enumerate(field.lines):
        mine = light[:, :, starts[number] : starts[number + 1]]
        pipe_m = line_pipe_m(design, line) - line.mirrors * design.receiver.window_width_m
        loses_w = loop.line_loss(line.mirrors, pipe_m)
        before = np.repeat(day_before_w[:, :, number], 4, axis=1)
        marched = loop.marched(
            mine, air[:, _QUARTERS:], wind[:, _QUARTERS:], _pieces(document, line), loses_w
        )
        warm = np.full(before.shape, loop.warm_c)
        left = np.maximum(before - loses_w(warm, air[:, :_QUARTERS], wind[:, :_QUARTERS]), 0.0)
        works_w = np.concatenate([left, marched], axis=1)
        works_w[works_w < loop.rise_j_kg * design.oil.least_flow_kg_s] = 0.0
        gathered += loop.let_through(
            np.concatenate([before, mine.sum(axis=2)], axis=1),
            works_w,
            air,
            loses_w,
            wind,
            loop.capacity_j_k(*_masses(document, line, loop)),
        )
    outlet = _through_headers(loop, header, gathered, air, wind)

    def of_day(power_w: Floats) -> Floats:
        return np.asarray(power_w[:, _QUARTERS:].sum(axis=1) / 4000.0)

    absorbed, absorbed_curved = (one.sum(axis=(1, 2)) / 4000.0 for one in (light, of_curved))
    return SlowDays(absorbed, of_day(outlet), absorbed_curved)


def _absorbed(
    document: Document, field: SlowField, days: Sequence[int], rays_per_mirror: int, seed: int
) -> Floats:
    """Light that each mirror's receiver absorbs, apertures flat and films curved, W: (2, D, 96, M)."""
    quarters, generator = quarters_of(document), np.random.default_rng(seed)
    found = np.zeros((2, len(days), _QUARTERS, len(field.vertices)))
    for place, day in enumerate(days):
        of_day = np.arange(_QUARTERS * day, _QUARTERS * (day + 1))
        some = of_day[(quarters.dni[of_day] > 0) & (quarters.sun[of_day] @ field.axes[2] > 0)]
        if not len(some):
            continue
        for quarter, slide, roll in zip(some, *field.poses(quarters.sun[some]), strict=True):
            taken = field.absorbed_m2(quarters.sun[quarter], slide, roll, rays_per_mirror, generator)
            found[:, place, quarter - of_day[0]] = taken * quarters.dni[quarter]
    return found


def _pieces(document: Document, line: PlacedLine) -> Floats:
    """Lengths of pipe before, between and behind a line's receivers."""
    window = document.design.receiver.window_width_m
    between = line.spacing_m - window
    ends = (line_pipe_m(document.design, line) - (line.count - 1) * line.spacing_m - window) / 2
    return np.array([ends] + [between] * (line.count - 1) + [ends])


def _masses(document: Document, line: PlacedLine, loop: "_Loop") -> tuple[float, float]:
    """Steel and cold oil of a line with its receivers (sheet of 2 mm: an assumption of ours), kg."""
    receiver, length = loop.receiver, line_pipe_m(document.design, line)
    fins_m2 = receiver.fins * receiver.window_width_m * receiver.fin_height_mm / 1000
    sheet = (2 * receiver.window_m2 + fins_m2) * _SHEET_M * _STEEL_KG_M3
    size = loop.run.size
    oil_m3 = length * size.content_m3_m + line.mirrors * receiver.oil_content_m3()
    return length * size.mass_kg_m + line.mirrors * sheet, oil_m3 * float(loop.oil.density(_COLD_C))


def _through_headers(loop: "_Loop", header: HeaderRun, gathered: Floats, air: Floats, wind: Floats) -> Floats:
    """What comes out behind the headers, which warm up first and then lose at outlet and inlet temperature, W."""
    length, run = header.hot_m + header.cold_m, loop.header
    losing = header.hot_m * insulated_loss_w_m(
        loop.outlet_c, air, wind, run=run
    ) + header.cold_m * insulated_loss_w_m(loop.inlet_c, air, wind, run=run)
    steel_kg = length * run.size.mass_kg_m
    oil_kg = length * run.size.content_m3_m * float(loop.oil.density(_COLD_C))
    works = np.maximum(gathered - losing, 0.0)
    return loop.let_through(
        gathered,
        works,
        air,
        lambda t, a, w: length * insulated_loss_w_m(t, a, w, run=run),
        wind,
        loop.capacity_j_k(steel_kg, oil_kg),
    )


@dataclass(frozen=True)
class _Loop:
    """Oil, receivers and pipes of a field."""

    oil: OilTable
    receiver: ReceiverBuild
    run: PipeRun
    header: PipeRun
    inlet_c: float
    outlet_c: float

    @property
    def warm_c(self) -> float:
        """Mean temperature at which it works."""
        return 0.5 * (self.inlet_c + self.outlet_c)

    @property
    def rise_j_kg(self) -> float:
        return float(self.oil.enthalpy_j_kg(self.outlet_c) - self.oil.enthalpy_j_kg(self.inlet_c))

    def capacity_j_k(self, steel_kg: float, oil_kg: float) -> float:
        """J/K between 20 degC and the mean working temperature."""
        of_oil = float(self.oil.enthalpy_j_kg(self.warm_c) - self.oil.enthalpy_j_kg(_COLD_C))
        of_steel = float(steel.heat_capacity_j_kgk((self.warm_c + _COLD_C) / 2))
        return oil_kg * of_oil / (self.warm_c - _COLD_C) + steel_kg * of_steel

    def line_loss(self, mirrors: int, pipe_m: float) -> _Loss:
        """What a line's receivers and pipe lose at one temperature, W."""
        return lambda oil_c, air_c, wind_m_s: (
            mirrors * self.receiver.loss_w(oil_c, air_c, wind_m_s)
            + pipe_m * insulated_loss_w_m(oil_c, air_c, wind_m_s, run=self.run)
        )

    def marched(self, light: Floats, air: Floats, wind: Floats, pieces_m: Floats, loses_w: _Loss) -> Floats:
        """Heat (D, Q) that a line gives which holds its outlet, from light (D, Q, n); 0 where it cannot."""
        found = np.zeros(air.size)
        each, air, wind = light.reshape(-1, light.shape[2]), air.ravel(), wind.ravel()
        some = np.flatnonzero(each.sum(axis=1) > 1.02 * loses_w(np.full(air.shape, self.warm_c), air, wind))
        kg_s = 4.0 * each.sum(axis=1) / self.rise_j_kg
        for _round in range(_ROUNDS):
            if not len(some):
                break
            march = march_line(
                absorbed_w=each[some],
                flow_kg_s=kg_s[some],
                inlet_c=self.inlet_c,
                air_c=air[some],
                wind_m_s=wind[some],
                oil=self.oil,
                receiver=self.receiver,
                run=self.run,
                pieces_m=pieces_m,
            )
            holds, there = march.heat_w > 0.0, np.abs(march.outlet_c - self.outlet_c) < 0.01
            found[some] = np.where(holds & there, march.heat_w, 0.0)
            wanted = np.maximum(march.heat_w, 0.0) / self.rise_j_kg
            kg_s[some] = np.clip(wanted, 0.5 * kg_s[some], 5.0 * kg_s[some])
            some = some[holds & ~there]
        return found.reshape(light.shape[:2])

    def let_through(
        self,
        heat_w: Floats,
        works_w: Floats,
        air: Floats,
        loses_w: _Loss,
        wind: Floats,
        capacity_j_k: float,
    ) -> Floats:
        """Heat (D, Q) that a loop lets through, W: ``works_w`` for the minutes in which it is warm, nothing before.

        ``heat_w`` (D, Q) warms it, ``loses_w`` is what it loses at a temperature, air and wind.
        """
        found, now_c = np.zeros(air.shape), air[:, 0].copy()
        for quarter in range(air.shape[1]):
            for _minute in range(_MINUTES):
                lost = loses_w(now_c, air[:, quarter], wind[:, quarter])
                after_c = now_c + (heat_w[:, quarter] - lost) * 60.0 / capacity_j_k
                # the minute in which it gets warm counts from then on
                rising = np.where(after_c > now_c, after_c - now_c, 1.0)
                share = np.clip((after_c - self.warm_c) / rising, 0.0, 1.0)
                share = np.where(after_c > now_c, share, 0.0)
                share = np.where(now_c >= self.warm_c, after_c >= self.warm_c, share)
                found[:, quarter] += share * works_w[:, quarter] / _MINUTES
                now_c = np.minimum(after_c, self.warm_c)
        return found
