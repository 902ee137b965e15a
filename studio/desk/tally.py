"""The tally: what the design brings, always in sight, each figure against the kept design."""

from dataclasses import replace
from math import ceil

from PySide6.QtCore import QEvent, QTimer, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from studio.desk.findings_list import FindingsList
from studio.desk.freshness import Freshness
from studio.desk.layouts import column, grid, scrolling
from studio.desk.progress import ProgressBlock
from studio.desk.rail import Rail
from studio.desk.session import Session
from studio.desk.staircase import StairRow, column_widths, stairs
from studio.desk.state import State
from studio.desk.tally_head import Rule, TallyHead
from studio.desk.tally_line import LEVEL_ROWS, rows_of_line
from studio.desk.tally_rows import FigureRow, HeatCost, TextRow, change_of
from studio.desk.theme import Theme
from studio.study.assessment import Assessment, LineResult
from studio.study.figures import FIGURES, Figure, shown, unit_of
from studio.text import DASH, _, number, percent, pretty

MAIN = ("annual_heat_kwh", "shade_loss_winter", "mirrors", "aperture_m2", "capital_cost")
_LARGE_SUM = 100_000.0
_REST_MS = 150
"""How often, while a hand drags, what lies below the figures follows."""
TO_BUY = ("film_m2", "rod_bars", "pipe_length_m", "oil_litres")
FULL, FEW, PLAIN, TIGHT = range(4)
"""How much room there is: everything; fewer stairs; findings without second lines; short rows and folded blocks."""


