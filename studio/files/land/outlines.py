"""Outlines of areas: polygons, lines closed, lines that meet, points in order; crossings mended or refused."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from studio.files.land.found import Array, Doubt
from studio.files.land.shapes import Shape
from studio.text import _, number, plural

MOST_CROSSINGS = 2000
"""Crossings of one outline that are still looked at."""
_SAMPLE = 60
_MOST_LOST = 0.01
"""Share of an area that mending a crossing may take; more, and a person has to say which part is meant."""
_SLIVER = 1e-5
_GAP_SHARE = 0.1
"""Share of its length that a walked line may lack to come back to its beginning."""


@dataclass(frozen=True)
class Outline:
    """A polygon in the file's own numbers, with what was done to get it."""

    layer: str
    name: str
    feature: int
    part: int
    parts: int
    polygon: Polygon
    doubts: tuple[str, ...] = ()


def outlines_of(shapes: Sequence[Shape], *, points_too: bool) -> tuple[list[Outline], list[Doubt]]:
    """The areas that polygons, closed lines, lines that meet, and (with ``points_too``) bare points make."""
    found: list[Outline] = []
    doubts: list[Doubt] = []
    open_lines: dict[str, list[Shape]] = {}
    points: dict[str, list[Shape]] = {}
    for shape in shapes:
        polygons: list[Polygon] = []
        for piece in _pieces(shape.geometry):
            if isinstance(piece, Polygon):
                polygons.append(piece)
            elif piece.geom_type == "Point":
                points.setdefault(shape.layer, []).append(replace(shape, geometry=piece))
            elif piece.is_closed and shapely.get_num_coordinates(piece) > 3:
                polygons.append(Polygon(piece.coords))
            else:
                open_lines.setdefault(shape.layer, []).append(replace(shape, geometry=piece))
        for place, polygon in enumerate(polygons, 1):
            found.append(Outline(shape.layer, shape.name, shape.feature, place, len(polygons), polygon))
    for layer, lines in open_lines.items():
        more, told = _closed_lines(layer, lines)
        found += more
        doubts += told
    if points_too and not found:
        for layer, corners in points.items():
            if len(corners) >= 3:
                ring = Polygon([shape.geometry.coords[0] for shape in corners])
                told_points = _("Made of {count} points in their order.").format(count=len(corners))
                found.append(Outline(layer, corners[0].name, corners[0].feature, 1, 1, ring, (told_points,)))
    return found, doubts


def polygons_in(geometry: BaseGeometry) -> list[Polygon]:
    """The polygons of a geometry, whatever collections they are packed in."""
    return [piece for piece in _pieces(geometry) if isinstance(piece, Polygon)]


def _pieces(geometry: BaseGeometry) -> list[BaseGeometry]:
    """The polygons, lines and points of a geometry, whatever collections they are packed in."""
    flat: list[BaseGeometry] = []
    stack = [geometry]
    while stack:
        piece = stack.pop()
        if hasattr(piece, "geoms"):
            stack.extend(reversed(list(piece.geoms)))
        elif not piece.is_empty:
            flat.append(piece)
    return flat


def _closed_lines(layer: str, lines: list[Shape]) -> tuple[list[Outline], list[Doubt]]:
    """Areas of lines that meet end to end; a single line that nearly closes is closed."""
    if len(lines) == 1:
        line = lines[0].geometry
        gap = float(np.hypot(*(np.subtract(line.coords[0], line.coords[-1]))))
        if shapely.get_num_coordinates(line) > 2 and gap <= _GAP_SHARE * line.length:
            told = _("A line that does not quite come back to its beginning was closed.")
            return [Outline(layer, lines[0].name, lines[0].feature, 1, 1, Polygon(line.coords), (told,))], []
    met = [
        face for face in polygons_in(shapely.polygonize([shape.geometry for shape in lines])) if face.area > 0
    ]
    made = _("Made of lines that meet at their ends.")
    areas = [
        Outline(layer, "", lines[0].feature, place, len(met), Polygon(face.exterior), (made,))
        for place, face in enumerate(met, 1)
    ]
    ends = Counter(end for shape in lines for end in (shape.geometry.coords[0], shape.geometry.coords[-1]))
    loose = np.array([end for end, times in ends.items() if times == 1])
    if met or not len(loose):
        return areas, []
    gap, at = _nearest_gap(loose)
    told_open = plural(
        "In layer {{layer}} {count} line does not close an area",
        "In layer {{layer}} {count} lines do not close an area",
        len(lines),
    ).format(layer=layer)
    where = _("; the smallest gap is {gap:.4g} near {x:.7g}, {y:.7g}.").format(gap=gap, x=at[0], y=at[1])
    return areas, [Doubt(told_open + (where if gap < np.inf else "."))]


def _nearest_gap(loose: Array) -> tuple[float, Array]:
    """The smallest distance between two loose ends, and where it is."""
    best, at = np.inf, loose[0]
    few = loose[:500]
    for place, end in enumerate(few[:-1]):
        far = np.hypot(*(few[place + 1 :] - end).T)
        if far.min() < best:
            best, at = float(far.min()), end
    return best, at


def _short(figure: str) -> str:
    """A coordinate to the millionth, which is a tenth of a metre in degrees."""
    return f"{float(figure):.6f}".rstrip("0").rstrip(".")


def mended(polygon: Polygon) -> tuple[Polygon, str, str]:
    """A polygon that crosses itself, mended where that takes next to nothing; what was done; why it is refused."""
    if _crossings(polygon) > MOST_CROSSINGS:
        return polygon, "", _("Its edges cross in thousands of places, so no outline can be seen in it.")
    where = shapely.is_valid_reason(polygon)
    at = " ".join(_short(part) for part in where.partition("[")[2].rstrip("]").split())
    parts = [
        p
        for p in polygons_in(shapely.make_valid(polygon, method="structure", keep_collapsed=False))
        if p.area > 0
    ]
    if not parts:
        return polygon, "", _("Its corners lie in one line.")
    parts = sorted(map(_without_slivers, parts), key=lambda part: part.area, reverse=True)
    lost = 1.0 - parts[0].area / sum(part.area for part in parts)
    if lost > _MOST_LOST:
        return (
            polygon,
            "",
            _(
                "It crosses itself at {at}; the pieces make up {shares} of it, so say in the file which is meant."
            ).format(
                at=at, shares=", ".join(f"{part.area / sum(p.area for p in parts):.0%}" for part in parts[:4])
            ),
        )
    return (
        parts[0],
        _("It crosses or touches itself at {at}; that was mended, {lost} % of the area fell away.").format(
            at=at, lost=number(100 * lost, figures=2) if lost else "0"
        ),
        "",
    )


def _crossings(polygon: Polygon) -> float:
    """About how often edges of a polygon cross each other, from some of them."""
    pairs = []
    for ring in (polygon.exterior, *polygon.interiors):
        corners = shapely.get_coordinates(ring)
        pairs.append(np.stack((corners[:-1], corners[1:]), axis=1))
    edges = np.atleast_1d(np.asarray(shapely.linestrings(np.concatenate(pairs))))
    some = edges[:: max(1, len(edges) // _SAMPLE)]
    met = int(shapely.STRtree(edges).query(some, predicate="intersects").shape[1])
    return max(0.0, met / len(some) - 3.0) * len(edges) / 2  # each meets itself and its two neighbours


def _without_slivers(polygon: Polygon) -> Polygon:
    """Without the holes that a crossing leaves and that nobody drew."""
    holes = [ring for ring in polygon.interiors if Polygon(ring).area > _SLIVER * polygon.area]
    return Polygon(polygon.exterior, holes)
