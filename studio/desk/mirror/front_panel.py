"""The mirror from the front, its strips tinted by what the window takes of them; below it the way along the line."""

from math import isnan

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF
from PySide6.QtGui import QHelpEvent, QImage, QLinearGradient, QPainter, QPaintEvent
from PySide6.QtWidgets import QToolTip

from studio.design.fields import mark
from studio.desk.mirror.drawn import ABOUT_DEG, paint_length, paint_rays, paint_receiver
from studio.desk.mirror.panel import PAD, Array, Panel, camera_on
from studio.desk.painted import draw_text
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.camera import Camera
from studio.drawings.mirror import MirrorDrawing
from studio.edits.geometry import compass_word
from studio.text import _, number, percent, plural

_SIDE, _TOP, _FOOT, _LOW_FOOT = 26.0, 20.0, 26.0, 34.0
_EVEN_M = 1e-6
"""Strips that differ by less are taken as alike."""
_LONG_SHARE = 0.38
_SCALE = 48.0
_DARKEST = 0.75
"""All of the light is this far up the heat map, so that ribs stay visible."""


class FrontPanel(Panel):
    """Seen along the mirror axis, and square to the line."""

    title = mark("Front")
    shows_rays = shows_tint = shows_line = True

    def paint_about(self, painter: QPainter, room: QRectF) -> None:
        """The scale of the tint: how much of a patch's light the window takes."""
        if not self.shows_tint:
            return
        theme, font, ink = self.theme, self.theme.font(11), self.theme.color("ink2")
        words = (_("window takes none"), _("all"))
        if room.width() < font.wide("".join(words)) + _SCALE + 16:
            words = (_("none"), _("all"))
        left = room.left() + draw_text(painter, room, words[0], font, ink) + 6
        bar = QRectF(left, room.center().y() - 4, _SCALE, 8)
        ramp = QLinearGradient(bar.topLeft(), bar.topRight())
        for step in np.linspace(0.0, 1.0, 9):
            ramp.setColorAt(float(step), theme.heat_color(_DARKEST * float(step)))
        painter.fillRect(bar, ramp)
        end = QRectF(bar.right() + 6, room.top(), room.right() - bar.right() - 6, room.height())
        draw_text(painter, end, words[1], font, ink)

    def told(self) -> str:
        drawing = self.model.drawing
        ribs = plural("{count} rib", "{count} ribs", drawing.form.ribs)
        strips = ", ".join(
            _("{strip}: {share} %").format(strip=place + 1, share=percent(share, digits=0))
            for place, share in enumerate(self.strip_shares())
        )
        return _("{ribs}; light that the window takes, strip by strip: {strips}").format(
            ribs=ribs, strips=strips
        )

    def strip_shares(self) -> list[float]:
        """Mean share of every strip's light that the window takes."""
        return [float(strip.mean()) for strip in self.model.drawing.front.shares]

    # geometry --------------------------------------------------------------------------------------------------

    def _split(self, box: QRectF) -> tuple[QRectF, QRectF]:
        """The room of the front and of the way along the line."""
        long = box.height() * _LONG_SHARE if self.shows_line else 0.0
        return (
            QRectF(box.left(), box.top(), box.width(), box.height() - long),
            QRectF(box.left(), box.bottom() - long, box.width(), long),
        )

    def front_camera(self) -> Camera:
        """The camera of the front."""
        box, form = self._split(self.body())[0], self.model.drawing.form
        low = box.height() < 170
        room = box.adjusted(_SIDE, 4 if low else _TOP, -_SIDE, -(_LOW_FOOT if low else _FOOT))
        half = np.array([form.width_m, form.height_m]) / 2
        return camera_on(room, (np.stack([-half, half]),))

    # paint -----------------------------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        drawing = self.model.drawing
        long = self._split(box)[1]
        board = Board(painter, self.front_camera(), self.theme)
        self._paint_strips(board, drawing)
        self._paint_gear(board, drawing)
        self._paint_words(board, drawing)
        if self.shows_line:
            self._paint_long(painter, long, drawing)

    def _paint_strips(self, board: Board, drawing: MirrorDrawing) -> None:
        painter, theme, form = board.painter, self.theme, drawing.form
        half = form.height_m / 2
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        ribs, shares = drawing.front.ribs_x_m, drawing.front.shares
        film = QRectF(board.at((ribs[0], half)), board.at((ribs[-1], -half)))
        if not self.shows_tint or bool(np.isnan(shares).any()):
            painter.fillRect(film, theme.color("panel"))
        elif np.ptp(np.diff(ribs)) < _EVEN_M:
            painter.drawImage(film, self._tint(np.concatenate(list(shares), axis=1)))
        else:
            for place, strip in enumerate(shares):
                box = QRectF(board.at((ribs[place], half)), board.at((ribs[place + 1], -half)))
                painter.drawImage(box, self._tint(strip))
        width = 1.6 if form.ribs <= 21 else 0.8
        for rib in drawing.front.ribs_x_m:
            board.polyline(np.array([[rib, -half], [rib, half]]), board.pen("rim", width))

    def _tint(self, shares: Array) -> QImage:
        """Shares (rows from below, columns) as colours."""
        colors = np.ascontiguousarray(self.theme.heat(_DARKEST * shares[::-1]))
        high, wide = shares.shape
        return QImage(colors.tobytes(), wide, high, 3 * wide, QImage.Format.Format_RGB888).copy()

    def _paint_gear(self, board: Board, drawing: MirrorDrawing) -> None:
        """Pipe and opening as they stand before the mirror."""
        pipe = board.px(drawing.front.pipe)
        board.stroke(path_of(pipe), board.pen("view", 4.4))
        board.stroke(path_of(pipe), board.pen("ink2", 2.0))
        outline = path_of(board.px(drawing.front.receiver), closed=True)
        board.cased(outline, board.pen("accent", 1.8))

    def _paint_words(self, board: Board, drawing: MirrorDrawing) -> None:
        form = drawing.form
        half_w, half_h = form.width_m / 2, form.height_m / 2
        foot = board.at((0.0, -half_h)).y() + 14
        left, right = board.at((-half_w, 0.0)).x(), board.at((half_w, 0.0)).x()
        ribs = plural("{count} rib", "{count} ribs", form.ribs)
        words = _("{m} m, {ribs}").format(m=number(form.width_m, digits=2), ribs=ribs)
        paint_length(board, QPointF(left, foot), QPointF(right, foot), words)

    def _paint_long(self, painter: QPainter, box: QRectF, drawing: MirrorDrawing) -> None:
        """The mirror, its neighbours and the pipe that slides above them, between the ends of its stroke."""
        long, theme = drawing.long, self.theme
        painter.fillRect(QRectF(box.left(), box.top(), box.width(), 1), theme.color("hair"))
        low = box.height() < 120
        room = box.adjusted(14, 30 if low else 40, -14, -(12 if low else 38))
        board = Board(painter, camera_on(room, (long.films, long.pipe, long.stroke)), theme)
        painter.save()
        painter.setClipRect(box.adjusted(0, 2, 0, 0))
        if self.shows_rays:
            paint_rays(board, long.rays)
        for place, film in enumerate(long.films):
            own = place == long.own
            board.polyline(film, board.pen("ink" if own else "edge", 3.0 if own else 2.0))
        board.stroke(path_of(board.px(long.pipe)), board.pen("ink2", 2.0))
        for place, receiver in enumerate(long.receivers):
            paint_receiver(board, receiver, own=place == long.own)
        self._paint_stroke(board, drawing)
        if len(long.films) > 1 and not low:
            self._paint_spacing(board, drawing)
        painter.restore()
        slide = number(drawing.slide_m, digits=2, sign=True)
        words = _("Along the line, slide {m} m").format(m=slide)
        board.text(QPointF(box.left() + PAD, box.top() + 16), words, size=11, weight=500, role="ink2")

    def _paint_stroke(self, board: Board, drawing: MirrorDrawing) -> None:
        """Brackets where the own window's middle stands at the ends of the slide."""
        ends = [board.at(end) for end in drawing.long.stroke]
        board.stroke(
            path_of(np.array([[end.x(), end.y() - 9] for end in ends])), board.pen("ink3", 1.2, (1.5, 3.5))
        )
        for end, way in zip(ends, (1, -1), strict=True):
            corners = np.array([[way * 5, -15.0], [0, -15.0], [0, 4.0], [way * 5, 4.0]])
            bracket = corners + np.array([end.x(), end.y()])
            board.stroke(path_of(bracket), board.pen("ink2", 1.6))

    def _paint_spacing(self, board: Board, drawing: MirrorDrawing) -> None:
        long = drawing.long
        step = 1 if long.own + 1 < len(long.films) else -1
        low = float(long.films[..., 1].min())
        a = board.at((0.0, low)) + QPointF(0, 13)
        b = board.at((step * drawing.spacing_m, low)) + QPointF(0, 13)
        words = _("spacing {m} m").format(m=number(drawing.spacing_m, digits=2))
        paint_length(board, *((a, b) if step > 0 else (b, a)), words)
        ways = [compass_word(drawing.along_azimuth_deg + turn, within_deg=ABOUT_DEG) for turn in (180.0, 0.0)]
        films = board.px(long.films)
        left, right = (float(edge) for edge in (films[..., 0].min(), films[..., 0].max()))
        board.text(QPointF(left, a.y() + 4), ways[0])
        board.text(QPointF(right, a.y() + 4), ways[1], align="right")

    # the pointer -----------------------------------------------------------------------------------------------

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QHelpEvent):
            words = self.words_at(QPointF(event.pos()))
            QToolTip.showText(event.globalPos(), words, self) if words else QToolTip.hideText()
            return True
        return super().event(event)

    def words_at(self, place: QPointF) -> str:
        """What stands under the pointer: the strip, and how much of that patch's light the window takes."""
        drawing = self.model.drawing
        form, ribs = drawing.form, drawing.front.ribs_x_m
        x, y = self.front_camera().to_m(place.x(), place.y())
        if not (ribs[0] < x < ribs[-1] and abs(y) < form.height_m / 2):
            return ""
        strip = int(np.searchsorted(ribs, x)) - 1
        rows, columns = drawing.front.shares[strip].shape
        row = int((y / form.height_m + 0.5) * rows)
        column = int((x - ribs[strip]) / (ribs[strip + 1] - ribs[strip]) * columns)
        share = float(drawing.front.shares[strip, row, column])
        name = _("Strip {n}, {mm} mm wide").format(
            n=strip + 1, mm=number(1000 * float(ribs[strip + 1] - ribs[strip]), digits=0)
        )
        if isnan(share):
            return name
        return _("{strip}: the window takes {share} % of the light from here").format(
            strip=name, share=percent(share, digits=0)
        )
