"""What of a plan drawing the pointer is caught by, kept while the drawing is the same."""

from functools import lru_cache
from math import atan2, degrees

from studio.design.design import Design
from studio.desk.plan.targets import Targets
from studio.desk.state import Subject
from studio.drawings.lines import LineOnPlan
from studio.drawings.plan import PlanDrawing
from studio.edits.geometry import pitch, usual_pitch
from studio.text import _, number

_PAST_M = 3.0
"""A guide beside a line runs so far past its ends."""


@lru_cache(maxsize=4)
def targets_of(drawing: PlanDrawing, without: frozenset[Subject] = frozenset()) -> Targets:
    """All that a drawn point can be caught by; ``without`` what a hand holds."""
    targets = Targets()
    if len(drawing.land.boundary) and Subject("boundary") not in without:
        targets.add_ring(drawing.land.boundary, name=_("the boundary"))
    for place, area in enumerate(drawing.land.areas):
        if Subject("no_build", place) not in without:
            targets.add_ring(area.ring, name=area.name)
    for place, one in enumerate(drawing.obstacles):
        if Subject("obstacle", place) not in without:
            if one.cornered:
                targets.add_ring(one.ring, closed=one.closed, name=one.name)
            else:
                targets.add_point(one.middle, one.name)
    for line in drawing.lines:
        if Subject("line", line.id) not in without:
            targets.add_ring(line.ends, closed=False, name=_("Line {number}").format(number=line.id))
    for side, runs in (("hot", drawing.header.hot[:1]), ("cold", drawing.header.cold[:1])):
        if Subject("header", side) not in without:
            for run in runs:
                targets.add_ring(run, closed=False, name=_("the header"))
    if drawing.has_store and Subject("store") not in without:
        targets.add_point(drawing.store[:2], _("store"))
    return targets


@lru_cache(maxsize=2)
def beside_lines(drawing: PlanDrawing, pitch_m: float) -> Targets:
    """Guides for a line that is to stand beside others: at a pitch from each, and level with its ends."""
    targets = Targets()
    for line in drawing.lines:
        _beside(targets, line, pitch_m)
    return targets


def _beside(targets: Targets, line: LineOnPlan, pitch_m: float) -> None:
    name = _("Line {number}").format(number=line.id)
    at_pitch = _("pitch {metres} m to {name}").format(metres=number(pitch_m, digits=2), name=name)
    level = _("level with {name}").format(name=name)
    (x0, y0), (x1, y1) = ((float(x), float(y)) for x, y in line.ends)
    azimuth = degrees(atan2(float(line.along[0]), float(line.along[1])))
    length = float(((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5)
    side = -float(line.along[1]), float(line.along[0])
    for sign in (-1.0, 1.0):
        place = x0 + sign * pitch_m * side[0], y0 + sign * pitch_m * side[1]
        targets.add_guide(place, azimuth, -_PAST_M, length + _PAST_M, at_pitch)
    for end in ((x0, y0), (x1, y1)):
        targets.add_guide(end, azimuth + 90.0, -2.5 * pitch_m, 2.5 * pitch_m, level)


def drawing_pitch(design: Design) -> float | None:
    """The pitch a new line is caught at: that of the line placed last, else the usual one; None without lines."""
    if not design.lines:
        return None
    last = pitch(design, design.lines[-1])
    return round(last, 3) if last is not None and last > 0.05 else usual_pitch(design)
