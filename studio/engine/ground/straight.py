"""How a line lies over the ground: its own straight grade, its posts, and the earth that grading would move."""

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from math import ceil, cos, radians, sin
from typing import Any, TypeVar
from weakref import WeakKeyDictionary

import numpy as np

from studio.engine.ground.surface import Floats, Plane, Surface

_CELL_M = 0.5
"""Widest step of the places at which the ground is read for cut and fill."""
_T = TypeVar("_T")
_MOST_HELD = 4096
_held: WeakKeyDictionary[Surface, dict[Hashable, Any]] = WeakKeyDictionary()
"""What was worked out over each surface; it goes when the surface goes."""


def once(surface: Surface, key: Hashable, compute: Callable[[], _T]) -> _T:
    """What ``compute`` gives for a key over a surface, worked out once."""
    held = _held.setdefault(surface, {})
    found: _T | None = held.get(key)
    if found is None:
        if len(held) >= _MOST_HELD:
            held.clear()
        found = held[key] = compute()
    return found


@dataclass(frozen=True)
class Straight:
    """A line's straight way over the ground.

    ``grade_percent``: rise in m per 100 m on plan towards the far end. ``ground_m``: height of the straight line through
    the ground at the first vertex; ``raised_m``: by how much the line lies above it, so that no mirror stands lower
    over the ground than it should.
    """

    grade_percent: float
    ground_m: float
    raised_m: float = 0.0

    @property
    def level_m(self) -> float:
        """Height at the first vertex of the line on which mirrors stand."""
        return self.ground_m + self.raised_m


def straight_over(
    surface: Surface, *, x_m: float, y_m: float, azimuth_deg: float, spacing_m: float, count: int
) -> Straight:
    """The straight way of a line of ``count`` mirrors from its first vertex (``x_m``, ``y_m``), ``spacing_m`` apart.

    Its grade is that of the straight line with the least squares of distance in height from the ground, read on the plan at the
    vertices of a level line: so the places do not depend on the grade that they give. One mirror alone lies as
    the ground half a spacing before and behind it. Then the line is raised until its true vertices nowhere lie below the ground: the
    lowest stands exactly on it. Over a plane that is the plane's own grade and height.
    """
    if isinstance(surface, Plane):
        return Straight(surface.grade_percent(azimuth_deg), float(surface.height_at(x_m, y_m)))
    key = (x_m, y_m, azimuth_deg, spacing_m, count)
    return once(surface, key, lambda: _straight(surface, *key))


def _straight(
    surface: Surface, x_m: float, y_m: float, azimuth_deg: float, spacing_m: float, count: int
) -> Straight:
    east, north = sin(radians(azimuth_deg)), cos(radians(azimuth_deg))
    far = np.arange(count) * spacing_m if count > 1 else np.array([-0.5, 0.5]) * spacing_m
    heights = surface.height_at(x_m + east * far, y_m + north * far)
    middle, mean = float(far.mean()), float(heights.mean())
    away = far - middle
    grade = float(away @ heights / (away @ away))
    ground = mean - grade * middle
    true = np.arange(count) * (spacing_m / (1.0 + grade * grade) ** 0.5)
    over = surface.height_at(x_m + east * true, y_m + north * true) - ground - grade * true
    return Straight(100 * grade, ground, float(over.max()))


_LEG_M = 2.0
"""Widest step at which a pipe that is laid over the ground follows it."""


def laid_length(surface: Surface, way: Sequence[tuple[float, float]]) -> float:
    """Length (m) of a pipe laid along a ``way`` of points on plan, following the rise and fall of the ground below it.

    Over uneven ground it is taken as straight over 2 m at most, the distance of its supports.
    """
    corners = np.array(way, dtype=float).reshape(-1, 2)
    if not isinstance(surface, Plane):
        legs = np.diff(corners, axis=0)
        parts = np.maximum(np.ceil(np.hypot(*legs.T) / _LEG_M).astype(int), 1)
        each = np.repeat(np.arange(len(legs)), parts)
        turn = np.arange(len(each)) - np.repeat(np.cumsum(parts) - parts, parts)
        corners = np.concatenate([corners[each] + legs[each] * (turn / parts[each])[:, None], corners[-1:]])
    legs, rises = np.diff(corners, axis=0), np.diff(surface.height_at(corners[:, 0], corners[:, 1]))
    return float(np.sqrt((legs**2).sum(axis=1) + rises**2).sum())


@dataclass(frozen=True)
class Earthwork:
    """Earth that grading a strip would cut away and fill up, m3, each as it lies in the ground."""

    cut_m3: float
    fill_m3: float


def earthwork(
    surface: Surface,
    straight: Straight,
    *,
    x_m: float,
    y_m: float,
    azimuth_deg: float,
    from_m: float,
    to_m: float,
    half_width_m: float,
) -> Earthwork:
    """Cut and fill of grading a strip along a line, instead of standing its mirrors on posts of different lengths.

    The strip runs ``from_m`` to ``to_m`` along the plan from the first vertex, and ``half_width_m`` to either side. It is
    graded to the straight line through the ground (not to the raised one), so that cut and fill all but balance, and
    across it to the mean fall of the ground there, so that even a slope needs no grading. The
    ground is read every half metre or less; between these places it is taken as plane triangles and integrated exactly over the part
    above and the part below (``_above``). Over a plane there is nothing to move.
    """
    if isinstance(surface, Plane):
        return Earthwork(0.0, 0.0)
    along = np.linspace(from_m, to_m, ceil((to_m - from_m) / _CELL_M) + 1)
    aside = np.linspace(-half_width_m, half_width_m, 2 * ceil(half_width_m / _CELL_M) + 1)
    s, t = np.meshgrid(along, aside, indexing="ij")
    east, north = sin(radians(azimuth_deg)), cos(radians(azimuth_deg))
    heights = surface.height_at(x_m + east * s - north * t, y_m + north * s + east * t)
    left = heights - straight.ground_m - straight.grade_percent / 100 * s
    left -= float((left * t).sum() / (t * t).sum()) * t
    half_cell = (along[1] - along[0]) * (aside[1] - aside[0]) / 2
    a, b, c, d = left[:-1, :-1], left[1:, :-1], left[1:, 1:], left[:-1, 1:]
    corners = np.concatenate([np.stack([a, b, c], -1).reshape(-1, 3), np.stack([a, c, d], -1).reshape(-1, 3)])
    cut = half_cell * _above(corners).sum()
    return Earthwork(float(cut), float(half_cell * _above(-corners).sum()))


def _above(corners: Floats) -> Floats:
    """Mean over each triangle (T,) of what of it lies above 0, its corners' heights (T, 3) given.

    The height is linear, so that the part above is a triangle, or the whole less one: with corners a >= b >= c the
    part about the highest corner a, where only it lies above, is a^3 / (3 (a - b)(a - c)).
    """
    c, b, a = np.sort(corners, axis=1).T
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = a**3 / (3 * (a - b) * (a - c))
        rest = (a + b + c) / 3 - c**3 / (3 * (a - c) * (b - c))
    found = np.where(c >= 0, (a + b + c) / 3, np.where(b > 0, rest, tip))
    return np.where(a <= 0, 0.0, found)
