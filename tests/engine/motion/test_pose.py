"""Poses: the frame's hand, limits, smoothness, and the best pose against a search that tries everything."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from studio.engine.mirror.cone import cone_shares, shares_by_sun
from studio.engine.mirror.form import Errors, Floats, MirrorForm, Window
from studio.engine.mirror.points import spot_points
from studio.engine.motion.pose import LineMotion, best_poses, transverse_axes, window_frames
from studio.errors import BadInputError

MIRROR = MirrorForm("paraboloid", 1.25, 1.44, 1.3, 11)
WINDOW = Window(0.20, 0.175, 55)
MOTION = LineMotion((1, 0, 0), 0.95 * 1.3, -1.1, 1.1, -29, 29)
OBLIQUE = LineMotion((0.8, 0.5, -0.2), 1.2, -1.1, 1.1, -50, 50, axis_offset_m=(0.05, 0.1, 0.1))
NORTH_SOUTH = LineMotion((0, 0.81, -0.59), 1.235, -1.1, 1.1, -60, 60)


def suns_at(a_deg: Floats, b_deg: Floats) -> Floats:
    a, b = np.radians(np.broadcast_arrays(a_deg, b_deg))
    return np.stack([np.cos(b) * np.sin(a), np.sin(b), np.cos(b) * np.cos(a)], axis=-1)


@pytest.mark.parametrize(
    ("made", "says"),
    [
        (lambda: replace(MOTION, along=(0, 0, 1)), "must not run along the mirror axis"),
        (lambda: replace(MOTION, along=(0, 0, 0)), "must not run along"),
        (lambda: replace(MOTION, arm_m=0), "arm must be above"),
        (lambda: replace(MOTION, slide_min_m=2), "lower limit"),
        (lambda: replace(MOTION, slide_min_m=float("nan")), "lower limit"),
        (lambda: replace(MOTION, roll_max_deg=95), "within 90 degrees"),
        (lambda: replace(MOTION, hold_days=0), "at least 1 day"),
    ],
)
def test_a_motion_that_cannot_be_is_refused(made: Callable[[], LineMotion], says: str) -> None:
    with pytest.raises(BadInputError, match=says):
        made()


@pytest.mark.parametrize("motion", [MOTION, OBLIQUE, NORTH_SOUTH])
def test_the_roll_is_right_handed_about_e_and_the_slide_runs_along_it(motion: LineMotion) -> None:
    e = np.array(motion.along)
    across, forward = transverse_axes(motion)
    assert np.cross(e, across) == pytest.approx(forward)
    frames = window_frames(motion, np.array([0.0, 0.3, 0.0]), np.array([0.0, 0.0, 90.0 - 1e-9]))
    assert frames.centre[0] == pytest.approx(np.add(motion.axis_offset_m, [0, 0, motion.arm_m]))
    assert frames.centre[1] - frames.centre[0] == pytest.approx(0.3 * e)
    # a quarter turn of v about e is e x v
    assert frames.forward[2] == pytest.approx(np.cross(e, forward), abs=1e-9)


def test_on_an_east_west_line_a_sun_up_the_slope_is_met_by_a_plus_roll_and_one_in_the_east_by_a_minus_slide() -> (
    None
):
    poses = best_poses(
        MIRROR, Errors(), WINDOW, MOTION, suns_at(np.array([0.0, 20.0]), np.array([15.0, 0.0]))
    )
    assert 10 < poses.roll_deg[0] < 20
    assert abs(poses.slide_m[0]) < 1e-6
    assert -0.6 < poses.slide_m[1] < -0.3


def tried(motion: LineMotion, sun: Floats, slide: float, roll: float) -> float:
    """The best of many poses within 1.5 windows of a pose, then of finer ones about it."""
    best, span = -1.0, 1.5
    for _ in range(3):
        grid = np.linspace(-span, span, 21)
        slides, rolls = np.meshgrid(
            np.clip(slide + grid * WINDOW.width_m, *motion.slide_limits_m),
            np.clip(roll + np.degrees(grid * WINDOW.height_m / motion.arm_m), *motion.roll_limits_deg),
        )
        frames = window_frames(motion, slides.ravel(), rolls.ravel())
        suns = np.tile(sun, (slides.size, 1))
        accepted = shares_by_sun(MIRROR, Errors(), WINDOW, suns, frames).accepted
        top = int(np.argmax(accepted))
        best, slide, roll, span = float(accepted[top]), slides.ravel()[top], rolls.ravel()[top], span / 5
    return best


@pytest.mark.parametrize("motion", [MOTION, OBLIQUE, NORTH_SOUTH])
def test_no_pose_tried_by_hand_brings_half_a_per_cent_more(motion: LineMotion) -> None:
    generator = np.random.default_rng(11)
    suns = suns_at(generator.uniform(-45, 45, 6), generator.uniform(-24, 24, 6))
    poses = best_poses(MIRROR, Errors(), WINDOW, motion, suns)
    for sun, slide, roll, accepted in zip(suns, poses.slide_m, poses.roll_deg, poses.accepted, strict=True):
        assert tried(motion, sun, float(slide), float(roll)) - accepted < 0.005


@pytest.mark.parametrize("motion", [MOTION, OBLIQUE, NORTH_SOUTH])
def test_what_poses_of_far_suns_bring_is_not_what_the_search_hoped_for(motion: LineMotion) -> None:
    """Weighed on a spot's own points, which hold any sun to 0.0005: no bias, far off the axis either."""
    generator = np.random.default_rng(5)
    suns = suns_at(generator.uniform(-65, 65, 60), generator.uniform(-25, 25, 60))
    poses = best_poses(MIRROR, Errors(), WINDOW, motion, suns)
    frames = window_frames(motion, poses.slide_m, poses.roll_deg)
    apart = [
        poses.accepted[place]
        - cone_shares(
            spot_points(MIRROR, Errors(), sun=sun),
            Errors(),
            WINDOW,
            sun[None],
            frames[slice(place, place + 1)],
        ).accepted[0]
        for place, sun in enumerate(suns)
    ]
    assert abs(np.mean(apart)) < 0.002
    assert np.max(np.abs(apart)) < 0.01


