"""Who shades whom in a section at a moment: shaded stretches of the mirrors that are shown, and where rays are stopped.

Shares come from the engine that tints the plan. Stretches are exact on the flat aperture: a caster's plane, parallel
light and the straight chord make every bound linear along the chord.
"""

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.drawings.mirror import views_of
from studio.drawings.moment import Sun, pose_at
from studio.drawings.section_gear import GearInSection
from studio.drawings.section_lines import LineAlong, LineInSection
from studio.engine.mirror.form import MirrorForm, edge_depth
from studio.study.assessment import PlacedLine
from studio.study.cache import Cache
from studio.study.obstacles import shaded_now
from studio.study.place import form_of, overhang_m, row_of, up_the_slope
from studio.study.shade import gear_of, line_key, mirror_shade

Array = NDArray[np.float64]
_CLOSE_M = 1e-6
_LEAST_SHARE = 5e-4
"""A line that shades less of a mirror is not named."""
_kept = Cache(most_bytes=16_000_000)


@dataclass(frozen=True)
class Band:
    """A stretch of a mirror's chord in shade, from ``start`` to ``end`` (0 at its left end, 1 at its right), and what of line

    ``line_id`` takes the light: its mirrors, or its pipe."""

    start: float
    end: float
    line_id: int
    by_pipe: bool


@dataclass(frozen=True, eq=False)
class LightOnMirror:
    """The light on one mirror.

    ``share`` of it that mirrors and obstacles take, as the plan tints it; ``by`` what the mirrors of each line take alone, largest
    first; ``by_obstacles`` what obstacles take alone. ``bands`` on the chord. ``stops`` (R,): how far before the film, along the
    ray, something of another line stops each of its rays; -inf where nothing does.
    """

    share: float
    by: tuple[tuple[int, float], ...]
    by_obstacles: float
    bands: tuple[Band, ...]
    stops: Array

    def covered(self, *, by_pipe: bool) -> float:
        """Share of the chord in the shadow of mirrors, or of pipes: the union of their stretches."""
        spans = sorted((band.start, band.end) for band in self.bands if band.by_pipe is by_pipe)
        total, reached = 0.0, 0.0
        for start, end in spans:
            total += max(end - max(start, reached), 0.0)
            reached = max(reached, end)
        return total


@dataclass(frozen=True, eq=False)
class Field:
    """All lines of a design as they may shade under a sun.

    Of each line (L): the boxes ``low`` and ``high`` (L, 3) that hold its mirrors and its pipe, ``tops`` (L,) of the mirrors alone; the strip that its apertures sweep,
    from the edge at ``edges`` (L, 3) of the first one by ``rises`` (L, 3) and by ``ends`` (L,) along ``ways`` (L, 3); the middle of
    its pipe ``pipes`` (L, 3) at the first mirror. ``makes``: lines with the same number stand, run and count alike.
    """

    design: Design
    sun: Sun
    lines: tuple[PlacedLine, ...]
    form: MirrorForm
    low: Array
    high: Array
    tops: Array
    first: Array
    ways: Array
    ends: Array
    edges: Array
    rises: Array
    pipes: Array
    makes: NDArray[np.intp]
    make_keys: tuple[Hashable, ...]
    pipe_radius_m: float
    overhang_m: float

    @property
    def key(self) -> Hashable:
        """What the shade of one line on another reads besides their places."""
        design = self.design
        return (
            self.sun.direction.tobytes(), design.mirror, design.motion, design.receiver, design.pipe,
            design.materials.rod_mm,
        )  # fmt: skip


