"""Fewer corners: no ring holds more than a site file may, and how far anything shifted is told."""

import shapely

from studio.design.rules import MOST_IN_A_LIST
from studio.files.land.found import Array

_FIRST_M = 0.001


def fewer_corners(ring: Array, *, most: int = MOST_IN_A_LIST) -> tuple[Array, float]:
    """A ring (n, 2) in metres with at most ``most`` corners, and the largest shift (m) of a corner that was left out.

    The tolerance of Douglas and Peucker (1973) is doubled from a millimetre until few enough are left; the ring stays
    one that does not cross itself.
    """
    if len(ring) <= most:
        return ring, 0.0
    whole = shapely.Polygon(ring)
    tolerance = _FIRST_M
    while True:
        fewer = shapely.simplify(whole, tolerance, preserve_topology=True)
        corners: Array = shapely.get_coordinates(fewer.exterior)[:-1]
        if len(corners) <= most:
            break
        tolerance *= 2
    shift = shapely.distance(shapely.points(ring), fewer.exterior)
    return corners, float(shift.max())
