"""A field that a search may vary: a tick, its value now, and its bounds as they are typed."""

from contextlib import suppress

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QLineEdit, QWidget

from studio.design.design import Design
from studio.design.fields import Count, Quantity
from studio.design.paths import FieldAt, with_unit
from studio.desk.field_text import typed_form
from studio.desk.layouts import line
from studio.desk.shelf.tick_box import TickBox
from studio.desk.shelf.words import Words
from studio.desk.theme import Theme
from studio.errors import StillfieldError
from studio.numbers_in import read_number
from studio.study.ranges import Range, ranged_field
from studio.text import _

_AROUND = {"mirror.tilt_deg": 20.0, "mirror.facing_deg": 45.0, "mirror.ribs": 4.0}
"""So far to each side of the present value a search goes unless told otherwise."""
_LEAST_SHARE, _MOST_SHARE = 0.6, 1.6
"""The same for lengths, as shares of the present value."""
_NARROW_EDIT_PX, _ROOMY_EDIT_PX = 62, 84
_ROOMY_PX = 400


def usual_bounds(path: str, declaration: Quantity | Count, value: float) -> tuple[float, float]:
    """Bounds to begin with, around the present value and within the field's limits."""
    around = _AROUND.get(path)
    low, high = (
        (value - around, value + around)
        if around is not None
        else (_LEAST_SHARE * value, _MOST_SHARE * value)
    )
    digits = declaration.digits if isinstance(declaration, Quantity) else 0
    low = max(round(low, digits), declaration.low)
    high = min(round(high, digits), declaration.high)
    return (low, high) if low < high else (declaration.low, declaration.high)


class RangeRow(QWidget):
    """A field that may be varied: a tick, its value now, and once ticked its bounds."""

    toggled = Signal()

    def __init__(self, theme: Theme, field: FieldAt) -> None:
        super().__init__()
        self.path = field.path
        assert isinstance(field.declaration, Quantity | Count)
        self._declaration: Quantity | Count = field.declaration
        self._typed = False
        name = _(field.declaration.label)
        self.tick = TickBox(theme, name[:1].upper() + name[1:])
        self.tick.setAccessibleName(_("Vary {name}").format(name=name))
        self.tick.toggled.connect(self._toggle)
        self.now = Words(theme, size=12, role="ink2", wraps=False)
        self.low, self.high = (self._edit(theme, word, name) for word in (_("from"), _("to")))
        self._to = Words(theme, "–", size=12, role="ink2", wraps=False)
        self.setFixedHeight(30)
        row = line(self, spacing=5)
        row.addWidget(self.tick, 1)
        row.addWidget(self.now)
        for part in (self.low, self._to, self.high):
            policy = part.sizePolicy()
            policy.setRetainSizeWhenHidden(True)
            part.setSizePolicy(policy)
            row.addWidget(part)
            part.hide()

    def _edit(self, theme: Theme, word: str, name: str) -> QLineEdit:
        edit = QLineEdit()
        edit.setFont(theme.font(13))
        edit.setFixedHeight(26)
        edit.setAlignment(Qt.AlignmentFlag.AlignRight)
        edit.setAccessibleName(
            _("{name}, {word} {unit}").format(name=name, word=word, unit=_(self._declaration.unit)).strip()
        )
        edit.textEdited.connect(self._clear)
        edit.editingFinished.connect(self._settle)
        return edit

    def refresh(self, design: Design) -> None:
        """Show the design's value; bounds follow it until they are ticked or typed."""
        part, _dot, name = self.path.partition(".")
        value = getattr(getattr(design, part), name)
        self.now.say(with_unit(self._declaration, value))
        if not self.tick.isChecked() and not self._typed:
            bounds = usual_bounds(self.path, self._declaration, float(value))
            for edit, bound in zip((self.low, self.high), bounds, strict=True):
                edit.setText(self._form(bound))

    def _form(self, value: float) -> str:
        whole = isinstance(self._declaration, Count) and value == round(value)
        return typed_form(self._declaration, round(value) if whole else value)

    def range_(self, design: Design) -> Range:
        """What is typed; StillfieldError with one sentence, and its field marked, where it will not do."""
        bounds = []
        for edit in (self.low, self.high):
            try:
                bounds.append(read_number(edit.text(), self._declaration.unit).value)
            except StillfieldError:
                self._mark(edit, refused=True)
                edit.setFocus()
                raise
        range_ = Range(self.path, bounds[0], bounds[1])
        try:
            ranged_field(design, range_)
        except StillfieldError:
            for edit in (self.low, self.high):
                self._mark(edit, refused=True)
            raise
        return range_

    def _toggle(self, on: bool) -> None:
        for part in (self.low, self._to, self.high):
            part.setVisible(on)
        self.toggled.emit()

    def _settle(self) -> None:
        """What was typed, in the field's own unit: 200 mm reads 0.200."""
        for edit in (self.low, self.high):
            with suppress(StillfieldError):
                edit.setText(self._form(read_number(edit.text(), self._declaration.unit).value))

    def resizeEvent(self, event: QResizeEvent) -> None:
        for edit in (self.low, self.high):
            edit.setFixedWidth(_ROOMY_EDIT_PX if self.width() >= _ROOMY_PX else _NARROW_EDIT_PX)

    def _clear(self) -> None:
        self._typed = True
        for edit in (self.low, self.high):
            self._mark(edit, refused=False)

    def _mark(self, edit: QLineEdit, *, refused: bool) -> None:
        edit.setProperty("refused", refused)
        edit.style().unpolish(edit)
        edit.style().polish(edit)
