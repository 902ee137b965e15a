"""Receiver and oil against published values. The source stands beside each check."""

from itertools import pairwise
from math import pi

import numpy as np
import pytest

from studio.engine.heat import convection
from studio.engine.heat.oil import (
    DIPHENYL_OXIDE_EUTECTIC,
    HEAVY_MINERAL_OIL,
    LIGHT_MINERAL_OIL,
    OilTable,
)
from studio.engine.heat.pipe import (
    radiated_w_m2,
)
from studio.engine.heat.receiver import (
    BLACK_PAINT,
    SELECTIVE_COATING,
    ReceiverBuild,
    fin_efficiency,
)
from studio.engine.heat.solve import temperature_where_zero

ABSOLUTE_ZERO_C = -273.15


# --- receiver ---------------------------------------------------------------------------------------------------------


def test_coatings_at_650_c() -> None:
    """Caron et al., Sol. Energy Mater. Sol. Cells (2022), nine laboratories."""
    assert pytest.approx(0.966, abs=0.002) == BLACK_PAINT.absorptance
    assert float(BLACK_PAINT.emittance(650.0)) == pytest.approx(0.808, abs=0.038)
    assert pytest.approx(0.945, abs=0.004) == SELECTIVE_COATING.absorptance
    assert float(SELECTIVE_COATING.emittance(650.0)) == pytest.approx(0.250, abs=0.005)


def test_black_paint_emits_as_silicone_bound_paints_do() -> None:
    """0.70 to 0.90: "Solar absorptance and emittance properties of several solar coatings" (1970s)."""
    emittance = BLACK_PAINT.emittance(np.linspace(0, 500, 11))
    assert emittance.min() >= 0.70
    assert emittance.max() <= 0.90


def test_no_coating_in_air_beats_the_goal_for_evacuated_receivers() -> None:
    """Emittance 0.07 at 400 degC: Kennedy & Price, NREL/CP-520-36997 (2005)."""
    assert float(SELECTIVE_COATING.emittance(400.0)) > 0.07


@pytest.mark.parametrize(
    ("hot_c", "cold_c", "emittance", "expected", "share"),
    [
        (300.0, ABSOLUTE_ZERO_C, 1.0, 6119.0, 1e-3),
        (400 - 273.15, ABSOLUTE_ZERO_C, 1.0, 1451.6, 1e-3),
        (400 - 273.15, 305 - 273.15, 0.85, 816.8, 1e-3),
        # 70 mm tube at 400 degC to glass at 60 degC, 240.7 W/m
        (400.0, 60.0, 0.10, 240.7 / (pi * 0.070), 5e-3),
    ],
)
def test_radiation(hot_c: float, cold_c: float, emittance: float, expected: float, share: float) -> None:
    """Stefan-Boltzmann law; the second and third value as in the tests of the library ht."""
    assert float(radiated_w_m2(hot_c, cold_c, emittance)) == pytest.approx(expected, rel=share)


@pytest.mark.parametrize(
    ("concentration", "absorptance", "emittance", "expected_c"),
    [(10, 0.9, 0.9, 374.9), (20, 0.95, 0.9, 508.0), (20, 0.95, 0.1, 1079.8), (50, 0.95, 0.9, 709.1)],
)
def test_stagnation_by_radiation_alone(
    concentration: float, absorptance: float, emittance: float, expected_c: float
) -> None:
    """a C G = e sigma T^4 at 1 kW/m2."""
    light = absorptance * concentration * 1000.0
    found = temperature_where_zero(
        lambda t: light - radiated_w_m2(t, ABSOLUTE_ZERO_C, emittance), np.array([300.0]), what="absorber"
    )
    assert float(found[0]) == pytest.approx(expected_c, abs=0.5)


def test_stagnation_of_a_black_absorber_passes_300_c() -> None:
    """Common practice, no source: a black-painted absorber at such a spot passes 300 degC with no oil flowing.

    A mirror of 1.8 m2, about 1 to 1.3 kW on a window of 0.2 x 0.175 m.
    """
    receiver = ReceiverBuild(coating=BLACK_PAINT)
    for light in (1000.0, 1300.0):
        assert float(receiver.stagnation_c(light * receiver.absorptance)) > 300.0


