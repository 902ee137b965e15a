"""Every finding has a design that provokes it and one that just misses it."""

from dataclasses import replace
from math import cos, radians, sin

import pytest

from studio.design.design import Design, Document
from studio.design.field import Line
from studio.design.site import MonthlyWeather, NoBuild, Plot
from studio.engine.mirror.form import edge_depth
from studio.study.assess import Assessor
from studio.study.findings import Finding
from studio.study.place import form_of, swept_m

ASSESSOR = Assessor()
WIDE = Plot(
    boundary=((-20.0, -20.0), (60.0, -20.0), (60.0, 60.0), (-20.0, 60.0)),
    setback_m=2.0,
    maintenance_gap_m=0.8,
)


def field(*lines: Line, plot: Plot = WIDE) -> Design:
    return Design(plot=plot, lines=lines)


def row(number: int, y_m: float, *, x_m: float = 0.0, spacing_m: float = 1.35) -> Line:
    return Line(id=number, x_m=x_m, y_m=y_m, spacing_m=spacing_m, count=6)


def findings(design: Design) -> dict[str, Finding]:
    assessment = ASSESSOR.assess(Document(design=design))
    assert [finding.number for finding in assessment.findings] == list(range(1, len(assessment.findings) + 1))
    return {finding.key: finding for finding in assessment.findings}


def test_a_line_over_the_boundary_stands_outside_the_plot() -> None:
    over = findings(field(row(1, 59.8)))
    assert over["mirror_outside_plot"].severity == "stop"
    assert over["mirror_outside_plot"].line_id == 1
    assert "mirror_outside_plot" not in findings(field(row(1, 57.0)))


def test_a_line_in_the_setback_is_told_with_its_distance() -> None:
    # half the mirror's depth on plan, less what the rim stands south of the vertex: 1.44 m at a tilt of 36 degrees
    form = form_of(Design().mirror)
    reach = 0.72 * cos(radians(36.0)) - edge_depth(form) * sin(radians(36.0))
    found = findings(field(row(1, 60.0 - 2.0 - reach + 0.1)))
    assert found["mirror_inside_setback"].value == pytest.approx(1.9, abs=0.01)
    assert "mirror_inside_setback" not in findings(field(row(1, 60.0 - 2.0 - reach - 0.1)))


def test_a_line_in_a_no_build_area() -> None:
    def with_area(y_m: float) -> Design:
        pit = NoBuild(name="pit", ring=((1.0, 5.0), (4.0, 5.0), (4.0, 8.0), (1.0, 8.0)))
        return field(row(1, y_m), plot=replace(WIDE, no_build=(pit,)))

    assert findings(with_area(5.0))["mirror_in_no_build_area"].severity == "stop"
    assert "mirror_in_no_build_area" not in findings(with_area(3.0))


def test_lines_nearer_than_the_maintenance_gap() -> None:
    depth = 1.44 * 0.8090
    near = findings(field(row(1, 0.0), row(2, depth + 0.7)))
    assert near["lines_near"].severity == "caution"
    assert near["lines_near"].value == pytest.approx(0.7, abs=0.01)
    assert "lines_near" not in findings(field(row(1, 0.0), row(2, depth + 0.9)))


def test_lines_that_cross() -> None:
    across = Line(id=2, x_m=3.0, y_m=-4.0, azimuth_deg=0.0, count=7)
    assert findings(field(row(1, 0.0), across))["lines_cross"].severity == "stop"
    aside = replace(across, x_m=14.0)
    assert "lines_cross" not in findings(field(row(1, 0.0), aside))


def test_a_stroke_that_leaves_the_plot() -> None:
    assert findings(field(row(1, 0.0, x_m=-17.5)))["stroke_outside_plot"].severity == "stop"
    assert "stroke_outside_plot" not in findings(field(row(1, 0.0, x_m=-16.5)))


def test_receivers_that_reach_over_a_no_build_area() -> None:
    def with_pond(x_m: float) -> Design:
        pond = NoBuild(name="pond", ring=((x_m, -2.0), (x_m + 3.0, -2.0), (x_m + 3.0, 2.0), (x_m, 2.0)))
        return field(row(1, 0.0), plot=replace(WIDE, no_build=(pond,)))

    design = field(row(1, 0.0))
    end = 5 * 1.35 + swept_m(
        design
    )  # of the pipe at full slide; a receiver's half thickness goes on from there
    over = findings(with_pond(end - 0.1))["stroke_in_no_build_area"]
    assert over.severity == "caution"
    assert over.place is not None
    assert "stroke_in_no_build_area" not in findings(with_pond(end + 0.3))


def test_receivers_that_hit_the_posts_of_a_line_above() -> None:
    """A line stands where another, rolled down, swings its receivers: its posts are in the way while it stands high."""
    low = replace(row(1, 0.0), stands_at_m=1.2)

    def with_high(stands_at_m: float) -> Design:
        high = replace(row(2, -1.15), stands_at_m=stands_at_m)
        design = field(low, high)
        return replace(design, motion=replace(design.motion, roll_from_deg=-29.0, roll_to_deg=29.0))

    assert findings(with_high(2.6))["stroke_meets_support"].severity == "stop"
    assert "stroke_meets_support" not in findings(with_high(1.2))


