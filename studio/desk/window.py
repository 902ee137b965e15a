"""The window: left what you decide, middle what it looks like, right what it brings, below when."""

from collections.abc import Callable
from datetime import date
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QSettings, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QMainWindow,
    QMessageBox,
    QSplitter,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from studio.desk.bars import Bars
from studio.desk.calendar import HEAD_HEIGHT, Calendar
from studio.desk.curves.host import CurvesHost
from studio.desk.dropped import DropKind, dropped
from studio.desk.edge import Edge
from studio.desk.files import FileDesk, file_name_of
from studio.desk.freshness import Freshness
from studio.desk.layer_memory import LayerMemory
from studio.desk.layouts import column, line
from studio.desk.menu import MainMenu
from studio.desk.overlays import Overlays
from studio.desk.picture_import import PictureImport
from studio.desk.plan.plant_form import PlantForm
from studio.desk.session import Session
from studio.desk.sheet import Sheet
from studio.desk.state import State
from studio.desk.tally import Tally
from studio.desk.theme import Theme
from studio.desk.tool_box import ToolBox
from studio.desk.top_bar import TopBar
from studio.desk.views import Fits, Sees, Shuts, turn_to, view_of
from studio.desk.weather_import import SUFFIXES, WeatherImport
from studio.desk.worker import Assesses, Worker
from studio.files.site import ENDING
from studio.text import _

if TYPE_CHECKING:
    from studio.desk.land_in.arrivals import Arrivals

WIDE, NARROW = (288, 328), (272, 296)
"""Widths of the left and the right panel, and where the window is narrower than ``_NARROW_BELOW``."""
_NARROW_BELOW = 1440
CALENDAR_HEIGHT = 224
_CALENDAR_LOW = 172
_LAND_WIDTH = 520


