"""Growth, sag and twist of the pipe against standards and beam theory."""

import numpy as np
import pytest

from studio.engine.motion.beam import STEEL_E_PA, STEEL_G_PA, Tube, sag_of, stiffness_left, twist_of
from studio.engine.motion.growth import OilAlong, ReceiversOnPipe, growth_offsets_m

COLD = OilAlong.all_at(20.0)


def growth_of(length_m: float, pipe_c: float, cold: OilAlong = COLD) -> float:
    pipe = ReceiversOnPipe(count=2, spacing_m=length_m)
    return float(growth_offsets_m(pipe, OilAlong.all_at(pipe_c), spaced_for=cold)[1])


@pytest.mark.parametrize(
    ("pipe_c", "mm_m"), [(100, 0.998), (200, 2.318), (300, 3.718), (350, 4.448), (400, 5.198)]
)
def test_carbon_steel_grows_as_en_1993_1_2_says(pipe_c: float, mm_m: float) -> None:
    """EN 1993-1-2, 3.4.1.1: 1.2e-5 T + 0.4e-8 T^2 - 2.416e-4 from 20 degC."""
    assert 1000 * growth_of(1.0, pipe_c) == pytest.approx(mm_m, abs=0.002)


def test_twenty_five_metres_at_300_degrees() -> None:
    """From EN 1993-1-2, 3.4.1.1; a constant 12e-6 per K gives 84 mm."""
    assert 1000 * growth_of(25.0, 300) == pytest.approx(93.0, abs=0.5)
    assert 1000 * growth_of(25.0, 300) > 25_000 * 12e-6 * 280


def test_within_a_tenth_of_the_steam_pipe_table() -> None:
    """Expansion table of the steam trade: carbon steel 32 to 212 degF, 1.61 - 0.23 in per 100 ft; it differs by 5 to 8 %."""
    mine = 1000 * growth_of(1.0, 100.0, OilAlong.all_at(0.0))
    assert mine == pytest.approx(1000 * (1.61 - 0.23) / 1200, rel=0.10)


def test_within_a_tenth_of_a_power_piping_value_from_memory() -> None:
    """ASME B31.1, appendix B, 70 to 600 degF about 4.6 in per 100 ft; value from memory."""
    mine = 1000 * growth_of(1.0, (600 - 32) / 1.8, OilAlong.all_at((70 - 32) / 1.8))
    assert mine == pytest.approx(1000 * 4.6 / 1200, rel=0.05)


@pytest.mark.parametrize(
    ("outside_mm", "wall_mm", "area_cm2", "moment_cm4", "torsion_cm4", "kg_m"),
    [
        (33.7, 3.2, 3.07, 3.60, 7.21, 2.41),
        (42.4, 3.2, 3.94, 7.62, 15.2, 3.09),
        (48.3, 3.2, 4.53, 11.6, 23.2, 3.56),
        (60.3, 3.2, 5.74, 23.5, 46.9, 4.51),
    ],
)
def test_sections_are_those_of_the_tables_of_hollow_sections_from_memory(
    outside_mm: float, wall_mm: float, area_cm2: float, moment_cm4: float, torsion_cm4: float, kg_m: float
) -> None:
    """EN 10210-2, tables of circular hollow sections (A, I, It, mass); values from memory."""
    tube = Tube(outside_mm / 1000, wall_mm / 1000)
    assert 1e4 * tube.section_m2 == pytest.approx(area_cm2, rel=3e-3)
    assert 1e8 * tube.second_moment_m4 == pytest.approx(moment_cm4, rel=3e-3)
    assert 1e8 * tube.torsion_m4 == pytest.approx(torsion_cm4, rel=3e-3)
    assert tube.mass_kg_m == pytest.approx(kg_m, rel=3e-3)


def test_section_properties_integrate_the_ring() -> None:
    """J is the integral of r^2 over the section (Roark, table 10.1), I half of it."""
    tube = Tube(0.0337, 0.00325)
    r = np.linspace(tube.bore_m / 2, tube.outside_m / 2, 20_001)
    torsion = float(np.trapezoid(2 * np.pi * r**3, r))
    assert tube.torsion_m4 == pytest.approx(torsion, rel=1e-6)
    assert tube.torsion_m4 == pytest.approx(7.289e-8, rel=1e-3)
    assert tube.second_moment_m4 == pytest.approx(torsion / 2, rel=1e-6)


def test_ten_newton_metres_over_ten_metres() -> None:
    """T L/(G J): 0.983 deg with G = 80 GPa (Roark, table 10.1, case 1)."""
    twist = twist_of(Tube(0.0337, 0.00325), np.array([10.0]), np.array([10.0]))
    assert twist.by_frame_deg[0] * STEEL_G_PA / 80e9 == pytest.approx(0.983, abs=0.001)


