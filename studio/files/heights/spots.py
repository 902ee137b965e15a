"""Spot heights: from a table (a file or pasted) and from the points of a map that have a height."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from studio.design.rules import MOST_IN_A_LIST
from studio.errors import BadInputError, FaultyFileError
from studio.files.heights.of_attribute import attribute_of, attributes_of
from studio.files.land.attributes import unit_of_name
from studio.files.land.corners import (
    angle_in,
    at_line,
    is_value,
    length_in,
    table_columns,
    table_head,
    table_rows,
)
from studio.files.land.found import Array, How
from studio.files.land.letting_in import Part
from studio.files.land.shapes import Shape, shapes_of
from studio.text import _, number, plural

_SAME_M = 0.001
"""Nearer than this two spots are one place."""
_TWO_HEIGHTS_M = 0.5
"""Heights of one place that are further apart are a slip, not two measurements of it."""
_ROUNDS, _A_ROUND = 3, 60
_NARROW = 1e-4
_Places = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class SpotTable:
    """Spots as a file has them: ``places`` (n, 2) x and y or longitude and latitude, ``heights`` (n,) in ``height_unit``.

    ``kind`` is "metres" or "degrees"; units are empty where they are not said. ``crs`` is what a map says of its system.
    ``rows`` (n,) name the line or feature of each. ``assumed`` says what no head said; ``notes`` what was left aside.
    ``attribute`` of a map is the one whose values the heights are, empty: the corners' own; ``attributes`` are those that may be
    heights, and ``sure`` tells whether it is said or plain which one is.
    """

    what: str
    kind: str
    places: Array
    heights: Array
    rows: tuple[int, ...]
    unit: str = ""
    height_unit: str = ""
    crs: str = ""
    assumed: str = ""
    notes: tuple[str, ...] = ()
    attribute: str = ""
    attributes: tuple[str, ...] = ()
    sure: bool = True


def holds_spots(text: str) -> bool:
    """Whether a table's head names heights, or, without a head, its lines hold three numbers or more."""
    try:
        rows = table_rows(text, "")
    except FaultyFileError:
        return False
    if head := table_head(rows[0][1]):
        columns, _units = table_columns(head)
        return "z" in columns
    return all(sum(is_value(field) for field in row) >= 3 for _number, row in rows) and not all(
        len(row) == 3 and row[0] == str(place) for place, (_number, row) in enumerate(rows, 1)
    )


def spots_of_text(text: str, *, name: str, how: How) -> SpotTable:
    """Spots of a table: x y z, east north height, latitude longitude elevation; a first column of numbers is passed over.

    Raises FaultyFileError in one sentence that names the line at fault, BadInputError where ``how`` cannot be.
    """
    if how.table not in ("", "metres", "degrees"):
        raise BadInputError(
            _("'{found}' is no kind of table of heights; metres or degrees would do.").format(
                found=how.table[:20]
            )
        )
    rows = table_rows(text, name)
    head = table_head(rows[0][1])
    columns, units = table_columns(head) if head else ({}, {})
    if head:
        rows = rows[1:]
        if not rows:
            raise FaultyFileError(_("{name} has a head and no heights below it.").format(name=name))
    kind, places, assumed = _columns_of(rows, columns, bool(head), how, name)
    unit, height_unit = how.unit or units.get("x", ""), units.get("z", "")
    values = np.array([_row(row, line, kind, places, unit, height_unit, name) for line, row in rows])
    pairs = values[:, 1::-1] if kind == "degrees" else values[:, :2]
    return SpotTable(
        _("table of heights"), kind, pairs, values[:, 2], tuple(line for line, _row in rows), unit, height_unit,
        assumed=assumed,
    )  # fmt: skip


def _columns_of(
    rows: list[tuple[int, list[str]]], columns: dict[str, int], head: bool, how: How, name: str
) -> tuple[str, tuple[int, int, int], str]:
    """What the table holds, where its three columns stand, and a sentence about what no head said."""
    if head:
        kind = next(
            (
                kind
                for kind, pair in (("metres", ("x", "y")), ("degrees", ("lat", "lon")))
                if {*pair, "z"} <= set(columns) and how.table in ("", kind)
            ),
            "",
        )
        if not kind:
            at_line(
                name,
                rows[0][0] - 1,
                _("the head names no columns such as x, y and z, or latitude, longitude and height"),
            )
        first, second = ("x", "y") if kind == "metres" else ("lat", "lon")
        return kind, (columns[first], columns[second], columns["z"]), ""
    least = min(len(row) for _number, row in rows)
    if least < 3:
        line = next(line for line, row in rows if len(row) == least)
        at_line(
            name, line, _("a place and its height are three numbers, found were {count}").format(count=least)
        )
    numbered = least > 3 and all(row[0].strip() == str(at) for at, (_line, row) in enumerate(rows, 1))
    numbered = numbered or (least > 3 and not any(is_value(row[0]) for _line, row in rows))
    first_column = 1 if numbered else 0
    places = (first_column, first_column + 1, first_column + 2)
    if how.table:
        return how.table, places, ""
    angles = any(any(sign in row[places[0]] + row[places[1]] for sign in "°NSEWnsew") for _line, row in rows)
    if angles or _are_small(rows, places):
        return (
            "degrees",
            places,
            _("No head names the columns; they were read as latitude, longitude and height."),
        )
    return "metres", places, _("No head names the columns; they were read as x east, y north and height.")


