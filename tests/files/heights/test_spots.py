"""Spot heights from tables and maps. The heights are invented."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from ezdxf.filemanagement import new as new_dxf
from pyogrio import raw

from studio.design.design import Design
from studio.design.site import SpotHeights
from studio.errors import BadInputError, FaultyFileError
from studio.files.heights.found import HeightsHow, HeightsLook
from studio.files.heights.into_site import edit_of
from studio.files.heights.look import look_at_heights, look_at_heights_text
from studio.files.heights.spots import fewer_spots, holds_spots
from studio.files.land.found import How
from tests.files.heights.conftest import LATITUDE, LONGITUDE, Array

SQUARE = "x,y,z\n0,0,500\n50,0,501\n50,40,502.5\n0,40,501.5\n"


def spots_of(look: HeightsLook) -> Array:
    assert look.taken is not None, look.refused
    assert isinstance(look.taken.heights, SpotHeights)
    return np.array(look.taken.heights.spots)


def looked(text: str, design: Design, how: HeightsHow | None = None) -> HeightsLook:
    return look_at_heights_text(text, design, name="table", how=how or HeightsHow())


@pytest.mark.parametrize(
    "text",
    [
        SQUARE,
        SQUARE.replace(",", ";"),
        SQUARE.replace(",", "\t"),
        "0 0 500\n50 0 501\n50 40 502,5\n0 40 501,5\n",
        "no;east;north;height\n1;0;0;500\n2;50;0;501\n3;50;40;502,5\n4;0;40;501,5\n",
        '"rownames","x","y","z"\n1,0,0,500\n2,50,0,501\n3,50,40,502.5\n4,0,40,501.5\n',
        "1,0,0,500\n2,50,0,501\n3,50,40,502.5\n4,0,40,501.5\n",
        "z,y,x\n500,0,0\n501,0,50\n502.5,40,50\n501.5,40,0\n",
        "# levelled\nx (m),y (m),elevation (m)\n0,0,500\n50,0,501\n\n50,40,502.5\n0,40,501.5\n",
    ],
)
def test_a_table_is_read_whatever_parts_it(text: str, design: Design) -> None:
    assert spots_of(looked(text, design)).tolist() == [
        [0, 0, 500],
        [50, 0, 501],
        [50, 40, 502.5],
        [0, 40, 501.5],
    ]


def test_units_of_the_head_and_of_the_person(design: Design) -> None:
    head = spots_of(looked("x (50 ft),y (50 ft),z (ft)\n0,0,1000\n3,0,1010\n0,2,1020\n", design))
    assert head[:, 0] == pytest.approx([0, 3 * 15.24, 0])
    assert head[:, 2] == pytest.approx([304.8, 307.848, 310.896])
    how = HeightsHow(land=How(unit="50 ft"), height_unit="ft")
    assert spots_of(looked("x,y,z\n0,0,1000\n3,0,1010\n0,2,1020\n", design, how)) == pytest.approx(head)
    with pytest.raises(BadInputError, match="no unit of length"):
        looked(SQUARE, design, HeightsHow(height_unit="fathom"))


def test_heights_that_cannot_be_metres_over_metres_are_asked_about(design: Design) -> None:
    look = looked("x,y,z\n0,0,700\n6,0,900\n0,6,950\n", design)
    assert look.taken is None
    assert "say the units" in look.refused
    assert looked(
        "x,y,z\n0,0,700\n6,0,900\n0,6,950\n", design, HeightsHow(land=How(unit="50 ft"), height_unit="ft")
    ).taken


def test_degrees_become_site_metres(design: Design) -> None:
    """The distance by pyproj.Geod."""
    from pyproj import Geod

    rows = [
        (LATITUDE, LONGITUDE, 500.0),
        (LATITUDE + 0.001, LONGITUDE, 502.0),
        (LATITUDE, LONGITUDE + 0.001, 501.0),
    ]
    text = "lat lon z\n" + "".join(f"{a:.6f} {o:.6f} {z}\n" for a, o, z in rows)
    spots = spots_of(looked(text, design))
    far = Geod(ellps="WGS84").inv(LONGITUDE, LATITUDE, LONGITUDE, LATITUDE + 0.001)[2]
    assert spots[1] == pytest.approx([0.0, far, 502.0], abs=0.002)


def test_two_heights_of_one_place_are_averaged_and_told(design: Design) -> None:
    look = looked(SQUARE + "50,0,501.2\n", design)
    assert spots_of(look)[1].tolist() == [50, 0, 501.1]
    assert look.taken is not None
    assert "1 place has two heights" in "\n".join(look.taken.told)


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("x,y,z\n0,0,1\n", "1 place"),
        ("x,y,z\n0,0,1\n0,0,1\n1,1,2\n", "2 places"),
        ("x,y,z\n0,0,1\n1,1,2\n2,2,3\n", "straight line"),
        (SQUARE + "0,0,507\n", "lines 2 and 6"),
        ("x,y\n0,0\n1,1\n2,2\n", "names no columns"),
        ("0 0\n1 1\n2 2\n", "three numbers"),
        ("x,y,z\n0,0,1\n1,0\n2,2,1\n", "line 3"),
        ("x,y,z\n0,0,99999\n1,0,1\n2,2,1\n", "no height of land"),
    ],
)
def test_what_makes_no_surface_is_refused(text: str, wanted: str, design: Design) -> None:
    with pytest.raises(FaultyFileError, match=wanted):
        looked(text, design)


def test_tables_of_corners_and_of_heights_are_told_apart() -> None:
    assert holds_spots(SQUARE)
    assert holds_spots("0 0 1\n1 0 2\n0 1 3\n")
    assert not holds_spots("x,y\n0,0\n1,0\n0,1\n")
    assert not holds_spots("1,0,0\n2,50,0\n3,50,40\n"), "the first column counts"
    assert not holds_spots("bearing,distance\n0,10\n90,10\n")
    assert not holds_spots("")


def contours(folder: Path) -> Path:
    """A cone of 40 m as contour lines every half metre, 10,000 corners."""
    drawing = new_dxf(setup=False)
    drawing.header["$INSUNITS"] = 6
    around = np.linspace(0.0, 2 * np.pi, 126)[:-1]
    for height in np.arange(0.5, 40.0, 0.5):
        radius = 200.0 - 4.9 * height
        ring = np.column_stack(
            (radius * np.cos(around), radius * np.sin(around), np.full(len(around), 500 + height))
        )
        drawing.modelspace().add_polyline3d([tuple(map(float, one)) for one in ring], close=True)
    path = folder / "contours.dxf"
    drawing.saveas(path)
    return path


def test_contours_are_thinned_and_the_largest_shift_is_told(design: Design, tmp_path: Path) -> None:
    wide = replace(
        design, plot=replace(design.plot, boundary=((-150.0, -150.0), (150.0, -150.0), (0.0, 150.0)))
    )
    look = look_at_heights(contours(tmp_path), wide)
    spots = spots_of(look)
    assert len(spots) <= 1000
    assert look.taken is not None
    assert look.taken.largest_shift_m < 0.5
    assert "none of those left out lies more than" in "\n".join(look.taken.told)
    true = 500.0 + (200.0 - np.hypot(spots[:, 0], spots[:, 1])) / 4.9
    assert np.abs(spots[:, 2] - true).max() < 0.01
    edit_of(wide, look)


def test_the_shift_of_thinning_is_that_of_the_triangles() -> None:
    """Against shapely's Delaunay triangles of the kept spots, cut by hand."""
    rng = np.random.default_rng(7)
    places = rng.uniform(0, 100, (3000, 2))
    values = np.column_stack((places, 5 * np.sin(places[:, 0] / 15) + places[:, 1] / 20))
    fewer, shift = fewer_spots(values, 300)
    assert len(fewer) <= 300
    triangles = shapely.get_parts(shapely.delaunay_triangles(shapely.multipoints(fewer[:, :2])))
    height = {(x, y): z for x, y, z in fewer.tolist()}
    tree = shapely.STRtree(triangles)
    points, found = tree.query(shapely.points(values[:, :2]), predicate="covered_by")
    worst = 0.0
    for point, triangle in zip(points, found, strict=True):
        corners = shapely.get_coordinates(triangles[triangle])[:3]
        plane = np.linalg.solve(
            np.column_stack((corners, np.ones(3))), [height[(x, y)] for x, y in corners.tolist()]
        )
        worst = max(worst, abs(float(plane @ [*values[point, :2], 1.0]) - values[point, 2]))
    assert shift >= worst - 1e-6
    assert shift == pytest.approx(worst, rel=0.25), "outside the triangles the nearest spot counts"


