"""Several things at once: taken by a box, aligned, spaced, mirrored, turned, carried, by strip, menu and keys."""

from typing import TYPE_CHECKING

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from studio.design.field import Line
from studio.design.obstacles import Block
from studio.design.site import Ring
from studio.desk.plan.arranging import ACTS
from studio.desk.plan.context import menu_at
from studio.desk.plan.tools.pick import PickTool
from studio.desk.plan.tools.tool import Pointer
from studio.desk.state import Subject
from studio.edits.geometry import last_vertex, middle
from studio.edits.lines import move_lines
from studio.edits.obstacles import add_block, add_tree

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key
SHED = ((30.0, 14.0), (36.0, 14.0), (36.0, 18.0), (30.0, 18.0))


def shuffle(hand: "Hand") -> None:
    """Lines that stand neither level nor evenly."""
    for line_id, dx, dy in ((2, 2.0, 0.9), (3, -1.5, 1.6)):
        hand.session.apply(move_lines(hand.state.design, ids=[line_id], dx_m=dx, dy_m=dy))
    hand.key(Key.Key_A, control=True)
    assert hand.state.selected_lines() == (1, 2, 3)


def seen(hand: "Hand") -> bool:
    """Whether the strip is shown, once the plan was painted."""
    hand.canvas.repaint()
    QApplication.processEvents()
    return hand.view.strip.isVisible()


def shed(hand: "Hand") -> Ring:
    one = hand.state.design.obstacles[0]
    assert isinstance(one, Block)
    return one.ring


def ys(hand: "Hand") -> list[float]:
    return [line.y_m for line in hand.state.shown.lines]


def xs(hand: "Hand") -> list[float]:
    return [line.x_m for line in hand.state.shown.lines]


def test_a_box_takes_what_lies_wholly_inside_either_way_round(hand: "Hand") -> None:
    hand.session.apply(add_block(hand.state.design, corners=SHED))
    hand.session.apply(add_tree(hand.state.design, x_m=20.0, y_m=16.0))
    wanted = {Subject("obstacle", 0), Subject("obstacle", 1)}
    hand.drag((14.0, 12.0), (37.0, 19.5))
    assert hand.state.selection == wanted
    hand.drag((37.0, 19.5), (14.0, 12.0))
    assert hand.state.selection == wanted, "leftwards is the same"
    hand.drag((14.0, 12.0), (35.0, 19.5))
    assert hand.state.selection == {Subject("obstacle", 1)}, "the shed reaches out of it"
    hand.drag((-8.0, -5.0), (36.5, 19.0))
    assert hand.state.selection == wanted | {Subject("line", n) for n in (1, 2, 3)}
    hand.drag((37.0, 19.0), (47.0, 27.0))
    assert hand.state.selection == {Subject("no_build", 0)}


def test_with_shift_a_box_adds(hand: "Hand") -> None:
    hand.click((42.0, 23.0))
    a, b = hand.px((-8.0, -5.0)), hand.px((36.5, 1.7))
    shift = Qt.KeyboardModifier.ShiftModifier
    QTest.mousePress(hand.canvas, Qt.MouseButton.LeftButton, shift, a)
    QTest.mouseMove(hand.canvas, b)
    QTest.mouseRelease(hand.canvas, Qt.MouseButton.LeftButton, shift, b)
    assert hand.state.selection == {Subject("no_build", 0), Subject("line", 1)}


def test_all_lines_and_then_everything(hand: "Hand") -> None:
    hand.session.apply(add_tree(hand.state.design, x_m=20.0, y_m=16.0))
    hand.key(Key.Key_A, control=True)
    assert len(hand.state.selection) == 3
    hand.key(Key.Key_A, control=True)
    assert len(hand.state.selection) == 5


def test_tab_goes_to_what_lies_beneath_and_a_drag_takes_that(hand: "Hand") -> None:
    hand.session.apply(add_tree(hand.state.design, x_m=42.0, y_m=23.0))
    hand.click((42.0, 23.0))
    assert hand.state.selection == {Subject("obstacle", 0)}
    hand.key(Key.Key_Tab)
    assert hand.state.selection == {Subject("no_build", 0)}
    hand.drag((42.0, 23.0), (40.0, 22.0))
    assert hand.state.design.plot.no_build[0].ring[0] == pytest.approx((36.0, 19.0), abs=0.1)
    assert hand.last == "Move no-build area well"


