"""The shelf as a table and as a picture: head, rows in the order of the ranking, and what unfolds below the selected one."""

from itertools import pairwise

from PySide6.QtCore import QRectF, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QWidget

from studio.desk.layouts import column
from studio.desk.shelf.details import Details
from studio.desk.shelf.model import FIELD, Entry, ShelfModel
from studio.desk.shelf.rows import MEASURES, Columns, MirrorRow, Scales, TableHead, figure_px, value_of
from studio.desk.shelf.sketch import common_scale, sketch_of
from studio.desk.theme import Theme
from studio.study.ranking import Ranking

_SKETCH_HIGH = 62.0
_HEADROOM = 1.04
"""The longest bar ends a little before its column, so that a hairline at its end stays in sight."""


class ShelfTable(QWidget):
    """Rows of mirrors. ``chosen`` once another one is selected."""

    chosen = Signal()

    def __init__(self, model: ShelfModel, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._model, self._theme = model, theme
        self.selected: int | None = None
        """Place of the selected mirror on the shelf, ``FIELD`` for the field's own, None for none."""
        self.tab_after: QWidget | None = None
        """Where Tab comes from into the table."""
        self.head = TableHead(theme)
        self.rows: list[MirrorRow] = []
        self.details = Details(theme, self)
        self.details.hide()
        self._column = column(self)
        self._column.addWidget(self.head)
        self._column.addWidget(self.details)

    def select(self, place: int | None) -> None:
        """Select a mirror; its reasons and buttons unfold."""
        self.selected = place
        self.refresh()
        self.chosen.emit()

    def selected_entry(self) -> Entry | None:
        """The selected mirror."""
        return next((row.entry for row in self.rows if row.entry and row.entry.place == self.selected), None)

    def refresh(self) -> None:
        """Show the model's mirrors as they stand now."""
        entries = self._model.entries()
        if self.selected is not None and self.selected not in {entry.place for entry in entries}:
            self.selected = None
        held = next((row.entry.place for row in self.rows if row.hasFocus() and row.entry), None)
        self._have_rows(len(entries))
        columns = Columns.of(float(self.width()), figure_px(self._theme, entries))
        scales = self._scales(entries, columns)
        self.head.show_table(columns, scales)
        for row, entry in zip(self.rows, entries, strict=True):
            row.show_entry(
                entry, columns, scales, stale=self._model.stale, selected=entry.place == self.selected
            )
            if held is not None and entry.place == held:
                row.setFocus()
        self._unfold(columns, scales)
        self._keep_tab_order()
        self._column.activate()

    def _have_rows(self, count: int) -> None:
        while len(self.rows) > count:
            row = self.rows.pop()
            self._column.removeWidget(row)
            row.hide()
            row.deleteLater()
        while len(self.rows) < count:
            row = MirrorRow(self._theme, self)
            row.clicked.connect(self._click)
            self.rows.append(row)
            self._column.addWidget(row)
            row.show()

    def _scales(self, entries: tuple[Entry, ...], columns: Columns) -> Scales:
        values = [[value_of(entry.ranked, measure.key) for entry in entries] for measure in MEASURES]
        field = next((entry.ranked for entry in entries if entry.place == FIELD), None)
        ranking: Ranking | None = self._model.ranking
        box = QRectF(0, 0, columns.sketch[1] - columns.sketch[0], _SKETCH_HIGH)
        return Scales(
            px_per_m=common_scale((sketch_of(entry.shelved) for entry in entries), box),
            full=tuple(
                _HEADROOM * max((v for v in column if v is not None), default=0.0) for column in values
            ),
            present=tuple(value_of(field, measure.key) for measure in MEASURES),
            currency=self._model.design.prices.currency,
            by=ranking.by if ranking is not None else "heat_cost_per_kwh",
        )

    def _unfold(self, columns: Columns, scales: Scales) -> None:
        at = next((at for at, row in enumerate(self.rows) if row.isChecked()), None)
        if at is None:
            self.details.hide()
            return
        entry = self.rows[at].entry
        assert entry is not None
        wanted = self._column.indexOf(self.rows[at]) + 1
        if self._column.indexOf(self.details) != wanted:
            self._column.removeWidget(self.details)
            self._column.insertWidget(self._column.indexOf(self.rows[at]) + 1, self.details)
        self.details.show_entry(
            entry,
            self._model.differences(entry.shelved),
            scales.currency,
            left=columns.name[0],
            stale=self._model.stale,
        )
        self.details.show()

    def _keep_tab_order(self) -> None:
        """Tab goes down the rows, and through what is unfolded below one before the next."""
        chain: list[QWidget] = [] if self.tab_after is None else [self.tab_after]
        for row in self.rows:
            chain.append(row)
            if row.isChecked():
                chain += self.details.stops()
        for one, following in pairwise(chain):
            QWidget.setTabOrder(one, following)

    def _click(self) -> None:
        row = self.sender()
        assert isinstance(row, MirrorRow)
        assert row.entry is not None
        place = row.entry.place
        self.select(None if place == self.selected else place)

    def resizeEvent(self, event: QResizeEvent) -> None:
        if event.size().width() != event.oldSize().width():
            self.refresh()