def test_an_arm_so_short_that_a_receiver_rolls_into_its_own_mirror() -> None:
    def with_arm(arm_m: float, roll_deg: float) -> Design:
        design = field(row(1, 0.0))
        motion = replace(design.motion, arm_m=arm_m, roll_from_deg=-roll_deg, roll_to_deg=roll_deg)
        return replace(design, motion=motion)

    found = findings(with_arm(0.6, 60.0))["receiver_meets_own_mirror"]
    assert found.severity == "stop"
    assert found.place is not None
    assert "receiver_meets_own_mirror" not in findings(with_arm(0.6, 40.0))
    # by hand: the receiver's low corner in the mirror's own section, at the end of the slide over the mirror's edge
    assert found.value is not None
    assert -0.1 < found.value < 0.0


def test_mirrors_so_close_that_no_frame_swings_between_them_and_its_mend() -> None:
    found = findings(field(row(1, 0.0, spacing_m=1.30)))["no_room_for_frame"]
    assert found.severity == "stop"
    assert found.mend is not None
    wider = found.mend.arguments["value"]
    assert "no_room_for_frame" not in findings(field(row(1, 0.0, spacing_m=wider)))


def test_a_header_through_a_no_build_area() -> None:
    pond = NoBuild(name="pond", ring=((20.0, 5.0), (24.0, 5.0), (24.0, 9.0), (20.0, 9.0)))
    design = field(row(1, 0.0), plot=replace(WIDE, no_build=(pond,)))
    beyond = replace(design, store=replace(design.store, x_m=34.0, y_m=15.0))
    assert "header_in_no_build_area" not in findings(beyond)  # by itself it goes round

    def drawn(y_m: float) -> Design:
        return replace(beyond, header=replace(beyond.header, hot=((14.0, y_m), (34.0, y_m))))

    assert findings(drawn(8.9))["header_in_no_build_area"].severity == "stop"
    assert "header_in_no_build_area" not in findings(drawn(9.1))
    drowned = replace(design, store=replace(design.store, x_m=22.0, y_m=7.0))
    assert findings(drowned)["header_in_no_build_area"].severity == "stop"


def test_winter_shade_above_its_mark_and_the_pitch_that_mends_it() -> None:
    tight = field(*(replace(row(n, 2.2 * n), count=20) for n in range(1, 5)))
    found = findings(tight)["winter_shade"]
    assert found.value is not None
    assert found.value > 0.05
    assert found.mend is not None
    scale = found.mend.arguments["scale"]
    assert scale > 1.0
    wider = field(*(replace(row(n, 2.2 * scale * n), count=20) for n in range(1, 5)))
    assert "winter_shade" not in findings(wider)
    almost = field(*(replace(row(n, 2.2 * (scale - 0.02) * n), count=20) for n in range(1, 5)))
    assert "winter_shade" in findings(almost)


def test_cautions_of_light_heat_and_oil() -> None:
    base = field(row(1, 0.0))
    found = findings(base)
    assert found["concentrated_light"].value is not None
    assert found["concentrated_light"].value > 20.0
    assert found["stagnation"].severity == "caution"
    hot = replace(base, oil=replace(base.oil, outlet_c=300.0, bulk_limit_c=299.0))
    assert findings(hot)["oil_too_hot"].severity == "stop"
    assert "oil_too_hot" not in findings(replace(hot, oil=replace(hot.oil, bulk_limit_c=300.0)))
    cool = replace(base, oil=replace(base.oil, inlet_c=100.0, outlet_c=180.0))
    assert "oil_above_flash" in found
    assert "oil_above_flash" not in findings(cool)


def test_what_cannot_be_cut_or_priced_or_delivered() -> None:
    base = field(row(1, 0.0))
    few = replace(base, mirror=replace(base.mirror, ribs=2))
    wide = replace(few, materials=replace(base.materials, roll_width_m=1.0))
    assert findings(wide)["cannot_be_cut"].severity == "stop"
    assert "cannot_be_cut" not in findings(base)
    assert findings(base)["price_missing"].severity == "note"
    dark = replace(base, site=replace(base.site, weather=MonthlyWeather(dni_kwh_m2_day=(0.0,) * 12)))
    assert "no_heat" in findings(dark)


def test_monthly_sums_above_the_clear_sky_are_told() -> None:
    sums = (11.0, *MonthlyWeather().dni_kwh_m2_day[1:])
    base = field(row(1, 0.0))
    bright = replace(base, site=replace(base.site, weather=MonthlyWeather(dni_kwh_m2_day=sums)))
    assert "weather_rescaled" in findings(bright)
    assert "weather_rescaled" not in findings(base)


def test_what_the_studio_itself_knows_less_well_is_told() -> None:
    base = field(row(1, 0.0))
    exact = replace(base, mirror=replace(base.mirror, slope_error_mrad=0.5, scatter_mrad=0.5))
    assert "sharp_sun" in findings(exact)
    assert "sharp_sun" not in findings(base)
