"""The skyline from rasters of known shape, by formula. The land is invented."""

import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rasterio
from pyproj import Geod, Transformer

from studio.design.design import Design
from studio.errors import BadInputError
from studio.files.heights.found import HeightsHow
from studio.files.heights.skyline import EYE_M, skyline_of
from studio.files.land.found import How
from tests.files.heights.conftest import LATITUDE, LONGITUDE, Write, middle_in


def elevation(height: float, far: float, ground: float = 300.0) -> float:
    """By hand: height and distance, the curvature of the earth, refraction k = 0.13 and the eye's height."""
    return float(np.degrees(np.arctan((height - ground - EYE_M - 0.87 * far**2 / (2 * 6.371e6)) / far)))


def test_a_ridge_to_the_north_stands_where_the_formula_says(design: Design, write: Write) -> None:
    heights = np.full((600, 600), 300.0, np.float32)
    row = 100  # its middle lies (299.5 - 100) x 20 m north of the place
    heights[row] = 500.0
    found = skyline_of(
        write(heights, crs=None, step=20.0, middle=(0.0, 0.0)), design, how=HeightsHow(land=How(crs="local"))
    )
    up = dict(found.points)
    far = (299.5 - row) * 20.0
    assert up[0.0] == pytest.approx(elevation(500.0, far), abs=0.06)
    for azimuth in (20.0, 340.0):
        away = far / np.cos(np.radians(20.0))
        assert up[azimuth] == pytest.approx(elevation(500.0, away), abs=0.06)
    assert up[180.0] == 0.0, "level land is not set below the level"
    assert found.reach_m[[0, 90, 180, 270]] == pytest.approx(6000.0, abs=40.0)
    assert "Heights reach north 6.0 km" in "\n".join(found.told)


def test_a_cone_far_away_shows_its_tip_at_its_true_azimuth(design: Design, write: Write) -> None:
    """On a map whose grid north is 1.9° off; azimuth and distance of the tip by pyproj.Geod."""
    x, y = middle_in("EPSG:32631")
    east, north = 12_000.0, -9_000.0
    side, step = 1000, 30.0
    columns, rows = np.meshgrid((np.arange(side) - 499.5) * step, -(np.arange(side) - 499.5) * step)
    heights = 300.0 + np.clip(1200.0 - 0.4 * np.hypot(columns - east, rows - north), 0.0, None)
    found = skyline_of(write(heights.astype(np.float32), step=step), design)
    tip = Transformer.from_crs("EPSG:32631", "EPSG:4326", always_xy=True).transform(x + east, y + north)
    azimuth, _back, far = Geod(ellps="WGS84").inv(LONGITUDE, LATITUDE, *tip)
    highest = max(found.points, key=lambda point: point[1])
    assert highest[0] == pytest.approx(azimuth % 360, abs=0.8)
    assert highest[1] == pytest.approx(elevation(1500.0, far), abs=0.06)
    up = dict(found.points)
    # beside the tip the sight line grazes the flank of the cone; what stands up to 0.8° nearer to the tip may count
    beside = round(azimuth) - 4

    def grazed(away: float) -> float:
        along = np.linspace(0.7 * far, far * 1.2, 4000)
        off = np.hypot(along * np.cos(np.radians(away)) - far, along * np.sin(np.radians(away)))
        return max(elevation(300.0 + max(0.0, 1200.0 - 0.4 * o), a) for o, a in zip(off, along, strict=True))

    away = abs(beside - azimuth)
    assert grazed(away) - 0.05 < up[float(beside)] < grazed(away - 0.8) + 0.05


def test_four_million_cells_take_seconds(design: Design, write: Write) -> None:
    rng = np.random.default_rng(5)
    coarse = rng.uniform(200.0, 900.0, (101, 101))
    heights = np.kron(coarse, np.ones((20, 20)))[:2000, :2000].astype(np.float32)
    path = write(heights, step=30.0, tiled=True)
    began = time.perf_counter()
    found = skyline_of(path, design)
    assert time.perf_counter() - began < 15.0
    assert len(found.points) == 360
    assert max(up for _azimuth, up in found.points) > 1.0


def test_a_raster_too_large_to_hold_is_walked_strip_by_strip(design: Design, tmp_path: Path) -> None:
    """5,000 by 5,000 cells with one peak: the highest of a block counts, so that it is not thinned away."""
    x, y = middle_in("EPSG:32631")
    path = tmp_path / "large.tif"
    heights = np.full((5000, 5000), 300, np.int16)
    heights[300, 2500] = 1300
    with rasterio.open(
        path, "w", driver="GTiff", height=5000, width=5000, count=1, dtype="int16", crs="EPSG:32631",
        transform=rasterio.transform.from_origin(x - 25_000, y + 25_000, 10, 10), tiled=True, compress="deflate",
    ) as file:  # fmt: skip
        file.write(heights[None])
    up = [one for _azimuth, one in skyline_of(path, design).points]
    assert max(up) == pytest.approx(elevation(1300.0, 22_000.0), abs=0.05)


def test_where_the_site_does_not_stand_on_it_that_is_said(design: Design, write: Write) -> None:
    x, y = middle_in("EPSG:32631")
    path = write(np.full((50, 50), 300.0), middle=(x + 5000.0, y))
    with pytest.raises(BadInputError, match=r"5\.0 km east"):
        skyline_of(path, design)
    with pytest.raises(BadInputError, match="must be said first"):
        skyline_of(write(np.full((50, 50), 300.0), crs=None), design)


def test_voids_hide_nothing_and_are_told(design: Design, write: Write) -> None:
    heights = np.full((200, 200), 300.0, np.float32)
    heights[20:60] = np.nan
    heights[10] = 900.0
    found = skyline_of(
        write(heights, crs=None, step=20.0, middle=(0.0, 0.0)), design, how=HeightsHow(land=How(crs="local"))
    )
    assert dict(found.points)[0.0] == pytest.approx(elevation(900.0, (99.5 - 10) * 20.0), abs=0.3)
    assert "have no height" in "\n".join(found.told)


def test_feet_count(design: Design, write: Write) -> None:
    heights = np.full((400, 400), 1000.0, np.float32)
    heights[50] = 2000.0
    how = HeightsHow(land=How(crs="local"), height_unit="ft")
    found = skyline_of(write(heights, crs=None, step=20.0, middle=(0.0, 0.0)), replace(design), how=how)
    assert dict(found.points)[0.0] == pytest.approx(elevation(609.6, 149.5 * 20.0, 304.8), abs=0.06)
