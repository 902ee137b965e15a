"""Single mirrors of a line: the one under the hand left out or put back, and a lane across all lines through it."""

from math import hypot

import numpy as np

from studio.design.design import Design
from studio.design.site import Point
from studio.desk.plan.inline import Figure
from studio.desk.plan.tools.mode import TypedValue
from studio.desk.plan.tools.tool import Host, Pointer
from studio.desk.plan.tools.under import subjects_under
from studio.drawings.lines import LineOnPlan
from studio.edits.edit import Edit
from studio.edits.geometry import direction, last_vertex, moved
from studio.edits.places import lane_across, leave_out, put_back
from studio.errors import StillfieldError
from studio.text import _

USUAL_LANE_M = 3.0
"""Clear width that a lane begins with: a small tractor with room to either side; common practice, no source."""


def number_near(line: LineOnPlan, at: Point) -> int:
    """The number of the place of a line that is nearest to a point."""
    away = line.vertices[:, :2] - np.array(at)
    return line.placed.first_number + int(np.hypot(*away.T).argmin())


def line_under(host: Host, at: Pointer) -> LineOnPlan | None:
    """The line under the hand."""
    found = (one for one in subjects_under(host.reachable, at, host.camera) if one.kind == "line")
    subject = next(found, None)
    return None if subject is None else host.drawing.line(int(subject.key))


def other_way(design: Design, line_id: int, number: int) -> Edit:
    """The mirror of a number left out, or put back where it is out."""
    change = put_back if number in design.line(line_id).left_out else leave_out
    return change(design, id=line_id, mirrors=[number])


def take_one(host: Host, at: Pointer) -> bool:
    """Leave the mirror under the hand out, or put it back; whether a line is there."""
    line = line_under(host, at)
    if line is None:
        return False
    try:
        host.apply(other_way(host.session.state.design, line.id, number_near(line, at.m)))
    except StillfieldError as error:
        host.tell(str(error))
    return True


def lane_through(host: Host, line: LineOnPlan, at: Point) -> TypedValue:
    """A lane of a typed width, square to a line and across all of them, through one of its places."""
    here = line.vertices[number_near(line, at) - line.placed.first_number, :2]
    middle = (float(here[0]), float(here[1]))

    def ends(design: Design) -> tuple[Point, Point]:
        reach = 1.0 + max(
            hypot(x - middle[0], y - middle[1])
            for one in design.lines
            for x, y in ((one.x_m, one.y_m), last_vertex(one, design.ground))
        )
        way = direction(design.line(line.id).azimuth_deg + 90.0)
        return moved(middle, way, -reach), moved(middle, way, reach)

    def make(design: Design, width_m: float) -> Edit:
        start, end = ends(design)
        return lane_across(design, start=start, end=end, width_m=width_m)

    figure = Figure("lane", _("clear width"), "m", value=USUAL_LANE_M)
    return TypedValue(host, figure, make, middle, axis=lambda _width: ends(host.session.state.design))
