"""Shapes out of a vetted data set: what the reader library gives, flat, with layer and name.

The library reads a copy under names of our own in a folder of its own: nothing beside the file can be pulled in.
"""

import re
import tempfile
import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, NoReturn

import shapely
from shapely.geometry.base import BaseGeometry

from studio.errors import FaultyFileError
from studio.files.land.attributes import (
    MOST_ATTRIBUTES,
    attribute_left_aside,
    names_heights,
    numbers_of,
    of_feature,
)
from studio.files.land.letting_in import Part
from studio.text import _

MOST_FEATURES, MOST_POINTS = 5000, 200_000
_LONGEST_NAME = 80

_NAMES = (
    re.compile(r"(?i)^(name|nom|nome|nombre|naam|navn|namn|title|titre|label|bezeichn|parcel|flurst)"),
    re.compile(r"(?i)(name|title|label)"),
    re.compile(r"(?i)^(id|ref|no|nr|number|numero|code|fid|gid)$"),
)
_GPX_ORDER = (("tracks", "routes"), ("waypoints",))


@dataclass(frozen=True)
class Shape:
    """One feature: its layer, its name (may be empty), its number in the file from 1, its geometry, flat unless asked.

    ``numbers`` are the attributes of a line or point that are numbers, read only with heights.
    """

    layer: str
    name: str
    feature: int
    geometry: BaseGeometry = field(repr=False)
    numbers: Mapping[str, float] = field(default_factory=dict, repr=False)


@dataclass(frozen=True)
class Shapes:
    """All features of a data set; ``crs`` is what the file says of its coordinate system, empty: nothing."""

    kind: str
    layers: tuple[str, ...]
    shapes: tuple[Shape, ...]
    crs: str
    notes: tuple[str, ...]
    may_hold_heights: bool = False
    """Heights that were left aside, at corners or as an attribute."""


def shapes_of(part: Part, *, name: str, heights: bool = False) -> Shapes:
    """The shapes of a data set, by the reader library; flat, or with the ``heights`` of their corners and their numbers.

    Raises FaultyFileError with one sentence for what it cannot read, and for more than is reasonable.
    """
    import pyogrio
    from pyogrio.errors import DataLayerError, DataSourceError, FieldError, GeometryError

    pyogrio.set_gdal_config_options(
        {"OGR_ARC_STEPSIZE": 1, "SHAPE_RESTORE_SHX": True, "GPX_ELE_AS_25D": heights}
    )
    with tempfile.TemporaryDirectory() as folder, warnings.catch_warnings(record=True) as warned:
        warnings.simplefilter("always")  # what is doubtful is found and told by ourselves
        for ending, data in part.files.items():
            (Path(folder) / f"land{ending}").write_bytes(data)
        file = Path(folder) / f"land{next(iter(_main(part)))}"
        try:
            read = _read(file, part, name, heights=heights)
        except UnicodeError:
            try:
                read = _read(file, part, name, heights=heights, encoding="latin-1")
            except (UnicodeError, RuntimeError, ValueError, LookupError):
                _unreadable(name, part)
        except (
            DataSourceError, DataLayerError, FieldError, GeometryError, RuntimeError, ValueError, LookupError, TypeError,
        ):  # fmt: skip
            _unreadable(name, part)
        except shapely.errors.ShapelyError:
            _unreadable(name, part)
    if any("Measured (M)" in str(warning.message) for warning in warned):
        return replace(read, notes=(*read.notes, _("Measures along the lines were left aside.")))
    return read


def _main(part: Part) -> tuple[str, ...]:
    return (".shp",) if ".shp" in part.files else tuple(part.files)


def _unreadable(name: str, part: Part) -> NoReturn:
    raise FaultyFileError(
        _("{name} is no whole {kind} file, or one of an odd make.").format(name=name, kind=part.kind)
    )


