"""Oil: properties by temperature from a table, enthalpy, limits, growth.

Three oils by their chemical class; another oil is another table.
"""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from studio.engine.heat.solve import Numbers
from studio.errors import BadInputError
from studio.text import _
from studio.units import ZERO_CELSIUS_K


@dataclass(frozen=True)
class OilLimits:
    """Temperatures in degC that an oil must not pass, or that warn; None where no source was found.

    ``bulk_c`` and ``film_c``: the most for the oil's mean and for the oil at the wall; ``flash_c`` and ``ignition_c``:
    lowest flash point and lowest self-ignition of the class; ``freezing_c``: below it the oil is solid.
    They are of the class: the maker's sheet of the oil that is bought decides.
    """

    bulk_c: float
    film_c: float
    flash_c: float
    ignition_c: float
    freezing_c: float | None
    source: str


@dataclass(frozen=True)
class OilTable:
    """An oil by temperature (degC, rising). ``vapour_pressure_kpa`` is absolute, None where it is not known.

    Between the temperatures of the table density, heat capacity and conductivity run linearly, the logarithms of
    viscosity and vapour pressure linearly in 1/T (Andrade 1930; Clausius and Clapeyron). Outside the table the value
    at its end is held; ``require_within`` refuses a temperature outside.
    """

    key: str
    label: str
    temperature_c: tuple[float, ...]
    density_kg_m3: tuple[float, ...]
    heat_capacity_j_kgk: tuple[float, ...]
    conductivity_w_mk: tuple[float, ...]
    viscosity_mpa_s: tuple[float, ...]
    vapour_pressure_kpa: tuple[float | None, ...]
    limits: OilLimits
    source: str

    def __post_init__(self) -> None:
        columns = (
            self.density_kg_m3,
            self.heat_capacity_j_kgk,
            self.conductivity_w_mk,
            self.viscosity_mpa_s,
            self.vapour_pressure_kpa,
        )
        count = len(self.temperature_c)
        if count < 2 or any(len(column) != count for column in columns):
            raise BadInputError(
                _("Oil {label}: every column needs one value per temperature, for two or more.").format(
                    label=self.label
                )
            )
        if not all(a < b for a, b in pairwise(self.temperature_c)):
            raise BadInputError(_("Oil {label}: its temperatures must rise.").format(label=self.label))
        if not all(value is None or value > 0 for column in columns for value in column):
            raise BadInputError(_("Oil {label}: its properties must be above 0.").format(label=self.label))

    @property
    def coldest_c(self) -> float:
        """First temperature of the table."""
        return self.temperature_c[0]

    @property
    def hottest_c(self) -> float:
        """Last temperature of the table."""
        return self.temperature_c[-1]

    def require_within(self, temperature_c: float, *, what: str) -> None:
        """``BadInputError`` when the table does not reach ``temperature_c``; ``what`` names that temperature."""
        if not self.coldest_c <= temperature_c <= self.hottest_c:
            raise BadInputError(
                _("{what} is {found:g} °C; the table of {label} runs from {low:g} to {high:g} °C.").format(
                    what=what, found=temperature_c, label=self.label, low=self.coldest_c, high=self.hottest_c
                )
            )

    def density(self, temperature_c: ArrayLike) -> Numbers:
        """Density in kg/m3."""
        return self._linear(temperature_c, self.density_kg_m3)

    def heat_capacity(self, temperature_c: ArrayLike) -> Numbers:
        """Heat capacity in J/kgK."""
        return self._linear(temperature_c, self.heat_capacity_j_kgk)

    def conductivity(self, temperature_c: ArrayLike) -> Numbers:
        """Conductivity in W/mK."""
        return self._linear(temperature_c, self.conductivity_w_mk)

    def viscosity_pa_s(self, temperature_c: ArrayLike) -> Numbers:
        """Dynamic viscosity in Pa s."""
        inverse, logarithm = self._viscosity_nodes
        return np.exp(np.interp(-1.0 / _kelvin(temperature_c), inverse, logarithm)) / 1000.0

    def vapour_pressure(self, temperature_c: ArrayLike) -> Numbers:
        """Absolute vapour pressure in kPa; NaN outside the temperatures at which the table knows it."""
        inverse, logarithm = self._vapour_nodes
        if inverse.size == 0:
            return np.full(np.shape(temperature_c), np.nan)
        at = -1.0 / _kelvin(temperature_c)
        return np.exp(np.interp(at, inverse, logarithm, left=np.nan, right=np.nan))

    def prandtl(self, temperature_c: ArrayLike) -> Numbers:
        """Prandtl number."""
        return (
            self.heat_capacity(temperature_c)
            * self.viscosity_pa_s(temperature_c)
            / self.conductivity(temperature_c)
        )

    def enthalpy_j_kg(self, temperature_c: ArrayLike) -> Numbers:
        """Enthalpy in J/kg above 0 degC at constant pressure: the exact integral of the heat capacity."""
        t = np.asarray(temperature_c, dtype=np.float64)
        nodes, capacity, slope, enthalpy = self._enthalpy_nodes
        piece = np.searchsorted(nodes, t, side="right") - 1
        low = np.clip(piece, 0, None)
        past = t - nodes[low]
        rise: Numbers = np.where(piece < 0, 0.0, slope[low])
        return enthalpy[low] + past * (capacity[low] + 0.5 * rise * past)

    def temperature_at(self, enthalpy_j_kg: ArrayLike) -> Numbers:
        """Temperature in degC at an enthalpy: the inverse of ``enthalpy_j_kg``."""
        h = np.asarray(enthalpy_j_kg, dtype=np.float64)
        nodes, capacity, slope, enthalpy = self._enthalpy_nodes
        piece = np.searchsorted(enthalpy, h, side="right") - 1
        low = np.clip(piece, 0, None)
        past = h - enthalpy[low]
        rise = np.where(piece < 0, 0.0, slope[low])
        # the root of past = c t + s t^2/2 in the form that stays exact when s is 0
        root = np.sqrt(np.maximum(capacity[low] ** 2 + 2.0 * rise * past, 0.0))
        value: Numbers = nodes[low] + 2.0 * past / (capacity[low] + root)
        return value

    def expansion_m3(self, mass_kg: float, *, cold_c: float, hot_c: float) -> float:
        """Volume in m3 by which ``mass_kg`` of oil grows from ``cold_c`` to ``hot_c``: the vessel that takes it up is
        larger."""
        return mass_kg * float(1.0 / self.density(hot_c) - 1.0 / self.density(cold_c))

    def _linear(self, temperature_c: ArrayLike, column: tuple[float, ...]) -> Numbers:
        return np.asarray(np.interp(np.asarray(temperature_c, dtype=np.float64), self.temperature_c, column))

    @cached_property
    def _viscosity_nodes(self) -> tuple[Numbers, Numbers]:
        return -1.0 / _kelvin(self.temperature_c), np.log(np.asarray(self.viscosity_mpa_s))

    @cached_property
    def _vapour_nodes(self) -> tuple[Numbers, Numbers]:
        known = [
            (t, p) for t, p in zip(self.temperature_c, self.vapour_pressure_kpa, strict=True) if p is not None
        ]
        return -1.0 / _kelvin([t for t, _p in known]), np.log(
            np.asarray([p for _t, p in known], dtype=np.float64)
        )

    @cached_property
    def _enthalpy_nodes(self) -> tuple[Numbers, Numbers, Numbers, Numbers]:
        """Temperatures, heat capacities, their slopes to the next node (0 after the last) and enthalpies."""
        nodes = np.asarray(self.temperature_c, dtype=np.float64)
        capacity = np.asarray(self.heat_capacity_j_kgk, dtype=np.float64)
        slope = np.append(np.diff(capacity) / np.diff(nodes), 0.0)
        steps = 0.5 * (capacity[1:] + capacity[:-1]) * np.diff(nodes)
        enthalpy = np.append(0.0, np.cumsum(steps))
        at_zero = float(np.interp(0.0, nodes, enthalpy))
        if nodes[0] > 0.0:
            at_zero = -capacity[0] * nodes[0]
        elif nodes[0] < 0.0:
            piece = min(int(np.searchsorted(nodes, 0.0, side="right")) - 1, nodes.size - 1)
            at_zero = enthalpy[piece] - nodes[piece] * (capacity[piece] - 0.5 * slope[piece] * nodes[piece])
        return nodes, capacity, slope, enthalpy - at_zero


