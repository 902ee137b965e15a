"""The bar along the top: menu, site and its saving, undo and redo by name, views, and what is kept."""

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QLabel, QMenu, QPushButton, QSizePolicy, QToolButton, QWidget

from studio.desk.icons import draw_icon, icon
from studio.desk.layouts import line
from studio.desk.session import Session
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.desk.views import VIEWS, turn_to
from studio.text import _

HEIGHT = 48
_LONGEST_STEP = 200


class ViewButton(QPushButton):
    """A view's word; the one that is shown is strong and underlined."""

    def __init__(self, theme: Theme, word: str) -> None:
        super().__init__()
        self._theme, self._word = theme, word
        self.setAccessibleName(_("View {name}").format(name=word))
        self.setCheckable(True)
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        return QSize(round(self._theme.font(15, 600).wide(self._word)) + 28, HEIGHT)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter = self._theme, QPainter(self)
        on = self.isChecked()
        painter.setFont(theme.font(15, 600 if on else 400))
        painter.setPen(theme.color("ink" if on else "ink2"))
        painter.drawText(self.rect(), Qt.AlignmentFlag.AlignCenter, self._word)
        if on:
            painter.fillRect(QRectF(14, self.height() - 3, self.width() - 28, 3), theme.color("ink"))
        if self.hasFocus():
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(QPen(theme.color("accent"), 2))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(4, 8, -4, -8), 4, 4)
        painter.end()


class StepButton(QToolButton):
    """Undo or redo, with the name of the step beside its icon."""

    def __init__(self, theme: Theme, name: str, *, with_words: bool) -> None:
        super().__init__()
        self._theme, self._name, self._with_words = theme, name, with_words
        self._words = ""
        self.setAutoRaise(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setFixedHeight(32)

    def show_step(self, label: str, action: str) -> None:
        """Show the step that a press takes back or does again; none: the button rests."""
        self._words = label if self._with_words else ""
        self.setEnabled(bool(label))
        told = f"{action}: {label}" if label else action
        self.setAccessibleName(told)
        self.setToolTip(told)
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        wide = min(self._theme.font(13).wide(self._words), _LONGEST_STEP) + 6 if self._words else 0
        return QSize(32 + round(wide), 32)

    def minimumSizeHint(self) -> QSize:
        return QSize(32, 32)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter = self._theme, QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self.underMouse() and self.isEnabled():
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.color("hair"))
            painter.drawRoundedRect(QRectF(self.rect()), 5, 5)
        ink = theme.color("ink" if self.isEnabled() else "line")
        draw_icon(painter, self._name, QRectF(6, 6, 20, 20), ink)
        if self._words and self.width() > 60:
            metrics = QFontMetricsF(theme.font(13))
            fitting = metrics.elidedText(self._words, Qt.TextElideMode.ElideRight, self.width() - 34)
            painter.setFont(theme.font(13))
            painter.setPen(ink)
            painter.drawText(QPointF(30, 16 + metrics.ascent() / 2 - 1), fitting)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(theme.color("accent"), 2))
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(1, 1, -1, -1), 5, 5)
        painter.end()


