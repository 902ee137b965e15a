"""Real heights, where STILLFIELD_DATA names their folder: Landlab's 10 m grid (MIT), SRTM of Olinda (package stars,
Apache-2.0), Davis's levelling (package MASS)."""

import csv
import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rasterio
from pyproj import Transformer

from studio.design.design import Design
from studio.design.heights import unpacked_heights
from studio.design.site import HeightGrid, SpotHeights
from studio.files.heights.found import HeightsHow
from studio.files.heights.into_site import edit_of
from studio.files.heights.look import look_at_heights
from studio.files.heights.skyline import skyline_of
from studio.files.land.found import How
from tests.files.heights.test_grid import places_of, said

LAND = Path(os.environ.get("STILLFIELD_DATA", "absent")) / "land"
pytestmark = pytest.mark.skipif(not LAND.is_dir(), reason="STILLFIELD_DATA names no folder with land/")
OLINDA = (-8.0, -34.87)


def at(latitude: float, longitude: float, design: Design) -> Design:
    return replace(design, site=replace(design.site, latitude_deg=latitude, longitude_deg=longitude))


def test_olinda_is_read_by_its_wkt_and_not_by_a_made_up_code(design: Design) -> None:
    """Against rasterio's cells at places that pyproj takes through UTM zone 25 south (EPSG:31985, SIRGAS 2000)."""
    here = at(*OLINDA, design)
    look = look_at_heights(LAND / "olinda_dem_utm25s.tif", here)
    assert "Southern Hemisphere" in look.system.name
    assert "whole metres" in said(look)
    assert look.taken is not None
    grid = look.taken.heights
    assert isinstance(grid, HeightGrid)
    heights = unpacked_heights(grid.cells, rows=grid.rows, columns=grid.columns)
    x, y = places_of(grid)
    frame = f"+proj=tmerc +lat_0={OLINDA[0]} +lon_0={OLINDA[1]} +k=1 +ellps=WGS84"
    east, north = Transformer.from_crs(frame, "EPSG:31985", always_xy=True).transform(x.ravel(), y.ravel())
    with rasterio.open(LAND / "olinda_dem_utm25s.tif") as source:
        cells = source.read(1)
        inverse = ~source.transform
    column, row = inverse * (east, north)
    for place in range(0, len(east), 7):  # bilinear by hand
        c, r = column[place] - 0.5, row[place] - 0.5
        c0, r0 = int(np.floor(c)), int(np.floor(r))
        u, v = c - c0, r - r0
        hand = (
            cells[r0, c0] * (1 - u) * (1 - v) + cells[r0, c0 + 1] * u * (1 - v)
            + cells[r0 + 1, c0] * (1 - u) * v + cells[r0 + 1, c0 + 1] * u * v
        )  # fmt: skip
        assert heights.ravel()[place] == pytest.approx(hand, abs=0.01)
    nearest = cells[np.floor(row).astype(int), np.floor(column).astype(int)]
    assert np.abs(nearest - heights.ravel()).max() < 20.0
    edit_of(here, look)


def test_from_the_shore_of_olinda_the_sea_is_level_and_the_land_is_not(design: Design) -> None:
    with rasterio.open(LAND / "olinda_dem_utm25s.tif") as source:
        cells = source.read(1)
        row = 55
        shore = int(np.flatnonzero(cells[row] > 0)[-1]) + 1
        assert (cells[row - 10 : row + 11, shore + 3 :] <= 1).all(), "the Atlantic lies to the east"
        x, y = source.transform * (shore + 0.5, row + 0.5)
    longitude, latitude = Transformer.from_crs("EPSG:31985", "EPSG:4326", always_xy=True).transform(x, y)
    found = skyline_of(LAND / "olinda_dem_utm25s.tif", at(latitude, longitude, design))
    up = dict(found.points)
    assert max(up[float(azimuth)] for azimuth in range(60, 121)) < 0.3
    assert max(up[float(azimuth)] for azimuth in range(240, 301)) > 0.5
    assert "Heights reach" in found.told[2]


def test_the_grid_without_a_place_asks_and_its_voids_stay(design: Design) -> None:
    look = look_at_heights(LAND / "hugo_site.asc", design)
    assert look.taken is None
    assert "south-west corner at 0, 0" in look.refused
    middle = look.doubts[0].mends[0]
    placed = look_at_heights(LAND / "hugo_site.asc", design, how=middle.how)
    assert placed.taken is not None
    assert placed.taken.largest_shift_m < 1e-9
    assert (placed.lowest_m, placed.highest_m) >= (1660.0, 1660.0)
    whole = replace(
        design, plot=replace(design.plot, boundary=((-400.0, -300.0), (400.0, -300.0), (400.0, 300.0), (-400.0, 300.0)))
    )  # fmt: skip
    all_of_it = look_at_heights(LAND / "hugo_site.asc", whole, how=HeightsHow(at=(-380.0, -275.0)))
    assert all_of_it.taken is not None
    grid = all_of_it.taken.heights
    assert isinstance(grid, HeightGrid)
    heights = unpacked_heights(grid.cells, rows=grid.rows, columns=grid.columns)
    assert int((~np.isnan(heights)).sum()) == 4180 - 2028
    assert (np.nanmin(heights), np.nanmax(heights)) == (1660.0, 1711.0)
    assert "of the plot have no height" in said(all_of_it)
    edit_of(whole, all_of_it)


def test_davis_comes_in_once_its_units_are_said(design: Design) -> None:
    bare = look_at_heights(LAND / "topo.csv", design)
    assert bare.taken is None
    assert "say the units" in bare.refused
    how = HeightsHow(land=How(unit="50 ft"), height_unit="ft")
    look = look_at_heights(LAND / "topo.csv", design, how=how)
    assert look.taken is not None
    spots = look.taken.heights
    assert isinstance(spots, SpotHeights)
    with (LAND / "topo.csv").open(encoding="utf-8") as file:
        rows = [(float(r["x"]), float(r["y"]), float(r["z"])) for r in csv.DictReader(file)]
    assert len(spots.spots) == len(rows) == 52
    wanted = np.array(rows) * (50 * 0.3048, 50 * 0.3048, 0.3048)
    assert np.abs(np.array(spots.spots) - wanted).max() < 0.001
    edit_of(design, look)
