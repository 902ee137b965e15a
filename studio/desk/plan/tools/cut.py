"""Cut: where the ground is cut for the section, by two points or square to a line. It changes nothing of the design."""

from PySide6.QtCore import QPointF, Qt

from studio.design.site import Point
from studio.desk.plan.board import Board
from studio.desk.plan.cut_line import paint_cut
from studio.desk.plan.dimensions import paint_segment
from studio.desk.plan.inline import paint_told
from studio.desk.plan.snaps import Caught, Way, catch, to_centimetre, ways_from
from studio.desk.plan.tools.chain import segment_figures
from studio.desk.plan.tools.tool import Host, Pointer, Tool, targets_of
from studio.desk.plan.tools.under import subject_under
from studio.desk.views import turn_to
from studio.drawings.section_cut import LEAST_M, Cut, square_cut
from studio.edits.geometry import azimuth_between, direction, distance, moved
from studio.text import _

_DRAWN_PX = 24.0


class CutTool(Tool):
    """Two points; a double click on a line, or Enter with one selected, cuts square to it. Then the section opens."""

    name = "cut"
    cursor = Qt.CursorShape.CrossCursor

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.start: Point | None = None
        self.hand: Caught | None = None

    @property
    def hint(self) -> str:
        if self.start is not None:
            return _("Click where the cut ends, or type its length; Tab for the azimuth")
        if self._line_at_hand() is not None:
            return _("Click where the cut begins; Enter cuts square to Line {number} here").format(
                number=self._line_at_hand()
            )
        return _("Click where the cut begins; a double click on a line cuts square to it")

    # the mouse ---------------------------------------------------------------------------------------------------

    def press(self, at: Pointer) -> None:
        self.move(at, held=False)
        if self.start is None:
            self.start = to_centimetre(self.hand) if self.hand else at.m
            self.figures = segment_figures()
            self.move(at, held=False)
        else:
            self.take()

    def move(self, at: Pointer, *, held: bool) -> None:
        self.hand = Caught(at.m) if at.free else catch(
            at.m, px_per_m=self.host.camera.px_per_m, targets=targets_of(self.host.drawing), start=self.start,
            ways=self._ways() if self.start else (), grid_m=self.host.grid_m,
        )  # fmt: skip
        self.typed()

    def release(self, at: Pointer) -> None:
        if self.start is not None and distance(self.start, at.m) * self.host.camera.px_per_m > _DRAWN_PX:
            self.take()

    def double(self, at: Pointer) -> None:
        subject = subject_under(self.host.drawing, at, self.host.camera)
        if subject is not None and subject.kind == "line":
            self._square(int(subject.key), at.m)
        else:
            self.press(at)

    def _ways(self) -> list[Way]:
        named = [
            (line.azimuth_deg, _("Line {number}").format(number=line.id)) for line in self.design.lines[:1]
        ]
        return ways_from(None, named)

    # the keys ----------------------------------------------------------------------------------------------------

    def typed(self) -> None:
        if self.start is not None and self.hand is not None and self.figures is not None:
            length, azimuth = self.figures.locked("length"), self.figures.locked("azimuth")
            turn = azimuth_between(self.start, self.hand.point) if azimuth is None else azimuth
            run = distance(self.start, self.hand.point) if length is None else length
            self.hand = Caught(moved(self.start, direction(turn), run), self.hand.name)
            self.figures.follow(length=run, azimuth=turn)
        self.host.update()

    def take(self) -> bool:
        if self.start is None:
            line_id = self._line_at_hand()
            if line_id is None:
                return False
            self._square(line_id, self.hand.point if self.hand is not None else None)
            return True
        if self.hand is None or distance(self.start, self.hand.point) < LEAST_M:
            return False
        self._done(Cut(self.start, to_centimetre(self.hand), drawn=True))
        return True

    def again(self) -> None:
        """The tool's letter once more: square to the selected line."""
        if self.start is None:
            self.take()

    def leave(self) -> bool:
        had = self.start is not None
        self.start, self.hand, self.figures = None, None, None
        self.host.update()
        return had

    def _line_at_hand(self) -> int | None:
        ids = self.host.session.state.selected_lines()
        return ids[0] if len(ids) == 1 else None

    def _square(self, line_id: int, at: Point | None) -> None:
        self._done(square_cut(self.design, line_id, at, drawn=True))

    def _done(self, cut: Cut) -> None:
        self.leave()
        self.host.session.update(cut=cut, tool="pick")
        turn_to(self.host.session, "section")

    # paint -------------------------------------------------------------------------------------------------------

    def paint(self, board: Board) -> None:
        if self.hand is None:
            return
        at = board.at(self.hand.point)
        if self.start is not None and self.figures is not None:
            if distance(self.start, self.hand.point) > 1e-6:
                paint_cut(board, Cut(self.start, self.hand.point), role="accent")
            paint_segment(board, board.at(self.start), at, self.figures, away=24.0)
        board.dot(at, 4.0, fill="view", rim="accent", width=1.6)
        name = _("snap: {name}").format(name=self.hand.name) if self.hand.name else ""
        paint_told(board, at + QPointF(12, 22), [(name, "accent")])
