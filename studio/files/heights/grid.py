"""A raster into an even grid of the site frame.

Heights of the grid are bilinear between the middles of the four cells about a place; where one of the four that counts
has no height there is none. Where the grid's step is twice the cells' or more, cells are averaged in blocks first. The
grid is never finer than the cells.
"""

from dataclasses import dataclass
from math import ceil, floor, sqrt

import numpy as np

from studio.design.heights import MOST_PLACES, packed_heights
from studio.drawings.on_earth import FARTHEST_M
from studio.files.heights.found import HIGHEST_M, LOWEST_M
from studio.files.heights.placing import Placing, outline, with_margin
from studio.files.heights.raster import MOST_CELLS, Raster, read_cells
from studio.files.land.found import Array

LONGEST_TEXT = 400_000
"""Of a grid in compact form, as the design limits it."""
_MOST_COMPARED = 500_000
_COARSER = 1.12
_FINEST_M, _COARSEST_M = 0.05, 10_000.0
Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Window:
    """Heights (rows, columns), m, NaN for none, the file's first row first, of every ``every``-th cell.

    ``row`` and ``column`` are the place of the first cell read, counted in cells of the file to its middle (0.5 is the
    middle of the first). ``odd`` counts values that no land has, by value; ``zeros`` are heights of exactly 0.
    """

    heights: Array
    row: float
    column: float
    every: float
    odd: dict[float, int]
    zeros: int


@dataclass(frozen=True, eq=False)
class Grid:
    """Heights (rows from south to north, columns) at ``x_m + step_m column``, ``y_m + step_m row``."""

    heights: Array
    x_m: float
    y_m: float
    step_m: float
    cells: str
    largest_shift_m: float


def cell_places(raster: Raster, rows: Array, columns: Array) -> Array:
    """Coordinates (n, 2) of the file at places counted in cells."""
    a, b, c, d, e, f = raster.affine
    return np.column_stack((a * columns + b * rows + c, d * columns + e * rows + f))


def places_in_cells(raster: Raster, places: Array) -> tuple[Array, Array]:
    """Rows and columns (n,), counted in cells, of coordinates (n, 2) of the file."""
    a, b, c, d, e, f = raster.affine
    x, y = places[:, 0] - c, places[:, 1] - f
    turn = a * e - b * d
    return (a * y - d * x) / turn, (e * x - b * y) / turn


def cell_sizes(raster: Raster, placing: Placing, row: float, column: float) -> tuple[float, float]:
    """Metres from one cell to the next along a column and along a row."""
    rows, columns = np.array([row, row + 1.0, row]), np.array([column, column, column + 1.0])
    site = placing.to_site(cell_places(raster, rows, columns))
    return float(np.hypot(*(site[1] - site[0]))), float(np.hypot(*(site[2] - site[0])))


def box_about(raster: Raster, placing: Placing, extent: Box) -> tuple[Box, float] | None:
    """What is to be covered (the extent with its surroundings) and the cells' step there, m; None off the raster."""
    middle = np.array([[(extent[0] + extent[2]) / 2, (extent[1] + extent[3]) / 2]])
    row, column = (float(one[0]) for one in places_in_cells(raster, placing.to_file(middle)))
    if not (np.isfinite(row) and np.isfinite(column)):
        return None
    row, column = min(max(row, 0.0), raster.rows - 1.0), min(max(column, 0.0), raster.columns - 1.0)
    step = max(cell_sizes(raster, placing, row, column))
    if not 0 < step <= _COARSEST_M:
        return None
    x0, y0, x1, y1 = with_margin(extent, step)
    box = (max(x0, -FARTHEST_M), max(y0, -FARTHEST_M), min(x1, FARTHEST_M), min(y1, FARTHEST_M))
    return (box, step) if cells_of(raster, placing, box) is not None else None


def cells_of(raster: Raster, placing: Placing, box: Box) -> tuple[tuple[int, int], tuple[int, int]] | None:
    """The rows and columns of the file (from, to) that cover a box of the site; None where there are fewer than two."""
    row, column = places_in_cells(raster, placing.to_file(outline(box)))
    sound = np.isfinite(row) & np.isfinite(column)
    if not sound.any():
        return None
    rows = max(0, floor(row[sound].min()) - 2), min(raster.rows, ceil(row[sound].max()) + 2)
    columns = max(0, floor(column[sound].min()) - 2), min(raster.columns, ceil(column[sound].max()) + 2)
    return (rows, columns) if rows[1] - rows[0] >= 2 and columns[1] - columns[0] >= 2 else None


def window_of(
    raster: Raster, cells: tuple[tuple[int, int], tuple[int, int]], unit_m: float, void: float | None
) -> Window:
    """Heights of a window in metres, at most ``MOST_CELLS`` of them."""
    rows, columns = cells
    count = (rows[1] - rows[0]) * (columns[1] - columns[0])
    every = ceil(sqrt(count / MOST_CELLS))
    read = read_cells(raster, rows=rows, columns=columns, every=every)
    if void is not None:
        read[np.isclose(read, void, rtol=0.0, atol=1e-6)] = np.nan
    heights = read * unit_m
    with np.errstate(invalid="ignore"):
        odd = (heights < LOWEST_M) | (heights > HIGHEST_M)
    values, counts = np.unique(read[odd], return_counts=True)
    heights[odd] = np.nan
    middle = every // 2 + 0.5  # the cell that a thinned read takes of its block
    return Window(
        heights, rows[0] + middle, columns[0] + middle, float(every),
        {float(value): int(n) for value, n in zip(values[:5], counts[:5], strict=True)}, int((heights == 0.0).sum()),
    )  # fmt: skip


