"""Uneven ground against other readings of the same heights."""

import csv
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.interpolate import LinearNDInterpolator, RegularGridInterpolator

from studio.engine.ground.contours import contour_segments
from studio.engine.ground.plane import height_at
from studio.engine.ground.surface import Plane, fitted_plane, grid_surface, spot_surface
from studio.errors import BadInputError

Floats = NDArray[np.float64]
REAL = Path(os.environ.get("STILLFIELD_DATA", "absent")) / "land" / "topo.csv"
FT = 0.3048
RNG = np.random.default_rng(20)


def some_spots(count: int = 60) -> Floats:
    x, y = RNG.uniform(-80, 80, (2, count))
    return np.column_stack([x, y, 0.04 * x - 0.02 * y + 2 * np.sin(x / 15) * np.cos(y / 22)])


def topo() -> Floats:
    """Spots surveyed on a slope, in units of 50 ft on plan and feet in height, as metres."""
    with REAL.open() as file:
        rows = list(csv.DictReader(file))
    return np.array([[50 * FT * float(r["x"]), 50 * FT * float(r["y"]), FT * float(r["z"])] for r in rows])


def held_against_scipy(spots: Floats) -> None:
    """Heights between spots and the volume under them; scipy.interpolate reads the same triangles by its own code."""
    other = LinearNDInterpolator(spots[:, :2], spots[:, 2])
    surface = spot_surface(spots)
    low, high = spots[:, :2].min(axis=0), spots[:, :2].max(axis=0)
    x, y = np.meshgrid(np.linspace(low[0], high[0], 61), np.linspace(low[1], high[1], 53))
    read = other(x, y)
    inside = ~np.isnan(read)
    assert inside.mean() > 0.5
    heights = surface.height_at(x, y)
    assert heights.shape == x.shape
    assert heights[inside] == pytest.approx(read[inside], abs=1e-8)
    triangles = surface.triangles((*low.tolist(), *high.tolist()))
    (ax, ay, _az), (bx, by, _bz), (cx, cy, _cz) = np.moveaxis(triangles, (1, 2), (0, 1))
    areas = np.abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay)) / 2
    volume = float(areas @ (triangles[..., 2].mean(axis=1) - spots[:, 2].min()))
    fine_x, fine_y = np.meshgrid(np.linspace(low[0], high[0], 701), np.linspace(low[1], high[1], 701))
    cell = float(np.prod((high - low) / 700))
    assert volume == pytest.approx(
        float(np.nansum(other(fine_x, fine_y) - spots[:, 2].min()) * cell), rel=5e-3
    )


def test_triangles_between_spots_are_those_of_scipy() -> None:
    held_against_scipy(some_spots())


@pytest.mark.skipif(not REAL.is_file(), reason="STILLFIELD_DATA names no folder with land/topo.csv")
def test_surveyed_spots_in_feet() -> None:
    spots = topo()
    assert len(spots) == 52
    held_against_scipy(spots)
    surface = spot_surface(spots)
    assert surface.height_at(spots[:, 0], spots[:, 1]) == pytest.approx(spots[:, 2])
    assert surface.note == ""


def test_beyond_the_spots_the_rim_goes_on() -> None:
    square = np.array([[0, 0, 1.0], [10, 0, 3.0], [10, 10, 3.0], [0, 10, 1.0]])
    surface = spot_surface(square)
    assert surface.height_at([5, 5, 20, -7, 30], [-4, 40, 5, -3, 30]) == pytest.approx([2, 2, 3, 1, 3])
    spots = some_spots()
    surface = spot_surface(spots)
    turn = np.linspace(0, 2 * np.pi, 4001)
    for reach in (75.0, 100.0, 400.0):
        around = surface.height_at(reach * np.cos(turn), reach * np.sin(turn))
        assert np.abs(np.diff(around)).max() < 0.02 * reach  # it is continuous: no jump from edge to edge
    assert (surface.height_at(900 * np.cos(turn), 900 * np.sin(turn)) <= spots[:, 2].max() + 1e-9).all()


@pytest.mark.parametrize("bend", [0.0, 1e-9])
def test_spots_on_one_line_make_a_plane_and_say_so(bend: float) -> None:
    run = np.array([0.0, 10.0, 20.0, 35.0])
    spots = np.column_stack([0.6 * run, 0.8 * run + bend * run**2, 0.05 * run + 2.0])
    surface = spot_surface(spots)
    assert isinstance(surface, Plane)
    assert "on one line" in surface.note
    assert surface.height_at(0.6 * 15, 0.8 * 15) == pytest.approx(2.75, abs=1e-6)
    assert surface.height_at(0.6 * 15 - 8.0, 0.8 * 15 + 6.0) == pytest.approx(2.75, abs=1e-6)
    assert surface.grade_percent(float(np.degrees(np.arctan2(0.6, 0.8)))) == pytest.approx(5.0)


def test_too_few_spots_are_refused() -> None:
    with pytest.raises(BadInputError, match="three or more"):
        spot_surface([[0, 0, 1], [1, 0, 1]])
    with pytest.raises(BadInputError, match="numbers"):
        spot_surface(np.array([[0, 0, 1], [1, 0, np.nan], [0, 1, 2]]))


