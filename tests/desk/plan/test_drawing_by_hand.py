"""Drawing by pointing, refining by typing, with real mouse and key events."""

import itertools
from typing import TYPE_CHECKING

import pytest
from PySide6.QtCore import Qt

from studio.desk.plan.tools.under import handles
from studio.desk.state import Subject
from studio.edits.geometry import distance, pitch

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key


def test_from_an_empty_sheet_to_a_field_in_few_actions(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    bare.click((-22.0, -14.0))
    for way, length in (
        ((10.0, -14.1), "50 m"),
        ((27.9, 8.0), "28"),
        ((0.0, 17.0), "26,5"),
        ((-20.0, 13.0), "82 ft"),
    ):
        bare.point(way)
        bare.type(length)
        bare.key(Key.Key_Return)
    bare.key(Key.Key_Return)
    ring = bare.state.design.plot.boundary
    assert len(ring) == 5
    lengths = [distance(a, b) for a, b in itertools.pairwise(ring)]
    assert lengths == pytest.approx([50.0, 28.0, 26.5, 82 * 0.3048], abs=1e-5)
    assert ring[1][1] == ring[0][1], "the first edge was caught by east"
    assert bare.state.tool == "pick"
    bare.key(Key.Key_L)
    bare.click((-18.0, -9.0))
    bare.point((-4.0, -9.1))
    bare.key(Key.Key_Tab)
    bare.key(Key.Key_Tab)
    bare.type("20")
    bare.key(Key.Key_Return)
    assert [line.count for line in bare.state.design.lines] == [20]
    assert bare.state.design.lines[0].azimuth_deg == pytest.approx(90.0)
    bare.key(Key.Key_D, control=True)
    bare.type("4")
    bare.key(Key.Key_Tab)
    bare.type("2.6")
    bare.key(Key.Key_Return)
    assert bare.last == "Repeat Line 1 four times at 2.60 m"
    assert bare.state.selected_lines() == (1, 2, 3, 4, 5)
    spread = next(
        h
        for h in handles(bare.canvas.drawing, bare.state.selection, bare.canvas.camera)
        if h.kind == "spread"
    )
    bare.drag(spread.at, (spread.at[0], spread.at[1] + 2.4))
    pitches = [pitch(bare.state.design, line) for line in bare.state.design.lines]
    assert pitches == pytest.approx([3.2] * 5, abs=1e-6)
    assert bare.actions <= 40
    assert len(bare.state.undo) == 4


def test_an_azimuth_can_be_typed_after_the_length(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    bare.click((0.0, 0.0))
    bare.point((5.0, 5.0))
    bare.type("10")
    bare.key(Key.Key_Tab)
    bare.type("200")
    bare.key(Key.Key_Return)
    points = bare.points
    assert points[1] == pytest.approx((-3.420201, -9.396926), abs=1e-6)


def test_letters_belong_to_the_number_while_typing(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    bare.click((0.0, 0.0))
    bare.point((8.0, 0.0))
    bare.type("12 ft")
    assert bare.state.tool == "plot"
    figures = bare.canvas.tool.figures
    assert figures is not None
    assert figures.locked("length") == pytest.approx(3.6576)
    bare.key(Key.Key_Escape)
    assert figures.typing is False
    bare.key(Key.Key_L)
    assert bare.state.tool == "line"


def test_a_doubtful_number_says_how_it_is_read(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    bare.click((0.0, 0.0))
    bare.point((8.0, 0.0))
    bare.type("1,000")
    assert bare.canvas.tool.figures is not None
    assert "read as 1, not as 1000" in bare.canvas.tool.figures.doubt


def test_what_is_no_number_is_told_and_nothing_changes(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    bare.click((0.0, 0.0))
    bare.point((8.0, 0.0))
    bare.type("12 kg")
    bare.key(Key.Key_Return)
    assert "would be right" in bare.state.notice
    assert len(bare.points) == 1


def test_a_ring_closes_at_its_first_corner_and_by_double_click(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    for corner in ((0.0, 0.0), (10.0, 0.0), (10.0, 10.0)):
        bare.click(corner)
    bare.click((0.0, 0.0))
    assert len(bare.state.design.plot.boundary) == 3
    bare.key(Key.Key_N)
    for corner in ((2.0, 1.0), (4.0, 1.0), (4.0, 3.0)):
        bare.click(corner)
    bare.click((2.2, 3.1), double=True)
    assert len(bare.state.design.plot.no_build) == 1
    assert bare.state.selection == {Subject("no_build", 0)}


def test_a_ring_that_crosses_itself_is_refused_and_stays_in_hand(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    for corner in ((0.0, 0.0), (12.0, 12.0), (12.0, 0.0), (0.0, 12.5)):
        bare.click(corner)
    bare.key(Key.Key_Return)
    assert bare.state.design.plot.boundary == ()
    assert "cross" in bare.state.notice
    bare.key(Key.Key_Backspace)
    assert len(bare.points) == 3


def test_escape_leaves_step_by_step(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    bare.click((0.0, 0.0))
    bare.point((8.0, 0.0))
    bare.type("5")
    bare.key(Key.Key_Escape)
    bare.key(Key.Key_Escape)
    assert bare.points == []
    assert bare.state.tool == "plot"
    bare.key(Key.Key_Escape)
    assert bare.state.tool == "pick"
    assert bare.state.undo == ()


def test_a_line_is_drawn_parallel_to_the_last_one(hand: "Hand") -> None:
    hand.key(Key.Key_L)
    hand.click((0.0, 20.0))
    hand.click((13.6, 20.1))
    line = hand.state.design.lines[-1]
    assert (line.count, line.azimuth_deg) == (11, 90.0)
    assert hand.last == "Place Line 4 with 11 mirrors"


def test_the_header_is_drawn_and_undone(hand: "Hand") -> None:
    hand.key(Key.Key_H)
    hand.click((32.0, -4.0))
    hand.click((32.0, 12.0))
    hand.key(Key.Key_Return)
    assert len(hand.state.design.header.hot) == 2
    assert hand.state.selection == {Subject("header", "hot")}
    hand.session.undo()
    assert not hand.state.design.header.hot


def test_the_store_is_put_where_one_clicks(hand: "Hand") -> None:
    hand.key(Key.Key_S)
    hand.click((44.0, -3.0))
    store = hand.state.design.store
    assert (store.x_m, store.y_m) == pytest.approx((44.0, -3.0), abs=0.08)


def test_measuring_changes_nothing(hand: "Hand") -> None:
    hand.key(Key.Key_M)
    hand.click((0.0, 15.0))
    hand.click((10.0, 15.0))
    figures = hand.canvas.tool.figures
    assert figures is not None
    assert figures["length"].value == pytest.approx(10.0, abs=0.1)
    assert figures["azimuth"].value == pytest.approx(90.0)
    assert hand.state.undo == ()
