"""A panel over the view that is not modal: it stays while one works beside it, Esc or its cross puts it away."""

from PySide6.QtCore import QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QLabel, QToolButton, QWidget

from studio.desk.icons import icon
from studio.desk.layouts import column, line, scrolling
from studio.desk.theme import Theme
from studio.text import _


class Overlay(QWidget):
    """A titled panel with a body that scrolls. ``closed`` when it was put away."""

    closed = Signal()
    changed = Signal()
    """What it shows has another size now."""

    def __init__(self, parent: QWidget, theme: Theme) -> None:
        super().__init__(parent)
        self.theme = theme
        self.title = QLabel()
        self._close = QToolButton()
        self._close.setAutoRaise(True)
        self._close.setAccessibleName(_("Close"))
        self._close.setToolTip(_("Close (Esc)"))
        self._close.clicked.connect(self.put_away)
        top = line(margins=(16, 10, 8, 4), spacing=8)
        top.addWidget(self.title, 1)
        self.tools = line(spacing=6)
        top.addLayout(self.tools)
        top.addWidget(self._close)
        inside = QWidget()
        self.body = column(inside, margins=(0, 0, 0, 12))
        self._scroll = scrolling(inside)
        whole = column(self, margins=(1, 1, 1, 7))
        whole.addLayout(top)
        whole.addWidget(self._scroll, 1)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._later = QTimer(self, interval=0, singleShot=True)
        self._later.timeout.connect(self.changed)
        theme.changed.connect(self._colors)
        self._colors()
        self.hide()

    def show_titled(self, title: str) -> None:
        """Show the panel in front, with this title, and take the keyboard."""
        self.title.setText(title)
        self.setAccessibleName(title)
        self.show()
        self.raise_()
        self.setFocus()
        self.fit_later()

    def wanted_height(self) -> int:
        """How high the panel would be with all of its body in sight."""
        width = max(50, self.width() - 10)
        high = (
            self.body.totalHeightForWidth(width)
            if self.body.hasHeightForWidth()
            else self.body.totalSizeHint().height()
        )
        return high + self.title.sizeHint().height() + 50

    def fit_later(self) -> None:
        """Ask for a fitting size once the parts that were put in are there."""
        self._later.start()

    def put_away(self) -> None:
        """Hide it."""
        if self.isVisible():
            self.hide()
            self.closed.emit()

    def empty(self) -> None:
        """Take everything out of the body."""
        while self.body.count():
            item = self.body.takeAt(0)
            widget = item.widget() if item is not None else None
            if widget is not None:
                widget.hide()
                widget.deleteLater()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.put_away()
            return
        super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(self.theme.color("edge"), 1))
        painter.setBrush(self.theme.color("panel"))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 6, 6)
        painter.end()

    def _colors(self) -> None:
        self.title.setFont(self.theme.font(15, 600))
        self._close.setIcon(icon("close", self.theme.color("ink2"), self.theme.color("ink3")))


def told(text: str, theme: Theme, *, size: int = 13, weight: int = 400, role: str = "ink") -> QLabel:
    """A paragraph that wraps and can be copied."""
    label = QLabel(text)
    label.setWordWrap(True)
    label.setFont(theme.font(size, weight))
    label.setContentsMargins(16, 2, 16, 2)
    label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    palette = label.palette()
    palette.setColor(label.foregroundRole(), theme.color(role))
    label.setPalette(palette)
    return label
