"""Rasters of heights: let in by what their bytes say, read a window at a time. The one module that knows rasterio.

Only two drivers are named to the library (GeoTIFF and ASCII grid), so that no file of another kind can make it open
other files or the network; siblings of the file (statistics, overviews, masks) are hidden from it. What is wanted of
them, a .prj and a world file, is read here. No more of a raster is read at once than ``MOST_CELLS``.
"""

import logging
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from math import isfinite
from pathlib import Path
from typing import Any, NoReturn

import numpy as np

from studio.errors import FaultyFileError
from studio.files.land.found import Array
from studio.keep import doing
from studio.text import _

MOST_CELLS = 4_000_000
"""Cells in memory at once: 2,000 by 2,000."""
MOST_BLOCK_BYTES = 128_000_000
"""One block is unpacked whole, so a larger one is refused before it is."""
MOST_SIDE = 2_000_000
LARGEST_ASCII = 100_000_000
_TIFF = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_ASCII_HEAD = re.compile(rb"\s*(ncols|nrows)\s", re.IGNORECASE)
_HEAD_LINE = re.compile(r"\s*([A-Za-z_]+)\s+(\S+)\s*")
_HEAD_KEYS = {
    "ncols", "nrows", "xllcorner", "xllcenter", "yllcorner", "yllcenter", "cellsize", "dx", "dy", "nodata_value",
}  # fmt: skip
_NUMBERS = b"0123456789+-.eE \t\r\n"
_PIECE = 1 << 20
_LARGEST_SIDE_FILE = 20_000
_SAFE = {
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",  # no overviews, masks or world files beside it
    "GDAL_PAM_ENABLED": "NO",  # no .aux.xml, read or written
    "GDAL_CACHEMAX": 64,
    "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".none",
    "GDAL_HTTP_MAX_RETRY": 0,
}
_OPENED: dict[str, dict[str, str]] = {
    "GTiff": {},
    "AAIGrid": {"DATATYPE": "Float64"},  # else decimals are cut off where the first lines have none
}


@dataclass(frozen=True)
class Raster:
    """A raster that was let in.

    ``affine`` (a, b, c, d, e, f): x = a column + b row + c, y = d column + e row + f, at the corner of a cell with whole
    numbers, in the middle with halves. ``wkt`` and ``unit`` (of heights) are empty where the file does not say.
    Heights are ``scale`` times the value plus ``offset``.
    """

    path: Path
    kind: str
    columns: int
    rows: int
    affine: tuple[float, float, float, float, float, float]
    wkt: str
    unit: str
    scale: float
    offset: float
    bands: int

    @property
    def name(self) -> str:
        """The file's name."""
        return self.path.name


def is_raster(path: Path) -> bool:
    """Whether a file is a raster of heights by its first bytes or, where they say nothing, by its name."""
    with doing(_("reading the file"), path), path.open("rb") as file:
        start = file.read(200)
    kind = _kind_of(start)
    return bool(kind) or path.suffix.lower() in (".tif", ".tiff", ".asc", ".vrt")


def _kind_of(start: bytes) -> str:
    if start.startswith(_TIFF):
        return "GTiff"
    return "AAIGrid" if _ASCII_HEAD.match(start) else ""


def let_in_raster(path: Path) -> Raster:
    """A raster, vetted. FaultyFileError in one sentence for what is broken, hostile or of another kind."""
    name = path.name
    with doing(_("reading the file"), path):
        if path.exists() and not path.is_file():
            _refuse(_("{name} is not a file.").format(name=name))
        with path.open("rb") as file:
            start = file.read(200)
        size = path.stat().st_size
    if not start.strip():
        _refuse(_("{name} is empty.").format(name=name))
    kind = _kind_of(start)
    if not kind:
        _refuse(
            _("{name} is neither a GeoTIFF nor an ASCII grid; one of them would be right.").format(name=name)
        )
    if kind == "AAIGrid":
        _vet_ascii(path, size)
    with _opened(path, kind) as source:
        found = _described(source, path, kind)
    if not found.wkt:
        found = _with_wkt(found)
    return found


def _refuse(sentence: str) -> NoReturn:
    raise FaultyFileError(sentence)


