"""Looking at land of every kind: what it says, what is guessed, what a person says; tables and traverses."""

import io
import zipfile
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from ezdxf.filemanagement import new
from pyogrio import raw
from pyproj import Transformer

from studio.errors import BadInputError, FaultyFileError, KeepingError
from studio.files.land.found import LOCAL, How, LandLook
from studio.files.land.look import look_at, look_at_text
from studio.files.land.told import look_lines, look_tree

PLACE = (43.6, 3.87)
LAMBERT = shapely.Polygon([(768000, 6277000), (768120, 6277000), (768120, 6277085), (768000, 6277085)])
"""An invented plot of 120 m by 85 m of the map, some 10,193 m2 on the ellipsoid."""
TRUE_M2 = 10193.3
TO_DEGREES = Transformer.from_crs(2154, 4326, always_xy=True)


def in_degrees(shape: Any = LAMBERT) -> Any:
    return shapely.transform(shape, lambda xy: np.column_stack(TO_DEGREES.transform(xy[:, 0], xy[:, 1])))


def written(
    folder: Path, name: str, *shapes: Any, crs: str | None, kind: str = "Polygon", **options: Any
) -> Path:
    packed = np.array([shape.wkb for shape in shapes], dtype=object)
    names = np.array([f"field {n}" for n in range(1, len(shapes) + 1)], dtype=object)
    if name.endswith(".kml"):
        options["driver"] = "KML"
    raw.write(folder / name, packed, [names], ["name"], crs=crs, geometry_type=kind, **options)
    return folder / name


def says(look: LandLook, words: str) -> bool:
    told = [*map(str, look.doubts), *(d for area in look.areas for d in (*area.doubts, area.refused))]
    return any(words in sentence for sentence in told)


@pytest.mark.parametrize(("name", "kind", "crs"), [
    ("a.geojson", "GeoJSON", "EPSG:4326"), ("a.kml", "KML", "EPSG:4326"), ("a.gpkg", "GeoPackage", "EPSG:2154"),
    ("a.shp", "Shapefile", "EPSG:2154"), ("b.gpkg", "GeoPackage", "EPSG:4326"), ("b.shp", "Shapefile", "EPSG:4326"),
])  # fmt: skip
def test_every_kind_gives_the_same_area(tmp_path: Path, name: str, kind: str, crs: str) -> None:
    shape = LAMBERT if crs == "EPSG:2154" else in_degrees()
    look = look_at(written(tmp_path, name, shape, crs=crs))
    area = look.areas[0]
    assert (look.kind, look.system.said, look.system.code) == (kind, True, crs)
    assert area.area_m2 == pytest.approx(TRUE_M2, rel=1e-5)
    assert area.middle == pytest.approx((43.5891, 3.8455), abs=0.01)
    assert area.name == "field 1"
    assert (area.corners, area.holes) == (4, 0)
    assert (area.width_m, area.depth_m) == pytest.approx((120, 85), rel=0.02)


