"""Stage: who shades whom, tabulated over the sun's place above the site, line by line."""

from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from math import hypot

import numpy as np

from studio.design.design import Design
from studio.engine.heat.pipe import pipe_size
from studio.engine.shade.gear import GearShape, LineGear, pose_gear
from studio.engine.shade.gear_shade import GearShade, GearTask, gear_shade, own_gear_of_line
from studio.engine.shade.lines import answers, near_rows, run_alike
from studio.engine.shade.parallel import LineShade
from studio.engine.shade.reach import Bools, Ints
from studio.engine.shade.rows import RowOfMirrors
from studio.engine.shade.unlike import LineTask
from studio.study.assessment import Array, PlacedLine
from studio.study.build import slope_of
from studio.study.cache import Cache, Tick, no_tick
from studio.study.moved import Stood, shade_of_moved
from studio.study.neighbours import Neighbours
from studio.study.place import overhang_m, row_of, swept_m, up_the_slope
from studio.study.scenes import Held, Scene, ShadeAt, gear_is_held, scenes_of


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


def mirror_shade(target: RowOfMirrors, casters: tuple[RowOfMirrors, ...], suns: Array) -> LineShade:
    """Shade of mirrors alone."""
    return next(answers([LineTask(target, casters, suns)]))


LOWEST_SUN_DEG = 3.8
"""What the shadows of lower suns take beyond the nearest 15 heights is left out: hardly any light comes from there."""


def longest_shadow(suns: Array) -> float:
    """Length of the longest shadow of ``suns`` (S, 3), for each metre of height."""
    lowest = max(float(np.min(suns[:, 2], initial=1.0)), float(np.sin(np.radians(LOWEST_SUN_DEG))))
    return float(np.sqrt(1.0 - lowest**2) / lowest)


def _near(
    design: Design, placed: tuple[PlacedLine, ...], shadow: float, cache: Cache
) -> dict[int, tuple[PlacedLine, ...]]:
    """Of each line, by its id, the other lines that can shade its mirrors; ``shadow`` is the longest one of a metre's height."""
    tall = (
        design.mirror.height_m
        + design.motion.arm_m
        + hypot(design.motion.axis_up_m, design.motion.axis_aside_m)
    )
    found = cache.get(("neighbours",), Neighbours)
    return found.of(placed, tall_m=tall, wide_m=swept_m(design), shadow=shadow)


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
    """Poses of a line at S suns, the suns ``active`` at which its receivers take light, those ``bright`` ones that all
    but hardly any of the light on its mirrors comes from, and those ``bright_for_gear`` that all but little of what its
    windows accept comes from; ``favour`` (S, TERMS): how the light that its windows accept favours
    parts of its apertures, 0 where that is not asked."""

    slide_m: Array
    roll_deg: Array
    active: Bools
    bright: Bools
    bright_for_gear: Bools
    favour: Array

    def followed_by(self, others: "Poses") -> "Poses":
        """These and then those of ``others``."""
        return Poses(
            np.concatenate([self.slide_m, others.slide_m]),
            np.concatenate([self.roll_deg, others.roll_deg]),
            np.concatenate([self.active, others.active]),
            np.concatenate([self.bright, others.bright]),
            np.concatenate([self.bright_for_gear, others.bright_for_gear]),
            np.concatenate([self.favour, others.favour]),
        )


LINES_AT_ONCE = 60
"""Lines whose mirrors' shade is worked out together: as many as take a fraction of a second."""
_GEAR_AT_ONCE = 12
"""Lines whose gear's shade is worked out together."""


