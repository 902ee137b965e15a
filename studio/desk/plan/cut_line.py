"""Where the section is cut, on the plan: the line with its letters and the way one looks; its ends can be dragged there."""

from dataclasses import replace
from math import hypot

import numpy as np
from PySide6.QtCore import QPointF
from PySide6.QtGui import QPolygonF

from studio.design.site import Point
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.camera import Camera
from studio.desk.session import Session
from studio.desk.views import turn_to
from studio.drawings.section_cut import LEAST_M, Cut
from studio.edits.geometry import distance
from studio.text import _

_REACH_PX = 11.0
_LETTER_PX = 18.0


class CutLine:
    """The cut of the section as the plan shows it and lets it be dragged, whatever is selected."""

    def __init__(self, session: Session) -> None:
        self._session = session
        self._held = ""
        self._moved = False
        self._before: Cut | None = None

    @property
    def cut(self) -> Cut | None:
        """The cut, None before there is one."""
        return self._session.state.cut

    def end_under(self, camera: Camera, x: float, y: float) -> str:
        """ "A" or "B" where that end is under a pixel, else nothing."""
        if self.cut is None:
            return ""
        for letter, point in (("A", self.cut.start), ("B", self.cut.end)):
            at = camera.to_px(point)
            if hypot(at[0] - x, at[1] - y) <= _REACH_PX:
                return letter
        return ""

    @property
    def hint(self) -> str:
        """What its ends are good for."""
        return _("Drag A or B; a double click on one opens the section")

    def press(self, camera: Camera, x: float, y: float) -> bool:
        """The button went down; whether an end is in the hand now."""
        self._held, self._before, self._moved = self.end_under(camera, x, y), self.cut, False
        return bool(self._held)

    def move(self, at: Point) -> bool:
        """The hand moved; whether it holds an end."""
        cut = self.cut
        if not self._held or cut is None:
            return False
        self._moved = True
        to = (round(at[0], 2), round(at[1], 2))
        ends = (to, cut.end) if self._held == "A" else (cut.start, to)
        if distance(*ends) >= LEAST_M:
            self._session.update(cut=Cut(*ends, drawn=True))
        return True

    def release(self, at: Point) -> bool:
        """The button came up; whether an end was held."""
        moved = self._moved and self.move(at)
        held, self._held = self._held, ""
        return moved or bool(held)

    def leave(self) -> bool:
        """Esc: put the end back that is held; whether one was."""
        if not self._held:
            return False
        self._held = ""
        self._session.update(cut=self._before)
        return True

    def double(self, camera: Camera, x: float, y: float) -> bool:
        """The button came down twice on an end: look at the section. Whether it did."""
        if not self.end_under(camera, x, y) or self.cut is None:
            return False
        self._held = ""
        self._session.update(cut=replace(self.cut, drawn=True))
        turn_to(self._session, "section")
        return True


def paint_cut(board: Board, cut: Cut, *, role: str = "ink") -> None:
    """A cut on the plan: a line of long and short strokes, at its ends the letters and the way of the look."""
    ends = board.px([cut.start, cut.end])
    board.cased(path_of(ends), board.pen(role, 1.3, (12.0, 4.0, 3.0, 4.0)), by=1.0)
    way = np.array([cut.way[0], -cut.way[1]])
    look = np.array([cut.look[0], -cut.look[1]])
    for letter, end, outward in (("A", ends[0], -way), ("B", ends[1], way)):
        board.cased(path_of(np.stack([end - 14.0 * outward, end])), board.pen(role, 2.6), by=1.0)
        board.cased(path_of(np.stack([end, end + 13.0 * look])), board.pen(role, 1.6), by=1.0)
        tip = end + 17.0 * look
        corners = [tip, tip - 7.0 * look + 3.5 * way, tip - 7.0 * look - 3.5 * way]
        board.painter.setPen(board.pen(role, 1.0))
        board.painter.setBrush(board.theme.color(role))
        board.painter.drawPolygon(QPolygonF([QPointF(float(x), float(y)) for x, y in corners]))
        board.square_handle(QPointF(*end), held=False, half=4.0)
        spot = end + _LETTER_PX * outward
        board.text(QPointF(spot[0], spot[1] + 5), letter, size=14, weight=600, role=role, align="middle")
