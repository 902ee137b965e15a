"""Where an error's bar comes from: what is switched off, what it brings, and the fields behind it, edited in place."""

from PySide6.QtWidgets import QWidget

from studio.desk.field_editor import FieldEditor
from studio.desk.mirror.model import MirrorModel
from studio.desk.overlay import Overlay, told
from studio.desk.session import Session
from studio.desk.sheet_parts import bound_in
from studio.desk.theme import Theme
from studio.study.budget import SWITCHES
from studio.text import _, number

_WIDTH = 400


class BarSource(Overlay):
    """The panel, in the upper right corner of the view."""

    def __init__(self, parent: QWidget, session: Session, model: MirrorModel, theme: Theme) -> None:
        super().__init__(parent, theme)
        self._room = parent
        self._session, self._model = session, model
        self._key = ""
        self._headline = told("", theme)
        self.editors: list[FieldEditor] = []
        self.changed.connect(self.place)
        model.changed.connect(self._hear)

    def explain(self, key: str) -> None:
        """Show where an error's bar comes from; KeyError if unknown."""
        switch = {switch.key: switch for switch in SWITCHES}[key]
        self._key = key
        self.empty()
        self._headline = told("", self.theme, size=24, weight=600)
        self.body.addWidget(self._headline)
        rule = _("Switched off it means: {instead}.").format(instead=_(switch.instead))
        self.body.addWidget(told(rule, self.theme))
        how = _(
            "A mirror's year without shade, by cones with its best poses sought anew: the accepted share of the "
            "reflected light, weighted by the year's sun on the mirror; with this one error off, less with all on. "
            "Bars do not add up: each is alone."
        )
        self.body.addWidget(told(how, self.theme, size=12, role="ink2"))
        self.editors = []
        for path in switch.comes_from:
            editor = FieldEditor(self._session, self.theme, bound_in(self._session.state.design, path))
            self.editors.append(editor)
            self.body.addWidget(editor)
        self.body.addStretch(1)
        self._fill()
        self.show_titled(_(switch.label))

    def place(self) -> None:
        """Stand in the upper right corner, as high as needed."""
        parent = self._room
        wide = min(_WIDTH, parent.width() - 24)
        self.resize(wide, self.height())
        high = min(self.wanted_height(), parent.height() - 60)
        self.setGeometry(parent.width() - wide - 12, 48, wide, high)

    def _hear(self, what: str) -> None:
        if what in ("year", "design") and self.isVisible():
            self._fill()

    def _fill(self) -> None:
        if not self._key:
            return
        bar = self._model.bar(self._key)
        if bar is None:
            self._headline.setText(_("being worked out"))
        else:
            points, kwh = (
                number(100 * bar.gain, digits=2, sign=True),
                number(bar.gain_kwh, digits=0, sign=True),
            )
            self._headline.setText(_("{points} % points, {kwh} kWh").format(points=points, kwh=kwh))
        for editor in self.editors:
            editor.refresh()