def test_archives_and_names_that_lie(tmp_path: Path) -> None:
    written(tmp_path, "plot.shp", LAMBERT, crs="EPSG:2154")
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for file in tmp_path.iterdir():
            archive.writestr(f"deep/{file.name.upper()}", file.read_bytes())
    (tmp_path / "packed.zip").write_bytes(out.getvalue())
    assert look_at(tmp_path / "packed.zip").areas[0].area_m2 == pytest.approx(TRUE_M2, rel=1e-5)
    kml = written(tmp_path, "a.kml", in_degrees(), crs="EPSG:4326")
    with zipfile.ZipFile(tmp_path / "a.kmz", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(kml, "doc.kml")
    assert look_at(tmp_path / "a.kmz").areas[0].area_m2 == pytest.approx(TRUE_M2, rel=1e-5)
    (tmp_path / "called.dxf").write_bytes(kml.read_bytes())
    assert look_at(tmp_path / "called.dxf").kind == "KML"


def test_a_shapefile_without_side_files(tmp_path: Path) -> None:
    path = written(tmp_path, "plot.shp", LAMBERT, crs="EPSG:2154")
    for ending in (".prj", ".shx", ".dbf", ".cpg"):
        path.with_suffix(ending).unlink(missing_ok=True)
    look = look_at(path)
    assert says(look, "no .prj")
    assert look.system.candidates[0] == "EPSG:2154"
    assert not look.system.sure
    assert look_at(path, how=How(crs="EPSG:2154")).areas[0].area_m2 == pytest.approx(TRUE_M2, rel=1e-5)
    assert look_at(path, how=look.doubts[0].mends[0].how).system.sure
    assert look_at(path, how=How(crs=LOCAL)).areas[0].area_m2 == pytest.approx(120 * 85)


def test_holes_and_layers(tmp_path: Path) -> None:
    holed = LAMBERT.difference(shapely.box(768050, 6277040, 768060, 6277050))
    path = written(tmp_path, "a.gpkg", holed, crs="EPSG:2154", layer="fields")
    written(tmp_path, "a.gpkg", LAMBERT.centroid, crs="EPSG:2154", layer="wells", kind="Point", append=True)
    look = look_at(path)
    assert {layer.name: (layer.areas, layer.points) for layer in look.layers} == {
        "fields": (1, 0),
        "wells": (0, 1),
    }
    assert look.areas[0].holes == 1
    assert look.areas[0].area_m2 == pytest.approx(TRUE_M2 * (1 - 100 / 10200), rel=1e-5)
    assert look_tree(look)["areas"][0]["holes"] == 1
    assert any("1 hole" in line for line in look_lines(look))


@pytest.mark.parametrize(("code", "metres"), [(6, 1.0), (2, 0.3048), (4, 0.001), (21, 1200 / 3937)])
def test_drawings_in_their_own_unit(tmp_path: Path, code: int, metres: float) -> None:
    drawing = new("R2010")
    drawing.units = code
    space = drawing.modelspace()
    corners = [(0, 0), (120 / metres, 0), (120 / metres, 85 / metres), (0, 85 / metres)]
    space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "boundary"})
    space.add_text("a note").set_placement((3, 3))
    drawing.saveas(tmp_path / "a.dxf")
    look = look_at(tmp_path / "a.dxf")
    assert look.areas[0].area_m2 == pytest.approx(10200)
    assert look.areas[0].name == "boundary"
    assert look.system.code == ""


def test_lines_arcs_and_blocks_of_a_drawing(tmp_path: Path) -> None:
    drawing = new("R2010")
    drawing.units = 6
    space = drawing.modelspace()
    corners = [(0, 0), (120, 0), (120, 85), (0, 85), (0, 0)]
    for start, end in pairwise(corners):
        space.add_line(start, end, dxfattribs={"layer": "lines"})
    space.add_circle((300, 0), 50, dxfattribs={"layer": "pond"})
    block = drawing.blocks.new("SHED")
    block.add_lwpolyline([(0, 0), (10, 0), (10, 5), (0, 5)], close=True, dxfattribs={"layer": "shed"})
    space.add_blockref("SHED", (50, 50), dxfattribs={"layer": "shed"})
    drawing.saveas(tmp_path / "a.dxf")
    look = look_at(tmp_path / "a.dxf")
    sizes = {area.layer: area.area_m2 for area in look.areas}
    assert sizes["lines"] == pytest.approx(10200)
    assert sizes["pond"] == pytest.approx(np.pi * 2500, rel=1e-4)
    assert sizes["shed"] == pytest.approx(50)
    assert says(look, "Curves")
    assert says(look, "lines that meet")


def test_a_walk_round_the_land(tmp_path: Path) -> None:
    walked = " ".join(
        f'<trkpt lat="{y:.7f}" lon="{x:.7f}"><ele>50</ele></trkpt>'
        for x, y in in_degrees().exterior.coords[:-1]
    )
    (tmp_path / "a.gpx").write_text(
        f'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>walk</name><trkseg>'
        f"{walked}</trkseg></trk></gpx>"
    )
    look = look_at(tmp_path / "a.gpx")
    assert not look.areas  # a quarter of the way is missing, so the line is not closed unasked
    closed = walked + walked[: walked.index("</trkpt>") + 8].replace("50", "51")
    (tmp_path / "a.gpx").write_text((tmp_path / "a.gpx").read_text().replace(walked, closed))
    look = look_at(tmp_path / "a.gpx")
    assert look.areas[0].area_m2 == pytest.approx(TRUE_M2, rel=1e-4)
    assert look.areas[0].name == "walk"


