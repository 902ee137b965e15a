"""What the pointer catches on: corners, middles, edges, square and parallel ways, pitches, the grid. No Qt."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import cos, hypot, radians, sin

import numpy as np
from numpy.typing import NDArray

from studio.design.site import Point
from studio.text import _

Array = NDArray[np.float64]
CATCH_PX = 9.0
TURN_PX = 7.0


@dataclass(frozen=True)
class Caught:
    """Where the pointer was caught, and what by (empty: it is free)."""

    point: Point
    name: str = ""


@dataclass(frozen=True)
class Way:
    """A direction that a segment being drawn is caught by: its azimuth, and its name."""

    azimuth_deg: float
    name: str


@dataclass(frozen=True, eq=False)
class Targets:
    """What can be caught: named points (n, 2), and edges (n, 2, 2), each with its name."""

    points: list[tuple[Point, str]] = field(default_factory=list)
    edges: list[tuple[Point, Point, str]] = field(default_factory=list)

    def add_ring(self, ring: Iterable[Sequence[float]], *, closed: bool = True) -> None:
        """Corners, middles and edges of a ring or a route."""
        corners = [(float(x), float(y)) for x, y in ring]
        self.points.extend((corner, _("corner")) for corner in corners)
        ends = corners[1:] + corners[:1] if closed and len(corners) > 2 else corners[1:]
        for start, end in zip(corners, ends, strict=False):
            self.edges.append((start, end, _("edge")))
            self.points.append((((start[0] + end[0]) / 2, (start[1] + end[1]) / 2), _("middle")))


def catch(
    at: Point,
    *,
    px_per_m: float,
    targets: Targets,
    start: Point | None = None,
    ways: Sequence[Way] = (),
    grid_m: float | None = None,
) -> Caught:
    """What a pointer at ``at`` catches on: a point first, then a way from ``start``, an edge, the grid."""
    reach = CATCH_PX / px_per_m
    if targets.points:
        points = np.array([point for point, _name in targets.points])
        away = np.hypot(points[:, 0] - at[0], points[:, 1] - at[1])
        # a corner wins over a middle that is as near
        order = away + np.array([0.0 if name != _("middle") else 1e-3 for _point, name in targets.points])
        best = int(np.argmin(order))
        if away[best] <= reach:
            return Caught(targets.points[best][0], targets.points[best][1])
    if start is not None:
        turned = along_way(at, start, ways, px_per_m=px_per_m)
        if turned.name:
            return turned
    edge = _edge(at, targets, reach)
    if edge is not None:
        return edge
    if grid_m:
        spot = (round(at[0] / grid_m) * grid_m, round(at[1] / grid_m) * grid_m)
        if hypot(spot[0] - at[0], spot[1] - at[1]) <= reach:
            return Caught(spot, _("grid"))
    return Caught(at)


def to_centimetre(caught: Caught) -> Point:
    """Where a hand set a point: exactly where it was caught, else to the centimetre."""
    x, y = caught.point
    return (x, y) if caught.name else (round(x, 2), round(y, 2))


def along_way(at: Point, start: Point, ways: Sequence[Way], *, px_per_m: float) -> Caught:
    """The pointer on the nearest of the ways from ``start``, where it is near enough."""
    dx, dy = at[0] - start[0], at[1] - start[1]
    best: tuple[float, Caught] | None = None
    for way in ways:
        x, y = sin(radians(way.azimuth_deg)), cos(radians(way.azimuth_deg))
        run, side = dx * x + dy * y, abs(dx * y - dy * x)
        near = side * px_per_m <= TURN_PX and run * px_per_m > 2 * TURN_PX
        if near and (best is None or side < best[0]):
            best = side, Caught((start[0] + run * x, start[1] + run * y), way.name)
    return best[1] if best else Caught(at)


def ways_from(before: float | None, others: Sequence[tuple[float, str]] = ()) -> list[Way]:
    """Ways a segment is caught by: square and straight on to the one before, parallel to others, the compass."""
    ways: list[Way] = []
    if before is not None:
        ways += [Way(before, _("straight on")), Way(before + 90, _("square")), Way(before - 90, _("square"))]
    for azimuth, name in others:
        for turn, word in ((0, _("parallel to {name}")), (90, _("square to {name}"))):
            said = word.format(name=name)
            ways += [Way(azimuth + turn, said), Way(azimuth + turn + 180, said)]
    compass = (_("north"), _("east"), _("south"), _("west"))
    ways += [Way(90.0 * place, name) for place, name in enumerate(compass)]
    return ways


def _edge(at: Point, targets: Targets, reach: float) -> Caught | None:
    if not targets.edges:
        return None
    ends = np.array([(start, end) for start, end, _name in targets.edges])
    run = ends[:, 1] - ends[:, 0]
    length = np.maximum((run**2).sum(axis=1), 1e-12)
    share = np.clip(((np.array(at) - ends[:, 0]) * run).sum(axis=1) / length, 0.0, 1.0)
    foot = ends[:, 0] + share[:, None] * run
    away = np.hypot(*(foot - np.array(at)).T)
    best = int(np.argmin(away))
    if away[best] > reach:
        return None
    return Caught((float(foot[best, 0]), float(foot[best, 1])), targets.edges[best][2])
