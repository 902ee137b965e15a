"""Shade of receivers, pipes and frames: the row's own gear, and that of other lines.

The gear of a line moves with its pose. With e the line's direction, the window's centre stands at
axis + slide e + Rot(e, roll) a0, where a0 is the arm along the mirror's axis at roll 0, right-handed about e. The pipe
and the receivers slide and roll; the frames only roll, and stand in the gaps between mirrors.
"""

from dataclasses import dataclass, replace
from math import pi

import numpy as np

from studio.engine.mirror.frame import Vector
from studio.engine.shade.blocks import Bodies, Shadows, cast
from studio.engine.shade.reach import Ints
from studio.engine.shade.rows import Floats, RowOfMirrors

_LEAST_TURN = 1e-9
KINDS = ("aperture", "pipe", "pipe before", "pipe after", "receiver", "frame")
_OF_MIRRORS = np.array([kind in ("aperture", "receiver") for kind in KINDS])
"""Kinds that are missing where a mirror is: pipe and frames run on."""


@dataclass(frozen=True)
class GearShape:
    """Sizes of what moves above a line, metres.

    ``axis_m`` leads from a mirror's vertex to the roll axis and ``arm_m`` from there to the window's centre, both in the
    mirror frame at roll 0, where the arm leans from the mirror axis by ``lean_deg``. The pipe's middle stands ``pipe_offset_m`` from the window's centre: outward along the arm,
    and square to arm and line (along e cross outward). ``pipe_diameter_m`` is taken over the insulation;
    the pipe runs ``overhang_m`` past the first and the last receiver. A receiver is a box: ``receiver_width_m`` along
    the line, ``receiver_height_m`` square to line and arm, ``receiver_depth_m`` outward from its window. Frames are
    round rods of ``frame_width_m`` from axis to pipe, one per ``mirrors_per_frame`` mirrors, and one at either end.
    """

    arm_m: float
    pipe_diameter_m: float
    overhang_m: float
    receiver_width_m: float
    receiver_height_m: float
    receiver_depth_m: float
    frame_width_m: float
    mirrors_per_frame: int = 1
    axis_m: Vector = (0.0, 0.0, 0.0)
    pipe_offset_m: tuple[float, float] = (0.0, 0.0)
    lean_deg: float = 0.0

    def __post_init__(self) -> None:
        if self.mirrors_per_frame < 1:
            raise ValueError(f"mirrors_per_frame is {self.mirrors_per_frame}; it must be 1 or more")
        if self.overhang_m < 0:
            raise ValueError(f"overhang_m is {self.overhang_m}; it must not be below zero")


@dataclass(frozen=True)
class LineGear:
    """A row with its apertures and its gear, posed for ``suns`` (S, 3) of the site frame.

    The kinds of ``bodies`` (mirror frame) are :data:`KINDS`; ``shadows`` are theirs on the plane of the row's own
    apertures. ``favour`` (S, TERMS), where it is given: how the light that its windows accept favours parts of its
    apertures (:mod:`studio.engine.mirror.favour`).
    """

    row: RowOfMirrors
    suns: Floats
    bodies: Bodies
    shadows: Shadows
    favour: Floats | None = None


def _frame_of_arm(e: Floats, roll_deg: Floats) -> tuple[Floats, Floats, Floats]:
    """The rolled arm's direction (S, 3), and the unit vectors outward and square of a receiver there.

    Rotation of the mirror's axis about e by Rodrigues' formula.
    """
    angle = np.radians(roll_deg)[:, None]
    up = np.array([0.0, 0.0, 1.0])
    arm = up * np.cos(angle) + np.cross(e, up) * np.sin(angle) + e * (e @ up) * (1 - np.cos(angle))
    square = np.cross(e, arm)
    square /= np.linalg.norm(square, axis=1, keepdims=True)
    return arm, np.cross(square, e), square


def _round(direction: Floats, sun: Floats, radius: float) -> Floats:
    """Half-extent (S, 3) that gives a round bar along ``direction`` the width of its silhouette against ``sun``."""
    side = np.cross(direction, sun)
    turn = np.linalg.norm(side, axis=-1, keepdims=True)
    return np.where(turn > _LEAST_TURN, radius * side / np.maximum(turn, _LEAST_TURN), 0.0)


