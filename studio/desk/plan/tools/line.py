"""Line: drawn from the vertex of its first mirror; length, azimuth or the number of mirrors can be typed."""

from dataclasses import replace

from PySide6.QtCore import QPointF, Qt

from studio.design.field import Line
from studio.design.site import Point
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.dimensions import paint_segment
from studio.desk.plan.inline import Figure, Figures, paint_told
from studio.desk.plan.snaps import Caught, Way, catch, to_centimetre, ways_from
from studio.desk.plan.tools.tool import Host, Pointer, Tool, targets_of
from studio.desk.state import Subject
from studio.drawings.lines import line_on_plan
from studio.edits.edit import Edit
from studio.edits.geometry import (
    MOST_MIRRORS,
    azimuth_between,
    direction,
    distance,
    level_spacing,
    mirrors_for,
    moved,
)
from studio.edits.lines import next_id, place_line, usual_spacing
from studio.errors import StillfieldError
from studio.study.place import swept_m
from studio.text import _


class LineTool(Tool):
    """Places one line after another."""

    name = "line"
    cursor = Qt.CursorShape.CrossCursor

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.start: Point | None = None
        self.hand: Caught | None = None
        self.count = 1

    @property
    def hint(self) -> str:
        if self.start is None:
            return _("Click the first mirror, at the drive end")
        return _("Click the far end, or type the length; Tab for azimuth and mirrors")

    def press(self, at: Pointer) -> None:
        self.move(at, held=False)
        if self.hand is None:
            return
        if self.start is None:
            self.start = to_centimetre(self.hand)
            self.figures = Figures(
                [Figure("length", _("length"), "m"), Figure("azimuth", _("azimuth"), "°", digits=1),
                 Figure("mirrors", _("mirrors"), _("mirrors"), digits=0)]
            )  # fmt: skip
            self._follow(self.hand)
        else:
            self.take()

    def release(self, at: Pointer) -> None:
        if self.start is None or self.hand is None:
            return
        if distance(self.start, at.m) * self.host.camera.px_per_m > 24:
            self.take()  # drawn by dragging

    def _ways(self) -> list[Way]:
        others = [
            (line.azimuth_deg, _("Line {number}").format(number=line.id)) for line in self.design.lines[-1:]
        ]
        return ways_from(None, others)

    def move(self, at: Pointer, *, held: bool) -> None:
        caught = Caught(at.m) if at.free else catch(
            at.m, px_per_m=self.host.camera.px_per_m, targets=targets_of(self.host.drawing), start=self.start,
            ways=self._ways() if self.start else (), grid_m=self.host.grid_m,
        )  # fmt: skip
        self._follow(caught)

    def _follow(self, caught: Caught) -> None:
        self.hand = caught
        if self.start is not None and self.figures is not None:
            figures, start = self.figures, self.start
            turn = figures.locked("azimuth")
            turn = azimuth_between(start, caught.point) if turn is None else turn
            line = Line(id=1, x_m=0.0, y_m=0.0, azimuth_deg=turn % 360, spacing_m=usual_spacing(self.design))
            step = level_spacing(line, self.design.ground)
            typed = figures.locked("mirrors")
            length = figures.locked("length")
            if typed is not None and typed >= 1:
                self.count = min(MOST_MIRRORS, int(typed))
            else:
                self.count = mirrors_for(distance(start, caught.point) if length is None else length, step)
            run = (self.count - 1) * step
            self.hand = Caught(moved(start, direction(turn), run), caught.name)
            figures.follow(length=run, azimuth=turn, mirrors=float(self.count))
        self.host.update()

    def typed(self) -> None:
        if self.hand is not None:
            self._follow(self.hand)

    def _edit(self) -> Edit:
        assert self.start is not None
        assert self.figures is not None
        for figure in self.figures.members:
            self.figures.read(figure.key)
        azimuth = self.figures.read("azimuth") or 0.0
        return place_line(
            self.design, x_m=round(self.start[0], 6), y_m=round(self.start[1], 6),
            azimuth_deg=round(azimuth % 360.0, 6), count=self.count,
        )  # fmt: skip

    def take(self) -> bool:
        if self.start is None:
            return False
        number = next_id(self.design)
        try:
            done = self.host.apply(self._edit())
        except StillfieldError as error:
            self.host.tell(str(error))
            return True
        if done:
            self.start, self.figures = None, None
            self.host.session.select(Subject("line", number))
        self.host.update()
        return True

    def leave(self) -> bool:
        if self.figures is not None and self.figures.typing:
            self.figures.clear()
            self.typed()
            return True
        had = self.start is not None
        self.start, self.figures, self.hand = None, None, None
        self.host.update()
        return had

    def paint(self, board: Board) -> None:
        if self.hand is None:
            return
        at = board.at(self.hand.point)
        if self.start is not None and self.figures is not None:
            azimuth = self.figures.locked("azimuth")
            turn = (self.figures["azimuth"].value or 0.0) if azimuth is None else azimuth
            line = Line(
                id=next_id(self.design), x_m=self.start[0], y_m=self.start[1], azimuth_deg=turn % 360.0,
                spacing_m=usual_spacing(self.design), count=self.count,
            )  # fmt: skip
            design = replace(self.design, lines=())
            shown = line_on_plan(line, design.mirror, design.ground, swept_m(design))
            board.stroke(path_of(board.px(shown.corners), closed=True), board.pen("accent", 1.2))
            board.polyline(shown.stops, board.pen("accent", 1.0, (3, 3)))
            paint_segment(board, board.at(self.start), at, self.figures, away=30.0, extra=("mirrors",))
            board.square_handle(board.at(self.start), held=False)
            board.square_handle(at, held=True)
        else:
            board.dot(at, 4.0, fill="view", rim="accent", width=1.6)
        name = _("snap: {name}").format(name=self.hand.name) if self.hand.name else ""
        paint_told(
            board,
            at + QPointF(14, 26),
            [(name, "accent"), (self.figures.doubt if self.figures else "", "ink")],
        )
