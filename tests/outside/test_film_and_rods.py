"""Film, rods and wind against published formulas and tables."""

from math import inf, pi

import pytest

from studio.engine.heat.steel import elongation_mm_m
from studio.engine.mirror.film import (
    POLYESTER,
    STEEL_EXPANSION_1_K,
    Tension,
    dynamic_pressure_pa,
    film_stress,
    tension_when_warmer,
)
from studio.engine.mirror.rods import (
    MILD_STEEL,
    RodStuff,
    bending_moment_n_m,
    least_elastic_radius_m,
    radius_left_m,
    rod_on_supports,
    round_section,
)
from studio.engine.mirror.workmanship import workmanship_table


@pytest.mark.parametrize(("wind", "pressure"), [(30.0, 551.7), (40.0, 980.8)])
def test_wind_pressure_of_asce_7(wind: float, pressure: float) -> None:
    """ASCE 7, SI form: 0.613 v2 N/m2, air of 1.226 kg/m3."""
    assert dynamic_pressure_pa(wind, air_kg_m3=1.226) == pytest.approx(pressure, abs=0.1)


def test_wind_pressure_of_en_1991() -> None:
    """EN 1991-1-4, eq. 4.10: 25 m/s and 1.25 kg/m3 give 390.6 N/m2."""
    assert dynamic_pressure_pa(25.0) == pytest.approx(390.6, abs=0.1)


@pytest.mark.parametrize(
    ("supports", "sag", "moment", "figures"),
    [
        (2, 5 / 384, 1 / 8, 1e-9),
        (3, 0.00541, 1 / 8, 2e-3),  # two spans: 0.00541 w l4/(E I), moment w l2/8 over the middle support
        (4, 0.0069, 0.100, 3e-3),  # three spans: 0.0069 w l4/(E I), 0.100 w l2
        (5, 0.0065, 0.1071, 8e-3),  # four spans: 0.0065 w l4/(E I), 0.1071 w l2
    ],
)
def test_beams_of_the_manuals(supports: int, sag: float, moment: float, figures: float) -> None:
    """Simple beam: Roark's Formulas for Stress and Strain; Timoshenko, Strength of Materials.

    Two and three spans: Lindeburg, Civil Engineering Reference Manual, and the beam diagrams of the AISC Manual. Four
    spans from memory of the AISC diagrams.
    """
    load, span, diameter = 20.0, 0.7, 0.012
    bow = rod_on_supports(load, length_m=span * (supports - 1), supports=supports, diameter_m=diameter)
    stiffness = MILD_STEEL.modulus_pa * pi * diameter**4 / 64
    assert bow.sag_m == pytest.approx(sag * load * span**4 / stiffness, rel=figures)
    assert bow.moment_n_m == pytest.approx(moment * load * span**2, rel=figures)


def test_shape_factor_of_a_circle() -> None:
    """Roark, table of section properties; Timoshenko, Strength of Materials II: 16/(3 pi) = 1.698."""
    section = round_section(0.012)
    assert section.plastic_modulus_m3 / section.modulus_m3 == pytest.approx(1.698, abs=5e-4)
    most = bending_moment_n_m(0.02, diameter_m=0.012)
    assert most / (MILD_STEEL.yield_pa * section.modulus_m3) == pytest.approx(16 / (3 * pi), rel=1e-4)


def gardiner(x: float) -> float:
    """R/R_left of a sheet, x = R sigma_y/(E t): 4 x3 - 3 x + 1 (Gardiner, Trans. ASME 79 (1957) 1)."""
    return 4 * x**3 - 3 * x + 1


@pytest.mark.parametrize("x", [0.45, 0.3, 0.2, 0.1, 0.02])
def test_a_circle_springs_back_a_little_more_than_gardiners_sheet(x: float) -> None:
    """Same limit (x = 1/2: all springs back) and the same shape; the steeper end by the ratio of shape factors."""
    diameter = 0.010
    radius = x * diameter * MILD_STEEL.modulus_pa / MILD_STEEL.yield_pa
    gone = 1 - radius / radius_left_m(radius, diameter_m=diameter)
    sheet_gone = 1 - gardiner(x)
    assert 1 < gone / sheet_gone < 16 / (3 * pi) / 1.5
    if x == 0.02:
        assert gone / sheet_gone == pytest.approx(16 / (3 * pi) / 1.5, rel=2e-3)


def test_gardiners_elastic_limit_is_the_rods() -> None:
    assert gardiner(0.5) == 0
    limit = least_elastic_radius_m(diameter_m=0.010)
    assert limit == pytest.approx(0.5 * 0.010 * 210e9 / 235e6)
    assert radius_left_m(limit, diameter_m=0.010) == inf


def test_least_elastic_radius_of_a_hand_calculation() -> None:
    """d E/(2 sigma_y) (Timoshenko, Strength of Materials): 8 mm of S355 2.366 m, of S235 3.574 m."""
    assert least_elastic_radius_m(diameter_m=0.008, rod=RodStuff(yield_pa=355e6)) == pytest.approx(
        2.366, abs=1e-3
    )
    assert least_elastic_radius_m(diameter_m=0.008) == pytest.approx(3.574, abs=1e-3)


def test_steel_grows_as_the_fire_code_says_near_room_temperature() -> None:
    """EN 1993-1-1, 3.2.6 (12e-6 per K) against the slope of EN 1993-1-2, 3.4.1.1 from 20 to 60 degC."""
    growth = (elongation_mm_m(60.0) - elongation_mm_m(20.0)) / 40.0 / 1000
    assert pytest.approx(float(growth), rel=0.03) == STEEL_EXPANSION_1_K


def test_polyester_film_of_the_trade_from_memory_of_its_expansion() -> None:
    """Typical values of biaxially drawn polyester film by ISO 527: 100 N/mm2 at 5 % strain, modulus 4500 N/mm2.

    Tension at that stress for 12, 23 and 50 um: 1.2, 2.3, 5.0 kN/m. On ribs that do not grow, 40 K change the stress
    of a film held one way by E alpha dT = 3.06 N/mm2 (alpha 1.7e-5 from memory, trade sheets 1.6 to 1.9e-5).
    """
    stress = film_stress(POLYESTER, Tension(5000.0, 2500.0))
    assert stress.margin_along == pytest.approx(0.0, abs=1e-12)
    assert stress.margin_across == pytest.approx(0.5)
    cooled = tension_when_warmer(POLYESTER, Tension(0, 0), warmer_k=-40.0, rod_expansion_1_k=0.0)
    one_way = cooled.along_n_m / POLYESTER.thickness_m * (1 - POLYESTER.poisson)
    assert one_way == pytest.approx(3.06e6)


def test_a_measured_film_mirror_stands_in_the_table() -> None:
    """Sandia, Testing of the single-element stretched-membrane dish, 1992: 2.3 mrad."""
    rows = workmanship_table(strip_width_m=0.125, held_every_m=0.3)
    assert [row.slope_mrad for row in rows if row.origin.startswith("Sandia")] == [2.3]
