"""Heights and pasted tables on the whole window: dropped, looked at, mended, taken as one step, undone. All is invented."""

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent, QGuiApplication
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QLineEdit, QPushButton
from pytestqt.qtbot import QtBot

from studio.design.site import HeightGrid, SpotHeights
from studio.desk.land_in.arrivals import Arrivals
from studio.desk.land_in.endings import holds_land
from studio.desk.land_in.relief import Relief, shaded
from studio.desk.plan.view import PlanView
from studio.desk.session import Session
from studio.desk.state import Subject
from studio.desk.window import Window

OpenWindow = Callable[[int, int], Window]

LEFT = Qt.MouseButton.LeftButton
SPOTS = "x,y,z\n0,0,310\n40,0,311\n40,30,313\n0,30,312\n"
TRAVERSE = "bearing distance\n90 120.00\n180 80\n270 120.05\n0 79.9\n"


@pytest.fixture
def window(open_window: OpenWindow) -> Window:
    return open_window(1280, 720)


@pytest.fixture
def raster(tmp_path: Path) -> Path:
    rows, _columns = np.mgrid[0:150, 0:150]
    path = tmp_path / "land.asc"
    head = "ncols 150\nnrows 150\nxllcorner 0\nyllcorner 0\ncellsize 2\n"
    heights = 310.0 + 0.1 * (149 - rows)
    path.write_text(head + "\n".join(" ".join(f"{height:.2f}" for height in row) for row in heights))
    return path


@pytest.fixture
def table(tmp_path: Path) -> Path:
    path = tmp_path / "spots.csv"
    path.write_text(SPOTS)
    return path


