"""The plot with its no-build areas, lines, headers and store as GeoJSON (degrees) and as DXF (metres, layers by name)."""

import io
import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from studio.design.design import Design
from studio.drawings.on_earth import Array, degrees_of_site
from studio.edits.geometry import first_vertex, last_vertex
from studio.edits.places import in_ranges
from studio.errors import BadInputError
from studio.papers.together import write_together
from studio.text import _

GEOJSON_NAME, DXF_NAME = "plot.geojson", "plot.dxf"
PLOT, NO_BUILD, LINE, HOT, COLD, STORE, CONTROL, NOTE = (
    "PLOT", "NO_BUILD", "LINES", "HEADER_HOT", "HEADER_COLD", "STORE", "CONTROL_100MM", "NOTES",
)  # fmt: skip
"""What a thing is, and the layer of the DXF that it stands on."""
_COLOURS = {PLOT: 7, NO_BUILD: 1, LINE: 5, HOT: 30, COLD: 140, STORE: 3, CONTROL: 8, NOTE: 8}
_DIGITS_DEG = 9
"""A billionth of a degree is a tenth of a millimetre."""
_METRES = 6
_ROUND = 72


@dataclass(frozen=True, eq=False)
class Thing:
    """One thing of the plan: what it is, its name, its places (n, 2) in site metres, an area or a line, more to say."""

    kind: str
    name: str
    places: Array
    area: bool
    more: dict[str, Any]


def things_of(design: Design) -> Iterator[Thing]:
    """What leaves of a design; lines run from the first mirror's vertex to the last."""
    if design.plot.boundary:
        setback = {"setback_m": design.plot.setback_m}
        yield Thing(PLOT, design.site.name, np.array(design.plot.boundary), True, setback)
    for area in design.plot.no_build:
        if area.ring:
            yield Thing(NO_BUILD, area.name, np.array(area.ring), True, {})
    for line in design.lines:
        ends = np.array([first_vertex(line), last_vertex(line, design.ground)])
        more: dict[str, Any] = {
            "line": line.id,
            "mirrors": line.mirrors,
            "spacing_m": line.spacing_m,
            "azimuth_deg": line.azimuth_deg,
        }
        if line.left_out:
            more["left_out"] = in_ranges(line.left_out)
        yield Thing(LINE, _("Line {number}").format(number=line.id), ends, False, more)
    for kind, name, route in (
        (HOT, _("supply header"), design.header.hot), (COLD, _("return header"), design.header.cold),
    ):  # fmt: skip
        if len(route) > 1:
            yield Thing(kind, name, np.array(route), False, {})
    if design.lines:
        store = design.store
        turn = np.linspace(0, 2 * np.pi, _ROUND, endpoint=False)
        circle = np.column_stack(
            (store.x_m + store.radius_m * np.cos(turn), store.y_m + store.radius_m * np.sin(turn))
        )
        yield Thing(STORE, _("store"), circle, True, {"radius_m": store.radius_m})


def geojson_of(design: Design) -> bytes:
    """The plot as GeoJSON by RFC 7946: WGS 84, longitude first, outlines anticlockwise, cut at the 180th meridian."""
    features = [
        {
            "type": "Feature",
            "properties": {"kind": thing.kind.lower(), "name": thing.name, **thing.more},
            "geometry": _geometry(thing, design),
        }
        for thing in _something(design)
    ]
    tree = {"type": "FeatureCollection", "features": features}
    return (json.dumps(tree, ensure_ascii=False, allow_nan=False) + "\n").encode("utf-8")


def _something(design: Design) -> list[Thing]:
    if not (things := list(things_of(design))):
        raise BadInputError(_("There is no boundary, no no-build area and no line that could be written."))
    return things


