"""The skyline of land by formula: ridges, cones, curvature, refraction."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.engine.sky.terrain import (
    EARTH_M,
    REFRACTION,
    drop_m,
    highest_by_azimuth,
    highest_in_blocks,
    ring_distances,
    skyline_along,
)


@pytest.mark.parametrize(("km", "drop"), [(1.0, 0.068), (10.0, 6.8), (30.0, 61.5)])
def test_curvature_and_refraction_by_the_usual_rule(km: float, drop: float) -> None:
    """Surveying books give 0.0675 to 0.068 m times the square of the kilometres (Wolf and Ghilani, Elementary Surveying,
    curvature and refraction: 0.0675 K² with k = 0.14; from memory)."""
    assert float(drop_m(1000 * km)) == pytest.approx(drop, rel=0.02)


def test_without_refraction_the_drop_is_that_of_a_sphere() -> None:
    distance = np.array([100.0, 5000.0, 60_000.0])
    sphere = EARTH_M / np.cos(np.arctan(distance / EARTH_M)) - EARTH_M
    assert drop_m(distance, refraction=0.0) == pytest.approx(sphere, rel=1e-4)
    assert drop_m(distance) == pytest.approx((1 - REFRACTION) * sphere, rel=1e-4)


def test_a_ridge_stands_at_the_angle_of_its_height_over_its_distance() -> None:
    distances = ring_distances(30.0, 20_000.0, turn_deg=0.2)
    at = int(np.argmin(np.abs(distances - 8000.0)))
    heights = np.full((4, len(distances)), 200.0)
    heights[1, at] = 900.0
    elevation, where = skyline_along(heights, distances, eye_m=201.0)
    far = distances[at]
    by_hand = np.degrees(np.arctan((900.0 - 201.0 - 0.87 * far**2 / (2 * 6.371e6)) / far))
    assert elevation[1] == pytest.approx(by_hand, abs=1e-9)
    assert where[1] == far
    assert (elevation[[0, 2, 3]] < 0).all(), "level land stands below the eye's level"


def test_the_dip_of_a_level_plain_is_that_of_the_sea() -> None:
    """Dip of the sea horizon by formula: sqrt(2 (1 - k) h / R); in arc minutes some 1.8 times the root of the metres
    (dip tables of navigators, from memory: 1.76)."""
    distances = np.arange(50.0, 60_000.0, 50.0)
    elevation, where = skyline_along(np.zeros((1, len(distances))), distances, eye_m=100.0)
    assert -elevation[0] == pytest.approx(np.degrees(np.sqrt(2 * 0.87 * 100.0 / 6.371e6)), rel=1e-4)
    assert -60 * elevation[0] == pytest.approx(1.76 * 10, rel=0.03)
    assert where[0] == pytest.approx(np.sqrt(2 * 100.0 * 6.371e6 / 0.87), rel=0.01)


def test_where_no_height_is_known_nothing_is_said() -> None:
    heights = np.full((2, 3), np.nan)
    heights[0, 1] = 50.0
    elevation, where = skyline_along(heights, np.array([100.0, 200.0, 300.0]), eye_m=0.0)
    assert elevation[0] == pytest.approx(np.degrees(np.arctan((50.0 - float(drop_m(200.0))) / 200.0)))
    assert np.isnan([elevation[1], where[1]]).all()


@given(st.floats(1.0, 3000.0), st.integers(0, 199), st.integers(0, 999))
def test_higher_land_never_lowers_the_skyline(more: float, at: int, seed: int) -> None:
    distances = ring_distances(25.0, 20_000.0, turn_deg=0.5)
    heights = np.random.default_rng(seed).uniform(0.0, 400.0, (1, len(distances)))
    before = skyline_along(heights, distances, eye_m=100.0)[0]
    heights[0, at % len(distances)] += more
    assert skyline_along(heights, distances, eye_m=100.0)[0] >= before


def test_rays_look_twice_a_cell_and_then_as_far_apart_as_they_stand() -> None:
    distances = ring_distances(30.0, 40_000.0, turn_deg=0.2)
    steps = np.diff(distances)
    assert distances[0] == 15.0
    assert distances[-1] == pytest.approx(40_000.0)
    assert (steps <= np.where(distances[1:] < 8594.0, 15.0, distances[1:] * np.radians(0.2)) * 1.001).all()
    assert ring_distances(30.0, 5.0, turn_deg=0.2) == pytest.approx([15.0])
    assert ring_distances(30.0, 50.0, turn_deg=0.2) == pytest.approx([15.0, 30.0, 45.0])


def test_the_highest_of_the_rays_about_an_azimuth_counts() -> None:
    rays = np.zeros(15)
    rays[14] = 4.0  # one ray west of north
    rays[5] = np.nan
    rays[8] = 2.0  # three rays on belongs to the third azimuth
    assert highest_by_azimuth(rays, 5).tolist() == [4.0, 0.0, 2.0]


def test_peaks_stay_in_blocks() -> None:
    heights = np.arange(24.0).reshape(4, 6)
    heights[0, 0] = np.nan
    assert highest_in_blocks(heights, 2).tolist() == [[7.0, 9.0, 11.0], [19.0, 21.0, 23.0]]
    assert np.isnan(highest_in_blocks(np.full((2, 2), np.nan), 2)).all()
