"""The skyline of a site from a raster of heights: the raster itself, not the grid that was taken of it.

Rays leave the reference point by azimuth on the ellipsoid. Near it heights are bilinear between cells; further out, where
rays stand further apart than cells, the highest cell of a block counts, a block being so large that no peak falls between
rays. A far peak may so be seen up to 0.4° beside itself.
"""

from dataclasses import dataclass, replace
from math import ceil, sqrt
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.engine.sky.terrain import (
    REFRACTION,
    highest_by_azimuth,
    highest_in_blocks,
    ring_distances,
    skyline_along,
)
from studio.errors import BadInputError, FaultyFileError
from studio.files.heights.deciding import height_unit_of, off_site, placing_of
from studio.files.heights.found import HeightsHow
from studio.files.heights.grid import Window, bilinear, cell_sizes, places_in_cells, sampled, window_of
from studio.files.heights.look_raster import rim_of, system_of
from studio.files.heights.placing import Placing, told_length
from studio.files.heights.raster import MOST_CELLS, Raster, let_in_raster
from studio.files.land.found import Array
from studio.text import _, number, percent

STEP_DEG = 1
_RAYS_A_STEP = 5
FARTHEST_M = 60_000.0
"""From there a peak of 1,000 m over the eye stands at 0.75°."""
_MOST_WALKED = 150_000_000
"""Cells that are read for a skyline, strip by strip."""
EYE_M = 1.0
"""Height of the eye over the ground: about that of a mirror's middle."""
_NO_HOW = HeightsHow()


@dataclass(frozen=True, eq=False)
class SkylineFound:
    """A skyline (azimuth, elevation), degrees, one point a degree; what to say of it; how far the raster reaches.

    ``reach_m`` (A,) is how far heights go by azimuth.
    """

    points: tuple[tuple[float, float], ...]
    told: tuple[str, ...]
    reach_m: Array


def skyline_of(path: Path, design: Design, *, how: HeightsHow = _NO_HOW) -> SkylineFound:
    """The skyline about a design's reference point from the raster of heights in a file.

    Raises what ``look_at_heights`` raises, and BadInputError where the raster's place must be said first or the site
    does not stand on it.
    """
    raster = let_in_raster(path)
    decided, _doubts = system_of(raster, design, how)
    if not decided.found.sure:
        raise BadInputError(
            _(
                "Where {name} lies must be said first: its coordinate system, or where its corner lies."
            ).format(name=raster.name)
        )
    rim = rim_of(raster)
    placing = placing_of(decided, how, design, (rim * decided.scale).min(axis=0))
    world = placing.world(rim[-1:])
    middle = (float(world[0, 1]), float(world[0, 0])) if world is not None else None
    if how.move_site and middle is not None:
        placing = replace(placing, reference=middle)
    row, column = (float(one[0]) for one in places_in_cells(raster, placing.to_file(np.zeros((1, 2)))))
    if not (0 <= row <= raster.rows and 0 <= column <= raster.columns):
        raise BadInputError(off_site(placing.to_site(rim[-1:])[0], middle, design))
    unit_m, _unit_doubts = height_unit_of(raster.unit, raster.wkt, decided, how)
    return _found(raster, placing, (row, column), unit_m, how)


def _found(
    raster: Raster, placing: Placing, place: tuple[float, float], unit_m: float, how: HeightsHow
) -> SkylineFound:
    down, along = cell_sizes(raster, placing, *place)
    cell = max(down, along)
    farthest = _farthest(raster, place, down, along)
    azimuths = np.arange(0.0, 360.0, STEP_DEG / _RAYS_A_STEP)
    turn = STEP_DEG / _RAYS_A_STEP
    distances = ring_distances(cell, farthest, turn_deg=turn)
    half = farthest / min(down, along) + 2
    far = _far(raster, _square(raster, place, half), unit_m, how)
    near = window_of(raster, _square(raster, place, min(half, sqrt(MOST_CELLS) / 2 - 2)), unit_m, how.void)
    eye = float(sampled(near, raster, placing, np.zeros((1, 2)))[0])
    if not np.isfinite(eye):
        raise FaultyFileError(
            _("{name} has no height at the reference point, so nothing can be seen from there.").format(
                name=raster.name
            )
        )
    rows, columns = _rays(raster, placing, azimuths, distances)
    heights = _heights_along(far, near, rows, columns, distances, cell, np.radians(turn))
    elevation, _at = skyline_along(heights, distances, eye_m=eye + EYE_M)
    highest = highest_by_azimuth(elevation, _RAYS_A_STEP)
    there = ~np.isnan(heights)
    last = there.shape[1] - 1 - there[:, ::-1].argmax(axis=1)
    reach = np.where(there.any(axis=1), distances[last], 0.0)[::_RAYS_A_STEP]
    points = tuple(
        (float(azimuth), float(np.round(max(0.0, up), 2)))
        for azimuth, up in zip(azimuths[::_RAYS_A_STEP], np.nan_to_num(highest, nan=0.0), strict=True)
    )
    return SkylineFound(points, _told(points, reach, there, eye), reach)


def _farthest(raster: Raster, place: tuple[float, float], down: float, along: float) -> float:
    """How far to look: to the raster's furthest corner, not beyond what is worth walking over."""
    row, column = place
    high = max(row, raster.rows - row) * down
    wide = max(column, raster.columns - column) * along
    most = sqrt(_MOST_WALKED * down * along) / 2
    return float(max(2 * max(down, along), min(np.hypot(high, wide), FARTHEST_M, most)))


