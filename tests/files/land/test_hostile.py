"""Broken and hostile land files: each is refused in one sentence, or read, within two seconds; none is stored, all are made here.

``refused`` cases must raise a StillfieldError of one line; ``read`` cases must be looked at, and every area with a doubt
that the case names; nothing beside the file may change.
"""

import io
import json
import sqlite3
import struct
import time
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from pyogrio import raw
from shapely.geometry.base import BaseGeometry

from studio.errors import StillfieldError
from studio.files.land.look import look_at
from studio.files.land.take import take

WITHIN_S = 2.0
SQUARE = [[3.87, 43.6], [3.871, 43.6], [3.871, 43.601], [3.87, 43.601], [3.87, 43.6]]


def feature(rings: Any, kind: str = "Polygon") -> dict[str, Any]:
    return {"type": "Feature", "properties": {"name": "a"}, "geometry": {"type": kind, "coordinates": rings}}


def geojson(*features: Any) -> bytes:
    return json.dumps({"type": "FeatureCollection", "features": list(features)}).encode()


def with_coordinates(text: str) -> bytes:
    return geojson(feature(["@"])).replace(b'["@"]', text.encode())


def kml(body: str, head: str = '<?xml version="1.0" encoding="UTF-8"?>') -> bytes:
    return f'{head}<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{body}</Document></kml>'.encode()


def placemark(coordinates: str) -> str:
    return (
        "<Placemark><name>a</name><Polygon><outerBoundaryIs><LinearRing><coordinates>"
        f"{coordinates}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark>"
    )


GOOD_KML = kml(placemark(" ".join(f"{x},{y}" for x, y in SQUARE)))
GOOD_JSON = geojson(feature([SQUARE]))
BOMB = kml("<!--" + " " * 20_000_000 + "-->")


