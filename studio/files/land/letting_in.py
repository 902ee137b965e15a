"""Letting a land file in: what kind it is by its content, and bytes that are worth giving to a reader.

Nothing is trusted: sizes are capped before anything is read, archives are streamed member by member and never
extracted by their names, and each kind is looked through by ``vetting`` before a reader sees it. Every fault ends in
FaultyFileError or KeepingError with one sentence.
"""

import io
import lzma
import struct
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import NoReturn

from studio.errors import FaultyFileError
from studio.files.land.vetting import vet_dxf, vet_geopackage, vet_json, vet_shapefile, vet_xml
from studio.keep import doing
from studio.text import _

MOST_BYTES = 32_000_000
MOST_UNPACKED = 50_000_000
MOST_MEMBERS = 1000
MOST_PARTS = 20
LARGEST_RATIO = 100
_SMALL = 100_000
"""Bytes below which no ratio of compression is a danger."""
_SIDES = (".shp", ".shx", ".dbf", ".prj", ".cpg")
_ENDINGS = (".kml", ".gpx", ".geojson", ".json", ".gpkg", ".dxf")
_PIECE = 1 << 16


@dataclass(frozen=True)
class Part:
    """One data set: ``kind`` is what it is called, ``stem`` its name, ``files`` its bytes by ending (".shp")."""

    kind: str
    stem: str
    files: dict[str, bytes]
    notes: tuple[str, ...] = ()


def let_in(path: Path) -> tuple[Part, ...]:
    """The data sets of a land file; several only from an archive. A table of corners comes back as kind "table"."""
    data = _bytes_of(path)
    if data.startswith(b"PK\x03\x04") or data.startswith(b"PK\x05\x06"):
        return _of_archive(data, path.name)
    if _is_shapefile(data) or path.suffix.lower() in _SIDES:
        return (_of_shapefile(path),)
    return (_part(path.stem, data, path.name),)


def _refuse(sentence: str) -> NoReturn:
    raise FaultyFileError(sentence)


def _bytes_of(path: Path) -> bytes:
    """The file whole, never more than ``MOST_BYTES`` of it."""
    with doing(_("reading the file"), path):
        if path.exists() and not path.is_file():
            _refuse(_("{name} is not a file.").format(name=path.name))
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    if len(data) > MOST_BYTES:
        _refuse(
            _("{name} is larger than {most} MB; cut the plot and its surroundings out of it.").format(
                name=path.name, most=MOST_BYTES // 1_000_000
            )
        )
    if not data.strip():
        _refuse(_("{name} is empty.").format(name=path.name))
    return data


def _is_shapefile(data: bytes) -> bool:
    return data.startswith(b"\x00\x00\x27\x0a")


def _part(stem: str, data: bytes, name: str) -> Part:
    """A data set that is one file; its kind is what its first bytes say, whatever it is called."""
    start = data[:2048].lstrip(b"\xef\xbb\xbf \t\r\n")
    if data.startswith(b"SQLite format 3\0"):
        vet_geopackage(data, name)
        return Part("GeoPackage", stem, {".gpkg": data})
    if start.startswith(b"{"):
        return Part("GeoJSON", stem, {".geojson": data}, vet_json(data, name))
    if start.startswith(b"<") or data.startswith((b"\xff\xfe<", b"\xfe\xff\0<", b"<\0")):
        root, notes = vet_xml(data, name)
        return Part(root.upper(), stem, {f".{root}": data}, notes)
    if data.startswith(b"AC10"):
        _refuse(_("{name} is a DWG drawing, which is not read here; save it as DXF.").format(name=name))
    if data.startswith(b"AutoCAD Binary DXF"):
        _refuse(_("{name} is a binary DXF; save it as DXF text (ASCII).").format(name=name))
    if _looks_like_dxf(start):
        return Part("DXF", stem, {".dxf": data}, vet_dxf(data, name))
    if b"\0" in data[:4096] and not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        _refuse(
            _("{name} is of no kind that is read here; {kinds} would be right.").format(
                name=name, kinds=_kinds()
            )
        )
    return Part("table", stem, {".csv": data})


def _looks_like_dxf(start: bytes) -> bool:
    lines = [line.strip() for line in start.splitlines()[:2]]
    return lines[:1] == [b"999"] or lines == [b"0", b"SECTION"]


def _kinds() -> str:
    return _("GeoJSON, KML, KMZ, GeoPackage, Shapefile, DXF, GPX or a table of corners")


