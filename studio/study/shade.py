"""Stage: who shades whom, tabulated over the sun's place above the site, line by line."""

from collections.abc import Hashable
from dataclasses import dataclass, replace

import numpy as np

from studio.design.design import Design
from studio.engine.heat.pipe import pipe_size
from studio.engine.shade import clip, parallel
from studio.engine.shade.gear import GearShape, LineGear, pose_gear
from studio.engine.shade.gear_shade import GearShade, line_gear_shade, own_gear_of_line
from studio.engine.shade.parallel import LineShade
from studio.engine.shade.rows import RowOfMirrors, same_axes
from studio.study.assessment import Array, PlacedLine
from studio.study.cache import Cache
from studio.study.place import row_of


@dataclass(frozen=True)
class ShadeAt:
    """Shade on one line at S suns, shares of its aperture: ``mirrors`` (S,), what gear adds ``gear`` (S,),

    the worst mirror ``worst`` (S,), and what each other line's mirrors shade alone ``by_caster`` (S, C)."""

    mirrors: Array
    gear: Array
    worst: Array
    worst_mirror: Array
    by_caster: Array


def gear_of(design: Design, line: PlacedLine) -> GearShape:
    """The moving gear of a line as shade sees it.

    The pipe stands aside up the mirror's slope whichever way the line runs; shade counts along e × the arm.
    """
    square = np.cross(line.axes @ line.along, (0.0, 0.0, 1.0))
    upward = 1.0 if square[1] >= 0.0 else -1.0
    motion, receiver = design.motion, design.receiver
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
        axis_m=(0.0, 0.0, motion.axis_up_m),
        pipe_offset_m=(motion.pipe_out_m, upward * motion.pipe_aside_m),
    )


def overhang_m(design: Design) -> float:
    """How far the pipe runs past the first and the last receiver: half a mirror and the stroke."""
    return design.mirror.width_m / 2 + design.motion.stroke_m


def line_key(placed: PlacedLine) -> tuple[Hashable, ...]:
    """What shade reads of a line, from its own place, rounded to 0.1 mm."""
    return (
        placed.along.tobytes(), placed.axes.tobytes(), placed.spacing_m, placed.count,
    )  # fmt: skip


def scene_key(target: PlacedLine, casters: tuple[PlacedLine, ...]) -> tuple[Hashable, ...]:
    """What the shade on a line reads: itself and the relative offsets of the others, rounded to 0.1 mm."""
    return (
        line_key(target),
        tuple(
            (*np.round((caster.first - target.first) * 1e4).astype(int).tolist(), line_key(caster))
            for caster in casters
        ),
    )


def mirror_shade(target: RowOfMirrors, casters: tuple[RowOfMirrors, ...], suns: Array) -> LineShade:
    """Shade of mirrors alone: closed form where all apertures are parallel, polygons where they are not."""
    if all(same_axes(target, caster) for caster in casters):
        return parallel.shade_of_line(target, casters, suns)
    return clip.shade_of_line(target, casters, suns)


def near(target: PlacedLine, placed: tuple[PlacedLine, ...], design: Design) -> tuple[PlacedLine, ...]:
    """The other lines that can shade a line's mirrors while the sun stands 2 degrees up or more.

    A line whose nearest mirror is farther than the longest shadow of its highest point is left out.
    """
    reach = (design.mirror.height_m + design.motion.arm_m + abs(design.motion.axis_up_m)) * 15.0
    mine = target.vertices()
    kept = []
    for other in placed:
        if other.id == target.id:
            continue
        theirs = other.vertices()
        low = np.maximum(mine.min(axis=0), theirs.min(axis=0))
        high = np.minimum(mine.max(axis=0), theirs.max(axis=0))
        apart = np.linalg.norm(np.maximum(low - high, 0.0)[:2])
        rise = abs(float(theirs[:, 2].max() - mine[:, 2].min()))
        if apart < reach + 15.0 * rise:
            kept.append(other)
    return tuple(kept)


@dataclass(frozen=True)
class Poses:
    """Poses of a line at S suns."""

    slide_m: Array
    roll_deg: Array


def shade_on(
    design: Design,
    target: PlacedLine,
    casters: tuple[PlacedLine, ...],
    suns: Array,
    poses: dict[int, Poses],
    cache: Cache,
    suns_key: Hashable,
    *,
    with_gear: bool = True,
) -> ShadeAt:
    """Shade on one line at ``suns`` (S, 3); ``poses`` by line id; ``suns_key`` names the suns and their poses."""
    rows = {line.id: row_of(line, design.mirror) for line in (target, *casters)}
    mirrors = mirror_shade(rows[target.id], tuple(rows[line.id] for line in casters), suns)
    gear = np.zeros(len(suns))
    if with_gear:

        def posed(line: PlacedLine) -> LineGear:
            pose, shape = poses[line.id], gear_of(design, line)
            key = ("gear", suns_key, shape, line_key(line), design.mirror.width_m, design.mirror.height_m)
            gear = cache.get(
                key,
                lambda: pose_gear(shape, rows[line.id], suns, slide_m=pose.slide_m, roll_deg=pose.roll_deg),
            )
            return replace(gear, row=rows[line.id])

        own_key = (
            "own gear",
            suns_key,
            gear_of(design, target),
            line_key(target),
            design.mirror.width_m,
            design.mirror.height_m,
        )
        own: GearShade = cache.get(own_key, lambda: own_gear_of_line(posed(target)))
        gear = line_gear_shade(posed(target), tuple(posed(line) for line in casters), mirrors, own=own).extra
    return ShadeAt(
        mirrors=mirrors.mean,
        gear=gear,
        worst=mirrors.worst,
        worst_mirror=mirrors.by_mirror.argmax(axis=1).astype(np.float64),
        by_caster=mirrors.by_caster,
    )
