"""An area of a land file as a row: its outline to scale, its name, its size; the chosen one is framed."""

from math import cos, floor, log10, radians

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterPath, QPaintEvent, QPen, QPolygonF, QResizeEvent

from studio.desk.painted import Row, draw_text
from studio.desk.shelf.tick_box import TickBox
from studio.desk.theme import Theme
from studio.files.land.found import AreaFound
from studio.files.land.systems import told_place
from studio.text import _, number, plural, pretty

_HIGH = 78
_SKETCH = QRectF(18, 7, 76, 46)
"""Where the outline stands in the row; its scale bar stands below."""
_LEFT = 110.0
_TURN = Qt.TextFlag.TextWordWrap | Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop


class AreaRow(Row):
    """One area; checkable, and out of reach where it cannot be taken. ``layer`` is told where the file has several."""

    def __init__(self, theme: Theme, area: AreaFound, *, layer: str = "") -> None:
        super().__init__(theme, _HIGH)
        self.area = area
        self.setCheckable(True)
        self.setEnabled(not area.refused)
        self._size = size_of(area)
        self._corners = corners_of(area)
        place = told_place(*area.middle) if area.middle else ""
        self._below = area.doubts[0] if area.doubts else ", ".join(part for part in (layer, place) if part)
        said = (area.name, self._size, self._corners, area.refused or " ".join(area.doubts))
        self.setAccessibleName(", ".join(part for part in said if part))
        self.setToolTip(area.refused or " ".join(area.doubts))
        self.no_build = TickBox(theme, _("No-build area"))
        self.no_build.setParent(self)
        self.no_build.setAccessibleName(_("{name} as a no-build area").format(name=area.name))
        self.no_build.hide()
        self._path, self._px_per_m = outline_in(area, _SKETCH)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        wanted = self.no_build.sizeHint()
        left = self.width() - 18 - wanted.width()
        self.no_build.setGeometry(left, 44, wanted.width(), wanted.height())

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        theme, area = self.theme, self.area
        if self.isChecked():
            painter.setPen(QPen(theme.color("accent"), 1.5))
            painter.setBrush(theme.color("wash"))
            painter.drawRoundedRect(box.adjusted(8, 2, -8, -2), 6, 6)
        if not area.refused:
            self._paint_outline(painter)
        left, right = _LEFT, box.width() - 18
        strong = theme.color("ink" if self.isEnabled() else "ink3")
        taken = 0.0
        if not area.refused:
            spot = QRectF(right - 150, 8, 150, 20)
            taken = draw_text(painter, spot, self._size, theme.font(13, 600), strong, "right") + 10
        name = QRectF(left, 8, right - left - taken, 20)
        draw_text(painter, name, area.name, theme.font(13, 600), strong)
        below = QRectF(left, 30, right - left, 18)
        if area.refused:
            painter.setFont(theme.font(12))
            painter.setPen(theme.color("ink2"))
            painter.drawText(below.adjusted(0, 0, 0, 24), int(_TURN), area.refused)
            return
        draw_text(painter, below, self._corners, theme.font(12), theme.color("ink2"))
        third = below.translated(0, 19)
        if not self.no_build.isHidden():
            third.setRight(self.no_build.x() - 10.0)
        draw_text(painter, third, self._below, theme.font(12), theme.color("ink2"))

    def _paint_outline(self, painter: QPainter) -> None:
        painter.setPen(QPen(self.theme.color("accent" if self.isChecked() else "ink2"), 1.3))
        painter.setBrush(self.theme.color("view"))
        painter.drawPath(self._path)
        metres = round_length(_SKETCH.width() * 0.55 / self._px_per_m)
        half = metres * self._px_per_m / 2
        middle, foot = _SKETCH.center().x(), _SKETCH.bottom() + 6
        painter.setPen(QPen(self.theme.color("ink3"), 1.0))
        for a, b in (((-half, 0), (half, 0)), ((-half, -2.5), (-half, 2.5)), ((half, -2.5), (half, 2.5))):
            painter.drawLine(QPointF(middle + a[0], foot + a[1]), QPointF(middle + b[0], foot + b[1]))
        label = QRectF(_SKETCH.left(), foot + 1, _SKETCH.width(), 14)
        draw_text(painter, label, _length(metres), self.theme.font(11), self.theme.color("ink3"), "middle")


def size_of(area: AreaFound) -> str:
    """The area's size as a person says it."""
    if area.area_m2 < 1.0:
        return pretty(f"{number(area.area_m2)} m2")
    return pretty(f"{number(area.area_m2, digits=1 if area.area_m2 < 1000 else 0)} m2")


def corners_of(area: AreaFound) -> str:
    """Width and depth, corners and holes."""
    parts = [
        _("{width} m by {depth} m").format(width=number(area.width_m), depth=number(area.depth_m)),
        plural("{count} corner", "{count} corners", area.corners),
    ]
    if area.holes:
        parts.append(plural("{count} hole", "{count} holes", area.holes))
    return ", ".join(parts)


def outline_in(area: AreaFound, box: QRectF) -> tuple[QPainterPath, float]:
    """The area's rings in a box, with one scale both ways, and that scale in pixels for a metre."""
    rings = [_level(ring, area) for ring in area.rings]
    low, high = rings[0].min(axis=0), rings[0].max(axis=0)
    wide, deep = (max(float(side), 1e-9) for side in high - low)
    scale = min(box.width() / wide, box.height() / deep)
    path = QPainterPath()
    for ring in rings:
        at = (ring - (low + high) / 2) * (scale, -scale) + (box.center().x(), box.center().y())
        path.addPolygon(QPolygonF([QPointF(x, y) for x, y in at.tolist()]))
        path.closeSubpath()
    metres = max(area.width_m, 1e-9) / wide if wide >= deep else max(area.depth_m, 1e-9) / deep
    return path, scale / metres


def _level(ring: NDArray[np.float64], area: AreaFound) -> NDArray[np.float64]:
    """A ring with both axes alike: degrees of longitude shrink with the cosine of the latitude."""
    narrow = cos(radians(area.middle[0])) if area.middle else 1.0
    level: NDArray[np.float64] = ring * (narrow, 1.0)
    return level


def round_length(most: float) -> float:
    """The longest of 1, 2, 5, 10 … that is no longer than ``most``."""
    power = 10.0 ** floor(log10(most))
    return next(step * power for step in (5.0, 2.0, 1.0) if step * power <= most * (1 + 1e-9))


def _length(metres: float) -> str:
    if metres >= 1000:
        return f"{metres / 1000:g} km"
    return f"{metres:g} m" if metres >= 1 else f"{metres * 1000:g} mm"