def test_free_convection_at_a_vertical_plate() -> None:
    """Bergman et al., Introduction to Heat Transfer, 6th ed., example 9.2."""
    assert float(convection.nusselt_vertical_plate(0.69 * 2.63e9, 0.69)) == pytest.approx(147.16, rel=1e-3)


def test_cylinder_in_cross_flow() -> None:
    """The same, example 7.3 with the equation of Churchill and Bernstein."""
    assert float(convection.nusselt_cylinder_in_wind(6071.0, 0.7)) == pytest.approx(40.637, rel=1e-3)


def test_convection_against_the_library_ht() -> None:
    """ht: Nu_vertical_plate_Churchill, Nu_horizontal_cylinder_Churchill_Chu, Nu_cylinder_Churchill_Bernstein."""
    ht = pytest.importorskip("ht")
    for pr, gr in ((0.69, 1e4), (0.70, 1e6), (0.71, 1e8)):
        plate = float(convection.nusselt_vertical_plate(pr * gr, pr))
        assert plate == pytest.approx(ht.Nu_vertical_plate_Churchill(Pr=pr, Gr=gr), rel=1e-9)
        around = float(convection.nusselt_horizontal_cylinder(pr * gr, pr))
        assert around == pytest.approx(ht.Nu_horizontal_cylinder_Churchill_Chu(Pr=pr, Gr=gr), rel=1e-9)
        wind = float(convection.nusselt_cylinder_in_wind(gr / 10, pr))
        assert wind == pytest.approx(ht.Nu_cylinder_Churchill_Bernstein(gr / 10, pr), rel=1e-9)


def test_air_from_memory() -> None:
    """Bergman et al., table A.4, values from memory: 300 K 26.3 mW/mK, 15.89e-6 m2/s; 400 K 33.8, 26.41e-6;
    500 K 40.7, 38.79e-6."""
    air = convection.air_at(np.array([300.0, 400.0, 500.0]) - 273.15)
    np.testing.assert_allclose(air.conductivity_w_mk, [0.0263, 0.0338, 0.0407], rtol=0.02)
    np.testing.assert_allclose(air.viscosity_m2_s, [15.89e-6, 26.41e-6, 38.79e-6], rtol=0.03)
    np.testing.assert_allclose(air.prandtl, [0.707, 0.690, 0.684], rtol=0.03)


@pytest.mark.parametrize(("ml", "expected"), [(0.5, 0.92423), (1.0, 0.76159), (2.0, 0.48201)])
def test_straight_fin(ml: float, expected: float) -> None:
    """tanh(mL)/mL, adiabatic tip (Bergman et al., section 3.6)."""
    assert float(fin_efficiency(ml)) == pytest.approx(expected, abs=1e-5)


def test_convection_falls_as_the_window_turns_down_and_rises_with_temperature() -> None:
    """Prakash, Kedare & Nayak, Solar Energy 83 (2009) 157: sign of both."""
    turned = [float(ReceiverBuild(facing_down_deg=d).convection_w(300.0, 20.0, 0.0)) for d in (0, 30, 60, 90)]
    assert all(a > b for a, b in pairwise(turned))
    warmer = ReceiverBuild().convection_w(np.array([50.0, 75.0, 150.0, 300.0]), 20.0, 0.0)
    assert np.all(np.diff(warmer) > 0)


def test_wind_above_5_m_s_rules_the_convection() -> None:
    """Reddy et al., Solar Energy 131 (2016) 183: forced loss dominates above 5 m/s for every tilt (sign)."""
    for down in (0.0, 45.0, 90.0):
        receiver = ReceiverBuild(facing_down_deg=down)
        calm, windy = receiver.convection_w(300.0, 20.0, np.array([0.0, 6.0]))
        # with power 3 the forced part alone is the larger when the sum passes the cube root of 2
        assert windy > 2 ** (1 / 3) * calm


