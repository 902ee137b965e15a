"""A search on the shelf's page: asked for by hand, stopped, its answer taken."""

import dataclasses

import pytest
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from studio.desk.session import Session
from studio.desk.shelf.model import SEARCH
from studio.desk.shelf.page import ShelfPage
from studio.desk.shelf.words import Words
from studio.desk.theme import Theme
from studio.edits.edit import admit
from studio.edits.fields import set_field
from studio.study.assess import Assessor
from tests.desk.shelf.conftest import one_line
from tests.desk.shelf.hand import LEFT, HeldAssessor, asked, design_of, settled, typed


def searched(page: ShelfPage, qtbot: QtBot) -> None:
    """Wait until nothing is searched any more."""
    qtbot.waitUntil(lambda: page.model.progress(SEARCH) is None, timeout=60_000)


def tick(page: ShelfPage, path: str, low: str, high: str) -> None:
    row = next(row for row in page.search.rows if row.path == path)
    QTest.mouseClick(row.tick, LEFT)
    typed(row.low, low)
    typed(row.high, high)


def test_a_search_finds_a_better_tilt_and_it_is_taken_in_one_step(page: ShelfPage, qtbot: QtBot) -> None:
    settled(page, qtbot)
    before = design_of(page)
    heat = next(one for one in asked().ranked if one.place is None).annual_heat_kwh or 0.0
    page.search.aim.setCurrentIndex(1)
    tick(page, "mirror.tilt_deg", "15", "55 °")
    typed(page.search.budget, "12")
    QTest.mouseClick(page.search.start, LEFT)
    assert page.search.work.isVisible()
    searched(page, qtbot)
    found = page.model.searched
    assert found is not None
    assert (found.aim, found.stopped) == ("annual_heat_kwh", False)
    assert found.assessed <= 12
    assert found.heat_before_kwh == pytest.approx(heat, rel=1e-9)
    assert (found.heat_kwh or 0.0) > heat * 1.001
    said = [label.text() for label in page.search.answer.findChildren(Words)]
    tilt = next(value for value in found.values if value.path == "mirror.tilt_deg")
    assert f"{tilt.best:.10g}°" in said
    assert design_of(page) == before
    QTest.mouseClick(page.search.take, LEFT)
    session = page.model.session
    assert design_of(page).mirror.tilt_deg == tilt.best
    assert design_of(page) == dataclasses.replace(found.design, shelf=before.shelf)
    assert session.state.undo[-1].label == f"Set mirror, tilt to {tilt.best:.10g}°"
    assert not page.search.take.isEnabled()
    alone = Assessor().assess(session.state.document, calendar=False).figures["annual_heat_kwh"]
    assert alone == pytest.approx(found.heat_kwh, rel=1e-4)
    session.undo()
    assert design_of(page) == before
    assert page.search.take.isEnabled()


def test_a_search_that_cannot_be_asked_says_why(page: ShelfPage) -> None:
    def asks(words: str) -> None:
        QTest.mouseClick(page.search.start, LEFT)
        assert words in page.search.hint.text()
        assert page.model.progress(SEARCH) is None

    asks("Tick at least one field")
    tick(page, "mirror.tilt_deg", "forty", "50")
    asks("“forty” is no number here")
    row = page.search.rows[0]
    assert row.low.property("refused")
    typed(row.low, "60")
    asks("let the upper one lie above the lower one")
    typed(row.low, "20")
    typed(page.search.budget, "3")
    asks("a whole number from 10 to 2000 would be right")


def test_bounds_are_read_with_units_and_shown_in_the_fields_own(page: ShelfPage) -> None:
    tick(page, "receiver.window_width_m", "15 cm", "0,25")
    row = next(row for row in page.search.rows if row.path == "receiver.window_width_m")
    row.tick.setFocus()
    assert (row.low.text(), row.high.text()) == ("0.150", "0.250")


def test_a_stopped_search_tells_the_best_it_had(theme: Theme, qtbot: QtBot) -> None:
    held = HeldAssessor(after=3)
    page = ShelfPage(Session(one_line()), theme, make=lambda: held)
    qtbot.addWidget(page)
    with qtbot.waitExposed(page):
        page.show()
    tick(page, "mirror.tilt_deg", "15", "55")
    QTest.mouseClick(page.search.start, LEFT)
    qtbot.waitUntil(lambda: held.waits.is_set(), timeout=60_000)
    qtbot.waitUntil(lambda: "3 designs assessed, best" in page.search.work.words, timeout=60_000)
    QTest.mouseClick(page.search.work.stop_button, LEFT)
    searched(page, qtbot)
    found = page.model.searched
    assert found is not None
    assert found.stopped
    assert found.assessed == 3
    said = [label.text() for label in page.search.answer.findChildren(Words)]
    assert "The search was stopped; this is the best it had found." in said
    edit = admit(design_of(page), set_field(design_of(page), path="mirror.ribs", value=9))
    page.model.session.apply(edit)
    said = [label.text() for label in page.search.answer.findChildren(Words) if label.isVisible()]
    assert "The design has changed since; these figures are from before." in said
    page.shut()
