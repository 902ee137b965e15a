"""Looking at land before it is taken: layers, areas, units, coordinate system, and whatever is doubtful."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely
from shapely import Polygon

from studio.errors import BadInputError, FaultyFileError
from studio.files.land.areas import areas_of
from studio.files.land.corners import Table, table_of
from studio.files.land.found import (
    LOCAL,
    AreaFound,
    Array,
    Doubt,
    How,
    LandLook,
    LayerFound,
    Mend,
    Misclosure,
)
from studio.files.land.letting_in import Part, let_in
from studio.files.land.outlines import Outline, outlines_of
from studio.files.land.shapes import Shape, shapes_of
from studio.files.land.systems import WGS84, Decided, decide
from studio.files.land.traverse import by_compass_rule, misclosure_of, walked
from studio.text import _, number, plural

_DXF_UNITS = {
    1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m", 7: "km", 10: "yd", 14: "dm", 21: "us-ft",
}  # fmt: skip
"""$INSUNITS of a DXF (AutoCAD DXF reference, header section) that land is drawn in."""
_WORST_RATIO = 50.0
"""A traverse that misses its beginning by more than a 50th of its length lacks its last leg."""
_LARGE_MISS = 1000.0
_FARTHEST = 2e10
"""No coordinate reaches it, not even in millimetres."""
_NO_HOW = How()


def look_at(path: Path | str, *, how: How = _NO_HOW) -> LandLook:
    """What a file of land holds, by what it says and by what the person says (``how``). Nothing is changed.

    Reads GeoJSON, KML, KMZ, GeoPackage, Shapefile, DXF, GPX (each also zipped) and tables of corners.
    Raises KeepingError where the file cannot be opened, FaultyFileError where it is broken, hostile or of another kind,
    BadInputError where ``how`` cannot be, each in one sentence.
    """
    path = Path(path)
    parts = let_in(path)
    if parts[0].kind == "table":
        return look_at_text(text_of(parts[0]), name=path.name, how=how)
    read = [shapes_of(part, name=path.name) for part in parts]
    systems = {one.crs for one in read}
    if len(systems) > 1:
        raise FaultyFileError(
            _("{name} holds maps in different coordinate systems; bring them in one by one.").format(
                name=path.name
            )
        )
    shapes, before = [], 0
    for one in read:
        shapes += [replace(shape, feature=shape.feature + before) for shape in one.shapes]
        before = len(shapes)
    doubts = [Doubt(note) for one in read for note in one.notes]
    kind = read[0].kind
    outlines, told = outlines_of(shapes, points_too=kind != "DXF")
    unit = _dxf_unit(parts[0]) if kind == "DXF" else ""
    said = "" if kind == "GeoJSON" and not read[0].crs else read[0].crs
    decided = decide(
        _points(shapes, path.name), spread=_spread(outlines, shapes), said=said, unit=unit, kind=kind, how=how
    )
    doubts += [*told, *_mixed(outlines, how)]
    look = _look(path.name, kind, _layers(shapes), outlines, decided, doubts, how=how)
    return replace(look, may_hold_heights=any(one.may_hold_heights for one in read))


def look_at_text(text: str, *, name: str = "", how: How = _NO_HOW) -> LandLook:
    """What a pasted table of corners holds: metres, latitude and longitude, or a traverse with its misclosure."""
    name = name or _("the pasted table")
    table = table_of(text, name=name, how=how)
    doubts = []
    if table.assumed:
        doubts.append(Doubt(table.assumed, _other_tables(table, how)))
    misclosure = None
    values = table.values
    if table.kind == "traverse":
        values, misclosure, told = _traverse(values, how)
        doubts += told
    elif len(values) > 1 and np.array_equal(values[0], values[-1]):
        values = values[:-1]
    if len(values) < 3:
        raise FaultyFileError(
            plural("{{name}} holds {count} corner; an area has three or more.",
                   "{{name}} holds {count} corners; an area has three or more.", len(values)).format(name=name)
        )  # fmt: skip
    outline = Outline("", _("corners"), 1, 1, 1, Polygon(values))
    spread = float(np.ptp(values, axis=0).max())
    if table.kind == "degrees":
        decided = decide(values, spread=spread, said=WGS84, unit="", kind=_("a table"), how=how)
    elif table.kind == "traverse":
        decided = decide(
            values,
            spread=spread,
            said="",
            unit=table.unit,
            kind="",
            how=replace(how, crs=how.crs or LOCAL, unit=table.unit),
        )
    else:
        decided = decide(values, spread=spread, said="", unit=table.unit, kind="", how=how)
    if misclosure is not None:
        misclosure = replace(
            misclosure,
            length_m=misclosure.length_m * decided.scale,
            perimeter_m=misclosure.perimeter_m * decided.scale,
        )
    layers = (LayerFound("", 1, 0, len(values)),)
    return _look(
        name, _("table of corners"), layers, [outline], decided, doubts, how=how, misclosure=misclosure
    )


def _look(
    name: str,
    kind: str,
    layers: tuple[LayerFound, ...],
    outlines: Sequence[Outline],
    decided: Decided,
    doubts: Sequence[Doubt],
    *,
    how: How,
    misclosure: Misclosure | None = None,
) -> LandLook:
    areas = areas_of(outlines, decided)
    more = [*decided.doubts, *doubts]
    if not areas:
        more.append(Doubt(_("There is no area in it: no polygon, no closed line.")))
    return LandLook(name, kind, layers, decided.found, areas, tuple(more), misclosure, how)


def text_of(part: Part) -> str:
    """The text of a table, whatever its encoding."""
    data = part.files[".csv"]
    encoding = "utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    try:
        return data.decode(encoding)
    except UnicodeDecodeError:
        return data.decode("latin-1")  # older programs write a degree sign so; every byte has a meaning there


def _points(shapes: Sequence[Shape], name: str) -> Array:
    """All coordinates that are numbers."""
    points: Array = np.concatenate([shapely.get_coordinates(shape.geometry) for shape in shapes])
    whole = points[np.isfinite(points).all(axis=1)]
    if not len(whole):
        raise FaultyFileError(_("{name} holds no corner that is a number.").format(name=name))
    if float(np.abs(whole).max()) > _FARTHEST:
        raise FaultyFileError(
            _("{name} holds a coordinate of {found:.3g}, which lies nowhere on earth.").format(
                name=name, found=float(np.abs(whole).max())
            )
        )
    return whole


def _spread(outlines: Sequence[Outline], shapes: Sequence[Shape]) -> float:
    """How far one area typically reaches; without areas how far all reaches."""
    everything = shapely.GeometryCollection([shape.geometry for shape in shapes])
    bounds = np.reshape(
        shapely.bounds([one.polygon for one in outlines]) if outlines else everything.bounds, (-1, 4)
    )
    reach = np.maximum(bounds[:, 2] - bounds[:, 0], bounds[:, 3] - bounds[:, 1])
    reach = reach[np.isfinite(reach) & (reach < 350)] if (reach < 350).any() else reach[np.isfinite(reach)]
    return float(np.median(reach)) if len(reach) else 0.0


def _mixed(outlines: Sequence[Outline], how: How) -> list[Doubt]:
    """Areas in degrees beside areas in metres."""
    if len(outlines) < 2:
        return []
    bounds = shapely.bounds([one.polygon for one in outlines])
    bounds = bounds[np.isfinite(bounds).all(axis=1)]
    reach = np.maximum(bounds[:, 2] - bounds[:, 0], bounds[:, 3] - bounds[:, 1])
    degrees = (np.abs(bounds).max(axis=1) <= 180) & (reach < 0.5)
    metres = np.abs(bounds).max(axis=1) > 1000
    if not degrees.any() or not metres.any():
        return []
    return [
        Doubt(
            _(
                "Units are mixed: {degrees} areas look like degrees, {metres} like metres; only one kind can be right."
            ).format(degrees=int(degrees.sum()), metres=int(metres.sum()))
        )
    ]


def _layers(shapes: Sequence[Shape]) -> tuple[LayerFound, ...]:
    counts: dict[str, list[int]] = {}
    for shape in shapes:
        dimension = int(shapely.get_dimensions(shape.geometry))
        counts.setdefault(shape.layer, [0, 0, 0])[2 - min(2, max(0, dimension))] += 1
    return tuple(LayerFound(name, *count) for name, count in counts.items())


def _dxf_unit(part: Part) -> str:
    """The unit that a DXF's header says; empty: none, or none that land is drawn in."""
    lines = [line.strip() for line in part.files[".dxf"][:200_000].splitlines()]
    if b"$INSUNITS" not in lines:
        return ""
    at = lines.index(b"$INSUNITS")
    code = lines[at + 2] if len(lines) > at + 2 else b""
    return _DXF_UNITS.get(int(code), "") if code.isdigit() else ""


