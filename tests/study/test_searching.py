"""The ways of searching, on functions whose least value is known in closed form."""

from collections.abc import Callable
from math import cos, pi

import pytest

from studio.study.searching import Axis, EnoughError, Point, best_way


class Counted:
    """A loss that counts its points, each once, and stops at what is allowed."""

    def __init__(self, of: Callable[[Point], float | None]) -> None:
        self.of, self.seen, self.most = of, dict[Point, float | None](), 0

    def allow(self, most: int) -> None:
        self.most = most

    def __call__(self, point: Point) -> float | None:
        if point not in self.seen:
            if len(self.seen) >= self.most:
                raise EnoughError
            self.seen[point] = self.of(point)
        return self.seen[point]

    @property
    def best(self) -> Point:
        return min(self.seen, key=lambda point: value if (value := self.seen[point]) is not None else 1e9)


def run(
    of: Callable[[Point], float | None], *axes: Axis, start: Point, most: int = 300
) -> tuple[str, bool, Counted]:
    loss = Counted(of)
    way = best_way(axes, most)
    return way.name, way.run(loss, axes, start, allow=loss.allow, most=most), loss


TEN = Axis(0.0, 10.0, whole=False, digits=3)
COUNT = Axis(2.0, 12.0, whole=True, digits=0)


@pytest.mark.parametrize("top", [0.0, 0.7, 3.21, 9.9, 10.0])
def test_one_number(top: float) -> None:
    name, ended, loss = run(lambda p: (p[0] - top) ** 2 / 10 - 1, TEN, start=(5.0,))
    assert (name, ended) == ("one number", True)
    assert loss.best[0] == pytest.approx(top, abs=0.05)
    assert len(loss.seen) < 40


def test_one_number_takes_the_higher_of_two_humps() -> None:
    """-cos over three periods, tilted: the least of the three is the last one, near 2 pi of the third period."""
    _name, _ended, loss = run(lambda p: -cos(0.6 * pi * p[0]) - 0.05 * p[0], TEN, start=(0.1,))
    least = min((place / 1000 for place in range(10001)), key=lambda x: -cos(0.6 * pi * x) - 0.05 * x)
    assert loss.best[0] == pytest.approx(least, abs=0.05)


def test_two_numbers_in_a_bent_valley() -> None:
    """Rosenbrock (1960): least at (1, 1), along a bent valley."""
    small = Axis(-2.0, 2.0, whole=False, digits=4)
    name, ended, loss = run(
        lambda p: 100 * (p[1] - p[0] ** 2) ** 2 + (1 - p[0]) ** 2, small, small, start=(-1.2, 1.0), most=2000
    )
    assert (name, ended) == ("simplex", True)
    assert loss.best == pytest.approx((1.0, 1.0), abs=0.05)


def test_three_numbers_with_the_least_in_a_corner() -> None:
    name, ended, loss = run(lambda p: p[0] + 2 * p[1] - p[2], TEN, TEN, TEN, start=(5.0, 5.0, 5.0))
    assert (name, ended) == ("simplex", True)
    assert loss.best == pytest.approx((0.0, 0.0, 10.0), abs=0.2)


def test_whole_numbers_are_all_looked_at() -> None:
    name, ended, loss = run(lambda p: abs(p[0] - 7.4) + (p[1] - 3) ** 2, COUNT, COUNT, start=(2.0, 2.0))
    assert (name, ended) == ("every one", True)
    assert len(loss.seen) == 11 * 11
    assert loss.best == (7.0, 3.0)


def test_whole_numbers_among_others_stay_whole() -> None:
    """The parts depend on each other: the best number moves with the whole one."""

    def of(point: Point) -> float | None:
        count, x = point
        assert count == round(count)
        return (count - 8) ** 2 / 30 + (x - count / 2) ** 2 - 1

    name, ended, loss = run(of, COUNT, TEN, start=(3.0, 9.0), most=600)
    assert (name, ended) == ("evolution", True)
    assert loss.best == pytest.approx((8.0, 4.0), abs=0.05)
    _name, _ended, again = run(of, COUNT, TEN, start=(3.0, 9.0), most=600)
    assert again.seen == loss.seen


def test_what_will_not_do_is_gone_round() -> None:
    _name, _ended, loss = run(
        lambda p: None if p[0] + p[1] > 12 else -p[0] - p[1], TEN, TEN, start=(1.0, 1.0)
    )
    assert sum(loss.best) == pytest.approx(12.0, abs=0.3)


def test_it_stops_where_no_more_is_allowed() -> None:
    loss = Counted(lambda p: sum(p))
    way = best_way((TEN, TEN), 12)
    with pytest.raises(EnoughError):
        way.run(loss, (TEN, TEN), (5.0, 5.0), allow=loss.allow, most=12)
    assert len(loss.seen) == 12
