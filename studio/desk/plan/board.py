"""Drawing in logical pixels: constant pens at any zoom, text with a halo, hatches, dimensions."""

from collections.abc import Sequence
from functools import lru_cache
from math import atan2, degrees
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QByteArray, QDataStream, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPainterPath, QPen, QPixmap

from studio.desk.plan.camera import Camera
from studio.desk.theme import Theme

Array = NDArray[np.float64]
Align = Literal["left", "middle", "right"]
HALO = 4.0


_ELEMENT = np.dtype([("kind", "<i4"), ("at", "<f8", (2,))])
"""An element of a path as Qt streams it: 0 moves to a place, 1 draws a line to it."""


def path_of(points: Array, *, closed: bool = False) -> QPainterPath:
    """One path of polylines (K, n, 2) in pixels, or of one polyline (n, 2).

    Handed over as one stream of bytes (the count, the elements, where the last part begins, the fill rule): a call for
    each point would take longer than the painting.
    """
    shapes = points[None] if points.ndim == 2 else points
    path = QPainterPath()
    if not shapes.size:
        return path
    if closed:
        shapes = np.concatenate([shapes, shapes[:, :1]], axis=1)
    many, each = shapes.shape[:2]
    count = many * each
    data = bytearray(4 + count * _ELEMENT.itemsize + 8)
    data[:4] = count.to_bytes(4, "little")
    data[-8:-4] = (count - each).to_bytes(4, "little")
    elements = np.frombuffer(data, _ELEMENT, count, offset=4).reshape(many, each)
    elements["kind"][:, 1:] = 1
    elements["at"] = shapes
    stream = QDataStream(QByteArray(data))
    stream.setByteOrder(QDataStream.ByteOrder.LittleEndian)
    stream >> path
    return path


_AT_ONCE = 4
"""Shapes filled as one path: the rasteriser walks a whole path again and again, so that many short ones are quicker."""


@lru_cache(maxsize=800)
def _lettering(text: str, font: QFont, ink: str, halo: str, ratio: float) -> tuple[QPixmap, float, float]:
    """A text with its halo as a picture, and where in it the baseline begins, in logical pixels."""
    metrics = QFontMetricsF(font)
    left, up = HALO, metrics.ascent() + HALO
    width, height = metrics.horizontalAdvance(text) + 2 * HALO + 2, metrics.height() + 2 * HALO
    picture = QPixmap(int(width * ratio) + 1, int(height * ratio) + 1)
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    base = QPointF(round(left), round(up))
    if halo:
        around = QPainterPath()
        around.addText(base, font, text)
        pen = QPen(QColor(halo), HALO)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.strokePath(around, pen)
    painter.setFont(font)
    painter.setPen(QColor(ink))
    painter.drawText(base, text)
    painter.end()
    return picture, base.x(), base.y()