def field_of(design: Design, lines: Sequence[PlacedLine], sun: Sun) -> Field:
    """The lines of a design under a sun; lines that stand and run alike share what is worked out of them."""
    form = form_of(design.mirror)
    alike: dict[bytes, tuple[Array, Array, Array]] = {}
    keys: dict[Hashable, int] = {}
    for line in lines:
        stand = line.axes.tobytes() + line.along.tobytes()
        if stand not in alike:
            slide, roll, _rests = pose_at(design, line, sun)
            pipe = views_of(design, line, slide, roll).pipe_middle() @ line.axes
            alike[stand] = (pipe, *_strip(form, line))
        keys.setdefault(line_key(line), len(keys))
    shapes = [alike[line.axes.tobytes() + line.along.tobytes()] for line in lines]
    over, edge, rise = (np.array([shape[part] for shape in shapes]).reshape(-1, 3) for part in range(3))
    first = np.array([line.first for line in lines]).reshape(-1, 3)
    ways = np.array([line.along for line in lines]).reshape(-1, 3)
    ends = np.array([(line.count - 1) * line.spacing_m for line in lines])
    last = first + ends[:, None] * ways
    room = np.hypot(form.width_m, form.height_m) / 2 + edge_depth(form)
    return Field(
        design=design,
        sun=sun,
        lines=tuple(lines),
        form=form,
        low=np.minimum(first, last) - room + np.minimum(over, 0.0),
        high=np.maximum(first, last) + room + np.maximum(over, 0.0),
        tops=np.maximum(first, last)[:, 2] + room,
        first=first,
        ways=ways,
        ends=ends,
        edges=first + edge,
        rises=rise,
        pipes=first + over,
        makes=np.array([keys[line_key(line)] for line in lines], dtype=np.intp),
        make_keys=tuple(keys),
        pipe_radius_m=gear_of(design, lines[0]).pipe_diameter_m / 2 if lines else 0.0,
        overhang_m=overhang_m(design),
    )


def _strip(form: MirrorForm, line: PlacedLine) -> tuple[Array, Array]:
    """From a vertex to one edge of the aperture square to the line, and from there to the other; site frame, (3,) each."""
    across = up_the_slope(line.axes @ line.along)
    reach = (abs(float(across[0])) * form.width_m + abs(float(across[1])) * form.height_m) / 2
    rim = np.array([0.0, 0.0, edge_depth(form)])
    return (rim - reach * across) @ line.axes, 2 * reach * across @ line.axes


@dataclass(frozen=True, eq=False)
class Target:
    """One mirror that is shown: its line and its number from 0, and the gear above it, whose rays are followed."""

    line: LineInSection | LineAlong
    mirror: int
    gear: GearInSection

    @property
    def stand(self) -> Array:
        """Its vertex, site frame."""
        placed = self.line.placed
        return np.asarray(placed.first + self.mirror * placed.spacing_m * placed.along)


def lights_on(field: Field, targets: Sequence[Target], day: int) -> list[LightOnMirror]:
    """The light on each mirror on a day of the year; nothing is taken from one that no sun falls on."""
    if not targets:
        return []
    place = {line.id: number for number, line in enumerate(field.lines)}
    stands = np.array([target.stand for target in targets])
    by_mirrors = _reached(field, stands, field.tops)
    by_pipes = _reached(field, stands, field.high[:, 2])
    made, key = field.make_keys, field.key
    found = []
    for number, (target, stand) in enumerate(zip(targets, stands, strict=True)):
        own = place[target.line.id]
        by_mirrors[number, own] = by_pipes[number, own] = False
        rows, pipes = np.flatnonzero(by_mirrors[number]), np.flatnonzero(by_pipes[number])
        if not target.gear.lit:
            found.append(LightOnMirror(0.0, (), 0.0, (), np.full(len(target.gear.feet), -np.inf)))
            continue
        near = np.concatenate([rows, pipes])
        offsets = np.round((field.first[near] - stand) * 1e9).astype(np.int64)
        tag = (
            key, made[field.makes[own]], target.mirror, target.line.seen.see.tobytes(), offsets.tobytes(),
            len(rows), tuple(made[make] for make in field.makes[near].tolist()),
        )  # fmt: skip
        light = _kept.get(tag, partial(_light, field, target, stand, own, rows, pipes))
        found.append(_with_obstacles(field, target, stand, _named(light, field, [*near.tolist(), own]), day))
    return found


