"""The head of the tally, and the hair between its blocks."""

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from studio.desk.painted import MARGIN, arrow, draw_text
from studio.desk.theme import Theme
from studio.text import _


class Rule(QWidget):
    """A hair between blocks."""

    def __init__(self, theme: Theme, pad: int = 6) -> None:
        super().__init__()
        self._theme = theme
        self.set_pad(pad)

    def set_pad(self, pad: int) -> None:
        """How much room above and below."""
        self.setFixedHeight(1 + 2 * pad)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(0, self.height() // 2, self.width(), 1, self._theme.color("hair"))
        painter.end()


class TallyHead(QWidget):
    """The panel's title and the legend of changes."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme, self._kept = theme, False
        self.setFixedHeight(36)

    def show_kept(self, kept: bool) -> None:
        """Show the legend when there is a kept design to compare with."""
        if kept == self._kept and self.accessibleName():
            return
        self._kept = kept
        self.setAccessibleName(
            _("Tally, changes against kept; filled arrow better, hollow worse") if kept else _("Tally")
        )
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        theme = self._theme
        painter = QPainter(self)
        line = QRectF(MARGIN, 4, self.width() - 2 * MARGIN, self.height() - 4)
        draw_text(painter, line, _("Tally"), theme.font(15, 600), theme.color("ink"))
        if self._kept:
            right = line.right()
            for word, role in ((_("worse"), "worse"), (_("better"), "better")):
                wide = draw_text(
                    painter,
                    line.adjusted(0, 0, right - line.right(), 0),
                    word,
                    theme.font(11),
                    theme.color("ink2"),
                    "right",
                )
                middle = line.center()
                middle.setX(right - wide - 9)
                arrow(painter, middle, up=True, filled=role == "better", color=theme.color(role))
                right -= wide + 24
            rest = line.adjusted(60, 0, right - line.right(), 0)
            draw_text(painter, rest, _("against kept"), theme.font(11), theme.color("ink2"), "right")
        painter.end()
