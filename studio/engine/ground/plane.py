"""Level ground, or a plane slope."""

from math import cos, radians, sin

import numpy as np
from numpy.typing import ArrayLike, NDArray

from studio.errors import BadInputError
from studio.text import _

Floats = NDArray[np.float64]


def height_at(
    x: ArrayLike,
    y: ArrayLike,
    *,
    slope_percent: float,
    falls_towards_deg: float,
    reference: tuple[float, float] = (0.0, 0.0),
) -> Floats:
    """Height of the ground (m) at ``x``, ``y`` (m, site frame; they broadcast); 0 at ``reference``.

    The ground falls by ``slope_percent`` (m per 100 m on plan) towards the azimuth ``falls_towards_deg``, clockwise from
    true north. Raises BadInputError when the slope is negative or not a number.
    """
    if not 0 <= slope_percent < float("inf"):
        raise BadInputError(
            _("The slope of the ground is {slope} %; it must be 0 or more.").format(slope=slope_percent)
        )
    towards = radians(falls_towards_deg)
    east, north = np.asarray(x, dtype=float) - reference[0], np.asarray(y, dtype=float) - reference[1]
    return np.asarray(-slope_percent / 100 * (east * sin(towards) + north * cos(towards)))


def grade_percent(azimuth_deg: ArrayLike, *, slope_percent: float, falls_towards_deg: float) -> Floats:
    """Rise in m per 100 m on plan when walking along ``azimuth_deg`` (clockwise from true north); + is uphill."""
    apart = np.radians(np.asarray(azimuth_deg, dtype=float) - falls_towards_deg)
    return np.asarray(-slope_percent * np.cos(apart))


def ground_normal(*, slope_percent: float, falls_towards_deg: float) -> tuple[float, float, float]:
    """Unit vector square to the ground, site frame (east, north, up)."""
    fall, towards = slope_percent / 100, radians(falls_towards_deg)
    length = (1 + fall * fall) ** 0.5
    return fall * sin(towards) / length, fall * cos(towards) / length, 1 / length
