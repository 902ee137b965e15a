"""Free stretches of strips across the land, as a function of where a strip lies: what planting is worked out on.

A strip is bounded by two parallels. What of the land's edge lies in it falls into chains; each covers one interval along
the strip, whose ends are corners (which stay) or points where an edge crosses a border of the strip (which shift evenly
with the strip). So between two offsets at which a corner enters or leaves the strip, and between those at which two such
ends pass one another, every free stretch has ends that are linear in the offset: a piece.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import cos, inf, radians, sin

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Linear = tuple[float, float]
"""A place along the strips as a function of the offset c: first + second c."""
NEGLIGIBLE_M = 1e-9
"""Offsets nearer than this are one."""


@dataclass(frozen=True)
class Stretches:
    """Pieces (N,) of free stretches: over offsets ``low`` to ``high`` a stretch runs along the strip from

    ``start`` (N, 2) to ``end`` (N, 2), each first + second · offset. Metres in the lines' frame: places along the azimuth,
    offsets to its left, both from the site's reference point.
    """

    low: Floats
    high: Floats
    start: Floats
    end: Floats

    def length_at(self, offset: Floats) -> Floats:
        """Length (N,) of each piece at an offset (N,) of its own."""
        gap = self.end - self.start
        return np.asarray(gap[:, 0] + gap[:, 1] * offset)

    def across(self, offset: float) -> Floats:
        """Free stretches (K, 2), from and to, of the strip at one offset, in their order."""
        these = (self.low <= offset) & (offset < self.high)
        ends = [side[these, 0] + side[these, 1] * offset for side in (self.start, self.end)]
        found = np.stack(ends, axis=1)
        return np.asarray(found[found[:, 0].argsort()])


@dataclass
class _Chain:
    """A connected part of the land's edge within a strip: its corners' extremes, and where it crosses the borders."""

    low: float
    high: float
    crossings: list[Linear]
    passes: bool  # from one border to the other: the land's inside changes across it

    def join(self, other: "_Chain") -> None:
        """Take in another chain that shares a corner."""
        self.low, self.high = min(self.low, other.low), max(self.high, other.high)
        self.crossings += other.crossings
        self.passes ^= other.passes

    def bounds(self) -> list[Linear]:
        """Everything that can be its outermost place."""
        corners = [(self.low, 0.0), (self.high, 0.0)] if self.low < inf else []
        return corners + self.crossings


def unit_vectors(azimuth_deg: float) -> tuple[Floats, Floats]:
    """Unit vectors (2,) along an azimuth (clockwise from true north) and square to it, to its left."""
    azimuth = radians(azimuth_deg)
    return np.array([sin(azimuth), cos(azimuth)]), np.array([-cos(azimuth), sin(azimuth)])


def free_stretches(
    area: BaseGeometry, *, azimuth_deg: float, right_m: float, left_m: float, least_m: float = 0.0
) -> Stretches:
    """Free stretches of every strip that reaches ``right_m`` and ``left_m`` from its offset, within ``area``.

    ``area`` is a polygon or several that do not overlap, with holes; pieces that stay shorter than ``least_m`` are left out.
    """
    edges = _Edges(area, azimuth_deg)
    pieces: list[tuple[float, float, Linear, Linear]] = []
    if edges.count:
        first, last = edges.bottom + right_m, edges.top - left_m
        events = np.unique(np.concatenate([edges.v0 - left_m, edges.v0 + right_m]))
        for low, high in pairwise(events[(events >= first) & (events <= last)].tolist()):
            if high - low > NEGLIGIBLE_M:
                pieces += _pieces(edges.chains((low + high) / 2, right_m, left_m), low, high, least_m)
    return Stretches(
        low=np.array([piece[0] for piece in pieces]),
        high=np.array([piece[1] for piece in pieces]),
        start=np.array([piece[2] for piece in pieces]).reshape(-1, 2),
        end=np.array([piece[3] for piece in pieces]).reshape(-1, 2),
    )


class _Edges:
    """The edges of an area in the frame of the lines: u along, v to the left; ring after ring."""

    def __init__(self, area: BaseGeometry, azimuth_deg: float) -> None:
        along, left = unit_vectors(azimuth_deg)
        starts, ends, before, count = [], [], [], 0
        for polygon in shapely.get_parts(area):
            for ring in shapely.get_rings(polygon):
                corners = shapely.get_coordinates(ring)
                corners = corners[:-1][(corners[1:] != corners[:-1]).any(axis=1)]
                starts.append(corners)
                ends.append(np.roll(corners, -1, axis=0))
                before.append(count + (np.arange(len(corners)) - 1) % len(corners))
                count += len(corners)
        self.count = count
        if not count:
            return
        first, second = np.concatenate(starts), np.concatenate(ends)
        self.u0, self.v0, self.u1, self.v1 = first @ along, first @ left, second @ along, second @ left
        self.low, self.high = np.minimum(self.v0, self.v1), np.maximum(self.v0, self.v1)
        self.bottom, self.top = float(self.v0.min()), float(self.v0.max())
        self._corners = list(
            zip(self.u0.tolist(), self.v0.tolist(), self.u1.tolist(), self.v1.tolist(), strict=True)
        )
        self._before: list[int] = np.concatenate(before).tolist()

    def chains(self, offset: float, right_m: float, left_m: float) -> list[_Chain]:
        """The chains within the strip at ``offset``, none of whose borders passes through a corner."""
        bottom, top = offset - right_m, offset + left_m
        of_edge: dict[int, _Chain] = {}
        for edge in np.flatnonzero((self.low < top) & (self.high > bottom)).tolist():
            u0, v0, u1, v1 = self._corners[edge]
            chain = of_edge.get(self._before[edge]) if bottom < v0 < top else None
            if chain is None:
                chain = _Chain(inf, -inf, [], False)
            of_edge[edge] = chain
            if bottom < v0 < top:
                chain.low, chain.high = min(chain.low, u0), max(chain.high, u0)
            if bottom < v1 < top:
                chain.low, chain.high = min(chain.low, u1), max(chain.high, u1)
            if (v0 < bottom) != (v1 < bottom):
                chain.crossings.append(_crossing(u0, v0, u1, v1, -right_m))
                chain.passes ^= True
            if (v0 < top) != (v1 < top):
                chain.crossings.append(_crossing(u0, v0, u1, v1, left_m))
        chains = {id(chain): chain for chain in of_edge.values()}
        for edge, chain in of_edge.items():  # a ring's last edge joins its first
            if edge < self._before[edge] and bottom < self._corners[edge][1] < top:
                other = of_edge[self._before[edge]]
                if other is not chain:
                    other.join(chain)
                    del chains[id(chain)]
        return list(chains.values())


def _crossing(u0: float, v0: float, u1: float, v1: float, border_m: float) -> Linear:
    """Where an edge crosses the border that lies ``border_m`` to the left of the offset."""
    lean = (u1 - u0) / (v1 - v0)
    return u0 + (border_m - v0) * lean, lean


def _pieces(
    chains: list[_Chain], low: float, high: float, least_m: float
) -> Iterator[tuple[float, float, Linear, Linear]]:
    """The pieces between two offsets between which no corner enters or leaves the strip."""
    bounds = [chain.bounds() for chain in chains]
    passing = _passing([place for places in bounds for place in places], low, high)
    for left, right in pairwise([low, *passing, high]):
        if right - left <= NEGLIGIBLE_M:
            continue
        middle = (left + right) / 2
        covered = []
        for chain, places in zip(chains, bounds, strict=True):
            there = [(place[0] + place[1] * middle, place) for place in places]
            covered.append((min(there), max(there), chain.passes))
        covered.sort(key=lambda cover: cover[0][0])
        (end, end_place), inside = (-inf, (0.0, 0.0)), False
        for (first, first_place), (last, last_place), passes in covered:
            if inside and first > end:
                gap, change = first_place[0] - end_place[0], first_place[1] - end_place[1]
                if max(gap + change * left, gap + change * right) >= least_m:
                    yield left, right, end_place, first_place
            if last > end:
                end, end_place = last, last_place
            inside ^= passes


def _passing(places: list[Linear], low: float, high: float) -> list[float]:
    """Offsets between ``low`` and ``high`` at which two places pass one another."""
    at_low, at_high = ([p + q * c for p, q in places] for c in (low, high))
    order = sorted(range(len(places)), key=at_low.__getitem__)
    if all(at_high[one] <= at_high[next_] for one, next_ in pairwise(order)):
        return []
    first, last = np.array(at_low), np.array(at_high)
    before, after = first[:, None] - first, last[:, None] - last
    one, other = np.nonzero(np.triu(before * after < 0))
    shares = before[one, other] / (before[one, other] - after[one, other])
    found: list[float] = np.unique(low + shares * (high - low)).tolist()
    return found
