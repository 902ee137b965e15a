"""Measured heights by hand: set, typed, dragged, removed and taken back, with real mouse and key events."""

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QToolButton
from pytestqt.qtbot import QtBot

from studio.design.design import Document
from studio.design.heights import packed_heights
from studio.design.site import Ground, HeightGrid, SpotHeights
from studio.desk.plan.told import told_of
from studio.desk.plan.tools.heights import HeightsTool
from studio.desk.sheet import Sheet
from studio.desk.theme import Theme
from studio.edits.geometry import ground_height

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key
Place = tuple[float, float]
CORNERS: tuple[tuple[Place, str], ...] = (
    ((-6.0, -5.0), "101.5"),
    ((46.0, -5.0), "103"),
    ((46.0, 24.0), "102,25"),
)


def set_spot(hand: "Hand", place: Place, height: str) -> None:
    hand.click(place)
    hand.type(height)
    hand.key(Key.Key_Return)


def spots_of(hand: "Hand") -> tuple[tuple[float, float, float], ...]:
    heights = hand.state.design.ground.heights
    assert isinstance(heights, SpotHeights)
    return heights.spots


def three(hand: "Hand") -> None:
    hand.key(Key.Key_E)
    for place, height in CORNERS:
        set_spot(hand, place, height)


def test_three_spots_typed_make_the_ground_in_one_step(hand: "Hand") -> None:
    hand.key(Key.Key_E)
    assert "three spots make the ground" in hand.canvas.tool.hint
    set_spot(hand, *CORNERS[0])
    assert hand.canvas.tool.hint == "2 more spots make the ground"
    assert hand.state.undo == ()
    set_spot(hand, *CORNERS[1])
    set_spot(hand, *CORNERS[2])
    spots = spots_of(hand)
    assert [height for _x, _y, height in spots] == [101.5, 103.0, 102.25]
    assert np.array(spots)[:, :2] == pytest.approx(np.array([place for place, _height in CORNERS]), abs=0.2)
    assert hand.last == "Set 3 spot heights"
    assert len(hand.state.undo) == 1
    hand.session.undo()
    assert hand.state.design.ground.heights is None


def test_a_fourth_spot_is_offered_the_grounds_own_height(hand: "Hand") -> None:
    three(hand)
    hand.click((20.0, 0.0))
    figures = hand.canvas.tool.figures
    assert figures is not None
    assert figures["height"].value == pytest.approx(
        ground_height(hand.state.design.ground, 20.0, 0.0), abs=0.05
    )
    hand.type("104")
    hand.key(Key.Key_Return)
    assert spots_of(hand)[3][2] == 104.0
    assert hand.last == "Place a spot 104.00 m high"
    x, y, _height = spots_of(hand)[3]
    assert ground_height(hand.state.design.ground, x, y) == pytest.approx(104.0)


def test_a_spot_is_picked_typed_dragged_and_removed(hand: "Hand") -> None:
    three(hand)
    set_spot(hand, (20.0, 0.0), "104")
    hand.key(Key.Key_Escape)
    x, y, _height = spots_of(hand)[3]
    set_spot(hand, (x, y), "103.5")
    assert spots_of(hand)[3] == (x, y, 103.5)
    assert hand.last == "Set spot 4 to 103.50 m"
    hand.drag((x, y), (x + 4.0, y - 2.0))
    assert spots_of(hand)[3] == pytest.approx((x + 4.0, y - 2.0, 103.5), abs=0.2)
    assert hand.last == "Move spot 4"
    assert hand.state.preview is None
    hand.key(Key.Key_Delete)
    assert len(spots_of(hand)) == 3
    assert hand.last == "Remove spot 4"
    x, y, _height = spots_of(hand)[0]
    hand.click((x, y))
    hand.key(Key.Key_Delete)
    assert len(spots_of(hand)) == 3
    assert "keeps 3 spots" in hand.state.notice


def test_escape_puts_back_one_step_at_a_time(hand: "Hand") -> None:
    hand.key(Key.Key_E)
    set_spot(hand, *CORNERS[0])
    hand.click(CORNERS[1][0])
    hand.type("12")
    hand.key(Key.Key_Escape)
    tool = hand.canvas.tool
    assert isinstance(tool, HeightsTool)
    assert tool.placing is not None
    hand.key(Key.Key_Escape)
    assert tool.placing is None
    assert len(tool.drafts) == 1
    hand.key(Key.Key_Escape)
    assert tool.drafts == []
    assert hand.state.tool == "heights"
    hand.key(Key.Key_Escape)
    assert hand.state.tool == "pick"


def test_what_is_no_height_is_told_and_nothing_is_lost(hand: "Hand") -> None:
    three(hand)
    hand.click((20.0, 0.0))
    hand.type("1 furlong")
    hand.key(Key.Key_Return)
    assert hand.state.notice
    assert len(spots_of(hand)) == 3
    figures = hand.canvas.tool.figures
    assert figures is not None
    assert figures["height"].typed == "1 furlong"


def test_a_grid_is_told_and_taken_away_on_the_sheet(hand: "Hand", qtbot: QtBot, theme: Theme) -> None:
    y, x = np.mgrid[0:20, 0:20] * 4.0
    grid = HeightGrid(
        x_m=-20.0, y_m=-20.0, step_m=4.0, rows=20, columns=20, cells=packed_heights(0.02 * x + 0.01 * y), origin="invented"
    )  # fmt: skip
    hand.session.show_document(Document(design=replace(hand.state.design, ground=Ground(heights=grid))))
    hand.key(Key.Key_E)
    assert "from a grid" in hand.canvas.tool.hint
    hand.click((10.0, 10.0))
    assert "from a grid" in hand.state.notice
    assert hand.canvas.tool.figures is None
    hand.key(Key.Key_Escape)
    sheet = Sheet(hand.session, theme)
    qtbot.addWidget(sheet)
    sheet.show()
    (button,) = (b for b in sheet.findChildren(QToolButton) if b.text() == "Without heights")
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    assert hand.state.design.ground.heights is None
    assert hand.last == "Take the measured heights away"

    def gone() -> bool:
        return all(b.text() != "Without heights" for b in sheet.findChildren(QToolButton))

    qtbot.waitUntil(gone, timeout=60_000)


def test_the_foot_tells_height_and_fall_under_the_hand(hand: "Hand", grabbed: Callable[[], None]) -> None:
    three(hand)
    hand.key(Key.Key_Escape)
    hand.key(Key.Key_Escape)
    ground = hand.state.design.ground
    said = told_of(ground, (20.0, 0.0))
    assert said[2].startswith("height 10")
    # up 1.5 m on 52 m to the east, down 0.75 m on 29 m to the north
    assert said[3] == "falls 3.9 % to 312°"
    assert told_of(ground, None) == ["measured heights"]
    grabbed()


@pytest.fixture
def grabbed(hand: "Hand") -> Callable[[], None]:
    """Paints the plan, so that what is painted is run."""

    def grab() -> None:
        assert not hand.canvas.grab().isNull()

    return grab
