"""The fast form of a line: all hours and lines at once.

Along a line the oil gains q(T) = absorbed light - receiver loss(T) - pipe loss(T), spread evenly over the line's length.
Then m dh/dx = q/L, and the flow that takes the oil from the inlet's to the outlet's enthalpy is

    1/m = integral of dh / q(T(h)) from h_in to h_out,

here with three Gauss points in h. The share of the line that lies at each point is m dh w/q; losses are weighted with
these shares, so that absorbed light less losses equals the oil's enthalpy flow exactly, not only to the quadrature's
error. Losses come from small tables over air temperature and wind at the Gauss points. Its error against the march
(``line``) is tested.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from studio.engine.heat import flow, pipe
from studio.engine.heat.oil import OilTable
from studio.engine.heat.pipe import PipeRun
from studio.engine.heat.receiver import ReceiverBuild
from studio.engine.heat.solve import Numbers

_GAUSS_PLACES = (0.5 - np.sqrt(0.15), 0.5, 0.5 + np.sqrt(0.15))
_GAUSS_WEIGHTS = (5 / 18, 8 / 18, 5 / 18)
_AIR_STEP_K = 10.0
_WINDS = (0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.5, 7.5, 10.0, 14.0, 20.0)
_ABOVE_OIL_K = 40.0
"""Absorber above oil at which the quadratic of the receiver's loss is fitted, besides 0 and twice that."""
_MOST_ABOVE_OIL_K = 4 * _ABOVE_OIL_K
_FLOW_NODES = 400
_CHUNK = 16384
"""Hour-lines worked on at once, so that they stay in the processor's near memory."""


@dataclass(frozen=True)
class WeatherPlaces:
    """Where each hour lies in a grid of air temperature x wind, for bilinear interpolation."""

    air_nodes_c: Numbers
    wind_nodes_m_s: Numbers
    corner: NDArray[np.intp]
    air_share: Numbers
    wind_share: Numbers

    def at(self, hours: NDArray[np.intp]) -> "WeatherPlaces":
        """The places of some of the hours."""
        return WeatherPlaces(
            self.air_nodes_c,
            self.wind_nodes_m_s,
            self.corner[hours],
            self.air_share[hours],
            self.wind_share[hours],
        )

    def spread(self, table: Numbers) -> Numbers:
        """A table (air, wind, columns) at every hour (H, columns)."""
        flat = table.reshape(-1, table.shape[-1])
        winds = self.wind_nodes_m_s.size
        by_air, by_wind = self.air_share[:, None], self.wind_share[:, None]
        calm = (1.0 - by_air) * flat[self.corner] + by_air * flat[self.corner + winds]
        windy = (1.0 - by_air) * flat[self.corner + 1] + by_air * flat[self.corner + winds + 1]
        value: Numbers = (1.0 - by_wind) * calm + by_wind * windy
        return value


def place_weather(air_c: Numbers, wind_m_s: Numbers) -> WeatherPlaces:
    """The grid over the weather that occurs, and each hour's place in it."""
    low = np.floor(air_c.min(initial=20.0) / _AIR_STEP_K) * _AIR_STEP_K
    high = max(np.ceil(air_c.max(initial=20.0) / _AIR_STEP_K) * _AIR_STEP_K, low + _AIR_STEP_K)
    airs = np.arange(low, high + 0.5 * _AIR_STEP_K, _AIR_STEP_K)
    winds = np.asarray(_WINDS)
    strongest = float(wind_m_s.max(initial=0.0))
    if strongest > winds[-1]:
        winds = np.append(winds, strongest)
    in_air = np.clip(((air_c - low) / _AIR_STEP_K).astype(np.intp), 0, airs.size - 2)
    in_wind = np.clip(np.searchsorted(winds, wind_m_s, side="right") - 1, 0, winds.size - 2)
    return WeatherPlaces(
        airs,
        winds,
        in_air * winds.size + in_wind,
        (air_c - airs[in_air]) / _AIR_STEP_K,
        (wind_m_s - winds[in_wind]) / (winds[in_wind + 1] - winds[in_wind]),
    )


@dataclass(frozen=True)
class LossTables:
    """Losses by weather at one pair of inlet and outlet temperature.

    ``working`` (air, wind, 12): at each of three Gauss points the receiver's loss as a quadratic of absorber above oil
    (constant, slope, curve, W by K), and the pipe's loss in W/m without the film inside.
    ``idle`` (air, wind, 2): conductance in W/K of a receiver and in W/mK of the pipe while a loop warms or cools:
    twice the integral of the loss over temperature from air to working, over the square of that span.
    """

    working: Numbers
    idle: Numbers