class Board:
    """A painter with a camera and a theme."""

    def __init__(self, painter: QPainter, camera: Camera, theme: Theme) -> None:
        self.painter, self.camera, self.theme = painter, camera, theme
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        self.taken: list[QRectF] = []

    def px(self, points: Any) -> Array:
        """Metres as pixels."""
        return self.camera.to_px(points)

    def at(self, point: Sequence[float] | Array) -> QPointF:
        """A point in metres as a pixel."""
        x, y = self.camera.to_px([point[0], point[1]])
        return QPointF(float(x), float(y))

    def pen(self, role: str, width: float, dash: Sequence[float] = ()) -> QPen:
        """A pen of so many logical pixels; ``dash`` in logical pixels too."""
        pen = QPen(self.theme.color(role), width)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap if dash else Qt.PenCapStyle.RoundCap)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        if dash:
            pen.setDashPattern([part / width for part in dash])
        return pen

    def stroke(self, path: QPainterPath, pen: QPen) -> None:
        """Draw a path's outline."""
        self.painter.strokePath(path, pen)

    def fill(self, path: QPainterPath, color: QColor, *, union: bool = False) -> None:
        """Fill a path; ``union`` fills overlapping parts once."""
        path.setFillRule(Qt.FillRule.WindingFill if union else Qt.FillRule.OddEvenFill)
        self.painter.fillPath(path, color)

    def fill_each(self, shapes: Array, color: QColor) -> None:
        """Fill closed shapes (K, n, 2) in pixels."""
        for place in range(0, len(shapes), _AT_ONCE):
            self.painter.fillPath(path_of(shapes[place : place + _AT_ONCE], closed=True), color)

    def thick(self, shapes: Array, role: str, width: float) -> None:
        """Many polylines (K, n, 2) in pixels, as thin strokes side by side, which are far quicker than one wide one."""
        steps = max(1, round((width - 1.0) / 0.6) + 1)
        pen = self.pen(role, 1.0)
        for away in np.linspace(-(width - 1.0) / 2, (width - 1.0) / 2, steps) if steps > 1 else (0.0,):
            self.stroke(path_of(shapes + np.array([0.0, away])), pen)

    def polyline(self, points: Any, pen: QPen, *, closed: bool = False) -> None:
        """A polyline through points in metres."""
        self.stroke(path_of(self.px(points), closed=closed), pen)

    def cased(self, path: QPainterPath, pen: QPen, *, ground: str = "view", by: float = 1.6) -> None:
        """A path with a casing of the ground, so that it stands in front."""
        casing = QPen(pen)
        casing.setStyle(Qt.PenStyle.SolidLine)
        casing.setColor(self.theme.color(ground))
        casing.setWidthF(pen.widthF() + 2 * by)
        self.stroke(path, casing)
        self.stroke(path, pen)

    def hatch(self, path: QPainterPath, pen: QPen, *, step: float = 8.0) -> None:
        """Slanted lines clipped to a path, at a constant distance in pixels."""
        box = path.boundingRect().intersected(QRectF(0, 0, self.camera.width, self.camera.height))
        if box.isEmpty():
            return
        self.painter.save()
        self.painter.setClipPath(path)
        starts = np.arange(np.floor((box.left() - box.height()) / step) * step, box.right(), step)
        feet = np.stack([starts, np.full_like(starts, box.bottom())], axis=-1)
        heads = feet + np.array([box.height(), -box.height()])
        self.stroke(path_of(np.stack([feet, heads], axis=1)), pen)
        self.painter.restore()

    def width(self, text: str, size: int = 11, weight: int = 400) -> float:
        """How wide a text is."""
        return QFontMetricsF(self.theme.font(size, weight)).horizontalAdvance(text)

    def text(
        self, at: QPointF, text: str, *, size: int = 11, weight: int = 400, role: str = "ink2",
        align: Align = "left", halo: str = "view", turn_deg: float = 0.0,
    ) -> QRectF:  # fmt: skip
        """A text whose baseline's left end, middle or right end stands at ``at``; the box it took."""
        font = self.theme.font(size, weight)
        metrics = QFontMetricsF(font)
        width = metrics.horizontalAdvance(text)
        left = {"left": 0.0, "middle": -width / 2, "right": -width}[align]
        color = self.theme.color
        ratio = self.painter.device().devicePixelRatio()
        picture, x, y = _lettering(text, font, color(role).name(), color(halo).name() if halo else "", ratio)
        if turn_deg:
            self.painter.save()
            self.painter.translate(at)
            self.painter.rotate(turn_deg)
            self.painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
            self.painter.drawPixmap(QPointF(left - x, -y), picture)
            self.painter.restore()
        else:
            self.painter.drawPixmap(QPointF(round(at.x() + left) - x, round(at.y()) - y), picture)
        box = QRectF(at.x() + left, at.y() - metrics.ascent(), width, metrics.height())
        self.taken.append(box)
        return box

    def free(self, box: QRectF) -> bool:
        """Whether no text stands in a box yet."""
        return not any(box.intersects(other) for other in self.taken)

    def dot(
        self, at: QPointF, radius: float, *, fill: str = "", rim: str = "ink", width: float = 1.2
    ) -> None:
        """A round."""
        self.painter.setPen(self.pen(rim, width) if rim else Qt.PenStyle.NoPen)
        self.painter.setBrush(self.theme.color(fill) if fill else Qt.BrushStyle.NoBrush)
        self.painter.drawEllipse(at, radius, radius)

    def square_handle(self, at: QPointF, *, held: bool, half: float = 5.0) -> None:
        """A square handle, filled while it is held."""
        self.painter.setPen(self.pen("accent", 1.8))
        self.painter.setBrush(self.theme.color("accent" if held else "view"))
        self.painter.drawRect(QRectF(at.x() - half, at.y() - half, 2 * half, 2 * half))

    def round_handle(self, at: QPointF, *, held: bool, radius: float = 5.5) -> None:
        """A round handle, filled while it is held."""
        self.dot(at, radius, fill="accent" if held else "view", rim="accent", width=1.8)

    def ticked(self, a: QPointF, b: QPointF, pen: QPen, *, gap: QRectF | None = None) -> None:
        """A dimension line with ticks at 45 degrees, broken where its figure stands."""
        painter = self.painter
        painter.save()
        if gap is not None:
            around = QPainterPath()
            around.addRect(QRectF(-10, -10, self.camera.width + 20, self.camera.height + 20))
            hole = QPainterPath()
            hole.addRect(gap)
            painter.setClipPath(around.subtracted(hole))
        line = QPainterPath(a)
        line.lineTo(b)
        self.cased(line, pen, by=1.2)
        painter.restore()
        turn = degrees(atan2(b.y() - a.y(), b.x() - a.x()))
        for end in (a, b):
            painter.save()
            painter.translate(end)
            painter.rotate(turn)
            tick = QPainterPath(QPointF(-4.5, 4.5))
            tick.lineTo(4.5, -4.5)
            self.stroke(tick, pen)
            painter.restore()
