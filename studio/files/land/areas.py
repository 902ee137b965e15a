"""Areas of a file with their measures: on the ellipsoid where the land lies somewhere, else plane; and what is odd."""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from math import ceil
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import Polygon

from studio.design.rules import MOST_IN_A_LIST
from studio.drawings.on_earth import FARTHEST_M, site_of_degrees
from studio.errors import FaultyFileError
from studio.files.land.found import AreaFound, Array
from studio.files.land.outlines import Outline, mended, polygons_in
from studio.files.land.simplify import fewer_corners
from studio.files.land.systems import Decided, degrees_of, told_place
from studio.text import _, number

if TYPE_CHECKING:
    from pyproj import Geod

MOST_AREAS, MOST_CORNERS = 2000, 10_000
"""Areas of a file, and corners of one area, that are still looked at."""
LEAST_M2, SMALL_M2 = 1.0, 50.0
_SAME_M = 0.001


def areas_of(outlines: Sequence[Outline], decided: Decided) -> tuple[AreaFound, ...]:
    """The areas with their measures, numbered from 1 in the order of the file."""
    whole = _joined(outlines, decided)
    if len(whole) > MOST_AREAS:
        raise FaultyFileError(
            _(
                "The file holds {count} areas; cut the plot and its surroundings, at most {most}, out of it."
            ).format(count=len(whole), most=MOST_AREAS)
        )
    areas = [_area(number, one, decided) for number, one in enumerate(whole, 1)]
    return tuple(_told_doubles(areas))


def _joined(outlines: Sequence[Outline], decided: Decided) -> list[Outline]:
    """Where degrees run over the 180th meridian, the pieces of a feature on both sides are put together."""
    if decided.crs is None or not decided.crs.is_geographic:
        return list(outlines)
    joined: list[Outline] = []
    of_feature: dict[int, list[Outline]] = {}
    for one in outlines:
        of_feature.setdefault(one.feature, []).append(one)
    for pieces in of_feature.values():
        column = 1 if decided.swap else 0
        east = np.concatenate([shapely.get_coordinates(one.polygon)[:, column] for one in pieces])
        if not (east.max() > 170 and east.min() < -170) or ((east > -170) & (east < 170)).any():
            joined += pieces
            continue
        turned = [_eastward(one.polygon, column) for one in pieces]
        whole = shapely.union_all(turned)
        told = (*pieces[0].doubts, _("It crosses the 180th meridian and was put together there."))
        parts = polygons_in(whole)
        joined += [
            replace(pieces[0], polygon=part, part=place, parts=len(parts), doubts=told)
            for place, part in enumerate(parts, 1)
        ]
    return joined


def _eastward(polygon: Polygon, column: int) -> Polygon:
    """The polygon with all its longitudes from 0 to 360 degrees."""

    def turned(points: Array) -> Array:
        turned = points.copy()
        turned[:, column] %= 360.0
        return turned

    return shapely.transform(polygon, turned)


def _area(place: int, one: Outline, decided: Decided) -> AreaFound:
    called = one.name or _("area {number}").format(number=place)
    if one.parts > 1:
        called = _("{name}, part {part} of {parts}").format(name=called, part=one.part, parts=one.parts)
    raw = shapely.get_coordinates(one.polygon)
    doubts, refused = list(one.doubts), ""
    polygon = one.polygon
    if not np.isfinite(raw).all():
        refused = _("A corner of it is no number.")
        polygon = Polygon()
    elif len(raw) > MOST_CORNERS:
        refused = _("It has {count} corners; simplify it to {most} or fewer first.").format(
            count=len(raw), most=MOST_CORNERS
        )
        polygon = Polygon()
    elif not polygon.is_valid:
        polygon, told, refused = mended(polygon)
        doubts.append(told)
    rings = _rings(polygon, decided)
    if not refused and (not rings or not all(np.isfinite(ring).all() for ring in rings)):
        refused = _("Its corners lie outside what the coordinate system can map.")
    if refused:
        whole = rings if rings and np.isfinite(rings[0]).all() else (np.zeros((0, 2)),)
        return AreaFound(
            place, called, one.layer, one.feature, one.part, one.parts, whole, 0.0, 0.0, 0.0, None,
            tuple(filter(None, doubts)), refused,
        )  # fmt: skip
    if decided.crs is None:
        middle = None
        area_m2 = float(Polygon(rings[0], rings[1:]).area)
        width, depth = (float(part) for part in np.ptp(rings[0], axis=0))
    else:
        middle = _middle(rings[0])
        area_m2 = geodesic_area(rings)
        width, depth = _reach(rings[0])
    more, refused = _doubtful(rings, area_m2, max(width, depth), middle)
    return AreaFound(
        place, called, one.layer, one.feature, one.part, one.parts, rings, area_m2, width, depth, middle,
        (*doubts, *more), refused,
    )  # fmt: skip


