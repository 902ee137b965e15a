"""Declination and equation of time in a few coefficients, for a controller that has a clock and little else."""

from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np

from studio.engine.sky.calendar import DAYS_PER_YEAR, NOMINAL_EPOCH_S
from studio.engine.sky.sun import Floats, sun_track

_HARMONICS = 5


@dataclass(frozen=True)
class ShortSun:
    """Harmonics of the year, each (cosine, sine), from the 0th on; and how far they are off at worst.

    With t = 2 pi (day - 1 + UTC hour/24)/365 and day 1 on 1 January, a value is the sum over k of cosine x cos(k t) +
    sine x sin(k t). The year is the nominal one: in others the sun is up to half a day early or late, which is at most
    0.2 deg of declination and 15 s of time.
    """

    declination_deg: tuple[tuple[float, float], ...]
    equation_of_time_min: tuple[tuple[float, float], ...]
    declination_off_deg: float
    equation_of_time_off_min: float


def short_sun() -> ShortSun:
    """Least squares on the geometric sun of the nominal year, four times a day."""
    utc_h = 6.0 * np.arange(4 * DAYS_PER_YEAR)
    track = sun_track(NOMINAL_EPOCH_S + 3600.0 * utc_h, latitude_deg=0.0, longitude_deg=0.0, pressure_pa=0.0)
    ahead_h = (track.solar_time_h - utc_h % 24 + 12.0) % 24.0 - 12.0
    t = 2 * pi * utc_h / (24 * DAYS_PER_YEAR)
    k = np.arange(_HARMONICS + 1)
    columns = np.hstack([np.cos(np.outer(t, k)), np.sin(np.outer(t, k[1:]))])

    def fitted(values: Floats) -> tuple[tuple[tuple[float, float], ...], float]:
        rounded = np.asarray(np.linalg.lstsq(columns, values, rcond=None)[0]).round(6)
        sines = [0.0, *rounded[_HARMONICS + 1 :]]
        pairs = tuple((float(c), float(s)) for c, s in zip(rounded[: _HARMONICS + 1], sines, strict=True))
        return pairs, float(np.abs(columns @ rounded - values).max())

    declination, declination_off = fitted(track.declination_deg)
    equation, equation_off = fitted(60.0 * ahead_h)
    return ShortSun(declination, equation, declination_off, equation_off)


def place_by_hand(
    sun: ShortSun, *, day: int, clock_h: float, utc_offset_h: float, longitude_deg: float
) -> tuple[float, float]:
    """Declination and hour angle (-180 to 180) in deg at a clock hour (standard time), in plain arithmetic."""
    utc_h = clock_h - utc_offset_h
    t = 2 * pi * (day - 1 + utc_h / 24) / DAYS_PER_YEAR
    declination = equation = 0.0
    for k, (cosine, sine) in enumerate(sun.declination_deg):
        declination += cosine * cos(k * t) + sine * sin(k * t)
    for k, (cosine, sine) in enumerate(sun.equation_of_time_min):
        equation += cosine * cos(k * t) + sine * sin(k * t)
    hour_angle = 15 * (utc_h + longitude_deg / 15 + equation / 60 - 12)
    return declination, (hour_angle + 180) % 360 - 180
