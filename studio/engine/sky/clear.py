"""Direct sun under a clear sky."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from studio.engine.sky.air import (
    SEA_LEVEL_PA,
    extraterrestrial_normal,
    relative_air_mass,
    standard_pressure_pa,
)
from studio.engine.sky.bundled import monthly_turbidity
from studio.engine.sky.calendar import DAYS_OF_MONTHS, DAYS_PER_YEAR

__all__ = ["clear_dni", "daily_turbidity", "ineichen_dni", "monthly_turbidity"]


def clear_dni(
    elevation_deg: ArrayLike, day_of_year: ArrayLike, *, altitude_m: float, turbidity: ArrayLike
) -> NDArray[np.float64]:
    """Direct normal irradiance in W/m2 under a clear sky; 0 with the sun below the horizon.

    ``elevation_deg`` is apparent; ``turbidity`` is Linke's at air mass 2 (a number, or one per moment). The three
    arrays broadcast. Air mass after Kasten & Young, corrected by the standard pressure of ``altitude_m``; light
    above the air after Spencer; see ``ineichen_dni``.
    """
    elevation = np.asarray(elevation_deg, dtype=np.float64)
    mass = relative_air_mass(elevation) * (standard_pressure_pa(altitude_m) / SEA_LEVEL_PA)
    return ineichen_dni(
        elevation,
        mass,
        turbidity=turbidity,
        altitude_m=altitude_m,
        extraterrestrial_w_m2=extraterrestrial_normal(day_of_year),
    )


def ineichen_dni(
    elevation_deg: ArrayLike,
    absolute_air_mass: ArrayLike,
    *,
    turbidity: ArrayLike,
    altitude_m: float,
    extraterrestrial_w_m2: ArrayLike,
) -> NDArray[np.float64]:
    """Direct normal irradiance in W/m2 after Ineichen and Perez; all arrays broadcast.

    Ineichen & Perez, A new airmass independent formulation for the Linke turbidity coefficient, Solar Energy 73
    (2002) 151, with the bound by the global irradiance of Perez et al., Solar Energy 73 (2002) 307. As pvlib
    has it, with b = 0.664 + 0.163/fh1. Written out because importing pvlib's own costs more than all else that
    a start needs.
    """
    elevation = np.asarray(elevation_deg, dtype=np.float64)
    mass = np.asarray(absolute_air_mass, dtype=np.float64)
    linke = np.asarray(turbidity, dtype=np.float64)
    above = np.asarray(extraterrestrial_w_m2, dtype=np.float64)
    up = elevation > 0.0
    sine = np.where(up, np.sin(np.radians(np.where(up, elevation, 90.0))), 1.0)
    mass = np.where(up, mass, 1.0)

    fh1 = np.exp(-altitude_m / 8000.0)
    fh2 = np.exp(-altitude_m / 1250.0)
    cg1 = 5.09e-05 * altitude_m + 0.868
    cg2 = 3.92e-05 * altitude_m + 0.0387
    global_over_sine = cg1 * above * np.exp(-cg2 * mass * (fh1 + fh2 * (linke - 1.0)))
    beam = above * (0.664 + 0.163 / fh1) * np.exp(-0.09 * mass * (linke - 1.0))
    diffuse_part = (0.1 - 0.2 * np.exp(-linke)) / (0.1 + 0.882 / fh1)
    bound = np.maximum(1.0 - diffuse_part, 0.0) * global_over_sine
    return np.where(up & (sine > 0.0), np.minimum(beam, bound), 0.0)


def daily_turbidity(months: ArrayLike) -> NDArray[np.float64]:
    """Linke turbidity of the 365 days, linear between the twelve monthly values set at the months' middles."""
    monthly = np.asarray(months, dtype=np.float64)
    ends = np.cumsum(DAYS_OF_MONTHS)
    middles = ends - np.asarray(DAYS_OF_MONTHS) / 2.0
    days = np.arange(DAYS_PER_YEAR) + 0.5
    return np.asarray(np.interp(days, middles, monthly, period=DAYS_PER_YEAR), dtype=np.float64)
