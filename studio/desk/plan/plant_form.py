"""The planting's figures beside the tools: typed, and followed by the lines on the plan with every key."""

from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QApplication, QGridLayout, QLabel, QLineEdit, QPushButton, QWidget

from studio.design.fields import mark
from studio.desk.layouts import column, grid, line
from studio.desk.plan.planter import MAY_BE_EMPTY, UNITS, Planter
from studio.desk.session import Session
from studio.desk.shelf.tick_box import TickBox
from studio.desk.theme import Theme
from studio.text import _, number

_ROWS = (
    (
        "azimuth_deg",
        mark("Azimuth"),
        mark("Of the lines, from drive end to far end, clockwise from north"),
        2,
    ),
    ("pitch_m", mark("Pitch"), mark("Between neighbouring lines, square to them"), 2),
    ("spacing_m", mark("Spacing"), mark("Between mirrors, along the line; empty: the usual one"), 2),
    ("longest", mark("Longest line"), mark("Mirrors of a line at most; empty: no limit"), 0),
    (
        "lane_every",
        mark("Lane after every"),
        mark("A lane for a vehicle after so many lines; 0: no lanes"),
        0,
    ),
    ("lane_m", mark("Lane"), mark("By how much a lane widens the pitch"), 2),
)
_FIELD_WIDTH, _UNIT_WIDTH = 74, 50


class PlantForm(QWidget):
    """Shown while the Plant tool is in hand."""

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self.planter = Planter.of(session)
        self._came_from: QWidget | None = None
        self.setAccessibleName(_("Plant the plot with lines"))
        self.fields: dict[str, QLineEdit] = {}
        self._labels: list[tuple[QLabel, str]] = []
        whole = column(self, margins=(16, 4, 16, 12), spacing=6)
        whole.addLayout(self._figures())
        self.keep = TickBox(theme, _("Keep the lines there are"))
        self.keep.setAccessibleName(self.keep.text())
        self.keep.clicked.connect(self._tick)
        whole.addWidget(self.keep)
        self.told, self.fault = QLabel(), QLabel()
        for label in (self.told, self.fault):
            label.setWordWrap(True)
            whole.addWidget(label)
        buttons = line(spacing=8)
        self.plant_button = QPushButton(_("Plant"))
        self.plant_button.setToolTip(_("Plant these lines (Enter)"))
        self.plant_button.clicked.connect(self.planter.take)
        self.edge_button = QPushButton(_("Best edge"))
        self.edge_button.setToolTip(_("Plant along the edge of the plot that holds most mirrors"))
        self.edge_button.clicked.connect(self.planter.along_best_edge)
        buttons.addWidget(self.plant_button)
        buttons.addWidget(self.edge_button)
        buttons.addStretch(1)
        whole.addLayout(buttons)
        self.planter.began.connect(self._begin)
        self.planter.ended.connect(self._end)
        self.planter.changed.connect(self._fill)
        theme.changed.connect(self._color)
        self._color()
        self.hide()
        if self.planter.active:
            self._begin()

    def _figures(self) -> QGridLayout:
        cells = grid(spacing=4)
        cells.setColumnStretch(0, 1)
        for place, (key, word, about, _digits) in enumerate(_ROWS):
            unit = _(UNITS[key])
            name, worn, field = QLabel(_(word)), QLabel(unit), QLineEdit()
            self._labels += [(name, "ink2"), (worn, "ink2")]
            field.setFixedSize(_FIELD_WIDTH, 26)
            field.setAlignment(Qt.AlignmentFlag.AlignRight)
            field.setAccessibleName(f"{_(word)}, {unit}")
            field.setAccessibleDescription(_(about))
            for part in (name, field):
                part.setToolTip(_(about))
            name.setBuddy(field)
            worn.setFixedWidth(_UNIT_WIDTH)
            field.textEdited.connect(partial(self.planter.type, key))
            field.editingFinished.connect(self._fill)
            field.returnPressed.connect(self.planter.take)
            self.fields[key] = field
            cells.addWidget(name, place, 0)
            cells.addWidget(field, place, 1)
            cells.addWidget(worn, place, 2)
        self.fields["longest"].setPlaceholderText(_("no limit"))
        return cells

    def _begin(self) -> None:
        self._came_from = QApplication.focusWidget()
        for field in self.fields.values():
            field.setModified(False)
        self._fill()
        self.show()
        first = self.fields["azimuth_deg"]
        first.setFocus()
        first.selectAll()

    def _end(self) -> None:
        holder = QApplication.focusWidget()
        held = holder is not None and self.isAncestorOf(holder)
        self.hide()
        if held and self._came_from is not None:
            self._came_from.setFocus()
        self._came_from = None

    def _tick(self) -> None:
        self.planter.set(keep=self.keep.isChecked())

    def _fill(self) -> None:
        """Show the wish in all fields but the one being typed into, and what it gives."""
        planter = self.planter
        for key, _word, _about, digits in _ROWS:
            field, refused = self.fields[key], planter.unread(key)
            if not refused and not (field.hasFocus() and field.isModified()):
                value = getattr(planter.wish, key)
                field.setText("" if value is None else number(value, digits=digits))
            inherited = not refused and key in MAY_BE_EMPTY and not field.text()
            for name, now in (("refused", refused), ("inherited", inherited)):
                if bool(field.property(name)) != now:
                    field.setProperty(name, now)
                    field.style().unpolish(field)
                    field.style().polish(field)
        new = planter.new_lines
        self.fields["spacing_m"].setPlaceholderText(number(new[0].spacing_m, digits=2) if new else _("usual"))
        self.keep.setChecked(planter.wish.keep)
        counts = [one.count for one in new]
        per_line = (
            _("{least} to {most} on a line").format(least=min(counts), most=max(counts)) if counts else ""
        )
        self.told.setText("\n".join(part for part in (planter.told, per_line) if part))
        self.told.setVisible(bool(counts))
        self.fault.setText(planter.fault or planter.doubt)
        self.fault.setVisible(bool(self.fault.text()))
        self.plant_button.setEnabled(planter.edit is not None)

    def _color(self) -> None:
        theme = self._theme
        for label, role in (*self._labels, (self.told, "ink"), (self.fault, "stop")):
            palette = label.palette()
            palette.setColor(label.foregroundRole(), theme.color(role))
            label.setPalette(palette)
            label.setFont(theme.font(13, 600 if label is self.told else 400))
        for field in self.fields.values():
            field.setFont(theme.font(13))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.planter.leave()
            return
        super().keyPressEvent(event)
