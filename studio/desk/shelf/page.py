"""The shelf's page: what is put on it, the ranked mirrors, and a search."""

from collections.abc import Callable

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QPushButton, QWidget

from studio.desk.layouts import column, line, scrolling
from studio.desk.painted import MARGIN
from studio.desk.session import Session
from studio.desk.shelf.details import NameEdit
from studio.desk.shelf.model import FIELD, RANK, Assesses, ShelfModel
from studio.desk.shelf.search_block import SearchBlock
from studio.desk.shelf.table import ShelfTable
from studio.desk.shelf.words import Words, WorkLine
from studio.desk.theme import Theme
from studio.edits.edit import Edit
from studio.edits.shelf import build_of_shelved, put_on_shelf, rename_on_shelf, take_off_shelf
from studio.errors import StillfieldError
from studio.study.apart import AssessorApart
from studio.text import _

_NAMED = 4


class ShelfPage(QWidget):
    """Mirrors beside the one that the field is built of, ranked by heat cost with their reasons, and a search.

    Ranks in the background while it is in sight. ``shut`` ends that work.
    """

    def __init__(
        self,
        session: Session,
        theme: Theme,
        *,
        make: Callable[[], Assesses] = AssessorApart,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._session, self._theme = session, theme
        self.model = ShelfModel(session, make=make, parent=self)
        self.put = QPushButton(_("Put this mirror on the shelf"))
        self.put.clicked.connect(self._put)
        self.name = NameEdit(theme)
        self.name.setFixedWidth(130)
        self.name.setPlaceholderText(_("its name"))
        self.name.returnPressed.connect(self._put)
        self.name.left_alone.connect(self.name.clear)
        self.work = WorkLine(theme, stop_name=_("Stop ranking"), again=_("Rank"))
        self.work.stop.connect(self._stop)
        self.work.again.connect(self.model.rank_now)
        self.about = Words(theme, size=13, role="ink2")
        self.about.setContentsMargins(MARGIN, 8, MARGIN, 8)
        self.table = ShelfTable(self.model, theme)
        self.below = Words(theme, size=12, role="ink2")
        self.below.setContentsMargins(MARGIN, 8, MARGIN, 10)
        self.search = SearchBlock(self.model, session, theme)
        self._lay_out()
        self.table.tab_after = self.work.stop_button
        details = self.table.details
        details.build.connect(self._build)
        details.rename.connect(self._rename)
        details.take_off.connect(self._take_off)
        self._later = QTimer(self, interval=0, singleShot=True)
        self._later.timeout.connect(self._into_sight)
        self.table.chosen.connect(self._later.start)
        self.model.changed.connect(self._hear)
        self.setAutoFillBackground(True)
        self.setAccessibleName(_("Shelf of mirrors"))
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setFocusProxy(self.put)
        self._refresh()

    def _lay_out(self) -> None:
        head = line(margins=(MARGIN, 8, MARGIN, 8), spacing=8)
        head.addWidget(self.put)
        head.addWidget(self.name)
        head.addWidget(self.work, 1)
        inside = QWidget()
        self._body = column(inside)
        for part in (self.about, self.table, self.below, self.search):
            self._body.addWidget(part)
        self._body.addStretch(1)
        self.area = scrolling(inside)
        whole = column(self)
        whole.addLayout(head)
        whole.addWidget(self.area, 1)

    def shut(self) -> None:
        """End the work in the background."""
        self.model.background.close()

    # what a hand does ------------------------------------------------------------------------------------------

    def _put(self) -> None:
        label = self.name.text()
        if self._try(lambda: put_on_shelf(self._session.state.design, label=label)):
            self.name.clear()
            self.table.select(len(self._session.state.design.shelf) - 1)

    def _build(self) -> None:
        self._on_selected(lambda place: build_of_shelved(self._session.state.design, place=place))

    def _rename(self, label: str) -> None:
        self._on_selected(lambda place: rename_on_shelf(self._session.state.design, place=place, label=label))

    def _take_off(self) -> None:
        self._on_selected(lambda place: take_off_shelf(self._session.state.design, place=place))
        self.table.select(None)

    def _on_selected(self, make: Callable[[int], Edit]) -> None:
        place = self.table.selected
        if place is not None and place != FIELD:
            self._try(lambda: make(place))

    def _try(self, make: Callable[[], Edit]) -> bool:
        try:
            return self._session.apply(make())
        except StillfieldError as error:
            self._session.update(notice=str(error))
            return False

    def _stop(self) -> None:
        self.model.stop(RANK)

    # what it shows ---------------------------------------------------------------------------------------------

    def _into_sight(self) -> None:
        """What was unfolded or found, once it has its place."""
        if self.search.take.hasFocus():
            self.area.ensureWidgetVisible(self.search.take, 0, 16)
        elif self.table.details.isVisible():
            self.area.ensureWidgetVisible(self.table.details, 0, 0)

    def showEvent(self, event: QShowEvent) -> None:
        self.model.wake()

    def hideEvent(self, event: QHideEvent) -> None:
        self.model.sleep()

    def _hear(self, what: str) -> None:
        if what == "rows":
            self._refresh()
        elif what == "progress":
            self._show_work()
        elif what == "search" and self.search.take.hasFocus():
            self._later.start()

    def _refresh(self) -> None:
        empty = not self._session.state.design.shelf
        self.about.say(_empty() if empty else "")
        self.table.setVisible(not empty)
        if not empty:
            self.table.refresh()
        self.below.say("" if empty else self._below())
        self._show_work()

    def _below(self) -> str:
        sentences = [
            _(
                "Bars begin at zero; the hairline is the field's mirror. A m2 of aperture counts film, rib and stand rods, "
                "fixings and labour of the mirror; receivers, pipes and frames are the line's."
            )
        ]
        ranking = self.model.ranking
        if ranking is not None and ranking.by == "annual_heat_kwh":
            sentences.insert(0, _("Without prices there is no heat cost, so outlet heat ranks."))
        elif ranking is not None and ranking.missing_prices:
            names = ", ".join(ranking.missing_prices[:_NAMED])
            rest = len(ranking.missing_prices) - _NAMED
            if rest > 0:
                names = _("{names} and {count} more").format(names=names, count=rest)
            sentences.insert(0, _("Costs leave out what has no price: {names}.").format(names=names))
        return " ".join(sentences)

    def _show_work(self) -> None:
        progress, trouble = self.model.progress(RANK), self.model.trouble.get(RANK, "")
        if progress is not None:
            self.work.show_progress(_("Ranking"), progress)
        elif trouble:
            self.work.say(trouble, again=True)
        elif self.model.wanting:
            self.work.say(
                _("Figures are from before the change.") if self.model.stale else "", again=self.model.resting
            )
        else:
            self.work.say(self._best())

    def _best(self) -> str:
        entries = self.model.entries()
        if len(entries) < 2 or not entries[0].rank:
            return ""
        assert self.model.ranking is not None
        words = (
            _("Least heat cost: {name}.")
            if self.model.ranking.by == "heat_cost_per_kwh"
            else _("Most heat: {name}.")
        )
        return words.format(name=entries[0].label)


def _empty() -> str:
    return _(
        "The shelf keeps mirrors beside the one that the field is built of, each with its receiver and its slide and roll. "
        "Put the present one on it, change the mirror, put that on it too: each is tried in the whole field and ranked by "
        "what a kWh of heat costs, with the reasons."
    )


def shelf_page(session: Session, theme: Theme, parent: QWidget | None = None) -> ShelfPage:
    """The page as a view embeds it; call its ``shut`` when the window closes."""
    return ShelfPage(session, theme, parent=parent)
