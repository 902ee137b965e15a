"""A box to tick, painted so that its rim can be seen in light and in dark."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QSizePolicy

from studio.desk.painted import draw_text, tick_mark
from studio.desk.theme import Theme

_BOX, _GAP, _HIGH = 16, 8, 26


class TickBox(QAbstractButton):
    """A word with a box before it; Space and Enter tick it."""

    def __init__(self, theme: Theme, word: str) -> None:
        super().__init__()
        self._theme = theme
        self.setText(word)
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        theme.changed.connect(self.update)

    def sizeHint(self) -> QSize:
        return QSize(_BOX + _GAP + 4 + round(self._theme.font(13).wide(self.text())), _HIGH)

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.click()
            return
        super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter, theme = QPainter(self), self._theme
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(1, (self.height() - _BOX) / 2, _BOX, _BOX)
        role = "accent" if self.hasFocus() else "edge" if self.isEnabled() else "line"
        painter.setPen(QPen(theme.color(role), 2.0 if self.hasFocus() else 1.2))
        painter.setBrush(theme.color("window" if self.underMouse() and self.isEnabled() else "view"))
        painter.drawRoundedRect(box, 3, 3)
        if self.isChecked():
            tick_mark(painter, box.center() + QPointF(0, 0.5), passes=True, color=theme.color("ink"))
        word = QRectF(_BOX + _GAP, 0, self.width() - _BOX - _GAP, self.height())
        ink = theme.color("ink" if self.isEnabled() else "ink3")
        draw_text(painter, word, self.text(), theme.font(13), ink)
        painter.end()
