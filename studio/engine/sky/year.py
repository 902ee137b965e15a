"""A year of weather, hour by hour, and how one is shaped from twelve monthly sums."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from studio.engine.sky.calendar import DAYS_OF_MONTHS, DAYS_PER_YEAR, months_of_days, months_of_hours
from studio.engine.sky.clear import clear_dni, daily_turbidity, monthly_turbidity
from studio.engine.sky.sun import HourSuns, hour_suns
from studio.errors import BadInputError
from studio.text import _
from studio.units import HOURS_PER_YEAR

Floats = NDArray[np.float64]

MOST_DNI_W_M2 = 1400.0
"""No direct sun on the ground is stronger: above the air it is 1412 W/m2 at most (ASTM E490, January)."""
_DAY_MEMORY = 0.4  # lag-one correlation of day clearness; 0.3 to 0.4 is common practice, no source
_HOUR_MEMORY = 0.6  # and of the clouds within a day; common practice, no source
_CLOUD_SWING = 0.35  # standard deviation of broken cloud about the day's clearness; invented
_TWO_HUMPS = 0.6  # below 1: more days nearly clear or nearly closed than in between; invented
_WARMEST_SOLAR_H = 15.0


@dataclass(frozen=True)
class WeatherYear:
    """Hourly weather of the nominal year; index i is the local standard clock time [i, i+1) h.

    ``dni_w_m2`` direct normal irradiance, ``air_c`` air temperature, ``wind_m_s`` wind speed: means over the hour,
    float64, shape (8760,).
    """

    dni_w_m2: Floats
    air_c: Floats
    wind_m_s: Floats

    @property
    def dni_kwh_m2(self) -> float:
        """Sum of the direct normal irradiance over the year."""
        return float(self.dni_w_m2.sum() / 1000.0)


@dataclass(frozen=True)
class ShapedYear:
    """A year shaped from monthly sums; ``rescaled_months`` (1 to 12) wanted more than the clear sky gives."""

    weather: WeatherYear
    rescaled_months: tuple[int, ...]


def year_from_months(
    *,
    monthly_daily_dni_kwh_m2: Sequence[float],
    monthly_air_c: Sequence[float],
    daily_swing_k: float,
    wind_m_s: Sequence[float],
    latitude_deg: float,
    longitude_deg: float,
    altitude_m: float,
    utc_offset_h: float,
    seed: int = 0,
    turbidity: Sequence[float] | None = None,
    suns: HourSuns | None = None,
) -> ShapedYear:
    """A year of clear and cloudy days whose months have the given mean daily DNI (kWh/m2 and day).

    A clear-sky year (Ineichen & Perez; ``turbidity`` of the twelve months, from the world map unless given) is
    thinned: days follow each other with a memory, each has a clearness, and within a day broken cloud moves about
    that clearness under the clear sky's hourly shape. The monthly sums are met exactly. A month that asks for more
    than its clear sky is clear throughout and scaled up. The same seed and place give the same year anywhere.

    Air is linear between months so that each has its mean, plus a cosine of ``daily_swing_k`` from coldest to
    warmest (15 h solar). Wind is each month's mean. ``suns`` of the same place spares computing them again.
    Raises ``BadInputError`` for values that are not twelve finite numbers, and for months without any sun that want some. Sums above the clear sky's are met by scaling the sky up, however far, and named.
    """
    wanted = _twelve(_("Daily DNI of the months"), monthly_daily_dni_kwh_m2, least=0.0)
    air = _twelve(_("Air temperature of the months"), monthly_air_c, least=-90.0)
    wind = _twelve(_("Wind of the months"), wind_m_s, least=0.0)
    if not np.isfinite(daily_swing_k) or daily_swing_k < 0.0:
        raise BadInputError(
            _("The daily swing is {swing}; it must be 0 K or more.").format(swing=daily_swing_k)
        )
    if suns is None:
        suns = hour_suns(
            latitude_deg=latitude_deg,
            longitude_deg=longitude_deg,
            altitude_m=altitude_m,
            utc_offset_h=utc_offset_h,
        )
    if turbidity is None:
        turbidity = monthly_turbidity(latitude_deg, longitude_deg)
    clear = clear_year(suns, altitude_m=altitude_m, turbidity=turbidity)
    sums = wanted * np.asarray(DAYS_OF_MONTHS) * 1000.0
    clear_sums = np.bincount(months_of_hours(), weights=clear, minlength=12).astype(np.float64)
    dni = _thinned(clear, np.minimum(sums, clear_sums), clear_sums, seed)
    dni, rescaled = _met_exactly(dni, sums, clear_sums)
    solar_offset_h = longitude_deg / 15.0 - utc_offset_h
    return ShapedYear(
        weather=WeatherYear(
            dni_w_m2=dni,
            air_c=_air_year(air, daily_swing_k, solar_offset_h),
            wind_m_s=wind[months_of_hours()],
        ),
        rescaled_months=rescaled,
    )


def clear_year(suns: HourSuns, *, altitude_m: float, turbidity: Sequence[float]) -> Floats:
    """Hourly mean DNI (W/m2, 8760) of a year of clear days: the value at the sunlit middle over the sunlit part."""
    full_hour = clear_dni(
        suns.track.elevation_deg,
        suns.day_of_year,
        altitude_m=altitude_m,
        turbidity=np.repeat(daily_turbidity(turbidity), 24),
    )
    return np.asarray(suns.sunlit_h * full_hour, dtype=np.float64)


def _thinned(clear: Floats, sums: Floats, clear_sums: Floats, seed: int) -> Floats:
    """The clear year with clouds, its monthly sums near ``sums`` (never above the clear sky's)."""
    share = np.divide(sums, clear_sums, out=np.zeros(12), where=clear_sums > 0.0)
    noise = _normal_noise(seed, DAYS_PER_YEAR + HOURS_PER_YEAR)
    hourly = clear.reshape(DAYS_PER_YEAR, 24)
    days = _day_clearness(share, hourly.sum(axis=1), noise[:DAYS_PER_YEAR])
    clouds = _CLOUD_SWING * _remembering(noise[DAYS_PER_YEAR:], _HOUR_MEMORY).reshape(DAYS_PER_YEAR, 24)
    weights = hourly / np.maximum(hourly.sum(axis=1, keepdims=True), 1e-9)
    # the day's level that, with its clouds cut off at closed and clear, leaves the day its clearness
    low, high = np.min(-clouds, axis=1), np.max(1.0 - clouds, axis=1)
    for _halving in range(40):
        level = (low + high) / 2.0
        reached = (weights * np.clip(level[:, None] + clouds, 0.0, 1.0)).sum(axis=1) < days
        low, high = np.where(reached, level, low), np.where(reached, high, level)
    cloudy = hourly * np.clip(high[:, None] + clouds, 0.0, 1.0)
    return np.asarray(cloudy.ravel(), dtype=np.float64)


def _day_clearness(share: Floats, day_sums: Floats, noise: Floats) -> Floats:
    """Clearness (0 to 1) of the 365 days whose mean, weighted by the clear days' sums, is each month's share.

    Ranks of a sequence with memory are spread over a Kumaraswamy distribution (J. Hydrology 46 (1980) 79): both
    its ends are crowded, and its one free exponent is found month by month.
    """
    month = months_of_days()
    walk = _remembering(noise, _DAY_MEMORY)
    order = np.lexsort((walk, month))
    first = np.concatenate([[0], np.cumsum(DAYS_OF_MONTHS)[:-1]])
    rank = np.empty(DAYS_PER_YEAR)
    rank[order] = np.arange(DAYS_PER_YEAR) - first[month]
    even = (rank + 0.5) / np.asarray(DAYS_OF_MONTHS)[month]
    base = 1.0 - (1.0 - even) ** (1.0 / _TWO_HUMPS)
    low, high = np.full(12, -12.0), np.full(12, 12.0)  # exponent as a power of e
    total = np.maximum(np.bincount(month, weights=day_sums, minlength=12), 1e-9)
    for _halving in range(50):
        middle = (low + high) / 2.0
        clearness = base ** np.exp(middle)[month]
        too_clear = np.bincount(month, weights=day_sums * clearness, minlength=12) / total > share
        low, high = np.where(too_clear, middle, low), np.where(too_clear, high, middle)
    clearness = base ** np.exp(high)[month]
    return np.where(share[month] >= 1.0, 1.0, np.where(share[month] <= 0.0, 0.0, clearness))


def _met_exactly(dni: Floats, sums: Floats, clear_sums: Floats) -> tuple[Floats, tuple[int, ...]]:
    """The year scaled month by month to its sums, and the months (1 to 12) that the clear sky could not fill."""
    month = months_of_hours()
    dark = [index for index in range(12) if sums[index] > 0.0 and clear_sums[index] <= 0.0]
    if dark:
        raise BadInputError(
            _("Month {month} has no sun above the horizon here, so its DNI must be 0.").format(
                month=dark[0] + 1
            )
        )
    for _pass in range(2):  # the second takes what rounding left of the first
        now = np.bincount(month, weights=dni, minlength=12)
        dni = dni * np.divide(sums, now, out=np.zeros(12), where=now > 0.0)[month]
    rescaled = tuple(index + 1 for index in range(12) if sums[index] > clear_sums[index] * (1 + 1e-12))
    return dni, rescaled


def _air_year(months: Floats, daily_swing_k: float, solar_offset_h: float) -> Floats:
    """Hourly air (degC): linear between twelve nodes chosen so that each month has its mean, plus the swing."""
    hours = np.arange(HOURS_PER_YEAR) + 0.5
    ends = 24.0 * np.cumsum(DAYS_OF_MONTHS)
    middles = ends - 12.0 * np.asarray(DAYS_OF_MONTHS)
    shapes = np.stack([np.interp(hours, middles, row, period=HOURS_PER_YEAR) for row in np.eye(12)])
    month = months_of_hours()
    lengths = 24.0 * np.asarray(DAYS_OF_MONTHS)
    means = np.stack([np.bincount(month, weights=shape) for shape in shapes], axis=1) / lengths[:, None]
    nodes = np.linalg.solve(means, months)
    solar_h = hours + solar_offset_h
    swing = daily_swing_k / 2.0 * np.cos(np.pi / 12.0 * (solar_h - _WARMEST_SOLAR_H))
    return np.asarray(nodes @ shapes + swing)


def _normal_noise(seed: int, count: int) -> Floats:
    """Standard normal numbers that are the same for a seed in any version of numpy.

    Only the bits of PCG64 are promised to stay (numpy's NEP 19), so the transform is done here: Box & Muller,
    Annals of Mathematical Statistics 29 (1958) 610.
    """
    bits = np.random.PCG64(seed).random_raw(2 * count).reshape(2, count)
    radius, turn = (np.asarray(bits >> np.uint64(11), dtype=np.float64) + 0.5) * 2.0**-53
    return np.asarray(np.sqrt(-2.0 * np.log(radius)) * np.cos(2.0 * np.pi * turn), dtype=np.float64)


def _remembering(noise: Floats, memory: float) -> Floats:
    """A standard normal sequence whose neighbours correlate by ``memory``: a first-order autoregression.

    The recursion is cut where what is left of it is below a millionth.
    """
    reach = int(np.ceil(np.log(1e-6) / np.log(memory)))
    kernel = memory ** np.arange(reach) * np.sqrt(1.0 - memory**2)
    return np.convolve(noise, kernel)[: len(noise)]


def _twelve(name: str, values: Sequence[float], *, least: float) -> Floats:
    array = np.asarray(values, dtype=np.float64)
    if array.shape != (12,) or not np.isfinite(array).all() or (array < least).any():
        raise BadInputError(
            _("{name}: twelve numbers of {least:g} or more are needed.").format(name=name, least=least)
        )
    return array
