"""Hours in which a line warms up, or turns to work or from it, followed part by part.

What a line gives bends where it begins to work: the light of an hour that is half below that brings more than its mean. In all
other hours the mean does.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from studio.engine.heat import fast, warmup
from studio.engine.heat.solve import Numbers

_FLAT_W = 1e-9
"""Light whose parts differ by less stands still."""


@dataclass(frozen=True)
class Spent:
    """How (S, L) hours of lines are spent, means over the hour in W: lost by receivers and pipe while they work, idle; flow
    in kg/s, ``share`` of the hour in which a line delivers, and what steel and oil take up, ``stored_w``."""

    receiver_loss_w: Numbers
    line_pipe_loss_w: Numbers
    idle_loss_w: Numbers
    flow_kg_s: Numbers
    share: Numbers
    stored_w: Numbers

    @classmethod
    def of(
        cls, light_w: Numbers, working: fast.WorkingLines, warming: warmup.WarmUp, *, least_flow_kg_s: float
    ) -> "Spent":
        """From the light (S, L), what the lines do while they work, and their warming up.

        A line that could not work after warming up only keeps warm and turns light away.
        """
        works = (working.flow_kg_s > 0.0) & (working.flow_kg_s >= least_flow_kg_s)
        share = np.where(works, 1.0 - warming.lag, 0.0)
        return cls(
            receiver_loss_w=working.receiver_loss_w * share,
            line_pipe_loss_w=working.pipe_loss_w * share,
            idle_loss_w=warming.stored_w
            + warming.lost_w
            + np.where(works, 0.0, (1.0 - warming.lag) * light_w),
            flow_kg_s=working.flow_kg_s * share,
            share=share,
            stored_w=warming.stored_w,
        )


@dataclass(frozen=True)
class Lines:
    """What following a line needs: loss tables spread over the S hours (S, 12), film tables, mirrors and pipe (L,), the
    oil's rise of enthalpy and the flow below which nothing is delivered."""

    losses: Numbers
    films: fast.FilmTables
    mirrors: Numbers
    pipe_m: Numbers
    rise_j_kg: float
    least_flow_kg_s: float


def turning(
    parts_w: Numbers, working: fast.WorkingLines, warming: warmup.WarmUp, lines: Lines
) -> NDArray[np.bool_]:
    """The hours (S, L) to follow part by part, from the light (S, P, L) of their parts: those in which a line warms up, or in
    which the flow at some parts may be enough and at others not."""
    low, high, mean = parts_w.min(axis=1), parts_w.max(axis=1), parts_w.mean(axis=1)
    least = max(lines.least_flow_kg_s, 1e-12) * lines.rise_j_kg
    at_mean = working.flow_kg_s * lines.rise_j_kg
    crosses = (at_mean + low - mean < least) & (at_mean + high - mean >= least)
    return np.asarray((high - low > _FLAT_W) & (crosses | (warming.lag > 0.0)))


def followed(
    spent: Spent,
    parts_w: Numbers,
    at: NDArray[np.bool_],
    loops: warmup.Loops,
    start_c: Numbers,
    lines: Lines,
) -> Spent:
    """``spent`` with the hours ``at`` (S, L) followed part by part: ``parts_w`` (S, P, L) their light, ``start_c`` (S, L) how warm
    the loops begin."""
    hours, places = np.nonzero(at)
    count = parts_w.shape[1]
    mine = replace(
        loops,
        heat_w=loops.heat_w[hours, places, None],
        conductance_w_k=loops.conductance_w_k[hours, places, None],
        capacity_j_k=loops.capacity_j_k[places, None],
        air_c=loops.air_c[hours],
        step_h=loops.step_h / count,
    )
    losses, mirrors, pipe_m = lines.losses[hours], lines.mirrors[places], lines.pipe_m[places]
    now_c = start_c[hours, places, None]
    parts = []
    for part in range(count):
        light = parts_w[hours, part, places]
        going = replace(mine, heat_w=light[:, None])
        warming = warmup.warm_up(going, now_c)
        now_c = np.minimum(going.gains_k + now_c * (1.0 - going.forgets), loops.working_c)
        of_part = warmup.WarmUp(*(values[:, 0] for values in (warming.lag, warming.stored_w, warming.lost_w)))
        working = fast.work_moments(
            absorbed_w=np.where(of_part.lag < 1.0, light, 0.0),
            working=losses,
            films=lines.films,
            mirrors=mirrors,
            pipe_m=pipe_m,
            rise_j_kg=lines.rise_j_kg,
        )
        parts.append(Spent.of(light, working, of_part, least_flow_kg_s=lines.least_flow_kg_s))

    def mean(name: str) -> Numbers:
        whole: Numbers = getattr(spent, name).copy()
        whole[hours, places] = np.mean([getattr(part, name) for part in parts], axis=0)
        return whole

    return Spent(**{name: mean(name) for name in spent.__dataclass_fields__})
