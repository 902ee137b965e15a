"""Places of the sun at which shade is worked out, and how other moments are blended from them.

Shade begins and saturates over a few degrees, mostly under low suns and near the solstices, where the sun's course hardly
changes for weeks. So the places lie on courses of the sun spread evenly over its yearly swing, sin of declination's own angle,
and on each from where the sun stands low to where it does again, denser towards both ends; between them values are blended
by cubics (Catmull-Rom) in the number of the course and of the place along it.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from studio.engine.sky.sun import direction_from_equatorial
from studio.study.assessment import Array

DECLINATION_REACH_DEG = 23.5
"""The outermost courses; refraction lifts suns a little beyond, to be taken as standing there."""
SEASON_STEPS = 6
"""Steps from the course at equinox to that at a solstice."""
HALF_DAY_STEPS = 17
"""Steps along a course from noon to its low end."""
LOW_SUN_DEG = (0.5, 2.5)
"""Elevation at which a course ends: the higher one but where the midwinter sun hardly gets above it. Suns below, which bring
some hundredth of a percent of a year's light, count as standing there."""
_CROWDING = np.radians(68.0)
"""How much denser places lie towards the ends of a course than about noon: one over the cosine of this."""


@dataclass(frozen=True)
class SunNodes:
    """Places of the sun above the site at which shade is worked out, and how moments are blended from them.

    ``suns`` (N, 3) unit vectors in the site frame; ``nodes`` (T, 16) and ``weights`` (T, 16) of T moments. Weights sum to
    one; some are below zero.
    """

    suns: Array
    nodes: NDArray[np.intp]
    weights: Array

    def blend(self, shares: Array) -> Array:
        """Shares (N, ...) at the nodes, as shares (T, ...) at the moments, none below 0 or above 1."""
        return np.asarray(np.clip(self.between(shares), 0.0, 1.0))

    def between(self, values: Array) -> Array:
        """Values (N, ...) at the nodes that may lie on either side of 0, as values (T, ...) at the moments."""
        near = values.take(
            self.nodes, axis=0, mode="clip"
        )  # none lies outside, and so none is looked at for it
        return np.asarray(np.einsum("tk,tk...->t...", self.weights, near))

    def at(self, moments: slice) -> "SunNodes":
        """The same nodes for some of the moments."""
        return SunNodes(self.suns, self.nodes[moments], self.weights[moments])

    def gather(self, values: Array) -> Array:
        """How much of ``values`` (T,) at the moments is blended from each node: (N,)."""
        return self._gathered(self.weights, values)

    def leaning(self, values: Array) -> Array:
        """How much of ``values`` (T,), none below 0, at the moments leans on each node, whichever way: (N,)."""
        return self._gathered(np.abs(self.weights), values)

    def _gathered(self, weights: Array, values: Array) -> Array:
        parts = weights * values[:, None]
        found = np.bincount(self.nodes.ravel(), weights=parts.ravel(), minlength=len(self.suns))
        return found.astype(np.float64, copy=False)


def sun_nodes(
    *places: tuple[Array, Array],
    latitude_deg: float,
    season_steps: int = SEASON_STEPS,
    half_day_steps: int = HALF_DAY_STEPS,
) -> tuple[SunNodes, ...]:
    """Nodes for a latitude and weights for places of the sun; each of ``places`` is (declination (T,), hour angle (T,)).

    All share the same nodes.
    """
    courses, width = 2 * season_steps + 1, 2 * half_day_steps + 1
    course, place = np.divmod(np.arange(courses * width), width)
    declination = DECLINATION_REACH_DEG * np.sin(np.pi / 2 * (course / season_steps - 1.0))
    along = np.sin((place / half_day_steps - 1.0) * _CROWDING) / np.sin(_CROWDING)
    hour_angle = along * _course_end_deg(declination, latitude_deg)
    towards = direction_from_equatorial(declination, hour_angle, latitude_deg=latitude_deg)
    suns = _not_lower(towards, np.radians(_low_sun_deg(latitude_deg)))
    found = []
    for declination_deg, hour_angle_deg in places:
        season = np.arcsin(np.clip(declination_deg / DECLINATION_REACH_DEG, -1.0, 1.0)) / (np.pi / 2)
        end = np.maximum(_course_end_deg(declination_deg, latitude_deg), 1e-9)
        share = np.arcsin(np.clip(hour_angle_deg / end, -1.0, 1.0) * np.sin(_CROWDING)) / _CROWDING
        rows, of_rows = _cubic((season + 1.0) * season_steps, 2 * season_steps)
        columns, of_columns = _cubic((share + 1.0) * half_day_steps, 2 * half_day_steps)
        nodes = rows[:, :, None] * width + columns[:, None, :]
        weights = of_rows[:, :, None] * of_columns[:, None, :]
        found.append(SunNodes(suns, nodes.reshape(-1, 16), weights.reshape(-1, 16)))
    return tuple(found)


def _low_sun_deg(latitude_deg: float) -> float:
    """Elevation at which courses end at a latitude: a quarter of that of the midwinter noon, within ``LOW_SUN_DEG``."""
    return float(np.clip((90.0 - abs(latitude_deg) - DECLINATION_REACH_DEG) / 4, *LOW_SUN_DEG))


def _course_end_deg(declination_deg: Array, latitude_deg: float) -> Array:
    """Hour angle at which the sun of a declination comes down to where courses end: 180 where it never does, 0 where it is
    never higher. Duffie & Beckman, Solar Engineering of Thermal Processes, eq. 1.6.5 solved for the hour angle."""
    declination, latitude = np.radians(declination_deg), np.radians(latitude_deg)
    rest = np.sin(np.radians(_low_sun_deg(latitude_deg))) - np.sin(latitude) * np.sin(declination)
    most = np.maximum(np.cos(latitude) * np.cos(declination), 1e-12)
    return np.asarray(np.degrees(np.arccos(np.clip(rest / most, -1.0, 1.0))))


def _not_lower(suns: Array, least: float) -> Array:
    """Suns (N, 3), those lower than ``least`` (radians) lifted to it."""
    level = np.hypot(suns[:, 0], suns[:, 1])
    low = suns[:, 2] < np.sin(least)
    shrunk = np.where(low, np.cos(least) / np.maximum(level, 1e-12), 1.0)
    up = np.where(low, np.sin(least), suns[:, 2])
    return np.stack([suns[:, 0] * shrunk, suns[:, 1] * shrunk, up], axis=-1)


def _cubic(at: Array, last: int) -> tuple[NDArray[np.intp], Array]:
    """The four of the nodes 0 to ``last`` around places ``at`` (T,) and their weights, (T, 4) each: Catmull-Rom's cubic, with
    a node beyond each end in line with the two before it."""
    low = np.clip(np.floor(at), 0, last - 1)
    t = at - low
    weights = 0.5 * np.stack(
        [-t + 2 * t**2 - t**3, 2 - 5 * t**2 + 3 * t**3, t + 4 * t**2 - 3 * t**3, t**3 - t**2], axis=-1
    )
    nodes = low.astype(np.intp)[:, None] + np.arange(-1, 3)
    for beyond, end, before in ((0, 1, 2), (3, 2, 1)):
        outside = (nodes[:, beyond] < 0) | (nodes[:, beyond] > last)
        ghost = np.where(outside, weights[:, beyond], 0.0)
        weights[:, end] += 2 * ghost
        weights[:, before] -= ghost
        weights[:, beyond] -= ghost
    return np.clip(nodes, 0, last), weights
