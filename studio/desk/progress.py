"""What is being worked out, over the figures that it will change, and how to stop it."""

from PySide6.QtCore import QRectF, Signal
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from studio.desk.painted import MARGIN, draw_text
from studio.desk.state import Progress
from studio.desk.theme import Theme
from studio.text import _, percent


class ProgressBlock(QWidget):
    """A block that is there only while something takes longer than a moment."""

    stop = Signal()

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._progress: Progress | None = None
        self._first = False
        self.setFixedHeight(64)
        self._button = QPushButton(_("Stop"))
        self._button.setAccessibleName(_("Stop working out"))
        self._button.setToolTip(_("Esc: keep the figures from before"))
        self._button.clicked.connect(self.stop)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 6, MARGIN, 26)
        row.addStretch(1)
        row.addWidget(self._button)
        self.hide()

    def show_progress(self, progress: Progress | None, *, first: bool) -> None:
        """Show how far it is; ``first`` when there are no figures yet."""
        self._progress, self._first = progress, first
        self.setVisible(progress is not None or first)
        self._button.setVisible(progress is not None)
        if progress is not None:
            told = _("Working out: {stage}, {share} %").format(
                stage=progress.stage, share=percent(progress.share, digits=0)
            )
            self.setAccessibleName(told)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter = self._theme, QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        wide = self.width() - 2 * MARGIN
        title = _("Working out the field") if self._first else _("Working out the change")
        draw_text(painter, QRectF(MARGIN, 4, wide - 80, 18), title, theme.font(13, 600), theme.color("ink"))
        if self._progress is not None:
            words = f"{self._progress.stage}, {percent(self._progress.share, digits=0)} %"
            draw_text(painter, QRectF(MARGIN, 22, wide - 80, 18), words, theme.font(12), theme.color("ink2"))
            bar = QRectF(MARGIN, 48, wide, 4)
            painter.fillRect(bar, theme.color("line"))
            bar.setWidth(wide * min(1.0, max(0.0, self._progress.share)))
            painter.fillRect(bar, theme.color("ink2"))
        painter.end()