def shade_of_field(
    design: Design,
    placed: tuple[PlacedLine, ...],
    suns: Suns,
    poses: Mapping[int, Poses],
    cache: Cache,
    *,
    exact: bool = True,
    tick: Tick = no_tick,
) -> dict[int, ShadeAt]:
    """Shade on every line at ``suns``; ``poses`` by line id.

    What was worked out last for the same make is remembered. A line is worked out anew only at the suns at which
    something that came, went or moved reaches it, before or after; where nothing does, its shade is the very same object.
    Lines that see the same of the field are worked out once.

    Gear counts with all shadows together at the suns at which the line's own receivers take light. At the others they
    rest, nothing of the light is lost to gear that would not be lost anyway, and the row's own gear is taken for it. At suns
    that bring hardly any light some mirrors of a line stand for all where lines do not run alike.

    Not ``exact``: what gear adds is taken from the last exact answer, where there is one, and nothing is remembered. Mirrors
    are exact either way; gear changes far less than they do when a line moves, and costs most.
    """
    key = ("field shade", suns.key, _make(design))
    stood: Stood = cache.get(key, lambda: Stood((), {}))
    before = stood.held
    gears = _gears(design, placed, suns, poses, cache)
    if not exact:
        rows = {line.id: gears[line.id].row for line in placed}
        near_enough = shade_of_moved(stood, placed, rows, suns.suns, tick)
        if near_enough is not None:
            return near_enough
    shadow = longest_shadow(suns.suns)
    rough = not exact and gear_is_held(placed, before)
    scenes, still = scenes_of(
        placed, _near(design, placed, shadow, cache), gears, before, mirrors_alone=rough, tick=tick
    )
    alike: dict[Hashable, list[Scene]] = {}
    for scene in scenes:
        alike.setdefault(scene.likeness, []).append(scene)
    groups = list(alike.values())
    casting = _casting(placed, gears, shadow) if groups else {}
    work = _FieldWork(design, suns, poses, gears, casting, cache)
    fresh: dict[int, Held] = {}
    found = work.answers([group[0] for group in groups], rough=rough, tick=tick)
    for group, (shade, gear) in zip(groups, found, strict=True):
        for scene in group:
            fresh[scene.line.id] = scene.kept(_seen_from(scene, group[0], shade), gear)
    after = still | fresh
    if not rough:
        whole = {**before, **after} if len(before) < 4 * len(after) else after
        cache.put(key, Stood(placed, whole), size=len(whole) * len(suns.suns) * 8 * 12)
    return {line.id: after[line.id].shade for line in placed}


def _seen_from(scene: Scene, leader: Scene, shade: ShadeAt) -> ShadeAt:
    """The shade of a leader's scene as that of one alike: its casters go by their own ids."""
    if scene is leader:
        return shade
    names = dict(zip(leader.in_order, scene.in_order, strict=True))
    return replace(shade, by_caster={names[key]: share for key, share in shade.by_caster.items()})


def _make(design: Design) -> Hashable:
    """What all lines of a design have in common and their shade and poses come from."""
    slope = slope_of(design.mirror, design.materials.rod_mm)
    return design.mirror, slope, design.receiver, design.motion, design.pipe


def _gears(
    design: Design, placed: tuple[PlacedLine, ...], suns: Suns, poses: Mapping[int, Poses], cache: Cache
) -> dict[int, LineGear]:
    """The gear of every line at its poses; lines of the same make share it wherever they stand."""
    make, made = _make(design), {}
    found: dict[int, LineGear] = {}
    for line in placed:
        if line.make not in made:
            made[line.make] = cache.get(
                ("gear", suns.key, make, line.make), partial(_posed, design, line, suns, poses[line.id])
            )
        gear = made[line.make]
        found[line.id] = cache.slots.get("gear", line.id, (line, gear), partial(_moved, design, line, gear))
    return found


def _posed(design: Design, line: PlacedLine, suns: Suns, poses: Poses) -> LineGear:
    gear = pose_gear(
        gear_of(design, line),
        row_of(line, design.mirror),
        suns.suns,
        slide_m=poses.slide_m,
        roll_deg=poses.roll_deg,
    )
    return replace(gear, favour=poses.favour)


def _moved(design: Design, line: PlacedLine, gear: LineGear) -> LineGear:
    return replace(gear, row=row_of(line, design.mirror))


def _casting(
    placed: tuple[PlacedLine, ...], gears: Mapping[int, LineGear], shadow: float
) -> dict[int, frozenset[int]]:
    """Of each line, by its id, those whose mirrors may shade it."""
    near = near_rows([gears[line.id].row for line in placed], shadow)
    ids = np.array([line.id for line in placed])
    return {line.id: frozenset(ids[near[place]].tolist()) for place, line in enumerate(placed)}


