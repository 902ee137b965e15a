"""Drawing in logical pixels: constant pens at any zoom, text with a halo, hatches, dimensions."""

from collections.abc import Sequence
from math import atan2, cos, degrees, radians, sin
from typing import Any, Literal

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPainterPath, QPen, QPixmap

from studio.desk.plan.camera import Camera
from studio.desk.theme import Face, Theme

Array = NDArray[np.float64]
Align = Literal["left", "middle", "right"]
HALO = 4.0


def path_of(points: Array, *, closed: bool = False) -> QPainterPath:
    """One path of polylines (K, n, 2) in pixels, or of one polyline (n, 2)."""
    shapes = points[None] if points.ndim == 2 else points
    if not shapes.size:
        return QPainterPath()
    if closed:
        shapes = np.concatenate([shapes, shapes[:, :1]], axis=1)
    connect = np.ones(shapes.shape[:2], dtype=np.int32)
    connect[:, -1] = 0
    return _path(shapes.reshape(-1, 2), connect.ravel())


def path_of_runs(points: Array, lengths: Sequence[int]) -> QPainterPath:
    """One path of polylines that lie one after the other in (n, 2) in pixels, each of so many points."""
    connect = np.ones(len(points), dtype=np.int32)
    connect[np.cumsum(lengths) - 1] = 0
    return _path(points, connect)


def _path(points: Array, connect: NDArray[np.int32]) -> QPainterPath:
    path = pg.arrayToQPath(
        np.ascontiguousarray(points[:, 0]),
        np.ascontiguousarray(points[:, 1]),
        connect=connect,
        finiteCheck=False,
    )
    assert isinstance(path, QPainterPath)
    return path


_AT_ONCE = 4
"""Shapes filled as one path: the rasteriser walks a whole path again and again, so that many short ones are quicker."""


_Seen = tuple[tuple[QPixmap, float, float], float, float, float]
_seen: dict[tuple[object, ...], _Seen] = {}
"""Letterings with their width, ascent and height, by what they look like."""
_MOST_SEEN = 800
_AROUND = tuple(
    QPointF(radius * cos(radians(turn)), radius * sin(radians(turn)))
    for radius, step in ((HALO / 4, 60), (HALO / 2, 30))
    for turn in range(0, 360, step)
)
"""A halo is the text itself set round its place: a tenth of the time that its outline takes under a wide pen."""
_pens: dict[tuple[str, bool, float, tuple[float, ...]], QPen] = {}


def _lettering(text: str, font: Face, ink: str, halo: str, ratio: float) -> tuple[QPixmap, float, float]:
    """A text with its halo as a picture, and where in it the baseline begins, in logical pixels."""
    metrics = QFontMetricsF(font)
    left, up = HALO, metrics.ascent() + HALO
    width, height = font.wide(text) + 2 * HALO + 2, metrics.height() + 2 * HALO
    picture = QPixmap(int(width * ratio) + 1, int(height * ratio) + 1)
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    base = QPointF(round(left), round(up))
    painter.setFont(font)
    if halo:
        painter.setPen(QColor(halo))
        for away in _AROUND:
            painter.drawText(base + away, text)
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
        x, y = self.camera.pixel(float(point[0]), float(point[1]))
        return QPointF(x, y)

    def meets(self, points: Array) -> bool:
        """Whether the box round points (n, 2) in pixels comes into sight."""
        (x0, y0), (x1, y1) = points.min(axis=0), points.max(axis=0)
        return bool(x1 >= 0 and y1 >= 0 and x0 <= self.camera.width and y0 <= self.camera.height)

    def pen(self, role: str, width: float, dash: Sequence[float] = ()) -> QPen:
        """A pen of so many logical pixels; ``dash`` in logical pixels too."""
        key = (role, self.theme.dark, width, tuple(dash))
        if key not in _pens:
            if len(_pens) >= _MOST_SEEN:
                _pens.clear()
            pen = QPen(self.theme.color(role), width)
            pen.setCapStyle(Qt.PenCapStyle.FlatCap if dash else Qt.PenCapStyle.RoundCap)
            pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
            if dash:
                pen.setDashPattern([part / width for part in dash])
            _pens[key] = pen
        return QPen(_pens[key])

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
        return self.theme.font(size, weight).wide(text)

    def text(
        self, at: QPointF, text: str, *, size: int = 11, weight: int = 400, role: str = "ink2",
        align: Align = "left", halo: str = "view", turn_deg: float = 0.0,
    ) -> QRectF:  # fmt: skip
        """A text whose baseline's left end, middle or right end stands at ``at``; the box it took."""
        theme, ratio = self.theme, self.painter.device().devicePixelRatio()
        font = theme.font(size, weight)
        key = (text, size, weight, role, halo, theme.dark, ratio, font.family())
        seen = _seen.get(key)
        if seen is None:
            if len(_seen) >= _MOST_SEEN:
                _seen.clear()
            metrics = QFontMetricsF(font)
            halo_name = theme.color(halo).name() if halo else ""
            lettering = _lettering(text, font, theme.color(role).name(), halo_name, ratio)
            seen = lettering, font.wide(text), metrics.ascent(), metrics.height()
            _seen[key] = seen
        (picture, x, y), width, ascent, height = seen
        left = {"left": 0.0, "middle": -width / 2, "right": -width}[align]
        if turn_deg:
            self.painter.save()
            self.painter.translate(at)
            self.painter.rotate(turn_deg)
            self.painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
            self.painter.drawPixmap(QPointF(left - x, -y), picture)
            self.painter.restore()
        else:
            self.painter.drawPixmap(QPointF(round(at.x() + left) - x, round(at.y()) - y), picture)
        box = QRectF(at.x() + left, at.y() - ascent, width, height)
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
