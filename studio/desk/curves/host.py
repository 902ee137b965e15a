"""The place beside the view where the page of curves stands; the page is made when it is first asked for."""

from collections.abc import Callable
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QWidget

from studio.desk.edge import Edge
from studio.desk.layouts import line
from studio.desk.session import Session
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.desk.views import turn_to
from studio.desk.worker import assessor_apart

if TYPE_CHECKING:
    from studio.desk.curves.page import CurvesPage

WIDTH = 400
_LEAST_VIEW_PX = 500
"""A view narrower than this gets the left panel's room while the page is open."""


class CurvesHost(QWidget):
    """Shows the page while the state says so. ``opened`` when it came; ``crashed`` carries a fault of the program."""

    opened = Signal()
    crashed = Signal(object)

    def __init__(
        self, session: Session, theme: Theme, left: QWidget, right: QWidget, *,
        make: Callable[[], object] = assessor_apart,
    ) -> None:  # fmt: skip
        super().__init__()
        self._session, self._theme, self._make = session, theme, make
        self._left, self._right = left, right
        self._hid_left = False
        self.page: CurvesPage | None = None
        self.setFixedWidth(WIDTH + 1)
        self._row = line(self)
        self._row.addWidget(Edge(theme))
        session.changed.connect(self._hear)
        self.hide()

    def toggle(self) -> None:
        """Open the page beside the plan, or put it away."""
        if not self._session.state.curves:
            turn_to(self._session, "plan")
        self._session.update(curves=not self._session.state.curves)

    def shut(self) -> None:
        """End the page's work."""
        if self.page is not None:
            self.page.shut()

    def make_room(self) -> None:
        """Give the view the left panel's room where the window would leave it too little."""
        taken = self.width() + sum(panel.width() for panel in (self._left, self._right))
        narrow = self._session.state.curves and self.window().width() - taken < _LEAST_VIEW_PX
        if narrow and not self._left.isHidden() and not self._hid_left:
            self._hid_left = True
            self._left.hide()
        elif self._hid_left and not narrow:
            self._hid_left = False
            self._left.show()

    def _hear(self, old: State, new: State) -> None:
        if new.curves != old.curves:
            self._show(on=new.curves)

    def _show(self, *, on: bool) -> None:
        if on and self.page is None:
            from studio.desk.curves.page import CurvesPage

            self.page = CurvesPage(self._session, self._theme, make=self._make)
            self.page.closed.connect(lambda: self._session.update(curves=False))
            self.page.model.crashed.connect(self.crashed)
            self._row.addWidget(self.page, 1)
        self.setVisible(on)
        self.make_room()
        if on and self.page is not None:
            self.page.setFocus()
            self.opened.emit()