def drop(window: Window, path: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    window.dropEvent(
        QDropEvent(QPointF(10, 10), Qt.DropAction.CopyAction, data, LEFT, Qt.KeyboardModifier.NoModifier)
    )


def texts(window: Window) -> str:
    return "\n".join(label.text() for label in window.findChildren(QLabel) if label.isVisible())


def looked_at(window: Window, path: Path, qtbot: QtBot) -> None:
    drop(window, path)
    qtbot.waitUntil(lambda: window.arrivals.heights.ready is not None, timeout=60_000)


def test_heights_are_shown_placed_taken_and_undone(
    window: Window, session: Session, raster: Path, qtbot: QtBot
) -> None:
    before = session.state.design
    looked_at(window, raster, qtbot)
    page = window.arrivals.heights
    assert session.state.design is before, "looking changes nothing"
    assert not page.take_button.isEnabled()
    qtbot.waitUntil(lambda: "where they lie must be said first" in texts(window), timeout=60_000)
    assert not page.skyline.isVisible()
    QTest.mouseClick(page.mends[0], LEFT)
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    relief = page.findChild(Relief)
    assert relief is not None
    assert "m, rise of" in relief.accessibleName()
    qtbot.waitUntil(lambda: "Slopes: 5.0 to 5.0 %" in texts(window), timeout=60_000)
    QTest.keyClick(page.take_button, Qt.Key.Key_Space)
    heights = session.state.design.ground.heights
    assert isinstance(heights, HeightGrid)
    assert [step.label for step in session.state.undo] == ["Take heights from land.asc"]
    assert not page.isVisible()
    session.undo()
    assert session.state.design == before


def test_the_skyline_comes_in_the_same_step(
    window: Window, session: Session, raster: Path, qtbot: QtBot
) -> None:
    looked_at(window, raster, qtbot)
    page = window.arrivals.heights
    QTest.mouseClick(page.mends[0], LEFT)
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    QTest.keyClick(page.skyline, Qt.Key.Key_Space)
    assert not page.take_button.isEnabled(), "it is being worked out"
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    qtbot.waitUntil(lambda: "It stands highest" in texts(window), timeout=60_000)
    QTest.mouseClick(page.take_button, LEFT)
    assert len(session.state.design.horizon.skyline) == 360
    assert len(session.state.undo) == 1


def test_what_a_person_says_is_read_anew(window: Window, session: Session, table: Path, qtbot: QtBot) -> None:
    looked_at(window, table, qtbot)
    page = window.arrivals.heights
    assert page.take_button.isEnabled()

    def say(key: str, text: str) -> None:
        field: QLineEdit = page.fields[key]
        field.setFocus()
        field.selectAll()
        QTest.keyClicks(field, text)
        QTest.keyClick(field, Qt.Key.Key_Return)

    say("height_unit", "furlong")
    qtbot.waitUntil(lambda: "furlong" in page.does.text(), timeout=60_000)
    assert not page.take_button.isEnabled()
    say("height_unit", "ft")
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    say("at", "somewhere")
    assert "no place" in page.does.text()
    say("at", "-20; -15")
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    QTest.mouseClick(page.take_button, LEFT)
    heights = session.state.design.ground.heights
    assert isinstance(heights, SpotHeights)
    assert heights.spots[0] == pytest.approx((-20.0, -15.0, 310 * 0.3048), abs=0.001)


def test_a_design_that_changes_meanwhile_is_looked_at_anew(
    window: Window, session: Session, table: Path, qtbot: QtBot
) -> None:
    from studio.edits.fields import set_field

    looked_at(window, table, qtbot)
    page = window.arrivals.heights
    session.apply(set_field(session.state.design, path="site.name", value="Another"))
    assert not page.take_button.isEnabled()
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    QTest.mouseClick(page.take_button, LEFT)
    assert session.state.design.site.name == "Another"
    assert session.state.design.ground.heights is not None


def test_a_broken_raster_is_told_and_changes_nothing(
    window: Window, session: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    before = session.state.design
    broken = tmp_path / "broken.tif"
    broken.write_bytes(b"II*\0 and no more")
    drop(window, broken)
    qtbot.waitUntil(lambda: "Nothing was changed." in texts(window), timeout=60_000)
    assert "broken.tif" in texts(window)
    assert not window.arrivals.heights.take_button.isVisible()
    QTest.keyClick(window.arrivals.heights, Qt.Key.Key_Escape)
    assert not window.arrivals.heights.isVisible()
    assert session.state.design is before


def paste(window: Window, text: str, qtbot: QtBot) -> None:
    QGuiApplication.clipboard().setText(text)
    window.view.setFocus()
    QTest.keyClick(window, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(window.arrivals.paste.isVisible, timeout=60_000)
    qtbot.waitUntil(window.arrivals.paste.take_button.isEnabled, timeout=60_000)


def test_pasted_heights_are_understood_and_taken(window: Window, session: Session, qtbot: QtBot) -> None:
    paste(window, SPOTS, qtbot)
    page = window.arrivals.paste
    assert "4 heights over 40.0 m by 30.0 m" in page.says.text()
    assert page.text.tabChangesFocus(), "the keyboard leaves the box by Tab"
    QTest.mouseClick(page.take_button, LEFT)
    heights = window.arrivals.heights
    qtbot.waitUntil(heights.take_button.isEnabled, timeout=60_000)
    QTest.mouseClick(heights.take_button, LEFT)
    assert isinstance(session.state.design.ground.heights, SpotHeights)
    assert len(session.state.undo) == 1


def test_a_pasted_traverse_shows_its_misclosure_and_becomes_the_plot(
    window: Window, session: Session, qtbot: QtBot
) -> None:
    paste(window, TRAVERSE, qtbot)
    page = window.arrivals.paste
    assert "misclosure 0.11" in page.says.text()
    QTest.mouseClick(page.take_button, LEFT)
    land = window.arrivals.land
    qtbot.waitUntil(land.take_button.isEnabled, timeout=60_000)
    QTest.mouseClick(land.take_button, LEFT)
    assert len(session.state.design.plot.boundary) == 4
    session.undo()


def test_what_is_typed_into_the_box_is_understood_anew(window: Window, qtbot: QtBot) -> None:
    paste(window, "x,y\n0,0\n10,0\n10,10\n", qtbot)
    page = window.arrivals.paste
    assert "3 corners" in page.says.text()
    page.text.setFocus()
    page.text.moveCursor(page.text.textCursor().MoveOperation.End)
    QTest.keyClicks(page.text, "0,10")
    QTest.keyClick(page.text, Qt.Key.Key_Return)
    QTest.keyClicks(page.text, "nonsense")
    assert not page.take_button.isEnabled()
    qtbot.waitUntil(lambda: "line" in page.says.text(), timeout=60_000)
    assert not page.take_button.isEnabled()
    QTest.mouseClick(page.leave_button, LEFT)
    assert not page.isVisible()


def test_heights_of_a_map_are_reached_from_its_page(window: Window, tmp_path: Path, qtbot: QtBot) -> None:
    path = tmp_path / "spots.geojson"
    points = [[5.8, 44.0, 500.0], [5.801, 44.0, 501.0], [5.8, 44.001, 502.0]]
    path.write_text(f'{{"type": "MultiPoint", "coordinates": {points}}}')
    drop(window, path)
    qtbot.waitUntil(lambda: window.arrivals.land.look is not None, timeout=60_000)
    button = next(one for one in window.arrivals.land.findChildren(type(window.arrivals.land.take_button))
                  if one.text() == "Look at its heights")  # fmt: skip
    QTest.mouseClick(button, LEFT)
    qtbot.waitUntil(lambda: window.arrivals.heights.ready is not None, timeout=60_000)
    assert window.arrivals.heights.isVisible()
    assert not window.arrivals.land.isVisible()


def test_contours_by_an_attribute_are_reached_named_and_taken(
    window: Window, session: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    east, north = session.state.design.site.longitude_deg, session.state.design.site.latitude_deg
    features = [
        {
            "type": "Feature", "properties": {"ELEV": 300.0 + n, "rank": n},
            "geometry": {"type": "LineString", "coordinates": [[east - 1e-3, north + n * 1e-4], [east + 1e-3, north + n * 1e-4]]},
        }
        for n in range(5)
    ]  # fmt: skip
    path = tmp_path / "contours.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}))
    drop(window, path)
    qtbot.waitUntil(lambda: "ELEV may hold heights" in texts(window), timeout=60_000)
    (button,) = (
        b for b in window.arrivals.land.findChildren(QPushButton) if b.text() == "Look at its heights"
    )
    QTest.mouseClick(button, LEFT)
    page = window.arrivals.heights
    by_name = "The heights are those of the attribute ELEV, by its name alone."
    qtbot.waitUntil(lambda: page.take_button.isEnabled() and by_name in texts(window), timeout=60_000)
    assert page.fields["attribute"].text() == "ELEV"
    (other,) = (mend for mend in page.mends if "eights from rank" in mend.text())
    QTest.mouseClick(other, LEFT)
    qtbot.waitUntil(
        lambda: page.take_button.isEnabled() and "Heights: 0.0 to 4.0 m" in texts(window), timeout=60_000
    )
    field = page.fields["attribute"]
    assert field.text() == "rank"
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, "elev")
    QTest.keyClick(field, Qt.Key.Key_Return)
    qtbot.waitUntil(
        lambda: page.take_button.isEnabled() and "Heights: 300.0 to 304.0 m" in texts(window), timeout=60_000
    )
    QTest.mouseClick(page.take_button, LEFT)
    heights = session.state.design.ground.heights
    assert isinstance(heights, SpotHeights)
    assert len(heights.spots) == 10


def test_files_are_told_apart(tmp_path: Path, raster: Path, table: Path, window: Window) -> None:
    long = tmp_path / "long.csv"
    long.write_text("x,y,z\n" + "".join(f"{k},{k * k % 97},{k % 7}\n" for k in range(9000)))
    year = tmp_path / "year.csv"
    year.write_text("hour,dni\n" + "1,0\n" * 40_000, encoding="utf-8")
    assert [holds_land(path) for path in (raster, table, long, year)] == [True, True, True, False]
    assert isinstance(window.arrivals, Arrivals)


def test_light_comes_from_the_north_west() -> None:
    x, y = np.meshgrid(np.arange(20.0), np.arange(20.0))
    towards = shaded(-x + y, 1.0)[10, 10]  # falls to the south-east, faces away
    assert shaded(x - y, 1.0)[10, 10] > 200 > 100 > towards
    holed = np.ones((9, 9))
    holed[4, 4] = np.nan
    assert shaded(holed, 1.0)[4, 4] == 0


def test_what_was_copied_from_the_plan_goes_to_the_plan(
    window: Window, session: Session, qtbot: QtBot
) -> None:
    """The same keys: things go to the plan, a table to its page."""
    session.select(Subject("line", session.state.design.lines[0].id))
    view = window.view
    assert isinstance(view, PlanView)
    view.canvas.setFocus()
    QTest.keyClick(view.canvas, Qt.Key.Key_C, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClick(view.canvas, Qt.Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    assert session.state.preview is not None
    assert len(session.state.preview.lines) == len(session.state.design.lines) + 1
    assert "arrivals" not in vars(window)
