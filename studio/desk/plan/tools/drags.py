"""What a hand holds while it drags: each turns the pointer into an edit of the committed design."""

from abc import ABC, abstractmethod
from dataclasses import replace
from typing import Literal

import numpy as np

from studio.design.design import Design
from studio.design.field import Line
from studio.design.site import Point
from studio.desk.plan.caught_by import targets_of
from studio.desk.plan.snaps import CATCH_PX, TURN_PX, Caught, Segment, crossing
from studio.desk.plan.tools.aim import Aim
from studio.desk.plan.tools.change import subjects_of
from studio.desk.plan.tools.tool import Host, Pointer
from studio.desk.state import Subject
from studio.edits import lines as line_edits
from studio.edits.edit import Edit
from studio.edits.geometry import (
    azimuth_between,
    direction,
    distance,
    front_line,
    last_vertex,
    level_length,
    level_spacing,
    middle,
    moved,
    offset,
    parallel,
    square,
)
from studio.edits.together import Things, move_things
from studio.text import _, number

Focus = Literal["pitch", "length", "azimuth", ""]
"""Which figure of the selected line a drag holds."""


class Drag(ABC):
    """A drag that began at ``start``. ``name`` is the snap that holds it, ``guides`` the lines that do, ``told`` what it did."""

    focus: Focus = ""

    def __init__(self, host: Host, start: Pointer) -> None:
        self.host, self.start = host, start
        self.design: Design = host.session.state.design
        self.aim = Aim(host)
        self.name = ""
        self.told = ""
        self.guides: tuple[Segment, ...] = ()

    @abstractmethod
    def to(self, at: Pointer) -> Edit | None:
        """The edit that the pointer makes now."""

    def _by(self, at: Pointer) -> Point:
        return at.m[0] - self.start.m[0], at.m[1] - self.start.m[1]

    def _let_go(self) -> None:
        """Nothing holds the hand."""
        self.name, self.guides = "", ()

    def _take(self, caught: Caught) -> Caught:
        """Tell what holds the hand."""
        self.name, self.guides = caught.name, caught.guides
        return caught


def way_said(dx: float, dy: float) -> str:
    """A move in words: '0.85 m north', or '1.20 m east, 0.30 m south'."""
    parts = []
    for metres, plus, minus in ((dx, _("east"), _("west")), (dy, _("north"), _("south"))):
        if abs(metres) >= 0.005:
            parts.append(f"{number(abs(metres), digits=2)} m {plus if metres > 0 else minus}")
    return ", ".join(parts) or "0.00 m"


