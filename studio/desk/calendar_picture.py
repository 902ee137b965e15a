"""The sun calendar as pixels: colours from the maps, contours one pixel wide at any size, night left empty."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from PySide6.QtGui import QImage

from studio.desk.theme import Theme
from studio.study.assessment import SunCalendar

Array = NDArray[np.float64]
What = Literal["heat", "intercept", "shade"]
LEVELS = (0.25, 0.5, 0.75)
_ENDS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0)
_CONTOUR = 0.55
"""How strongly a contour covers the picture below it."""


@dataclass(frozen=True)
class Axes:
    """The hours that the picture shows, bottom and top; days run from 1 to 365."""

    from_h: float
    to_h: float


def values_of(calendar: SunCalendar, what: str) -> Array:
    """The quantity of a calendar: (days, hours), NaN at night."""
    return {"heat": calendar.heat_kw, "intercept": calendar.intercept, "shade": calendar.shade}[what]


def scale_top(calendar: SunCalendar, what: str) -> float:
    """Where the colour scale ends: 1 for shares, else a round number that holds the largest value."""
    if what != "heat":
        return 1.0
    values = calendar.heat_kw
    most = float(np.nanmax(values)) if np.isfinite(values).any() else 0.0
    if most <= 0.0:
        return 1.0
    step = 10.0 ** np.floor(np.log10(most))
    return float(next(k for k in _ENDS if k * step >= most - 1e-9) * step)


def axes_of(calendar: SunCalendar) -> Axes:
    """From the whole hour before the earliest sunrise to the one after the latest sunset."""
    rise = np.nan_to_num(calendar.sunrise_h, nan=5.0)
    fall = np.nan_to_num(calendar.sunset_h, nan=19.0)
    return Axes(float(np.floor(rise.min())), float(np.ceil(fall.max())))


def at_moment(calendar: SunCalendar, what: str, day: float, clock_h: float) -> float:
    """The value at a moment, NaN at night."""
    profile = day_profile(calendar, what, day)
    known = np.isfinite(profile)
    if not known.any():
        return float("nan")
    hours = calendar.clock_h[known]
    if not hours[0] - 0.6 <= clock_h <= hours[-1] + 0.6:
        return float("nan")
    return float(np.interp(clock_h, hours, profile[known]))


def day_profile(calendar: SunCalendar, what: str, day: float) -> Array:
    """The values of one day by clock hour, the mean of the two nearest days weighted by nearness; NaN at night."""
    values = values_of(calendar, what)
    days = calendar.day_of_year
    after = int(np.clip(np.searchsorted(days, day), 0, len(days) - 1))
    before = max(0, after - 1) if days[after] > day else after
    if before == after:
        return np.asarray(values[after])
    part = (day - days[before]) / (days[after] - days[before])
    mixed = (1 - part) * values[before] + part * values[after]
    return np.asarray(np.where(np.isnan(mixed), np.where(part < 0.5, values[before], values[after]), mixed))


def resampled(
    calendar: SunCalendar, what: str, axes: Axes, width: int, height: int
) -> tuple[Array, NDArray[np.bool_]]:
    """Values (height, width) at pixels, time upwards, night as 0; and where the sun is up."""
    values = np.nan_to_num(values_of(calendar, what), nan=0.0)
    days = 1.0 + 364.0 * (np.arange(width) + 0.5) / width
    hours = axes.to_h - (axes.to_h - axes.from_h) * (np.arange(height) + 0.5) / height
    at = np.clip(np.interp(days, calendar.day_of_year, np.arange(len(values))), 0, len(values) - 1)
    low = np.floor(at).astype(np.intp)
    high = np.minimum(low + 1, len(values) - 1)
    columns = values[low] + (at - low)[:, None] * (values[high] - values[low])
    step = np.interp(hours, calendar.clock_h, np.arange(values.shape[1]))
    low = np.floor(step).astype(np.intp)
    high = np.minimum(low + 1, values.shape[1] - 1)
    picture = columns[:, low] + (step - low) * (columns[:, high] - columns[:, low])
    rise = np.interp(days, calendar.day_of_year, np.nan_to_num(calendar.sunrise_h, nan=99.0))
    fall = np.interp(days, calendar.day_of_year, np.nan_to_num(calendar.sunset_h, nan=-99.0))
    up = (hours[:, None] > rise) & (hours[:, None] < fall)
    return np.asarray(picture.T), np.asarray(up)


def picture_of(
    calendar: SunCalendar,
    what: str,
    theme: Theme,
    axes: Axes,
    *,
    width: int,
    height: int,
    faded: bool = False,
) -> QImage:
    """The picture, ``width`` by ``height`` pixels; ``faded`` takes its colour away (it is from before the move)."""
    values, up = resampled(calendar, what, axes, width, height)
    share = values / scale_top(calendar, what)
    colors = (theme.shade(share) if what == "shade" else theme.heat(share)).astype(float)
    ink = theme.color("panel" if not theme.dark else "view")
    away = np.array([ink.red(), ink.green(), ink.blue()], float)
    line = contours(share) * _CONTOUR
    colors += line[..., None] * (away - colors) * np.where(share > 0.35, 1.0, 0.4)[..., None]
    night = theme.color("window")
    colors = np.where(up[..., None], colors, [night.red(), night.green(), night.blue()])
    if faded:
        grey = colors.mean(axis=-1, keepdims=True)
        panel = theme.color("view")
        colors = 0.45 * (0.25 * colors + 0.75 * grey) + 0.55 * np.array(
            [panel.red(), panel.green(), panel.blue()]
        )
    pixels = np.ascontiguousarray(np.rint(np.clip(colors, 0, 255)).astype(np.uint8))
    return QImage(pixels.tobytes(), width, height, 3 * width, QImage.Format.Format_RGB888).copy()


def contours(share: Array) -> Array:
    """How much of each pixel a contour one pixel wide covers: its distance is (value - level) / gradient."""
    down, across = np.gradient(share)
    slope = np.hypot(down, across)
    covered = np.zeros_like(share)
    steep = slope > 1e-4
    for level in LEVELS:
        distance = np.abs(share - level) / np.where(steep, slope, 1.0)
        covered = np.maximum(covered, np.where(steep, np.clip(1.1 - distance, 0.0, 1.0), 0.0))
    return np.asarray(covered)
