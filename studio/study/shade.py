"""Stage: who shades whom, tabulated over the sun's place above the site, line by line."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, replace
from math import hypot

import numpy as np

from studio.design.design import Design
from studio.engine.heat.pipe import pipe_size
from studio.engine.shade import clip, parallel
from studio.engine.shade.gear import GearShape, LineGear, pose_gear
from studio.engine.shade.gear_shade import GearShade, GearTask, gear_shade, own_gear_of_line
from studio.engine.shade.outlook import reached, reaches
from studio.engine.shade.parallel import LineShade
from studio.engine.shade.reach import Bools
from studio.engine.shade.rows import RowOfMirrors, same_axes
from studio.study.assessment import Array, PlacedLine
from studio.study.build import slope_of
from studio.study.cache import Cache
from studio.study.place import overhang_m, row_of, swept_m, up_the_slope


@dataclass(frozen=True)
class ShadeAt:
    """Shade on one line at S suns, shares of its aperture: ``mirrors`` (S,), what gear adds ``gear`` (S,),

    the worst mirror ``worst`` (S,), and what the mirrors of each other line shade alone, ``by_caster`` (S,) by its id."""

    mirrors: Array
    gear: Array
    worst: Array
    worst_mirror: Array
    by_caster: Mapping[int, Array]

    def at(self, suns: slice) -> "ShadeAt":
        """The same at some of the suns."""
        return ShadeAt(
            mirrors=self.mirrors[suns],
            gear=self.gear[suns],
            worst=self.worst[suns],
            worst_mirror=self.worst_mirror[suns],
            by_caster={line_id: share[suns] for line_id, share in self.by_caster.items()},
        )


def gear_of(design: Design, line: PlacedLine) -> GearShape:
    """The moving gear of a line as shade sees it.

    The pipe stands aside up the mirror's slope whichever way the line runs; shade counts along e × the arm.
    """
    along = line.axes @ line.along
    up = up_the_slope(along)
    upward = 1.0 if np.cross(along, (0.0, 0.0, 1.0)) @ up >= 0.0 else -1.0
    motion, receiver = design.motion, design.receiver
    beside = motion.axis_aside_m * up
    outside = pipe_size(design.pipe.size).outside_mm + 2 * design.pipe.insulation_mm
    return GearShape(
        arm_m=motion.arm_m,
        pipe_diameter_m=outside / 1000,
        overhang_m=overhang_m(design),
        receiver_width_m=receiver.window_width_m + 2 * receiver.back_insulation_mm / 1000,
        receiver_height_m=receiver.window_height_m + 2 * receiver.back_insulation_mm / 1000,
        receiver_depth_m=receiver.depth_m,
        frame_width_m=motion.frame_width_m,
        mirrors_per_frame=motion.mirrors_per_frame,
        axis_m=(float(beside[0]), float(beside[1]), motion.axis_up_m),
        lean_deg=motion.arm_lean_deg,
        pipe_offset_m=(motion.pipe_out_m, upward * motion.pipe_aside_m),
    )


LineKey = tuple[bytes, bytes, float, int]


def line_key(placed: PlacedLine) -> LineKey:
    """What shade reads of a line, seen from its own place."""
    return (
        placed.along.tobytes(), placed.axes.tobytes(), placed.spacing_m, placed.count,
    )  # fmt: skip


def place_key(target: PlacedLine, caster: PlacedLine) -> Hashable:
    """What the shade on a line reads of another: its make and its offset, rounded to a nanometre so that the rounding of
    coordinates does not tell apart fields that were shifted as a whole."""
    return (*np.round((caster.first - target.first) * 1e9).astype(np.int64).tolist(), *line_key(caster))


def mirror_shade(target: RowOfMirrors, casters: tuple[RowOfMirrors, ...], suns: Array) -> LineShade:
    """Shade of mirrors alone: closed form where all apertures are parallel, polygons where they are not."""
    if all(same_axes(target, caster) for caster in casters):
        return parallel.shade_of_line(target, casters, suns)
    return clip.shade_of_line(target, casters, suns)


_ALIKE = 1e-9
"""Of the plan directions of lines at one azimuth, whatever their grades: what rounding leaves of their cross product."""
LOWEST_SUN_DEG = 3.8
"""What the shadows of lower suns take beyond the nearest 15 heights is left out: hardly any light comes from there."""


def longest_shadow(suns: Array) -> float:
    """Length of the longest shadow of ``suns`` (S, 3), for each metre of height."""
    lowest = max(float(np.min(suns[:, 2], initial=1.0)), float(np.sin(np.radians(LOWEST_SUN_DEG))))
    return float(np.sqrt(1.0 - lowest**2) / lowest)


def neighbours(
    placed: tuple[PlacedLine, ...], design: Design, shadow: float
) -> dict[int, tuple[PlacedLine, ...]]:
    """Of each line, by its id, the other lines that can shade its mirrors; ``shadow`` is the longest one of a metre's

    height. A line whose nearest mirror is farther than the longest shadow of its highest point is left out.
    """
    if not placed:
        return {}
    tall = (
        design.mirror.height_m
        + design.motion.arm_m
        + hypot(design.motion.axis_up_m, design.motion.axis_aside_m)
    )
    low, high = (np.array(corners) for corners in zip(*(line.box() for line in placed), strict=True))
    gap = np.maximum(np.maximum(low[:, None] - high, low - high[:, None]), 0.0)
    rise = np.abs(high[:, 2] - low[:, None, 2])
    near = np.hypot(gap[..., 0], gap[..., 1]) < (tall + rise) * shadow + swept_m(design)
    np.fill_diagonal(near, False)
    return {
        line.id: tuple(placed[other] for other in np.flatnonzero(near[place]))
        for place, line in enumerate(placed)
    }


@dataclass(frozen=True)
class Suns:
    """Places of the sun that shade is worked out for: ``suns`` (S, 3) site frame; ``key`` names them."""

    key: Hashable
    suns: Array

    def followed_by(self, others: "Suns") -> "Suns":
        """These and then those of ``others``."""
        return Suns((self.key, others.key), np.concatenate([self.suns, others.suns]))


@dataclass(frozen=True)
class Poses:
    """Poses of a line at S suns, and the suns ``active`` at which its receivers take light."""

    slide_m: Array
    roll_deg: Array
    active: Bools

    def followed_by(self, others: "Poses") -> "Poses":
        """These and then those of ``others``."""
        return Poses(
            np.concatenate([self.slide_m, others.slide_m]),
            np.concatenate([self.roll_deg, others.roll_deg]),
            np.concatenate([self.active, others.active]),
        )


@dataclass(frozen=True)
class Held:
    """The shade on a line as it was last worked out, and what it was worked out from.

    ``casters`` maps the id of each caster to its relative place and make, ``reached`` to the suns at which it may meet
    the target.
    """

    own: LineKey
    casters: Mapping[int, Hashable]
    reached: Mapping[int, Bools]
    shade: ShadeAt
    gear: GearShade


def shade_of_field(
    design: Design,
    placed: tuple[PlacedLine, ...],
    suns: Suns,
    poses: Mapping[int, Poses],
    cache: Cache,
    *,
    exact: bool = True,
) -> dict[int, ShadeAt]:
    """Shade on every line at ``suns``; ``poses`` by line id.

    What was worked out last for the same make is remembered. A line is worked out anew only at the suns at which
    something that came, went or moved reaches it, before or after; where nothing does, its shade is the very same object.

    Gear counts with all shadows together at the suns at which the line's own receivers take light. At the others they
    rest, nothing of the light is lost to gear that would not be lost anyway, and the row's own gear is taken for it.

    Not ``exact``: what gear adds is taken from the last exact answer, where there is one, and nothing is remembered. Mirrors
    are exact either way; gear changes far less than they do when a line moves, and costs most.
    """
    key = ("field shade", suns.key, _make(design))
    before: Mapping[int, Held] = cache.get(key, dict)
    rows = {line.id: row_of(line, design.mirror) for line in placed}
    gears = {line.id: _posed(design, line, rows[line.id], suns, poses[line.id], cache) for line in placed}
    scenes = _scenes(placed, neighbours(placed, design, longest_shadow(suns.suns)), gears, before)
    changed = [scene for scene in scenes.values() if scene.anew.any()]
    mirrors = [_mirrors(scene, gears, suns) for scene in changed]
    extras = [_gear_before(scene, before) for scene in changed]
    if not exact and all(extra is not None for extra in extras):
        return {line_id: scene.held.shade for line_id, scene in scenes.items() if scene.held is not None} | {
            scene.line.id: replace(shade, gear=np.minimum(extra, 1.0 - shade.mirrors))
            for scene, shade, extra in zip(changed, mirrors, extras, strict=True)
            if extra is not None
        }
    tasks = [
        _gear_task(
            scene,
            shade,
            gears,
            poses[scene.line.id].active,
            _own_gear(design, scene.line, gears, suns, cache),
        )
        for scene, shade in zip(changed, mirrors, strict=True)
    ]
    fresh = {
        scene.line.id: scene.held_with(replace(shade, gear=gear.extra), gear)
        for scene, shade, gear in zip(changed, mirrors, gear_shade(tasks), strict=True)
    }
    after = {
        line_id: fresh[line_id] if line_id in fresh else scene.still() for line_id, scene in scenes.items()
    }
    whole = {**before, **after} if len(before) < 4 * len(after) else after
    cache.put(key, whole, size=len(whole) * len(suns.suns) * 8 * 12)
    return {line_id: held.shade for line_id, held in after.items()}


def _gear_before(scene: "_Scene", before: Mapping[int, Held]) -> Array | None:
    """What gear added (S,) to a line's shade when last worked out; over uneven ground at another grade too."""
    held = scene.held if scene.held is not None else before.get(scene.line.id)
    if held is None:
        return None
    along, now = held.own[0], line_key(scene.line)[0]
    if held.own[1:] != line_key(scene.line)[1:]:
        return None
    (x, y, _z), (x0, y0, _z0) = (np.frombuffer(way) for way in (now, along))
    return held.gear.extra if abs(x * y0 - y * x0) < _ALIKE else None