@pytest.mark.parametrize(
    ("key", "part"), [(Key.Key_Left, "drive"), (Key.Key_Right, "far"), (Key.Key_Down, "middle")]
)
def test_ends_are_aligned_by_key_in_one_step(hand: "Hand", key: Key, part: str) -> None:
    shuffle(hand)
    steps = len(hand.state.undo)
    hand.key(key, control=True)
    ground = hand.state.design.ground

    def at(line: Line) -> float:
        places = {"drive": (line.x_m,), "far": last_vertex(line, ground), "middle": middle(line, ground)}
        return places[part][0]

    assert len({round(at(line), 6) for line in hand.state.design.lines}) == 1
    assert len(hand.state.undo) == steps + 1
    assert hand.last.startswith("Align 3 lines at their")


def test_pitches_are_made_even_and_set_by_typing(hand: "Hand") -> None:
    shuffle(hand)
    hand.key(Key.Key_E, control=True)
    assert ys(hand)[2] - ys(hand)[1] == pytest.approx(ys(hand)[1] - ys(hand)[0])
    assert hand.last.startswith("Space 3 lines evenly")
    hand.key(Key.Key_P, control=True)
    hand.type("2,9")
    hand.canvas.flush()
    assert ys(hand) == pytest.approx([0.0, 2.9, 5.8]), "seen while it is typed"
    hand.key(Key.Key_Return)
    assert ys(hand) == pytest.approx([0.0, 2.9, 5.8])
    assert hand.last == "Set the pitch of 3 lines to 2.90 m"


def test_turning_is_seen_while_it_is_typed_and_is_one_step(hand: "Hand") -> None:
    hand.key(Key.Key_A, control=True)
    before, steps = hand.state.design, len(hand.state.undo)
    hand.key(Key.Key_T, control=True)
    hand.type("30")
    hand.canvas.flush()
    hand.canvas.grab()
    assert [line.azimuth_deg for line in hand.state.shown.lines] == pytest.approx([120.0] * 3)
    assert hand.state.design is before
    hand.key(Key.Key_Return)
    assert [line.azimuth_deg for line in hand.state.design.lines] == pytest.approx([120.0] * 3)
    assert len(hand.state.undo) == steps + 1
    assert hand.last == "Turn 3 lines by +30.0°"
    hand.session.undo()
    assert hand.state.design is before


def test_mirroring_about_a_typed_azimuth(hand: "Hand") -> None:
    hand.session.apply(add_block(hand.state.design, corners=SHED))
    hand.click((33.0, 16.0))
    hand.key(Key.Key_I, control=True)
    hand.type("45")
    hand.canvas.grab()
    hand.key(Key.Key_Return)
    ring = shed(hand)
    # about the diagonal through (33, 16) the sides of 6 and 4 m change places
    assert np.array(sorted(ring)) == pytest.approx(np.array([(31, 13), (31, 19), (35, 13), (35, 19)]))
    assert hand.last == "Mirror shed about 45.0°"


def test_escape_and_a_click_elsewhere_leave_what_was_only_looked_at(hand: "Hand") -> None:
    hand.key(Key.Key_A, control=True)
    before = hand.state.design
    hand.key(Key.Key_I, control=True)
    hand.canvas.flush()
    assert hand.state.preview is not None
    hand.key(Key.Key_Escape)
    assert hand.state.preview is None
    assert hand.state.selected_lines() == (1, 2, 3)
    hand.key(Key.Key_I, control=True)
    hand.click((25.0, 24.0))
    assert hand.state.preview is None
    assert hand.state.design is before
    hand.key(Key.Key_A, control=True)
    hand.key(Key.Key_T, control=True)
    hand.type("ten")
    hand.type("(")
    hand.key(Key.Key_Return)
    assert hand.state.notice
    assert hand.state.design is before


