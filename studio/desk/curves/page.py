"""The page of curves beside the plan: over what, how made, the charts, the point in hand, taken or left."""

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QHideEvent, QKeyEvent, QShowEvent
from PySide6.QtWidgets import QButtonGroup, QLabel, QPushButton, QToolButton, QWidget

from studio.desk.chips import Chip
from studio.desk.curves.charts import CurveCharts
from studio.desk.curves.model import CurvesModel
from studio.desk.icons import icon
from studio.desk.layouts import column, line
from studio.desk.session import Session
from studio.desk.shelf.tick_box import TickBox
from studio.desk.shelf.words import Words, WorkLine
from studio.desk.theme import Theme
from studio.edits.variants import OVERS, Over
from studio.papers.field_curves import how_made, passing_sentence, told_value
from studio.study.apart import AssessorApart
from studio.text import _, number, plural


class CurvesPage(QWidget):
    """Stands beside the view while it is open. ``closed`` asks to put it away; ``shut`` ends its work for good."""

    closed = Signal()

    def __init__(
        self, session: Session, theme: Theme, *, make: Callable[[], object] = AssessorApart, parent: QWidget | None = None
    ) -> None:  # fmt: skip
        super().__init__(parent)
        self._session, self._theme = session, theme
        self.model = CurvesModel(session, make=make, parent=self)
        self.title = QLabel(_("Curves of the field"))
        self.close_button = QToolButton()
        self.close_button.setAutoRaise(True)
        self.close_button.setAccessibleName(_("Close"))
        self.close_button.setToolTip(_("Close (Esc)"))
        self.close_button.clicked.connect(self.closed)
        self._group = QButtonGroup(self)
        self.overs: dict[Over, Chip] = {}
        names: dict[Over, str] = {"pitch": _("Pitch"), "spacing": _("Spacing"), "azimuth": _("Azimuth")}
        for over in OVERS:
            chip = Chip(theme, names[over])
            chip.setAccessibleName(_("Curves over: {name}").format(name=names[over]))
            chip.setChecked(over == self.model.over)
            chip.clicked.connect(partial(self._look_over, over))
            self._group.addButton(chip)
            self.overs[over] = chip
        self.planted = TickBox(theme, _("Planted anew"))
        self.planted.setToolTip(_("Plant the plot anew at each point, lines as long as it allows"))
        self.planted.setAccessibleName(self.planted.toolTip())
        self.planted.clicked.connect(self.model.set_planted)
        self.facing = TickBox(theme, _("Mirrors turn too"))
        self.facing.setToolTip(_("Mirrors turn with their lines; else they keep their facing"))
        self.facing.setAccessibleName(self.facing.toolTip())
        self.facing.clicked.connect(self.model.set_facing_turns)
        self.work = WorkLine(theme, stop_name=_("Stop working out curves"), again=_("Go on"))
        self.work.stop.connect(self.model.stop)
        self.work.again.connect(self.model.again)
        self.charts = CurveCharts(self.model, theme)
        self.charts.take.connect(self._take)
        self.charts.away.connect(self._away)
        self.told = Words(theme, size=12)
        self.why = Words(theme, size=12, role="stop")
        self.take_button = QPushButton(_("Take"))
        self.take_button.setToolTip(_("Make this point the design (Enter); one step of undo"))
        self.take_button.clicked.connect(self._take)
        self.leave_button = QPushButton(_("Leave"))
        self.leave_button.setToolTip(_("Leave all as it was (Esc)"))
        self.leave_button.clicked.connect(self.model.let_go)
        self._lay_out()
        self.setFocusProxy(self.charts)
        self.setAutoFillBackground(True)
        self.setAccessibleName(self.title.text())
        self.model.changed.connect(self._hear)
        theme.changed.connect(self._dress)
        self._dress()
        self._fill()

    def _lay_out(self) -> None:
        top = line(margins=(16, 8, 8, 2), spacing=8)
        top.addWidget(self.title, 1)
        top.addWidget(self.close_button)
        overs = line(margins=(16, 2, 16, 2), spacing=6)
        for chip in self.overs.values():
            overs.addWidget(chip)
        overs.addStretch(1)
        ways = line(margins=(16, 0, 16, 0), spacing=12)
        ways.addWidget(self.planted)
        ways.addWidget(self.facing)
        work = line(margins=(16, 0, 16, 4))
        work.addWidget(self.work)
        words = column(margins=(16, 2, 16, 4), spacing=2)
        words.addWidget(self.told)
        words.addWidget(self.why)
        buttons = line(margins=(16, 2, 16, 12), spacing=8)
        buttons.addWidget(self.take_button)
        buttons.addWidget(self.leave_button)
        buttons.addStretch(1)
        whole = column(self)
        for part in (top, overs, ways, work):
            whole.addLayout(part)
        whole.addWidget(self.charts, 1)
        whole.addLayout(words)
        whole.addLayout(buttons)

    def shut(self) -> None:
        """End the work in the background."""
        self.model.background.close()

    # what a hand does ------------------------------------------------------------------------------------------

    def _look_over(self, over: Over, _checked: bool = False) -> None:
        self.model.look_over(over)

    def _take(self) -> None:
        if self.model.chosen is not None:
            self.model.take()
            self.charts.setFocus()

    def _away(self) -> None:
        """First the point in hand, then the page."""
        if self.model.chosen is not None:
            self.model.let_go()
        else:
            self.closed.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self._away()
            return
        super().keyPressEvent(event)

    def showEvent(self, event: QShowEvent) -> None:
        self.model.wake()

    def hideEvent(self, event: QHideEvent) -> None:
        self.model.sleep()

    # what it shows ---------------------------------------------------------------------------------------------

    def _hear(self, what: str) -> None:
        if what == "progress":
            self._show_work()
            return
        if what != "hovered":
            self.charts.refresh()
        self._fill()

    def _fill(self) -> None:
        model = self.model
        self.facing.setVisible(model.over == "azimuth")
        chosen = model.chosen
        self.take_button.setEnabled(chosen is not None and chosen.design not in (None, model.design))
        self.leave_button.setEnabled(chosen is not None)
        self.told.say(self._words())
        at = self.charts.in_hand
        why = ""
        if at is not None and at.cannot:
            why = at.cannot
        elif at is not None and at.brings is not None and at.brings.stops:
            more = at.brings.stop_count - 1
            why = _("Must not be built so: {why}").format(why=at.brings.stops[0])
            if more:
                why = f"{why} {plural('(and {count} more)', '(and {count} more)', more)}"
        self.why.say(why)
        self._show_work()

    def _words(self) -> str:
        """The point in hand in a sentence; without one how the curves are made and who says what passes."""
        model, at = self.model, self.charts.in_hand
        question = model.answer.question if model.answer is not None else None
        if question is None:
            return ""
        made = how_made(question.over, planted=question.planted, facing_turns=question.facing_turns)
        if at is None or (self.charts.hovered is None and model.chosen is None):
            if question.over == "pitch" and model.passing_pitch_m is not None and not question.planted:
                return f"{made} {passing_sentence(model.passing_pitch_m, model.design)}"
            return made
        said = f"{at.label}. " if model.chosen is at and at.label else ""
        said += _("{value}, now {here}").format(
            value=told_value(question.over, at.value), here=told_value(question.over, question.here)
        )
        if at.brings is not None:
            currency = model.design.prices.currency
            said += _(": {count} mirrors, header {header} m").format(
                count=number(at.figure("mirrors"), digits=0),
                header=number(at.figure("header_length_m"), digits=0),
            )
            if at.figure("capital_cost") is not None:
                money = number(at.figure("capital_cost"), digits=0)
                said += _(", {money} {currency} to build").format(money=money, currency=currency)
            if at.brings.worst_line is not None:
                said += _(", most shaded in winter Line {id}").format(id=at.brings.worst_line)
            said += "."
        return said

    def _show_work(self) -> None:
        model = self.model
        if model.progress is not None:
            self.work.show_progress(_("Working out"), model.progress)
        elif model.trouble:
            self.work.say(model.trouble, again=model.stopped)
        elif model.stopped and not (model.answer is not None and model.answer.whole):
            self.work.say(_("Stopped; these are the points there are."), again=True)
        elif model.stale:
            self.work.say(_("From before the change."))
        else:
            self.work.say(_("Click a point, or step with the arrow keys."))

    def _dress(self) -> None:
        theme = self._theme
        self.title.setFont(theme.font(15, 600))
        self.close_button.setIcon(icon("close", theme.color("ink2"), theme.color("ink3")))
