"""Fields: what is typed is understood aloud, taken as one step of undo, or refused in one sentence and kept."""

from collections.abc import Callable

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from studio.desk.bound import Bound
from studio.desk.field_editor import FieldEditor
from studio.desk.session import Session
from studio.desk.sheet_groups import page_for
from studio.desk.sheet_parts import bound_in
from studio.desk.state import Subject
from studio.desk.theme import Theme
from studio.edits.fields import set_field

Make = Callable[[Bound], FieldEditor]


@pytest.fixture
def make(session: Session, theme: Theme, qtbot: QtBot) -> Make:
    def build(bound: Bound) -> FieldEditor:
        editor = FieldEditor(session, theme, bound)
        session.changed.connect(lambda _old, _new: editor.refresh())
        qtbot.addWidget(editor)
        editor.resize(288, 60)
        editor.show()
        return editor

    return build


def type_into(qtbot: QtBot, editor: FieldEditor, text: str, *, enter: bool = True) -> None:
    assert editor.edit is not None
    editor.edit.setFocus()
    editor.edit.selectAll()
    QTest.keyClicks(editor.edit, text)
    if enter:
        QTest.keyClick(editor.edit, Qt.Key.Key_Return)


def test_enter_takes_it_as_one_named_step(make: Make, session: Session, qtbot: QtBot) -> None:
    editor = make(bound_in(session.state.design, "mirror.focal_m"))
    type_into(qtbot, editor, "1,4")
    assert session.state.design.mirror.focal_m == 1.4
    assert len(session.state.undo) == 1
    assert "focal length" in session.state.undo[0].label
    session.undo()
    assert editor.edit is not None
    assert editor.edit.text() == "1.30"


def test_what_is_understood_is_said_before_enter(make: Make, session: Session, qtbot: QtBot) -> None:
    editor = make(bound_in(session.state.design, "mirror.focal_m"))
    type_into(qtbot, editor, "4 ft", enter=False)
    assert editor._below.text() == "= 1.2192 m"
    assert session.state.design.mirror.focal_m == 1.3
    type_into(qtbot, editor, "1,250", enter=False)
    assert "1250" in editor._below.text()


def test_out_of_range_says_so_keeps_it_and_leaves_the_design(
    make: Make, session: Session, qtbot: QtBot
) -> None:
    editor = make(bound_in(session.state.design, "mirror.focal_m"))
    before = session.state.design
    type_into(qtbot, editor, "900")
    assert session.state.design is before
    assert editor.edit is not None
    assert editor.edit.text() == "900"
    assert "from 0.1 to 20" in editor._below.text()
    assert editor.edit.property("refused") is True
    QTest.keyClick(editor.edit, Qt.Key.Key_Escape)
    assert editor.edit.text() == "1.30"
    assert editor.edit.property("refused") is False


def test_nonsense_is_refused_in_a_sentence(make: Make, session: Session, qtbot: QtBot) -> None:
    editor = make(bound_in(session.state.design, "mirror.focal_m"))
    type_into(qtbot, editor, "wide")
    assert "wide" in editor._below.text()
    assert session.state.design.mirror.focal_m == 1.3


def test_mrad_is_said_at_the_bench(make: Make, session: Session) -> None:
    editor = make(bound_in(session.state.design, "mirror.slope_error_mrad"))
    assert editor._below.text() == "5.0 mm per metre"


def test_a_choice_is_taken_at_once(make: Make, session: Session, qtbot: QtBot) -> None:
    editor = make(bound_in(session.state.design, "receiver.glass"))
    assert editor.combo is not None
    editor.combo.setFocus()
    QTest.keyClick(editor.combo, Qt.Key.Key_Down)
    assert session.state.design.receiver.glass == "single"


def line_bound(session: Session, label: str, *ids: int) -> Bound:
    page = page_for(session.state.design, frozenset(Subject("line", i) for i in ids))
    return next(b for group in page.groups for b in group.bounds if b.declaration.label == label)


def test_a_line_shows_what_it_follows_and_what_it_differs_from(
    make: Make, session: Session, qtbot: QtBot
) -> None:
    editor = make(line_bound(session, "tilt", 2))
    assert editor.edit is not None
    assert editor.edit.text() == "36.0"
    assert editor.edit.property("inherited") is True
    type_into(qtbot, editor, "40")
    assert session.state.design.line(2).tilt_deg == 40.0
    assert editor.edit.property("inherited") is False
    editor.edit.clearFocus()
    assert editor._below.text() == "field 36.0 °"
    type_into(qtbot, editor, "-")
    assert session.state.design.line(2).tilt_deg is None


def test_a_drawn_place_is_shown_rounded_and_kept_as_it_is(make: Make, session: Session, qtbot: QtBot) -> None:
    drawn = -12.3456789
    session.apply(set_field(session.state.design, path="lines.2.x_m", value=drawn))
    before = session.state.design
    editor = make(line_bound(session, "first mirror, x", 2))
    assert editor.edit is not None
    assert editor.edit.text() == "−12.35"
    editor.activateWindow()
    editor.edit.setFocus()
    qtbot.waitUntil(editor.edit.hasFocus)
    assert editor._below.text() == "exactly −12.3456789 m"
    QTest.keyClick(editor.edit, Qt.Key.Key_Return)
    type_into(qtbot, editor, "-12.35")
    editor.edit.clearFocus()
    assert session.state.design is before
    type_into(qtbot, editor, "-12.357")
    assert session.state.design.line(2).x_m == -12.357
    assert editor.edit.text() == "−12.357"
    type_into(qtbot, editor, "4")
    assert editor.edit.text() == "4.00"


def test_several_lines_are_edited_alike_in_one_step(make: Make, session: Session, qtbot: QtBot) -> None:
    editor = make(line_bound(session, "mirrors", 1, 3))
    type_into(qtbot, editor, "25")
    assert [line.count for line in session.state.design.lines] == [25, 20, 25, 20]
    assert len(session.state.undo) == 1


def test_different_values_are_not_shown_as_one(make: Make, session: Session, qtbot: QtBot) -> None:
    editor = make(line_bound(session, "mirrors", 1, 3))
    one = make(line_bound(session, "mirrors", 1))
    type_into(qtbot, one, "25")
    assert editor.edit is not None
    assert editor.edit.text() == ""
    assert editor.edit.placeholderText() == "various"