class MoveLines(Drag):
    """Moves the selected lines, and what is selected with them. Caught square to the line, at the pitches of the field,
    level with other lines' ends, and by its own ends on corners, edges and marks."""

    focus: Focus = "pitch"

    def __init__(self, host: Host, start: Pointer, things: Things, lead: int) -> None:
        super().__init__(host, start)
        self.things, self.lead = things, self.design.line(lead)
        ground = self.design.ground
        self.others = [line for line in self.design.lines if line.id not in things.lines]
        self.apart = np.array(
            [offset(self.lead, line, ground) if parallel(self.lead, line) else np.inf for line in self.others]
        )
        alike = self.apart[np.isfinite(self.apart)]
        steps = np.round(np.diff(np.unique(np.round(alike, 4))), 3)
        self.pitches = np.unique(steps[steps > 0.05])
        self.targets = targets_of(host.drawing, subjects_of(things))
        self.ends = ((self.lead.x_m, self.lead.y_m), last_vertex(self.lead, ground))
        self.aims = (Aim(host), Aim(host))

    def to(self, at: Pointer) -> Edit | None:
        dx, dy = self._by(at)
        along, side = direction(self.lead.azimuth_deg), square(self.lead.azimuth_deg)
        run, lift = dx * along[0] + dy * along[1], dx * side[0] + dy * side[1]
        self._let_go()
        exact = False
        if not at.free:
            caught = self._by_its_ends(at, dx, dy)
            if caught is not None:
                dx, dy = caught
                exact = True
            else:
                run, lift = self._held(run, lift)
        if not exact:
            if _("pitch") not in self.name:
                lift = round(lift, 2)  # a hand is no finer than a centimetre; a caught pitch is met exactly
            run = round(run, 2) if _("level") not in self.name else run
            dx, dy = along[0] * run + side[0] * lift, along[1] * run + side[1] * lift
        self.told = _("moved {way}").format(way=way_said(dx, dy))
        if len(self.things) == len(self.things.lines):
            return line_edits.move_lines(
                self.design, ids=self.things.lines, dx_m=round(dx, 6), dy_m=round(dy, 6)
            )
        return move_things(self.design, things=self.things, dx_m=round(dx, 6), dy_m=round(dy, 6))

    def _by_its_ends(self, at: Pointer, dx: float, dy: float) -> Point | None:
        """The move that puts one of the line's ends on a corner, a middle, a crossing."""
        for aim, end in zip(self.aims, self.ends, strict=True):
            caught = aim.at(replace(at, m=(end[0] + dx, end[1] + dy)), targets=self.targets, grid=False)
            if caught.kind in ("corner", "middle", "crossing"):
                self._take(caught)
                self.name = _("its end on {name}").format(name=caught.name)
                return caught.point[0] - end[0], caught.point[1] - end[1]
        return None

    def _held(self, run: float, lift: float) -> tuple[float, float]:
        reach = TURN_PX / self.host.camera.px_per_m
        names = []
        if abs(run) <= reach and abs(lift) > reach:
            run = 0.0
            names.append(_("square"))
        elif abs(lift) <= reach and abs(run) > reach:
            return self._end_to_end(run, reach), 0.0
        if self.others and len(self.pitches):
            wanted = self.apart[:, None, None] + self.pitches[None, :, None] * np.array([-1.0, 1.0])
            which = np.unravel_index(int(np.abs(wanted - lift).argmin()), wanted.shape)
            if abs(float(wanted[which]) - lift) <= reach:
                lift = float(wanted[which])
                other, step = self.others[int(which[0])], float(self.pitches[which[1]])
                names.append(
                    _("pitch {metres} m to Line {number}").format(
                        metres=number(step, digits=2), number=other.id
                    )
                )
                self.guides = (self._gap(run, lift, other),)
        self.name = ", ".join(names)
        return run, lift

    def _gap(self, run: float, lift: float, other: Line) -> Segment:
        """From the middle of the line where it is held, square to it, to the other line."""
        along, side = direction(self.lead.azimuth_deg), square(self.lead.azimuth_deg)
        x, y = middle(self.lead, self.design.ground)
        here = x + along[0] * run + side[0] * lift, y + along[1] * run + side[1] * lift
        apart = offset(self.lead, other, self.design.ground) - lift
        return here, (here[0] + side[0] * apart, here[1] + side[1] * apart)

    def _end_to_end(self, run: float, reach: float) -> float:
        self.name = _("along the line")
        along, first = direction(self.lead.azimuth_deg), (self.lead.x_m, self.lead.y_m)
        for other in self.others:
            there = (other.x_m - first[0]) * along[0] + (other.y_m - first[1]) * along[1]
            if abs(there - run) <= reach:
                self.name = _("level with Line {number}").format(number=other.id)
                at = first[0] + along[0] * there, first[1] + along[1] * there
                self.guides = (((other.x_m, other.y_m), at),)
                return there
        return run


class TurnLine(Drag):
    """Turns a line about its middle; caught every 15 degrees and parallel to other lines."""

    focus: Focus = "azimuth"

    def __init__(self, host: Host, start: Pointer, line: Line) -> None:
        super().__init__(host, start)
        self.line = line
        self.about = middle(line, self.design.ground)
        self.from_deg = azimuth_between(self.about, start.m)

    def to(self, at: Pointer) -> Edit | None:
        turn = azimuth_between(self.about, at.m) - self.from_deg
        wanted = (self.line.azimuth_deg + turn) % 360.0
        self.name = ""
        if not at.free:
            ways = [(other.azimuth_deg % 360, _("parallel to Line {number}").format(number=other.id))
                    for other in self.design.lines if other.id != self.line.id]  # fmt: skip
            ways += [(15.0 * place, _("{angle}°").format(angle=15 * place)) for place in range(24)]
            for azimuth, name in ways:
                if abs((wanted - azimuth + 180) % 360 - 180) < 1.5:
                    wanted, self.name = azimuth, name
                    break
        self.guides = self._axis(wanted) if self.name else ()
        angle = (wanted - self.line.azimuth_deg + 180.0) % 360.0 - 180.0
        self.told = _("turned {angle}°").format(angle=number(angle, digits=1, sign=True))
        return line_edits.turn_lines(self.design, ids=[self.line.id], angle_deg=round(angle, 4))

    def _axis(self, azimuth: float) -> tuple[Segment, ...]:
        """The direction that holds it, a little longer than the line."""
        half = level_length(self.line, self.design.ground) / 2 + 2.0
        way = direction(azimuth)
        return ((moved(self.about, way, -half), moved(self.about, way, half)),)


