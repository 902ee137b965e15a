"""The whole window, with real keys and clicks on a real design."""

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QLineEdit, QMessageBox, QWidget
from pytestqt.qtbot import QtBot

from studio.design.site import FileWeather
from studio.desk.painted import Row
from studio.desk.session import Session
from studio.desk.state import Subject
from studio.desk.theme import Theme
from studio.desk.window import Window
from studio.edits.fields import set_field
from studio.files.site import read_site

OpenWindow = Callable[[int, int], Window]

TMY3 = Path(str(files("pvlib"))) / "data" / "723170TYA.CSV"
"""Greensboro, in pvlib's package."""
KEYS = Qt.KeyboardModifier


@pytest.fixture
def window(open_window: OpenWindow, session: Session, qtbot: QtBot) -> Window:
    made = open_window(1600, 1000)
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    return made


def test_undo_and_redo_stand_with_their_names(window: Window, session: Session, qtbot: QtBot) -> None:
    assert not window.top.undo.isEnabled()
    session.apply(set_field(session.state.design, path="mirror.ribs", value=7))
    assert window.top.undo.isEnabled()
    assert "Set mirror, ribs to 7" in window.top.undo.accessibleName()
    QTest.keyClick(window, Qt.Key.Key_Z, KEYS.ControlModifier)
    assert session.state.design.mirror.ribs == 11
    QTest.keyClick(window, Qt.Key.Key_Z, KEYS.ControlModifier | KEYS.ShiftModifier)
    assert session.state.design.mirror.ribs == 7
    QTest.mouseClick(window.top.undo, Qt.MouseButton.LeftButton)
    assert session.state.design.mirror.ribs == 11


def test_keep_is_remembered_for_comparison(window: Window, session: Session, qtbot: QtBot) -> None:
    QTest.keyClick(window, Qt.Key.Key_K, KEYS.ControlModifier)
    assert session.state.document.kept is not None
    assert session.state.kept_assessment is session.state.assessment


