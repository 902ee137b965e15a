"""Obstacles by hand: drawn, placed, moved, typed, removed and taken back, with real mouse and key events."""

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
import shapely
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from studio.design.design import Document
from studio.design.obstacles import Block, Fence, Pole, Tree
from studio.desk.sheet import Sheet
from studio.desk.state import Subject
from studio.desk.theme import Theme
from studio.desk.tool_box import ToolBox
from studio.edits.edit import Edit
from studio.edits.obstacles import add_block
from studio.study.assess import Assessor

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key
SHED = ((-6.0, 20.0), (-2.0, 20.0), (-2.0, 25.0), (-6.0, 25.0))


def draw_shed(hand: "Hand") -> None:
    hand.key(Key.Key_O)
    for corner in SHED:
        hand.click(corner)
    hand.key(Key.Key_Return)


def test_a_shed_drawn_corner_by_corner_is_selected_and_taken_back(hand: "Hand") -> None:
    draw_shed(hand)
    (shed,) = hand.state.design.obstacles
    assert isinstance(shed, Block)
    assert np.array(shed.ring) == pytest.approx(np.array(SHED), abs=0.2)
    assert hand.state.selection == {Subject("obstacle", 0)}
    assert hand.last == "Draw shed"
    hand.session.undo()
    assert hand.state.design.obstacles == ()
    assert hand.state.selection == frozenset()
    hand.session.redo()
    assert len(hand.state.design.obstacles) == 1
    assert hand.state.design.obstacles[0] == shed


def test_trees_by_shift_and_by_the_letter_and_a_pole(hand: "Hand") -> None:
    hand.key(Key.Key_O)
    assert "Shift plants a tree" in hand.canvas.tool.hint
    hand.click((-5.0, -4.0), shift=True)
    hand.key(Key.Key_O)
    hand.key(Key.Key_O)
    hand.click((-5.0, 6.0))
    hand.key(Key.Key_O)
    hand.click((-5.0, 15.0))
    assert [type(one) for one in hand.state.design.obstacles] == [Tree, Tree, Pole]
    pole = hand.state.design.obstacles[2]
    assert isinstance(pole, Pole)
    assert pole.place == pytest.approx((-5.0, 15.0), abs=0.2)
    assert hand.last == "Place pole"
    hand.key(Key.Key_O)
    assert "Wall or shed" in hand.canvas.tool.hint


def test_an_obstacle_is_picked_dragged_and_removed(hand: "Hand") -> None:
    draw_shed(hand)
    hand.key(Key.Key_Escape)
    hand.session.select()
    before = hand.state.design.obstacles[0]
    assert isinstance(before, Block)
    hand.click((-4.0, 22.0))
    assert hand.state.selection == {Subject("obstacle", 0)}
    hand.drag((-4.0, 22.0), (-1.0, 21.0))
    after = hand.state.design.obstacles[0]
    assert isinstance(after, Block)
    assert np.array(after.ring) - np.array(before.ring) == pytest.approx(
        np.tile([3.0, -1.0], (4, 1)), abs=0.2
    )
    assert hand.last == "Move shed"
    assert len(hand.state.undo) == 2
    hand.key(Key.Key_Delete)
    assert hand.state.design.obstacles == ()
    hand.session.undo()
    assert list(hand.state.design.obstacles) == [after]


def test_corners_are_moved_inserted_and_removed(hand: "Hand") -> None:
    draw_shed(hand)
    hand.key(Key.Key_Escape)
    shed = hand.state.design.obstacles[0]
    assert isinstance(shed, Block)
    x, y = shed.ring[0]
    hand.drag((x, y), (x - 2.0, y - 1.0))
    moved = hand.state.design.obstacles[0]
    assert isinstance(moved, Block)
    assert moved.ring[0] == pytest.approx((x - 2.0, y - 1.0), abs=0.2)
    assert moved.ring[1:] == shed.ring[1:]
    one, other = np.array(moved.ring[1]), np.array(moved.ring[2])
    hand.drag(tuple((one + other) / 2), (1.0, 22.5))
    longer = hand.state.design.obstacles[0]
    assert isinstance(longer, Block)
    assert len(longer.ring) == 5
    hand.click(longer.ring[2])
    hand.key(Key.Key_Delete)
    shorter = hand.state.design.obstacles[0]
    assert isinstance(shorter, Block)
    assert shorter.ring == moved.ring
    assert [step.label for step in hand.state.undo[-3:]] == [
        "Move corner 1 of shed", "Insert a corner of shed", "Remove corner 3 of shed",
    ]  # fmt: skip


