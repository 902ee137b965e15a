"""Places typed while drawing: lengths, azimuths, x and y, bearings with distances, latitude and longitude."""

from math import cos, radians, sin
from typing import TYPE_CHECKING

import pyproj
import pytest
from PySide6.QtCore import Qt

from studio.design.site import Site
from studio.desk.plan.typed_place import place_figures, read_place
from studio.edits.geometry import distance
from studio.errors import BadInputError

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key
START, HAND = (10.0, 10.0), (20.0, 10.0)
SITE = Site(latitude_deg=33.5, longitude_deg=-5.0)


def typed(key: str, text: str) -> tuple[float, float]:
    figures = place_figures()
    figures[key].typed = text
    return read_place(figures, START, HAND, SITE)


def leg(azimuth: float, length: float) -> tuple[float, float]:
    """Departure is the sine, latitude the cosine (Wolf and Ghilani, Elementary Surveying, Traverse Computations)."""
    return START[0] + length * sin(radians(azimuth)), START[1] + length * cos(radians(azimuth))


@pytest.mark.parametrize(
    ("key", "text", "place"),
    [
        ("length", "12,5", (22.5, 10.0)),
        ("length", "12 ft", (10.0 + 12 * 0.3048, 10.0)),
        ("length", "3 * 2.5 - 0.5", (17.0, 10.0)),
        ("azimuth", "180", (10.0, 0.0)),
        ("x", "4", (4.0, 10.0)),
        ("y", "-3", (20.0, -3.0)),
        ("length", "12.5 30", (12.5, 30.0)),
        ("length", "12.5, 30", (12.5, 30.0)),
        ("length", "12,5 13,75", (12.5, 13.75)),
        ("length", "12,5; -13,75", (12.5, -13.75)),
        ("x", "12.5 -30", (12.5, -30.0)),
        ("x", "12.5 - 30", (-17.5, 10.0)),
        ("x", "12 ft, 3 m", (12 * 0.3048, 3.0)),
        ("length", "N 35 15 E 42.6", leg(35.25, 42.6)),
        ("length", "N35°15'E 42.6 m", leg(35.25, 42.6)),
        ("azimuth", "S 45 30 W 20 ft", leg(225.5, 20 * 0.3048)),
        ("length", "S 10° E, 5*2", leg(170.0, 10.0)),
        ("length", "125.5° 42.6", leg(125.5, 42.6)),
        ("length", "125-30-15 42.6", leg(125 + 30 / 60 + 15 / 3600, 42.6)),
        ("azimuth", "200 10", leg(200.0, 10.0)),
        ("azimuth", "N 30 E", leg(30.0, 10.0)),
    ],
)
def test_what_is_typed_into_one_field(key: str, text: str, place: tuple[float, float]) -> None:
    assert typed(key, text) == pytest.approx(place, abs=1e-9)


def test_latitude_and_longitude_lie_where_a_geodesic_finds_them() -> None:
    x, y = typed("x", "33.5012 N 5.0021 W")
    azimuth, _back, length = pyproj.Geod(ellps="WGS84").inv(-5.0, 33.5, -5.0021, 33.5012)
    assert (x, y) == pytest.approx((length * sin(radians(azimuth)), length * cos(radians(azimuth))), abs=2e-3)


@pytest.mark.parametrize(
    "text", ["12 kg", "N 95 E 10", "N 35 E 0", "200 N 5 W", "1 2 3", "(((", "N", "0", "=1+1", "9" * 400]
)
def test_what_is_no_place_is_told_in_a_sentence(text: str) -> None:
    with pytest.raises(BadInputError) as told:
        typed("length", text)
    assert str(told.value).endswith(".")
    assert len(str(told.value)) < 200


@pytest.mark.parametrize("tool", [Key.Key_P, Key.Key_N, Key.Key_O, Key.Key_H, Key.Key_M])
def test_every_chain_is_drawn_by_typing_alone(hand: "Hand", tool: Key) -> None:
    from studio.desk.plan.tools.chain import Drawn

    hand.key(tool)
    for text in ("12, 14", "N 90 E 10", "22 20"):
        hand.type(text)
        hand.key(Key.Key_Return)
    drawn = hand.canvas.tool
    assert isinstance(drawn, Drawn)
    assert drawn.points == [pytest.approx(p) for p in ((12.0, 14.0), (22.0, 14.0), (22.0, 20.0))]
    assert hand.state.tool != "pick", "letters of a bearing chose no tool"
    hand.key(Key.Key_Backspace)
    assert len(drawn.points) == 2
    hand.canvas.grab()


