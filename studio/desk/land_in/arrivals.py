"""Land and heights that come to the desk: which page a file or a pasted table goes to."""

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QFileDialog, QWidget

from studio.desk.land_in.endings import ENDINGS
from studio.desk.land_in.heights_page import HeightsPage
from studio.desk.land_in.page import LandPage
from studio.desk.land_in.paste_page import PastePage
from studio.desk.overlay import Overlay
from studio.desk.session import Session
from studio.desk.theme import Theme
from studio.errors import StillfieldError
from studio.text import _

_TABLES = (".csv", ".txt")
_FIRST = 20_000
Shown = TypeVar("Shown", str, Path)


class Arrivals(QObject):
    """The pages of land, heights and pasted tables. ``opens`` before one is shown, ``taken`` when the design has it."""

    opens = Signal()
    taken = Signal()

    def __init__(self, parent: QWidget, session: Session, theme: Theme) -> None:
        super().__init__(parent)
        self._parent = parent
        self.land = LandPage(parent, session, theme)
        self.heights = HeightsPage(parent, session, theme)
        self.paste = PastePage(parent, lambda: session.state.design, theme)
        self.pages: tuple[Overlay, ...] = (self.land, self.heights, self.paste)
        self.land.taken.connect(self.taken)
        self.heights.taken.connect(self.taken)
        self.land.wants_heights.connect(self._open_heights)
        self.paste.corners.connect(self._show(self.land.open_text))
        self.paste.heights.connect(self._show(self.heights.open_text))

    def ask(self, folder: str) -> None:
        """Ask for a file of land or heights."""
        kinds = " ".join(f"*{ending}" for ending in ENDINGS)
        name, _kind = QFileDialog.getOpenFileName(
            self._parent.window(), _("Land from a file"), folder,
            f"{_('Maps, drawings, tables of corners, heights')} ({kinds})",
        )  # fmt: skip
        if name:
            self.open(Path(name))

    def open(self, path: Path) -> None:
        """Show a file on the page that it belongs to."""
        if _holds_heights(path):
            self._open_heights(path)
        else:
            self._show(self.land.open)(path)

    def open_pasted(self) -> None:
        """Show the text of the clipboard as a table."""
        self._show(self.paste.open)(QGuiApplication.clipboard().text())

    def _open_heights(self, path: Path) -> None:
        self._show(self.heights.open)(path)

    def _show(self, opens: Callable[[Shown], None]) -> Callable[[Shown], None]:
        """``opens`` as the only page."""

        def show(what: Shown) -> None:
            for page in self.pages:
                page.put_away()
            self.opens.emit()
            opens(what)

        return show


def _holds_heights(path: Path) -> bool:
    """Whether a file is a raster of heights or a table with a column of them."""
    from studio.files.heights.raster import is_raster
    from studio.files.heights.spots import holds_spots

    try:
        if is_raster(path):
            return True
        if path.suffix.lower() not in _TABLES:
            return False
        with path.open("rb") as file:
            start = file.read(_FIRST)
    except (OSError, StillfieldError):
        return False  # the page of land says what is wrong
    whole = start if len(start) < _FIRST else start.rpartition(b"\n")[0]
    return holds_spots(whole.decode("utf-8-sig", errors="replace"))
