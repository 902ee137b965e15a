"""The fast form of a line against the exact march, receiver by receiver."""

from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from studio.engine.heat import fast
from studio.engine.heat.line import LineMarch, march_line, march_to_outlet
from studio.engine.heat.oil import HEAVY_MINERAL_OIL, LIGHT_MINERAL_OIL, OilTable
from studio.engine.heat.pipe import PipeRun, pipe_size
from studio.engine.heat.receiver import BLACK_PAINT, ReceiverBuild
from studio.errors import ComputationError

Numbers = NDArray[np.float64]
RUN = PipeRun(pipe_size("medium-20"), 50.0)
OPEN = ReceiverBuild()
EACH_W = np.array([550.0, 600, 700, 800, 900, 1000, 1100])
AIR_C = np.array([0.0, 10, 20, 30, 35, 5, 15])
WIND_M_S = np.array([0.3, 2, 4, 8, 1, 2.2, 6])


@dataclass(frozen=True)
class Case:
    mirrors: int
    inlet_c: float
    receiver: ReceiverBuild = OPEN
    oil: OilTable = HEAVY_MINERAL_OIL
    piece_m: float = 2.5
    outlet_c: float = 300.0


def pieces(case: Case) -> Numbers:
    """Half a piece before the first and behind the last receiver."""
    half = case.piece_m / 2
    return np.array([half] + [case.piece_m] * (case.mirrors - 1) + [half])


def exact(case: Case, each_w: Numbers) -> LineMarch:
    return march_to_outlet(
        absorbed_w=np.repeat(each_w[:, None], case.mirrors, axis=1),
        inlet_c=case.inlet_c,
        outlet_c=case.outlet_c,
        air_c=AIR_C[: each_w.size],
        wind_m_s=WIND_M_S[: each_w.size],
        oil=case.oil,
        receiver=case.receiver,
        run=RUN,
        pieces_m=pieces(case),
    )


def quick(case: Case, each_w: Numbers) -> tuple[fast.WorkingLines, float]:
    places = fast.place_weather(AIR_C, WIND_M_S)
    rise = float(case.oil.enthalpy_j_kg(case.outlet_c) - case.oil.enthalpy_j_kg(case.inlet_c))
    tables = fast.loss_tables(
        air_nodes_c=tuple(places.air_nodes_c.tolist()),
        wind_nodes_m_s=tuple(places.wind_nodes_m_s.tolist()),
        oil=case.oil,
        receiver=case.receiver,
        run=RUN,
        inlet_c=case.inlet_c,
        outlet_c=case.outlet_c,
    )
    light = (each_w * case.mirrors)[:, None]
    films = fast.film_tables(
        oil=case.oil,
        receiver=case.receiver,
        run=RUN,
        inlet_c=case.inlet_c,
        outlet_c=case.outlet_c,
        most_flow_kg_s=float(light.max()) / rise,
    )
    working = fast.work_lines(
        absorbed_w=light,
        working=places.spread(tables.working),
        films=films,
        mirrors=np.array([float(case.mirrors)]),
        pipe_m=np.array([case.mirrors * case.piece_m]),
        rise_j_kg=rise,
    )
    return working, rise


@pytest.mark.parametrize(
    "case",
    [
        Case(12, 250.0),
        Case(12, 200.0),
        Case(4, 250.0),
        Case(30, 250.0, receiver=ReceiverBuild(cover=True), piece_m=2.0),
        Case(12, 250.0, receiver=ReceiverBuild(coating=BLACK_PAINT)),
        Case(12, 200.0, receiver=ReceiverBuild(fins=10)),
        Case(12, 230.0, oil=LIGHT_MINERAL_OIL),
    ],
    ids=lambda case: f"{case.mirrors} from {case.inlet_c:g}",
)
def test_fast_form_against_the_march(case: Case, capsys: pytest.CaptureFixture[str]) -> None:
    march = exact(case, EACH_W)
    working, rise = quick(case, EACH_W)
    heat_w = working.flow_kg_s[:, 0] * rise
    off = heat_w / march.heat_w - 1
    with capsys.disabled():
        print(
            f"\n{case.mirrors} receivers, {case.inlet_c:g} degC in: off by {np.abs(off).max():.2%} at most",
            end="",
        )
    assert np.abs(off).max() < 5e-3
    np.testing.assert_allclose(working.receiver_loss_w[:, 0], march.receiver_loss_w.sum(axis=1), rtol=6e-3)
    np.testing.assert_allclose(working.pipe_loss_w[:, 0], march.pipe_loss_w.sum(axis=1), rtol=2e-2)


