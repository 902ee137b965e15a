"""Where snaps put a point: against shapely's project, interpolate and nearest_points, and against closed forms."""

from math import cos, hypot, radians, sin
from time import perf_counter

import numpy as np
import pytest
import shapely
from shapely.ops import nearest_points

from studio.desk.plan.snaps import CATCH_PX, HOLD_PX, Caught, catch, crossing, ways_near
from studio.desk.plan.targets import Targets, Way

PX = 10.0
REACH_M = CATCH_PX / PX


def ring_of(corners: int, seed: int) -> list[tuple[float, float]]:
    """A star-shaped ring; invented."""
    draw = np.random.default_rng(seed)
    turn = np.sort(draw.uniform(0, 2 * np.pi, corners))
    far = draw.uniform(20, 40, corners)
    return [(float(r * np.cos(a)), float(r * np.sin(a))) for r, a in zip(far, turn, strict=True)]


@pytest.mark.parametrize("seed", range(12))
def test_an_edge_is_met_where_shapely_projects_the_pointer(seed: int) -> None:
    ring = ring_of(9, seed)
    targets = Targets()
    targets.add_ring(ring, name="the boundary")
    line = shapely.LinearRing(ring)
    draw = np.random.default_rng(100 + seed)
    met = 0
    for run in draw.uniform(0, line.length, 60):
        on = line.interpolate(run)
        at = on.x + draw.uniform(-0.6, 0.6), on.y + draw.uniform(-0.6, 0.6)
        caught = catch(at, px_per_m=PX, targets=targets)
        if caught.kind != "edge":
            continue
        wanted = line.interpolate(line.project(shapely.Point(at)))
        other, _at = nearest_points(line, shapely.Point(at))
        assert caught.point == pytest.approx((wanted.x, wanted.y), abs=1e-9)
        assert caught.point == pytest.approx((other.x, other.y), abs=1e-9)
        met += 1
    assert met > 15


@pytest.mark.parametrize("azimuth", [0.0, 17.0, 90.0, 143.5, 271.0])
def test_the_foot_of_a_square_is_where_shapely_finds_the_nearest_place(azimuth: float) -> None:
    way = sin(radians(azimuth)), cos(radians(azimuth))
    edge = [(5.0, 7.0), (5.0 + 40 * way[0], 7.0 + 40 * way[1])]
    targets = Targets()
    targets.add_ring(edge, closed=False, name="Line 3")
    start = 5.0 + 12 * way[0] - 9 * way[1], 7.0 + 12 * way[1] + 9 * way[0]
    foot, _start = nearest_points(shapely.LineString(edge), shapely.Point(start))
    at = foot.x + 0.3 * way[0], foot.y + 0.3 * way[1]
    caught = catch(at, px_per_m=PX, targets=targets, start=start)
    assert caught.name == "square to Line 3"
    assert caught.point == pytest.approx((foot.x, foot.y), abs=1e-9)
    run = caught.point[0] - start[0], caught.point[1] - start[1]
    assert run[0] * way[0] + run[1] * way[1] == pytest.approx(0.0, abs=1e-9)


def test_an_edge_is_prolonged_past_its_end_and_says_whose_it_is() -> None:
    targets = Targets()
    targets.add_ring([(0.0, 0.0), (12.0, 5.0)], closed=False, name="the boundary")
    # 13 m long by 5-12-13; 6.5 m past the end is (18, 7.5)
    caught = catch((18.1, 7.3), px_per_m=PX, targets=targets)
    assert caught.name == "extension of the boundary"
    x, y = caught.point
    assert abs(12.0 * y - 5.0 * x) / 13.0 < 1e-9
    assert hypot(x - 18.1, y - 7.3) == pytest.approx(abs(12.0 * 7.3 - 5.0 * 18.1) / 13.0)
    assert caught.guides[0][0] == (12.0, 5.0)
    assert catch((12.0 + 25, 5.0 + 25 * 5 / 12), px_per_m=PX, targets=targets).name == ""


def test_two_guides_are_caught_where_they_cross() -> None:
    targets = Targets()
    targets.add_ring([(0.0, 0.0), (10.0, 0.0)], closed=False)
    targets.add_ring([(20.0, 4.0), (20.0, 14.0)], closed=False)
    caught = catch((20.3, 0.2), px_per_m=PX, targets=targets)
    assert caught.kind == "crossing"
    assert caught.name == "crossing: extension, extension"
    assert caught.point == pytest.approx((20.0, 0.0), abs=1e-12)
    assert len(caught.guides) == 2


def test_edges_that_cross_are_caught_at_shapelys_intersection() -> None:
    one, other = [(0.0, 0.0), (31.0, 17.0)], [(2.0, 20.0), (25.0, -3.0)]
    targets = Targets()
    targets.add_ring(one, closed=False)
    targets.add_ring(other, closed=False)
    wanted = shapely.intersection(shapely.LineString(one), shapely.LineString(other)).centroid
    caught = catch((wanted.x + 0.3, wanted.y - 0.4), px_per_m=PX, targets=targets)
    assert caught.name == "crossing"
    assert caught.point == pytest.approx((wanted.x, wanted.y), abs=1e-9)
    assert crossing((0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 0.0)) is None, "lines that run alike"