def _of_shapefile(path: Path) -> Part:
    """A shapefile with those of its side files that lie beside it, whatever case their endings are in."""
    files: dict[str, bytes] = {}
    with doing(_("looking for side files"), path):
        beside = sorted(path.parent.iterdir())
    for other in beside:
        if other.stem == path.stem and other.suffix.lower() in _SIDES and other.is_file():
            files[other.suffix.lower()] = _bytes_or_nothing(other)
    return _shapefile(path.stem, files, path.name)


def _bytes_or_nothing(path: Path) -> bytes:
    with doing(_("reading the file"), path):
        empty = path.stat().st_size == 0
    return b"" if empty else _bytes_of(path)


def _shapefile(stem: str, files: dict[str, bytes], name: str) -> Part:
    if not files.get(".shp"):
        _refuse(
            _("{name}: the shapefile's own .shp is not beside it; bring all its files.").format(name=name)
        )
    notes = list(vet_shapefile(files, name))
    if ".prj" not in files:
        notes.append(_("There is no .prj beside it, so the coordinate system is not said."))
    return Part("Shapefile", stem, {ending: data for ending, data in files.items() if data}, tuple(notes))


def _of_archive(data: bytes, name: str) -> tuple[Part, ...]:
    """The data sets in a ZIP: a KMZ, a zipped shapefile, or any of the other kinds zipped."""
    if data.count(b"PK\x01\x02") > MOST_MEMBERS:  # counted before the list is built
        _refuse(
            _("{name} holds more than {most} files; a packed map has a few.").format(
                name=name, most=MOST_MEMBERS
            )
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _parts_of(archive, name)
    except (
        zipfile.BadZipFile, zlib.error, lzma.LZMAError, struct.error, EOFError, OSError, ValueError, LookupError, OverflowError,
    ):  # fmt: skip
        _refuse(_("{name} breaks off or is no whole archive.").format(name=name))
    except (NotImplementedError, RuntimeError):
        _refuse(_("{name} is packed in a way that is not read here; pack it as plain ZIP.").format(name=name))


def _parts_of(archive: zipfile.ZipFile, name: str) -> tuple[Part, ...]:
    members = [member for member in archive.infolist() if not member.is_dir()]
    for member in members:
        _vet_member(member, name)
    left = MOST_UNPACKED
    found: dict[str, dict[str, bytes]] = {}
    for member in sorted(members, key=lambda member: member.filename):
        inner = PurePosixPath(member.filename)
        ending = inner.suffix.lower()
        if ending not in (*_SIDES, *_ENDINGS) or inner.name.startswith("._"):
            continue
        stem = str(inner.with_suffix("")) if ending in _SIDES else str(inner)
        unpacked = _unpacked(archive, member, left, name)
        left -= len(unpacked)
        found.setdefault(stem, {})[ending] = unpacked
    parts = []
    for stem, files in found.items():
        short = PurePosixPath(stem).name
        if set(files) <= set(_SIDES):
            if ".shp" in files:
                parts.append(_shapefile(short, files, short + ".shp"))
        else:
            parts.append(_part(PurePosixPath(stem).stem, next(iter(files.values())), short))
    if not parts:
        _refuse(
            _("{name} is an archive without land in it; {kinds} would be right.").format(
                name=name, kinds=_kinds()
            )
        )
    if len(parts) > MOST_PARTS:
        _refuse(
            _("{name} holds {count} maps; pack at most {most} together.").format(
                name=name, count=len(parts), most=MOST_PARTS
            )
        )
    return tuple(parts)


def _vet_member(member: zipfile.ZipInfo, name: str) -> None:
    path = member.filename.replace("\\", "/")
    if path.startswith("/") or ".." in path.split("/") or path[1:2] == ":":
        _refuse(
            _(
                "{name} holds a file whose name leads out of the archive, which no map needs; it was not opened."
            ).format(name=name)
        )
    if member.flag_bits & 1:
        _refuse(_("{name} is locked with a password; unpack it first.").format(name=name))


def _unpacked(archive: zipfile.ZipFile, member: zipfile.ZipInfo, left: int, name: str) -> bytes:
    """A member, read piece by piece and never further than the caps."""
    most = min(left, max(_SMALL, LARGEST_RATIO * member.compress_size))
    pieces, size = [], 0
    with archive.open(member) as stream:
        while piece := stream.read(_PIECE):
            size += len(piece)
            if size > most:
                _refuse(
                    _(
                        "{name} unpacks to more than {most} MB or {ratio} times its size; it was not opened."
                    ).format(name=name, most=MOST_UNPACKED // 1_000_000, ratio=LARGEST_RATIO)
                )
            pieces.append(piece)
    return b"".join(pieces)
