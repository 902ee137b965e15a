"""Arms that lean, windows that are turned on them, roll axes beside the vertices: against rolls, rays and each other."""

from dataclasses import replace

import numpy as np
import pytest

from studio.engine.mirror.cone import cone_shares
from studio.engine.mirror.form import Errors, MirrorForm, Window
from studio.engine.mirror.points import surface_points
from studio.engine.mirror.rays import ray_hits, ray_shares
from studio.engine.motion.pose import LineMotion, best_poses, window_frames
from studio.errors import BadInputError

FORM = MirrorForm(surface="paraboloid", width_m=1.25, height_m=1.44, focal_m=1.3, ribs=11)
ERRORS = Errors(slope_mrad=4.0)
WINDOW = Window(width_m=0.2, height_m=0.175, acceptance_deg=60.0)
EAST = LineMotion(
    along=(1.0, 0.0, 0.0),
    arm_m=1.235,
    slide_min_m=-1.1,
    slide_max_m=1.1,
    roll_min_deg=-60.0,
    roll_max_deg=60.0,
)
SUNS = np.array([[0.0, 0.3, 1.0], [0.3, -0.2, 1.0], [-0.5, 0.1, 1.0]])
SUNS /= np.linalg.norm(SUNS, axis=1, keepdims=True)


def test_a_leaning_arm_is_a_roll_that_starts_elsewhere() -> None:
    slide, roll = np.array([0.2, -0.3]), np.array([5.0, -20.0])
    leaning = window_frames(replace(EAST, arm_lean_deg=12.0), slide, roll)
    upright = window_frames(EAST, slide, roll + 12.0)
    np.testing.assert_allclose(leaning.centre, upright.centre, atol=1e-12)
    np.testing.assert_allclose(leaning.forward, upright.forward, atol=1e-12)


def test_the_best_pose_of_a_leaning_arm_brings_the_same_and_rolls_by_the_lean_less() -> None:
    straight = best_poses(FORM, ERRORS, WINDOW, EAST, SUNS)
    leaning = best_poses(FORM, ERRORS, WINDOW, replace(EAST, arm_lean_deg=12.0), SUNS)
    np.testing.assert_allclose(leaning.accepted, straight.accepted, atol=2e-3)
    np.testing.assert_allclose(leaning.roll_deg + 12.0, straight.roll_deg, atol=0.3)


def test_a_turned_window_stays_where_it_is_and_faces_elsewhere() -> None:
    turned = window_frames(replace(EAST, window_turn_deg=25.0), np.zeros(1), np.array([10.0]))
    straight = window_frames(EAST, np.zeros(1), np.array([10.0]))
    np.testing.assert_allclose(turned.centre, straight.centre, atol=1e-12)
    assert float(turned.forward[0] @ straight.forward[0]) == pytest.approx(np.cos(np.radians(25.0)))
    farther = window_frames(EAST, np.zeros(1), np.array([35.0]))
    np.testing.assert_allclose(turned.forward, farther.forward, atol=1e-12)


def test_rays_find_the_turned_window_too() -> None:
    motion = replace(EAST, window_turn_deg=20.0, arm_lean_deg=-5.0, axis_offset_m=(0.0, 0.1, 0.05))
    poses = best_poses(FORM, ERRORS, WINDOW, motion, SUNS)
    frames = window_frames(motion, poses.slide_m, poses.roll_deg)
    cone = cone_shares(surface_points(FORM, ERRORS), ERRORS, WINDOW, SUNS, frames)
    for place, sun in enumerate(SUNS):
        hits = ray_hits(
            FORM, ERRORS, WINDOW, sun=sun, centre=frames.centre[place], along=frames.along,
            forward=frames.forward[place], rays=60_000, generator=np.random.default_rng(place),
        )  # fmt: skip
        rays = ray_shares(hits)
        assert cone.accepted[place] == pytest.approx(rays.accepted, abs=0.003 + 3 * rays.accepted_error)


def test_a_search_beats_a_scan_with_the_window_turned() -> None:
    motion = replace(EAST, window_turn_deg=30.0)
    poses = best_poses(FORM, ERRORS, WINDOW, motion, SUNS[:1])
    slides, rolls = np.meshgrid(
        poses.slide_m[0] + np.linspace(-0.1, 0.1, 9), poses.roll_deg[0] + np.linspace(-5, 5, 21)
    )
    points = surface_points(FORM, ERRORS)
    many = np.broadcast_to(SUNS[:1], (slides.size, 3))
    scan = cone_shares(points, ERRORS, WINDOW, many, window_frames(motion, slides.ravel(), rolls.ravel()))
    assert poses.accepted[0] >= scan.accepted.max() - 2e-3


def test_lean_beyond_a_right_angle_is_refused_in_one_sentence() -> None:
    with pytest.raises(BadInputError, match="within 90 degrees"):
        replace(EAST, arm_lean_deg=95.0)
