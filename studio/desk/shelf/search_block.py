"""A search on the page: which fields between which bounds, for what; its progress; what it found, and taking it."""

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QLineEdit, QPushButton, QSizePolicy, QWidget

from studio.design.fields import Count, mark
from studio.design.paths import field_at, replaced, with_unit
from studio.desk.choice_box import ChoiceBox
from studio.desk.layouts import column, grid, line
from studio.desk.painted import MARGIN, rail
from studio.desk.session import Session
from studio.desk.shelf.model import SEARCH, ShelfModel
from studio.desk.shelf.range_row import RangeRow
from studio.desk.shelf.words import Words, WorkLine
from studio.desk.theme import Theme
from studio.edits.fields import set_fields
from studio.errors import StillfieldError
from studio.numbers_in import read_number
from studio.study.figures import FIGURES, unit_of
from studio.study.search import AIMS, BUDGET, LEAST_BUDGET, Searched, Sought, told
from studio.text import DASH, _, number, plural

PATHS = (
    "mirror.tilt_deg", "mirror.facing_deg", "mirror.focal_m", "mirror.ribs", "motion.arm_m", "motion.stroke_m",
    "receiver.window_width_m", "receiver.window_height_m",
)  # fmt: skip
MOST_TICKED = 4
_AIM_WORDS = {"cost": mark("least heat cost"), "heat": mark("most heat")}
_EDIT_PX = 62
_MOST_BUDGET = 2000