def zipped(**members: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return out.getvalue()


def many_members() -> bytes:
    return zipped(**{f"{n}.kml": b"<kml/>" for n in range(1200)})


def made(ending: str, geometry: BaseGeometry | None, **options: Any) -> dict[str, bytes]:
    """The files of a data set that the reader library writes, by ending."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"a{ending}"
        shapes: Any = np.array([geometry.wkb] if geometry is not None else [], dtype=object)
        names = np.array(["a"] * len(shapes), dtype=object)
        options.setdefault("geometry_type", "Polygon")
        raw.write(path, shapes, [names], ["name"], crs=options.pop("crs", "EPSG:2154"), **options)
        return {file.suffix: file.read_bytes() for file in Path(folder).iterdir()}


BOX = shapely.box(768_000, 6_277_000, 768_100, 6_277_050)


def shp(geometry: BaseGeometry | None = BOX, **options: Any) -> dict[str, bytes]:
    return made(".shp", geometry, **options)


def shp_with(change: Callable[[bytes], bytes]) -> dict[str, bytes]:
    files = shp()
    return {**files, ".shp": change(files[".shp"])}


def measured() -> dict[str, bytes]:
    """A shapefile of one triangle with measures along its outline (shape type 25)."""
    corners = [(0.0, 0.0), (9.0, 9.0), (9.0, 0.0), (0.0, 0.0)]
    body = struct.pack("<i4d3i", 25, 0, 0, 9, 9, 1, 4, 0) + b"".join(struct.pack("<2d", *c) for c in corners)
    body += struct.pack("<6d", 1, 4, 1, 2, 3, 4)
    words = (100 + 8 + len(body)) // 2
    head = struct.pack(">i20xi", 9994, words) + struct.pack("<2i8d", 1000, 25, 0, 0, 9, 9, 0, 0, 1, 4)
    index = head[:24] + struct.pack(">i", 54) + head[28:] + struct.pack(">2i", 50, len(body) // 2)
    return {".shp": head + struct.pack(">2i", 1, len(body) // 2) + body, ".shx": index}


def at(place: int, data: bytes) -> Callable[[bytes], bytes]:
    return lambda whole: whole[:place] + data + whole[place + len(data) :]


def gpkg(*statements: str, geometry: BaseGeometry | None = BOX, **options: Any) -> bytes:
    import tempfile

    data = made(".gpkg", geometry, layer="plots", **options)[".gpkg"]
    if not statements:
        return data
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "a.gpkg"
        path.write_bytes(data)
        base = sqlite3.connect(path)
        base.execute("PRAGMA writable_schema=ON")
        for statement in statements:
            base.execute(statement)
        base.commit()
        base.close()
        return path.read_bytes()


ENDLESS = (
    "WITH RECURSIVE n(x) AS (VALUES(1) UNION ALL SELECT x+1 FROM n) SELECT x AS fid, NULL AS geom FROM n"
)


def dxf(entities: str, blocks: str = "", header: str = "") -> bytes:
    pairs = ["0 SECTION 2 HEADER", header, "0 ENDSEC 0 SECTION 2 BLOCKS", blocks, "0 ENDSEC 0 SECTION 2 ENTITIES",
             entities, "0 ENDSEC 0 EOF"]  # fmt: skip
    return "\n".join(" ".join(pairs).split()).encode() + b"\n"


def polyline(*corners: tuple[str, str], layer: str = "plot") -> str:
    places = " ".join(f"10 {x} 20 {y}" for x, y in corners)
    return f"0 LWPOLYLINE 8 {layer} 90 {len(corners)} 70 1 {places}"


def nested_blocks(deep: int, wide: int) -> str:
    text = "0 BLOCK 2 B0 0 LINE 8 0 10 0 20 0 11 1 21 1 0 ENDBLK "
    for n in range(1, deep):
        text += f"0 BLOCK 2 B{n} " + f"0 INSERT 2 B{n - 1} 10 0 20 0 " * wide + "0 ENDBLK "
    return text


SAW = [[3.87 + 1e-6 * n, 43.6 + 1e-6 * (n % 2)] for n in range(5000)]
LONG = [[3.87 + 1e-9 * n, 43.6] for n in range(400_000)]

REFUSED: dict[str, tuple[str, Callable[[], Any]]] = {
    "an empty file": ("a.geojson", lambda: b""),
    "blanks": ("a.kml", lambda: b" \n\t "),
    "zeros": ("a.gpkg", lambda: bytes(5000)),
    "noise": ("a.shp", lambda: np.random.default_rng(1).bytes(5000)),
    "GeoJSON that breaks off": ("a.geojson", lambda: GOOD_JSON[:-20]),
    "a hundred thousand brackets": ("a.geojson", lambda: with_coordinates("[" * 100_000)),
    "deep coordinates that close": ("a.geojson", lambda: with_coordinates("[" * 60 + "1" + "]" * 60)),
    "NaN": ("a.geojson", lambda: with_coordinates("[[[NaN,1],[2,2],[3,1]]]")),
    "Infinity": ("a.geojson", lambda: with_coordinates("[[[1,-Infinity],[2,2],[3,1]]]")),
    "1e999": ("a.geojson", lambda: with_coordinates("[[[1e999,1],[2,2],[3,1]]]")),
    "1e308": ("a.geojson", lambda: with_coordinates("[[[1e308,1],[2e307,2],[3,-1e308],[1e308,1]]]")),
    "five thousand digits": ("a.geojson", lambda: with_coordinates(f"[[[{'9' * 5000},1],[2,2],[3,1]]]")),
    "a key twice": ("a.geojson", lambda: GOOD_JSON.replace(b'"features"', b'"features": [], "features"')),
    "half a character": ("a.geojson", lambda: GOOD_JSON.replace(b'"a"', b'"\\ud800"')),
    "texts for numbers": ("a.geojson", lambda: with_coordinates('[[["1","1"],["2","2"],["3","1"]]]')),
    "a group for coordinates": ("a.geojson", lambda: with_coordinates('{"x": 1}')),
    "no features": ("a.geojson", geojson),
    "features without geometry": ("a.geojson", lambda: geojson({"type": "Feature", "geometry": None, "properties": {}})),
    "JSON of another kind": ("a.json", lambda: b'{"type": "Topology", "arcs": []}'),
    "JSON that is a list": ("a.json", lambda: b'[{"type": "Feature"}]'),
    "GeoJSON in UTF-16": ("a.geojson", lambda: GOOD_JSON.decode().encode("utf-16")),
    "GeoJSON in latin-1": ("a.geojson", lambda: GOOD_JSON.replace(b'"a"', b'"\xe9"')),
    "four hundred thousand corners": ("a.geojson", lambda: geojson(feature([[*LONG, [3.87, 43.7], LONG[0]]]))),
    "thirty-three megabytes": ("a.geojson", lambda: b"{" + b" " * 33_000_000),
    "entities that unfold": ("a.kml", lambda: kml(
        "&lol9;", '<?xml version="1.0"?><!DOCTYPE kml [<!ENTITY lol "lol">' + "".join(
            f'<!ENTITY lol{n} "{f"&lol{n - 1 or str()};" * 10}">' for n in range(1, 10)) + "]>")),
    "an external entity": ("a.kml", lambda: kml(
        "<name>&x;</name>", '<?xml version="1.0"?><!DOCTYPE kml [<!ENTITY x SYSTEM "file:///etc/hostname">]>')),
    "an external document type": ("a.gpx", lambda: b'<!DOCTYPE gpx SYSTEM "http://a.invalid/x.dtd"><gpx/>'),
    "a document type in UTF-16": ("a.kml", lambda: '<?xml version="1.0" encoding="UTF-16"?><!DOCTYPE kml []><kml/>'.encode("utf-16")),
    "KML that breaks off": ("a.kml", lambda: GOOD_KML[:200]),
    "KML in a wrong encoding": ("a.kml", lambda: GOOD_KML.replace(b"<name>a", b"<name>\xe9\xe8")),
    "KML in no known encoding": ("a.kml", lambda: GOOD_KML.replace(b"UTF-8", b"UTF-99")),
    "deep KML": ("a.kml", lambda: kml("<Folder>" * 5000 + "</Folder>" * 5000)),
    "a million elements": ("a.kml", lambda: kml("<a/>" * 1_000_000)),
    "KML without places": ("a.kml", lambda: kml("<Folder><name>nothing</name></Folder>")),
    "XML of another kind": ("a.xml", lambda: b'<OGRVRTDataSource><OGRVRTLayer name="x"/></OGRVRTDataSource>'),
    "a packed bomb": ("a.kmz", lambda: zipped(**{"doc.kml": BOMB})),
    "more than a thousand members": ("a.kmz", many_members),
    "a name that climbs out": ("a.kmz", lambda: zipped(**{"../../doc.kml": GOOD_KML})),
    "a name from the root": ("a.zip", lambda: zipped(**{"/etc/doc.kml": GOOD_KML})),
    "a name with a drive": ("a.zip", lambda: zipped(**{"C:\\x\\doc.kml": GOOD_KML})),
    "an archive in an archive": ("a.zip", lambda: zipped(**{"b.kmz": zipped(**{"doc.kml": GOOD_KML})})),
    "an archive that breaks off": ("a.kmz", lambda: zipped(**{"doc.kml": GOOD_KML})[:-30]),
    "an archive with a wrong sum": ("a.kmz", lambda: at(60, b"\xff\xff\xff")(zipped(**{"doc.kml": GOOD_KML}))),
    "a locked archive": ("a.kmz", lambda: zipped(**{"doc.kml": GOOD_KML}).replace(b"PK\x01\x02\x14\x03\x14\x00\x00", b"PK\x01\x02\x14\x03\x14\x00\x01")),
    "a member without a name": ("a.zip", lambda: zipped(x=GOOD_KML).replace(b"x", b"\0")),
    "an empty archive": ("a.zip", zipped),
    "a shapefile that breaks off": ("a.shp", lambda: shp_with(lambda data: data[:-40])),
    "a shapefile that says too much": ("a.shp", lambda: shp_with(at(24, struct.pack(">i", 2**30)))),
    "a record of two thousand million points": ("a.shp", lambda: shp_with(at(148, struct.pack("<i", 2**31 - 1)))),
    "a record below nothing": ("a.shp", lambda: shp_with(at(104, struct.pack(">i", -5)))),
    "a shapefile of patches": ("a.shp", lambda: shp_with(at(32, struct.pack("<i", 31)))),
    "side files without the shapefile": ("a.dbf", lambda: {".dbf": shp()[".dbf"], ".prj": shp()[".prj"]}),
    "an empty shapefile": ("a.shp", lambda: shp(None)),
    "a shapefile corner that is no number": ("a.shp", lambda: shp_with(at(156, struct.pack("<4d", *[float("nan")] * 4)))),
    "a database that is no map": ("a.gpkg", lambda: gpkg("DROP TABLE gpkg_contents")),
    "a layer that never ends": ("a.gpkg", lambda: gpkg("DROP TABLE plots", f"CREATE VIEW plots AS {ENDLESS}")),
    "contents that never end": ("a.gpkg", lambda: gpkg("DROP TABLE gpkg_contents", f"CREATE VIEW gpkg_contents AS {ENDLESS}")),
    "a table of a stranger": ("a.gpkg", lambda: gpkg(
        "INSERT INTO sqlite_master VALUES ('table', 'x', 'x', 0, 'CREATE VIRTUAL TABLE x USING csv(filename=\"/etc/hostname\")')")),
    "a column of a thousand megabytes": ("a.gpkg", lambda: gpkg("ALTER TABLE plots ADD COLUMN big AS (zeroblob(1000000000))")),
    "blanks within an angle": ("a.csv", lambda: b"lat,lon\n" + (b"4" + b" " * 480 + b"x,3\n") * 2000),
    "an angle of five hundred digits": ("a.csv", lambda: b"bearing,distance\n" + (b"1" * 480 + b"x,3\n") * 2000),
    "the letter of two ways": ("a.csv", lambda: b"lat,lon\n43 N,3 O\n44 N,3 O\n44 N,4 O\n"),
    "a GeoPackage that breaks off": ("a.gpkg", lambda: gpkg()[:20_000]),
    "a GeoPackage with torn pages": ("a.gpkg", lambda: at(4096, bytes(60_000))(gpkg())),
    "an empty layer": ("a.gpkg", lambda: gpkg(geometry=None)),
    "a DXF that breaks off": ("a.dxf", lambda: dxf(polyline(("0", "0"), ("9", "0"), ("9", "9")))[:-10]),
    "blocks that unfold": ("a.dxf", lambda: dxf("0 INSERT 2 B11 10 0 20 0", nested_blocks(12, 10))),
    "a block in itself": ("a.dxf", lambda: dxf("0 INSERT 2 A 10 0 20 0", "0 BLOCK 2 A 0 INSERT 2 A 10 0 20 0 0 ENDBLK")),
    "a field of blocks": ("a.dxf", lambda: dxf("0 INSERT 2 B0 70 30000 71 30000 10 0 20 0", nested_blocks(1, 1))),
    "an empty drawing": ("a.dxf", lambda: dxf("")),
    "a binary drawing": ("a.dxf", lambda: b"AutoCAD Binary DXF\r\n\x1a\x00" + bytes(100)),
    "a DWG": ("a.dwg", lambda: b"AC1032" + bytes(500)),
    "a table of words": ("a.csv", lambda: b"north,field\nof,corn\n"),
    "a table with NaN": ("a.csv", lambda: b"x,y\n0,0\nnan,5\n9,9\n"),
    "a table with too large a number": ("a.csv", lambda: b"x,y\n0,0\n1e300,5\n9,9\n"),
    "a table of two corners": ("a.csv", lambda: b"x,y\n0,0\n9,9\n"),
    "a table that breaks off": ("a.csv", lambda: b"x,y\n0,0\n9,9\n4\n"),
    "a line of a million characters": ("a.csv", lambda: b"x,y\n" + b"1" * 1_000_000),
    "a hundred thousand lines": ("a.csv", lambda: b"x,y\n" + b"1,2\n" * 100_000),
    "a table of bytes": ("a.csv", lambda: b"x,y\n\x01\x02,\x03\n"),
}  # fmt: skip

READ: dict[str, tuple[str, str, Callable[[], Any]]] = {
    "a bow tie": ("a.geojson", "crosses itself", lambda: geojson(feature([[SQUARE[0], SQUARE[2], SQUARE[1], SQUARE[3], SQUARE[0]]]))),
    "corners in one line": ("a.geojson", "one line", lambda: geojson(feature([[[3, 43], [3.001, 43], [3.002, 43], [3, 43]]]))),
    "three square millimetres": ("a.geojson", "mm2", lambda: geojson(feature([[[3, 43], [3 + 3e-8, 43], [3, 43 + 2e-8], [3, 43]]]))),
    "three thousand square kilometres": ("a.geojson", "km", lambda: geojson(feature([[[3, 43], [3.4, 43], [3.4, 43.8], [3, 43.8], [3, 43]]]))),
    "five thousand corners": ("a.geojson", "1000 are kept", lambda: geojson(feature([[*SAW, [3.9, 43.7], SAW[0]]]))),
    "a ring that does not close": ("a.geojson", "", lambda: geojson(feature([SQUARE[:-1]]))),
    "over the 180th meridian": ("a.geojson", "180th", lambda: geojson(feature([[[179.999, 1], [-179.999, 1], [-179.999, 1.001], [179.999, 1.001], [179.999, 1]]]))),
    "round the pole": ("a.geojson", "", lambda: geojson(feature([[[0, 89], [90, 89], [180, 89], [-90, 89], [0, 89]]]))),
    "in the far north": ("a.geojson", "66°", lambda: geojson(feature([[[20, 78], [20.01, 78], [20.01, 78.003], [20, 78]]]))),
    "the same area twice": ("a.geojson", "once more", lambda: geojson(feature([SQUARE]), feature([[*SQUARE[2:], SQUARE[1], SQUARE[2]]]))),
    "swapped axes beyond 90": ("a.geojson", "swapped", lambda: geojson(feature([[[43.6, 113.87], [43.601, 113.87], [43.601, 113.871], [43.6, 113.87]]]))),
    "metres in a GeoJSON": ("a.geojson", "guessed", lambda: geojson(feature([[[768000, 6277000], [768100, 6277000], [768100, 6277050], [768000, 6277000]]]))),
    "degrees beside metres": ("a.geojson", "mixed", lambda: geojson(feature([SQUARE]), feature([[[768000, 6277000], [768100, 6277000], [768100, 6277050], [768000, 6277000]]]))),
    "heights": ("a.geojson", "Heights", lambda: geojson(feature([[[*p, 50.0] for p in SQUARE]]))),
    "a local plan called GeoJSON": ("a.geojson", "are these metres", lambda: geojson(feature([[[0, 0], [120, 0], [120, 85], [0, 85], [0, 0]]]))),
    "degrees in a projected shapefile": ("a.shp", "are degrees", lambda: shp(shapely.Polygon(SQUARE))),
    "measures along the outline": ("a.shp", "Measures", measured),
    "a link in KML": ("a.kml", "not followed", lambda: kml("<NetworkLink><Link><href>http://a.invalid/x.kml</href></Link></NetworkLink>" + placemark("3,43 3.001,43 3.001,43.001 3,43"))),
    "lines that leave a gap": ("a.dxf", "smallest gap", lambda: dxf("0 LINE 8 p 10 0 20 0 11 50 21 0 0 LINE 8 p 10 50 20 1 11 50 21 60")),
    "a drawing without a unit": ("a.dxf", "No unit", lambda: dxf(polyline(("0", "0"), ("90", "0"), ("90", "60")))),
    "a drawing of a circle": ("a.dxf", "Curves", lambda: dxf("0 CIRCLE 8 p 10 0 20 0 40 50")),
}  # fmt: skip


def put(folder: Path, name: str, made: Any) -> Path:
    if isinstance(made, dict):
        for ending, data in made.items():
            (folder / name).with_suffix(ending).write_bytes(data)
    else:
        (folder / name).write_bytes(made)
    return folder / name


def state(folder: Path) -> Iterator[tuple[str, int, bytes]]:
    for path in sorted(folder.iterdir()):
        yield path.name, path.stat().st_mtime_ns, path.read_bytes()


def test_there_are_sixty_of_them() -> None:
    assert len(REFUSED) + len(READ) >= 60


@pytest.mark.parametrize("case", REFUSED)
def test_refused_in_one_sentence(case: str, tmp_path: Path) -> None:
    name, make = REFUSED[case]
    path = put(tmp_path, name, make())
    before = list(state(tmp_path))
    start = time.process_time()
    with pytest.raises(StillfieldError) as told:
        take(look_at(path))
    assert time.process_time() - start < WITHIN_S
    sentence = str(told.value)
    assert "\n" not in sentence
    assert 10 < len(sentence) < 300
    assert sentence.endswith((".", "one"))
    assert "/tmp" not in sentence.replace(str(tmp_path), "")
    assert list(state(tmp_path)) == before


@pytest.mark.parametrize("case", READ)
def test_read_with_its_doubt(case: str, tmp_path: Path) -> None:
    name, doubt, make = READ[case]
    path = put(tmp_path, name, make())
    before = list(state(tmp_path))
    start = time.process_time()
    look = look_at(path)
    assert time.process_time() - start < WITHIN_S
    sentences = [*map(str, look.doubts), *(s for area in look.areas for s in (*area.doubts, area.refused))]
    assert not doubt or any(doubt in sentence for sentence in sentences), sentences
    assert list(state(tmp_path)) == before
