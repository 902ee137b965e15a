"""A raster as a design would take it."""

from dataclasses import replace

import numpy as np

from studio.design.design import Design
from studio.design.site import HeightGrid
from studio.errors import FaultyFileError
from studio.files.heights.deciding import (
    altitude_doubt,
    decided_of,
    height_unit_of,
    is_far,
    off_site,
    place_mends,
    placing_of,
    site_of,
)
from studio.files.heights.found import HIGHEST_M, LOWEST_M, Doubt, HeightsHow, HeightsLook, Mend, TakenHeights
from studio.files.heights.grid import (
    Box,
    Grid,
    Window,
    bilinear,
    box_about,
    cell_places,
    cell_sizes,
    cells_of,
    grid_of,
    places_in_cells,
    window_of,
)
from studio.files.heights.placing import Placing, extent_of, told_length
from studio.files.heights.raster import Raster
from studio.files.land.found import LOCAL, Array
from studio.files.land.systems import Decided, told_place
from studio.text import _, number, percent, plural

_MOST_WINDOW = 400_000_000
"""Cells about a site that are worth walking over; a 500th of a hectare holds them at a centimetre."""
_DEGREE_CELL = 0.02
_MOST_ZEROS = 20
_FEW_STEPS = 8.0
_TYPICAL = 1.0
"""How far "one area" reaches, where only the size of the numbers is to speak: neither degrees nor metres for sure."""


def rim_of(raster: Raster) -> Array:
    """Coordinates (5, 2) of a raster's corners and, last, its middle."""
    rows = np.array([0.0, 0.0, raster.rows, raster.rows, raster.rows / 2])
    columns = np.array([0.0, raster.columns, 0.0, raster.columns, raster.columns / 2])
    return cell_places(raster, rows, columns)


def system_of(raster: Raster, design: Design, how: HeightsHow) -> tuple[Decided, list[Doubt]]:
    """The system of a raster; one that had to be guessed is not sure, though its cells be small enough for degrees."""
    rim = rim_of(raster)
    reach = np.abs(rim).max(axis=0)
    small = reach[0] <= 360 and reach[1] <= 90 and max(map(abs, raster.affine[:2])) < _DEGREE_CELL
    spread = 0.4 if small and not raster.wkt and how.at is None else _TYPICAL
    decided, doubts = decided_of(
        rim, spread=spread, said=raster.wkt, unit="", kind=raster.kind, how=how, near=site_of(design)
    )
    said = how.land.crs or how.at is not None or (raster.wkt and decided.found.said)
    if said:
        return decided, doubts
    return replace(decided, found=replace(decided.found, sure=False)), doubts


def look_at_raster(raster: Raster, design: Design, *, how: HeightsHow) -> HeightsLook:
    """What a raster holds and what a design would take of it."""
    decided, doubts = system_of(raster, design, how)
    rim = rim_of(raster)
    lengths = rim * decided.scale
    placing = placing_of(decided, how, design, lengths.min(axis=0))
    world = placing.world(rim[-1:])
    middle = (float(world[0, 1]), float(world[0, 0])) if world is not None else None
    if how.move_site and middle is not None and np.isfinite(middle).all():
        placing = replace(placing, reference=middle)
    unit_m, about_unit = height_unit_of(raster.unit, raster.wkt, decided, how)
    doubts += [*about_unit, *_about_bands(raster)]
    extent = extent_of(design)
    refused = _not_placed(raster, decided, how)
    if refused and decided.crs is None:
        doubts.insert(0, Doubt(refused, place_mends(how, np.ptp(lengths[:4], axis=0), extent)))
    site_middle = placing.to_site(rim[-1:])[0]
    about = None if refused else box_about(raster, placing, extent)
    if not refused and (about is None or (is_far(site_middle) and not _covers(raster, placing))):
        refused = off_site(site_middle, middle, design)
        mends = (
            (Mend(_("bring the site to the heights"), replace(how, move_site=True)),)
            if middle
            else place_mends(how, np.ptp(lengths[:4], axis=0), extent)
        )
        doubts.insert(0, Doubt(refused, mends))
        about = None
    cells = cells_of(raster, placing, about[0]) if about else None
    window = _window(raster, cells or _middle_cells(raster), unit_m, how)
    if np.isnan(window.heights).all() and cells is not None:
        refused, about = _("{name} has only voids about the site.").format(name=raster.name), None
        mends = place_mends(how, np.ptp(lengths[:4], axis=0), extent) if decided.crs is None else ()
        doubts.insert(0, Doubt(refused, mends))
        window = _window(raster, _middle_cells(raster), unit_m, how)
    if np.isnan(window.heights).all():
        raise FaultyFileError(_("{name} holds no height but voids.").format(name=raster.name))
    doubts += _about_values(raster, window, unit_m, how)
    taken = None
    if about is not None:
        taken, more = _taken(raster, window, placing, about, extent, design, how)
        doubts += more
        if taken is None:
            refused = _("{name} has no height on the plot or beside it.").format(name=raster.name)
    return HeightsLook(
        raster.name, raster.kind, _size(raster, None if is_far(site_middle) else placing, decided), decided.found, float(np.nanmin(window.heights)),
        float(np.nanmax(window.heights)), middle, tuple(doubts), taken, refused, True, how,
    )  # fmt: skip


