"""Where rays in a section end that obstacles take: held against the triangles that light and a wall make."""

from dataclasses import replace
from math import radians, tan

import numpy as np
import pytest

from studio.design.obstacles import Block, Tree
from studio.drawings.section import CrossedLine, SectionDrawing
from tests.drawings.section_rows import PITCH, across, at, line, rows

WALL_Y, WALL_M = -4.0, 9.0


def wall(height_m: float = WALL_M) -> Block:
    """As long as the rows and 0.2 m thick; its southern side stands at WALL_Y."""
    south, north = WALL_Y, WALL_Y + 0.2
    return Block(
        name="wall", ring=((-90.0, south), (90.0, south), (90.0, north), (-90.0, north)), height_m=height_m
    )


def ray_ends(one: CrossedLine, drawing: SectionDrawing) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Feet (R, 2) of a mirror's rays, the way (2,) to the sun in the section, and where something stops them (R, 2)."""
    way = one.line.placed.axes @ drawing.sun.sun.direction @ one.line.seen.see
    feet = one.line.vertex + one.gear.feet @ one.line.seen.see
    return feet, way, feet + one.light.stops[:, None] * way


def test_rays_that_a_wall_takes_end_on_it() -> None:
    """From the sun a ray meets a wall's side at z = z0 + d tan p, d the way there in the cut, or else its top."""
    design = replace(rows(PITCH, count=41), obstacles=(wall(),))
    drawing = at(design, across())
    one, angle = line(drawing, 1), drawing.sun.profile_deg
    assert one.light.by_obstacles == pytest.approx(1.0)
    assert one.light.behind == ((0.0, 1.0),)
    assert angle is not None
    feet, _way, ends = ray_ends(one, drawing)
    side = WALL_Y + 6.0  # the cut begins at y = -6
    rise = (feet[:, 0] - side) * tan(radians(angle))
    assert (feet[:, 1] + rise < WALL_M).all()
    assert ends == pytest.approx(np.column_stack([np.full(len(feet), side), feet[:, 1] + rise]), abs=1e-4)
    bare = line(at(rows(PITCH, count=41), across()), 1).light
    assert np.isinf(bare.stops).all()
    assert bare.behind == ()


def test_the_edge_of_a_wall_s_shadow_parts_the_mirror_and_its_rays() -> None:
    """What lies under the line from the wall's upper edge down the profile angle is dark, the rest is lit."""
    angle = at(rows(PITCH), across()).sun.profile_deg
    assert angle is not None
    slope = tan(radians(angle))
    chord = line(at(rows(PITCH), across()), 1).line.chord
    middle, north = chord.mean(axis=0), WALL_Y + 0.2 + 6.0
    top = float(
        middle[1] + (middle[0] - north) * slope
    )  # its northern upper edge throws the edge on the middle
    drawing = at(replace(rows(PITCH, count=121), obstacles=(wall(top),)), across())
    one = line(drawing, 1)
    ((start, end),) = one.light.behind
    assert (start, end) == pytest.approx((0.0, 0.5), abs=1e-5)
    assert one.light.by_obstacles == pytest.approx(0.5, abs=0.05)
    feet, way, ends = ray_ends(one, drawing)
    dark = np.isfinite(one.light.stops)
    assert (dark == (feet[:, 1] + (feet[:, 0] - north) * slope < top)).all()
    assert dark.any()
    assert not dark.all()
    # these come in by the top, or by the southern side where they pass below its edge
    over = feet[dark, 1] + (feet[dark, 0] - (WALL_Y + 6.0)) * slope
    assert ends[dark, 1] == pytest.approx(np.minimum(over, top), abs=1e-4)
    assert ends[dark, 1] - feet[dark, 1] == pytest.approx(one.light.stops[dark] * way[1])


def test_a_ray_ends_at_what_it_meets_first_on_its_way_from_the_sun() -> None:
    """Rays of the second line pass over the wall and end at the first line, or end at the wall before they come there."""
    design = replace(rows(PITCH, count=121), obstacles=(wall(),))
    bare = line(at(rows(PITCH), across(), clock_h=9.3), 2).light
    drawing = at(design, across(), clock_h=9.3)
    one = line(drawing, 2)
    feet, way, ends = ray_ends(one, drawing)
    at_wall = np.isclose(ends[:, 0], WALL_Y + 6.0, atol=1e-4) | np.isclose(ends[:, 1], WALL_M, atol=1e-4)
    by_line = np.isfinite(bare.stops)
    assert (one.light.stops >= bare.stops).all()
    assert (at_wall & by_line).any()
    assert np.isfinite(one.light.stops).all()
    assert (feet + bare.stops[by_line].max() * way)[:, 0].min() > WALL_Y + 6.2


def test_what_lets_most_of_the_light_through_ends_no_ray() -> None:
    tree = Tree(name="plum", place=(0.0, -3.5), crown_radius_m=2.5, crown_base_m=0.2, height_m=6.0,
                passes_in_leaf=0.1, passes_bare=0.7, leaf_from_day=100, leaf_to_day=300)  # fmt: skip
    design = replace(rows(PITCH, count=41), obstacles=(tree,))
    bare, leaves = (line(at(design, across(), day=day, clock_h=12.0), 1).light for day in (75, 269))
    assert not np.isfinite(bare.stops).any()
    assert bare.by_obstacles > 0.01
    drawing = at(design, across(), day=269, clock_h=12.0)
    _feet, _way, ends = ray_ends(line(drawing, 1), drawing)
    assert np.isfinite(leaves.stops).any()
    crown = drawing.ground.obstacles[0].outlines[0]
    middle, half = crown.mean(axis=0), np.ptp(crown, axis=0) / 2
    off = np.hypot(*((ends[np.isfinite(leaves.stops)] - middle) / half).T)
    assert (off >= np.cos(np.pi / 48) - 1e-6).all(), "no ray ends inside the crown that is drawn"
    assert (off < 1.1).all()
