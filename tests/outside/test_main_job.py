"""The main job against the outside: hours, shares of a following dish, ceilings, stagnation, cost."""

import dataclasses
from functools import cache
from importlib import resources
from itertools import pairwise
from math import radians, sin
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pvlib import atmosphere, clearsky, irradiance, solarposition
from pvlib.iotools import read_tmy2, read_tmy3

from studio.design.design import Document
from studio.design.site import FileWeather
from studio.engine.sky.kept_year import pack_weather, unpack_weather
from studio.engine.sky.year import WeatherYear
from studio.files.weather_taken import with_weather_file
from studio.keep import fingerprint
from studio.study.assessment import Assessment
from tests.outside.dryer import ASSESSOR, Floats, changed, example

# weather that pvlib carries: file; latitude, longitude, altitude, zone
PLACES = {
    "36 N, TMY3": ("723170TYA.CSV", 36.1, -79.95, 273.0, -5.0),
    "26 N, TMY2": ("12839.tm2", 25.8, -80.27, 2.0, -5.0),
    "55 N, TMY3": ("703165TY.csv", 55.317, -160.517, 7.0, -9.0),
}


def weather_path(name: str) -> Path:
    return Path(str(resources.files("pvlib") / "data" / name))


@cache
def at_place(place: str) -> Document:
    """The example's field, tilt = latitude, at a place with the weather that pvlib carries for it."""
    name, latitude, longitude, altitude, zone = PLACES[place]
    design = example().design
    site = dataclasses.replace(
        design.site, latitude_deg=latitude, longitude_deg=longitude, altitude_m=altitude, utc_offset_h=zone
    )
    mirror = dataclasses.replace(design.mirror, tilt_deg=latitude)
    return with_weather_file(changed(example(), site=site, mirror=mirror), weather_path(name))


@cache
def year_at(place: str) -> Assessment:
    return ASSESSOR.assess(at_place(place), calendar=False)


def figure(assessment: Assessment, key: str) -> float:
    value = assessment.figures[key]
    assert value is not None, key
    return value


def with_dni(document: Document, dni: Floats, *, latitude: float) -> Document:
    """The document at a latitude on the meridian of Greenwich, with invented hourly DNI; 20 °C, 2 m/s; tilt = latitude."""
    asset = pack_weather(WeatherYear(dni, np.full(8760, 20.0), np.full(8760, 2.0)))
    name = fingerprint(asset)
    site = dataclasses.replace(
        document.design.site,
        latitude_deg=latitude,
        longitude_deg=0.0,
        altitude_m=0.0,
        utc_offset_h=0.0,
        weather=FileWeather(asset=name, origin="Invented"),
    )
    mirror = dataclasses.replace(document.design.mirror, tilt_deg=latitude)
    return dataclasses.replace(changed(document, site=site, mirror=mirror), assets=((name, asset),))


def five_minutes() -> pd.DatetimeIndex:
    return pd.date_range("2025-01-01 00:02:30", periods=12 * 8760, freq="5min", tz="UTC")


def hourly(values: Floats) -> Floats:
    return np.asarray(values.reshape(8760, 12).mean(axis=1))


def after_cosine(assessment: Assessment) -> float:
    kwh = {step.key: abs(step.kwh) for step in assessment.staircase}
    return 1.0 - kwh["cosine"] / kwh["facing"]


# --- working hours and the share of a following dish ---


@pytest.mark.parametrize("place", PLACES)
def test_such_a_mirror_works_four_to_six_hours_about_noon(place: str) -> None:
    """Common practice, no source. Following motions, window 0.20 x 0.175 m at 0.95 f, stroke 1.1 m."""
    assert 4.0 <= figure(year_at(place), "working_hours_per_day") <= 6.0


@pytest.mark.parametrize("place", ["36 N, TMY3", "26 N, TMY2"])
def test_it_brings_about_a_third_of_a_following_dish(place: str) -> None:
    """Common practice, no source. The dish: the same aperture, two axes, no shade, no spill, the same film and absorber.

    A dish that spills some 5 % and stands shaded for some 3 % of its light would raise the share by a tenth of itself.
    """
    assert 0.28 <= figure(year_at(place), "dish_share") <= 0.42


def test_outlet_heat_is_well_below_what_geometry_alone_gives() -> None:
    """A model that says half the direct energy over a year at working heat is to be doubted (common practice, no source)."""
    for place in PLACES:
        assessment = year_at(place)
        share = figure(assessment, "annual_heat_kwh") / figure(assessment, "facing_sun_kwh")
        assert 0.03 < share < 0.30, place


