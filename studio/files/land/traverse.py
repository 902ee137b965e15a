"""A traverse: legs of bearing and distance, what they lack to close, and the compass rule.

Latitude of a leg is its distance times the cosine of its bearing, departure times the sine; the misclosure is their
sum; the compass rule (Bowditch, The Analyst, 1808) takes it off every leg in proportion to its length. As in any
textbook of surveying (Wolf and Ghilani, Elementary Surveying, chapter Traverse Computations).
"""

from math import atan2, degrees, hypot, inf

import numpy as np
from numpy.typing import ArrayLike

from studio.errors import BadInputError
from studio.files.land.found import Array, Misclosure
from studio.text import _


def walked(bearings_deg: ArrayLike, distances_m: ArrayLike) -> Array:
    """Where each leg ends (n, 2), metres east and north of the beginning. Bearings are azimuths in degrees."""
    bearings = np.radians(np.asarray(bearings_deg, dtype=float))
    distances = np.asarray(distances_m, dtype=float)
    return np.cumsum(np.column_stack((distances * np.sin(bearings), distances * np.cos(bearings))), axis=0)


def misclosure_of(ends: Array, distances_m: ArrayLike, *, adjusted: bool = False) -> Misclosure:
    """What a closed traverse with these leg ends (n, 2) lacks to come back to its beginning."""
    east, north = (float(part) for part in ends[-1])
    length, perimeter = hypot(east, north), float(np.sum(np.asarray(distances_m, dtype=float)))
    if not perimeter > 0:
        raise BadInputError(_("The traverse has no length; each leg has a bearing and a distance above 0."))
    return Misclosure(
        length_m=length,
        bearing_deg=degrees(atan2(east, north)) % 360.0,
        perimeter_m=perimeter,
        ratio=perimeter / length if length > 1e-9 * perimeter else inf,
        adjusted=adjusted,
    )


def by_compass_rule(ends: Array, distances_m: ArrayLike) -> Array:
    """The leg ends (n, 2) with the misclosure spread over the legs by their lengths; the last is the beginning again."""
    share = np.cumsum(np.asarray(distances_m, dtype=float))
    adjusted: Array = ends - np.outer(share / share[-1], ends[-1])
    return adjusted
