"""The page of curves by real events: opened, hovered, stepped through, clicked, taken, undone. Assessments are real."""

import dataclasses
import threading
import time
from collections.abc import Callable, Iterator

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from studio.design.design import Design, Document
from studio.desk.curves import page as page_module
from studio.desk.curves.charts import CurveCharts
from studio.desk.curves.page import CurvesPage
from studio.desk.session import Session
from studio.desk.theme import Theme
from studio.desk.window import Window
from studio.desk.worker import assessor_apart
from studio.edits.edit import Edit
from studio.edits.lines import move_lines
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.assess import Assessor
from studio.study.assessment import Assessment
from studio.study.watch import Watch

ASSESSOR = Assessor()
"""One for all tests: what is worked out once is there."""
NONE, KEYS = Qt.KeyboardModifier.NoModifier, Qt.KeyboardModifier


def document() -> Document:
    return open_site(example_path("small_dryer"))


@pytest.fixture
def page(theme: Theme, qtbot: QtBot) -> Iterator[CurvesPage]:
    """The page alone, on the small example."""
    made = CurvesPage(Session(document()), theme, make=lambda: ASSESSOR)
    qtbot.addWidget(made)
    made.resize(400, 900)
    made.show()
    yield made
    made.shut()


def whole(page: CurvesPage) -> Callable[[], bool]:
    return lambda: page.model.answer is not None and page.model.answer.whole and not page.model.stale


def words(page: CurvesPage) -> str:
    """What the page says below its charts, with plain spaces."""
    return page.told.text().replace("\xa0", " ")


def move_to(charts: CurveCharts, place: QPointF) -> None:
    """A real move of the mouse without a button."""
    event = QMouseEvent(
        QMouseEvent.Type.MouseMove, place, charts.mapToGlobal(place), Qt.MouseButton.NoButton, Qt.MouseButton.NoButton, NONE,
    )  # fmt: skip
    QApplication.sendEvent(charts, event)


def test_points_come_one_by_one_the_present_one_first(page: CurvesPage, qtbot: QtBot) -> None:
    heard: list[int] = []
    page.model.changed.connect(
        lambda what: heard.append(len(page.charts.points())) if what == "points" else None
    )
    qtbot.waitUntil(whole(page), timeout=60_000)
    counts = [count for count in heard if count]
    assert counts[0] <= 2
    assert len(set(counts)) > 5
    assert page.model.answer is not None
    points = page.charts.points()
    assert [point.value for point in points] == list(page.model.answer.question.values)
    assert page.charts.now is not None
    assert page.charts.now.design is page.model.design
    assert page.work.words == "Click a point, or step with the arrow keys."
    assert "2.65 m" in page.charts.accessibleDescription()
    assert page.charts.accessibleName() == "Curves over the mean pitch"


def test_hover_tells_all_and_changes_nothing(page: CurvesPage, qtbot: QtBot) -> None:
    qtbot.waitUntil(whole(page), timeout=60_000)
    point = page.charts.points()[-2]
    move_to(page.charts, page.charts.place_of(point))
    assert page.charts.hovered is point
    said = page.charts.accessibleDescription()
    assert f"{point.value:.2f} m" in said
    for key in ("outlet heat", "winter shade", "ground cover", "heat cost"):
        assert key in said
    assert f"{point.value:.2f} m, now 2.65 m: 44 mirrors" in words(page)
    assert page.model.session.state.preview is None
    assert not page.take_button.isEnabled()
    move_to(page.charts, QPointF(2.0, 5.0))
    assert page.charts.hovered is None


def test_a_click_previews_take_applies_once_and_undo_takes_it_back(page: CurvesPage, qtbot: QtBot) -> None:
    session = page.model.session
    before = session.state.design
    qtbot.waitUntil(whole(page), timeout=60_000)
    point = page.charts.points()[-3]
    QTest.mouseClick(page.charts, Qt.MouseButton.LeftButton, pos=page.charts.place_of(point).toPoint())
    assert page.model.chosen is point
    assert session.state.preview is point.design
    assert session.state.design is before
    assert not session.state.undo
    QTest.mouseClick(page.take_button, Qt.MouseButton.LeftButton)
    assert session.state.design == point.design
    assert session.state.preview is None
    assert [step.label for step in session.state.undo] == [point.label]
    assert page.model.chosen is None
    qtbot.waitUntil(whole(page), timeout=60_000)
    assert page.charts.now is not None
    assert page.charts.now.value == pytest.approx(point.value)
    session.undo()
    assert session.state.design is before
    qtbot.waitUntil(whole(page), timeout=60_000)
    assert page.charts.now is not None
    assert page.charts.now.value == pytest.approx(2.65)


