"""Pipes: standard sizes, and what an insulated or bare pipe loses to air and wind."""

from dataclasses import dataclass
from math import log, pi

import numpy as np
from numpy.typing import ArrayLike

from studio.engine.heat import convection, steel
from studio.engine.heat.solve import Numbers, temperature_where_zero
from studio.errors import BadInputError
from studio.text import _
from studio.units import STEFAN_BOLTZMANN, ZERO_CELSIUS_K, circle_area


@dataclass(frozen=True)
class PipeSize:
    """A steel pipe of a standard size."""

    key: str
    label: str
    outside_mm: float
    wall_mm: float

    @property
    def outside_m(self) -> float:
        """Outside diameter in m."""
        return self.outside_mm / 1000.0

    @property
    def bore_mm(self) -> float:
        """Inside diameter in mm."""
        return self.outside_mm - 2.0 * self.wall_mm

    @property
    def bore_m(self) -> float:
        """Inside diameter in m."""
        return self.bore_mm / 1000.0

    @property
    def mass_kg_m(self) -> float:
        """Mass of the empty pipe in kg per metre."""
        return (circle_area(self.outside_m) - circle_area(self.bore_m)) * steel.DENSITY_KG_M3

    @property
    def content_m3_m(self) -> float:
        """Content in m3 per metre."""
        return circle_area(self.bore_m)


def _schedule_40(nominal: int, inches: str, outside_mm: float, wall_mm: float) -> PipeSize:
    return PipeSize(f"sch40-{nominal}", f"NPS {inches} schedule 40", outside_mm, wall_mm)


def _medium(nominal: int, outside_mm: float, wall_mm: float) -> PipeSize:
    return PipeSize(f"medium-{nominal}", f"DN{nominal} medium", outside_mm, wall_mm)


SCHEDULE_40 = (
    _schedule_40(15, "1/2", 21.3, 2.77),
    _schedule_40(20, "3/4", 26.7, 2.87),
    _schedule_40(25, "1", 33.4, 3.38),
    _schedule_40(32, "1 1/4", 42.2, 3.56),
    _schedule_40(40, "1 1/2", 48.3, 3.68),
    _schedule_40(50, "2", 60.3, 3.91),
    _schedule_40(80, "3", 88.9, 5.49),
    _schedule_40(100, "4", 114.3, 6.02),
)
"""ASME B36.10M, schedule 40."""

MEDIUM = (
    _medium(15, 21.3, 2.6),
    _medium(20, 26.9, 2.6),
    _medium(25, 33.7, 3.2),
    _medium(32, 42.4, 3.2),
    _medium(40, 48.3, 3.2),
    _medium(50, 60.3, 3.6),
)
"""EN 10255:2004, medium series. Tables in circulation under that number often show the walls of the older DIN 2440."""

PIPE_SIZES = SCHEDULE_40 + MEDIUM


def pipe_size(key: str) -> PipeSize:
    """The standard size with ``key``; ``BadInputError`` when there is none."""
    for size in PIPE_SIZES:
        if size.key == key:
            return size
    keys = ", ".join(size.key for size in PIPE_SIZES)
    raise BadInputError(
        _("There is no pipe size {key}; it would be one of {keys}.").format(key=key, keys=keys)
    )


@dataclass(frozen=True)
class PipeRun:
    """A pipe with its insulation (0 mm: bare). The conductivity is that of the insulation at its mean temperature,
    the emittance that of the jacket, or of the bare pipe."""

    size: PipeSize
    insulation_mm: float
    insulation_w_mk: float = 0.06
    emittance: float = 0.9

    def __post_init__(self) -> None:
        if not self.insulation_mm >= 0 or not self.insulation_w_mk > 0 or not 0 <= self.emittance <= 1:
            raise BadInputError(
                _(
                    "Pipe {label}: insulation is 0 mm or more, its conductivity above 0, emittance from 0 to 1."
                ).format(label=self.size.label)
            )

    @property
    def jacket_m(self) -> float:
        """Outside diameter of the insulation in m."""
        return self.size.outside_m + 2.0 * self.insulation_mm / 1000.0


