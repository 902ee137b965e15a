"""The menu: files, examples, papers, looks. Every entry has its key where it has one."""

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QWidget

from studio.desk.theme import Theme, Wish
from studio.files.examples import example_names
from studio.text import _

Act = Callable[[], object]


class MainMenu(QMenu):
    """The one menu. ``acts`` are the window's deeds by name; ``recent`` and ``open_path`` fill the list of files."""

    def __init__(
        self, window: QWidget, theme: Theme, acts: dict[str, Act], *,
        recent: Callable[[], list[Path]], open_path: Callable[..., object], example: Callable[..., object],
    ) -> None:  # fmt: skip
        super().__init__(window)
        self._recent, self._open_path = recent, open_path
        self._window, self._acts = window, acts
        self._entry(_("New"), "new", QKeySequence("Ctrl+N"))
        self._entry(_("Open…"), "open", QKeySequence("Ctrl+O"))
        self._recent_menu = self.addMenu(_("Open recent"))
        self._recent_menu.aboutToShow.connect(self._fill_recent)
        examples = self.addMenu(_("Examples"))
        for name in example_names():
            examples.addAction(name.replace("_", " ").capitalize()).triggered.connect(partial(example, name))
        self.addSeparator()
        self._entry(_("Save"), "save", QKeySequence("Ctrl+S"))
        self._entry(_("Save as…"), "save_as", QKeySequence("Ctrl+Shift+S"))
        self.addSeparator()
        self._entry(_("Land from a file…"), "land", None)
        self._entry(_("Paste a table…"), "paste", QKeySequence("Ctrl+V"))
        self._entry(_("Picture from a file…"), "picture", None)
        self._entry(_("Weather from a file…"), "weather", None)
        self._entry(_("Curves of the field"), "curves", QKeySequence("Ctrl+G"))
        self._entry(_("Material list…"), "materials", QKeySequence("Ctrl+M"))
        self._entry(_("Cautions"), "cautions", None)
        self.addSeparator()
        self._looks(theme)
        self._entry(_("Left panel"), "left", QKeySequence("Ctrl+1"))
        self._entry(_("Right panel"), "right", QKeySequence("Ctrl+2"))
        self._entry(_("Sun calendar"), "calendar", QKeySequence("Ctrl+3"))
        self.addSeparator()
        self._entry(_("Close"), "close", QKeySequence("Ctrl+Q"))
        for name, keys in (("undo", "Ctrl+Z"), ("redo", "Ctrl+Shift+Z"), ("keep", "Ctrl+K"), ("menu", "F10")):
            self._key_only(name, QKeySequence(keys))

    def _entry(self, words: str, name: str, keys: QKeySequence | None) -> None:
        action = QAction(words, self._window)
        action.triggered.connect(partial(self._do, name))
        if keys is not None:
            action.setShortcut(keys)
            action.setShortcutContext(Qt.ShortcutContext.WindowShortcut)
        self._window.addAction(action)
        self.addAction(action)

    def _key_only(self, name: str, keys: QKeySequence) -> None:
        action = QAction(self._window)
        action.setShortcut(keys)
        action.triggered.connect(partial(self._do, name))
        self._window.addAction(action)

    def _do(self, name: str, _checked: bool = False) -> None:
        self._acts[name]()

    def _looks(self, theme: Theme) -> None:
        looks = self.addMenu(_("Light and dark"))
        group = QActionGroup(looks)
        wishes: tuple[tuple[Wish, str], ...] = (
            ("system", _("As the system is")),
            ("light", _("Light")),
            ("dark", _("Dark")),
        )
        for wish, words in wishes:
            action = QAction(words, group)
            action.setCheckable(True)
            action.setChecked(theme.wish == wish)
            action.triggered.connect(partial(self._wish, theme, wish))
            looks.addAction(action)

    def _wish(self, theme: Theme, wish: Wish, _checked: bool = False) -> None:
        theme.set_wish(wish)

    def _fill_recent(self) -> None:
        self._recent_menu.clear()
        paths = self._recent()
        for path in paths:
            entry = self._recent_menu.addAction(f"{path.stem}   {path.parent}")
            entry.triggered.connect(partial(self._open_path, path))
        if not paths:
            self._recent_menu.addAction(_("none yet")).setEnabled(False)
