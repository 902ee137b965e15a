"""Ground of plane triangles between measured spots."""

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.spatial import Delaunay, QhullError

from studio.engine.ground.surface import Floats, Surface

_FLAT = 1e-7
"""Spots whose spread across is less of their spread along lie on one line."""
_AT_ONCE = 2_000_000
"""Pairs of a place and an edge of the hull that are held against each other together."""


class Triangulated(Surface):
    """The Delaunay triangles of spots (N, 3) as scipy (Qhull) finds them; nearest place of the hull outside it."""

    def __init__(self, spots: Floats, mesh: Delaunay) -> None:
        self._spots, self._mesh = spots, mesh
        corners = spots[mesh.simplices]
        first, second = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        turn = first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            east = (first[:, 2] * second[:, 1] - second[:, 2] * first[:, 1]) / turn
            north = (second[:, 2] * first[:, 0] - first[:, 2] * second[:, 0]) / turn
        # a sliver as thin as rounding has no slope of its own
        self._rise = np.nan_to_num(np.column_stack([east, north]), posinf=0.0, neginf=0.0)
        self._corner = corners[:, 0]
        self._hull = spots[mesh.convex_hull]

    def height_at(self, x: ArrayLike, y: ArrayLike) -> Floats:
        x, y = np.broadcast_arrays(np.asarray(x, dtype=float), np.asarray(y, dtype=float))
        places = np.stack([x.ravel(), y.ravel()], axis=-1)
        own: NDArray[np.int32] = self._mesh.find_simplex(places)
        away = places - self._corner[own, :2]
        heights = self._corner[own, 2] + (self._rise[own] * away).sum(axis=1)
        outside = np.flatnonzero(own < 0)
        each = max(1, _AT_ONCE // len(self._hull))
        for start in range(0, len(outside), each):
            some = outside[start : start + each]
            heights[some] = self._on_hull(places[some])
        return np.asarray(heights.reshape(x.shape))

    def _on_hull(self, places: Floats) -> Floats:
        """Heights (N,) of the hull where it comes nearest to places (N, 2) outside it."""
        start, run = self._hull[:, 0], self._hull[:, 1] - self._hull[:, 0]
        away = places[:, None] - start[:, :2]
        length = (run[:, :2] ** 2).sum(axis=1)
        share = np.clip((away * run[:, :2]).sum(axis=2) / length, 0.0, 1.0)
        apart = ((away - share[..., None] * run[:, :2]) ** 2).sum(axis=2)
        rows, edge = np.arange(len(places)), apart.argmin(axis=1)
        return np.asarray(start[edge, 2] + share[rows, edge] * run[edge, 2])

    def triangles(self, bounds: tuple[float, float, float, float]) -> Floats:
        corners = self._spots[self._mesh.simplices]
        low, high = corners[..., :2].min(axis=1), corners[..., :2].max(axis=1)
        seen = (high >= bounds[:2]).all(axis=1) & (low <= bounds[2:]).all(axis=1)
        return np.asarray(corners[seen])


def triangulated(spots: Floats) -> Triangulated | None:
    """The surface of spots (N, 3); None where they lie on one line and have no triangles."""
    spread = np.linalg.svd(spots[:, :2] - spots[:, :2].mean(axis=0), compute_uv=False)
    if spread[1] <= _FLAT * spread[0]:
        return None
    try:
        return Triangulated(spots, Delaunay(spots[:, :2]))
    except QhullError:
        return None
