"""The compact law of the drive: how near, how few numbers, and the same from anyone's arithmetic."""

import os
from dataclasses import dataclass

import numpy as np
import pytest

from studio.engine.mirror.cone import cone_shares
from studio.engine.mirror.form import Errors, Floats, MirrorForm, Window
from studio.engine.mirror.frame import mirror_axes
from studio.engine.mirror.points import surface_points
from studio.engine.motion.compact import (
    DriveLaw,
    MotionLaw,
    Term,
    law_error,
    pose_by_hand,
    poses_of,
    vectors_of,
)
from studio.engine.motion.even import EvenLaw, care_of, even_law
from studio.engine.motion.place import line_direction
from studio.engine.motion.pose import LineMotion, window_frames
from studio.engine.motion.table import OpticsTable, optics_table
from studio.engine.sky.clear import clear_dni
from studio.engine.sky.short_sun import place_by_hand, short_sun
from studio.engine.sky.sun import clock_suns
from studio.errors import BadInputError

FULL = os.environ.get("STILLFIELD_FULL") == "1"
MIRROR, WINDOW, ERRORS = MirrorForm("paraboloid", 1.25, 1.44, 1.3, 11), Window(0.2, 0.175, 55), Errors()
CASES = [(latitude, azimuth) for latitude in (15.0, 30.0, 40.0, -30.0) for azimuth in (90.0, 0.0)]
ROLL_DEG = {90.0: 29.0, 0.0: 60.0}
"""Roll either way: that of the default for an east-west line, what a north-south line wants for its hours."""


@dataclass(frozen=True)
class Case:
    """A line at a place: its law, and the moments (N,) at which it works."""

    table: OpticsTable
    even: EvenLaw
    suns: Floats
    declination_deg: Floats
    hour_angle_deg: Floats
    light: Floats


def case_of(latitude: float, azimuth: float, *, day_step: int) -> Case:
    """A line of mirrors tilted by the latitude towards the equator; it rests while it would bring the last 0.2 %."""
    axes = np.array(mirror_axes(tilt_deg=abs(latitude), facing_deg=180 if latitude > 0 else 0))
    along = axes @ line_direction(azimuth)
    limit = ROLL_DEG[azimuth]
    motion = LineMotion((along[0], along[1], along[2]), 1.235, -1.1, 1.1, -limit, limit)
    days = np.arange(3, 366, day_step)[:, None]
    track = clock_suns(
        days, np.arange(0, 24, 0.25), latitude_deg=latitude, longitude_deg=0.0, utc_offset_h=0.0
    )
    suns = track.direction @ axes.T
    up = (track.elevation_deg > 0) & (suns[..., 2] > 0)
    table = optics_table(MIRROR, ERRORS, WINDOW, motion, suns=suns[up])
    best = table.at(suns[up])
    clear = clear_dni(track.elevation_deg, days, altitude_m=0.0, turbidity=3.0)
    light = (clear * suns[..., 2])[up] * best.accepted
    order = np.argsort(light)
    works = np.empty(len(light), bool)
    works[order] = np.cumsum(light[order]) > 2e-3 * light.sum()
    declination = track.declination_deg[up][works]
    hour_angle = track.hour_angle_deg[up][works]
    even = even_law(
        declination,
        hour_angle,
        slide_m=best.slide_m[works],
        roll_deg=best.roll_deg[works],
        care=care_of(table, suns[up][works], light[works]),
        slide_limits_m=motion.slide_limits_m,
        roll_limits_deg=motion.roll_limits_deg,
        works_at=(declination, hour_angle),
    )
    return Case(table, even, suns[up][works], declination, hour_angle, light[works] / best.accepted[works])


@pytest.mark.parametrize(("latitude", "azimuth"), CASES)
def test_the_compact_form_is_within_5_mm_and_0_3_deg_wherever_the_line_works(
    latitude: float, azimuth: float
) -> None:
    case = case_of(latitude, azimuth, day_step=1 if FULL else 18)
    slide, roll = case.even.at(case.declination_deg, case.hour_angle_deg)
    error = law_error(case.even.few, case.declination_deg, case.hour_angle_deg, slide_m=slide, roll_deg=roll)
    points = surface_points(MIRROR, ERRORS)

    def taken(slide_m: Floats, roll_deg: Floats) -> float:
        frames = window_frames(case.table.motion, slide_m, roll_deg)
        return float(case.light @ cone_shares(points, ERRORS, WINDOW, case.suns, frames).accepted)

    best = case.table.at(case.suns)
    at = poses_of(case.even.few, case.declination_deg, case.hour_angle_deg)
    lost = 1 - taken(at.slide_m, at.roll_deg) / taken(best.slide_m, best.roll_deg)
    few = case.even.few
    assert few.slide is not None
    assert few.roll is not None
    print(
        f"{'east-west' if azimuth == 90 else 'north-south'} at {latitude:+.0f}: {len(few.slide.terms)} + "
        f"{len(few.roll.terms)} coefficients; slide worst {error.slide_worst_mm:.2f} RMS {error.slide_rms_mm:.2f} mm, "
        f"roll worst {error.roll_worst_deg:.3f} RMS {error.roll_rms_deg:.3f} deg over {len(slide)} moments; "
        f"{100 * lost:.3f} % of the light lost against the best poses"
    )
    assert error.within
    assert error.slide_worst_mm > 0.01
    assert lost < 0.003
    # fewer than the smooth law has, and few enough for a controller of a few kB
    assert few.coefficients < case.even.full.coefficients
    assert few.coefficients <= (60 if azimuth == 90 else 170)


@pytest.fixture(scope="module")
def north_south() -> Case:
    """A line whose roll meets its limits, so that slides are coupled."""
    return case_of(30.0, 0.0, day_step=15)


