"""The shelf's page under a hand: mirrors put on it, ranked, looked at, built of."""

import dataclasses
from multiprocessing import active_children

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLineEdit, QWidget
from pytestqt.qtbot import QtBot

from studio.design.shelf import of_field
from studio.desk.session import Session
from studio.desk.shelf.model import FIELD, RANK
from studio.desk.shelf.page import ShelfPage, shelf_page
from studio.desk.shelf.rows import reasons_of, shown_measure, value_of
from studio.desk.shelf.sketch import sketch_of
from studio.desk.shelf.words import Words
from studio.desk.theme import Theme
from tests.desk.shelf.conftest import MIRRORS, page_on, six
from tests.desk.shelf.hand import LEFT, HeldAssessor, asked, design_of, labels, row_of, settled, typed


def test_an_empty_shelf_says_what_it_is_for_and_takes_the_first_mirror(
    empty: ShelfPage, qtbot: QtBot
) -> None:
    assert "each is tried in the whole field and ranked" in empty.about.text()
    assert not empty.table.isVisible()
    assert empty.model.background.idle
    typed(empty.name, "as it is")
    QTest.mouseClick(empty.put, LEFT)
    session = empty.model.session
    assert design_of(empty).shelf == (of_field(design_of(empty), "as it is"),)
    assert session.state.undo[-1].label == "Put as it is on the shelf"
    assert empty.name.text() == ""
    assert empty.table.isVisible()
    assert not empty.about.isVisible()
    settled(empty, qtbot)
    assert sorted(labels(empty)) == ["as it is", "in the field"]
    entry = row_of(empty, "as it is").entry
    assert entry is not None
    assert reasons_of(entry) == "It does as the field's mirror does."
    session.undo()
    assert not empty.table.isVisible()
    assert empty.about.isVisible()


def test_six_mirrors_are_ranked_as_without_a_desk(page: ShelfPage, qtbot: QtBot) -> None:
    assert all(row.entry is not None and row.entry.ranked is None for row in page.table.rows)
    settled(page, qtbot)
    assert labels(page) == [one.label for one in asked().ranked]
    assert set(labels(page)) == {"in the field", *MIRRORS}
    for place, (row, one) in enumerate(zip(page.table.rows, asked().ranked, strict=True), start=1):
        assert row.entry is not None
        assert row.entry.rank == place
        assert value_of(row.entry.ranked, "heat_cost_per_kwh") == pytest.approx(
            one.heat_cost_per_kwh, rel=1e-9
        )
        told = row.accessibleName()
        assert told.startswith(
            f"{place}. {one.label}, heat cost {100 * (one.heat_cost_per_kwh or 0):#.3g} ct/kWh"
        )
        assert f"intercept {100 * (one.intercept or 0):.1f} %" in told
        for reason in one.reasons:
            assert reason.sentence[1:].replace("m2", "m²")[:20] in row.accessibleDescription().replace(
                "\xa0", " "
            )
    tops = [row.y() for row in page.table.rows]
    assert tops == sorted(tops)
    assert f"Least heat cost: {asked().ranked[0].label}." == page.work.words


def test_bars_are_as_long_as_their_figures_and_the_hairline_is_the_fields(
    page: ShelfPage, theme: Theme, qtbot: QtBot
) -> None:
    settled(page, qtbot)
    image = page.table.grab().toImage()
    loss, ink = theme.color("loss").rgb(), theme.color("ink").rgb()
    columns = page.table.head.columns
    assert columns is not None
    left, right = columns.bars[0]
    field = next(one for one in asked().ranked if one.place is None).heat_cost_per_kwh or 0.0
    most = max(one.heat_cost_per_kwh or 0.0 for one in asked().ranked)
    for row, one in zip(page.table.rows, asked().ranked, strict=True):
        middle, above = row.y() + 17, row.y() + 8
        across = [x for x in range(int(left), int(right) + 1) if image.pixel(x, middle) in (loss, ink)]
        long = (right - left) * (one.heat_cost_per_kwh or 0.0) / most / 1.04
        filled = [x for x in across if image.pixel(x, middle) == loss]
        assert max(filled) - left == pytest.approx(long, abs=2.5), one.label
        dark = [x for x in range(int(left), int(right) + 1) if image.pixelColor(x, above).lightness() < 120]
        assert dark, one.label
        assert sum(dark) / len(dark) - left == pytest.approx((right - left) * field / most / 1.04, abs=1.5)


