"""Ground on an even grid of heights."""

import numpy as np
from numpy.typing import ArrayLike

from studio.engine.ground.surface import Floats, Surface

_MOST_CELLS = 90
"""Cells across and along that contours are drawn from: finer grids are looked at in wider steps."""


class Gridded(Surface):
    """Heights (rows, columns) from south to north and west to east, bilinear between; the rim goes on outside."""

    def __init__(self, heights: Floats, x_m: float, y_m: float, step_m: float) -> None:
        self._x, self._y, self._step = x_m, y_m, step_m
        self._known = np.isfinite(heights)
        filled = heights if self._known.all() else _nearest_known(heights, self._known)
        self._rows, self._columns = filled.shape
        self._flat = np.ascontiguousarray(filled).ravel()

    def height_at(self, x: ArrayLike, y: ArrayLike) -> Floats:
        across = np.clip((np.asarray(x, dtype=float) - self._x) / self._step, 0.0, self._columns - 1)
        along = np.clip((np.asarray(y, dtype=float) - self._y) / self._step, 0.0, self._rows - 1)
        column = np.minimum(across.astype(np.intp), self._columns - 2)
        row = np.minimum(along.astype(np.intp), self._rows - 2)
        u, v = across - column, along - row
        at = row * self._columns + column
        heights = self._flat
        south = heights[at] + u * (heights[at + 1] - heights[at])
        above = at + self._columns
        north = heights[above] + u * (heights[above + 1] - heights[above])
        return np.asarray(south + v * (north - south))

    def triangles(self, bounds: tuple[float, float, float, float]) -> Floats:
        """Four triangles a cell, about its middle; wider cells than the grid's own where it is finer than eyes need.

        Cells with a corner that was not measured are left out.
        """
        x0, y0, x1, y1 = bounds
        columns = self._within(x0 - self._x, x1 - self._x, self._columns)
        rows = self._within(y0 - self._y, y1 - self._y, self._rows)
        if len(columns) < 2 or len(rows) < 2:
            return np.empty((0, 3, 3))
        shape = self._rows, self._columns
        z = self._flat.reshape(shape)[np.ix_(rows, columns)]
        known = self._known[np.ix_(rows, columns)]
        x, y = np.meshgrid(self._x + self._step * columns, self._y + self._step * rows)
        nodes = np.stack([x, y, z], axis=-1)
        corners = [nodes[:-1, :-1], nodes[:-1, 1:], nodes[1:, 1:], nodes[1:, :-1]]
        whole = known[:-1, :-1] & known[:-1, 1:] & known[1:, 1:] & known[1:, :-1]
        middle = np.mean(corners, axis=0)
        fans = [
            np.stack([one[whole], after[whole], middle[whole]], axis=1)
            for one, after in zip(corners, corners[1:] + corners[:1], strict=True)
        ]
        return np.concatenate(fans)

    def _within(self, low: float, high: float, count: int) -> np.ndarray:
        first = int(np.clip(np.floor(low / self._step), 0, count - 1))
        last = int(np.clip(np.ceil(high / self._step), 0, count - 1))
        stride = max(1, -(-(last - first) // _MOST_CELLS))
        places = np.arange(first - first % stride, last + stride, stride)
        return np.unique(np.minimum(places, count - 1))


def _nearest_known(heights: Floats, known: np.ndarray) -> Floats:
    """The grid with every unknown place as high as the nearest known one."""
    from scipy.ndimage import distance_transform_edt

    rows, columns = distance_transform_edt(~known, return_distances=False, return_indices=True)
    return np.asarray(heights[rows, columns])
