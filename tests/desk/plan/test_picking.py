"""Selecting, dragging, nudging and repeating, with real mouse and key events."""

from typing import TYPE_CHECKING

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from studio.desk.plan.tools.pick import PickTool
from studio.desk.plan.tools.under import handles
from studio.desk.state import Subject
from studio.edits.geometry import pitch
from studio.edits.lines import set_pitch

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key
MIDDLE = (12.0, 3.2)
"""Between the ends of Line 2."""


def at_handle(hand: "Hand", kind: str) -> tuple[float, float]:
    found = handles(hand.canvas.drawing, hand.state.selection, hand.canvas.camera)
    return next(handle.at for handle in found if handle.kind == kind)


def test_click_shift_and_box(hand: "Hand") -> None:
    hand.click(MIDDLE)
    assert hand.state.selected_lines() == (2,)
    hand.click((12.0, 6.4), shift=True)
    assert hand.state.selected_lines() == (2, 3)
    hand.click((12.0, 6.4), shift=True)
    assert hand.state.selected_lines() == (2,)
    hand.click((30.0, 15.0))
    assert hand.state.selection == frozenset()
    hand.drag((-6.0, -4.0), (30.0, 4.5))
    assert hand.state.selected_lines() == (1, 2)
    hand.click((42.0, 23.0))
    assert hand.state.selection == {Subject("no_build", 0)}
    hand.click((50.0, 10.0))
    assert hand.state.selection == {Subject("boundary")}
    hand.click((42.0, 3.0))
    assert hand.state.selection == {Subject("store")}


def test_where_the_hand_lets_go_counts_though_it_was_not_seen_to_move_there(hand: "Hand") -> None:
    hand.drag((12.0, 6.4), (12.0, 7.1), let_go=False)
    QTest.mouseRelease(hand.canvas, Qt.MouseButton.LeftButton, pos=hand.px((12.0, 7.7)))
    assert pitch(hand.state.design, hand.state.design.line(3)) == pytest.approx(4.5, abs=0.1)
    assert len(hand.state.undo) == 1


def test_a_drag_previews_freely_and_commits_once(hand: "Hand") -> None:
    seen: list[bool] = []
    hand.session.changed.connect(lambda old, new: seen.append(new.preview is not None))
    hand.drag((12.0, 6.4), (12.1, 7.7), steps=8)
    assert any(seen)
    assert len(hand.state.undo) == 1
    assert hand.state.preview is None
    line = hand.state.design.line(3)
    assert line.x_m == 0.0, "caught square to the line"
    assert pitch(hand.state.design, line) == pytest.approx(4.5, abs=0.1)
    assert hand.last.startswith("Move Line 3 by 1.3")


def test_a_drag_is_caught_by_the_pitch_of_the_field(hand: "Hand") -> None:
    hand.session.apply(set_pitch(hand.state.design, id=3, pitch_m=5.0))
    hand.drag((12.0, 8.2), (12.05, 6.5))
    assert pitch(hand.state.design, hand.state.design.line(3)) == pytest.approx(3.2, abs=1e-6)


def test_escape_during_a_drag_puts_it_back(hand: "Hand") -> None:
    before = hand.state.design
    hand.drag((12.0, 6.4), (12.0, 9.0), let_go=False)
    assert hand.state.preview is not None
    hand.key(Key.Key_Escape)
    assert hand.state.preview is None
    QTest.mouseRelease(hand.canvas, Qt.MouseButton.LeftButton, pos=hand.px((12.0, 9.0)))
    assert hand.state.design is before
    assert hand.state.undo == ()


def test_a_click_that_trembles_moves_nothing(hand: "Hand") -> None:
    at = hand.px(MIDDLE)
    QTest.mousePress(hand.canvas, Qt.MouseButton.LeftButton, pos=at)
    QTest.mouseMove(hand.canvas, at + QPoint(1, 2))
    QTest.mouseRelease(hand.canvas, Qt.MouseButton.LeftButton, pos=at + QPoint(1, 2))
    assert hand.state.undo == ()
    assert hand.state.selected_lines() == (2,)