def jacket_c(
    oil_c: ArrayLike,
    air_c: ArrayLike,
    wind_m_s: ArrayLike,
    *,
    run: PipeRun,
    inside_w_m2k: ArrayLike | None = None,
    outside_w_m2k: ArrayLike | None = None,
) -> Numbers:
    """Temperature in degC of the jacket of a pipe that carries oil at ``oil_c``; all arrays broadcast.

    Resistances in series: film inside, steel, insulation, and outside either a given coefficient or wind and free
    convection (``convection``) with radiation to surroundings at air temperature. ``inside_w_m2k`` None leaves out
    the film inside, which overstates the loss a little.
    """
    oil, air, wind = np.broadcast_arrays(*(np.asarray(x, dtype=np.float64) for x in (oil_c, air_c, wind_m_s)))
    inner = _inner_resistance_mk_w(oil, run, inside_w_m2k)

    def surplus(jacket: Numbers) -> Numbers:
        return (oil - jacket) / inner - pi * run.jacket_m * _outside_flux(
            jacket, air, wind, run, outside_w_m2k
        )

    start = air + 0.1 * (oil - air)
    return temperature_where_zero(surplus, start, what=_("temperature of the pipe's jacket"))


def insulated_loss_w_m(
    oil_c: ArrayLike,
    air_c: ArrayLike,
    wind_m_s: ArrayLike,
    *,
    run: PipeRun,
    inside_w_m2k: ArrayLike | None = None,
    outside_w_m2k: ArrayLike | None = None,
) -> Numbers:
    """Heat in W per metre that an insulated pipe loses; arguments as in ``jacket_c``."""
    jacket = jacket_c(oil_c, air_c, wind_m_s, run=run, inside_w_m2k=inside_w_m2k, outside_w_m2k=outside_w_m2k)
    oil = np.asarray(oil_c, dtype=np.float64)
    return (oil - jacket) / _inner_resistance_mk_w(oil, run, inside_w_m2k)


def bare_loss_w_m(
    oil_c: ArrayLike,
    air_c: ArrayLike,
    wind_m_s: ArrayLike,
    *,
    size: PipeSize,
    emittance: float = 0.9,
    inside_w_m2k: ArrayLike | None = None,
) -> Numbers:
    """Heat in W per metre that a bare pipe loses."""
    run = PipeRun(size, 0.0, emittance=emittance)
    return insulated_loss_w_m(oil_c, air_c, wind_m_s, run=run, inside_w_m2k=inside_w_m2k)


def radiated_w_m2(surface_c: ArrayLike, around_c: ArrayLike, emittance: ArrayLike) -> Numbers:
    """Net radiation in W/m2 of a small grey surface to large surroundings, Stefan-Boltzmann."""
    hot = np.asarray(surface_c, dtype=np.float64) + ZERO_CELSIUS_K
    cold = np.asarray(around_c, dtype=np.float64) + ZERO_CELSIUS_K
    value: Numbers = np.asarray(emittance, dtype=np.float64) * STEFAN_BOLTZMANN * (hot**4 - cold**4)
    return value


def _inner_resistance_mk_w(oil: Numbers, run: PipeRun, inside_w_m2k: ArrayLike | None) -> Numbers:
    """Thermal resistance in mK/W from the oil to the jacket, ln(r2/r1)/(2 pi k) per layer (Bergman eq. 3.33)."""
    size = run.size
    layers = log(size.outside_m / size.bore_m) / (2.0 * pi * steel.conductivity_w_mk(oil))
    layers = layers + log(run.jacket_m / size.outside_m) / (2.0 * pi * run.insulation_w_mk)
    if inside_w_m2k is None:
        return layers
    return layers + 1.0 / (pi * size.bore_m * np.asarray(inside_w_m2k, dtype=np.float64))


def _outside_flux(
    jacket: Numbers, air_c: Numbers, wind: Numbers, run: PipeRun, outside_w_m2k: ArrayLike | None
) -> Numbers:
    """W/m2 that leave the jacket."""
    if outside_w_m2k is not None:
        return np.asarray(outside_w_m2k, dtype=np.float64) * (jacket - air_c)
    air = convection.air_at((jacket + air_c) / 2.0)
    diameter = run.jacket_m
    free = convection.nusselt_horizontal_cylinder(
        convection.rayleigh(air, warmer_k=jacket - air_c, length_m=diameter), air.prandtl
    )
    forced = convection.nusselt_cylinder_in_wind(wind * diameter / air.viscosity_m2_s, air.prandtl)
    film = convection.free_and_forced(free, forced, power=4.0) * air.conductivity_w_mk / diameter
    return film * (jacket - air_c) + radiated_w_m2(jacket, air_c, run.emittance)
