"""Laying one plane on another: against the transform written out, and against numpy's general least squares."""

from math import cos, radians, sin

import numpy as np
import pytest

from studio.engine.ground.similarity import best_similarity
from studio.errors import BadInputError

CASES = ((1.0, 0.0, 0.0, 0.0), (0.25, 37.0, -12.0, 400.0), (3.5, -151.0, 1e5, -2e5), (1e-3, 179.0, 0.0, 7.0))


@pytest.mark.parametrize(("scale", "turn", "east", "north"), CASES)
def test_two_points_give_back_the_transform_that_moved_them(
    scale: float, turn: float, east: float, north: float
) -> None:
    """A clockwise turn by t takes (x, y) to (x cos t + y sin t, -x sin t + y cos t)."""
    a = radians(turn)
    there = np.array([[3.0, -8.0], [120.0, 55.0], [0.0, 0.0]])
    turned = scale * np.column_stack(
        [there[:, 0] * cos(a) + there[:, 1] * sin(a), -there[:, 0] * sin(a) + there[:, 1] * cos(a)]
    ) + [east, north]
    laid, off = best_similarity(there[:2], turned[:2])
    assert (laid.scale, laid.turned_deg) == pytest.approx((scale, turn))
    assert laid.of(there) == pytest.approx(turned)
    assert off == pytest.approx(0.0, abs=1e-8 * max(1.0, abs(north)))


@pytest.mark.parametrize("seed", range(5))
def test_many_points_are_laid_as_least_squares_lays_them(seed: int) -> None:
    """x' = a x - b y + c, y' = b x + a y + d is linear in a, b, c, d: numpy.linalg.lstsq solves the same."""
    chance = np.random.default_rng(seed)
    there, onto = chance.normal(size=(2, 7, 2)) * 50
    x, y, one, none = there[:, 0], there[:, 1], np.ones(7), np.zeros(7)
    rows = np.concatenate([np.column_stack([x, -y, one, none]), np.column_stack([y, x, none, one])])
    (a, b, c, d), *_rest = np.linalg.lstsq(rows, np.concatenate([onto[:, 0], onto[:, 1]]))
    laid, off = best_similarity(there, onto)
    assert laid.factor == pytest.approx(complex(a, b))
    assert laid.shift == pytest.approx(complex(c, d))
    left = np.hypot(*(laid.of(there) - onto).T)
    assert off == pytest.approx(left.max())


def test_points_on_each_other_are_refused() -> None:
    for there, onto in (([[1, 1], [1, 1]], [[0, 0], [1, 1]]), ([[0, 0], [1, 1]], [[2, 2], [2, 2]])):
        with pytest.raises(BadInputError, match="one and the same"):
            best_similarity(there, onto)
