"""The mirror from the side: film, arm, roll axis, receiver in its pose and on its way between the roll limits, rays."""

import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QPainter, QPaintEvent

from studio.design.fields import mark
from studio.desk.mirror.drawn import (
    ABOUT_DEG,
    paint_along,
    paint_length,
    paint_pipe_end,
    paint_rays,
    paint_receiver,
)
from studio.desk.mirror.panel import Panel, camera_on
from studio.desk.painted import draw_text
from studio.desk.plan.board import Board, path_of
from studio.drawings.mirror import MirrorDrawing
from studio.edits.geometry import compass_word
from studio.text import _, number

_LEFT, _RIGHT, _TOP, _FOOT = 44.0, 36.0, 26.0, 62.0
_LOW_PX = 300
_LOW_FOOT = 46.0


class SidePanel(Panel):
    """Seen along the line."""

    title = mark("Side")
    shows_rays = True

    def about(self) -> str:
        if not self.model.design.lines:
            return _("seen along the line; no line yet")
        return _("seen along Line {number}").format(number=self.model.drawing.line_id)

    def told(self) -> str:
        drawing = self.model.drawing
        rays = drawing.side.rays
        reach = sum(ray.reaches for ray in rays)
        pose = _("receiver at slide {slide} m, roll {roll}°").format(
            slide=number(drawing.slide_m, digits=2, sign=True),
            roll=number(drawing.roll_deg, digits=1, sign=True),
        )
        light = (
            _("{reach} of {all} rays reach the window").format(reach=reach, all=len(rays))
            if rays
            else _("no sun on the mirror")
        )
        return f"{pose}; {light}"

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        drawing, side = self.model.drawing, self.model.drawing.side
        low = box.height() < _LOW_PX
        board = self._board(painter, box)
        self._paint_axis(board, drawing)
        self._paint_swing(board, drawing)
        if self.shows_rays:
            paint_rays(board, side.rays)
        board.polyline(side.rib, board.pen("rim", 1.0))
        board.polyline(side.film, board.pen("ink", 4.0))
        board.polyline(side.frame, board.pen("ink2", 2.2))
        paint_receiver(board, side.receiver, own=True)
        paint_pipe_end(board, side.receiver.pipe, side.pipe_radius_m, side.insulated_radius_m)
        axis = board.at(side.axis)
        board.dot(axis, 6.0, fill="view", rim="ink", width=1.8)
        board.dot(axis, 2.0, fill="ink", rim="")
        self._paint_lengths(board, drawing, low=low)
        self._paint_ways(painter, box, drawing, low=low)

    def _board(self, painter: QPainter, box: QRectF) -> Board:
        side = self.model.drawing.side
        foot = _LOW_FOOT if box.height() < _LOW_PX else _FOOT
        room = box.adjusted(_LEFT, _TOP, -_RIGHT, -foot)
        ends = (side.film, side.axis, side.arm, side.receiver.box, side.receiver.pipe, side.focus, side.swing)
        return Board(painter, camera_on(room, ends), self.theme)

    def _paint_axis(self, board: Board, drawing: MirrorDrawing) -> None:
        focus = board.at(drawing.side.focus)
        foot = board.at((0.0, 0.0))
        board.stroke(
            path_of(np.array([[foot.x(), foot.y()], [focus.x(), focus.y() - 14]])),
            board.pen("line", 1.0, (6.0, 4.0)),
        )
        for dx, dy in ((5.0, 0.0), (0.0, 5.0)):
            cross = np.array([[focus.x() - dx, focus.y() - dy], [focus.x() + dx, focus.y() + dy]])
            board.stroke(path_of(cross), board.pen("ink", 1.6))

    def _paint_swing(self, board: Board, drawing: MirrorDrawing) -> None:
        """The window's way from limit to limit, ticks at its ends."""
        swing, axis = drawing.side.swing, drawing.side.axis
        board.polyline(swing, board.pen("ink3", 1.2, (1.5, 3.5)))
        for end, limit in zip((swing[0], swing[-1]), drawing.roll_limits_deg, strict=True):
            out = (end - axis) / max(float(np.hypot(*(end - axis))), 1e-9)
            at = board.at(end)
            step = np.array([out[0], -out[1]]) * 8.0
            tick = np.array([[at.x() - step[0], at.y() - step[1]], [at.x() + step[0], at.y() + step[1]]])
            board.stroke(path_of(tick), board.pen("ink2", 1.6))
            text = number(limit, digits=0, sign=True) + "°"
            right = end[0] > axis[0]
            board.text(at + QPointF(12.0 if right else 6.0, 12.0 if right else 20.0), text)

    def _paint_lengths(self, board: Board, drawing: MirrorDrawing, *, low: bool) -> None:
        side, form = drawing.side, drawing.form
        left, right = (board.at(side.film[end]) for end in (0, -1))
        vertex = board.at(side.film[len(side.film) // 2])
        focus = board.at(side.focus)
        base = max(left.y(), right.y(), vertex.y(), board.at(side.axis).y()) + (16.0 if low else 26.0)
        across = float(np.hypot(*(side.film[-1] - side.film[0])))
        words = _("height {m} m") if abs(across - form.height_m) < 1e-3 else _("{m} m across")
        paint_length(
            board, QPointF(left.x(), base), QPointF(right.x(), base), words.format(m=number(across, digits=2))
        )
        far = min(left.x(), board.at(side.swing[0]).x()) - 22.0
        board.stroke(
            path_of(np.array([[focus.x() - 8, focus.y()], [far - 4, focus.y()]])), board.pen("line", 1.0)
        )
        board.stroke(
            path_of(np.array([[vertex.x() - 10, vertex.y()], [far - 4, vertex.y()]])), board.pen("line", 1.0)
        )
        paint_length(
            board, QPointF(far, vertex.y()), QPointF(far, focus.y()), f"f {number(form.focal_m, digits=2)} m"
        )
        edge = right.x() + 16.0
        depth = _("{mm} mm deep").format(mm=number(1000 * float(np.ptp(side.film[:, 1])), digits=0))
        board.stroke(
            path_of(np.array([[vertex.x() + 10, vertex.y()], [edge + 4, vertex.y()]])), board.pen("line", 1.0)
        )
        paint_length(board, QPointF(edge, right.y()), QPointF(edge, vertex.y()), "")
        board.text(QPointF(edge + 6, right.y() - 8), depth, weight=500, role="ink", align="right")
        arm = side.arm
        paint_along(
            board,
            board.at(arm[0]),
            board.at(arm[1]),
            _("arm {m} m").format(m=number(drawing.arm_m, digits=2)),
        )

    def _paint_ways(self, painter: QPainter, box: QRectF, drawing: MirrorDrawing, *, low: bool) -> None:
        """Which way the two ends of the drawing look."""
        theme, side, board = self.theme, drawing.side, self._board(painter, box)
        left, right = (board.at(side.film[end]) for end in (0, -1))
        base = max(left.y(), right.y(), board.at(side.axis).y(), board.at((0.0, 0.0)).y()) + (
            20.0 if low else 48.0
        )
        ways = [compass_word(drawing.aside_azimuth_deg + turn, within_deg=ABOUT_DEG) for turn in (180.0, 0.0)]
        if low:  # beside the height, which stands in the same row
            first, last = (board.width(way) for way in ways)
            board.text(QPointF(max(left.x() - 10.0 - first, box.left() + 3.0), base), ways[0])
            board.text(QPointF(min(right.x() + 10.0, box.right() - 3.0 - last), base), ways[1])
        else:
            board.text(QPointF(left.x(), base), ways[0], align="left")
            board.text(QPointF(right.x(), base), ways[1], align="right")
        if not drawing.sun_falls_on_it:
            note = QRectF(box.left(), box.top() + 6, box.width(), 20)
            words = _("the receiver rests") if drawing.rests else _("no sun on the mirror")
            draw_text(painter, note, words, theme.font(12, 600), theme.color("ink2"), "middle")
