"""The Plan: chips of layers, scale, and the canvas."""

from PySide6.QtGui import QAccessible, QAccessibleEvent
from PySide6.QtWidgets import QLabel, QWidget

from studio.design.fields import mark
from studio.desk.chips import Chip, IconButton, head_row
from studio.desk.layouts import column
from studio.desk.plan.camera import scale_words
from studio.desk.plan.canvas import PlanCanvas
from studio.desk.plan.layer_panel import LayerPanel, told_layers
from studio.desk.plan.planter import Planter
from studio.desk.plan.strip import ArrangeStrip
from studio.desk.session import Session
from studio.desk.state import LAYER_NAMES, State
from studio.desk.theme import Theme
from studio.text import _, plural

_CHIPS = {
    "shadows": mark("Shadows on the ground at the moment"),
    "tint": mark("Each mirror tinted by the share of its light that other mirrors take now"),
    "names": mark("Names of lines, areas, header and store"),
    "grid": mark("A grid; drawn points are caught by it"),
}
"""Layers that are put on and off often; the others stand in the list of layers."""


class PlanView(QWidget):
    """The plan with its row of layers on top."""

    def __init__(self, session: Session, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._theme = session, theme
        self.canvas = PlanCanvas(session, theme, self)
        self.strip = ArrangeStrip(self.canvas)
        self.setFocusProxy(self.canvas)
        self.chips: dict[str, Chip] = {}
        row = head_row()
        self.layers = LayerPanel(self, session, theme)
        self.layers.closed.connect(self._layers_closed)
        self.layers_chip = Chip(theme, "", self)
        self.layers_chip.setToolTip(_("What is shown, locked and faded (Y)"))
        self.layers_chip.clicked.connect(self._ask_layers)
        self.canvas.layers_asked.connect(self._ask_layers)
        row.addWidget(self.layers_chip)
        for layer, about in _CHIPS.items():
            chip = Chip(theme, _(LAYER_NAMES[layer]), self)
            chip.setToolTip(_(about))
            chip.setChecked(layer in session.state.layers)
            chip.clicked.connect(lambda _on=False, layer=layer: session.toggle_layer(layer))
            self.chips[layer] = chip
            row.addWidget(chip)
        self.curves_chip = Chip(theme, _("Curves"), self)
        self.curves_chip.setAccessibleName(_("Curves of the field"))
        self.curves_chip.setToolTip(
            _("Heat, winter shade, land use and cost over pitch, spacing, azimuth (Ctrl+G)")
        )
        self.curves_chip.clicked.connect(lambda on: session.update(curves=on))
        row.addWidget(self.curves_chip)
        row.addStretch(1)
        self.scale = QLabel(self)
        self.scale.setFont(theme.font(12, 500))
        self.scale.setAccessibleName(_("Scale"))
        row.addWidget(self.scale)
        self.fit_button = IconButton(theme, "fit", _("Fit"), self)
        self.fit_button.setToolTip(_("Everything in sight (F), with Shift what is selected"))
        self.fit_button.clicked.connect(self.canvas.fit)
        row.addWidget(self.fit_button)
        whole = column(self)
        whole.addLayout(row)
        whole.addWidget(self.canvas, 1)
        self.canvas.camera_changed.connect(self._tell_scale)
        Planter.of(session).changed.connect(self.canvas.update)
        session.changed.connect(self._on_changed)
        self._tell_scale()
        self._tell_layers(session.state)
        self._describe(session.state)

    def fit(self) -> None:
        """Everything in sight."""
        self.canvas.fit()

    @property
    def sight(self) -> tuple[float, float, float, float]:
        """The land in sight: x0, y0, x1, y1 in metres."""
        return self.canvas.camera.bounds

    def _ask_layers(self) -> None:
        """Open the list of layers, or put it away."""
        if self.layers.isVisible():
            self.layers.put_away()
            return
        self.layers.open()
        lowest = self.height() - self.layers.height() - 4
        self.layers.move(12, max(4, min(self.canvas.y() + 6, lowest)))
        self.layers_chip.setChecked(True)

    def _layers_closed(self) -> None:
        self.layers_chip.setChecked(False)
        self.canvas.setFocus()

    def _tell_layers(self, state: State) -> None:
        told = told_layers(state)
        self.layers_chip.setText(_("Layers: {told}").format(told=told) if told else _("Layers"))
        self.layers_chip.setAccessibleName(self.layers_chip.text())
        self.layers_chip.updateGeometry()
        self.layers_chip.update()

    def _tell_scale(self) -> None:
        self.scale.setText(scale_words(self.canvas.camera, self.logicalDpiX()))

    def _on_changed(self, old: State, new: State) -> None:
        if (new.layers, new.locked, new.faded) != (old.layers, old.locked, old.faded):
            self._tell_layers(new)
            for layer, chip in self.chips.items():
                chip.setChecked(layer in new.layers)
        self.curves_chip.setChecked(new.curves)
        if new.selection != old.selection or new.design is not old.design or new.tool != old.tool:
            self._describe(new)

    def _describe(self, state: State) -> None:
        """Say in words what the plan shows, for those who hear it."""
        design = state.design
        lines = plural("{count} line", "{count} lines", len(design.lines))
        mirrors = plural("{count} mirror", "{count} mirrors", sum(line.mirrors for line in design.lines))
        chosen = self._chosen(state)
        self.canvas.setAccessibleName(_("Plan, {chosen}").format(chosen=chosen))
        self.canvas.setAccessibleDescription(
            _("{lines}, {mirrors}; plot with {corners} corners, {areas} no-build areas. {hint}").format(
                lines=lines, mirrors=mirrors, corners=len(design.plot.boundary), areas=len(design.plot.no_build),
                hint=self.canvas.tool.hint,
            ).strip()
        )  # fmt: skip
        self.setAccessibleName(self.canvas.accessibleName())
        self.setAccessibleDescription(self.canvas.accessibleDescription())
        QAccessible.updateAccessibility(QAccessibleEvent(self.canvas, QAccessible.Event.NameChanged))

    def _chosen(self, state: State) -> str:
        names = {
            "boundary": _("the boundary"),
            "header": _("the header"),
            "store": _("the store"),
            "picture": _("the picture"),
            "site": _("the site"),
        }
        ids = state.selected_lines()
        said = []
        if len(ids) == 1:
            line = state.design.line(ids[0])
            said.append(_("Line {number} with {count} mirrors").format(number=line.id, count=line.mirrors))
        elif ids:
            said.append(_("Lines {numbers}").format(numbers=", ".join(str(number) for number in ids)))
        for subject in sorted(state.selection, key=lambda s: (s.kind, str(s.key))):
            if subject.kind == "no_build":
                area = state.design.plot.no_build[int(subject.key)]
                said.append(_("no-build area {name}").format(name=area.name))
            elif subject.kind == "obstacle":
                said.append(state.design.obstacles[int(subject.key)].name)
            elif subject.kind != "line":
                said.append(names[subject.kind])
        return _("selected: {what}").format(what=", ".join(said)) if said else _("nothing selected")
