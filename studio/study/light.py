"""Stage: the light of a year, from the sun on facing mirrors down to what the absorbers take."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from studio.engine.sky.calendar import DAYS_OF_MONTHS
from studio.study.assessment import Array
from studio.study.optics import LineOptics
from studio.study.reaching import NOTHING_ROUND, Reaching, Surroundings
from studio.study.scenes import ShadeAt
from studio.study.sky import HOUR_PARTS, Sky

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

    ``absorbed_w`` (T,) at the sunlit hours, ``parts_w`` (P,) at their parts; ``facing_kwh`` (12,) the sun on facing mirrors by
    month, ``losses_kwh`` (9, 12) each loss of ``LOSSES`` by month, ``absorbed_kwh`` (12,) what is left.
    """

    absorbed_w: Array
    parts_w: Array
    facing_kwh: Array
    losses_kwh: Array
    absorbed_kwh: Array
    look_at_grid: Callable[[], GridLight]

    @cached_property
    def shade_shares(self) -> tuple[float, float, float, float]:
        """Absorbed light in kWh; and of the light after cosine what shade, of it the horizon and obstacles, take."""
        lost = self.losses_kwh.sum(axis=1)
        on_aperture = float(self.facing_kwh.sum() - lost[0])
        horizon, obstacles = float(lost[1]), float(lost[2])
        shade = horizon + obstacles + float(lost[3] + lost[4])
        by = 1.0 / on_aperture if on_aperture > 0 else 0.0
        return float(self.absorbed_kwh.sum()), shade * by, horizon * by, obstacles * by

    @cached_property
    def grid(self) -> GridLight:
        """The light at the moments of the clear grid, worked out when first asked for."""
        return self.look_at_grid()


def facing_by_month(sky: Sky) -> Array:
    """The year's DNI by month (12,), kWh/m2, hours without a sun above the horizon included."""
    starts = 24 * np.concatenate([[0], np.cumsum(DAYS_OF_MONTHS)[:-1]])
    return np.asarray(np.add.reduceat(sky.year.dni_w_m2, starts) / 1000.0)


def light_of(
    aperture_m2: float,
    sky: Sky,
    optics: LineOptics,
    reaching: Reaching,
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
    covered, serving = _shares_at_nodes(shade)
    by_part = reaching.accepted * np.maximum(1.0 - sky.nodes.between(serving), 0.0)
    accepted_w = sky.by_hour(by_part) * (aperture_m2 * shares.reflectance)
    accepted = sky.by_month(accepted_w) / 1000.0
    facing = facing_by_month(sky) * aperture_m2
    on_aperture, lost_horizon, lost_obstacles = (
        aperture_m2 * kwh for kwh in (reaching.on_aperture, reaching.horizon, reaching.obstacles)
    )
    lost_mirrors, lost_gear = (
        # the cubics dip a little below nothing beside where shade begins
        aperture_m2 * np.maximum(reaching.leaning @ share, 0.0)
        for share in (shade.mirrors, covered - shade.mirrors)
    )
    lit = on_aperture - lost_horizon - lost_obstacles - lost_mirrors - lost_gear
    reflected = lit * shares.reflectance
    into = (aperture_m2 * shares.reflectance) * (reaching.into_window - reaching.into_leaning @ serving)
    into = np.clip(into, accepted, np.maximum(reflected, accepted))
    absorbed = accepted * shares.absorptance
    losses = [
        facing - on_aperture, lost_horizon, lost_obstacles, lost_mirrors, lost_gear,
        lit - reflected, reflected - into, into - accepted, accepted - absorbed,
    ]  # fmt: skip
    return LineLight(
        absorbed_w=accepted_w * shares.absorptance,
        parts_w=by_part * (HOUR_PARTS * aperture_m2 * shares.reflectance * shares.absorptance),
        facing_kwh=facing,
        losses_kwh=np.stack(losses),
        absorbed_kwh=absorbed,
        look_at_grid=partial(_grid_light, aperture_m2, sky, optics, shade, shares, around),
    )


def _shares_at_nodes(shade: ShadeAt) -> tuple[Array, Array]:
    """Shares (N,) lost to mirrors and gear together, never more than there is, and what both take of accepted light."""
    covered = np.maximum(np.minimum(shade.mirrors + shade.gear, 1.0), shade.mirrors)
    return covered, covered + shade.uneven


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
    covered, serving = (sky.grid.nodes.blend(share) for share in _shares_at_nodes(shade))
    absorbed = before * (1.0 - serving) * (shares.reflectance * shares.absorptance) * optics.at_grid.accepted
    return GridLight(facing_m2=facing, lit_m2=before * (1.0 - covered), absorbed_m2=absorbed)
