"""Oil flowing in a passage: friction, film coefficient, pump.

Sources: Colebrook 1939; Moody's laminar law 64/Re; Gnielinski 1976 and 2013; Hausen 1943 (Bergman et al., Introduction
to Heat Transfer, eqs. 8.57, 8.62; VDI Heat Atlas, part G1). All arrays broadcast.
"""

import numpy as np
from numpy.typing import ArrayLike

from studio.engine.heat.oil import OilTable
from studio.engine.heat.solve import Numbers

STEEL_ROUGHNESS_MM = 0.045
"""Commercial steel pipe, Moody 1944."""
LAMINAR_NUSSELT_WALL = 3.66
"""Fully developed laminar flow, wall temperature fixed (Bergman eq. 8.55)."""
LAMINAR_NUSSELT_FLUX = 48 / 11
"""Fully developed laminar flow, flux fixed (Bergman eq. 8.53)."""
_LAMINAR_END = 2300.0
_TURBULENT_START = 4000.0


def reynolds(flow_kg_s: ArrayLike, *, bore_m: float, viscosity_pa_s: ArrayLike) -> Numbers:
    """Reynolds number 4 m / (pi D mu) in a round bore."""
    return 4.0 * np.asarray(flow_kg_s, dtype=np.float64) / (np.pi * bore_m * np.asarray(viscosity_pa_s))


def _between(reynolds: Numbers, laminar: Numbers, turbulent: Numbers) -> Numbers:
    """The laminar and turbulent value, linear in Re from 2300 to 4000 (Gnielinski 2013)."""
    share = np.clip((reynolds - _LAMINAR_END) / (_TURBULENT_START - _LAMINAR_END), 0.0, 1.0)
    return (1.0 - share) * laminar + share * turbulent


def colebrook(reynolds: ArrayLike, relative_roughness: float = 0.0) -> Numbers:
    """Darcy friction factor of turbulent flow, Colebrook 1939: 1/sqrt(f) = -2 log10(k/3.7 + 2.51/(Re sqrt(f))).

    Newton in 1/sqrt(f) from Haaland's explicit form (1983); four rounds bring it to round-off. Roughness 0 gives
    Prandtl and von Karman's smooth pipe.
    """
    re = np.asarray(reynolds, dtype=np.float64)
    x = -1.8 * np.log10((relative_roughness / 3.7) ** 1.11 + 6.9 / re)
    slope = 2.51 / re
    for _round in range(4):
        inner = relative_roughness / 3.7 + slope * x
        gap = x + 2.0 * np.log10(inner)
        x = x - gap / (1.0 + 2.0 / np.log(10.0) * slope / inner)
    value: Numbers = x**-2.0
    return value


def friction_factor(reynolds: ArrayLike, relative_roughness: float = 0.0) -> Numbers:
    """Darcy friction factor of any flow: 64/Re up to Re 2300, Colebrook from 4000, linear in Re between."""
    re = np.maximum(np.asarray(reynolds, dtype=np.float64), 1e-9)
    turbulent = colebrook(np.maximum(re, _TURBULENT_START), relative_roughness)
    return _between(re, 64.0 / np.minimum(re, _LAMINAR_END), turbulent)


def pressure_loss_pa_m(
    oil: OilTable,
    temperature_c: ArrayLike,
    flow_kg_s: ArrayLike,
    *,
    bore_m: float,
    roughness_mm: float = STEEL_ROUGHNESS_MM,
) -> Numbers:
    """Friction pressure loss in Pa per metre of straight pipe, Darcy-Weisbach f rho v^2 / (2 D)."""
    density = oil.density(temperature_c)
    speed = np.asarray(flow_kg_s, dtype=np.float64) / (density * np.pi * bore_m**2 / 4)
    re = reynolds(flow_kg_s, bore_m=bore_m, viscosity_pa_s=oil.viscosity_pa_s(temperature_c))
    return friction_factor(re, roughness_mm / 1000.0 / bore_m) * density * speed**2 / (2.0 * bore_m)