@contextmanager
def _opened(path: Path, kind: str) -> Iterator[Any]:
    import rasterio
    from rasterio.errors import RasterioError

    logging.getLogger("rasterio").setLevel(logging.CRITICAL)  # what is wrong is told by ourselves
    try:
        with rasterio.Env(**_SAFE), rasterio.open(path.resolve(), driver=kind, **_OPENED[kind]) as source:
            yield source
    except (RasterioError, ValueError, OverflowError, MemoryError):
        raise FaultyFileError(
            _("{name} is no whole {kind}: it breaks off or is of an odd make.").format(
                name=path.name, kind=_word(kind)
            )
        ) from None


def _word(kind: str) -> str:
    return _("GeoTIFF") if kind == "GTiff" else _("ASCII grid")


def _described(source: Any, path: Path, kind: str) -> Raster:
    name, rows, columns = path.name, int(source.height), int(source.width)
    if not (2 <= rows <= MOST_SIDE and 2 <= columns <= MOST_SIDE):
        _refuse(
            _("{name} has {columns} by {rows} cells; 2 to {most} each way would be right.").format(
                name=name, columns=columns, rows=rows, most=f"{MOST_SIDE:,}"
            )
        )
    dtype = np.dtype(source.dtypes[0]) if source.dtypes[0] in np.sctypeDict else np.dtype(complex)
    if dtype.kind not in "iuf":
        _refuse(_("{name} holds numbers that are no heights ({dtype}).").format(name=name, dtype=dtype.name))
    if source.count >= 3 and dtype.itemsize == 1:
        _refuse(
            _("{name} is a picture of {bands} colours, not a raster of heights.").format(
                name=name, bands=source.count
            )
        )
    high, wide = source.block_shapes[0]
    if high * wide * dtype.itemsize > MOST_BLOCK_BYTES:
        _refuse(
            _("{name} unpacks in pieces of {mb} MB; save it in tiles.").format(
                name=name, mb=f"{high * wide * dtype.itemsize / 1e6:,.0f}"
            )
        )
    affine = source.transform
    if affine.is_identity:
        affine = _world_file(path) or affine
    six = (affine.a, affine.b, affine.c, affine.d, affine.e, affine.f)
    if not all(isfinite(one) for one in six) or not abs(affine.a * affine.e - affine.b * affine.d) > 0:
        _refuse(_("{name}: where its cells lie cannot be worked out.").format(name=name))
    scale, offset = float(source.scales[0]), float(source.offsets[0])
    if not (isfinite(scale) and isfinite(offset) and scale != 0):
        _refuse(_("{name}: its heights are scaled by a number that is none.").format(name=name))
    return Raster(
        path=path, kind=_word(kind), columns=columns, rows=rows, affine=six, wkt=_wkt(source),
        unit=str(source.units[0] or "").strip(), scale=scale, offset=offset, bands=int(source.count),
    )  # fmt: skip


def _wkt(source: Any) -> str:
    """The system as text: the WKT itself, for a code that a library made up for it may mean nothing."""
    return str(source.crs.to_wkt()) if source.crs else ""


def _world_file(path: Path) -> Any:
    """The six numbers of a world file beside a raster that does not say where it lies; None without one.

    A world file names the middle of the first cell, not its corner.
    """
    from rasterio import Affine

    for ending in (".tfw", ".tifw", ".wld"):
        text = _side_text(path.with_suffix(ending))
        try:
            a, d, b, e, c, f = (float(word.replace(",", ".")) for word in text.split())
        except ValueError:
            continue
        return Affine(a, b, c - (a + b) / 2, d, e, f - (d + e) / 2)
    return None


def _with_wkt(found: Raster) -> Raster:
    """The raster with the system of a .prj beside it."""
    return replace(found, wkt=_side_text(found.path.with_suffix(".prj")).strip())


def _side_text(path: Path) -> str:
    """A small text beside the raster; empty where there is none that could be meant."""
    try:
        if path.is_file() and path.stat().st_size <= _LARGEST_SIDE_FILE:
            return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError):
        pass
    return ""