class TopBar(QWidget):
    """The bar itself. ``keep`` asks to remember the design for comparison."""

    keep = Signal()

    def __init__(self, session: Session, theme: Theme, menu: QMenu) -> None:
        super().__init__()
        self._session, self._theme = session, theme
        self.setFixedHeight(HEIGHT)
        self.menu_button = QToolButton()
        self.menu_button.setAutoRaise(True)
        self.menu_button.setAccessibleName(_("Menu"))
        self.menu_button.setToolTip(_("Menu (F10)"))
        self.menu_button.setFixedSize(36, 32)
        self.menu_button.setIconSize(QSize(20, 20))
        self.menu_button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.menu_button.clicked.connect(
            lambda: menu.popup(self.menu_button.mapToGlobal(self.menu_button.rect().bottomLeft()))
        )
        self._name, self._saved, self._kept = QLabel(), QLabel(), QLabel()
        self.undo = StepButton(theme, "undo", with_words=True)
        self.undo.clicked.connect(session.undo)
        self.redo = StepButton(theme, "redo", with_words=False)
        self.redo.clicked.connect(session.redo)
        self.keep_button = QPushButton(_("Keep"))
        self.keep_button.setToolTip(_("Remember this design; the tally shows changes against it (Ctrl+K)"))
        self.keep_button.clicked.connect(self.keep)
        self._views = {view.key: ViewButton(theme, _(view.word)) for view in VIEWS}
        for place, (key, button) in enumerate(self._views.items(), start=1):
            button.setObjectName(key)
            button.setShortcut(f"Alt+{place}")
            button.setToolTip(_("Alt+{number}").format(number=place))
            button.clicked.connect(self._turn)
        self._lay_out()
        session.changed.connect(self._hear)
        theme.changed.connect(self._colors)
        self._colors()
        self._show(session.state)

    def _turn(self) -> None:
        turn_to(self._session, self.sender().objectName())
        for key, button in self._views.items():
            button.setChecked(key == self._session.state.view)  # a click on the shown one unchecks it

    def _lay_out(self) -> None:
        """Three parts: the outer two share the room alike, so that the views stand in the middle."""
        left, middle, right = QWidget(), QWidget(), QWidget()
        first: QHBoxLayout = line(left, margins=(8, 0, 0, 0), spacing=8)
        for part in (self.menu_button, self._name, self._saved):
            first.addWidget(part)
        first.addSpacing(8)
        first.addWidget(self.undo)
        first.addWidget(self.redo)
        first.addStretch(1)
        second = line(middle)
        for button in self._views.values():
            second.addWidget(button)
        third = line(right, margins=(0, 0, 16, 0), spacing=12)
        third.addStretch(1)
        third.addWidget(self._kept)
        third.addWidget(self.keep_button)
        whole = line(self)
        whole.addWidget(left, 1)
        whole.addWidget(middle)
        whole.addWidget(right, 1)

    def _hear(self, old: State, new: State) -> None:
        if (new.document is not old.document or new.undo is not old.undo or new.redo is not old.redo
                or new.path != old.path or new.saved_clock != old.saved_clock or new.view != old.view
                or new.saved is not old.saved or new.kept_assessment is not old.kept_assessment):  # fmt: skip
            self._show(new)

    def _show(self, state: State) -> None:
        metrics = QFontMetricsF(self._theme.font(13, 600))
        self._name.setText(metrics.elidedText(state.design.site.name, Qt.TextElideMode.ElideRight, 240))
        self._name.setToolTip(str(state.path) if state.path else _("not saved to a file yet"))
        if state.unsaved:
            saved = _("not saved")
        elif state.saved_clock:
            saved = _("saved {clock}").format(clock=state.saved_clock)
        else:
            saved = "" if state.path else _("not in a file yet")
        self._saved.setText(saved)
        self.undo.show_step(state.undo[-1].label if state.undo else "", _("Undo"))
        self.redo.show_step(state.redo[-1].label if state.redo else "", _("Redo"))
        kept = state.document.kept
        self._kept.setText(_("kept {date}").format(date=kept.date) if kept else "")
        for key, button in self._views.items():
            button.setChecked(key == state.view)

    def _colors(self) -> None:
        theme = self._theme
        self.menu_button.setIcon(icon("menu", theme.color("ink"), theme.color("ink3")))
        self.keep_button.setIcon(icon("keep", theme.color("ink"), theme.color("ink3"), size=16))
        for label, size, weight, role in (
            (self._name, 13, 600, "ink"), (self._saved, 12, 400, "ink2"), (self._kept, 12, 400, "ink2"),
        ):  # fmt: skip
            label.setFont(theme.font(size, weight))
            palette = label.palette()
            palette.setColor(label.foregroundRole(), theme.color(role))
            label.setPalette(palette)
        self.keep_button.setFont(theme.font(13))

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.fillRect(self.rect(), self._theme.color("window"))
        painter.fillRect(0, self.height() - 1, self.width(), 1, self._theme.color("hair"))
        painter.end()
