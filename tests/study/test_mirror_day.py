"""The mirror through the day against single suns, pvlib's angle of incidence, and symmetry."""

from dataclasses import replace

import numpy as np
import pytest
from pvlib.irradiance import aoi_projection

from studio.design.design import Design
from studio.design.field import Line
from studio.design.mirror import Mirror
from studio.design.motion import Motion
from studio.design.site import Site
from studio.engine.motion import table as table_module
from studio.engine.motion.pose import best_poses
from studio.engine.sky.sun import clock_suns
from studio.study.cache import Cache
from studio.study.heat import shares_of
from studio.study.mirror_day import MARKS, dates_beside, mirror_day, mirror_line
from studio.study.optics import errors_of, motion_of, window_of
from studio.study.place import form_of

SITE = Site(latitude_deg=30.0, longitude_deg=0.0, altitude_m=0.0, utc_offset_h=0.0)
DESIGN = Design(site=SITE, mirror=Mirror(tilt_deg=30.0, facing_deg=180.0), lines=(Line(id=1, x_m=0, y_m=0),))


def test_the_curve_is_that_of_single_suns_with_their_own_best_poses() -> None:
    line = mirror_line(DESIGN)
    curve = mirror_day(DESIGN, line, day=17, cache=Cache()).curves[0]
    lit = np.flatnonzero(np.isfinite(curve.intercept))[::5]
    track = clock_suns(
        17.0, curve.clock_h[lit], latitude_deg=30.0, longitude_deg=0.0, altitude_m=0.0, utc_offset_h=0.0
    )
    motion = motion_of(DESIGN.motion, line.axes @ line.along)
    poses = best_poses(
        form_of(DESIGN.mirror), errors_of(DESIGN), window_of(DESIGN), motion, track.direction @ line.axes.T
    )
    assert np.max(np.abs(curve.intercept[lit] - poses.accepted)) < 0.015
    assert np.max(poses.accepted) > 0.5


def test_efficiency_is_intercept_times_film_absorber_and_the_cosine_of_pvlib() -> None:
    curve = mirror_day(DESIGN, mirror_line(DESIGN), day=100, cache=Cache()).curves[0]
    lit = np.isfinite(curve.efficiency)
    track = clock_suns(
        100.0, curve.clock_h[lit], latitude_deg=30.0, longitude_deg=0.0, altitude_m=0.0, utc_offset_h=0.0
    )
    cosine = aoi_projection(30.0, 180.0, 90.0 - track.elevation_deg, track.azimuth_deg)
    shares = shares_of(DESIGN)
    expected = curve.intercept[lit] * cosine * shares.reflectance * shares.absorptance
    assert curve.efficiency[lit] == pytest.approx(expected, abs=2e-4)
    assert np.nanmax(curve.efficiency) < shares.reflectance


def test_at_the_equinox_a_mirror_tilted_by_the_latitude_has_the_sun_on_its_axis_at_solar_noon() -> None:
    """Declination 0: the sun at noon stands as far from the zenith as the latitude (spherical astronomy)."""
    curve = mirror_day(DESIGN, mirror_line(DESIGN), day=80, cache=Cache()).curves[0]
    noon = 12.0 + 7.4 / 60  # equation of time on 21 March, NOAA: -7.4 min
    assert curve.at(curve.slide_m, noon) == pytest.approx(0.0, abs=0.02)
    assert curve.at(curve.roll_deg, noon) == pytest.approx(0.0, abs=0.8)
    before, after = (curve.at(curve.intercept, noon + by) for by in (-2.5, 2.5))
    assert before == pytest.approx(after, abs=0.01)
    assert curve.at(curve.intercept, noon) == pytest.approx(float(np.nanmax(curve.intercept)), abs=0.01)


def test_there_are_always_four_dates_and_the_first_is_the_moments() -> None:
    for day in (1, 17, *MARKS, 365):
        dates = dates_beside(day)
        assert dates[0] == day
        assert len(set(dates)) == 4


def test_another_date_near_by_costs_no_new_poses(monkeypatch: pytest.MonkeyPatch) -> None:
    cache, line = Cache(), mirror_line(DESIGN)
    mirror_day(DESIGN, line, day=355, cache=cache)

    def refuse(*_args: object, **_kw: object) -> None:
        raise AssertionError("poses were sought anew")

    monkeypatch.setattr(table_module, "best_poses", refuse)
    assert mirror_day(DESIGN, line, day=355, cache=cache).curves[0].day_of_year == 355


def test_a_slide_set_by_hand_stands_still_all_day_and_takes_in_no_more() -> None:
    held = replace(DESIGN, motion=Motion(slide="held", hold_days=3))
    free = mirror_day(DESIGN, mirror_line(DESIGN), day=40, cache=Cache()).curves[0]
    still = mirror_day(held, mirror_line(held), day=40, cache=Cache()).curves[0]
    lit = np.isfinite(still.intercept) & (still.intercept > 0.05)
    assert np.ptp(still.slide_m[lit]) < 1e-9
    assert np.ptp(free.slide_m[lit]) > 0.2
    assert np.all(still.intercept[lit] <= free.intercept[lit] + 0.01)


def test_hours_above_a_half_lie_within_the_hours_of_sun() -> None:
    curve = mirror_day(DESIGN, mirror_line(DESIGN), day=172, cache=Cache()).curves[0]
    assert 0 < curve.hours_above(0.5) < curve.hours_above(0.2) < 14.2
    assert np.isnan(curve.at(curve.intercept, 2.0))


def test_the_line_is_the_selected_one_else_the_first_else_one_along_east_west() -> None:
    two = replace(DESIGN, lines=(Line(id=4, x_m=0, y_m=0), Line(id=7, x_m=0, y_m=5, azimuth_deg=45.0)))
    assert mirror_line(two).id == 4
    assert mirror_line(two, (7,)).id == 7
    assert mirror_line(replace(DESIGN, lines=())).along == pytest.approx([1.0, 0.0, 0.0])
