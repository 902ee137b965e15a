"""What unfolds below the selected mirror: its reasons one by one, where it differs, what a square metre costs, what can be done."""

from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QWidget

from studio.desk.layouts import column, line
from studio.desk.painted import RAIL, arrow, draw_finding, rail
from studio.desk.shelf.model import FIELD, Entry
from studio.desk.shelf.words import Words
from studio.desk.theme import Theme
from studio.study.ranking import Ranked, Reason
from studio.text import _, number

_MARK = 18
_LONGEST_NAME = 60


class _Mark(QWidget):
    """The sign before a reason: a filled arrow for what is better, a hollow one for what is worse, the stop's octagon."""

    def __init__(self, theme: Theme, reason: Reason | None, *, stale: bool) -> None:
        super().__init__()
        self._theme, self._reason, self._stale = theme, reason, stale
        self.setFixedSize(_MARK, 18)

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        middle = QPointF(_MARK / 2 - 2, self.height() / 2)
        if self._reason is None:
            draw_finding(painter, "stop", 0, middle, self._theme, stale=self._stale, radius=6.0)
        else:
            less = self._reason.value < self._reason.present  # of a loss or of money: less is better
            color = self._theme.color("ink3" if self._stale else "better" if less else "worse")
            arrow(painter, middle, up=not less, filled=less, color=color)
        painter.end()


class NameEdit(QLineEdit):
    """A mirror's new name: Enter takes it, Esc leaves it."""

    left_alone = Signal()

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self.setFont(theme.font(13))
        self.setMaxLength(_LONGEST_NAME)
        self.setFixedHeight(28)
        self.setAccessibleName(_("Name on the shelf"))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left_alone.emit()
            return
        super().keyPressEvent(event)


class Details(QWidget):
    """Unfolds below one row."""

    build = Signal()
    rename = Signal(str)
    take_off = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._stale = False
        self.entry: Entry | None = None
        self._shown: tuple[object, ...] = ()
        self._body = column(self, spacing=3)
        self.build_button = self._button(_("Build the field of it"), self.build)
        self.rename_button = QPushButton(_("Rename"))
        self.rename_button.clicked.connect(self._begin_name)
        self.take_button = self._button(_("Take off the shelf"), self.take_off)
        self.name = NameEdit(theme)
        self.name.setFixedWidth(220)
        self.name.returnPressed.connect(self._end_name)
        self.name.left_alone.connect(self._leave_name)
        self.name.hide()
        self._lines: list[QWidget] = []
        self._buttons = QWidget()
        row = line(self._buttons, margins=(0, 6, 0, 4), spacing=8)
        for part in (self.build_button, self.rename_button, self.name, self.take_button):
            row.addWidget(part)
        row.addStretch(1)
        self._body.addWidget(self._buttons)
        theme.changed.connect(self.update)

    def _button(self, words: str, does: object) -> QPushButton:
        button = QPushButton(words)
        button.clicked.connect(does)
        return button

    def show_entry(
        self, entry: Entry, differences: tuple[str, ...], currency: str, *, left: float, stale: bool
    ) -> None:
        """Show all of a mirror; ``left`` is where its words begin."""
        shown = (entry, differences, currency, left, stale)
        if shown == self._shown:
            return
        self._shown = shown
        if self.entry is None or self.entry.place != entry.place:
            self._leave_name()
        self.entry, self._stale = entry, stale
        self._body.setContentsMargins(round(left), 2, 16, 6)
        for part in self._lines:
            self._body.removeWidget(part)
            part.hide()
            part.deleteLater()
        self._lines = list(self._told(entry, differences, currency))
        for at, part in enumerate(self._lines):
            self._body.insertWidget(at, part)
            part.show()
        self._buttons.setVisible(entry.place != FIELD)
        self.setAccessibleName(_("More of {name}").format(name=entry.label))
        self.update()

    def stops(self) -> list[QWidget]:
        """What Tab goes through."""
        return [self.build_button, self.rename_button, self.name, self.take_button]

    def _told(self, entry: Entry, differences: tuple[str, ...], currency: str) -> list[QWidget]:
        theme, ranked = self._theme, entry.ranked
        role = "ink3" if self._stale else "ink"
        lines: list[QWidget] = []
        if ranked is not None:
            lines += [
                self._marked(None, stop, "ink") for stop in (*ranked.stops, *filter(None, [ranked.cannot]))
            ]
            lines += [
                self._marked(reason, reason.sentence[:1].upper() + reason.sentence[1:] + ".", role)
                for reason in ranked.reasons
            ]
        if entry.place == FIELD:
            lines.append(
                Words(
                    theme,
                    _("What the field is built of now; the others' reasons compare with it."),
                    role="ink2",
                )
            )
        elif differences:
            told = _("Differs in: {differences}.").format(differences="; ".join(differences))
            lines.append(Words(theme, told, size=12, role="ink2"))
        else:
            lines.append(Words(theme, _("The field is built of this mirror now."), size=12, role="ink2"))
        if ranked is not None and ranked.cost_parts:
            lines.append(
                Words(theme, _costs(ranked, currency), size=12, role="ink3" if self._stale else "ink2")
            )
        return lines

    def _marked(self, reason: Reason | None, sentence: str, role: str) -> QWidget:
        part = QWidget()
        row: QHBoxLayout = line(part)
        row.addWidget(_Mark(self._theme, reason, stale=self._stale), 0, Qt.AlignmentFlag.AlignTop)
        row.addWidget(Words(self._theme, sentence, role=role), 1)
        return part

    # what a hand does ------------------------------------------------------------------------------------------

    def _begin_name(self) -> None:
        assert self.entry is not None
        self.name.setText(self.entry.label)
        self.rename_button.hide()
        self.name.show()
        self.name.setFocus()
        self.name.selectAll()

    def _end_name(self) -> None:
        self.rename.emit(self.name.text())
        self._leave_name()

    def _leave_name(self) -> None:
        had = self.name.hasFocus()
        self.name.hide()
        self.rename_button.show()
        if had:
            self.rename_button.setFocus()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter, theme = QPainter(self), self._theme
        painter.fillRect(self.rect(), theme.color("wash"))
        painter.fillRect(self.width() - 3, 0, 3, self.height(), theme.color("accent"))
        painter.fillRect(0, self.height() - 1, self.width(), 1, theme.color("hair"))
        if self._stale:
            painter.save()
            painter.setClipRect(0, 0, RAIL, self.height())
            rail(painter, self.height(), theme)
            painter.restore()
        painter.end()


def _costs(ranked: Ranked, currency: str) -> str:
    parts = "; ".join(f"{label} {number(value, digits=1)}" for label, value in ranked.cost_parts)
    return _("A m2 of aperture costs {all} {currency}: {parts}.").format(
        all=number(ranked.cost_per_m2, digits=1), currency=currency, parts=parts
    )
