"""Who shades whom in a section at a moment: shaded stretches of the mirrors that are shown, and where rays are stopped.

Shares come from the engine that tints the plan. Stretches are exact on the flat aperture: a caster's plane, parallel
light and the straight chord make every bound linear along the chord.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.drawings.lines import LineOnPlan
from studio.drawings.mirror import views_of
from studio.drawings.moment import TINTS_NOW, Sun, pose_at
from studio.drawings.section_gear import GearInSection
from studio.drawings.section_ground import ObstacleInSection
from studio.drawings.section_lines import LineAlong, LineInSection
from studio.drawings.section_obstacles import at_outlines, behind, stops_at, taking
from studio.engine.mirror.form import MirrorForm, edge_depth
from studio.study.assessment import PlacedLine
from studio.study.cache import Cache
from studio.study.obstacles import shaded_now
from studio.study.place import form_of, overhang_m, row_of, up_the_slope
from studio.study.scenes import place_key
from studio.study.shade import gear_of, mirror_shade

Array = NDArray[np.float64]
_CLOSE_M = 1e-6
_LEAST_SHARE = 5e-4
"""A line that shades less of a mirror is not named."""
_kept = Cache(most_bytes=4_000_000)


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
    first; ``by_obstacles`` what obstacles take alone. ``bands`` on the chord, and ``behind``: stretches of it behind an obstacle.
    ``stops`` (R,): how far before the film, along the ray, an obstacle or something of another line stops each of its rays;
    -inf where nothing does.
    """

    share: float
    by: tuple[tuple[int, float], ...]
    by_obstacles: float
    bands: tuple[Band, ...]
    behind: tuple[tuple[float, float], ...]
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

    Of each line (L): the strip that its apertures sweep, from the edge at ``edges`` (L, 3) of the first one by ``rises`` (L, 3)
    and by ``ends`` (L,) along ``ways`` (L, 3); the middle of its pipe ``pipes`` (L, 3) at the first mirror.
    """

    design: Design
    sun: Sun
    lines: tuple[LineOnPlan, ...]
    form: MirrorForm
    ways: Array
    ends: Array
    edges: Array
    rises: Array
    pipes: Array
    pipe_radius_m: float
    overhang_m: float


def field_of(design: Design, lines: Sequence[LineOnPlan], sun: Sun) -> Field:
    """The lines of a design under a sun; lines that stand and run alike share what is worked out of them."""
    form = form_of(design.mirror)
    alike: dict[bytes, tuple[Array, Array, Array]] = {}
    shapes = []
    for line in lines:
        placed = line.placed
        stand = placed.axes.tobytes() + placed.along.tobytes()
        if stand not in alike:
            slide, roll, _rests = pose_at(design, placed, sun)
            pipe = views_of(design, placed, slide, roll).pipe_middle() @ placed.axes
            alike[stand] = (pipe, *_strip(form, placed))
        shapes.append(alike[stand])
    over, edge, rise = (np.array([shape[part] for shape in shapes]).reshape(-1, 3) for part in range(3))
    first = np.array([line.placed.first for line in lines]).reshape(-1, 3)
    return Field(
        design=design,
        sun=sun,
        lines=tuple(lines),
        form=form,
        ways=np.array([line.placed.along for line in lines]).reshape(-1, 3),
        ends=np.array([(line.placed.count - 1) * line.placed.spacing_m for line in lines]),
        edges=first + edge,
        rises=rise,
        pipes=first + over,
        pipe_radius_m=gear_of(design, lines[0].placed).pipe_diameter_m / 2 if lines else 0.0,
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
    def vertex(self) -> Array:
        """Where its vertex stands in the section, (2,)."""
        if isinstance(self.line, LineInSection):
            return self.line.vertex
        return np.asarray(self.line.vertices[int(np.searchsorted(self.line.placed.there, self.mirror))])

    @property
    def one(self) -> PlacedLine:
        """The mirror as a line of one."""
        placed = self.line.placed
        stand = placed.first + self.mirror * placed.spacing_m * placed.along
        return replace(placed, first=stand, count=1, absent=())


def lights_on(
    field: Field, targets: Sequence[Target], day: int, drawn: Sequence[ObstacleInSection]
) -> list[LightOnMirror]:
    """The light on each mirror on a day of the year; nothing is taken from one that no sun falls on.

    ``drawn`` are the obstacles that the section shows: rays that they take end at their outlines.
    """
    found = [
        LightOnMirror(0.0, (), 0.0, (), (), np.full(len(target.gear.feet), -np.inf)) for target in targets
    ]
    lit = [place for place, target in enumerate(targets) if target.gear.lit]
    if not lit:
        return found
    chosen = [targets[place] for place in lit]
    place_of = {line.id: place for place, line in enumerate(field.lines)}
    own = np.array([place_of[target.line.id] for target in chosen])
    points = np.array(
        [
            one.first + np.concatenate([target.line.rim, target.gear.feet]) @ one.axes
            for target, one in ((target, target.one) for target in chosen)
        ]
    )
    rows, stops = _by_mirrors(field, points, own)
    pipes, stopped = _by_pipes(field, points, own)
    stops = np.maximum(stops, stopped)
    dark, hidden = _by_obstacles(field, chosen, points, day, drawn)
    stops = np.maximum(stops, hidden)
    tints = TINTS_NOW.of(field.design, field.lines, field.sun, day)
    for number, target in enumerate(chosen):
        share = float(tints[target.line.id][target.mirror])
        casters = list(dict.fromkeys(band.line_id for band in rows[number]))
        by, obstacles = _parts(field, target, share, casters, day)
        bands = (*rows[number], *pipes[number])
        found[lit[number]] = LightOnMirror(share, by, obstacles, bands, dark[number], stops[number])
    return found


def _by_obstacles(
    field: Field, targets: Sequence[Target], points: Array, day: int, drawn: Sequence[ObstacleInSection]
) -> tuple[list[tuple[tuple[float, float], ...]], Array]:
    """Stretches of the chords behind obstacles, and where those stop the rays, (T, R); ``points`` as of mirrors."""
    sun, count = field.sun.direction, points.shape[1] - 2
    bodies = taking(field.design, day)
    if not bodies:
        return [()] * len(targets), np.full((len(targets), count), -np.inf)
    stops = stops_at(bodies, sun, points[:, 2:].reshape(-1, 3))
    feet = np.concatenate([target.vertex + target.gear.feet @ target.line.seen.see for target in targets])
    light = np.repeat([one.line.placed.axes @ sun @ one.line.seen.see for one in targets], count, axis=0)
    stops = at_outlines(stops, feet, light, drawn)
    return behind(bodies, sun, points[:, :2]), stops.reshape(len(targets), count)


def _parts(
    field: Field, target: Target, share: float, casters: list[int], day: int
) -> tuple[tuple[tuple[int, float], ...], float]:
    """Of the share of a mirror's light that is taken: what each line takes alone, and what obstacles take alone.

    ``casters`` are the lines that the section sees before it; others may shade what it does not see of the mirror.
    """
    if share <= _LEAST_SHARE:
        return (), 0.0
    obstacles = 0.0
    if field.design.obstacles:
        taken = shaded_now(field.design, target.one, field.sun.direction, day, _kept)
        obstacles = 0.0 if taken is None else float(taken[0])
    if obstacles == 0.0 and len(casters) == 1:
        return ((casters[0], share),), 0.0
    by = _alone(field, target)
    return tuple((line_id, part) for line_id, part in by if part > _LEAST_SHARE), obstacles


def _alone(field: Field, target: Target) -> tuple[tuple[int, float], ...]:
    """What the mirrors of each line take of one mirror's light alone, largest first."""
    mirror, one = field.design.mirror, target.one
    steep = np.tan(np.radians(max(field.sun.elevation_deg, 0.2)))
    room = np.hypot(field.form.width_m, field.form.height_m)
    others = []
    for line in field.lines:
        low, high = line.placed.box
        apart = np.maximum(np.maximum(low - one.first, one.first - high), 0.0)[:2]
        # a shadow reaches no farther than its caster's top stands above the target's foot, over the sun's slope
        near = np.hypot(*apart) - 2 * room <= max(high[2] - one.first[2] + 2 * room, 0.0) / steep
        if near and line.id != target.line.id:
            others.append(line.placed)
    key = (
        mirror, field.sun.direction.tobytes(), one.make, *(place_key(one, other) for other in others),
    )  # fmt: skip

    def work() -> tuple[float, ...]:
        rows = tuple(row_of(other, mirror) for other in others)
        shade = mirror_shade(row_of(one, mirror), rows, field.sun.direction[None])
        return tuple(shade.by_caster[0].tolist())

    shares = _kept.get(key, work) if others else ()
    named = [(other.id, min(share, 1.0)) for other, share in zip(others, shares, strict=True)]
    return tuple(sorted(named, key=lambda pair: -pair[1]))


