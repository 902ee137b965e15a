"""Variants of a whole field: what is another, and what stays."""

import dataclasses
from itertools import pairwise
from math import hypot

import pytest
import shapely

from studio.design.design import Design
from studio.design.field import Header, Line
from studio.design.pitches import pitches
from studio.design.site import Ground
from studio.edits.geometry import middle
from studio.edits.registry import apply_edit
from studio.edits.variants import Over, even_values, present_value, usual_values, variant
from studio.errors import BadInputError
from studio.files.examples import example_path
from studio.files.site import open_site


def plain() -> Design:
    """Four lines at 3.2, 3.2 and 4 m on sloping ground; invented."""
    places = (0.0, 3.2, 6.4, 10.4)
    lines = tuple(Line(id=i, x_m=0.0, y_m=y, count=20) for i, y in enumerate(places, start=1))
    return Design(lines=lines, ground=Ground(slope_percent=6.0, falls_towards_deg=140.0))


def middles(design: Design) -> list[tuple[float, float]]:
    return [middle(line, design.ground) for line in design.lines]


@pytest.mark.parametrize("over", ["pitch", "spacing", "azimuth"])
def test_at_the_present_value_it_is_the_design_itself(over: Over) -> None:
    design = plain()
    assert variant(design, over=over, value=present_value(design, over)).design is design


def test_pitches_are_scaled_alike() -> None:
    design = plain()
    assert present_value(design, "pitch") == pytest.approx((3.2 + 3.2 + 4.0) / 3)
    made = variant(design, over="pitch", value=2 * present_value(design, "pitch"))
    assert sorted(pitches(made.design)) == pytest.approx([6.4, 6.4, 8.0])
    assert made.label == "Widen pitches by 100.0 %"
    assert [line.count for line in made.design.lines] == [20] * 4


def test_spacings_are_scaled_and_middles_stay() -> None:
    design = plain()
    made = variant(design, over="spacing", value=1.5)
    assert [line.spacing_m for line in made.design.lines] == [1.5] * 4
    for before, after in zip(middles(design), middles(made.design), strict=True):
        assert after == pytest.approx(before, abs=1e-8)
    assert pitches(made.design) == pytest.approx(pitches(design))


def test_the_field_turns_as_one_and_its_drawn_header_with_it() -> None:
    design = dataclasses.replace(plain(), header=Header(hot=((30.0, 0.0), (30.0, 12.0))))
    made = variant(design, over="azimuth", value=120.0).design
    assert [line.azimuth_deg for line in made.lines] == [120.0] * 4
    assert made.mirror.facing_deg == design.mirror.facing_deg
    assert made.store == design.store
    before, after = middles(design), middles(made)
    centre = [sum(values) / 4 for values in zip(*before, strict=True)]
    assert [sum(values) / 4 for values in zip(*after, strict=True)] == pytest.approx(centre, abs=1e-8)
    for place in range(4):
        for post, turned in zip(design.header.hot, made.header.hot, strict=True):
            was = hypot(post[0] - before[place][0], post[1] - before[place][1])
            assert hypot(turned[0] - after[place][0], turned[1] - after[place][1]) == pytest.approx(was)
    there_and_back = variant(made, over="azimuth", value=90.0).design
    assert middles(there_and_back) == [pytest.approx(place, abs=1e-8) for place in before]


def test_mirrors_turn_with_their_lines_if_asked() -> None:
    design = plain()
    own = dataclasses.replace(design.lines[1], facing_deg=170.0)
    design = dataclasses.replace(design, lines=(design.lines[0], own, *design.lines[2:]))
    made = variant(design, over="azimuth", value=60.0, facing_turns=True)
    assert made.design.mirror.facing_deg == (design.mirror.facing_deg - 30.0) % 360.0
    assert [line.facing_deg for line in made.design.lines] == [None, 140.0, None, None]
    assert made.label == "Turn the field to 60.0°, its mirrors with it"


@pytest.mark.parametrize(("over", "value"), [("pitch", 3.0), ("spacing", 1.6), ("azimuth", 75.0)])
def test_planted_anew_it_stays_inside_the_plot(over: Over, value: float) -> None:
    design = open_site(example_path("workshop_plot")).design
    made = variant(design, over=over, value=value, planted=True).design
    inside = shapely.Polygon(design.plot.boundary).buffer(-design.plot.setback_m, join_style="mitre")
    for line in made.lines:
        assert inside.contains(shapely.Point(line.x_m, line.y_m))
        assert line.azimuth_deg == (75.0 if over == "azimuth" else 90.0)
        if over == "spacing":
            assert line.spacing_m == 1.6
    pitch = 3.0 if over == "pitch" else present_value(design, "pitch")
    gaps = pitches(made)
    assert min(gaps) >= pitch - 1e-6


@pytest.mark.parametrize("over", ["pitch", "spacing", "azimuth"])
@pytest.mark.parametrize("points", [5, 9, 13, 15, 25])
def test_usual_values_rise_evenly_round_the_present_one(over: Over, points: int) -> None:
    design = plain()
    here = present_value(design, over)
    values = usual_values(design, over, points=points)
    assert list(values) == sorted(set(values))
    assert here in values
    assert values[0] < here < values[-1]
    assert points / 2 <= len(values) <= points + 2
    rest = [value for value in values if value != here or over == "azimuth"]
    steps = [after - before for before, after in pairwise(rest)]
    assert min(steps) > 0.0
    assert max(steps) <= 2.0 * min(steps) + 1e-9


def test_even_values_hold_both_ends_and_the_present_one() -> None:
    assert even_values(plain(), "spacing", low=1.0, high=2.0, points=3) == (1.0, 1.35, 1.5, 2.0)
    assert even_values(plain(), "spacing", low=1.5, high=2.0, points=2) == (1.5, 2.0)


def test_what_cannot_be_asked_is_said_in_a_sentence() -> None:
    design = plain()
    single = dataclasses.replace(design, lines=design.lines[:1])
    with pytest.raises(BadInputError, match="No two lines stand at a pitch"):
        present_value(single, "pitch")
    with pytest.raises(BadInputError, match="There is no line yet"):
        present_value(Design(), "azimuth")
    with pytest.raises(BadInputError, match="more than 0 m would be right"):
        variant(design, over="spacing", value=0.0)
    with pytest.raises(BadInputError, match="let the upper end lie above"):
        even_values(design, "pitch", low=3.0, high=3.0, points=4)
    with pytest.raises(BadInputError, match="2 to 200 would be right"):
        usual_values(design, "pitch", points=1)


def test_the_edits_are_known_by_key() -> None:
    design = plain()
    assert apply_edit(design, "scale_spacings", {"scale": 1.2}).label == "Widen spacings by 20.0 %"
    assert apply_edit(design, "turn_field", {"azimuth_deg": 80.0}).design.lines[0].azimuth_deg == 80.0
    with pytest.raises(BadInputError, match="more than 0 would be right"):
        apply_edit(design, "scale_spacings", {"scale": 0.0})
    with pytest.raises(BadInputError, match="no line to turn"):
        apply_edit(Design(), "turn_field", {"azimuth_deg": 80.0})
