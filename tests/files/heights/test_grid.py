"""Rasters as a design would take them: against rasterio's own warp, pyproj's convergence, and planes of known slope."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rasterio
from pyproj import CRS, Proj
from rasterio.warp import Resampling, reproject

from studio.design.design import Design
from studio.design.heights import MOST_PLACES, unpacked_heights
from studio.design.site import HeightGrid
from studio.files.heights.found import HeightsHow, HeightsLook
from studio.files.heights.into_site import edit_of
from studio.files.heights.look import look_at_heights
from studio.files.land.found import How
from tests.files.heights.conftest import LATITUDE, LONGITUDE, Array, Write, middle_in


def grid_of(look: HeightsLook) -> tuple[HeightGrid, Array]:
    assert look.taken is not None, look.refused
    grid = look.taken.heights
    assert isinstance(grid, HeightGrid)
    return grid, unpacked_heights(grid.cells, rows=grid.rows, columns=grid.columns)


def places_of(grid: HeightGrid) -> tuple[Array, Array]:
    x, y = np.meshgrid(
        grid.x_m + grid.step_m * np.arange(grid.columns), grid.y_m + grid.step_m * np.arange(grid.rows)
    )
    return x, y


def said(look: HeightsLook) -> str:
    return "\n".join(map(str, look.doubts))


def hills(side: int = 120, step: float = 5.0) -> Array:
    """Smooth hills, rows from north to south."""
    x, y = np.meshgrid((np.arange(side) + 0.5) * step, (np.arange(side)[::-1] + 0.5) * step)
    heights: Array = 500.0 + 8.0 * np.sin(x / 70.0) + 6.0 * np.cos(y / 55.0) + 0.01 * x
    return heights


def test_a_slope_of_the_map_comes_in_with_its_true_azimuth(design: Design, write: Write) -> None:
    """A plane that falls towards grid south falls towards true azimuth 180° + convergence (pyproj's factors)."""
    rows = np.arange(120, dtype=float)[:, None]
    path = write(np.broadcast_to(500.0 - 0.5 * rows, (120, 120)).astype(np.float32))  # 10 % over 5 m cells
    grid, heights = grid_of(look_at_heights(path, design))
    x, y = places_of(grid)
    a, b, _c = np.linalg.lstsq(
        np.column_stack((x.ravel(), y.ravel(), np.ones(x.size))), heights.ravel(), rcond=None
    )[0]
    utm = Proj("EPSG:32631").get_factors(LONGITUDE, LATITUDE)
    assert abs(utm.meridian_convergence) > 1.5, "near the rim of the zone it can be told apart"
    falls = np.degrees(np.arctan2(-a, -b)) % 360
    # convergence: grid north stands east of true north by it, so grid south stands at 180° + it
    assert falls == pytest.approx((180.0 + utm.meridian_convergence) % 360, abs=0.02)
    assert 100 * np.hypot(a, b) == pytest.approx(10.0 * utm.meridional_scale, rel=1e-4)


@pytest.mark.parametrize("crs", ["EPSG:32631", "EPSG:2154", "EPSG:3035"])
def test_the_grid_agrees_with_the_librarys_own_warp(crs: str, design: Design, write: Write) -> None:
    """rasterio.warp.reproject (GDAL's bilinear) into the transverse Mercator about the reference point."""
    path = write(hills().astype(np.float32), crs=crs)
    grid, heights = grid_of(look_at_heights(path, design))
    frame = CRS.from_proj4(
        f"+proj=tmerc +lat_0={LATITUDE} +lon_0={LONGITUDE} +k=1 +x_0=0 +y_0=0 +ellps=WGS84 +towgs84=0,0,0"
    )
    warped = np.full((grid.rows, grid.columns), np.nan, np.float32)
    corner = rasterio.transform.from_origin(
        grid.x_m - grid.step_m / 2, grid.y_m + (grid.rows - 0.5) * grid.step_m, grid.step_m, grid.step_m
    )
    with rasterio.open(path) as source:
        reproject(
            rasterio.band(source, 1), warped, dst_crs=frame.to_wkt(), dst_transform=corner,
            resampling=Resampling.bilinear, dst_nodata=np.nan, tolerance=0, XSCALE=1, YSCALE=1,
        )  # fmt: skip
    assert np.nanmax(np.abs(warped[::-1] - heights)) < 0.01
    assert np.isfinite(warped).all()


def test_each_height_is_that_of_the_cells_about_its_place(design: Design, write: Write) -> None:
    """rasterio's own sample at the taken places, which is the nearest cell: within half a cell's rise."""
    from pyproj import Transformer

    path = write(hills().astype(np.float32))
    grid, heights = grid_of(look_at_heights(path, design))
    x, y = places_of(grid)
    frame = f"+proj=tmerc +lat_0={LATITUDE} +lon_0={LONGITUDE} +k=1 +ellps=WGS84"
    east, north = Transformer.from_crs(frame, "EPSG:32631", always_xy=True).transform(x.ravel(), y.ravel())
    with rasterio.open(path) as source:
        near = np.array([value[0] for value in source.sample(zip(east, north, strict=True))])
    steepest = 8.0 / 70 + 6.0 / 55 + 0.01
    assert np.abs(near - heights.ravel()).max() < steepest * 5.0 * np.sqrt(0.5)


def test_degrees_become_metres(design: Design, write: Write) -> None:
    step = 1 / 3600
    north = np.arange(80, dtype=float)[::-1, None]
    path = write(
        np.broadcast_to(500.0 + north, (80, 80)).astype(np.float32), crs="EPSG:4326", step=step,
        middle=(LONGITUDE, LATITUDE),
    )  # fmt: skip
    grid, heights = grid_of(look_at_heights(path, design))
    a_second = (
        111_132.95 - 559.85 * np.cos(2 * np.radians(LATITUDE)) + 1.17 * np.cos(4 * np.radians(LATITUDE))
    )
    # metres of a degree of latitude by the usual series (WGS 84; Rapp, Geometric Geodesy, from memory)
    assert grid.step_m == pytest.approx(a_second / 3600, rel=1e-3), "not finer than the coarser of both ways"
    slope = np.gradient(heights, grid.step_m)[0]
    assert np.median(slope) == pytest.approx(3600 / a_second, rel=1e-3)


def test_a_raster_of_the_sites_own_metres_is_taken_as_it_is(design: Design, write: Write) -> None:
    heights = np.random.default_rng(3).uniform(480, 520, (90, 90)).round(2)
    path = write(heights, crs=None, step=4.0, middle=(0.0, 0.0))
    look = look_at_heights(path, design)
    assert look.taken is None
    assert "south-west corner at -180, -180" in look.refused
    grid, taken = grid_of(look_at_heights(path, design, how=HeightsHow(land=How(crs="local"))))
    assert look.doubts[0].sentence == look.refused
    first_row, first_column = round((grid.y_m + 178) / 4), round((grid.x_m + 178) / 4)
    cut = heights[::-1][first_row : first_row + grid.rows, first_column : first_column + grid.columns]
    assert np.abs(cut - taken).max() < 0.0006


def test_where_it_lies_can_be_said(design: Design, write: Write) -> None:
    path = write(hills(60), crs=None, middle=(1000.0, 1000.0))
    own, _heights = grid_of(look_at_heights(path, design, how=HeightsHow(at=(-150.0, -150.0))))
    mend = look_at_heights(path, design).doubts[0].mends[0]
    assert mend.how.at == (-150.0, -150.0)
    assert own.x_m >= -147.5 - 1e-9
    look = look_at_heights(path, design, how=HeightsHow(land=How(crs="local")))
    assert look.taken is None
    assert "1.4 km north-east" in look.refused


@pytest.mark.parametrize(
    ("how", "feet"), [(HeightsHow(height_unit="ft"), 0.3048), (HeightsHow(height_unit="us-ft"), 1200 / 3937)]
)
def test_feet_are_not_metres(how: HeightsHow, feet: float, design: Design, write: Write) -> None:
    path = write(hills())
    _grid, metres = grid_of(look_at_heights(path, design))
    look = look_at_heights(path, design, how=how)
    assert np.abs(grid_of(look)[1] - metres * feet).max() < 0.002
    assert "No unit of the heights" not in said(look)
    assert "No unit of the heights" in said(look_at_heights(path, design))


def test_a_unit_that_the_file_says_is_taken(design: Design, write: Write) -> None:
    path = write(hills())
    with rasterio.open(path, "r+") as file:
        file.units = ("US survey foot",)
    look = look_at_heights(path, design)
    assert "No unit of the heights" not in said(look)
    assert look.highest_m < 200


def test_scaled_numbers_and_voids(design: Design, write: Write) -> None:
    counts = np.rint((hills() - 500.0) * 100).astype(np.int16)
    counts[55:58, 55:58] = -32768
    path = write(counts, nodata=-32768)
    with rasterio.open(path, "r+") as file:
        file.scales, file.offsets = (0.01,), (500.0,)
    look = look_at_heights(path, design)
    _grid, heights = grid_of(look)
    assert "times 0.01 plus 500" in said(look)
    assert np.isnan(heights).sum() >= 9
    assert "of the plot have no height" in said(look)
    assert np.nanmin(heights) > 480


def test_numbers_that_no_land_has_are_voids_and_told(design: Design, write: Write) -> None:
    heights = hills().astype(np.float32)
    heights[60, 60:64] = -9999
    heights[61, 60] = np.inf
    look = look_at_heights(write(heights), design)
    assert "4 places say -9999" in said(look)
    assert np.isnan(grid_of(look)[1]).any()


def test_whole_metres_and_seas_are_told(design: Design, write: Write) -> None:
    heights = np.rint(hills() - 500).clip(0, None).astype(np.int16)
    look = look_at_heights(write(heights), design)
    assert "whole metres" in said(look)
    assert "exactly 0: sea" in said(look)
    dry = next(mend for doubt in look.doubts for mend in doubt.mends if mend.how.void == 0.0)
    assert np.nanmin(grid_of(look_at_heights(write(heights), design, how=dry.how))[1]) >= 1.0


def test_zero_is_the_height_at_the_reference_point_unless_it_is_said(design: Design, write: Write) -> None:
    path = write(hills())
    grid, heights = grid_of(look_at_heights(path, design))
    row, column = round(-grid.y_m / grid.step_m), round(-grid.x_m / grid.step_m)
    about = heights[row - 1 : row + 2, column - 1 : column + 2]
    assert about.min() <= grid.zero_m <= about.max()
    assert grid_of(look_at_heights(path, design, how=HeightsHow(zero_m=490.0)))[0].zero_m == 490.0


def test_a_fine_raster_is_thinned_and_the_difference_told(design: Design, write: Write) -> None:
    big = replace(
        design, plot=replace(design.plot, boundary=((-800.0, -800.0), (800.0, -800.0), (800.0, 800.0), (-800.0, 800.0)))
    )  # fmt: skip
    path = write(hills(1600, 2.0).astype(np.float32), step=2.0, tiled=True, compress="deflate")
    look = look_at_heights(path, big)
    grid, _heights = grid_of(look)
    assert grid.rows * grid.columns <= MOST_PLACES
    assert grid.step_m > 4.0
    assert len(grid.cells) <= 400_000
    assert look.taken is not None
    assert 0.0 < look.taken.largest_shift_m < 1.0
    assert "largest difference" in "\n".join(look.taken.told)
    edit_of(big, look)


def test_only_what_lies_about_the_site_is_read(design: Design, tmp_path: Path) -> None:
    """A raster of 10 gigapixels that holds next to nothing: its size on paper costs neither time nor memory."""
    path = tmp_path / "huge.tif"
    x, y = middle_in("EPSG:32631")
    transform = rasterio.transform.from_origin(x - 250_000, y + 250_000, 5.0, 5.0)
    with rasterio.open(
        path, "w", driver="GTiff", height=100_000, width=100_000, count=1, dtype="float32", crs="EPSG:32631",
        transform=transform, tiled=True, blockxsize=256, blockysize=256, sparse_ok=True, BIGTIFF="YES",
        compress="deflate",
    ) as file:  # fmt: skip
        file.write(hills(256).astype(np.float32)[None], window=((49_872, 50_128), (49_872, 50_128)))
    grid, heights = grid_of(look_at_heights(path, design))
    assert grid.step_m == pytest.approx(5.0, rel=1e-3)
    assert np.nanmax(heights) > 480


def test_a_raster_elsewhere_is_not_taken_but_the_site_can_be_brought_there(
    design: Design, write: Write
) -> None:
    x, y = middle_in("EPSG:32631")
    path = write(hills(), middle=(x, y - 300_000))
    look = look_at_heights(path, design)
    assert look.taken is None
    assert "300 km south" in look.refused
    moved = look_at_heights(path, design, how=look.doubts[0].mends[0].how)
    assert moved.taken is not None
    after = edit_of(design, moved).design
    assert after.site.latitude_deg == pytest.approx(LATITUDE - 2.7, abs=0.05)


def test_the_edit_is_one_step_through_the_gate(design: Design, write: Write) -> None:
    look = look_at_heights(write(hills()), design)
    edit = edit_of(design, look)
    assert edit.label == "Take heights from land.tif"
    assert edit.design.ground.heights is not None
    assert edit.design == replace(design, ground=replace(design.ground, heights=edit.design.ground.heights))


def test_a_world_file_and_a_prj_beside_it_are_read(design: Design, write: Write, tmp_path: Path) -> None:
    path = write(hills(), crs=None)
    with rasterio.open(path) as file:
        a = file.transform
    bare = tmp_path / "bare.tif"
    with rasterio.open(bare, "w", driver="GTiff", height=120, width=120, count=1, dtype="float64") as file:
        file.write(hills()[None])
    (tmp_path / "bare.tfw").write_text(f"{a.a}\n0\n0\n{a.e}\n{a.c + a.a / 2}\n{a.f + a.e / 2}\n")
    (tmp_path / "bare.prj").write_text(CRS("EPSG:32631").to_wkt("WKT1_ESRI"))
    own, heights = grid_of(look_at_heights(bare, design))
    other, same = grid_of(look_at_heights(write(hills()), design))
    assert own.x_m == pytest.approx(other.x_m, abs=1e-3)
    assert np.abs(heights - same).max() < 0.002


def test_decimals_far_down_an_ascii_grid_are_kept(design: Design, tmp_path: Path) -> None:
    rows = ["500 " * 300] * 299 + ["500.25 " * 300]
    path = tmp_path / "land.asc"
    path.write_text("ncols 300\nnrows 300\nxllcorner -150\nyllcorner -150\ncellsize 1\n" + "\n".join(rows))
    look = look_at_heights(path, design, how=HeightsHow(at=(-60.0, -100.0)))
    assert grid_of(look)[1].max() == pytest.approx(500.25)
