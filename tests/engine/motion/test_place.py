"""From mirror frame to site and back."""

import numpy as np
import pytest

from studio.engine.mirror.frame import mirror_axes
from studio.engine.motion.place import line_direction, receiver_points
from studio.engine.motion.pose import LineMotion

EAST, NORTH, UP = np.eye(3)


@pytest.mark.parametrize(("tilt", "facing"), [(0, 180), (36, 180), (36, 0), (20, 135), (70, 250)])
def test_axes_are_square_unit_and_right_handed(tilt: float, facing: float) -> None:
    axes = np.array(mirror_axes(tilt_deg=tilt, facing_deg=facing))
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.cross(axes[0], axes[1]) == pytest.approx(axes[2], abs=1e-12)


def test_a_mirror_facing_south_has_x_east_and_looks_south() -> None:
    x, y, z = np.array(mirror_axes(tilt_deg=36, facing_deg=180))
    assert x == pytest.approx(EAST, abs=1e-12)
    assert z == pytest.approx([0, -np.sin(np.radians(36)), np.cos(np.radians(36))])
    assert y[2] > 0
    flat = np.array(mirror_axes(tilt_deg=0, facing_deg=180))
    assert flat[0] == pytest.approx(EAST, abs=1e-12)
    assert flat[1] == pytest.approx(NORTH, abs=1e-12)


def test_a_mirror_facing_east_has_x_north() -> None:
    x, _, z = np.array(mirror_axes(tilt_deg=30, facing_deg=90))
    assert x == pytest.approx(NORTH, abs=1e-12)
    assert z @ EAST > 0


def test_a_lines_direction() -> None:
    assert line_direction(90) == pytest.approx(EAST)
    assert line_direction(0) == pytest.approx(NORTH)
    graded = line_direction(90, 5)
    assert graded[2] / graded[0] == pytest.approx(0.05)
    assert np.linalg.norm(graded) == pytest.approx(1)


def test_receivers_on_an_east_west_line_slide_east_and_roll_south() -> None:
    axes = np.array(mirror_axes(tilt_deg=36, facing_deg=180))
    motion = LineMotion((1, 0, 0), 1.2, -1, 1, -29, 29)
    vertices = np.array([[0.0, 0, 1], [1.35, 0, 1]])
    points = receiver_points(
        motion,
        np.array([0.0, 0.4, 0.0]),
        np.array([0.0, 0.0, 20.0]),
        pipe_behind_m=0.1,
        axes=axes,
        vertices=vertices,
    )
    assert points.window.shape == points.pipe.shape == points.axis.shape == (3, 2, 3)
    assert points.window[0, 0] == pytest.approx(vertices[0] + 1.2 * axes[2])
    assert points.window[1, 1] - points.window[0, 1] == pytest.approx(0.4 * EAST, abs=1e-12)
    # + roll: down the slope, which is south
    assert points.window[2, 0, 1] < points.window[0, 0, 1]
    assert points.pipe[0, 0] - points.window[0, 0] == pytest.approx(0.1 * axes[2])
    assert points.axis[:, 0] == pytest.approx(vertices[0] + np.outer([0.0, 0.4, 0.0], EAST), abs=1e-12)
    assert np.linalg.norm(points.window - points.axis, axis=-1) == pytest.approx(np.full((3, 2), 1.2))