def test_the_strip_stands_above_several_and_does_what_it_says(hand: "Hand") -> None:
    shuffle(hand)
    strip = hand.view.strip
    assert seen(hand)
    assert hand.canvas.rect().contains(strip.geometry())
    top = hand.canvas.camera.to_px((0.0, max(ys(hand)) + 1.0))[1]
    assert strip.geometry().bottom() < top
    for act in ACTS:
        button = strip.buttons[act.key]
        assert button.isVisible()
        assert button.accessibleName()
        assert act.keys in button.toolTip()
    QTest.mouseClick(strip.buttons["drive"], Qt.MouseButton.LeftButton)
    assert xs(hand) == pytest.approx([0.0, 0.0, 0.0])
    QTest.mouseClick(strip.buttons["turn"], Qt.MouseButton.LeftButton)
    assert not seen(hand), "away while a figure is typed"
    hand.type("15")
    hand.key(Key.Key_Return)
    assert hand.state.design.lines[0].azimuth_deg == pytest.approx(105.0)
    assert seen(hand)
    hand.key(Key.Key_Escape)
    assert not seen(hand)


def test_with_other_things_the_strip_offers_what_fits_them(hand: "Hand") -> None:
    hand.session.apply(add_block(hand.state.design, corners=SHED))
    hand.session.select(Subject("obstacle", 0), Subject("no_build", 0))
    assert seen(hand)
    shown = [key for key, button in hand.view.strip.buttons.items() if button.isVisible()]
    assert shown == ["mirror", "turn"]


def test_the_strip_is_away_while_a_hand_drags(hand: "Hand") -> None:
    hand.key(Key.Key_A, control=True)
    hand.drag((5.0, 3.2), (5.0, 6.0), let_go=False)
    hand.canvas.flush()
    assert not seen(hand)
    QTest.mouseRelease(hand.canvas, Qt.MouseButton.LeftButton, pos=hand.px((5.0, 6.0)))
    assert seen(hand)


def test_mixed_things_are_dragged_nudged_and_removed_as_one(hand: "Hand") -> None:
    hand.session.apply(add_block(hand.state.design, corners=SHED))
    hand.drag((-8.0, -5.0), (36.5, 19.0))
    assert len(hand.state.selection) == 4
    hand.drag((5.0, 3.2), (5.0, 4.7))
    ring = shed(hand)
    assert ring[0][1] - 14.0 == pytest.approx(ys(hand)[0], abs=1e-9)
    assert ys(hand)[0] == pytest.approx(1.5, abs=0.1)
    assert hand.last.startswith("Move 4 things by")
    hand.key(Key.Key_Up)
    hand.canvas.nudges.commit()
    assert hand.last == "Move 4 things by 0.10 m"
    hand.key(Key.Key_Delete)
    assert hand.last == "Remove 4 things"
    assert hand.state.design.lines == ()
    assert hand.state.design.obstacles == ()
    hand.session.undo()
    assert len(hand.state.design.lines) == 3


def test_the_menu_offers_what_can_be_done_there(hand: "Hand") -> None:
    tool = hand.canvas.tool
    assert isinstance(tool, PickTool)

    def words(at: tuple[float, float]) -> list[str]:
        x, y = (float(part) for part in hand.canvas.camera.to_px(at))
        menu = menu_at(hand.canvas, tool, Pointer(at, x, y), by_mouse=True)
        found = [action.text().split("\t")[0] for action in menu.actions() if action.text()]
        menu.close()
        return found

    assert "Copy" not in words((25.0, 24.0))
    there = words((42.0, 23.0))
    assert hand.state.selection == {Subject("no_build", 0)}, "what lies there is selected first"
    assert {"Mirror…", "Turn…", "Copy", "Cut", "Paste", "Remove", "Selected in sight"} <= set(there)
    assert "Type x and y of the corner…" in words((46.0, 26.0))
    assert "Insert a corner here" in words((40.0, 20.0))
    hand.key(Key.Key_A, control=True)
    assert {"Drive ends", "Evenly", "Pitch…", "Repeat…"} <= set(words((12.0, 3.2)))


def test_the_menu_opens_by_a_right_click_and_inserts_a_corner(hand: "Hand") -> None:
    hand.click((42.0, 23.0))
    spot = hand.px((40.0, 20.0))
    from PySide6.QtGui import QContextMenuEvent

    event = QContextMenuEvent(
        QContextMenuEvent.Reason.Mouse, spot, hand.canvas.mapToGlobal(spot), Qt.KeyboardModifier.NoModifier
    )
    QApplication.sendEvent(hand.canvas, event)
    menu = QApplication.activePopupWidget()
    assert menu is not None
    QTest.keyClick(menu, Key.Key_Down)
    QTest.keyClick(menu, Key.Key_Return)
    assert len(hand.state.design.plot.no_build[0].ring) == 5
    assert hand.last == "Insert a corner"
    assert QPoint(spot) == spot
