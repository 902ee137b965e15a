"""Carrying areas, obstacles, the boundary and the store by hand: caught by the corner that is nearest to where it was taken."""

from dataclasses import replace
from math import hypot

from studio.design.design import Design
from studio.design.obstacles import Block, Fence, corners_of
from studio.design.site import Point
from studio.desk.plan.caught_by import targets_of
from studio.desk.plan.tools.change import moved_things, subjects_of
from studio.desk.plan.tools.drags import Drag, way_said
from studio.desk.plan.tools.tool import Host, Pointer
from studio.desk.state import Subject
from studio.edits.edit import Edit
from studio.edits.together import Things
from studio.text import _


class MoveThings(Drag):
    """Moves what is selected as one. ``lead`` is the thing under the hand: its nearest corner, or its middle, is caught."""

    def __init__(self, host: Host, start: Pointer, things: Things, lead: Subject) -> None:
        super().__init__(host, start)
        self.things = things
        self.held = min(
            marks_of(self.design, lead) or [start.m],
            key=lambda mark: hypot(mark[0] - start.m[0], mark[1] - start.m[1]),
        )
        self.targets = targets_of(host.drawing, subjects_of(things))

    def to(self, at: Pointer) -> Edit | None:
        dx, dy = self._by(at)
        there = self.held[0] + dx, self.held[1] + dy
        caught = self._take(self.aim.at(replace(at, m=there), targets=self.targets, start=None))
        if caught.name:
            dx, dy = caught.point[0] - self.held[0], caught.point[1] - self.held[1]
        else:
            dx, dy = round(dx, 2), round(dy, 2)
        self.told = _("moved {way}").format(way=way_said(dx, dy))
        return moved_things(self.design, self.things, round(dx, 6), round(dy, 6))


def marks_of(design: Design, subject: Subject) -> list[Point]:
    """What of a thing a hand would set on a corner or an edge: its corners, or the place where it stands."""
    if subject.kind == "no_build":
        return list(design.plot.no_build[int(subject.key)].ring)
    if subject.kind == "boundary":
        return list(design.plot.boundary)
    if subject.kind == "obstacle":
        one = design.obstacles[int(subject.key)]
        return list(corners_of(one)) if isinstance(one, Block | Fence) else [one.place]
    return [(design.store.x_m, design.store.y_m)] if subject.kind == "store" else []
