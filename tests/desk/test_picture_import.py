"""A picture on the whole window: dropped or chosen, laid by its world file or by two points. The picture is invented."""

from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, QSettings, Qt, QUrl
from PySide6.QtGui import QAction, QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QLineEdit
from pytestqt.qtbot import QtBot

from studio.desk.dropped import dropped
from studio.desk.plan.view import PlanView
from studio.desk.session import Session
from studio.desk.state import Subject
from studio.desk.theme import Theme
from studio.desk.views import turn_to
from studio.desk.window import Window
from studio.desk.worker import Assesses
from tests.files.pictures import coded, land

OpenWindow = Callable[[int, int], Window]

LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def window(open_window: OpenWindow, session: Session, qtbot: QtBot) -> Window:
    made = open_window(1280, 720)
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    return made


@pytest.fixture
def roof(tmp_path: Path) -> Path:
    path = tmp_path / "roof.png"
    path.write_bytes(coded(land(640, 480)))
    return path


def drop(window: Window, *paths: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path)) for path in paths])
    window.dropEvent(
        QDropEvent(QPointF(10, 10), Qt.DropAction.CopyAction, data, LEFT, Qt.KeyboardModifier.NoModifier)
    )


def told(window: Window) -> str:
    bar = window.bars.bar("picture")
    return bar.text if bar is not None else ""


def press(window: Window, words: str) -> None:
    bar = window.bars.bar("picture")
    assert bar is not None
    QTest.mouseClick(next(button for button in bar.buttons if words in button.text()), LEFT)


def waited(window: Window, words: str, qtbot: QtBot) -> str:
    qtbot.waitUntil(lambda: words in told(window), timeout=60_000)
    return told(window)


