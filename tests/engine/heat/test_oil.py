"""Oil tables: interpolation, enthalpy and its inverse, refusals."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.engine.heat.oil import (
    DIPHENYL_OXIDE_EUTECTIC,
    HEAVY_MINERAL_OIL,
    LIGHT_MINERAL_OIL,
    OilTable,
)
from studio.errors import BadInputError

OILS = (HEAVY_MINERAL_OIL, LIGHT_MINERAL_OIL, DIPHENYL_OXIDE_EUTECTIC)


@pytest.mark.parametrize("oil", OILS)
@given(t=st.floats(-30, 420))
def test_enthalpy_and_back(oil: OilTable, t: float) -> None:
    assert float(oil.temperature_at(oil.enthalpy_j_kg(t))) == pytest.approx(t, abs=1e-8)


@pytest.mark.parametrize("oil", OILS)
def test_enthalpy_is_the_integral_of_the_heat_capacity(oil: OilTable) -> None:
    fine = np.linspace(0.0, 400.0, 400_001)
    steps = 0.5 * (oil.heat_capacity(fine[1:]) + oil.heat_capacity(fine[:-1])) * np.diff(fine)
    at = np.array([0, 37_000, 250_000, 300_000, 400_000])
    summed = np.concatenate([[0.0], np.cumsum(steps)])[at]
    np.testing.assert_allclose(oil.enthalpy_j_kg(fine[at]), summed, rtol=1e-8, atol=1e-6)


def test_properties_meet_the_table_and_hold_its_ends() -> None:
    oil = HEAVY_MINERAL_OIL
    np.testing.assert_allclose(oil.viscosity_pa_s(oil.temperature_c) * 1000, oil.viscosity_mpa_s)
    assert float(oil.density(-20.0)) == 909
    assert float(oil.viscosity_pa_s(400.0)) * 1000 == pytest.approx(0.94)
    assert np.isnan(oil.vapour_pressure(20.0))


def test_viscosity_lies_between_its_neighbours_below_the_straight_line() -> None:
    middle = float(HEAVY_MINERAL_OIL.viscosity_pa_s(90.0)) * 1000
    assert 26.64 < middle < 0.5 * (54.5 + 26.64)


def test_growth_of_nothing_and_back() -> None:
    assert HEAVY_MINERAL_OIL.expansion_m3(0.0, cold_c=20, hot_c=300) == 0
    grown = HEAVY_MINERAL_OIL.expansion_m3(50.0, cold_c=20, hot_c=300)
    assert HEAVY_MINERAL_OIL.expansion_m3(50.0, cold_c=300, hot_c=20) == pytest.approx(-grown)


def test_bad_tables_are_refused() -> None:
    with pytest.raises(BadInputError, match="must rise"):
        replace(HEAVY_MINERAL_OIL, temperature_c=(0, 20, 20, 60, 80, 100, 150, 200, 250, 300, 320))
    with pytest.raises(BadInputError, match="one value per temperature"):
        replace(HEAVY_MINERAL_OIL, density_kg_m3=(900.0, 800.0))
    with pytest.raises(BadInputError, match="above 0"):
        replace(HEAVY_MINERAL_OIL, viscosity_mpa_s=(0.0,) * 11)
    with pytest.raises(BadInputError, match="runs from 0 to 320"):
        HEAVY_MINERAL_OIL.require_within(330.0, what="The outlet")


@pytest.mark.parametrize("oil", OILS)
def test_limits_lie_in_order(oil: OilTable) -> None:
    assert oil.limits.flash_c < oil.limits.bulk_c < oil.limits.film_c
    assert oil.limits.bulk_c <= oil.hottest_c
    assert oil.limits.source
