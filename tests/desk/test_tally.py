"""The tally: figures in columns, changes against kept, signs of what is being worked out."""

from collections.abc import Callable

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from studio.desk.freshness import Freshness
from studio.desk.session import Session
from studio.desk.staircase import stairs
from studio.desk.state import Moment, Subject
from studio.desk.tally import Tally
from studio.desk.tally_rows import change_of
from studio.desk.theme import Theme
from studio.edits.spots import clear_heights, set_spots
from studio.study.assessment import Assessment, Step
from studio.study.figures import FIGURES
from studio.study.findings import Finding, Mend
from studio.text import MINUS

Assess = Callable[..., Assessment]


@pytest.fixture
def tally(session: Session, theme: Theme, qtbot: QtBot) -> Tally:
    made = Tally(session, theme, Freshness(session, patience_ms=30))
    qtbot.addWidget(made)
    made.resize(328, 952)
    made.show()
    return made


def shown_names(tally: Tally) -> list[str]:
    from PySide6.QtWidgets import QWidget

    return [
        part.accessibleName()
        for part in tally.findChildren(QWidget)
        if part.isVisible() and part.accessibleName()
    ]


def test_nothing_stands_before_it_is_computed(tally: Tally, session: Session, assess: Assess) -> None:
    assert not any("MWh" in name for name in shown_names(tally))
    session.take_assessment(session.state.revision, assess(session.state.design))
    names = shown_names(tally)
    assert any(name.startswith("Outlet heat: 52.0 MWh") for name in names)
    assert any(name.startswith("Heat cost: 4.89 ct/kWh") for name in names)
    assert any("passes" in name for name in names)


def test_a_figure_without_a_value_has_no_row(tally: Tally, session: Session, assess: Assess) -> None:
    session.take_assessment(session.state.revision, assess(session.state.design, oil_litres=None))
    names = shown_names(tally)
    assert not any(name.startswith("Oil:") for name in names)
    assert any(name.startswith("Film:") for name in names)


@pytest.mark.parametrize(
    ("key", "before", "after", "text", "verdict"),
    [
        ("annual_heat_kwh", 90_000.0, 94_000.0, "+4.0", "better"),
        ("annual_heat_kwh", 94_000.0, 90_000.0, MINUS + "4.0", "worse"),
        ("heat_cost_per_kwh", 0.0513, 0.0489, MINUS + "0.24", "better"),
        ("shade_loss_winter", 0.040, 0.052, "+1.2", "worse"),
        ("mirrors", 100.0, 124.0, "+24", ""),
    ],
)
def test_a_change_has_its_way_and_its_verdict(
    key: str, before: float, after: float, text: str, verdict: str
) -> None:
    change = change_of(FIGURES[key], after, before)
    assert change is not None
    assert (change.text, change.verdict, change.up) == (text, verdict, after > before)


def test_what_reads_alike_is_no_change() -> None:
    assert change_of(FIGURES["annual_heat_kwh"], 94_000.0, 94_001.0) is None
    assert change_of(FIGURES["annual_heat_kwh"], None, 94_001.0) is None


def test_the_rail_comes_at_once_and_the_figures_own_signs_after_a_moment(
    tally: Tally, session: Session, assess: Assess, qtbot: QtBot
) -> None:
    def signs() -> list[str]:
        return [name for name in shown_names(tally) if "before the move" in name]

    design = session.state.design
    session.take_assessment(session.state.revision, assess(design))
    assert signs() == []
    session.preview(type(design)(lines=design.lines[:2]))
    assert signs() == [tally.rail.accessibleName()]
    qtbot.waitUntil(lambda: len(signs()) > 1, timeout=60_000)
    session.take_assessment(session.state.revision, assess(session.state.shown))
    assert signs() == []


def test_changes_stand_against_the_kept_design(tally: Tally, session: Session, assess: Assess) -> None:
    session.take_assessment(session.state.revision, assess(session.state.design))
    session.keep("2026-03-12")
    design = session.state.design
    session.preview(type(design)(lines=design.lines[:2]))
    session.take_assessment(session.state.revision, assess(session.state.shown))
    assert any(f"{MINUS}26.0 against kept worse" in name for name in shown_names(tally))


def test_the_staircase_adds_up_as_it_is_shown(assess: Assess, session: Session) -> None:
    for few in (False, True):
        rows = stairs(assess(session.state.design).staircase, few=few)
        left = float(rows[0].shown)
        share = float(rows[0].share)
        for row in rows[1:]:
            value, part = float(row.shown.replace(MINUS, "-")), float(row.share)
            if row.landing:
                assert value == pytest.approx(left, abs=1e-9)
                assert part == pytest.approx(share, abs=1e-9)
            else:
                left, share = left + value, share - part
        assert rows[-1].key == "outlet"