class Tally(QWidget):
    """The right panel. ``explain`` asks for the explanation of a figure, ``cautions`` for all cautions."""

    explain = Signal(str)
    cautions = Signal()
    stop = Signal()

    def __init__(self, session: Session, theme: Theme, freshness: Freshness) -> None:
        super().__init__()
        self.setAccessibleName(_("Tally"))
        self._session, self._theme, self._freshness = session, theme, freshness
        self._shape: tuple[object, ...] = ()
        self._level = FULL
        self._read: dict[str, tuple[object, ...]] = {}
        self._stairs_folded = self._buy_folded = self._line_folded = False
        self._head = TallyHead(theme)
        self._progress = ProgressBlock(theme)
        self._progress.stop.connect(self.stop)
        self._cost = HeatCost(theme)
        self._cost.clicked.connect(lambda: self.explain.emit("heat_cost_per_kwh"))
        self._main = {key: self._figure_row(key) for key in MAIN}
        self._stair_head = TextRow(theme, 26)
        self._stair_head.clicked.connect(self._fold_stairs)
        self._stairs = column()
        self._stair_rows: list[StairRow] = []
        self._buy_head = TextRow(theme, 26)
        self._buy_head.clicked.connect(self._fold_buy)
        self._buy = {key: self._figure_row(key, 20) for key in TO_BUY}
        for row in tuple(self._buy.values())[1::2]:
            row.left = 8
        self._buy_grid = grid()
        self._line_head = TextRow(theme, 26)
        self._line_head.clicked.connect(self._fold_line)
        self._line_rows = [FigureRow(theme, 20) for _number in range(6)]
        for row in self._line_rows:
            row.clicked.connect(lambda: self.explain.emit("annual_heat_kwh"))
        self._findings = FindingsList(session, theme)
        self._foot = TextRow(theme, 30)
        self._foot.show_text(_("Light, hot oil, wind, lifting: read first"), "▸")
        self._foot.setAccessibleName(_("Cautions: concentrated light, hot oil, wind, lifting"))
        self._foot.clicked.connect(self.cautions)
        self._rules = [Rule(theme) for _number in range(4)]
        self._lay_out()
        self._rest = QTimer(self, singleShot=True, interval=_REST_MS)
        self._rest.timeout.connect(self._show_below)
        self.rail = Rail(self, session, theme)
        session.changed.connect(self._hear)
        freshness.changed.connect(self._show)
        theme.changed.connect(self._show)
        self._show()

    def _figure_row(self, key: str, height: int = 24) -> FigureRow:
        row = FigureRow(self._theme, height)
        row.clicked.connect(lambda: self.explain.emit(key))
        return row

    def _lay_out(self) -> None:
        inside = QWidget()
        stack = column(inside, margins=(0, 0, 0, 8))
        for part in (
            self._head,
            self._progress,
            self._cost,
            *self._main.values(),
            self._rules[0],
            self._stair_head,
        ):
            stack.addWidget(part)
        stack.addLayout(self._stairs)
        stack.addWidget(self._rules[1])
        stack.addWidget(self._buy_head)
        stack.addLayout(self._buy_grid)
        stack.addWidget(self._rules[2])
        for part in (self._line_head, *self._line_rows, self._rules[3], self._findings):
            stack.addWidget(part)
        stack.addStretch(1)
        self._scroll = scrolling(inside)
        self._inside = inside
        whole = column(self)
        whole.addWidget(self._scroll, 1)
        whole.addWidget(Rule(self._theme, pad=0))
        whole.addWidget(self._foot)

    # what is shown ---------------------------------------------------------------------------------------------

    def _hear(self, old: State, new: State) -> None:
        if new.progress is not old.progress:
            self._show_progress()
            self._fit()
        if (
            new.selection != old.selection
            or (new.preview is None) != (old.preview is None)
            or new.document.kept is not old.document.kept
            or new.kept_assessment is not old.kept_assessment
        ):
            self._show()
        elif new.assessment is not old.assessment:
            self._follow()

    def _follow(self) -> None:
        """While a hand drags, the figures follow with each answer; what reads longer than a glance now and then."""
        state = self._session.state
        if state.assessment is None or state.preview is None or state.steady or not self._shape:
            self._show()
            return
        self._show_figures(state.assessment)
        if not self._rest.isActive():
            self._rest.start()

    def _show_figures(self, assessment: Assessment) -> None:
        """Show all figures; those that read as they did, in the same state of the panel, cost a look."""
        kept = self._session.state.kept_assessment
        self._show_cost(assessment, kept)
        design = assessment.design
        about = (design.prices, design.marks, design.materials, self._freshness.stale)
        for key, row in (*self._main.items(), *self._buy.items()):
            value, before = assessment.figures.get(key), kept.figures.get(key) if kept else None
            reads = (value, before, key == "shade_loss_winter" and assessment.lines, *about)
            if self._read.get(key) != reads:
                self._read[key] = reads
                self._show_figure(row, key, assessment, kept)
        self._align()

    def _show(self) -> None:
        state = self._session.state
        assessment = state.assessment
        self._rest.stop()
        self._read.clear()
        self._show_progress()
        parts = (
            self._cost,
            *self._main.values(),
            self._stair_head,
            self._buy_head,
            *self._buy.values(),
            *self._rules,
        )
        for part in parts:
            part.setVisible(assessment is not None)
        self._head.show_kept(state.document.kept is not None and state.kept_assessment is not None)
        if assessment is not None:
            self._show_figures(assessment)
        self._show_below()
        self._fit()

    def _show_below(self) -> None:
        """What lies below the figures."""
        assessment = self._session.state.assessment
        if assessment is not None:
            self._show_stairs(assessment)
        self._show_line(assessment)
        self._findings.show_findings(assessment.findings if assessment else None, stale=self._freshness.stale)

    def _show_progress(self) -> None:
        state = self._session.state
        self._progress.show_progress(
            state.progress if not state.fresh else None, first=state.assessment is None
        )

    def _show_cost(self, assessment: Assessment, kept: Assessment | None) -> None:
        figure = FIGURES["heat_cost_per_kwh"]
        prices, money = assessment.design.prices, assessment.design.money
        value = assessment.figures.get(figure.key)
        before = kept.figures.get(figure.key) if kept else None
        remark = ""
        if self._freshness.stale:
            remark = _("before the move")
        elif assessment.missing_prices:
            remark = _("prices missing: {count}").format(count=len(assessment.missing_prices))

        def scaled(x: float | None) -> float | None:
            return None if x is None else x / figure.shown_per

        self._cost.show_cost(
            _("Heat cost"), shown(figure, value), unit_of(figure, prices.currency), change_of(figure, value, before),
            value=scaled(value), kept=scaled(before), fuel=scaled(money.fuel_per_kwh), fuel_name=money.fuel,
            stale=self._freshness.stale, remark=remark,
        )  # fmt: skip

    def _show_figure(self, row: FigureRow, key: str, assessment: Assessment, kept: Assessment | None) -> None:
        design, value = assessment.design, assessment.figures.get(key)
        figure = _compact(FIGURES[key], value)
        before = kept.figures.get(key) if kept else None
        row.setVisible(value is not None and not (row in self._buy.values() and self._buy_folded))
        second, passes, aside = "", None, ""
        if key == "shade_loss_winter" and value is not None:
            marks = design.marks
            second = _("mean, {start:g} to {end:g} h solar; mark {limit} %").format(
                start=marks.winter_from_h, end=marks.winter_to_h, limit=percent(marks.winter_limit, digits=0)
            )
            passes = all(line.passes for line in assessment.lines)
        if key == "rod_bars":
            aside = _("{length:g} m bars").format(length=design.materials.bar_m)
        label = _(figure.label)
        row.show_figure(
            label[:1].upper() + label[1:], shown(figure, value), pretty(unit_of(figure, design.prices.currency)),
            change_of(figure, value, before), stale=self._freshness.stale, aside=aside, second=second, passes=passes,
        )  # fmt: skip

    def _align(self) -> None:
        """One edge for all values, as far right as the longest label and value need."""
        rows = (*self._main.values(), *self._buy.values())
        needed = max(row.needed_edge() for row in rows)
        for row in (*rows, *self._line_rows):
            if row.least_edge != needed:
                row.least_edge = needed
                row.update()

    def _show_stairs(self, assessment: Assessment) -> None:
        rows = stairs(assessment.staircase, few=self._level >= FEW)
        while len(self._stair_rows) < len(rows):
            row = StairRow(self._theme)
            row.clicked.connect(lambda: self.explain.emit("absorbed_kwh"))
            self._stairs.addWidget(row)
            self._stair_rows.append(row)
        size = 11 if self._level == TIGHT else 12
        columns = column_widths(rows, self._theme, size=size)
        for place, row in enumerate(self._stair_rows):
            row.setVisible(place < len(rows) and not self._stairs_folded)
            row.text_size = size
            if place < len(rows):
                row.show_stair(rows[place], rows[0].after, columns=columns, stale=self._freshness.stale)
        self._stair_head.show_text(
            _("Where the sun goes"), _("MWh, of sun"), strong=True, folded=self._stairs_folded
        )
        self._stair_head.setVisible(bool(rows))
        self._rules[0].setVisible(bool(rows))

    def _show_line(self, assessment: Assessment | None) -> None:
        ids = self._session.state.selected_lines()
        results = [line for line in assessment.lines if line.id in ids] if assessment else []
        one = results[0] if len(results) == 1 else None
        folded = self._line_folded or self._level >= TIGHT
        self._rules[3].setVisible(bool(results))
        self._line_head.setVisible(bool(results))
        uneven = self._session.state.shown.ground.heights is not None
        for place, row in enumerate(self._line_rows):
            row.setVisible(bool(one) and not folded and (uneven or place < LEVEL_ROWS))
        if not results or assessment is None:
            return
        heat = sum(line.annual_heat_kwh for line in results)
        whole = sum(line.annual_heat_kwh for line in assessment.lines)
        share = percent(heat / whole, digits=0) if whole else DASH
        brought = _("{heat} MWh, {share} % of the field").format(heat=number(heat / 1000), share=share)
        if one is None:
            self._line_head.show_text(_("{count} lines").format(count=len(results)), brought, strong=True)
            return
        self._line_head.show_text(
            _("Line {id}").format(id=one.id), brought if folded else _("{share} % of the field").format(share=share),
            strong=True, folded=folded,
        )  # fmt: skip
        self._fill_line(one)

    def _fill_line(self, line: LineResult) -> None:
        for row, (label, value, unit, aside) in zip(self._line_rows, rows_of_line(line), strict=True):
            row.show_figure(label, value, unit, stale=self._freshness.stale, right=aside)

    # room ------------------------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._shape = ()
        self._fit()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() is QEvent.Type.FontChange:
            self._shape = ()
            self._fit()

    def _fit(self) -> None:
        """Choose the fullest arrangement for which there is room; look again only when what is there has changed.

        While a hand drags, rows stay where they are.
        """
        state = self._session.state
        if self._shape and state.preview is not None and not state.steady:
            return
        found = len(state.assessment.findings) if state.assessment else -1
        steps = len(state.assessment.staircase) if state.assessment else 0
        folds = (self._stairs_folded, self._buy_folded, self._line_folded, self._progress.isVisible())
        uneven = state.shown.ground.heights is not None
        shape = (self.height(), found, steps, len(state.selected_lines()), uneven, *folds)
        if shape == self._shape:
            return
        self._shape = shape
        for level in (FULL, FEW, PLAIN, TIGHT):
            self._arrange(level)
            if self._inside.minimumSizeHint().height() <= self._scroll.height():  # it has no frame
                break

    def _arrange(self, level: int) -> None:
        self._level = level
        tight = level == TIGHT
        for row in self._main.values():
            row.set_line_height(21 if tight else 24)
        wants = [ceil(row.narrow_width()) for row in self._buy.values()]
        columns = (max(wants[::2]), max(wants[1::2]))
        pairs = tight and sum(columns) <= self._inside.width()
        for place, row in enumerate(self._buy.values()):
            if row.narrow != pairs:
                row.narrow = pairs
                row.update()
            self._buy_grid.addWidget(row, *(divmod(place, 2) if pairs else (place, 0)))
        self._buy_grid.setColumnStretch(0, columns[0])
        self._buy_grid.setColumnStretch(1, columns[1] if pairs else 0)
        for stair in self._stair_rows:
            stair.set_height(15 if tight else 18)
        self._cost.set_tight(tight)
        for rule in self._rules:
            rule.set_pad(2 if tight else 6)
        for head in (self._stair_head, self._buy_head, self._line_head):
            head.set_height(24 if tight else 28)
        self._findings.set_plain(level >= PLAIN)
        self._show_buy_head()
        assessment = self._session.state.assessment
        if assessment is not None:
            self._show_stairs(assessment)
        self._show_line(assessment)
        for part in (self._findings, self._inside):
            layout = part.layout()
            if layout is not None:
                layout.activate()

    def _show_buy_head(self) -> None:
        self._buy_head.show_text(_("To buy"), strong=True, folded=self._buy_folded)

    def _fold_stairs(self) -> None:
        self._stairs_folded = not self._stairs_folded
        self._show()

    def _fold_buy(self) -> None:
        self._buy_folded = not self._buy_folded
        self._show()

    def _fold_line(self) -> None:
        self._line_folded = not self._line_folded
        self._show()


def _compact(figure: Figure, value: float | None) -> Figure:
    """Large sums in thousands."""
    if figure.key != "capital_cost" or value is None or value < _LARGE_SUM:
        return figure
    return replace(figure, shown_per=1000.0, shown_unit="k" + _("currency"), digits=None)
