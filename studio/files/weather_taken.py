"""Taking a read weather year into a document: the year as an asset, what it was and how it was mended beside it."""

import dataclasses
from pathlib import Path

from studio.design.design import Document
from studio.design.site import FileWeather
from studio.engine.sky.kept_year import pack_weather
from studio.files.weather import WeatherRead, read_weather
from studio.keep import fingerprint


def with_weather(document: Document, read: WeatherRead, *, name: str) -> Document:
    """The document with a read year in place of its weather. Assets that no design uses any more are dropped."""
    data = pack_weather(read.year)
    weather = FileWeather(
        asset=fingerprint(data),
        origin=f"{name}, {read.source}, {read.place.name}".rstrip(", ")[:200],
        repairs=tuple(repair[:200] for repair in read.repairs),
    )
    site = dataclasses.replace(document.design.site, weather=weather)
    design = dataclasses.replace(document.design, site=site)
    assets = {**dict(document.assets), weather.asset: data}
    return dataclasses.replace(document, design=design, assets=tuple(sorted(assets.items())))


def with_weather_file(document: Document, path: Path, *, repair: frozenset[str] = frozenset()) -> Document:
    """The document with the year of a public weather file, on the site's own clock.

    Raises FaultyFileError, BadInputError or KeepingError with what is wrong with the file.
    """
    read = read_weather(path, utc_offset_h=document.design.site.utc_offset_h, repair=repair)
    return with_weather(document, read, name=path.name)
