"""Cut: where the ground is cut for the section, by two points or square to a line. It changes nothing of the design."""

from studio.design.site import Point
from studio.desk.plan.board import Board
from studio.desk.plan.cut_line import paint_cut
from studio.desk.plan.snaps import to_centimetre
from studio.desk.plan.tools.chain import Drawn
from studio.desk.plan.tools.tool import Pointer
from studio.desk.plan.tools.under import subject_under
from studio.desk.views import turn_to
from studio.drawings.section_cut import LEAST_M, Cut, square_cut
from studio.edits.geometry import distance
from studio.text import _

_DRAWN_PX = 24.0


class CutTool(Drawn):
    """Two points; a double click on a line, or Enter with one selected, cuts square to it. Then the section opens."""

    name = "cut"

    @property
    def hint(self) -> str:
        if self.points:
            return _("Click where the cut ends, or type its length; Tab for azimuth, x and y")
        if (line_id := self._line_at_hand()) is not None:
            return _("Click where the cut begins; Enter cuts square to Line {number} here").format(
                number=line_id
            )
        return _("Click where the cut begins; a double click on a line cuts square to it")

    # the mouse ---------------------------------------------------------------------------------------------------

    def press(self, at: Pointer) -> None:
        self.move(at, held=False)
        point = self.clicked()
        if self.points:
            self.take()
        elif point is not None:
            self.set_point(point)

    def release(self, at: Pointer) -> None:
        if self.points and distance(self.points[0], at.m) * self.host.camera.px_per_m > _DRAWN_PX:
            self.take()  # drawn by dragging

    def double(self, at: Pointer) -> None:
        subject = subject_under(self.host.drawing, at, self.host.camera)
        if subject is not None and subject.kind == "line":
            self._square(int(subject.key), at.m)
        else:
            self.press(at)

    # the keys ----------------------------------------------------------------------------------------------------

    def set_point(self, point: Point) -> None:
        """The first point begins the cut, the second ends it."""
        if self.points:
            if distance(self.points[0], point) >= LEAST_M:
                self._done(Cut(self.points[0], point, drawn=True))
            return
        super().set_point(point)

    def take(self) -> bool:
        if self.take_typed():
            return True
        if not self.points:
            line_id = self._line_at_hand()
            if line_id is None:
                return False
            self._square(line_id, self.hand.point if self.hand is not None else None)
            return True
        if self.hand is not None:
            self.set_point(to_centimetre(self.hand))
        return True

    def again(self) -> None:
        """The tool's letter once more: square to the selected line."""
        if not self.points:
            self.take()

    def _line_at_hand(self) -> int | None:
        ids = self.host.session.state.selected_lines()
        return ids[0] if len(ids) == 1 else None

    def _square(self, line_id: int, at: Point | None) -> None:
        self._done(square_cut(self.design, line_id, at, drawn=True))

    def _done(self, cut: Cut) -> None:
        self.start_over()
        self.host.session.update(cut=cut, tool="pick")
        turn_to(self.host.session, "section")

    # paint -------------------------------------------------------------------------------------------------------

    def paint(self, board: Board) -> None:
        if self.hand is None:
            return
        if self.points and distance(self.points[0], self.hand.point) > 1e-6:
            paint_cut(board, Cut(self.points[0], self.hand.point), role="accent")
        self.paint_hand(board)