def _make(design: Design) -> Hashable:
    """What all lines of a design have in common and their shade and poses come from."""
    slope = slope_of(design.mirror, design.materials.rod_mm)
    return design.mirror, slope, design.receiver, design.motion, design.pipe


def _posed(
    design: Design, line: PlacedLine, row: RowOfMirrors, suns: Suns, poses: Poses, cache: Cache
) -> LineGear:
    """The gear of a line at its poses; lines of the same make share it wherever they stand."""
    shape = gear_of(design, line)
    key = ("gear", suns.key, _make(design), line_key(line))
    gear = cache.get(
        key, lambda: pose_gear(shape, row, suns.suns, slide_m=poses.slide_m, roll_deg=poses.roll_deg)
    )
    return replace(gear, row=row)


@dataclass(frozen=True)
class _Scene:
    """A line among its casters: their places, the suns at which each ``reached`` it, those at which the shade must be
    worked out ``anew`` (S,), and what was ``held`` of it if that is of any use."""

    line: PlacedLine
    casters: tuple[PlacedLine, ...]
    places: Mapping[int, Hashable]
    reached: Mapping[int, Bools]
    anew: Bools
    held: Held | None

    def held_with(self, shade: ShadeAt, gear: GearShade) -> Held:
        """What to remember of a shade that was worked out."""
        return Held(line_key(self.line), self.places, self.reached, shade, gear)

    def still(self) -> Held:
        """What to remember where nothing was to be worked out."""
        if self.held is None:
            raise ValueError("nothing is held of this line")
        return self.held_with(self.held.shade, self.held.gear)


