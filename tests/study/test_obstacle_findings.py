"""Findings of obstacles: each with a field that provokes it and one that just misses it."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from studio.design.design import Design, Document
from studio.design.field import Header, Line, Store
from studio.design.money import Marks
from studio.design.obstacles import Block, Fence, Obstacle, Pole, Tree
from studio.design.site import Ground
from studio.edits.registry import apply_mend
from studio.engine.ground.line_on_plan import LineOnPlan
from studio.engine.shade.clip import aperture_corners
from studio.study.assess import Assessor
from studio.study.cache import Cache
from studio.study.findings import Finding
from studio.study.place import place_lines, row_of
from studio.study.room import on_plan

ASSESSOR = Assessor()


def field(*obstacles: Obstacle, **parts: Any) -> Design:
    line = Line(id=3, x_m=0.0, y_m=0.0, spacing_m=1.35, count=6)
    return replace(Design(lines=(line,), store=Store(x_m=20.0, y_m=20.0), obstacles=obstacles), **parts)


def findings(design: Design) -> dict[str, Finding]:
    return {one.key: one for one in ASSESSOR.assess(Document(design=design), calendar=False).findings}


def box(x: float, y: float, *, side: float = 1.0, height_m: float = 3.0) -> Block:
    ring = ((x, y), (x + side, y), (x + side, y + side), (x, y + side))
    return Block(name="pump house", ring=ring, height_m=height_m)


def line_on_plan(design: Design) -> LineOnPlan:
    """What the line takes up by the stage's own reckoning."""
    return on_plan(design, place_lines(design)[0], Cache())


def low_edge(design: Design) -> tuple[float, float]:
    """Height of the apertures' low edge over level ground, and how far south of the vertices it stands."""
    corners = aperture_corners(row_of(place_lines(design)[0], design.mirror))
    return float(corners[..., 2].min()), float(corners[..., 1].min())


def test_a_mirror_inside_a_shed() -> None:
    _height, south = low_edge(field())
    inside = findings(field(box(1.0, south - 0.9)))["mirror_in_obstacle"]
    assert inside.severity == "stop"
    assert inside.line_id == 3
    assert "pump house" in inside.detail
    assert inside.place == pytest.approx((1.5, south + 0.05), abs=0.4)
    assert "mirror_in_obstacle" not in findings(field(box(1.0, south - 1.01)))


def test_a_mirror_passes_over_a_kerb_that_its_stand_does_not_meet() -> None:
    height, south = low_edge(field())
    high, low = (box(1.0, south - 0.7, height_m=height + by) for by in (0.02, -0.02))
    assert "mirror_in_obstacle" in findings(field(high))
    assert "mirror_in_obstacle" not in findings(field(low))


def test_heights_count_over_the_ground_of_a_slope() -> None:
    """A long line down a slope: the kerb at its far end, metres lower than its first mirror, is met just the same."""
    slope = Ground(slope_percent=30.0, falls_towards_deg=90.0)
    height, south = low_edge(field())
    high, low = (box(6.0, south - 0.7, height_m=height + by) for by in (0.35, -0.35))
    assert "mirror_in_obstacle" in findings(field(high, ground=slope))
    assert "mirror_in_obstacle" not in findings(field(low, ground=slope))


def test_receivers_slide_under_a_crown_and_not_into_it() -> None:
    design = field()
    reach = 0.5 * design.mirror.width_m + 2 * design.motion.stroke_m
    tree = Tree(name="olive", place=(-reach - 1.0, 3.0), crown_radius_m=3.4, crown_base_m=8.0, height_m=12.0)
    assert "stroke_in_obstacle" not in findings(field(tree))
    found = findings(field(replace(tree, crown_base_m=0.5)))["stroke_in_obstacle"]
    assert found.severity == "stop"
    assert "olive" in found.detail


def test_a_pole_in_the_way_of_the_stroke_one_before_it_and_one_under_it() -> None:
    design = field()
    line = line_on_plan(design)
    end, _low, _far, _high = line.swept.bounds
    under = float(line.bars[..., 2].min()) - line.bar_radius_m
    pole = Pole(place=(end - 0.05, -0.7), radius_m=0.1, height_m=6.0)
    assert "stroke_in_obstacle" in findings(field(pole))
    assert "stroke_in_obstacle" not in findings(field(replace(pole, place=(end - 0.15, -0.7))))
    assert "stroke_in_obstacle" in findings(field(replace(pole, height_m=under + 0.02)))
    assert "stroke_in_obstacle" not in findings(field(replace(pole, height_m=under - 0.02)))


