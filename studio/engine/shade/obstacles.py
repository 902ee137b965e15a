"""Shade on a line's mirrors by what stands round them: upright blocks and fences, round poles, crowns of trees.

A ray is followed from points spread over each aperture towards the sun and held against the true body: the sides of a
block, the screen of a fence, the mantle of a pole, the ellipsoid of a crown. Blocks and poles take all of a ray; a fence
and a crown leave their shares, and those behind one another leave the product of theirs.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from studio.engine.shade.rows import LEAST_SUN_COSINE, Floats, RowOfMirrors

Bools = NDArray[np.bool_]
POINTS, _TURN = 21, 13
"""Points on each aperture: a lattice of Fibonacci numbers (13/21), so that an edge that runs any way cuts it evenly."""
_AT_ONCE = 200_000
"""Rays that are followed together."""
_LEAST_HEIGHT = float(np.sin(np.radians(0.5)))
"""Sine of the lowest sun whose shadows are followed."""


@dataclass(frozen=True, eq=False)
class Around:
    """An upright shape that holds a body: all within ``margin_m`` of the hull of ``corners`` (P, 2), below ``top_m``.

    A wall has two corners, a round body one.
    """

    corners: Floats
    margin_m: float
    top_m: float


@dataclass(frozen=True)
class Slope:
    """The ground as a plane: its rise east and north (m per m), and its height (m) at the site frame's origin."""

    east: float = 0.0
    north: float = 0.0
    at_origin: float = 0.0

    def over(self, corners: Floats) -> float:
        """Height (m) of the ground below the highest of ``corners`` (E, 2)."""
        return self.at_origin + float((corners @ (self.east, self.north)).max())

    def under(self, points: Floats, suns: Floats) -> tuple[Floats, Floats]:
        """Heights (N,) of ``points`` (N, 3) over it, and how fast rays towards ``suns`` (N, 3) gain on it."""
        ground = np.array([self.east, self.north])
        return (
            np.asarray(points[:, 2] - self.at_origin - points[:, :2] @ ground),
            np.asarray(suns[:, 2] - suns[:, :2] @ ground),
        )


def _crosses(
    points: Floats,
    suns: Floats,
    above: Floats,
    rise: Floats,
    start: tuple[float, float],
    end: tuple[float, float],
    height_m: float,
) -> Bools:
    """Whether rays (N,) cross the upright stretch from ``start`` to ``end`` below its top: p + t s = c1 + w (c2 - c1) on plan."""
    (x1, y1), (x2, y2) = start, end
    x, y = points[:, 0], points[:, 1]
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        across = suns[:, 0] * (y2 - y1) - suns[:, 1] * (x2 - x1)
        far = ((x1 - x) * (y2 - y1) - (y1 - y) * (x2 - x1)) / across
        along = ((x1 - x) * suns[:, 1] - (y1 - y) * suns[:, 0]) / across
        high = above + far * rise
        return np.asarray((far > 0) & (along >= 0) & (along < 1) & (high < height_m) & (high >= 0))


@dataclass(frozen=True)
class BlockBody:
    """Upright sides on a ring of corners (E, 2), not closed, up to ``height_m`` above the ``ground`` below them."""

    ring: tuple[tuple[float, float], ...]
    height_m: float
    ground: Slope = Slope()

    def around(self) -> "Around":
        """What holds it, seen from above."""
        corners = np.array(self.ring)
        return Around(corners, 0.0, self.ground.over(corners) + self.height_m)

    def walls(self) -> Iterator["Around"]:
        """What holds each of its walls."""
        for ends in pairwise((*self.ring, self.ring[0])):
            wall = np.array(ends)
            yield Around(wall, 0.0, self.ground.over(wall) + self.height_m)

    def meets(self, points: Floats, suns: Floats) -> Bools:
        """Whether rays (N,) from ``points`` (N, 3) towards ``suns`` (N, 3) meet it.

        A ray that starts outside and goes up on end meets it exactly where it crosses a side below the top; one that
        starts inside below the top always does.
        """
        above, rise = self.ground.under(points, suns)
        met = np.zeros(len(points), np.bool_)
        inside = np.zeros(len(points), np.bool_)
        x, y = points[:, 0], points[:, 1]
        for (x1, y1), (x2, y2) in pairwise((*self.ring, self.ring[0])):
            with np.errstate(divide="ignore", invalid="ignore"):
                inside ^= ((y1 > y) != (y2 > y)) & (x < x1 + (y - y1) * (x2 - x1) / (y2 - y1))
            met |= _crosses(points, suns, above, rise, (x1, y1), (x2, y2), self.height_m)
        return np.asarray(met | (inside & (above < self.height_m) & (above >= 0)))


