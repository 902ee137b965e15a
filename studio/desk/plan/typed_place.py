"""A place as it is typed while drawing: length and azimuth, x and y, or both at once in one field.

In one field: '12.5 30' or '12.5, 30' are x and y; 'N 35 15 E 42.6', '125.5° 42.6' or '125-30-15 42.6' bearing and
distance; '33.5012 N 5.0021 W' latitude and longitude. What reads as one number is one number: '12,5', "5' 3\\"",
'3 - 2'; a minus that leans on its figure, '12.5 -30', begins the second of two.
"""

import re
from collections.abc import Sequence

from studio.design.site import Point, Site
from studio.desk.plan.inline import Figure, Figures
from studio.drawings.on_earth import site_of_degrees
from studio.edits.geometry import azimuth_between, direction, distance, moved
from studio.errors import BadInputError, StillfieldError
from studio.numbers_in import read_number
from studio.text import _

_LEG = re.compile(
    r"(?P<bearing>[NSns]\s*[\d.,°º'\u2032\u2019\"\u2033\u201d:\s-]+?[EWew]|\d+-\d+(?:-\d+(?:\.\d+)?)?"
    r"|\d+(?:[.,]\d+)?\s*[°º](?:\s*\d+(?:[.,]\d+)?\s*['\u2032\u2019](?:\s*\d+(?:[.,]\d+)?\s*[\"\u2033\u201d])?)?)"
    r"(?:\s*[,;]?\s+(?P<distance>\S.*)|\s*)"
)
_EARTH = re.compile(r"(?P<north>\d[^NSns]*[NSns])[\s,;]*(?P<east>\d[^EWew]*[EWew])")
_LEANING = re.compile(r"(?P<x>[^\s;]+?)(?:\s*[,;]\s*|\s+)(?P<y>[-\u2212][\d.,].*)")
_CAPITALS = "NS"


def place_figures(extra: Sequence[Figure] = ()) -> Figures:
    """Length, azimuth and place of a segment's end. A capital N or S begins a bearing, as deeds write them."""
    return Figures(
        [
            Figure("length", _("length"), "m", letters=_CAPITALS),
            Figure("azimuth", _("azimuth"), "°", digits=1, letters="NSns"),
            *extra,
            Figure("x", "x", "m", letters=_CAPITALS),
            Figure("y", "y", "m", letters=_CAPITALS),
        ]
    )


def first_figures() -> Figures:
    """The place of a first point: nothing to be seen until something is typed."""
    return Figures([Figure("x", "x", "m"), Figure("y", "y", "m")], shy=True)


def follow_place(figures: Figures, start: Point | None, end: Point) -> None:
    """Let the figures tell where the hand is."""
    figures.follow(x=end[0], y=end[1])
    if start is not None:
        figures.follow(length=distance(start, end), azimuth=azimuth_between(start, end))


def typed_place(figures: Figures, start: Point | None, hand: Point, site: Site) -> Point | None:
    """Where what was typed and the hand put the point; None where nothing was typed, or nothing that can be read yet."""
    if not any(figure.typed for figure in figures.members if figure.key in ("x", "y", "length", "azimuth")):
        return None
    try:
        return read_place(figures, start, hand, site)
    except StillfieldError:
        return None


def read_place(figures: Figures, start: Point | None, hand: Point, site: Site) -> Point:
    """Where what was typed and the hand put the point. Raises BadInputError for what cannot be read."""
    for figure in figures.members:
        both = _both(figure, start, hand, site) if figure.typed else None
        if both is not None:
            return both
    if figures["x"].typed or figures["y"].typed:
        x, y = (
            read_number(figures[key].typed, "m").value if figures[key].typed else hand[place]
            for place, key in enumerate(("x", "y"))
        )
        return x, y
    if start is None:
        return hand
    length, azimuth = (
        read_number(figures[key].typed, figures[key].unit).value if figures[key].typed else value
        for key, value in (("length", distance(start, hand)), ("azimuth", azimuth_between(start, hand)))
    )
    if not length > 0:
        raise BadInputError(_("A length above 0 m would be right."))
    return moved(start, direction(azimuth), length)


def _both(figure: Figure, start: Point | None, hand: Point, site: Site) -> Point | None:
    """The place that one field holds as a pair; None where it holds one number, or what is wrong with it."""
    text = figure.typed.strip()
    if _LEANING.fullmatch(text) is None and _one_number(text, figure.unit):
        return None
    from studio.files.land.corners import bearing_of, place_on_earth  # it knows coordinate systems too

    earth = _EARTH.fullmatch(text)
    if earth is not None:
        latitude, longitude = place_on_earth(earth["north"], earth["east"])
        ((x, y),) = site_of_degrees(
            [[longitude, latitude]], latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg
        )
        return float(x), float(y)
    leg = _LEG.fullmatch(text)
    if leg is not None and start is not None:
        length = read_number(leg["distance"], "m").value if leg["distance"] else distance(start, hand)
        if not length > 0:
            raise BadInputError(_("A length above 0 m would be right."))
        return moved(start, direction(bearing_of(leg["bearing"])), length)
    pair = _halves(text)
    if pair is None:
        return None
    if figure.key == "azimuth" and start is not None:
        return moved(start, direction(read_number(pair[0], "°").value), read_number(pair[1], "m").value)
    return read_number(pair[0], "m").value, read_number(pair[1], "m").value


def _one_number(text: str, unit: str) -> bool:
    try:
        read_number(text, unit)
    except StillfieldError:
        return False
    return True


def _halves(text: str) -> tuple[str, str] | None:
    """The two numbers of a pair, set apart by a semicolon, by a comma with a blank, by one blank, or by the one comma."""
    leaning = _LEANING.fullmatch(text)
    if leaning is not None and all(_one_number(part, "m") for part in leaning.groups()):
        return leaning["x"], leaning["y"]
    for sign in (r"\s*;\s*", r",\s+", r"\s+", r","):
        parts = re.split(sign, text)
        if len(parts) == 2 and all(_one_number(part, "m") for part in parts):
            return parts[0], parts[1]
    return None