def test_arrow_keys_move_the_selected_tree(hand: "Hand") -> None:
    hand.key(Key.Key_O)
    hand.click((-5.0, -4.0), shift=True)
    hand.key(Key.Key_Escape)
    tree = hand.state.design.obstacles[0]
    assert isinstance(tree, Tree)
    hand.key(Key.Key_Up)
    hand.key(Key.Key_Up)
    hand.canvas.nudges.commit()
    higher = hand.state.design.obstacles[0]
    assert isinstance(higher, Tree)
    assert higher.place == pytest.approx((tree.place[0], tree.place[1] + 0.2))


def field(sheet: Sheet, name: str) -> QLineEdit:
    return next(
        one
        for one in sheet.findChildren(QLineEdit)
        if one.isVisible() and name in one.accessibleName().casefold()
    )


def typed(edit: QLineEdit, text: str) -> None:
    edit.setFocus()
    edit.selectAll()
    QTest.keyClick(edit, Key.Key_Delete)
    QTest.keyClicks(edit, text)
    QTest.keyClick(edit, Key.Key_Return)


def test_height_and_name_are_typed_on_the_sheet(hand: "Hand", qtbot: QtBot, theme: Theme) -> None:
    sheet = Sheet(hand.session, theme)
    qtbot.addWidget(sheet)
    sheet.show()
    draw_shed(hand)
    typed(field(sheet, "height"), "4.5")
    typed(field(sheet, "name"), "barn")
    shed = hand.state.design.obstacles[0]
    assert (shed.name, shed.height_m) == ("barn", 4.5)
    typed(field(sheet, "height"), "0")
    assert hand.state.design.obstacles[0].height_m == 4.5
    hand.session.undo()
    hand.session.undo()
    hand.session.undo()
    assert hand.state.design.obstacles == ()


def test_a_field_left_half_typed_when_its_obstacle_goes_changes_nothing(
    hand: "Hand", qtbot: QtBot, theme: Theme
) -> None:
    sheet = Sheet(hand.session, theme)
    qtbot.addWidget(sheet)
    sheet.show()
    draw_shed(hand)
    edit = field(sheet, "height")
    edit.setFocus()
    edit.selectAll()
    QTest.keyClicks(edit, "7")
    hand.session.undo()
    for key in (Qt.Key.Key_Return, Qt.Key.Key_Up, Qt.Key.Key_Tab):
        QTest.keyClick(edit, key)
    assert hand.state.design.obstacles == ()


def test_the_skyline_is_typed_as_a_list(hand: "Hand", qtbot: QtBot, theme: Theme) -> None:
    sheet = Sheet(hand.session, theme)
    qtbot.addWidget(sheet)
    sheet.show()
    assert sheet.reveal("horizon")
    typed(field(sheet, "skyline"), "120 8; 90 4.5; 370 1")
    assert hand.state.design.horizon.skyline == ((10.0, 1.0), (90.0, 4.5), (120.0, 8.0))
    assert hand.last == "Set the skyline"
    for wrong in ("120", "90 4; 90 5", "10 ninety"):
        typed(field(sheet, "skyline"), wrong)
        assert len(hand.state.design.horizon.skyline) == 3, wrong
    typed(field(sheet, "skyline"), "")
    assert not hand.state.design.horizon.skyline


def shadow_m2(hand: "Hand") -> float:
    shadows = hand.canvas.drawing.shadows
    assert shadows is not None
    outlines = [ring for group in shadows.groups for ring in group]
    return float(shapely.union_all([shapely.Polygon(ring).buffer(0) for ring in outlines]).area)


