"""Ways round obstacles against brute force: every pair of corners tried by shapely, and all shortest ways (Floyd, Warshall)."""

from itertools import pairwise

import numpy as np
import pytest
import shapely
from scipy.sparse.csgraph import connected_components, floyd_warshall, minimum_spanning_tree
from shapely import LineString, Polygon, box

from studio.engine.ground.route import Obstacles, Point, length_of, shortest_tree

CLEAR = 0.25


def random_obstacles(rng: np.random.Generator, count: int) -> list[Polygon]:
    shapes = []
    for _one in range(count):
        x, y, r = rng.uniform(-6, 6), rng.uniform(-6, 6), rng.uniform(0.8, 2.5)
        corners = int(rng.integers(3, 7))
        turns = (np.arange(corners) + rng.uniform(-0.4, 0.4, corners)) * 2 * np.pi / corners
        reach = r * rng.uniform(0.6, 1.0, corners)
        shapes.append(Polygon(np.stack([x + reach * np.cos(turns), y + reach * np.sin(turns)], axis=1)))
    return shapes


def brute(start: Point, end: Point, shapes: list[Polygon]) -> float:
    """Length of the shortest way over all corners of the margins, each pair judged by shapely; inf where there is none."""
    margins = shapely.buffer(shapes, CLEAR, join_style="mitre", mitre_limit=2.0)
    nodes = np.concatenate([[start, end], shapely.get_coordinates(margins)])
    closed = shapely.union_all(shapely.buffer(margins, -1e-6, join_style="mitre"))
    size = len(nodes)
    lengths = np.full((size, size), np.inf)
    for one in range(size):
        for other in range(one):
            way = LineString([nodes[one], nodes[other]])
            if not way.intersects(closed):
                lengths[one, other] = lengths[other, one] = way.length
    return float(floyd_warshall(np.where(np.isinf(lengths), 0.0, lengths))[0, 1])


@pytest.mark.parametrize("seed", range(25))
def test_the_shortest_way_equals_brute_force(seed: int) -> None:
    rng = np.random.default_rng(seed)
    shapes = random_obstacles(rng, int(rng.integers(1, 5)))
    way = Obstacles(shapes, clear_m=CLEAR).way((-11.0, 0.5), (11.0, -0.5))
    assert way is not None
    assert (way[0], way[-1]) == ((-11.0, 0.5), (11.0, -0.5))
    if len(way) > 2:
        assert length_of(way) == pytest.approx(brute(way[0], way[-1], shapes), abs=1e-9)
    line = LineString(way)
    assert line.length == pytest.approx(length_of(way))
    assert not line.intersects(shapely.union_all(shapely.buffer(shapes, -1e-5)))


def test_most_of_those_ways_bend() -> None:
    bent = 0
    for seed in range(25):
        rng = np.random.default_rng(seed)
        shapes = random_obstacles(rng, int(rng.integers(1, 5)))
        bent += len(Obstacles(shapes, clear_m=CLEAR).way((-11.0, 0.5), (11.0, -0.5)) or ()) > 2
    assert bent > 12


def test_round_a_square_by_hand() -> None:
    square = Obstacles([box(-1.0, -1.0, 1.0, 1.0)], clear_m=0.5)
    way = square.way((-5.0, 0.0), (5.0, 0.0))
    assert way is not None
    # up or down to a corner 1.5 m out, past the square, and back: twice hypot(3.5, 1.5), and 3 m
    assert length_of(way) == pytest.approx(2 * (3.5**2 + 1.5**2) ** 0.5 + 3.0)
    assert square.way((-5.0, 1.5), (5.0, 1.5)) == ((-5.0, 1.5), (5.0, 1.5))
    assert (
        len(square.way((-5.0, 1.2), (5.0, 1.2)) or ()) == 4
    )  # it would pass nearer than 0.5 m, though clear of the square
    assert square.block(np.array([[[-5.0, 0.0], [5.0, 0.0]], [[-5.0, 1.2], [5.0, 1.2]]])).tolist() == [
        True,
        False,
    ]


def test_a_way_may_begin_in_a_margin_but_not_lead_out_of_an_obstacle() -> None:
    square = Obstacles([box(-1.0, -1.0, 1.0, 1.0)], clear_m=0.5)
    way = square.way((-1.1, 0.0), (5.0, 0.0))
    assert way is not None
    assert len(way) == 4
    assert not LineString(way).crosses(box(-1.0, -1.0, 1.0, 1.0))
    assert square.way((0.0, 0.0), (5.0, 0.0)) is None


def test_walled_in_there_is_no_way() -> None:
    walls = Polygon([(-3, -3), (3, -3), (3, 3), (-3, 3)], holes=[[(-2, -2), (2, -2), (2, 2), (-2, 2)]])
    assert Obstacles([walls], clear_m=0.2).way((0.0, 0.0), (9.0, 0.0)) is None


def test_no_obstacles_no_bends() -> None:
    free = Obstacles([], clear_m=0.5)
    assert free.way((0.0, 0.0), (1.0, 1.0)) == ((0.0, 0.0), (1.0, 1.0))


@pytest.mark.parametrize("seed", range(6))
def test_a_tree_joins_all_points_and_without_obstacles_is_the_least(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points: list[Point] = [(float(x), float(y)) for x, y in rng.uniform(0.0, 20.0, (9, 2))]
    ways = shortest_tree(points, Obstacles([], clear_m=CLEAR))
    assert len(ways) == len(points) - 1
    place = np.array(points)
    apart = np.hypot(*(place[:, None] - place).transpose(2, 0, 1))
    assert sum(map(length_of, ways)) == pytest.approx(minimum_spanning_tree(apart).sum())
    assert _joined(points, ways)


def test_a_tree_leads_round_what_parts_its_points() -> None:
    wall = box(4.0, -10.0, 5.0, 6.0)
    points: list[Point] = [(0.0, 0.0), (0.0, 3.0), (9.0, 0.0), (9.0, 3.0)]
    ways = shortest_tree(points, Obstacles([wall], clear_m=CLEAR))
    assert _joined(points, ways)
    assert not any(LineString(way).crosses(wall) for way in ways)
    # the upper two are joined over the wall's top: the shortest of all four ways across
    top = 6.0 + CLEAR
    across = 2 * ((4.0 - CLEAR) ** 2 + (top - 3.0) ** 2) ** 0.5 + 1.0 + 2 * CLEAR
    assert sum(map(length_of, ways)) == pytest.approx(6.0 + across)


def _joined(points: list[Point], ways: tuple[tuple[Point, ...], ...]) -> bool:
    numbers = {point: number for number, point in enumerate(points)}
    joined = np.zeros((len(points), len(points)))
    for way in ways:
        assert all(one != other for one, other in pairwise(way))
        joined[numbers[way[0]], numbers[way[-1]]] = length_of(way)
    return int(connected_components(joined, directed=False)[0]) == 1