def test_arrows_step_enter_takes_escape_leaves(page: CurvesPage, qtbot: QtBot) -> None:
    session = page.model.session
    before = session.state.design
    qtbot.waitUntil(whole(page), timeout=60_000)
    points = page.charts.points()
    here = next(place for place, point in enumerate(points) if point is page.charts.now)
    page.charts.setFocus()
    QTest.keyClick(page.charts, Qt.Key.Key_Right)
    assert page.model.chosen is points[here + 1]
    QTest.keyClick(page.charts, Qt.Key.Key_Right)
    assert page.model.chosen is points[here + 2]
    QTest.keyClick(page.charts, Qt.Key.Key_Left)
    assert session.state.preview is points[here + 1].design
    QTest.keyClick(page.charts, Qt.Key.Key_End)
    assert page.model.chosen is points[-1]
    closed: list[bool] = []
    page.closed.connect(lambda: closed.append(True))
    QTest.keyClick(page.charts, Qt.Key.Key_Escape)
    assert page.model.chosen is None
    assert session.state.shown is before
    assert not closed
    QTest.keyClick(page.charts, Qt.Key.Key_Home)
    QTest.keyClick(page.charts, Qt.Key.Key_Return)
    assert session.state.design == points[0].design
    assert len(session.state.undo) == 1
    QTest.keyClick(page.charts, Qt.Key.Key_Escape)
    assert closed == [True]


def test_another_measure_and_planted_anew(page: CurvesPage, qtbot: QtBot) -> None:
    qtbot.waitUntil(whole(page), timeout=60_000)
    assert page.facing.isHidden()
    QTest.mouseClick(page.overs["spacing"], Qt.MouseButton.LeftButton)
    assert page.model.over == "spacing"
    assert page.model.stale
    qtbot.waitUntil(whole(page), timeout=60_000)
    assert {len(point.design.lines) for point in page.charts.points() if point.design} == {3}
    QTest.mouseClick(page.overs["azimuth"], Qt.MouseButton.LeftButton)
    assert page.facing.isVisible()
    QTest.mouseClick(page.overs["pitch"], Qt.MouseButton.LeftButton)
    QTest.mouseClick(page.planted, Qt.MouseButton.LeftButton, pos=QPoint(8, 12))
    qtbot.waitUntil(whole(page), timeout=90_000)
    assert page.charts.shapes()[2].key == "land_use"
    sound = [point for point in page.charts.points() if point.brings is not None]
    mirrors = [point.figure("mirrors") or 0.0 for point in sound]
    assert len(set(mirrors)) > 3
    uses = [point.figure("land_use") or 0.0 for point in sound]
    assert [use / count for use, count in zip(uses, mirrors, strict=True)] == pytest.approx(
        [uses[0] / mirrors[0]] * len(uses)
    )
    assert "planted anew" in words(page)


def test_an_edit_by_another_hand_lets_go_and_old_points_say_so(page: CurvesPage, qtbot: QtBot) -> None:
    session = page.model.session
    qtbot.waitUntil(whole(page), timeout=60_000)
    page.charts.setFocus()
    QTest.keyClick(page.charts, Qt.Key.Key_Right)
    assert page.model.chosen is not None
    session.apply(move_lines(session.state.design, ids=[1], dx_m=0.4, dy_m=0.0))
    assert page.model.chosen is None
    assert page.model.stale
    assert page.work.words == "From before the change."
    place = page.charts.place_of(page.charts.points()[2])
    QTest.mouseClick(page.charts, Qt.MouseButton.LeftButton, pos=place.toPoint())
    assert session.state.preview is None, "a point of the design before cannot be taken"
    qtbot.waitUntil(whole(page), timeout=60_000)
    assert page.charts.now is not None
    assert page.charts.now.design is session.state.design


def test_another_document_and_saving_the_same_begin_anew(page: CurvesPage, qtbot: QtBot) -> None:
    session = page.model.session
    qtbot.waitUntil(whole(page), timeout=60_000)
    session.update(saved=None)
    session.update(saved=session.state.document)
    qtbot.waitUntil(whole(page), timeout=60_000)
    assert page.charts.now is not None
    other = document()
    lines = tuple(dataclasses.replace(line, y_m=1.1 * line.y_m) for line in other.design.lines)
    session.show_document(dataclasses.replace(other, design=dataclasses.replace(other.design, lines=lines)))
    qtbot.waitUntil(whole(page), timeout=60_000)
    assert page.charts.now.design is session.state.design


def test_a_point_that_cannot_be_made_says_why_and_cannot_be_taken(page: CurvesPage, qtbot: QtBot) -> None:
    QTest.mouseClick(page.planted, Qt.MouseButton.LeftButton, pos=QPoint(8, 12))
    qtbot.waitUntil(whole(page), timeout=90_000)
    session = page.model.session
    tight = dataclasses.replace(
        session.state.design, plot=dataclasses.replace(session.state.design.plot, setback_m=10.9)
    )
    session.apply(Edit("Set the setback", tight))
    qtbot.waitUntil(whole(page), timeout=90_000)
    refused = [point for point in page.charts.points() if point.brings is None]
    assert refused
    page.charts.setFocus()
    QTest.keyClick(page.charts, Qt.Key.Key_Home)
    chosen = page.model.chosen
    assert chosen is not None
    assert chosen.design is None
    assert page.why.text().startswith("No line fits")
    assert not page.take_button.isEnabled()
    QTest.keyClick(page.charts, Qt.Key.Key_Return)
    assert session.state.design is tight
    page.grab()