@dataclass(frozen=True)
class _FieldWork:
    """What the shade of a field is worked out from."""

    design: Design
    suns: Suns
    poses: Mapping[int, Poses]
    gears: Mapping[int, LineGear]
    casting: Mapping[int, frozenset[int]]
    cache: Cache

    def answers(
        self, scenes: Sequence[Scene], *, rough: bool, tick: Tick
    ) -> Iterator[tuple[ShadeAt, GearShade]]:
        """The shade of each of some scenes, and of it what is gear's; ``rough``: gear's is what was held."""
        for first in range(0, len(scenes), LINES_AT_ONCE):
            tick(first / len(scenes))
            some = scenes[first : first + LINES_AT_ONCE]
            mirrors = self._mirrors(some)
            if rough:
                yield from map(_with_gear_held, some, mirrors)
                continue
            for start in range(0, len(some), _GEAR_AT_ONCE):
                tick((first + start) / len(scenes))
                part = slice(start, start + _GEAR_AT_ONCE)
                gears = gear_shade(list(map(self._gear_task, some[part], mirrors[part])))
                for shade, gear in zip(mirrors[part], gears, strict=True):
                    yield replace(shade, gear=gear.extra, uneven=gear.uneven), gear

    def _mirrors(self, scenes: Sequence[Scene]) -> list[ShadeAt]:
        """Shade by mirrors alone, worked out at the suns that are anew and kept at the others."""
        asked = []
        for scene in scenes:
            at, casting = np.flatnonzero(scene.anew), self.casting[scene.line.id]
            reaching = [key for key, met in scene.reached.items() if key in casting and met[at].any()]
            asked.append((at, reaching))
        tasks = [
            LineTask(
                target=self.gears[scene.line.id].row,
                casters=tuple(self.gears[key].row for key in reaching),
                suns=self.suns.suns[at] if at.size < len(self.suns.suns) else self.suns.suns,
                dim=self._dim(scene, reaching)[at],
            )
            for scene, (at, reaching) in zip(scenes, asked, strict=True)
        ]
        return [
            _mixed(scene, at, reaching, fresh, len(self.suns.suns))
            for scene, (at, reaching), fresh in zip(scenes, asked, answers(tasks), strict=True)
        ]

    def _dim(self, scene: Scene, reaching: list[int]) -> Bools:
        """The suns (S,) at which some mirrors stand for all: that bring hardly any light and at which a line shades it that
        faces or runs otherwise. (Alike lines share what their mirrors see; so what a sun brings depends on what reaches there.)"""
        row = self.gears[scene.line.id].row
        otherwise = np.zeros(len(self.suns.suns), np.bool_)
        for key in reaching:
            if not run_alike(row, (self.gears[key].row,)):
                otherwise |= scene.reached[key]
        return otherwise & ~self.poses[scene.line.id].bright

    def _gear_task(self, scene: Scene, mirrors: ShadeAt) -> GearTask:
        """What gear adds is asked for at the suns that are anew and at which the line's receivers take light."""
        active, own = self.poses[scene.line.id].active, self._own_gear(scene.line)
        rest = GearShade(
            extra=own.extra * (1.0 - mirrors.mirrors),
            worst=np.maximum(own.worst, mirrors.worst),
            uneven=own.uneven,
        )
        if scene.held is not None:
            fresh = scene.anew | ~active
            rest = GearShade(
                extra=np.where(fresh, rest.extra, scene.held.gear.extra),
                worst=np.where(fresh, rest.worst, scene.held.gear.worst),
                uneven=np.where(fresh, rest.uneven, scene.held.gear.uneven),
            )
        asked = scene.anew & active
        return GearTask(
            target=self.gears[scene.line.id],
            casters=tuple(self.gears[key] for key, met in scene.reached.items() if (met & asked).any()),
            mean=mirrors.mirrors,
            worst=mirrors.worst,
            own=own,
            kept=(rest, ~asked),
            dim=~self.poses[scene.line.id].bright_for_gear,
        )

    def _own_gear(self, line: PlacedLine) -> GearShade:
        key = ("own gear", self.suns.key, _make(self.design), line.make)
        # over a plane few lines differ, and over uneven ground nearly all
        dim = None if self.design.ground.heights is None else ~self.poses[line.id].bright_for_gear
        return self.cache.get(key, lambda: own_gear_of_line(self.gears[line.id], dim))


def _with_gear_held(scene: Scene, shade: ShadeAt) -> tuple[ShadeAt, GearShade]:
    """A shade by mirrors, with what gear added when it was last worked out."""
    if scene.gear is None:
        raise ValueError("nothing is held of this line")
    gear_alone = np.minimum(scene.gear.extra, 1.0 - shade.mirrors)
    return replace(shade, gear=gear_alone, uneven=scene.gear.uneven), scene.gear


def _mixed(scene: Scene, at: Ints, reaching: list[int], fresh: LineShade, suns: int) -> ShadeAt:
    """What is ``fresh`` at the suns ``at`` by the casters ``reaching``, and what was held at the others."""
    held = scene.held
    mean, worst, worst_mirror = np.zeros((3, suns))
    if held is not None:
        mean[:], worst[:], worst_mirror[:] = held.shade.mirrors, held.shade.worst, held.shade.worst_mirror
    mean[at], worst[at], worst_mirror[at] = fresh.mean, fresh.worst, fresh.worst_mirror
    by_caster: dict[int, Array] = {}
    if held is not None:
        for key in scene.places.keys() & held.shade.by_caster.keys():
            by_caster[key] = np.where(scene.anew, 0.0, held.shade.by_caster[key])
    for column, key in enumerate(reaching):
        by_caster.setdefault(key, np.zeros(suns))[at] = fresh.by_caster[:, column]
    return ShadeAt(
        mirrors=mean,
        gear=np.zeros(suns),
        uneven=np.zeros(suns),
        worst=worst,
        worst_mirror=worst_mirror,
        by_caster=by_caster,
    )