def _not_placed(raster: Raster, decided: Decided, how: HeightsHow) -> str:
    """The sentence that says what must be said first; empty where nothing must."""
    if decided.found.sure:
        return ""
    if decided.crs is not None:
        return _("Which coordinate system {name} is in must be said first: {code} was guessed.").format(
            name=raster.name, code=decided.found.code[:20]
        )
    x, y = rim_of(raster).min(axis=0)
    return _(
        "The heights are on a grid of their own, south-west corner at {x}, {y}: where they lie must be said first."
    ).format(x=f"{x:.10g}", y=f"{y:.10g}")


def _covers(raster: Raster, placing: Placing) -> bool:
    """Whether the reference point lies on the raster."""
    row, column = places_in_cells(raster, placing.to_file(np.zeros((1, 2))))
    return bool(0 <= row[0] <= raster.rows and 0 <= column[0] <= raster.columns)


def _middle_cells(raster: Raster) -> tuple[tuple[int, int], tuple[int, int]]:
    """Rows and columns about the raster's middle, no more than are read at once."""
    half = 1000
    row, column = raster.rows // 2, raster.columns // 2
    return (
        (max(0, row - half), min(raster.rows, row + half)),
        (max(0, column - half), min(raster.columns, column + half)),
    )


def _window(
    raster: Raster, cells: tuple[tuple[int, int], tuple[int, int]], unit_m: float, how: HeightsHow
) -> Window:
    count = (cells[0][1] - cells[0][0]) * (cells[1][1] - cells[1][0])
    if count > _MOST_WINDOW:
        raise FaultyFileError(
            _("{name} has {count} cells about the site; thin it to a few million.").format(
                name=raster.name, count=f"{count:,}"
            )
        )
    return window_of(raster, cells, unit_m, how.void)


def _size(raster: Raster, placing: Placing | None, decided: Decided) -> str:
    """How many cells of which size; without a placing (too far away) in the file's own numbers."""
    if placing is not None:
        down, along = cell_sizes(raster, placing, raster.rows / 2, raster.columns / 2)
    else:
        a, b, _c, d, e, _f = raster.affine
        factor = decided.crs.axis_info[0].unit_conversion_factor if decided.crs is not None else 1.0
        factor = 1.0 if decided.found.unit == "°" else factor * decided.scale
        down, along = float(np.hypot(b, e)) * factor, float(np.hypot(a, d)) * factor
        if decided.found.unit == "°":
            return _("{columns} by {rows} cells of {step}°").format(
                columns=raster.columns, rows=raster.rows, step=f"{along:.4g}"
            )
    step = number(along) if abs(along - down) < 1e-3 * along else f"{number(along)} × {number(down)}"
    return _("{columns} by {rows} cells of {step} m: {width} by {depth}").format(
        columns=raster.columns, rows=raster.rows, step=step, width=told_length(along * raster.columns),
        depth=told_length(down * raster.rows),
    )  # fmt: skip


def _about_bands(raster: Raster) -> list[Doubt]:
    doubts = []
    if raster.bands > 1:
        doubts.append(
            Doubt(_("It has {count} bands; the first was taken as heights.").format(count=raster.bands))
        )
    if raster.scale != 1.0 or raster.offset != 0.0:
        doubts.append(
            Doubt(
                _(
                    "Its heights are stored as numbers times {scale} plus {offset}; they were worked out."
                ).format(scale=f"{raster.scale:g}", offset=f"{raster.offset:g}")
            )
        )
    return doubts


def _about_values(raster: Raster, window: Window, unit_m: float, how: HeightsHow) -> list[Doubt]:
    doubts = []
    heights = window.heights[~np.isnan(window.heights)]
    if window.odd:
        values = ", ".join(f"{value:g}" for value in window.odd)
        doubts.append(
            Doubt(
                _("{count} places say {values}, which no land does ({low} to {high} m): taken as voids.").format(
                    count=f"{sum(window.odd.values()):,}", values=values, low=number(LOWEST_M), high=f"{HIGHEST_M:,.0f}"
                )
            )
        )  # fmt: skip
    if window.zeros >= _MOST_ZEROS and heights.min() < heights.max():
        doubts.append(
            Doubt(
                _(
                    "{count} of {all} places are exactly 0: sea, or places without a height; they were kept."
                ).format(count=f"{window.zeros:,}", all=f"{heights.size:,}"),
                (Mend(_("0 is no height"), replace(how, void=0.0)),),
            )
        )
    counts = heights / unit_m
    if heights.size > 2 and np.ptp(counts) > 0 and bool((np.abs(counts - np.rint(counts)) < 1e-6).all()):
        word = _("metres") if unit_m == 1.0 else _("units")
        doubts.append(Doubt(_("Heights come in whole {word}, so slopes come in steps.").format(word=word)))
    return doubts