def fitting_loss_pa(
    oil: OilTable, temperature_c: ArrayLike, flow_kg_s: ArrayLike, *, bore_m: float, resistance: float
) -> Numbers:
    """Pressure loss in Pa of fittings whose loss coefficients K sum up to ``resistance``: K rho v^2 / 2."""
    density = oil.density(temperature_c)
    speed = np.asarray(flow_kg_s, dtype=np.float64) / (density * np.pi * bore_m**2 / 4)
    value: Numbers = resistance * density * speed**2 / 2.0
    return value


def pump_power_w(
    *, flow_kg_s: ArrayLike, density_kg_m3: ArrayLike, pressure_pa: ArrayLike, efficiency: float
) -> Numbers:
    """Power in W that a pump takes: volume flow times pressure over efficiency (of pump, motor and drive together).

    The oil's density where the pump stands.
    """
    volume = np.asarray(flow_kg_s, dtype=np.float64) / np.asarray(density_kg_m3, dtype=np.float64)
    return volume * np.asarray(pressure_pa, dtype=np.float64) / efficiency


def nusselt_gnielinski(reynolds: ArrayLike, prandtl: ArrayLike, friction: ArrayLike) -> Numbers:
    """Turbulent flow, Gnielinski 1976: (f/8)(Re-1000)Pr / (1 + 12.7 sqrt(f/8)(Pr^(2/3)-1)), Darcy f."""
    re, pr, f = (np.asarray(x, dtype=np.float64) for x in (reynolds, prandtl, friction))
    value: Numbers = f / 8 * (re - 1000.0) * pr / (1.0 + 12.7 * np.sqrt(f / 8) * (np.cbrt(pr) ** 2 - 1.0))
    return value


def nusselt_laminar_entry(reynolds: ArrayLike, prandtl: ArrayLike, bore_over_length: float) -> Numbers:
    """Laminar flow over a heated length that starts there, Hausen 1943: 3.66 + 0.0668 Gz/(1 + 0.04 Gz^(2/3)), with
    Gz = Re Pr D/L; 0 for ``bore_over_length`` gives the fully developed 3.66."""
    graetz = np.asarray(reynolds, dtype=np.float64) * np.asarray(prandtl, dtype=np.float64) * bore_over_length
    value: Numbers = LAMINAR_NUSSELT_WALL + 0.0668 * graetz / (1.0 + 0.04 * np.cbrt(graetz) ** 2)
    return value


def nusselt_inside(reynolds: ArrayLike, prandtl: ArrayLike, *, bore_over_length: float = 0.0) -> Numbers:
    """Nusselt number of any flow in a smooth bore: Hausen up to Re 2300, Gnielinski from 4000 (friction of the smooth
    pipe), linear in Re between (Gnielinski 2013)."""
    re = np.asarray(reynolds, dtype=np.float64)
    fast = np.maximum(re, _TURBULENT_START)
    laminar = nusselt_laminar_entry(np.minimum(re, _LAMINAR_END), prandtl, bore_over_length)
    return _between(re, laminar, nusselt_gnielinski(fast, prandtl, colebrook(fast)))


def inside_film_w_m2k(
    oil: OilTable,
    temperature_c: ArrayLike,
    flow_kg_s: ArrayLike,
    *,
    bore_m: float,
    heated_m: float | None = None,
) -> Numbers:
    """Film coefficient in W/m2K between oil and wall of a round bore; ``heated_m`` is the length over which the
    temperature profile has grown, None for a long pipe. Property changes at the wall are left out."""
    re = reynolds(flow_kg_s, bore_m=bore_m, viscosity_pa_s=oil.viscosity_pa_s(temperature_c))
    entry = 0.0 if heated_m is None else bore_m / heated_m
    nusselt = nusselt_inside(re, oil.prandtl(temperature_c), bore_over_length=entry)
    return nusselt * oil.conductivity(temperature_c) / bore_m