def test_stretching_by_the_far_end_adds_mirrors(hand: "Hand") -> None:
    hand.click(MIDDLE)
    x, y = at_handle(hand, "far")
    hand.drag((x, y), (x + 5 * 1.35, y))
    line = hand.state.design.line(2)
    assert (line.count, line.x_m) == (25, 0.0)
    assert hand.last == "Stretch Line 2 to 25 mirrors"


def test_stretching_by_the_drive_end_keeps_the_far_one(hand: "Hand") -> None:
    hand.click(MIDDLE)
    x, y = at_handle(hand, "drive")
    hand.drag((x, y), (x + 2.7, y))
    line = hand.state.design.line(2)
    assert line.count == 18
    assert line.x_m + 17 * 1.35 == pytest.approx(19 * 1.35)


def test_turning_is_caught_by_round_angles(hand: "Hand") -> None:
    hand.click(MIDDLE)
    x, y = at_handle(hand, "turn")
    hand.drag((x, y), (x + 0.42, y - 0.03))
    azimuth = hand.state.design.line(2).azimuth_deg
    assert azimuth % 15.0 == pytest.approx(0.0, abs=1e-6)
    assert azimuth != 90.0


def test_a_typed_pitch_goes_to_the_selected_line(hand: "Hand") -> None:
    hand.click((12.0, 6.4))
    hand.type("4,05")
    assert pitch(hand.state.shown, hand.state.shown.line(3)) == pytest.approx(4.05)
    assert hand.state.undo == ()
    hand.key(Key.Key_Return)
    assert pitch(hand.state.design, hand.state.design.line(3)) == pytest.approx(4.05)
    assert hand.last == "Set the pitch of Line 3 to 4.05 m"


def test_tab_goes_on_to_length_azimuth_and_mirrors(hand: "Hand") -> None:
    hand.click(MIDDLE)
    for _turn in range(3):
        hand.key(Key.Key_Tab)
    hand.type("31")
    hand.key(Key.Key_Return)
    assert hand.state.design.line(2).count == 31


def test_a_figure_can_be_clicked_and_typed(hand: "Hand") -> None:
    hand.click((12.0, 6.4))
    QApplication.processEvents()
    hand.canvas.grab()
    tool = hand.canvas.tool
    assert isinstance(tool, PickTool)
    QTest.mouseClick(hand.canvas, Qt.MouseButton.LeftButton, pos=tool.boxes["pitch"].center().toPoint())
    assert hand.state.selected_lines() == (3,)
    hand.type("3.9")
    hand.key(Key.Key_Return)
    assert pitch(hand.state.design, hand.state.design.line(3)) == pytest.approx(3.9)


def test_quick_nudges_are_one_step_of_undo(hand: "Hand", qtbot: QtBot) -> None:
    hand.click(MIDDLE)
    hand.key(Key.Key_Up)
    hand.key(Key.Key_Up)
    hand.key(Key.Key_Right, shift=True)
    assert hand.state.shown.line(2).y_m == pytest.approx(3.4)
    assert hand.state.undo == ()
    qtbot.waitUntil(lambda: len(hand.state.undo) == 1, timeout=60_000)
    line = hand.state.design.line(2)
    assert (line.x_m, line.y_m) == pytest.approx((1.0, 3.4))
    hand.session.undo()
    assert hand.state.design.line(2).y_m == pytest.approx(3.2)


def test_nudges_are_put_back_by_escape_and_taken_by_a_click(hand: "Hand") -> None:
    hand.click(MIDDLE)
    hand.key(Key.Key_Down)
    hand.key(Key.Key_Escape)
    assert hand.state.preview is None
    assert hand.state.undo == ()
    hand.key(Key.Key_Down)
    hand.click((30.0, 15.0))
    assert len(hand.state.undo) == 1


