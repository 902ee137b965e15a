"""Stage: the light of a year, from the sun on facing mirrors down to what the absorbers take."""

from dataclasses import dataclass

import numpy as np

from studio.engine.sky.calendar import DAYS_OF_MONTHS
from studio.study.assessment import Array
from studio.study.nodes import SunNodes
from studio.study.obstacles import LineObstacles
from studio.study.optics import LineOptics
from studio.study.scenes import ShadeAt
from studio.study.sky import Sky
from studio.study.skyline import HiddenSun

LOSSES = (
    "cosine",
    "horizon",
    "obstacles",
    "mirrors",
    "gear",
    "film",
    "intercept",
    "acceptance",
    "absorptance",
)
"""Losses of light in the order of the staircase."""


@dataclass(frozen=True)
class Shares:
    """What film and absorber do with light: reflectance with dirt and age, and absorptance (glass included)."""

    reflectance: float
    absorptance: float


@dataclass(frozen=True)
class GridLight:
    """Light of a line at the moments of the clear grid (U,), in m2 of aperture: per DNI, light on the

    apertures (``facing_m2``), what shade leaves of it (``lit_m2``), and what is absorbed (``absorbed_m2``)."""

    facing_m2: Array
    lit_m2: Array
    absorbed_m2: Array


@dataclass(frozen=True)
class LineLight:
    """The light of one line over the year.

    ``absorbed_w`` (T,) at the sunlit hours; ``facing_kwh`` (12,) the sun on facing mirrors by month, ``losses_kwh``
    (9, 12) each loss of ``LOSSES`` by month, ``absorbed_kwh`` (12,) what is left.
    """

    absorbed_w: Array
    facing_kwh: Array
    losses_kwh: Array
    absorbed_kwh: Array
    grid: GridLight


def facing_by_month(sky: Sky) -> Array:
    """The year's DNI by month (12,), kWh/m2, hours without a sun above the horizon included."""
    starts = 24 * np.concatenate([[0], np.cumsum(DAYS_OF_MONTHS)[:-1]])
    return np.asarray(np.add.reduceat(sky.year.dni_w_m2, starts) / 1000.0)


@dataclass(frozen=True)
class Surroundings:
    """What stands between the sun and a line besides the field itself; None where nothing does."""

    hidden: HiddenSun | None = None
    obstacles: LineObstacles | None = None

    @property
    def alone(self) -> tuple[tuple[int, float], ...]:
        """What each obstacle would take alone, largest first: (its place in the list, share)."""
        return () if self.obstacles is None else self.obstacles.alone

    def shares_at_hours(self) -> tuple[Array | float, Array | float]:
        """At the sunlit hours (T,): the share of the light that the skyline takes, and of the rest that obstacles take."""
        hidden = 0.0 if self.hidden is None else self.hidden.hours
        taken = 0.0 if self.obstacles is None else self.obstacles.at_hours
        return hidden, taken

    def left_at_grid(self) -> Array | float:
        """Share (U,) of the light that both leave at the moments of the clear grid."""
        left: Array | float = 1.0 if self.hidden is None else 1.0 - self.hidden.grid
        if self.obstacles is None:
            return left
        return left * (1.0 - self.obstacles.at_grid)


NOTHING_ROUND = Surroundings()


def light_of(
    aperture_m2: float,
    sky: Sky,
    optics: LineOptics,
    shade: ShadeAt,
    shares: Shares,
    around: Surroundings = NOTHING_ROUND,
) -> LineLight:
    """The light of a line of so much aperture, every loss from its own state: before minus after.

    Shade of the field takes its share of what skyline and obstacles leave, as if they left it evenly over the line. Shade
    is charged by its area. What it takes of the light that would have entered the windows differs from that, as it falls on
    parts of the mirrors that serve the spot more or less than others: the difference stands in intercept (and in
    acceptance by its share), which is that of the light that shade leaves.
    """
    mirrors, gear, uneven = _shares_at(sky.nodes, shade)
    hidden, taken = around.shares_at_hours()
    at = optics.at_hours
    on_aperture = sky.dni * (aperture_m2 * optics.cosine)
    lost_horizon = on_aperture * hidden
    seen = on_aperture - lost_horizon
    lost_obstacles = seen * taken
    before = seen - lost_obstacles
    lost_mirrors = before * mirrors
    lost_gear = before * gear
    lit = before - lost_mirrors - lost_gear
    reflected = lit * shares.reflectance
    serving = (lit - before * uneven) * shares.reflectance
    into = np.clip(serving * at.into_window, 0.0, reflected)
    accepted = np.clip(serving * at.accepted, 0.0, into)
    absorbed = accepted * shares.absorptance
    states = np.stack(
        [
            on_aperture, lost_horizon, lost_obstacles, lost_mirrors, lost_gear,
            lit, reflected, into, accepted, absorbed,
        ],
        axis=-1,
    )  # fmt: skip
    monthly = sky.by_month(states).T / 1000.0
    facing = facing_by_month(sky) * aperture_m2
    losses = np.ascontiguousarray(
        np.concatenate([(facing - monthly[0])[None], monthly[1:5], monthly[5:9] - monthly[6:10]])
    )
    return LineLight(
        absorbed_w=absorbed,
        facing_kwh=facing,
        losses_kwh=losses,
        absorbed_kwh=monthly[9],
        grid=_grid_light(aperture_m2, sky, optics, shade, shares, around),
    )


def _shares_at(nodes: SunNodes, shade: ShadeAt) -> tuple[Array, Array, Array]:
    """Shares (T,) lost to mirrors and to gear, together never more than there is, and what both take of accepted light
    besides: more or less than nothing."""
    mirrors = nodes.blend(shade.mirrors)
    gear = np.minimum(nodes.blend(np.minimum(shade.gear, 1.0 - shade.mirrors)), 1.0 - mirrors)
    return mirrors, gear, nodes.between(shade.uneven)


def _grid_light(
    aperture_m2: float,
    sky: Sky,
    optics: LineOptics,
    shade: ShadeAt,
    shares: Shares,
    around: Surroundings,
) -> GridLight:
    facing = aperture_m2 * optics.grid_cosine
    before = facing * around.left_at_grid()
    mirrors, gear, uneven = _shares_at(sky.grid.nodes, shade)
    lit = before * (1.0 - mirrors - gear)
    serving = np.maximum(lit - before * uneven, 0.0)
    absorbed = serving * (shares.reflectance * shares.absorptance) * optics.at_grid.accepted
    return GridLight(facing_m2=facing, lit_m2=lit, absorbed_m2=absorbed)
