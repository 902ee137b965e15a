"""Taking a read weather year into a document: the year as an asset, what it was and how it was mended beside it."""

import dataclasses
from math import asin, cos, radians, sin, sqrt
from pathlib import Path

from studio.design.design import Document
from studio.design.site import FileWeather, Site
from studio.engine.sky.kept_year import pack_weather
from studio.files.site import used_assets
from studio.files.weather import WeatherRead, read_weather
from studio.files.weather_records import Place
from studio.keep import fingerprint
from studio.text import _

NEAR_KM = 50.0
"""Within this a year counts as the site's own and nothing is said about its place."""
_EARTH_KM = 6371.0
_LONGEST_TEXT = 200


def with_weather(document: Document, read: WeatherRead, *, name: str) -> Document:
    """The document with a read year in place of its weather. Assets that no design uses any more are dropped."""
    data = pack_weather(read.year)
    weather = FileWeather(
        asset=fingerprint(data),
        origin=_line(", ".join(filter(None, (name, read.source, read.place.name)))),
        repairs=tuple(_line(repair) for repair in read.repairs),
    )
    site = dataclasses.replace(document.design.site, weather=weather)
    design = dataclasses.replace(document.design, site=site)
    assets = {**dict(document.assets), weather.asset: data}
    taken = dataclasses.replace(document, design=design, assets=tuple(sorted(assets.items())))
    return dataclasses.replace(taken, assets=used_assets(taken))


def with_weather_file(document: Document, path: Path, *, repair: frozenset[str] = frozenset()) -> Document:
    """The document with the year of a public weather file, set on the site by solar time.

    Raises FaultyFileError, BadInputError or KeepingError with what is wrong with the file.
    """
    read = read_for_site(path, document.design.site, repair=repair)
    return with_weather(document, read, name=path.name)


def read_for_site(path: Path, site: Site, *, repair: frozenset[str] = frozenset()) -> WeatherRead:
    """The year of a weather file on the clock of a site, noon at noon.

    A year of another longitude is set on the site by solar time: its light would else come while the site's sun
    stands elsewhere. ``repairs`` says so when the place is farther than ``NEAR_KM``.
    """
    read = read_weather(path, utc_offset_h=site.utc_offset_h, repair=repair)
    clock = solar_clock(site, longitude_deg=read.place.longitude_deg)
    if clock == site.utc_offset_h and _apart_km(site, read.place) <= NEAR_KM:
        return read
    if clock != site.utc_offset_h:
        read = read_weather(path, utc_offset_h=clock, repair=repair)
    if _apart_km(site, read.place) <= NEAR_KM:
        return read
    said = _("The year is of a place {place}; it was set on this site by solar time.").format(
        place=_told(read.place)
    )
    return dataclasses.replace(read, repairs=(*read.repairs, said))


def solar_clock(site: Site, *, longitude_deg: float) -> float:
    """Clock (h ahead of UTC) on which the sun over ``longitude_deg`` stands as over the site on the site's own clock.

    The sun passes 15 degrees an hour; the answer lies from -12 to 14 as clocks do.
    """
    east = (site.longitude_deg - longitude_deg + 180.0) % 360.0 - 180.0
    clock = site.utc_offset_h - east / 15.0
    if clock < -12.0:
        return clock + 24.0
    return clock - 24.0 if clock > 14.0 else clock


def _apart_km(site: Site, place: Place) -> float:
    """Great-circle distance, haversine formula."""
    here, there = radians(site.latitude_deg), radians(place.latitude_deg)
    east = radians(place.longitude_deg - site.longitude_deg)
    half = sin((there - here) / 2) ** 2 + cos(here) * cos(there) * sin(east / 2) ** 2
    return 2 * _EARTH_KM * asin(min(1.0, sqrt(half)))


def _told(place: Place) -> str:
    north = _("N") if place.latitude_deg >= 0 else _("S")
    east = _("E") if place.longitude_deg >= 0 else _("W")
    return f"{abs(place.latitude_deg):.1f} {north} {abs(place.longitude_deg):.1f} {east}"


def _line(text: str) -> str:
    """A text from a file as one line of the document."""
    return "".join(c if c.isprintable() else " " for c in text)[:_LONGEST_TEXT]
