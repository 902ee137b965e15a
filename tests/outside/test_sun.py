"""The sun against published tables, worked examples and closed forms."""

from datetime import UTC, date, datetime, time

import numpy as np
import pytest
from numpy.typing import NDArray

from studio.engine.sky.air import extraterrestrial_normal, relative_air_mass, standard_pressure_pa
from studio.engine.sky.clear import clear_dni, ineichen_dni
from studio.engine.sky.sun import (
    clock_suns,
    day_and_solar_hour_suns,
    direction_from,
    direction_from_equatorial,
    hour_suns,
    sun_track,
    sunrise_sunset,
)
from studio.engine.sky.year import clear_year

Floats = NDArray[np.float64]
ALL_DAYS = np.arange(1, 366)


def test_position_of_the_spa_report_example() -> None:
    """Reda & Andreas, Solar Position Algorithm, NREL/TP-560-34302 (rev. 2008), appendix A.5."""
    moment = datetime(2003, 10, 17, 19, 30, 30, tzinfo=UTC).timestamp()
    sun = sun_track(
        moment,
        latitude_deg=39.742476,
        longitude_deg=-105.1786,
        altitude_m=1830.14,
        pressure_pa=82000.0,
        air_c=11.0,
        delta_t_s=67.0,
    )
    assert 90.0 - float(sun.elevation_deg) == pytest.approx(50.11162, abs=1e-4)
    assert float(sun.azimuth_deg) == pytest.approx(194.34024, abs=1e-4)
    # refraction 0.016332 deg lifts the apparent place; the declination the report gives is -9.31434
    assert float(sun.declination_deg) == pytest.approx(-9.31434, abs=0.02)
    # equation of time 14.64 min: solar time = UTC + longitude / 15 + E
    wanted = 19 + 30.5 / 60 - 105.1786 / 15 + 14.64 / 60
    assert float(sun.solar_time_h) == pytest.approx(wanted, abs=0.01 / 60)


GOLDEN = (39.742476, -105.1786, -7.0)
SOUTH = (-35.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("place", "day", "rise", "noon", "fall"),
    [
        # NREL solar position calculator, Golden, Colorado, as quoted in pvlib's tests. The calculator counts days in
        # universal time, so that the sunset it gives for 2 August (19:13:58) is the evening of 1 August there.
        (GOLDEN, date(2015, 1, 2), time(7, 21, 55), time(12, 4, 45), time(16, 47, 43)),
        (GOLDEN, date(2015, 8, 2), time(5, 0, 27), time(12, 6, 58), None),
        (GOLDEN, date(2015, 8, 1), None, None, time(19, 13, 58)),
        # SPA report, sunrise and sunset example, as quoted in pvlib's tests
        (SOUTH, date(1996, 7, 5), time(7, 8, 15), time(12, 4, 36), time(17, 1, 4)),
        (SOUTH, date(2004, 12, 4), time(4, 38, 57), time(11, 50, 22), time(19, 2, 3)),
    ],
)
def test_sunrise_noon_and_sunset(
    place: tuple[float, float, float], day: date, rise: time | None, noon: time | None, fall: time | None
) -> None:
    """To 1.5 s: ours includes the sun's parallax (up to 0.9 s here), the report's rise and set do not."""
    latitude, longitude, offset = place
    # days of other years are counted from the nominal year's first
    number = (day - date(2025, 1, 1)).days + 1
    times = sunrise_sunset(number, latitude_deg=latitude, longitude_deg=longitude, utc_offset_h=offset)
    for found, wanted in zip(times, (rise, noon, fall), strict=True):
        if wanted is not None:
            seconds = wanted.hour * 3600 + wanted.minute * 60 + wanted.second
            assert float(found) * 3600 == pytest.approx(seconds, abs=1.5)


def test_solar_time_of_madison() -> None:
    """Duffie & Beckman, Solar Engineering of Thermal Processes, example 1.5.1."""
    sun = clock_suns(34, 10.5, latitude_deg=43.07, longitude_deg=-89.4, utc_offset_h=-6.0)
    assert float(sun.solar_time_h) == pytest.approx(10 + 19 / 60, abs=0.5 / 60)


def test_angle_of_incidence() -> None:
    """Duffie & Beckman, example 1.6.1: slope 45, facing 15 deg west of south."""
    sun = direction_from_equatorial(-14.0, -22.5, latitude_deg=43.0)
    normal = direction_from(45.0, 195.0)
    assert np.degrees(np.arccos(sun @ normal)) == pytest.approx(35.18, abs=0.01)


