"""Looking through a land file before a reader sees it: whole, of the kind it says, and nothing that unfolds or hangs.

Each function raises FaultyFileError with one sentence, or returns sentences about what is left aside.
"""

import re
import sqlite3
import struct
import tempfile
import time
from pathlib import Path
from typing import NoReturn
from xml.parsers import expat

from studio.errors import FaultyFileError
from studio.files.raw_json import Limits, parse
from studio.text import _, plural

MOST_VALUES = 500_000
MOST_XML_DEEP, MOST_XML_ELEMENTS = 60, 400_000
MOST_UNFOLDED = 20_000
"""Entities that the blocks of a DXF may unfold to."""
_PATIENCE_S = 1.0
_WORKED_OUT = re.compile(r"\bas\s*\(")


def _refuse(sentence: str) -> NoReturn:
    raise FaultyFileError(sentence)


def vet_json(data: bytes, name: str) -> tuple[str, ...]:
    """GeoJSON: whole, finite, of modest depth, and a geometry, a feature or a collection."""
    try:
        tree = parse(data, limits=Limits(_("a map"), 32_000_000, MOST_VALUES))
    except FaultyFileError as error:
        _refuse(f"{name}: {error.summary}")
    kinds = ("FeatureCollection", "Feature", "GeometryCollection", "Polygon", "MultiPolygon",
             "LineString", "MultiLineString", "Point", "MultiPoint")  # fmt: skip
    if tree.get("type") not in kinds:
        _refuse(
            _("{name} is JSON but not GeoJSON: its type should be a FeatureCollection or a geometry.").format(
                name=name
            )
        )
    for key in ("features", "coordinates", "geometries"):
        if key in tree and not isinstance(tree[key], list):
            _refuse(_("{name}: its {key} should be a list.").format(name=name, key=key))
    missing = sum(
        not isinstance(feature, dict) or not feature.get("geometry") for feature in tree.get("features", ())
    )
    if not missing:
        return ()
    return (plural("{count} feature has no geometry.", "{count} features have no geometry.", missing),)


def vet_xml(data: bytes, name: str) -> tuple[str, tuple[str, ...]]:
    """KML or GPX: the root's name in small letters. Document types and entities are refused, whatever they hold."""
    walk = _Walk(name)
    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = walk.doctype
    parser.StartElementHandler = walk.start
    parser.EndElementHandler = walk.end
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        _refuse(
            _("{name} breaks off or is not whole XML at line {line}: {reason}.").format(
                name=name, line=error.lineno, reason=expat.errors.messages[error.code]
            )
        )
    except (ValueError, LookupError):
        _refuse(_("{name} says an encoding that is not known; UTF-8 would be right.").format(name=name))
    if walk.root not in ("kml", "gpx"):
        _refuse(_("{name} is XML but neither KML nor GPX.").format(name=name))
    if walk.links:
        return walk.root, (
            plural(
                "{count} link to another file was not followed.",
                "{count} links to other files were not followed.",
                walk.links,
            ),
        )
    return walk.root, ()


