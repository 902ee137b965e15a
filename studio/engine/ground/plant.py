"""Plants land with parallel lines at a pitch, at the offset that holds most mirrors.

How many mirrors a strip holds is a step function of its offset: between the offsets at which a free stretch of it
passes a length that holds one mirror more or less, nothing changes. All steps are known (see ``stretches``), so the sum
over all strips of a pattern is known for every offset, and the best one is the best there is, not the best of those tried.
"""

from dataclasses import dataclass
from math import atan2, degrees, hypot

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from studio.engine.ground.stretches import Floats, Stretches, free_stretches, unit_vectors
from studio.errors import BadInputError
from studio.text import _, number

Ints = NDArray[np.int64]
_TOUCHING_M = 1e-7
"""What overlaps by less touches, so that land that fits exactly is planted in spite of rounding."""
_LEAST_WIDTH_M = 1e-8
"""Of a range of offsets; narrower ones are rounding."""


@dataclass(frozen=True)
class PlantedLine:
    """Vertex of a line's first mirror (m, site frame), its strip's offset, and how many mirrors stand on it."""

    x_m: float
    y_m: float
    offset_m: float
    count: int


@dataclass(frozen=True)
class Planting:
    """Lines as planted, from the rightmost strip to the leftmost (seen along the azimuth), each strip along the azimuth.

    ``offset_m`` is the distance of the first line from the site's reference point, square to the lines, positive to
    their left (0 where nothing fits); it may shift by ``play_m`` either way without losing a mirror.
    """

    lines: tuple[PlantedLine, ...]
    azimuth_deg: float
    offset_m: float
    play_m: float
    mirrors: int


@dataclass(frozen=True)
class _Fill:
    """How lines stand on one stretch: the lengths (N,), rising, from which it holds ``mirrors`` (N,) on ``lines`` (N,)."""

    lengths: Floats
    mirrors: Ints
    lines: Ints


def plant(
    area: BaseGeometry,
    *,
    azimuth_deg: float,
    pitch_m: float,
    spacing_m: float,
    reach_along_m: tuple[float, float],
    reach_square_m: tuple[float, float],
    longest: int,
    least: int = 1,
    lane_every: int = 0,
    lane_m: float = 0.0,
    between_m: float = 0.0,
) -> Planting:
    """The lines that fit into ``area`` (polygons with holes: the plot less setback and no-build areas) with most mirrors.

    ``spacing_m`` counts on the plan. A line takes up a rectangle on the plan, which lies within the area: it reaches
    ``reach_along_m`` before its first and beyond its last vertex and ``reach_square_m`` to its right and left. A
    line has ``least`` to ``longest`` mirrors; a stretch too long for one line takes several, ``between_m`` apart. After every
    ``lane_every`` lines the pitch is wider by ``lane_m``. Raises BadInputError for what cannot be planted with.
    """
    _hold(pitch_m, spacing_m, reach_along_m, reach_square_m, longest, least, lane_every, lane_m, between_m)
    right, left = (reach - _TOUCHING_M for reach in reach_square_m)
    before, after = (reach - _TOUCHING_M for reach in reach_along_m)
    ends = before + after
    stretches = free_stretches(
        area, azimuth_deg=azimuth_deg, right_m=right, left_m=left, least_m=ends + (least - 1) * spacing_m
    )
    if not len(stretches.low):
        return Planting((), azimuth_deg, 0.0, 0.0, 0)
    longest_m = float(
        np.maximum(stretches.length_at(stretches.low), stretches.length_at(stretches.high)).max()
    )
    fill = _fills(longest_m, ends, spacing_m, between_m, least, longest)
    group = lane_every if lane_every and lane_m else 1
    places: Floats = pitch_m * np.arange(group, dtype=np.float64)
    period = group * pitch_m + (lane_m if group == lane_every else 0.0)
    offset, play = _best_offset(*_steps(stretches, fill), places, period)
    lines: list[PlantedLine] = []
    along, square = unit_vectors(azimuth_deg)
    for strip in _strips(stretches, offset + places, period):
        for start, end in stretches.across(strip).tolist():
            held = int(np.searchsorted(fill.lengths, end - start, side="right")) - 1
            if held < 0:
                continue
            at = start
            for count in _shared(int(fill.mirrors[held]), int(fill.lines[held])):
                x, y = ((at + before) * along + strip * square).tolist()
                lines.append(PlantedLine(x, y, strip, count))
                at += ends + (count - 1) * spacing_m + between_m
    return Planting(
        lines=tuple(lines),
        azimuth_deg=azimuth_deg,
        offset_m=lines[0].offset_m if lines else 0.0,
        play_m=play,
        mirrors=sum(line.count for line in lines),
    )


def _hold(
    pitch_m: float,
    spacing_m: float,
    along: tuple[float, float],
    square: tuple[float, float],
    longest: int,
    least: int,
    lane_every: int,
    lane_m: float,
    between_m: float,
) -> None:
    """Refuse what cannot be planted with."""
    for name, value in ((_("pitch"), pitch_m), (_("spacing"), spacing_m)):
        if not 0.0 < value < float("inf"):
            raise BadInputError(
                _("A {name} of {value} m will not do; more than 0 m would be right.").format(
                    name=name, value=number(value, digits=2)
                )
            )
    if min(*along, *square) <= _TOUCHING_M:
        raise BadInputError(_("A line takes up more than nothing before, beyond and beside its vertices."))
    if not 1 <= least <= longest:
        raise BadInputError(
            _(
                "Lines of {least} to {longest} mirrors there are none; let the least be 1 or more and no more than the longest."
            ).format(least=least, longest=longest)
        )
    if lane_every < 0 or not 0.0 <= lane_m < float("inf"):
        raise BadInputError(
            _("A lane of {metres} m after every {lines} lines will not do; neither may lie below 0.").format(
                metres=number(lane_m, digits=2), lines=lane_every
            )
        )
    if not 0.0 <= between_m < float("inf"):
        raise BadInputError(
            _("Lines {metres} m apart end to end will not do; 0 m or more would be right.").format(
                metres=number(between_m, digits=2)
            )
        )