def test_plain_arithmetic_arrays_and_a_library_agree(north_south: Case) -> None:
    law = north_south.even.few
    assert law.slide is not None
    assert law.roll is not None
    assert any(term.coupled for term in law.slide.terms)
    x, y = north_south.declination_deg / 24, north_south.hour_angle_deg / law.reach_deg

    def summed(terms: tuple[Term, ...], coupled: bool) -> Floats:
        grid = np.zeros((20, 30))
        for term in terms:
            if term.coupled is coupled:
                grid[term.i, term.j] += term.coefficient
        return np.asarray(np.polynomial.chebyshev.chebval2d(x, y, grid))

    free = summed(law.roll.terms, False)
    roll = np.clip(free, law.roll.low, law.roll.high)
    slide = np.clip(
        summed(law.slide.terms, False) + (free - roll) / 10 * summed(law.slide.terms, True),
        law.slide.low,
        law.slide.high,
    )
    assert np.abs(free - roll).max() > 1
    at = poses_of(law, north_south.declination_deg, north_south.hour_angle_deg)
    assert at.slide_m == pytest.approx(slide, abs=1e-9)
    assert at.roll_deg == pytest.approx(roll, abs=1e-9)
    by_hand = [
        pose_by_hand(law, d, h)
        for d, h in zip(north_south.declination_deg[::7], north_south.hour_angle_deg[::7], strict=True)
    ]
    assert np.array(by_hand) == pytest.approx(np.stack([slide, roll], axis=1)[::7], abs=1e-9)


def test_vectors_are_spread_over_the_year_and_hold(north_south: Case) -> None:
    law = north_south.even.few
    vectors = vectors_of(law, north_south.declination_deg, north_south.hour_angle_deg)
    assert len(vectors) == 48
    assert np.ptp([v.declination_deg for v in vectors]) > 40
    for vector in vectors:
        slide, roll = pose_by_hand(law, vector.declination_deg, vector.hour_angle_deg)
        assert (vector.slide_m, vector.roll_deg) == pytest.approx((slide, roll), abs=2e-5)


def test_an_error_is_seen(north_south: Case) -> None:
    """The measure of the error is not blind: a coefficient changed by 6 mm fails it."""
    law = north_south.even.few
    slide, roll = north_south.even.at(north_south.declination_deg, north_south.hour_angle_deg)
    assert law.slide is not None
    bent = DriveLaw(
        law.reach_deg,
        MotionLaw(law.slide.low, law.slide.high, (*law.slide.terms, Term(0, 0, False, 0.012))),
        law.roll,
    )
    error = law_error(
        bent, north_south.declination_deg, north_south.hour_angle_deg, slide_m=slide, roll_deg=roll
    )
    assert not error.within


def test_a_motion_at_its_limit_is_clipped_and_one_set_by_hand_has_no_law() -> None:
    law = DriveLaw(90.0, MotionLaw(-0.5, 0.5, (Term(0, 1, False, 2.0),)), None)
    assert pose_by_hand(law, 0.0, 45.0)[0] == 0.5
    assert pose_by_hand(law, 0.0, -9.0)[0] == pytest.approx(-0.2)
    assert np.isnan(pose_by_hand(law, 0.0, 0.0)[1])
    at = poses_of(law, np.array([0.0, 10.0]), np.array([45.0, 9.0]))
    assert at.slide_m == pytest.approx([0.5, 0.2])
    assert np.isnan(at.roll_deg).all()


def test_a_fixed_motion_is_one_number_and_a_line_that_never_works_is_refused(north_south: Case) -> None:
    case = north_south
    ones = np.ones(len(case.suns))
    even = even_law(
        case.declination_deg,
        case.hour_angle_deg,
        slide_m=0.3 * ones,
        roll_deg=ones,
        care=care_of(case.table, case.suns, ones),
        slide_limits_m=(0.3, 0.3),
        roll_limits_deg=(-60, 60),
        works_at=(case.declination_deg, case.hour_angle_deg),
        by_hand=(False, True),
    )
    assert even.few.slide == MotionLaw(0.3, 0.3, (Term(0, 0, False, 0.3),))
    assert even.few.roll is None
    nothing = np.zeros(0)
    with pytest.raises(BadInputError, match="never works"):
        even_law(
            nothing, nothing, slide_m=nothing, roll_deg=nothing, care=care_of(case.table, np.zeros((0, 3)), nothing),
            slide_limits_m=(-1, 1), roll_limits_deg=(-9, 9), works_at=(nothing, nothing),
        )  # fmt: skip


@pytest.mark.parametrize(("longitude", "offset"), [(5.1, 1.0), (-71.0, -4.0), (77.5, 5.5)])
def test_a_sun_in_22_numbers_stands_where_the_long_computation_has_it(
    longitude: float, offset: float
) -> None:
    sun = short_sun()
    days, hours = np.arange(4, 366, 30), np.array([8.0, 12.25, 16.5])
    track = clock_suns(
        days[:, None], hours[None, :], latitude_deg=20.0, longitude_deg=longitude, utc_offset_h=offset
    )
    mine = np.array(
        [
            [
                place_by_hand(sun, day=int(d), clock_h=float(h), utc_offset_h=offset, longitude_deg=longitude)
                for h in hours
            ]
            for d in days
        ]
    )
    assert sun.declination_off_deg < 0.02
    assert sun.equation_of_time_off_min < 0.1
    # high suns, where refraction is below 0.02 deg
    high = track.elevation_deg > 45
    assert high.sum() > 10
    assert mine[..., 0][high] == pytest.approx(track.declination_deg[high], abs=0.04)
    assert mine[..., 1][high] == pytest.approx(track.hour_angle_deg[high], abs=0.06)
