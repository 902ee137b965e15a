"""What one drive has to move: sag and twist of the hot pipe, torque, force, travel, and how many mirrors it can carry.

Sizes to reason with; the strength of pipes that carry hot oil is for local codes and licensed people.
"""

from collections.abc import Hashable
from dataclasses import dataclass
from math import pi

import numpy as np

from studio.design.design import Design
from studio.engine.heat.pipe import pipe_size
from studio.engine.heat.steel import DENSITY_KG_M3
from studio.engine.motion.beam import (
    Carried,
    FrameLoad,
    Sag,
    Tube,
    Twist,
    lean_of_arm_deg,
    most_mirrors,
    sag_of,
    slide_force_n,
    twist_of,
)
from studio.engine.motion.growth import (
    LightBeside,
    OilAlong,
    aim_loss,
    growth_loss,
    light_beside,
    loss_of_rolls,
    moved_m,
)
from studio.engine.motion.offsets import offset_table, window_offsets
from studio.engine.motion.pose import window_frames
from studio.study.assessment import Array, PlacedLine
from studio.study.beside import COLD_C, offsets_of, pipe_of
from studio.study.cache import Cache
from studio.study.heat import oil_of
from studio.study.optics import motion_of, table_covering
from studio.study.place import overhang_m, place_lines, swept_m
from studio.study.sky import Sky
from studio.units import GRAVITY

WOOL_KG_M3 = 100.0
"""Mineral wool with its jacket, meaned: a guess."""
PIVOT_M = 0.015
"""Radius at which a frame rubs in its pivot: a guess."""
TWIST_LOSS = 0.01
"""The loss of light by twist up to which one drive is said to carry a line."""
MOST_MIRRORS = 400
_REACH = 1.5


@dataclass(frozen=True, eq=False)
class DriveStatics:
    """The pipe and drive of one line, hot and full of oil; receivers hang where ``mirrors`` stand, and at empty places none.

    ``mass_kg``: all that slides; ``span_m`` from frame to frame; ``sag``; ``torque_nm`` at the drive at the worst roll,
    ``twist`` by frame when the drive turns the pipe at its end; ``force_n`` to slide. ``hangs_kg_m``: moment of what hangs
    off the roll axis at the heaviest frame, before counterweights, which are set for what hangs at each. ``growth_m``: how much longer the hot pipe is from first
    to last receiver than the cold one; ``off_spot_m``: farthest that a receiver stands off its spot after the drive has
    taken off what all share.
    """

    line_id: int
    mirrors: int
    mass_kg: float
    span_m: float
    sag: Sag
    twist: Twist
    torque_nm: float
    force_n: float
    hangs_kg_m: float
    growth_m: float
    off_spot_m: float

    @property
    def off_roll_deg(self) -> float:
        """Farthest that a receiver is rolled off its spot by twist, when the drive leads by half of it."""
        return float(np.abs(self.twist.centred_deg).max())


@dataclass(frozen=True, eq=False)
class OneDrive:
    """``statics``; losses (0..1) of the year's light: ``twist_loss`` by the twist left, ``growth_loss`` by the hot pipe's
    growth when the drive stands where it costs least, ``aim_loss`` by the mirrors' scattered aims; and ``most_mirrors`` on one drive before it
    passes ``TWIST_LOSS`` (400 is as far as is looked)."""

    statics: DriveStatics
    twist_loss: float
    growth_loss: float
    aim_loss: float
    most_mirrors: int


