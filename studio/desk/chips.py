"""What stands over a view: a row of chips that put on and off what is shown, and buttons that are an icon."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QHBoxLayout, QSizePolicy, QWidget

from studio.desk.icons import draw_icon
from studio.desk.layouts import line
from studio.desk.theme import Theme
from studio.text import _


def head_row(parent: QWidget | None = None) -> QHBoxLayout:
    """The row over a view."""
    return line(parent, margins=(12, 7, 12, 7), spacing=8)


class Chip(QAbstractButton):
    """A layer that is shown or not."""

    def __init__(self, theme: Theme, text: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.theme = theme
        self.setText(text)
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setAccessibleName(_("Layer {name}").format(name=text))

    def sizeHint(self) -> QSize:
        return QSize(round(self.theme.font(12, 500).wide(self.text())) + 26, 26)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        on = self.isChecked()
        focus = self.hasFocus()
        rim = self.theme.color("accent" if focus else ("ink2" if on else "edge"))
        painter.setPen(QPen(rim, 2.0 if focus else (1.6 if on else 1.0)))
        painter.setBrush(self.theme.color("view" if on else "panel"))
        if self.underMouse():
            painter.setBrush(self.theme.color("window"))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 12, 12)
        painter.setFont(self.theme.font(12, 500 if on else 400))
        painter.setPen(self.theme.color("ink" if on else "ink2"))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, self.text())
        painter.end()


class IconButton(QAbstractButton):
    """A button that is an icon, with a ``name`` for those who hear it."""

    def __init__(self, theme: Theme, icon: str, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme, self._icon = theme, icon
        self.setFixedSize(28, 28)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setAccessibleName(name)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter, theme = QPainter(self), self._theme
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        color = theme.color("accent" if self.hasFocus() else ("ink" if self.underMouse() else "ink2"))
        draw_icon(painter, self._icon, QRectF(4, 4, 20, 20), color)
        if self.hasFocus():
            painter.setPen(QPen(theme.color("accent"), 2))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 5, 5)
        painter.end()
