"""The box that is drawn with Pick to take all that lies in it."""

from PySide6.QtCore import QRectF, Qt

from studio.design.site import Point
from studio.desk.plan.board import Board
from studio.desk.plan.tools.tool import Host, Pointer
from studio.desk.plan.tools.under import in_box

_LEAST_PX = 8.0
"""A box smaller than this is a click on bare land."""


class PickBox:
    """From where the hand went down to where it is."""

    def __init__(self, start: Point) -> None:
        self._start = self._end = start

    def move(self, at: Pointer) -> None:
        """Follow the hand."""
        self._end = at.m

    def take(self, host: Host, *, add: bool) -> None:
        """Select what lies in it, to what is selected with ``add``; a click lets go of all that is."""
        wide = abs(self._end[0] - self._start[0]) + abs(self._end[1] - self._start[1])
        if wide * host.camera.px_per_m > _LEAST_PX:
            found = in_box(host.reachable, self._start, self._end)
            host.session.select(*(host.session.state.selection.union(found) if add else found))
        elif not add:
            host.session.select()

    def paint(self, board: Board) -> None:
        """A faint box with its rim."""
        rect = QRectF(board.at(self._start), board.at(self._end)).normalized()
        wash = board.theme.color("accent")
        wash.setAlpha(24)
        board.painter.fillRect(rect, wash)
        board.painter.setPen(board.pen("accent", 1.0))
        board.painter.setBrush(Qt.BrushStyle.NoBrush)
        board.painter.drawRect(rect)
