"""The plan as display data: held against geometry worked out by other means."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from studio.design.design import Design
from studio.design.field import Line, Store
from studio.design.site import Ground, NoBuild, Plot, Site
from studio.drawings.contours import contours
from studio.drawings.plan import PlanDrawing, nice_step, plan_drawing, scale_bar
from studio.study.findings import Finding

FIELD = Design(
    site=Site(latitude_deg=33.5, longitude_deg=-5.0),
    plot=Plot(
        boundary=((-10, -8), (50, -8), (50, 28), (-10, 28)),
        no_build=(NoBuild(name="well", ring=((40, 20), (46, 20), (46, 26))),),
        setback_m=2.0,
    ),
    lines=tuple(Line(id=n + 1, x_m=0.0, y_m=3.2 * n, count=20) for n in range(3)),
    store=Store(x_m=42.0, y_m=3.0),
)


def noon(design: Design, *, shadows: bool = True, tint: bool = True) -> PlanDrawing:
    return plan_drawing(design, day_of_year=355, clock_h=12.3, shadows=shadows, tint=tint)


def test_footprints_are_the_aperture_seen_from_above() -> None:
    line = noon(FIELD).lines[0]
    areas = shapely.area(shapely.polygons(line.corners[..., :2]))
    mirror = FIELD.mirror
    assert areas == pytest.approx(mirror.width_m * mirror.height_m * np.cos(np.radians(mirror.tilt_deg)))
    assert line.corners.shape == (20, 4, 3)
    low, high = line.corners[:, :2, 2].mean(), line.corners[:, 2:, 2].mean()
    assert high - low == pytest.approx(mirror.height_m * np.sin(np.radians(mirror.tilt_deg)))
    assert line.corners[0, 0, 1] < line.corners[0, 3, 1], "the low edge lies to the south of the high one"


def test_the_setback_lies_its_distance_inside() -> None:
    (ring,) = noon(FIELD).land.setback
    inside = shapely.Polygon(ring)
    assert inside.area == pytest.approx(56 * 32)
    assert shapely.Polygon(FIELD.plot.boundary).exterior.distance(inside) == pytest.approx(2.0)


def test_a_setback_wider_than_the_plot_leaves_nothing() -> None:
    narrow = replace(FIELD, plot=replace(FIELD.plot, setback_m=100.0))
    assert noon(narrow).land.setback == ()


def test_the_shadow_of_a_mirror_has_the_area_of_its_parallel_projection() -> None:
    """A plane figure's parallel projection on the ground has area A |n.s| / |s.z|, n its normal, s the ray."""
    drawing = noon(FIELD)
    assert drawing.shadows is not None
    quads = np.concatenate([mirrors for mirrors, *_gear in drawing.shadows.by_line.values()])
    area = shapely.area(shapely.polygons(quads))
    sun, normal = drawing.sun.direction, drawing.lines[0].placed.axes[2]
    wanted = FIELD.mirror.width_m * FIELD.mirror.height_m * abs(normal @ sun) / sun[2]
    assert area == pytest.approx(wanted, rel=1e-9)
    for outlines in drawing.shadows.groups:
        assert shapely.is_ccw(shapely.linearrings(outlines)).all(), (
            "all turn one way: a winding fill is the union"
        )


def test_shadows_fall_away_from_the_sun() -> None:
    drawing = noon(FIELD)
    assert drawing.shadows is not None
    shadow = np.concatenate([own[0] for own in drawing.shadows.by_line.values()]).mean(axis=(0, 1))
    mirrors = np.concatenate([line.corners for line in drawing.lines]).mean(axis=(0, 1))[:2]
    away = (shadow - mirrors) / np.linalg.norm(shadow - mirrors)
    toward = drawing.sun.direction[:2] / np.linalg.norm(drawing.sun.direction[:2])
    assert away @ toward == pytest.approx(-1.0, abs=1e-6)


def test_nothing_is_worked_out_that_is_not_shown() -> None:
    drawing = noon(FIELD, shadows=False, tint=False)
    assert drawing.shadows is None
    assert drawing.tints == {}