def places_with_heights(folder: Path, kind: str) -> Path:
    from studio.drawings.on_earth import degrees_of_site

    site = np.array([[0.0, 0.0], [50.0, 0.0], [50.0, 40.0], [0.0, 40.0]])
    world = degrees_of_site(site, latitude_deg=LATITUDE, longitude_deg=LONGITUDE)
    heights = (500.0, 501.0, 502.5, 501.5)
    points = [(float(x), float(y), z) for (x, y), z in zip(world, heights, strict=True)]
    path = folder / f"spots.{kind}"
    if kind == "geojson":
        path.write_text(json.dumps({"type": "MultiPoint", "coordinates": points}))
    elif kind == "gpx":
        ways = "".join(f'<wpt lat="{y}" lon="{x}"><ele>{z}</ele></wpt>' for x, y, z in points)
        path.write_text(
            f'<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">{ways}</gpx>'
        )
    elif kind == "kml":
        marks = "".join(
            f"<Placemark><Point><coordinates>{x},{y},{z}</coordinates></Point></Placemark>"
            for x, y, z in points
        )
        path.write_text(f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{marks}</Document></kml>')
    else:
        geometry = shapely.to_wkb(shapely.points(points), output_dimension=3)
        raw.write(
            path, np.array(geometry, dtype=object), [], [], geometry_type="Point Z", crs="EPSG:4326",
        )  # fmt: skip
    return path


@pytest.mark.parametrize("kind", ["geojson", "gpx", "kml", "gpkg", "shp"])
def test_points_of_a_map_bring_their_heights(kind: str, design: Design, tmp_path: Path) -> None:
    spots = spots_of(look_at_heights(places_with_heights(tmp_path, kind), design))
    assert np.abs(spots - [[0, 0, 500], [50, 0, 501], [50, 40, 502.5], [0, 40, 501.5]]).max() < 0.002


def test_a_map_without_heights_is_refused(design: Design, tmp_path: Path) -> None:
    path = tmp_path / "flat.geojson"
    path.write_text(
        json.dumps({"type": "MultiPoint", "coordinates": [[5.8, 44.0], [5.81, 44.0], [5.8, 44.01]]})
    )
    with pytest.raises(FaultyFileError, match="no point with a height"):
        look_at_heights(path, design)