class SearchBlock(QWidget):
    """Asks the model to search and shows what it found."""

    def __init__(
        self, model: ShelfModel, session: Session, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._model, self._session, self._theme = model, session, theme
        self._shown: tuple[object, ...] | None = None
        """What the answer that is shown was made from."""
        self._lines: list[QWidget] = []
        self.rows = [RangeRow(theme, field_at(session.state.design, path)) for path in PATHS]
        self.aim = ChoiceBox(theme)
        self.aim.setAccessibleName(_("Aim of the search"))
        for key, word in _AIM_WORDS.items():
            self.aim.addItem(_(word), key)
        self.budget = QLineEdit(str(BUDGET))
        self.budget.setFixedSize(_EDIT_PX, 26)
        self.budget.setFont(theme.font(13))
        self.budget.setAlignment(Qt.AlignmentFlag.AlignRight)
        self.budget.setAccessibleName(_("Designs at most"))
        self.start = QPushButton(_("Search"))
        self.start.clicked.connect(self.begin)
        self.work = WorkLine(theme, stop_name=_("Stop the search"))
        self.work.stop.connect(self._stop)
        self.hint = Words(theme, size=12, role="ink2")
        self.answer = QWidget()
        self._answer = column(self.answer, margins=(0, 8, 0, 0), spacing=4)
        self.take = QPushButton(_("Take these values"))
        self.take.clicked.connect(self.take_values)
        self._answer.addWidget(self.take, 0, Qt.AlignmentFlag.AlignLeft)
        self._lay_out()
        for row in self.rows:
            row.toggled.connect(self._limit)
        model.changed.connect(self._hear)
        self.refresh()

    def _lay_out(self) -> None:
        whole = column(self, margins=(MARGIN, 14, MARGIN, 16), spacing=6)
        whole.addWidget(Words(self._theme, _("Search the best values"), size=15, weight=600))
        about = _(
            "Tick one to four fields of the field's mirror; each design between their bounds is assessed in full."
        )
        whole.addWidget(Words(self._theme, about, size=12, role="ink2"))
        cells = grid()
        cells.setHorizontalSpacing(20)
        half = (len(self.rows) + 1) // 2
        for at, row in enumerate(self.rows):
            cells.addWidget(row, at % half, at // half)
        cells.setColumnStretch(0, 1)
        cells.setColumnStretch(1, 1)
        whole.addLayout(cells)
        bar = line(spacing=8, margins=(0, 4, 0, 0))
        for part in (
            self._quiet(_("for")), self.aim, self._quiet(_("with at most")), self.budget, self._quiet(_("designs")), self.start,
        ):  # fmt: skip
            bar.addWidget(part)
        bar.addStretch(1)
        whole.addLayout(bar)
        whole.addWidget(self.work)
        whole.addWidget(self.hint)
        whole.addWidget(self.answer)

    def _quiet(self, text: str) -> QLabel:
        return Words(self._theme, text, role="ink2", wraps=False)

    # what a hand does ------------------------------------------------------------------------------------------

    def ticked(self) -> list[RangeRow]:
        """The fields that are to be varied."""
        return [row for row in self.rows if row.tick.isChecked()]

    def begin(self) -> None:
        """Start the search, or say what is missing."""
        design = self._session.state.design
        try:
            if not self.ticked():
                self._model.refuse_search(_("Tick at least one field to vary, such as the tilt."))
                return
            vary = tuple(row.range_(design) for row in self.ticked())
            budget = read_number(self.budget.text()).value
        except StillfieldError as error:
            self._model.refuse_search(str(error))
            return
        if not LEAST_BUDGET <= budget <= _MOST_BUDGET or budget != round(budget):
            self._model.refuse_search(
                _(
                    "{budget:g} designs will not do; a whole number from {low} to {high} would be right."
                ).format(budget=budget, low=LEAST_BUDGET, high=_MOST_BUDGET)
            )
            return
        self._model.search(vary, AIMS[str(self.aim.currentData())], round(budget))
        self.work.stop_button.setFocus()

    def take_values(self) -> None:
        """Put what was found into the field, in one step of undo."""
        searched = self._model.searched
        if searched is None:
            return
        design = self._session.state.design
        try:
            edit = set_fields(design, values={value.path: value.best for value in searched.values})
        except StillfieldError as error:
            self._model.refuse_search(str(error))
            return
        self._session.apply(edit)

    def _stop(self) -> None:
        self._model.stop(SEARCH)

    def _limit(self) -> None:
        """No more than four at once."""
        full = len(self.ticked()) >= MOST_TICKED
        for row in self.rows:
            row.tick.setEnabled(row.tick.isChecked() or not full)

    # what it shows ---------------------------------------------------------------------------------------------

    def _hear(self, what: str) -> None:
        if what == "search":
            held = self.work.stop_button.hasFocus()
            self.refresh()
            if held and self._model.progress(SEARCH) is None:
                (self.take if self._model.searched is not None else self.start).setFocus()
        elif what == "search_progress":
            self._show_work()
        elif what == "rows":
            self._show_fields()
            self._show_answer()

    def refresh(self) -> None:
        """Show everything as it stands now."""
        self._show_fields()
        self._limit()
        self._show_work()
        self._show_answer()

    def _show_fields(self) -> None:
        for row in self.rows:
            row.refresh(self._session.state.shown)

    def _show_work(self) -> None:
        progress = self._model.progress(SEARCH)
        self.start.setEnabled(progress is None)
        self.work.setVisible(progress is not None)
        if progress is not None:
            self.work.show_progress(_("Searching"), progress)
        self.hint.say(self._model.trouble.get(SEARCH, ""), "stop")

    def _show_answer(self) -> None:
        searched = self._model.searched
        taken = searched is not None and self._taken(searched)
        shown = (searched, self._model.search_stale, self._model.before_search, taken)
        if self._shown == shown:
            return
        self._shown = shown
        for part in self._lines:
            self._answer.removeWidget(part)
            part.hide()
            part.deleteLater()
        self._lines = [] if searched is None else self._told(searched)
        for at, part in enumerate(self._lines):
            self._answer.insertWidget(at, part)
            part.show()
        self.take.setEnabled(not taken)
        self.take.setText(_("The field has these values") if taken else _("Take these values"))
        self.answer.setVisible(searched is not None)
        self.update()

    def _told(self, searched: Searched) -> list[QWidget]:
        sentences = [*told(searched)]
        if self._model.search_stale:
            sentences.append(_("The design has changed since; these figures are from before."))
        words = [Words(self._theme, sentence, size=12, role="ink2") for sentence in sentences]
        return [self._table(searched), *words]

    def _taken(self, searched: Searched) -> bool:
        design = self._session.state.design
        return all(replaced(design, value.path, value.best) == design for value in searched.values)

    def _table(self, searched: Searched) -> QWidget:
        """Values and figures before and after, under each other."""
        theme = self._theme
        table = QWidget()
        cells = grid(table)
        cells.setHorizontalSpacing(20)
        cells.setVerticalSpacing(3)
        role = "ink3" if self._model.search_stale else "ink"
        title = plural("After {count} design", "After {count} designs", searched.assessed)
        rows = [
            (title, _("now") if self._model.before_search else _("before"), _("best"), _("between")),
            *((value.name, *_sought(searched, value)) for value in searched.values),
            _figure_row(searched, "annual_heat_kwh", searched.heat_before_kwh, searched.heat_kwh),
            _figure_row(searched, "heat_cost_per_kwh", searched.cost_before_per_kwh, searched.cost_per_kwh),
        ]
        for at, texts in enumerate(rows):
            for place, text in enumerate(texts):
                strong = at > 0 and place == 2
                shade = "ink2" if at == 0 or place in (0, 3) else role
                label = Words(
                    theme, text, size=12 if at == 0 or place == 3 else 13, weight=600 if strong else 400, role=shade,
                    wraps=False,
                )  # fmt: skip
                side = Qt.AlignmentFlag.AlignRight if place in (1, 2) else Qt.AlignmentFlag.AlignLeft
                cells.addWidget(label, at, place, side | Qt.AlignmentFlag.AlignVCenter)
        cells.setColumnStretch(3, 1)
        table.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        table.setAccessibleName(f"{title}: " + "; ".join(" ".join(filter(None, texts)) for texts in rows[1:]))
        return table

    def paintEvent(self, event: QPaintEvent) -> None:
        painter, theme = QPainter(self), self._theme
        painter.fillRect(QRectF(0, 0, self.width(), 1), theme.color("line"))
        if self._model.search_stale:
            painter.save()
            painter.translate(0, self.answer.y())
            rail(painter, self.answer.height(), theme)
            painter.restore()
        painter.end()


def _sought(searched: Searched, value: Sought) -> tuple[str, str, str]:
    declaration = field_at(searched.design, value.path).declaration

    def said(x: float | None) -> str:
        if x is None:
            return DASH
        return with_unit(declaration, round(x) if isinstance(declaration, Count) else x)

    bounds = _("{low} and {high}").format(low=said(value.low), high=said(value.high))
    return said(value.before), said(value.best), bounds


def _figure_row(
    searched: Searched, key: str, before: float | None, after: float | None
) -> tuple[str, str, str, str]:
    figure = FIGURES[key]

    def said(value: float | None) -> str:
        return DASH if value is None else number(value / figure.shown_per, figures=4)

    label = _(figure.label)
    change = ""
    if before and after is not None:
        share = after / before - 1.0
        change = _("changes by {percent} %").format(percent=number(100 * share, digits=1, sign=True))
    unit = unit_of(figure, searched.design.prices.currency)
    return label[:1].upper() + label[1:], said(before), f"{said(after)} {unit}", change
