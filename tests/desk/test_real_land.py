"""Real land files come in from the window by dropping and clicking, as large as the ground says.

The independent reading is the standard library's JSON or XML and pyproj.Geod. Files are found where STILLFIELD_DATA names
their folder.
"""

import json
import os
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import shapely
from pyproj import Geod, Transformer
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from studio.desk.session import Session
from studio.desk.window import Window

OpenWindow = Callable[[int, int], Window]

LAND = Path(os.environ.get("STILLFIELD_DATA", "absent")) / "land"
pytestmark = pytest.mark.skipif(not LAND.is_dir(), reason="STILLFIELD_DATA names no folder with land/")
LEFT = Qt.MouseButton.LeftButton
GEOD = Geod(ellps="WGS84")
Rings = list[np.ndarray]


def first_polygon(name: str) -> Rings:
    """Rings of a file's first polygon that is whole, in degrees."""
    if name.endswith(".kml"):
        ns = {"k": "http://www.opengis.net/kml/2.2"}
        polygon = next(ElementTree.parse(LAND / name).iterfind(".//k:Polygon", ns))
        texts = [
            ring.text or ""
            for side in ("outer", "inner")
            for ring in polygon.iterfind(f"k:{side}BoundaryIs/k:LinearRing/k:coordinates", ns)
        ]
        return [np.array([pair.split(",")[:2] for pair in text.split()], dtype=float) for text in texts]
    shape = json.loads((LAND / name).read_text(encoding="utf-8"))["features"][0]["geometry"]
    rings = shape["coordinates"][0] if shape["type"] == "MultiPolygon" else shape["coordinates"]
    made = [np.array(ring, dtype=float)[:, :2] for ring in rings]
    if "ZAC" in name:
        turn = Transformer.from_crs(2154, 4326, always_xy=True)
        made = [np.column_stack(turn.transform(*ring.T)) for ring in made]
    return made


def geodesic_m2(rings: Rings) -> float:
    sizes = [abs(GEOD.polygon_area_perimeter(*ring.T)[0]) for ring in rings]
    return sizes[0] - sum(sizes[1:])


@pytest.fixture
def window(open_window: OpenWindow) -> Window:
    return open_window(1280, 720)


@pytest.mark.parametrize("name", [
    "VilleMTP_MTP_PAE.kml", "VilleMTP_MTP_ZAC.geojson", "catalonia_field_seros.geojson",
    "catalonia_field_maials_with_holes.geojson", "west_bahia_field.geojson",
])  # fmt: skip
def test_a_dropped_file_is_taken_as_large_as_the_ground_says(
    name: str, window: Window, session: Session, qtbot: QtBot
) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(LAND / name))])
    window.dropEvent(
        QDropEvent(QPointF(10, 10), Qt.DropAction.CopyAction, data, LEFT, Qt.KeyboardModifier.NoModifier)
    )
    page = window.arrivals.land
    qtbot.waitUntil(lambda: any(row.isVisible() for row in page.rows), timeout=60_000)
    if "ZAC" in name:
        assert page.look is not None
        assert not page.look.system.sure, "the file does not say its coordinate system"
        page.system.setFocus()
        page.system.selectAll()
        QTest.keyClicks(page.system, "EPSG:2154")
        QTest.keyClick(page.system, Qt.Key.Key_Return)
        qtbot.waitUntil(lambda: page.look is not None and page.look.system.sure, timeout=60_000)
        qtbot.waitUntil(lambda: any(row.isVisible() for row in page.rows), timeout=60_000)
    rings = first_polygon(name)
    if len(page.rows) > 1:
        QTest.mouseClick(page.rows[0], LEFT)
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    QTest.mouseClick(page.take_button, LEFT)
    plot = session.state.design.plot
    taken = shapely.Polygon(plot.boundary).area - sum(
        shapely.Polygon(area.ring).area for area in plot.no_build
    )
    assert len(plot.no_build) == len(rings) - 1
    assert taken == pytest.approx(geodesic_m2(rings), rel=1e-4)
    assert len(session.state.undo) == 1
