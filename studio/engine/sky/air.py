"""The air the sun shines through: pressure, air mass, and the light above it."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

SOLAR_CONSTANT = 1366.1
"""W/m2, ASTM E490-00a."""
SEA_LEVEL_PA = 101325.0
"""Standard atmosphere at sea level."""


def standard_pressure_pa(altitude_m: float) -> float:
    """Air pressure in Pa at a height above sea level.

    Portland State Aerospace Society, A quick derivation relating altitude to air pressure (2004), from the
    U.S. Standard Atmosphere 1976: base temperature 288.15 K, lapse 6.5 K/km, dry air. Valid in the troposphere.
    """
    return float(100.0 * ((44331.514 - altitude_m) / 11880.516) ** (1 / 0.1902632))


def relative_air_mass(elevation_deg: ArrayLike) -> NDArray[np.float64]:
    """Optical air mass relative to the zenith's, over the apparent elevation in degrees; inf below the horizon.

    Kasten & Young, Revised optical air mass tables and approximation formula, Applied Optics 28 (1989) 4735.
    """
    elevation = np.asarray(elevation_deg, dtype=np.float64)
    above = np.maximum(elevation, 0.0)
    mass = 1.0 / (np.sin(np.radians(above)) + 0.50572 * (above + 6.07995) ** -1.6364)
    return np.where(elevation < 0.0, np.inf, mass)


def extraterrestrial_normal(day_of_year: ArrayLike) -> NDArray[np.float64]:
    """Irradiance in W/m2 square to the sun above the air; ``day_of_year`` is 1 on 1 January, fractions allowed.

    Spencer, Fourier series representation of the position of the sun, Search 2 (1971) 172.
    """
    angle = 2 * np.pi / 365.0 * (np.asarray(day_of_year, dtype=np.float64) - 1.0)
    return np.asarray(
        SOLAR_CONSTANT
        * (
            1.00011
            + 0.034221 * np.cos(angle)
            + 0.00128 * np.sin(angle)
            + 0.000719 * np.cos(2 * angle)
            + 7.7e-05 * np.sin(2 * angle)
        )
    )