def test_at_night_there_are_no_shadows_and_the_line_rests() -> None:
    drawing = plan_drawing(FIELD, day_of_year=355, clock_h=1.0)
    assert drawing.shadows is None
    assert all(gear.rests and gear.roll_deg == FIELD.motion.rest_roll_deg for gear in drawing.gear.values())
    assert all((tint == 0).all() for tint in drawing.tints.values())


def test_close_lines_shade_those_behind_and_not_the_front_one() -> None:
    close = replace(FIELD, lines=tuple(replace(line, y_m=1.6 * n) for n, line in enumerate(FIELD.lines)))
    tints = noon(close).tints
    assert tints[1].max() == pytest.approx(0.0, abs=1e-9)
    assert tints[2].min() >= 0.0
    assert tints[2].max() > 0.1
    far = replace(FIELD, lines=tuple(replace(line, y_m=12.0 * n) for n, line in enumerate(FIELD.lines)))
    assert max(tint.max() for tint in noon(far).tints.values()) == pytest.approx(0.0, abs=1e-9)


def test_receivers_stand_an_arm_away_from_the_roll_axis() -> None:
    drawing = noon(FIELD)
    line, gear = drawing.lines[0], drawing.gear[1]
    away = gear.receivers - line.vertices - np.array([gear.slide_m, 0.0, 0.0])
    assert np.linalg.norm(away, axis=1) == pytest.approx(FIELD.motion.arm_m)
    steps = np.diff(gear.receivers, axis=0)
    assert steps == pytest.approx(np.tile([1.35, 0.0, 0.0], (19, 1)), abs=1e-9)


def test_only_the_moved_line_is_drawn_anew() -> None:
    before = noon(FIELD)
    moved = replace(FIELD, lines=(*FIELD.lines[:2], replace(FIELD.lines[2], y_m=7.0)))
    after = noon(moved)
    assert after.lines[0] is before.lines[0]
    assert after.lines[2] is not before.lines[2]
    assert after.land is before.land
    assert after.gear[1] is before.gear[1]


def test_marks_are_the_findings_that_have_a_place() -> None:
    found = (Finding("a", "stop", "here", place=(1.0, 2.0)), Finding("b", "note", "nowhere"))
    drawing = plan_drawing(FIELD, day_of_year=1, clock_h=12.0, findings=found)
    assert [finding.key for finding in drawing.marks] == ["a"]


def test_bounds_hold_everything_and_an_empty_sheet_has_some() -> None:
    x0, y0, x1, y1 = noon(FIELD).bounds
    assert (x0, y0, x1, y1) == (-10.0, -8.0, 50.0, 28.0)
    empty = noon(Design()).bounds
    assert empty[0] < empty[2]


def test_contours_lie_at_their_height() -> None:
    ground = Ground(slope_percent=5.0, falls_towards_deg=150.0)
    found = contours(ground, (0.0, 0.0, 60.0, 40.0))
    assert 5 <= len(found) <= 30
    down = np.array([np.sin(np.radians(150)), np.cos(np.radians(150))])
    for contour in found:
        assert -(contour.pieces @ down) * 0.05 == pytest.approx(contour.height_m, abs=1e-9)
    assert contours(Ground(), (0.0, 0.0, 60.0, 40.0)) == ()


@pytest.mark.parametrize(
    ("least", "step"), [(0.9, 1.0), (1.0, 1.0), (1.1, 2.0), (3.0, 5.0), (7.0, 10.0), (0.03, 0.05)]
)
def test_steps_are_round(least: float, step: float) -> None:
    assert nice_step(least) == pytest.approx(step)


@pytest.mark.parametrize("metres_per_pixel", [0.001, 0.02, 0.0856, 0.3, 5.0])
def test_the_scale_bar_fits_its_room(metres_per_pixel: float) -> None:
    half = scale_bar(metres_per_pixel)
    assert 40.0 <= 2 * half / metres_per_pixel <= 140.5