def _geometry(thing: Thing, design: Design) -> dict[str, Any]:
    degrees = degrees_of_site(
        thing.places, latitude_deg=design.site.latitude_deg, longitude_deg=design.site.longitude_deg
    )
    longitude = design.site.longitude_deg
    degrees[:, 0] = (
        longitude + (degrees[:, 0] - longitude + 180.0) % 360.0 - 180.0
    )  # in one piece about the site
    degrees = np.round(degrees, _DIGITS_DEG)
    shape = shapely.Polygon(degrees) if thing.area else shapely.LineString(degrees)
    tree = shapely.geometry.mapping(shapely.orient_polygons(_cut(shape)))
    return {"type": tree["type"], "coordinates": tree["coordinates"]}


def _cut(shape: BaseGeometry) -> BaseGeometry:
    """What runs over the 180th meridian, in pieces on both sides of it (RFC 7946, 3.1.9)."""
    west, _south, east, _north = shape.bounds
    if west >= -180.0 and east <= 180.0:
        return shape
    pieces = []
    for turn in (-360.0, 0.0, 360.0):
        moved = translate(shape, xoff=turn)
        inside = moved.intersection(shapely.box(-180.0, -90.0, 180.0, 90.0))
        pieces += [part for part in shapely.get_parts(inside) if part.length > 0]
    kind = shapely.MultiPolygon if shape.geom_type == "Polygon" else shapely.MultiLineString
    return kind(pieces) if len(pieces) > 1 else pieces[0]


def dxf_of(design: Design) -> bytes:
    """The plot as DXF (R2010) in metres of the site frame; the reference point stands in the notes."""
    from ezdxf.filemanagement import new

    things = _something(design)
    drawing = new("R2010")
    drawing.units = _METRES
    for layer, colour in _COLOURS.items():
        drawing.layers.add(layer, color=colour)
    space = drawing.modelspace()
    for thing in things:
        on = {"layer": thing.kind}
        corners = [(float(x), float(y)) for x, y in thing.places]
        if thing.kind == STORE:
            space.add_circle((design.store.x_m, design.store.y_m), design.store.radius_m, dxfattribs=on)
        else:
            space.add_lwpolyline(corners, close=thing.area, dxfattribs=on)
        middle = thing.places.mean(axis=0)
        space.add_text(_plain(thing.name), height=1.0, dxfattribs={"layer": NOTE}).set_placement(
            tuple(middle)
        )
    low = np.concatenate([thing.places for thing in things]).min(axis=0)
    x, y = float(low[0]), float(low[1]) - 5.0
    space.add_line((x, y), (x + 0.1, y), dxfattribs={"layer": CONTROL})
    for place, text in enumerate(_notes(design)):
        space.add_text(_plain(text), height=1.0, dxfattribs={"layer": NOTE}).set_placement(
            (x, y - 2.0 * (place + 1))
        )
    stream = io.StringIO()
    drawing.write(stream)
    return stream.getvalue().encode(drawing.output_encoding, errors="dxfreplace")


def _notes(design: Design) -> Sequence[str]:
    site = design.site
    return (
        _("{name}: metres, x east and y (true) north of the reference point").format(name=site.name),
        _("Reference point WGS 84: latitude {latitude:.7f}, longitude {longitude:.7f}").format(
            latitude=site.latitude_deg, longitude=site.longitude_deg
        ),
        _("The short line above is 100 mm long."),
    )


def _plain(text: str) -> str:
    """A text without control characters, which would end a line of a DXF, and without its own codes."""
    return "".join(c if c.isprintable() else " " for c in text).replace("%%", "% %")


def write_plot(design: Design, into: Path, *, overwrite: bool = False) -> tuple[Path, ...]:
    """Write ``plot.geojson`` and ``plot.dxf`` into a folder, both or none; their paths.

    Raises BadInputError where there is nothing to write, WriteError where it cannot be written.
    """
    contents = {GEOJSON_NAME: geojson_of(design), DXF_NAME: dxf_of(design)}
    return write_together(into, contents, overwrite=overwrite)
