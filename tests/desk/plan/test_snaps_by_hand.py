"""Snaps as the hand meets them: in every drawing tool and every drag, named on screen, off with Alt."""

from typing import TYPE_CHECKING

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QApplication

from studio.design.obstacles import Tree
from studio.desk.plan.tools.chain import Drawn
from studio.desk.plan.tools.pick import PickTool
from studio.desk.plan.tools.under import handles
from studio.desk.state import Subject
from studio.edits.obstacles import add_block, add_tree

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key


def move(hand: "Hand", at: tuple[float, float], *, alt: bool = False, pressed: bool = False) -> None:
    """The mouse at a place, with Alt or the left button down."""
    x, y = hand.canvas.camera.to_px(at)
    spot = QPointF(float(x), float(y))
    button = Qt.MouseButton.LeftButton if pressed else Qt.MouseButton.NoButton
    held = Qt.KeyboardModifier.AltModifier if alt else Qt.KeyboardModifier.NoModifier
    event = QMouseEvent(
        QEvent.Type.MouseMove, spot, hand.canvas.mapToGlobal(spot), Qt.MouseButton.NoButton, button, held
    )
    QApplication.sendEvent(hand.canvas, event)


def caught(hand: "Hand") -> tuple[str, tuple[float, float]]:
    tool = hand.canvas.tool
    assert isinstance(tool, Drawn)
    assert tool.hand is not None
    return tool.hand.name, tool.hand.point


@pytest.fixture(params=[Key.Key_P, Key.Key_N, Key.Key_O, Key.Key_L, Key.Key_H, Key.Key_S, Key.Key_M])
def drawing(hand: "Hand", request: pytest.FixtureRequest) -> "Hand":
    hand.key(request.param)
    return hand


def test_every_tool_is_caught_by_a_corner_and_says_so(drawing: "Hand") -> None:
    move(drawing, (38.1, 25.9))
    name, point = caught(drawing)
    assert (name, point) == ("corner", (38.0, 26.0))
    drawing.canvas.grab()


def test_every_tool_lets_go_with_alt(drawing: "Hand") -> None:
    move(drawing, (38.1, 25.9), alt=True)
    name, point = caught(drawing)
    assert name == ""
    assert point == pytest.approx((38.1, 25.9), abs=1e-9)


def test_every_tool_is_caught_by_edge_middle_and_extension(drawing: "Hand") -> None:
    move(drawing, (42.1, 20.1))
    assert caught(drawing)[0] == "middle"
    move(drawing, (40.1, 20.15))
    name, point = caught(drawing)
    assert name == "edge"
    assert point == pytest.approx((40.1, 20.0))
    move(drawing, (34.0, 20.1))
    name, point = caught(drawing)
    assert name == "extension of well"
    assert point == pytest.approx((34.0, 20.0))


def test_every_tool_is_caught_by_the_grid_once_it_is_shown(drawing: "Hand") -> None:
    step_free = (20.07, 14.06)
    move(drawing, step_free)
    assert caught(drawing)[0] == ""
    drawing.session.toggle_layer("grid")
    grid = drawing.canvas.grid_m
    assert grid is not None
    move(drawing, (20.0 + 0.07, 14.0 + 0.06))
    name, point = caught(drawing)
    assert name == "grid"
    assert np.allclose(np.round(np.array(point) / grid) * grid, point)


def test_a_new_line_is_caught_at_the_pitch_and_level_with_the_last_one(hand: "Hand") -> None:
    hand.key(Key.Key_L)
    move(hand, (0.15, 9.55))
    name, point = caught(hand)
    assert name == "crossing: pitch 3.20 m to Line 3, level with Line 3"
    assert point == pytest.approx((0.0, 9.6), abs=1e-9)
    move(hand, (7.0, 9.5))
    assert caught(hand)[0] == "pitch 3.20 m to Line 3"


def test_a_segment_is_drawn_parallel_and_square_to_an_edge_near_by(hand: "Hand") -> None:
    hand.session.apply(
        add_block(hand.state.design, corners=[(10.0, 14.0), (22.0, 19.0), (20.5, 22.6), (8.5, 17.6)])
    )
    hand.key(Key.Key_N)
    hand.click((11.0, 24.0))
    x0, y0 = hand.points[0]
    # along (12, 5): 5 degrees of slope more than the compass would catch
    move(hand, (11.0 - 9.0, 24.0 - 3.7))
    name, point = caught(hand)
    assert name == "parallel to shed"
    assert (point[0] - x0) * 5.0 - (point[1] - y0) * 12.0 == pytest.approx(0.0, abs=1e-6)
    move(hand, (11.0 + 2.5, 24.0 - 5.4))
    name, point = caught(hand)
    assert "square to shed" in name
    assert (point[0] - x0) * 12.0 + (point[1] - y0) * 5.0 == pytest.approx(0.0, abs=1e-6)


