"""Invented fields of many mirrors for the benchmarks: ragged lines on uneven ground, four pitches, three tilts."""

import dataclasses

import numpy as np

from studio.design.design import Design, Document
from studio.design.field import Line
from studio.design.heights import packed_heights
from studio.design.site import HeightGrid
from studio.engine.mirror.frame import Vector, mirror_axes
from studio.engine.motion.place import line_direction
from studio.engine.shade.rows import RowOfMirrors

PITCHES_M = (2.6, 2.9, 3.2, 3.6)
TILTS_DEG = (25.0, 30.0, 35.0)
SPACING_M = 1.35
MIRROR_M = (1.25, 1.44)
HEIGHTS_STEP_M = 5.0


def ragged_rows(mirrors: int, *, seed: int = 7, mixed: bool = False) -> tuple[RowOfMirrors, ...]:
    """East-west lines of 20 to 60 mirrors, ``mirrors`` in all, each on a straight grade and a height of its own.

    The field is as wide as deep: columns of lines, in each a block for every pair of pitch and tilt; ``mixed`` deals the
    tilts out line by line instead.
    """
    rng = np.random.default_rng(seed)
    columns = max(1, round((mirrors * 3.2 / 1.35) ** 0.5 / 60))
    counts: list[int] = []
    while sum(counts) < mirrors:
        counts.append(min(int(rng.integers(20, 61)), mirrors - sum(counts)))
    in_column = -(-len(counts) // columns)
    blocks = [(pitch, tilt) for tilt in TILTS_DEG for pitch in PITCHES_M]
    rows = []
    for column in range(columns):
        north = 0.0
        some = counts[column * in_column : (column + 1) * in_column]
        for place, count in enumerate(some):
            pitch, tilt = blocks[place * len(blocks) // len(some)]
            east = column * (60 * SPACING_M + 6.0)
            tilt = float(rng.choice(TILTS_DEG)) if mixed else tilt
            rows.append(
                RowOfMirrors(
                    first=(east + float(rng.uniform(0, 4)), north, hill(east, north)),
                    along=graded(float(rng.uniform(-1.5, 1.5))),
                    spacing_m=SPACING_M,
                    count=count,
                    axes=mirror_axes(tilt_deg=tilt, facing_deg=0.0),
                    width_m=MIRROR_M[0],
                    height_m=MIRROR_M[1],
                    plane_z_m=0.1,
                )
            )
            north += pitch
    return tuple(rows)


def graded(percent: float) -> Vector:
    """The direction of a line that runs east on a grade."""
    east, north, up = line_direction(90.0, percent).tolist()
    return east, north, up


def hill(east: float, north: float) -> float:
    """Height (m) of the invented ground: two waves, so short that a small field has its share of hollows too."""
    return float(0.3 * np.sin(east / 15.0) + 0.2 * np.cos(north / 9.0))


def plant_of(document: Document, lines: int, count: int) -> Design:
    """The document's design with ``lines`` alike lines of ``count`` mirrors in its place, on a plot around them."""
    design = document.design
    first = design.lines[0]
    pitch = abs(design.lines[1].y_m - first.y_m)
    width, depth = count * first.spacing_m + 12.0, lines * pitch + 12.0
    stand: tuple[Line, ...] = tuple(
        dataclasses.replace(first, id=number + 1, x_m=6.0, y_m=6.0 + pitch * number, count=count)
        for number in range(lines)
    )
    boundary = ((0.0, 0.0), (width, 0.0), (width, depth), (0.0, depth))
    plot = dataclasses.replace(design.plot, boundary=boundary, no_build=())
    return dataclasses.replace(design, lines=stand, plot=plot)


def over_hills(design: Design) -> Design:
    """The design on measured land, invented: two waves and a twist, so that nearly every line runs on a grade of its own."""
    width, depth = np.array(design.plot.boundary).max(axis=0).tolist()
    columns, rows = int(width / HEIGHTS_STEP_M) + 3, int(depth / HEIGHTS_STEP_M) + 3
    x, y = (np.arange(number) * HEIGHTS_STEP_M for number in (columns, rows))
    heights = 0.3 * np.sin(x / 45.0) + (0.2 * np.cos(y / 29.0))[:, None]
    heights += np.sin(y / 40.0)[:, None] * 0.02 * x
    grid = HeightGrid(
        x_m=-HEIGHTS_STEP_M,
        y_m=-HEIGHTS_STEP_M,
        step_m=HEIGHTS_STEP_M,
        columns=columns,
        rows=rows,
        cells=packed_heights(heights),
    )
    return dataclasses.replace(design, ground=dataclasses.replace(design.ground, heights=grid))