def test_a_clicked_row_tells_all_and_the_field_is_built_of_it(page: ShelfPage, qtbot: QtBot) -> None:
    settled(page, qtbot)
    before = design_of(page)
    row = row_of(page, "15 ribs")
    QTest.mouseClick(row, LEFT, pos=QPoint(40, 20))
    qtbot.wait(20)
    assert row.isChecked()
    details = page.table.details
    assert details.isVisible()
    assert details.y() == row.y() + row.height()
    said = [label.text().replace("\xa0", " ") for label in details.findChildren(Words) if label.isVisible()]
    one = next(one for one in asked().ranked if one.label == "15 ribs")
    for reason in one.reasons:
        assert any(reason.sentence[1:].replace("m2", "m²") in text for text in said)
    assert "Differs in: Mirror, ribs 15 (field 11)." in said
    assert any(text.startswith(f"A m² of aperture costs {one.cost_per_m2:.1f} EUR: film") for text in said)
    QTest.mouseClick(details.build_button, LEFT)
    assert design_of(page).mirror.ribs == 15
    assert page.model.session.state.undo[-1].label == "Build the field of 15 ribs"
    assert page.model.stale
    assert all(row.stale for row in page.table.rows)
    assert page.work.words == "Figures are from before the change."
    settled(page, qtbot)
    assert not page.model.stale
    costs = {
        row.entry.label: value_of(row.entry.ranked, "heat_cost_per_kwh")
        for row in page.table.rows
        if row.entry
    }
    assert costs["in the field"] == costs["15 ribs"]
    page.model.session.undo()
    assert design_of(page) == before
    settled(page, qtbot)
    assert labels(page) == [one.label for one in asked().ranked]


def test_rename_and_take_off_need_no_new_ranking(page: ShelfPage, qtbot: QtBot) -> None:
    settled(page, qtbot)
    ranking = page.model.ranking
    QTest.mouseClick(row_of(page, "sphere"), LEFT, pos=QPoint(40, 20))
    qtbot.wait(20)
    details = page.table.details
    QTest.mouseClick(details.rename_button, LEFT)
    assert details.name.isVisible()
    typed(details.name, "round")
    QTest.keyClick(details.name, Qt.Key.Key_Escape)
    assert not details.name.isVisible()
    assert "sphere" in labels(page)
    QTest.mouseClick(details.rename_button, LEFT)
    typed(details.name, "round")
    QTest.keyClick(details.name, Qt.Key.Key_Return)
    assert design_of(page).shelf[2].label == "round"
    assert row_of(page, "round").isChecked()
    QTest.mouseClick(details.take_button, LEFT)
    assert page.model.session.state.undo[-1].label == "Take round off the shelf"
    assert len(page.table.rows) == 6
    assert page.table.selected is None
    assert not details.isVisible()
    assert (page.model.wanting, page.model.ranking) == (False, ranking)
    page.model.session.undo()
    assert row_of(page, "round").entry is not None
    assert not page.model.wanting


def test_rows_are_reached_and_opened_by_keyboard(page: ShelfPage, qtbot: QtBot) -> None:
    settled(page, qtbot)
    first = page.table.rows[0]
    page.name.setFocus()
    for _turn in range(4):
        if first.hasFocus():
            break
        here = QApplication.focusWidget()
        assert here is not None
        QTest.keyClick(here, Qt.Key.Key_Tab)
    assert first.hasFocus()
    QTest.keyClick(first, Qt.Key.Key_Return)
    assert first.isChecked()
    QTest.keyClick(first, Qt.Key.Key_Tab)
    assert page.table.details.build_button.hasFocus()
    for part in page.findChildren(QWidget):
        if isinstance(part, QAbstractButton | QLineEdit) and part.isVisible():
            interface = QAccessible.queryAccessibleInterface(part)
            assert interface.text(QAccessible.Text.Name), part


