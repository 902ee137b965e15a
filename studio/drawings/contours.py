"""Contours as display data in metres: lines of equal height in straight pieces, and where their heights are written."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, floor

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from studio.design.site import Ground
from studio.drawings.plan import Bounds, nice_step
from studio.engine.ground.contours import contour_segments
from studio.engine.ground.surface import Surface
from studio.ground import surface_of

Array = NDArray[np.float64]
_LOOKS = 9
"""Places across and along at which the land in sight is looked at for its lowest and highest."""
_CLOSEST_M = 0.05
"""Between neighbouring contours in height."""


@dataclass(frozen=True, eq=False)
class Contour:
    """A line of equal height in straight pieces (S, 2, 2), and its height in the site frame."""

    pieces: Array
    height_m: float


def contours(ground: Ground, bounds: Bounds, plot: Array | None = None) -> tuple[Contour, ...]:
    """Lines of equal height across ``bounds`` (x0, y0, x1, y1); level land has none.

    Measured land has them where it was measured and, where ``plot`` (n, 2) is drawn, within that ring.
    """
    if ground.heights is None and ground.slope_percent <= 0:
        return ()
    if ground.heights is None or plot is None or len(plot) < 3:
        return _contours(surface_of(ground), bounds)
    low, high = np.maximum(bounds[:2], plot.min(axis=0)), np.minimum(bounds[2:], plot.max(axis=0))
    if (low >= high).any():
        return ()
    seen = float(low[0]), float(low[1]), float(high[0]), float(high[1])
    return _within(surface_of(ground), seen, tuple((x, y) for x, y in plot.tolist()))


def height_places(
    found: Sequence[Contour], bounds: Bounds, plot: Array | None, room_m: float
) -> tuple[tuple[float, float] | None, ...]:
    """Where each contour's height is written: as far to the right and down as it passes out of ``bounds``, or comes within
    ``room_m`` of the edge of ``plot``; None where it does neither."""
    x0, y0, x1, y1 = bounds
    room: BaseGeometry = shapely.box(x0, y0, x1, y1) if x0 < x1 and y0 < y1 else shapely.Polygon()
    if plot is not None and len(plot) >= 3:
        room = room.intersection(_polygon(tuple((x, y) for x, y in plot.tolist())).buffer(-room_m))
    edge = room.boundary
    return tuple(_farthest(contour, edge) for contour in found)


def _farthest(contour: Contour, edge: BaseGeometry) -> tuple[float, float] | None:
    met = shapely.get_coordinates(shapely.intersection(shapely.linestrings(contour.pieces), edge))
    if not len(met):
        return None
    x, y = met[int((met[:, 0] - met[:, 1]).argmax())]
    return float(x), float(y)


@lru_cache(maxsize=8)
def _within(surface: Surface, bounds: Bounds, ring: tuple[tuple[float, float], ...]) -> tuple[Contour, ...]:
    """Contours cut off at a ring; of those that are drawn across it while a hand drags a corner, what lies inside."""
    polygon = _polygon(ring)
    shapely.prepare(polygon)
    found = []
    for contour in _contours(surface, bounds):
        pieces = _cut(contour.pieces, polygon)
        if len(pieces):
            found.append(Contour(pieces, contour.height_m))
    return tuple(found)


def _polygon(ring: tuple[tuple[float, float], ...]) -> BaseGeometry:
    return shapely.make_valid(shapely.Polygon(ring))


def _cut(pieces: Array, polygon: BaseGeometry) -> Array:
    """What of straight pieces (S, 2, 2) lies in a polygon."""
    lines = np.asarray(shapely.linestrings(pieces), dtype=object)
    whole = shapely.covers(polygon, lines)
    passing = ~whole & shapely.intersects(polygon, lines)
    parts = shapely.get_parts(shapely.intersection(lines[passing], polygon))
    parts = shapely.get_parts(parts[shapely.length(parts) > 0])
    ends = shapely.get_coordinates(shapely.get_point(parts, [[0], [-1]])).reshape(2, -1, 2)
    return np.concatenate([pieces[whole], ends.swapaxes(0, 1)])


@lru_cache(maxsize=8)
def _contours(surface: Surface, bounds: Bounds) -> tuple[Contour, ...]:
    x0, y0, x1, y1 = bounds
    triangles = surface.triangles(bounds)
    if not len(triangles):
        return ()
    # triangles reach out of sight; the step goes by the heights in sight
    seen = _clipped_heights(surface, triangles, bounds)
    step = nice_step(max((seen[1] - seen[0]) / 10, _CLOSEST_M))
    found = []
    for turn in range(ceil(seen[0] / step), floor(seen[1] / step) + 1):
        segments = contour_segments(triangles, turn * step)
        inside = (segments.max(axis=1) >= (x0, y0)).all(axis=1) & (segments.min(axis=1) <= (x1, y1)).all(
            axis=1
        )
        if inside.any():
            found.append(Contour(segments[inside], turn * step))
    return tuple(found)


def _clipped_heights(surface: Surface, triangles: Array, bounds: Bounds) -> tuple[float, float]:
    """The least and the largest height of measured land within bounds: at corners of triangles, or at the rim."""
    x0, y0, x1, y1 = bounds
    corners = triangles.reshape(-1, 3)
    inside = ((corners[:, :2] >= (x0, y0)) & (corners[:, :2] <= (x1, y1))).all(axis=1)
    x, y = np.meshgrid(np.linspace(x0, x1, _LOOKS), np.linspace(y0, y1, _LOOKS))
    heights = np.concatenate([corners[inside, 2], surface.height_at(x, y).ravel()])
    return float(heights.min()), float(heights.max())