def _are_small(rows: list[tuple[int, list[str]]], places: tuple[int, int, int]) -> bool:
    """Whether pairs are small and close together enough for degrees."""
    try:
        pairs = np.array([[float(row[at].replace(",", ".")) for at in places[:2]] for _line, row in rows])
    except ValueError:
        return False
    within = (np.abs(pairs[:, 0]) <= 90).all() and (np.abs(pairs[:, 1]) <= 180).all()
    return bool(within and len(pairs) > 2 and np.ptp(pairs, axis=0).max() < 0.5)


def _row(
    row: list[str], line: int, kind: str, places: tuple[int, int, int], unit: str, height_unit: str, name: str
) -> tuple[float, float, float]:
    if max(places) >= len(row):
        at_line(name, line, _("a number is missing"))
    one, two, three = (row[at] for at in places)
    height = length_in(three, height_unit, line, name)
    if kind == "degrees":
        return angle_in(one, line, name, letters="NS"), angle_in(two, line, name, letters="EW"), height
    return length_in(one, unit, line, name), length_in(two, unit, line, name), height


def spots_of_map(parts: tuple[Part, ...], *, name: str, attribute: str = "") -> SpotTable:
    """The corners and points of a map that have a height, their own or, for all of a feature, that of an attribute.

    ``attribute`` is the one that a person says; unsaid it is looked for only where no point has a height of its own.
    FaultyFileError where there is none, BadInputError where the map has no such attribute.
    """
    read = [shapes_of(part, name=name, heights=True) for part in parts]
    if len({one.crs for one in read}) > 1:
        raise FaultyFileError(
            _("{name} holds maps in different coordinate systems; bring them in one by one.").format(
                name=name
            )
        )
    shapes = [shape for one in read for shape in one.shapes]
    kind, notes = read[0].kind, list(dict.fromkeys(note for one in read for note in one.notes))
    values, rows = _corners_of(shapes)
    flat = len(values) == 0 or bool((values[:, 2] == 0).all())
    if not attribute and not flat:
        return SpotTable(
            _("{kind}: points with heights").format(kind=kind), "map", values[:, :2], values[:, 2], rows,
            crs=read[0].crs, notes=tuple(notes), attributes=attributes_of(shapes),
        )  # fmt: skip
    chosen = attribute_of(shapes, attribute, name=name)
    having = [shape for shape in shapes if chosen.name in shape.numbers]
    if bare := len(shapes) - len(having):
        notes.append(
            plural("{count} feature without {{attribute}} was left aside.", "{count} features without {{attribute}} were left aside.", bare)
            .format(attribute=chosen.name)
        )  # fmt: skip
    values, rows = _corners_of(having, of=chosen.name)
    return SpotTable(
        _("{kind}: lines and points with heights as attribute {attribute}").format(kind=kind, attribute=chosen.name),
        "map", values[:, :2], values[:, 2], rows, height_unit=unit_of_name(chosen.name), crs=read[0].crs,
        notes=tuple(notes), attribute=chosen.name, attributes=(chosen.name, *chosen.others), sure=chosen.sure,
    )  # fmt: skip


def _corners_of(shapes: Sequence[Shape], *, of: str = "") -> tuple[Array, tuple[int, ...]]:
    """Corners and points (n, 3) with their own heights, or ``of`` an attribute; and the feature (n,) of each."""
    found, rows = [np.empty((0, 3))], []
    for shape in shapes:
        places = shapely.get_coordinates(shape.geometry, include_z=not of)
        if of:
            places = np.column_stack([places, np.full(len(places), shape.numbers[of])])
        places = places[np.isfinite(places).all(axis=1)]
        found.append(places)
        rows += [shape.feature] * len(places)
    return np.concatenate(found), tuple(rows)


@dataclass(frozen=True, eq=False)
class Spots:
    """Spots (n, 3) in site metres, x, y and height, each place once; what was done in sentences; the largest shift, m."""

    values: Array
    told: tuple[str, ...]
    largest_shift_m: float


def too_few(count: int, name: str) -> str:
    """The sentence about fewer than three places."""
    return plural("{{name}} holds heights at {count} place; three or more make a surface.",
                  "{{name}} holds heights at {count} places; three or more make a surface.", count).format(name=name)  # fmt: skip


