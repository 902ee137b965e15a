"""Files that are broken, hostile or of another kind: each ends in one sentence and nothing is changed."""

import struct
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio

from studio.design.design import Design
from studio.errors import StillfieldError
from studio.files.heights.look import look_at_heights
from tests.files.heights.conftest import Write

HEAD = "ncols 4\nnrows 3\nxllcorner 0\nyllcorner 0\ncellsize 10\nNODATA_value -9999\n"
CELLS = "1 2 3 4\n5 6 7 8\n9 10 11 12\n"


def ascii_file(text: str, name: str = "land.asc") -> Callable[[Path], Path]:
    def made(folder: Path) -> Path:
        (folder / name).write_text(text, encoding="utf-8")
        return folder / name

    return made


def bytes_file(data: bytes, name: str) -> Callable[[Path], Path]:
    def made(folder: Path) -> Path:
        (folder / name).write_bytes(data)
        return folder / name

    return made


def tiff(folder: Path, heights: np.ndarray, **profile: object) -> Path:
    path = folder / "land.tif"
    bands = heights if heights.ndim == 3 else heights[None]
    with rasterio.open(
        path, "w", driver="GTiff", height=bands.shape[1], width=bands.shape[2], count=bands.shape[0],
        dtype=heights.dtype.name, crs="EPSG:32631",
        transform=rasterio.transform.from_origin(700_000, 4_900_000, 5, 5), **profile,
    ) as file:  # fmt: skip
        file.write(bands)
    return path


def a_tiff_of(tags: list[tuple[int, int, int, int]]) -> bytes:
    """A little-endian TIFF with one directory and no data of its own."""
    body = b"".join(struct.pack("<HHII", *tag) for tag in sorted(tags))
    return b"II*\0" + struct.pack("<I", 8) + struct.pack("<H", len(tags)) + body + struct.pack("<I", 0)


def huge(width: int, height: int, strip_rows: int) -> bytes:
    return a_tiff_of([
        (256, 4, 1, width), (257, 4, 1, height), (258, 3, 1, 32), (259, 3, 1, 8), (262, 3, 1, 1), (273, 4, 1, 8),
        (277, 3, 1, 1), (278, 4, 1, strip_rows), (279, 4, 1, 100), (339, 3, 1, 3),
    ])  # fmt: skip


def cut_short(folder: Path) -> Path:
    path = tiff(
        folder, np.random.default_rng(1).uniform(400, 500, (400, 400)).astype(np.float32), compress="deflate"
    )
    path.write_bytes(path.read_bytes()[:150_000])
    return path


def cut_to_the_head(folder: Path) -> Path:
    path = tiff(folder, np.ones((50, 50), np.float32))
    path.write_bytes(path.read_bytes()[:60])
    return path


def noise_in_the_strips(folder: Path) -> Path:
    path = tiff(
        folder, np.random.default_rng(1).uniform(400, 500, (300, 300)).astype(np.float32), compress="deflate"
    )
    data = bytearray(path.read_bytes())
    data[2000:-2000] = np.random.default_rng(2).bytes(len(data) - 4000)
    path.write_bytes(data)
    return path


VRT = """<VRTDataset rasterXSize="20" rasterYSize="20"><VRTRasterBand dataType="Float32" band="1"><SimpleSource>
<SourceFilename relativeToVRT="0">/etc/passwd</SourceFilename></SimpleSource></VRTRasterBand></VRTDataset>"""

