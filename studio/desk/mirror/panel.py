"""A panel of the Mirror view: a title, words beside it, and a painted body that takes the keyboard and has a name."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QRectF, Qt, QTimer
from PySide6.QtGui import QPainter, QPen
from PySide6.QtWidgets import QWidget

from studio.desk.mirror.model import MirrorModel
from studio.desk.painted import draw_text, rail
from studio.desk.plan.camera import Camera
from studio.desk.theme import Theme
from studio.text import _

Array = NDArray[np.float64]
HEAD = 30
PAD = 14
_TELL_MS = 200


class Panel(QWidget):
    """Paints ``title`` and what stands beside it; the body is painted within ``painting``."""

    title = ""
    shows = frozenset({"now"})
    """What of the model's changes it must hear of."""

    def __init__(self, model: MirrorModel, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.model, self.theme = model, theme
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setAccessibleName(_(self.title))
        self._telling = QTimer(self, interval=_TELL_MS, singleShot=True)
        self._telling.timeout.connect(self._tell)
        model.changed.connect(self._hear)
        theme.changed.connect(self.update)

    def _hear(self, what: str) -> None:
        if what in self.shows and self.isVisible():
            self.refresh()

    def refresh(self) -> None:
        """Something is another: paint it anew, and say it once the hand rests."""
        self.update()
        self._telling.start()

    def _tell(self) -> None:
        self.setAccessibleDescription(self.told())

    def showEvent(self, event: object) -> None:
        self.refresh()

    def about(self) -> str:
        """Words beside the title."""
        return ""

    def told(self) -> str:
        """What the panel shows, for those who hear it."""
        return ""

    @property
    def stale(self) -> bool:
        """Whether what is shown is from before the move."""
        return False

    def body(self) -> QRectF:
        """The room below the head."""
        return QRectF(0, HEAD, self.width(), self.height() - HEAD)

    def paint_about(self, painter: QPainter, room: QRectF) -> None:
        """Paint what stands beside the title."""
        theme = self.theme
        draw_text(painter, room, self.about(), theme.font(12), theme.color("ink3" if self.stale else "ink2"))

    @contextmanager
    def painting(self) -> Iterator[tuple[QPainter, QRectF]]:
        """Within ``paintEvent``: the ground, then the body by what this gives, then head, edges, rail and focus."""
        painter, theme = QPainter(self), self.theme
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.fillRect(self.rect(), theme.color("view"))
        painter.save()
        painter.setClipRect(self.body())
        yield painter, self.body()
        painter.restore()
        bold = theme.font(13, 600)
        title = _(self.title)
        wide = bold.wide(title)
        draw_text(painter, QRectF(PAD, 4, self.width() - 2 * PAD, HEAD - 4), title, bold, theme.color("ink"))
        left = PAD + wide + 10
        room = QRectF(left, 4, self.width() - PAD - left, HEAD - 4)
        if room.width() > 40:
            self.paint_about(painter, room)
        painter.fillRect(self.width() - 1, 0, 1, self.height(), theme.color("hair"))
        painter.fillRect(0, self.height() - 1, self.width(), 1, theme.color("hair"))
        if self.stale:
            rail(painter, self.height(), theme)
        if self.hasFocus():
            painter.setPen(QPen(theme.color("accent"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(3, 3, -4, -4), 4, 4)
        painter.end()


def camera_on(box: QRectF, shapes: Iterable[Array]) -> Camera:
    """A camera that shows all ``shapes`` (..., 2), in metres, in the middle of a box of a widget, in pixels."""
    points = np.concatenate([np.asarray(shape, dtype=float).reshape(-1, 2) for shape in shapes])
    low, high = points.min(axis=0), points.max(axis=0)
    wide, tall = np.maximum(high - low, 1e-3)
    scale = max(min(box.width() / wide, box.height() / tall), 1.0)
    middle = (low + high) / 2
    # the camera's own middle is that of a widget of this size, so the box's middle is
    return Camera(
        float(middle[0]), float(middle[1]), float(scale), 2 * box.center().x(), 2 * box.center().y()
    )
