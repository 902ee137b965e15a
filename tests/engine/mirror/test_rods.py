"""Rods: bending and spring-back against integrals over the section, beams against integrated curvature."""

from itertools import pairwise
from math import inf, pi, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad, solve_bvp

from studio.engine.mirror.film import Tension, rib_lift_n_m
from studio.engine.mirror.form import Floats
from studio.engine.mirror.rods import (
    MILD_STEEL,
    RodStuff,
    bending_moment_n_m,
    end_rib_bow,
    least_elastic_radius_m,
    radius_left_m,
    radius_scatter,
    radius_to_bend_to_m,
    rib_bending,
    rib_bow,
    rod_on_supports,
    round_section,
)
from studio.errors import BadInputError

D = 0.010
LIMIT = least_elastic_radius_m(diameter_m=D)


def test_section_by_integration() -> None:
    """Strips of a circle: 2 sqrt(r2 - y2) wide."""
    r = 1.5
    second, _ = quad(lambda y: y**2 * 2 * sqrt(r**2 - y**2), -r, r)
    first, _ = quad(lambda y: y * 2 * sqrt(r**2 - y**2), 0, r)
    section = round_section(2 * r)
    assert section.second_moment_m4 == pytest.approx(second)
    assert section.modulus_m3 == pytest.approx(second / r)
    assert section.plastic_modulus_m3 == pytest.approx(2 * first)


@pytest.mark.parametrize("bend", [0.0, 0.5, 1.0, 1.01, 1.5, 3.0, 20.0])
def test_moment_is_the_integral_of_stress_over_the_circle(bend: float) -> None:
    r = D / 2
    radius = LIMIT / bend if bend else inf
    core = r / bend if bend else inf

    def force_times_arm(y: float) -> float:
        stress = min(MILD_STEEL.modulus_pa * y / radius, MILD_STEEL.yield_pa)
        return 2 * stress * y * 2 * sqrt(r**2 - y**2)

    moment, _ = quad(force_times_arm, 0, r, points=[min(core, r)], epsabs=0, epsrel=1e-10)
    assert bending_moment_n_m(radius, diameter_m=D) == pytest.approx(moment, rel=1e-7)


def test_the_elastic_limit_is_exact() -> None:
    yield_moment = MILD_STEEL.yield_pa * round_section(D).modulus_m3
    assert bending_moment_n_m(LIMIT, diameter_m=D) == pytest.approx(yield_moment, rel=1e-12)
    assert radius_left_m(LIMIT, diameter_m=D) == inf
    assert radius_left_m(1.5 * LIMIT, diameter_m=D) == inf
    assert np.isfinite(radius_left_m(0.99 * LIMIT, diameter_m=D))


def test_nothing_jumps_at_the_elastic_limit() -> None:
    """Curvature that stays, and moment, over bends either side of yield."""
    bends = np.linspace(0.9, 1.1, 2001)
    left = np.array([1 / radius_left_m(LIMIT / b, diameter_m=D) for b in bends])
    moment = np.array([bending_moment_n_m(LIMIT / b, diameter_m=D) for b in bends])
    assert np.all(np.diff(left) >= 0)
    assert np.max(np.diff(left)) < 1e-4 / LIMIT
    assert np.max(np.abs(np.diff(moment, 2))) < 1e-5 * moment[0]


@given(st.floats(0.05, 200.0), st.floats(0.003, 0.03), st.floats(1e8, 9e8))
@settings(max_examples=200, deadline=None)
def test_bending_to_and_what_is_left_are_inverse(wanted: float, diameter: float, yield_pa: float) -> None:
    rod = RodStuff(yield_pa=yield_pa)
    bent = radius_to_bend_to_m(wanted, diameter_m=diameter, rod=rod)
    assert 0 < bent < wanted
    assert bent <= least_elastic_radius_m(diameter_m=diameter, rod=rod)
    assert radius_left_m(bent, diameter_m=diameter, rod=rod) == pytest.approx(wanted, rel=1e-6)


def test_a_bar_bent_sharply_springs_back_by_the_plastic_moment() -> None:
    """1/R - 1/R_left tends to M_plastic/(E I)."""
    left = radius_left_m(0.1, diameter_m=D)
    section = round_section(D)
    most = MILD_STEEL.yield_pa * section.plastic_modulus_m3
    assert 1 / 0.1 - 1 / left == pytest.approx(
        most / (MILD_STEEL.modulus_pa * section.second_moment_m4), rel=1e-3
    )


def test_a_rib_is_held_or_bent() -> None:
    gentle, sharp = rib_bending(6.0, diameter_m=D), rib_bending(2.6, diameter_m=D)
    assert gentle.stays_elastic
    assert gentle.hold_n_m == pytest.approx(210e9 * pi * D**4 / 64 / 6.0)
    assert not sharp.stays_elastic
    assert sharp.hold_n_m is None
    assert radius_left_m(sharp.bend_to_m, diameter_m=D) == pytest.approx(2.6)
    assert rib_bending(LIMIT, diameter_m=D).stays_elastic


@pytest.mark.parametrize("wanted", [1.5, 2.6, 5.0])
def test_scatter_is_that_of_many_rods(wanted: float) -> None:
    """Yield stress drawn with a seed, every rod bent alike, the radius that stays measured."""
    rod = RodStuff(yield_scatter_pa=5e6)
    bent = radius_to_bend_to_m(wanted, diameter_m=D, rod=rod)
    draws = np.random.default_rng(7).normal(rod.yield_pa, rod.yield_scatter_pa, 4000)
    radii = np.array([radius_left_m(bent, diameter_m=D, rod=RodStuff(yield_pa=y)) for y in draws])
    found = radius_scatter(wanted, arc_m=1.5, diameter_m=D, rod=rod)
    assert found.radius_m == pytest.approx(np.std(radii), rel=0.03)
    place = np.linspace(-0.75, 0.75, 201)
    slope = (1 / radii - 1 / wanted)[:, None] * place
    assert found.slope_mrad == pytest.approx(1000 * np.sqrt(np.mean(slope**2)), rel=0.03)


