"""Words in a colour of the theme, and one line that tells what is being worked out."""

from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QPushButton, QSizePolicy, QWidget

from studio.desk.layouts import line
from studio.desk.painted import draw_text
from studio.desk.state import Progress
from studio.desk.theme import Theme
from studio.text import _, percent, pretty

_HIGH = 30


class Words(QLabel):
    """A paragraph that wraps, can be copied, and keeps its role's colour when light and dark change."""

    def __init__(
        self, theme: Theme, text: str = "", *, size: int = 13, weight: int = 400, role: str = "ink", wraps: bool = True
    ) -> None:  # fmt: skip
        super().__init__(pretty(text))
        self._theme, self._role = theme, role
        self.setFont(theme.font(size, weight))
        self.setWordWrap(wraps)
        self.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        theme.changed.connect(self._dress)
        self._dress()

    def say(self, text: str, role: str | None = None) -> None:
        """Say something else; without words there is no paragraph."""
        self.setText(pretty(text))
        self.setVisible(bool(text))
        if role is not None and role != self._role:
            self._role = role
            self._dress()

    def _dress(self) -> None:
        palette = self.palette()
        palette.setColor(self.foregroundRole(), self._theme.color(self._role))
        self.setPalette(palette)


class WorkLine(QWidget):
    """What is being worked out and how far it is, with a button that stops it; or why there is nothing."""

    stop = Signal()
    again = Signal()

    def __init__(
        self, theme: Theme, *, stop_name: str, again: str = "", parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self._words, self._share, self._role = "", -1.0, "ink2"
        self.setFixedHeight(_HIGH)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        row = line(self, spacing=8)
        row.addStretch(1)
        self.again_button = QPushButton(again)
        self.again_button.setAccessibleName(again)
        self.again_button.clicked.connect(self.again)
        self.again_button.hide()
        self.stop_button = QPushButton(_("Stop"))
        self.stop_button.setAccessibleName(stop_name)
        self.stop_button.clicked.connect(self.stop)
        self.stop_button.hide()
        row.addWidget(self.again_button)
        row.addWidget(self.stop_button)
        theme.changed.connect(self.update)

    @property
    def words(self) -> str:
        """What it says."""
        return self._words

    def show_progress(self, what: str, progress: Progress) -> None:
        """Say what is being worked out."""
        self._words = f"{what}: {progress.stage}, {percent(progress.share, digits=0)} %"
        self._share, self._role = progress.share, "ink2"
        self._settle(stop=True, again=False)

    def say(self, words: str, *, again: bool = False) -> None:
        """Say something that is no progress; with ``again`` there is the button to do it once more."""
        self._words, self._share, self._role = words, -1.0, "ink2"
        self._settle(stop=False, again=again)

    def _settle(self, *, stop: bool, again: bool) -> None:
        self.stop_button.setVisible(stop)
        self.again_button.setVisible(again)
        self.setAccessibleName(self._words)
        self.setToolTip(self._words)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter = self._theme, QPainter(self)
        taken = sum(
            button.width() + 8 for button in (self.stop_button, self.again_button) if button.isVisible()
        )
        box = QRectF(0, 0, self.width() - taken, self.height())
        if self._share < 0:
            draw_text(painter, box, self._words, theme.font(12), theme.color(self._role))
        else:
            draw_text(
                painter, box.adjusted(0, 0, 0, -7), self._words, theme.font(12), theme.color(self._role)
            )
            bar = QRectF(0, self.height() - 7, box.width(), 4)
            painter.fillRect(bar, theme.color("line"))
            bar.setWidth(bar.width() * min(1.0, max(0.0, self._share)))
            painter.fillRect(bar, theme.color("ink2"))
        painter.end()
