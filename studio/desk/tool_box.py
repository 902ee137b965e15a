"""The tools of the view: line icons with a word, the chosen one framed."""

from PySide6.QtCore import QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QButtonGroup, QSizePolicy, QWidget

from studio.desk.icons import draw_icon
from studio.desk.layouts import grid
from studio.desk.painted import draw_text
from studio.desk.session import Session
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.desk.views import Tool, view_of
from studio.text import _

_ACROSS = 4


class ToolButton(QAbstractButton):
    """One tool."""

    def __init__(self, theme: Theme, tool: Tool) -> None:
        super().__init__()
        self._theme, self.tool = theme, tool
        self.setCheckable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(_("Tool {name}").format(name=_(tool.word)))
        self.setToolTip(f"{_(tool.hint)} ({tool.letter})")

    def sizeHint(self) -> QSize:
        return QSize(60, 48)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter = self._theme, QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5)
        on = self.isChecked()
        if on:
            painter.setPen(QPen(theme.color("accent"), 1.5))
            painter.setBrush(theme.color("wash"))
            painter.drawRoundedRect(box, 6, 6)
        elif self.underMouse():
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.color("window"))
            painter.drawRoundedRect(box, 6, 6)
        ink = theme.color("accent" if on else "ink")
        draw_icon(painter, self.tool.key, QRectF(self.width() / 2 - 10, 6, 20, 20), ink)
        words = QRectF(0, 28, self.width(), 16)
        draw_text(painter, words, _(self.tool.word), theme.font(11, 600 if on else 400), ink, "middle")
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(theme.color("accent"), 2))
            painter.drawRoundedRect(box.adjusted(1, 1, -1, -1), 5, 5)
        painter.end()


class ToolBox(QWidget):
    """The tools of the view that is shown; away where it has none."""

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__()
        self._session, self._theme = session, theme
        self.setAccessibleName(_("Tools"))
        self._cells = grid(self, margins=(8, 8, 8, 8), spacing=2)
        self._group = QButtonGroup(self)
        self.buttons: dict[str, ToolButton] = {}
        session.changed.connect(self._hear)
        theme.changed.connect(self.update)
        self._build(session.state)

    def _build(self, state: State) -> None:
        for button in self.buttons.values():
            self._group.removeButton(button)
            self._cells.removeWidget(button)
            button.hide()
            button.deleteLater()
        self.buttons = {}
        for place, tool in enumerate(view_of(state.view).tools):
            button = ToolButton(self._theme, tool)
            button.setObjectName(tool.key)
            button.clicked.connect(self._take)
            self._group.addButton(button)
            self.buttons[tool.key] = button
            self._cells.addWidget(button, *divmod(place, _ACROSS))
        self.setVisible(bool(self.buttons))
        self._show(state)

    def _take(self) -> None:
        self._session.take_tool(self.sender().objectName())
        self._show(self._session.state)  # a tool of a locked layer is not taken

    def _hear(self, old: State, new: State) -> None:
        if new.view != old.view:
            self._build(new)
        elif new.tool != old.tool:
            self._show(new)

    def _show(self, state: State) -> None:
        if state.tool in self.buttons:
            self.buttons[state.tool].setChecked(True)