def test_poses_keep_to_their_limits_and_a_fixed_one_to_its_value() -> None:
    generator = np.random.default_rng(2)
    suns = suns_at(generator.uniform(-70, 70, 60), generator.uniform(-60, 60, 60))
    poses = best_poses(MIRROR, Errors(), WINDOW, MOTION, suns)
    assert np.all(np.abs(poses.slide_m) <= 1.1)
    assert np.all(np.abs(poses.roll_deg) <= 29)
    fixed = best_poses(MIRROR, Errors(), WINDOW, replace(MOTION, roll_mode="fixed", roll_fixed_deg=7.0), suns)
    assert np.all(fixed.roll_deg == 7.0)
    assert np.all(fixed.accepted <= poses.accepted + 0.003)


def test_the_motion_is_smooth_in_the_sun() -> None:
    hour = np.arange(-40, 40.1, 0.25)
    for declination in (-23.0, -10.0, 0.0, 17.0):
        poses = best_poses(MIRROR, Errors(), WINDOW, MOTION, suns_at(hour, np.full_like(hour, declination)))
        # a minute of sun moves the receiver by some millimetres, never by a jump
        assert np.abs(np.diff(poses.slide_m)).max() < 0.02
        assert np.abs(np.diff(poses.roll_deg)).max() < 0.6


def test_turned_round_in_x_the_poses_turn_too() -> None:
    a, b = np.array([10.0, 25, 40]), np.array([-20.0, 5, 12])
    east = best_poses(MIRROR, Errors(), WINDOW, MOTION, suns_at(a, b))
    west = best_poses(MIRROR, Errors(), WINDOW, MOTION, suns_at(-a, b))
    assert west.slide_m == pytest.approx(-east.slide_m, abs=2e-3)
    assert west.roll_deg == pytest.approx(east.roll_deg, abs=0.1)
    assert west.accepted == pytest.approx(east.accepted, abs=1e-3)


def test_a_line_the_other_way_round_has_the_other_signs() -> None:
    suns = suns_at(np.array([10.0, 25, 40]), np.array([-20.0, 5, 12]))
    one = best_poses(MIRROR, Errors(), WINDOW, MOTION, suns)
    other = best_poses(MIRROR, Errors(), WINDOW, replace(MOTION, along=(-1, 0, 0)), suns)
    assert other.slide_m == pytest.approx(-one.slide_m, abs=2e-3)
    assert other.roll_deg == pytest.approx(-one.roll_deg, abs=0.1)


def test_a_sun_behind_brings_nothing() -> None:
    poses = best_poses(MIRROR, Errors(), WINDOW, MOTION, np.array([[0.0, 0.6, -0.8]]))
    assert poses.accepted.tolist() == [0.0]
    assert np.isfinite(poses.slide_m).all()


def test_a_window_as_tall_as_its_arm_is_still_placed() -> None:
    tall = Window(2.0, 2.0, 90)
    poses = best_poses(MIRROR, Errors(), tall, MOTION, suns_at(np.array([0.0, 20.0]), np.array([0.0, 10.0])))
    assert np.all(poses.accepted > 0.99)
