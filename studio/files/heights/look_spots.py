"""Spot heights as a design would take them."""

from dataclasses import replace

import numpy as np

from studio.design.design import Design
from studio.design.rules import MOST_IN_A_LIST
from studio.design.site import SpotHeights
from studio.drawings.on_earth import FARTHEST_M
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
from studio.files.heights.look_raster import slopes_of
from studio.files.heights.placing import Placing, extent_of, with_margin
from studio.files.heights.spots import Spots, SpotTable, sound_spots, too_few
from studio.files.land.found import Array
from studio.files.land.systems import WGS84, Decided
from studio.text import _, number, plural

_FARTHEST = 2e10
_STEEP_PERCENT = 100.0
"""A plane through the spots that is steeper is no land for a field, so units are mixed up."""
_PICTURE = 60


def look_at_spots(table: SpotTable, name: str, design: Design, *, how: HeightsHow) -> HeightsLook:
    """What a table or map of spot heights holds and what a design would take of it."""
    if not np.isfinite(table.places).all() or float(np.abs(table.places).max()) > _FARTHEST:
        raise FaultyFileError(_("{name} holds a place that lies nowhere on earth.").format(name=name))
    if len(table.heights) < 3:
        raise FaultyFileError(too_few(len(table.heights), name))
    decided, doubts = _system(table, design, how)
    unit_m, about_unit = height_unit_of(table.height_unit, "" if table.attribute else table.crs, decided, how)
    doubts += about_unit
    doubts += [Doubt(sentence) for sentence in (table.assumed, *table.notes) if sentence]
    if how.void is not None:
        keep = ~np.isclose(table.heights, how.void, rtol=0.0, atol=1e-6)
        table = replace(
            table, places=table.places[keep], heights=table.heights[keep],
            rows=tuple(row for row, kept in zip(table.rows, keep, strict=True) if kept),
        )  # fmt: skip
    heights = table.heights * unit_m
    _hold_to_land(heights, table, name)
    lengths = (table.places[:, ::-1] if decided.swap else table.places) * decided.scale
    placing = placing_of(decided, how, design, lengths.min(axis=0))
    world = placing.world(_middle(table.places)[None, :])
    middle = (float(world[0, 1]), float(world[0, 0])) if world is not None else None
    if how.move_site and middle is not None:
        placing = replace(placing, reference=middle)
    values = np.column_stack((placing.to_site(table.places), heights))
    refused = (
        ""
        if decided.found.sure
        else _("Which coordinate system {name} is in must be said first.").format(name=name)
    )
    if table.attribute and not how.attribute:
        asked = _which_attribute(table, name, how)
        doubts.insert(0, asked)
        refused = refused or ("" if table.sure else asked.sentence)
    if not refused and is_far(_middle(values[:, :2])):
        refused = off_site(_middle(values[:, :2]), middle, design)
        mends = (
            (Mend(_("bring the site to the heights"), replace(how, move_site=True)),)
            if middle
            else place_mends(how, np.ptp(lengths, axis=0), extent_of(design))
        )
        doubts.insert(0, Doubt(refused, mends))
    taken = None
    if not refused:
        spots, left_out = _of_the_site(values, table.rows, name, design, moved=how.move_site)
        refused = _too_steep(spots, table, how)
        doubts += [Doubt(sentence) for sentence in left_out]
        if refused:
            doubts.insert(0, Doubt(refused, _unit_mends(how)))
        else:
            taken, more = _taken(spots, placing, name, design, how)
            doubts += more
    size = plural("{count} height", "{count} heights", len(heights))
    if refused == "" or decided.crs is None:
        wide, deep = np.ptp(values[:, :2], axis=0)
        size = _("{heights} over {width} m by {depth} m").format(
            heights=size, width=number(float(wide)), depth=number(float(deep))
        )
    return HeightsLook(
        name, table.what, size, decided.found, float(heights.min()), float(heights.max()), middle, tuple(doubts),
        taken, refused, False, how, table.attribute, table.attributes,
    )  # fmt: skip


def _which_attribute(table: SpotTable, name: str, how: HeightsHow) -> Doubt:
    """Heights of an attribute that nobody named: which one it is by its name, or that it must be said."""
    if table.sure:
        sentence = _("The heights are those of the attribute {attribute}, by its name alone.").format(
            attribute=table.attribute
        )
        named = table.attributes[1:]
    else:
        sentence = _("Which attribute of {name} holds the heights must be said first.").format(name=name)
        named = table.attributes
    mends = (
        Mend(_("heights from {attribute}").format(attribute=one), replace(how, attribute=one))
        for one in named
    )
    return Doubt(sentence, tuple(mends))


def _middle(places: Array) -> Array:
    middle: Array = (places.min(axis=0) + places.max(axis=0)) / 2
    return middle


def _system(table: SpotTable, design: Design, how: HeightsHow) -> tuple[Decided, list[Doubt]]:
    said = WGS84 if table.kind == "degrees" else table.crs
    spread = float(np.ptp(table.places, axis=0).max())
    return decided_of(
        table.places,
        spread=spread,
        said=said,
        unit=table.unit,
        kind=table.what,
        how=how,
        near=site_of(design),
    )