def test_a_rectangle_closes_square_by_the_first_corner(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    bare.click((0.0, 0.0))
    bare.click((12.3, 4.1))
    far = (12.3 - 4.1 * 1.7, 4.1 + 12.3 * 1.7)
    bare.click((far[0] + 0.1, far[1] + 0.05))
    move(bare, (-4.1 * 1.7 + 0.2, 12.3 * 1.7 + 0.15))
    name, point = caught(bare)
    assert "level with the first corner" in name
    a, b = np.array(bare.points[:2])
    assert float((b - a) @ (np.array(point) - a)) == pytest.approx(0.0, abs=0.05)


def test_a_dragged_corner_is_caught_square_to_both_its_edges(hand: "Hand") -> None:
    hand.click((42.0, 23.0))
    hand.drag((46.0, 26.0), (44.05, 26.08))
    assert hand.state.design.plot.no_build[0].ring[2][1] == pytest.approx(26.0, abs=1e-9), (
        "level with the edge behind"
    )
    hand.drag(hand.state.design.plot.no_build[0].ring[2], (46.06, 26.05))
    assert hand.state.design.plot.no_build[0].ring[2] == pytest.approx((46.0, 26.0), abs=1e-9)


def test_a_carried_area_sets_its_corner_on_another_corner(hand: "Hand") -> None:
    hand.drag((45.6, 25.5), (45.6 + 4.05, 25.5 + 2.1))
    ring = hand.state.design.plot.no_build[0].ring
    assert ring[2] == (50.0, 28.0), "the corner next to the hand went to the plot's corner"
    assert ring[0] == pytest.approx((42.0, 22.0))


def test_a_carried_tree_and_the_store_are_caught_by_edges(hand: "Hand") -> None:
    hand.session.apply(add_tree(hand.state.design, x_m=20.0, y_m=18.0))
    hand.drag((20.0, 18.0), (20.02, 27.9))
    tree = hand.state.design.obstacles[0]
    assert isinstance(tree, Tree)
    assert tree.place[1] == pytest.approx(28.0)
    hand.drag((42.0, 3.0), (49.9, 3.05))
    assert hand.state.design.store.x_m == pytest.approx(50.0)


def test_a_line_end_stops_at_the_edge_it_meets(hand: "Hand") -> None:
    hand.click((12.0, 6.4))
    found = handles(hand.canvas.drawing, hand.state.selection, hand.canvas.camera)
    x, y = next(handle.at for handle in found if handle.kind == "far")
    hand.drag((x, y), (x + 24.2, y), let_go=False)
    tool = hand.canvas.tool
    assert isinstance(tool, PickTool)
    assert tool.drag is not None
    assert tool.drag.name == "edge"
    assert tool.drag.guides
    hand.canvas.grab()


def test_a_whole_line_is_set_with_its_end_on_a_corner(hand: "Hand") -> None:
    hand.drag((12.0, 6.4), (12.0 - 10.0 + 0.15, 6.4 + 21.6 - 0.1), let_go=False)
    tool = hand.canvas.tool
    assert isinstance(tool, PickTool)
    assert tool.drag is not None
    assert tool.drag.name == "its end on corner"
    hand.canvas.flush()
    line = hand.state.shown.line(3)
    assert (line.x_m, line.y_m) == pytest.approx((-10.0, 28.0))
    move(hand, (2.0, 27.9), alt=True, pressed=True)
    assert tool.drag.name == ""


def test_the_pointer_is_told_with_its_place_on_earth_and_the_grid(hand: "Hand") -> None:
    from studio.desk.plan.foot import told_at_foot

    told = told_at_foot(hand.state, (0.0, 0.0), 5.0)
    assert told[:3] == ["x 0.00 m", "y 0.00 m", "height 0.00 m"]
    assert told[3:5] == ["33.500000° N 5.000000° W", "grid 25 m, by 5 m"]


def test_what_is_selected_is_brought_into_sight(hand: "Hand") -> None:
    hand.click((42.0, 23.0))
    assert hand.state.selection == {Subject("no_build", 0)}
    before = hand.canvas.camera.px_per_m
    hand.type("F")
    assert hand.canvas.camera.px_per_m > 2 * before
    x0, y0, x1, y1 = hand.canvas.camera.bounds
    assert x0 < 38.0 < 46.0 < x1
    assert y0 < 20.0 < 26.0 < y1
    hand.type("f")
    assert hand.canvas.camera.px_per_m == pytest.approx(before)