def test_save_asks_for_a_name_once(
    window: Window, session: Session, qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    target = tmp_path / "mine"

    def ask(*_args: object, **_kw: object) -> tuple[str, str]:
        asked.append("asked")
        return str(target), ""

    monkeypatch.setattr(QFileDialog, "getSaveFileName", ask)
    QTest.keyClick(window, Qt.Key.Key_S, KEYS.ControlModifier)
    session.apply(set_field(session.state.design, path="mirror.ribs", value=7))
    assert window.isWindowModified()
    QTest.keyClick(window, Qt.Key.Key_S, KEYS.ControlModifier)
    assert asked == ["asked"]
    assert not window.isWindowModified()
    assert read_site((tmp_path / "mine.stillfield").read_bytes()).design.mirror.ribs == 7


def test_unsaved_changes_are_asked_about_and_cancel_stays(
    window: Window, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    session.apply(set_field(session.state.design, path="mirror.ribs", value=7))
    monkeypatch.setattr(QMessageBox, "question", lambda *_args, **_kw: QMessageBox.StandardButton.Cancel)
    assert not window.close()
    assert window.isVisible()
    monkeypatch.setattr(QMessageBox, "question", lambda *_args, **_kw: QMessageBox.StandardButton.Discard)
    assert window.close()


def test_the_same_refusal_twice_is_told_twice(window: Window, session: Session, qtbot: QtBot) -> None:
    for _time in range(2):
        session.update(notice="Line 2: too long.")
        bar = window.bars.bar("notice")
        assert bar is not None
        assert bar.text == "Line 2: too long."
        qtbot.wait(10)
        window.bars.away("notice")
    session.update(notice="Line 2: too long.")
    session.apply(set_field(session.state.design, path="mirror.ribs", value=7))
    assert window.bars.bar("notice") is None


def test_a_tool_is_chosen_by_click(window: Window, session: Session, qtbot: QtBot) -> None:
    QTest.mouseClick(window.tools.buttons["line"], Qt.MouseButton.LeftButton)
    assert session.state.tool == "line"
    session.update(tool="pick")
    assert window.tools.buttons["pick"].isChecked()


def test_the_tools_are_those_the_plan_has() -> None:
    from studio.desk.plan.keys import LETTERS
    from studio.desk.plan.tools.every import TOOLS
    from studio.desk.views import PLAN_TOOLS

    assert {tool.key for tool in PLAN_TOOLS} == set(TOOLS)
    assert {tool.letter.lower(): tool.key for tool in PLAN_TOOLS} == LETTERS


def test_the_sheet_takes_the_numbers_of_mirrors_left_out(window: Window, session: Session) -> None:
    session.select(Subject("line", 2))
    boxes = window.sheet.findChildren(QLineEdit)
    box = next(box for box in boxes if box.isVisible() and box.accessibleName() == "Left out")
    box.setFocus()
    QTest.keyClicks(box, "4, 9-12")
    QTest.keyClick(box, Qt.Key.Key_Return)
    assert session.state.design.line(2).left_out == (4, 9, 10, 11, 12)
    assert box.text() == "4, 9-12"
    box.selectAll()
    QTest.keyClicks(box, "1")
    QTest.keyClick(box, Qt.Key.Key_Return)
    assert session.state.design.line(2).left_out == (4, 9, 10, 11, 12), "a refused list changes nothing"
    session.undo()
    assert session.state.design.line(2).left_out == ()


def test_the_sheet_follows_the_selection(window: Window, session: Session) -> None:
    assert window.sheet._title.text() == "Whole field"
    session.select(Subject("line", 2))
    assert window.sheet._title.text() == "Line 2"
    session.select(Subject("line", 2), Subject("line", 3))
    assert window.sheet._title.text() == "2 lines"
    session.select(Subject("store"))
    assert window.sheet._title.text() == "Store"


def test_an_explanation_goes_down_to_an_input_that_is_edited_there(
    window: Window, session: Session, qtbot: QtBot
) -> None:
    QTest.mouseClick(window.tally._main["aperture_m2"], Qt.MouseButton.LeftButton)
    assert window.overlays.explain.isVisible()
    editor = window.overlays.explain._editors[0]
    assert editor.edit is not None
    editor.edit.setFocus()
    editor.edit.selectAll()
    QTest.keyClicks(editor.edit, "1.5")
    QTest.keyClick(editor.edit, Qt.Key.Key_Return)
    assert session.state.design.mirror.width_m == 1.5
    QTest.keyClick(window.overlays.explain, Qt.Key.Key_Escape)
    assert not window.overlays.explain.isVisible()


def test_every_figure_can_be_explained_to_its_end(window: Window) -> None:
    from studio.study.figures import FIGURES

    for key, figure in FIGURES.items():
        window.overlays.explain.explain(key)
        for source in figure.comes_from:
            if source in FIGURES:
                window.overlays.explain._toggle((key, source))
        assert window.overlays.explain.title.text().lower() == figure.label.lower()


@pytest.mark.parametrize("size", [(1280, 720), (1600, 1000)])
def test_panels_have_their_measures(window: Window, size: tuple[int, int], qtbot: QtBot) -> None:
    window.resize(*size)
    qtbot.wait(20)
    wide = size[0] >= 1440
    assert (window.left.width(), window.right.width()) == ((288, 328) if wide else (272, 296))
    assert window.top.height() == 48
    assert window.right.geometry().right() < window.width()


def test_everything_that_takes_the_keyboard_has_a_name(window: Window, session: Session) -> None:
    session.select(Subject("line", 2))
    nameless = [
        part
        for part in window.findChildren(QWidget)
        if part.isVisible()
        and part.focusPolicy() & Qt.FocusPolicy.TabFocus
        and part.focusProxy() is None
        and not part.accessibleName()
        and not (hasattr(part, "text") and part.text())
    ]
    assert nameless == []


def test_rows_of_the_desk_are_reached_by_keyboard(window: Window) -> None:
    rows = [row for row in window.findChildren(Row) if row.isVisible() and row.isEnabled()]
    assert len(rows) > 20
    assert all(row.focusPolicy() & Qt.FocusPolicy.TabFocus for row in rows)


def drop(window: Window, path: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    event = QDropEvent(
        QPointF(10, 10), Qt.DropAction.CopyAction, data, Qt.MouseButton.LeftButton, KEYS.NoModifier
    )
    window.dropEvent(event)


def press(window: Window, key: str, words: str) -> None:
    bar = window.bars.bar(key)
    assert bar is not None
    next(button for button in bar.buttons if words in button.text()).click()


def asks(window: Window, key: str, words: str = "") -> Callable[[], bool]:
    def there() -> bool:
        bar = window.bars.bar(key)
        return bar is not None and any(words in button.text() for button in bar.buttons)

    return there


def test_a_dropped_weather_file_is_shown_before_it_is_taken(
    window: Window, session: Session, qtbot: QtBot
) -> None:
    before = session.state.design
    drop(window, TMY3)
    qtbot.waitUntil(asks(window, "weather"), timeout=60_000)
    bar = window.bars.bar("weather")
    assert bar is not None
    assert "36.10° north" in bar.text
    assert session.state.design is before
    press(window, "weather", "Use this weather")
    weather = session.state.design.site.weather
    assert isinstance(weather, FileWeather)
    assert session.state.document.asset(weather.asset) is not None
    assert len(session.state.undo) == 1
    session.undo()
    assert session.state.design == before


def test_a_faulty_weather_file_is_mended_only_as_named(
    window: Window, session: Session, qtbot: QtBot, tmp_path: Path
) -> None:
    lines = TMY3.read_text(encoding="utf-8").splitlines()
    del lines[500]
    broken = tmp_path / "broken.csv"
    broken.write_text("\n".join(lines) + "\n", encoding="utf-8")
    drop(window, broken)
    qtbot.waitUntil(asks(window, "weather"), timeout=60_000)
    press(window, "weather", "fill-short-gaps")
    qtbot.waitUntil(asks(window, "weather", "Use"), timeout=60_000)
    press(window, "weather", "Use this weather")
    weather = session.state.design.site.weather
    assert isinstance(weather, FileWeather)
    assert weather.repairs


def test_a_switch_to_dark_is_seen_everywhere(window: Window, theme: Theme, qtbot: QtBot) -> None:
    theme.set_wish("dark")
    qtbot.wait(30)
    picture = window.grab().toImage()
    panel = theme.color("panel")
    at = window.right.mapTo(window, window.right.rect().bottomLeft())
    seen = picture.pixelColor(at.x() + 4, at.y() - 50)
    assert abs(seen.lightness() - panel.lightness()) < 12
