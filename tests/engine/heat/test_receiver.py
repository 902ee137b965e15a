"""The receiver's balance."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.engine.heat.oil import HEAVY_MINERAL_OIL
from studio.engine.heat.receiver import BLACK_PAINT, SELECTIVE_COATING, ReceiverBuild
from studio.errors import BadInputError, ComputationError

OPEN = ReceiverBuild()
GLAZED = ReceiverBuild(cover=True)


@pytest.mark.parametrize("receiver", [OPEN, GLAZED])
@given(
    light=st.floats(0, 3000),
    oil_c=st.floats(20, 350),
    air_c=st.floats(-20, 45),
    wind=st.floats(0, 20),
    film=st.floats(20, 2000),
)
def test_light_is_oil_heat_plus_loss(
    receiver: ReceiverBuild, light: float, oil_c: float, air_c: float, wind: float, film: float
) -> None:
    absorber = receiver.absorber_c(light, oil_c, air_c, wind, film)
    useful = receiver.useful_w(light, oil_c, air_c, wind, film)
    assert float(useful + receiver.loss_w(absorber, air_c, wind)) == pytest.approx(light, abs=1e-3)


@pytest.mark.parametrize("receiver", [OPEN, GLAZED])
def test_loss_grows_with_temperature_and_wind(receiver: ReceiverBuild) -> None:
    assert np.all(np.diff(receiver.loss_w(np.linspace(50, 500, 20), 20.0, 2.0)) > 0)
    assert np.all(np.diff(receiver.loss_w(300.0, 20.0, np.linspace(0, 15, 16))) > 0)
    assert float(receiver.loss_w(20.0, 20.0, 3.0)) == pytest.approx(0, abs=1e-6)


def test_glass_and_selective_coating_save_heat() -> None:
    black = replace(OPEN, coating=BLACK_PAINT)
    assert GLAZED.loss_w(300.0, 20.0, 3.0) < OPEN.loss_w(300.0, 20.0, 3.0) < black.loss_w(300.0, 20.0, 3.0)
    assert GLAZED.absorptance < SELECTIVE_COATING.absorptance


def test_a_cavity_looks_blacker_both_ways() -> None:
    cavity = replace(OPEN, absorber_area_factor=4.0)
    assert cavity.absorptance > OPEN.absorptance
    assert cavity.radiation_w(300.0, 20.0) > OPEN.radiation_w(300.0, 20.0)
    black_body = replace(OPEN, coating=BLACK_PAINT, absorber_area_factor=1e9)
    assert black_body.absorptance == pytest.approx(1.0)


def test_stagnation_is_where_loss_takes_all_light() -> None:
    hot = OPEN.stagnation_c([300.0, 900.0])
    np.testing.assert_allclose(OPEN.loss_w(hot, 25.0, 0.0), [300.0, 900.0], rtol=1e-6)
    peak = OPEN.stagnation_peak_c(900.0 / OPEN.window_m2)
    assert float(peak) == pytest.approx(float(hot[1]))
    assert OPEN.stagnation_c(900.0, wind_m_s=8.0) < hot[1]


def test_more_oil_keeps_the_absorber_nearer_to_it() -> None:
    films = OPEN.film_w_m2k(HEAVY_MINERAL_OIL, 275.0, np.array([0.01, 0.05, 0.2]))
    assert np.all(np.diff(films) > 0)
    absorber = OPEN.absorber_c(900.0, 275.0, 20.0, 1.0, films)
    assert np.all(np.diff(absorber) < 0)
    assert np.all(absorber > 275.0)
    assert np.all(OPEN.film_peak_c(275.0, 40e3, films) > absorber)
    assert np.all(np.diff(OPEN.pressure_loss_pa(HEAVY_MINERAL_OIL, 275.0, np.array([0.01, 0.05, 0.2]))) > 0)


def test_fins_carry_heat_but_never_more_than_their_area() -> None:
    bare = replace(OPEN, fins=0)
    ratio = OPEN.oil_conductance_w_k(100.0) / bare.oil_conductance_w_k(100.0)
    area = 1 + (2 * OPEN.fins * OPEN.fin_height_mm / 1000 - OPEN.fins * OPEN.fin_thickness_mm / 1000) / 0.175
    assert 2 < ratio < area


def test_oil_content_is_the_room_between_the_fins() -> None:
    room = 0.2 * (0.175 - 34 * 0.0015) * 0.010
    assert OPEN.oil_content_m3() == pytest.approx(room)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"window_width_m": 0.0}, "window width"),
        ({"absorber_area_factor": 0.5}, "smaller than the window"),
        ({"facing_down_deg": 120.0}, "degrees down"),
        ({"fins": 200}, "no channel"),
    ],
)
def test_bad_builds_are_refused(change: dict[str, Any], says: str) -> None:
    with pytest.raises(BadInputError, match=says):
        replace(OPEN, **change)


def test_no_balance_is_an_error_not_a_number() -> None:
    with pytest.raises(ComputationError, match="absorber"):
        OPEN.stagnation_c(np.array([np.nan]))