@pytest.mark.parametrize("place", PLACES)
def test_the_sun_on_facing_mirrors_is_the_files_own_dni(place: str) -> None:
    """Read by pvlib.iotools again. A file's last hour may move to the year's first."""
    path = weather_path(PLACES[place][0])
    if path.suffix.lower() == ".tm2":
        data, _meta = read_tmy2(path)
        dni = data["DNI"]
    else:
        data, _meta = read_tmy3(path, coerce_year=2025, map_variables=True)
        dni = data["dni"]
    assert figure(year_at(place), "dni_kwh_m2") == pytest.approx(float(dni.sum()) / 1000.0, rel=1e-4)


@pytest.mark.parametrize("place", PLACES)
def test_light_after_cosine_against_pvlib_hour_by_hour(place: str) -> None:
    """Beam on the tilted plane, pvlib.irradiance.aoi, at five-minute suns under each hour's DNI (spread over its sunlit part).

    The sun at an hour's middle stands for the hour: up to 0.5 % too much.
    """
    _name, latitude, longitude, altitude, zone = PLACES[place]
    moments = five_minutes() - pd.Timedelta(hours=zone)
    sun = solarposition.get_solarposition(moments, latitude, longitude, altitude=altitude)
    up = sun["apparent_elevation"].to_numpy(dtype=float) > 0.0
    angle = irradiance.aoi(latitude, 180.0, sun["apparent_zenith"], sun["azimuth"]).to_numpy(dtype=float)
    beam = np.where(up, np.maximum(np.cos(np.radians(angle)), 0.0), 0.0).reshape(8760, 12).sum(axis=1)
    lit = up.reshape(8760, 12).sum(axis=1)
    document = at_place(place)
    weather = document.design.site.weather
    assert isinstance(weather, FileWeather)
    data = document.asset(weather.asset)
    assert data is not None
    dni = unpack_weather(data).dni_w_m2
    expected = float((dni * beam / np.maximum(lit, 1)).sum() / dni.sum())
    assert after_cosine(year_at(place)) == pytest.approx(expected, rel=0.005)


# --- ceilings ---


@cache
def under_constant_sun() -> Assessment:
    """Latitude 35, tilt = latitude, 900 W/m2 while the sun's middle stands above the level horizon."""
    sun = solarposition.get_solarposition(five_minutes(), 35.0, 0.0)
    dni = hourly(np.where(sun["elevation"].to_numpy(dtype=float) > 0.0, 900.0, 0.0))
    return ASSESSOR.assess(with_dni(example(), dni, latitude=35.0), calendar=False)


@cache
def under_clear_sky() -> Assessment:
    """Latitude 35, tilt = latitude, Ineichen & Perez (2002) with Linke turbidity 3 all year, at sea level."""
    sun = solarposition.get_solarposition(five_minutes(), 35.0, 0.0)
    zenith = sun["apparent_zenith"].to_numpy(dtype=float)
    airmass = atmosphere.get_absolute_airmass(atmosphere.get_relative_airmass(zenith))
    extra = irradiance.get_extra_radiation(five_minutes()).to_numpy(dtype=float)
    found = clearsky.ineichen(zenith, airmass, 3.0, altitude=0.0, dni_extra=extra)
    dni = hourly(np.nan_to_num(np.asarray(found["dni"])))
    return ASSESSOR.assess(with_dni(example(), dni, latitude=35.0), calendar=False)


def test_cosine_of_a_year_under_constant_sun() -> None:
    """0.6034: sum over 365 days of 2 cos(decl) sin(min(ws, 90 deg)) 12/pi over the hours of sun, tilt = latitude 35.

    cos i = cos(decl) cos(hour angle), Duffie & Beckman, Solar Engineering of Thermal Processes, eq. 1.6.2, with the
    declination of eq. 1.6.1.
    """
    day = np.arange(1, 366)
    declination = np.radians(23.45 * np.sin(np.radians(360.0 * (284 + day) / 365.0)))
    sunset = np.arccos(-np.tan(radians(35.0)) * np.tan(declination))
    fixed = 24 / np.pi * np.cos(declination) * np.sin(np.minimum(sunset, np.pi / 2))
    expected = float(fixed.sum() / (24 / np.pi * sunset).sum())
    assert expected == pytest.approx(0.6034, abs=1e-4)
    assert after_cosine(under_constant_sun()) == pytest.approx(expected, rel=0.005)


def test_no_fixed_mirror_passes_the_ceilings_of_geometry() -> None:
    """Strict: 0.603 of a following dish on constant DNI, 0.70 under a clear sky (both tilt = latitude, cosine alone).

    The first by Duffie & Beckman eq. 1.6.2; the second computed with pvlib's Ineichen & Perez clear sky, turbidity 3.
    """
    assert figure(under_constant_sun(), "dish_share") < 0.603
    assert after_cosine(under_clear_sky()) <= 0.70
    assert figure(under_clear_sky(), "dish_share") < 0.70
    for assessment in (under_constant_sun(), under_clear_sky()):
        assert figure(assessment, "optical_efficiency_year") < figure(assessment, "dish_share")


