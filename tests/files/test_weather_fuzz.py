"""Broken weather files end in our own error or in a valid year, and soon."""

import os
from importlib.resources import files
from pathlib import Path
from time import process_time

import numpy as np
import pytest

from studio.errors import StillfieldError
from studio.files.weather import WEATHER_REPAIRS, pack_weather, read_weather

PACKAGED = Path(str(files("pvlib"))) / "data"
REAL = os.environ.get("STILLFIELD_DATA")
SOURCES = [PACKAGED / "723170TYA.CSV", PACKAGED / "12839.tm2"]
if REAL:
    SOURCES += sorted((Path(REAL) / "weather").iterdir())
COUNT = 200 if os.environ.get("STILLFIELD_FULL") == "1" else 20
SECONDS = 1.0  # of our own work, so that a busy machine does not matter


def _broken(data: bytes, draw: np.random.Generator) -> bytes:
    """One mutation of a file: flipped bytes, a cut, lines lost, doubled or mixed, cells swapped, bytes put in."""
    kind = int(draw.integers(7))
    lines = data.split(b"\n")
    if kind == 0:
        changed = bytearray(data)
        for place in draw.integers(len(data), size=int(draw.integers(1, 50))):
            changed[place] ^= 1 << int(draw.integers(8))
        return bytes(changed)
    if kind == 1:
        return data[: int(draw.integers(len(data)))]
    if kind == 2:
        first = int(draw.integers(len(lines)))
        del lines[first : first + int(draw.integers(1, 200))]
    elif kind == 3:
        first, count = int(draw.integers(len(lines))), int(draw.integers(1, 50))
        lines[first:first] = lines[first : first + count]
    elif kind == 4:
        draw.shuffle(lines)
    elif kind == 5:
        head = int(draw.integers(min(10, len(lines))))
        lines[head] = lines[head].replace(b",", b";", 3).replace(b"0", b"1e308", 2)
    else:
        at = int(draw.integers(len(data)))
        return data[:at] + draw.bytes(int(draw.integers(1, 2000))) + data[at:]
    return b"\n".join(lines)


@pytest.mark.parametrize("source", SOURCES, ids=lambda path: str(path.name))
def test_broken_files(tmp_path: Path, source: Path) -> None:
    data = source.read_bytes()
    path = tmp_path / source.name
    draw = np.random.default_rng(len(data))
    outcomes = {"read": 0, "refused": 0}
    slowest = 0.0
    for number in range(COUNT):
        path.write_bytes(_broken(data, draw))
        repair = frozenset(WEATHER_REPAIRS) if number % 2 else frozenset()
        start = process_time()
        try:
            read = read_weather(path, repair=repair)
        except StillfieldError:
            outcomes["refused"] += 1
        else:
            outcomes["read"] += 1
            assert pack_weather(read.year)  # in range, finite, 8760 long
        slowest = max(slowest, process_time() - start)
    assert outcomes["refused"] > 0
    assert slowest < SECONDS
