"""A group of the sheet that folds: its head, and its fields, which are made when they are first asked for."""

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtWidgets import QWidget

from studio.desk.edge import Edge
from studio.desk.field_editor import FieldEditor
from studio.desk.layouts import column
from studio.desk.session import Session
from studio.desk.sheet_parts import Group
from studio.desk.tally_rows import TextRow
from studio.desk.theme import Theme


class GroupBox(QWidget):
    """A group that folds. Its fields are made when it is first unfolded."""

    folded = Signal(str, bool)

    def __init__(
        self, session: Session, theme: Theme, group: Group, *, folded: bool, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._session, self._theme, self.group = session, theme, group
        self._editors: list[FieldEditor] = []
        self._is_folded = folded
        self._head = TextRow(theme, 30, indent=16 if group.under else 0)
        self._head.clicked.connect(lambda: self.fold(not self._is_folded))
        self._body = QWidget()
        self._stack = column(self._body, margins=(0, 0, 0, 8))
        whole = column(self)
        whole.addWidget(Edge(theme, lying=True))
        whole.addWidget(self._head)
        whole.addWidget(self._body)
        self.fold(folded)

    @property
    def is_folded(self) -> bool:
        """Whether it is folded."""
        return self._is_folded

    def fold(self, folded: bool) -> None:
        """Fold or unfold."""
        if not folded:
            self.fill(len(self.group.bounds))
        changed = folded != self._is_folded
        self._is_folded = folded
        self._body.setVisible(not folded)
        self.refresh()
        if changed:
            self.folded.emit(self.group.key, folded)

    def fill(self, most: int) -> bool:
        """Make some of the fields that are not there yet; whether there were any."""
        missing = self.group.bounds[len(self._editors) :][:most]
        for bound in missing:
            editor = FieldEditor(self._session, self._theme, bound)
            self._editors.append(editor)
            self._stack.addWidget(editor)
        return bool(missing)

    def show_again(self, *, folded: bool) -> None:
        """After a while away: without what was half typed then."""
        for editor in self._editors:
            editor.forget()
        with QSignalBlocker(self):  # no hand folds it
            self.fold(folded)

    def refresh(self) -> None:
        """Show the design's values."""
        brief = self.group.brief(self._session.state.shown)
        self._head.show_text(self.group.title, brief, strong=True, folded=self._is_folded)
        if not self._is_folded:
            for editor in self._editors:
                editor.refresh()