def test_waypoints_in_their_order(tmp_path: Path) -> None:
    points = "".join(f'<wpt lat="{y:.8f}" lon="{x:.8f}"/>' for x, y in in_degrees().exterior.coords[:-1])
    (tmp_path / "a.gpx").write_text(
        f'<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">{points}</gpx>'
    )
    look = look_at(tmp_path / "a.gpx")
    assert look.areas[0].area_m2 == pytest.approx(TRUE_M2, rel=1e-4)
    assert says(look, "Made of 4 points")


def test_a_drawing_in_millimetres_of_a_national_map(tmp_path: Path) -> None:
    drawing = new("R2010")
    drawing.units = 4
    drawing.modelspace().add_lwpolyline([(1e3 * x, 1e3 * y) for x, y in LAMBERT.exterior.coords], close=True)
    drawing.saveas(tmp_path / "a.dxf")
    look = look_at(tmp_path / "a.dxf")
    assert (look.system.candidates[0], look.system.unit, look.system.sure) == ("EPSG:2154", "mm", False)
    named = look_at(tmp_path / "a.dxf", how=How(crs="EPSG:2154"))
    assert named.areas[0].area_m2 == pytest.approx(TRUE_M2, rel=1e-5)
    assert not says(named, "outside")


def test_a_person_who_says_what_cannot_be(tmp_path: Path) -> None:
    path = written(tmp_path, "a.geojson", in_degrees(), crs="EPSG:4326")
    for how, words in (
        (How(crs="EPSG:2154"), "look like degrees"), (How(crs="EPSG:1"), "no coordinate system"),
        (How(crs="nonsense"), "no coordinate system"), (How(crs="EPSG:5773"), "no coordinate system"),
        (How(crs=LOCAL, unit="ells"), "no unit of length"),
    ):  # fmt: skip
        with pytest.raises(BadInputError, match=words):
            look_at(path, how=how)
    metres = written(tmp_path, "b.gpkg", LAMBERT, crs="EPSG:2154")
    with pytest.raises(BadInputError, match="never do"):
        look_at(metres, how=How(crs="EPSG:4326"))
    assert says(look_at(metres, how=How(crs="EPSG:27700")), "outside the area")
    with pytest.raises(KeepingError, match="not there"):
        look_at(tmp_path / "absent.kml")
    with pytest.raises(FaultyFileError, match="not a file"):
        look_at(tmp_path)


def test_a_state_plane_system_in_feet() -> None:
    """EPSG:2277, NAD83 / Texas Central (US survey feet): 1,000 by 500 ft are 4.645 ha of ground within its scale."""
    corners = [
        (3_100_000, 10_070_000),
        (3_101_000, 10_070_000),
        (3_101_000, 10_070_500),
        (3_100_000, 10_070_500),
    ]
    table = "x,y\n" + "\n".join(f"{x},{y}" for x, y in corners)
    look = look_at_text(table, how=How(crs="EPSG:2277"))
    assert look.system.unit == "US survey foot"
    assert look.areas[0].area_m2 == pytest.approx(500_000 * (1200 / 3937) ** 2, rel=3e-4)


@pytest.mark.parametrize("table", [
    "x,y\n0,0\n120,0\n120,85\n0,85\n", "0 0\n120 0\n120 85\n0 85", "corner\teast\tnorth\nA\t0\t0\nB\t120\t0\nC\t120\t85\nD\t0\t85",
    "1;0;0\n2;120,0;0\n3;120,0;85,0\n4;0;85,0\n", "y;x\n0;0\n0;120\n85;120\n85;0\n0;0\n", "# plot\n\nx,y\n0,0\n120 m,0\n120,85 m\n0,8500 cm\n",
    "east (ft),north (ft)\n0,0\n393.7007874,0\n393.7007874,278.8713911\n0,278.8713911\n", "12,5 10,25\n132,5 10,25\n132,5 95,25\n12,5 95,25",
])  # fmt: skip
def test_tables_in_metres(table: str) -> None:
    look = look_at_text(table)
    assert look.areas[0].area_m2 == pytest.approx(10200, rel=1e-7)
    assert look.areas[0].middle is None


