"""Air and the correlations of convection: free, forced and both at once.

Sources named below: Bergman, Lavine, Incropera & DeWitt, Introduction to Heat Transfer, 6th ed. (Bergman); White,
Viscous Fluid Flow, 3rd ed. (White). All arrays broadcast.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studio.engine.heat.solve import Numbers
from studio.units import GRAVITY, ZERO_CELSIUS_K

_AIR_GAS_CONSTANT = 287.05
_SEA_LEVEL_PA = 101325.0
_AIR_HEAT_CAPACITY = 1007.0


@dataclass(frozen=True)
class Air:
    """Dry air at sea level: W/mK, m2/s, m2/s, 1, 1/K."""

    conductivity_w_mk: Numbers
    viscosity_m2_s: Numbers
    diffusivity_m2_s: Numbers
    prandtl: Numbers
    expansion_1_k: Numbers


def air_at(film_c: ArrayLike) -> Air:
    """Air at a film temperature in degC: Sutherland's law for viscosity and conductivity (White, tables 1-2, 1-3),
    the ideal gas for density, heat capacity 1007 J/kgK."""
    kelvin = np.asarray(film_c, dtype=np.float64) + ZERO_CELSIUS_K
    ratio = kelvin / ZERO_CELSIUS_K
    root = ratio * np.sqrt(ratio)
    dynamic = 1.716e-5 * root * (ZERO_CELSIUS_K + 111.0) / (kelvin + 111.0)
    conductivity = 0.0241 * root * (ZERO_CELSIUS_K + 194.0) / (kelvin + 194.0)
    density = _SEA_LEVEL_PA / (_AIR_GAS_CONSTANT * kelvin)
    diffusivity = conductivity / (density * _AIR_HEAT_CAPACITY)
    viscosity = dynamic / density
    return Air(conductivity, viscosity, diffusivity, viscosity / diffusivity, 1.0 / kelvin)


def rayleigh(air: Air, *, warmer_k: ArrayLike, length_m: float, gravity: float = GRAVITY) -> Numbers:
    """Rayleigh number g beta dT L^3 / (nu alpha) for a surface ``warmer_k`` above the air (its size counts, not its
    sign)."""
    warmth = np.abs(np.asarray(warmer_k, dtype=np.float64))
    return gravity * air.expansion_1_k * warmth * length_m**3 / (air.viscosity_m2_s * air.diffusivity_m2_s)


def nusselt_vertical_plate(rayleigh: ArrayLike, prandtl: ArrayLike) -> Numbers:
    """Free convection at a vertical plate: Churchill & Chu 1975, all Rayleigh numbers (Bergman eq. 9.26)."""
    return _churchill_chu(rayleigh, prandtl, 0.825, 0.492)


def nusselt_horizontal_cylinder(rayleigh: ArrayLike, prandtl: ArrayLike) -> Numbers:
    """Free convection around a horizontal cylinder: Churchill & Chu 1975 (Bergman eq. 9.34)."""
    return _churchill_chu(rayleigh, prandtl, 0.60, 0.559)


def _churchill_chu(rayleigh: ArrayLike, prandtl: ArrayLike, still: float, weight: float) -> Numbers:
    share = (1.0 + (weight / np.asarray(prandtl, dtype=np.float64)) ** (9 / 16)) ** (8 / 27)
    value: Numbers = (still + 0.387 * np.asarray(rayleigh, dtype=np.float64) ** (1 / 6) / share) ** 2
    return value


def nusselt_hot_plate_facing_down(rayleigh: ArrayLike) -> Numbers:
    """Free convection under a hot plate that faces straight down; length is area over perimeter.

    0.27 Ra^(1/4), McAdams (Bergman eq. 9.32).
    """
    value: Numbers = 0.27 * np.asarray(rayleigh, dtype=np.float64) ** 0.25
    return value


def nusselt_gap(
    rayleigh: ArrayLike, prandtl: ArrayLike, *, slenderness: float, facing_down_deg: float
) -> Numbers:
    """Free convection across a closed gap whose hot side looks down ``facing_down_deg`` below the horizontal.

    Upright gap: Catton 1978, 0.22 (Pr Ra/(0.2+Pr))^0.28 (H/L)^(-1/4) (Bergman eq. 9.50), never below conduction.
    Turned with the hot side up: 1 + (Nu - 1) sin(tilt), Arnold et al. 1976 (Catton 1978). ``slenderness`` is
    height over gap.
    """
    pr = np.asarray(prandtl, dtype=np.float64)
    upright = 0.22 * (pr / (0.2 + pr) * np.asarray(rayleigh, dtype=np.float64)) ** 0.28 * slenderness**-0.25
    value: Numbers = 1.0 + (np.maximum(upright, 1.0) - 1.0) * np.cos(np.radians(facing_down_deg))
    return value


def nusselt_cylinder_in_wind(reynolds: ArrayLike, prandtl: ArrayLike) -> Numbers:
    """Forced convection around a cylinder in cross flow: Churchill & Bernstein 1977 (Bergman eq. 7.54)."""
    re = np.asarray(reynolds, dtype=np.float64)
    pr = np.asarray(prandtl, dtype=np.float64)
    laminar = 0.62 * np.sqrt(re) * np.cbrt(pr) / (1.0 + (0.4 / pr) ** (2 / 3)) ** 0.25
    value: Numbers = 0.3 + laminar * (1.0 + (re / 282000.0) ** (5 / 8)) ** (4 / 5)
    return value


def nusselt_plate_in_wind(reynolds: ArrayLike, prandtl: ArrayLike) -> Numbers:
    """Forced convection along a plate, mean over its length: 0.664 Re^(1/2) Pr^(1/3), above Re 5e5 the mixed layer
    (0.037 Re^(4/5) - 871) Pr^(1/3) (Bergman eqs. 7.30, 7.38)."""
    re = np.asarray(reynolds, dtype=np.float64)
    mixed = np.where(re > 5e5, 0.037 * re**0.8 - 871.0, 0.664 * np.sqrt(re))
    value: Numbers = mixed * np.cbrt(np.asarray(prandtl, dtype=np.float64))
    return value


def free_and_forced(free: ArrayLike, forced: ArrayLike, *, power: float) -> Numbers:
    """Free and forced convection together, (a^n + b^n)^(1/n): n 3 for plates, 4 for cylinders across the wind
    (Bergman section 9.9)."""
    value: Numbers = (
        np.asarray(free, dtype=np.float64) ** power + np.asarray(forced, dtype=np.float64) ** power
    ) ** (1.0 / power)
    return value