def statics_of(design: Design, line: PlacedLine) -> DriveStatics:
    """What the drive of ``line`` has to move, without the light; quick."""
    tube, carried = _pipe(design, line)
    bare = tube.mass_kg_m + carried.bare_kg_m
    mass = bare * ((line.count - 1) * line.spacing_m + 2 * overhang_m(design))
    mass += line.mirrors * design.motion.receiver_kg
    hung = _hung(design, line)
    loads = GRAVITY * (bare + hung.in_span * carried.receiver_kg / line.spacing_m)
    twist = _twist(design, line, tube, carried, hung.at_frame)
    fullest = _frame(design, line, tube, carried, float(hung.at_frame.max()))
    span = design.motion.mirrors_per_frame * line.spacing_m
    offsets = offsets_of(design, line)[line.there]
    tail = max(overhang_m(design) - line.spacing_m / 2, 0.0)
    return DriveStatics(
        line_id=line.id,
        mirrors=line.mirrors,
        mass_kg=mass,
        span_m=span,
        sag=sag_of(
            tube, loads, span_m=span, spans=len(loads), overhang_m=(tail, tail), overhang_n_m=bare * GRAVITY,
        ),
        twist=twist,
        torque_nm=twist.torque_nm,
        force_n=slide_force_n(mass_kg=mass, rolling=design.motion.friction, grade_percent=_grade(line)),
        hangs_kg_m=fullest.mass_kg * fullest.arm_m,
        growth_m=_growth(design, line),
        off_spot_m=float(offsets.max() - offsets.min()) / 2,
    )  # fmt: skip


def one_drive_of(design: Design, line: PlacedLine, sky: Sky, cache: Cache) -> OneDrive:
    """What the drive of ``line`` has to move, what its twist costs, and how far one drive reaches on a line without gaps."""
    tube, carried = _pipe(design, line)
    light = _light(design, line, sky, cache)
    statics = statics_of(design, line)

    def loss(count: int) -> float:
        full = np.ones(len(_frames_m(design, line, count)))
        return loss_of_rolls(light, _twist(design, line, tube, carried, full, count).centred_deg)

    return OneDrive(
        statics=statics,
        twist_loss=loss_of_rolls(light, statics.twist.centred_deg),
        growth_loss=growth_loss(light, offsets_of(design, line)[line.there]).loss,
        aim_loss=aim_loss(
            light, slide_rms_m=design.motion.aim_slide_mm / 1000, roll_rms_deg=design.motion.aim_roll_deg
        ),
        most_mirrors=most_mirrors(loss, limit=TWIST_LOSS, most=MOST_MIRRORS),
    )


def drives_of(design: Design, sky: Sky, cache: Cache) -> tuple[OneDrive, ...]:
    """The drives of a field; lines of one make share one answer, under the first one's number."""
    found: dict[Hashable, OneDrive] = {}
    for line in place_lines(design):
        if line.make not in found:
            found[line.make] = one_drive_of(design, line, sky, cache)
    return tuple(found.values())


@dataclass(frozen=True)
class _Hung:
    """Shares 0..1 of the places that have a mirror, and so a receiver: ``in_span`` (N,) between neighbouring frames,
    ``at_frame`` (N + 1,) of those on either side that lie nearer to a frame than to the next."""

    in_span: Array
    at_frame: Array


def _hung(design: Design, line: PlacedLine) -> _Hung:
    every = design.motion.mirrors_per_frame
    there = np.zeros(line.count)
    there[line.there] = 1.0
    starts = np.arange(0, line.count, every)
    in_span = np.add.reduceat(there, starts) / np.diff(np.append(starts, line.count))
    frames = np.append(starts, line.count) - 0.5
    places = np.arange(line.count)
    away = np.abs(frames[:, None] - places)
    # a place midway between two frames hangs on both by halves
    share = (away <= away.min(axis=0) + 1e-9).astype(np.float64)
    share /= share.sum(axis=0)
    return _Hung(in_span, share @ there / share.sum(axis=1))


def _twist(
    design: Design, line: PlacedLine, tube: Tube, carried: Carried, hung: Array, count: int | None = None
) -> Twist:
    """At the worst roll, with ``hung`` of their receivers at the frames, of the line as it is or with ``count`` places."""
    frames = _frames_m(design, line, line.count if count is None else count)
    limits = design.motion.roll_from_deg, design.motion.roll_to_deg
    of_shares = {
        share: _frame(design, line, tube, carried, share).most_nm(limits) for share in set(hung.tolist())
    }
    return twist_of(tube, frames, [of_shares[share] for share in hung.tolist()])