@pytest.mark.parametrize("style", ["plain", "headed", "swapped", "letters", "minutes"])
def test_tables_in_degrees(style: str) -> None:
    corners = [(x, y) for x, y in in_degrees().exterior.coords[:-1]]

    def sexagesimal(value: float, letter: str) -> str:
        whole = int(value)
        minutes = int((value - whole) * 60)
        return f"{whole}°{minutes:02d}'{((value - whole) * 60 - minutes) * 60:.5f}\"{letter}"

    lines = {
        "plain": [f"{y:.9f}, {x:.9f}" for x, y in corners],
        "headed": ["latitude,longitude", *(f"{y:.9f},{x:.9f}" for x, y in corners)],
        "swapped": ["lon;lat", *(f"{x:.9f};{y:.9f}".replace(".", ",") for x, y in corners)],
        "letters": [f"{y:.9f} N  {x:.9f} E" for x, y in corners],
        "minutes": [f"{sexagesimal(y, 'N')} {sexagesimal(x, 'E')}" for x, y in corners],
    }[style]
    look = look_at_text("\n".join(lines))
    assert look.areas[0].area_m2 == pytest.approx(TRUE_M2, rel=1e-4)
    assert look.areas[0].middle == pytest.approx((43.589, 3.846), abs=0.01)


@pytest.mark.parametrize("table", [
    "bearing,distance\n0,85\n90,120\n180,85\n270,120", "N 0 E, 85\nS 90-00-00 E, 120\nS 0°0' W, 85\nN 90 W, 120",
    "azimuth (gon);distance\n0;85\n100;120\n200;85\n300;120", "0°00'00\", 85\n90°00'00\", 120\n180°00'00\", 85\n270°00'00\", 120",
    "bearing,distance\n0,85\n90,120\n180,85",
])  # fmt: skip
def test_traverses(table: str) -> None:
    look = look_at_text(table)
    assert look.areas[0].area_m2 == pytest.approx(10200)
    assert look.misclosure is not None
    if table.count("\n") == 4 or "gon" in table or "°" in table:
        assert look.misclosure.length_m < 1e-9
        assert any("it closes" in line for line in look_lines(look))
    else:
        assert says(look, "the leg back was taken to be missing") == (
            table.count("270") + table.count("W, 120") == 0
        )


def test_a_misclosure_is_shown_and_spread_only_when_asked() -> None:
    table = "bearing,distance\n0,85\n90,120\n180,85\n270,119.5"
    look = look_at_text(table)
    line = next(line for line in look_lines(look) if "misclosure" in line)
    assert "0.5000 m towards 90.0°, 1 in 819" in line
    assert says(look, "left in the last leg")
    assert says(look, "look for a slip")
    mend = next(mend for doubt in look.doubts for mend in doubt.mends if mend.how.adjust)
    spread = look_at_text(table, how=mend.how)
    assert spread.misclosure is not None
    assert spread.misclosure.adjusted
    assert any("compass rule" in line for line in look_lines(spread))
    assert spread.areas[0].area_m2 != pytest.approx(look.areas[0].area_m2)


@pytest.mark.parametrize(("table", "words"), [
    ("bearing,distance\n0,85\n370,120\n180,85", "line 3: a leg has a bearing"), ("N 95 E, 85\nS 10 E, 120\nS 0 W, 85", "at most 90"),
    ("lat,lon\n43°61'N,3 E\n43,3\n44,3", "line 2: '43°61'N' is no angle"), ("x,y\n1,2\n3,four\n5,6", "line 3: 'four' is no length"),
    ("x\n1\n2\n3", "names no columns"), ("", "holds no corners"), ("x,y\n", "no corners below"),
])  # fmt: skip
def test_tables_at_fault_name_their_line(table: str, words: str) -> None:
    with pytest.raises(FaultyFileError, match=words.replace("(", "\\(")):
        look_at_text(table)


def test_what_is_guessed_can_be_turned_round() -> None:
    table = "\n".join(
        f"{x:.7f},{y:.7f}" for x, y in in_degrees().exterior.coords[:-1]
    )  # longitude first, unsaid
    look = look_at_text(table)
    assert look.areas[0].middle == pytest.approx((3.846, 43.589), abs=0.01)
    other = next(mend for doubt in look.doubts for mend in doubt.mends if mend.how.swap)
    assert look_at_text(table, how=other.how).areas[0].middle == pytest.approx((43.589, 3.846), abs=0.01)
    with pytest.raises(BadInputError, match="no kind of table"):
        look_at_text(table, how=How(table="runes"))