def test_direct_energy_of_a_clear_year() -> None:
    """3096 kWh/m2 at latitude 35, turbidity 3, sea level (computed with pvlib, Ineichen & Perez 2002)."""
    assert figure(under_clear_sky(), "dni_kwh_m2") == pytest.approx(3096.0, rel=0.01)


def test_the_share_within_the_working_hours_is_above_what_is_absorbed() -> None:
    """A mirror that took all beam within +-3 h of noon on a clear sky would have 0.529 of a dish's (cosine alone, pvlib):

    working hours of 4 to 6 with shade and spill must stay below that.
    """
    assert figure(under_clear_sky(), "dish_share") < 0.529


# --- heat ---


def test_stagnation_passes_300_degrees_with_black_paint() -> None:
    """Common practice, no source: a black-painted absorber at such a spot passes 300 degC."""
    receiver = dataclasses.replace(example().design.receiver, coating="black paint", glass="none")
    assessment = ASSESSOR.assess(changed(example(), receiver=receiver), calendar=False)
    mean, peak = figure(assessment, "stagnation_c"), figure(assessment, "stagnation_peak_c")
    assert 300.0 < mean < peak
    # radiation alone bounds it (Stefan-Boltzmann); paint of emittance 0.808, absorptance 0.966 when hot
    flux = 1000.0 * figure(assessment, "peak_flux_kw_m2")
    bound = (0.966 * flux / (0.808 * 5.670374419e-8) + 298.15**4) ** 0.25 - 273.15
    assert peak < bound


def test_no_spot_is_stronger_than_the_sun_itself() -> None:
    """Concentration stays below 1/sin^2(4.65 mrad) = 46 248 (Rabl; Winston); at DNI 1000 W/m2 a sun is 1 kW/m2.

    A paraboloid of this rim angle that caught all rays on the least disc would have the mean sin^2 r cos^2(r + s) / sin^2 s
    (Rabl 1976): slope errors leave far less.
    """
    peak = figure(year_at("36 N, TMY3"), "peak_flux_kw_m2")
    assert 50.0 < peak < 1.0 / sin(4.65e-3) ** 2


def test_the_share_turned_into_heat_falls_with_the_oils_temperature() -> None:
    """Monotone from cold to near 300 degC: the shape of the record of a fixed spherical mirror with a tracking absorber, 0.50

    cold and 0.30 near 300 degC (J. Solar Energy Eng. 104 (1982) 340, abstract). That record is of a steady state and of
    another receiver; here it is outlet heat of a year over its sun on facing mirrors, warm-ups, cloud and pipes included, so
    that it must lie below and fall farther.
    """
    document = at_place("36 N, TMY3")
    shares = []
    for inlet in (40.0, 90.0, 140.0, 190.0, 240.0):
        oil = dataclasses.replace(document.design.oil, inlet_c=inlet, outlet_c=inlet + 50.0)
        kwh = {
            step.key: abs(step.kwh)
            for step in ASSESSOR.assess(changed(document, oil=oil), calendar=False).staircase
        }
        shares.append(kwh["outlet"] / kwh["facing"])
        assert kwh["absorbed"] == pytest.approx(figure(year_at("36 N, TMY3"), "absorbed_kwh"), rel=1e-12)
    assert all(later < earlier for earlier, later in pairwise(shares))
    assert shares[0] < 0.50
    assert shares[-1] < 0.30
    assert 0.1 < shares[-1] / shares[0] < 0.30 / 0.50


# --- money ---


def test_heat_cost_recomputed_by_hand_from_the_figures() -> None:
    """Compound-interest factor tables of engineering economics: (A/P, 5 %, 15) = 0.09634."""
    document = example()
    money = document.design.money
    assert (money.interest, money.years, money.film_months) == (0.05, 15, 18)
    assessment = ASSESSOR.assess(document, calendar=False)
    capital = figure(assessment, "capital_cost")
    factor = 0.05 * 1.05**15 / (1.05**15 - 1.0)
    assert factor == pytest.approx(0.09634, abs=5e-6)
    price = figure(assessment, "film_m2") * 1.9
    renewals = sum(price / 1.05 ** (1.5 * number) for number in range(1, 10))  # at 1.5, 3 ... 13.5 years
    yearly = capital * factor + renewals * factor + capital * money.upkeep_share + money.other_yearly
    yearly += figure(assessment, "pump_yearly")
    assert figure(assessment, "capital_yearly") == pytest.approx(capital * factor, rel=1e-9)
    assert figure(assessment, "film_yearly") == pytest.approx(renewals * factor, rel=1e-9)
    assert figure(assessment, "yearly_cost") == pytest.approx(yearly, rel=1e-9)
    assert figure(assessment, "heat_cost_per_kwh") == pytest.approx(
        yearly / figure(assessment, "annual_heat_kwh"), rel=1e-9
    )
    known = sum(line.sum or 0.0 for block in assessment.materials for line in block.lines)
    assert capital == pytest.approx(known, rel=1e-9)
