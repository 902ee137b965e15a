"""The picture under the plan by hand: two points and what is typed, dragged, turned, taken away. The picture is invented."""

import dataclasses
from typing import TYPE_CHECKING

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QImage
from pytestqt.qtbot import QtBot

from studio.design.site import Underlay
from studio.desk.plan.tools.picture import PictureTool
from studio.desk.plan.underlay import picture_size
from studio.desk.state import Subject
from studio.desk.theme import Theme
from studio.drawings.underlay import laid, pixel_at
from studio.edits.underlay import set_underlay
from studio.files.picture import picture_of
from studio.keep import fingerprint
from tests.files.pictures import coded, land

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key
ROOF = picture_of(coded(land(640, 480)), "roof.png")
ASSET = fingerprint(ROOF.data)


def lay(hand: "Hand", qtbot: QtBot, **changes: float) -> None:
    """The picture, 64 m by 48 m about the middle of the plot, with the tool in hand."""
    hand.session.take_asset(ASSET, ROOF.data)
    where = {"x_m": 20.0, "y_m": 10.0, "m_per_pixel": 0.1} | changes
    assert hand.session.apply(set_underlay(hand.state.design, asset=ASSET, origin="roof.png", **where))
    hand.key(Key.Key_F)
    hand.type("i")
    hand.canvas.grab()
    qtbot.waitUntil(lambda: hand.canvas.scene.underlays.ready_for(ASSET), timeout=60_000)


def underlay(hand: "Hand") -> Underlay:
    return hand.state.design.underlay


def tool(hand: "Hand") -> PictureTool:
    assert isinstance(hand.canvas.tool, PictureTool)
    return hand.canvas.tool


def figure(hand: "Hand", key: str) -> float:
    figures = hand.canvas.tool.figures
    assert figures is not None
    value = figures[key].value
    assert value is not None
    return value


def test_two_clicks_and_a_typed_distance_scale_it(hand: "Hand", qtbot: QtBot) -> None:
    lay(hand, qtbot)
    assert hand.state.selection == {Subject("picture")}
    hand.click((10.0, 5.0))
    hand.click((30.0, 20.0))
    assert figure(hand, "length") == pytest.approx(25.0, abs=0.3)
    points = tool(hand).points
    hand.type("12,5")
    # the result is seen before it is taken
    assert hand.state.shown.underlay.m_per_pixel == pytest.approx(0.05, rel=0.02)
    assert underlay(hand).m_per_pixel == 0.1
    hand.key(Key.Key_Return)
    one, other = (laid(underlay(hand)).of(point) for point in points)
    assert np.hypot(*(other - one)) == pytest.approx(12.5, abs=1e-3)
    assert one == pytest.approx((10.0, 5.0), abs=0.15)  # the first point stays where it lies
    assert underlay(hand).turned_deg == pytest.approx(0.0, abs=1e-3)
    assert hand.last.startswith("Scale the picture to 0.0")
    assert tool(hand).points == []
    hand.session.undo()
    assert underlay(hand).m_per_pixel == 0.1


def test_both_places_typed_scale_turn_and_move_it(hand: "Hand", qtbot: QtBot) -> None:
    lay(hand, qtbot)
    hand.click((10.0, 5.0))
    hand.click((30.0, 5.0))
    points = tool(hand).points
    wanted = (("x1", "0"), ("y1", "-2"), ("x2", "0"), ("y2", "38"))
    for step, (_key, typed) in enumerate(wanted):
        for _turn in range(2 if step == 0 else 1):
            hand.key(Key.Key_Tab)
        hand.type(typed)
    hand.key(Key.Key_Return)
    one, other = (laid(underlay(hand)).of(point) for point in points)
    assert one == pytest.approx((0.0, -2.0), abs=2e-3)
    assert other == pytest.approx((0.0, 38.0), abs=2e-3)
    assert underlay(hand).turned_deg == pytest.approx(-90.0, abs=1.0)
    assert len(hand.state.undo) == 2


