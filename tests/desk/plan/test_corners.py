"""Corners of the boundary, of areas, of walls and sheds, of the header's route: nudged, inserted, typed, taken away."""

from typing import TYPE_CHECKING

import pytest
from PySide6.QtCore import Qt

from studio.design.obstacles import Block
from studio.design.site import Ring
from studio.desk.plan.tools.pick import PickTool
from studio.desk.state import Subject
from studio.edits.header import set_header_route
from studio.edits.obstacles import add_block

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key
RING = ((12.0, 15.0), (22.0, 15.0), (22.0, 22.0), (12.0, 22.0))
KINDS = {
    "boundary": Subject("boundary"), "no_build": Subject("no_build", 0), "obstacle": Subject("obstacle", 0),
    "header": Subject("header", "hot"),
}  # fmt: skip


def ring(hand: "Hand", kind: str) -> Ring:
    design = hand.state.design
    if kind == "boundary":
        return design.plot.boundary
    if kind == "no_build":
        return design.plot.no_build[0].ring
    if kind == "header":
        return design.header.hot
    one = design.obstacles[0]
    assert isinstance(one, Block)
    return one.ring


@pytest.fixture(params=list(KINDS))
def kind(hand: "Hand", request: pytest.FixtureRequest) -> str:
    """One thing with corners, selected."""
    wanted = str(request.param)
    if wanted == "obstacle":
        hand.session.apply(add_block(hand.state.design, corners=RING))
    if wanted == "header":
        hand.session.apply(set_header_route(hand.state.design, side="hot", points=RING[:3]))
    hand.session.select(KINDS[wanted])
    return wanted


def test_a_corner_that_was_clicked_is_nudged_by_arrow_keys(hand: "Hand", kind: str) -> None:
    x, y = ring(hand, kind)[1]
    hand.click((x, y))
    hand.key(Key.Key_Left)
    hand.key(Key.Key_Left)
    hand.key(Key.Key_Up, shift=True)
    hand.canvas.nudges.commit()
    assert ring(hand, kind)[1] == pytest.approx((x - 0.2, y + 1.0))
    assert hand.last.startswith("Move corner 2")
    hand.session.undo()
    assert ring(hand, kind)[1] == (x, y)


def test_a_double_click_on_an_edge_puts_a_corner_there(hand: "Hand", kind: str) -> None:
    (x0, y0), (x1, y1) = ring(hand, kind)[1:3]
    before = len(ring(hand, kind))
    at = x0 + 0.3 * (x1 - x0), y0 + 0.3 * (y1 - y0)
    hand.click(at, double=True)
    assert len(ring(hand, kind)) == before + 1
    assert ring(hand, kind)[2] == pytest.approx(at, abs=0.06)
    assert hand.last.startswith("Insert a corner")


def test_a_corner_is_drawn_out_of_the_middle_of_an_edge(hand: "Hand", kind: str) -> None:
    (x0, y0), (x1, y1) = ring(hand, kind)[0:2]
    before = len(ring(hand, kind))
    middle = (x0 + x1) / 2, (y0 + y1) / 2
    hand.drag(middle, (middle[0] + 0.7, middle[1] - 1.3))
    assert len(ring(hand, kind)) == before + 1
    assert ring(hand, kind)[1] == pytest.approx((middle[0] + 0.7, middle[1] - 1.3), abs=0.15)


def test_delete_takes_the_held_corner_and_not_the_thing(hand: "Hand", kind: str) -> None:
    before = ring(hand, kind)
    hand.click(before[1])
    hand.key(Key.Key_Delete)
    assert ring(hand, kind) == before[:1] + before[2:]
    assert hand.last.startswith("Remove corner 2")
    while len(ring(hand, kind)) > (2 if kind == "header" else 3):
        hand.click(ring(hand, kind)[1])
        hand.key(Key.Key_Delete)
    kept = ring(hand, kind)
    hand.click(kept[1])
    hand.key(Key.Key_Delete)
    assert ring(hand, kind) == kept
    assert "keeps" in hand.state.notice


def test_a_double_click_on_a_corner_opens_its_x_and_y(hand: "Hand", kind: str) -> None:
    x, y = ring(hand, kind)[1]
    hand.click((x, y), double=True)
    tool = hand.canvas.tool
    assert isinstance(tool, PickTool)
    assert tool.figures is not None
    assert (tool.figures["x"].value, tool.figures["y"].value) == pytest.approx((x, y))
    hand.type(f"{x - 0.5:g}")
    hand.canvas.flush()
    hand.canvas.grab()
    assert hand.state.preview is not None, "shown while it is typed"
    hand.key(Key.Key_Tab)
    hand.type(f"{y:g} + 1.25")
    hand.key(Key.Key_Return)
    assert ring(hand, kind)[1] == pytest.approx((x - 0.5, y + 1.25))
    assert hand.last.startswith("Move corner 2")


def test_a_corner_is_typed_as_bearing_and_distance_from_the_one_before(hand: "Hand") -> None:
    hand.session.apply(add_block(hand.state.design, corners=RING))
    hand.session.select(Subject("obstacle", 0))
    hand.key(Key.Key_Tab)
    hand.key(Key.Key_Tab)
    hand.key(Key.Key_Return)  # the second corner, without the mouse
    for _turn in range(3):
        hand.key(Key.Key_Tab)
    hand.type("N 60 E 9")
    hand.key(Key.Key_Return)
    assert ring(hand, "obstacle")[1] == pytest.approx((12.0 + 9 * 0.8660254, 15.0 + 4.5))


def test_escape_leaves_the_corner_where_it_was(hand: "Hand") -> None:
    hand.session.select(Subject("no_build", 0))
    before = hand.state.design
    hand.click((46.0, 26.0), double=True)
    hand.type("44")
    hand.key(Key.Key_Escape)
    assert hand.state.preview is None
    assert hand.state.design is before
    assert hand.state.selection == {Subject("no_build", 0)}


def test_a_corner_that_would_cross_its_ring_is_refused_in_a_sentence(hand: "Hand") -> None:
    hand.session.select(Subject("no_build", 0))
    hand.click((46.0, 26.0), double=True)
    hand.type("42 15")
    hand.key(Key.Key_Return)
    assert "cross" in hand.state.notice
    assert hand.state.design.plot.no_build[0].ring[2] == (46.0, 26.0)


def test_a_header_that_follows_by_itself_has_no_corners(hand: "Hand") -> None:
    hand.session.select(Subject("header", "hot"))
    tool = hand.canvas.tool
    assert isinstance(tool, PickTool)
    assert tool.handles == []