@dataclass(frozen=True)
class FilmTables:
    """Over flows in kg/s evenly spaced from near 0 to ``most_flow_kg_s``, at each of the three Gauss points (3, flows):
    conductance in W/K from absorber to oil, the share of the pipe's loss that the film inside leaves, and the steps of
    both to the next flow."""

    most_flow_kg_s: float
    conductance_w_k: Numbers
    pipe_share: Numbers
    conductance_steps: Numbers
    pipe_share_steps: Numbers

    def places(self, kg_s: Numbers) -> tuple[NDArray[np.intp], Numbers]:
        """Node below each flow and how far past it, in nodes."""
        last = self.pipe_share.shape[1] - 1
        place = kg_s * (last / self.most_flow_kg_s)
        node = np.minimum(place.astype(np.intp), last - 1)
        return node, place - node

    def at(self, point: int, places: tuple[NDArray[np.intp], Numbers]) -> tuple[Numbers, Numbers]:
        """Conductance and share of pipe loss at a Gauss point."""
        node, past = places
        return (
            self.conductance_w_k[point][node] + past * self.conductance_steps[point][node],
            self.pipe_share[point][node] + past * self.pipe_share_steps[point][node],
        )


@lru_cache(maxsize=16)
def loss_tables(
    *,
    air_nodes_c: tuple[float, ...],
    wind_nodes_m_s: tuple[float, ...],
    oil: OilTable,
    receiver: ReceiverBuild,
    run: PipeRun,
    inlet_c: float,
    outlet_c: float,
) -> LossTables:
    """The losses over the grid of weather. Kept, read-only, for the last few sets of arguments: shifting a line changes
    none of them."""
    oil_c = _gauss_temperatures(oil, inlet_c, outlet_c)
    air, wind = np.asarray(air_nodes_c)[:, None, None], np.asarray(wind_nodes_m_s)[None, :, None]
    at_oil, near, far = (
        receiver.loss_w(oil_c + above, air, wind) for above in (0.0, _ABOVE_OIL_K, 2 * _ABOVE_OIL_K)
    )
    curve = (far - 2.0 * near + at_oil) / (2.0 * _ABOVE_OIL_K**2)
    slope = (near - at_oil) / _ABOVE_OIL_K - curve * _ABOVE_OIL_K
    along = pipe.insulated_loss_w_m(oil_c, air, wind, run=run)
    working = np.stack([at_oil, slope, curve, along], axis=-1).reshape(*at_oil.shape[:2], -1)

    span = np.maximum(0.5 * (inlet_c + outlet_c) - air, 1.0)
    loop_c = air + span * np.asarray(_GAUSS_PLACES)
    weights = 2.0 * np.asarray(_GAUSS_WEIGHTS) / span
    by_receiver = (receiver.loss_w(loop_c, air, wind) * weights).sum(axis=-1)
    by_pipe = (pipe.insulated_loss_w_m(loop_c, air, wind, run=run) * weights).sum(axis=-1)
    idle = np.stack([by_receiver, by_pipe], axis=-1)
    for table in (working, idle):
        table.flags.writeable = False
    return LossTables(working, idle)


@lru_cache(maxsize=16)
def film_tables(
    *,
    oil: OilTable,
    receiver: ReceiverBuild,
    run: PipeRun,
    inlet_c: float,
    outlet_c: float,
    most_flow_kg_s: float,
) -> FilmTables:
    """The films for flows up to ``most_flow_kg_s``. Kept, read-only, for the last few sets of arguments."""
    flows = most_flow_kg_s * np.linspace(1e-6, 1.0, _FLOW_NODES)
    oil_c = _gauss_temperatures(oil, inlet_c, outlet_c)[:, None]
    conductance = receiver.oil_conductance_w_k(receiver.film_w_m2k(oil, oil_c, flows))
    film = flow.inside_film_w_m2k(oil, oil_c, flows, bore_m=run.size.bore_m)
    # how much of the resistance lies inside hardly depends on the weather: a mild hour stands for all
    dry = (oil_c - 20.0) / pipe.insulated_loss_w_m(oil_c, 20.0, 3.0, run=run)
    share = dry / (dry + 1.0 / (np.pi * run.size.bore_m * film))
    tables = conductance, share, np.diff(conductance), np.diff(share)
    for table in tables:
        table.flags.writeable = False
    return FilmTables(most_flow_kg_s, *tables)


def _gauss_temperatures(oil: OilTable, inlet_c: float, outlet_c: float) -> Numbers:
    start, end = (float(oil.enthalpy_j_kg(t)) for t in (inlet_c, outlet_c))
    return oil.temperature_at(start + (end - start) * np.asarray(_GAUSS_PLACES))


@dataclass(frozen=True)
class WorkingLines:
    """Lines while they work, (H, L): flow in kg/s at which the outlet is held (0 where it cannot be), and the losses in
    W of receivers and pipe in that state."""

    flow_kg_s: Numbers
    receiver_loss_w: Numbers
    pipe_loss_w: Numbers


