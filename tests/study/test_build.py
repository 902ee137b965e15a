"""What a mirror is built from: against closed forms and beam theory, and each finding about it provoked and just missed."""

from dataclasses import replace
from math import hypot, pi, sqrt
from typing import Any

import numpy as np
import pytest

from studio.design.design import Design, Document
from studio.design.field import Line
from studio.design.mirror import Mirror
from studio.edits.registry import apply_mend
from studio.engine.mirror.film import wrinkling
from studio.engine.mirror.form import Surface, rib_depth
from studio.engine.mirror.rods import radius_left_m
from studio.study.assess import Assessor
from studio.study.build import (
    AT_WORK_C,
    COLD_C,
    HOT_C,
    PULLED_AT_C,
    build_of,
    film_of,
    mirror_build,
    pulled_of,
    slope_of,
    tension_at,
)
from studio.study.build_checks import build_findings
from studio.study.findings import Finding
from studio.study.optics import errors_of
from studio.study.place import form_of

STANDS = Design(lines=(Line(id=1, x_m=0.0, y_m=0.0, count=6),))
ROD_MM = Design().materials.rod_mm


def with_mirror(*, rod_mm: float = ROD_MM, **changes: Any) -> Design:
    materials = replace(STANDS.materials, rod_mm=rod_mm)
    return replace(STANDS, mirror=replace(STANDS.mirror, **changes), materials=materials)


def findings(design: Design) -> dict[str, Finding]:
    return {finding.key: finding for finding in build_findings(design)}


def mended(design: Design, key: str) -> Design:
    mend = findings(design)[key].mend
    assert mend is not None
    return apply_mend(design, mend).design


# the numbers --------------------------------------------------------------------------------------------------


def circle_through(y: np.ndarray, z: np.ndarray) -> float:
    """Radius of the circle through three points: the product of the sides over four times the area (Euclid)."""
    points = np.column_stack([y, z])
    a, b, c = (float(np.linalg.norm(points[i] - points[j])) for i, j in ((0, 1), (1, 2), (2, 0)))
    (y1, z1), (y2, z2) = points[1] - points[0], points[2] - points[0]
    return a * b * c / (2 * abs(float(y1 * z2 - y2 * z1)))


@pytest.mark.parametrize("surface", ["paraboloid", "sphere", "circles"])
def test_a_ribs_radius_is_that_of_three_points_of_its_curve(surface: Surface) -> None:
    mirror = replace(Mirror(), surface=surface, ribs=5)
    form = form_of(mirror)
    for rib in build_of(mirror, ROD_MM).ribs:
        for radius, y_m in (
            (rib.radius_m, 0.0),
            (rib.radius_at_ends_m, mirror.height_m / 2),
        ):
            y = y_m + np.array([-0.01, 0.0, 0.01])
            assert radius == pytest.approx(circle_through(y, rib_depth(form, rib.x_m, y)), rel=1e-4)


def test_ribs_of_a_sphere_differ_and_those_of_a_paraboloid_do_not() -> None:
    sphere = build_of(replace(Mirror(), surface="sphere"), ROD_MM)
    assert sphere.tightest is sphere.ribs[0]
    assert sphere.tightest.bending.bend_to_m < sphere.middle.bending.bend_to_m
    parabola = build_of(Mirror(), ROD_MM)
    assert len({rib.bending.bend_to_m for rib in parabola.ribs}) == 1
    assert parabola.middle.bend_to_at_ends_m > parabola.middle.bending.bend_to_m


def test_a_rod_bent_as_told_springs_back_to_its_rib() -> None:
    build = build_of(replace(Mirror(), rib_yield_mpa=355.0), 12.0)
    rib = build.middle
    for bent, wanted in (
        (rib.bending.bend_to_m, rib.radius_m),
        (rib.bend_to_at_ends_m, rib.radius_at_ends_m),
    ):
        assert radius_left_m(bent, diameter_m=0.012, rod=build.rod) == pytest.approx(wanted, rel=1e-9)
    # d E / (2 yield), by hand
    assert rib.bending.least_elastic_radius_m == pytest.approx(0.012 * 210e9 / 710e6)


