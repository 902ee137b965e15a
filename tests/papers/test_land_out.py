"""The plot as GeoJSON and DXF, read again by other programs."""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from ezdxf.filemanagement import readfile
from pyogrio import raw
from pyproj import Geod

from studio.design.design import Design
from studio.design.field import Header, Line
from studio.design.site import NoBuild, Plot, Site
from studio.errors import BadInputError, WriteError
from studio.files.land.look import look_at
from studio.papers.land_out import CONTROL, LINE, NO_BUILD, PLOT, STORE, dxf_of, geojson_of, write_plot

BOUNDARY = ((-60.0, -40.0), (-60.0, 45.0), (60.0, 45.0), (60.0, -40.0))
POND = ((-10.0, -10.0), (10.0, -10.0), (10.0, 5.0))
GEOD = Geod(ellps="WGS84")


def design_at(latitude: float, longitude: float) -> Design:
    return Design(
        site=Site(name="Field é\n0\nSECTION %%u", latitude_deg=latitude, longitude_deg=longitude),
        plot=Plot(boundary=BOUNDARY, no_build=(NoBuild(name="=pond", ring=POND),)),
        lines=(Line(id=4, x_m=-40.0, y_m=20.0, azimuth_deg=90.0, count=12, spacing_m=2.0),),
        header=Header(hot=((0.0, 0.0), (5.0, 0.0), (5.0, 9.0))),
    )


@pytest.fixture
def design() -> Design:
    return design_at(43.6, 3.87)


def test_geojson_is_read_the_same_by_another_program(design: Design, tmp_path: Path) -> None:
    """GeoJSON by RFC 7946: degrees of WGS 84, longitude first, outlines anticlockwise."""
    path, _dxf = write_plot(design, tmp_path)
    tree = json.loads(path.read_text(encoding="utf-8"))
    assert "crs" not in tree
    meta, _ids, packed, values = raw.read(path)
    columns = dict(zip(meta["fields"], values, strict=True))
    assert meta["crs"] == "EPSG:4326"
    assert list(columns["kind"]) == ["plot", "no_build", "lines", "header_hot", "store"]
    shapes = shapely.from_wkb(packed)
    assert shapes[0].exterior.is_ccw
    assert abs(GEOD.geometry_area_perimeter(shapes[0])[0]) == pytest.approx(120 * 85, rel=1e-7)
    assert GEOD.geometry_length(shapes[2]) == pytest.approx(22.0, abs=1e-3)
    assert columns["mirrors"][2] == 12
    look = look_at(path)
    assert look.areas[0].area_m2 == pytest.approx(120 * 85, rel=1e-7)


def test_dxf_is_read_the_same_by_another_program(design: Design, tmp_path: Path) -> None:
    _json, path = write_plot(design, tmp_path)
    drawing = readfile(path)
    assert not drawing.audit().has_errors
    assert drawing.units == 6
    space = drawing.modelspace()
    found: dict[str, Any] = {
        layer: list(space.query(f'LWPOLYLINE[layer=="{layer}"]')) for layer in (PLOT, NO_BUILD, LINE)
    }
    assert np.array(found[PLOT][0].get_points("xy")) == pytest.approx(np.array(BOUNDARY))
    assert found[PLOT][0].closed
    assert np.array(found[NO_BUILD][0].get_points("xy")) == pytest.approx(np.array(POND))
    assert np.array(found[LINE][0].get_points("xy")) == pytest.approx(np.array([(-40, 20), (-18, 20)]))
    control = next(iter(space.query(f'LINE[layer=="{CONTROL}"]')))
    assert (control.dxf.end - control.dxf.start).magnitude * 1000 == pytest.approx(100.0)
    assert len(space.query(f'CIRCLE[layer=="{STORE}"]')) == 1
    notes = [text.dxf.text for text in space.query("TEXT")]
    assert any("latitude 43.6000000, longitude 3.8700000" in note for note in notes)
    assert any(note.startswith("Field é 0 SECTION") for note in notes)
    shapes = shapely.from_wkb(raw.read(path, columns=["Layer"])[2])
    assert any(
        s.geom_type == "LineString" and shapely.Polygon(s).area == pytest.approx(10200)
        for s in shapes
        if len(s.coords) == 5
    )


@pytest.mark.parametrize("longitude", [180.0, -180.0, 179.9995])
def test_over_the_180th_meridian_it_is_cut(longitude: float, tmp_path: Path) -> None:
    """RFC 7946, 3.1.9; the pieces together are the plot, and our own reading puts them together again."""
    tree = json.loads(geojson_of(design_at(-17.0, longitude)))
    geometry = shapely.from_geojson(json.dumps(tree["features"][0]["geometry"]))
    assert geometry.geom_type == "MultiPolygon"
    assert np.abs(shapely.get_coordinates(geometry)[:, 0]).max() <= 180.0
    pieces = [abs(GEOD.geometry_area_perimeter(part)[0]) for part in shapely.get_parts(geometry)]
    assert sum(pieces) == pytest.approx(10200, rel=1e-6)
    (tmp_path / "a.geojson").write_text(json.dumps(tree), encoding="utf-8")
    area = look_at(tmp_path / "a.geojson").areas[0]
    assert area.area_m2 == pytest.approx(10200, rel=1e-6)
    assert area.parts == 1


def test_nothing_is_overwritten_unasked_and_nothing_is_written_of_nothing(
    design: Design, tmp_path: Path
) -> None:
    write_plot(design, tmp_path)
    with pytest.raises(WriteError, match="already in"):
        write_plot(design, tmp_path)
    assert len(write_plot(design, tmp_path, overwrite=True)) == 2
    with pytest.raises(BadInputError, match="no boundary"):
        write_plot(Design(), tmp_path / "other")
    assert not (tmp_path / "other").exists()
    assert dxf_of(design).endswith(b"EOF\n")


def test_places_left_out_go_out_by_their_numbers(design: Design, tmp_path: Path) -> None:
    line = design.lines[0]
    out = (line.first_number + 2, line.first_number + 3, line.first_number + 7)
    gapped = replace(design, lines=(replace(line, left_out=out), *design.lines[1:]))
    path, _dxf = write_plot(gapped, tmp_path)
    features = json.loads(path.read_text(encoding="utf-8"))["features"]
    (told,) = [one["properties"] for one in features if one["properties"]["kind"] == "lines"]
    assert told["mirrors"] == line.count - 3
    assert told["left_out"] == f"{out[0]}-{out[1]}, {out[2]}"