def _grade(line: PlacedLine) -> float:
    return 100 * float(line.along[2] / np.hypot(line.along[0], line.along[1]))


def _pipe(design: Design, line: PlacedLine) -> tuple[Tube, Carried]:
    size, oil = pipe_size(design.pipe.size), design.oil
    tube = Tube(outside_m=size.outside_mm / 1000, wall_m=size.wall_mm / 1000, pipe_c=min(oil.outlet_c, 400.0))
    over = tube.outside_m + 2 * design.pipe.insulation_mm / 1000
    wool = pi / 4 * (over**2 - tube.outside_m**2) * WOOL_KG_M3
    filled = pi / 4 * tube.bore_m**2 * float(oil_of(design).density((oil.inlet_c + oil.outlet_c) / 2))
    return tube, Carried(
        oil_kg_m=filled, insulation_kg_m=wool, receiver_kg=design.motion.receiver_kg, spacing_m=line.spacing_m
    )


def _frame(design: Design, line: PlacedLine, tube: Tube, carried: Carried, receivers: float) -> FrameLoad:
    """One frame's share: pipe, so much of its receivers and its own rod (taken as solid steel), at the middle of what hangs
    on it."""
    motion = design.motion
    placed = motion_of(motion, line.axes @ line.along)
    window = window_frames(placed, np.zeros(1), np.zeros(1))
    foot = np.array(placed.axis_offset_m)
    arm = window.centre[0] - foot
    arm = arm - (arm @ window.along) * window.along + motion.pipe_out_m * window.forward[0]
    reach = float(np.linalg.norm(arm))
    hung = (tube.mass_kg_m + carried.bare_kg_m) * motion.mirrors_per_frame * line.spacing_m
    hung += receivers * motion.mirrors_per_frame * carried.receiver_kg
    own = pi / 4 * motion.frame_width_m**2 * reach * DENSITY_KG_M3
    lever = (hung * reach + own * reach / 2) / (hung + own)
    east, north, up = (float(part) for part in arm @ line.axes)
    along = tuple(float(part) for part in line.along)
    return FrameLoad(
        friction_nm=motion.friction * (hung + own) * GRAVITY * PIVOT_M,
        mass_kg=hung + own,
        arm_m=lever,
        upright_deg=lean_of_arm_deg(
            arm_east_north_up=(east, north, up), along=(along[0], along[1], along[2])
        ),
        balance_kg_m=motion.balance_share * (hung + own) * lever,
        grade_percent=_grade(line),
    )


def _frames_m(design: Design, line: PlacedLine, count: int) -> Array:
    """Distances (M,) of a line's frames from its drive, which stands past the stroke's end."""
    every = design.motion.mirrors_per_frame
    gaps = np.unique(np.append(np.arange(0, count, every), count)) - 0.5
    # where mirrors stand far apart the first frame stands at the drive
    return np.maximum(swept_m(design) + gaps * line.spacing_m, 0.0)


def _light(design: Design, line: PlacedLine, sky: Sky, cache: Cache) -> LightBeside:
    """What a receiver takes in that stands or is rolled off its spot, meaned over the year's light."""
    suns = sky.suns @ line.axes.T
    suns, dni = suns[suns[:, 2] > 0], sky.dni[suns[:, 2] > 0]
    table = table_covering(design, line, suns, cache)
    window = table.window
    rolls = np.degrees(window_offsets(window.height_m, reach=_REACH) / table.motion.arm_m)
    offsets = offset_table(
        table, suns, slide_offsets_m=window_offsets(window.width_m, reach=_REACH), roll_offsets_deg=rolls
    )
    return light_beside(offsets, suns, dni * suns[:, 2])


def _growth(design: Design, line: PlacedLine) -> float:
    pipe = pipe_of(design, line)
    hot = moved_m(pipe, OilAlong(inlet_c=design.oil.inlet_c, outlet_c=design.oil.outlet_c))
    cold = moved_m(pipe, OilAlong.all_at(COLD_C))
    return float((hot[-1] - hot[0]) - (cold[-1] - cold[0]))
