"""World files and two known points: where a picture comes to lie. The land is invented."""

from math import cos, radians, sin
from pathlib import Path

import numpy as np
import pytest

from studio.design.design import Design, Document
from studio.drawings.on_earth import degrees_of_site
from studio.errors import BadInputError, KeepingError
from studio.files.land.found import How
from studio.files.picture import PictureRead, picture_of
from studio.files.picture_taken import told_placement, with_picture
from studio.files.picture_world import (
    Placement,
    WorldFile,
    place_by_points,
    place_by_world,
    read_world,
    six_of,
    world_beside,
)
from tests.files.pictures import coded, land, oriented

LAT, LON = 33.5, -5.0
WIDE, HIGH = 64, 48
PICTURE = picture_of(coded(land(WIDE, HIGH)), "roof.png")


def placed(
    *numbers: float, picture: PictureRead = PICTURE, said: str = "", how: How | None = None
) -> Placement:
    a, d, b, e, c, f = numbers
    return place_by_world(
        picture, WorldFile("roof.pgw", (a, d, b, e, c, f), said), latitude_deg=LAT, longitude_deg=LON, how=how
    )


def site_of_pixel(placement: Placement, picture: PictureRead, col: float, row: float) -> np.ndarray:
    """Where the centre of a kept pixel lies: the transform that the plan draws by, written out."""
    east = (col + 0.5 - picture.width_px / 2) * placement.m_per_pixel
    north = (picture.height_px / 2 - row - 0.5) * placement.m_per_pixel
    turn = radians(placement.turned_deg)
    return np.array([
        placement.x_m + east * cos(turn) + north * sin(turn),
        placement.y_m - east * sin(turn) + north * cos(turn),
    ])  # fmt: skip


def test_the_numbers_name_the_centre_of_the_first_pixel() -> None:
    """ESRI's description of world files: C, F are the centre of the upper-left pixel."""
    placement = placed(0.5, 0.0, 0.0, -0.5, 10.25, 99.75)
    assert site_of_pixel(placement, PICTURE, 0, 0) == pytest.approx([10.25, 99.75])
    assert site_of_pixel(placement, PICTURE, 63, 47) == pytest.approx([10.25 + 31.5, 99.75 - 23.5])
    assert (placement.x_m, placement.y_m) == pytest.approx((10.0 + 16.0, 100.0 - 12.0))
    assert (placement.m_per_pixel, placement.turned_deg, placement.off_m) == pytest.approx((0.5, 0.0, 0.0))


@pytest.mark.parametrize("turn", [0.0, 12.5, -80.0, 179.0])
def test_it_lies_where_a_general_library_has_it(turn: float, tmp_path: Path) -> None:
    """GDAL through rasterio reads the same picture and world file; its transform counts from the pixel's corner."""
    rasterio = pytest.importorskip("rasterio")
    scale, a = 0.3, radians(turn)
    six = (scale * cos(a), -scale * sin(a), -scale * sin(a), -scale * cos(a), -7.0, 21.0)
    path = tmp_path / "roof.png"
    path.write_bytes(coded(land(WIDE, HIGH)))
    path.with_suffix(".pgw").write_text("\n".join(f"{value:.12f}" for value in six))
    world = read_world(path.with_suffix(".pgw"))
    placement = place_by_world(PICTURE, world, latitude_deg=LAT, longitude_deg=LON)
    with rasterio.open(path) as source:
        for col, row in ((0, 0), (63, 0), (10, 40), (63, 47)):
            wanted = source.xy(row, col)
            assert site_of_pixel(placement, PICTURE, col, row) == pytest.approx(wanted, abs=1e-6)
    assert placement.turned_deg == pytest.approx(turn, abs=1e-6)


def test_a_reduced_picture_lies_where_the_whole_one_would() -> None:
    whole = picture_of(coded(land(8000, 2000)), "large.png")
    placement = placed(0.01, 0.0, 0.0, -0.01, 5.005, 19.995, picture=whole)
    assert whole.factor == 2.0
    assert placement.m_per_pixel == pytest.approx(0.02)
    assert (placement.x_m, placement.y_m) == pytest.approx((5.0 + 40.0, 20.0 - 10.0))


@pytest.mark.parametrize("orientation", [3, 6, 8])
def test_a_turned_photograph_lies_as_its_stored_rows_say(orientation: int) -> None:
    """The numbers are of the stored rows; the red corner (upper left when upright) must come to the same place."""
    stored = land(320, 240)
    read = picture_of(oriented(stored, orientation), "a.jpg")
    placement = placed(1.0, 0.0, 0.0, -1.0, 0.5, 239.5, picture=read)
    middle = (placement.x_m, placement.y_m)
    assert middle == pytest.approx((160.0, 120.0))
    # where the stored picture's first pixel went in the upright one, clockwise: 180, 90 and 270 degrees
    col, row = {3: (319, 239), 6: (239, 0), 8: (0, 319)}[orientation]
    assert site_of_pixel(placement, read, col, row) == pytest.approx([0.5, 239.5], abs=1e-6)