@dataclass(frozen=True)
class FenceBody:
    """An upright screen along a path of corners (E, 2), up to ``height_m`` above the ``ground`` below it."""

    path: tuple[tuple[float, float], ...]
    height_m: float
    ground: Slope = Slope()

    def around(self) -> "Around":
        """What holds it, seen from above."""
        corners = np.array(self.path)
        return Around(corners, 0.0, self.ground.over(corners) + self.height_m)

    def walls(self) -> Iterator["Around"]:
        """What holds each of its stretches."""
        for ends in pairwise(self.path):
            stretch = np.array(ends)
            yield Around(stretch, 0.0, self.ground.over(stretch) + self.height_m)

    def meets(self, points: Floats, suns: Floats) -> Bools:
        """Whether rays (N,) from ``points`` (N, 3) towards ``suns`` (N, 3) cross it."""
        above, rise = self.ground.under(points, suns)
        met = np.zeros(len(points), np.bool_)
        for start, end in pairwise(self.path):
            met |= _crosses(points, suns, above, rise, start, end, self.height_m)
        return met


@dataclass(frozen=True)
class PoleBody:
    """An upright round rod round (x, y) from height ``low_m`` to ``high_m`` of the site frame."""

    x_m: float
    y_m: float
    radius_m: float
    low_m: float
    high_m: float

    def around(self) -> "Around":
        """What holds it, seen from above."""
        return Around(np.array([[self.x_m, self.y_m]]), self.radius_m, self.high_m)

    def meets(self, points: Floats, suns: Floats) -> Bools:
        """Whether rays (N,) from ``points`` (N, 3) towards ``suns`` (N, 3) meet it."""
        enter, leave = _through(points[:, :2] - (self.x_m, self.y_m), suns[:, :2], self.radius_m)
        enter = np.maximum(enter, 0.0)
        with np.errstate(invalid="ignore"):
            low, high = points[:, 2] + enter * suns[:, 2], points[:, 2] + leave * suns[:, 2]
            return np.asarray((leave > enter) & (low < self.high_m) & (high > self.low_m))


@dataclass(frozen=True)
class CrownBody:
    """The ellipsoid of a crown: its middle, half its width, half its height."""

    x_m: float
    y_m: float
    z_m: float
    radius_m: float
    half_height_m: float

    def around(self) -> "Around":
        """What holds it, seen from above."""
        return Around(np.array([[self.x_m, self.y_m]]), self.radius_m, self.z_m + self.half_height_m)

    def meets(self, points: Floats, suns: Floats) -> Bools:
        """Whether rays (N,) from ``points`` (N, 3) towards ``suns`` (N, 3) meet it."""
        halves = np.array([self.radius_m, self.radius_m, self.half_height_m])
        _enter, leave = _through((points - (self.x_m, self.y_m, self.z_m)) / halves, suns / halves, 1.0)
        return np.asarray(leave > 0)


Body = BlockBody | FenceBody | PoleBody | CrownBody


def _through(start: Floats, way: Floats, radius: float) -> tuple[Floats, Floats]:
    """Where rays start + t way (N, D) enter and leave a ball of ``radius`` round the origin: t (N,) each, nan where

    they miss it. |start + t way|² = radius², the quadratic's two roots."""
    square, half = np.einsum("ij,ij->i", way, way), np.einsum("ij,ij->i", start, way)
    beyond = np.einsum("ij,ij->i", start, start) - radius * radius
    with np.errstate(invalid="ignore", divide="ignore"):
        root = np.sqrt(half * half - square * beyond)
        return (-half - root) / square, (-half + root) / square


