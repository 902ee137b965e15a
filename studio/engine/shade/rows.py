"""A line as shade sees it: equal, parallel apertures in a straight row."""

from dataclasses import dataclass
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.frame import Axes, Vector

Floats = NDArray[np.float64]

LEAST_SUN_COSINE = 1e-6
"""A sun nearer than this to the plane of an aperture (cosine of incidence) throws no light on it."""
SAME_AXES = 1e-9
"""Axes whose parts differ by less are parallel."""
SAME_STEP_M = 1e-9
"""Steps whose parts differ by less are alike."""


@dataclass(frozen=True)
class RowOfMirrors:
    """The apertures of one line, in the site frame.

    ``first`` is the vertex of the first mirror and ``along`` the unit vector towards the next. ``axes`` are the
    mirror's x, y, z as unit vectors of the site frame (see :func:`studio.engine.mirror.frame.mirror_axes`). The aperture is the flat rectangle
    ``width_m`` (along x) by ``height_m`` (along y) in the plane ``plane_z_m`` in front of the vertex (the rim's
    depth). The row has ``count`` places; at those ``absent`` (counted from 0) no mirror stands: it casts and receives
    no shade and has no receiver.

    Raises ValueError when a size is not above zero, a direction is not of unit length or no mirror is left.
    """

    first: Vector
    along: Vector
    spacing_m: float
    count: int
    axes: Axes
    width_m: float
    height_m: float
    plane_z_m: float = 0.0
    absent: tuple[int, ...] = ()

    def __post_init__(self) -> None:
        for name in ("spacing_m", "count", "width_m", "height_m"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0):
                raise ValueError(f"{name} of a row is {value}; it must be above zero")
        for name, vector in (("along", self.along), *zip("xyz", self.axes, strict=True)):
            if not abs(sum(part * part for part in vector) - 1) < 1e-6:
                raise ValueError(f"the direction {name} of a row is {vector}; it must be of unit length")
        if self.absent and not (set(self.absent) < set(range(self.count))):
            raise ValueError(
                f"places {self.absent} of a row of {self.count} are left out; they must be of the row and not all of it"
            )

    @property
    def there(self) -> NDArray[np.int64]:
        """The places where a mirror stands, from 0, rising."""
        return np.delete(np.arange(self.count), self.absent) if self.absent else np.arange(self.count)

    @property
    def mirrors(self) -> int:
        """How many mirrors stand in the row."""
        return self.count - len(self.absent)

    def mean(self, by_place: Floats) -> Floats:
        """The mean (...) over the mirrors that are there of what is told for every place (..., count)."""
        return np.asarray((by_place[..., self.there] if self.absent else by_place).mean(axis=-1))

    def vertices(self) -> Floats:
        """The vertices of all places, shape (count, 3), site frame, m."""
        return np.array(self.first) + np.arange(self.count)[:, None] * self.step()

    def step(self) -> Floats:
        """From one vertex to the next, shape (3,), site frame, m."""
        return self.spacing_m * np.array(self.along)

    def into_mirror_frame(self, vectors: Floats) -> Floats:
        """``vectors`` (..., 3) of the site frame, turned into the mirror frame (no shift)."""
        return np.asarray(vectors @ np.array(self.axes).T)


def same_axes(one: RowOfMirrors, other: RowOfMirrors) -> bool:
    """Whether two rows' apertures are parallel."""
    return one.axes == other.axes or all(
        abs(part - its) < SAME_AXES
        for axis, others in zip(one.axes, other.axes, strict=True)
        for part, its in zip(axis, others, strict=True)
    )


def same_steps(one: RowOfMirrors, other: RowOfMirrors) -> bool:
    """Whether it is as far, and the same way, from mirror to mirror of two rows."""
    return all(
        abs(one.spacing_m * part - other.spacing_m * its) < SAME_STEP_M
        for part, its in zip(one.along, other.along, strict=True)
    )


def project(points: Floats, suns: Floats) -> Floats:
    """Shadow (..., 2) of ``points`` (..., 3) on the plane z = 0 by parallel light from ``suns`` (..., 3).

    All in the mirror frame; points and suns broadcast. The shadow of p is p - s (p.n)/(s.n), n the plane's normal
    (parallel projection along the ray). It says nothing of whether the point is on the sun's side.
    """
    return np.asarray(points[..., :2] - suns[..., :2] * (points[..., 2] / suns[..., 2])[..., None])