def _scenes(
    placed: tuple[PlacedLine, ...],
    near: Mapping[int, tuple[PlacedLine, ...]],
    gears: Mapping[int, LineGear],
    before: Mapping[int, Held],
) -> dict[int, _Scene]:
    """The scene of every line. Suns that a caster reaches that came, went or moved are to be worked out anew, and all

    suns where nothing that is held serves."""
    helds, places, strange = {}, {}, {}
    for line in placed:
        held = before.get(line.id)
        helds[line.id] = held = held if held is not None and held.own == line_key(line) else None
        places[line.id] = {caster.id: place_key(line, caster) for caster in near[line.id]}
        at = {} if held is None else held.casters
        strange[line.id] = [key for key, place in places[line.id].items() if at.get(key) != place]
    met = _met(strange, gears)
    scenes = {}
    for line in placed:
        held, here = helds[line.id], places[line.id]
        reach = {
            key: met[line.id, key] if held is None or (line.id, key) in met else held.reached[key]
            for key in here
        }
        anew = np.full(len(gears[line.id].suns), held is None)
        if held is not None:
            for key in {*strange[line.id], *(held.casters.keys() - here.keys())}:
                for then in (held.reached.get(key), reach.get(key)):
                    if then is not None:
                        anew |= then
        scenes[line.id] = _Scene(line, near[line.id], here, reach, anew, held)
    return scenes