@pytest.mark.parametrize("size", [(980, 880), (700, 610)])
@pytest.mark.parametrize("wish", ["light", "dark"])
def test_nothing_is_cut(
    page: ShelfPage, theme: Theme, qtbot: QtBot, size: tuple[int, int], wish: str
) -> None:
    theme.set_wish("dark" if wish == "dark" else "light")
    page.resize(*size)
    settled(page, qtbot)
    for row in page.search.rows[:4]:
        row.tick.click()
    assert [row.tick.isEnabled() for row in page.search.rows] == [True] * 4 + [False] * 4
    page.table.select(0)
    qtbot.wait(20)
    inside = page.area.widget()
    assert inside is not None
    assert inside.width() <= page.area.viewport().width()
    for part in inside.findChildren(QWidget):
        around = part.parentWidget()
        if part.isVisible() and around is not None:
            box = part.geometry()
            assert box.left() >= 0, part
            assert box.right() <= around.width(), part
            if isinstance(part, Words) and not part.wordWrap():
                assert part.sizeHint().width() <= box.width() + 1, part.text()


def test_ranking_can_be_stopped_and_begun_again(theme: Theme, qtbot: QtBot) -> None:
    held = HeldAssessor()
    page = ShelfPage(Session(six()), theme, make=lambda: held)
    qtbot.addWidget(page)
    with qtbot.waitExposed(page):
        page.show()
    qtbot.waitUntil(lambda: page.work.words == "Ranking: in the field, 7 %", timeout=60_000)
    QTest.mouseClick(page.work.stop_button, LEFT)
    qtbot.waitUntil(lambda: page.model.progress(RANK) is None, timeout=60_000)
    assert page.model.ranking is None
    assert page.work.again_button.isVisible()
    qtbot.wait(600)
    assert page.model.background.idle, "a stopped ranking does not begin by itself"
    held.go.set()
    QTest.mouseClick(page.work.again_button, LEFT)
    settled(page, qtbot)
    assert labels(page) == [one.label for one in asked().ranked]
    page.shut()


def test_without_a_line_it_says_so(theme: Theme, qtbot: QtBot) -> None:
    bare = dataclasses.replace(six(), design=dataclasses.replace(six().design, lines=()))
    page = page_on(bare, theme, qtbot)
    qtbot.waitUntil(lambda: "place a line of mirrors first" in page.work.words, timeout=60_000)
    assert [row.entry.rank for row in page.table.rows if row.entry] == [0] * 7
    page.shut()


def test_a_process_apart_ranks_while_the_window_lives(theme: Theme, qtbot: QtBot) -> None:
    two = dataclasses.replace(six(), design=dataclasses.replace(six().design, shelf=six().design.shelf[:1]))
    page = shelf_page(Session(two), theme)
    qtbot.addWidget(page)
    with qtbot.waitExposed(page):
        page.show()
    settled(page, qtbot)
    assert "assessor" in {process.name for process in active_children()}
    here = {one.label: one.heat_cost_per_kwh for one in asked().ranked}
    for row in page.table.rows:
        assert row.entry is not None
        assert value_of(row.entry.ranked, "heat_cost_per_kwh") == pytest.approx(
            here[row.entry.label], rel=1e-9
        )
    page.shut()


def test_sketches_are_the_mirrors_own_geometry() -> None:
    """A paraboloid's edge over its vertex is (h / 2)^2 / (4 f); the ribs stand evenly from edge to edge."""
    shelved = of_field(six().design)
    sketch = sketch_of(shelved)
    mirror = shelved.mirror
    assert sketch.film[-1, 1] == pytest.approx((mirror.height_m / 2) ** 2 / (4 * mirror.focal_m), rel=1e-12)
    assert len(sketch.ribs_x_m) == mirror.ribs
    assert sketch.ribs_x_m[[0, -1]] == pytest.approx([-mirror.width_m / 2, mirror.width_m / 2])
    assert sketch.window.mean(axis=0) == pytest.approx([0.0, shelved.motion.arm_m], abs=1e-12)
    assert shown_measure("intercept", 0.5) == "50.0"
    assert FIELD < 0