def test_a_dropped_picture_stands_in_the_view_and_is_scaled_by_two_clicks(
    window: Window, session: Session, roof: Path, qtbot: QtBot
) -> None:
    turn_to(session, "mirror")
    drop(window, roof)
    waited(window, "Click two points whose distance you know", qtbot)
    assert (session.state.view, session.state.tool) == ("plan", "picture")
    assert session.state.selection == {Subject("picture")}
    underlay, view = session.state.design.underlay, window.view
    assert isinstance(view, PlanView)
    x0, y0, x1, y1 = view.sight
    assert (underlay.x_m, underlay.y_m) == pytest.approx(((x0 + x1) / 2, (y0 + y1) / 2), abs=0.01)
    covered = max(640 * underlay.m_per_pixel / (x1 - x0), 480 * underlay.m_per_pixel / (y1 - y0))
    assert covered == pytest.approx(0.7, abs=0.01)
    assert session.state.undo[-1].label == "Lay roof.png under the plan"
    canvas = view.canvas
    middle = QPoint(canvas.width() // 2, canvas.height() // 2)
    for spot in (middle - QPoint(80, 0), middle + QPoint(80, 0)):
        QTest.mouseMove(canvas, spot)
        QTest.mouseClick(canvas, LEFT, pos=spot)
    QTest.keyClicks(canvas, "8")
    QTest.keyClick(canvas, Qt.Key.Key_Return)
    scaled = session.state.design.underlay
    assert scaled.m_per_pixel == pytest.approx(
        underlay.m_per_pixel * 8.0 * canvas.camera.px_per_m / 160.0, rel=0.01
    )
    assert told(window) == ""  # the word about scaling has done its work


def test_a_world_file_beside_is_offered_and_nothing_is_laid_unasked(
    window: Window, session: Session, roof: Path, qtbot: QtBot
) -> None:
    world = roof.with_suffix(".pgw")
    world.write_text("0.05\n0\n0\n-0.05\n-9.975\n19.975\n")
    drop(window, roof, world)
    said = waited(window, "roof.pgw", qtbot)
    assert "32.0 m × 24.0 m" in said
    assert "taken as metres of this site" in said
    assert not session.state.design.underlay.asset
    press(window, "Lay it so")
    underlay = session.state.design.underlay
    assert (underlay.x_m, underlay.y_m, underlay.m_per_pixel) == pytest.approx((6.0, 8.0, 0.05))
    assert session.state.tool == "pick"
    session.undo()
    assert not session.state.design.underlay.asset
    session.redo()
    assert session.state.document.asset(underlay.asset) is not None


def test_a_guessed_system_must_be_said(window: Window, session: Session, roof: Path, qtbot: QtBot) -> None:
    from pyproj import Transformer

    here = session.state.design.site
    zone = 32600 + int((here.longitude_deg + 180) // 6) + 1
    x, y = Transformer.from_crs(4326, zone, always_xy=True).transform(here.longitude_deg, here.latitude_deg)
    roof.with_suffix(".wld").write_text(f"0.05\n0\n0\n-0.05\n{x:.3f}\n{y:.3f}\n")
    drop(window, roof)
    waited(window, "No coordinate system is said", qtbot)
    bar = window.bars.bar("picture")
    assert bar is not None
    words = [button.text() for button in bar.buttons]
    assert "Lay it so" not in words
    assert any(word.startswith("Read as") for word in words)
    press(window, "Read as")
    waited(window, "turned", qtbot)
    press(window, "Lay it so")
    assert session.state.design.underlay.m_per_pixel == pytest.approx(0.05, rel=2e-3)


def test_a_world_file_that_will_not_do_leaves_the_two_points(
    window: Window, session: Session, roof: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    roof.with_suffix(".pgw").write_text("1\n2\n")
    better = roof.with_name("better.wld")
    better.write_text("0,1\n0\n0\n-0,1\n0,05\n-0,05\n")
    drop(window, roof)
    waited(window, "six numbers", qtbot)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_args, **_kw: (str(better), ""))
    press(window, "Another world file")
    waited(window, "better.wld", qtbot)
    press(window, "In the middle of the view")
    assert session.state.design.underlay.asset
    assert session.state.tool == "picture"
    press(window, "World file")
    waited(window, "better.wld", qtbot)
    press(window, "Lay it so")
    assert session.state.design.underlay.m_per_pixel == pytest.approx(0.1)


def test_what_is_no_picture_is_told_and_nothing_changes(
    window: Window, session: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    before = session.state.document
    other = tmp_path / "roof.jpg"
    other.write_bytes(b"GIF89a")
    drop(window, other)
    waited(window, "is GIF, which is not read here", qtbot)
    assert session.state.document is before


def test_the_menu_brings_one_in(
    window: Window, session: Session, roof: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_args, **_kw: (str(roof), ""))
    next(act for act in window.findChildren(QAction) if act.text() == "Picture from a file…").trigger()
    waited(window, "Click two points", qtbot)
    assert session.state.design.underlay.origin == "roof.png, 640 × 480 pixels"


def test_the_sheet_shows_the_picture_and_takes_it_away(
    window: Window, session: Session, roof: Path, qtbot: QtBot
) -> None:
    drop(window, roof)
    waited(window, "Click two points", qtbot)
    field = next(
        one for one in window.sheet.findChildren(QLineEdit) if "strength" in one.accessibleName().lower()
    )
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, "0,25")
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert session.state.design.underlay.strength == 0.25
    from PySide6.QtWidgets import QToolButton

    remove = next(one for one in window.sheet.findChildren(QToolButton) if one.text() == "Remove")
    QTest.mouseClick(remove, LEFT)
    assert not session.state.design.underlay.asset
    assert session.state.undo[-1].label == "Take the picture away"


def test_a_locked_layer_refuses_the_tool_button_and_a_finding_shows_its_layer(
    window: Window, session: Session
) -> None:
    session.toggle_lock("lines")
    QTest.mouseClick(window.tools.buttons["line"], LEFT)
    assert session.state.tool == "pick"
    assert window.tools.buttons["pick"].isChecked()
    bar = window.bars.bar("notice")
    assert bar is not None
    assert "this layer is locked" in bar.text


def test_layers_are_as_they_were_at_the_next_start(
    window: Window, session: Session, theme: Theme, assessor: Assesses, settings: QSettings, tmp_path: Path, qtbot: QtBot
) -> None:  # fmt: skip
    session.toggle_layer("contours")
    session.toggle_lock("land")
    again = Session()
    other = Window(again, theme, lambda: assessor, settings, state_folder=tmp_path / "other")
    qtbot.addWidget(other)
    assert "contours" not in again.state.layers
    assert again.state.locked == {"land"}


def test_what_was_dropped(tmp_path: Path) -> None:
    def of(*names: str) -> tuple[str, str] | None:
        found = dropped([QUrl.fromLocalFile(str(tmp_path / name)) for name in names])
        return (found[0].name, found[1]) if found else None

    assert of("a.PNG") == ("a.PNG", "picture")
    assert of("a.jpg", "a.jgw", "a.prj") == ("a.jpg", "picture")
    assert of("a.jpg", "b.jpg") is None
    assert of("a.pgw") is None
