"""The commands that bring heights in and work out a skyline from them. The heights are invented."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

from studio.design.site import HeightGrid, SpotHeights
from studio.files.examples import example_path
from studio.files.site import open_site

if TYPE_CHECKING:
    from tests.conftest import Told

SPOTS = "x,y,z\n0,0,310\n40,0,311\n40,30,313\n0,30,312\n"


@pytest.fixture
def site(tmp_path: Path) -> Path:
    path = tmp_path / "small.stillfield"
    path.write_bytes(example_path("small_dryer").read_bytes())
    return path


@pytest.fixture
def raster(tmp_path: Path) -> Path:
    rows, columns = np.mgrid[0:200, 0:200]
    heights = 310.0 + 0.1 * (199 - rows) + np.where(rows == 20, 60.0, 0.0) + 0.0 * columns
    path = tmp_path / "land.asc"
    head = "ncols 200\nnrows 200\nxllcorner 0\nyllcorner 0\ncellsize 2\n"
    path.write_text(head + "\n".join(" ".join(f"{height:.2f}" for height in row) for row in heights))
    return path


def test_what_would_be_taken_is_printed_and_nothing_is_written(told: Told, site: Path, raster: Path) -> None:
    before = site.read_bytes()
    status, out, err = told("heights", site, raster)
    assert (status, err) == (0, "")
    assert "where they lie must be said first" in out
    assert "--at=" in out
    status, out, _err = told("heights", site, raster, "--at=-200,-200")
    assert "slopes: 5.0 to 5.0 %" in out
    assert "--write" in out
    tree = json.loads(told("heights", site, raster, "--at=-200,-200", "--json", "--skyline")[1])
    assert tree["taken"]["step_m"] == 2.0
    assert len(tree["skyline"]) == 360
    assert site.read_bytes() == before


def test_heights_are_written_with_a_copy_kept(told: Told, site: Path, raster: Path) -> None:
    before = site.read_bytes()
    status, out, err = told(
        "heights", site, raster, "--at=-200,-200", "--zero", "300", "--skyline", "--write"
    )
    assert (status, err) == (0, "")
    design = open_site(site).design
    assert isinstance(design.ground.heights, HeightGrid)
    assert design.ground.heights.zero_m == 300.0
    assert design.ground.heights.origin == "land.asc"
    assert len(design.horizon.skyline) == 360
    assert "It stands highest at azimuth" in out
    assert site.with_name(site.name + "~").read_bytes() == before


def test_a_table_with_its_units(told: Told, site: Path, tmp_path: Path) -> None:
    table = tmp_path / "spots.csv"
    table.write_text(SPOTS)
    assert told("heights", site, table, "--height-unit", "ft", "--write")[0] == 0
    heights = open_site(site).design.ground.heights
    assert isinstance(heights, SpotHeights)
    assert heights.spots[0][2] == pytest.approx(310 * 0.3048, abs=0.001)
    status, out, _err = told("heights", site, table, "--write")
    assert status == 0
    assert "The heights from spots.csv that were there are replaced." in out


def test_a_skyline_from_heights(told: Told, site: Path, raster: Path, tmp_path: Path) -> None:
    into = tmp_path / "with.stillfield"
    status, out, err = told("horizon", site, "--from-heights", raster, "--at=-200,-200", "--into", into)
    assert (status, err) == (0, "")
    assert "Heights reach north 19" in out
    up = dict(open_site(into).design.horizon.skyline)
    far = 200 - 41.0  # the middle of the ridge's row
    rise = 60 + 0.1 * 179 - (0.1 * 99.5) - 1.0
    assert up[0.0] == pytest.approx(np.degrees(np.arctan(rise / far)), abs=0.3)
    assert told("horizon", site, "--into", into, "--overwrite")[0] == 2
    table = tmp_path / "sky.csv"
    table.write_text("0 5\n180 2\n")
    assert told("horizon", site, table, "--into", into, "--overwrite")[0] == 0
    assert told("horizon", site, table, "--from-heights", raster, "--into", into, "--overwrite")[0] == 2


def test_bad_input_is_one_sentence_and_changes_nothing(
    told: Told, site: Path, raster: Path, tmp_path: Path
) -> None:
    before = site.read_bytes()
    spots = tmp_path / "spots.csv"
    spots.write_text(SPOTS)
    for words, wanted in (
        ((tmp_path / "absent.tif", "--write"), 3), ((raster, "--write"), 3), ((raster, "--crs", "EPSG:0"), 3),
        ((raster, "--at", "here"), 2), ((raster, "--at=-200,-200", "--height-unit", "mile", "--write"), 3),
        ((raster, "--at=9000,9000", "--write"), 3), ((spots, "--skyline"), 3),
    ):  # fmt: skip
        status, out, err = told("heights", site, *words)
        assert (status, out) == (wanted, ""), (words, err)
        assert err.count("\n") == 1
    assert site.read_bytes() == before


def test_contours_by_an_attribute(told: Told, site: Path, tmp_path: Path) -> None:
    design = open_site(site).design
    east, north = design.site.longitude_deg, design.site.latitude_deg
    features = [
        {
            "type": "Feature", "properties": {"wert": 300.0 + n, "class": n % 3},
            "geometry": {"type": "LineString", "coordinates": [[east - 1e-3, north + n * 1e-4], [east + 1e-3, north + n * 1e-4]]},
        }
        for n in range(5)
    ]  # fmt: skip
    path = tmp_path / "contours.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    before = site.read_bytes()
    status, out, _err = told("heights", site, path)
    assert status == 0
    assert "Which attribute of contours.geojson holds the heights must be said first." in out
    assert "heights from wert (--attribute wert)" in out
    assert told("heights", site, path, "--write")[0] == 3
    assert site.read_bytes() == before
    status, out, err = told("heights", site, path, "--attribute", "wert", "--height-unit", "m", "--write")
    assert (status, err) == (0, "")
    assert "GeoJSON: lines and points with heights as attribute wert" in out
    heights = open_site(site).design.ground.heights
    assert isinstance(heights, SpotHeights)
    assert sorted({round(height) for _x, _y, height in heights.spots}) == [300, 301, 302, 303, 304]
    status, _out, err = told("heights", site, path, "--attribute", "height")
    assert status == 3
    assert "has no attribute height that holds numbers; wert, class would be right." in err
