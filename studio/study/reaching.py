"""Stage: the light of a year that comes to a line before the field shades itself, and how it leans on the shade table.

Shade at a moment is blended from the nodes of its table, and each blend is a sum; so what shade takes in a month is one too,
with a weight for each node that no shade changes. The weights are worked out once for all lines that stand alike.
"""

from dataclasses import dataclass

import numpy as np

from studio.study.assessment import Array
from studio.study.obstacles import LineObstacles
from studio.study.optics import LineOptics
from studio.study.sky import Sky
from studio.study.skyline import HiddenSun


@dataclass(frozen=True)
class Surroundings:
    """What stands between the sun and a line besides the field itself; None where nothing does."""

    hidden: HiddenSun | None = None
    obstacles: LineObstacles | None = None

    @property
    def alone(self) -> tuple[tuple[int, float], ...]:
        """What each obstacle would take alone, largest first: (its place in the list, share)."""
        return () if self.obstacles is None else self.obstacles.alone

    def shares_at_parts(self, sky: Sky) -> tuple[Array | float, Array | float]:
        """At the parts of the sunlit hours (P,): the share of the light that the skyline takes, and of the rest that obstacles
        take."""
        hidden = 0.0 if self.hidden is None else sky.of_parts(self.hidden.hours)
        taken = 0.0 if self.obstacles is None else self.obstacles.at_parts
        return hidden, taken

    def left_at_grid(self) -> Array | float:
        """Share (U,) of the light that both leave at the moments of the clear grid."""
        left: Array | float = 1.0 if self.hidden is None else 1.0 - self.hidden.grid
        if self.obstacles is None:
            return left
        return left * (1.0 - self.obstacles.at_grid)


NOTHING_ROUND = Surroundings()


@dataclass(frozen=True, eq=False)
class Reaching:
    """The light that comes to a line before the field shades itself, for one m2 of aperture.

    ``accepted`` (P,), W: what of it a bare film would send into the windows within their acceptance, at the parts of the sunlit
    hours. By month, kWh: ``on_aperture``, what of that the skyline takes ``horizon`` and then ``obstacles``, and what a
    bare film would send into the windows ``into_window``, (12,) each. ``leaning`` (12, N): how much of the month's
    light is blended from each node of the shade table; ``into_leaning`` (12, N) how much of ``into_window`` is.
    """

    accepted: Array
    on_aperture: Array
    horizon: Array
    obstacles: Array
    into_window: Array
    leaning: Array
    into_leaning: Array


def reaching_of(sky: Sky, optics: LineOptics, around: Surroundings = NOTHING_ROUND) -> Reaching:
    """The light that comes to a line with ``optics``, past what stands around it."""
    hidden, taken = around.shares_at_parts(sky)
    on_aperture = sky.part_dni * optics.cosine
    lost_horizon = on_aperture * hidden
    seen = on_aperture - lost_horizon
    lost_obstacles = seen * taken
    before = seen - lost_obstacles
    into = before * optics.at_parts.into_window
    by_part = np.stack([on_aperture, lost_horizon, lost_obstacles, into], axis=-1)
    monthly = sky.by_month(by_part.reshape(len(sky.hour), -1, 4).sum(axis=1)).T / 1000.0
    return Reaching(
        accepted=before * optics.at_parts.accepted,
        on_aperture=monthly[0],
        horizon=monthly[1],
        obstacles=monthly[2],
        into_window=monthly[3],
        leaning=sky.leaning_by_month(before) / 1000.0,
        into_leaning=sky.leaning_by_month(into) / 1000.0,
    )
