"""What a line takes up on the plan beside its vertices: mirrors, full slide at every roll, drive."""

from dataclasses import dataclass, replace

import numpy as np
from shapely import Polygon

from studio.design.design import Design
from studio.design.field import Line
from studio.design.site import Point
from studio.edits.geometry import direction, first_vertex, grade_of, level_length, moved, square
from studio.engine.ground.line_on_plan import LineOnPlan, line_on_plan
from studio.engine.heat.pipe import pipe_size
from studio.engine.mirror.form import MirrorForm, edge_depth
from studio.engine.mirror.frame import mirror_axes
from studio.engine.motion.place import line_direction
from studio.engine.shade.gear import GearShape
from studio.engine.shade.rows import RowOfMirrors
from studio.errors import BadInputError
from studio.text import _, number

DRIVE_M = 0.5
"""Side of the square that a drive stands on, beyond the pipe's end at full slide."""
_MOST_ALONG_AXIS = 0.999
"""Cosine between a line and its mirrors' axis above which no roll about the line is defined."""


@dataclass(frozen=True)
class LineRoom:
    """Distances on the plan in metres: before the first vertex (drive and stroke), after the last, right and left.

    ``deep_m`` is a mirror's depth square to the line; ``least_spacing_m`` (along the line) leaves a frame its gap.
    """

    before_m: float
    after_m: float
    right_m: float
    left_m: float
    deep_m: float
    least_spacing_m: float

    def without_stroke(self, stroke_m: float) -> "LineRoom":
        """The same for a pipe that does not slide."""
        slid = 2 * stroke_m
        return replace(self, before_m=self.before_m - slid, after_m=self.after_m - slid)

    def rectangle(self, line: Line, design: Design) -> Polygon:
        """What a whole line takes up on the plan."""
        along, left = direction(line.azimuth_deg), square(line.azimuth_deg)
        reach = (-self.before_m, level_length(line, design.ground) + self.after_m)
        sides = (-self.right_m, self.left_m)
        places = ((reach[0], sides[0]), (reach[1], sides[0]), (reach[1], sides[1]), (reach[0], sides[1]))
        return Polygon([moved(moved(first_vertex(line), along, u), left, v) for u, v in places])


def room_of(design: Design, line: Line) -> LineRoom:
    """The room that a line's stand, motion and azimuth ask for; its place and its count do not matter.

    Raises BadInputError for a line that runs along its mirrors' axis.
    """
    on_plan = _on_plan(design, line)
    along, left = np.array(direction(line.azimuth_deg)), np.array(square(line.azimuth_deg))
    radius, corners = on_plan.bar_radius_m, on_plan.corners[0]
    lengths, sides = on_plan.bars[..., :2] @ along, on_plan.bars[..., :2] @ left
    feet, beside = corners[:, :2] @ along, corners[:, :2] @ left
    motion = design.motion
    slid = design.mirror.width_m / 2 + 2 * motion.stroke_m
    half = DRIVE_M / 2 * float(np.abs(along).sum())  # the square stands with its sides to the north and east
    e = line_direction(line.azimuth_deg, 100 * grade_of(line, design.ground))
    clear = max(0.0, (motion.frame_room_m - motion.frame_width_m) / 2)
    gap = max(motion.frame_room_m, motion.frame_width_m + 0.04)
    return LineRoom(
        before_m=float(max(radius + clear - lengths.min(), -feet.min(), slid + DRIVE_M / 2 + half)),
        after_m=float(
            max(radius + lengths.max(), feet.max(), slid)
        ),  # a header joins the pipe's end on the line
        right_m=float(max(radius - sides.min(), -beside.min(), half)),
        left_m=float(max(radius + sides.max(), beside.max(), half)),
        deep_m=float(np.ptp(beside)),
        least_spacing_m=float(np.ptp(corners @ e)) + gap,
    )


def foot_of(design: Design, line: Line) -> tuple[Point, ...]:
    """Corners of a mirror's aperture on the plan, from its vertex, m; BadInputError as of :func:`room_of`."""
    return tuple((float(x), float(y)) for x, y, _z in _on_plan(design, line).corners[0])


def _on_plan(design: Design, line: Line) -> LineOnPlan:
    """One mirror of the line with its gear at the site's reference point."""
    mirror, motion, receiver = design.mirror, design.motion, design.receiver
    axes = mirror_axes(
        tilt_deg=mirror.tilt_deg if line.tilt_deg is None else line.tilt_deg,
        facing_deg=mirror.facing_deg if line.facing_deg is None else line.facing_deg,
    )
    e = line_direction(line.azimuth_deg, 100 * grade_of(line, design.ground))
    along = np.array(axes) @ e
    if abs(along[2]) > _MOST_ALONG_AXIS:
        raise BadInputError(
            _(
                "Lines at azimuth {azimuth}° run along the axis of their mirrors and cannot roll; turn them."
            ).format(azimuth=number(line.azimuth_deg, digits=1))
        )
    form = MirrorForm(
        surface=mirror.surface, width_m=mirror.width_m, height_m=mirror.height_m, focal_m=mirror.focal_m,
        focal_across_m=mirror.focal_across_m, ribs=2,
    )  # fmt: skip
    row = RowOfMirrors(
        first=(0.0, 0.0, 0.0), along=(float(e[0]), float(e[1]), float(e[2])), spacing_m=line.spacing_m, count=1,
        axes=axes, width_m=mirror.width_m, height_m=mirror.height_m, plane_z_m=edge_depth(form),
    )  # fmt: skip
    level = np.cross(along, (0.0, 0.0, 1.0))
    level /= np.linalg.norm(level)
    upward = 1.0 if (level[1] if abs(level[1]) > 1e-9 else level[0]) >= 0.0 else -1.0
    aside = upward * motion.axis_aside_m * level
    lagging = 2 * receiver.back_insulation_mm / 1000
    gear = GearShape(
        arm_m=motion.arm_m,
        pipe_diameter_m=(pipe_size(design.pipe.size).outside_mm + 2 * design.pipe.insulation_mm) / 1000,
        overhang_m=mirror.width_m / 2 + motion.stroke_m,
        receiver_width_m=receiver.window_width_m + lagging,
        receiver_height_m=receiver.window_height_m + lagging,
        receiver_depth_m=receiver.depth_m,
        frame_width_m=motion.frame_width_m,
        axis_m=(float(aside[0]), float(aside[1]), motion.axis_up_m),
        lean_deg=motion.arm_lean_deg,
        pipe_offset_m=(motion.pipe_out_m, upward * motion.pipe_aside_m),
    )
    return line_on_plan(
        row,
        gear,
        slide_m=(-motion.stroke_m, motion.stroke_m),
        roll_deg=(motion.roll_from_deg, motion.roll_to_deg),
    )
