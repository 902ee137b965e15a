"""What a drawn point can be caught by: named points, edges and guides, as arrays. No Qt."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import cos, radians, sin

import numpy as np
from numpy.typing import NDArray

from studio.design.site import Point
from studio.text import _

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Way:
    """A direction that a segment being drawn is caught by: its azimuth, its name, and the edge it is taken from."""

    azimuth_deg: float
    name: str
    of: tuple[Point, Point] | None = None


@dataclass(eq=False)
class Targets:
    """What can be caught. Filled first, then asked: the arrays are made once, when they are first wanted.

    ``points``: place, word and whether it is a middle, which gives way to a corner as near. ``edges``: both ends and
    whose they are. ``guides``: a place, an azimuth, from where to where along it (m), and the word it is caught by.
    """

    points: list[tuple[Point, str, bool]] = field(default_factory=list)
    edges: list[tuple[Point, Point, str]] = field(default_factory=list)
    guides: list[tuple[Point, float, float, float, str]] = field(default_factory=list)

    def add_point(self, place: Sequence[float] | Array, name: str) -> None:
        """A named point."""
        self.points.append(((float(place[0]), float(place[1])), name, False))

    def add_ring(
        self, ring: Iterable[Sequence[float] | Array], *, closed: bool = True, name: str = ""
    ) -> None:
        """Corners, middles and edges of a ring or a route; ``name`` is whose they are."""
        corners = [(float(x), float(y)) for x, y in ring]
        self.points.extend((corner, _("corner"), False) for corner in corners)
        ends = corners[1:] + corners[:1] if closed and len(corners) > 2 else corners[1:]
        for start, end in zip(corners, ends, strict=False):
            self.add_edge(start, end, name)

    def add_edge(self, start: Point, end: Point, name: str = "") -> None:
        """An edge and its middle."""
        self.edges.append((start, end, name))
        self.points.append((((start[0] + end[0]) / 2, (start[1] + end[1]) / 2), _("middle"), True))

    def add_guide(self, place: Point, azimuth_deg: float, low_m: float, high_m: float, name: str) -> None:
        """A straight guide through a place."""
        self.guides.append((place, azimuth_deg, low_m, high_m, name))

    def joined(self, other: "Targets | None") -> "Targets":
        """These and others together."""
        if other is None or not (other.points or other.edges or other.guides):
            return self
        return Targets(self.points + other.points, self.edges + other.edges, self.guides + other.guides)

    @cached_property
    def spots(self) -> Array:
        """The points (n, 2)."""
        return np.array([place for place, _name, _middle in self.points], dtype=float).reshape(-1, 2)

    @cached_property
    def middles(self) -> NDArray[np.bool_]:
        """Which points are middles, (n,)."""
        return np.array([middle for _place, _name, middle in self.points], dtype=bool)

    @cached_property
    def starts(self) -> Array:
        """Where edges begin (m, 2)."""
        return np.array([start for start, _end, _name in self.edges], dtype=float).reshape(-1, 2)

    @cached_property
    def runs(self) -> Array:
        """From an edge's beginning to its end (m, 2)."""
        return np.array([end for _start, end, _name in self.edges], dtype=float).reshape(-1, 2) - self.starts

    @cached_property
    def lengths(self) -> Array:
        """Lengths of the edges (m,)."""
        return np.hypot(self.runs[:, 0], self.runs[:, 1])

    @cached_property
    def guide_places(self) -> Array:
        """Places of the guides (k, 2)."""
        return np.array([place for place, *_rest in self.guides], dtype=float).reshape(-1, 2)

    @cached_property
    def guide_ways(self) -> Array:
        """Unit vectors of the guides (k, 2)."""
        return np.array(
            [(sin(radians(azimuth)), cos(radians(azimuth))) for _place, azimuth, *_rest in self.guides]
        ).reshape(-1, 2)

    @cached_property
    def guide_spans(self) -> Array:
        """From where to where a guide runs (k, 2)."""
        return np.array([(low, high) for _place, _azimuth, low, high, _name in self.guides]).reshape(-1, 2)

    def away_from(self, at: Point) -> Array:
        """How far each edge lies from a place (m,)."""
        return np.asarray(np.hypot(*(self.feet(at) - np.array(at)).T))

    def feet(self, at: Point) -> Array:
        """The nearest place of each edge (m, 2)."""
        share = ((np.array(at) - self.starts) * self.runs).sum(axis=1) / np.maximum(self.lengths**2, 1e-12)
        return np.asarray(self.starts + np.clip(share, 0.0, 1.0)[:, None] * self.runs)