def test_the_tips_of_ribs_of_another_radius_stand_off_by_what_two_circles_differ() -> None:
    rib = build_of(replace(Mirror(), surface="circles"), ROD_MM).middle
    radii, half = np.array([rib.radius_m, rib.radius_m + rib.scatter.radius_m]), rib.arc_m / 2
    ends = np.column_stack([radii * np.sin(half / radii), radii * (1 - np.cos(half / radii))])
    # radius against curvature, and shallow against steep: some 8 % of it
    assert rib.tip_scatter_m == pytest.approx(float(np.linalg.norm(ends[0] - ends[1])), rel=0.08)


def test_bow_of_ribs_held_at_their_ends_against_the_beam_formula_and_a_grid_over_the_film() -> None:
    """5 w L4/(384 E I) and its slope, w (L3 - 6 L x2 + 4 x3)/(24 E I): any handbook of beams."""
    mirror = replace(Mirror(), surface="circles", rib_holds=2, ribs=4, wind_on_film_m_s=3.0)
    build = build_of(mirror, 8.0)
    length, stiff = build.middle.arc_m, 210e9 * pi * 0.008**4 / 64
    lift = (40.0 / 2.6 - 0.5 * 1.25 * 9.0) * 1.25 / 3
    assert build.middle.bow_in_wind.sag_m == pytest.approx(5 * lift * length**4 / (384 * stiff))
    assert build.middle.bow.sag_m == pytest.approx(
        build.middle.bow_in_wind.sag_m * 15.3846 / 9.7596, rel=1e-4
    )
    x = np.linspace(0.0, length, 2001)
    slope = lift * (length**3 - 6 * length * x**2 + 4 * x**3) / (24 * stiff)
    # the film between a rib of half the load and a whole one, twice; and between two whole ones
    share = np.interp(np.linspace(0.0, 3.0, 3001), [0, 1, 2, 3], [0.5, 1.0, 1.0, 0.5])
    rms = 1000 * sqrt(np.mean(slope**2) * np.mean(share**2))
    assert build.bow_slope_mrad == pytest.approx(rms / sqrt(2), rel=2e-3)
    assert build.slope_error_total_mrad == pytest.approx(hypot(5.0, rms / sqrt(2)), rel=2e-3)


def test_heat_takes_of_both_pulls_what_hand_arithmetic_says() -> None:
    """E t (alpha - alpha of steel) dT/(1 - nu) = 4.5e9 x 50e-6 x 5e-6 x 30/0.62 = 54.4 N/m."""
    lost = 4.5e9 * 50e-6 * 5e-6 * (HOT_C - PULLED_AT_C) / 0.62
    film = build_of(Mirror(), ROD_MM).film
    assert film.hot.along_n_m == pytest.approx(40.0 - lost)
    assert film.hot.across_n_m == pytest.approx(160.0 - lost)
    assert film.cold.across_n_m == pytest.approx(160.0 + lost * (PULLED_AT_C - COLD_C) / 30)
    # stress in the cold over 100 MPa
    assert film.yield_share == pytest.approx(film.cold.across_n_m / 50e-6 / 100e6)
    assert film.slack_above_c is not None
    assert tension_at(Mirror(), film.slack_above_c).along_n_m == pytest.approx(0.0, abs=1e-9)


def test_a_film_that_is_not_pulled_along_the_ribs_is_free_that_way() -> None:
    free = replace(Mirror(), pull_along_n_m=0.0)
    hot = tension_at(free, HOT_C)
    assert hot.along_n_m == 0.0
    assert hot.across_n_m == pytest.approx(160.0 - 4.5e9 * 50e-6 * 5e-6 * 30)
    assert slope_of(free, ROD_MM).total_mrad == free.slope_error_mrad


def test_a_frame_racked_as_far_as_allowed_is_just_taut() -> None:
    mirror = Mirror()
    allowed_deg = float(np.degrees(np.arctan(build_of(mirror, ROD_MM).film.racking_mm_per_m / 1000)))
    film, pulled = film_of(mirror), pulled_of(mirror)
    assert wrinkling(film, pulled, racked_deg=0.999 * allowed_deg).state == "taut"
    assert wrinkling(film, pulled, racked_deg=1.001 * allowed_deg).state == "wrinkled"


