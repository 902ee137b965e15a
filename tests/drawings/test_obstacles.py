"""Obstacles and their shadows on the plan, against hand formulas and against what shades a plate on the ground."""

from math import cos, pi, radians, sin, tan

import numpy as np
import pytest
import shapely

from studio.design.design import Design
from studio.design.obstacles import Block, Obstacle, Pole, Tree
from studio.design.site import Ground
from studio.drawings.obstacles import Array, obstacle_shadows, obstacles_on_plan
from studio.engine.ground.plane import height_at
from studio.engine.mirror.frame import mirror_axes
from studio.engine.shade.obstacles import obstacle_shade
from studio.engine.shade.rows import RowOfMirrors
from studio.engine.sky.sun import direction_from
from studio.study.obstacles import bodies_of

SLOPE = Ground(slope_percent=12.0, falls_towards_deg=40.0)
L_SHED = Block(
    name="shed", ring=((0.0, 0.0), (6.0, 0.0), (6.0, 2.0), (2.0, 2.0), (2.0, 5.0), (0.0, 5.0)), height_m=3.0
)


def sun(elevation: float, azimuth: float) -> tuple[float, float, float]:
    x, y, z = direction_from(elevation, azimuth).tolist()
    return x, y, z


def union(shadows: tuple[Array, ...]) -> shapely.Polygon:
    whole = shapely.union_all([shapely.Polygon(ring).buffer(0) for group in shadows for ring in group])
    assert isinstance(whole, shapely.Polygon)
    return whole


def test_a_poles_shadow_has_its_length_and_runs_from_the_sun() -> None:
    shadow = union(
        obstacle_shadows((Pole(place=(2.0, 3.0), radius_m=0.1, height_m=6.0),), Ground(), sun(30.0, 140.0))
    )
    length = 6.0 / tan(radians(30.0))
    assert shadow.area == pytest.approx(2 * 0.1 * length + pi * 0.01, rel=0.01)
    tip = np.array([2.0 + length * sin(radians(320.0)), 3.0 + length * cos(radians(320.0))])
    assert shadow.distance(shapely.Point(tip)) == 0.0
    assert shadow.hausdorff_distance(
        shapely.LineString([(2.0, 3.0), (float(tip[0]), float(tip[1]))])
    ) == pytest.approx(0.1, abs=0.01)


def test_a_crowns_shadow_is_the_ellipse_of_its_height_and_width() -> None:
    """Half the length of an ellipsoid's shadow on level ground: √(r² + (h / tan e)²), its width 2 r."""
    tree = Tree(place=(0.0, 0.0), crown_radius_m=2.0, crown_base_m=2.0, height_m=8.0)
    shadow = union(obstacle_shadows((tree,), Ground(), sun(35.0, 90.0)))
    assert shadow.area == pytest.approx(pi * 2.0 * np.hypot(2.0, 3.0 / tan(radians(35.0))), rel=0.006)
    assert shadow.centroid.x == pytest.approx(-5.0 / tan(radians(35.0)))


@pytest.mark.parametrize("obstacle", [L_SHED, Tree(place=(3.0, 2.0)), Pole(place=(3.0, 2.0), radius_m=0.8)])
@pytest.mark.parametrize("ground", [Ground(), SLOPE])
def test_a_plate_on_the_ground_is_dark_where_the_plan_shows_shadow(
    obstacle: Obstacle, ground: Ground
) -> None:
    toward = sun(32.0, 155.0)
    shadow = union(obstacle_shadows((obstacle,), ground, toward))
    bodies = bodies_of(Design(obstacles=(obstacle,), ground=ground))
    x0, y0, x1, y1 = shadow.bounds
    seen = {True: 0, False: 0}
    for x, y in np.random.default_rng(7).uniform((x0 - 1, y0 - 1), (x1 + 1, y1 + 1), (120, 2)):
        point = shapely.Point(x, y)
        if shadow.boundary.distance(point) < 0.05 or any(
            shapely.Polygon(one.ring).contains(point) for one in obstacles_on_plan((obstacle,))
        ):
            continue
        z = float(
            height_at(x, y, slope_percent=ground.slope_percent, falls_towards_deg=ground.falls_towards_deg)
        )
        plate = RowOfMirrors(
            first=(x, y, z), along=(1.0, 0.0, 0.0), spacing_m=1.0, count=1, width_m=1e-3, height_m=1e-3,
            axes=mirror_axes(tilt_deg=0.0, facing_deg=180.0),
        )  # fmt: skip
        dark = obstacle_shade(plate, bodies, np.zeros((1, 1)), np.array([toward])).mean[0, 0] > 0.5
        assert dark == shadow.contains(point), (x, y)
        seen[bool(dark)] += 1
    assert min(seen.values()) > 8


def test_outlines_run_anticlockwise() -> None:
    for group in obstacle_shadows((L_SHED, Tree(place=(9.0, 0.0)), Pole()), SLOPE, sun(20.0, 230.0)):
        after = np.roll(group, -1, axis=1)
        assert ((group[..., 0] * after[..., 1] - group[..., 1] * after[..., 0]).sum(axis=1) >= -1e-9).all()


def test_no_shadow_where_the_sun_does_not_reach_the_slope() -> None:
    steep = Ground(slope_percent=60.0, falls_towards_deg=0.0)
    assert obstacle_shadows((L_SHED, Tree(), Pole()), steep, sun(10.0, 180.0)) == ()
