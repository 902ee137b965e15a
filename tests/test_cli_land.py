"""The commands that bring land in and take the plot out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from studio.files.examples import example_path
from studio.files.site import open_site

if TYPE_CHECKING:
    from tests.conftest import Told

SMALL = example_path("small_dryer")
SQUARE = [[3.87, 43.6], [3.872, 43.6], [3.872, 43.601], [3.87, 43.601], [3.87, 43.6]]
HOLE = [[3.8705, 43.6002], [3.871, 43.6002], [3.871, 43.6005], [3.8705, 43.6002]]


@pytest.fixture
def land(tmp_path: Path) -> Path:
    path = tmp_path / "land.geojson"
    path.write_text(json.dumps({"type": "Polygon", "coordinates": [SQUARE, HOLE]}))
    return path


def test_what_a_file_holds_is_printed_and_nothing_is_written(told: Told, land: Path) -> None:
    status, out, err = told("land", land)
    assert (status, err) == (0, "")
    assert "WGS 84 (EPSG:4326)" in out
    assert "1 hole" in out
    tree = json.loads(told("land", land, "--json")[1])
    assert tree["areas"][0]["area_m2"] == pytest.approx(17_940 - 672, rel=0.02)
    assert [path.name for path in land.parent.iterdir()] == ["land.geojson"]


def test_into_a_new_site_and_out_again(told: Told, land: Path, tmp_path: Path) -> None:
    site = tmp_path / "a.stillfield"
    status, out, err = told("land", land, "--into", site, "--json")
    assert (status, err) == (0, "")
    taken = json.loads(out)
    assert len(taken["no_build"]) == 1
    status, out, err = told("plot", site, "--into", tmp_path / "out")
    assert (status, err) == (0, "")
    assert [Path(line).name for line in out.split()] == ["plot.geojson", "plot.dxf"]
    again = json.loads(told("land", tmp_path / "out" / "plot.geojson", "--json")[1])
    assert again["areas"][0]["area_m2"] - again["areas"][1]["area_m2"] == pytest.approx(
        taken["area_m2"], rel=1e-6
    )
    assert told("plot", site, "--into", tmp_path / "out")[0] == 3
    assert told("plot", site, "--into", tmp_path / "out", "--overwrite")[0] == 0


def test_over_a_design_with_lines_it_says_what_is_kept(told: Told, land: Path, tmp_path: Path) -> None:
    site = tmp_path / "small.stillfield"
    site.write_bytes(SMALL.read_bytes())
    before = open_site(site).design
    status, out, _err = told("land", land, "--into", site, "--no-holes")
    assert status == 0
    assert "kept, with headers and store" in out
    assert "reference point is now" in out
    after = open_site(site).design
    assert after.lines == before.lines
    assert after.plot.no_build == ()
    assert site.with_name(site.name + "~").read_bytes() == SMALL.read_bytes()


def test_bad_input_is_one_sentence_and_status_three(told: Told, land: Path, tmp_path: Path) -> None:
    for words in (
        ("land", tmp_path / "absent.kml"), ("land", land, "--crs", "EPSG:2154"),
        ("land", land, "--into", tmp_path / "b.stillfield", "--area", "9"), ("land", land, "--into", tmp_path / "b.txt"),
    ):  # fmt: skip
        status, out, err = told(*words)
        assert (status, out) == (3, "")
        assert err.count("\n") == 1
    assert not (tmp_path / "b.stillfield").exists()
