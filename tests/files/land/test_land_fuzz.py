"""Land files with bytes changed at random are read or refused in one sentence, never in another way."""

import os
import tempfile
import zipfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from ezdxf.filemanagement import new
from pyogrio import raw

from studio.errors import StillfieldError
from studio.files.land.found import LandChoice
from studio.files.land.look import look_at
from studio.files.land.take import take

COUNT = 200 if os.environ.get("STILLFIELD_FULL") else 12
KINDS = (".geojson", ".kml", ".gpkg", ".shp", ".dxf", ".kmz", ".zip", ".csv", ".gpx")
PLOT: Any = shapely.box(3.87, 43.6, 3.872, 43.601).difference(shapely.box(3.8705, 43.6002, 3.871, 43.6005))


def whole(folder: Path, ending: str) -> bytes:
    """A whole file of a kind."""
    path = folder / f"whole{ending}"
    if ending == ".dxf":
        drawing = new("R2010")
        drawing.modelspace().add_lwpolyline([(0, 0), (90, 0), (90, 60, 0, 0, 0.4), (0, 60)], close=True)
        drawing.saveas(path)
    elif ending == ".csv":
        path.write_text("bearing,distance (ft)\nN 0 E,85\nS 90 E,120 m\n180°00'00\",85\n270,120\n")
    elif ending == ".gpx":
        path.write_text('<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="x">' + "".join(
            f'<wpt lat="{y}" lon="{x}"/>' for x, y in PLOT.exterior.coords) + "</gpx>")  # fmt: skip
    elif ending in (".kmz", ".zip"):
        inner = ".kml" if ending == ".kmz" else ".geojson"
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(f"doc{inner}", whole(folder, inner))
    else:
        options = {"driver": "KML"} if ending == ".kml" else {}
        shapes, names = np.array([PLOT.wkb] * 3, dtype=object), np.array(["a", "b", "c"], dtype=object)
        raw.write(path, shapes, [names], ["name"], crs="EPSG:4326", geometry_type="Polygon", **options)
    return path.read_bytes()


@pytest.mark.parametrize("ending", KINDS)
def test_changed_bytes_are_read_or_refused(ending: str, tmp_path: Path) -> None:
    rng = np.random.default_rng(KINDS.index(ending))
    sound = whole(tmp_path, ending)
    refused = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"land{ending}"
        for side in tmp_path.glob("whole.*"):
            (Path(folder) / f"land{side.suffix}").write_bytes(side.read_bytes())
        for _turn in range(COUNT):
            data = bytearray(sound)
            for _change in range(int(rng.integers(1, 12))):
                place = int(rng.integers(0, len(data)))
                match int(rng.integers(0, 4)):
                    case 0:
                        data[place] = int(rng.integers(0, 256))
                    case 1:
                        del data[place : place + int(rng.integers(1, 9))]
                    case 2:
                        data[place:place] = data[place : place + int(rng.integers(1, 40))]
                    case _:
                        data[place : place + 4] = int(rng.integers(0, 2**32)).to_bytes(4, "little")
            path.write_bytes(bytes(data))
            try:
                take(look_at(path), LandChoice(area=1))
            except StillfieldError as error:
                refused.append(str(error))
    assert refused
    assert not [sentence for sentence in refused if "\n" in sentence]
