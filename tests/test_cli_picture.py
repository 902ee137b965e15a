"""The command that lays a picture under the plan."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from studio.files.examples import example_path
from studio.files.site import open_site
from tests.files.pictures import coded, land

if TYPE_CHECKING:
    from tests.conftest import Told


@pytest.fixture
def site(tmp_path: Path) -> Path:
    path = tmp_path / "small.stillfield"
    path.write_bytes(example_path("small_dryer").read_bytes())
    return path


@pytest.fixture
def roof(tmp_path: Path) -> Path:
    path = tmp_path / "roof.png"
    path.write_bytes(coded(land(640, 480)))
    return path


def test_a_picture_alone_is_only_looked_at(told: Told, site: Path, roof: Path) -> None:
    before = site.read_bytes()
    status, out, err = told("picture", site, roof)
    assert (status, err) == (0, "")
    assert out == "roof.png: 640 × 480 pixels\n"
    status, _out, err = told("picture", site, roof, "--write")
    assert status == 3
    assert "--two-points would do" in err
    assert site.read_bytes() == before


def test_two_points_lay_it_and_the_file_before_stays_beside(told: Told, site: Path, roof: Path) -> None:
    words = ("picture", site, roof, "--two-points", "0,0:10,20", "640,0:10,52")
    status, out, err = told(*words)
    assert (status, err) == (0, "")
    assert "32.0 m × 24.0 m, 0.0500 m a pixel, turned −90.0°" in out
    assert not open_site(site).design.underlay.asset
    status, out, err = told(*words, "--write")
    assert (status, err) == (0, "")
    document = open_site(site)
    underlay = document.design.underlay
    assert (underlay.m_per_pixel, underlay.turned_deg) == pytest.approx((0.05, -90.0))
    assert document.asset(underlay.asset) is not None
    assert len(list(site.parent.glob("small*"))) > 1


def test_the_world_file_beside_it_is_taken_as_site_metres(told: Told, site: Path, roof: Path) -> None:
    roof.with_suffix(".pgw").write_text("0,05\n0\n0\n-0,05\n-9,975\n19,975\n")
    status, out, err = told("picture", site, roof, "--write", "--json")
    assert (status, err) == (0, "")
    tree = json.loads(out)
    assert tree["placement"]["m_per_kept_pixel"] == pytest.approx(0.05)
    assert tree["placement"]["doubts"] == [
        "No coordinate system is said; the numbers were taken as metres of this site."
    ]
    underlay = open_site(site).design.underlay
    assert (underlay.x_m, underlay.y_m) == pytest.approx((6.0, 8.0))


def test_national_metres_are_asked_about_before_anything_is_written(
    told: Told, site: Path, roof: Path
) -> None:
    from pyproj import Transformer

    here = open_site(site).design.site
    zone = 32600 + int((here.longitude_deg + 180) // 6) + 1
    x, y = Transformer.from_crs(4326, zone, always_xy=True).transform(here.longitude_deg, here.latitude_deg)
    world = roof.with_name("elsewhere.wld")
    world.write_text(f"0.05\n0\n0\n-0.05\n{x:.3f}\n{y:.3f}\n")
    status, out, _err = told("picture", site, roof, "--world", world)
    assert status == 0
    assert f"--crs EPSG:{zone}" in out
    before = site.read_bytes()
    status, _out, err = told("picture", site, roof, "--world", world, "--write")
    assert status == 3
    assert "must be said first (--crs)" in err
    assert site.read_bytes() == before
    status, _out, err = told("picture", site, roof, "--world", world, "--crs", f"EPSG:{zone}", "--write")
    assert (status, err) == (0, "")
    underlay = open_site(site).design.underlay
    assert (underlay.x_m, underlay.y_m) == pytest.approx((16.0, -12.0), abs=0.5)


@pytest.mark.parametrize("pair", ["1,2", "1,2:3", "a,b:c,d", "1,2:3,4:5,6", "nan,0:0,0", "1,2:3,4,5"])
def test_a_point_that_is_none_is_one_sentence(told: Told, site: Path, roof: Path, pair: str) -> None:
    status, _out, err = told("picture", site, roof, "--two-points", pair, "9,9:9,9")
    assert status == 3
    assert "is no point" in err
    assert err.count("\n") == 1


def test_what_is_no_picture_is_one_sentence(told: Told, site: Path, tmp_path: Path) -> None:
    other = tmp_path / "roof.png"
    other.write_text("no picture")
    status, _out, err = told("picture", site, other)
    assert (status, err.count("\n")) == (3, 1)