def sound_spots(values: Array, rows: tuple[int, ...], *, name: str) -> Spots:
    """Spots (n, 3) in site metres with each place once and no more of them than a design holds.

    Raises FaultyFileError for one place with two heights over 0.5 m apart, for fewer than three places and for places
    on one straight line.
    """
    told = []
    values, merged = _each_once(values, rows, name)
    if merged:
        told.append(
            plural(
                "{count} place has two heights within {{most}} m: their mean was taken.",
                "{count} places have two heights within {{most}} m: their means were taken.",
                merged,
            ).format(most=number(_TWO_HEIGHTS_M))
        )
    if len(values) < 3:
        raise FaultyFileError(too_few(len(values), name))
    spread = np.linalg.svd(values[:, :2] - values[:, :2].mean(axis=0), compute_uv=False)
    if spread[1] < _NARROW * spread[0]:
        raise FaultyFileError(
            _("The heights of {name} stand on one straight line; one beside it would make a surface.").format(
                name=name
            )
        )
    if len(values) <= MOST_IN_A_LIST:
        return Spots(values, tuple(told), 0.0)
    fewer, shift = fewer_spots(values)
    told.append(
        _("{before} heights became {after}; none of those left out lies more than {shift} m off.").format(
            before=f"{len(values):,}", after=f"{len(fewer):,}", shift=number(shift, figures=2)
        )
    )
    return Spots(fewer, tuple(told), shift)


def _each_once(values: Array, rows: tuple[int, ...], name: str) -> tuple[Array, int]:
    """Spots with each place once (the mean of its heights) and how many places had several different ones."""
    keys = np.round(values[:, :2] / _SAME_M).astype(np.int64)
    _keys, first, inverse, counts = np.unique(
        keys, axis=0, return_index=True, return_inverse=True, return_counts=True
    )
    inverse = inverse.ravel()
    low, high = np.full(len(counts), np.inf), np.full(len(counts), -np.inf)
    np.minimum.at(low, inverse, values[:, 2])
    np.maximum.at(high, inverse, values[:, 2])
    if (apart := high - low).max() > _TWO_HEIGHTS_M:
        at = int(np.argmax(apart))
        those = np.flatnonzero(inverse == at)
        one, two = sorted(
            (rows[int(those[np.argmin(values[those, 2])])], rows[int(those[np.argmax(values[those, 2])])])
        )
        raise FaultyFileError(
            _(
                "{name}: lines {one} and {two} give one place two heights, {apart} m apart; one of them is wrong."
            ).format(name=name, one=one, two=two, apart=number(float(apart[at])))
        )
    means = np.bincount(inverse, weights=values[:, 2]) / counts
    order = np.argsort(first)
    once = np.column_stack((values[first, :2], means))[order]
    return once, int((apart > 1e-9).sum())


def fewer_spots(values: Array, most: int = MOST_IN_A_LIST) -> tuple[Array, float]:
    """At most ``most`` of the spots (n, 3) and how far the surface through them is off at those left out, m, at most.

    One spot of each square is kept, the nearest to its middle, beside the outermost ones; then those furthest off the
    plane triangles of the kept ones (Delaunay) are added, a few at a time.
    """
    from scipy.interpolate import LinearNDInterpolator, NearestNDInterpolator

    rim = _outermost(values)
    some = _one_a_square(values, most - _ROUNDS * _A_ROUND - len(rim))
    kept = np.union1d(rim, some)
    for turn in range(_ROUNDS + 1):
        there = LinearNDInterpolator(values[kept, :2], values[kept, 2])(values[:, :2])
        bare = np.isnan(there)
        there[bare] = NearestNDInterpolator(values[kept, :2], values[kept, 2])(values[bare, :2])
        off = np.abs(there - values[:, 2])
        off[kept] = 0.0
        if turn < _ROUNDS:
            kept = np.union1d(kept, np.argsort(off)[-_A_ROUND:])
    return values[kept], float(off.max())


def _outermost(values: Array) -> _Places:
    hull = shapely.convex_hull(shapely.multipoints(values[:, :2]))
    corners = shapely.get_coordinates(hull)[:-1][:100]
    from scipy.spatial import cKDTree

    return np.unique(cKDTree(values[:, :2]).query(corners)[1])


def _one_a_square(values: Array, most: int) -> _Places:
    """The spot nearest to the middle of each square, with squares just so large that there are at most ``most``."""
    low = values[:, :2].min(axis=0)
    reach = float(np.ptp(values[:, :2], axis=0).max())
    small, large = reach / most, reach
    for _turn in range(30):
        side = (small * large) ** 0.5
        chosen = _nearest_of_squares(values, low, side)
        small, large = (small, side) if len(chosen) <= most else (side, large)
    return _nearest_of_squares(values, low, large)


def _nearest_of_squares(values: Array, low: Array, side: float) -> _Places:
    at = (values[:, :2] - low) / side
    square = np.floor(at)
    away = ((at - square - 0.5) ** 2).sum(axis=1)
    order = np.argsort(away, kind="stable")
    _squares, first = np.unique(square[order], axis=0, return_index=True)
    return order[first]