def _reach(ring: Array) -> tuple[float, float]:
    """Metres from west to east and from south to north, through the middle of what the ring spans."""
    (west, south), (east, north) = ring.min(axis=0), ring.max(axis=0)
    longitude, latitude = (west + east) / 2, (south + north) / 2
    half = _earth().inv(west, latitude, longitude, latitude)[
        2
    ]  # halves: the whole may go round the other way
    return 2 * float(half), float(_earth().inv(longitude, south, longitude, north)[2])


def _rings(polygon: Polygon, decided: Decided) -> tuple[Array, ...]:
    """Outline and holes, not closed, no corner twice: degrees of WGS 84, or metres."""
    if polygon.is_empty:
        return ()
    rings = []
    for ring in (polygon.exterior, *polygon.interiors):
        points: Array = shapely.get_coordinates(ring)[:-1]
        if decided.swap:
            points = points[:, ::-1]
        points = points * decided.scale
        near = _SAME_M
        if decided.crs is not None:
            points = degrees_of(points, decided.crs)
            near = _SAME_M / 111_000
        apart = np.abs(points - np.roll(points, 1, axis=0)).max(axis=1) > near
        rings.append(points[apart] if apart.sum() >= 3 else points)
    return tuple(ring for place, ring in enumerate(rings) if len(ring) >= 3 or place == 0)


def _middle(ring: Array) -> tuple[float, float]:
    """Latitude and longitude of the middle of what the ring spans, to a millionth of a degree."""
    longitude, latitude = (ring.min(axis=0) + ring.max(axis=0)) / 2
    return round(float(latitude), 6), round(float((longitude + 180.0) % 360.0 - 180.0), 6)


def geodesic_area(rings: Sequence[Array]) -> float:
    """Area (m2) on the WGS 84 ellipsoid of an outline without its holes; rings (n, 2) are longitudes and latitudes.

    By the series of Karney, Algorithms for geodesics, J. Geodesy 87, 2013, as pyproj.Geod carries it.
    """
    sizes = [abs(_earth().polygon_area_perimeter(ring[:, 0], ring[:, 1])[0]) for ring in rings]
    return float(sizes[0] - sum(sizes[1:]))


@lru_cache(maxsize=1)
def _earth() -> "Geod":
    from pyproj import Geod

    return Geod(ellps="WGS84")


def _doubtful(
    rings: tuple[Array, ...],
    area_m2: float,
    reach: float,
    middle: tuple[float, float] | None,
) -> tuple[list[str], str]:
    """What is odd about the size of an area, and why it cannot be taken."""
    told: list[str] = []
    if len(rings[0]) < 3 or area_m2 < LEAST_M2:
        small = (
            _("{mm2} mm2").format(mm2=number(area_m2 * 1e6))
            if area_m2 < 0.01
            else _("{m2} m2").format(m2=number(area_m2))
        )
        return told, _("It has only {small}; are its numbers degrees or kilometres taken for metres?").format(
            small=small
        )
    if reach > 2 * FARTHEST_M:
        return told, _("It reaches over {km} km and has {km2} km2; a plot has at most {most} km.").format(
            km=number(reach / 1000), km2=number(area_m2 / 1e6), most=ceil(2 * FARTHEST_M / 1000)
        )
    if middle is not None and abs(middle[0]) > 66.0:
        return told, _("It lies at {place}; a site lies between 66° south and 66° north.").format(
            place=told_place(*middle)
        )
    if area_m2 < SMALL_M2:
        told.append(_("It has only {m2} m2.").format(m2=number(area_m2)))
    many = [ring for ring in rings if len(ring) > MOST_IN_A_LIST]
    if many:
        shifts = [fewer_corners(_in_metres(ring, middle))[1] for ring in many]
        told.append(
            _("It has {count} corners; {most} are kept, which shifts none by more than {shift} m.").format(
                count=sum(map(len, many)), most=MOST_IN_A_LIST, shift=number(max(shifts), figures=2)
            )
        )
    return told, ""


def _in_metres(ring: Array, middle: tuple[float, float] | None) -> Array:
    return ring if middle is None else site_of_degrees(ring, latitude_deg=middle[0], longitude_deg=middle[1])


def _told_doubles(areas: list[AreaFound]) -> list[AreaFound]:
    """Say of an area that it stands in the file before, corner for corner."""
    seen: dict[bytes, int] = {}
    told = []
    for area in areas:
        ring = area.rings[0]
        if len(ring):
            first = int(np.lexsort(np.round(ring, 7).T)[0])
            turned = np.roll(ring, -first, axis=0)
            turned = turned if _turns_left(turned) else np.roll(turned[::-1], 1, axis=0)
            key = np.round(turned, 7).tobytes()
            before = seen.setdefault(key, area.number)
            if before != area.number:
                again = _("It is area {number} once more.").format(number=before)
                area = replace(area, doubts=(*area.doubts, again))
        told.append(area)
    return told


def _turns_left(ring: Array) -> bool:
    return bool(shapely.LinearRing(ring).is_ccw)
