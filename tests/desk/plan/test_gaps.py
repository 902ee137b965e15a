"""Single mirrors left out and put back by hand, a lane across all lines, and what the plan and the sheet show of it."""

from typing import TYPE_CHECKING

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QAction
from PySide6.QtTest import QTest

from studio.desk.plan.context import menu_at
from studio.desk.plan.tools.pick import PickTool
from studio.desk.plan.tools.tool import Pointer
from studio.desk.state import Subject
from studio.edits.places import leave_out

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand, Place

Key = Qt.Key
BOTH = Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
MIRROR_6 = (5 * 1.35, 3.2)
"""Where mirror 6 of Line 2 stands."""


def entries(hand: "Hand", at: "Place") -> dict[str, QAction]:
    """The context menu's entries at a place, by their words."""
    hand.point(at)
    tool = hand.canvas.tool
    assert isinstance(tool, PickTool)
    spot = hand.px(at)
    pointer = Pointer(at, float(spot.x()), float(spot.y()))
    menu = menu_at(hand.canvas, tool, pointer, by_mouse=True)
    return {action.text().partition("\t")[0]: action for action in menu.actions()}


def take(hand: "Hand", at: "Place") -> None:
    QTest.mouseClick(hand.canvas, Qt.MouseButton.LeftButton, BOTH, hand.px(at))


def left_out(hand: "Hand", line_id: int = 2) -> tuple[int, ...]:
    return hand.state.design.line(line_id).left_out


def test_control_and_shift_take_a_mirror_out_and_put_it_back(hand: "Hand") -> None:
    take(hand, MIRROR_6)
    assert left_out(hand) == (6,)
    assert hand.last == "Leave out mirror 6 of Line 2"
    take(hand, (8 * 1.35, 3.2))
    assert left_out(hand) == (6, 9)
    take(hand, MIRROR_6)
    assert left_out(hand) == (9,)
    assert hand.last == "Put back mirror 6 of Line 2"
    for _step in range(3):
        hand.session.undo()
    assert left_out(hand) == ()


def test_beside_the_lines_control_and_shift_take_nothing(hand: "Hand") -> None:
    take(hand, (30.0, 16.0))
    assert not hand.state.undo


def test_the_menu_leaves_the_mirror_under_the_pointer_out(hand: "Hand") -> None:
    entries(hand, MIRROR_6)["Leave mirror 6 out"].trigger()
    assert left_out(hand) == (6,)
    assert hand.state.selected_lines() == (2,)
    found = entries(hand, MIRROR_6)
    assert "Leave mirror 6 out" not in found
    found["Put mirror 6 back"].trigger()
    assert left_out(hand) == ()
    assert "Leave mirror 6 out" not in entries(hand, (30.0, 16.0))


def test_a_mirror_at_the_end_shortens_the_line(hand: "Hand") -> None:
    take(hand, (0.0, 3.2))
    line = hand.state.design.line(2)
    assert (line.first_number, line.count, line.left_out) == (2, 19, ())
    assert line.x_m == pytest.approx(1.35)


def test_a_lane_across_all_lines_is_typed_shown_and_taken_in_one_step(hand: "Hand") -> None:
    entries(hand, MIRROR_6)["Lane across the lines here…"].trigger()
    shown = hand.state.shown
    assert [line.left_out for line in shown.lines] == [(5, 6, 7)] * 3, "the usual width is shown at once"
    assert all(not line.left_out for line in hand.state.design.lines)
    hand.type("4.5")
    assert [line.left_out for line in hand.state.shown.lines] == [(4, 5, 6, 7, 8)] * 3
    hand.key(Key.Key_Return)
    assert [line.left_out for line in hand.state.design.lines] == [(4, 5, 6, 7, 8)] * 3
    assert len(hand.state.undo) == 1
    hand.session.undo()
    assert all(not line.left_out for line in hand.state.design.lines)


def test_a_lane_that_is_left_changes_nothing(hand: "Hand") -> None:
    entries(hand, MIRROR_6)["Lane across the lines here…"].trigger()
    hand.key(Key.Key_Escape)
    assert hand.state.shown == hand.state.design
    assert not hand.state.undo


def test_the_plan_draws_an_empty_place_as_an_outline_while_its_line_is_selected(hand: "Hand") -> None:
    hand.session.apply(leave_out(hand.state.design, id=2, mirrors=[6, 7]))
    line = hand.canvas.drawing.line(2)
    assert line is not None
    assert len(line.corners) == 18
    assert len(line.left_out) == 2
    assert len(hand.canvas.drawing.gear[2].receivers) == 18

    def around(at: "Place") -> list[int]:
        """The pixels about a place, beside the pipe."""
        hand.canvas.repaint()
        image = hand.canvas.grab().toImage()
        spot = hand.px(at)
        reach = range(-9, 10)
        return [image.pixel(spot.x() + dx, spot.y() + dy) for dx in reach for dy in reach]

    hand.session.select()
    bare = around((6 * 1.35 - 0.675, 3.2))
    hand.session.select(Subject("line", 2))
    assert around((6 * 1.35 - 0.675, 3.2)) != bare
