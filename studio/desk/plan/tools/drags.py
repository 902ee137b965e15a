"""What a hand holds while it drags: each turns the pointer into an edit of the committed design."""

from abc import ABC, abstractmethod
from typing import Literal

import numpy as np

from studio.design.design import Design
from studio.design.field import Line
from studio.design.site import Point
from studio.desk.plan.camera import Camera
from studio.desk.plan.snaps import CATCH_PX, TURN_PX, Caught, catch, to_centimetre
from studio.desk.plan.tools.tool import Host, Pointer, targets_of
from studio.edits import lines as line_edits
from studio.edits import obstacles as obstacle_edits
from studio.edits import plot as plot_edits
from studio.edits.edit import Edit
from studio.edits.geometry import (
    azimuth_between,
    direction,
    front_line,
    last_vertex,
    level_length,
    level_spacing,
    middle,
    neighbour,
    offset,
    pitch,
    square,
)
from studio.edits.header import move_store
from studio.text import _, number

Focus = Literal["pitch", "length", "azimuth", ""]
"""Which figure of the selected line a drag holds."""


class Drag(ABC):
    """A drag that began at ``start``. ``name`` is the snap that holds it, ``told`` what it did so far."""

    focus: Focus = ""

    def __init__(self, host: Host, start: Pointer) -> None:
        self.host, self.start = host, start
        self.design: Design = host.session.state.design
        self.name = ""
        self.told = ""

    @abstractmethod
    def to(self, at: Pointer) -> Edit | None:
        """The edit that the pointer makes now."""

    def _by(self, at: Pointer) -> Point:
        return at.m[0] - self.start.m[0], at.m[1] - self.start.m[1]

    def _caught(
        self, at: Pointer, *, without: frozenset[int] = frozenset(), skip: Point | None = None
    ) -> Caught:
        if at.free:
            self.name = ""
            return Caught(at.m)
        targets = targets_of(self.host.drawing, without_lines=without)
        if skip is not None:
            targets.points[:] = [
                (p, n) for p, n in targets.points if abs(p[0] - skip[0]) + abs(p[1] - skip[1]) > 1e-9
            ]
            targets.edges.clear()
        caught = catch(at.m, px_per_m=self.host.camera.px_per_m, targets=targets, grid_m=self.host.grid_m)
        self.name = caught.name
        return caught


class MoveLines(Drag):
    """Moves the selected lines. Caught square to the line, at the pitches of the field, and in line with others."""

    focus: Focus = "pitch"

    def __init__(self, host: Host, start: Pointer, ids: tuple[int, ...], lead: int) -> None:
        super().__init__(host, start)
        self.ids, self.lead = ids, self.design.line(lead)
        kept = [line for line in self.design.lines if line.id not in ids]
        self.others = [(line, offset(self.lead, line, self.design.ground)) for line in kept]
        apart = {round(p, 3) for line in kept if (p := pitch(self.design, line)) is not None}
        self.pitches = sorted(apart)

    def to(self, at: Pointer) -> Edit | None:
        dx, dy = self._by(at)
        along, side = direction(self.lead.azimuth_deg), square(self.lead.azimuth_deg)
        run, lift = dx * along[0] + dy * along[1], dx * side[0] + dy * side[1]
        self.name = ""
        if not at.free:
            run, lift = self._held(run, lift)
        if _("pitch") not in self.name:
            lift = round(lift, 2)  # a hand is no finer than a centimetre; a caught pitch is met exactly
        run = round(run, 2) if _("level") not in self.name else run
        dx, dy = along[0] * run + side[0] * lift, along[1] * run + side[1] * lift
        self.told = _("moved {way}").format(way=_way(dx, dy))
        return line_edits.move_lines(self.design, ids=self.ids, dx_m=round(dx, 6), dy_m=round(dy, 6))

    def _held(self, run: float, lift: float) -> tuple[float, float]:
        reach = TURN_PX / self.host.camera.px_per_m
        names = []
        if abs(run) <= reach and abs(lift) > reach:
            run = 0.0
            names.append(_("square"))
        elif abs(lift) <= reach and abs(run) > reach:
            return self._end_to_end(run, reach), 0.0
        best: tuple[float, float, str] | None = None
        for other, apart in self.others:
            for wanted in self.pitches:
                for sign in (-1.0, 1.0):
                    target = apart + sign * wanted
                    away = abs(target - lift)
                    if away <= reach and (best is None or away < best[0]):
                        name = _("pitch {metres} m to Line {number}").format(
                            metres=number(wanted, digits=2), number=other.id
                        )
                        best = away, target, name
        if best is not None:
            lift = best[1]
            names.append(best[2])
        self.name = ", ".join(names)
        return run, lift

    def _end_to_end(self, run: float, reach: float) -> float:
        self.name = _("along the line")
        along, first = direction(self.lead.azimuth_deg), (self.lead.x_m, self.lead.y_m)
        for other, _apart in self.others:
            there = (other.x_m - first[0]) * along[0] + (other.y_m - first[1]) * along[1]
            if abs(there - run) <= reach:
                self.name = _("level with Line {number}").format(number=other.id)
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
        angle = (wanted - self.line.azimuth_deg + 180.0) % 360.0 - 180.0
        self.told = _("turned {angle}°").format(angle=number(angle, digits=1, sign=True))
        return line_edits.turn_lines(self.design, ids=[self.line.id], angle_deg=round(angle, 4))


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

    def to(self, at: Pointer) -> Edit | None:
        dx, dy = self._by(at)
        run = self.length + dx * self.way[0] + dy * self.way[1]
        self.name = ""
        if not at.free:
            reach = max(CATCH_PX / self.host.camera.px_per_m, self.step / 2)
            for other in self.design.lines:
                if other.id == self.line.id:
                    continue
                for x, y in ((other.x_m, other.y_m), last_vertex(other, self.design.ground)):
                    there = (x - self.fixed[0]) * self.way[0] + (y - self.fixed[1]) * self.way[1]
                    if abs(there - run) <= reach and there > 0:
                        run = there
                        self.name = _("level with Line {number}").format(number=other.id)
        edit = line_edits.stretch_line(self.design, id=self.line.id, end=self.end, length_m=max(run, 0.0))
        added = edit.design.line(self.line.id).count - self.line.count
        self.told = _("{count} mirrors").format(count=number(float(added), digits=0, sign=True))
        return edit


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


