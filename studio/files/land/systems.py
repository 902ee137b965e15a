"""The coordinate system of a land file: as it says, as a person says, or guessed; and the guess told.

Degrees and metres are told apart by the size of the numbers and by how far they spread: a plot spreads over metres by
tens to thousands, over degrees by hundredths.
"""

import re
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, NoReturn

import numpy as np

from studio.errors import BadInputError
from studio.files.land.found import LOCAL, Array, Doubt, How, Mend, SystemFound
from studio.numbers_in import LENGTHS_M
from studio.text import _

if TYPE_CHECKING:
    from pyproj import CRS, Transformer

WGS84 = "EPSG:4326"
_WIDEST_DEGREES = 0.5
"""A plot spreads over less in degrees, over more in metres."""
_LOCAL_M = 100_000.0
"""Plain lengths about a point of the land stay below; coordinates of a country do not."""
_LONGEST = 20_000
_SAME_PLACE_DEG = 1.0
"""How near a guess must lie to where the land should be."""
_WIDEST_PLOT_DEG = 3.0
"""Read as degrees, more than this is no plot."""
_OFFERED = 8

UNITS_M = {**LENGTHS_M, "us-ft": 1200 / 3937}
"""Units of plain lengths in metres; the US survey foot by its definition, 1200/3937 m."""

_TIMES = re.compile(r"(?P<times>\d{1,6}(?:\.\d{1,6})?)?\s*(?P<unit>[^\s\d]{1,12})")

_NATIONAL = (
    2154, 27700, 29902, 2157, 28992, 31370, 3812, 2056, 21781, 31287, 31254, 31255, 31256, 31466, 31467, 31468, 25832,
    2180, 5514, 3763, 2100, 3003, 3004, 6707, 6708, 3067, 3006, 3301, 3346, 3059, 25884, 3765, 3794, 3844, 7801, 23700,
    3035, 2039, 2193, 3400, 2048, 2326, 3414, 5179, 3826, 6362, 5641, 9377, 3116, 5345, 3111, 3577, 3005, 3347, 5070,
    3857,
)  # fmt: skip
"""EPSG codes of mapping systems in wide use, tried where nothing is known of the place."""


@dataclass(frozen=True)
class Decided:
    """What coordinates mean: the system (None: plain lengths, in ``scale`` metres), whether pairs stand north first."""

    found: SystemFound
    crs: "CRS | None"
    scale: float
    swap: bool
    doubts: tuple[Doubt, ...]


