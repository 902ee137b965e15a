"""Carbon steel by temperature: EN 1993-1-2:2005, 3.4.1."""

import numpy as np
from numpy.typing import ArrayLike

from studio.engine.heat.solve import Numbers

DENSITY_KG_M3 = 7850.0
"""EN 1993-1-2, 3.2.2."""


def elongation_mm_m(temperature_c: ArrayLike) -> Numbers:
    """Growth since 20 degC in mm per metre, up to 750 degC: 1.2e-5 T + 0.4e-8 T^2 - 2.416e-4 (3.4.1.1).

    Tables of the pipe trade differ by up to 8 %: carry it as a range where a spot's place hangs on it.
    """
    t = np.asarray(temperature_c, dtype=np.float64)
    return 1000.0 * (1.2e-5 * t + 0.4e-8 * t**2 - 2.416e-4)


def heat_capacity_j_kgk(temperature_c: ArrayLike) -> Numbers:
    """Specific heat in J/kgK, up to 600 degC (3.4.1.2)."""
    t = np.asarray(temperature_c, dtype=np.float64)
    return 425.0 + 0.773 * t - 1.69e-3 * t**2 + 2.22e-6 * t**3


def conductivity_w_mk(temperature_c: ArrayLike) -> Numbers:
    """Conductivity in W/mK, up to 800 degC (3.4.1.3)."""
    return 54.0 - 3.33e-2 * np.asarray(temperature_c, dtype=np.float64)
