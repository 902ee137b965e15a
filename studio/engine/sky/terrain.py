"""The skyline of land: how high it stands by azimuth, from heights along rays over the curved earth.

A height h at distance d, seen from eye height e, stands at atan((h - e - drop) / d). The drop of the level below the
tangent is d² / 2R, of which refraction of the air gives back the share k: (1 - k) d² / 2R. k = 0.13 is the coefficient of
common surveying practice (Gauss; Torge and Müller, Geodesy, section on refraction, from memory).
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
EARTH_M = 6.371e6
"""Mean radius of the earth."""
REFRACTION = 0.13


def drop_m(distance_m: ArrayLike, *, refraction: float = REFRACTION) -> Floats:
    """By how much (m) level ground at a distance (m) lies below the eye's tangent, refraction counted."""
    distance = np.asarray(distance_m, dtype=np.float64)
    return (1.0 - refraction) * distance**2 / (2.0 * EARTH_M)


def ring_distances(cell_m: float, farthest_m: float, *, turn_deg: float) -> Floats:
    """Distances (D,) at which rays that stand ``turn_deg`` apart look: every half cell, and from where rays stand more
    than a cell apart as far apart as they. There is always one distance."""
    step, till = cell_m / 2, cell_m / np.radians(turn_deg)
    near = np.arange(step, max(step, min(farthest_m, till)) + step / 2, step)
    if till >= farthest_m:
        return near
    turns = int(np.ceil(np.log(farthest_m / near[-1]) / np.log1p(np.radians(turn_deg))))
    return np.concatenate(
        (near, near[-1] * (farthest_m / near[-1]) ** (np.arange(1, turns + 1) / max(turns, 1)))
    )


def skyline_along(
    heights_m: Floats, distances_m: Floats, *, eye_m: float, refraction: float = REFRACTION
) -> tuple[Floats, Floats]:
    """Elevation (A,) in degrees of the land along rays, and the distance (A,) in metres at which it stands highest.

    ``heights_m`` (A, D) are heights along each of A rays at ``distances_m`` (D,), NaN where none is known, in the same
    datum as the eye, ``eye_m``. A ray without any height gives NaN for both.
    """
    rise = heights_m - eye_m - drop_m(distances_m, refraction=refraction)
    elevation = np.degrees(np.arctan2(rise, distances_m))
    seen = np.where(np.isnan(elevation), -np.inf, elevation)
    at = seen.argmax(axis=1)
    rays = np.arange(len(seen))
    bare = np.isinf(seen[rays, at])
    return np.where(bare, np.nan, seen[rays, at]), np.where(bare, np.nan, distances_m[at])


def highest_by_azimuth(elevations_deg: Floats, per_step: int) -> Floats:
    """The highest (A,) of the ``per_step`` (odd) rays about each azimuth; rays (A x per_step,) go round evenly from the
    first azimuth's middle ray. NaN counts for nothing; where there is nothing else it stays."""
    rolled = np.roll(elevations_deg, per_step // 2).reshape(-1, per_step)
    highest = np.where(np.isnan(rolled), -np.inf, rolled).max(axis=1)
    return np.where(np.isinf(highest), np.nan, highest)


def highest_in_blocks(heights: Floats, factor: int) -> Floats:
    """The highest (rows // factor, columns // factor) of blocks of heights; NaN where a block has none.

    Peaks make a skyline, so that far away the highest of a block counts and not its mean.
    """
    if factor == 1:
        return heights
    high, wide = heights.shape[0] // factor * factor, heights.shape[1] // factor * factor
    blocks = heights[:high, :wide].reshape(high // factor, factor, wide // factor, factor)
    highest = np.where(np.isnan(blocks), -np.inf, blocks).max(axis=(1, 3))
    return np.where(np.isinf(highest), np.nan, highest)
