"""The picture under the plan as it lies on the land, in metres."""

from cmath import exp
from math import radians

import numpy as np
from numpy.typing import NDArray

from studio.design.site import Underlay
from studio.engine.ground.similarity import Similarity

Array = NDArray[np.float64]


def laid(underlay: Underlay) -> Similarity:
    """How a picture's pixels, counted right and up from its middle, come to lie in site metres."""
    factor = underlay.m_per_pixel * exp(-1j * radians(underlay.turned_deg))
    return Similarity(factor, complex(underlay.x_m, underlay.y_m))


def pixel_at(underlay: Underlay, point: tuple[float, float]) -> tuple[float, float]:
    """The pixel, right and up from the picture's middle, that lies at a place in site metres."""
    lies = laid(underlay)
    found = (complex(*point) - lies.shift) / lies.factor
    return found.real, found.imag


def corners_of(underlay: Underlay, size_px: tuple[int, int]) -> Array:
    """The corners (4, 2) of a picture of so many pixels: upper left, upper right, lower right, lower left."""
    width, height = size_px
    return laid(underlay).of(np.array([(-1, 1), (1, 1), (1, -1), (-1, -1)]) * [width / 2, height / 2])