def test_share_turned_into_heat_falls_with_temperature() -> None:
    """A fixed spherical mirror of 2.5 m with a tracking absorber: about 0.50 when cool, falling all the way to about
    0.30 near 300 degC; J. Solar Energy Eng. 104 (1982) 340 (abstract). Its absorber's size is not told: shape only."""
    receiver = ReceiverBuild(window_width_m=0.28, window_height_m=0.28, coating=BLACK_PAINT)
    light = 900.0 * 4.91
    useful = receiver.useful_w(0.50 * light, np.linspace(25, 300, 12), 20.0, 1.0, 300.0)
    share = useful / light
    assert np.all(np.diff(share) < 0)
    assert share[0] == pytest.approx(0.50, abs=0.05)
    assert 0.20 < share[-1] < 0.40


# --- oil --------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("oil", "table", "share"),
    [
        # Modelica Standard Library, Media.Incompressible, oil example
        (
            HEAVY_MINERAL_OIL,
            [
                (20, 897, 1850, 0.1288, 1917),
                (100, 846, 2130, 0.1232, 26.64),
                (200, 781, 2490, 0.1163, 3.22),
                (250, 748, 2670, 0.1128, 1.76),
                (300, 715, 2850, 0.1093, 1.10),
                (320, 702, 2920, 0.1079, 0.94),
            ],
            0.01,
        ),
        # CoolProp; Ziebland & Burton, J. Chem. Eng. Data 6 (1961) 579
        (
            DIPHENYL_OXIDE_EUTECTIC,
            [
                (20, 1064.9, 1543, 0.1363, 4.144),
                (100, 998.1, 1777, 0.1277, 1.003),
                (200, 913.5, 2046, 0.1138, 0.3865),
                (300, 816.8, 2315, 0.0964, 0.2200),
                (350, 760.3, 2459, 0.0864, 0.1795),
            ],
            0.02,
        ),
        # CoolProp
        (
            LIGHT_MINERAL_OIL,
            [
                (20, 861, 1881, 0.1337, 98),
                (200, 742, 2540, 0.1209, 1.22),
                (300, 666, 2901, 0.1134, 0.586),
            ],
            0.03,
        ),
    ],
)
def test_oil_tables(oil: OilTable, table: list[tuple[float, ...]], share: float) -> None:
    for t, density, capacity, conductivity, viscosity in table:
        assert float(oil.density(t)) == pytest.approx(density, rel=share)
        assert float(oil.heat_capacity(t)) == pytest.approx(capacity, rel=share)
        assert float(oil.conductivity(t)) == pytest.approx(conductivity, rel=share)
        assert float(oil.viscosity_pa_s(t)) * 1000 == pytest.approx(viscosity, rel=share)


def test_vapour_pressures() -> None:
    """CoolProp for the eutectic (257 degC is its normal boiling point); Modelica's table for the mineral oil."""
    eutectic = DIPHENYL_OXIDE_EUTECTIC.vapour_pressure
    assert float(eutectic(257.0)) == pytest.approx(100.9, abs=2.0)
    assert float(eutectic(300.0)) == pytest.approx(239.0, rel=0.05)
    assert float(eutectic(350.0)) == pytest.approx(548.0, rel=0.05)
    mineral = HEAVY_MINERAL_OIL.vapour_pressure
    assert float(mineral(300.0)) == pytest.approx(3.0, rel=0.2)
    assert float(mineral(260.0)) == pytest.approx(0.6, rel=0.2)  # between two of our nodes
    assert 2.0 < float(LIGHT_MINERAL_OIL.vapour_pressure(300.0)) < 3.0


def test_heavy_oil_between_its_nodes() -> None:
    """The same table has 1.6 kPa at 280 degC, which is no node here."""
    assert float(HEAVY_MINERAL_OIL.vapour_pressure(280.0)) == pytest.approx(1.6, rel=0.2)


def test_growth_of_the_heavy_oil() -> None:
    """897/715: 25.5 % from 20 to 300 degC, mass kept."""
    grown = HEAVY_MINERAL_OIL.expansion_m3(897.0, cold_c=20.0, hot_c=300.0)
    assert 100 * grown == pytest.approx(25.5, abs=0.5)