@pytest.mark.parametrize(
    ("declination", "hour_angle", "zenith", "azimuth"),
    [(-14.0, -37.5, 66.5, 140.0), (23.1, 97.5, 79.6, 292.0)],
)
def test_zenith_and_azimuth_quoted_from_memory(
    declination: float, hour_angle: float, zenith: float, azimuth: float
) -> None:
    """Duffie & Beckman, example 1.6.2 (the printed answers are from memory; eq. 1.6.5 and 1.6.6 give them too)."""
    east, north, up = direction_from_equatorial(declination, hour_angle, latitude_deg=43.0)
    assert np.degrees(np.arccos(up)) == pytest.approx(zenith, abs=0.2)
    assert np.degrees(np.arctan2(east, north)) % 360 == pytest.approx(azimuth, abs=0.2)


MEAN_DAYS = (17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344)
DAILY_H0 = (15.21, 20.54, 27.44, 34.63, 39.69, 41.76, 40.67, 36.53, 29.99, 22.53, 16.44, 13.76)


@pytest.mark.parametrize(("day", "wanted"), list(zip(MEAN_DAYS, DAILY_H0, strict=True)))
def test_daily_extraterrestrial_at_latitude_40(day: int, wanted: float) -> None:
    """Duffie & Beckman, eq. 1.10.3 with Gsc 1367 and Cooper's declination: MJ/m2 on the horizontal."""
    hours = np.arange(0.005, 24.0, 0.01)
    normal = 1367.0 * (1 + 0.033 * np.cos(np.radians(360 * day / 365)))
    up = direction_from_equatorial(_cooper(day), 15.0 * (hours - 12.0), latitude_deg=40.0)[:, 2]
    assert np.maximum(up, 0.0).sum() * 36.0 * normal / 1e6 == pytest.approx(wanted, abs=0.05)
    # our own chain of sun and light above the air; Cooper's declination is up to 0.9 deg off the true one in 2025
    sun = day_and_solar_hour_suns(day, hours, latitude_deg=40.0, longitude_deg=0.0)
    chain = (np.maximum(sun.direction[:, 2], 0.0) * extraterrestrial_normal(day)).sum() * 36.0 / 1e6
    assert chain == pytest.approx(wanted, rel=0.035)


def test_daily_extraterrestrial_of_the_worked_example_quoted_from_memory() -> None:
    """Duffie & Beckman, example 1.10.1 (answer from memory): 15 April, latitude 43, 33.8 MJ/m2, sunset 98.9 deg."""
    hours = np.arange(0.005, 24.0, 0.01)
    sun = day_and_solar_hour_suns(105, hours, latitude_deg=43.0, longitude_deg=0.0)
    daily = (np.maximum(sun.direction[:, 2], 0.0) * extraterrestrial_normal(105)).sum() * 36.0 / 1e6
    assert daily == pytest.approx(33.8, rel=0.015)  # the true declination is 0.4 deg above Cooper's
    up = direction_from_equatorial(_cooper(105), 98.9, latitude_deg=43.0)[2]
    assert up == pytest.approx(0.0, abs=0.002)


@pytest.mark.parametrize(("zenith", "mass"), [(80.0, 5.586), (89.9, 36.467)])
def test_air_mass(zenith: float, mass: float) -> None:
    """Kasten & Young, Applied Optics 28 (1989) 4735."""
    assert float(relative_air_mass(90.0 - zenith)) == pytest.approx(mass, abs=0.001)


def test_clear_sky_of_one_moment() -> None:
    """Ineichen & Perez (2002) as tabulated in pvlib's tests: zenith 10, absolute air mass 1, turbidity 3."""
    dni = ineichen_dni(80.0, 1.0, turbidity=3.0, altitude_m=0.0, extraterrestrial_w_m2=1364.0)
    assert float(dni) == pytest.approx(942.21, abs=0.01)


def test_light_above_the_air() -> None:
    """26 October 2016: 1383.6 W/m2, as tabulated in pvlib's tests (tolerance between methods 10)."""
    assert float(extraterrestrial_normal(300)) == pytest.approx(1383.6, abs=10)


def test_pressure_at_1000_m() -> None:
    """U.S. Standard Atmosphere 1976."""
    assert standard_pressure_pa(1000.0) == pytest.approx(89874.75, abs=1)


@pytest.mark.parametrize(
    ("half_width", "mean", "share"),
    [
        (2.0, 0.9549, 0.3183),
        (2.5, 0.9301, 0.3875),
        (3.0, 0.9003, 0.4502),
        (4.0, 0.8270, 0.5513),
        (6.0, 0.6366, 0.6366),
    ],
)
def test_equinox_cosine_of_a_fixed_plane(half_width: float, mean: float, share: float) -> None:
    """Mean of cos(hour angle) over +-H hours, sin(15 H) / rad(15 H); its share of a 12 h day, 2 sin(15 H) / pi."""
    cosine = _fixed_plane_cosine(0.0, half_width)
    assert cosine.mean() == pytest.approx(mean, abs=1e-4)
    assert cosine.mean() * 2 * half_width / 12.0 == pytest.approx(share, abs=1e-4)
    # the tilted plane is not favoured by its latitude
    assert _fixed_plane_cosine(0.0, half_width, latitude_deg=-52.0).mean() == pytest.approx(mean, abs=1e-4)


