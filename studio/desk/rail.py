"""The first sign that figures are of another revision: a hatched rail along the panel's edge, there at once."""

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPixmap
from PySide6.QtWidgets import QWidget

from studio.desk.painted import rail
from studio.desk.session import Session
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.text import _

_WIDTH = 4


class Rail(QWidget):
    """Along the left edge of ``panel`` while its figures are not those of the design that is shown.

    It comes with the first frame; what takes longer is marked figure by figure besides (``freshness``).
    """

    def __init__(self, panel: QWidget, session: Session, theme: Theme) -> None:
        super().__init__(panel)
        self._theme = theme
        self._picture: QPixmap | None = None
        theme.changed.connect(self._forget)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.setAccessibleName(_("Figures are from before the move"))
        self.hide()
        panel.installEventFilter(self)
        session.changed.connect(self._hear)

    def _hear(self, old: State, new: State) -> None:
        wanted = new.assessment is not None and not (new.fresh and new.assessment.exact)
        if wanted == self.isHidden():
            self.setVisible(wanted)
            self.raise_()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() is QEvent.Type.Resize and isinstance(watched, QWidget):
            self.setGeometry(0, 0, _WIDTH, watched.height())
        return False

    def _forget(self) -> None:
        self._picture = None

    def paintEvent(self, event: QPaintEvent) -> None:
        """Its hatch is painted once: it lies over figures that change with every frame of a drag."""
        ratio = self.devicePixelRatio()
        size = self.size() * ratio
        if self._picture is None or self._picture.size() != size:
            self._picture = QPixmap(size)
            self._picture.setDevicePixelRatio(ratio)
            self._picture.fill(Qt.GlobalColor.transparent)
            on = QPainter(self._picture)
            rail(on, self.height(), self._theme)
            on.end()
        painter = QPainter(self)
        painter.drawPixmap(0, 0, self._picture)
        painter.end()
