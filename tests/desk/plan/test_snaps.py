"""What the pointer is caught by, and that the snap says its name."""

import pytest

from studio.desk.plan.snaps import catch, ways_from
from studio.desk.plan.targets import Targets, Way

SQUARE = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]


def ring() -> Targets:
    targets = Targets()
    targets.add_ring(SQUARE)
    return targets


@pytest.mark.parametrize(
    ("at", "point", "name"),
    [
        ((0.3, 0.2), (0.0, 0.0), "corner"),
        ((5.2, -0.3), (5.0, 0.0), "middle"),
        ((2.5, 0.4), (2.5, 0.0), "edge"),
        ((3.1, 3.2), (3.1, 3.2), ""),
    ],
)
def test_corner_middle_and_edge(at: tuple[float, float], point: tuple[float, float], name: str) -> None:
    caught = catch(at, px_per_m=10.0, targets=ring())
    assert caught.name == name
    assert caught.point == pytest.approx(point)


def test_the_reach_is_in_pixels_and_not_in_metres() -> None:
    assert catch((0.5, 0.0), px_per_m=10.0, targets=ring()).name == "corner"
    assert catch((0.5, 0.0), px_per_m=100.0, targets=ring()).name == "edge"


def test_square_and_straight_on() -> None:
    ways = ways_from(30.0)
    square = catch((8.7, -5.1), px_per_m=10.0, targets=Targets(), start=(0.0, 0.0), ways=ways)
    assert square.name == "square"
    x, y = square.point
    assert x * 0.5 + y * 0.8660254 == pytest.approx(0.0, abs=1e-6)
    on = catch((5.1, 8.6), px_per_m=10.0, targets=Targets(), start=(0.0, 0.0), ways=ways)
    assert on.name == "straight on"


def test_parallel_names_the_line() -> None:
    ways = ways_from(None, [(77.0, "Line 2")])
    caught = catch((9.74, 2.3), px_per_m=10.0, targets=Targets(), start=(0.0, 0.0), ways=ways)
    assert caught.name == "parallel to Line 2"


def test_no_way_catches_near_its_start() -> None:
    caught = catch((0.5, 0.1), px_per_m=10.0, targets=Targets(), start=(0.0, 0.0), ways=[Way(90.0, "east")])
    assert caught.name == ""


def test_grid_comes_last() -> None:
    assert catch((3.04, 2.97), px_per_m=10.0, targets=ring(), grid_m=1.0).name == "grid"
    assert catch((0.1, 0.1), px_per_m=10.0, targets=ring(), grid_m=1.0).name == "corner"