def test_wrinkles_on_a_warm_day_add_to_the_slope_error() -> None:
    mirror = replace(Mirror(), pull_along_n_m=20.0)
    left = tension_at(mirror, AT_WORK_C).along_n_m
    assert left < 0
    # what is too wide, e = -T (1 - nu2)/(E t), lies in waves of mean square slope 2 e, along the ribs alone
    waves = 1000 * sqrt(2 * -left * (1 - 0.38**2) / (4.5e9 * 50e-6))
    slope = slope_of(mirror, ROD_MM)
    assert slope.wrinkles_mrad == pytest.approx(waves / sqrt(2))
    assert slope.total_mrad == pytest.approx(hypot(5.0, slope.bow_mrad, waves / sqrt(2)))
    assert errors_of(with_mirror(pull_along_n_m=20.0)).slope_mrad == slope.total_mrad


def test_wind_on_the_back_asks_most_of_the_clips() -> None:
    film = build_of(replace(Mirror(), wind_on_film_m_s=10.0), ROD_MM).film
    assert film.clip_n_m == pytest.approx(40.0 / 2.6 * 0.125)
    assert film.clip_in_wind_n_m == pytest.approx((40.0 / 2.6 + 62.5) * 0.125)
    assert film.in_wind.sag_m < 0 < film.calm.sag_m


def test_the_default_mirrors_slope_error_stays_the_persons_own() -> None:
    build = mirror_build(Design())
    assert build.slope_error_total_mrad == pytest.approx(5.0, rel=1e-3)
    assert build.slope_error_total_mrad > 5.0
    assert len(build.ribs) == 11
    # finest first, and the film's own measured row among them
    slopes = [row.slope_mrad for row in build.workmanship]
    assert slopes == sorted(slopes)
    assert 2.3 in slopes


def test_another_rod_is_not_answered_from_what_is_remembered() -> None:
    thin = with_mirror(rod_mm=3.0)
    warm = Assessor()
    warm.assess(Document(design=STANDS), calendar=False)
    after = warm.assess(Document(design=thin), calendar=False)
    fresh = Assessor().assess(Document(design=thin), calendar=False)
    assert after.figures == pytest.approx(fresh.figures)
    assert after.figures["peak_flux_kw_m2"] != warm.assess(Document(design=STANDS)).figures["peak_flux_kw_m2"]
    build = mirror_build(thin)
    assert after.figures["slope_error_total_mrad"] == build.slope_error_total_mrad
    assert after.figures["rib_bend_radius_m"] == build.middle.bending.bend_to_m
    assert after.figures["film_stress_share"] == build.film.yield_share
    assert {"ribs_bow", "end_ribs_bow"} <= {finding.key for finding in after.findings}


# the findings -------------------------------------------------------------------------------------------------


def test_the_default_mirror_gains_two_notes_and_none_before_it_stands() -> None:
    found = findings(STANDS)
    assert set(found) == {"film_slack_hot", "ribs_scatter"}
    assert {finding.severity for finding in found.values()} == {"note"}
    assert findings(replace(STANDS, lines=())) == {}


def test_wrinkles_at_work_and_the_pull_that_takes_them_out() -> None:
    # 27.2 N/m go by 35 degC
    wrinkled = with_mirror(pull_along_n_m=26.0)
    found = findings(wrinkled)["film_wrinkles"]
    assert found.severity == "caution"
    assert found.value == pytest.approx(-1.2, abs=0.05)
    assert "28 N/m along" in found.detail
    assert "film_wrinkles" not in findings(with_mirror(pull_along_n_m=28.0))
    assert "film_wrinkles" not in findings(mended(wrinkled, "film_wrinkles"))
    across = with_mirror(pull_along_n_m=40.0, pull_across_n_m=20.0)
    assert "28 N/m across" in findings(across)["film_wrinkles"].detail
    assert "film_wrinkles" not in findings(mended(across, "film_wrinkles"))


def test_a_film_slack_both_ways_has_no_single_mend() -> None:
    found = findings(with_mirror(pull_along_n_m=5.0, pull_across_n_m=6.0))["film_wrinkles"]
    assert found.mend is None
    assert "along" in found.detail
    assert "across" in found.detail
    assert "slack" in found.sentence