def _numbers(count: int) -> tuple[Ints, Ints]:
    """First and last member of each of the :data:`KINDS` on a line of ``count`` mirrors."""
    end = count - 1
    return np.array([0, 0, 0, end, 0, 0]), np.array([end, end - 1, 0, end, end, end + 1])


def pose_gear(
    gear: GearShape, row: RowOfMirrors, suns: Floats, *, slide_m: Floats, roll_deg: Floats
) -> LineGear:
    """The gear of ``row`` at poses ``slide_m`` and ``roll_deg`` (S,), for ``suns`` (S, 3) of the site frame.

    Raises ValueError when the line runs along the mirrors' own axis (no roll is defined then).
    """
    suns = np.asarray(suns, dtype=float)
    sun = row.into_mirror_frame(suns)
    e = row.into_mirror_frame(np.array(row.along))
    if abs(e[2]) > 1 - _LEAST_TURN:
        raise ValueError("the line runs along its mirrors' axis; its receivers cannot roll about it")
    number = len(sun)
    slide, roll = (np.broadcast_to(np.asarray(pose, dtype=float), number) for pose in (slide_m, roll_deg))
    arm, outward, square = _frame_of_arm(e, roll + gear.lean_deg)
    axis = np.array(gear.axis_m) - np.array([0.0, 0.0, row.plane_z_m])
    still = axis + gear.arm_m * arm
    window = still + slide[:, None] * e
    to_pipe = gear.pipe_offset_m[0] * outward + gear.pipe_offset_m[1] * square
    pipe, step = window + to_pipe, row.spacing_m * e
    along = np.broadcast_to(e, (number, 3))
    nothing = np.zeros((number, 3))
    girth = _round(along, sun, gear.pipe_diameter_m / 2)
    butt = np.cross(along, girth) * pi / 4  # the round end, as a rectangle of equal area
    span, tail = along * row.spacing_m / 2, along * gear.overhang_m / 2
    foot, head = np.broadcast_to(axis, (number, 3)) - step / 2, still + to_pipe - step / 2
    rod = (head - foot) / 2
    kinds = (
        (nothing, np.diag([row.width_m / 2, row.height_m / 2, 0.0])),
        (pipe + span, (span, girth, nothing)),
        (pipe - tail, (tail, girth, butt)),
        (pipe + tail, (tail, girth, butt)),
        (
            window + gear.receiver_depth_m / 2 * outward,
            (
                gear.receiver_width_m / 2 * along,
                gear.receiver_height_m / 2 * square,
                gear.receiver_depth_m / 2 * outward,
            ),
        ),
        (foot + rod, (rod, _round(rod, sun, gear.frame_width_m / 2), nothing)),
    )
    first, last = _numbers(row.count)
    bodies = Bodies(
        centre=np.stack([centre for centre, extents in kinds], axis=1),
        extents=np.stack(
            [np.stack(np.broadcast_arrays(*extents, nothing)[:3], axis=1) for centre, extents in kinds],
            axis=1,
        ),
        step=step,
        first=first,
        last=last,
        stride=np.array([1, 1, 1, 1, 1, gear.mirrors_per_frame]),
        of_mirrors=_OF_MIRRORS,
        absent=row.absent,
    )
    kept = replace(bodies, centre=bodies.centre.astype(np.float32), extents=bodies.extents.astype(np.float32))
    return LineGear(row=row, suns=suns, bodies=kept, shadows=cast(bodies, sun))


def same_gear(line: LineGear, row: RowOfMirrors) -> LineGear:
    """The gear of ``line`` above another ``row`` that is built and posed alike; only place, count and the places left out
    may differ.

    What is computed is shared, so that alike lines cost one pose. Raises ValueError when the rows differ in direction,
    spacing, axes or aperture.
    """
    like = replace(row, first=line.row.first, count=line.row.count, absent=line.row.absent)
    if like != line.row:
        raise ValueError("the rows differ in direction, spacing or mirrors; their gear cannot be shared")
    first, last = _numbers(row.count)
    return replace(
        line,
        row=row,
        bodies=replace(line.bodies, first=first, last=last, absent=row.absent),
        shadows=replace(line.shadows, first=first, last=last, absent=row.absent),
    )