class MoveCorner(Drag):
    """Moves a corner, or draws a new one out of an edge's middle."""

    def __init__(self, host: Host, start: Pointer, *, area: int | None, corner: int, new: bool) -> None:
        super().__init__(host, start)
        self.area, self.corner, self.new = area, corner, new
        ring = self.design.plot.boundary if area is None else self.design.plot.no_build[area].ring
        self.own = None if new else ring[corner]

    def to(self, at: Pointer) -> Edit | None:
        x, y = to_centimetre(self._caught(at, skip=self.own or self.start.m))
        if self.new:
            return plot_edits.insert_corner(self.design, after=self.corner, x_m=x, y_m=y, area=self.area)
        return plot_edits.move_corner(self.design, corner=self.corner, x_m=x, y_m=y, area=self.area)


class MoveArea(Drag):
    """Moves a no-build area, or the whole boundary."""

    def __init__(self, host: Host, start: Pointer, area: int | None) -> None:
        super().__init__(host, start)
        self.area = area

    def to(self, at: Pointer) -> Edit | None:
        dx, dy = (round(part, 2) for part in self._by(at))
        self.told = _("moved {way}").format(way=_way(dx, dy))
        if self.area is None:
            return plot_edits.move_boundary(self.design, dx_m=dx, dy_m=dy)
        return plot_edits.move_no_build(self.design, area=self.area, dx_m=dx, dy_m=dy)


class MoveObstacle(Drag):
    """Moves an obstacle."""

    def __init__(self, host: Host, start: Pointer, obstacle: int) -> None:
        super().__init__(host, start)
        self.obstacle = obstacle

    def to(self, at: Pointer) -> Edit | None:
        dx, dy = (round(part, 2) for part in self._by(at))
        self.told = _("moved {way}").format(way=_way(dx, dy))
        return obstacle_edits.move_obstacle(self.design, obstacle=self.obstacle, dx_m=dx, dy_m=dy)


class MoveObstacleCorner(Drag):
    """Moves a corner of a wall or shed, or draws a new one out of an edge's middle."""

    def __init__(self, host: Host, start: Pointer, *, obstacle: int, corner: int, new: bool) -> None:
        super().__init__(host, start)
        self.obstacle, self.corner, self.new = obstacle, corner, new

    def to(self, at: Pointer) -> Edit | None:
        x, y = to_centimetre(self._caught(at, skip=self.start.m))
        if self.new:
            return obstacle_edits.insert_obstacle_corner(
                self.design, obstacle=self.obstacle, after=self.corner, x_m=x, y_m=y
            )
        return obstacle_edits.move_obstacle_corner(
            self.design, obstacle=self.obstacle, corner=self.corner, x_m=x, y_m=y
        )


class MoveStore(Drag):
    """Moves the store."""

    def to(self, at: Pointer) -> Edit | None:
        dx, dy = self._by(at)
        self.told = _("moved {way}").format(way=_way(dx, dy))
        store = self.design.store
        return move_store(self.design, x_m=round(store.x_m + dx, 2), y_m=round(store.y_m + dy, 2))


def _way(dx: float, dy: float) -> str:
    """A move in words: '0.85 m north', or '1.20 m east, 0.30 m south'."""
    parts = []
    for metres, plus, minus in ((dx, _("east"), _("west")), (dy, _("north"), _("south"))):
        if abs(metres) >= 0.005:
            parts.append(f"{number(abs(metres), digits=2)} m {plus if metres > 0 else minus}")
    return ", ".join(parts) or "0.00 m"


def _in_sight(camera: Camera, start: Point, along: Point, run: float) -> bool:
    x, y = camera.to_px((start[0] + along[0] * run, start[1] + along[1] * run))
    return bool(90 < x < camera.width - 90 and 60 < y < camera.height - 60)


def end_point(line: Line, end: line_edits.End, design: Design) -> Point:
    """The end vertex of a line."""
    return (line.x_m, line.y_m) if end == "drive" else last_vertex(line, design.ground)


def gap_ends(design: Design, line: Line, camera: Camera) -> tuple[Point, Point] | None:
    """Where the dimension of a line's pitch stands: near its far end as far as that is in sight, square to it."""
    other = neighbour(design, line)
    if other is None:
        return None
    apart = offset(line, other, design.ground)
    along, side = direction(line.azimuth_deg), square(line.azimuth_deg)
    start = (line.x_m, line.y_m)
    mine = level_length(line, design.ground)
    runs = [
        (point[0] - start[0]) * along[0] + (point[1] - start[1]) * along[1]
        for point in ((other.x_m, other.y_m), last_vertex(other, design.ground))
    ]
    run = min(mine, max(runs)) if max(runs) > 0.3 * mine else mine * 0.5
    run = max(run - 1.6 * line.spacing_m, 0.0)
    seen = [
        share * mine for share in np.linspace(0.0, 1.0, 41) if _in_sight(camera, start, along, share * mine)
    ]
    if seen:
        run = min(max(run, seen[0]), seen[-1])
    foot = (start[0] + along[0] * run, start[1] + along[1] * run)
    return foot, (foot[0] + side[0] * apart, foot[1] + side[1] * apart)
