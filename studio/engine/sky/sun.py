"""Where the sun stands: at any moment, and for every hour of the nominal year.

Directions are unit vectors east, north, up towards the sun. Elevation is apparent (refraction included, standard
air of the site's altitude). Hour angle is 0 at solar noon and positive after it.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from studio.engine.sky.air import standard_pressure_pa
from studio.engine.sky.bundled import spa
from studio.engine.sky.calendar import DAYS_PER_YEAR, NOMINAL_EPOCH_S, NOMINAL_YEAR, day_of_year
from studio.units import HOURS_PER_YEAR

__all__ = [
    "NOMINAL_YEAR",
    "DayTimes",
    "HourSuns",
    "SunTrack",
    "clock_suns",
    "day_and_solar_hour_suns",
    "direction_from",
    "direction_from_equatorial",
    "hour_suns",
    "part_suns",
    "solstice_day",
    "sun_track",
    "sunrise_sunset",
]

Floats = NDArray[np.float64]

DELTA_T_S = 69.1
"""Terrestrial time minus universal time in the nominal year (IERS bulletins of 2024 and 2025: 69.1 to 69.2 s)."""
REFRACTION_AT_HORIZON_DEG = 0.5667
"""Atmospheric refraction at sunrise and sunset, as the SPA report has it."""
RISE_ELEVATION_DEG = -0.8333
"""Geometric elevation of the centre at sunrise and sunset: refraction plus half the disc (SPA report A.2)."""
_AIR_C = 12.0  # yearly mean air for refraction, as common almanac practice has it
_DAY_S = 86400.0
_SLIVER_S = 1.0  # a sunlit part shorter than this is none


@dataclass(frozen=True)
class SunTrack:
    """The sun at a set of moments; all arrays of one shape.

    ``elevation_deg`` apparent; ``azimuth_deg`` clockwise from true north; ``declination_deg`` and
    ``hour_angle_deg`` are those of the apparent direction, so that ``direction_from_equatorial`` gives exactly it;
    ``solar_time_h`` 0 to 24, apparent solar time.
    """

    elevation_deg: Floats
    azimuth_deg: Floats
    hour_angle_deg: Floats
    declination_deg: Floats
    solar_time_h: Floats

    @property
    def direction(self) -> Floats:
        """Unit vectors towards the sun, shape (..., 3): east, north, up."""
        return direction_from(self.elevation_deg, self.azimuth_deg)


@dataclass(frozen=True)
class HourSuns:
    """The sun over the 8760 hours of the nominal year; hour i is the local standard clock time [i, i+1) h.

    ``track`` is taken at ``moment_h`` (clock hours since the year began): the middle of the sunlit part of the
    hour, or of the hour where it has none. ``sunlit_h`` is how much of the hour has the apparent centre of the
    sun above the level horizon. In the rare hour that the sun leaves and comes back to (near midnight sun) the
    longer part gives the moment, and both count.
    """

    track: SunTrack
    sunlit_h: Floats
    moment_h: Floats

    @property
    def day_of_year(self) -> NDArray[np.intp]:
        """Day of the year of each hour, 1 on 1 January."""
        return np.arange(HOURS_PER_YEAR) // 24 + 1


class DayTimes(NamedTuple):
    """Clock hours of sunrise, solar noon and sunset; rise and set are NaN where the sun does neither."""

    sunrise_h: Floats
    noon_h: Floats
    sunset_h: Floats


def direction_from(elevation_deg: ArrayLike, azimuth_deg: ArrayLike) -> Floats:
    """Unit vectors (..., 3) east, north, up of directions given by elevation and azimuth; the two broadcast."""
    elevation = np.radians(np.asarray(elevation_deg, dtype=np.float64))
    azimuth = np.radians(np.asarray(azimuth_deg, dtype=np.float64))
    level = np.cos(elevation)
    parts = np.broadcast_arrays(level * np.sin(azimuth), level * np.cos(azimuth), np.sin(elevation))
    return np.stack(parts, axis=-1)


def direction_from_equatorial(
    declination_deg: ArrayLike, hour_angle_deg: ArrayLike, *, latitude_deg: float
) -> Floats:
    """Unit vectors (..., 3) east, north, up of directions given by declination and hour angle; the two broadcast.

    Duffie & Beckman, Solar Engineering of Thermal Processes, eq. 1.6.5 and the components it follows from.
    """
    declination = np.radians(np.asarray(declination_deg, dtype=np.float64))
    hour_angle = np.radians(np.asarray(hour_angle_deg, dtype=np.float64))
    sin_lat, cos_lat = np.sin(np.radians(latitude_deg)), np.cos(np.radians(latitude_deg))
    to_meridian = np.cos(declination) * np.cos(hour_angle)
    east = -np.cos(declination) * np.sin(hour_angle)
    north = np.sin(declination) * cos_lat - to_meridian * sin_lat
    up = np.sin(declination) * sin_lat + to_meridian * cos_lat
    return np.stack(np.broadcast_arrays(east, north, up), axis=-1)


def sun_track(
    unix_s: ArrayLike,
    *,
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float = 0.0,
    pressure_pa: float | None = None,
    air_c: float = _AIR_C,
    delta_t_s: float = DELTA_T_S,
) -> SunTrack:
    """The sun at moments in unix time (seconds, UTC), any shape; longitude positive east.

    Reda & Andreas, Solar Position Algorithm for Solar Radiation Applications, NREL/TP-560-34302 (rev. 2008), as
    pvlib computes it. ``pressure_pa`` (the standard air of ``altitude_m`` unless said) and ``air_c`` set refraction.
    """
    seconds = np.asarray(unix_s, dtype=np.float64)
    sky = _Sky(latitude_deg, longitude_deg, altitude_m, pressure_pa, air_c, delta_t_s)
    _, _, elevation, _, azimuth, equation_of_time = sky.positions(seconds.ravel())
    hour_angle, declination = _equatorial(elevation, azimuth, latitude_deg)
    solar_h = ((seconds.ravel() % _DAY_S) / 3600.0 + longitude_deg / 15.0 + equation_of_time / 60.0) % 24.0
    shape = seconds.shape
    return SunTrack(
        elevation_deg=elevation.reshape(shape),
        azimuth_deg=azimuth.reshape(shape),
        hour_angle_deg=hour_angle.reshape(shape),
        declination_deg=declination.reshape(shape),
        solar_time_h=solar_h.reshape(shape),
    )


def clock_suns(
    day_of_year: ArrayLike,
    clock_hour: ArrayLike,
    *,
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float = 0.0,
    utc_offset_h: float,
) -> SunTrack:
    """The sun at clock hours (standard time) of days of the nominal year (1 on 1 January); the two broadcast."""
    days = np.asarray(day_of_year, dtype=np.float64) - 1.0
    hours = np.asarray(clock_hour, dtype=np.float64) - utc_offset_h
    return sun_track(
        NOMINAL_EPOCH_S + _DAY_S * days + 3600.0 * hours,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        altitude_m=altitude_m,
    )


def day_and_solar_hour_suns(
    day_of_year: ArrayLike,
    solar_hours: ArrayLike,
    *,
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float = 0.0,
) -> SunTrack:
    """The sun at apparent solar hours of days of the nominal year (1 on 1 January); the two broadcast."""
    days, hours = np.broadcast_arrays(
        np.asarray(day_of_year, dtype=np.float64), np.asarray(solar_hours, dtype=np.float64)
    )
    mean_solar_s = NOMINAL_EPOCH_S + _DAY_S * (days - 1.0) + 3600.0 * hours - 240.0 * longitude_deg
    sky = _Sky(latitude_deg, longitude_deg, altitude_m, None, _AIR_C, DELTA_T_S)
    # the equation of time moves by half a minute a day: its value a quarter of an hour off is good to 0.3 s
    equation_of_time = sky.positions(mean_solar_s.ravel())[5].reshape(mean_solar_s.shape)
    return sun_track(
        mean_solar_s - 60.0 * equation_of_time,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        altitude_m=altitude_m,
    )


def solstice_day(latitude_deg: float) -> int:
    """Day of the nominal year (1 on 1 January) of the winter solstice; the equator counts as north."""
    return day_of_year(12, 21) if latitude_deg >= 0.0 else day_of_year(6, 21)


def sunrise_sunset(
    day_of_year: ArrayLike,
    *,
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float = 0.0,
    utc_offset_h: float,
) -> DayTimes:
    """Clock hours (standard time, counted from the day's midnight) of sunrise, solar noon and sunset.

    Rise and set are where the sun's upper edge meets the level horizon: centre at -0.8333 deg (SPA report A.2).
    """
    days = np.atleast_1d(np.asarray(day_of_year, dtype=np.float64))
    sky = _Sky(latitude_deg, longitude_deg, altitude_m, None, _AIR_C, DELTA_T_S)
    rise, noon, fall, half_day = _day_arcs(days.ravel(), sky, utc_offset_h, elevation_deg=RISE_ELEVATION_DEG)
    midnight = NOMINAL_EPOCH_S + _DAY_S * (days.ravel() - 1.0) - 3600.0 * utc_offset_h
    crosses = (half_day > 0.0) & (half_day < 180.0)
    shape = np.shape(day_of_year)
    return DayTimes(
        np.where(crosses, (rise - midnight) / 3600.0, np.nan).reshape(shape),
        ((noon - midnight) / 3600.0).reshape(shape),
        np.where(crosses, (fall - midnight) / 3600.0, np.nan).reshape(shape),
    )


def hour_suns(
    *, latitude_deg: float, longitude_deg: float, altitude_m: float = 0.0, utc_offset_h: float
) -> HourSuns:
    """The sun at the middle of the sunlit part of each of the 8760 hours, and how much of the hour is sunlit."""
    sky = _Sky(latitude_deg, longitude_deg, altitude_m, None, _AIR_C, DELTA_T_S)
    days = np.arange(-1.0, DAYS_PER_YEAR + 3.0)  # every arc that can touch the year
    rise, _, fall, _ = _day_arcs(
        days, sky, utc_offset_h, elevation_deg=float(sky.geometric_deg(np.zeros(1))[0])
    )
    begin = NOMINAL_EPOCH_S - 3600.0 * utc_offset_h
    start = begin + 3600.0 * np.arange(float(HOURS_PER_YEAR))
    moment, sunlit_s = _sunlit_middles(start, rise, fall)
    track = sun_track(moment, latitude_deg=latitude_deg, longitude_deg=longitude_deg, altitude_m=altitude_m)
    # within a degree or so of a pole the sun circles along the horizon and the arcs lose their meaning
    sunlit_h = np.where(track.elevation_deg > 0.0, sunlit_s / 3600.0, 0.0)
    return HourSuns(track=track, sunlit_h=sunlit_h, moment_h=(moment - begin) / 3600.0)


def part_suns(
    hours: HourSuns, at: NDArray[np.intp], parts: int, *, latitude_deg: float, altitude_m: float = 0.0
) -> tuple[Floats, Floats]:
    """Declination and hour angle (K, ``parts``), deg, of the apparent sun at the middles of so many equal parts of the sunlit
    part of hours ``at`` (K,), all of them with the sun above the horizon in the middle.

    From that middle the sun goes on by 15 deg an hour at a declination that stands still (it moves by 0.006 deg in a third of
    an hour at most); only refraction is worked out anew.
    """
    sky = _Sky(latitude_deg, 0.0, altitude_m, None, _AIR_C, DELTA_T_S)
    track = hours.track
    geometric = sky.geometric_deg(track.elevation_deg[at])
    hour_angle, declination = _equatorial(geometric, track.azimuth_deg[at], latitude_deg)
    aside = (np.arange(parts) + 0.5) / parts - 0.5
    moved = hour_angle[:, None] + 15.0 * hours.sunlit_h[at, None] * aside
    towards = direction_from_equatorial(declination[:, None], moved, latitude_deg=latitude_deg)
    up = np.degrees(np.arcsin(np.clip(towards[..., 2], -1.0, 1.0)))
    around = np.degrees(np.arctan2(towards[..., 0], towards[..., 1]))
    hour_angle, declination = _equatorial(sky.apparent_deg(up), around, latitude_deg)
    return declination, hour_angle


@dataclass(frozen=True)
class _Sky:
    """A place and its air, as the position algorithm wants them."""

    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    pressure_pa: float | None
    air_c: float
    delta_t_s: float

    @property
    def _millibar(self) -> float:
        pressure = standard_pressure_pa(self.altitude_m) if self.pressure_pa is None else self.pressure_pa
        return pressure / 100.0

    def positions(self, unix_s: Floats) -> tuple[Floats, ...]:
        """Apparent zenith, zenith, apparent elevation, elevation, azimuth (deg), equation of time (min)."""
        with np.errstate(all="ignore"):  # refraction is evaluated far below the horizon and then discarded
            answer = spa().solar_position_numpy(
                unix_s,
                self.latitude_deg,
                self.longitude_deg,
                self.altitude_m,
                self._millibar,
                self.air_c,
                self.delta_t_s,
                REFRACTION_AT_HORIZON_DEG,
                1,
            )
        return tuple(np.asarray(part, dtype=np.float64) for part in answer)

    def apparent_deg(self, geometric_deg: Floats) -> Floats:
        """Apparent elevations of geometric ones: with refraction (SPA report, 3.14.3)."""
        refraction = spa().atmospheric_refraction_correction(
            self._millibar, self.air_c, geometric_deg, REFRACTION_AT_HORIZON_DEG
        )
        return np.asarray(geometric_deg + refraction)

    def geometric_deg(self, apparent_deg: Floats) -> Floats:
        """Geometric elevations of apparent ones, 0 or above."""
        geometric = np.concatenate([np.linspace(RISE_ELEVATION_DEG, 1.0, 2001), np.linspace(1.0, 90.0, 1001)])
        return np.asarray(np.interp(apparent_deg, self.apparent_deg(geometric), geometric))


def _equatorial(elevation_deg: Floats, azimuth_deg: Floats, latitude_deg: float) -> tuple[Floats, Floats]:
    """Hour angle and declination (deg) of directions; the inverse of ``direction_from_equatorial``."""
    vectors = direction_from(elevation_deg, azimuth_deg)
    east, north, up = vectors[..., 0], vectors[..., 1], vectors[..., 2]
    sin_lat, cos_lat = np.sin(np.radians(latitude_deg)), np.cos(np.radians(latitude_deg))
    to_pole = north * cos_lat + up * sin_lat
    to_meridian = up * cos_lat - north * sin_lat
    declination = np.degrees(np.arctan2(to_pole, np.hypot(east, to_meridian)))
    return np.degrees(np.arctan2(-east, to_meridian)), declination


def _day_arcs(
    days: Floats, sky: _Sky, utc_offset_h: float, *, elevation_deg: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Unix times of rise, noon, set about a geometric elevation, and the half day in degrees, for 1-based days.

    Where the sun never sets the arc is 360 deg wide (half day 180), where it never rises it is empty (0).
    """
    # the day whose noon falls on the clock's same date, also where the clock runs a day ahead of the sun
    ahead = round((utc_offset_h - sky.longitude_deg / 15.0) / 24.0)
    noon = NOMINAL_EPOCH_S + _DAY_S * (days - 0.5 - ahead) - 240.0 * sky.longitude_deg
    noon = noon - 60.0 * sky.positions(noon)[5]
    half_day = _half_day(noon, sky, elevation_deg)[1]
    ends = np.concatenate([noon - half_day * 240.0, noon + half_day * 240.0])
    side = np.repeat([-1.0, 1.0], len(days))
    for _pass in range(2):  # the declination moves during the half day
        hour_angle, half_day = _half_day(ends, sky, elevation_deg)
        off = (hour_angle - side * half_day + 180.0) % 360.0 - 180.0
        ends = ends - 240.0 * off
    half_day = half_day[: len(days)] / 2.0 + half_day[len(days) :] / 2.0
    return ends[: len(days)], noon, ends[len(days) :], half_day


def _half_day(moments: Floats, sky: _Sky, elevation_deg: float) -> tuple[Floats, Floats]:
    """Hour angle at the moments, and the one at which the sun of that declination stands at the elevation.

    Duffie & Beckman, eq. 1.6.10, with an elevation other than 0.
    """
    _, _, _, geometric, azimuth, _ = sky.positions(moments)
    hour_angle, declination = _equatorial(geometric, azimuth, sky.latitude_deg)
    latitude = np.radians(sky.latitude_deg)
    sine = np.sin(np.radians(elevation_deg)) - np.sin(latitude) * np.sin(np.radians(declination))
    cosine = np.cos(latitude) * np.cos(np.radians(declination))
    return hour_angle, np.degrees(np.arccos(np.clip(sine / cosine, -1.0, 1.0)))


def _sunlit_middles(start: Floats, rise: Floats, fall: Floats) -> tuple[Floats, Floats]:
    """Middle of the sunlit part (unix s) and its length (s) of the hours that begin at ``start``."""
    end = start + 3600.0
    last = np.searchsorted(rise, end, side="left") - 1  # an hour touches this arc and the one before at most
    joined = rise[last] - fall[last - 1] < _SLIVER_S
    late_from = np.maximum(start, np.where(joined, rise[last - 1], rise[last]))
    late_to = np.minimum(end, fall[last])
    early_to = np.minimum(end, np.where(joined, start, fall[last - 1]))
    late = np.maximum(late_to - late_from, 0.0)
    early = np.maximum(early_to - start, 0.0)
    late = np.where(late < _SLIVER_S, 0.0, late)
    early = np.where(early < _SLIVER_S, 0.0, early)
    sunlit = late + early
    middle = np.where(late >= early, (late_from + late_to) / 2.0, (start + early_to) / 2.0)
    return np.where(sunlit > 0.0, middle, (start + end) / 2.0), sunlit