def in_blocks(window: Window, factor: int) -> Window:
    """Means of blocks of cells, over those that have a height."""
    if factor < 2:
        return window
    high, wide = (side // factor * factor for side in window.heights.shape)
    if high < 2 * factor or wide < 2 * factor:
        return window
    blocks = window.heights[:high, :wide].reshape(high // factor, factor, wide // factor, factor)
    there = ~np.isnan(blocks)
    count = there.sum(axis=(1, 3))
    total = np.where(there, blocks, 0.0).sum(axis=(1, 3))
    means = np.where(count > 0, total / np.maximum(count, 1), np.nan)
    shift = window.every * (factor - 1) / 2
    return Window(
        means, window.row + shift, window.column + shift, window.every * factor, window.odd, window.zeros
    )


def bilinear(heights: Array, rows: Array, columns: Array) -> Array:
    """Heights (n,) between the places of a grid (row and column counted from its first place), NaN outside or at voids."""
    high, wide = heights.shape
    inside = (rows > -1e-6) & (rows < high - 1 + 1e-6) & (columns > -1e-6) & (columns < wide - 1 + 1e-6)
    row, column = (
        np.where(inside, rows, 0.0).clip(0, high - 1),
        np.where(inside, columns, 0.0).clip(0, wide - 1),
    )
    r, c = np.minimum(row.astype(int), high - 2), np.minimum(column.astype(int), wide - 2)
    v, u = row - r, column - c
    total = np.zeros(rows.shape)
    for dr, dc, share in ((0, 0, (1 - v) * (1 - u)), (0, 1, (1 - v) * u), (1, 0, v * (1 - u)), (1, 1, v * u)):
        corner = heights[r + dr, c + dc]
        total += np.where(share > 1e-9, share * corner, 0.0)  # a void of no weight is none
    return np.where(inside, total, np.nan)


def sampled(window: Window, raster: Raster, placing: Placing, site: Array) -> Array:
    """Heights (n,) of a window at site metres (n, 2)."""
    row, column = places_in_cells(raster, placing.to_file(site))
    return bilinear(
        window.heights, (row - window.row) / window.every, (column - window.column) / window.every
    )


def grid_of(window: Window, raster: Raster, placing: Placing, box: Box, step_m: float) -> Grid | None:
    """The grid that covers a box at the cells' step or, where that gives too many places, a larger one.

    None where no place of it has a height.
    """
    width, depth = box[2] - box[0], box[3] - box[1]
    step = max(
        _FINEST_M, step_m * window.every, sqrt(width * depth / (0.98 * MOST_PLACES)), max(width, depth) / 3990
    )
    if step > step_m * (1 + 1e-9):
        step = ceil(step * 1000) / 1000
    places = placing.to_site(cell_places(raster, np.array([window.row]), np.array([window.column])))[0]
    while True:
        found = _at_step(window, raster, placing, box, step, places)
        if found is None:
            return None
        heights, x0, y0 = found
        cells = packed_heights(heights)
        if len(cells) <= LONGEST_TEXT:
            break
        step *= _COARSER
    shift = _largest_shift(window, raster, placing, heights, x0, y0, step)
    return Grid(heights, x0, y0, step, cells, shift)


def _at_step(
    window: Window, raster: Raster, placing: Placing, box: Box, step: float, phase: Array
) -> tuple[Array, float, float] | None:
    """Heights at a step, trimmed to where there are any, with the place of the first; on the cells where they are even."""
    x0 = phase[0] + ceil((box[0] - phase[0]) / step - 1e-9) * step
    y0 = phase[1] + ceil((box[1] - phase[1]) / step - 1e-9) * step
    columns, rows = (
        max(2, floor((far - near) / step + 1e-9) + 1) for far, near in ((box[2], x0), (box[3], y0))
    )
    x, y = np.meshgrid(x0 + step * np.arange(columns), y0 + step * np.arange(rows))
    own = min(cell_sizes(raster, placing, window.row, window.column)) * window.every
    coarse = in_blocks(window, floor(step / own + 1e-6))
    heights = sampled(coarse, raster, placing, np.column_stack((x.ravel(), y.ravel()))).reshape(rows, columns)
    heights = np.round(heights, 3)
    there = ~np.isnan(heights)
    if not there.any():
        return None
    some_rows, some_columns = np.flatnonzero(there.any(axis=1)), np.flatnonzero(there.any(axis=0))
    r0, r1 = _at_least_two(int(some_rows[0]), int(some_rows[-1]), rows)
    c0, c1 = _at_least_two(int(some_columns[0]), int(some_columns[-1]), columns)
    return heights[r0 : r1 + 1, c0 : c1 + 1], float(x0 + c0 * step), float(y0 + r0 * step)


def _at_least_two(first: int, last: int, count: int) -> tuple[int, int]:
    if last > first:
        return first, last
    return (first, last + 1) if last + 1 < count else (first - 1, last)


def _largest_shift(
    window: Window, raster: Raster, placing: Placing, heights: Array, x0: float, y0: float, step: float
) -> float:
    """The largest difference between a height of the window and the grid at its place, m."""
    rows, columns = np.nonzero(~np.isnan(window.heights))
    thin = ceil(rows.size / _MOST_COMPARED)
    rows, columns = rows[::thin], columns[::thin]
    at_row: Array = window.row + rows.astype(float) * window.every
    at_column: Array = window.column + columns.astype(float) * window.every
    site = placing.to_site(cell_places(raster, at_row, at_column))
    there = bilinear(heights, (site[:, 1] - y0) / step, (site[:, 0] - x0) / step)
    off = np.abs(there - window.heights[rows, columns])
    return float(np.nanmax(off)) if np.isfinite(off).any() else 0.0