def test_what_goes_slack_on_a_hot_day_and_the_pulls_that_hold() -> None:
    found = findings(STANDS)["film_slack_hot"]
    assert found.value == pytest.approx(42.0, abs=0.1)
    held = mended(STANDS, "film_slack_hot")
    assert held.mirror.pull_along_n_m == 55.0
    assert "film_slack_hot" not in findings(held)
    assert "film_slack_hot" in findings(with_mirror(pull_along_n_m=54.0))
    # that pull bulges the strips; the mend of that ends with neither
    assert set(findings(mended(held, "strips_bulge"))) == {"ribs_scatter"}


def test_strips_that_bulge_beyond_a_quarter() -> None:
    found = findings(with_mirror(pull_along_n_m=41.0))["strips_bulge"]
    assert found.severity == "note"
    assert found.value == pytest.approx(41.0 / 160.0)
    assert "strips_bulge" not in findings(with_mirror(pull_along_n_m=40.0))


def test_a_film_pulled_beyond_a_third_of_its_yield() -> None:
    # 54.4 N/m come in the cold; a third of 100 MPa on 50 um are 1666.7 N/m
    pulled = with_mirror(pull_along_n_m=60.0, pull_across_n_m=1613.0)
    found = findings(pulled)["film_stress"]
    assert found.severity == "caution"
    assert found.value == pytest.approx(1 / 3, abs=1e-3)
    assert "film_stress" not in findings(with_mirror(pull_along_n_m=60.0, pull_across_n_m=1612.0))


def test_ribs_that_stay_elastic_must_be_held() -> None:
    # 10 mm of 235 MPa: 4.468 m, twice the focal length
    found = findings(with_mirror(focal_m=2.235))
    assert found["ribs_sprung"].severity == "note"
    # E I / R
    assert found["ribs_sprung"].value == pytest.approx(210e9 * pi * 0.01**4 / 64 / 4.47)
    assert "ribs_scatter" not in found
    assert "ribs_sprung" not in findings(with_mirror(focal_m=2.233))
    # the outer ribs of a sphere are tighter than twice the focal length
    assert "ribs_sprung" not in findings(with_mirror(focal_m=2.235, surface="sphere"))


def test_ribs_bent_alike_scatter_more_than_the_workmanship() -> None:
    scatter = mirror_build(STANDS).tightest.scatter.slope_mrad
    assert findings(STANDS)["ribs_scatter"].value == pytest.approx(6.16, abs=0.01)
    assert "ribs_scatter" in findings(with_mirror(slope_error_mrad=scatter - 0.01))
    assert "ribs_scatter" not in findings(with_mirror(slope_error_mrad=scatter + 0.01))


def test_ribs_that_bow_under_film_and_wind() -> None:
    bow = slope_of(STANDS.mirror, 4.0).bow_mrad
    # 5 % more than the person's own: the bow is 0.32 of it
    own = bow / sqrt(1.05**2 - 1)
    found = findings(with_mirror(rod_mm=4.0, slope_error_mrad=own - 0.01))["ribs_bow"]
    assert found.severity == "caution"
    assert found.value == pytest.approx(bow)
    assert "ribs_bow" not in findings(with_mirror(rod_mm=4.0, slope_error_mrad=own + 0.01))
    thread = findings(with_mirror(rod_mm=2.0, pull_along_n_m=1000.0, pull_across_n_m=4000.0, film_um=200.0))
    assert "more than" in thread["ribs_bow"].sentence


def test_end_ribs_that_bow_and_the_holds_that_mend_it() -> None:
    # 2.38 mm at 160 N/m
    bowed = with_mirror(pull_across_n_m=340.0)
    assert findings(bowed)["end_ribs_bow"].value == pytest.approx(2.376 * 340 / 160, rel=1e-3)
    assert "end_ribs_bow" not in findings(with_mirror(pull_across_n_m=335.0))
    held = mended(bowed, "end_ribs_bow")
    assert held.mirror.rib_holds == 4
    assert "end_ribs_bow" not in findings(held)
