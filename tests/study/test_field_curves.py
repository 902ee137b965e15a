"""Curves over a whole field: each point a design by itself, and what the sun says of them."""

import dataclasses
import threading
import time
from functools import cache
from itertools import pairwise
from math import cos, radians, sin, tan

import numpy as np
import pytest

from studio.design.design import Design, Document
from studio.edits.variants import Over, present_value, usual_values, variant
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.apart import AssessorApart
from studio.study.assess import Assessor
from studio.study.cache import Cache
from studio.study.field_curves import (
    KEYS,
    CurvePoint,
    FieldCurve,
    FieldPoint,
    best_point,
    field_curve,
    in_order,
    passing_spans,
)
from studio.study.place import place_lines
from studio.study.sky import sky_of
from studio.study.watch import StoppedError
from studio.study.winter import mirrors_alone, winter_suns

ASSESSOR = Assessor()
"""One for all tests: what is worked out once is there."""


@cache
def small() -> Document:
    """The three lines of the small example."""
    return open_site(example_path("small_dryer"))


def on(design: Design) -> Document:
    return dataclasses.replace(small(), design=design)


def curve_of(document: Document, over: Over, values: tuple[float, ...], **how: bool) -> FieldCurve:
    design = document.design
    return field_curve(
        document, values, here=present_value(design, over), assessor=ASSESSOR,
        make=lambda value: variant(design, over=over, value=value, **how),
    )  # fmt: skip


@cache
def over_pitch() -> FieldCurve:
    return curve_of(small(), "pitch", usual_values(small().design, "pitch", points=13))


@pytest.mark.parametrize(
    ("over", "value", "planted"),
    [("pitch", 3.0, False), ("spacing", 1.6, False), ("azimuth", 75.0, False), ("pitch", 2.8, True), ("azimuth", 100.0, True)],
)  # fmt: skip
def test_a_point_is_the_edited_design_assessed_by_itself(over: Over, value: float, planted: bool) -> None:
    found = curve_of(small(), over, (value,), planted=planted)
    made = variant(small().design, over=over, value=value, planted=planted)
    alone = Assessor().assess(on(made.design), calendar=False)
    (point,) = found.points
    assert point.design == made.design
    assert point.label == made.label
    assert point.brings is not None
    for key in KEYS:
        assert point.figure(key) == pytest.approx(alone.figures[key], rel=1e-12, abs=1e-15), key
    assert point.brings.passes == all(line.passes for line in alone.lines)
    assert point.brings.stop_count == sum(finding.forbids for finding in alone.findings)


def test_the_present_point_is_the_design_and_the_passing_pitch_its_figure() -> None:
    whole = ASSESSOR.assess(small())
    found = over_pitch()
    assert found.here == whole.figures["mean_pitch_m"]
    assert {key: found.present.figures[key] for key in KEYS} == {key: whole.figures[key] for key in KEYS}
    here = next(point for point in found.points if point.value == found.here)
    assert here.brings == found.present
    assert found.passing_pitch_m == whole.figures["passing_pitch_m"]


def test_winter_shade_falls_and_a_mirror_takes_more_light_as_pitches_grow() -> None:
    points = over_pitch().points
    shade = [point.figure("shade_loss_winter") or 0.0 for point in points]
    assert shade[0] > 0.2
    assert shade[-1] == 0.0
    assert all(after <= before + 1e-12 for before, after in pairwise(shade))
    absorbed = []
    for point in points:
        assert point.design is not None
        value = ASSESSOR.assess(small(), point.design, calendar=False).figures["absorbed_kwh"]
        assert value is not None
        absorbed.append(value)
    # where hardly any shade is left the blend between places of the sun ripples by less than a millionth
    assert all(after >= before * (1 - 1e-6) for before, after in pairwise(absorbed))
    # heat rises with it as long as shade is what is lost; beyond, longer headers take their part
    close = [point for point in points if (point.figure("shade_loss_winter") or 0.0) > 0.0]
    heat = [point.figure("heat_per_mirror_kwh") or 0.0 for point in close]
    assert len(heat) >= 3
    assert all(after > before for before, after in pairwise(heat))
    pipe = [point.figure("header_length_m") or 0.0 for point in points]
    assert pipe[-1] > pipe[0]
    cover = [point.figure("ground_cover") or 0.0 for point in points]
    assert all(after < before for before, after in pairwise(cover))


