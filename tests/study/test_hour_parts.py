"""Three suns stand for an hour: where they stand is pvlib's sun, and a year of twelve an hour brings the same light."""

from collections.abc import Mapping
from functools import cache

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from pvlib import solarposition

from studio.design.design import Document
from studio.design.site import Site
from studio.engine.sky.sun import direction_from, direction_from_equatorial, part_suns
from studio.study import sky as sky_stage
from studio.study.cache import Cache
from studio.study.optics import optics_of, table_covering
from studio.study.place import place_lines
from studio.study.reaching import reaching_of
from studio.study.sky import HOUR_PARTS, Sky, sky_of
from tests.study.test_uneven_shade import LINES, document

FINE = 12
PLACES: Mapping[str, Site] = {
    "35 N": Site(latitude_deg=35.0, longitude_deg=-116.8, utc_offset_h=-8.0, altitude_m=600.0),
    "equator": Site(latitude_deg=0.0, longitude_deg=32.5, utc_offset_h=3.0, altitude_m=1200.0),
    "60 S": Site(latitude_deg=-60.0, longitude_deg=10.0, utc_offset_h=1.0, altitude_m=0.0),
}


@pytest.mark.parametrize("name", PLACES)
def test_the_parts_suns_are_pvlibs(name: str) -> None:
    """SPA (Reda & Andreas, NREL/TP-560-34302) by pvlib at the middle of every part, within a hundredth of a degree."""
    site = PLACES[name]
    sky = sky_of(site, lambda _key: None, Cache())
    hours = sky.hours
    aside = (np.arange(HOUR_PARTS) + 0.5) / HOUR_PARTS - 0.5
    moments = (hours.moment_h[sky.hour, None] + hours.sunlit_h[sky.hour, None] * aside).ravel()
    start = pd.Timestamp("2025-01-01", tz="UTC") - pd.Timedelta(hours=site.utc_offset_h)
    found = solarposition.get_solarposition(
        start + pd.to_timedelta(moments * 3600.0, unit="s"),
        site.latitude_deg,
        site.longitude_deg,
        altitude=site.altitude_m,
        pressure=_pressure(site.altitude_m),
        temperature=12.0,
        method="nrel_numpy",
    )
    wanted = direction_from(found["apparent_elevation"].to_numpy(), found["azimuth"].to_numpy())
    off = np.degrees(np.linalg.norm(sky.part_suns - wanted, axis=1))
    assert off.max() < 0.01
    one_an_hour = np.degrees(np.linalg.norm(np.repeat(sky.suns, HOUR_PARTS, axis=0) - wanted, axis=1))
    assert one_an_hour.max() > 3.0


def _pressure(altitude_m: float) -> float:
    """ICAO standard atmosphere (Doc 7488): 101325 Pa x (1 - 2.25577e-5 h)^5.25588."""
    return float(101325.0 * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588)


@cache
def year(name: str, parts: int) -> float:
    """Light that a bare film would bring in the year to a line of one of ``LINES``, Wh/m2, so many suns an hour."""
    doc = document(*LINES[name])
    cache_ = Cache()
    sky = sky_of(doc.design.site, doc.asset, cache_)
    return float(_accepted(doc, sky, parts, cache_) @ np.repeat(sky.dni, parts)) / parts


def _accepted(doc: Document, sky: Sky, parts: int, cache_: Cache) -> NDArray[np.float64]:
    site, line = doc.design.site, place_lines(doc.design)[0]
    declination, hour_angle = part_suns(
        sky.hours, sky.hour, parts, latitude_deg=site.latitude_deg, altitude_m=site.altitude_m
    )
    suns = direction_from_equatorial(declination.ravel(), hour_angle.ravel(), latitude_deg=site.latitude_deg)
    seen = suns @ line.axes.T
    return table_covering(doc.design, line, seen, cache_).at(seen).accepted * np.maximum(seen[:, 2], 0.0)


@pytest.mark.parametrize("name", ["east-west", "30 degrees", "north-south"])
def test_three_suns_an_hour_bring_the_light_of_twelve(name: str) -> None:
    fine = year(name, FINE)
    assert year(name, HOUR_PARTS) == pytest.approx(fine, rel=2.5e-4)


def test_one_sun_an_hour_would_not_do() -> None:
    """The comparison can fail."""
    assert year("north-south", 1) != pytest.approx(year("north-south", FINE), rel=2.5e-3)


def test_the_year_is_summed_over_those_parts(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the study sums up is the light of its parts, and of other parts where it is told to take those."""
    doc = document(*LINES["north-south"])
    for parts in (HOUR_PARTS, 1):
        monkeypatch.setattr(sky_stage, "HOUR_PARTS", parts)
        cache_ = Cache()
        sky = sky_of(doc.design.site, doc.asset, cache_)
        optics = optics_of(doc.design, place_lines(doc.design)[0], sky, cache_)
        reaching = reaching_of(sky, optics)
        assert reaching.accepted.sum() == pytest.approx(year("north-south", parts), rel=1e-6)
        assert reaching.leaning.sum() == pytest.approx(reaching.on_aperture.sum(), rel=1e-9)
