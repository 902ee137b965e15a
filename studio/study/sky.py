"""Stage: the year's sun and weather at the site."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from studio.design.site import FileWeather, Site
from studio.engine.sky.calendar import DAYS_OF_MONTHS
from studio.engine.sky.clear import clear_dni, daily_turbidity, monthly_turbidity
from studio.engine.sky.kept_year import unpack_weather
from studio.engine.sky.sun import HourSuns, clock_suns, direction_from_equatorial, hour_suns, part_suns
from studio.engine.sky.year import WeatherYear, year_from_months
from studio.errors import BadInputError
from studio.study.assessment import Array
from studio.study.cache import Cache
from studio.study.nodes import SunNodes, sun_nodes
from studio.text import _

GRID_DAYS = np.arange(3, 366, 5)
GRID_STEP_H = 0.25
HOUR_PARTS = 3
"""Equal parts that each sunlit hour is cut into, a sun in the middle of each: against twelve the year's accepted light of lines
along and square to their mirrors' slope stands within 0.02 %, with one within 0.4 % (tests/study/test_hour_parts.py)."""


@dataclass(frozen=True)
class ClearGrid:
    """A clear-sky year at every fifth day and quarter hour of clock time, D days by Q steps.

    ``up`` (D, Q) is where the sun stands above the horizon; ``suns`` (U, 3) and ``clear`` (U,) are of those moments, row
    by row; ``nodes`` blends them from the shade table.
    """

    day_of_year: Array
    clock_h: Array
    up: NDArray[np.bool_]
    suns: Array
    clear: Array
    nodes: SunNodes

    def days_up(self) -> NDArray[np.intp]:
        """Day of the year (U,) of each moment with sun."""
        days = np.broadcast_to(self.day_of_year[:, None], self.up.shape)
        return np.asarray(days[self.up], dtype=np.intp)

    def spread(self, values: Array, *, night: float) -> Array:
        """Values (U,) of the moments with sun as a picture (D, Q)."""
        picture = np.full(self.up.shape, night)
        picture[self.up] = values
        return picture


