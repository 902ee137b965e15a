"""What a hand does on the shelf's page and what an eye reads off it."""

import threading
from functools import cache

from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from studio.design.design import Design, Document
from studio.desk.shelf.page import ShelfPage
from studio.desk.shelf.rows import MirrorRow
from studio.study.assess import Assessor
from studio.study.assessment import Assessment
from studio.study.ranking import Ranking, rank
from studio.study.rounds import Glance
from studio.study.watch import StoppedError, Watch, go_on
from tests.desk.shelf.conftest import ASSESSOR, six

LEFT = Qt.MouseButton.LeftButton


@cache
def asked() -> Ranking:
    """The ranking as it comes without a desk."""
    return rank(six(), assessor=ASSESSOR)


def settled(page: ShelfPage, qtbot: QtBot) -> None:
    """Wait until a ranking stands."""
    qtbot.waitUntil(lambda: page.model.ranking is not None and not page.model.wanting, timeout=60_000)


def row_of(page: ShelfPage, label: str) -> MirrorRow:
    return next(row for row in page.table.rows if row.entry is not None and row.entry.label == label)


def labels(page: ShelfPage) -> list[str]:
    return [row.entry.label for row in page.table.rows if row.entry is not None]


def design_of(page: ShelfPage) -> Design:
    return page.model.session.state.design


def typed(edit: QLineEdit, text: str) -> None:
    edit.setFocus()
    edit.selectAll()
    QTest.keyClicks(edit, text)


class HeldAssessor(Assessor):
    """Assesses with what is known; after so many it waits until it is let go or told to stop."""

    def __init__(self, *, after: int = 0) -> None:
        super().__init__()
        self.cache = ASSESSOR.cache
        self.go, self.waits = threading.Event(), threading.Event()
        self._left = after

    def assess(
        self,
        document: Document,
        design: Design | None = None,
        *,
        watch: Watch = go_on,
        calendar: bool = True,
        exact: bool = True,
        glance: Glance | None = None,
    ) -> Assessment:
        while self._left <= 0 and not self.go.wait(0.01):
            self.waits.set()
            if not watch("shade", 0.5):
                raise StoppedError("stopped")
        self._left -= 1
        return super().assess(document, design, watch=watch, calendar=calendar, exact=exact, glance=glance)
