"""A box to choose a word in, painted like the fields beside it."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QWheelEvent
from PySide6.QtWidgets import QComboBox

from studio.desk.icons import draw_icon
from studio.desk.painted import draw_text
from studio.desk.theme import Theme

HEIGHT = 26


class ChoiceBox(QComboBox):
    """A combo box with the desk's own border and fold mark."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self.setFixedHeight(HEIGHT)
        self.setFont(theme.font(13))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)

    def sizeHint(self) -> QSize:
        words = [self.itemText(place) for place in range(self.count())]
        widest = max((self._theme.font(13).wide(word) for word in words), default=40.0)
        return QSize(round(widest) + 38, HEIGHT)

    def wheelEvent(self, event: QWheelEvent) -> None:
        event.ignore()  # a wheel that scrolls the sheet must not change the design

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter = self._theme, QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        focus = self.hasFocus()
        pen = QPen(theme.color("accent" if focus else "edge"), 2 if focus else 1)
        painter.setPen(pen)
        painter.setBrush(theme.color("window" if self.underMouse() else "view"))
        inset = pen.widthF() / 2
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(inset, inset, -inset, -inset), 4, 4)
        box = QRectF(8, 0, self.width() - 32, self.height())
        draw_text(painter, box, self.currentText(), theme.font(13), theme.color("ink"))
        draw_icon(
            painter, "open", QRectF(self.width() - 22, self.height() / 2 - 8, 16, 16), theme.color("ink2")
        )
        painter.end()