def _by_mirrors(field: Field, points: Array, own: NDArray[np.intp]) -> tuple[list[list[Band]], Array]:
    """Of T mirrors: stretches of their chords behind other rows, and where those stop their rays, (T, R).

    ``points`` (T, 2 + R, 3): the ends of each chord, and the feet of the rays. A row is taken as the strip that its aperture
    sweeps along the line, gaps between mirrors filled but for empty places: that is what the section shows of it. A ray p + t s meets the strip
    c + m e + k (d - c) where three linear equations say.
    """
    sun, half, ends = field.sun.direction, field.form.width_m / 2, field.ends
    lattice = np.stack([np.broadcast_to(-sun, field.ways.shape), field.ways, field.rises], axis=2)
    standing = np.abs(np.linalg.det(lattice)) > 1e-6
    inverse = np.linalg.inv(np.where(standing[:, None, None], lattice, np.eye(3)))
    # t, m, k of every point for every caster: (T, P, L, 3)
    off = points[:, :, None] - field.edges
    at = np.einsum("lij,tplj->tpli", inverse, off)
    least = np.stack([np.full_like(ends, _CLOSE_M), np.full_like(ends, -half), np.zeros_like(ends)], axis=1)
    most = np.stack([np.full_like(ends, np.inf), ends + half, np.ones_like(ends)], axis=1)
    first, last = _between(at[:, 0], at[:, 1] - at[:, 0], least, most)
    low, high = np.clip(first.max(axis=2), 0.0, 1.0), np.clip(last.min(axis=2), 0.0, 1.0)
    foreign = standing & (np.arange(len(ends)) != own[:, None])
    met = ((at[:, 2:] >= least) & (at[:, 2:] <= most)).all(axis=3) & foreign[:, None]
    if any(line.placed.absent for line in field.lines):
        run = at[..., 1]
        met &= ~_at_empty(field, run[:, 2:])
        foreign = foreign & ~_at_empty(field, run[:, 0] + (low + high) / 2 * (run[:, 1] - run[:, 0]))
    stops = np.where(met, at[:, 2:, :, 0], -np.inf).max(axis=2)
    return _bands(field, low, high, foreign & (high > low + 1e-9), by_pipe=False), stops


