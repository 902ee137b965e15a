"""Where a figure comes from: its rule, the figures it is made of with their values, down to inputs that are edited in place."""

from dataclasses import dataclass

from PySide6.QtCore import QRectF, Signal
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from studio.desk.cautions import caution_for
from studio.desk.field_editor import FieldEditor
from studio.desk.icons import draw_icon
from studio.desk.overlay import Overlay, told
from studio.desk.painted import Row, draw_text
from studio.desk.session import Session
from studio.desk.sheet_groups import section_title
from studio.desk.sheet_parts import bound_in
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.errors import StillfieldError
from studio.study.figures import FIGURES, shown, unit_of
from studio.text import _, number, pretty

_INDENT = 18
_DEEPEST = 6


@dataclass(frozen=True)
class Source:
    """A row of the explanation: a figure, a step of the staircase, or an input."""

    key: str
    depth: int


class SourceRow(Row):
    """A figure or step on the way down: label, value, unit; a figure unfolds into what it comes from."""

    def __init__(self, theme: Theme, source: Source) -> None:
        super().__init__(theme, 26)
        self.source = source
        self._label = self._value = self._unit = ""
        self._folded: bool | None = None

    def show_source(self, label: str, value: str, unit: str, *, folded: bool | None) -> None:
        """Show it; ``folded`` None where there is nothing below."""
        self._label, self._value, self._unit, self._folded = (
            label[:1].upper() + label[1:],
            value,
            unit,
            folded,
        )
        self.setEnabled(folded is not None)
        state = {True: _("folded"), False: _("unfolded"), None: ""}[folded]
        self.setAccessibleName(
            ", ".join(part for part in (f"{label}: {value} {unit}".strip(), state) if part)
        )
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        theme = self.theme
        left = 16.0 + _INDENT * self.source.depth
        if self._folded is not None:
            name = "folded" if self._folded else "open"
            draw_icon(painter, name, QRectF(left - 2, box.center().y() - 8, 16, 16), theme.color("ink2"))
        font = theme.font(13, 600)
        unit_left = box.width() - 96
        wide = font.wide(self._value)
        draw_text(
            painter,
            QRectF(unit_left - 6 - wide, 0, wide + 1, box.height()),
            self._value,
            font,
            theme.color("ink"),
        )
        draw_text(
            painter, QRectF(unit_left, 0, 84, box.height()), self._unit, theme.font(12), theme.color("ink2")
        )
        room = QRectF(left + 16, 0, unit_left - 14 - wide - left - 16, box.height())
        draw_text(painter, room, self._label, theme.font(13), theme.color("ink2"))


class Explain(Overlay):
    """The panel of explanations. ``reveal`` asks the sheet to show a group of inputs."""

    reveal = Signal(str)

    def __init__(self, parent: QWidget, session: Session, theme: Theme) -> None:
        super().__init__(parent, theme)
        self._session = session
        self._key = ""
        self._open: set[tuple[str, ...]] = set()
        self._rows: list[SourceRow] = []
        self._editors: list[FieldEditor] = []
        self._headline = told("", theme)
        session.changed.connect(self._hear)

    def explain(self, key: str) -> None:
        """Show where a figure comes from."""
        figure = FIGURES[key]
        self._key = key
        self._open = {(key,)}
        self._build()
        label = _(figure.label)
        self.show_titled(label[:1].upper() + label[1:])

    def _hear(self, old: State, new: State) -> None:
        if not self.isVisible():
            return
        if new.assessment is not old.assessment or new.shown is not old.shown:
            self._fill()

    # built as a tree, shown as rows ----------------------------------------------------------------------------

    def _build(self) -> None:
        self.empty()
        self._rows, self._editors = [], []
        figure = FIGURES[self._key]
        self._headline = told("", self.theme, size=24, weight=600)
        self.body.addWidget(self._headline)
        self.body.addWidget(told(_(figure.means) + ".", self.theme))
        self.body.addWidget(told(_(figure.how), self.theme, size=12, role="ink2"))
        self._add_below((self._key,), 0)
        for sentence in caution_for(self._key):
            self.body.addSpacing(6)
            self.body.addWidget(told(sentence, self.theme, size=12))
        self.body.addStretch(1)
        self._fill()

    def _add_below(self, trail: tuple[str, ...], depth: int) -> None:
        for key in FIGURES[trail[-1]].comes_from:
            here = (*trail, key)
            if key in FIGURES or key.startswith("step:"):
                row = SourceRow(self.theme, Source(key, depth))
                row.clicked.connect(lambda _checked=False, here=here: self._toggle(here))
                row.setProperty("trail", list(here))
                self._rows.append(row)
                self.body.addWidget(row)
                if here in self._open and depth < _DEEPEST and key in FIGURES:
                    self.body.addWidget(self._rule_of(key, depth + 1))
                    self._add_below(here, depth + 1)
            else:
                self._add_input(key, depth)

    def _rule_of(self, key: str, depth: int) -> QWidget:
        label = told(_(FIGURES[key].how), self.theme, size=12, role="ink2")
        label.setContentsMargins(32 + _INDENT * (depth - 1), 0, 16, 4)
        return label

    def _add_input(self, path: str, depth: int) -> None:
        try:
            editor = FieldEditor(self._session, self.theme, bound_in(self._session.state.design, path))
        except StillfieldError:
            self._add_group(path, depth)
            return
        margins = editor.contentsMargins()
        editor.setContentsMargins(
            margins.left() + _INDENT * depth, margins.top(), margins.right(), margins.bottom()
        )
        self._editors.append(editor)
        self.body.addWidget(editor)

    def _add_group(self, path: str, depth: int) -> None:
        """Inputs that are drawn, or many: say where they are, and go there."""
        section = path.partition(".")[0]
        row = SourceRow(self.theme, Source(path, depth))
        row.show_source(section_title(path), _("in the sheet"), "", folded=True)
        row.clicked.connect(lambda: self.reveal.emit(section))
        self.body.addWidget(row)

    def _toggle(self, trail: tuple[str, ...]) -> None:
        self._open ^= {trail}
        self._build()
        for row in self._rows:
            if tuple(row.property("trail")) == trail:
                row.setFocus()
        self.fit_later()

    def _fill(self) -> None:
        state = self._session.state
        assessment = state.assessment
        currency = state.shown.prices.currency
        figure = FIGURES[self._key]
        value = assessment.figures.get(self._key) if assessment else None
        self._headline.setText(f"{shown(figure, value)} {pretty(unit_of(figure, currency))}")
        for row in self._rows:
            key, trail = row.source.key, tuple(row.property("trail"))
            if key.startswith("step:"):
                self._fill_step(row, key.removeprefix("step:"))
                continue
            below = FIGURES[key]
            amount = assessment.figures.get(key) if assessment else None
            folded = (trail not in self._open) if below.comes_from else None
            row.show_source(
                _(below.label), shown(below, amount), pretty(unit_of(below, currency)), folded=folded
            )
        for editor in self._editors:
            editor.refresh()

    def _fill_step(self, row: SourceRow, key: str) -> None:
        assessment = self._session.state.assessment
        step = next((step for step in assessment.staircase if step.key == key), None) if assessment else None
        if step is None:
            row.show_source(key.replace("_", " "), number(None), "", folded=None)
        else:
            row.show_source(step.label, number(step.kwh / 1000.0), "MWh", folded=None)
