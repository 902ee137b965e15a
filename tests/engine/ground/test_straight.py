"""How a line lies over uneven ground, and the earth of grading, against closed forms."""

import numpy as np
import pytest
from scipy.interpolate import RegularGridInterpolator

from studio.engine.ground.plane import grade_percent, height_at
from studio.engine.ground.straight import Straight, earthwork, laid_length, straight_over
from studio.engine.ground.surface import Plane, Surface, grid_surface, spot_surface


def ridge(height_m: float = 2.0, half_m: float = 60.0) -> Surface:
    """A roof whose ridge runs north at x = 0, ``height_m`` high, down to 0 at either side."""
    return spot_surface(
        [[x, y, z] for x, z in ((-half_m, 0.0), (0.0, height_m), (half_m, 0.0)) for y in (-50.0, 50.0)]
    )


def test_over_a_plane_nothing_changes() -> None:
    for slope, falls, azimuth in ((0.0, 0.0, 33.0), (7.0, 150.0, 90.0), (12.5, 20.0, 211.0)):
        found = straight_over(
            Plane(slope, falls), x_m=11.0, y_m=-7.0, azimuth_deg=azimuth, spacing_m=1.4, count=30
        )
        assert found.grade_percent == float(
            grade_percent(azimuth, slope_percent=slope, falls_towards_deg=falls)
        )
        assert found.level_m == float(height_at(11.0, -7.0, slope_percent=slope, falls_towards_deg=falls))


def test_a_bent_surface_that_is_a_plane_gives_the_planes_grade() -> None:
    y, x = np.mgrid[-30:31, -30:31] * 2.0
    plane = Plane(7.0, 150.0)
    grid = grid_surface(plane.height_at(x, y), x_m=-60.0, y_m=-60.0, step_m=2.0)
    wanted = straight_over(plane, x_m=-20.0, y_m=5.0, azimuth_deg=70.0, spacing_m=1.5, count=20)
    found = straight_over(grid, x_m=-20.0, y_m=5.0, azimuth_deg=70.0, spacing_m=1.5, count=20)
    assert found.grade_percent == pytest.approx(wanted.grade_percent)
    assert found.level_m == pytest.approx(wanted.level_m)
    assert found.raised_m == pytest.approx(0.0, abs=1e-9)


def test_the_grade_is_that_of_least_squares_and_the_lowest_mirror_stands_on_the_ground() -> None:
    y, x = np.mgrid[0:81, 0:81] * 1.0
    heights = 0.03 * x + 1.5 * np.sin(x / 11) + np.cos(y / 7)
    grid = grid_surface(heights, x_m=0.0, y_m=0.0, step_m=1.0)
    found = straight_over(grid, x_m=5.0, y_m=10.0, azimuth_deg=60.0, spacing_m=1.6, count=40)
    # numpy.polyfit and scipy's reading of the grid, independently
    other = RegularGridInterpolator((np.arange(81.0), np.arange(81.0)), heights)
    way = np.array([np.sin(np.radians(60)), np.cos(np.radians(60))])
    s = 1.6 * np.arange(40)
    places = np.array([5.0, 10.0]) + s[:, None] * way
    slope, foot = np.polyfit(s, other(places[:, ::-1]), 1)
    assert found.grade_percent == pytest.approx(100 * slope)
    assert found.ground_m == pytest.approx(foot)
    s = 1.6 * np.arange(40) * np.cos(np.arctan(slope))
    over = found.level_m + slope * s - other((np.array([5.0, 10.0]) + s[:, None] * way)[:, ::-1])
    assert over.min() == pytest.approx(0.0, abs=1e-9)
    assert over.max() > 1.0


def test_one_mirror_lies_as_the_ground_about_it() -> None:
    found = straight_over(ridge(), x_m=-30.0, y_m=0.0, azimuth_deg=90.0, spacing_m=2.0, count=1)
    assert found.grade_percent == pytest.approx(100 * 2.0 / 60.0)
    assert found.level_m == pytest.approx(1.0)


def test_cut_and_fill_of_a_ridge_by_its_triangles() -> None:
    """A strip across a ridge, graded level at 1.2 m: above it stands a prism of triangles, below it lie two."""
    found = earthwork(
        ridge(2.0, 60.0), Straight(0.0, 1.2),
        x_m=-60.0, y_m=0.0, azimuth_deg=90.0, from_m=0.0, to_m=120.0, half_width_m=1.5,
    )  # fmt: skip
    # the ridge rises 1 m in 30 m: it stands over 1.2 m on 24 m to either side
    assert found.cut_m3 == pytest.approx(3.0 * 0.8 * 48.0 / 2, rel=1e-9)
    assert found.fill_m3 == pytest.approx(3.0 * 2 * 1.2 * 36.0 / 2, rel=1e-9)


def test_cut_and_fill_of_waves() -> None:
    """Over whole waves of amplitude a what is cut is width × length × a / pi, and as much is filled."""
    step, length, a = 0.25, 80.0, 0.4
    y, x = np.mgrid[-20:21, 0 : int(length / step) + 1] * step
    waves = grid_surface(a * np.cos(2 * np.pi * x / 20.0) + 0.05 * y, x_m=0.0, y_m=-5.0, step_m=step)
    found = earthwork(
        waves,
        Straight(0.0, 0.0),
        x_m=0.0,
        y_m=0.0,
        azimuth_deg=90.0,
        from_m=0.0,
        to_m=length,
        half_width_m=1.0,
    )
    assert found.cut_m3 == pytest.approx(2.0 * length * a / np.pi, rel=3e-3)
    assert found.fill_m3 == pytest.approx(found.cut_m3, rel=1e-6)  # the even fall across needs no grading


def test_a_plane_needs_no_grading() -> None:
    strip = Straight(3.0, 1.0)
    found = earthwork(
        Plane(5.0, 120.0), strip, x_m=0.0, y_m=0.0, azimuth_deg=90.0, from_m=0.0, to_m=9.0, half_width_m=1.0
    )
    assert (found.cut_m3, found.fill_m3) == (0.0, 0.0)


def test_a_pipe_along_the_ground_is_as_long_as_its_slope() -> None:
    way = [(-60.0, 0.0), (60.0, 0.0), (60.0, 30.0)]
    assert laid_length(ridge(8.0), way) == pytest.approx(2 * np.hypot(60.0, 8.0) + 30.0)
    assert laid_length(Plane(10.0, 90.0), way) == pytest.approx(np.hypot(120.0, 12.0) + 30.0)
    assert laid_length(Plane(), way) == pytest.approx(150.0)