def _at_empty(field: Field, run: Array) -> NDArray[np.bool_]:
    """Where a way ``run`` (..., L) along each line, from its first vertex, comes to a place without a mirror."""
    empty = np.zeros(run.shape, np.bool_)
    for place, line in enumerate(field.lines):
        if line.placed.absent:
            nearest = np.rint(run[..., place] / line.placed.spacing_m)
            empty[..., place] = np.isin(nearest, line.placed.absent)
    return empty


def _by_pipes(field: Field, points: Array, own: NDArray[np.intp]) -> tuple[list[list[Band]], Array]:
    """As of mirrors: stretches behind pipes, the line's own among them, and where those of other lines stop rays.

    A ray passes a pipe's axis at the distance |(p - c) . w|, w the unit vector square to ray and axis: linear along the chord.
    """
    sun, radius, ways = field.sun.direction, field.pipe_radius_m, field.ways
    square = np.cross(ways, sun)
    turn = np.linalg.norm(square, axis=1)
    square /= np.maximum(turn, 1e-9)[:, None]
    lean = ways @ sun
    least, most = -field.overhang_m, field.ends + field.overhang_m
    off = points[:, :, None] - field.pipes
    aside, along = (off * square).sum(axis=3), (off * ways).sum(axis=3)
    ahead = (lean * along - off @ sun) / np.maximum(1.0 - lean**2, 1e-12)
    run = along + ahead * lean
    bound = np.full(len(ways), radius)
    first, last = _between(aside[:, 0], aside[:, 1] - aside[:, 0], -bound, bound)
    low, high = np.clip(first, 0.0, 1.0), np.clip(last, 0.0, 1.0)
    middle = (low + high) / 2
    far, there = (part[:, 0] + middle * (part[:, 1] - part[:, 0]) for part in (ahead, run))
    shades = (high > low + 1e-9) & (far > radius) & (there >= least) & (there <= most) & (turn > 1e-6)
    foreign = np.arange(len(ways)) != own[:, None]
    met = (np.abs(aside) < radius) & (ahead > radius) & (run >= least) & (run <= most) & foreign[:, None]
    stops = np.where(met[:, 2:], ahead[:, 2:], -np.inf).max(axis=2)
    return _bands(field, low, high, shades, by_pipe=True), stops


def _bands(
    field: Field, low: Array, high: Array, shades: NDArray[np.bool_], *, by_pipe: bool
) -> list[list[Band]]:
    """The stretches (T, L) that are there, by mirror."""
    found: list[list[Band]] = [[] for _mirror in low]
    for mirror, line in np.argwhere(shades).tolist():
        band = Band(float(low[mirror, line]), float(high[mirror, line]), field.lines[line].id, by_pipe)
        found[mirror].append(band)
    return found


def _between(at: Array, step: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """From where to where ``at`` + share ``step`` lies between two bounds; none: from inf to -inf."""
    level = np.abs(step) < 1e-12
    safe = np.where(level, 1.0, step)
    one, other = (low - at) / safe, (high - at) / safe
    inside = (at >= low) & (at <= high)
    first = np.where(level, np.where(inside, -np.inf, np.inf), np.minimum(one, other))
    last = np.where(level, np.where(inside, np.inf, -np.inf), np.maximum(one, other))
    return first, last