def _reached(field: Field, stands: Array, tops: Array) -> NDArray[np.bool_]:
    """Of mirrors at ``stands`` (T, 3), the lines (T, L) whose shadow may reach them; ``tops`` (L,) are their highest points.

    A shadow falls away from the sun, and no farther than its caster's top stands above the target's foot, over the sun's
    slope.
    """
    sun = field.sun.direction
    steep = np.tan(np.radians(max(field.sun.elevation_deg, 0.2)))
    room = np.hypot(field.form.width_m, field.form.height_m)
    low, high = stands[:, None] - room, stands[:, None] + room
    apart = np.maximum(np.maximum(field.low - high, low - field.high), 0.0)[..., :2]
    rise = np.maximum(tops - low[..., 2], 0.0)
    near = np.hypot(apart[..., 0], apart[..., 1]) <= rise / steep
    sunward = np.maximum(field.low[:, :2] * sun[:2], field.high[:, :2] * sun[:2]).sum(axis=1)
    return np.asarray(near & (sunward - stands[:, :2] @ sun[:2, None] > -room))


def _named(light: LightOnMirror, field: Field, members: list[int]) -> LightOnMirror:
    """What was worked out by place among the casters, by the lines' own ids."""
    ids = [field.lines[member].id for member in members]
    by = [(ids[place], min(share, 1.0)) for place, share in light.by if share > _LEAST_SHARE]
    return replace(
        light,
        by=tuple(sorted(by, key=lambda one: -one[1])),
        bands=tuple(replace(band, line_id=ids[band.line_id]) for band in light.bands),
    )


def _with_obstacles(
    field: Field, target: Target, stand: Array, light: LightOnMirror, day: int
) -> LightOnMirror:
    if not field.design.obstacles:
        return light
    one = replace(target.line.placed, first=stand, count=1)
    taken = shaded_now(field.design, one, field.sun.direction, day, _kept)
    if taken is None:
        return light
    obstacles = float(taken[0])
    return replace(light, share=1.0 - (1.0 - light.share) * (1.0 - obstacles), by_obstacles=obstacles)


def _light(
    field: Field, target: Target, stand: Array, own: int, rows: NDArray[np.intp], pipes: NDArray[np.intp]
) -> LightOnMirror:
    """Lines by their place in ``rows``, then in ``pipes``, the target's own line after them."""
    placed = target.line.placed
    chord = stand + target.line.seen.chord(field.form) @ placed.axes
    feet = stand + target.gear.feet @ placed.axes
    bands, stops = _by_mirrors(field, chord, feet, rows)
    more, stopped = _by_pipes(field, chord, feet, np.append(pipes, own))
    more = [replace(band, line_id=band.line_id + len(rows)) for band in more]
    share, by = _shares(field, target, stand, rows)
    own_share = [(len(rows) + len(pipes), share_of) for place, share_of in by if place == len(rows)]
    others = [one for one in by if one[0] < len(rows)]
    return LightOnMirror(share, (*others, *own_share), 0.0, (*bands, *more), np.maximum(stops, stopped))


def _shares(
    field: Field, target: Target, stand: Array, casters: NDArray[np.intp]
) -> tuple[float, tuple[tuple[int, float], ...]]:
    """The share that mirrors take, and what those of each caster and, after them, of the own row take alone."""
    mirror, placed = field.design.mirror, target.line.placed
    one = replace(placed, first=stand, count=1)
    before = replace(placed, count=target.mirror)
    after = replace(
        one, first=stand + placed.spacing_m * placed.along, count=placed.count - target.mirror - 1
    )
    # mirrors of a row that lie in one plane cannot shade each other
    level = abs(float(placed.axes[2] @ placed.along)) < 1e-9
    own = () if level else tuple(line for line in (before, after) if line.count > 0)
    others = [field.lines[place] for place in casters]
    if not others and not own:
        return 0.0, ()
    rows = tuple(row_of(line, mirror) for line in (*others, *own))
    shade = mirror_shade(row_of(one, mirror), rows, field.sun.direction[None])
    alone = shade.by_caster[0]
    by = (*alone[: len(others)].tolist(), float(alone[len(others) :].sum()))
    return float(shade.by_mirror[0, 0]), tuple(enumerate(by))


