"""Quiet bars over the view: something to know, and what can be done about it. Nothing waits for them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QPushButton, QToolButton, QWidget

from studio.desk.icons import icon
from studio.desk.layouts import column, line
from studio.desk.theme import Theme
from studio.text import _


@dataclass(frozen=True)
class Choice:
    """A button of a bar: its words, and what it does. The bar goes away when it is pressed."""

    words: str
    act: Callable[[], None]


class Bar(QWidget):
    """One bar."""

    def __init__(self, theme: Theme, text: str, choices: Sequence[Choice], away: Callable[[], None]) -> None:
        super().__init__()
        self._theme = theme
        self.text = text
        self.setAccessibleName(text)
        self._label = QLabel(text)
        self._label.setWordWrap(True)
        self._label.setFont(theme.font(13))
        self._label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        row = line(self, margins=(16, 8, 8, 8), spacing=8)
        row.addWidget(self._label, 1)
        self.buttons: list[QPushButton] = []
        for choice in choices:
            button = QPushButton(choice.words)
            button.setFont(theme.font(13))
            button.clicked.connect(lambda _checked=False, choice=choice: self._choose(choice, away))
            row.addWidget(button, 0, Qt.AlignmentFlag.AlignVCenter)
            self.buttons.append(button)
        close = QToolButton()
        close.setAutoRaise(True)
        close.setAccessibleName(_("Put away"))
        close.setIcon(icon("close", theme.color("ink2"), theme.color("ink3")))
        close.clicked.connect(away)
        row.addWidget(close, 0, Qt.AlignmentFlag.AlignVCenter)

    def _choose(self, choice: Choice, away: Callable[[], None]) -> None:
        away()
        choice.act()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._theme.color("panel"))
        painter.fillRect(QRectF(0, 0, 4, self.height()), self._theme.color("note"))
        painter.fillRect(QRectF(0, self.height() - 1, self.width(), 1), self._theme.color("hair"))
        painter.end()


class Bars(QWidget):
    """The bars that are there now, by key: a new one of the same key takes the old one's place."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._bars: dict[str, Bar] = {}
        self._stack = column(self)
        self.hide()

    def tell(self, key: str, text: str, *choices: Choice) -> None:
        """Show a bar."""
        self.away(key)
        bar = Bar(self._theme, text, choices, lambda: self.away(key))
        self._bars[key] = bar
        self._stack.addWidget(bar)
        self.show()

    def away(self, key: str) -> None:
        """Take a bar away, if it is there."""
        bar = self._bars.pop(key, None)
        if bar is not None:
            self._stack.removeWidget(bar)
            bar.hide()
            bar.deleteLater()
        self.setVisible(bool(self._bars))

    def bar(self, key: str) -> Bar | None:
        """The bar of a key, None when it is not there."""
        return self._bars.get(key)