def test_a_way_crosses_an_edge_so_that_length_and_direction_hold_at_once() -> None:
    targets = Targets()
    targets.add_ring([(20.0, -30.0), (20.0, 30.0)], closed=False, name="the boundary")
    caught = catch((19.6, 2.4), px_per_m=PX, targets=targets, start=(0.0, 2.0), ways=[Way(90.0, "east")])
    assert caught.point == pytest.approx((20.0, 2.0))
    assert caught.kind in ("crossing", "square")


def test_what_is_near_lends_its_direction_and_what_is_far_does_not() -> None:
    targets = Targets()
    targets.add_ring([(0.0, 0.0), (30.0, 10.0)], closed=False, name="the boundary")
    targets.add_ring([(900.0, 900.0), (950.0, 987.0)], closed=False, name="far away")
    ways = ways_near(targets, (5.0, 8.0), (20.0, 12.0), px_per_m=PX)
    assert {way.name for way in ways} == {"parallel to the boundary", "square to the boundary"}
    at = 5.0 + 30.0 * 0.6 + 0.1, 8.0 + 10.0 * 0.6 - 0.2
    caught = catch(at, px_per_m=PX, targets=Targets(), start=(5.0, 8.0), ways=ways)
    assert caught.name == "parallel to the boundary"
    assert (caught.point[0] - 5.0) * 10.0 - (caught.point[1] - 8.0) * 30.0 == pytest.approx(0.0, abs=1e-9)
    assert ((0.0, 0.0), (30.0, 10.0)) in caught.guides


def test_a_guide_beside_a_line_ends_with_it() -> None:
    targets = Targets()
    targets.add_guide((0.0, 3.2), 90.0, 0.0, 25.0, "pitch 3.20 m to Line 1")
    caught = catch((8.0, 3.5), px_per_m=PX, targets=targets)
    assert caught.point == pytest.approx((8.0, 3.2))
    assert np.array(caught.guides) == pytest.approx(np.array([[(0.0, 3.2), (25.0, 3.2)]])), "drawn whole"
    assert catch((25.4, 3.3), px_per_m=PX, targets=targets).name == ""


def test_what_holds_the_pointer_keeps_it_a_little_longer() -> None:
    targets = Targets()
    targets.add_point((0.0, 0.0), "corner")
    out = (CATCH_PX + HOLD_PX / 2) / PX
    assert catch((out, 0.0), px_per_m=PX, targets=targets).name == "", "free hands are not taken so far off"
    held = catch((0.5, 0.0), px_per_m=PX, targets=targets)
    assert catch((out, 0.0), px_per_m=PX, targets=targets, held=held).name == "corner"
    assert catch(((CATCH_PX + HOLD_PX + 0.1) / PX, 0.0), px_per_m=PX, targets=targets, held=held).name == ""


def test_a_trembling_hand_between_two_corners_does_not_flicker() -> None:
    targets = Targets()
    targets.add_point((0.0, 0.0), "corner")
    targets.add_point((1.0, 0.0), "corner")
    free: list[Caught] = []
    steady: list[Caught] = []
    held: Caught | None = None
    for turn in range(40):
        at = 0.5 + 0.04 * (-1) ** turn, 0.0
        held = catch(at, px_per_m=PX, targets=targets, held=held)
        steady.append(held)
        free.append(catch(at, px_per_m=PX, targets=targets))
    assert len({caught.point for caught in free}) == 2, "without a memory it would jump"
    assert len({caught.point for caught in steady}) == 1


def test_on_a_way_the_grid_sets_the_length() -> None:
    caught = catch(
        (7.1, 0.3), px_per_m=PX, targets=Targets(), start=(0.0, 0.0), ways=[Way(90.0, "east")], grid_m=1.0
    )
    assert caught.name == "east, grid"
    assert caught.point == pytest.approx((7.0, 0.0))


def test_a_move_over_a_great_field_takes_no_time_that_a_hand_would_feel() -> None:
    """250 lines, 300 edges: asked is under 2 ms a move; ten times that is left for a busy machine."""
    targets = Targets()
    for place in range(250):
        y = 3.2 * place
        targets.add_ring([(0.0, y), (54.0, y + 0.01)], closed=False, name=f"Line {place}")
        for side in (-3.2, 3.2):
            targets.add_guide((0.0, y + side), 90.0, -3.0, 57.0, "pitch")
    targets.add_ring(ring_of(300, 3), name="the boundary")
    draw = np.random.default_rng(1)
    spots = draw.uniform([0, 0], [54, 800], (200, 2))
    held: Caught | None = None
    catch((0.0, 0.0), px_per_m=PX, targets=targets)
    begun = perf_counter()
    for x, y in spots:
        ways = ways_near(targets, (3.0, 3.0), (x, y), px_per_m=PX)
        held = catch(
            (float(x), float(y)),
            px_per_m=PX,
            targets=targets,
            start=(3.0, 3.0),
            ways=ways,
            grid_m=1.0,
            held=held,
        )
    each = (perf_counter() - begun) / len(spots)
    print(f"{1000 * each:.2f} ms a move")
    assert each < 0.02