def test_a_mirrored_photograph_is_refused() -> None:
    read = picture_of(oriented(land(320, 240), 2), "a.jpg")
    with pytest.raises(BadInputError, match="mirrored"):
        placed(1.0, 0.0, 0.0, -1.0, 0.5, 239.5, picture=read)


def test_shear_is_told_in_metres() -> None:
    plain = placed(1.0, 0.0, 0.0, -1.0, 0.0, 0.0)
    assert plain.told == ()
    sheared = placed(1.0, 0.0, 0.2, -1.0, 0.0, 0.0)
    # of the shear -0.2 v the best turn takes 0.2 · 24² / (24² + 32²) = 0.072; a corner keeps -0.128 v - 0.072 i u
    assert sheared.off_m == pytest.approx(np.hypot(0.128 * 24, 0.072 * 32))
    assert "up to 3.8 m off" in sheared.told[0]
    stretched = placed(1.0, 0.0, 0.0, -1.5, 0.0, 0.0)
    assert "stretches" in stretched.told[0]


BAD_WORLDS = {
    "mirrored": "0.5\n0\n0\n0.5\n0\n0",
    "swapped axes": "0\n0.5\n-0.5\n0\n0\n0",
    "no width": "0\n0\n0\n-0.5\n0\n0",
    "five": "0.5\n0\n0\n-0.5\n0",
    "seven": "0.5\n0\n0\n-0.5\n0\n0\n7",
    "words": "0.5\n0\nzero\n-0.5\n0\n0",
    "no number": "nan\n0\n0\n-0.5\n0\n0",
    "endless": "inf\n0\n0\n-0.5\n0\n0",
    "too large": "0.5\n0\n0\n-0.5\n1e300\n0",
    "empty": "",
    "thousands": "0.5\n0\n0\n-0.5\n1.000.000,5\n0",
    "far from here": "0.5\n0\n0\n-0.5\n60000\n20",
}


@pytest.mark.parametrize("case", BAD_WORLDS)
def test_a_world_file_that_will_not_do_is_one_sentence(case: str) -> None:
    with pytest.raises(BadInputError) as caught:
        placed(*six_of(BAD_WORLDS[case].encode(), "roof.pgw"))
    assert "\n" not in str(caught.value)
    assert "roof.pgw" in str(caught.value)


def test_pairs_that_stand_north_first_are_taken_so_when_said() -> None:
    """The file's pairs are y, x: the first column reads D, A and the third F, C."""
    placement = placed(0.0, 0.5, -0.5, 0.0, 99.75, 10.25, how=How(swap=True))
    assert (placement.x_m, placement.y_m) == pytest.approx((26.0, 88.0))
    assert (placement.m_per_pixel, placement.turned_deg) == pytest.approx((0.5, 0.0))


def test_a_picture_given_as_its_own_world_file_is_refused(tmp_path: Path) -> None:
    for data in (coded(land()), b"1\n" * 20_000):
        with pytest.raises(BadInputError, match="no world file"):
            six_of(data, "roof.png")
    with pytest.raises(KeepingError):
        read_world(tmp_path / "away.pgw")


@pytest.mark.parametrize("text", ["0,5\n0,0\n0,0\n-0,5\n10,25\n99,75", "0.5\r\n0\r\n0\r\n-5e-1\r\n10.25\r\n99.75\r\n\r\n", "\ufeff0.5 0 0 -0.5 10.25 99.75"])  # fmt: skip
def test_commas_line_ends_and_marks_are_understood(text: str) -> None:
    assert six_of(text.encode(), "a.pgw") == (0.5, 0.0, 0.0, -0.5, 10.25, 99.75)


def test_the_world_file_beside_a_picture_is_found_by_its_name(tmp_path: Path) -> None:
    picture = tmp_path / "Roof.JPG"
    assert world_beside(picture) is None
    (tmp_path / "other.jgw").touch()
    assert world_beside(picture) is None
    for name in ("roof.wld", "ROOF.JGW"):
        (tmp_path / name).touch()
        found = world_beside(picture)
        assert found is not None
        assert found.name == name
    assert world_beside(tmp_path / "nowhere" / "a.png") is None


# a system of coordinates ------------------------------------------------------------------------------------------


