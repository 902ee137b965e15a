"""Contours and points whose height is only an attribute of the map. The heights are invented; the maps are written by pyogrio."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from pyogrio import raw
from pyproj import Transformer

from studio.design.design import Design
from studio.design.site import SpotHeights
from studio.drawings.on_earth import degrees_of_site
from studio.errors import BadInputError, FaultyFileError
from studio.files.heights.found import HeightsHow, HeightsLook
from studio.files.heights.into_site import edit_of
from studio.files.heights.look import look_at_heights
from studio.files.heights.told import look_lines, look_tree
from studio.files.land.attributes import names_heights, numbers_of, unit_of_name
from studio.files.land.look import look_at
from tests.files.heights.conftest import LATITUDE, LONGITUDE, middle_in

Write = Callable[..., Path]
STEEP, STEP_M = 0.05, 15.0
HEIGHTS = [498.0 + n * STEEP * STEP_M for n in range(7)]


@pytest.fixture
def contours(tmp_path: Path) -> Write:
    """Writes straight contours of a plane that rises northwards by 5 %, one each 15 m, with attributes."""

    def write(ending: str, **columns: list[Any]) -> Path:
        x, y = middle_in("EPSG:32631")
        lines = [
            shapely.LineString([(x + east, y + STEP_M * (n - 3)) for east in (-80.0, -20.0, 30.0, 80.0)])
            for n in range(len(HEIGHTS))
        ]
        path = tmp_path / f"contours{ending}"
        raw.write(
            path, np.array([shapely.to_wkb(line) for line in lines]), [np.array(c) for c in columns.values()],
            list(columns), geometry_type="LineString", crs="EPSG:32631",
        )  # fmt: skip
        return path

    return write


def doubts_of(look: HeightsLook) -> str:
    return "\n".join(map(str, look.doubts))


@pytest.mark.parametrize("ending", [".gpkg", ".shp", ".geojson"])
def test_contours_bring_the_heights_of_their_attribute(contours: Write, design: Design, ending: str) -> None:
    path = contours(ending, ELEV=HEIGHTS, ID=list(range(900, 907)))
    look = look_at_heights(path, design)
    assert look.attribute == "ELEV"
    assert (look.lowest_m, look.highest_m) == (HEIGHTS[0], HEIGHTS[-1])
    assert "The heights are those of the attribute ELEV, by its name alone." in doubts_of(look)
    assert "No unit of the heights is said; they were taken as metres." in doubts_of(look)
    assert look.taken is not None
    assert isinstance(look.taken.heights, SpotHeights)
    spots = np.array(look.taken.heights.spots)
    world = degrees_of_site(spots[:, :2], latitude_deg=LATITUDE, longitude_deg=LONGITUDE)
    _x, y = Transformer.from_crs("EPSG:4326", "EPSG:32631", always_xy=True).transform(*world.T)
    rise = STEEP * (np.asarray(y) - middle_in("EPSG:32631")[1])
    assert spots[:, 2] == pytest.approx(HEIGHTS[3] + rise, abs=1e-3)
    assert look.taken.slopes_percent[1] == pytest.approx(100 * STEEP, rel=0.01)
    ground = edit_of(design, look).design.ground
    assert ground.heights == look.taken.heights


def test_the_mends_name_the_other_attributes_and_are_the_options_of_the_command_line(
    contours: Write, design: Design
) -> None:
    path = contours(".gpkg", ELEV=HEIGHTS, steps=[float(n) for n in range(7)])
    look = look_at_heights(path, design)
    (doubt,) = (one for one in look.doubts if "ELEV" in one.sentence)
    assert [mend.label for mend in doubt.mends] == ["heights from steps"]
    assert any("heights from steps (--attribute steps)" in line for line in look_lines(look))
    other = look_at_heights(path, design, how=doubt.mends[0].how)
    assert (other.lowest_m, other.highest_m, other.attribute) == (0.0, 6.0, "steps")
    assert "by its name" not in doubts_of(other), "it was said"
    assert look_tree(look)["attributes"] == ["ELEV", "steps"]


@pytest.mark.parametrize(
    "columns", [{"WERT": HEIGHTS, "KLASSE": [1, 2, 3, 4, 5, 6, 7]}, {"ELEV": HEIGHTS, "HOEHE": HEIGHTS[::-1]}]
)
def test_what_no_name_settles_is_asked_and_not_taken(
    contours: Write, design: Design, columns: dict[str, list[float]]
) -> None:
    path = contours(".gpkg", **columns)
    look = look_at_heights(path, design)
    assert look.taken is None
    assert look.refused == "Which attribute of contours.gpkg holds the heights must be said first."
    with pytest.raises(BadInputError, match="Which attribute"):
        edit_of(design, look)
    first = look.doubts[0]
    assert [mend.how.attribute for mend in first.mends] == list(columns)
    said = look_at_heights(path, design, how=first.mends[0].how)
    assert said.taken is not None
    assert said.highest_m == HEIGHTS[-1]


def test_a_name_may_say_the_unit_and_numbers_may_be_text(contours: Write, design: Design) -> None:
    feet = [f"{height / 0.3048:.3f}".replace(".", ",") for height in HEIGHTS]
    look = look_at_heights(contours(".gpkg", elev_ft=feet), design)
    assert look.attribute == "elev_ft"
    assert look.highest_m == pytest.approx(HEIGHTS[-1], abs=1e-3)
    assert "No unit" not in doubts_of(look)
    said = look_at_heights(contours(".gpkg", elev_ft=feet), design, how=HeightsHow(height_unit="m"))
    assert said.highest_m == pytest.approx(HEIGHTS[-1] / 0.3048, abs=1e-2)


def test_a_feature_without_a_value_is_left_aside_and_told(contours: Write, design: Design) -> None:
    some = [None if n == 2 else f"{height:g}" for n, height in enumerate(HEIGHTS)]
    look = look_at_heights(contours(".gpkg", ELEV=some), design)
    assert "1 feature without ELEV was left aside." in doubts_of(look)
    assert look.taken is not None
    assert isinstance(look.taken.heights, SpotHeights)
    assert len(look.taken.heights.spots) == 4 * 6


def test_an_attribute_that_is_not_there_is_one_sentence(contours: Write, design: Design) -> None:
    path = contours(".gpkg", ELEV=HEIGHTS, NOTE=["a"] * 7)
    for said in ("HEIGHT", "NOTE"):
        with pytest.raises(BadInputError) as caught:
            look_at_heights(path, design, how=HeightsHow(attribute=said))
        assert str(caught.value) == (
            f"contours.gpkg has no attribute {said} that holds numbers; ELEV would be right."
        )
    assert look_at_heights(path, design, how=HeightsHow(attribute="elev")).taken is not None
    with pytest.raises(FaultyFileError, match="holds no point with a height"):
        look_at_heights(contours(".gpkg", NOTE=["a"] * 7), design)


def test_heights_of_points_come_before_an_attribute_unless_it_is_said(design: Design, tmp_path: Path) -> None:
    def feature(east: float, north: float, height: float, own: float) -> dict[str, Any]:
        place = [LONGITUDE + east / 80_000, LATITUDE + north / 111_000, height]
        return {
            "type": "Feature", "properties": {"ele": own}, "geometry": {"type": "Point", "coordinates": place},
        }  # fmt: skip

    corners = [(0, 0), (50, 0), (50, 40), (0, 40)]
    path = tmp_path / "points.geojson"
    features = [feature(x, y, 500.0 + n, 510.0 + n) for n, (x, y) in enumerate(corners)]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    own, said = (look_at_heights(path, design, how=HeightsHow(attribute=how)) for how in ("", "ele"))
    assert (own.lowest_m, own.attribute, own.attributes) == (500.0, "", ("ele",))
    assert (said.lowest_m, said.attribute) == (510.0, "ele")


def test_land_says_that_an_attribute_may_hold_heights(contours: Write) -> None:
    look = look_at(contours(".gpkg", Elevation=HEIGHTS))
    assert look.may_hold_heights
    assert "Its attribute Elevation may hold heights; it was left aside." in map(str, look.doubts)
    assert not look_at(contours(".gpkg", WERT=HEIGHTS)).may_hold_heights


@pytest.mark.parametrize(
    "name", ["ELEV", "elevation", "Height", "HOEHE", "Höhe", "z", "ALT", "CONTOUR", "contour_m", "elev (ft)"]
)
def test_what_is_called_as_heights_are(name: str) -> None:
    assert names_heights(name)


@pytest.mark.parametrize(
    "name", ["ID", "contour_id", "zone", "length", "weight", "altname", "shape_leng", "heightened"]
)
def test_what_is_not(name: str) -> None:
    assert not names_heights(name)


@pytest.mark.parametrize(("name", "unit"), [("ELEV_FT", "ft"), ("z_m", "m"), ("elev (feet)", "ft"), ("elev_us-ft", "us-ft"), ("ELEV", ""), ("film", "")])  # fmt: skip
def test_the_unit_that_a_name_says(name: str, unit: str) -> None:
    assert unit_of_name(name) == unit


def test_columns_of_numbers() -> None:
    assert numbers_of(np.array(["1,5", None, " 2.5 "], dtype=object)) == pytest.approx(
        [1.5, np.nan, 2.5], nan_ok=True
    )
    assert numbers_of(np.array(["1.5", "about 2"], dtype=object)) is None
    assert numbers_of(np.array(["2020-01-01"], dtype="datetime64[D]")) is None