def test_what_is_typed_last_says_where_the_second_point_lies(hand: "Hand", qtbot: QtBot) -> None:
    lay(hand, qtbot)
    hand.click((10.0, 5.0))
    hand.click((30.0, 5.0))
    hand.type("10")
    hand.key(Key.Key_Tab)
    hand.type("0")
    figures = tool(hand).figures
    assert figures is not None
    assert (figures["length"].typed, figures["azimuth"].typed) == ("10", "0")
    for _turn in range(3):
        hand.key(Key.Key_Tab)
    hand.type("40")
    assert (figures["length"].typed, figures["azimuth"].typed, figures["x2"].typed) == ("", "", "40")


@pytest.mark.parametrize(("typed", "words"), [("0", "above 0 m"), ("12 kg", "12 kg"), ("-3", "above 0 m")])
def test_what_is_no_distance_is_told_and_nothing_changes(
    hand: "Hand", qtbot: QtBot, typed: str, words: str
) -> None:
    lay(hand, qtbot)
    told: list[str] = []
    hand.session.changed.connect(lambda _old, new: told.append(new.notice))
    before = underlay(hand)
    hand.click((10.0, 5.0))
    hand.click((30.0, 5.0))
    hand.type(typed)
    hand.key(Key.Key_Return)
    assert any(words in one for one in told)
    assert underlay(hand) == before
    assert len(tool(hand).points) == 2


def test_feet_are_understood_and_escape_leaves_step_by_step(hand: "Hand", qtbot: QtBot) -> None:
    lay(hand, qtbot)
    hand.click((10.0, 5.0))
    hand.click((30.0, 5.0))
    hand.type("100 ft")
    assert hand.state.shown.underlay.m_per_pixel == pytest.approx(0.1 * 30.48 / 20.0, rel=0.02)
    hand.key(Key.Key_Escape)
    assert hand.state.shown.underlay.m_per_pixel == 0.1
    assert len(tool(hand).points) == 2
    hand.key(Key.Key_Escape)
    assert tool(hand).points == []
    hand.key(Key.Key_Escape)
    assert hand.state.tool == "pick"
    assert underlay(hand).m_per_pixel == 0.1


def test_points_are_set_on_the_picture_only_and_can_be_corrected(hand: "Hand", qtbot: QtBot) -> None:
    lay(hand, qtbot, x_m=30.0, m_per_pixel=0.05)  # 14 to 46 m east, -2 to 22 m north
    hand.click((0.0, 0.0))
    assert tool(hand).points == []
    hand.click((20.0, 5.0))
    hand.drag((20.0, 5.0), (25.0, 8.0))
    assert len(tool(hand).points) == 1
    assert tool(hand).points[0] == pytest.approx(pixel_at(underlay(hand), (25.0, 8.0)), abs=4)
    assert len(hand.state.undo) == 1  # a point is no part of the design


def test_a_drag_moves_it_and_a_corner_turns_it(hand: "Hand", qtbot: QtBot) -> None:
    lay(hand, qtbot, m_per_pixel=0.05)  # 4 to 36 m east, -2 to 22 m north
    hand.drag((20.0, 10.0), (25.0, 8.0))
    assert (underlay(hand).x_m, underlay(hand).y_m) == pytest.approx((25.0, 8.0), abs=0.2)
    assert hand.last == "Move the picture"
    corner = laid(underlay(hand)).of([320.0, 240.0])
    middle = np.array([underlay(hand).x_m, underlay(hand).y_m])
    away = corner - middle
    to = middle + np.array([away[1], -away[0]])  # a quarter turn clockwise
    hand.drag((float(corner[0]), float(corner[1])), (float(to[0]), float(to[1])), steps=8)
    assert underlay(hand).turned_deg == pytest.approx(90.0, abs=1.0)
    assert hand.last.startswith("Turn the picture to 9")


def test_delete_takes_it_away_and_undo_finds_it_again(hand: "Hand", qtbot: QtBot) -> None:
    lay(hand, qtbot)
    hand.key(Key.Key_Delete)
    assert not underlay(hand).asset
    assert hand.state.selection == frozenset()
    assert picture_size(hand.state) is None
    hand.session.undo()
    assert picture_size(hand.state) == (640, 480)
    assert hand.state.document.asset(ASSET) == ROOF.data


