"""Line: drawn from the vertex of its first mirror; length, azimuth, mirrors or the far end's place can be typed."""

from dataclasses import replace

from studio.design.field import Line
from studio.design.site import Point
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.caught_by import beside_lines, drawing_pitch
from studio.desk.plan.dimensions import paint_segment
from studio.desk.plan.inline import Figure, Figures
from studio.desk.plan.snaps import Caught
from studio.desk.plan.targets import Targets
from studio.desk.plan.tools.aim import paint_caught, paint_place
from studio.desk.plan.tools.chain import Drawn
from studio.desk.plan.tools.tool import Host, Pointer
from studio.desk.plan.typed_place import follow_place, place_figures, read_place
from studio.desk.state import Subject
from studio.drawings.lines import line_on_plan
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


class LineTool(Drawn):
    """Places one line after another."""

    name = "line"

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.count = 1
        self._pitch: tuple[tuple[Line, ...], float | None] | None = None

    @property
    def start(self) -> Point | None:
        """Where the first mirror stands, once it is set."""
        return self.points[0] if self.points else None

    @property
    def hint(self) -> str:
        if self.start is None:
            return _("Click the first mirror, at the drive end, or type its x and y")
        return _("Click the far end, or type the length; Tab for azimuth, mirrors, x and y")

    def segment(self) -> Figures:
        return place_figures([Figure("mirrors", _("mirrors"), _("mirrors"), digits=0)])

    def parallel(self) -> list[tuple[float, str]]:
        return [
            (line.azimuth_deg, _("Line {number}").format(number=line.id)) for line in self.design.lines[-1:]
        ]

    def own(self) -> Targets:
        """Places beside the lines there are: at their pitch, and level with their ends."""
        lines = self.design.lines
        if self._pitch is None or self._pitch[0] is not lines:
            self._pitch = lines, drawing_pitch(self.design)
        pitch = self._pitch[1]
        return Targets() if pitch is None else beside_lines(self.host.drawing, pitch)

    def press(self, at: Pointer) -> None:
        self.move(at, held=False)
        point = self.clicked()
        if self.start is not None:
            self.take()
        elif point is not None:
            self.set_point(point)

    def release(self, at: Pointer) -> None:
        if self.start is None or self.hand is None:
            return
        if distance(self.start, at.m) * self.host.camera.px_per_m > 24:
            self.take()  # drawn by dragging

    def follow(self, caught: Caught) -> None:
        super().follow(caught)
        if self.start is not None and self.figures is not None and self.hand is not None:
            self._fit(self.figures, self.start, self.hand)

    def _fit(self, figures: Figures, start: Point, hand: Caught) -> None:
        """As many mirrors as fit to the hand, or as were typed; the hand goes to the last one."""
        turn = azimuth_between(start, hand.point)
        line = Line(id=1, x_m=0.0, y_m=0.0, azimuth_deg=turn % 360, spacing_m=usual_spacing(self.design))
        step = level_spacing(line, self.design.ground)
        typed = figures.locked("mirrors")
        if typed is not None and typed >= 1:
            self.count = min(MOST_MIRRORS, int(typed))
        else:
            self.count = mirrors_for(distance(start, hand.point), step)
        end = moved(start, direction(turn), (self.count - 1) * step)
        self.hand = replace(hand, point=end)
        follow_place(figures, start, end)
        figures.follow(mirrors=float(self.count), azimuth=turn)

    def take(self) -> bool:
        if self.start is None:
            return self.take_typed()
        if self.hand is None or self.figures is None:
            return True
        number = next_id(self.design)
        try:
            if any(figure.typed for figure in self.figures.members if figure.key != "mirrors"):
                read_place(self.figures, self.start, self.hand.point, self.design.site)
            self.figures.read("mirrors")
            done = self.host.apply(
                place_line(
                    self.design, x_m=self.start[0], y_m=self.start[1],
                    azimuth_deg=round((self.figures["azimuth"].value or 0.0) % 360.0, 6), count=self.count,
                )
            )  # fmt: skip
        except StillfieldError as error:
            self.host.tell(str(error))
            return True
        if done:
            self.start_over()
            self.host.session.select(Subject("line", number))
        self.host.update()
        return True

    def paint(self, board: Board) -> None:
        if self.hand is None:
            return
        at = board.at(self.hand.point)
        doubt = self.figures.doubt if self.figures is not None else ""
        if self.start is not None and self.figures is not None:
            line = Line(
                id=next_id(self.design), x_m=self.start[0], y_m=self.start[1],
                azimuth_deg=(self.figures["azimuth"].value or 0.0) % 360.0,
                spacing_m=usual_spacing(self.design), count=self.count,
            )  # fmt: skip
            shown = line_on_plan(line, self.design.mirror, self.design.ground, swept_m(self.design))
            board.stroke(path_of(board.px(shown.corners), closed=True), board.pen("accent", 1.2))
            board.polyline(shown.stops, board.pen("accent", 1.0, (3, 3)))
            paint_segment(board, board.at(self.start), at, self.figures, away=30.0, extra=("mirrors",))
            board.square_handle(board.at(self.start), held=False)
        paint_caught(board, self.hand, (doubt, "ink"))
        if self.start is not None:
            board.square_handle(at, held=True)
        if self.figures is not None:
            paint_place(board, at, self.figures)