def test_a_grid_is_bilinear_as_scipy_reads_it() -> None:
    heights = RNG.uniform(0, 5, (17, 23))
    surface = grid_surface(heights, x_m=-30.0, y_m=12.0, step_m=2.5)
    y, x = 12.0 + 2.5 * np.arange(17), -30.0 + 2.5 * np.arange(23)
    other = RegularGridInterpolator((y, x), heights)
    at = np.column_stack([RNG.uniform(y[0], y[-1], 3000), RNG.uniform(x[0], x[-1], 3000)])
    assert surface.height_at(at[:, 1], at[:, 0]) == pytest.approx(other(at), abs=1e-10)
    assert surface.height_at(x[None, :], y[:, None]) == pytest.approx(heights)
    beyond = surface.height_at([-99.0, 0.0, 500.0], [20.0, 99.0, 500.0])
    assert beyond == pytest.approx([other((20.0, -30.0)).item(), other((52.0, 0.0)).item(), heights[-1, -1]])


def test_a_place_without_a_height_has_that_of_the_nearest() -> None:
    heights = np.array([[1.0, np.nan, 3.0, 3.0], [1.0, 1.0, np.nan, 7.0], [2.0, 2.0, 2.0, 7.0]])
    surface = grid_surface(heights, x_m=0.0, y_m=0.0, step_m=1.0)
    assert surface.height_at(1.0, 0.0) in (1.0, 3.0)  # both lie a step away
    assert surface.height_at(2.0, 1.0) in (1.0, 2.0, 3.0, 7.0)
    assert surface.height_at(3.0, 1.0) == 7.0
    whole = surface.triangles((0.0, 0.0, 3.0, 2.0))
    assert len(whole) == 4  # one cell, that in the north-west, is known all round
    for wrong in (np.full((3, 3), np.nan), np.ones((1, 5))):
        with pytest.raises(BadInputError, match="two rows"):
            grid_surface(wrong, x_m=0.0, y_m=0.0, step_m=1.0)
    with pytest.raises(BadInputError, match="more than 0 m"):
        grid_surface(np.ones((3, 3)), x_m=0.0, y_m=0.0, step_m=0.0)


def test_a_plane_is_the_plane_that_was() -> None:
    x, y = RNG.uniform(-100, 100, (2, 50))
    plane = Plane(6.0, 150.0)
    assert (plane.height_at(x, y) == height_at(x, y, slope_percent=6.0, falls_towards_deg=150.0)).all()
    assert plane.rise_at() == pytest.approx((float(plane.height_at(1, 0)), float(plane.height_at(0, 1))))
    fitted = fitted_plane(x, y, plane.height_at(x, y) + 4.0)
    assert fitted.height_at(x, y) == pytest.approx(plane.height_at(x, y) + 4.0)
    assert (fitted.slope_percent, fitted.falls_towards_deg, fitted.level_m) == pytest.approx(
        (6.0, 150.0, 4.0)
    )
    assert np.array(plane.normal) @ [1, 0, plane.rise_at()[0]] == pytest.approx(0.0)


def test_a_local_slope_and_a_plane_near() -> None:
    y, x = np.mgrid[0:41, 0:41] * 1.0
    surface = grid_surface(0.02 * (x - 20) ** 2 + 0.1 * y, x_m=0.0, y_m=0.0, step_m=1.0)
    # d/dx of 0.02 (x - 20)^2 over a step about x = 30.5 is 0.04 * 10.5
    assert surface.rise_at(30.5, 10.0) == pytest.approx((0.42, 0.1))
    near = surface.plane_near(np.array([[30.0, 5.0], [31.0, 5.0], [31.0, 9.0], [30.0, 9.0]]))
    assert near.rise_at() == pytest.approx((0.42, 0.1))


def test_contours_lie_at_their_height_on_the_surface() -> None:
    """By the triangles' own plane: every end of a contour is as high as it says; neighbours share their ends."""
    surface = spot_surface(some_spots())
    triangles = surface.triangles((-80, -80, 80, 80))
    for height in (-2.0, 0.0, 1.5):
        segments = contour_segments(triangles, height)
        assert len(segments) > 5
        ends = segments.reshape(-1, 2)
        assert surface.height_at(ends[:, 0], ends[:, 1]) == pytest.approx(height, abs=1e-6)
        _places, times = np.unique(np.round(ends, 6), axis=0, return_counts=True)
        assert set(times) <= {1, 2}  # each goes on in the next triangle, or leaves the land
    turn = np.arange(0, 6.28, 0.02)
    foot = np.column_stack([10 * np.cos(turn), 10 * np.sin(turn), np.zeros(len(turn))])
    cone = np.vstack([[[0.0, 0.0, 5.0]], foot])
    round_it = contour_segments(spot_surface(cone).triangles((-10, -10, 10, 10)), 2.0)
    assert np.hypot(*round_it.reshape(-1, 2).T) == pytest.approx(6.0, abs=0.01)  # 10 (1 - 2 / 5)
    assert float(np.hypot(*np.diff(round_it, axis=1)[:, 0].T).sum()) == pytest.approx(2 * np.pi * 6, rel=1e-3)


def test_a_corner_at_the_very_height_is_passed_once() -> None:
    triangles = np.array([[[0, 0, 0], [1, 0, 1], [0, 1, 2]], [[1, 0, 1], [1, 1, 3], [0, 1, 2]]], float)
    segments = contour_segments(triangles, 1.0)
    assert len(segments) == 1
    assert contour_segments(triangles, 5.0).shape == (0, 2, 2)


def test_level_ground_loads_no_heavy_library() -> None:
    code = (
        "import sys; from studio.design.design import Design; from studio.study.place import place_lines;"
        "from studio.design.field import Line; place_lines(Design(lines=(Line(id=1, x_m=0.0, y_m=0.0),)));"
        "print(any(name.split('.')[0] == 'scipy' for name in sys.modules))"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == "False"