def test_it_can_be_stopped_and_goes_on(theme: Theme, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> None:
    held, real = threading.Event(), Assessor.assess
    count = [0]

    def slow(
        self: Assessor,
        document: Document,
        design: Design,
        *,
        watch: Watch,
        calendar: bool = True,
        exact: bool = True,
    ) -> Assessment:
        """Holds what comes after three designs, until it is let go or told to stop."""
        count[0] += 1
        while count[0] > 3 and not held.is_set() and watch("shade", 0.5):
            time.sleep(0.01)
        return real(self, document, design, watch=watch, calendar=calendar, exact=exact)

    monkeypatch.setattr(Assessor, "assess", slow)
    page = CurvesPage(Session(document()), theme, make=lambda: ASSESSOR)
    qtbot.addWidget(page)
    page.resize(400, 900)
    page.show()
    qtbot.waitUntil(lambda: "2 of" in page.work.words, timeout=60_000)
    assert page.work.stop_button.isVisible()
    begun = time.monotonic()
    QTest.mouseClick(page.work.stop_button, Qt.MouseButton.LeftButton)
    assert page.work.words == "Stopped; these are the points there are."
    qtbot.waitUntil(lambda: page.model.background.idle, timeout=60_000)
    assert time.monotonic() - begun < 0.5
    assert len(page.charts.points()) == 2
    held.set()
    QTest.mouseClick(page.work.again_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(whole(page), timeout=60_000)
    page.shut()


def test_without_two_lines_it_says_what_is_missing(theme: Theme, qtbot: QtBot) -> None:
    page = CurvesPage(Session(Document()), theme, make=lambda: ASSESSOR)
    qtbot.addWidget(page)
    page.resize(400, 900)
    page.show()
    assert page.work.words == "There is no line yet; place one or plant the plot first."
    assert not page.charts.points()
    page.grab()
    page.shut()


@pytest.mark.parametrize("wish", ["light", "dark"])
def test_it_is_painted_in_light_and_dark(page: CurvesPage, theme: Theme, qtbot: QtBot, wish: str) -> None:
    theme.set_wish("dark" if wish == "dark" else "light")
    qtbot.waitUntil(whole(page), timeout=60_000)
    move_to(page.charts, page.charts.place_of(page.charts.points()[1]))
    image = page.charts.grab().toImage()
    seen = {image.pixelColor(x, y).name() for x in range(60, 340, 2) for y in range(0, image.height(), 3)}
    assert theme.color("ink2").name() in seen
    assert len(seen) > 20


# in the window -----------------------------------------------------------------------------------------------------


@pytest.fixture
def window(open_window: Callable[..., Window], qtbot: QtBot, monkeypatch: pytest.MonkeyPatch) -> Window:
    monkeypatch.setattr(
        page_module, "CurvesPage", lambda session, theme, make: CurvesPage(session, theme, make=Assessor)
    )
    made = open_window(1600, 1000, Session(document()), assessor_apart)
    qtbot.waitUntil(lambda: made.session.state.fresh, timeout=60_000)
    return made


def test_a_key_opens_it_beside_the_plan_and_the_mark_is_the_tallys(window: Window, qtbot: QtBot) -> None:
    session = window.session
    QTest.keyClick(window, Qt.Key.Key_G, KEYS.ControlModifier)
    page = window.curves.page
    assert page is not None
    assert page.isVisible()
    assert window.left.isVisible()
    assert window.view.width() >= 500
    qtbot.waitUntil(lambda: page.model.passing_pitch_m is not None and whole(page)(), timeout=90_000)
    assert session.state.assessment is not None
    assert page.model.passing_pitch_m == session.state.assessment.figures["passing_pitch_m"]
    assert "from a mean pitch of 2.58 m every line passes" in words(page)
    point = page.charts.points()[-1]
    QTest.mouseClick(page.charts, Qt.MouseButton.LeftButton, pos=page.charts.place_of(point).toPoint())
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    assert session.state.assessment.exact
    assert session.state.assessment.figures["annual_heat_kwh"] == pytest.approx(
        point.figure("annual_heat_kwh"), rel=1e-12
    )
    window.resize(1280, 720)
    assert not window.left.isVisible()
    qtbot.waitUntil(lambda: window.view.width() >= 500)
    QTest.keyClick(page.charts, Qt.Key.Key_Escape)
    assert session.state.preview is None
    QTest.keyClick(page.charts, Qt.Key.Key_Escape)
    assert not page.isVisible()
    assert window.left.isVisible()


def test_the_chip_of_the_plan_opens_it_and_another_view_puts_it_away(window: Window) -> None:
    from studio.desk.plan.view import PlanView
    from studio.desk.views import turn_to

    assert isinstance(window.view, PlanView)
    chip = window.view.curves_chip
    QTest.mouseClick(chip, Qt.MouseButton.LeftButton)
    assert window.session.state.curves
    assert chip.isChecked()
    turn_to(window.session, "mirror")
    assert not window.session.state.curves
    assert not chip.isChecked()
    QTest.keyClick(window, Qt.Key.Key_G, KEYS.ControlModifier)
    assert window.session.state.view == "plan"
    assert window.session.state.curves
