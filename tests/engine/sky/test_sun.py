"""The sun over the nominal year: consistency, the sunlit middle, poles and odd clocks."""

import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.engine.sky.sun import (
    HourSuns,
    clock_suns,
    day_and_solar_hour_suns,
    direction_from,
    direction_from_equatorial,
    hour_suns,
    solstice_day,
    sun_track,
    sunrise_sunset,
)

PLACES = [
    (35.0, -116.8, -8.0),
    (-35.0, 149.0, 10.0),
    (0.0, 0.0, 0.0),
    (66.4, 25.7, 2.0),
    (78.2, 15.6, 1.0),
    (-90.0, 0.0, 12.0),
    (1.9, -157.4, 14.0),  # a clock a day ahead of its sun
    (28.6, 77.2, 5.5),
]


def _suns(place: tuple[float, float, float]) -> HourSuns:
    return hour_suns(latitude_deg=place[0], longitude_deg=place[1], altitude_m=200.0, utc_offset_h=place[2])


@pytest.mark.parametrize("place", PLACES)
def test_every_hour_is_looked_at_where_its_sun_shines(place: tuple[float, float, float]) -> None:
    suns = _suns(place)
    lit = suns.sunlit_h > 0.0
    assert suns.track.elevation_deg.shape == suns.sunlit_h.shape == (8760,)
    assert (suns.track.elevation_deg[lit] > 0.0).all()
    assert ((suns.sunlit_h >= 0.0) & (suns.sunlit_h <= 1.0 + 1e-9)).all()
    within = suns.moment_h - np.arange(8760)
    assert ((within > 0.0) & (within < 1.0)).all()
    whole = suns.sunlit_h > 1.0 - 1e-9
    assert within[whole] == pytest.approx(0.5, abs=1e-6)
    # half the year is day, refraction adds minutes, and the southern summer is a week shorter than the northern
    assert 4340.0 < suns.sunlit_h.sum() < 4620.0


@pytest.mark.parametrize("place", PLACES[:5])
def test_sunlit_time_agrees_with_counting_minutes(place: tuple[float, float, float]) -> None:
    suns = _suns(place)
    hours = np.arange(0.5 / 60, 24.0, 1 / 60)
    for day in (20, 80, 141, 172, 355):
        track = clock_suns(
            day, hours, latitude_deg=place[0], longitude_deg=place[1], altitude_m=200.0, utc_offset_h=place[2]
        )
        counted = (track.elevation_deg > 0.0).reshape(24, 60).mean(axis=1)
        assert suns.sunlit_h[24 * (day - 1) : 24 * day] == pytest.approx(counted, abs=1.2 / 60)


def test_polar_day_and_night() -> None:
    suns = _suns(PLACES[4])
    assert suns.sunlit_h[24 * 171 : 24 * 172] == pytest.approx(1.0)
    assert suns.sunlit_h[24 * 354 : 24 * 355].sum() == 0.0
    times = sunrise_sunset([172, 355], latitude_deg=78.2, longitude_deg=15.6, utc_offset_h=1.0)
    assert np.isnan(times.sunrise_h).all()
    assert np.isnan(times.sunset_h).all()
    assert times.noon_h == pytest.approx([12.0, 12.0], abs=0.1)


def test_noon_falls_on_the_clocks_own_day() -> None:
    times = sunrise_sunset(np.arange(1, 366), latitude_deg=1.9, longitude_deg=-157.4, utc_offset_h=14.0)
    assert ((times.noon_h > 12.0) & (times.noon_h < 13.0)).all()


@settings(max_examples=60, deadline=None)
@given(
    unix=st.floats(0.0, 4e9),
    latitude=st.floats(-89.9, 89.9),
    longitude=st.floats(-180.0, 180.0),
    altitude=st.floats(-400.0, 5000.0),
)
def test_equatorial_and_level_angles_are_one_direction(
    unix: float, latitude: float, longitude: float, altitude: float
) -> None:
    sun = sun_track(
        np.array([[unix, unix + 5e4]]), latitude_deg=latitude, longitude_deg=longitude, altitude_m=altitude
    )
    back = direction_from_equatorial(sun.declination_deg, sun.hour_angle_deg, latitude_deg=latitude)
    assert sun.direction.shape == (1, 2, 3)
    assert np.abs(back - sun.direction).max() < 1e-12
    assert np.linalg.norm(sun.direction, axis=-1) == pytest.approx(1.0)
    assert (np.abs(sun.declination_deg) < 24.5).all()


def test_solar_hours_are_those_asked_for() -> None:
    hours = np.linspace(7.0, 17.0, 11)
    sun = day_and_solar_hour_suns([[1], [100], [355]], hours, latitude_deg=40.0, longitude_deg=-105.0)
    assert sun.solar_time_h.shape == (3, 11)
    assert np.abs(sun.solar_time_h - hours).max() * 3600.0 < 1.0
    assert sun.azimuth_deg[:, 5] == pytest.approx(180.0, abs=0.02)
    # the place on its parallel does not matter to solar time, beyond the hours the declination has moved
    other = day_and_solar_hour_suns([[1], [100], [355]], hours, latitude_deg=40.0, longitude_deg=75.0)
    assert other.elevation_deg == pytest.approx(sun.elevation_deg, abs=0.3)


def test_directions_of_the_compass() -> None:
    assert direction_from([0.0, 0.0, 90.0], [0.0, 90.0, 0.0]) == pytest.approx(
        np.array([[0.0, 1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    )
    # six hours after noon at the equinox the sun stands due west on the horizon, anywhere
    assert direction_from_equatorial(0.0, 90.0, latitude_deg=33.0) == pytest.approx([-1.0, 0.0, 0.0])


def test_solstice_of_the_hemisphere() -> None:
    assert solstice_day(35.0) == solstice_day(0.0) == 355
    assert solstice_day(-0.1) == 172
    noon = {
        day: float(day_and_solar_hour_suns(day, 12.0, latitude_deg=-35.0, longitude_deg=0.0).elevation_deg)
        for day in range(165, 180)
    }
    assert min(noon, key=lambda day: noon[day]) == 172


def test_the_sun_costs_no_pandas() -> None:
    """Importing pvlib as a whole would add more than half a second to a start."""
    code = (
        "import sys; from studio.engine.sky.sun import hour_suns;"
        "hour_suns(latitude_deg=35.0, longitude_deg=0.0, utc_offset_h=0.0);"
        "from studio.engine.sky.bundled import monthly_turbidity; monthly_turbidity(35.0, 0.0);"
        "assert not {'pandas', 'scipy', 'pvlib'} & set(sys.modules)"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