def _square(
    raster: Raster, place: tuple[float, float], half: float
) -> tuple[tuple[int, int], tuple[int, int]]:
    """Rows and columns within ``half`` cells of a place, at least two of each."""
    spans = []
    for at, count in zip(place, (raster.rows, raster.columns), strict=True):
        begin = max(0, min(int(at - half), count - 2))
        spans.append((begin, max(begin + 2, min(count, ceil(at + half)))))
    return spans[0], spans[1]


def _rays(raster: Raster, placing: Placing, azimuths: Array, distances: Array) -> tuple[Array, Array]:
    """Rows and columns (A, D) of places along rays, counted in cells.

    Where a place lies is worked out at 60 distances and straight between them: over a kilometre a ray bends by far less
    than a cell on any map.
    """
    knots = np.linspace(0.0, distances[-1], 61)
    azimuth, distance = (one.ravel() for one in np.meshgrid(azimuths, knots, indexing="ij"))
    if placing.decided.crs is None:
        angle = np.radians(azimuth)
        places = placing.to_file(np.column_stack((distance * np.sin(angle), distance * np.cos(angle))))
    else:
        from pyproj import Geod

        latitude, longitude = placing.reference
        here = np.full(azimuth.size, longitude), np.full(azimuth.size, latitude)
        east, north, _back = Geod(ellps="WGS84").fwd(*here, azimuth, distance)
        places = placing.from_world(np.column_stack((east, north)))
    rows, columns = (one.reshape(len(azimuths), -1) for one in places_in_cells(raster, places))
    return _along(rows, knots, distances), _along(columns, knots, distances)


def _along(values: Array, knots: Array, distances: Array) -> Array:
    return np.array([np.interp(distances, knots, one) for one in values])


def _heights_along(
    far: Window, near: Window, rows: Array, columns: Array, distances: Array, cell: float, turn: float
) -> Array:
    """Heights (A, D) along rays: bilinear where rays stand no further apart than cells, else the highest of blocks."""
    heights = np.full(rows.shape, np.nan)
    # the lattice of rays and rings has a place in every block whose side is the diagonal of its meshes
    factors = np.ceil(np.sqrt(2.0) * distances * turn / cell - 1e-9).astype(int)
    for factor in np.unique(factors):
        at = np.flatnonzero(factors == factor)
        row, column = rows[:, at].ravel(), columns[:, at].ravel()
        found = np.full(row.shape, np.nan)
        if factor < 2 or factor < far.every:
            found = bilinear(near.heights, row - near.row, column - near.column)
        bare = np.isnan(found)
        times = max(1, ceil(factor / far.every))
        found[bare] = _of_blocks(far, times, row[bare], column[bare])
        heights[:, at] = found.reshape(len(rows), -1)
    return heights


def _of_blocks(far: Window, times: int, rows: Array, columns: Array) -> Array:
    """The highest of the block of ``times`` by ``times`` of the window's own blocks in which each place lies."""
    blocks = highest_in_blocks(far.heights, times)
    if blocks.size == 0:
        return np.full(rows.shape, np.nan)
    side = far.every * times
    row, column = np.floor((rows - far.row) / side), np.floor((columns - far.column) / side)
    inside = (row >= 0) & (row < blocks.shape[0]) & (column >= 0) & (column < blocks.shape[1])
    row, column = np.where(inside, row, 0).astype(int), np.where(inside, column, 0).astype(int)
    return np.where(inside, blocks[row, column], np.nan)


def _far(
    raster: Raster, square: tuple[tuple[int, int], tuple[int, int]], unit_m: float, how: HeightsHow
) -> Window:
    """The highest of blocks of cells over a square, few enough to be held; read strip by strip.

    Its ``row`` and ``column`` are those of the first block's corner, unlike those of other windows.
    """
    (row0, row1), (column0, column1) = square
    wide = column1 - column0
    factor = ceil(sqrt((row1 - row0) * wide / MOST_CELLS))
    strip = max(factor, MOST_CELLS // wide // factor * factor)
    parts = []
    for begin in range(row0, row1, strip):
        end = min(row1, begin + strip)
        if end - begin >= factor:
            read = window_of(raster, ((begin, end), (column0, column1)), unit_m, how.void)
            parts.append(highest_in_blocks(read.heights, factor))
    return Window(np.concatenate(parts), float(row0), float(column0), float(factor), {}, 0)


def _told(
    points: tuple[tuple[float, float], ...], reach: Array, there: NDArray[np.bool_], eye: float
) -> tuple[str, ...]:
    highest = max(points, key=lambda point: point[1])
    ways = zip((_("north"), _("east"), _("south"), _("west")), (0, 90, 180, 270), strict=True)
    far = ", ".join(f"{way} {told_length(float(reach[azimuth // STEP_DEG]))}" for way, azimuth in ways)
    told = [
        _("Seen from {eye} m over the ground at {height} m; curvature of the earth and refraction (k = {k}) are counted.").format(
            eye=number(EYE_M), height=number(eye, digits=1), k=number(REFRACTION)
        ),
        _("It stands highest at azimuth {azimuth}°: {elevation}°.").format(
            azimuth=number(highest[0], digits=0), elevation=number(highest[1], digits=1)
        ),
        _("Heights reach {far}; what stands further off is not in it, and nothing is set below the level.").format(far=far),
    ]  # fmt: skip
    reached = np.arange(there.shape[1]) <= there.shape[1] - 1 - there[:, ::-1].argmax(axis=1)[:, None]
    bare = float((reached & ~there).sum() / max(1, reached.sum()))
    if bare > 0.001:
        told.append(
            _("{share} of the way to there have no height; nothing was seen there.").format(
                share=percent(bare)
            )
        )
    return tuple(told)
