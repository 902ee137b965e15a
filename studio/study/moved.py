"""Shade while a hand drags: what mirrors of lines that moved throw on others, and others on them; gear's is held.

The general way (``scenes.py``) asks at which suns a line's gear reaches another, to know what must be worked out exactly.
While a hand drags, gear is that of the last exact answer, so mirrors alone are asked; and between lines that face and step
alike, one projection tells for all lines together at which suns each and the moved one reach each other.
"""

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from studio.engine.shade.parallel import LineShade, shade_of_each
from studio.engine.shade.reach import Bools, Ints, any_meets
from studio.engine.shade.rows import LEAST_SUN_COSINE, RowOfMirrors, project
from studio.study.assessment import Array, PlacedLine
from studio.study.cache import Tick
from studio.study.scenes import Held, ShadeAt

_MOST_MOVED = 8
"""Where more lines move at once, little stands still, and the general way costs no more."""


@dataclass(frozen=True, eq=False)
class Stood:
    """A field as it stood when its shade was last worked out exactly: its lines, and what is held of each by its id."""

    placed: tuple[PlacedLine, ...]
    held: Mapping[int, Held]

    def moved(self, placed: tuple[PlacedLine, ...]) -> tuple[PlacedLine, ...] | None:
        """The lines that stand elsewhere now and are else as they were; None where anything else is another."""
        if [line.id for line in placed] != [line.id for line in self.placed]:
            return None
        pairs = [(now, then) for now, then in zip(placed, self.placed, strict=True) if now is not then]
        if len(pairs) > _MOST_MOVED or any(now.make != then.make for now, then in pairs):
            return None
        return tuple(now for now, _then in pairs)


def shade_of_moved(
    stood: Stood, placed: tuple[PlacedLine, ...], rows: Mapping[int, RowOfMirrors], suns: Array, tick: Tick
) -> dict[int, ShadeAt] | None:
    """Shade on every line at ``suns`` (S, 3) after some moved, exact of mirrors and with gear's as it was held; None where
    not all lines run, face and step alike, or where more than places changed.

    A line whose mirrors nothing reaches that moved, before or after, has the very shade that was held.
    """
    moved = stood.moved(placed)
    if moved is None:
        return None
    if len({line.make[:3] for line in placed}) > 1:
        return None
    every = tuple(rows[line.id] for line in placed)
    shades = {line.id: stood.held[line.id].shade for line in placed}
    reached = {line.id: _reached(rows[line.id], every, suns) for line in moved}
    met = {line.id: _Met(line.id, shades[line.id]) for line in placed}
    for line in moved:
        onto, from_them = reached[line.id]
        for place, other in enumerate(placed):
            if other.id != line.id:
                met[other.id].now[line.id] = onto[place]
                met[line.id].now[other.id] = from_them[place]
    ids = {line.id for line in moved}
    anew = {line.id: met[line.id].anew() for line in placed if met[line.id].meets(ids)}
    anew = {key: suns_of for key, suns_of in anew.items() if suns_of.any()}
    for alike in _alike(anew, rows):
        tick(0.0)
        at = np.flatnonzero(np.any([anew[key] for key in alike], axis=0))
        reaching = {key: met[key].reaching(np.flatnonzero(anew[key])) for key in alike}
        casters = tuple(dict.fromkeys(caster for keys in reaching.values() for caster in keys))
        fresh = shade_of_each([rows[key] for key in alike], tuple(rows[key] for key in casters), suns[at])
        for key, its in zip(alike, fresh, strict=True):
            held, some = stood.held[key], anew[key][at]
            columns = [casters.index(caster) for caster in reaching[key]]
            mirrors = _with(held.shade, at, some, reaching[key], columns, its)
            shades[key] = replace(
                mirrors, gear=np.minimum(held.gear.extra, 1.0 - mirrors.mirrors), uneven=held.gear.uneven
            )
    return shades


def _alike(keys: Iterable[int], rows: Mapping[int, RowOfMirrors]) -> list[list[int]]:
    """Lines by what they have in common: of as many places."""
    found: dict[Hashable, list[int]] = {}
    for key in keys:
        found.setdefault((rows[key].count, rows[key].absent), []).append(key)
    return list(found.values())


class _Met:
    """Who shades a line at which suns: as it was held, and ``now`` by or upon lines that moved."""

    def __init__(self, line_id: int, held: ShadeAt) -> None:
        self.line_id, self.held = line_id, held
        self.now: dict[int, Bools] = {}

    def meets(self, moved: set[int]) -> bool:
        """Whether the line moved itself, or what moved ever shades it, before or after."""
        return self.line_id in moved or any(
            self.now[key].any() or key in self.held.by_caster for key in moved & self.now.keys()
        )

    def anew(self) -> Bools:
        """The suns (S,) at which what moved shades the line, before or after."""
        anew = np.zeros(len(self.held.mirrors), np.bool_)
        for key, suns in self.now.items():
            anew |= suns
            if key in self.held.by_caster:
                anew |= self.held.by_caster[key] > 0.0
        return anew

    def reaching(self, at: Ints) -> list[int]:
        """The lines that shade it at any of the suns ``at``."""
        found = [key for key, suns in self.now.items() if suns[at].any()]
        still = self.held.by_caster.keys() - self.now.keys()
        return found + [key for key in still if (self.held.by_caster[key][at] > 0.0).any()]


def _reached(row: RowOfMirrors, others: tuple[RowOfMirrors, ...], suns: Array) -> tuple[Bools, Bools]:
    """Suns (L, S) at which a mirror of ``row`` may shade one of each of L ``others`` that face and step alike, and one of
    each of those may shade one of it."""
    found = np.zeros((2, len(others), len(suns)), np.bool_)
    sun = row.into_mirror_frame(suns)
    lit = np.flatnonzero(sun[:, 2] > LEAST_SUN_COSINE)
    apart = np.array(row.first) - np.array([other.first for other in others])
    light = sun[lit]
    counts = np.array([other.count for other in others])[:, None]
    own = np.array([[row.count]])
    offset = row.into_mirror_frame(apart)[:, None]
    step = row.into_mirror_frame(row.step())
    shadow, pace = project(offset, light), project(step, light)
    sides = np.array([row.width_m, row.height_m])
    for which, way, targets, casters in ((0, 1.0, counts, own), (1, -1.0, own, counts)):
        found[which][:, lit] = any_meets(
            way * shadow, pace, sides, way * offset[..., 2], step[2], 1 - targets, casters - 1
        )
    return found[0], found[1]


def _with(
    held: ShadeAt, at: Ints, some: Bools, reaching: list[int], columns: list[int], fresh: LineShade
) -> ShadeAt:
    """What was held, and at ``some`` of the suns ``at`` what is ``fresh`` by the casters ``reaching``, that stand in
    ``columns`` of it."""
    at = at[some]
    mean, worst, worst_mirror = held.mirrors.copy(), held.worst.copy(), held.worst_mirror.copy()
    mean[at], worst[at], worst_mirror[at] = fresh.mean[some], fresh.worst[some], fresh.worst_mirror[some]
    by_caster = dict(held.by_caster)
    for key in by_caster:
        by_caster[key] = by_caster[key].copy()
        by_caster[key][at] = 0.0
    for column, key in zip(columns, reaching, strict=True):
        by_caster.setdefault(key, np.zeros(len(mean)))[at] = fresh.by_caster[some, column]
    return replace(held, mirrors=mean, worst=worst, worst_mirror=worst_mirror, by_caster=by_caster)