def _met(strange: Mapping[int, list[int]], gears: Mapping[int, LineGear]) -> dict[tuple[int, int], Bools]:
    """Suns at which each of the ``strange`` casters of each target may reach it, by (target, caster).

    A target with many is looked at alone, the targets of one caster together: one line that moved is both.
    """
    met: dict[tuple[int, int], Bools] = {}
    of_one: dict[int, list[int]] = {}
    for target, casters in strange.items():
        if len(casters) == 1:
            of_one.setdefault(casters[0], []).append(target)
        elif casters:
            found = reached(gears[target], tuple(gears[caster] for caster in casters))
            met |= {(target, caster): suns for caster, suns in zip(casters, found, strict=True)}
    for caster, targets in of_one.items():
        found = reaches(gears[caster], [gears[target] for target in targets])
        met |= {(target, caster): suns for target, suns in zip(targets, found, strict=True)}
    return met


def _mirrors(scene: _Scene, gears: Mapping[int, LineGear], suns: Suns) -> ShadeAt:
    """Shade by mirrors alone, worked out at the suns that are anew and kept at the others."""
    at, held = np.flatnonzero(scene.anew), scene.held
    reaching = [key for key, reached_at in scene.reached.items() if reached_at[at].any()]
    fresh = mirror_shade(gears[scene.line.id].row, tuple(gears[key].row for key in reaching), suns.suns[at])
    mean, worst, worst_mirror = np.zeros((3, len(suns.suns)))
    if held is not None:
        mean[:], worst[:], worst_mirror[:] = held.shade.mirrors, held.shade.worst, held.shade.worst_mirror
    mean[at], worst[at], worst_mirror[at] = fresh.mean, fresh.worst, fresh.by_mirror.argmax(axis=1)
    nothing = np.zeros(len(suns.suns))
    by_caster: dict[int, Array] = {}
    for key in scene.places:
        before = nothing if held is None else held.shade.by_caster.get(key, nothing)
        by_caster[key] = np.where(scene.anew, 0.0, before)
    for column, key in enumerate(reaching):
        by_caster[key][at] = fresh.by_caster[:, column]
    return ShadeAt(mirrors=mean, gear=nothing, worst=worst, worst_mirror=worst_mirror, by_caster=by_caster)


def _gear_task(
    scene: _Scene, mirrors: ShadeAt, gears: Mapping[int, LineGear], active: Bools, own: GearShade
) -> GearTask:
    """What gear adds is asked for at the suns that are anew and at which the line's receivers take light."""
    rest = GearShade(extra=own.extra * (1.0 - mirrors.mirrors), worst=np.maximum(own.worst, mirrors.worst))
    if scene.held is not None:
        fresh = scene.anew | ~active
        rest = GearShade(
            extra=np.where(fresh, rest.extra, scene.held.gear.extra),
            worst=np.where(fresh, rest.worst, scene.held.gear.worst),
        )
    asked = scene.anew & active
    return GearTask(
        target=gears[scene.line.id],
        casters=tuple(gears[key] for key, reached_at in scene.reached.items() if (reached_at & asked).any()),
        mean=mirrors.mirrors,
        worst=mirrors.worst,
        own=own,
        kept=(rest, ~asked),
    )


def _own_gear(
    design: Design, line: PlacedLine, gears: Mapping[int, LineGear], suns: Suns, cache: Cache
) -> GearShade:
    key = ("own gear", suns.key, _make(design), line_key(line))
    return cache.get(key, lambda: own_gear_of_line(gears[line.id]))