def test_x_and_y_are_fields_behind_tab(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    bare.type("3")
    bare.key(Key.Key_Tab)
    bare.type("4")
    bare.canvas.grab()
    bare.key(Key.Key_Return)
    assert bare.points == [(3.0, 4.0)]
    for _turn in range(2):
        bare.key(Key.Key_Tab)
    bare.type("13")
    bare.key(Key.Key_Tab)
    bare.type("4")
    bare.key(Key.Key_Return)
    assert bare.points[1] == pytest.approx((13.0, 4.0))


def test_small_letters_still_choose_tools_and_capitals_begin_a_bearing(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    bare.type("0 0")
    bare.key(Key.Key_Return)
    bare.type("S 45 E")
    figures = bare.canvas.tool.figures
    assert bare.state.tool == "plot"
    assert figures is not None
    assert figures["length"].typed == "S 45 E"
    bare.key(Key.Key_Escape)
    assert len(bare.points) == 1
    bare.type("n")
    assert bare.state.tool == "no_build"


def test_a_line_is_typed_from_end_to_end(hand: "Hand") -> None:
    hand.key(Key.Key_L)
    hand.type("0 20")
    hand.key(Key.Key_Return)
    hand.type("12.15 20")
    hand.canvas.grab()
    hand.key(Key.Key_Return)
    line = hand.state.design.lines[-1]
    assert (line.x_m, line.y_m, line.azimuth_deg, line.count) == (0.0, 20.0, 90.0, 10)
    assert hand.last == "Place Line 4 with 10 mirrors"


def test_the_azimuth_holds_while_a_length_is_typed_digit_by_digit(hand: "Hand") -> None:
    hand.key(Key.Key_L)
    hand.type("0 20")
    hand.key(Key.Key_Return)
    hand.point((13.0, 25.0))
    tool = hand.canvas.tool
    assert tool.figures is not None
    azimuth = tool.figures["azimuth"].value
    hand.type("1")  # shorter than the spacing: one mirror, and no direction of its own
    hand.type("2")
    hand.key(Key.Key_Return)
    assert hand.state.design.lines[-1].azimuth_deg == pytest.approx(azimuth, abs=1e-6)
    assert hand.state.design.lines[-1].count == 9


def test_store_and_tree_stand_where_they_are_typed(hand: "Hand") -> None:
    hand.key(Key.Key_S)
    hand.type("41,5 2,25")
    hand.key(Key.Key_Return)
    assert (hand.state.design.store.x_m, hand.state.design.store.y_m) == (41.5, 2.25)
    assert hand.last == "Move the store"
    for _turn in range(3):  # wall, fence, tree
        hand.key(Key.Key_O)
    hand.type("20 24")
    hand.key(Key.Key_Return)
    tree = hand.state.design.obstacles[0]
    assert tree.kind == "tree"
    assert tree.place == (20.0, 24.0)


def test_escape_leaves_what_is_typed_and_then_what_is_drawn(hand: "Hand") -> None:
    hand.key(Key.Key_N)
    hand.type("1 2")
    hand.key(Key.Key_Escape)
    figures = hand.canvas.tool.figures
    assert figures is not None
    assert not figures.typing
    assert hand.state.tool == "no_build"
    hand.type("12 16")
    hand.key(Key.Key_Return)
    hand.type("7")
    hand.key(Key.Key_Escape)
    assert hand.points == [(12.0, 16.0)]
    hand.key(Key.Key_Escape)
    assert hand.points == []


def test_what_cannot_be_read_is_told_and_nothing_is_set(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    bare.type("0 0")
    bare.key(Key.Key_Return)
    bare.type("N 95 E 10")
    bare.key(Key.Key_Return)
    assert "is no bearing" in bare.state.notice
    assert bare.points == [(0.0, 0.0)]


def test_a_length_that_is_typed_stands_on_the_drawn_line(bare: "Hand") -> None:
    bare.key(Key.Key_P)
    bare.click((0.0, 0.0))
    bare.point((6.0, 8.0))
    bare.type("25")
    from studio.desk.plan.tools.chain import Drawn

    tool = bare.canvas.tool
    assert isinstance(tool, Drawn)
    assert tool.hand is not None
    assert distance(bare.points[0], tool.hand.point) == pytest.approx(25.0)
