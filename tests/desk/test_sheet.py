"""The sheet makes its fields once: what was made stays for the next time, and holds nothing of what was half typed."""

from collections.abc import Callable
from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel, QLineEdit, QToolButton
from pytestqt.qtbot import QtBot

from studio.desk.field_editor import FieldEditor
from studio.desk.later import Later
from studio.desk.session import Session
from studio.desk.sheet import Sheet
from studio.desk.state import Subject
from studio.desk.theme import Theme
from studio.desk.views import turn_to
from studio.desk.window import Window


def shown_fields(sheet: Sheet) -> set[FieldEditor]:
    return {one for one in sheet.findChildren(FieldEditor) if one.isVisibleTo(sheet)}


def ribs_of(sheet: Sheet) -> QLineEdit:
    (edit,) = (
        one.edit for one in shown_fields(sheet)
        if one.edit is not None and one.edit.accessibleName().startswith("Ribs")
    )  # fmt: skip
    return edit


def test_a_view_that_is_shown_again_has_the_fields_that_it_had(
    open_window: Callable[[int, int], Window], session: Session
) -> None:
    window = open_window(1600, 1000)
    turn_to(session, "mirror")
    first = shown_fields(window.sheet)
    assert len(first) > 10
    turn_to(session, "plan")
    assert not first & shown_fields(window.sheet)
    session.select(Subject("line", 2))
    turn_to(session, "mirror")
    own = shown_fields(window.sheet) - first
    assert first < shown_fields(window.sheet), (
        "what is of the whole field stays, the line's own mirror is new"
    )
    assert len(own) == 3
    session.select(Subject("line", 3))
    assert not own & shown_fields(window.sheet)
    assert first < shown_fields(window.sheet)


def test_fields_are_made_ahead_in_pauses_and_are_those_that_are_shown(
    session: Session, theme: Theme, qtbot: QtBot
) -> None:
    sheet = Sheet(session, theme)
    qtbot.addWidget(sheet)
    sheet.show()
    before = set(sheet.findChildren(FieldEditor))
    later = Later(sheet, names=(), then=sheet.ahead("mirror"))
    later.start()
    qtbot.waitUntil(lambda: later.done, timeout=60_000)
    ahead = set(sheet.findChildren(FieldEditor)) - before
    assert ahead
    assert not ahead & shown_fields(sheet)
    turn_to(session, "mirror")
    assert ahead == shown_fields(sheet)
    assert ribs_of(sheet).text() == str(session.state.design.mirror.ribs)


def test_a_field_shown_again_is_of_the_design_and_not_what_was_refused(
    open_window: Callable[[int, int], Window], session: Session
) -> None:
    window = open_window(1600, 1000)
    turn_to(session, "mirror")
    edit = ribs_of(window.sheet)
    edit.setFocus()
    edit.selectAll()
    QTest.keyClicks(edit, "one")
    QTest.keyClick(edit, Qt.Key.Key_Return)
    assert edit.property("refused")
    turn_to(session, "plan")
    turn_to(session, "mirror")
    again = ribs_of(window.sheet)
    assert again is edit
    assert not again.property("refused")
    assert again.text() == str(session.state.design.mirror.ribs)


def test_forms_of_many_lines_are_let_go(session: Session, theme: Theme, qtbot: QtBot) -> None:
    sheet = Sheet(session, theme)
    qtbot.addWidget(sheet)
    sheet.show()
    lines = [line.id for line in session.state.design.lines]
    counts = []
    for turn in range(60):
        chosen = {line for place, line in enumerate(lines) if turn >> place & 1}
        session.select(*(Subject("line", line) for line in sorted(chosen)))
        qtbot.wait(1)
        counts.append(len(sheet._made))
    assert max(counts) <= 60


@pytest.mark.parametrize("size", [(1280, 720), (1600, 1000)])
def test_what_a_line_is_placed_by_stands_on_one_row_each(
    open_window: Callable[[int, int], Window], session: Session, size: tuple[int, int]
) -> None:
    """Also beside a scroll bar; whatever the unit, its field's right edge and its label stand as they do without one."""
    window = open_window(*size)
    session.select(Subject("line", 2))
    QTest.qWait(50)
    labels = {
        label.text(): label for label in window.sheet.findChildren(QLabel) if label.isVisibleTo(window.sheet)
    }
    row = labels["Azimuth"].fontMetrics().height()
    for word in ("First mirror, x", "First mirror, y", "Azimuth", "Mirrors", "Spacing", "Stands at"):
        assert labels[word].fontMetrics().horizontalAdvance(word) <= labels[word].width(), word
        assert labels[word].height() < 2 * row, word


def test_buttons_of_what_was_selected_are_out_of_sight_at_once(
    session: Session, theme: Theme, qtbot: QtBot
) -> None:
    sheet = Sheet(session, theme)
    qtbot.addWidget(sheet)
    sheet.show()
    session.select(Subject("line", 2))
    session.select()
    shown = [one.text() for one in sheet.findChildren(QToolButton) if one.isVisibleTo(sheet)]
    assert not {"Section", "Repeat", "Remove"} & set(shown)


class Painted(QObject):
    """Which widgets were painted."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: set[QObject] = set()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() is QEvent.Type.Paint:
            self.seen.add(watched)
        return False


def test_while_a_hand_drags_only_fields_that_change_are_painted(
    open_window: Callable[[int, int], Window], session: Session, qtbot: QtBot
) -> None:
    window = open_window(1600, 1000)
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    session.select(Subject("line", 2))
    qtbot.wait(50)
    fields = {one.edit.accessibleName(): one for one in shown_fields(window.sheet) if one.edit is not None}
    painted = Painted()
    for one in fields.values():
        one.installEventFilter(painted)
    design = session.state.design
    lines = tuple(replace(line, y_m=line.y_m + 0.37) if line.id == 2 else line for line in design.lines)
    session.preview(replace(design, lines=lines))
    qtbot.wait(50)
    assert painted.seen == {fields["First mirror, y m"]}
    session.preview(None)
    qtbot.wait(50)
    assert painted.seen == {fields["First mirror, y m"]}
    edit = fields["First mirror, y m"].edit
    assert edit is not None
    assert edit.text() == "6.40"
