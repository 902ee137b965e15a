"""Copy, cut and paste on one plan, from one window to another, and from a clipboard that holds something else."""

from typing import TYPE_CHECKING

import numpy as np
import pytest
from PySide6.QtCore import QByteArray, QMimeData, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from studio.design.obstacles import Block
from studio.desk.state import Subject
from studio.desk.theme import Theme
from studio.edits.obstacles import add_block
from studio.files.clip import MIME
from tests.desk.plan.conftest import EMPTY, hand_on

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key
SHED = ((30.0, 14.0), (36.0, 14.0), (36.0, 18.0), (30.0, 18.0))


def test_lines_are_copied_and_set_by_a_click_with_new_numbers(hand: "Hand") -> None:
    hand.click((12.0, 3.2))
    hand.click((12.0, 6.4), shift=True)
    hand.key(Key.Key_C, control=True)
    hand.key(Key.Key_V, control=True)
    hand.point((1.0, 14.0))
    hand.canvas.flush()
    assert len(hand.state.shown.lines) == 5, "seen before they are set"
    assert len(hand.state.design.lines) == 3
    hand.point((2.0, 15.0))
    hand.canvas.flush()
    hand.canvas.grab()
    first = hand.state.shown.line(4)
    assert (first.x_m, first.y_m) == pytest.approx((2.0, 15.0), abs=0.1)
    hand.click((2.0, 15.0))
    assert [line.id for line in hand.state.design.lines] == [1, 2, 3, 4, 5]
    assert hand.state.selected_lines() == (4, 5)
    four, five = hand.state.design.line(4), hand.state.design.line(5)
    assert (five.x_m - four.x_m, five.y_m - four.y_m) == pytest.approx((0.0, 3.2))
    assert hand.last == "Paste Lines 4 and 5"
    hand.session.undo()
    assert len(hand.state.design.lines) == 3


def test_a_copy_can_be_set_where_it_is_typed_and_left_with_escape(hand: "Hand") -> None:
    hand.click((42.0, 23.0))
    hand.key(Key.Key_C, control=True)
    hand.key(Key.Key_V, control=True)
    hand.key(Key.Key_Escape)
    assert hand.state.preview is None
    assert hand.state.undo == ()
    hand.key(Key.Key_V, control=True)
    hand.type("10 16")
    hand.canvas.grab()
    hand.key(Key.Key_Return)
    areas = hand.state.design.plot.no_build
    assert len(areas) == 2
    assert areas[1].ring[0] == pytest.approx((10.0, 16.0))
    assert areas[1].ring[2] == pytest.approx((18.0, 22.0))
    assert hand.state.selection == {Subject("no_build", 1)}


def test_a_pasted_thing_is_caught_by_a_corner(hand: "Hand") -> None:
    hand.session.apply(add_block(hand.state.design, corners=SHED))
    hand.click((33.0, 16.0))
    hand.key(Key.Key_C, control=True)
    hand.key(Key.Key_V, control=True)
    hand.click((38.1, 25.9))
    pasted = hand.state.design.obstacles[1]
    assert isinstance(pasted, Block)
    assert pasted.ring[0] == (38.0, 26.0)


def test_cutting_takes_away_in_one_step_and_pastes_back(hand: "Hand") -> None:
    hand.session.apply(add_block(hand.state.design, corners=SHED))
    hand.session.select(Subject("obstacle", 0), Subject("line", 2), Subject("no_build", 0))
    hand.key(Key.Key_X, control=True)
    assert hand.last == "Cut 3 things"
    assert len(hand.state.design.lines) == 2
    assert hand.state.design.obstacles == ()
    hand.key(Key.Key_V, control=True)
    hand.type("0 3.2")
    hand.key(Key.Key_Return)
    assert hand.state.design.line(4).y_m == pytest.approx(3.2)
    assert len(hand.state.design.obstacles) == 1
    shed = hand.state.design.obstacles[-1]
    assert isinstance(shed, Block)
    assert np.array(shed.ring) == pytest.approx(np.array(SHED))
    assert hand.last == "Paste 3 things"


def test_from_one_window_to_another(hand: "Hand", qtbot: QtBot, theme: Theme) -> None:
    other = hand_on(EMPTY, qtbot, theme)
    hand.key(Key.Key_A, control=True)
    hand.key(Key.Key_A, control=True)
    hand.key(Key.Key_C, control=True)
    QTest.keyClick(other.canvas, Key.Key_V, Qt.KeyboardModifier.ControlModifier)
    other.click((0.0, 0.0))
    assert len(other.state.design.lines) == 3
    assert len(other.state.design.plot.no_build) == 1
    assert other.state.design.lines[0].id == 1


def test_a_spreadsheet_gets_a_table(hand: "Hand") -> None:
    hand.click((12.0, 3.2))
    hand.key(Key.Key_C, control=True)
    text = QGuiApplication.clipboard().text()
    assert text.splitlines()[1].split("\t") == ["line", "Line 2", "1", "0.0000", "3.2000"]


@pytest.mark.parametrize(
    "data", [b"", b"{}", b'{"stillfield_things": 1, "lines": [{"id": -4}]}', b"\x00\xff" * 99, b"[" * 5000]
)
def test_a_hostile_clipboard_is_one_sentence_and_changes_nothing(hand: "Hand", data: bytes) -> None:
    held = QMimeData()
    held.setData(MIME, QByteArray(data))
    QGuiApplication.clipboard().setMimeData(held)
    before = hand.state.design
    hand.key(Key.Key_V, control=True)
    assert hand.state.notice.startswith("Nothing was pasted:")
    assert hand.state.design is before
    assert hand.state.preview is None


def test_plain_text_is_nothing_that_was_copied(hand: "Hand") -> None:
    QGuiApplication.clipboard().setText("x\ty\n0\t0\n")
    before = hand.state.design
    hand.key(Key.Key_V, control=True)
    assert "nothing that was copied" in hand.state.notice
    assert hand.state.design is before


def test_nothing_to_copy_is_told(hand: "Hand") -> None:
    hand.click((42.0, 3.0))
    hand.key(Key.Key_C, control=True)
    assert "can be copied" in hand.state.notice