class StretchLine(Drag):
    """Stretches a line by one end: mirrors are added or dropped; caught level with the ends of other lines."""

    focus: Focus = "length"

    def __init__(self, host: Host, start: Pointer, line: Line, end: line_edits.End) -> None:
        super().__init__(host, start)
        self.line, self.end = line, end
        ground = self.design.ground
        self.fixed = (line.x_m, line.y_m) if end == "far" else last_vertex(line, ground)
        self.way = direction(line.azimuth_deg + (0.0 if end == "far" else 180.0))
        self.length = level_length(line, ground)
        self.step = level_spacing(line, ground)
        self.targets = targets_of(host.drawing, frozenset({Subject("line", line.id)}))

    def to(self, at: Pointer) -> Edit | None:
        dx, dy = self._by(at)
        run = self.length + dx * self.way[0] + dy * self.way[1]
        self._let_go()
        if not at.free:
            run = self._held(at, run)
        edit = line_edits.stretch_line(self.design, id=self.line.id, end=self.end, length_m=max(run, 0.0))
        added = edit.design.line(self.line.id).count - self.line.count
        self.told = _("{count} mirrors").format(count=number(float(added), digits=0, sign=True))
        return edit

    def _held(self, at: Pointer, run: float) -> float:
        """Level with the end of another line, else where the line's axis crosses an edge."""
        reach = max(CATCH_PX / self.host.camera.px_per_m, self.step / 2)
        for other in self.design.lines:
            if other.id == self.line.id:
                continue
            for x, y in ((other.x_m, other.y_m), last_vertex(other, self.design.ground)):
                there = (x - self.fixed[0]) * self.way[0] + (y - self.fixed[1]) * self.way[1]
                if abs(there - run) <= reach and there > 0:
                    run = there
                    self.name = _("level with Line {number}").format(number=other.id)
                    self.guides = (((x, y), moved(self.fixed, self.way, there)),)
        if self.name or run <= 0:
            return run
        tip = moved(self.fixed, self.way, run)
        caught = self.aim.at(replace(at, m=tip), targets=self.targets, grid=False)
        there = (caught.point[0] - self.fixed[0]) * self.way[0] + (
            caught.point[1] - self.fixed[1]
        ) * self.way[1]
        if caught.kind == "edge":
            start, end = caught.guides[0]
            cross = crossing(self.fixed, self.way, start, direction(azimuth_between(start, end)))
            there = run if cross is None else distance(self.fixed, cross)
        if caught.kind in ("edge", "corner", "crossing") and abs(there - run) <= reach:
            self._take(caught)
            return there
        return run


class SpreadLines(Drag):
    """Widens or narrows the pitches of the selected lines alike; the front line stays."""

    focus: Focus = "pitch"

    def __init__(self, host: Host, start: Pointer, ids: tuple[int, ...]) -> None:
        super().__init__(host, start)
        self.ids = ids
        chosen = [self.design.line(line_id) for line_id in ids]
        self.lead = front_line(self.design, chosen)
        offsets = [offset(self.lead, line, self.design.ground) for line in chosen]
        self.extent = max(offsets, key=abs, default=0.0)
        self.gaps = max(len(ids) - 1, 1)

    def to(self, at: Pointer) -> Edit | None:
        if abs(self.extent) < 1e-6:
            return None
        dx, dy = self._by(at)
        side = square(self.lead.azimuth_deg)
        wanted = self.extent + dx * side[0] + dy * side[1]
        scale = max(wanted / self.extent, 0.05)
        mean = abs(self.extent) * scale / self.gaps
        self.name = ""
        if not at.free:
            round_pitch = round(mean / 0.05) * 0.05
            scale *= round_pitch / mean
        return line_edits.scale_pitches(self.design, scale=scale, ids=self.ids)