def test_ctrl_d_repeats_and_again_adds_one_more(hand: "Hand") -> None:
    hand.click((12.0, 6.4))
    hand.key(Key.Key_D, control=True)
    hand.key(Key.Key_D, control=True)
    assert len(hand.state.shown.lines) == 5
    assert hand.state.undo == ()
    hand.key(Key.Key_Return)
    assert [line.y_m for line in hand.state.design.lines[3:]] == pytest.approx([9.6, 12.8])
    assert hand.last == "Repeat Line 3 twice at 3.20 m"


def test_a_repeat_is_left_by_escape_and_taken_by_what_comes_next(hand: "Hand") -> None:
    hand.click((12.0, 6.4))
    hand.key(Key.Key_D, control=True)
    hand.key(Key.Key_Escape)
    assert hand.state.preview is None
    assert len(hand.state.shown.lines) == 3
    hand.key(Key.Key_D, control=True)
    hand.click((30.0, 20.0))
    assert len(hand.state.design.lines) == 4


def test_delete_removes_lines_and_a_held_corner(hand: "Hand") -> None:
    hand.click(MIDDLE)
    hand.key(Key.Key_Delete)
    assert [line.id for line in hand.state.design.lines] == [1, 3]
    hand.click((50.0, 10.0))
    hand.click((50.0, 28.0))
    hand.key(Key.Key_Delete)
    assert len(hand.state.design.plot.boundary) == 3


def test_corners_are_dragged_and_drawn_out_of_edges(hand: "Hand") -> None:
    hand.click((50.0, 15.0))
    hand.drag((50.0, 28.0), (46.0, 30.0))
    assert hand.state.design.plot.boundary[2] == pytest.approx((46.0, 30.0), abs=0.2)
    hand.drag((20.0, -8.0), (20.0, -10.0))
    assert len(hand.state.design.plot.boundary) == 5
    assert hand.last == "Insert a corner"


def test_space_and_middle_button_pan_and_f_fits(hand: "Hand") -> None:
    start = hand.canvas.camera
    QTest.keyPress(hand.canvas, Key.Key_Space)
    hand.drag(MIDDLE, (20.0, 10.0))
    QTest.keyRelease(hand.canvas, Key.Key_Space)
    assert hand.canvas.camera.x_m == pytest.approx(start.x_m - 8.0, abs=0.3)
    assert hand.state.undo == ()
    QTest.mousePress(hand.canvas, Qt.MouseButton.MiddleButton, pos=QPoint(300, 300))
    QTest.mouseMove(hand.canvas, QPoint(340, 300))
    QTest.mouseRelease(hand.canvas, Qt.MouseButton.MiddleButton, pos=QPoint(340, 300))
    assert hand.canvas.camera.x_m < start.x_m - 8.0
    hand.key(Key.Key_F)
    assert hand.canvas.camera == start


def test_the_wheel_zooms_to_the_pointer(hand: "Hand") -> None:
    spot = QPointF(300.0, 200.0)
    before = hand.canvas.camera.to_m(300.0, 200.0)
    event = QWheelEvent(
        spot, hand.canvas.mapToGlobal(spot), QPoint(), QPoint(0, 240), Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(hand.canvas, event)
    assert hand.canvas.camera.to_m(300.0, 200.0) == pytest.approx(before)
    assert hand.canvas.camera.px_per_m > 0


def test_the_view_says_what_is_selected(hand: "Hand") -> None:
    assert hand.canvas.accessibleName() == "Plan, nothing selected"
    hand.click(MIDDLE)
    assert hand.canvas.accessibleName() == "Plan, selected: Line 2 with 20 mirrors"
    assert hand.canvas.accessibleDescription().startswith("3 lines, 60 mirrors; plot with 4 corners")


def test_chips_show_and_hide_layers(hand: "Hand") -> None:
    assert hand.canvas.drawing.shadows
    hand.view.chips["shadows"].click()
    assert "shadows" not in hand.state.layers
    assert not hand.canvas.drawing.shadows
    assert hand.view.scale.text().startswith("1")
