"""What the pointer catches on: corners, middles, edges, feet of squares, parallels, pitches, prolonged edges, crossings
of two of them, the grid. No Qt.

Points come before lines, lines before the grid; among equals the nearest wins. What holds the pointer keeps it a few
pixels longer than another would need to take it, so that it does not flicker between two.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import combinations
from math import atan2, cos, degrees, hypot, radians, sin

import numpy as np

from studio.design.site import Point
from studio.desk.plan.targets import Array, Targets, Way
from studio.text import _

CATCH_PX = 9.0
TURN_PX = 7.0
HOLD_PX = 3.0
"""What holds the pointer reaches so much farther, and counts as so much nearer."""
EXTENSION_PX = 150.0
"""An edge is prolonged so far past its ends."""
_PARALLEL_PX = 260.0
"""Edges farther away than this lend no direction."""
_MEANT_PX = 6.0
"""How near a crossing with a prolonged edge has to be."""
_WHOLE_M = 1000.0
"""A guide no longer than this is drawn whole, a longer one to the pointer."""
_MOST_LINES = 7
"""Lines near the pointer whose crossings are looked for."""
_SAME_DEG = 0.01
_POINT, _LINE, _GRID = 0.0, 1000.0, 2000.0
_SQUARE, _CROSSING, _MIDDLE, _EDGE, _GUIDE, _EXTENSION = 1.0, 2.0, 1.0, 2.0, 1.0, 3.0
"""Pixels that a kind counts as farther away than it is: a corner counts as it is."""

Segment = tuple[Point, Point]


@dataclass(frozen=True)
class Caught:
    """Where the pointer was caught, and what by (empty: it is free); ``guides`` are the lines that hold it."""

    point: Point
    name: str = ""
    kind: str = ""
    guides: tuple[Segment, ...] = ()
    key: tuple[object, ...] = field(default=(), repr=False, compare=False)


@dataclass(frozen=True)
class _Line:
    """A straight line near the pointer: an edge, a way, a guide or a prolonged edge."""

    kind: str
    name: str
    place: Point
    way: Point
    low: float
    high: float
    shown: Segment | None
    also: Segment | None = None
    behind: float = 0.0
    whose: str = ""

    def foot(self, at: Point) -> tuple[Point, float, float]:
        """The nearest place of the whole straight line, how far along it and how far away that is."""
        dx, dy = at[0] - self.place[0], at[1] - self.place[1]
        run = dx * self.way[0] + dy * self.way[1]
        foot = self.place[0] + run * self.way[0], self.place[1] + run * self.way[1]
        return foot, run, hypot(foot[0] - at[0], foot[1] - at[1])

    def nearest(self, at: Point) -> tuple[Point, float]:
        """The nearest place of it, and how far away that is."""
        _foot, run, _away = self.foot(at)
        run = min(max(run, self.low), self.high)
        spot = self.place[0] + run * self.way[0], self.place[1] + run * self.way[1]
        return spot, hypot(spot[0] - at[0], spot[1] - at[1])

    def drawn_to(self, point: Point) -> tuple[Segment, ...]:
        """The guides to draw where it holds the pointer at a point."""
        mine = (self.place, point) if self.shown is None else self.shown
        return (mine,) if self.also is None else (mine, self.also)

    @property
    def key(self) -> tuple[object, ...]:
        """What tells it from others."""
        return (
            self.kind,
            round(self.place[0], 6),
            round(self.place[1], 6),
            round(self.way[0], 6),
            round(self.way[1], 6),
        )


def catch(
    at: Point,
    *,
    px_per_m: float,
    targets: Targets,
    start: Point | None = None,
    ways: Sequence[Way] = (),
    grid_m: float | None = None,
    held: Caught | None = None,
) -> Caught:
    """What a pointer at ``at`` catches on. ``start``: where the segment begins that is being drawn, ``ways`` its directions."""
    found = _Found(at, px_per_m, held)
    _points(found, targets)
    lines = _edges(found, targets) + _ways(found, start, ways) + _guides(found, targets)
    _extensions(found, targets, lines)
    if start is not None:
        _squares(found, start, lines)
    for line in lines:
        foot, away = line.nearest(at)
        found.add(
            Caught(foot, line.name, line.kind, line.drawn_to(foot), line.key), away, _LINE + line.behind
        )
    _crossings(found, lines)
    if grid_m:
        spot = (round(at[0] / grid_m) * grid_m, round(at[1] / grid_m) * grid_m)
        found.add(
            Caught(spot, _("grid"), "grid", (), ("grid", *spot)),
            hypot(spot[0] - at[0], spot[1] - at[1]),
            _GRID,
        )
    best = found.best
    if best is None:
        return Caught(at)
    return _on_grid(best, at, lines, grid_m, CATCH_PX / px_per_m) if grid_m else best


class _Found:
    """What is in reach, the best of it kept."""

    def __init__(self, at: Point, px_per_m: float, held: Caught | None) -> None:
        self.at, self.px_per_m = at, px_per_m
        self.held = held.key if held is not None else ()
        self.reach = (CATCH_PX + HOLD_PX) / px_per_m
        self.best: Caught | None = None
        self._least = float("inf")

    def add(self, caught: Caught, away_m: float, behind: float, *, reach_px: float = CATCH_PX) -> None:
        """One more that may hold the pointer; ``behind``: what counts as nearer goes first."""
        away = away_m * self.px_per_m
        holds = bool(caught.key) and caught.key == self.held
        if away > reach_px + (HOLD_PX if holds else 0.0):
            return
        rank = behind + away - (HOLD_PX if holds else 0.0)
        if rank < self._least:
            self.best, self._least = caught, rank


def _points(found: _Found, targets: Targets) -> None:
    if not targets.points:
        return
    x, y = found.at
    away = np.hypot(targets.spots[:, 0] - x, targets.spots[:, 1] - y)
    for place in np.flatnonzero(away <= found.reach):
        point, name, middle = targets.points[place]
        kind = "middle" if middle else "corner"
        found.add(
            Caught(point, name, kind, (), (kind, *point)),
            float(away[place]),
            _POINT + (_MIDDLE if middle else 0.0),
        )


def _edges(found: _Found, targets: Targets) -> list[_Line]:
    """Edges in reach, the nearest first."""
    if not targets.edges:
        return []
    away = targets.away_from(found.at)
    near = np.flatnonzero(away <= found.reach)
    lines = []
    for place in near[np.argsort(away[near])][:_MOST_LINES]:
        start, end, whose = targets.edges[place]
        length = float(targets.lengths[place])
        if length > 1e-9:
            way = (end[0] - start[0]) / length, (end[1] - start[1]) / length
            lines.append(
                _Line("edge", _("edge"), start, way, 0.0, length, (start, end), behind=_EDGE, whose=whose)
            )
    return lines


def _ways(found: _Found, start: Point | None, ways: Sequence[Way]) -> list[_Line]:
    if start is None:
        return []
    dx, dy = found.at[0] - start[0], found.at[1] - start[1]
    lines: list[tuple[float, _Line]] = []
    for way in ways:
        x, y = sin(radians(way.azimuth_deg)), cos(radians(way.azimuth_deg))
        run, side = dx * x + dy * y, abs(dx * y - dy * x)
        if side * found.px_per_m <= TURN_PX + HOLD_PX and run * found.px_per_m > 2 * TURN_PX:
            lines.append((side, _Line("way", way.name, start, (x, y), 0.0, float("inf"), None, also=way.of)))
    return [line for _side, line in sorted(lines, key=lambda one: one[0])[:2]]


def _guides(found: _Found, targets: Targets) -> list[_Line]:
    if not targets.guides:
        return []
    away = np.array(found.at) - targets.guide_places
    ways, spans = targets.guide_ways, targets.guide_spans
    run = (away * ways).sum(axis=1)
    side = np.abs(away[:, 0] * ways[:, 1] - away[:, 1] * ways[:, 0])
    near = (side * found.px_per_m <= TURN_PX + HOLD_PX) & (run >= spans[:, 0]) & (run <= spans[:, 1])
    lines = []
    for place in np.flatnonzero(near)[np.argsort(side[near])][:_MOST_LINES]:
        at, _azimuth, low, high, name = targets.guides[place]
        way = float(ways[place, 0]), float(ways[place, 1])
        ends = tuple((at[0] + run * way[0], at[1] + run * way[1]) for run in (low, high))
        shown = (ends[0], ends[1]) if high - low < _WHOLE_M else None
        lines.append(_Line("guide", name, at, way, low, high, shown, behind=_GUIDE))
    return lines


def _extensions(found: _Found, targets: Targets, lines: list[_Line]) -> None:
    """Edges prolonged past one of their ends, where the pointer is near enough to that end."""
    if not targets.edges:
        return
    ways = targets.runs / np.maximum(targets.lengths, 1e-12)[:, None]
    away = np.array(found.at) - targets.starts
    run = (away * ways).sum(axis=1)
    side = np.abs(away[:, 0] * ways[:, 1] - away[:, 1] * ways[:, 0])
    past = np.maximum(-run, run - targets.lengths)
    near = (
        (side * found.px_per_m <= TURN_PX + HOLD_PX)
        & (past * found.px_per_m > CATCH_PX)
        & (past * found.px_per_m <= EXTENSION_PX)
        & (targets.lengths * found.px_per_m > 2 * CATCH_PX)
    )
    for place in np.flatnonzero(near)[np.argsort(side[near])][:_MOST_LINES]:
        start, end, whose = targets.edges[place]
        x, y = float(ways[place, 0]), float(ways[place, 1])
        if run[place] < 0:
            x, y, end = -x, -y, start
        name = _("extension of {name}").format(name=whose) if whose else _("extension")
        far = (EXTENSION_PX + CATCH_PX) / found.px_per_m
        lines.append(_Line("extension", name, end, (x, y), 0.0, far, None, behind=_EXTENSION))


def _squares(found: _Found, start: Point, lines: list[_Line]) -> None:
    """Feet of the squares that are dropped from where the segment begins on edges in reach."""
    for line in lines:
        if line.kind != "edge":
            continue
        foot, run, away = line.foot(start)
        if away * found.px_per_m > CATCH_PX and line.low <= run <= line.high:
            name = _("square to {name}").format(name=line.whose) if line.whose else _("square to the edge")
            apart = hypot(foot[0] - found.at[0], foot[1] - found.at[1])
            guides = (*line.drawn_to(foot), (start, foot))
            found.add(Caught(foot, name, "square", guides, ("square", *line.key)), apart, _POINT + _SQUARE)


def _crossings(found: _Found, lines: Sequence[_Line]) -> None:
    for one, other in combinations(lines, 2):
        point = crossing(one.place, one.way, other.place, other.way)
        if point is None:
            continue
        apart = hypot(point[0] - found.at[0], point[1] - found.at[1])
        if apart > found.reach or not (_holds(one, point) and _holds(other, point)):
            continue
        said = [line.name for line in (one, other) if line.kind != "edge"]
        name = _("crossing: {names}").format(names=", ".join(said)) if said else _("crossing")
        guides = one.drawn_to(point) + other.drawn_to(point)
        prolonged = "extension" in (one.kind, other.kind)  # of these there are many: the hand must mean it
        caught = Caught(point, name, "crossing", guides, ("crossing", one.key, other.key))
        behind = _POINT + _CROSSING + max(one.behind, other.behind)
        found.add(caught, apart, behind, reach_px=_MEANT_PX if prolonged else CATCH_PX)


def _holds(line: _Line, point: Point) -> bool:
    _foot, run, _away = line.foot(point)
    return line.low - 1e-9 <= run <= line.high + 1e-9


def crossing(one: Point, way: Point, other: Point, along: Point) -> Point | None:
    """Where two straight lines cross, each through a place along a unit vector; None where they run alike."""
    turn = way[0] * along[1] - way[1] * along[0]
    if abs(turn) < 1e-3:
        return None
    run = ((other[0] - one[0]) * along[1] - (other[1] - one[1]) * along[0]) / turn
    return one[0] + run * way[0], one[1] + run * way[1]


def _on_grid(best: Caught, at: Point, lines: Sequence[_Line], grid_m: float, reach_m: float) -> Caught:
    """On a way or a prolonged edge the nearest line of the grid across it catches too."""
    line = next((line for line in lines if line.key == best.key and line.kind != "edge"), None)
    if line is None:
        return best
    spots = []
    for axis in (0, 1):
        if abs(line.way[axis]) > 0.05:
            level = round(best.point[axis] / grid_m) * grid_m
            run = (level - line.place[axis]) / line.way[axis]
            spot = line.place[0] + run * line.way[0], line.place[1] + run * line.way[1]
            spots.append((hypot(spot[0] - at[0], spot[1] - at[1]), spot))
    away, spot = min(spots)
    if away > reach_m or not _holds(line, spot):
        return best
    name = _("{name}, grid").format(name=best.name)
    return Caught(spot, name, "crossing", line.drawn_to(spot), best.key)


def to_centimetre(caught: Caught) -> Point:
    """Where a hand set a point: exactly where it was caught, else to the centimetre."""
    x, y = caught.point
    return (x, y) if caught.name else (round(x, 2), round(y, 2))


def ways_from(before: float | None, others: Sequence[tuple[float, str]] = ()) -> list[Way]:
    """Ways a segment is caught by: square and straight on to the one before, parallel to others, the compass."""
    ways: list[Way] = []
    if before is not None:
        ways += [Way(before, _("straight on")), Way(before + 90, _("square")), Way(before - 90, _("square"))]
    for azimuth, name in others:
        ways += _parallel(azimuth, name)
    compass = (_("north"), _("east"), _("south"), _("west"))
    ways += [Way(90.0 * place, name) for place, name in enumerate(compass)]
    return ways


def _parallel(azimuth: float, name: str, of: Segment | None = None) -> list[Way]:
    """Along a direction and square to it, both ways round."""
    ways = []
    for turn, word in ((0, _("parallel to {name}")), (90, _("square to {name}"))):
        said = word.format(name=name)
        ways += [Way(azimuth + turn, said, of), Way(azimuth + turn + 180, said, of)]
    return ways


def _three_least(away: Array) -> Array:
    """Places of the three least, in their order."""
    few = np.argpartition(away, 3)[:3] if len(away) > 3 else np.arange(len(away))
    return np.asarray(few[np.argsort(away[few])])


def ways_near(targets: Targets, start: Point, at: Point, *, px_per_m: float) -> list[Way]:
    """Parallel and square to the edges nearest to where a segment begins and to the pointer."""
    if not targets.edges:
        return []
    found: list[Way] = []
    for spot in (start, at):
        away = targets.away_from(spot) * px_per_m
        for place in _three_least(away):
            if away[place] > _PARALLEL_PX or targets.lengths[place] < 1e-9:
                continue
            one, other, whose = targets.edges[place]
            azimuth = degrees(atan2(other[0] - one[0], other[1] - one[1]))
            if any(abs((way.azimuth_deg - azimuth + 90) % 180 - 90) < _SAME_DEG for way in found):
                continue
            found += _parallel(azimuth, whose or _("the edge"), (one, other))
    return found