def test_twist_is_the_integral_of_torque_over_stiffness() -> None:
    """d(twist)/dx = T(x)/(G J) (Roark, table 10.1), integrated over millimetres."""
    tube = Tube(0.0483, 0.0032, pipe_c=250)
    places, torques = np.array([0.4, 3.1, 5.8, 8.5]), np.array([6.0, 2.0, 9.0, 4.0])
    x = np.arange(0, 8.5, 0.001) + 0.0005
    torque = (torques * (places > x[:, None])).sum(axis=1)
    turned = np.cumsum(torque * 0.001) / (STEEL_G_PA * 0.85 * tube.torsion_m4)
    at = np.interp(places, x + 0.0005, turned)
    assert np.radians(twist_of(tube, places, torques).by_frame_deg) == pytest.approx(at, rel=1e-4)


def test_steel_softens_as_en_1993_1_2_says() -> None:
    """EN 1993-1-2, table 3.1: 1.0, 0.9, 0.8, 0.7 at 100, 200, 300, 400 degC, straight between."""
    assert [stiffness_left(c) for c in (20, 100, 200, 250, 300, 400)] == pytest.approx(
        [1.0, 1.0, 0.9, 0.85, 0.8, 0.7]
    )


def test_a_tube_of_three_metres_sags_3_3_mm() -> None:
    """5 w L^4/(384 E I), 33.7 x 3.25 empty, 2.44 kg/m (Roark, table 8.1, case 2e)."""
    sag = sag_of(Tube(0.0337, 0.00325), 2.44 * 9.80665, span_m=3.0)
    assert 1000 * sag.hinged_m == pytest.approx(3.30, rel=0.005)
    assert sag.deepest_m == pytest.approx(sag.hinged_m, rel=1e-4)
    assert sag.fixed_m == pytest.approx(sag.hinged_m / 5)
    # slope at the ends w L^3/(24 E I), the same case
    slope = 2.44 * 9.80665 * 27 / (24 * STEEL_E_PA * 3.644e-8)
    assert sag.steepest_deg == pytest.approx(np.degrees(slope), rel=1e-3)


@pytest.mark.parametrize(("spans", "coefficient"), [(2, 0.0054), (3, 0.0069), (4, 0.0065)])
def test_continuous_beams_sag_as_the_steel_manual_has_it(spans: int, coefficient: float) -> None:
    """AISC Steel Construction Manual, table 3-22c: deepest point over w L^4/(E I), all spans loaded; from memory."""
    tube = Tube(0.0337, 0.0032)
    sag = sag_of(tube, 30.0, span_m=2.5, spans=spans)
    assert sag.deepest_m * tube.bending_n_m2 / (30.0 * 2.5**4) == pytest.approx(coefficient, abs=6e-5)


def test_an_overhanging_end_drops_as_the_steel_manual_has_it() -> None:
    """AISC table 3-23, beam with one overhang, all loaded: w a (3 a^3 + 4 a^2 l - l^3)/(24 E I); from memory."""
    tube, a, span = Tube(0.0337, 0.0032), 1.4, 2.5
    sag = sag_of(tube, 30.0, span_m=span, overhang_m=(0.0, a))
    expected = 30.0 * a * (3 * a**3 + 4 * a**2 * span - span**3) / (24 * tube.bending_n_m2)
    assert sag.ends_m == pytest.approx((0.0, expected))


@pytest.mark.parametrize(("spans", "overhang"), [(1, (0.9, 1.3)), (4, (0.7, 0.0)), (7, (1.2, 1.2))])
def test_sag_over_many_supports_is_that_of_beam_elements(spans: int, overhang: tuple[float, float]) -> None:
    """Euler-Bernoulli beam elements with consistent loads (any text on finite elements), 5 cm each."""
    tube, span, load = Tube(0.0269, 0.0026, pipe_c=300), 2.7, 60.0
    length = overhang[0] + spans * span + overhang[1]
    supports = overhang[0] + span * np.arange(spans + 1)
    count = round(length / 0.05)
    size = length / count
    matrix, force = np.zeros((2 * count + 2, 2 * count + 2)), np.zeros(2 * count + 2)
    element = np.array(
        [
            [12, 6 * size, -12, 6 * size],
            [6 * size, 4 * size**2, -6 * size, 2 * size**2],
            [-12, -6 * size, 12, -6 * size],
            [6 * size, 2 * size**2, -6 * size, 4 * size**2],
        ]
    )
    for n in range(count):
        own = slice(2 * n, 2 * n + 4)
        matrix[own, own] += tube.bending_n_m2 / size**3 * element
        force[own] -= load * size / 2 * np.array([1, size / 6, 1, -size / 6])
    held = 2 * np.rint(supports / size).astype(int)
    assert held / 2 * size == pytest.approx(supports, abs=1e-9)
    free = np.setdiff1d(np.arange(len(force)), held)
    moved = np.zeros(len(force))
    moved[free] = np.linalg.solve(matrix[np.ix_(free, free)], force[free])
    places = size * np.arange(count + 1)
    between = (places > supports[0]) & (places < supports[-1])
    sag = sag_of(tube, load, span_m=span, spans=spans, overhang_m=overhang)
    assert sag.deepest_m == pytest.approx(-moved[::2][between].min(), rel=2e-3)
    assert sag.ends_m == pytest.approx((-moved[0], -moved[-2]), abs=1e-7)
    assert np.radians(sag.steepest_deg) == pytest.approx(np.abs(moved[1::2]).max(), rel=2e-3)