def utm_numbers(*, east_m: float = 100.0) -> tuple[float, ...]:
    """A world file in UTM 30 N about a place of the site; its turn is the convergence there."""
    from pyproj import Transformer

    lon, lat = degrees_of_site([[east_m, 50.0]], latitude_deg=LAT, longitude_deg=LON)[0]
    x, y = Transformer.from_crs(4326, 32630, always_xy=True).transform(lon, lat)
    return 0.5, 0.0, 0.0, -0.5, x - 31.5 * 0.5, y + 23.5 * 0.5


def test_national_metres_are_guessed_but_not_sure_and_a_named_system_is() -> None:
    guess = placed(*utm_numbers())
    assert guess.system is not None
    assert not guess.system.sure
    assert guess.doubts
    assert any(mend.how.crs == "EPSG:32630" for doubt in guess.doubts for mend in doubt.mends)
    named = placed(*utm_numbers(), how=How(crs="EPSG:32630"))
    assert named.system is not None
    assert named.system.sure
    assert (named.x_m, named.y_m) == pytest.approx((100.0, 50.0), abs=0.01)
    # at 2 degrees west of the zone's middle meridian, latitude 33.5: convergence atan(tan(-2) sin(33.5)) = -1.10 deg
    # (Snyder, Map Projections, USGS PP 1395, equation 8-1 for the sphere), so map north lies 1.10 deg west of true
    assert named.turned_deg == pytest.approx(-1.10, abs=0.02)
    assert named.m_per_pixel == pytest.approx(0.5, rel=1e-3)


def test_a_prj_beside_says_the_system(tmp_path: Path) -> None:
    from pyproj import CRS

    path = tmp_path / "roof.pgw"
    path.write_text("\n".join(f"{value:.6f}" for value in utm_numbers()))
    path.with_suffix(".prj").write_text(CRS.from_epsg(32630).to_wkt("WKT1_ESRI"))
    placement = place_by_world(PICTURE, read_world(path), latitude_deg=LAT, longitude_deg=LON)
    assert placement.system is not None
    assert placement.system.said
    assert placement.system.sure
    assert (placement.x_m, placement.y_m) == pytest.approx((100.0, 50.0), abs=0.01)


def test_degrees_are_laid_true_to_the_ground_and_told() -> None:
    lon, lat = degrees_of_site([[40.0, -20.0]], latitude_deg=LAT, longitude_deg=LON)[0]
    step = 0.5 / 111_000
    placement = placed(step / cos(radians(LAT)), 0, 0, -step, lon, lat)
    assert placement.doubts
    first = site_of_pixel(placement, PICTURE, 0, 0)
    assert first == pytest.approx([40.0, -20.0], abs=0.15)  # a pixel in degrees is not quite square
    with pytest.raises(BadInputError, match="km from the site's reference point"):
        placed(step, 0, 0, -step, lon + 3.0, lat)


def test_feet_are_understood_when_said() -> None:
    placement = placed(1.0, 0.0, 0.0, -1.0, 0.0, 0.0, how=How(crs="local", unit="ft"))
    assert placement.m_per_pixel == pytest.approx(0.3048)
    assert placement.doubts == ()


# two points -------------------------------------------------------------------------------------------------------


def test_two_points_scale_turn_and_move() -> None:
    """64 pixels from corner to corner are 32 m due north: the picture stands a quarter turn anticlockwise."""
    placement = place_by_points(PICTURE, [(0, 0), (64, 0)], [(10.0, 20.0), (10.0, 52.0)])
    assert placement.m_per_pixel == pytest.approx(0.5)
    assert placement.turned_deg == pytest.approx(-90.0)
    # from the first corner 16 m north and, as down the picture now runs east, 12 m east
    assert (placement.x_m, placement.y_m) == pytest.approx((22.0, 36.0))
    assert "32.0 m × 24.0 m" in told_placement(PICTURE, placement)


def test_points_outside_or_on_each_other_are_refused() -> None:
    with pytest.raises(BadInputError, match="outside the picture"):
        place_by_points(PICTURE, [(0, 0), (65, 0)], [(0, 0), (1, 1)])
    with pytest.raises(BadInputError, match="one and the same"):
        place_by_points(PICTURE, [(3, 3), (3, 3)], [(0, 0), (1, 1)])
    with pytest.raises(BadInputError, match="one and the same"):
        place_by_points(PICTURE, [(3, 3), (4, 3)], [(1, 1), (1, 1)])


def test_a_size_beyond_what_a_design_holds_is_refused() -> None:
    wrong = place_by_points(PICTURE, [(0, 0), (1, 0)], [(0.0, 0.0), (5000.0, 0.0)])
    with pytest.raises(BadInputError, match="metres a pixel"):
        with_picture(Document(design=Design()), PICTURE, wrong)