def test_without_scatter_of_yield_there_is_none_of_radius() -> None:
    found = radius_scatter(2.6, arc_m=1.5, diameter_m=D, rod=RodStuff(yield_scatter_pa=0.0))
    assert (found.radius_m, found.slope_mrad) == (0, 0)


def beam_of_two_spans(load: float, span: float, stiffness: float) -> tuple[float, float, float]:
    """Half of a rod on three supports, which the middle one clamps by symmetry: sag, RMS slope, moment there."""

    def equation(_x: Floats, y: Floats) -> Floats:
        return np.vstack([y[1], y[2], y[3], np.full_like(y[0], load / stiffness)])

    def edges(left: Floats, right: Floats) -> Floats:
        return np.array([left[0], left[2], right[0], right[1]])

    x = np.linspace(0, span, 401)
    found = solve_bvp(equation, edges, x, np.zeros((4, x.size)))
    y = found.sol(x)
    return float(y[0].max()), float(np.sqrt(np.mean(y[1] ** 2))), float(abs(stiffness * y[2, -1]))


def test_a_rod_on_three_supports_by_its_differential_equation() -> None:
    bow = rod_on_supports(30.0, length_m=1.6, supports=3, diameter_m=D)
    stiffness = 210e9 * round_section(D).second_moment_m4
    sag, slope, moment = beam_of_two_spans(30.0, 0.8, stiffness)
    assert bow.sag_m == pytest.approx(sag, rel=1e-4)
    assert bow.slope_rms_mrad == pytest.approx(1000 * slope, rel=2e-3)
    assert bow.moment_n_m == pytest.approx(moment, rel=1e-4)
    assert bow.stress_pa == pytest.approx(moment / round_section(D).modulus_m3, rel=1e-4)


def test_rms_slope_between_two_supports_by_integration() -> None:
    load, length = 12.0, 1.44
    stiffness = 210e9 * round_section(D).second_moment_m4
    square, _ = quad(
        lambda x: (load / (24 * stiffness) * (length**3 - 6 * length * x**2 + 4 * x**3)) ** 2, 0, length
    )
    bow = rod_on_supports(load, length_m=length, supports=2, diameter_m=D)
    assert bow.slope_rms_mrad == pytest.approx(1000 * sqrt(square / length))
    assert bow.slope_rms_mrad == pytest.approx(1000 * sqrt(17 / 35) * load * length**3 / (24 * stiffness))


def test_more_stands_and_spreaders_hold_better_and_a_load_the_other_way_only_turns_the_sag() -> None:
    bows = [rod_on_supports(10.0, length_m=1.5, supports=n, diameter_m=D) for n in range(2, 9)]
    for fewer, more in pairwise(bows):
        assert more.sag_m < fewer.sag_m
        assert more.slope_rms_mrad < fewer.slope_rms_mrad
        assert more.moment_n_m <= fewer.moment_n_m
    up = rod_on_supports(-10.0, length_m=1.5, supports=4, diameter_m=D)
    assert up.sag_m == -bows[2].sag_m
    assert up.slope_rms_mrad == bows[2].slope_rms_mrad


def test_a_rib_bears_the_films_lift_and_an_end_rib_half_of_it() -> None:
    calm = Tension(100.0, 400.0)
    lift = rib_lift_n_m(calm, rib_radius_m=2.6, strip_width_m=0.125, pressure_pa=-50.0)
    inner, end = (
        rib_bow(
            calm,
            rib_radius_m=2.6,
            strip_width_m=0.125,
            arc_m=1.46,
            stands=2,
            diameter_m=D,
            end_rib=is_end,
            pressure_pa=-50.0,
        )
        for is_end in (False, True)
    )
    assert inner == rod_on_supports(lift, length_m=1.46, supports=2, diameter_m=D)
    assert end.sag_m == pytest.approx(inner.sag_m / 2)
    bow = end_rib_bow(calm, arc_m=1.46, spreaders=3, diameter_m=D)
    assert bow == rod_on_supports(400.0, length_m=1.46, supports=5, diameter_m=D)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(BadInputError, match="yield stress must be above 0 Pa"):
        RodStuff(yield_pa=0)
    with pytest.raises(BadInputError, match="scatter"):
        RodStuff(yield_scatter_pa=-1)
    with pytest.raises(BadInputError, match="diameter must be above 0 m"):
        round_section(0)
    with pytest.raises(BadInputError, match="radius of bending"):
        radius_left_m(-1, diameter_m=D)
    with pytest.raises(BadInputError, match="within the rod"):
        radius_left_m(0.004, diameter_m=D)
    with pytest.raises(BadInputError, match="at least 2 supports; found 1"):
        rod_on_supports(1, length_m=1, supports=1, diameter_m=D)
    with pytest.raises(BadInputError, match="load"):
        rod_on_supports(inf, length_m=1, supports=2, diameter_m=D)
    with pytest.raises(BadInputError, match="spreaders"):
        end_rib_bow(Tension(1, 1), arc_m=1, spreaders=-1, diameter_m=D)
    with pytest.raises(BadInputError, match="arc"):
        radius_scatter(2, arc_m=0, diameter_m=D)
