"""What a hand does to the picture under the plan."""

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest

from studio.design.design import Design
from studio.design.site import Underlay
from studio.edits.edit import Edit, admit
from studio.edits.registry import EDITS, apply_edit
from studio.errors import BadInputError

ASSET = "a" * 64
LAID = Design(
    underlay=Underlay(asset=ASSET, x_m=10.0, y_m=20.0, m_per_pixel=0.2, turned_deg=30.0, strength=0.8)
)
KEYS = ("set_underlay", "place_underlay", "move_underlay", "turn_underlay", "fade_underlay", "clear_underlay")


def site_of(underlay: Underlay, pixel: tuple[float, float]) -> np.ndarray:
    """Where a pixel counted from the picture's middle (right, up) lies: turned clockwise, scaled, moved."""
    a = radians(underlay.turned_deg)
    right, up = np.array(pixel) * underlay.m_per_pixel
    return np.array(
        [underlay.x_m + right * cos(a) + up * sin(a), underlay.y_m - right * sin(a) + up * cos(a)]
    )


def test_two_pixels_come_to_lie_where_they_truly_are() -> None:
    pixels = (-300.0, 40.0), (250.0, -90.0)
    first, second = (site_of(LAID.underlay, pixel) for pixel in pixels)
    edit = apply_edit(LAID, "place_underlay", {
        "first": first, "second": second, "to_first": (0.0, 0.0), "to_second": (0.0, 48.0),
    })  # fmt: skip
    assert site_of(edit.design.underlay, pixels[0]) == pytest.approx([0.0, 0.0], abs=1e-3)
    assert site_of(edit.design.underlay, pixels[1]) == pytest.approx([0.0, 48.0], abs=1e-3)
    assert edit.design.underlay.m_per_pixel == pytest.approx(48.0 / np.hypot(550.0, 130.0), rel=1e-5)
    assert edit.label.startswith("Scale the picture to 0.0849 m a pixel")
    assert edit.design.underlay.strength == 0.8


def test_it_is_moved_turned_faded_and_taken_away() -> None:
    moved = apply_edit(LAID, "move_underlay", {"dx_m": 1.5, "dy_m": -2.0})
    assert (moved.design.underlay.x_m, moved.design.underlay.y_m, moved.label) == (
        11.5,
        18.0,
        "Move the picture",
    )
    turned = apply_edit(LAID, "turn_underlay", {"turned_deg": 350.0})
    assert (turned.design.underlay.turned_deg, turned.label) == (-10.0, "Turn the picture to −10.0°")
    faded = apply_edit(LAID, "fade_underlay", {"strength": 0.25})
    assert (faded.design.underlay.strength, faded.label) == (0.25, "Show the picture at 25 %")
    with pytest.raises(BadInputError, match="strength"):
        apply_edit(LAID, "fade_underlay", {"strength": 1.5})
    gone = apply_edit(LAID, "clear_underlay", {})
    assert (gone.design.underlay, gone.label) == (Underlay(), "Take the picture away")


def test_a_new_picture_keeps_the_strength() -> None:
    edit = apply_edit(LAID, "set_underlay", {
        "asset": "b" * 64, "x_m": 0.0, "y_m": 0.0, "m_per_pixel": 1.0, "turned_deg": -540.0, "origin": "roof.png, 4 × 4",
    })  # fmt: skip
    assert edit.label == "Lay roof.png under the plan"
    assert (edit.design.underlay.strength, edit.design.underlay.turned_deg) == (0.8, 180.0)


@pytest.mark.parametrize("key", [key for key in KEYS if key != "set_underlay"])
def test_without_a_picture_it_is_said_so(key: str) -> None:
    arguments: dict[str, dict[str, object]] = {
        "place_underlay": {"first": (0, 0), "second": (1, 0), "to_first": (0, 0), "to_second": (2, 0)},
        "move_underlay": {"dx_m": 1.0, "dy_m": 0.0}, "turn_underlay": {"turned_deg": 1.0},
        "fade_underlay": {"strength": 0.5},
    }  # fmt: skip
    with pytest.raises(BadInputError, match="There is no picture under the plan"):
        apply_edit(Design(), key, arguments.get(key, {}))
    assert key in EDITS


def test_a_picture_that_is_not_there_is_refused() -> None:
    edit = Edit("edit", replace(Design(), underlay=LAID.underlay))
    with pytest.raises(BadInputError, match="no picture “aaaaaaaaaaaa” in this file"):
        admit(Design(), edit, assets=["b" * 64])
    assert admit(Design(), edit, assets=[ASSET]) is edit