def _read(file: Path, part: Part, name: str, *, heights: bool, encoding: str | None = None) -> Shapes:
    import pyogrio

    layers = [str(row[0]) for row in pyogrio.list_layers(file) if row[1] is not None]
    wanted = _wanted(file, layers) if part.kind == "GPX" else layers
    shapes: list[Shape] = []
    notes = list(part.notes)
    crs, aside = "", False
    for layer in wanted:
        info = pyogrio.read_info(file, layer=layer, encoding=encoding)
        crs = _one_crs(crs, str(info["crs"] or ""), name)
        kind = str(info["geometry_type"] or "")
        for mark, note in (
            ("Z", _("Heights of the corners were left aside.")),
            ("Curve", _("Curves were made into straight pieces, one for each degree of turning.")),
        ):
            if note not in notes and _has(mark, kind) and not (heights and mark == "Z"):
                notes.append(note)
                aside = aside or mark == "Z"
        fields = [str(field) for field in info["fields"]]
        named = next(filter(names_heights, fields), "") if "Polygon" not in kind else ""
        if named and not heights:
            notes.append(attribute_left_aside(named))
            aside = True
        called = (
            part.stem if layer == file.stem else layer
        )  # named after our copy where it has no name of its own
        shapes += _layer(
            file, layer, fields, part.kind, encoding, called=called, before=len(shapes), heights=heights
        )
        if len(shapes) > MOST_FEATURES:
            _too_much(name, _("{most} features").format(most=MOST_FEATURES))
    if sum(int(shapely.get_num_coordinates(shape.geometry)) for shape in shapes) > MOST_POINTS:
        _too_much(name, _("{most} corners").format(most=MOST_POINTS))
    if not shapes:
        raise FaultyFileError(_("{name} holds no area, no line and no point.").format(name=name))
    return Shapes(part.kind, tuple(layers), tuple(shapes), crs, tuple(dict.fromkeys(notes)), aside)


def _has(mark: str, kind: str) -> bool:
    """Whether a kind of geometry has heights or curves."""
    if mark == "Z":
        return kind.startswith(("3D ", "2.5D ")) or kind.endswith((" Z", " ZM"))
    return "Curve" in kind or "Compound" in kind or "Surface" in kind


def _one_crs(before: str, now: str, name: str) -> str:
    if before and now and before != now:
        raise FaultyFileError(
            _("{name} has layers in different coordinate systems; save the layer of the plot alone.").format(
                name=name
            )
        )
    return before or now


def _too_much(name: str, what: str) -> NoReturn:
    raise FaultyFileError(
        _("{name} holds more than {what}; cut the plot and its surroundings out of it.").format(
            name=name, what=what
        )
    )


def _wanted(file: Path, layers: Sequence[str]) -> list[str]:
    """Of a GPX, walked lines if there are any, else waypoints."""
    import pyogrio

    for group in _GPX_ORDER:
        found = [
            name
            for name in group
            if name in layers and pyogrio.read_info(file, layer=name, force_feature_count=True)["features"]
        ]
        if found:
            return found
    return []


def _layer(
    file: Path,
    layer: str,
    fields: list[str],
    kind: str,
    encoding: str | None,
    *,
    called: str,
    before: int,
    heights: bool,
) -> list[Shape]:
    from pyogrio import raw

    naming = _naming(fields)
    columns = ["Layer", "PaperSpace"] if kind == "DXF" else [naming] if naming else []
    if heights and kind != "DXF":
        columns = list(dict.fromkeys([*columns, *fields]))[:MOST_ATTRIBUTES]
    meta, _ids, packed, values = raw.read(
        file,
        layer=layer,
        columns=columns,
        force_2d=not heights,
        max_features=MOST_FEATURES + 1,
        encoding=encoding,
    )
    if packed is None:
        return []
    got = {str(key): column for key, column in zip(meta["fields"], values, strict=True)}
    numbers = {key: found for key, column in got.items() if (found := numbers_of(column)) is not None}
    geometries = shapely.from_wkb(packed, on_invalid="fix")
    shapes = []
    for place, geometry in enumerate(geometries):
        if geometry is None or geometry.is_empty or (kind == "DXF" and _truth(got, "PaperSpace", place)):
            continue
        of_layer = _line(got["Layer"][place]) if kind == "DXF" and "Layer" in got else _line(called)
        if kind == "DXF":
            name = of_layer if of_layer != "0" else ""
        else:
            name = _line(got[naming][place]) if naming in got else ""
        flat = geometry if heights else shapely.force_2d(geometry)
        own = of_feature(numbers, place) if heights and "Polygon" not in flat.geom_type else {}
        shapes.append(Shape(of_layer, name, before + place + 1, flat, own))
    return shapes


def _naming(fields: Sequence[str]) -> str:
    """The field that most likely names a feature; empty: none."""
    return next((one for pattern in _NAMES for one in fields if pattern.search(one)), "")


def _truth(columns: dict[str, Any], key: str, place: int) -> bool:
    value = columns[key][place] if key in columns else None
    return value is not None and value == 1


def _line(value: object) -> str:
    """A text from a file as one short line."""
    if value is None or value != value:
        return ""
    return "".join(c if c.isprintable() else " " for c in str(value)).strip()[:_LONGEST_NAME]
