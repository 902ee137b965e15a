"""What is drawn and shaded on uneven ground: shadows, obstacles' feet, contours within the plot."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from studio.design.design import Design
from studio.design.field import Line
from studio.design.heights import packed_heights
from studio.design.obstacles import Block, Obstacle, Pole, Tree
from studio.design.site import Ground, HeightGrid, SpotHeights
from studio.drawings.contours import contours, height_places
from studio.drawings.obstacles import obstacle_shadows
from studio.drawings.plan import plan_drawing
from studio.engine.shade.obstacles import BlockBody, CrownBody, PoleBody
from studio.ground import surface_of
from studio.study.obstacles import bodies_of

SLOPE = Ground(slope_percent=12.0, falls_towards_deg=160.0)
RING = ((3.0, -6.0), (7.0, -6.0), (7.0, -4.0), (3.0, -4.0))
OBSTACLES: tuple[Obstacle, ...] = (
    Block(name="shed", ring=RING, height_m=3.0), Tree(place=(12.0, -5.0)), Pole(place=(-4.0, 2.0), height_m=5.0),
)  # fmt: skip


def measured(ground: Ground, lift_m: float = 0.0) -> Ground:
    """The same slope as spots that were measured, ``lift_m`` higher."""
    surface = surface_of(ground)
    places = [(x, y) for x in (-90.0, 0.0, 90.0) for y in (-90.0, 0.0, 90.0)]
    spots = tuple((x, y, float(surface.height_at(x, y)) + lift_m) for x, y in places)
    return Ground(heights=SpotHeights(spots=spots))


def test_a_measured_slope_is_drawn_as_the_slope() -> None:
    """Wherever it lies in height: shadows fall on the ground, and not on a plane through the reference point."""
    plane = Design(
        ground=SLOPE, obstacles=OBSTACLES, lines=(Line(id=1, x_m=0.0, y_m=0.0, azimuth_deg=80.0, count=9),)
    )
    lifted = replace(plane, ground=measured(SLOPE, 57.0))
    one, other = (plan_drawing(design, day_of_year=100, clock_h=10.0) for design in (plane, lifted))
    assert one.shadows is not None
    assert other.shadows is not None
    outlines, others = list(one.shadows.groups), list(other.shadows.groups)
    assert len(outlines) == len(others) > 5
    for shadow, same in zip(outlines, others, strict=True):
        assert same == pytest.approx(shadow, abs=0.02)  # the pose is a blend of those at two grades
    assert other.lines[0].vertices - one.lines[0].vertices == pytest.approx(np.tile([0, 0, 57.0], (9, 1)))


def test_a_poles_shadow_on_a_slope_by_hand() -> None:
    """A pole h high, the sun at elevation p down the slope s: the shadow is h / (tan p + s) long on the plan."""
    slope = Ground(heights=measured(Ground(slope_percent=20.0, falls_towards_deg=180.0), 8.0).heights)
    up = np.radians(35.0)
    sun = (0.0, float(-np.cos(up)), float(np.sin(up)))  # in the south, where the slope falls to
    (shadow,) = obstacle_shadows((Pole(place=(5.0, 0.0), radius_m=0.05, height_m=4.0),), slope, sun)
    assert shadow[..., 1].max() - 0.05 == pytest.approx(4.0 / (np.tan(up) + 0.2), abs=0.03)


def test_obstacles_stand_on_the_ground_at_their_own_place() -> None:
    y, x = np.mgrid[-20:21, -20:21] * 1.0
    heights = 0.01 * x**2 + 0.1 * y + 30.0
    grid = HeightGrid(
        x_m=-20.0, y_m=-20.0, step_m=1.0, rows=41, columns=41, cells=packed_heights(heights), zero_m=30.0
    )
    design = Design(ground=Ground(heights=grid), obstacles=OBSTACLES)
    shed, crown, pole = bodies_of(design)
    assert isinstance(shed, BlockBody)
    assert isinstance(crown, CrownBody)
    assert isinstance(pole, PoleBody)
    assert (pole.low_m, pole.high_m) == pytest.approx((0.16 + 0.2, 0.36 + 5.0))
    tree = OBSTACLES[1]
    assert isinstance(tree, Tree)
    assert crown.z_m == pytest.approx(1.44 - 0.5 + (tree.crown_base_m + tree.height_m) / 2)
    # under the shed x runs from 3 to 7: x2/100 rises there by 0.1 m a metre in the mean
    assert (shed.ground.east, shed.ground.north) == pytest.approx((0.1, 0.1))
    here, away = bodies_of(design), bodies_of(design, origin=(2.0, -3.0, 1.5))
    assert isinstance(away[0], BlockBody)
    assert isinstance(here[0], BlockBody)
    assert away[0].ground.at_origin == pytest.approx(here[0].ground.at_origin + 0.1 * 2.0 - 0.1 * 3.0 - 1.5)


def test_contours_of_measured_land_stay_within_the_plot_and_agree_with_the_slope() -> None:
    ground = measured(SLOPE)
    bounds, box = (-60.0, -50.0, 70.0, 55.0), (-20.0, -15.0, 40.0, 30.0)
    plot = np.array(shapely.box(*box).exterior.coords[:-1])
    found = contours(ground, bounds, plot)
    assert 5 <= len(found) <= 30
    surface = surface_of(SLOPE)
    for contour in found:
        ends = contour.pieces.reshape(-1, 2)
        assert surface.height_at(ends[:, 0], ends[:, 1]) == pytest.approx(contour.height_m, abs=1e-6)
        assert shapely.covers(shapely.box(*box).buffer(1e-9), shapely.MultiPoint(ends))
    assert [one.height_m for one in found] == [one.height_m for one in contours(SLOPE, box)]
    assert contours(ground, (100.0, 100.0, 120.0, 120.0), plot) == ()


def test_contours_end_at_the_plots_own_edge_and_lose_no_length_inside() -> None:
    """Held against one line of equal height over the plane, cut by shapely at a plot with a notch."""
    plot = np.array([(-20.0, -15.0), (40.0, -10.0), (30.0, 30.0), (8.0, 2.0), (-15.0, 28.0)])
    polygon, down = shapely.Polygon(plot), np.array(surface_of(SLOPE).height_at(*np.eye(2)))
    found = contours(measured(SLOPE), (-60.0, -50.0, 70.0, 55.0), plot)
    assert len(found) >= 5
    origin = float(surface_of(SLOPE).height_at(0.0, 0.0))
    grade = down - origin
    for contour in found:
        pieces = shapely.linestrings(contour.pieces)
        assert shapely.covers(polygon.buffer(1e-9), pieces).all()
        foot = grade * (contour.height_m - origin) / (grade @ grade)
        aside = 500.0 * np.array([-grade[1], grade[0]]) / np.hypot(*grade)
        whole = shapely.LineString([foot - aside, foot + aside]).intersection(polygon)
        assert shapely.length(pieces).sum() == pytest.approx(whole.length, rel=1e-6)
    split = [
        one
        for one in found
        if shapely.line_merge(shapely.MultiLineString(list(one.pieces))).geom_type != "LineString"
    ]
    assert split, "the notch parts some of them"


def test_a_height_is_written_inside_the_plot_near_its_edge_or_where_it_leaves_the_view() -> None:
    plot = np.array([(-20.0, -15.0), (40.0, -10.0), (30.0, 30.0), (-15.0, 28.0)])
    polygon = shapely.Polygon(plot)
    found = contours(measured(SLOPE), (-60.0, -50.0, 70.0, 55.0), plot)
    wide, near = (-60.0, -50.0, 70.0, 55.0), (-5.0, -5.0, 10.0, 10.0)
    by_edge, in_view = (height_places(found, bounds, plot, 2.0) for bounds in (wide, near))
    for contour, place, seen in zip(found, by_edge, in_view, strict=True):
        whole = shapely.MultiLineString(list(contour.pieces))
        if place is not None:
            assert whole.distance(shapely.Point(place)) < 1e-6
            assert polygon.boundary.distance(shapely.Point(place)) == pytest.approx(2.0, abs=1e-6)
        assert (seen is not None) == whole.intersects(shapely.box(*near))
        if seen is not None:
            assert shapely.box(*near).boundary.distance(shapely.Point(seen)) < 1e-6
    assert sum(place is not None for place in by_edge) >= len(found) - 2
    assert height_places(found, (1.0, 1.0, 0.0, 0.0), plot, 2.0) == (None,) * len(found)