@dataclass(frozen=True)
class Sky:
    """The sun and the weather of the year.

    ``hour`` (T,) are the hours of the year with the sun above the horizon; ``suns`` (T, 3) where it stands at the
    middle of the hour's sunlit part; ``dni`` (T,) W/m2; ``clear`` (T,) what a clear sky gives. ``part_suns`` (P, 3) is where
    it stands at the middle of each of the ``HOUR_PARTS`` of those hours, one hour after the other, and ``nodes`` blends
    them from the shade table. ``month_starts``: where each month begins among the T hours. ``year`` is the whole
    weather, all 8760 hours.
    """

    key: Hashable
    hours: HourSuns
    year: WeatherYear
    hour: NDArray[np.intp]
    suns: Array
    part_suns: Array
    dni: Array
    clear: Array
    turbidity: Array
    month_starts: NDArray[np.intp]
    nodes: SunNodes
    grid: ClearGrid
    rescaled_months: tuple[int, ...]

    @property
    def part_dni(self) -> Array:
        """What each part brings of its hour's mean DNI (P,), W/m2: the hour's light lies evenly over its sunlit part."""
        return self.of_parts(self.dni) / HOUR_PARTS

    @property
    def part_day(self) -> NDArray[np.intp]:
        """The day (P,) of each part, counted from 0."""
        return np.repeat(self.hour // 24, HOUR_PARTS)

    def of_parts(self, values: Array) -> Array:
        """Values (T,) of the hours as those of their parts (P,)."""
        return np.repeat(values, HOUR_PARTS)

    def by_hour(self, values: Array) -> Array:
        """Sums (T,) over the parts of each hour of values (P,)."""
        return np.asarray(sum(values[part::HOUR_PARTS] for part in range(HOUR_PARTS)))

    def leaning_by_month(self, values: Array) -> Array:
        """How much of values (P,) at the parts is blended from each node in each month: (12, N)."""
        starts = np.append(self.month_starts, len(self.hour)) * HOUR_PARTS
        months = [self.nodes.at(slice(a, b)).gather(values[a:b]) for a, b in pairwise(starts.tolist())]
        return np.stack(months)

    def by_month(self, values: Array) -> Array:
        """Sums (12, ...) over the months of values (T, ...) at the sunlit hours."""
        sums = np.add.reduceat(np.concatenate([values, np.zeros_like(values[:1])]), self.month_starts, axis=0)
        empty = np.diff(np.append(self.month_starts, len(values))) == 0
        sums[empty] = 0.0
        return np.asarray(sums)


def sky_of(site: Site, asset: Callable[[str], bytes | None], cache: Cache) -> Sky:
    """The sky of a site; its weather is shaped from monthly sums or unpacked from the site file's asset."""
    key = ("sky", site.latitude_deg, site.longitude_deg, site.altitude_m, site.utc_offset_h, site.weather)
    return cache.get(key, lambda: _sky(key, site, asset, cache))


def _sky(key: Hashable, site: Site, asset: Callable[[str], bytes | None], cache: Cache) -> Sky:
    place = {
        "latitude_deg": site.latitude_deg,
        "longitude_deg": site.longitude_deg,
        "altitude_m": site.altitude_m,
        "utc_offset_h": site.utc_offset_h,
    }
    hours = cache.get(("hours", *place.values()), lambda: hour_suns(**place))
    months = cache.get(
        ("turbidity", site.latitude_deg, site.longitude_deg),
        lambda: monthly_turbidity(site.latitude_deg, site.longitude_deg),
    )
    year, rescaled = _weather(site, hours, months, asset)
    hour = np.flatnonzero(hours.track.elevation_deg > 0.0)
    turbidity = daily_turbidity(months)
    days = hour // 24
    clear = clear_dni(
        hours.track.elevation_deg[hour], days + 1, altitude_m=site.altitude_m, turbidity=turbidity[days]
    )
    month_first_hour = 24 * np.concatenate([[0], np.cumsum(DAYS_OF_MONTHS)[:-1]])
    clock = np.arange(GRID_STEP_H / 2, 24.0, GRID_STEP_H)
    track = clock_suns(GRID_DAYS[:, None], clock[None, :], **place)
    up = track.elevation_deg > 0.0
    declination, hour_angle = (
        angle.ravel()
        for angle in part_suns(
            hours, hour, HOUR_PARTS, latitude_deg=site.latitude_deg, altitude_m=site.altitude_m
        )
    )
    of_parts, of_grid = sun_nodes(
        (declination, hour_angle),
        (track.declination_deg[up], track.hour_angle_deg[up]),
        latitude_deg=site.latitude_deg,
    )
    grid_days = np.broadcast_to(GRID_DAYS[:, None], up.shape)[up]
    return Sky(
        key=key,
        hours=hours,
        year=year,
        hour=hour,
        suns=hours.track.direction[hour],
        part_suns=direction_from_equatorial(declination, hour_angle, latitude_deg=site.latitude_deg),
        dni=year.dni_w_m2[hour],
        clear=clear,
        turbidity=turbidity,
        month_starts=np.searchsorted(hour, month_first_hour).astype(np.intp),
        nodes=of_parts,
        grid=ClearGrid(
            day_of_year=GRID_DAYS.astype(np.float64),
            clock_h=clock,
            up=up,
            suns=track.direction[up],
            clear=clear_dni(
                track.elevation_deg[up],
                grid_days,
                altitude_m=site.altitude_m,
                turbidity=turbidity[grid_days - 1],
            ),
            nodes=of_grid,
        ),
        rescaled_months=rescaled,
    )


def _weather(
    site: Site, hours: HourSuns, turbidity: tuple[float, ...], asset: Callable[[str], bytes | None]
) -> tuple[WeatherYear, tuple[int, ...]]:
    weather = site.weather
    if isinstance(weather, FileWeather):
        data = asset(weather.asset)
        if data is None:
            raise BadInputError(
                _(
                    "The weather year of {name} is not in its file; bring it in again from the weather file."
                ).format(name=site.name)
            )
        return unpack_weather(data), ()
    shaped = year_from_months(
        monthly_daily_dni_kwh_m2=weather.dni_kwh_m2_day,
        monthly_air_c=weather.air_c,
        daily_swing_k=weather.daily_swing_k,
        wind_m_s=weather.wind_m_s,
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        altitude_m=site.altitude_m,
        utc_offset_h=site.utc_offset_h,
        seed=weather.seed,
        turbidity=turbidity,
        suns=hours,
    )
    return shaped.weather, shaped.rescaled_months