class Window(QMainWindow):
    """The desk's one window. ``make`` builds the assessor, on the worker's thread."""

    def __init__(
        self, session: Session, theme: Theme, make: Callable[[], Assesses], settings: QSettings, *,
        state_folder: Path | None = None,
    ) -> None:  # fmt: skip
        super().__init__()
        self.session, self.theme = session, theme
        self.setAcceptDrops(True)
        self.setMinimumSize(960, 600)
        freshness = Freshness(session, self)
        self.bars = Bars(theme)
        self.files = FileDesk(session, self.bars, settings, state_folder=state_folder)
        self.files.wants_copy.connect(self._save_copy)
        self.weather = WeatherImport(session, self.bars)
        self.pictures = PictureImport(session, self.bars, self._sight)
        LayerMemory(session, settings, self)
        self.worker = Worker(session, make)
        self.worker.crashed.connect(self._tell_crash)
        menu = MainMenu(
            self,
            theme,
            self._acts(),
            recent=self.files.recent,
            open_path=self._open_path,
            example=self._open_example,
        )
        self.top = TopBar(session, theme, menu)
        self.top.keep.connect(self._keep)
        self.left, self.right = QWidget(), QWidget()
        self.tally = Tally(session, theme, freshness)
        self.tools, self.planting = ToolBox(session, theme), PlantForm(session, theme)
        self.sheet = Sheet(session, theme)
        self.curves = CurvesHost(session, theme, self.left, self.right)
        self.calendar = Calendar(session, theme, freshness)
        self._views: dict[str, QWidget] = {}
        self._stack = QStackedWidget()
        self._show_view(session.state.view)
        self._lay_out()
        self.overlays = Overlays(self._body, self.left, self.right, self.bars, session, theme)
        self._connect()
        session.changed.connect(self._hear)
        theme.changed.connect(self._repaint)
        self._title(session.state)

    def _acts(self) -> dict[str, Callable[[], object]]:
        return {
            "new": self._new, "open": self._open, "save": self.save, "save_as": self._save_as,
            "weather": self._ask_weather, "land": lambda: self.arrivals.ask(self._folder()),
            "paste": lambda: self.arrivals.open_pasted(), "materials": lambda: self.overlays.materials.open_list(),
            "picture": lambda: self.pictures.ask(self, self._folder()),
            "cautions": lambda: self.overlays.cautions.open_all(), "curves": lambda: self.curves.toggle(), "close": self.close,
            "undo": self.session.undo, "redo": self.session.redo, "keep": self._keep,
            "menu": lambda: self.top.menu_button.click(),
            "left": lambda: self.left.setVisible(not self.left.isVisible()),
            "right": lambda: self.right.setVisible(not self.right.isVisible()),
            "calendar": self._fold_calendar,
        }  # fmt: skip

    def _lay_out(self) -> None:
        left = column(self.left)
        left.addWidget(self.tools)
        left.addWidget(self.planting)
        left.addWidget(self.sheet, 1)
        column(self.right).addWidget(self.tally)
        middle = QWidget()
        stack = column(middle)
        stack.addWidget(self.bars)
        self._split = QSplitter(Qt.Orientation.Vertical)
        self._split.setHandleWidth(1)
        self._split.setChildrenCollapsible(False)
        self._split.addWidget(self._stack)
        self._split.addWidget(self.calendar)
        self._split.setStretchFactor(0, 1)
        self._split.setStretchFactor(1, 0)
        stack.addWidget(self._split, 1)
        self._body = QWidget()
        body = line(self._body)
        for part, stretch in (
            (self.left, 0),
            (Edge(self.theme), 0),
            (middle, 1),
            (self.curves, 0),
            (Edge(self.theme), 0),
            (self.right, 0),
        ):
            body.addWidget(part, stretch)
        whole = QWidget()
        rows: QVBoxLayout = column(whole)
        rows.addWidget(self.top)
        rows.addWidget(self._body, 1)
        self.setCentralWidget(whole)

    def _connect(self) -> None:
        self.tally.explain.connect(self.overlays.explain_figure)
        self.tally.cautions.connect(lambda: self.overlays.cautions.open_all())
        self.tally.stop.connect(self.worker.stop)
        self.overlays.reveal.connect(self._reveal)
        self.overlays.wants_folder.connect(self._ask_folder)
        self.curves.opened.connect(lambda: QTimer.singleShot(0, self._fit))  # once it has its new width
        self.curves.crashed.connect(self._tell_crash)

    @cached_property
    def arrivals(self) -> "Arrivals":
        """The pages of land, heights and pasted tables, made when the first one is asked for."""
        from studio.desk.land_in.arrivals import Arrivals

        made = Arrivals(self._body, self.session, self.theme)
        made.opens.connect(self.overlays.put_away)
        made.taken.connect(self._show_land)
        for page in made.pages:
            self.overlays.add(page, _LAND_WIDTH)
        return made

    def start(self, path: Path | None) -> None:
        """Open what is to be opened and begin to work it out."""
        self.files.start(path)
        self.view.setFocus()
        QTimer.singleShot(0, self.worker.start)  # a process is started: the plan is painted first

    # what changes ----------------------------------------------------------------------------------------------

    def _hear(self, old: State, new: State) -> None:
        if new.view != old.view:
            self._show_view(new.view)
        if new.notice and new.notice != old.notice:
            self.bars.tell("notice", new.notice)
            QTimer.singleShot(0, lambda: self.session.update(notice=""))  # the same refusal may come again
        elif new.design is not old.design:
            self.bars.away("notice")
        if new.document is not old.document or new.path != old.path or new.saved is not old.saved:
            self._title(new)

    @property
    def view(self) -> QWidget:
        """The view that is shown."""
        return self._views[self.session.state.view]

    def _sight(self) -> tuple[float, float, float, float]:
        view = self._views["plan"]
        assert isinstance(view, Sees)
        return view.sight

    def _show_view(self, key: str) -> None:
        """Show a view; it is made when it is first asked for."""
        if key not in self._views:
            self._views[key] = view_of(key).make(self.session, self.theme)
            self._stack.addWidget(self._views[key])
        self._stack.setCurrentWidget(self._views[key])

    def _title(self, state: State) -> None:
        self.setWindowTitle(f"{state.design.site.name}[*] – Stillfield")
        self.setWindowModified(state.unsaved)

    def _repaint(self) -> None:
        for part in self.findChildren(QWidget):
            part.update()

    def _tell_crash(self, error: Exception) -> None:
        from studio.desk.crash import report

        where = report(error)
        text = _("Working out the design failed through a fault of the program; the design is safe.")
        self.bars.tell(
            "crash",
            f"{text} {_('A report without names and paths is at {path}.').format(path=where)}"
            if where
            else text,
        )

    # panels ----------------------------------------------------------------------------------------------------

    def _reveal(self, section: str) -> None:
        self.left.show()
        if not self.sheet.reveal(section):
            turn_to(self.session, "plan")
            self.sheet.reveal(section)

    def _fold_calendar(self) -> None:
        picture = self.calendar.picture
        picture.setVisible(not picture.isVisible())
        self._size_calendar()

    def _size_calendar(self) -> None:
        folded = self.calendar.picture.isHidden()
        high = HEAD_HEIGHT if folded else CALENDAR_HEIGHT if self.height() >= 860 else _CALENDAR_LOW
        self.calendar.setMinimumHeight(HEAD_HEIGHT if folded else _CALENDAR_LOW - 30)
        self.calendar.setMaximumHeight(HEAD_HEIGHT if folded else 16_777_215)
        self._split.setSizes([max(100, self._split.height() - high), high])

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        left, right = NARROW if self.width() < _NARROW_BELOW else WIDE
        self.left.setFixedWidth(left)
        self.right.setFixedWidth(right)
        self._size_calendar()
        self.curves.make_room()
        self.overlays.place()

    # files -----------------------------------------------------------------------------------------------------

    def _new(self) -> None:
        if self._may_leave():
            self.files.new()

    def _open(self) -> None:
        name, _kind = QFileDialog.getOpenFileName(
            self, _("Open"), self._folder(), _("Stillfield sites (*{ending})").format(ending=ENDING)
        )
        if name:
            self._open_path(Path(name))

    def _open_path(self, path: Path, _checked: bool = False) -> None:
        if self._may_leave():
            self.files.open(path)

    def _open_example(self, name: str, _checked: bool = False) -> None:
        if self._may_leave():
            self.files.open_example(name)

    def save(self) -> bool:
        """Save; under a new name when there is none yet. Whether it was."""
        return self.files.save() if self.session.state.path else self._save_as()

    def _save_as(self) -> bool:
        path = self._ask_path(_("Save as"))
        return path is not None and self.files.save(path, overwrite=True)

    def _save_copy(self) -> None:
        path = self._ask_path(_("Save a copy"))
        if path is not None:
            self.files.save_copy(path)

    def _ask_path(self, title: str) -> Path | None:
        state = self.session.state
        proposed = Path(self._folder()) / f"{file_name_of(state.design.site.name)}{ENDING}"
        name, _kind = QFileDialog.getSaveFileName(
            self, title, str(state.path or proposed), _("Stillfield sites (*{ending})").format(ending=ENDING)
        )
        if not name:
            return None
        return Path(name) if name.endswith(ENDING) else Path(name + ENDING)

    def _ask_weather(self) -> None:
        kinds = " ".join(f"*{suffix}" for suffix in SUFFIXES)
        name, _kind = QFileDialog.getOpenFileName(
            self, _("Weather from a file"), self._folder(), f"{_('Weather files')} ({kinds})"
        )
        if name:
            self.weather.take(Path(name))

    def _show_land(self) -> None:
        """The land that was taken, whole, on the plan."""
        turn_to(self.session, "plan")
        self._fit()
        self.view.setFocus()

    def _fit(self) -> None:
        if isinstance(self.view, Fits):
            self.view.fit()

    def _ask_folder(self) -> None:
        name = QFileDialog.getExistingDirectory(self, _("Folder for the material list"), self._folder())
        if not name:
            return
        there = [
            path.name for path in Path(name).glob("materials.*") if path.suffix in (".xlsx", ".csv", ".pdf")
        ]
        if not there or self._agree(
            _("{names} are there already. Write over them?").format(names=", ".join(there))
        ):
            self.overlays.materials.write(Path(name), overwrite=bool(there))

    def _agree(self, question: str) -> bool:
        buttons = QMessageBox.StandardButton
        return QMessageBox.question(self, "Stillfield", question, buttons.Yes | buttons.No) == buttons.Yes

    def _folder(self) -> str:
        path = self.session.state.path
        return str(path.parent if path else Path.home())

    def _may_leave(self) -> bool:
        """Whether the open design may go: saved, or the person said so."""
        if not self.session.state.unsaved:
            return True
        buttons = QMessageBox.StandardButton
        answer = QMessageBox.question(
            self, "Stillfield",
            _("{name} has changes that are not saved.").format(name=self.session.state.design.site.name),
            buttons.Save | buttons.Discard | buttons.Cancel, buttons.Save,
        )  # fmt: skip
        return self.save() if answer == buttons.Save else answer == buttons.Discard

    def _keep(self) -> None:
        self.session.keep(date.today().isoformat())

    # the window's own events -----------------------------------------------------------------------------------

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self._may_leave():
            event.ignore()
            return
        self.worker.close()
        self.curves.shut()
        for view in self._views.values():
            if isinstance(view, Shuts):
                view.shut()
        self.files.close(discard=True)
        event.accept()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape and self.session.state.progress is not None:
            self.worker.stop()
            return
        super().keyPressEvent(event)

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if dropped(event.mimeData().urls()) is not None:
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        found = dropped(event.mimeData().urls())
        if found is None:
            return
        event.acceptProposedAction()
        path, kind = found
        takes: dict[DropKind, Callable[[Path], None]] = {
            "site": self._open_path, "land": lambda land: self.arrivals.open(land), "weather": self.weather.take,
            "picture": self.pictures.take,
        }  # fmt: skip
        takes[kind](path)