def _kelvin(temperature_c: ArrayLike) -> Numbers:
    return np.maximum(np.asarray(temperature_c, dtype=np.float64) + ZERO_CELSIUS_K, 1.0)


_MINERAL_LIMITS = OilLimits(
    bulk_c=300.0,
    film_c=328.0,
    flash_c=180.0,
    ignition_c=320.0,
    freezing_c=None,
    source=(
        "Lower ends of the usual ranges of mineral heat-transfer oils (bulk 300 to 320, flash 180 to 230, self-"
        "ignition 320 to 370 °C), from memory; film 28 K above bulk, process-heating glossaries. The maker's sheet decides."
    ),
)

HEAVY_MINERAL_OIL = OilTable(
    key="heavy-mineral",
    label="Heavy mineral oil",
    temperature_c=(0, 20, 40, 60, 80, 100, 150, 200, 250, 300, 320),
    density_kg_m3=(909, 897, 884, 871, 859, 846, 813, 781, 748, 715, 702),
    heat_capacity_j_kgk=(1770, 1850, 1920, 1990, 2060, 2130, 2310, 2490, 2670, 2850, 2920),
    conductivity_w_mk=(
        *(0.1302, 0.1288, 0.1274, 0.1260, 0.1246, 0.1232, 0.1197, 0.1163, 0.1128, 0.1093, 0.1079),
    ),
    viscosity_mpa_s=(14370, 1917, 424, 134, 54.5, 26.64, 7.47, 3.22, 1.76, 1.10, 0.94),
    vapour_pressure_kpa=(None, None, None, None, None, None, None, 0.04, None, 3.0, 5.5),
    limits=_MINERAL_LIMITS,
    source=(
        "Modelica Standard Library, Media.Incompressible, table of a mineral heat-transfer oil (its viscosity reads "
        "as mPa s)."
    ),
)
"""1.9 Pa s at 20 degC: a heavy oil that a cold start has to move."""