def _by_mirrors(
    field: Field, chord: Array, feet: Array, casters: NDArray[np.intp]
) -> tuple[list[Band], Array]:
    """Stretches of the chord (2, 3) behind other rows, and where they stop the rays that end at ``feet`` (R, 3).

    A row is taken as the strip that its aperture sweeps along the line, gaps between mirrors filled: that is what the
    section shows of it. A ray p + t s meets the strip c + m e + k (d - c) where three linear equations say.
    """
    nowhere = np.full(len(feet), -np.inf)
    if not len(casters):
        return [], nowhere
    sun, half = field.sun.direction, field.form.width_m / 2
    edges, ends = field.edges[casters], field.ends[casters]
    ways = field.ways[casters]
    lattice = np.stack([np.broadcast_to(-sun, ways.shape), ways, field.rises[casters]], axis=2)
    standing = np.abs(np.linalg.det(lattice)) > 1e-6
    inverse = np.linalg.inv(np.where(standing[:, None, None], lattice, np.eye(3)))
    # rows: t, m, k of the chord's ends and of the rays' feet, for every caster
    points = np.concatenate([chord, feet])
    at = np.einsum("cij,pcj->pci", inverse, points[:, None] - edges)
    least = np.stack([np.full_like(ends, _CLOSE_M), np.full_like(ends, -half), np.zeros_like(ends)], axis=1)
    most = np.stack([np.full_like(ends, np.inf), ends + half, np.ones_like(ends)], axis=1)
    first, last = _between(at[0], at[1] - at[0], least, most)
    low, high = np.clip(first.max(axis=1), 0.0, 1.0), np.clip(last.min(axis=1), 0.0, 1.0)
    bands = [
        Band(float(low[place]), float(high[place]), int(place), by_pipe=False)
        for place in np.flatnonzero(standing & (high > low + 1e-9))
    ]
    met = standing & ((at[2:] >= least) & (at[2:] <= most)).all(axis=2)
    return bands, np.asarray(np.where(met, at[2:, :, 0], -np.inf).max(axis=1, initial=-np.inf))


def _between(at: Array, step: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """From where to where ``at`` + share ``step`` lies between two bounds; none: from inf to -inf."""
    level = np.abs(step) < 1e-12
    safe = np.where(level, 1.0, step)
    one, other = (low - at) / safe, (high - at) / safe
    inside = (at >= low) & (at <= high)
    first = np.where(level, np.where(inside, -np.inf, np.inf), np.minimum(one, other))
    last = np.where(level, np.where(inside, np.inf, -np.inf), np.maximum(one, other))
    return first, last


def _by_pipes(field: Field, chord: Array, feet: Array, members: NDArray[np.intp]) -> tuple[list[Band], Array]:
    """Stretches of the chord behind the pipes of lines, the own one last; where others' stop rays.

    A ray passes a pipe's axis at the distance |(p - c) . w|, w the unit vector square to ray and axis: linear along the chord.
    """
    sun, radius = field.sun.direction, field.pipe_radius_m
    ways, middles = field.ways[members], field.pipes[members]
    square = np.cross(ways, sun)
    turn = np.linalg.norm(square, axis=1)
    square /= np.maximum(turn, 1e-9)[:, None]
    lean = ways @ sun
    least, most = -field.overhang_m, field.ends[members] + field.overhang_m

    def passed(points: Array) -> tuple[Array, Array, Array]:
        """How far points' rays (P,) pass the pipes (M) aside, ahead along the ray, and where along the pipe: (P, M)."""
        off = points[:, None] - middles
        aside, run = np.einsum("pmj,mj->pm", off, square), np.einsum("pmj,mj->pm", off, ways)
        ahead = (lean * run - off @ sun) / np.maximum(1.0 - lean**2, 1e-12)
        return aside, ahead, run + ahead * lean

    aside, ahead, run = passed(chord)
    bound = np.full(len(members), radius)
    first, last = _between(aside[0], aside[1] - aside[0], -bound, bound)
    low, high = np.clip(first, 0.0, 1.0), np.clip(last, 0.0, 1.0)
    middle = (low + high) / 2
    far, along = (part[0] + middle * (part[1] - part[0]) for part in (ahead, run))
    shades = (high > low + 1e-9) & (far > radius) & (along >= least) & (along <= most) & (turn > 1e-6)
    bands = [
        Band(float(low[place]), float(high[place]), int(place), by_pipe=True)
        for place in np.flatnonzero(shades)
    ]
    aside, ahead, run = (part[:, :-1] for part in passed(feet))
    met = (np.abs(aside) < radius) & (ahead > radius) & (run >= least) & (run <= most[:-1])
    return bands, np.asarray(np.where(met, ahead, -np.inf).max(axis=1, initial=-np.inf))