def _taken(
    raster: Raster, window: Window, placing: Placing, about: tuple[Box, float], extent: Box, design: Design,
    how: HeightsHow,
) -> tuple[TakenHeights | None, list[Doubt]]:  # fmt: skip
    box, step = about
    grid = grid_of(window, raster, placing, box, step)
    if grid is None:
        return None, []
    doubts = []
    at_zero = _height_at_reference(grid)
    zero = at_zero if how.zero_m is None else how.zero_m
    if not how.move_site and placing.decided.crs is not None:
        doubts += altitude_doubt(at_zero, design)
    doubts += _about_cover(grid, extent, step, design)
    moved = placing.reference if how.move_site else (None, None)
    heights = HeightGrid(
        x_m=round(grid.x_m, 4), y_m=round(grid.y_m, 4), step_m=grid.step_m, columns=grid.heights.shape[1],
        rows=grid.heights.shape[0], cells=grid.cells, zero_m=round(zero, 3), origin=raster.name[:100],
    )  # fmt: skip
    told = _told(raster, window, placing, grid, step, how, zero)
    return TakenHeights(
        heights, tuple(told), slopes_of(grid.heights, grid.step_m), grid.largest_shift_m, grid.heights, grid.step_m,
        *moved,
    ), doubts  # fmt: skip


def _height_at_reference(grid: Grid) -> float:
    """The height at 0, 0 or, where there is none, the nearest one."""
    row, column = -grid.y_m / grid.step_m, -grid.x_m / grid.step_m
    here = float(bilinear(grid.heights, np.array([row]), np.array([column]))[0])
    if np.isfinite(here):
        return here
    rows, columns = np.nonzero(~np.isnan(grid.heights))
    nearest = int(np.argmin((rows - row) ** 2 + (columns - column) ** 2))
    return float(grid.heights[rows[nearest], columns[nearest]])


def _about_cover(grid: Grid, extent: Box, step: float, design: Design) -> list[Doubt]:
    doubts = []
    x, y = np.meshgrid(np.linspace(extent[0], extent[2], 60), np.linspace(extent[1], extent[3], 60))
    if len(design.plot.boundary) >= 3:
        import shapely

        inside = shapely.contains_xy(shapely.Polygon(design.plot.boundary), x.ravel(), y.ravel())
        there = bilinear(
            grid.heights, (y.ravel() - grid.y_m) / grid.step_m, (x.ravel() - grid.x_m) / grid.step_m
        )
        bare = np.isnan(there[inside]).mean() if inside.any() else 0.0
        if bare > 0:
            doubts.append(
                Doubt(_("{share} of the plot have no height in it.").format(share=percent(float(bare))))
            )
        reach = max(extent[2] - extent[0], extent[3] - extent[1])
        if reach < _FEW_STEPS * step:
            doubts.append(
                Doubt(
                    _(
                        "A height every {step} m says little about a plot of {reach} m: small hollows are not in it."
                    ).format(step=number(step), reach=number(reach))
                )
            )
    return doubts


def slopes_of(heights: Array, step_m: float) -> tuple[float, float, float]:
    """Least, middle and largest slope (%) between neighbouring places of a grid; zeros where none can be told."""
    north, east = np.gradient(heights, step_m)
    slopes = 100.0 * np.hypot(north, east)
    slopes = slopes[np.isfinite(slopes)]
    if not slopes.size:
        return 0.0, 0.0, 0.0
    return float(slopes.min()), float(np.median(slopes)), float(slopes.max())


def _told(
    raster: Raster, window: Window, placing: Placing, grid: Grid, step: float, how: HeightsHow, zero: float
) -> list[str]:
    rows, columns = grid.heights.shape
    told = [
        _("Grid of {columns} by {rows} heights, {step} m apart, from {x}, {y} m (east, north of the reference point).").format(
            columns=columns, rows=rows, step=number(grid.step_m), x=number(grid.x_m, digits=1),
            y=number(grid.y_m, digits=1),
        ),
        _("Heights between the file's are bilinear; the largest difference to a height of the file is {shift} m.").format(
            shift=number(grid.largest_shift_m, digits=2)
        ),
        _("{zero} m counts as zero ({why}).").format(
            zero=number(zero, digits=2), why=_("as said") if how.zero_m is not None else _("the height at the reference point")
        ),
    ]  # fmt: skip
    if grid.step_m > 1.5 * step:
        told.append(_("The file has a height every {step} m; they were averaged.").format(step=number(step)))
    voids = int(np.isnan(grid.heights).sum())
    if voids:
        told.append(plural("{count} place has no height.", "{count} places have no height.", voids))
    if placing.decided.crs is not None:
        told.append(
            _("North is true north: {name} was turned and scaled into metres about {place}.").format(
                name=placing.decided.found.name, place=told_place(*placing.reference)
            )
        )
    elif how.land.crs == LOCAL or how.at is not None:
        told.append(_("x was taken as east, y as true north."))
    return told
