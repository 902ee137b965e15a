"""Findings of the land under a line: each with a field that provokes it, one that just misses it, and its mend."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from studio.design.design import Design, Document
from studio.design.field import Header, Line, Store
from studio.design.money import Marks
from studio.design.site import Ground, SpotHeights
from studio.edits.registry import apply_mend
from studio.study.assess import Assessor
from studio.study.findings import Finding
from studio.study.lay import lay_of
from studio.study.place import place_lines

ASSESSOR = Assessor()
COUNT, SPACING = 11, 1.35
LONG = (COUNT - 1) * SPACING


def land(*spots: tuple[float, float, float], zero_m: float = 0.0) -> Ground:
    return Ground(heights=SpotHeights(spots=spots, zero_m=zero_m))


def along(*heights: float, reach: float = LONG) -> Ground:
    """Land that is even from south to north and has these heights at even steps from west to east over the line."""
    steps = np.linspace(0.0, reach, len(heights))
    return land(*((float(x), y, z) for x, z in zip(steps, heights, strict=True) for y in (-30.0, 30.0)))


def field(ground: Ground | None = None, **parts: Any) -> Design:
    line = Line(id=3, x_m=0.0, y_m=0.0, spacing_m=SPACING, count=COUNT)
    made = Design(lines=(line,), store=Store(x_m=20.0, y_m=20.0), ground=ground or Ground())
    return replace(made, **parts)


def findings(design: Design) -> dict[str, Finding]:
    return {one.key: one for one in ASSESSOR.assess(Document(design=design), calendar=False).findings}


def level(design: Design) -> float:
    return design.mirror.stands_at_m


# too steep ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("slope", "told"), [(25.2, True), (24.8, False)])
@pytest.mark.parametrize("falls", [180.0, 270.0])
def test_a_slope_along_or_across_the_line(slope: float, told: bool, falls: float) -> None:
    found = findings(field(Ground(slope_percent=slope, falls_towards_deg=falls))).get("too_steep")
    assert (found is not None) == told
    if found is not None:
        assert found.value == pytest.approx(slope)
        assert (found.line_id, found.unit) == (3, "%")


def test_a_steep_stretch_under_one_mirror_is_where_it_is_said_to_be() -> None:
    """A bank 30 cm high and a metre wide under the sixth mirror, whose footprint is wider than it: 0.3 / 1.25."""
    middle = 5 * SPACING
    bank = land(
        *(
            (x, y, z)
            for x, z in ((0.0, 0.0), (middle - 0.5, 0.0), (middle + 0.5, 0.3), (LONG, 0.3))
            for y in (-30.0, 30.0)
        )
    )
    design = field(bank)
    slope = 100 * 0.3 / design.mirror.width_m
    found = findings(replace(design, marks=Marks(ground_limit_percent=slope - 0.1)))["too_steep"]
    assert found.value == pytest.approx(slope, rel=0.01)
    assert found.mirror == 6
    assert found.place == pytest.approx((middle, 0.0), abs=0.1)
    assert "mirror 6" in found.detail
    assert "too_steep" not in findings(replace(design, marks=Marks(ground_limit_percent=slope + 0.5)))


# posts -------------------------------------------------------------------------------------------------------------


def test_a_post_over_a_hollow_too_long_and_just_short_enough() -> None:
    """A hollow of depth d in the middle of the line: its ends stand on the ground, the middle post is d longer."""
    design = field(along(0.0, -0.8, 0.0))
    wanted = level(design) + 0.8
    over, under = (replace(design, marks=Marks(post_limit_m=wanted + by)) for by in (-0.01, 0.01))
    found = findings(over)["post_too_long"]
    assert found.value == pytest.approx(wanted, abs=1e-6)
    assert found.mirror == 6
    assert found.place == pytest.approx((LONG / 2, 0.0), abs=1e-6)
    assert "m3" in found.detail
    assert "post_too_long" not in findings(under)


def test_a_post_that_lowering_the_line_shortens() -> None:
    design = field(along(0.0, -0.3, 0.0))
    high = replace(design, mirror=replace(design.mirror, stands_at_m=2.4))
    found = findings(high)["post_too_long"]
    assert found.mend is not None
    mended = apply_mend(high, found.mend).design
    assert mended.lines[0].stands_at_m == pytest.approx(2.2)
    assert "post_too_long" not in findings(mended)
    low = replace(design, marks=Marks(post_limit_m=0.5))  # lower, its receivers would go into the ground
    assert findings(low)["post_too_long"].mend is None


# draining ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("fall", "told"), [(2.1, True), (1.9, False), (-5.0, False)])
def test_a_line_that_falls_away_from_its_drive_end(fall: float, told: bool) -> None:
    for ground in (Ground(slope_percent=abs(fall) / 10, falls_towards_deg=90.0 if fall > 0 else 270.0),
                   along(0.0, -fall / 1000 * LONG)):  # fmt: skip
        design = field(ground)
        found = findings(design).get("drains_against")
        assert (found is not None) == told
        if found is not None:
            assert found.value == pytest.approx(fall)
            assert found.place == pytest.approx((LONG, 0.0), abs=1e-3)
            assert found.mend is not None
            turned = apply_mend(design, found.mend).design
            assert turned.lines[0].azimuth_deg == pytest.approx(270.0)
            assert "drains_against" not in findings(turned)


def test_a_line_on_a_drawn_header_is_not_turned() -> None:
    drawn = Header(hot=((16.0, -3.0), (16.0, 3.0)))
    found = findings(field(Ground(slope_percent=1.0, falls_towards_deg=90.0), header=drawn))
    assert found["drains_against"].mend is None


# snow and flood ----------------------------------------------------------------------------------------------------


def low_edge(design: Design) -> float:
    """Height of the mirrors' low edge over a level foot, by the tilt's sine."""
    mirror = design.mirror
    return mirror.stands_at_m - mirror.height_m / 2 * float(np.sin(np.radians(mirror.tilt_deg)))


def test_mirrors_below_the_snow() -> None:
    design = field()
    edge = low_edge(design)
    found = findings(replace(design, marks=Marks(snow_m=edge + 0.02)))["mirror_in_snow"]
    assert found.value == pytest.approx(-0.02, abs=1e-9)
    assert "2 cm" in found.sentence
    assert "mirror_in_snow" not in findings(replace(design, marks=Marks(snow_m=edge - 0.01)))
    assert found.mend is not None
    mended = apply_mend(replace(design, marks=Marks(snow_m=edge + 0.02)), found.mend).design
    assert "mirror_in_snow" not in findings(mended)
    assert mended.lines[0].stands_at_m == pytest.approx(level(design) + 0.02, abs=0.0101)


def test_over_a_hump_snow_reaches_the_mirror_on_it_alone() -> None:
    """The line is raised until its lowest mirror stands as it should; the others stand higher over the ground."""
    design = field(along(0.0, 0.6, 0.0))
    found = findings(replace(design, marks=Marks(snow_m=low_edge(design) + 0.02)))["mirror_in_snow"]
    assert found.mirror == 6
    assert found.place == pytest.approx((LONG / 2, 0.0), abs=1e-6)


def test_the_end_of_a_line_that_runs_down_into_a_flood() -> None:
    design = field(along(1.0, -0.5, reach=30.0))
    down = 1.5 / 30.0
    grade = float(np.hypot(1.0, down))
    far = 1.0 - down * LONG / grade + low_edge(design)  # height of the last mirror's low edge
    water = far - 1.0  # above the land at the reference point, which is 1 m high
    over, under = (replace(design, marks=Marks(flood_level_m=water + by)) for by in (0.02, -0.02))
    found = findings(over)["mirror_in_flood"]
    assert found.value == pytest.approx(-0.02, abs=1e-6)
    assert found.mirror == COUNT
    assert found.place == pytest.approx((LONG / grade, 0.0), abs=1e-6)
    assert "mirror_in_flood" not in findings(under)
    assert found.mend is not None
    assert "mirror_in_flood" not in findings(apply_mend(over, found.mend).design)


# what only measured heights have -----------------------------------------------------------------------------------


def test_heights_on_one_line_are_told() -> None:
    line = land((0.0, 0.0, 1.0), (10.0, 10.0, 2.0), (20.0, 20.0, 3.0))
    found = findings(field(line))["heights_on_one_line"]
    assert found.place == (0.0, 0.0)
    assert "heights_on_one_line" not in findings(
        field(land((0.0, 0.0, 1.0), (10.0, 10.0, 2.0), (20.0, 19.0, 3.0)))
    )


def test_a_line_that_climbs_along_its_mirrors_axis() -> None:
    """Mirrors tilted 50 degrees that face north, on a line to the north: level, its cosine is sin 50 = 0.77."""

    def climbing(percent: float) -> Design:
        north = land((-9.0, 0.0, 0.0), (9.0, 0.0, 0.0), (0.0, 100.0, percent))
        made = field(north)
        line = replace(made.lines[0], azimuth_deg=0.0, tilt_deg=50.0, facing_deg=0.0)
        return replace(made, lines=(line,))

    limit = 100 * np.tan(np.arcsin(0.9) - np.radians(50.0))
    found = findings(climbing(float(limit) + 0.5))["line_along_axis"]
    assert found.severity == "stop"
    assert "line_along_axis" not in findings(climbing(float(limit) - 0.5))


# the line as it lies -----------------------------------------------------------------------------------------------


def test_a_line_tells_its_grade_posts_and_earth() -> None:
    design = field(along(0.0, -0.6, 0.0), store=Store(x_m=20.0, y_m=0.0))
    result = ASSESSOR.assess(Document(design=design), calendar=False).lines[0]
    assert result.grade_percent == pytest.approx(0.0, abs=1e-9)
    assert result.post_shortest_m == pytest.approx(level(design))
    assert result.post_longest_m == pytest.approx(level(design) + 0.6)
    assert result.cut_m3 > 0.5
    assert result.fill_m3 > 0.5
    lay = lay_of(design, place_lines(design)[0])
    assert lay.posts_m == pytest.approx(level(design) + 0.6 * (1 - np.abs(np.linspace(-1, 1, COUNT))))
    even = ASSESSOR.assess(Document(design=field()), calendar=False).lines[0]
    assert (even.cut_m3, even.fill_m3, even.post_shortest_m, even.post_longest_m) == (
        0.0,
        0.0,
        level(design),
        level(design),
    )


def test_longer_posts_are_bought() -> None:
    """Four legs of a mirror are each as much longer as its vertex stands higher, rounded up to 10 cm; braces a little."""
    design = field(along(0.0, -0.4, 0.0))
    level_rods, rods = (
        ASSESSOR.assess(Document(design=one), calendar=False).figures["rod_length_m"]
        for one in (field(), design)
    )
    assert level_rods is not None
    assert rods is not None
    extra = lay_of(design, place_lines(design)[0]).posts_m - level(design)
    assert rods - level_rods >= 4 * extra.sum()
    assert rods - level_rods <= 4 * (extra + 0.1).sum() + 3 * (extra + 0.1).sum()
    source = [
        line.source
        for block in ASSESSOR.assess(Document(design=design), calendar=False).materials
        for line in block.lines
        if line.key == "stand_bar"
    ]
    assert "over uneven ground" in source[0]


def test_header_and_line_pipe_are_as_long_as_their_slope() -> None:
    drawn = Header(hot=((15.0, 0.0), (15.0, 30.0)), cold=((-2.0, 0.0), (-2.0, 30.0), (15.0, 30.0)))
    made = field(header=drawn, store=Store(x_m=15.0, y_m=30.0))
    flat = ASSESSOR.assess(Document(design=made), calendar=False)
    steep = ASSESSOR.assess(
        Document(design=replace(made, ground=Ground(slope_percent=20.0, falls_towards_deg=0.0))),
        calendar=False,
    )
    assert steep.lines[0].pipe_m == flat.lines[0].pipe_m
    assert drawn.hot in flat.header.hot
    assert steep.header.hot_m - flat.header.hot_m == pytest.approx(
        30.0 * (np.hypot(1.0, 0.2) - 1.0), abs=0.01
    )
    measured = land((-40.0, -40.0, 8.0), (40.0, -40.0, 8.0), (40.0, 40.0, -8.0), (-40.0, 40.0, -8.0))
    same = ASSESSOR.assess(Document(design=replace(made, ground=measured)), calendar=False)
    assert same.header.hot_m == pytest.approx(steep.header.hot_m)
    assert same.header.cold_m == pytest.approx(steep.header.cold_m)
