"""Line icons on a grid of 20, drawn with round ends and no fill, so that they are sharp at any density."""

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPainterPath, QPen, QPixmap

_GRID = 20.0
_STROKE = 1.5
_OVERSAMPLE = 3

# strokes as letters and numbers: m move, l line, c curve (two handles, end), z close, o circle (middle, radius)
_PATHS = {
    "pick": "m 5 3 l 5 15.5 l 8.4 12.4 l 10.8 17 l 13 16 l 10.7 11.4 l 15.2 11.2 z",
    "plot": "m 4 7 l 11 3.5 l 16.5 8 l 14.5 15.5 l 5.5 16.5 z o 4 7 1.2 o 16.5 8 1.2 o 5.5 16.5 1.2",
    "no_build": "m 3.5 5 l 16.5 5 l 16.5 15 l 3.5 15 z m 4.5 12.5 l 11.5 5.5 m 8.5 14.5 l 16 7",
    "line": "m 2.5 13.2 l 17.5 13.2 m 3.5 10 c 4.5 7 6.5 7 7.5 10 m 8 10 c 9 7 11 7 12 10 m 12.5 10 c 13.5 7 15.5 7 16.5 10",
    "plant": "m 3 6 c 4.5 3.4 7 3.4 8.5 6 m 11 6 c 12.5 3.4 15 3.4 16.5 6 m 3 11 c 4.5 8.4 7 8.4 8.5 11"
    " m 11 11 c 12.5 8.4 15 8.4 16.5 11 m 3 16 c 4.5 13.4 7 13.4 8.5 16 m 11 16 c 12.5 13.4 15 13.4 16.5 16",
    "header": "m 6 3 l 6 17 m 6 6 l 14 6 m 6 10 l 14 10 m 6 14 l 14 14 o 16 6 0.9 o 16 10 0.9 o 16 14 0.9",
    "store": "m 4.5 5.5 c 4.5 3 15.5 3 15.5 5.5 c 15.5 8 4.5 8 4.5 5.5 l 4.5 14.5 c 4.5 17 15.5 17 15.5 14.5 l 15.5 5.5",
    "measure": "m 3 13.5 l 13.5 3 l 17 6.5 l 6.5 17 z m 6 10.5 l 7.5 12 m 8.5 8 l 10.6 10.1 m 11 5.5 l 12.5 7",
    "cut": "m 3 10 l 7 10 m 9 10 l 11 10 m 13 10 l 17 10 m 3 10 l 3 4.5 m 1.4 6.4 l 3 4.5 l 4.6 6.4"
    " m 17 10 l 17 4.5 m 15.4 6.4 l 17 4.5 l 18.6 6.4 m 5 15.5 c 7 13 13 13 15 15.5",
    "fit": "m 7.5 3 l 3 3 l 3 7.5 m 12.5 3 l 17 3 l 17 7.5 m 7.5 17 l 3 17 l 3 12.5 m 12.5 17 l 17 17 l 17 12.5",
    "flip": "m 3.5 7.5 l 16 7.5 m 13 4.5 l 16 7.5 l 13 10.5 m 16.5 13.5 l 4 13.5 m 7 10.5 l 4 13.5 l 7 16.5",
    "obstacle": "m 10 17 l 10 11 o 10 7 4",
    "picture": "m 3 4 l 17 4 l 17 16 l 3 16 z m 3 14 l 7.5 9 l 11 13 l 13.2 10.8 l 17 14.5 o 13 7.3 1.4",
    "layers": "m 10 3.5 l 17 7.5 l 10 11.5 l 3 7.5 z m 3 11 l 10 15 l 17 11 m 3 14.2 l 10 18.2 l 17 14.2",
    "locked": "m 5 9 l 15 9 l 15 16.5 l 5 16.5 z m 7 9 l 7 6.5 c 7 2.7 13 2.7 13 6.5 l 13 9",
    "unlocked": "m 5 9 l 15 9 l 15 16.5 l 5 16.5 z m 7 9 l 7 6 c 7 2.6 12.2 2.4 12.9 5.2",
    "faded": "o 10 10 6.5 m 10 3.5 l 10 16.5 m 12.6 5.2 l 12.6 14.8 m 15 7.2 l 15 12.8",
    "heights": "m 3 15.5 l 7.5 8 l 10.5 12 l 13 9 l 17 15.5 m 7.5 4.5 l 7.5 5.5",
    "menu": "m 4 6 l 16 6 m 4 10 l 16 10 m 4 14 l 16 14",
    "undo": "m 7.5 4.5 l 4 8 l 7.5 11.5 m 4 8 l 12 8 c 17.5 8 17.5 15.5 12 15.5 l 9 15.5",
    "redo": "m 12.5 4.5 l 16 8 l 12.5 11.5 m 16 8 l 8 8 c 2.5 8 2.5 15.5 8 15.5 l 11 15.5",
    "keep": "m 6 3.5 l 14 3.5 l 14 16.5 l 10 13.2 l 6 16.5 z",
    "open": "m 6 8 l 10 12.2 l 14 8",
    "folded": "m 8 6 l 12.2 10 l 8 14",
    "close": "m 5.5 5.5 l 14.5 14.5 m 14.5 5.5 l 5.5 14.5",
    "left_panel": "m 3.5 4.5 l 16.5 4.5 l 16.5 15.5 l 3.5 15.5 z m 8 4.5 l 8 15.5",
    "right_panel": "m 3.5 4.5 l 16.5 4.5 l 16.5 15.5 l 3.5 15.5 z m 12 4.5 l 12 15.5",
}  # fmt: skip

ICONS = tuple(_PATHS)


def icon_path(name: str) -> QPainterPath:
    """The strokes of an icon on its grid; KeyError for an unknown one."""
    path = QPainterPath()
    words = iter(_PATHS[name].split())

    def point() -> QPointF:
        return QPointF(float(next(words)), float(next(words)))

    for word in words:
        match word:
            case "m":
                path.moveTo(point())
            case "l":
                path.lineTo(point())
            case "c":
                path.cubicTo(point(), point(), point())
            case "z":
                path.closeSubpath()
            case "o":
                middle, radius = point(), float(next(words))
                path.addEllipse(middle, radius, radius)
    return path


def draw_icon(painter: QPainter, name: str, box: QRectF, color: QColor) -> None:
    """Draw an icon into a square box."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    painter.translate(box.topLeft())
    painter.scale(box.width() / _GRID, box.height() / _GRID)
    pen = QPen(color, _STROKE, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin)
    painter.strokePath(icon_path(name), pen)
    painter.restore()


def icon(name: str, color: QColor, faded: QColor, *, size: int = 20) -> QIcon:
    """An icon for a button, with its look when the button cannot be pressed."""
    made = QIcon()
    for mode, ink in ((QIcon.Mode.Normal, color), (QIcon.Mode.Disabled, faded)):
        pixmap = QPixmap(size * _OVERSAMPLE, size * _OVERSAMPLE)
        pixmap.setDevicePixelRatio(_OVERSAMPLE)
        pixmap.fill(Qt.GlobalColor.transparent)
        painter = QPainter(pixmap)
        draw_icon(painter, name, QRectF(0, 0, size, size), ink)
        painter.end()
        made.addPixmap(pixmap, mode)
    return made