def crs_of(text: str) -> "CRS":
    """The coordinate system that pyproj knows by this text; BadInputError in one sentence."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    if len(text) > _LONGEST or not text.strip():
        _unknown(text)
    try:
        crs = CRS.from_user_input(text.strip()).to_2d()
    except (CRSError, ValueError, OverflowError):
        _unknown(text)
    if not (crs.is_geographic or crs.is_projected):
        _unknown(text)
    return crs


def _unknown(text: str) -> NoReturn:
    shown = "".join(c if c.isprintable() else " " for c in text)[:40]
    raise BadInputError(
        _(
            "'{found}' is no coordinate system of a map that is known here; 'EPSG:2154' or '{local}' would do."
        ).format(found=shown, local=LOCAL)
    )


def degrees_of(points: Array, crs: "CRS") -> Array:
    """Longitude and latitude (n, 2) in degrees of WGS 84; inf where there is none."""
    x, y = _to_degrees(crs).transform(points[:, 0], points[:, 1])
    return np.column_stack((x, y))


def places_of(degrees: Array, crs: "CRS") -> Array:
    """Coordinates (n, 2) in a system of longitude and latitude (n, 2) in degrees; the inverse of ``degrees_of``."""
    x, y = _to_degrees(crs).transform(degrees[:, 0], degrees[:, 1], direction="INVERSE")
    return np.column_stack((x, y))


@lru_cache(maxsize=512)
def _to_degrees(crs: "CRS") -> "Transformer":
    from pyproj import Transformer, network
    from pyproj.exceptions import ProjError

    network.set_network_enabled(
        active=False
    )  # nothing is fetched: the shift grids that are installed must do
    try:
        return Transformer.from_crs(crs, WGS84, always_xy=True)
    except ProjError:
        raise BadInputError(
            _("There is no known way from '{name}' to latitude and longitude.").format(name=crs.name[:60])
        ) from None


def decide(points: Array, *, spread: float, said: str, unit: str, kind: str, how: How) -> Decided:
    """What the coordinates ``points`` (n, 2) of a file mean.

    ``spread`` is how far one area typically reaches in the file's numbers, ``said`` the system and ``unit`` the unit of
    length that the file names (each may be empty).
    Raises BadInputError where what the person says cannot be.
    """
    if how.swap:
        points = points[:, ::-1]
    if how.crs.strip().casefold() == LOCAL:
        return _plain(points, spread, unit=unit, how=how, sure=True)
    if how.crs.strip():
        return _by_person(points, spread, crs_of(how.crs), unit=unit, how=how)
    if said:
        try:
            crs = crs_of(said)
        except BadInputError:
            told = Doubt(_("The file names a coordinate system that is no map's; it was set aside."))
            return _with(told, _unsaid(points, spread, unit=unit, how=how))
        return _by_file(points, spread, crs, unit=unit, kind=kind, how=how)
    return _unsaid(points, spread, unit=unit, how=how)


def length_unit(word: str) -> float:
    """Metres in a unit of length, or in a number of it ("50 ft"); BadInputError for a word that is none."""
    if (found := _unit_m(word)) is None:
        raise BadInputError(
            _(
                "'{found}' is no unit of length here; m, mm, cm, km, ft, us-ft, in, yd or a number of one (50 ft) would do."
            ).format(found=word[:20])
        )
    return found


def is_length_unit(word: str) -> bool:
    """Whether ``length_unit`` knows a word."""
    return _unit_m(word) is not None


def _unit_m(word: str) -> float | None:
    parts = _TIMES.fullmatch(word.strip())
    if parts is None:
        return None
    unit = UNITS_M.get(parts["unit"]) or UNITS_M.get(parts["unit"].casefold())
    times = float(parts["times"] or 1)
    return unit * times if unit is not None and times > 0 else None


def _with(doubt: Doubt, decided: Decided) -> Decided:
    return replace(decided, doubts=(doubt, *decided.doubts))


def _reach(points: Array) -> float:
    return float(np.abs(points).max())


def _are_degrees(points: Array) -> bool:
    return bool((np.abs(points[:, 0]) <= 360.0).all() and (np.abs(points[:, 1]) <= 90.0).all())


def _look_like_degrees(points: Array, spread: float) -> bool:
    return spread < _WIDEST_DEGREES and (_are_degrees(points) or _are_degrees(points[:, ::-1]))


def _named(
    crs: "CRS",
    how: How,
    *,
    said: bool,
    sure: bool,
    doubts: tuple[Doubt, ...],
    swap: bool = False,
    unit: str = "",
) -> Decided:
    axis = crs.axis_info[0]
    authority = crs.to_authority(min_confidence=70)
    code = ":".join(authority) if authority else crs.to_wkt()
    word = how.unit or unit
    scale = length_unit(word) / axis.unit_conversion_factor if word and crs.is_projected else 1.0
    wears = word or {"metre": "m"}.get(axis.unit_name, axis.unit_name)
    found = SystemFound(crs.name, code, "°" if crs.is_geographic else wears, said, sure)
    return Decided(found, crs, scale, how.swap or swap, doubts)


def _by_person(points: Array, spread: float, crs: "CRS", *, unit: str, how: How) -> Decided:
    if crs.is_geographic and not _are_degrees(points):
        raise BadInputError(
            _("The numbers reach {reach}, which degrees of {name} never do; name a system in metres.").format(
                reach=f"{_reach(points):,.0f}", name=crs.name
            )
        )
    if crs.is_projected and _look_like_degrees(points, spread):
        raise BadInputError(
            _("The numbers look like degrees, not like lengths of {name}; {wgs} would be right.").format(
                name=crs.name, wgs=WGS84
            )
        )
    named = _named(crs, how, said=True, sure=True, doubts=(), unit=unit)
    return replace(named, doubts=_outside(points * named.scale, crs))


def _outside(points: Array, crs: "CRS") -> tuple[Doubt, ...]:
    """A doubt where the land lies outside the part of the world that a system is made for."""
    area, (longitude, latitude) = crs.area_of_use, _middle_degrees(points, crs)
    if area is None or _within(area.bounds, longitude, latitude):
        return ()
    return (
        Doubt(
            _(
                "At {place} the land lies outside the area that {name} is made for: another system, or swapped axes?"
            ).format(place=told_place(latitude, longitude), name=crs.name)
        ),
    )


def _middle_degrees(points: Array, crs: "CRS") -> tuple[float, float]:
    middle = (points.min(axis=0) + points.max(axis=0))[None, :] / 2
    longitude, latitude = degrees_of(middle, crs)[0]
    return float(longitude), float(latitude)


def _within(bounds: tuple[float, float, float, float], longitude: float, latitude: float) -> bool:
    west, south, east, north = bounds
    beside = west <= longitude <= east if west <= east else longitude >= west or longitude <= east
    return beside and south <= latitude <= north


def told_place(latitude: float, longitude: float) -> str:
    """A place as people write it, to a ten-thousandth of a degree."""
    if not (np.isfinite(latitude) and np.isfinite(longitude)):
        return _("no place on earth")
    north, east = _("N") if latitude >= 0 else _("S"), _("E") if longitude >= 0 else _("W")
    return f"{abs(latitude):.4f} {north} {abs(longitude):.4f} {east}"


def _by_file(points: Array, spread: float, crs: "CRS", *, unit: str, kind: str, how: How) -> Decided:
    if crs.is_projected:
        if _look_like_degrees(points, spread):
            told = Doubt(
                _(
                    "The file says {name}, but its numbers are degrees: taken as longitude and latitude of WGS 84."
                ).format(name=crs.name),
                (Mend("WGS 84", replace(how, crs=WGS84)), Mend(crs.name, replace(how, crs=LOCAL))),
            )
            return _named(crs_of(WGS84), how, said=False, sure=False, doubts=(told,))
        return _named(crs, how, said=True, sure=True, doubts=_outside(points, crs))
    if _are_degrees(points):
        doubts: tuple[Doubt, ...] = ()
        if spread > _WIDEST_PLOT_DEG:
            doubts = (
                Doubt(
                    _("Read as degrees the land spreads over {spread:.0f}°: are these metres?").format(
                        spread=spread
                    ),
                    (Mend(_("plain metres"), replace(how, crs=LOCAL)),),
                ),
            )
        return _named(crs, how, said=True, sure=not doubts, doubts=doubts)
    if _are_degrees(points[:, ::-1]):
        told = Doubt(
            _(
                "Second numbers reach {reach:.0f}, which no latitude does: pairs stand latitude first and were swapped."
            ).format(reach=float(np.abs(points[:, 1]).max()))
        )
        return _named(crs, how, said=True, sure=True, doubts=(told,), swap=True)
    by = _("{kind} holds degrees").format(kind=kind) if kind != "Shapefile" else _("The file says degrees")
    told = Doubt(
        _("{by}, but its numbers reach {reach}: they are lengths, degrees are at most 180.").format(
            by=by, reach=f"{_reach(points):,.0f}"
        )
    )
    return _with(told, _unsaid(points, spread, unit=unit, how=how))


def _unsaid(points: Array, spread: float, *, unit: str, how: How) -> Decided:
    if _look_like_degrees(points, spread) and not (how.unit or unit):
        swap = not _are_degrees(points)
        other = Mend(_("the other way round"), replace(how, swap=not how.swap))
        told = Doubt(
            _(
                "No coordinate system is said; the numbers look like degrees: taken as {order} of WGS 84."
            ).format(order=_("latitude and longitude") if swap != how.swap else _("longitude and latitude")),
            (other, Mend(_("plain metres"), replace(how, crs=LOCAL))),
        )
        return _named(crs_of(WGS84), how, said=False, sure=True, doubts=(told,), swap=swap)
    metres = points * length_unit(how.unit or unit or "m")
    if _reach(metres) < _LOCAL_M:
        return _plain(points, spread, unit=unit, how=how, sure=True)
    return _guessed(points, metres, spread, unit=unit, how=how)


def _plain(points: Array, spread: float, *, unit: str, how: How, sure: bool) -> Decided:
    word = how.unit or unit
    scale = length_unit(word or "m")
    doubts = [
        Doubt(_("Plain lengths: where on earth the land lies is not said, so the site's place is kept."))
    ]
    if not word:
        mends = tuple(Mend(one, replace(how, unit=one)) for one in ("ft", "us-ft", "mm"))
        doubts.append(Doubt(_("No unit is said; the numbers were taken as metres."), mends))
    if not how.crs and _look_like_degrees(points, spread):
        doubts.append(
            Doubt(
                _("The numbers are small enough to be degrees."), (Mend("WGS 84", replace(how, crs=WGS84)),)
            )
        )
    found = SystemFound(_("plain lengths"), "", word or "m", bool(how.crs), sure)
    return Decided(found, None, scale, how.swap, tuple(doubts))


def _guessed(points: Array, metres: Array, spread: float, *, unit: str, how: How) -> Decided:
    """Lengths that are coordinates of some country: every system that would place them well is offered."""
    offered = (_candidates(metres, how.near) if how.near else []) or _candidates(metres, None)
    mends = tuple(Mend(f"{crs.name}, {place}", replace(how, crs=code)) for code, crs, place in offered)
    mends += (Mend(_("plain lengths"), replace(how, crs=LOCAL)),)
    if not offered:
        told = Doubt(
            _(
                "No coordinate system is said and the numbers reach {reach}; name the system (EPSG:326 and the zone for UTM north, EPSG:327 south)."
            ).format(reach=f"{_reach(metres):,.0f}"),
            mends,
        )
        return _with(told, _plain(points, spread, unit=unit, how=how, sure=False))
    code, crs, place = offered[0]
    told = Doubt(
        _(
            "No coordinate system is said. {name} ({code}) is guessed, which puts the land at {place}; say which it is."
        ).format(name=crs.name, code=code, place=place),
        mends,
    )
    decided = _named(crs, how, said=False, sure=False, doubts=(told,), unit=unit or "m")
    found = replace(decided.found, candidates=tuple(one for one, _crs, _place in offered))
    return replace(decided, found=found)


def _candidates(metres: Array, near: tuple[float, float] | None) -> list[tuple[str, "CRS", str]]:
    """Code, system and place of the systems that fit, the likeliest first: nearest to where the land should lie, else
    most in the middle of what the system is made for."""
    from pyproj import CRS

    ranked = []
    for code in _codes_about(near) if near else _NATIONAL:
        crs = CRS.from_epsg(code)
        area = crs.area_of_use
        try:
            longitude, latitude = _middle_degrees(metres / crs.axis_info[0].unit_conversion_factor, crs)
        except BadInputError:
            continue
        if area is None or not _within(area.bounds, longitude, latitude):
            continue
        if near is not None:
            off = max(abs(latitude - near[0]), abs((longitude - near[1] + 180) % 360 - 180))
            if off > _SAME_PLACE_DEG:
                continue
        else:
            west, south, east, north = area.bounds
            off = max(
                abs(2 * (longitude - west) / ((east - west) % 360 or 360) - 1),
                abs(2 * (latitude - south) / (north - south) - 1),
            ) + (code == _NATIONAL[-1])  # the web's map takes every place, so it comes last
        ranked.append((round(off, 6), code, crs, told_place(latitude, longitude)))
    ranked.sort(key=lambda one: one[:2])
    return [(f"EPSG:{code}", crs, place) for _off, code, crs, place in ranked[:_OFFERED]]


@lru_cache(maxsize=16)
def _codes_about(near: tuple[float, float]) -> tuple[int, ...]:
    from pyproj.aoi import AreaOfInterest
    from pyproj.database import query_crs_info
    from pyproj.enums import PJType

    latitude, longitude = near
    about = AreaOfInterest(longitude, latitude, longitude, latitude)
    found = query_crs_info("EPSG", PJType.PROJECTED_CRS, area_of_interest=about, contains=True)
    return tuple(int(one.code) for one in found if one.code.isdigit())