def read_cells(raster: Raster, *, rows: tuple[int, int], columns: tuple[int, int], every: int = 1) -> Array:
    """Heights (rows, columns) in the file's unit, NaN where there is none, of a window of cells, the northern row first.

    With ``every`` only each such cell both ways is read, the middle one of its block; what is left over of a last
    block is left out.
    """
    from rasterio.windows import Window

    high, wide = rows[1] - rows[0], columns[1] - columns[0]
    shape = (high // every, wide // every)
    if shape[0] * shape[1] > 2 * MOST_CELLS:
        _refuse(_("{name}: too many cells are wanted of it at once.").format(name=raster.name))
    # whole blocks only, so that each cell read stands in the middle of its block
    window = Window(columns[0], rows[0], shape[1] * every, shape[0] * every)
    with _opened(raster.path, "GTiff" if raster.kind == _word("GTiff") else "AAIGrid") as source:
        cells = source.read(1, window=window, out_shape=shape, masked=True, boundless=False)
    heights: Array = np.ma.filled(cells.astype(float), np.nan)
    heights[~np.isfinite(heights)] = np.nan
    return heights * raster.scale + raster.offset


def _vet_ascii(path: Path, size: int) -> None:
    """An ASCII grid: a head, and as many numbers as it says; the library would pass over what is amiss."""
    name = path.name
    if size > LARGEST_ASCII:
        _refuse(
            _("{name} is larger than {most} MB; save it as GeoTIFF.").format(
                name=name, most=LARGEST_ASCII // 1_000_000
            )
        )
    with doing(_("reading the file"), path):
        data = path.read_bytes()
    head, at = _ascii_head(data, name)
    wanted = int(head["ncols"]) * int(head["nrows"])
    found = 0
    for begin, end in _pieces(data, at):
        piece = data[begin:end]
        words = piece.split()
        found += len(words)
        if (odd := _no_number(piece, words)) is not None:
            _refuse(
                _("{name} holds {sign} among its heights; plain numbers with a point would be right.").format(
                    name=name, sign=f"'{odd}'" if odd.isprintable() else _("signs that are no text")
                )
            )
    if found != wanted:
        _refuse(
            _("{name} says {wanted} heights ({columns} by {rows}) and holds {found}.").format(
                name=name, wanted=wanted, columns=head["ncols"], rows=head["nrows"], found=found
            )
        )


def _no_number(piece: bytes, words: list[bytes]) -> str | None:
    """What of a piece of text is no number; None where all of it is. The library would read it as 0."""
    if odd := piece.translate(None, _NUMBERS):
        return odd[:1].decode("latin-1")
    try:
        np.array(words).astype(float)
    except ValueError:
        return _("a word")
    return None


def _pieces(data: bytes, at: int) -> Iterator[tuple[int, int]]:
    """Pieces of the bytes from ``at`` that do not cut a number in two."""
    while at < len(data):
        end = min(at + _PIECE, len(data))
        while end < len(data) and not data[end : end + 1].isspace():
            end += 1
        yield at, end
        at = end


def _ascii_head(data: bytes, name: str) -> tuple[dict[str, str], int]:
    """The head's words by their keys in small letters, and where the heights begin."""
    head: dict[str, str] = {}
    at = 0
    while at < len(data) and len(head) < len(_HEAD_KEYS):
        end = data.find(b"\n", at, at + 200)
        line = data[at : end if end >= 0 else at + 200].decode("latin-1")
        found = _HEAD_LINE.fullmatch(line)
        if found is None or found[1].lower() not in _HEAD_KEYS or end < 0:
            break
        head[found[1].lower()] = found[2]
        at = end + 1
    for key in ("ncols", "nrows"):
        word = head.get(key, "")
        if not (word.isascii() and word.isdigit() and len(word) <= 7 and 2 <= int(word) <= MOST_SIDE):
            _refuse(
                _(
                    "{name}: its head says {key} '{found}'; a whole number of 2 or more would be right."
                ).format(name=name, key=key, found=word[:20])
            )
    corner = any(f"xll{at}" in head and f"yll{at}" in head for at in ("corner", "center"))
    if not corner or not ("cellsize" in head or {"dx", "dy"} <= set(head)):
        _refuse(_("{name}: its head should say xllcorner, yllcorner and cellsize.").format(name=name))
    for key, word in head.items():
        try:
            value = float(word)
        except ValueError:
            value = float("nan")
        if key != "nodata_value" and (
            not isfinite(value) or (key in ("cellsize", "dx", "dy") and value <= 0)
        ):
            _refuse(
                _("{name}: its head says {key} '{found}', which cannot be.").format(
                    name=name, key=key, found=word[:20]
                )
            )
    return head, at
