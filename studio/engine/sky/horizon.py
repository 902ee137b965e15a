"""The skyline: how high it stands all round, and when it hides the sun."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from studio.engine.sky.sun import direction_from_equatorial

Floats = NDArray[np.float64]
PARTS = 8
"""Parts of an hour at whose middles the sun is looked for behind the skyline."""
DEGREES_PER_HOUR = 15.0
Skyline = tuple[tuple[float, float], ...]
"""(azimuth, elevation) in degrees, azimuths clockwise from true north and rising within one turn."""


def skyline_deg(skyline: Skyline, azimuth_deg: ArrayLike) -> Floats:
    """Elevation (...) of the skyline at azimuths (...), degrees: straight between its points and round past north.

    One point is a skyline of one height all round; none is the level horizon (0).
    """
    azimuth = np.asarray(azimuth_deg, dtype=np.float64)
    if not skyline:
        return np.zeros(azimuth.shape)
    at, height = np.array(skyline, dtype=np.float64).T
    return np.asarray(np.interp(azimuth, at, height, period=360.0))


def is_hidden(skyline: Skyline, suns: Floats) -> NDArray[np.bool_]:
    """Whether the sun's centre stands below the skyline, (...), for ``suns`` (..., 3), unit vectors east, north, up.

    The sun's disc of half a degree is taken as its centre: the two minutes in which the skyline cuts it even out.
    """
    elevation = np.degrees(np.arcsin(np.clip(suns[..., 2], -1.0, 1.0)))
    azimuth = np.degrees(np.arctan2(suns[..., 0], suns[..., 1]))
    return np.asarray(elevation < skyline_deg(skyline, azimuth))


def hidden_share(
    skyline: Skyline,
    declination_deg: Floats,
    hour_angle_deg: Floats,
    sunlit_h: Floats,
    *,
    latitude_deg: float,
) -> Floats:
    """Share (T,) of each interval's sunlit part in which the skyline hides the sun.

    The sun stands at ``declination_deg`` and ``hour_angle_deg`` (T,) in the middle of the sunlit part, which lasts
    ``sunlit_h`` (T,) hours; within it the sun goes on by 15 degrees an hour.
    """
    steps = (np.arange(PARTS) + 0.5) / PARTS - 0.5
    hour_angle = hour_angle_deg[:, None] + steps * DEGREES_PER_HOUR * sunlit_h[:, None]
    suns = direction_from_equatorial(declination_deg[:, None], hour_angle, latitude_deg=latitude_deg)
    return np.asarray(is_hidden(skyline, suns).mean(axis=1))