def test_solstice_cosine_of_a_fixed_plane() -> None:
    """cos i = cos(declination) cos(hour angle) at tilt = latitude: Duffie & Beckman, eq. 1.6.2."""
    ratio = _fixed_plane_cosine(-23.45, 3.0).mean() / _fixed_plane_cosine(0.0, 3.0).mean()
    assert ratio == pytest.approx(0.9174, abs=1e-4)


@pytest.mark.parametrize(
    ("half_width", "hours", "share"),
    [
        (2.0, 1336.4, 0.3051),
        (2.5, 1627.1, 0.3715),
        (3.0, 1890.0, 0.4315),
        (4.0, 2314.7, 0.5285),
        (6.0, 2643.1, 0.6034),
    ],
)
def test_year_of_a_fixed_plane_under_constant_sun(half_width: float, hours: float, share: float) -> None:
    """Latitude 35, tilt 35: 365 days of 2 cos(decl) sin(min(sunset, 15 H, 90)) 12/pi, Cooper's declination.

    Ours is the true sun of the nominal year; the fixed plane's ceiling on constant sun is the widest window.
    """
    suns = hour_suns(latitude_deg=35.0, longitude_deg=0.0, altitude_m=0.0, utc_offset_h=0.0)
    two_axis = suns.sunlit_h.sum()
    # refraction adds some 33 h to the geometric 4380 h, the longer northern summer some 17 h
    assert 4380.0 < two_axis < 4380.0 * 1.015
    step = 0.1
    window = np.arange(-half_width + step / 2, half_width, step)
    sun = day_and_solar_hour_suns(ALL_DAYS[:, None], 12.0 + window, latitude_deg=35.0, longitude_deg=0.0)
    cosine = np.maximum(sun.direction @ direction_from(55.0, 180.0), 0.0) * (sun.elevation_deg > 0.0)
    assert cosine.sum() * step == pytest.approx(hours, rel=0.004)
    assert cosine.sum() * step / 4380.0 == pytest.approx(share, abs=0.0025)
    assert cosine.sum() * step / two_axis < 0.6034 + 1e-4


@pytest.mark.parametrize(
    ("latitude", "two_hours", "three_hours"),
    [(0.0, 0.375, 0.524), (20.0, 0.376, 0.525), (35.0, 0.380, 0.529), (45.0, 0.382, 0.529)],
)
def test_year_of_a_fixed_plane_under_clear_sky(latitude: float, two_hours: float, three_hours: float) -> None:
    """Share of two-axis direct sun, Ineichen sky of turbidity 3 at sea level; computed with pvlib in 5 min steps."""
    step = 0.25
    hours = np.arange(step / 2, 24.0, step)
    sun = day_and_solar_hour_suns(ALL_DAYS[:, None], hours, latitude_deg=latitude, longitude_deg=0.0)
    dni = clear_dni(sun.elevation_deg, ALL_DAYS[:, None], altitude_m=0.0, turbidity=3.0)
    beam = dni * np.maximum(sun.direction @ direction_from(90.0 - latitude, 180.0), 0.0)
    off_noon = np.abs(hours - 12.0)
    assert beam[:, off_noon < 2.0].sum() / dni.sum() == pytest.approx(two_hours, abs=0.005)
    assert beam[:, off_noon < 3.0].sum() / dni.sum() == pytest.approx(three_hours, abs=0.005)
    assert beam.sum() / dni.sum() < 0.70
    if latitude == 35.0:
        assert dni.sum() * step / 1000.0 == pytest.approx(3096.0, rel=0.01)


def test_clear_year_by_hours_agrees_with_fine_steps() -> None:
    """3096 kWh/m2 at latitude 35 (Ineichen, turbidity 3, sea level, 5 min steps) from one value per hour."""
    suns = hour_suns(latitude_deg=35.0, longitude_deg=0.0, altitude_m=0.0, utc_offset_h=0.0)
    year = clear_year(suns, altitude_m=0.0, turbidity=[3.0] * 12)
    assert year.sum() / 1000.0 == pytest.approx(3096.0, rel=0.01)


def _cooper(day: int) -> float:
    """Declination after Cooper (1969), Duffie & Beckman eq. 1.6.1a."""
    return float(23.45 * np.sin(np.radians(360 * (284 + day) / 365)))


def _fixed_plane_cosine(declination: float, half_width_h: float, latitude_deg: float = 35.0) -> Floats:
    """Cosine on a plane at tilt = latitude that faces the noon sun of the equinox, over +-H hours."""
    step = half_width_h / 2000
    hour_angle = 15.0 * np.arange(-half_width_h + step / 2, half_width_h, step)
    normal = direction_from_equatorial(0.0, 0.0, latitude_deg=latitude_deg)
    return np.asarray(direction_from_equatorial(declination, hour_angle, latitude_deg=latitude_deg) @ normal)
