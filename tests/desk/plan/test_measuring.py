"""Measuring: chains of points, their area, perimeter, rise and fall; held against shapely and closed forms."""

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
import shapely
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from pytestqt.qtbot import QtBot

from studio.design.site import Ground
from studio.desk.plan.tools.measure import MeasureTool, as_text, measured, told_of
from studio.desk.theme import Theme
from tests.desk.plan.conftest import FIELD, hand_on

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key
CHAIN = [(12.0, 14.0), (30.0, 15.5), (28.0, 24.0), (14.0, 22.0)]
SLOPING = replace(FIELD, ground=Ground(slope_percent=8.0, falls_towards_deg=180.0))


def tool_of(hand: "Hand") -> MeasureTool:
    tool = hand.canvas.tool
    assert isinstance(tool, MeasureTool)
    return tool


def test_area_perimeter_and_chain_are_shapelys() -> None:
    found = measured(FIELD, CHAIN)
    assert found is not None
    ring = shapely.Polygon(CHAIN)
    assert found.area_m2 == pytest.approx(ring.area)
    assert found.round_m == pytest.approx(ring.length)
    assert found.total_m == pytest.approx(shapely.LineString(CHAIN).length)


def test_slope_is_rise_over_run_and_the_ground_is_longer_than_the_plan() -> None:
    found = measured(SLOPING, [(0.0, 0.0), (3.0, 50.0)])
    assert found is not None
    assert found.rise_m == pytest.approx(0.08 * 50.0), "the land falls southwards"
    assert found.slope == pytest.approx(4.0 / (9.0 + 2500.0) ** 0.5)
    assert found.along_ground_m == pytest.approx((9.0 + 2500.0 + 16.0) ** 0.5)
    down = measured(SLOPING, [(0.0, 50.0), (0.0, 0.0)])
    assert down is not None
    assert told_of(down) == ["falls 4.00 m, 8.0 %; 50.16 m along the ground"]


def test_a_chain_that_crosses_itself_has_no_area() -> None:
    found = measured(FIELD, [(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 10.0)])
    assert found is not None
    assert found.area_m2 is None
    assert told_of(found)[-1] == "it crosses itself: no area"


def test_clicks_go_on_and_escape_takes_it_away(hand: "Hand") -> None:
    hand.key(Key.Key_M)
    for point in CHAIN:
        hand.click(point)
    measure = tool_of(hand).measure
    assert measure is not None
    assert measure.area_m2 == pytest.approx(shapely.Polygon(CHAIN).area, rel=0.02)
    hand.canvas.grab()
    hand.key(Key.Key_Return)
    hand.point((2.0, 25.0))
    assert tool_of(hand).measure == measure, "it stands however the hand moves"
    hand.canvas.grab()
    assert hand.state.undo == ()
    hand.key(Key.Key_Escape)
    assert tool_of(hand).measure is None
    assert hand.state.tool == "measure"


def test_backspace_takes_the_last_point_back(hand: "Hand") -> None:
    hand.key(Key.Key_M)
    for text in ("12 14", "30 14", "30 20"):
        hand.type(text)
        hand.key(Key.Key_Return)
    hand.key(Key.Key_Backspace)
    assert tool_of(hand).points == [(12.0, 14.0), (30.0, 14.0)]


def test_what_is_measured_is_copied_with_its_units(hand: "Hand") -> None:
    hand.key(Key.Key_M)
    for text in ("12 14", "30 14", "30 20"):
        hand.type(text)
        hand.key(Key.Key_Return)
    hand.key(Key.Key_Return)
    hand.key(Key.Key_C, control=True)
    text = QGuiApplication.clipboard().text()
    rows = [row.split("\t") for row in text.splitlines()]
    assert rows[0] == ["x m", "y m", "distance m", "azimuth deg"]
    assert rows[2] == ["30.000", "14.000", "18.000", "90.0000"]
    assert "area 54.0 m²" in text
    measure = tool_of(hand).measure
    assert measure is not None
    assert text == as_text(measure)
    assert "clipboard" in hand.state.notice


def test_it_is_measured_by_dragging_too(qtbot: QtBot, theme: Theme) -> None:
    hand = hand_on(SLOPING, qtbot, theme)
    hand.key(Key.Key_M)
    hand.drag((12.0, 14.0), (12.0, 24.0))
    measure = tool_of(hand).measure
    assert measure is not None
    assert measure.leg_m == pytest.approx(10.0, abs=0.15)
    assert measure.slope == pytest.approx(0.08, abs=1e-3)
    hand.canvas.grab()
