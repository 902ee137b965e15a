"""How bright the sun is from its middle outwards, for the ray way: the disc, and the bright sky about it.

Angles are counted in radii of the disc, so that a sun that is set smaller, or to nothing, shrinks whole.
"""

from math import log
from typing import Literal

import numpy as np

from studio.engine.mirror.form import Floats
from studio.errors import BadInputError
from studio.text import _

SunShape = Literal["disc", "gaussian", "limb"]

DISC_MRAD = 4.65
AUREOLE_MRAD = 43.6
"""Half-angle of the disc, and of the sky that still counts as circumsolar (Buie, Monger & Dey, Solar Energy 74 (2003)
113)."""
LIMB = 0.5138
"""How much darker the limb is than the middle; the brightness falls as 1 - 0.5138 (angle/4.65 mrad)^4 (Negi, Bhowmik,
Mathur & Kandpal, Solar Energy 36 (1986) 293; from memory)."""


def sample_sun(
    shape: SunShape,
    *,
    sun_mrad: float,
    circumsolar_share: float,
    rays: int,
    generator: np.random.Generator,
) -> Floats:
    """Small angles (2, rays) in rad from the sun's middle, about two axes square to it.

    "disc": even over the radius 2 x ``sun_mrad``. "limb": the same radius, darker towards its edge. "gaussian": of
    ``sun_mrad`` RMS per axis. ``circumsolar_share`` (0 up to 0.8) of the rays come from the aureole round the disc
    instead, out to 43.6/4.65 radii.
    """
    if not 0 <= circumsolar_share <= 0.8:
        raise BadInputError(
            _("The circumsolar share must lie from 0 to 0.8; found {share}.").format(share=circumsolar_share)
        )
    if shape == "gaussian":
        if circumsolar_share > 0:
            raise BadInputError(
                _("A Gaussian sun has no edge for an aureole to begin at; choose disc or limb.")
            )
        return 1e-3 * sun_mrad * generator.standard_normal((2, rays))
    radius = np.sqrt(generator.random(rays))
    angle = 2 * np.pi * generator.random(rays)
    if shape == "limb":
        radius = _limb_radius(radius * radius)
    if circumsolar_share > 0:
        outside = generator.random(rays) < circumsolar_share
        radius[outside] = _aureole_radius(generator.random(int(np.sum(outside))), circumsolar_share)
    radius *= 2e-3 * sun_mrad
    return np.stack([radius * np.cos(angle), radius * np.sin(angle)])


def _limb_radius(below: Floats) -> Floats:
    """Radius within which the share ``below`` of the limb-darkened disc's light lies.

    The light within the radius r goes with r2 - a/3 r6; its inverse is read from a fine table in r2, where it is smooth.
    """
    square = np.linspace(0.0, 1.0, 4001)
    light = square - LIMB / 3 * square**3
    return np.asarray(np.sqrt(np.interp(below * light[-1], light, square)))


def _aureole_radius(below: Floats, circumsolar_share: float) -> Floats:
    """Radius within which the share ``below`` of the aureole's light lies.

    Its brightness falls as angle^g with g = 2.2 ln(0.52 c) c^0.43 - 0.1, c the circumsolar share (Buie, Monger & Dey
    2003; from memory). Their formula for its height gives back another share than c; here the share is c itself.
    """
    power = aureole_exponent(circumsolar_share) + 2
    edge = AUREOLE_MRAD / DISC_MRAD
    if abs(power) < 1e-9:
        return np.asarray(edge**below)
    return np.asarray((1 + below * (edge**power - 1)) ** (1 / power))


def aureole_exponent(circumsolar_share: float) -> float:
    """Exponent with which the aureole's brightness falls with the angle from the sun's middle."""
    share = circumsolar_share
    return float(2.2 * log(0.52 * share) * share**0.43 - 0.1)