def test_a_coarser_rule_is_seen_to_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison can fail: one Gauss point thrice over is off by more than the test allows."""
    case = Case(12, 150.0, receiver=ReceiverBuild(coating=BLACK_PAINT))
    march = exact(case, EACH_W[:2])
    monkeypatch.setattr(fast, "_GAUSS_PLACES", (0.5, 0.5, 0.5))
    fast.loss_tables.cache_clear()
    working, rise = quick(case, EACH_W)
    fast.loss_tables.cache_clear()
    assert np.abs(working.flow_kg_s[:2, 0] * rise / march.heat_w - 1).max() > 5e-3


def test_march_closes_and_reaches_its_outlet() -> None:
    march = exact(Case(6, 240.0), EACH_W)
    np.testing.assert_allclose(march.outlet_c, 300.0, atol=1e-4)
    light = EACH_W * 6
    closed = march.receiver_loss_w.sum(axis=1) + march.pipe_loss_w.sum(axis=1) + march.heat_w
    np.testing.assert_allclose(closed, light, rtol=1e-9)
    assert np.all(np.diff(march.absorber_c, axis=1) > 0)


def test_fast_form_closes_to_round_off() -> None:
    working, rise = quick(Case(12, 250.0), EACH_W)
    rest = (EACH_W * 12)[:, None] - working.receiver_loss_w - working.pipe_loss_w - rise * working.flow_kg_s
    assert np.abs(rest).max() < 1e-7


def test_uneven_light_along_a_line_hardly_matters() -> None:
    """Light rising or falling by 20 % to either side along a line moves the heat by less than 1 %: the fast form may
    spread it evenly."""
    case = Case(12, 250.0)
    even = exact(case, EACH_W[4:5])
    slope = np.linspace(0.8, 1.2, 12)
    for share in (slope, slope[::-1]):
        uneven = march_to_outlet(
            absorbed_w=EACH_W[4] * share[None, :],
            inlet_c=250.0,
            outlet_c=300.0,
            air_c=AIR_C[:1],
            wind_m_s=WIND_M_S[:1],
            oil=case.oil,
            receiver=case.receiver,
            run=RUN,
            pieces_m=pieces(case),
        )
        assert float(uneven.heat_w[0]) == pytest.approx(float(even.heat_w[0]), rel=0.01)


def test_less_flow_leaves_hotter() -> None:
    def outlet(kg_s: float) -> float:
        march = march_line(
            absorbed_w=np.full((1, 5), 800.0),
            flow_kg_s=kg_s,
            inlet_c=250.0,
            air_c=20.0,
            wind_m_s=1.0,
            oil=HEAVY_MINERAL_OIL,
            receiver=ReceiverBuild(),
            run=RUN,
            pieces_m=np.full(6, 1.0),
        )
        return float(march.outlet_c[0])

    assert outlet(0.02) > outlet(0.05) > outlet(0.5) > 250.0


def test_a_line_in_the_dark_cannot_hold_its_outlet() -> None:
    with pytest.raises(ComputationError, match="cannot hold its outlet"):
        exact(Case(3, 250.0), np.array([40.0]))
    working, _rise = quick(Case(3, 250.0), np.full(7, 40.0))
    assert not working.flow_kg_s.any()
