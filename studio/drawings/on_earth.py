"""Where site metres lie on the earth: a transverse Mercator projection about the reference point, and back.

Its scale is 1 on the meridian of the reference point and 1 + x²/2R² beside it (Snyder, Map Projections: A Working Manual,
USGS Professional Paper 1395, 1987, section 8): within 9 km east or west a length is true to 1e-6. North of the site frame
is true north at the reference point. Lengths are those on the WGS 84 ellipsoid; on land h metres above it a tape reads
h/R more (16 mm in 100 m at 1,000 m).
"""

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from studio.errors import BadInputError
from studio.text import _

if TYPE_CHECKING:
    from pyproj import Proj

Array = NDArray[np.float64]
EARTH_M = 6.371e6
"""Mean radius of the earth."""
FARTHEST_M = 9000.0
"""From the reference point; beyond it lengths are off by more than 1e-6."""


def site_of_degrees(degrees: ArrayLike, *, latitude_deg: float, longitude_deg: float) -> Array:
    """Site metres (n, 2), x east and y north, of longitudes and latitudes (n, 2) in degrees of WGS 84.

    BadInputError where a place lies on the far side of the earth.
    """
    there = np.asarray(degrees, dtype=float).reshape(-1, 2)
    x, y = _frame(latitude_deg, longitude_deg)(there[:, 0], there[:, 1])
    placed = np.column_stack((x, y))
    if not np.isfinite(placed).all():
        raise BadInputError(
            _("A corner lies too far from the reference point to be placed in metres about it.")
        )
    return placed


def degrees_of_site(places: ArrayLike, *, latitude_deg: float, longitude_deg: float) -> Array:
    """Longitudes and latitudes (n, 2) in degrees of WGS 84 of site metres (n, 2); the inverse of ``site_of_degrees``."""
    here = np.asarray(places, dtype=float).reshape(-1, 2)
    longitude, latitude = _frame(latitude_deg, longitude_deg)(here[:, 0], here[:, 1], inverse=True)
    return np.column_stack((longitude, latitude))


@lru_cache(maxsize=8)
def _frame(latitude_deg: float, longitude_deg: float) -> "Proj":
    from pyproj import Proj

    return Proj(proj="tmerc", lat_0=latitude_deg, lon_0=longitude_deg, k=1, x_0=0, y_0=0, ellps="WGS84")