def test_the_plan_shows_the_shadow_of_what_was_placed(hand: "Hand") -> None:
    before = shadow_m2(hand)
    hand.key(Key.Key_O)
    hand.click((-5.0, 15.0), shift=True)
    assert shadow_m2(hand) > before + 5.0
    picture = hand.canvas.grab().toImage()
    at = hand.px((-5.0, 15.0))
    hand.session.undo()
    plain = hand.canvas.grab().toImage()
    around = [(dx, dy) for dx in range(-40, 41, 2) for dy in range(-40, 41, 2)]
    changed = sum(
        picture.pixel(at.x() + dx, at.y() + dy) != plain.pixel(at.x() + dx, at.y() + dy) for dx, dy in around
    )
    assert changed > 20


def test_its_button_once_more_goes_on_to_the_next_kind(hand: "Hand", qtbot: QtBot, theme: Theme) -> None:
    box = ToolBox(hand.session, theme)
    qtbot.addWidget(box)
    box.show()
    for _time in range(4):
        QTest.mouseClick(box.buttons["obstacle"], Qt.MouseButton.LeftButton)
    assert hand.canvas.tool.hint.startswith("Pole")
    assert box.buttons["obstacle"].isChecked()
    hand.click((-5.0, 15.0))
    assert isinstance(hand.state.design.obstacles[0], Pole)


def test_mirrors_behind_a_shed_wear_the_tint_of_its_shade(hand: "Hand") -> None:
    ring = ((2.0, -5.0), (14.0, -5.0), (14.0, -4.5), (2.0, -4.5))
    hand.session.apply(add_block(hand.state.design, corners=ring, height_m=6.0))
    tint = hand.canvas.drawing.tints[1]
    assert tint.max() == 1.0
    assert tint[-1] == 0.0
    hand.session.undo()
    assert hand.canvas.drawing.tints[1].max() < 0.5


def test_a_line_dragged_past_a_tree_wears_its_shade_and_loses_its_light(hand: "Hand") -> None:
    tree = Tree(
        name="fig", place=(22.0, 16.0), crown_radius_m=2.0, crown_base_m=0.5, height_m=5.0, passes_bare=0.0
    )
    hand.session.apply(Edit("Place fig", replace(hand.state.design, obstacles=(tree,))))
    before = hand.state.design
    middle = hand.canvas.line_centre(3)
    start = hand.canvas.camera.to_m(middle.x(), middle.y())
    hand.drag((float(start[0]), float(start[1])), (float(start[0]), 18.6), let_go=False)
    hand.canvas.flush()
    assert hand.state.preview is not None
    assert hand.canvas.drawing.tints[3].max() > 0.9
    QTest.mouseRelease(hand.canvas, Qt.MouseButton.LeftButton, pos=hand.px((float(start[0]), 18.6)))
    assessor = Assessor()
    here, there = (
        assessor.assess(Document(design=design), calendar=False) for design in (before, hand.state.design)
    )
    lost = {line.id: line.obstacle_loss_year for line in there.lines}
    assert lost[3] > here.lines[2].obstacle_loss_year + 0.01
    assert lost[1] == here.lines[0].obstacle_loss_year
    hand.session.undo()
    assert hand.state.design == before


def test_a_fence_is_drawn_picked_on_its_line_and_bent(hand: "Hand") -> None:
    hand.key(Key.Key_O)
    hand.key(Key.Key_O)
    for corner in ((-5.0, -4.0), (-5.0, 6.0), (-8.0, 14.0)):
        hand.click(corner)
    hand.key(Key.Key_Return)
    fence = hand.state.design.obstacles[0]
    assert isinstance(fence, Fence)
    assert len(fence.path) == 3
    assert hand.last == "Draw fence"
    hand.key(Key.Key_Escape)
    hand.session.select()
    hand.click((-7.0, 4.0))  # between its ends, where an area would be picked
    assert hand.state.selection == frozenset()
    hand.click((-5.0, 2.5))
    assert hand.state.selection == {Subject("obstacle", 0)}
    hand.drag(fence.path[2], (-10.0, 14.0))
    bent = hand.state.design.obstacles[0]
    assert isinstance(bent, Fence)
    assert bent.path[2] == pytest.approx((-10.0, 14.0), abs=0.3)
    assert bent.path[:2] == fence.path[:2]