def work_lines(
    *,
    absorbed_w: Numbers,
    working: Numbers,
    films: FilmTables,
    mirrors: Numbers,
    pipe_m: Numbers,
    rise_j_kg: float,
) -> WorkingLines:
    """All hours (H) of all lines (L): ``absorbed_w`` (H, L), ``working`` (H, 12) the loss table spread over the hours,
    ``mirrors`` and ``pipe_m`` (L,), ``rise_j_kg`` the oil's enthalpy at the outlet less that at the inlet."""
    flow_kg_s, receiver_w, pipe_w = (np.zeros(absorbed_w.shape) for _part in range(3))
    # in the other hours the receivers alone would lose more, even with absorbers no hotter than the coolest oil
    bright = np.flatnonzero((absorbed_w > mirrors * working[:, :1]).any(axis=1))
    step = max(1, _CHUNK // max(mirrors.size, 1))
    for first in range(0, bright.size, step):
        part = bright[first : first + step]
        flow_kg_s[part], receiver_w[part], pipe_w[part] = _work_chunk(
            absorbed_w[part], working[part], films, mirrors, pipe_m, rise_j_kg
        )
    return WorkingLines(flow_kg_s, receiver_w, pipe_w)


def work_moments(
    *,
    absorbed_w: Numbers,
    working: Numbers,
    films: FilmTables,
    mirrors: Numbers,
    pipe_m: Numbers,
    rise_j_kg: float,
) -> WorkingLines:
    """The same for moments (N,) each of a line of its own: ``absorbed_w``, ``mirrors`` and ``pipe_m`` (N,), ``working`` (N, 12);
    the answer is (N,)."""
    found = np.zeros((3, absorbed_w.size))
    bright = np.flatnonzero(absorbed_w > mirrors * working[:, 0])
    for first in range(0, bright.size, _CHUNK):
        part = bright[first : first + _CHUNK]
        light, count, length = (values[part, None] for values in (absorbed_w, mirrors, pipe_m))
        answer = _work_chunk(light, working[part], films, count, length, rise_j_kg)
        found[:, part] = [values[:, 0] for values in answer]
    return WorkingLines(*found)


def _work_chunk(
    absorbed_w: Numbers,
    working: Numbers,
    tables: FilmTables,
    mirrors: Numbers,
    pipe_m: Numbers,
    rise_j_kg: float,
) -> tuple[Numbers, Numbers, Numbers]:
    each = absorbed_w / np.maximum(mirrors, 1.0)
    columns = [working[:, i : i + 1] for i in range(working.shape[1])]
    kg_s = np.maximum(absorbed_w - mirrors * columns[4] - pipe_m * columns[7], 0.0) / rise_j_kg
    # the flow sets the films, the films the losses, these the flow: the middle point alone comes near
    films = tables.at(1, tables.places(kg_s))
    gain, _receivers, _pipe = _gain(absorbed_w, each, columns[4:8], films, mirrors, pipe_m)
    places = tables.places(np.maximum(gain, 0.0) / rise_j_kg)

    resistance = np.zeros_like(absorbed_w)
    receiver_w = np.zeros_like(absorbed_w)
    pipe_w = np.zeros_like(absorbed_w)
    holds = absorbed_w > 0.0
    for point, weight in enumerate(_GAUSS_WEIGHTS):
        gain, receivers, along = _gain(
            absorbed_w, each, columns[4 * point : 4 * point + 4], tables.at(point, places), mirrors, pipe_m
        )
        holds &= gain > 0.0
        share = weight / np.where(gain > 0.0, gain, np.inf)
        resistance += share
        receiver_w += share * receivers
        pipe_w += share * along
    mean_gain = np.where(holds, 1.0, 0.0) / np.where(resistance > 0.0, resistance, np.inf)
    return mean_gain / rise_j_kg, receiver_w * mean_gain, pipe_w * mean_gain


def _gain(
    absorbed_w: Numbers,
    each_w: Numbers,
    columns: list[Numbers],
    films: tuple[Numbers, Numbers],
    mirrors: Numbers,
    pipe_m: Numbers,
) -> tuple[Numbers, Numbers, Numbers]:
    """Net heat, receivers' and pipe's loss in W, if all of the line lay at one Gauss point."""
    loss, slope, curve, along = columns
    conductance, share = films
    stiff = conductance + slope
    above = np.clip((each_w - loss) / stiff, 0.0, _MOST_ABOVE_OIL_K)
    above -= curve * above * above / (stiff + 2.0 * curve * above)
    receivers = mirrors * (loss + above * (slope + curve * above))
    pipe_w = pipe_m * along * share
    return absorbed_w - receivers - pipe_w, receivers, pipe_w