def _traverse(legs: Array, how: How) -> tuple[Array, Misclosure, list[Doubt]]:
    """The corners of a traverse (metres from its beginning), what it lacks to close, and what is to be said of it."""
    ends = walked(legs[:, 0], legs[:, 1])
    missed = misclosure_of(ends, legs[:, 1], adjusted=how.adjust)
    beginning = np.zeros((1, 2))
    doubts = [Doubt(_("Bearings were taken as from true north."))]
    if missed.ratio < _WORST_RATIO:
        doubts.append(
            Doubt(
                _(
                    "The legs end {length} m from their beginning; the leg back was taken to be missing and was drawn."
                ).format(length=number(missed.length_m))
            )
        )
        return np.concatenate((beginning, ends)), replace(missed, adjusted=False), doubts
    if how.adjust:
        return np.concatenate((beginning, by_compass_rule(ends, legs[:, 1])[:-1])), missed, doubts
    if missed.ratio < _LARGE_MISS:
        doubts.append(
            Doubt(
                _("The traverse misses its beginning by more than 1 in {most}: look for a slip.").format(
                    most=int(_LARGE_MISS)
                )
            )
        )
    mend = Mend(_("spread it by the compass rule"), replace(how, adjust=True))
    if missed.ratio < np.inf:
        doubts.append(Doubt(_("The misclosure was left in the last leg."), (mend,)))
    return np.concatenate((beginning, ends[:-1])), missed, doubts


def _other_tables(table: Table, how: How) -> tuple[Mend, ...]:
    words = {
        "metres": _("x and y"), "degrees": _("latitude and longitude"), "traverse": _("bearing and distance"),
    }  # fmt: skip
    mends = [Mend(word, replace(how, table=kind)) for kind, word in words.items() if kind != table.kind]
    if table.kind != "traverse":
        mends.append(Mend(_("the other way round"), replace(how, swap=not how.swap)))
    return tuple(mends)


def area_numbered(look: LandLook, wanted: int) -> AreaFound:
    """The area with this number; BadInputError that says which there are."""
    for area in look.areas:
        if area.number == wanted:
            return area
    raise BadInputError(
        _("{name} has no area {number}; it has {count}, counted from 1.").format(
            name=look.name, number=wanted, count=len(look.areas)
        )
    )
