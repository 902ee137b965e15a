"""What painted parts share: rows that are buttons, text in columns, arrows, hatches, the shapes of findings."""

from collections.abc import Iterator
from contextlib import contextmanager
from math import cos, pi, sin
from typing import Literal

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import (
    QColor,
    QKeyEvent,
    QPainter,
    QPainterPath,
    QPen,
    QPolygonF,
)
from PySide6.QtWidgets import QAbstractButton, QSizePolicy, QWidget

from studio.desk.theme import Face, Theme
from studio.study.findings import Severity

Side = Literal["left", "right", "middle"]

_MIDDLE = Qt.AlignmentFlag.AlignVCenter
_ALIGN: dict[Side, int] = {
    "left": int(Qt.AlignmentFlag.AlignLeft | _MIDDLE),
    "right": int(Qt.AlignmentFlag.AlignRight | _MIDDLE),
    "middle": int(Qt.AlignmentFlag.AlignHCenter | _MIDDLE),
}
MARGIN = 16
RAIL = 4


def draw_text(
    painter: QPainter, box: QRectF, text: str, font: Face, color: QColor, side: Side = "left"
) -> float:
    """Draw one line of text in a box, shortened with dots where it does not fit; how wide it came out."""
    text = font.shortened(text, box.width() + 0.5)
    painter.setFont(font)
    painter.setPen(color)
    painter.drawText(box, _ALIGN[side], text)
    return font.wide(text)


def hatch(painter: QPainter, box: QRectF, color: QColor, *, step: float = 4.0, width: float = 1.0) -> None:
    """Slanted lines clipped to a box."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setClipRect(box, Qt.ClipOperation.IntersectClip)
    painter.setPen(QPen(color, width))
    x = box.left() - box.height()
    while x < box.right():
        painter.drawLine(QPointF(x, box.bottom()), QPointF(x + box.height(), box.top()))
        x += step
    painter.restore()


def rail(painter: QPainter, height: float, theme: Theme) -> None:
    """The sign at the left edge that what stands here is from before the move."""
    hatch(painter, QRectF(0, 0, RAIL, height), theme.color("ink3"), step=4.0)


def arrow(painter: QPainter, middle: QPointF, *, up: bool, filled: bool, color: QColor) -> None:
    """A small triangle; its way is the change's way."""
    half, high = 4.0, 3.5 if up else -3.5
    triangle = QPolygonF(
        [middle + QPointF(-half, high), middle + QPointF(half, high), middle + QPointF(0, -high)]
    )
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(
        QPen(color, 1.2, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin)
    )
    painter.setBrush(color if filled else Qt.BrushStyle.NoBrush)
    painter.drawPolygon(triangle)
    painter.restore()


def tick_mark(painter: QPainter, middle: QPointF, *, passes: bool, color: QColor) -> None:
    """A tick for what passes, a cross for what does not."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.setPen(
        QPen(color, 1.7, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin)
    )
    if passes:
        painter.drawPolyline([middle + QPointF(*at) for at in ((-4, 0), (-1.2, 3), (4, -3.4))])
    else:
        painter.drawLine(middle + QPointF(-3, -3), middle + QPointF(3, 3))
        painter.drawLine(middle + QPointF(-3, 3), middle + QPointF(3, -3))
    painter.restore()


def finding_shape(severity: Severity, middle: QPointF, radius: float) -> QPainterPath:
    """An octagon for a stop, a triangle for a caution, a ring for a note."""
    path = QPainterPath()
    if severity == "note":
        path.addEllipse(middle, radius - 0.5, radius - 0.5)
        return path
    if severity == "stop":
        turns = [pi / 8 + pi / 4 * i for i in range(8)]
        corners = [middle + QPointF(radius * cos(turn), radius * sin(turn)) for turn in turns]
    else:
        wide, up, down = radius * 1.1, radius * 1.15, radius * 0.85
        corners = [middle + QPointF(0, -up), middle + QPointF(wide, down), middle + QPointF(-wide, down)]
    path.addPolygon(QPolygonF(corners))
    path.closeSubpath()
    return path


def draw_finding(
    painter: QPainter, severity: Severity, number: int, middle: QPointF, theme: Theme, *, stale: bool = False,
    radius: float = 8.0,
) -> None:  # fmt: skip
    """A finding's shape with its number (0: without one); dashed and hollow when it is from before the move."""
    path = finding_shape(severity, middle, radius)
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    rim = theme.color("caution_rim" if severity == "caution" else severity)
    pen = QPen(theme.color("ink3") if stale else rim, 1.4)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    if stale:
        pen.setDashPattern([2.0, 1.6])
    painter.setPen(pen)
    hollow = stale or severity == "note"
    painter.setBrush(Qt.BrushStyle.NoBrush if hollow else theme.color(severity))
    painter.drawPath(path)
    if number:
        ink = (
            theme.color("ink3") if stale else theme.color("note" if severity == "note" else f"on_{severity}")
        )
        lower = 1.5 if severity == "caution" else 0.0
        box = QRectF(middle.x() - 12, middle.y() - 8 + lower, 24, 16)
        draw_text(painter, box, str(number), theme.font(10, 600), ink, "middle")
    painter.restore()


class Row(QAbstractButton):
    """A painted row that is a button: it takes focus, clicks and Enter, and has a name for a screen reader."""

    def __init__(self, theme: Theme, height: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self.stale = False
        self._seen: tuple[object, ...] | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.set_height(height)

    def set_height(self, height: int) -> None:
        """Be this high."""
        self._height = height
        self.setFixedHeight(height)

    def shows_anew(self, *what: object) -> bool:
        """Whether what is to be shown is another than before; it is painted anew only then, so that figures that follow a
        hand cost no more than those that changed."""
        if what == self._seen:
            return False
        self._seen = what
        self.update()
        return True

    def sizeHint(self) -> QSize:
        return QSize(120, self._height)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.click()
            return
        super().keyPressEvent(event)

    @contextmanager
    def painting(self) -> Iterator[tuple[QPainter, QRectF]]:
        """Within ``paintEvent``: the row's ground, then whatever is painted with what this gives, then its rail and focus."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self.underMouse() and self.isEnabled():
            painter.fillRect(self.rect(), self.theme.color("window"))
        yield painter, QRectF(self.rect())
        if self.stale and self.x() == 0:  # the rail runs along the panel's edge
            rail(painter, self.height(), self.theme)
        if self.hasFocus():
            painter.setPen(QPen(self.theme.color("accent"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(3, 1, -3, -1), 4, 4)
        painter.end()