LIGHT_MINERAL_OIL = OilTable(
    key="light-mineral",
    label="Light mineral oil",
    temperature_c=(0, 20, 40, 60, 100, 150, 200, 250, 300, 320),
    density_kg_m3=(874.4, 861.4, 848.4, 835.5, 809.5, 776.4, 741.8, 705.1, 665.5, 648.7),
    heat_capacity_j_kgk=(1807, 1881, 1955, 2029, 2176, 2359, 2540, 2721, 2901, 2972),
    conductivity_w_mk=(0.1348, 0.1337, 0.1324, 0.1311, 0.1283, 0.1247, 0.1209, 0.1171, 0.1134, 0.1119),
    viscosity_mpa_s=(421.3, 98.12, 34.60, 15.82, 5.281, 2.193, 1.220, 0.8025, 0.5860, 0.5277),
    vapour_pressure_kpa=(None, None, None, None, None, 0.0022, 0.0485, 0.523, 2.53, 3.74),
    limits=_MINERAL_LIMITS,
    source=(
        "CoolProp, incompressible liquids, fit of a heat-transfer oil; that it is a mineral oil is from memory."
    ),
)

DIPHENYL_OXIDE_EUTECTIC = OilTable(
    key="diphenyl-oxide-eutectic",
    label="Diphenyl oxide and biphenyl, eutectic",
    temperature_c=(12, 20, 40, 60, 100, 150, 200, 250, 260, 300, 350, 390),
    density_kg_m3=(
        *(1071.7, 1064.9, 1047.9, 1031.1, 998.1, 956.5, 913.5, 867.3, 857.6, 816.8, 760.3, 709.9),
    ),
    heat_capacity_j_kgk=(1518, 1543, 1604, 1663, 1777, 1913, 2046, 2179, 2205, 2315, 2459, 2581),
    conductivity_w_mk=(
        *(0.1370, 0.1363, 0.1343, 0.1323, 0.1277, 0.1212, 0.1138, 0.1055, 0.1038, 0.0964, 0.0864, 0.0778),
    ),
    viscosity_mpa_s=(
        5.082,
        4.144,
        2.649,
        1.819,
        1.003,
        0.5804,
        0.3865,
        0.2824,
        0.2674,
        0.2200,
        0.1795,
        0.1564,
    ),
    vapour_pressure_kpa=(
        *(None, 0.001345, 0.008624, 0.04086, 0.4772, 4.521, 23.92, 86.31, 107.8, 239.1, 547.8, 958.6),
    ),
    limits=OilLimits(
        bulk_c=390.0,
        film_c=418.0,
        flash_c=110.0,
        ignition_c=600.0,
        freezing_c=12.0,
        source=(
            "Freezing: Ziebland & Burton, J. Chem. Eng. Data 6 (1961) 579. Bulk: the end of the property table. Film "
            "28 K above bulk, process-heating glossaries. Flash and self-ignition: lower ends of data sheets, from "
            "memory. The maker's sheet decides."
        ),
    ),
    source="CoolProp, incompressible liquids, fit of a 73.5 / 26.5 % mixture; Ziebland & Burton 1961.",
)
"""Boils at 257 degC: above that it is a pressure system."""
