"""Areas and unions of polygons against shapely, degenerate ones included."""

import numpy as np
import pytest
import shapely

from studio.engine.shade.rings import ring_areas, union_of_rings
from studio.engine.shade.rows import Floats

HALF = np.array([0.625, 0.72])


def parallelograms(rng: np.random.Generator, groups: int, members: int) -> Floats:
    """Rings (groups, members, 4, 2), some with level or upright edges, touching, equal, or without area."""
    corner = rng.uniform(-0.9, 0.9, (groups, members, 1, 2))
    one, other = rng.normal(0, 0.6, (2, groups, members, 2))
    one[: groups // 3, :, 1] = 0.0
    other[: groups // 6, :, 0] = 0.0
    few = slice(0, groups // 20)
    corner[few], one[few], other[few] = (np.round(part[few], 1) for part in (corner, one, other))
    if members > 1:
        alike, beside = slice(groups // 20, groups // 10), slice(groups // 10, groups // 7)
        for some in (alike, beside):
            one[some, 1], other[some, 1] = one[some, 0], other[some, 0]
            corner[some, 1] = corner[some, 0]
        corner[beside, 1, 0] += one[beside, 0]
    sides = np.stack([np.zeros_like(one), one, one + other, other], axis=-2)
    return np.asarray(corner + sides)


@pytest.mark.parametrize("members", [1, 2, 3, 5])
def test_areas_and_unions_are_shapelys(members: int) -> None:
    rng = np.random.default_rng(members)
    rings = parallelograms(rng, 1200, members)
    used = rng.uniform(size=rings.shape[:2]) < 0.9
    box = shapely.box(*-HALF, *HALF)
    cut = np.asarray(shapely.intersection(shapely.polygons(rings), box), dtype=object)
    assert np.abs(ring_areas(rings, HALF) - shapely.area(cut)).max() < 1e-9
    cut[~used] = None
    whole = shapely.area(shapely.union_all(cut, axis=1))
    assert np.abs(union_of_rings(rings[used], used.sum(axis=1), HALF) - whole).max() < 1e-9
    assert ((whole > 0.01) & (whole < 0.99 * 4 * HALF.prod())).sum() > 300


def test_the_way_round_and_repeated_corners_change_nothing() -> None:
    rings = parallelograms(np.random.default_rng(9), 300, 3)
    number = np.full(300, 3)
    there = union_of_rings(rings.reshape(-1, 4, 2), number, HALF)
    other_way = rings[:, :, ::-1].reshape(-1, 4, 2)
    assert union_of_rings(other_way, number, HALF) == pytest.approx(there, abs=1e-12)
    twice = np.repeat(rings, 2, axis=2)
    assert union_of_rings(twice.reshape(-1, 8, 2), number, HALF) == pytest.approx(there, abs=1e-12)
    assert ring_areas(twice, HALF) == pytest.approx(ring_areas(rings, HALF), abs=1e-12)
