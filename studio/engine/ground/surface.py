"""The ground as a surface: a plane, triangles between measured spots, or an even grid of heights.

Heights are metres of the site frame (x east, y north). Every surface is continuous and reaches everywhere; what it
takes beyond the land that was measured is said by the function that makes it.
"""

from abc import ABC, abstractmethod
from math import atan2, cos, degrees, hypot, isfinite, radians, sin

import numpy as np
from numpy.typing import ArrayLike, NDArray

from studio.engine.ground.plane import grade_percent, ground_normal, height_at
from studio.errors import BadInputError
from studio.text import _

Floats = NDArray[np.float64]
_REACH_M = 0.5
"""Half the length over which a local slope is taken: about a step of a person."""


class Surface(ABC):
    """Height of the ground at any place. Compared by identity, so that it can be the key of a cache.

    ``note`` says in a sentence what the maker had to assume; empty where nothing.
    """

    note: str = ""

    @abstractmethod
    def height_at(self, x: ArrayLike, y: ArrayLike) -> Floats:
        """Heights (m) at ``x``, ``y`` (m; they broadcast)."""

    def over(self, points: Floats) -> Floats:
        """Heights (...) of points (..., 3) above the ground below them."""
        return np.asarray(points[..., 2] - self.height_at(points[..., 0], points[..., 1]))

    def rise_at(self, x: float, y: float) -> tuple[float, float]:
        """Rise east and north (m per m) at a place, taken over half a metre to either side."""
        xs, ys = np.array([1.0, -1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0, -1.0])
        h = self.height_at(x + _REACH_M * xs, y + _REACH_M * ys)
        return float(h[0] - h[1]) / (2 * _REACH_M), float(h[2] - h[3]) / (2 * _REACH_M)

    def plane_near(self, places: Floats) -> "Plane":
        """The plane that fits the heights at ``places`` (N, 2) best by least squares."""
        x, y = np.asarray(places, dtype=float).T
        return fitted_plane(x, y, self.height_at(x, y))

    @abstractmethod
    def triangles(self, bounds: tuple[float, float, float, float]) -> Floats:
        """Triangles (T, 3, 3), corners x, y, z, that cover the measured land within ``bounds`` (x0, y0, x1, y1)."""


class Plane(Surface):
    """A plane that falls by ``slope_percent`` (m per 100 m on plan) towards an azimuth; ``level_m`` high at the origin."""

    def __init__(
        self, slope_percent: float = 0.0, falls_towards_deg: float = 180.0, level_m: float = 0.0
    ) -> None:
        self.slope_percent, self.falls_towards_deg, self.level_m = slope_percent, falls_towards_deg, level_m

    def height_at(self, x: ArrayLike, y: ArrayLike) -> Floats:
        return self.level_m + height_at(
            x, y, slope_percent=self.slope_percent, falls_towards_deg=self.falls_towards_deg
        )

    def grade_percent(self, azimuth_deg: float) -> float:
        """Rise in m per 100 m on plan along an azimuth; + is uphill."""
        return float(
            grade_percent(
                azimuth_deg, slope_percent=self.slope_percent, falls_towards_deg=self.falls_towards_deg
            )
        )

    @property
    def normal(self) -> tuple[float, float, float]:
        """Unit vector square to the plane, site frame (east, north, up)."""
        return ground_normal(slope_percent=self.slope_percent, falls_towards_deg=self.falls_towards_deg)

    @property
    def through(self) -> tuple[float, float, float]:
        """A point of the plane, above or below the site frame's origin."""
        return 0.0, 0.0, self.level_m

    def rise_at(self, x: float = 0.0, y: float = 0.0) -> tuple[float, float]:
        fall, towards = self.slope_percent / 100, radians(self.falls_towards_deg)
        return -fall * sin(towards), -fall * cos(towards)

    def plane_near(self, places: Floats) -> "Plane":
        return self

    def triangles(self, bounds: tuple[float, float, float, float]) -> Floats:
        x0, y0, x1, y1 = bounds
        corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
        raised = np.column_stack([corners, self.height_at(corners[:, 0], corners[:, 1])])
        return np.stack([raised[[0, 1, 2]], raised[[0, 2, 3]]])


def fitted_plane(x: Floats, y: Floats, height: Floats, *, note: str = "") -> Plane:
    """The plane through heights (N,) at x, y (N,) with the least squares of what is left.

    Where the places lie on one line the plane is level across it (the least of all that fit: numpy.linalg.lstsq).
    """
    middle = np.array([x.mean(), y.mean(), height.mean()])
    places = np.column_stack([x - middle[0], y - middle[1]])
    (east, north), *_rest = np.linalg.lstsq(places, height - middle[2], rcond=1e-6)
    plane = Plane(
        100 * hypot(east, north),
        degrees(atan2(-east, -north)),
        float(middle[2] - east * middle[0] - north * middle[1]),
    )
    plane.note = note
    return plane


def spot_surface(spots: ArrayLike) -> Surface:
    """The land between measured spots (N, 3: x, y, height in m): plane triangles of their Delaunay triangulation.

    Outside their hull the height is that of the nearest place on the hull, so that the land goes on level from
    its rim. Spots that lie on one line, or all but, have no triangles: they give a plane fitted through them, level across
    the line, and ``note`` says so. Raises BadInputError for fewer than three spots or one that is no number.
    """
    known = np.asarray(spots, dtype=float).reshape(-1, 3)
    if len(known) < 3 or not np.isfinite(known).all():
        raise BadInputError(
            _(
                "{count} spot heights make no ground; three or more, all of them numbers, would be right."
            ).format(count=len(known))
        )
    from studio.engine.ground.triangulated import triangulated

    found = triangulated(known)
    if found is not None:
        return found
    return fitted_plane(
        known[:, 0], known[:, 1], known[:, 2],
        note=_("The spot heights lie on one line; the ground is taken as a plane through them, level across it"),
    )  # fmt: skip


def grid_surface(heights: Floats, *, x_m: float, y_m: float, step_m: float) -> Surface:
    """The land on an even grid: ``heights`` (rows, columns), m, rows from south to north, bilinear between them.

    ``x_m``, ``y_m``: the south-west place; ``step_m`` apart both ways. A place without a height (NaN) has that of the
    nearest place with one; outside the grid the height is that of the nearest place on its rim. Raises BadInputError for a grid that
    is too small, holds no height, or has no step.
    """
    known = np.asarray(heights, dtype=float)
    if known.ndim != 2 or min(known.shape) < 2 or not np.isfinite(known).any():
        raise BadInputError(_("A grid of heights has two rows and two columns or more, some of them known."))
    if not (step_m > 0 and isfinite(step_m) and isfinite(x_m) and isfinite(y_m)):
        raise BadInputError(
            _("A grid of heights with a step of {step} m will not do; more than 0 m would be right.").format(
                step=step_m
            )
        )
    from studio.engine.ground.gridded import Gridded

    return Gridded(known, x_m, y_m, step_m)
