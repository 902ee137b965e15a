"""Land that was brought in, as one step of undo."""

import pytest

from studio.design.design import Design
from studio.design.field import Line
from studio.design.site import SpotHeights
from studio.edits.edit import admit
from studio.edits.land import set_heights, take_land
from studio.edits.registry import EDITS, apply_edit
from studio.errors import BadInputError

SQUARE = [(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)]


def test_all_of_it_in_one_step_and_lines_stay() -> None:
    design = Design(lines=(Line(id=1, x_m=0.0, y_m=0.0),))
    edit = apply_edit(design, "take_land", {
        "boundary": SQUARE, "no_build": [("pond", SQUARE[:3])], "latitude_deg": 43.6, "longitude_deg": 3.87, "name": "field",
    })  # fmt: skip
    assert edit.label == "Bring in the land field"
    assert edit.design.plot.boundary == ((0, 0), (10, 0), (10, 10), (0, 10))
    assert edit.design.plot.no_build[0].name == "pond"
    assert (edit.design.site.latitude_deg, edit.design.site.longitude_deg) == (43.6, 3.87)
    assert edit.design.lines == design.lines
    assert EDITS["take_land"] is take_land


def test_what_is_not_given_stays() -> None:
    design = take_land(Design(), boundary=SQUARE, no_build=[("pond", SQUARE[:3])]).design
    assert take_land(design, no_build=[]).design.plot.boundary == design.plot.boundary
    assert take_land(design, no_build=[]).design.plot.no_build == ()
    placed = take_land(design, latitude_deg=-12.0, longitude_deg=-45.7).design
    assert placed.plot == design.plot
    assert placed.site.weather == design.site.weather


def test_half_of_a_place_or_nothing_is_refused() -> None:
    with pytest.raises(BadInputError, match="latitude and longitude together"):
        take_land(Design(), latitude_deg=3.0)
    with pytest.raises(BadInputError, match="Nothing of the land"):
        take_land(Design())


@pytest.mark.parametrize(("given", "words"), [
    ({"boundary": [(0, 0), (10, 10), (10, 0), (0, 10)]}, "cross"), ({"latitude_deg": 80.0, "longitude_deg": 0.0}, "latitude"),
    ({"boundary": [(0, 0), (float("nan"), 0), (1, 1)]}, "nan"), ({"boundary": [(n, n * n) for n in range(1001)]}, "1000"),
])  # fmt: skip
def test_the_gate_refuses_what_cannot_be_opened_again(given: dict[str, object], words: str) -> None:
    with pytest.raises(BadInputError, match=words):
        apply_edit(Design(), "take_land", given)


def test_a_design_that_was_admitted_is_admitted_again() -> None:
    edit = take_land(Design(), boundary=SQUARE)
    assert admit(Design(), edit) is edit


def test_heights_take_the_place_of_others_and_can_be_taken_away() -> None:
    spots = SpotHeights(spots=((0.0, 0.0, 1.0), (9.0, 0.0, 2.0), (0.0, 9.0, 3.0)), origin="levelling.csv")
    before = Design()
    edit = admit(before, apply_edit(before, "set_heights", {"heights": spots, "skyline": [(0.0, 4.0)]}))
    assert edit.label == "Take heights from levelling.csv"
    assert edit.design.ground.heights == spots
    assert edit.design.horizon.skyline == ((0.0, 4.0),)
    assert edit.design.site == before.site
    away = set_heights(edit.design, heights=None)
    assert away.label == "Take the measured heights away"
    assert away.design.ground == before.ground
    with pytest.raises(BadInputError, match="together"):
        set_heights(before, heights=spots, latitude_deg=3.0)
    with pytest.raises(BadInputError, match="three places"):
        admit(before, set_heights(before, heights=SpotHeights(spots=((0.0, 0.0, 1.0),))))