def _fills(
    longest_m: float, ends_m: float, spacing_m: float, between_m: float, least: int, longest: int
) -> _Fill:
    """Every number of mirrors that a stretch up to ``longest_m`` can hold, and the length it needs.

    k lines of together M mirrors need k ends, k - 1 gaps between and M - k spacings, with k least <= M <= k longest: as few
    lines as hold them, or as many where ends and gap take less than a spacing.
    """
    whole = ends_m + between_m
    few = whole >= spacing_m
    mirrors = np.arange(1, int((longest_m + between_m) / min(spacing_m, whole)) + 2)
    fewest, most = -(-mirrors // longest), mirrors // least
    lines = fewest if few else most
    lengths = lines * whole - between_m + (mirrors - lines) * spacing_m
    can = (fewest <= most) & (lengths <= longest_m)
    return _Fill(lengths[can], mirrors[can], lines[can])


def _shared(mirrors: int, lines: int) -> list[int]:
    """Mirrors shared out among lines as evenly as can be."""
    each, over = divmod(mirrors, lines)
    return [each + 1] * over + [each] * (lines - over)


def _steps(stretches: Stretches, fill: _Fill) -> tuple[Floats, Ints]:
    """Offsets (S,) and by how many mirrors the count of a strip changes there (S,), as the strip moves to the left."""
    low, high = stretches.low, stretches.high
    at_low, at_high = stretches.length_at(low), stretches.length_at(high)
    held = np.concatenate([[0], fill.mirrors])
    first, last = (np.searchsorted(fill.lengths, length, side="right") for length in (at_low, at_high))
    passed = np.abs(last - first)
    piece = np.repeat(np.arange(len(low)), passed)
    turn = np.arange(len(piece)) - np.repeat(np.cumsum(passed) - passed, passed)
    rises = last[piece] > first[piece]
    limit = np.where(rises, first[piece] + turn, first[piece] - 1 - turn)
    share = (fill.lengths[limit] - at_low[piece]) / (at_high - at_low)[piece]
    change = np.where(rises, 1, -1) * (held[limit + 1] - held[limit])
    where = low[piece] + share * (high - low)[piece]
    return np.concatenate([low, where, high]), np.concatenate([held[first], change, -held[last]])


def _best_offset(where: Floats, change: Ints, places: Floats, period: float) -> tuple[float, float]:
    """Where the pattern's first strip lies best, and the play either way: the middle of the widest best range.

    The pattern has strips at ``places`` from its first one, again and again by ``period``. With the steps d at c the
    strips from the offset o on hold the sum of -d floor((c - o) / period), over all places.
    """
    at = (where[:, None] - places).ravel()
    by = np.repeat(change, len(places))
    turns = np.floor(at / period)
    rest = at - turns * period
    start = -int((by * turns).sum())
    order = np.argsort(rest, kind="stable")
    bounds = np.concatenate([[0.0], rest[order], [period]])
    counts = np.concatenate([[start], start + np.cumsum(by[order])])
    width = np.diff(bounds)
    wide = width > _LEAST_WIDTH_M
    best = np.flatnonzero(wide & (counts == counts[wide].max()))
    # equal counts side by side are one range
    groups = np.split(best, np.flatnonzero((bounds[best[1:]] - bounds[best[:-1] + 1]) > _LEAST_WIDTH_M) + 1)
    one = max(groups, key=lambda members: bounds[members[-1] + 1] - bounds[members[0]])
    low, high = float(bounds[one[0]]), float(bounds[one[-1] + 1])
    return (low + high) / 2, (high - low) / 2


def _strips(stretches: Stretches, places: Floats, period: float) -> list[float]:
    """Offsets of all strips of the pattern that reach into the land, rising."""
    low, high = float(stretches.low.min()), float(stretches.high.max())
    turns = np.arange(np.floor((low - places.max()) / period), np.ceil((high - places.min()) / period) + 1)
    strips = np.sort((places + period * turns[:, None]).ravel())
    found: list[float] = strips[(strips >= low) & (strips <= high)].tolist()
    return found


def azimuths_of(boundary: Polygon, *, apart_deg: float = 0.5) -> tuple[float, ...]:
    """Azimuths (0 to 360) of lines along the plot's edges, that of the longest first, each followed by its opposite.

    Edges that run alike within ``apart_deg``, either way round, count together; the longest of them says the azimuth.
    """
    corners = shapely.get_coordinates(boundary.exterior)
    edges = sorted(
        ((hypot(x, y), degrees(atan2(x, y)) % 180.0) for x, y in np.diff(corners, axis=0).tolist()),
        reverse=True,
    )
    lengths: dict[float, float] = {}
    for length, azimuth in edges:
        if length > 0.0:
            alike = [known for known in lengths if abs((known - azimuth + 90.0) % 180.0 - 90.0) <= apart_deg]
            kept = alike[0] if alike else azimuth
            lengths[kept] = lengths.get(kept, 0.0) + length
    ways = sorted(lengths, key=lambda azimuth: -lengths[azimuth])
    return tuple(way for azimuth in ways for way in (azimuth, azimuth + 180.0))
