"""What has room and what has not."""

from dataclasses import replace

import pytest
import shapely
from shapely import Polygon, box

from studio.engine.ground.line_on_plan import LineOnPlan, line_on_plan
from studio.engine.ground.spacing import Conflict, Plot, spacing_conflicts
from studio.engine.mirror.frame import mirror_axes
from studio.engine.shade.gear import GearShape
from studio.engine.shade.rows import RowOfMirrors

GEAR = GearShape(1.2, 0.10, 0.3, 0.24, 0.2, 0.15, 0.03, pipe_offset_m=(0.1, 0.16))
PLOT = Plot(boundary=box(-10.0, -10.0, 30.0, 30.0), setback_m=1.0)
DEPTH = 1.44 * 0.8191520442889918
"""A mirror 1.44 m high takes up 1.44 cos 35 deg on plan, invented."""


def row(x: float, y: float, *, count: int = 4, spacing: float = 1.40, z: float = 1.0) -> RowOfMirrors:
    return RowOfMirrors(
        first=(x, y, z),
        along=(1.0, 0.0, 0.0),
        spacing_m=spacing,
        count=count,
        axes=mirror_axes(tilt_deg=35.0, facing_deg=180.0),
        width_m=1.25,
        height_m=1.44,
    )


def line(one: RowOfMirrors, *, slide: float = 1.1, drive: Polygon | None = None) -> LineOnPlan:
    return line_on_plan(one, GEAR, slide_m=(-slide, slide), roll_deg=(-29.0, 29.0), drive=drive)


def found(plot: Plot, *lines: LineOnPlan, gap: float = 0.8) -> tuple[Conflict, ...]:
    return spacing_conflicts(plot, lines, maintenance_gap_m=gap)


def kinds(conflicts: tuple[Conflict, ...]) -> set[str]:
    return {conflict.kind for conflict in conflicts}


def test_a_roomy_field_has_no_conflict() -> None:
    field = [line(row(0.0, y), drive=box(-3.0, y - 0.2, -2.5, y + 0.2)) for y in (0.0, 3.2, 6.4)]
    assert found(PLOT, *field) == ()


def test_mirrors_that_leave_the_plot_are_named_with_how_far() -> None:
    (one,) = [c for c in found(PLOT, line(row(25.5, 0.0))) if c.kind == "mirror outside plot"]
    assert (one.line, one.mirror, one.other) == (0, 3, None)
    assert one.measured_m == pytest.approx(25.5 + 3 * 1.40 + 0.625 - 30.0)
    assert one.place == pytest.approx((29.7, 0.0))


def test_mirror_inside_the_setback_is_told_its_distance() -> None:
    conflicts = found(PLOT, line(row(0.0, 30.0 - DEPTH / 2 - 0.4)))
    inside = [c for c in conflicts if c.kind == "mirror inside setback"]
    assert [c.mirror for c in inside] == [0, 1, 2, 3]
    assert inside[0].measured_m == pytest.approx(0.4)
    assert inside[0].limit_m == 1.0


def test_mirror_drive_and_header_in_a_no_build_area() -> None:
    area = box(1.3, -0.1, 1.6, 0.1)
    plot = replace(PLOT, no_build=(area,))
    driven = line(row(0.0, 0.0), drive=box(1.2, -0.05, 1.4, 0.05))
    conflicts = spacing_conflicts(
        plot, (driven,), maintenance_gap_m=0.8, headers=(shapely.LineString([(1.45, -5.0), (1.45, 5.0)]),)
    )
    by_kind = {c.kind: c for c in conflicts}
    assert by_kind["mirror in no-build area"].mirror == 1
    assert by_kind["mirror in no-build area"].measured_m == pytest.approx((0.3**2 + 0.2**2) ** 0.5)
    assert by_kind["drive in no-build area"].line == 0
    header = by_kind["header in no-build area"]
    assert (header.line, header.other) == (None, 0)
    assert header.measured_m == pytest.approx(0.2)


def test_drive_outside_the_plot() -> None:
    conflicts = found(PLOT, line(row(0.0, 0.0), drive=box(-10.5, 0.0, -9.8, 0.2)))
    (one,) = conflicts
    assert one.kind == "drive outside plot"
    assert one.measured_m == pytest.approx(0.5)


def test_lines_nearer_than_the_maintenance_gap() -> None:
    conflicts = found(PLOT, line(row(0.0, 0.0)), line(row(0.0, DEPTH + 0.6)))
    near = [c for c in conflicts if c.kind == "lines near"]
    assert [(c.line, c.other) for c in near] == [(0, 1)]
    assert near[0].measured_m == pytest.approx(0.6)
    assert near[0].place[1] == pytest.approx(DEPTH / 2 + 0.3)


def test_lines_that_cross_are_told_where() -> None:
    across = RowOfMirrors(**{**vars(row(2.0, -3.0)), "along": (0.0, 1.0, 0.0), "spacing_m": 2.0})
    crossing = [c for c in found(PLOT, line(row(0.0, 0.0)), line(across)) if c.kind == "lines cross"]
    assert [(c.line, c.other) for c in crossing] == [(0, 1)]
    assert crossing[0].place == pytest.approx((2.0, 0.0))


def test_full_slide_past_the_boundary() -> None:
    # last mirror's edge 1.1 m inside, its receiver slides 1.1 m and the pipe hangs over 0.3 m
    placed = row(30.0 - 1.1 - 0.625 - 3 * 1.40, 0.0)
    assert kinds(found(PLOT, line(placed, slide=0.3))) == set()
    (one,) = found(PLOT, line(placed, slide=1.6))
    assert one.kind == "stroke outside plot"
    radius = line(placed).bar_radius_m
    assert one.measured_m == pytest.approx(1.6 + 0.3 + radius - 1.1 - 0.625, abs=0.02)


def test_stroke_that_meets_a_higher_neighbours_mirrors_but_passes_over_a_low_one() -> None:
    """Two lines end to end: the bar slides over the neighbour's first mirror, some 1.2 m above the vertices."""
    first = row(0.0, 0.0)
    for height, meets in ((1.0, False), (2.1, True)):
        second = row(3 * 1.40 + 2.0, 0.0, z=height)
        conflicts = found(PLOT, line(first, slide=1.3), line(second, slide=0.1), gap=0.1)
        hits = [c for c in conflicts if c.kind == "stroke meets mirror" and c.line == 0]
        assert bool(hits) == meets
        if meets:
            assert (hits[0].other, hits[0].mirror) == (1, 0)
            assert hits[0].measured_m < hits[0].limit_m


def test_strokes_of_two_lines_end_to_end_meet() -> None:
    first, second = row(0.0, 0.0), row(3 * 1.40 + 2.6, 0.0)
    assert "strokes meet" in kinds(found(PLOT, line(first), line(second), gap=0.1))
    assert "strokes meet" not in kinds(found(PLOT, line(first, slide=0.1), line(second, slide=0.1), gap=0.1))


def test_gap_between_mirrors_must_pass_a_frame() -> None:
    narrow = line(row(0.0, 0.0, spacing=1.30))
    (one,) = found(PLOT, narrow)
    assert one.kind == "no room for frame"
    assert one.measured_m == pytest.approx(0.05)
    assert one.limit_m == pytest.approx(0.03 + 0.04)


def test_a_line_of_one_mirror_is_looked_at_too() -> None:
    assert found(PLOT, line(row(0.0, 0.0, count=1)), line(row(0.0, 3.2, count=1))) == ()
    assert "lines near" in kinds(found(PLOT, line(row(0.0, 0.0, count=1)), line(row(0.0, 1.5, count=1))))