def test_a_header_through_a_wall_and_one_that_ends_before_it() -> None:
    route = Header(hot=((12.0, 0.0), (20.0, 20.0)), cold=((-3.0, -2.0), (-3.0, 24.0), (20.0, 24.0)))
    assert "header_in_obstacle" not in findings(field(box(21.0, 5.0), header=route))
    found = findings(field(box(15.0, 9.0, side=2.0), header=route))["header_in_obstacle"]
    assert found.severity == "stop"
    assert found.place == pytest.approx((16.0, 10.0), abs=0.5)
    crown = Tree(name="pine", place=(17.5, 9.0), crown_radius_m=3.0, crown_base_m=0.7, height_m=9.0)
    assert "header_in_obstacle" not in findings(field(crown, header=route))
    assert "header_in_obstacle" in findings(field(replace(crown, crown_base_m=0.5), header=route))


def test_a_drive_inside_a_shed() -> None:
    design = field()
    end = -0.5 * design.mirror.width_m - 2 * design.motion.stroke_m
    assert "drive_in_obstacle" in findings(field(box(end - 1.4, -0.5)))
    assert "drive_in_obstacle" not in findings(field(box(end - 1.6, -0.5)))


def test_a_line_that_obstacles_shade_above_the_mark_and_just_below_it() -> None:
    tree = Tree(name="walnut", place=(4.0, -6.0), crown_radius_m=2.5, crown_base_m=1.0, height_m=7.0)
    design = field(tree)
    lost = ASSESSOR.assess(Document(design=design), calendar=False).lines[0].obstacle_loss_year
    assert lost > 0.02
    above, below = (field(tree, marks=Marks(obstacle_limit=lost + by)) for by in (-1e-4, 1e-4))
    found = findings(above)["obstacle_shade"]
    assert found.severity == "caution"
    assert found.line_id == 3
    assert found.value == pytest.approx(lost)
    assert "walnut" in found.detail
    assert found.place is not None
    assert np.hypot(found.place[0] - 2.5 * 1.35, found.place[1]) < 0.1
    assert "obstacle_shade" not in findings(below)


def test_a_winter_finding_says_what_obstacles_add() -> None:
    lines = tuple(Line(id=n, x_m=0.0, y_m=1.3 * n, spacing_m=1.35, count=6) for n in (1, 2))
    tree = Tree(name="walnut", place=(4.0, -3.0), crown_radius_m=2.5, crown_base_m=1.0, height_m=7.0)
    bare = findings(replace(Design(lines=lines), obstacles=()))["winter_shade"]
    assert "obstacles" not in bare.detail
    shaded = findings(replace(Design(lines=lines), obstacles=(tree,)))["winter_shade"]
    assert "obstacles" in shaded.detail
    assert shaded.value == bare.value


def test_a_line_half_under_a_tree_is_shortened_to_what_stands_free() -> None:
    tree = Tree(name="walnut", place=(0.0, -3.5), crown_radius_m=2.5, crown_base_m=1.0, height_m=7.0)
    line = Line(id=3, x_m=0.0, y_m=0.0, spacing_m=1.35, count=16)
    design = replace(field(tree), lines=(line,), marks=Marks(obstacle_limit=0.02))
    found = findings(design)["obstacle_shade"]
    assert found.mend is not None
    mended = apply_mend(design, found.mend).design
    kept = mended.lines[0]
    assert 0.4 * 16 <= kept.count < 16
    # what stays keeps its place and its number
    gone = kept.first_number - line.first_number
    assert kept.x_m == pytest.approx(line.x_m + gone * 1.35)
    assert "obstacle_shade" not in findings(mended)
    # one mirror more would be too many
    longer = replace(kept, count=kept.count + 1, x_m=kept.x_m - 1.35)
    assert "obstacle_shade" in findings(replace(mended, lines=(longer,)))


def test_a_line_wholly_in_the_shade_has_no_such_mend() -> None:
    wall = Block(name="barn", ring=((-8.0, -4.0), (16.0, -4.0), (16.0, -3.0), (-8.0, -3.0)), height_m=6.0)
    found = findings(field(wall))["obstacle_shade"]
    assert found.mend is None


def test_a_fence_across_the_stroke_and_one_beside_it() -> None:
    end = field().lines[0].x_m + 5 * 1.35 + 0.5 * field().mirror.width_m
    fence = Fence(path=((end + 1.0, -5.0), (end + 1.0, 5.0)), height_m=3.0)
    assert findings(field(fence))["stroke_in_obstacle"].line_id == 3
    aside = replace(fence, path=((end + 4.0, -5.0), (end + 4.0, 5.0)))
    assert "stroke_in_obstacle" not in findings(field(aside))
