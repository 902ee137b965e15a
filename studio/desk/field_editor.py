"""One field of the sheet, made from its declaration: label, editor, unit, and a line below that says what was understood."""

from typing import Any

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QSizePolicy, QWidget

from studio.design.design import Design
from studio.design.fields import Choice, Count, Declaration, Numbers, Places, Quantity, Text
from studio.desk.bound import Bound
from studio.desk.choice_box import ChoiceBox
from studio.desk.field_text import plainly, range_words, typed_form, unrounded
from studio.desk.layouts import grid
from studio.desk.line_edit import LineEdit
from studio.desk.number_drag import NumberDrag, edit_to, stepped
from studio.desk.session import Session
from studio.desk.theme import Theme
from studio.edits.edit import admit
from studio.edits.fields import read_value
from studio.errors import StillfieldError
from studio.numbers_in import read_number
from studio.text import MINUS, _, number, pretty

FIELD_HEIGHT = 26
FIELD_WIDTH = 88
UNIT_WIDTH = 44
"""Wide enough for most; a longer unit takes its room from the field, so that labels keep theirs."""
_CHOICE_WIDTH = 154
_WIDEST_UNIT = 92


class FieldEditor(QWidget):
    """Label, editor, unit. Edits are one step of undo each; what cannot be taken stays as typed and says why."""

    def __init__(self, session: Session, theme: Theme, bound: Bound) -> None:
        super().__init__()
        self._session, self._theme, self._bound = session, theme, bound
        self._differs = False
        self._shows: tuple[object, ...] | None = None
        declaration = bound.declaration
        self._label = QLabel(_small_capital(bound.label or _(declaration.label)))
        self._label.setWordWrap(True)
        self._unit = QLabel(pretty(_(declaration.unit)) if declaration.unit else "")
        self._unit.setWordWrap(True)
        self._below = QLabel()
        self._below.setWordWrap(True)
        self._below.setAlignment(Qt.AlignmentFlag.AlignRight)
        self._below.hide()
        self.combo: ChoiceBox | None = None
        self.edit: LineEdit | None = None
        editor = self._make_editor(declaration)
        self._name(editor)
        self._lay_out(editor)
        if isinstance(declaration, Quantity | Count):
            NumberDrag(self._label, session, declaration, read=self._number_in, edit=bound.edit)
        theme.changed.connect(self._paint_texts)
        self._paint_texts()
        self.refresh()

    # made from the declaration ---------------------------------------------------------------------------------

    def _make_editor(self, declaration: Declaration) -> QWidget:
        if isinstance(declaration, Choice):
            self.combo = ChoiceBox(self._theme)
            for key, word in declaration.words.items():
                self.combo.addItem(_(word), key)
            self.combo.activated.connect(self._take_choice)
            return self.combo
        self.edit = LineEdit()
        self.edit.setFont(self._theme.font(13))
        numeric = not isinstance(declaration, Text)
        self.edit.setAlignment(Qt.AlignmentFlag.AlignRight if numeric else Qt.AlignmentFlag.AlignLeft)
        self.edit.textEdited.connect(self._think_aloud)
        self.edit.returnPressed.connect(self._take)
        self.edit.entered.connect(self._entered)
        self.edit.left_alone.connect(self._leave_alone)
        self.edit.stepped.connect(self._step)
        return self.edit

    def _name(self, editor: QWidget) -> None:
        declaration = self._bound.declaration
        unit = _(declaration.unit) if declaration.unit else ""
        editor.setAccessibleName(f"{self._label.text()} {unit}".strip())
        told = [_(declaration.help)] if declaration.help else []
        told.append(range_words(self._bound.declaration))
        editor.setAccessibleDescription(". ".join(part.rstrip(".") for part in told if part))
        self.setToolTip("\n".join(part for part in told if part))

    def _lay_out(self, editor: QWidget) -> None:
        editor.setFixedHeight(FIELD_HEIGHT)
        cells = grid(self, margins=(16, 0, 8, 0), spacing=0)
        cells.setHorizontalSpacing(6)
        cells.addWidget(self._label, 0, 0)
        if isinstance(self._bound.declaration, Quantity | Count):
            unit = max(UNIT_WIDTH, min(_WIDEST_UNIT, round(self._theme.font(12).wide(self._unit.text())) + 3))
            editor.setFixedWidth(FIELD_WIDTH + UNIT_WIDTH - unit)
            self._unit.setFixedWidth(unit)
            cells.addWidget(editor, 0, 1)
            cells.addWidget(self._unit, 0, 2)
            cells.setColumnStretch(0, 1)
        else:
            cells.addWidget(editor, 0, 1, 1, 2)
            words = isinstance(self._bound.declaration, Text)
            self._label.setWordWrap(not words)
            if not words:
                editor.setFixedWidth(_CHOICE_WIDTH)
            cells.setColumnStretch(1 if words else 0, 1)
        cells.addWidget(self._below, 1, 0, 1, 3)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)

    def _paint_texts(self) -> None:
        for label, size, role in (
            (self._label, 13, "ink2"),
            (self._unit, 12, "ink2"),
            (self._below, 12, "ink2"),
        ):
            label.setFont(self._theme.font(size))
            _ink(label, self._theme, role)

    # what it shows ---------------------------------------------------------------------------------------------

    def refresh(self) -> None:
        """Show the design's value, unless the hand is in the field."""
        design = self._session.state.shown
        values = self._bound.many(design) if self._bound.many else (self._bound.read(design),)
        value, alike = values[0], all(other == values[0] for other in values)
        if self.combo is not None:
            self.combo.setCurrentIndex(self.combo.findData(value) if alike else -1)
            return
        assert self.edit is not None
        if self.edit.isModified() and (self.edit.hasFocus() or self.edit.property("refused")):
            return
        inherited = self._bound.inherited(design) if self._bound.inherited else None
        follows = self._bound.inherited is not None and alike and value is None
        text = typed_form(self._bound.declaration, inherited if follows else value) if alike else ""
        differs = self._bound.inherited is not None and not follows and alike
        hint = "" if alike and value is not None else _("various") if not alike else "–"
        shows = (text, hint, follows, differs, inherited)
        if shows == self._shows and self.edit.text() == text and not self.edit.isModified():
            return  # a form that follows a hand paints the fields that change, no more
        if self.edit.text() != text:
            self.edit.setText(text)
            self.edit.setCursorPosition(0)
        self.edit.setModified(False)
        self.edit.setPlaceholderText(hint)
        self._mark(inherited=follows, refused=False)
        self._differs = differs
        self._say(self._aside(inherited), "ink2")
        self._shows = shows
        self.update()

    def _aside(self, inherited: Any) -> str:
        if self._differs:
            unit = self._bound.declaration.unit
            return _("field {value} {unit}").format(
                value=typed_form(self._bound.declaration, inherited), unit=_(unit) if unit else ""
            )
        if self._bound.declaration.unit == "mrad" and self.edit is not None:
            return _("{value} mm per metre").format(value=self.edit.text())
        return ""

    def _mark(self, *, inherited: bool, refused: bool) -> None:
        assert self.edit is not None
        self._shows = None
        for name, value in (("inherited", inherited), ("refused", refused)):
            if self.edit.property(name) != value:
                self.edit.setProperty(name, value)
                self.edit.style().unpolish(self.edit)
                self.edit.style().polish(self.edit)

    def _say(self, text: str, role: str) -> None:
        self._shows = None
        self._below.setText(text)
        _ink(self._below, self._theme, role)
        self._below.setVisible(bool(text))

    def paintEvent(self, event: QPaintEvent) -> None:
        if self._differs:
            painter = QPainter(self)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(self._theme.color("accent"))
            painter.drawEllipse(QRectF(6, FIELD_HEIGHT / 2 - 2.5, 5, 5))
            painter.end()

    # what a hand does ------------------------------------------------------------------------------------------

    def _entered(self, here: bool) -> None:
        assert self.edit is not None
        if here:
            if not self.edit.isModified():
                told = (self._unrounded(), range_words(self._bound.declaration) or self._aside(None))
                self._say("; ".join(part for part in told if part), "ink2")
        elif self.edit.isModified():
            self._take()
        else:
            self.refresh()

    def _unrounded(self) -> str:
        return unrounded(self._bound.declaration, self._number_in(self._session.state.design))

    def _think_aloud(self, text: str) -> None:
        """Say how what is typed is understood, before it is taken."""
        assert self.edit is not None
        self._mark(inherited=False, refused=False)
        declaration = self._bound.declaration
        if isinstance(declaration, Text | Places | Numbers) or not text.strip():
            self._say("", "ink2")
            return
        try:
            typed = read_number(text, declaration.unit)
        except StillfieldError:
            self._say("", "ink2")  # it may not be finished yet; Enter says what is wrong
            return
        if typed.doubt:
            self._say(typed.doubt, "ink")
        elif plainly(text) != typed.value:
            unit = _(declaration.unit) if declaration.unit else ""
            self._say(f"= {number(typed.value, figures=5)} {unit}".rstrip(), "ink")
        else:
            self._say(range_words(self._bound.declaration), "ink2")

    def _take(self) -> None:
        assert self.edit is not None
        if not self.edit.isModified():
            return
        if not self._stands():
            return
        kept = self._bound.read(self._session.state.design)
        typed = self.edit.text().strip().replace("-", MINUS)
        if self._unrounded() and typed == typed_form(self._bound.declaration, kept):
            self._leave_alone()  # typed back to what stood there rounded: the value is the same
            return
        if self._apply(self.edit.text()):
            self.edit.setModified(False)
            self.refresh()
            if self.edit.hasFocus():
                self.edit.selectAll()

    def _take_choice(self, place: int) -> None:
        assert self.combo is not None
        self._apply(str(self.combo.itemData(place)))

    def _apply(self, text: str) -> bool:
        design = self._session.state.design
        try:
            read_value(self._bound.declaration, text, optional=self._bound.optional)
            edit = admit(design, self._bound.edit(design, text))
        except StillfieldError as error:
            if self.edit is not None:
                self._mark(inherited=False, refused=True)
            self._say(str(error), "stop")
            return False
        return self._session.apply(edit)

    def _number_in(self, design: Design) -> float | None:
        """The number that a step goes from; None where there is none, or several."""
        values = self._bound.many(design) if self._bound.many else (self._bound.read(design),)
        value = values[0]
        if value is None and self._bound.inherited is not None:
            value = self._bound.inherited(design)
        alike = all(other == values[0] for other in values)
        return float(value) if alike and isinstance(value, int | float) else None

    def _step(self, steps: int) -> None:
        """Up and Down: a step more or less."""
        if not self._stands():
            return
        declaration, design = self._bound.declaration, self._session.state.design
        value = self._number_in(design)
        if isinstance(declaration, Quantity | Count) and value is not None:
            edit = edit_to(design, declaration, stepped(declaration, value, steps), self._bound.edit)
            if edit is not None:
                assert self.edit is not None
                self.edit.setModified(False)
                self._session.apply(edit)

    def _stands(self) -> bool:
        """Whether what the field is of is still there: it may be taken away with something half typed."""
        try:
            self._bound.read(self._session.state.design)
        except LookupError:
            return False
        return True

    def forget(self) -> None:
        """Let go of what was typed and not taken: the field is shown again, for what it is of now."""
        if self.edit is not None and self.edit.isModified():
            self._leave_alone()

    def _leave_alone(self) -> None:
        assert self.edit is not None
        self.edit.setModified(False)
        self._mark(inherited=False, refused=False)
        self.refresh()


def _ink(label: QLabel, theme: Theme, role: str) -> None:
    palette = label.palette()
    palette.setColor(label.foregroundRole(), theme.color(role))
    label.setPalette(palette)


def _small_capital(text: str) -> str:
    return text[:1].upper() + text[1:]
