"""The list of layers over the plan: each shown or hidden; those that hold things also locked and faded."""

from PySide6.QtCore import QRectF, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QAbstractButton, QLabel, QPushButton, QSizePolicy, QWidget

from studio.desk.icons import draw_icon
from studio.desk.layouts import column, grid, line
from studio.desk.session import Session
from studio.desk.shelf.tick_box import TickBox
from studio.desk.state import HOLDING, LAYER_NAMES, LAYERS, State
from studio.desk.theme import Theme
from studio.text import _, plural

_DEFAULT = State()


def told_layers(state: State) -> str:
    """What is out of the usual about the layers, in a few words: '2 hidden, 1 locked'; empty where nothing is."""
    hidden = len(_DEFAULT.layers - state.layers)
    parts = (
        plural("{count} hidden", "{count} hidden", hidden) if hidden else "",
        plural("{count} locked", "{count} locked", len(state.locked)) if state.locked else "",
        plural("{count} faded", "{count} faded", len(state.faded)) if state.faded else "",
    )
    return ", ".join(filter(None, parts))


class Switch(QAbstractButton):
    """A small button that stays down: an icon when it is on, a faint one when it is off."""

    def __init__(self, theme: Theme, icons: tuple[str, str], name: str, tip: str) -> None:
        super().__init__()
        self._theme, self._icons = theme, icons
        self.setCheckable(True)
        self.setFixedSize(26, 24)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.setAccessibleName(name)
        self.setToolTip(tip)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.click()
            return
        super().keyPressEvent(event)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter, on = self._theme, QPainter(self), self.isChecked()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(1, 1, -1, -1)
        if on or self.hasFocus() or self.underMouse():
            painter.setPen(
                QPen(theme.color("accent"), 2)
                if self.hasFocus()
                else QPen(theme.color("ink2" if on else "edge"), 1.2)
            )
            painter.setBrush(theme.color("view" if on else "panel"))
            painter.drawRoundedRect(box, 4, 4)
        ink = theme.color("ink" if on else "ink3")
        draw_icon(painter, self._icons[0 if on else 1], QRectF(5, 4, 16, 16), ink)
        painter.end()


class LayerPanel(QWidget):
    """Stays over the plan until Esc, Y or its button puts it away. ``closed`` when it was."""

    closed = Signal()

    def __init__(self, parent: QWidget, session: Session, theme: Theme) -> None:
        super().__init__(parent)
        self._session, self._theme = session, theme
        self.setAccessibleName(_("Layers"))
        self.shown: dict[str, TickBox] = {}
        self.locked: dict[str, Switch] = {}
        self.faded: dict[str, Switch] = {}
        whole = column(self, margins=(12, 6, 8, 8), spacing=2)
        cells = grid(spacing=0)
        cells.setColumnStretch(0, 1)
        for place, layer in enumerate(LAYERS):
            for at, part in enumerate(self._row(layer)):
                cells.addWidget(part, place, at)
        whole.addLayout(cells)
        foot = line(margins=(0, 4, 4, 0), spacing=6)
        self.as_usual = QPushButton(_("As usual"))
        self.as_usual.setFont(theme.font(12))
        self.as_usual.setToolTip(_("Show all but the grid; nothing locked, nothing faded"))
        self.as_usual.clicked.connect(
            lambda: session.update(layers=_DEFAULT.layers, locked=frozenset(), faded=frozenset())
        )
        self._hint = QLabel(_("Esc closes"))
        self._hint.setFont(theme.font(11))
        foot.addWidget(self.as_usual)
        foot.addStretch(1)
        foot.addWidget(self._hint)
        whole.addLayout(foot)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
        session.changed.connect(self._hear)
        theme.changed.connect(self._recolor)
        self._recolor()
        self._show(session.state)
        self.hide()

    def _row(self, layer: str) -> list[QAbstractButton]:
        session, theme, name = self._session, self._theme, _(LAYER_NAMES[layer])
        tick = TickBox(theme, name)
        tick.setAccessibleName(_("{layer} shown").format(layer=name))
        tick.clicked.connect(lambda _on=False: session.toggle_layer(layer))
        self.shown[layer] = tick
        if layer not in HOLDING:
            return [tick]
        lock = Switch(
            theme, ("locked", "unlocked"), _("{layer} locked").format(layer=name),
            _("Locked: seen, but no hand takes, drags or boxes it"),
        )  # fmt: skip
        lock.clicked.connect(lambda _on=False: session.toggle_lock(layer))
        fade = Switch(theme, ("faded", "faded"), _("{layer} faded").format(layer=name), _("Drawn faintly"))
        fade.clicked.connect(lambda _on=False: session.toggle_fade(layer))
        self.locked[layer], self.faded[layer] = lock, fade
        return [tick, lock, fade]

    def sizeHint(self) -> QSize:
        return QSize(max(236, super().sizeHint().width()), super().sizeHint().height())

    def open(self) -> None:
        """Show the list and take the keyboard."""
        self.adjustSize()
        self.show()
        self.raise_()
        self.shown[LAYERS[0]].setFocus(Qt.FocusReason.PopupFocusReason)

    def put_away(self) -> None:
        """Hide it."""
        if self.isVisible():
            self.hide()
            self.closed.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Escape, Qt.Key.Key_Y):
            self.put_away()
        elif event.key() in (Qt.Key.Key_Down, Qt.Key.Key_Up):
            self.focusNextPrevChild(event.key() == Qt.Key.Key_Down)
        else:
            super().keyPressEvent(event)

    def _hear(self, old: State, new: State) -> None:
        if (new.layers, new.locked, new.faded) != (old.layers, old.locked, old.faded):
            self._show(new)

    def _show(self, state: State) -> None:
        for parts, on in ((self.shown, state.layers), (self.locked, state.locked), (self.faded, state.faded)):
            for layer, part in parts.items():
                part.setChecked(layer in on)

    def _recolor(self) -> None:
        palette = self._hint.palette()
        palette.setColor(self._hint.foregroundRole(), self._theme.color("ink2"))
        self._hint.setPalette(palette)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(self._theme.color("edge"), 1))
        painter.setBrush(self._theme.color("panel"))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 6, 6)
        painter.end()
