"""The overlays: where they lie, beside the tally, over the view, below the bars; each is made when it is first asked for."""

from functools import cached_property
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QWidget

from studio.desk.bars import Bars
from studio.desk.overlay import Overlay
from studio.desk.session import Session
from studio.desk.theme import Theme

if TYPE_CHECKING:
    from studio.desk.cautions import CautionsPanel
    from studio.desk.explain import Explain
    from studio.desk.materials_panel import MaterialsPanel

_ROOM = 12
_WIDTH = 420
_LIST_WIDTH = 760


class Overlays(QObject):
    """The overlays on a window's ``body``, kept clear of its ``left`` and ``right`` panels and of the ``bars`` on top.

    ``reveal`` asks the sheet to show a group of inputs, ``wants_folder`` asks where the material list is to be written.
    """

    reveal = Signal(str)
    wants_folder = Signal()

    def __init__(
        self, body: QWidget, left: QWidget, right: QWidget, bars: Bars, session: Session, theme: Theme
    ) -> None:
        super().__init__(body)
        self._body, self._left, self._right, self._bars = body, left, right, bars
        self._session, self._theme = session, theme
        self._held: list[tuple[Overlay, int]] = []

    @cached_property
    def explain(self) -> "Explain":
        """Where a figure comes from."""
        from studio.desk.explain import Explain

        made = Explain(self._body, self._session, self._theme)
        made.reveal.connect(self.reveal)
        self.add(made, _WIDTH)
        return made

    @cached_property
    def cautions(self) -> "CautionsPanel":
        """All cautions."""
        from studio.desk.cautions import CautionsPanel

        made = CautionsPanel(self._body, self._theme)
        self.add(made, _WIDTH)
        return made

    @cached_property
    def materials(self) -> "MaterialsPanel":
        """The material list."""
        from studio.desk.materials_panel import MaterialsPanel

        made = MaterialsPanel(
            self._body, self._session, self._theme, lambda text: self._bars.tell("papers", text)
        )
        made.wants_folder.connect(self.wants_folder)
        self.add(made, _LIST_WIDTH)
        return made

    def explain_figure(self, key: str) -> None:
        """Show where a figure comes from, in place of the cautions."""
        self.cautions.put_away()
        self.explain.explain(key)
        self.place()

    def put_away(self) -> None:
        """Hide what explains, warns and lists."""
        for overlay in (self.explain, self.cautions, self.materials):
            overlay.put_away()

    def add(self, overlay: Overlay, width: int) -> None:
        """One more, so wide where there is room."""
        self._held.append((overlay, width))
        overlay.changed.connect(self.place)
        self.place()

    def place(self) -> None:
        """Lay all where they belong now."""
        top = _ROOM + (self._bars.height() if self._bars.isVisible() else 0)
        right = (self._right.x() if self._right.isVisible() else self._body.width()) - _ROOM
        room = self._body.width() - (self._left.width() if self._left.isVisible() else 0) - 40
        for overlay, width in self._held:
            wide = min(width, room)
            overlay.resize(wide, overlay.height())
            high = min(overlay.wanted_height(), self._body.height() - top - _ROOM)
            overlay.setGeometry(right - wide, top, wide, high)