def test_the_passing_pitch_agrees_with_the_curve() -> None:
    passing = over_pitch().passing_pitch_m
    assert passing is not None
    near = tuple(passing + by for by in (-0.06, -0.02, 0.02, 0.06))
    limit = small().design.marks.winter_limit
    found = curve_of(small(), "pitch", near)
    shade = [point.figure("shade_loss_winter") or 0.0 for point in found.points]
    crossing = float(np.interp(-limit, [-value for value in shade], near))
    assert crossing == pytest.approx(passing, abs=0.006)  # the search ends within 5 mm
    ((start, end),) = passing_spans(found.points, limit)
    assert start == pytest.approx(crossing, abs=1e-9)
    assert end == near[-1]
    assert [point.brings is not None and point.brings.passes for point in found.points] == [
        False, False, True, True,
    ]  # fmt: skip


def test_noon_shade_of_winter_begins_at_the_pitch_of_unshaded_rows() -> None:
    """D = h (cos b + sin b / tan p): Duffie and Beckman, Solar Engineering of Thermal Processes, on shading of rows."""
    design = small().design
    design = dataclasses.replace(
        design,
        ground=dataclasses.replace(design.ground, slope_percent=0.0),
        marks=dataclasses.replace(design.marks, winter_from_h=11.999, winter_to_h=12.001),
        lines=tuple(
            dataclasses.replace(line, x_m=5.0, y_m=4.0 + 3.0 * place, count=9, azimuth_deg=90.0)
            for place, line in enumerate(design.lines)
        ),
    )
    cache = Cache()
    winter = winter_suns(design, sky_of(design.site, small().asset, cache), cache)
    noon = radians(float(winter.track.elevation_deg[len(winter.solar_h) // 2]))
    tilt, high = radians(design.mirror.tilt_deg), design.mirror.height_m
    clear = high * (cos(tilt) + sin(tilt) / tan(noon))

    def shade(pitch_m: float) -> float:
        made = variant(design, over="pitch", value=pitch_m).design
        return float(mirrors_alone(made, place_lines(made), winter).max())

    assert shade(clear + 0.002) == 0.0
    assert 0.0 < shade(clear - 0.002) < 0.01
    # and what is closer by d is shaded over d of the depth that the sun sees between rows
    assert shade(0.8 * clear) == pytest.approx(0.2, abs=0.02)


def test_turned_east_or_west_a_field_that_faces_south_is_shaded_alike() -> None:
    """The check's hours lie evenly about solar noon, and so does the clear sky: a field and its mirror image lose alike."""
    design = small().design
    lines = tuple(
        dataclasses.replace(line, x_m=5.0, y_m=4.0 + 2.6 * place, count=9, azimuth_deg=90.0, first_number=1)
        for place, line in enumerate(design.lines)
    )
    level = dataclasses.replace(design.ground, slope_percent=0.0)
    document = on(dataclasses.replace(design, lines=lines, ground=level, obstacles=()))
    assert document.design.mirror.facing_deg == 180.0
    found = curve_of(document, "azimuth", (60.0, 75.0, 90.0, 105.0, 120.0))
    shade = {point.value: point.figure("shade_loss_winter") or 0.0 for point in found.points}
    assert shade[60.0] == pytest.approx(shade[120.0], abs=1e-3)
    assert shade[75.0] == pytest.approx(shade[105.0], abs=1e-3)
    cover = {point.value: point.figure("ground_cover") or 0.0 for point in found.points}
    assert cover[60.0] == pytest.approx(cover[120.0], rel=1e-9)


def test_ground_cover_is_aperture_over_the_hull_of_all_mirrors() -> None:
    """Two level rows: the hull is a rectangle of their length by their pitch and a mirror's depth on the plan."""
    design = small().design
    lines = tuple(
        dataclasses.replace(design.lines[0], id=place + 1, x_m=0.0, y_m=4.0 * place, azimuth_deg=90.0, count=10,
                            facing_deg=180.0, tilt_deg=30.0)
        for place in (0, 1)
    )  # fmt: skip
    mirror = design.mirror
    figures = ASSESSOR.assess(small(), dataclasses.replace(design, lines=lines), calendar=False).figures
    long = 9 * lines[0].spacing_m + mirror.width_m
    deep = 4.0 + mirror.height_m * cos(radians(30.0))
    aperture = 20 * mirror.width_m * mirror.height_m
    if design.ground.slope_percent == 0.0:
        assert figures["field_area_m2"] == pytest.approx(long * deep, rel=1e-9)
    assert figures["ground_cover"] == pytest.approx(aperture / (long * deep), rel=5e-3)
    heat = figures["annual_heat_kwh"]
    assert heat is not None
    assert figures["heat_per_mirror_kwh"] == heat / 20


def test_points_come_from_the_present_one_outwards_and_can_be_stopped() -> None:
    values = (2.0, 2.4, 2.8, 3.2, 3.6)
    assert in_order(small().design, values, 2.65) == (2.8, 2.4, 3.2, 2.0, 3.6)
    heard: list[float] = []

    def watch(stage: str, share: float) -> bool:
        return len(heard) < 2

    design = small().design
    with pytest.raises(StoppedError):
        field_curve(
            small(), values, here=2.65, assessor=ASSESSOR, watch=watch, found=lambda point: heard.append(point.value),
            make=lambda value: variant(design, over="pitch", value=value),
        )  # fmt: skip
    assert heard == [2.8, 2.4]


def test_many_mirrors_get_every_third_point_first() -> None:
    line = dataclasses.replace(small().design.lines[0], count=400)
    design = dataclasses.replace(
        small().design, lines=tuple(dataclasses.replace(line, id=i) for i in range(1, 7))
    )
    order = in_order(design, (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0), 4.0)
    assert order[:3] == (4.0, 1.0, 7.0)
    assert sorted(order) == [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]


def test_known_designs_are_not_assessed_again(monkeypatch: pytest.MonkeyPatch) -> None:
    found = over_pitch()
    known = {small().design: found.present}
    known |= {p.design: p.brings for p in found.points if p.design is not None and p.brings is not None}
    design = small().design
    monkeypatch.delattr(Assessor, "assess")
    again = field_curve(
        small(), tuple(point.value for point in found.points), here=found.here, assessor=ASSESSOR, known=known,
        make=lambda value: variant(design, over="pitch", value=value), with_passing=False,
    )  # fmt: skip
    assert again.points == found.points


def test_what_cannot_be_planted_says_why() -> None:
    found = curve_of(small(), "pitch", (0.5, 2.65), planted=True)
    assert found.points[0].brings is None
    assert found.points[0].cannot.startswith("A pitch of 0.50 m lets lines overlap")
    assert not found.points[0].sound
    assert found.points[1].sound


def test_a_process_apart_stops_within_half_a_second() -> None:
    """Of a small field: what is being worked out is left between two stages."""
    apart, design = AssessorApart(), small().design
    first = threading.Event()
    stopped_at: list[float] = []

    def watch(stage: str, share: float) -> bool:
        if first.is_set() and not stopped_at:
            stopped_at.append(time.monotonic())
        return not first.is_set()

    with pytest.raises(StoppedError):
        field_curve(
            small(), (2.4, 2.65, 2.9, 3.2), here=2.65, assessor=apart, watch=watch,
            found=lambda _point: first.set(), make=lambda value: variant(design, over="pitch", value=value),
        )  # fmt: skip
    took = time.monotonic() - stopped_at[0]
    print(f"left after {took:.3f} s")
    assert took < 0.5


def point(value: float, shade: float | None, cost: float | None = 0.05, stops: int = 0) -> CurvePoint:
    figures: dict[str, float | None] = dict.fromkeys(KEYS)
    figures |= {"shade_loss_winter": shade, "heat_cost_per_kwh": cost, "annual_heat_kwh": 10.0 - value}
    return CurvePoint(value, "", None, FieldPoint(figures, None, False, ("no",) * min(stops, 1), stops))


def test_spans_that_pass_lie_straight_between_points() -> None:
    points = [point(0.0, 0.10), point(1.0, 0.00), point(2.0, 0.05), point(3.0, 0.15), point(4.0, 0.05)]
    spans = passing_spans(points, 0.05)
    assert spans[0] == pytest.approx((0.5, 2.0))
    assert spans[1] == pytest.approx((4.0, 4.0))
    assert len(spans) == 2
    assert passing_spans([point(0.0, 0.2), point(1.0, 0.3)], 0.05) == ()
    assert passing_spans([point(0.0, None), point(1.0, 0.0)], 0.05) == ()


def test_the_best_may_be_built() -> None:
    cheap, sound, dear = point(1.0, 0.0, 0.03, stops=2), point(2.0, 0.0, 0.04), point(3.0, 0.0, 0.05)
    assert best_point([cheap, sound, dear]) is sound
    assert best_point([cheap]) is None
    bare = [point(1.0, 0.0, None), point(2.0, 0.0, None)]
    assert best_point(bare) is bare[0]
