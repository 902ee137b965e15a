"""Taking land: site metres, holes and other areas, reference points kept or refused, fewer corners."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from pyproj import Geod

from studio.design.design import Design, Document
from studio.design.field import Line
from studio.design.rules import MOST_IN_A_LIST
from studio.drawings.on_earth import degrees_of_site
from studio.errors import BadInputError, LockedError
from studio.files.land.found import LOCAL, How, LandChoice
from studio.files.land.into_site import bring_in
from studio.files.land.look import look_at, look_at_text
from studio.files.land.simplify import fewer_corners
from studio.files.land.take import take
from studio.files.lock import hold
from studio.files.picture import picture_of
from studio.files.picture_taken import with_picture
from studio.files.picture_world import Placement
from studio.files.site import open_site, write_site
from tests.files.pictures import coded
from tests.files.pictures import land as image

SITE = (43.6, 3.87)
PLOT = np.array([(-60.0, -40.0), (60.0, -40.0), (60.0, 45.0), (-60.0, 45.0)])
POND = np.array([(-10.0, -10.0), (10.0, -10.0), (10.0, 5.0)])
BARN = np.array([(20.0, 20.0), (40.0, 20.0), (40.0, 30.0), (20.0, 30.0)])


def ring(metres: Any, about: tuple[float, float] = SITE) -> list[list[float]]:
    degrees = degrees_of_site(metres, latitude_deg=about[0], longitude_deg=about[1])
    return [*degrees.tolist(), degrees[0].tolist()]


def geojson(path: Path, *polygons: list[list[list[float]]]) -> Path:
    features = [
        {
            "type": "Feature",
            "properties": {"name": f"field {n}"},
            "geometry": {"type": "Polygon", "coordinates": rings},
        }
        for n, rings in enumerate(polygons, 1)
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8")
    return path


@pytest.fixture
def land(tmp_path: Path) -> Path:
    return geojson(tmp_path / "land.geojson", [ring(PLOT), ring(POND)], [ring(BARN)])


def test_the_plot_its_hole_and_another_area(land: Path) -> None:
    look = look_at(land)
    taken = take(look, LandChoice(area=1, no_build=(2,), about=SITE))
    assert np.array(taken.boundary) == pytest.approx(PLOT, abs=1e-4)
    assert [area.name for area in taken.no_build] == ["hole 1", "field 2"]
    assert np.array(taken.no_build[0].ring) == pytest.approx(POND, abs=1e-4)
    assert np.array(taken.no_build[1].ring) == pytest.approx(BARN, abs=1e-4)
    assert (taken.latitude_deg, taken.longitude_deg) == SITE
    assert any("transverse Mercator" in sentence for sentence in taken.told)
    bare = take(look, LandChoice(area=1, holes=False))
    assert bare.no_build == ()
    assert any("holes were left out" in sentence for sentence in bare.told)
    assert (bare.latitude_deg, bare.longitude_deg) == pytest.approx(SITE, abs=1e-4)
    assert np.array(bare.boundary).mean(axis=0) == pytest.approx((0, 0), abs=0.2)


def test_lengths_and_azimuths_are_those_of_the_ground(land: Path) -> None:
    """Geodesics by Karney (2013, pyproj.Geod) between the corners of the file."""
    look = look_at(land)
    boundary = np.array(take(look, LandChoice(area=1)).boundary)
    corners = look.areas[0].rings[0]
    azimuth, _back, length = Geod(ellps="WGS84").inv(*corners[0], *corners[2])
    step = boundary[2] - boundary[0]
    assert np.hypot(*step) == pytest.approx(length, abs=2e-4)
    assert np.degrees(np.arctan2(*step)) == pytest.approx(azimuth, abs=2e-3)


def test_what_cannot_be_taken_is_refused(land: Path, tmp_path: Path) -> None:
    look = look_at(land)
    for choice, words in (
        (None, "say by its number which"), (LandChoice(area=7), "no area 7; it has 2"), (LandChoice(1, (1,)), "at once"),
        (LandChoice(1, about=(48.0, 3.87)), "km from"), (LandChoice(1, about=(-43.6, -176.0)), "km|too far"),
    ):  # fmt: skip
        with pytest.raises(BadInputError, match=words):
            take(look, choice)
    cross = geojson(tmp_path / "x.geojson", [ring(PLOT[[0, 2, 1, 3]])])
    with pytest.raises(BadInputError, match="crosses itself"):
        take(look_at(cross))


def test_plain_lengths_far_from_their_zero_are_brought_near() -> None:
    table = "x,y\n50000,70000\n50120,70000\n50120,70085\n50000,70085"
    taken = take(look_at_text(table, how=How(crs=LOCAL)))
    assert taken.latitude_deg is None
    assert np.array(taken.boundary)[0] == pytest.approx((-60, -42.5), abs=0.51)
    near = take(look_at_text("x,y\n5,7\n125,7\n125,92\n5,92"))
    assert near.boundary[0] == (5.0, 7.0)


def test_fewer_corners_shift_none_further_than_told() -> None:
    turn = np.linspace(0, 2 * np.pi, 5000, endpoint=False)
    reach = 200 + np.random.default_rng(3).normal(0, 0.05, 5000)
    many = np.column_stack((reach * np.cos(turn), reach * np.sin(turn)))
    fewer, shift = fewer_corners(many)
    assert 100 < len(fewer) <= MOST_IN_A_LIST
    assert shapely.Polygon(fewer).is_valid
    far = shapely.distance(shapely.points(many), shapely.Polygon(fewer).exterior).max()
    assert shift == pytest.approx(far)
    assert 0.01 < shift < 1.0
    assert fewer_corners(fewer) == (fewer, 0.0)


def test_a_new_site_file_and_one_that_is_there(land: Path, tmp_path: Path) -> None:
    site = tmp_path / "new.stillfield"
    brought = bring_in(land, site, LandChoice(area=1, no_build=(2,)), how=How())
    design = open_site(site).design
    assert design.plot.boundary == brought.taken.boundary
    assert design.site.name == "field 1"
    assert design.site.latitude_deg == brought.taken.latitude_deg
    lined = Design(
        site=design.site, plot=design.plot, lines=(Line(id=1, x_m=0.0, y_m=0.0), Line(id=2, x_m=0.0, y_m=5.0))
    )
    site.write_bytes(write_site(Document(design=lined)))
    again = bring_in(land, site, LandChoice(area=2), how=How())
    after = open_site(site).design
    assert after.lines == lined.lines
    assert (after.site.latitude_deg, after.site.longitude_deg) == (
        design.site.latitude_deg,
        design.site.longitude_deg,
    )
    assert np.array(after.plot.boundary) == pytest.approx(np.array(brought.taken.no_build[1].ring), abs=2e-4)
    assert any("2 lines are kept" in sentence for sentence in again.told)
    assert any("2 no-build areas that were there are replaced" in sentence for sentence in again.told)
    assert open_site(site.with_name(site.name + "~")).design == lined


def test_land_far_from_the_lines_moves_the_reference_point_and_says_so(land: Path, tmp_path: Path) -> None:
    site = tmp_path / "far.stillfield"
    site.write_bytes(write_site(Document(design=Design(lines=(Line(id=1, x_m=0.0, y_m=0.0),)))))
    told = bring_in(land, site, LandChoice(area=1), how=How()).told
    assert any("reference point is now 43.6" in sentence for sentence in told)
    assert any("1 line is kept" in sentence for sentence in told)


def test_a_picture_holds_the_reference_point_too_and_is_told(land: Path, tmp_path: Path) -> None:
    site = tmp_path / "a.stillfield"
    bring_in(land, site, LandChoice(area=1), how=How())
    picture = picture_of(coded(image()), "roof.png")
    document = with_picture(open_site(site), picture, Placement(5.0, 5.0, 0.1, 0.0))
    site.write_bytes(write_site(document))
    told = bring_in(land, site, LandChoice(area=2), how=How()).told
    after = open_site(site).design
    assert after.site == document.design.site
    assert after.underlay == document.design.underlay
    assert any(sentence.startswith("The picture under the plan is kept") for sentence in told)


def test_a_site_file_that_cannot_take_it_stays_as_it_is(land: Path, tmp_path: Path) -> None:
    with pytest.raises(BadInputError, match=r"should end in \.stillfield"):
        bring_in(land, tmp_path / "site.json", LandChoice(1), how=How())
    site = tmp_path / "a.stillfield"
    data = write_site(Document())
    site.write_bytes(data)
    with hold(site), pytest.raises(LockedError):
        bring_in(land, site, LandChoice(1), how=How())
    with pytest.raises(BadInputError):
        bring_in(land, site, LandChoice(), how=How())
    assert site.read_bytes() == data
    assert not (tmp_path / "a.stillfield~").exists()
