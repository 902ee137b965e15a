"""What both kinds of heights share: system, unit of height, zero, doubts about them."""

from dataclasses import replace

import numpy as np

from studio.design.design import Design
from studio.drawings.on_earth import FARTHEST_M
from studio.files.heights.found import Doubt, HeightsHow, Mend
from studio.files.heights.placing import Placing, told_offset
from studio.files.land.found import LOCAL, Array, How
from studio.files.land.systems import (
    Decided,
    decide,
    is_length_unit,
    length_unit,
    told_place,
)
from studio.text import _, number

_ALTITUDE_OFF_M = 60.0
_UNIT_WORDS = {
    "metre": "m", "meter": "m", "metres": "m", "meters": "m", "foot": "ft", "feet": "ft", "us survey foot": "us-ft",
    "us_survey_foot": "us-ft", "ussft": "us-ft", "international foot": "ft", "centimetre": "cm", "centimeter": "cm",
}  # fmt: skip


def site_of(design: Design) -> tuple[float, float]:
    """Latitude and longitude of the reference point."""
    return design.site.latitude_deg, design.site.longitude_deg


def decided_of(
    places: Array,
    *,
    spread: float,
    said: str,
    unit: str,
    kind: str,
    how: HeightsHow,
    near: tuple[float, float],
) -> tuple[Decided, list[Doubt]]:
    """The system of coordinates ``places`` (n, 2) with what is doubtful about it."""
    land = replace(how.land, near=how.land.near or near)
    if how.at is not None and not land.crs:
        land = replace(land, crs=LOCAL)
    decided = decide(places, spread=spread, said=said, unit=unit, kind=kind, how=land)
    doubts = [
        Doubt(
            doubt.sentence,
            tuple(Mend(mend.label, replace(how, land=_without_near(mend.how, how))) for mend in doubt.mends),
        )
        for doubt in decided.doubts
    ]
    return decided, doubts


def _without_near(land: How, how: HeightsHow) -> How:
    return replace(land, near=how.land.near)


def height_unit_of(said: str, wkt: str, decided: Decided, how: HeightsHow) -> tuple[float, list[Doubt]]:
    """Metres in the unit of the heights: as the person says, the file, its vertical system; else metres, with a doubt."""
    word = how.height_unit or _known_unit(said) or _vertical_unit(wkt)
    if word:
        return length_unit(word), []
    sentence = _("No unit of the heights is said; they were taken as metres.")
    wears = decided.found.unit
    if wears not in ("m", "metre", "°"):
        sentence = _(
            "No unit of the heights is said; they were taken as metres, though x and y are in {unit}."
        ).format(unit=wears)
    words = ["ft", "us-ft"]
    if wears not in ("m", "metre", "°", *words) and is_length_unit(wears):
        words.append(wears)
    mends = tuple(
        Mend(_("heights in {unit}").format(unit=one), replace(how, height_unit=one)) for one in words
    )
    return 1.0, [Doubt(sentence, mends)]


def _known_unit(word: str) -> str:
    word = word.strip()
    known = _UNIT_WORDS.get(word.casefold(), word)
    return known if is_length_unit(known) else ""


def _vertical_unit(wkt: str) -> str:
    """The unit of the vertical axis of a system that has one; empty: none."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    if not 0 < len(wkt) <= 20_000:
        return ""
    try:
        crs = CRS.from_user_input(wkt)
    except (CRSError, ValueError):
        return ""
    for axis in crs.axis_info:
        if axis.direction.lower() in ("up", "down"):
            return _known_unit(axis.unit_name)
    return ""


def placing_of(decided: Decided, how: HeightsHow, design: Design, south_west: Array) -> Placing:
    """Where the file's coordinates lie; ``south_west`` (2,) is the least x and y of it in its own metres."""
    shift = (0.0, 0.0)
    if decided.crs is None and how.at is not None:
        shift = (how.at[0] - float(south_west[0]), how.at[1] - float(south_west[1]))
    return Placing(decided, site_of(design), shift)


def place_mends(how: HeightsHow, size: Array, extent: tuple[float, float, float, float]) -> tuple[Mend, ...]:
    """How heights without a place on earth could be placed; ``size`` (2,) is how far they reach, m."""
    middle = np.array([(extent[0] + extent[2]) / 2, (extent[1] + extent[3]) / 2])
    corner = np.round(middle - size / 2, 1) + 0.0
    return (
        Mend(
            _("their middle on the plot's middle"),
            replace(how, at=(float(corner[0]), float(corner[1])), land=replace(how.land, crs=LOCAL)),
        ),
        Mend(_("their own x and y are the site's"), replace(how, land=replace(how.land, crs=LOCAL))),
    )


def off_site(middle: Array, world: tuple[float, float] | None, design: Design) -> str:
    """The sentence that says how far heights lie from the site, whose place is named."""
    where = f" ({told_place(*world)})" if world else ""
    return _("The heights lie {offset} of the site{where}; its reference point is {place}.").format(
        offset=told_offset(middle), where=where, place=told_place(*site_of(design))
    )


def is_far(middle: Array) -> bool:
    """Whether a place (2,) in site metres lies outside the site frame."""
    return not bool(np.isfinite(middle).all()) or float(np.abs(middle).max()) > 2 * FARTHEST_M


def altitude_doubt(height_m: float, design: Design) -> list[Doubt]:
    """A doubt where the site's altitude is far from the height at the reference point."""
    if abs(height_m - design.site.altitude_m) < _ALTITUDE_OFF_M:
        return []
    return [
        Doubt(
            _(
                "The site's altitude is {altitude} m, the heights say {height} m at the reference point."
            ).format(altitude=number(design.site.altitude_m, digits=0), height=number(height_m, digits=0))
        )
    ]
