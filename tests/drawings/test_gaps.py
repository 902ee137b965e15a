"""What the drawings show of a line with places left out."""

from dataclasses import replace

import numpy as np
import pytest

from studio.design.design import Design
from studio.design.field import Line
from studio.drawings.lines import line_on_plan
from studio.drawings.moment import TintsNow, gear_at, parts_of, shadows_at, sun_at
from studio.drawings.section import section_drawing
from studio.drawings.section_cut import Cut
from studio.study.place import place_line, swept_m

DAY, CLOCK = 355, 10.0
FIELD = Design(
    lines=(
        Line(id=1, x_m=0.0, y_m=0.0, count=12),
        Line(id=2, x_m=0.3, y_m=2.0, count=12, first_number=31, left_out=(34, 35, 39)),
    )
)
THERE = [0, 1, 2, 5, 6, 7, 9, 10, 11]


def test_the_plan_has_the_mirrors_receivers_and_shadows_that_are_there() -> None:
    line = line_on_plan(FIELD.line(2), FIELD.mirror, FIELD.ground, swept_m(FIELD))
    whole = line_on_plan(replace(FIELD.line(2), left_out=()), FIELD.mirror, FIELD.ground, swept_m(FIELD))
    assert (line.corners == whole.corners[THERE]).all()
    assert (line.left_out == whole.corners[[3, 4, 8]]).all()
    assert (line.stops == whole.stops).all()
    sun, parts = sun_at(FIELD.site, DAY, CLOCK), parts_of(FIELD)
    gear, before = gear_at(parts, line, sun), gear_at(parts, whole, sun)
    assert (gear.receivers == before.receivers[THERE]).all()
    assert (gear.frames == before.frames).all()
    assert (gear.pipe == before.pipe).all()
    shadows = shadows_at(parts, [line], [gear], sun)
    assert shadows is not None
    assert [len(group) for group in shadows.by_line[2][:2]] == [9, 9]


def test_an_empty_place_is_untinted_and_tints_no_other() -> None:
    lines = tuple(line_on_plan(line, FIELD.mirror, FIELD.ground, swept_m(FIELD)) for line in FIELD.lines)
    sun = sun_at(FIELD.site, DAY, CLOCK)
    tint = TintsNow().of(FIELD, lines, sun)[2]
    assert (tint[[3, 4, 8]] == 0.0).all()
    assert tint[THERE].min() > 0.05
    turned = replace(FIELD, lines=(replace(FIELD.lines[0], left_out=(4, 5)), FIELD.lines[1]))
    fewer = tuple(line_on_plan(line, turned.mirror, turned.ground, swept_m(turned)) for line in turned.lines)
    less = TintsNow().of(turned, fewer, sun)[2]
    assert (less <= tint + 1e-12).all()
    assert less.sum() < tint.sum() - 0.1


@pytest.mark.parametrize(
    ("x", "number"), [(0.3 + 3.2 * 1.35, 33), (0.3 + 3.9 * 1.35, 36), (0.3 + 7.9 * 1.35, 38)]
)
def test_the_section_shows_the_nearest_mirror_that_is_there(x: float, number: int) -> None:
    drawing = section_drawing(FIELD, Cut((x, -3.0), (x, 6.0)), day_of_year=DAY, clock_h=CLOCK)
    crossed = drawing.crossed(2)
    assert crossed is not None
    assert crossed.line.number == number
    assert crossed.line.off_m == pytest.approx(abs(x - 0.3 - (number - 31) * 1.35))


def test_a_section_along_the_line_shows_those_that_are_there_at_their_places() -> None:
    cut = Cut((-3.0, 2.0), (20.0, 2.0))
    (row,) = [
        one for one in section_drawing(FIELD, cut, day_of_year=DAY, clock_h=CLOCK).along if one.line.id == 2
    ]
    placed = place_line(FIELD.line(2), FIELD.mirror, FIELD.ground)
    assert row.line.vertices[:, 0] == pytest.approx(placed.vertices()[THERE, 0] + 3.0)
    assert len(row.light) == len(row.line.films) == 9
    filled = replace(FIELD, lines=(FIELD.lines[0], replace(FIELD.lines[1], left_out=())))
    (whole,) = [
        one for one in section_drawing(filled, cut, day_of_year=DAY, clock_h=CLOCK).along if one.line.id == 2
    ]
    assert np.abs(row.frames - whole.frames).max() < 1e-9
    assert np.abs(row.pipe - whole.pipe).max() < 1e-9


def test_the_sun_falls_through_an_empty_place_of_the_row_in_front() -> None:
    """At solar noon the light on a mirror comes square over the row: from the mirror at its own place, or from none."""
    noon = next(
        hour for hour in np.arange(11.0, 14.0, 0.01) if sun_at(FIELD.site, DAY, float(hour)).solar_h >= 12.0
    )
    front = replace(FIELD.lines[0], left_out=(7,))
    design = replace(FIELD, lines=(front, Line(id=2, x_m=0.0, y_m=2.0, count=12)))
    for place, shaded in ((4, True), (6, False)):
        x = place * 1.35
        drawing = section_drawing(design, Cut((x, -3.0), (x, 6.0)), day_of_year=DAY, clock_h=float(noon))
        crossed = drawing.crossed(2)
        assert crossed is not None
        assert (crossed.light.share > 0.1) is shaded
        assert (crossed.light.covered(by_pipe=False) > 0.1) is shaded