HOSTILE: dict[str, tuple[Callable[[Path], Path], str]] = {
    "an empty file": (bytes_file(b"", "land.tif"), "is empty"),
    "blanks": (bytes_file(b"  \n \n", "land.asc"), "is empty"),
    "a TIFF cut short": (cut_short, "breaks off|only voids|no height"),
    "a TIFF cut to its head": (cut_to_the_head, "no whole GeoTIFF"),
    "noise in the strips": (noise_in_the_strips, "no whole GeoTIFF"),
    "a TIFF of noise": (bytes_file(b"II*\0" + bytes(range(256)) * 40, "land.tif"), "no whole GeoTIFF"),
    "a strip of 40 GB": (bytes_file(huge(100_000, 100_000, 100_000), "bomb.tif"), "unpacks in pieces|no whole"),
    "4,000,000,000 cells wide": (bytes_file(huge(4_000_000_000, 3, 1), "wide.tif"), "no whole|would be right"),
    "no cells": (bytes_file(huge(0, 0, 1), "none.tif"), "no whole"),
    "a directory in a ring": (
        bytes_file(a_tiff_of([(256, 4, 1, 5), (330, 4, 1, 8)]), "ring.tif"), "no whole",
    ),
    "voids only": (lambda f: tiff(f, np.full((30, 30), -9999, np.float32), nodata=-9999), "no height"),
    "not a number only": (lambda f: tiff(f, np.full((30, 30), np.nan, np.float32)), "no height"),
    "infinite only": (lambda f: tiff(f, np.full((30, 30), np.inf, np.float32)), "no height"),
    "no heights of land": (lambda f: tiff(f, np.full((30, 30), 1e30, np.float32)), "no height"),
    "complex numbers": (lambda f: tiff(f, np.ones((30, 30), np.complex64)), "no heights"),
    "a picture": (lambda f: tiff(f, np.ones((3, 30, 30), np.uint8)), "is a picture"),
    "one cell": (lambda f: tiff(f, np.ones((1, 1), np.float32)), "would be right"),
    "a list of other files": (bytes_file(VRT.encode(), "land.vrt"), "neither a GeoTIFF"),
    "a list of other files that is called a TIFF": (bytes_file(VRT.encode(), "land.tif"), "neither a GeoTIFF"),
    "a PNG called a TIFF": (bytes_file(b"\x89PNG\r\n\x1a\n" + b"\0" * 100, "land.tif"), "neither a GeoTIFF"),
    "too few heights": (ascii_file(HEAD + "1 2 3 4\n5 6 7 8\n"), "says 12 heights .* holds 8"),
    "too many heights": (ascii_file(HEAD + CELLS + "13\n"), "says 12 heights .* holds 13"),
    "a billion columns": (ascii_file(HEAD.replace("ncols 4", "ncols 1000000000") + CELLS), "ncols '1000000000'"),
    "less than no rows": (ascii_file(HEAD.replace("nrows 3", "nrows -3") + CELLS), "nrows '-3'"),
    "cells of no size": (ascii_file(HEAD.replace("cellsize 10", "cellsize 0") + CELLS), "cellsize '0'"),
    "cells of endless size": (ascii_file(HEAD.replace("cellsize 10", "cellsize 1e999") + CELLS), "cellsize"),
    "no corner": (ascii_file(HEAD.replace("xllcorner 0\n", "") + CELLS), "should say xllcorner"),
    "words among the heights": (ascii_file(HEAD + CELLS.replace("7", "seven")), "among its heights"),
    "decimal commas": (ascii_file(HEAD + CELLS.replace("7", "7,5")), "',' among its heights"),
    "heights that are not numbers": (ascii_file(HEAD + "nan " * 12), "among its heights"),
    "numbers that are none": (ascii_file(HEAD + CELLS.replace("7", "7-+")), "among its heights"),
    "two bytes a sign": (bytes_file((HEAD + CELLS).encode("utf-16"), "land.asc"), "neither a GeoTIFF"),
    "a head in a line without end": (ascii_file("ncols " + "4" * 100_000, "land.asc"), "ncols"),
    "a table of one place": (ascii_file("x,y,z\n1,2,3\n", "spots.csv"), "at 1 place"),
    "two heights of one place": (ascii_file("x,y,z\n0,0,1\n0,0,9\n9,0,1\n0,9,1\n", "spots.csv"), "lines 2 and 3"),
    "places on one line": (ascii_file("x,y,z\n0,0,1\n5,5,2\n9,9,3\n20,20,3\n", "spots.csv"), "straight line"),
    "a height that is none": (ascii_file("x,y,z\n0,0,1\n5,0,high\n9,9,3\n", "spots.csv"), "line 3"),
    "a height in space": (ascii_file("x,y,z\n0,0,1\n5,0,1e7\n9,9,3\n", "spots.csv"), "line 3"),
    "a place nowhere": (ascii_file("x,y,z\n0,0,1\n5,1e9,1\n9,9,3\n", "spots.csv"), "must be said first"),
}  # fmt: skip


@pytest.mark.parametrize("case", HOSTILE)
def test_it_ends_in_one_sentence(case: str, design: Design, tmp_path: Path) -> None:
    made, wanted = HOSTILE[case]
    path = made(tmp_path)
    before = {one.name: one.read_bytes() for one in tmp_path.iterdir()}
    began = time.perf_counter()
    try:
        look = look_at_heights(path, design)
    except StillfieldError as error:
        said = str(error)
    else:
        assert look.taken is None
        said = look.refused
    assert said.count("\n") == 0, said
    assert np.any([word in said or _matches(word, said) for word in wanted.split("|")]), said
    assert time.perf_counter() - began < 30.0, "no file makes it hang"
    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == before, "nothing is left beside it"


def _matches(pattern: str, text: str) -> bool:
    import re

    return re.search(pattern, text) is not None


def test_what_lies_beside_a_raster_is_not_opened(design: Design, write: Write, tmp_path: Path) -> None:
    """A statistics file and overviews beside it that say otherwise change nothing."""
    from tests.files.heights.test_grid import grid_of, hills

    path = write(hills().astype(np.float32))
    clean = grid_of(look_at_heights(path, design))[0]
    path.with_name("land.tif.aux.xml").write_text(
        "<PAMDataset><SRS>EPSG:3857</SRS><GeoTransform>0,1,0,0,0,-1</GeoTransform><PAMRasterBand band='1'>"
        "<NoDataValue>500</NoDataValue><Offset>1000</Offset><Scale>9</Scale></PAMRasterBand></PAMDataset>"
    )
    path.with_name("land.tif.ovr").write_bytes(b"II*\0 no overview")
    path.with_name("land.tif.msk").write_bytes(b"II*\0 no mask")
    assert grid_of(look_at_heights(path, design))[0] == clean
