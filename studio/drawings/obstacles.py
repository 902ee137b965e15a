"""Obstacles from above and the shadows they throw on the ground."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from studio.design.obstacles import AnyObstacle, Block, Fence, Obstacle, Pole, Tree, corners_of
from studio.design.site import Ground
from studio.engine.ground.surface import Plane
from studio.engine.shade.polygons import on_ground
from studio.ground import surface_of
from studio.study.place import ground_height

Array = NDArray[np.float64]
_ROUND = 40
"""Corners of a round outline."""
_TURN = np.arange(_ROUND) * 2 * np.pi / _ROUND
_CIRCLE = np.column_stack([np.cos(_TURN), np.sin(_TURN)])


@dataclass(frozen=True, eq=False)
class ObstacleOnPlan:
    """An obstacle from above: its name, kind, height and outline (n, 2), not closed; a fence's is its path."""

    name: str
    kind: str
    height_m: float
    ring: Array

    @property
    def closed(self) -> bool:
        """Whether the outline comes round to its first corner."""
        return self.kind != "fence"

    @property
    def cornered(self) -> bool:
        """Whether its corners can be moved one by one."""
        return self.kind in ("block", "fence")

    @property
    def middle(self) -> Array:
        """Where its name stands, (2,)."""
        return np.asarray((self.ring.min(axis=0) + self.ring.max(axis=0)) / 2)


@lru_cache(maxsize=64)
def obstacles_on_plan(obstacles: tuple[Obstacle, ...]) -> tuple[ObstacleOnPlan, ...]:
    """The obstacles of a design from above, in its order."""
    return tuple(ObstacleOnPlan(one.name, one.kind, one.height_m, _ring(one)) for one in obstacles)


def _ring(one: AnyObstacle) -> Array:
    if isinstance(one, Block | Fence):
        return np.array(corners_of(one), dtype=float)
    radius = one.radius_m if isinstance(one, Pole) else one.crown_radius_m
    return np.asarray(np.array(one.place) + radius * _CIRCLE)


@lru_cache(maxsize=64)
def obstacle_shadows(
    obstacles: tuple[Obstacle, ...], ground: Ground, sun: tuple[float, float, float]
) -> tuple[Array, ...]:
    """Shadows on the ground towards which ``sun``, a unit vector, throws them: groups (K, n, 2) that run anticlockwise."""
    return tuple(anticlockwise(part) for one in obstacles for part in _shadow(one, ground, sun))


def _shadow(one: AnyObstacle, ground: Ground, sun: tuple[float, float, float]) -> Iterator[Array]:
    """On the plane that a block or a fence stands on, or that fits the ground round a tree or a pole as far as it is high;
    over uneven ground a long shadow is drawn where that plane would catch it."""
    from studio.study.obstacles import ground_under  # with all that shades: bare land shows without it

    under = (
        ground_under(corners_of(one), ground) if isinstance(one, Block | Fence) else _plane_round(one, ground)
    )

    def thrown(points: Array) -> Array:
        return on_ground(points, sun, normal=under.normal, through=under.through)[..., :2]

    if not np.isfinite(thrown(np.zeros(3))).all():  # the sun stands behind the slope
        return
    if isinstance(one, Block | Fence):
        foot = _ring(one)
        low = np.column_stack([foot, under.height_at(foot[:, 0], foot[:, 1])])
        top = thrown(low + np.array([0.0, 0.0, one.height_m]))
        sides = np.stack([foot, np.roll(foot, -1, axis=0), np.roll(top, -1, axis=0), top], axis=1)
        if isinstance(one, Fence):
            yield sides[:-1]
            return
        yield sides
        yield top[None]
        return
    x, y = one.place
    level = ground_height(ground, x, y)
    if isinstance(one, Pole):
        rim = _ring(one)
        top = thrown(np.column_stack([rim, np.full(_ROUND, level + one.height_m)]))
        hull = shapely.MultiPoint(np.concatenate([rim, top])).convex_hull
        yield shapely.get_coordinates(hull)[None, :-1] if hull.geom_type == "Polygon" else top[None]
        return
    # the shadow of an ellipsoid is the ellipse that its axes' shadows span
    halves = np.diag([one.crown_radius_m, one.crown_radius_m, (one.height_m - one.crown_base_m) / 2])
    middle = np.array([x, y, level + (one.crown_base_m + one.height_m) / 2])
    span = (thrown(middle + halves) - thrown(middle)).T
    yield (thrown(middle) + _CIRCLE @ np.linalg.cholesky(span @ span.T).T)[None]


def _plane_round(one: Tree | Pole, ground: Ground) -> Plane:
    return surface_of(ground).plane_near(
        np.array(one.place) + one.height_m * np.vstack([_CIRCLE, [0.0, 0.0]])
    )


def anticlockwise(outlines: Array) -> Array:
    """Outlines (K, n, 2), each turned so that it runs anticlockwise."""
    after = np.roll(outlines, -1, axis=1)
    area = (outlines[..., 0] * after[..., 1] - outlines[..., 1] * after[..., 0]).sum(axis=1)
    turned = outlines.copy()
    turned[area < 0] = outlines[area < 0, ::-1]
    return turned
