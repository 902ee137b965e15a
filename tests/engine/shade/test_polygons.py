"""Outlines of shadows on the ground."""

import numpy as np
import pytest
import shapely

from studio.engine.mirror.frame import Vector, mirror_axes
from studio.engine.shade.gear import GearShape, pose_gear
from studio.engine.shade.polygons import mirror_outlines, on_ground, shadow_outlines
from studio.engine.shade.rows import Floats, RowOfMirrors

SUN: Vector = (0.36, -0.48, 0.8)
GEAR = GearShape(1.2, 0.12, 0.5, 0.24, 0.2, 0.15, 0.03, mirrors_per_frame=2, pipe_offset_m=(0.1, 0.16))


def row(tilt: float = 35.0) -> RowOfMirrors:
    return RowOfMirrors(
        first=(2.0, 3.0, 1.1),
        along=(1.0, 0.0, 0.0),
        spacing_m=1.35,
        count=5,
        axes=mirror_axes(tilt_deg=tilt, facing_deg=180.0),
        width_m=1.25,
        height_m=1.44,
        plane_z_m=0.1,
    )


def area(outlines: Floats) -> list[float]:
    shapes = shapely.polygons(outlines)
    assert shapely.is_valid(shapes).all()
    return [float(one) for one in np.atleast_1d(shapely.area(shapes))]


def test_a_flat_mirror_throws_its_own_shape_on_level_ground() -> None:
    flat = mirror_outlines(row(0.0), SUN)
    assert flat.shape == (5, 4, 2)
    assert area(flat) == pytest.approx([1.25 * 1.44] * 5)
    # 1.2 m above the ground: shifted by height / tan(altitude) away from the sun
    assert flat.mean(axis=1)[0] == pytest.approx([2.0 - 1.2 * 0.36 / 0.8, 3.0 + 1.2 * 0.48 / 0.8])


def test_area_of_a_shadow_is_the_light_it_takes() -> None:
    """Aperture times cosine of incidence is the beam cut out; over the sine of the sun's height, its footprint."""
    tilted = row()
    cosine = tilted.into_mirror_frame(np.array(SUN))[2]
    assert area(mirror_outlines(tilted, SUN)) == pytest.approx([1.25 * 1.44 * cosine / SUN[2]] * 5)


def test_gear_outlines_hold_every_corner_of_the_bodies() -> None:
    tilted = row()
    drawn = shadow_outlines(tilted, GEAR, SUN, slide_m=0.4, roll_deg=-12.0)
    assert drawn.receivers.shape == (5, 6, 2)
    assert drawn.frames.shape == (4, 4, 2)  # gaps 0, 2, 4 and the end
    assert drawn.pipe.shape == (1, 4, 2)
    line = pose_gear(GEAR, tilted, np.array([SUN]), slide_m=np.array([0.4]), roll_deg=np.array([-12.0]))
    signs = np.array(np.meshgrid([-1, 1], [-1, 1], [-1, 1])).reshape(3, -1).T
    axes = np.array(tilted.axes)
    rim = np.array(tilted.first) + 0.1 * axes[2]
    corners = (line.bodies.centre[0, 4] + signs @ line.bodies.extents[0, 4]) @ axes + rim
    hull = shapely.MultiPoint(on_ground(corners, SUN)[:, :2]).convex_hull
    first = shapely.Polygon(drawn.receivers[0])
    assert first.symmetric_difference(hull).area == pytest.approx(0.0, abs=1e-12)
    assert all(one > 0 for one in (*area(drawn.frames), *area(drawn.pipe)))


def test_shadow_on_a_slope_lies_in_the_slope() -> None:
    """Ground that falls 10 % to the north: a pole's shadow there is longer than on the level."""
    normal = (0.0, 0.1 / 1.01**0.5, 1 / 1.01**0.5)
    sun = (0.0, -0.8, 0.6)
    tip = on_ground(np.array([5.0, 7.0, 2.0]), sun, normal=normal, through=(5.0, 7.0, 0.0))
    assert tip[2] == pytest.approx(-0.1 * (tip[1] - 7.0))
    # h / (tan(altitude) - slope)
    assert tip[1] - 7.0 == pytest.approx(2.0 / (0.75 - 0.1))


def test_no_sun_on_the_ground_gives_no_outline() -> None:
    low = (0.0, -1.0, 0.0)
    assert mirror_outlines(row(), low).shape == (0, 4, 2)
    assert shadow_outlines(row(), GEAR, low, slide_m=0.0, roll_deg=0.0).receivers.shape == (0, 6, 2)