@dataclass(frozen=True)
class ObstacleShade:
    """Shade on a line by obstacles, for each of K sets of what crowns pass: ``by_mirror`` (K, M, S), and their ``mean``

    (K, S), over the mirrors that are there. ``covered`` (B, S) is the share of the apertures from which each body stands
    before the sun, whatever it passes."""

    by_mirror: Floats
    mean: Floats
    covered: Floats


@cache
def _lattice() -> Floats:
    """Points (POINTS, 2) over a square of side 1 about the origin."""
    steps = np.arange(POINTS)
    return np.stack([(steps + 0.5) / POINTS, ((steps * _TURN) % POINTS + 0.5) / POINTS], axis=1) - 0.5


def obstacle_shade(row: RowOfMirrors, bodies: Sequence[Body], passes: Floats, suns: Floats) -> ObstacleShade:
    """Shade by ``bodies`` (B) on the apertures of ``row``, for ``suns`` (S, 3), unit vectors of the site frame.

    ``passes`` (K, B) is what each body lets through in each of K states (0: nothing). Only mirrors and suns are followed
    between which a body may stand. A sun behind the mirrors throws no shade.
    """
    axes = np.array(row.axes)
    lit = np.asarray(suns) @ axes[2] > LEAST_SUN_COSINE
    suns = _lifted(suns)
    middles = row.vertices() + row.plane_z_m * axes[2]
    near = np.stack([_may_meet(body, row, middles, suns) & lit for body in bodies])
    near[:, list(row.absent)] = False
    mirror, sun = np.nonzero(near.any(axis=0))
    by_mirror = np.zeros((len(passes), row.count, len(suns)))
    covered = np.zeros((len(bodies), len(suns)))
    offsets = _lattice() * (row.width_m, row.height_m) @ axes[:2]
    step = max(1, _AT_ONCE // POINTS)
    for start in range(0, len(mirror), step):
        of_mirror, of_sun = mirror[start : start + step], sun[start : start + step]
        left = np.ones((len(passes), len(of_mirror), POINTS))
        for place, body in enumerate(bodies):
            pairs = np.flatnonzero(near[place, of_mirror, of_sun])
            points = (middles[of_mirror[pairs], None] + offsets).reshape(-1, 3)
            towards = np.repeat(suns[of_sun[pairs]], POINTS, axis=0)
            met = body.meets(points, towards).reshape(-1, POINTS)
            covered[place] += np.bincount(of_sun[pairs], met.mean(axis=1), len(suns))
            for state, shares in enumerate(passes):
                left[state, pairs] *= np.where(met, shares[place], 1.0)
        by_mirror[:, of_mirror, of_sun] = 1.0 - left.mean(axis=2)
    mean = row.mean(by_mirror.swapaxes(1, 2))
    return ObstacleShade(by_mirror, mean, covered / row.mirrors)


def may_reach(body: Body, row: RowOfMirrors, suns: Floats) -> bool:
    """Whether a body may stand between any of the ``suns`` (S, 3) and any mirror of ``row``; quick and never too narrow."""
    first, last = row.vertices()[[0, -1]]
    around = body.around()
    middle = (around.corners.min(axis=0) + around.corners.max(axis=0)) / 2
    radius = float(np.hypot(*(around.corners - middle).T).max()) + around.margin_m
    way = last[:2] - first[:2]
    share = np.clip((middle - first[:2]) @ way / max(float(way @ way), 1e-12), 0.0, 1.0)
    apart = float(np.hypot(*(first[:2] + share * way - middle))) - radius - _half(row)
    tall = around.top_m - min(float(first[2]), float(last[2])) + _half(row)
    lowest = float(_lifted(suns)[:, 2].min(initial=1.0))
    return tall > 0 and apart * lowest <= tall * float(np.sqrt(1.0 - lowest * lowest))


def _lifted(suns: Floats) -> Floats:
    """Suns (S, 3) below half a degree lifted to there: a table is blended across sunrise from what stands before it."""
    suns = np.asarray(suns, dtype=np.float64)
    low = suns[:, 2] < _LEAST_HEIGHT
    level = np.maximum(np.hypot(suns[:, 0], suns[:, 1]), 1e-12)
    flat = suns * (np.sqrt(1.0 - _LEAST_HEIGHT**2) / level)[:, None]
    flat[:, 2] = _LEAST_HEIGHT
    return np.where(low[:, None], flat, suns)


def _half(row: RowOfMirrors) -> float:
    """From the vertex, the farthest point of an aperture is no farther than this, m."""
    return float(np.hypot(row.width_m, row.height_m)) / 2 + abs(row.plane_z_m)


def _may_meet(body: Body, row: RowOfMirrors, middles: Floats, suns: Floats) -> Bools:
    """Mirrors and suns (M, S) between which a body may stand."""
    view = _View.of(row, middles, suns)
    if not isinstance(body, BlockBody | FenceBody):
        return view.before(body.around())
    near = np.zeros((len(middles), len(suns)), np.bool_)
    for wall in body.walls():
        near |= view.before(wall)
    # what stands inside the walls is dark whichever way the sun
    whole, half = body.around(), _half(row)
    low, high = whole.corners.min(axis=0) - half, whole.corners.max(axis=0) + half
    within = ((middles[:, :2] > low) & (middles[:, :2] < high)).all(axis=1)
    near[within & (middles[:, 2] - half < whole.top_m)] = True
    return near


@dataclass(frozen=True, eq=False)
class _View:
    """A row's apertures as the suns see them: ``way`` (S, 2) towards the sun on plan and ``square`` (S, 2) to its left;

    places of the middles along both, ``at`` and ``beside`` (M, S), and how far an aperture reaches from its middle along
    them, ``deep`` and ``wide`` (S,). ``foot_m`` (M, 1) is the height of their lowest points."""

    way: Floats
    square: Floats
    level: Floats
    sun_up: Floats
    at: Floats
    beside: Floats
    deep: Floats
    wide: Floats
    foot_m: Floats

    @classmethod
    def of(cls, row: RowOfMirrors, middles: Floats, suns: Floats) -> "_View":
        """The apertures of ``row`` with these ``middles`` (M, 3) under ``suns`` (S, 3)."""
        level = np.hypot(suns[:, 0], suns[:, 1])
        way = suns[:, :2] / np.maximum(level, 1e-12)[:, None]
        square = np.stack([-way[:, 1], way[:, 0]], axis=1)
        sides = np.array(row.axes)[:2] * np.array([[row.width_m / 2], [row.height_m / 2]])
        deep, wide = (np.abs(sides[:, :2] @ ways.T).sum(axis=0) for ways in (way, square))
        return cls(
            way, square, level, suns[:, 2], middles[:, :2] @ way.T, middles[:, :2] @ square.T, deep, wide,
            middles[:, 2:] - float(np.abs(sides[:, 2]).sum()),
        )  # fmt: skip

    def before(self, around: Around) -> Bools:
        """Mirrors and suns (M, S) between which a wall or a round body may stand.

        Of a wall only the part counts that lies in the strip which an aperture sweeps towards the sun.
        """
        ahead, aside = around.corners @ self.way.T, around.corners @ self.square.T
        deep, wide = (reach + around.margin_m + 1e-9 for reach in (self.deep, self.wide))
        apart, run = self.beside - aside[0], aside[-1] - aside[0]
        with np.errstate(divide="ignore", invalid="ignore"):
            ends = np.stack([(apart - wide) / run, (apart + wide) / run])
        # a wall that runs towards the sun is in the strip as a whole or not at all
        low = np.where(run == 0.0, np.where(np.abs(apart) < wide, 0.0, 2.0), ends.min(axis=0))
        high = np.where(run == 0.0, 1.0, ends.max(axis=0))
        parts = ahead[0] + np.clip(np.stack([low, high]), 0.0, 1.0) * (ahead[-1] - ahead[0])
        nearest = np.maximum(parts.min(axis=0) - deep - self.at, 0.0)
        return np.asarray(
            (low < 1.0)
            & (high > 0.0)
            & (parts.max(axis=0) > self.at - deep)
            & (nearest * self.sun_up < (around.top_m - self.foot_m) * self.level + 1e-9)
        )