class _Walk:
    """What the walk through an XML file counts."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.root = ""
        self.depth = self.elements = self.links = 0

    def doctype(self, *_declared: object) -> None:
        _refuse(
            _("{name} declares a document type or entities, which no map needs; it was not opened.").format(
                name=self.name
            )
        )

    def start(self, tag: str, _attributes: dict[str, str]) -> None:
        plain = tag.rpartition(":")[2]
        self.root = self.root or plain.lower()
        self.links += plain == "NetworkLink"
        self.depth += 1
        self.elements += 1
        if self.depth > MOST_XML_DEEP or self.elements > MOST_XML_ELEMENTS:
            _refuse(
                _(
                    "{name} nests deeper than {deep} levels or has over {most} elements, which no plot does."
                ).format(name=self.name, deep=MOST_XML_DEEP, most=MOST_XML_ELEMENTS)
            )

    def end(self, _tag: str) -> None:
        self.depth -= 1


def vet_shapefile(files: dict[str, bytes], name: str) -> tuple[str, ...]:
    """A shapefile: its header, its length, and side files that fit it."""
    data = files[".shp"]
    if len(data) < 100 or struct.unpack(">i", data[:4])[0] != 9994:
        _refuse(_("{name} is no shapefile: it does not begin like one.").format(name=name))
    said = 2 * struct.unpack(">i", data[24:28])[0]
    if said > len(data):
        _refuse(
            _("{name} breaks off: it says {said} bytes and has {found}.").format(
                name=name, said=said, found=len(data)
            )
        )
    if struct.unpack("<i", data[32:36])[0] not in (1, 3, 5, 8, 11, 13, 15, 18, 21, 23, 25, 28):
        _refuse(_("{name} holds neither areas nor lines nor points.").format(name=name))
    _vet_records(data[:said], name)
    if len(files.get(".prj", b"")) > 20_000:
        _refuse(_("{name}: its .prj is too large for a coordinate system.").format(name=name))
    return ()


def _vet_records(data: bytes, name: str) -> None:
    """Walk the records: each within the file, its parts and points within the record."""
    place, number = 100, 0
    while place + 12 <= len(data):
        number += 1
        length = 2 * struct.unpack(">i", data[place + 4 : place + 8])[0]
        end = place + 8 + length
        shape = struct.unpack("<i", data[place + 8 : place + 12])[0]
        whole = length >= 4 and end <= len(data)
        if whole and shape in (3, 5, 13, 15, 23, 25):
            parts, points = struct.unpack("<ii", data[place + 44 : place + 52]) if length >= 44 else (-1, -1)
            whole = parts >= 0 and points >= 0 and 44 + 4 * parts + 16 * points <= length
        if not whole:
            _refuse(
                _("{name}: record {number} says more than the file holds.").format(name=name, number=number)
            )
        place = end


def vet_geopackage(data: bytes, name: str) -> None:
    """A GeoPackage: a whole database whose layers are tables. A view could run for ever, so none is opened."""
    page, pages = struct.unpack(">H", data[16:18])[0], struct.unpack(">I", data[28:32])[0]
    page = 65536 if page == 1 else page
    if page * pages > len(data):
        _refuse(
            _("{name} breaks off: it says {said} bytes and has {found}.").format(
                name=name, said=page * pages, found=len(data)
            )
        )
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "land.gpkg"
        file.write_bytes(data)
        base = sqlite3.connect(f"{file.absolute().as_uri()}?mode=ro&immutable=1", uri=True)
        try:
            _vet_base(base, name)
        except (sqlite3.Error, UnicodeError, OverflowError):
            _refuse(_("{name} is no whole GeoPackage.").format(name=name))
        finally:
            base.close()


def _vet_base(base: sqlite3.Connection, name: str) -> None:
    until = time.monotonic() + _PATIENCE_S
    base.set_progress_handler(lambda: int(time.monotonic() > until), 10_000)
    base.execute("PRAGMA trusted_schema=OFF")
    kinds = {
        str(table).lower(): (str(kind), str(sql or "").lower())
        for table, kind, sql in base.execute(
            "SELECT name, type, sql FROM sqlite_master WHERE type IN ('table', 'view')"
        ).fetchmany(5000)
    }
    if kinds.get("gpkg_contents", ("", ""))[0] != "table":
        _refuse(_("{name} is a database but no GeoPackage.").format(name=name))
    layers = [
        str(row[0]).lower()
        for row in base.execute(
            "SELECT table_name FROM gpkg_contents WHERE data_type = 'features'"
        ).fetchmany(1000)
    ]
    if not layers:
        _refuse(_("{name} has no layer with areas, lines or points.").format(name=name))
    read = [*layers, *(table for table in kinds if table.startswith(("gpkg_", "sqlite_")))]
    if any(kinds.get(table, ("", ""))[0] != "table" for table in read):
        _refuse(
            _("{name} has a layer that is no table; save the layer as a table of its own.").format(name=name)
        )
    if any(_WORKED_OUT.search(sql) for _kind, sql in kinds.values()):
        _refuse(_("{name} has columns that are worked out when read; save it plainly.").format(name=name))
    if any(sql.startswith("create virtual") and " rtree" not in sql for _kind, sql in kinds.values()):
        _refuse(
            _("{name} holds tables that only another program can open; it was not opened.").format(name=name)
        )


def vet_dxf(data: bytes, name: str) -> tuple[str, ...]:
    """A DXF text: whole to its end, and blocks that do not unfold to more than ``MOST_UNFOLDED`` entities."""
    lines = [line.strip() for line in data.splitlines()]
    if len(lines) % 2:
        lines.append(b"")
    codes, values = lines[0::2], lines[1::2]
    if not any(code == b"0" and value == b"EOF" for code, value in zip(codes[-3:], values[-3:], strict=True)):
        _refuse(_("{name} breaks off: a DXF ends with EOF.").format(name=name))
    starts = [at for at, code in enumerate(codes) if code == b"0"]
    holds: dict[bytes, list[tuple[bytes, int]]] = {}
    sizes: dict[bytes, int] = {}
    block = b""
    curves = 0
    for at, until in zip(starts, [*starts[1:], len(codes)], strict=True):
        kind = values[at]
        if kind == b"BLOCK":
            block = _value(codes, values, at, until, b"2")
        elif kind == b"ENDBLK":
            block = b""
        elif kind == b"INSERT":
            times = 1
            for code in (b"70", b"71"):
                count = _value(codes, values, at, until, code)
                times *= max(1, int(count)) if count.isdigit() else 1
            holds.setdefault(block, []).append((_value(codes, values, at, until, b"2"), times))
        else:
            sizes[block] = sizes.get(block, 0) + 1
            curves += kind in (b"ARC", b"CIRCLE", b"ELLIPSE", b"SPLINE")
            curves += kind == b"LWPOLYLINE" and _bulges(codes, values, at, until)
    _vet_unfolding(holds, sizes, name)
    if curves:
        return (_("Curves were made into straight pieces, one for each degree of turning."),)
    return ()


def _value(codes: list[bytes], values: list[bytes], at: int, until: int, code: bytes) -> bytes:
    return next((values[k] for k in range(at + 1, until) if codes[k] == code), b"")


def _bulges(codes: list[bytes], values: list[bytes], at: int, until: int) -> bool:
    return any(codes[k] == b"42" and values[k].strip(b"0.-+eE") for k in range(at + 1, until))


def _vet_unfolding(holds: dict[bytes, list[tuple[bytes, int]]], sizes: dict[bytes, int], name: str) -> None:
    """Refuse blocks that hold themselves, nest without end, or unfold to too many entities."""
    known: dict[bytes, int] = {}

    def unfolded(block: bytes, inside: tuple[bytes, ...]) -> int:
        if block in inside or len(inside) > 20:
            _refuse(
                _("{name} holds a block within itself, or blocks nested deeper than 20.").format(name=name)
            )
        if block not in known:
            inner = (times * unfolded(other, (*inside, block)) for other, times in holds.get(block, ()))
            known[block] = sizes.get(block, 0) + sum(inner)
        return known[block]

    for block, times in holds.get(b"", ()):
        if times * unfolded(block, (b"",)) > MOST_UNFOLDED:
            _refuse(
                _("{name} unfolds its blocks to more than {most} entities; it was not opened.").format(
                    name=name, most=MOST_UNFOLDED
                )
            )