def _hold_to_land(heights: Array, table: SpotTable, name: str) -> None:
    if not len(heights):
        raise FaultyFileError(_("{name} holds no heights.").format(name=name))
    wrong = ~np.isfinite(heights) | (heights < LOWEST_M) | (heights > HIGHEST_M)
    if wrong.any():
        at = int(np.flatnonzero(wrong)[0])
        raise FaultyFileError(
            _("{name}, line {line}: {found} is no height of land; {low} to {high} m would be right.").format(
                name=name, line=table.rows[at], found=f"{heights[at]:.6g} m", low=number(LOWEST_M), high=f"{HIGHEST_M:,.0f}"
            )
        )  # fmt: skip


def _of_the_site(
    values: Array, rows: tuple[int, ...], name: str, design: Design, *, moved: bool
) -> tuple[Spots, list[str]]:
    """Sound spots; of more than a design holds, those about the plot."""
    told = []
    keep = np.asarray(np.isfinite(values).all(axis=1) & (np.abs(values[:, :2]) <= FARTHEST_M).all(axis=1))
    if len(values) > MOST_IN_A_LIST and design.plot.boundary and not moved:
        x0, y0, x1, y1 = with_margin(extent_of(design), 0.0)
        near = (
            keep & (values[:, 0] >= x0) & (values[:, 0] <= x1) & (values[:, 1] >= y0) & (values[:, 1] <= y1)
        )
        keep = near if near.sum() >= 3 else keep
    if not keep.all():
        told.append(
            plural(
                "{count} height far from the plot was left out.",
                "{count} heights far from the plot were left out.",
                int((~keep).sum()),
            )
        )
    kept_rows = tuple(row for row, kept in zip(rows, keep, strict=True) if kept)
    return sound_spots(values[keep], kept_rows, name=name), told


def _plane_percent(values: Array) -> float:
    """Slope (%) of the plane nearest to the spots, by least squares."""
    places = values[:, :2] - values[:, :2].mean(axis=0)
    fall, *_rest = np.linalg.lstsq(np.column_stack((places, np.ones(len(places)))), values[:, 2], rcond=None)
    return float(100 * np.hypot(fall[0], fall[1]))


def _too_steep(spots: Spots, table: SpotTable, how: HeightsHow) -> str:
    reach, rise = float(np.ptp(spots.values[:, :2], axis=0).max()), float(np.ptp(spots.values[:, 2]))
    said = (how.land.unit or table.unit or table.kind == "degrees" or table.crs) and (
        how.height_unit or table.height_unit
    )
    if said or max(_plane_percent(spots.values), 100 * rise / reach) < _STEEP_PERCENT:
        return ""
    return _(
        "The heights differ by {rise} m over {reach} m, which no land for a field does: say the units of x, y and of the heights first."
    ).format(rise=number(rise), reach=number(reach))


def _unit_mends(how: HeightsHow) -> tuple[Mend, ...]:
    mends = (("ft", "ft"), ("m", "ft"), ("m", "cm"))
    return tuple(
        Mend(
            _("x and y in {unit}, heights in {high}").format(unit=unit, high=high),
            replace(how, land=replace(how.land, unit=unit), height_unit=high),
        )
        for unit, high in mends
    )


def _taken(
    spots: Spots, placing: Placing, name: str, design: Design, how: HeightsHow
) -> tuple[TakenHeights, list[Doubt]]:
    values = np.round(spots.values, 3) + 0.0
    picture, step = _picture(values)
    at_zero = _height_at(values, (0.0, 0.0))
    zero = at_zero if how.zero_m is None else how.zero_m
    doubts = altitude_doubt(at_zero, design) if placing.decided.crs is not None and not how.move_site else []
    told = [
        plural("{count} spot height; between them the land is plane triangles.",
               "{count} spot heights; between them the land is plane triangles.", len(values)),
        *spots.told,
        _("{zero} m counts as zero ({why}).").format(
            zero=number(zero, digits=2), why=_("as said") if how.zero_m is not None else _("the height at the reference point")
        ),
    ]  # fmt: skip
    moved = placing.reference if how.move_site else (None, None)
    heights = SpotHeights(
        spots=tuple((float(x), float(y), float(z)) for x, y, z in values),
        zero_m=round(zero, 3),
        origin=name[:100],
    )
    return (
        TakenHeights(
            heights, tuple(told), slopes_of(picture, step), spots.largest_shift_m, picture, step, *moved
        ),
        doubts,
    )


def _picture(values: Array) -> tuple[Array, float]:
    """Heights on a grid for a picture and for slopes: the plane triangles between the spots."""
    from scipy.interpolate import LinearNDInterpolator

    low, high = values[:, :2].min(axis=0), values[:, :2].max(axis=0)
    step = float((high - low).max()) / _PICTURE
    x = np.arange(low[0], high[0] + step / 2, step)
    y = np.arange(low[1], high[1] + step / 2, step)
    x, y = (np.append(one, one[-1] + step) if len(one) < 2 else one for one in (x, y))
    grid_x, grid_y = np.meshgrid(x, y)
    heights: Array = LinearNDInterpolator(values[:, :2], values[:, 2])(grid_x, grid_y)
    return heights, step


def _height_at(values: Array, place: tuple[float, float]) -> float:
    """Height at a place on the triangles between the spots or, outside them, of the nearest spot."""
    from scipy.interpolate import LinearNDInterpolator

    here = float(
        np.asarray(LinearNDInterpolator(values[:, :2], values[:, 2])(np.array([place]))).reshape(-1)[0]
    )
    if np.isfinite(here):
        return here
    away = np.hypot(values[:, 0] - place[0], values[:, 1] - place[1])
    return float(values[int(np.argmin(away)), 2])