def test_without_a_picture_the_tool_says_what_to_do(hand: "Hand") -> None:
    hand.type("i")
    assert "drop a PNG or JPEG" in hand.canvas.tool.hint
    hand.click((10.0, 5.0))
    assert tool(hand).points == []


def test_arrow_keys_nudge_the_selected_picture(hand: "Hand", qtbot: QtBot) -> None:
    lay(hand, qtbot)
    hand.type("k")
    hand.session.select(Subject("picture"))
    hand.key(Key.Key_Right, shift=True)
    hand.key(Key.Key_Escape)
    assert underlay(hand).x_m == 20.0
    hand.key(Key.Key_Right, shift=True)
    hand.key(Key.Key_Up)
    hand.canvas.nudges.commit()
    assert (underlay(hand).x_m, underlay(hand).y_m) == pytest.approx((21.0, 10.1))


# what is painted ----------------------------------------------------------------------------------------------------


def colour(hand: "Hand", at: tuple[float, float]) -> tuple[int, int, int]:
    picture: QImage = hand.canvas.grab().toImage()
    ratio = picture.devicePixelRatio()
    spot = hand.px(at)
    found = picture.pixelColor(round(spot.x() * ratio), round(spot.y() * ratio))
    return found.red(), found.green(), found.blue()


def strong(hand: "Hand", at: tuple[float, float]) -> str:
    red, green, blue = colour(hand, at)
    return ("red", "green", "blue")[int(np.argmax((red, green, blue)))] if max(red, green, blue) - min(red, green, blue) > 60 else ""  # fmt: skip


def test_it_is_painted_where_it_lies_turned_clockwise(bare: "Hand", qtbot: QtBot) -> None:
    """Corners: red upper left, green upper right, blue lower left; a quarter turn takes red to the upper right."""
    lay(bare, qtbot)
    bare.type("k")
    bare.session.select()
    assert [strong(bare, at) for at in ((-8.0, 30.0), (48.0, 30.0), (-8.0, -10.0))] == [
        "red",
        "green",
        "blue",
    ]
    assert bare.session.apply(
        dataclasses.replace(set_underlay(bare.state.design, asset=ASSET, x_m=20.0, y_m=10.0, m_per_pixel=0.1, turned_deg=90.0))
    )  # fmt: skip
    bare.canvas.fit()
    assert [strong(bare, at) for at in ((40.0, 38.0), (40.0, -18.0), (0.0, 38.0))] == ["red", "green", "blue"]


def test_strength_fading_and_darkness_make_it_fainter(bare: "Hand", qtbot: QtBot, theme: Theme) -> None:
    lay(bare, qtbot)
    bare.type("k")
    bare.session.select()
    ground, full = theme.color("view").green(), colour(bare, (-8.0, 30.0))[1]
    bare.session.toggle_fade("picture")
    faint = colour(bare, (-8.0, 30.0))[1]
    assert full < faint < ground
    bare.session.toggle_fade("picture")
    bare.session.toggle_layer("picture")
    assert colour(bare, (-8.0, 30.0))[1] == pytest.approx(ground, abs=2)
    bare.session.toggle_layer("picture")
    theme.set_wish("dark")
    try:
        assert colour(bare, (-8.0, 30.0))[0] < 150  # red at 220, by its strength of 0.6 and dimmed
    finally:
        theme.set_wish("light")


def test_panning_paints_the_picture_once_for_many_frames(bare: "Hand", qtbot: QtBot) -> None:
    lay(bare, qtbot)
    bare.canvas.zoom(6.0)
    bare.canvas.grab()
    shot = bare.canvas.scene.underlays._shot
    for _turn in range(10):
        bare.canvas.pan(8.0, 3.0)
        bare.canvas.grab()
    assert bare.canvas.scene.underlays._shot is shot
    bare.canvas.pan(900.0, 0.0)
    bare.canvas.grab()
    assert bare.canvas.scene.underlays._shot is not shot


def test_figures_stay_fresh_while_only_the_picture_changes(hand: "Hand", qtbot: QtBot) -> None:
    before = hand.state.revision
    lay(hand, qtbot)
    hand.drag((20.0, 10.0), (25.0, 8.0))
    assert hand.state.revision == before
    hand.session.undo()
    hand.session.undo()
    assert hand.state.revision == before
