"""Morning warm-up and night cooling of loops: steel and oil of a line, or of the headers.

A loop is one lump of capacity C that loses U (T - air). With heat A going in, T runs exponentially towards
air + A/U with time constant C/U, and no higher than the working temperature: there it works, or turns the rest of the
light away. Exact within each hour for weather that is constant in it (lumped capacity: Bergman et al., Introduction to Heat
Transfer, section 5.3).
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from studio.engine.heat.solve import Numbers
from studio.errors import ComputationError
from studio.text import _
from studio.units import SECONDS_PER_HOUR

_BLOCK = 24
"""Steps that are followed one by one while all blocks go at once."""
_STILL_K = 1e-3
_LEAST_RATE = 1e-12
_LEAST_CAPACITY_J_K = 1.0
"""A loop with no mass is warm at once."""


@dataclass(frozen=True)
class Loops:
    """Loops (K) over hours (H).

    ``heat_w`` and ``conductance_w_k`` (H, K), ``capacity_j_k`` (K,), ``air_c`` (H,); ``working_c`` the mean
    temperature at which they work; ``step_h`` the length of a step, or (H, 1) of each.
    """

    heat_w: Numbers
    conductance_w_k: Numbers
    capacity_j_k: Numbers
    air_c: Numbers
    working_c: float
    step_h: float | Numbers = 1.0

    def at(self, hours: NDArray[np.intp]) -> "Loops":
        """The same loops in some of the hours."""
        return replace(
            self,
            heat_w=self.heat_w[hours],
            conductance_w_k=self.conductance_w_k[hours],
            air_c=self.air_c[hours],
        )

    @cached_property
    def capacity_w_k(self) -> Numbers:
        """Capacity over the length of a step, C/dt (K,) or (H, K)."""
        return np.maximum(self.capacity_j_k, _LEAST_CAPACITY_J_K) / (self.step_h * SECONDS_PER_HOUR)

    @cached_property
    def rate(self) -> Numbers:
        """Step over time constant, U dt/C (H, K)."""
        return np.maximum(self.conductance_w_k / self.capacity_w_k, _LEAST_RATE)

    @cached_property
    def forgets(self) -> Numbers:
        """Share of its distance from where it runs to that a loop covers in a step, 1 - exp(-U dt/C) (H, K)."""
        value: Numbers = -np.expm1(-self.rate)
        return value

    @cached_property
    def gains_k(self) -> Numbers:
        """What a loop that starts at 0 degC comes to within a step, by air and heat (H, K)."""
        heated = self.heat_w / self.capacity_w_k / self.rate
        value: Numbers = (self.air_c[:, None] + heated) * self.forgets
        return value


def ramp_k(loops: Loops, parts_w: Numbers) -> Numbers:
    """How much warmer (H, K) loops come out of an hour whose heat comes as ``parts_w`` (H, P, K), its equal parts, than with their
    mean in all of it: what comes late is lost less."""
    count = parts_w.shape[1]
    rate = loops.rate / count
    late = np.exp(-rate[:, None] * np.arange(count - 1, -1, -1)[:, None])
    excess = ((parts_w - loops.heat_w[:, None]) * late).sum(axis=1)
    return np.asarray(excess * -np.expm1(-rate) / (loops.rate * loops.capacity_w_k))


def temperatures_at_start(loops: Loops, ramp: Numbers | None = None) -> Numbers:
    """Temperature in degC of every loop at the start of every hour (H, K); at the very first it is the air's. ``ramp`` (H, K) is
    what :func:`ramp_k` tells.

    All blocks of 24 hours are followed at once from a guessed start, and again from the end that the block before came
    to, until nothing changes: nights forget quickly, so that a few rounds do. A loop that has settled is left alone, so
    that it comes out the same whatever other loops are followed beside it.
    """
    hours, count = loops.heat_w.shape
    if hours == 0 or count == 0:
        return np.zeros((hours, count))
    gained = loops.gains_k if ramp is None else loops.gains_k + ramp
    gains, keeps = _in_blocks(gained), _in_blocks(1.0 - loops.forgets)
    starts = np.empty_like(gains)
    first = np.repeat(_in_blocks(loops.air_c[:, None])[0], count, axis=1)
    blocks = first.shape[0]
    for _round in range(blocks + 1):
        now = first
        for step in range(_BLOCK):
            starts[step] = now
            now = np.minimum(gains[step] + now * keeps[step], loops.working_c)
        after = first.copy()
        after[1:] = now[:-1]
        moves = np.max(np.abs(after - first), axis=0) >= _STILL_K
        if not moves.any():
            return starts.swapaxes(0, 1).reshape(-1, count)[:hours]
        first = np.where(moves, after, first)
    raise ComputationError(_("The loop temperatures did not settle over the year."))


def _in_blocks(by_hour: Numbers) -> Numbers:
    """(H, K) as (24, blocks, K), the last block filled up with its last hour."""
    hours, count = by_hour.shape
    blocks = -(-hours // _BLOCK)
    if blocks * _BLOCK > hours:
        by_hour = np.concatenate([by_hour, np.repeat(by_hour[-1:], blocks * _BLOCK - hours, axis=0)])
    return np.ascontiguousarray(by_hour.reshape(blocks, _BLOCK, count).swapaxes(0, 1))


@dataclass(frozen=True)
class WarmUp:
    """(H, K): ``lag`` the share of the hour until a loop is at working temperature (1: it never is); mean heat over the
    hour in W that went into steel and oil (below zero: came out) and that was lost meanwhile."""

    lag: Numbers
    stored_w: Numbers
    lost_w: Numbers


def warm_up(loops: Loops, start_c: Numbers) -> WarmUp:
    """What warming up costs in every hour, from the temperatures at its start (`temperatures_at_start`)."""
    lag, stored, lost = (np.zeros_like(start_c) for _part in range(3))
    end_c = loops.gains_k + start_c * (1.0 - loops.forgets)
    waits = (start_c < loops.working_c) | (end_c < loops.working_c)
    start, end, rate = start_c[waits], end_c[waits], loops.rate[waits]
    capacity = np.broadcast_to(loops.capacity_w_k, start_c.shape)[waits]
    air = np.broadcast_to(loops.air_c[:, None], start_c.shape)[waits]
    drive = loops.heat_w[waits] / capacity

    # how fast it still rises when it gets there says whether and when it does
    rise = drive - rate * (loops.working_c - air)
    reaches = (end >= loops.working_c) & (rise > 0.0)
    logarithm = np.log1p(rate * (loops.working_c - start) / np.where(reaches, rise, np.inf))
    share = np.where(reaches, np.minimum(logarithm / rate, 1.0), 1.0)
    end = np.where(reaches, loops.working_c, end)
    lag[waits] = share
    stored[waits] = capacity * (end - start)
    # U times the integral of T - air over the time until then
    covered = -np.expm1(-rate * share)
    lost[waits] = capacity * ((start - air) * covered + drive * (share - covered / rate))
    return WarmUp(lag, stored, lost)
