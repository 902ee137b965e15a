"""The year of hours: closing, warm-up against a stepwise integration, emptiness, refusals."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from studio.engine.heat import steel, warmup
from studio.engine.heat.flow import inside_film_w_m2k
from studio.engine.heat.oil import HEAVY_MINERAL_OIL
from studio.engine.heat.pipe import PipeRun, insulated_loss_w_m, pipe_size
from studio.engine.heat.receiver import ReceiverBuild
from studio.engine.heat.year import Conditions, HeaderHeat, LineHeat
from studio.errors import BadInputError
from tests.engine.heat.by_line import HeatByLine, heat_by_line

Numbers = NDArray[np.float64]
RUN = PipeRun(pipe_size("medium-20"), 50.0)
LINE = LineHeat(mirrors=12, pipe_m=30.0, steel_kg=110.0, oil_kg=25.0)
NO_HEADER = HeaderHeat(0.0, 0.0, RUN, 0.0, 0.0)
HEADER = HeaderHeat(20.0, 20.0, PipeRun(pipe_size("medium-40"), 80.0), 140.0, 40.0)


def sunny_days(hours: int, each_w: float = 900.0) -> Numbers:
    """Invented: a smooth bell of light from 7 to 17 on each receiver."""
    hour = np.arange(hours) % 24 + 0.5
    return each_w * np.sin(np.pi * np.clip((hour - 7) / 10, 0, 1)) ** 0.6


def run_year(
    absorbed_w: Numbers, lines: tuple[LineHeat, ...], *, header: HeaderHeat = HEADER, **change: Any
) -> HeatByLine:
    hours = absorbed_w.shape[0]
    hour = np.arange(hours) % 24
    given_: dict[str, Any] = {
        "air_c": 15.0 + 6.0 * np.cos((hour - 14) / 24 * 2 * np.pi),
        "wind_m_s": 2.0 + np.sin(hour / 24 * 2 * np.pi),
        "oil": HEAVY_MINERAL_OIL,
        "inlet_c": 250.0,
        "outlet_c": 300.0,
        "least_flow_kg_s": 0.01,
        "receiver": ReceiverBuild(),
        "pipe": RUN,
    }
    return heat_by_line(absorbed_w, lines, header, Conditions(**(given_ | change)))


def rest_w(year: HeatByLine) -> Numbers:
    by_line = year.absorbed_w - year.receiver_loss_w - year.line_pipe_loss_w - year.idle_loss_w
    left: Numbers = by_line.sum(axis=1) - year.header_loss_w - year.outlet_w
    return left


@settings(max_examples=30, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    count=st.integers(1, 5),
    least=st.floats(0, 0.05),
    inlet=st.floats(120, 280),
    header_m=st.floats(0, 60),
)
def test_energy_closes_every_hour(seed: int, count: int, least: float, inlet: float, header_m: float) -> None:
    draw = np.random.default_rng(seed)
    hours = 24 * 9 + 5
    light = sunny_days(hours)[:, None] * 12 * draw.uniform(0, 1.2, (hours, count))
    lines = tuple(
        LineHeat(int(draw.integers(1, 20)), float(draw.uniform(0, 60)), float(draw.uniform(0, 300)), 20.0)
        for _line in range(count)
    )
    header = replace(HEADER, supply_m=header_m, return_m=header_m)
    year = run_year(light, lines, least_flow_kg_s=least, inlet_c=inlet, header=header)
    assert np.abs(rest_w(year)).max() <= 1e-9 * light.sum(axis=1).max()
    for part in (
        year.receiver_loss_w,
        year.line_pipe_loss_w,
        year.header_loss_w,
        year.outlet_w,
        year.flow_kg_s,
    ):
        assert part.min() >= 0
    assert year.idle_loss_w.min() >= -1e-6
    parts = year.receiver_loss_kwh + year.line_pipe_loss_kwh + year.header_loss_kwh + year.idle_loss_kwh
    assert year.absorbed_kwh - parts == pytest.approx(year.outlet_kwh, abs=1e-9 * year.absorbed_kwh)


def test_first_day_against_small_steps() -> None:
    """One clear day, integrated in steps of 10 s with the true losses at every temperature (a lump that warms, works
    from the mean working temperature on, then cools): warm-up heat within 1 %, outlet heat within 2 %."""
    each = sunny_days(24)
    year = run_year((12 * each)[:, None], (LINE,), header=NO_HEADER)

    receiver, oil, working_c = ReceiverBuild(), HEAVY_MINERAL_OIL, 275.0
    rise = float(oil.enthalpy_j_kg(300.0) - oil.enthalpy_j_kg(250.0))
    loop_c, dt, stored_j, out_j = 15.0 + 6.0 * np.cos(-14 / 24 * 2 * np.pi), 10.0, 0.0, 0.0
    grid = np.linspace(-5.0, 340.0, 70)
    for hour in range(24):
        air = 15.0 + 6.0 * np.cos((hour - 14) / 24 * 2 * np.pi)
        wind = 2.0 + np.sin(hour / 24 * 2 * np.pi)
        lost = 12 * receiver.loss_w(grid, air, wind) + 30 * insulated_loss_w_m(grid, air, wind, run=RUN)
        useful_w, kg_s = 0.0, 0.05
        for _round in range(6):
            film = receiver.film_w_m2k(oil, working_c, kg_s)
            inside = inside_film_w_m2k(oil, working_c, kg_s, bore_m=RUN.size.bore_m)
            along = insulated_loss_w_m(working_c, air, wind, run=RUN, inside_w_m2k=inside)
            useful_w = float(12 * receiver.useful_w(each[hour], working_c, air, wind, film) - 30 * along)
            kg_s = max(useful_w / rise, 0.002)
        for _step in range(360):
            net_w = 12 * each[hour] - float(np.interp(loop_c, grid, lost))
            steel_j_k = 110.0 * float(steel.heat_capacity_j_kgk(loop_c))
            capacity = steel_j_k + 25.0 * float(oil.heat_capacity(loop_c))
            if loop_c >= working_c and useful_w > 0.01 * rise:
                out_j += useful_w * dt
            elif loop_c < working_c or net_w < 0:
                stored_j += max(net_w, 0.0) * dt
                loop_c += net_w * dt / capacity
    assert year.warm_up_kwh == pytest.approx(stored_j / 3.6e6, rel=0.01)
    assert year.outlet_kwh == pytest.approx(out_j / 3.6e6, rel=0.02)
    assert year.outlet_kwh > 10


def test_a_loop_cools_as_an_exponential_and_never_passes_working_temperature() -> None:
    hours = 72
    heat = np.zeros((hours, 2))
    heat[10:16] = (9000.0, 1500.0)
    loops = warmup.Loops(
        heat_w=heat,
        conductance_w_k=np.full((hours, 2), 20.0),
        capacity_j_k=np.array([120e3, 90e3]),
        air_c=np.full(hours, 10.0),
        working_c=275.0,
    )
    start = warmup.temperatures_at_start(loops)
    assert start[:10] == pytest.approx(10.0)
    assert start[16, 0] == 275.0
    assert start[:, 1].max() < 10.0 + 1500 / 20
    after = np.arange(8)
    cooling = 10 + 265 * np.exp(-20.0 * 3600 / 120e3 * after)
    np.testing.assert_allclose(start[16:24, 0], cooling, rtol=1e-9)
    warming = warmup.warm_up(loops, start)
    # what went in until the lag was over is what was stored and lost
    np.testing.assert_allclose(warming.stored_w + warming.lost_w, heat * warming.lag, atol=1e-8)
    assert warming.lag[12, 0] < 1
    assert np.all(warming.lag[10:16, 1] == 1)


def test_days_follow_each_other_as_hour_by_hour() -> None:
    """The blocks that run side by side give what one hour after the other gives."""
    draw = np.random.default_rng(3)
    hours = 24 * 30 + 7
    loops = warmup.Loops(
        heat_w=draw.uniform(0, 6000, (hours, 3)) * (draw.uniform(size=(hours, 1)) < 0.3),
        conductance_w_k=draw.uniform(1, 4, (hours, 3)),  # a slow loop: nights are remembered
        capacity_j_k=np.array([50e3, 500e3, 5e6]),
        air_c=draw.uniform(-5, 30, hours),
        working_c=280.0,
    )
    now = np.full(3, loops.air_c[0])
    expected = []
    for hour in range(hours):
        expected.append(now)
        aim = loops.air_c[hour] + loops.heat_w[hour] / loops.conductance_w_k[hour]
        now = np.minimum(
            aim + (now - aim) * np.exp(-3600 * loops.conductance_w_k[hour] / loops.capacity_j_k), 280.0
        )
    np.testing.assert_allclose(warmup.temperatures_at_start(loops), np.array(expected), atol=0.01)


def test_more_steel_leaves_less_heat_and_shows_as_idle() -> None:
    light = (12 * sunny_days(240))[:, None]
    light_line, heavy_line = (run_year(light, (replace(LINE, steel_kg=kg),)) for kg in (50.0, 400.0))
    assert heavy_line.outlet_kwh < light_line.outlet_kwh
    assert heavy_line.warm_up_kwh > light_line.warm_up_kwh
    assert heavy_line.idle_loss_kwh > light_line.idle_loss_kwh


def test_below_the_least_flow_nothing_is_delivered() -> None:
    light = (12 * sunny_days(48))[:, None]
    free = run_year(light, (LINE,), least_flow_kg_s=0.0, header=NO_HEADER)
    most = float(free.flow_kg_s.max())
    held = run_year(light, (LINE,), least_flow_kg_s=1.01 * most, header=NO_HEADER)
    assert held.outlet_kwh == 0
    assert held.idle_loss_kwh == pytest.approx(held.absorbed_kwh)
    some = run_year(light, (LINE,), least_flow_kg_s=0.9 * most, header=NO_HEADER)
    assert 0 < some.outlet_kwh < free.outlet_kwh


def test_outlet_heat_falls_with_temperature_and_wind() -> None:
    light = (12 * sunny_days(120))[:, None]
    by_temperature = [
        run_year(light, (LINE,), inlet_c=t - 50, outlet_c=t).outlet_kwh for t in (150, 200, 250, 300)
    ]
    assert by_temperature == sorted(by_temperature, reverse=True)
    calm, windy = (run_year(light, (LINE,), wind_m_s=np.full(120, w)).outlet_kwh for w in (1.0, 8.0))
    assert windy < calm


def test_lines_stand_for_themselves() -> None:
    light = (12 * sunny_days(96))[:, None] * np.array([1.0, 0.7])
    both = run_year(light, (LINE, LINE), header=NO_HEADER)
    alone = [run_year(light[:, [i]], (LINE,), header=NO_HEADER) for i in (0, 1)]
    assert both.outlet_kwh == pytest.approx(sum(year.outlet_kwh for year in alone), rel=1e-4)
    assert both.delivering_h[0] > both.delivering_h[1]


def test_headers_take_their_share() -> None:
    light = (12 * sunny_days(96))[:, None]
    without, with_ = (run_year(light, (LINE,), header=header) for header in (NO_HEADER, HEADER))
    assert without.header_loss_kwh == 0
    assert with_.header_loss_kwh > 0
    assert with_.outlet_kwh < without.outlet_kwh
    hopeless = run_year(light, (LINE,), header=replace(HEADER, supply_m=500.0, return_m=500.0))
    assert hopeless.outlet_kwh == 0
    assert np.abs(rest_w(hopeless)).max() < 1e-6


def test_nothing_gives_nothing() -> None:
    no_lines = run_year(np.zeros((48, 0)), ())
    assert no_lines.outlet_w.shape == (48,)
    assert no_lines.absorbed_kwh == no_lines.outlet_kwh == 0
    dark = run_year(np.zeros((48, 2)), (LINE, LINE))
    assert dark.flow_kg_s.shape == (48, 2)
    assert dark.idle_loss_kwh == 0
    light = (12 * sunny_days(48))[:, None] * np.array([1.0, 0.0])
    bare = run_year(light, (LINE, LineHeat(0, 0.0, 0.0, 0.0)))
    assert not bare.flow_kg_s[:, 1].any()
    assert np.abs(bare.idle_loss_w[:, 1]).max() < 1e-9
    no_hours = run_year(np.zeros((0, 1)), (LINE,))
    assert no_hours.outlet_kwh == 0


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"outlet_c": 340.0}, "outlet temperature is 340"),
        ({"inlet_c": 300.0, "outlet_c": 250.0}, "leave hotter"),
        ({"least_flow_kg_s": -1.0}, "least flow"),
        ({"air_c": np.zeros(5)}, "as many values"),
        ({"wind_m_s": np.full(24, -1.0)}, "Wind"),
        ({"air_c": np.full(24, np.nan)}, "must be numbers"),
        ({"wind_m_s": np.full(24, np.inf)}, "must be numbers"),
    ],
)
def test_bad_input_is_refused(change: dict[str, Any], says: str) -> None:
    with pytest.raises(BadInputError, match=says):
        run_year((12 * sunny_days(24))[:, None], (LINE,), **change)


def test_bad_lines_are_refused() -> None:
    with pytest.raises(BadInputError, match="Line 2"):
        run_year(np.zeros((24, 2)), (LINE, replace(LINE, pipe_m=-1.0)))


@pytest.mark.parametrize("value", [np.nan, np.inf, -1.0])
def test_light_that_cannot_be_is_refused(value: float) -> None:
    light = (12 * sunny_days(24))[:, None]
    light[12] = value
    with pytest.raises(BadInputError, match="0 W or more"):
        run_year(light, (LINE,))


def test_light_of_other_hours_or_lines_is_refused() -> None:
    year: dict[str, Any] = {"air_c": np.zeros(24), "wind_m_s": np.zeros(24)}
    with pytest.raises(BadInputError, match=r"1 lines in 24 hours cannot come as a table of 20 × 1"):
        run_year(np.ones((20, 1)), (LINE,), **year)
    with pytest.raises(BadInputError, match=r"a table of 24 × 2"):
        run_year(np.ones((24, 2)), (LINE,), **year)


@pytest.mark.parametrize(("header", "share"), [(NO_HEADER, 2e-3), (HEADER, 1e-2)])
def test_half_steps_of_the_same_weather(header: HeaderHeat, share: float) -> None:
    """Within a step a line is exact, so that cutting each in two changes next to nothing; headers take the lines' mean
    over the step in which these begin to deliver, which costs a little."""
    draw = np.random.default_rng(5)
    hours, lines = 24 * 40, (LINE,) * 6
    light = np.repeat((12 * sunny_days(hours) * draw.uniform(0.3, 1.1, hours))[:, None], 6, axis=1)
    air, wind = draw.uniform(0, 30, hours), draw.uniform(0, 8, hours)
    whole = run_year(light, lines, air_c=air, wind_m_s=wind, header=header)
    halves = run_year(
        np.repeat(light, 2, axis=0),
        lines,
        air_c=np.repeat(air, 2),
        wind_m_s=np.repeat(wind, 2),
        header=header,
        step_h=0.5,
    )
    assert halves.absorbed_kwh == pytest.approx(whole.absorbed_kwh)
    assert halves.outlet_kwh == pytest.approx(whole.outlet_kwh, rel=share)
    assert halves.idle_loss_kwh == pytest.approx(whole.idle_loss_kwh, rel=share)