def test_an_empty_field_has_no_staircase() -> None:
    assert stairs((Step("facing", "sun", 0.0, landing=True),)) == ()


def test_a_finding_selects_its_line_and_goes_there(
    tally: Tally, session: Session, assess: Assess, qtbot: QtBot
) -> None:
    finding = Finding("winter_shade", "caution", "Line 3 shaded 7 %", place=(4.0, 9.0), line_id=3)
    session.take_assessment(session.state.revision, assess(session.state.design, findings=(finding,)))
    row = next(row for row in tally._findings._rows if row.isVisible())
    with qtbot.waitSignal(session.go_to, timeout=60_000) as gone:
        QTest.mouseClick(row, Qt.MouseButton.LeftButton)
    assert gone.args == [4.0, 9.0]
    assert session.state.selection == frozenset({Subject("line", 3)})


def test_a_finding_in_hand_is_mended_by_its_button(
    tally: Tally, session: Session, assess: Assess, qtbot: QtBot
) -> None:
    mend = Mend("Use 9 ribs", "set_field", {"path": "mirror.ribs", "value": 9})
    findings = (
        Finding("a", "note", "Eleven ribs are many", mend=mend),
        Finding("b", "note", "Nothing to mend"),
    )
    session.take_assessment(session.state.revision, assess(session.state.design, findings=findings))
    rows = [row for row in tally._findings._rows if row.isVisible()]
    button = tally._findings._mend
    QTest.mouseClick(rows[1], Qt.MouseButton.LeftButton)
    assert not button.isVisible()
    QTest.mouseClick(rows[0], Qt.MouseButton.LeftButton)
    assert button.isVisible()
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)
    assert session.state.design.mirror.ribs == 9
    assert len(session.state.undo) == 1


def test_a_figure_is_explained_by_click_and_by_enter(
    tally: Tally, session: Session, assess: Assess, qtbot: QtBot
) -> None:
    session.take_assessment(session.state.revision, assess(session.state.design))
    row = tally._main["annual_heat_kwh"]
    with qtbot.waitSignal(tally.explain, timeout=60_000) as asked:
        QTest.mouseClick(row, Qt.MouseButton.LeftButton)
    assert asked.args == ["annual_heat_kwh"]
    with qtbot.waitSignal(tally.explain, timeout=60_000):
        QTest.keyClick(row, Qt.Key.Key_Return)


def test_the_selected_line_stands_with_its_share(tally: Tally, session: Session, assess: Assess) -> None:
    session.take_assessment(session.state.revision, assess(session.state.design))
    session.select(Subject("line", 2))
    assert any(name.startswith("Line 2") and "25 % of the field" in name for name in shown_names(tally))
    session.select()
    assert not any(name.startswith("Line 2") for name in shown_names(tally))


def test_a_line_over_measured_heights_tells_its_posts_and_earth(
    tally: Tally, session: Session, assess: Assess
) -> None:
    def shown() -> list[str]:
        session.take_assessment(session.state.revision, assess(session.state.design))
        session.select(Subject("line", 2))
        return [name for name in shown_names(tally) if name.startswith(("Posts", "Or graded"))]

    tally.resize(328, 1300)
    assert shown() == []
    spots = [[0.0, 0.0, 1.0], [90.0, 0.0, 2.0], [0.0, 90.0, 3.0]]
    session.apply(set_spots(session.state.design, spots=spots))
    posts, earth = shown()
    assert posts.startswith("Posts: 0.80 to 1.45 m")
    assert earth.startswith("Or graded, cut and fill: 12 and 11 m")
    assert any(name.startswith("Pipe, grade 1.5 %: 40") for name in shown_names(tally))
    session.apply(clear_heights(session.state.design))
    assert shown() == []


@pytest.mark.parametrize("height", [640, 952, 1300])
def test_rows_never_overlap(
    tally: Tally, session: Session, assess: Assess, height: int, qtbot: QtBot
) -> None:
    from studio.desk.painted import Row

    tally.resize(296, height)
    session.take_assessment(session.state.revision, assess(session.state.design))
    session.select(Subject("line", 2))
    session.set_moment(Moment(10, 12.0))
    qtbot.wait(30)
    rows = [row for row in tally._inside.findChildren(Row) if row.isVisible()]
    boxes = [row.rect().translated(row.mapTo(tally._inside, row.rect().topLeft())) for row in rows]
    for place, box in enumerate(boxes):
        assert not any(box.intersects(other) for other in boxes[place + 1 :])
