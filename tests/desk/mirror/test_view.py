"""The Mirror view by hand: real keys and mouse on the real window."""

from dataclasses import replace
from typing import Any

import pytest
from PySide6.QtCore import QPoint, QPointF, QRect, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QWidget
from pytestqt.qtbot import QtBot

from studio.desk.field_editor import FieldEditor
from studio.desk.mirror.panel import Panel
from studio.desk.mirror.view import MirrorView
from studio.desk.plan.view import PlanView
from studio.desk.session import Session
from studio.desk.state import Moment, Subject
from studio.desk.theme import Theme
from studio.desk.views import turn_to
from studio.desk.window import Window
from studio.edits.edit import Edit
from studio.edits.fields import set_field

LEFT = Qt.MouseButton.LeftButton


def button(window: Window, key: str) -> QAbstractButton:
    return window.top._views[key]


def editor(window: Window, label: str) -> FieldEditor:
    """The sheet's field of that name."""
    return next(
        found
        for found in window.sheet.findChildren(FieldEditor)
        if found._label.text() == label and found.isVisible()
    )


def picture(panel: Panel) -> QImage:
    return panel.grab().toImage()


def test_a_click_on_the_top_bar_shows_the_mirror_and_what_belongs_to_it(
    window: Window, session: Session, qtbot: QtBot
) -> None:
    QTest.mouseClick(button(window, "mirror"), LEFT)
    assert isinstance(window.view, MirrorView)
    assert window.view.isVisible()
    assert window.sheet._title.text() == "Mirror"
    assert not window.tools.isVisible()
    assert session.state.calendar_of == "intercept"
    QTest.mouseClick(button(window, "mirror"), LEFT)
    assert button(window, "mirror").isChecked()
    QTest.mouseClick(button(window, "plan"), LEFT)
    assert isinstance(window.view, PlanView)
    assert window.tools.isVisible()
    assert set(window.tools.buttons) >= {"pick", "line"}
    assert session.state.calendar_of == "heat"
    assert window.sheet._title.text() == "Whole field"


def test_the_shelf_is_taken_out_and_put_back(window: Window, session: Session, qtbot: QtBot) -> None:
    turn_to(session, "mirror")
    view = window.view
    assert isinstance(view, MirrorView)
    assert view.shelf is None
    QTest.mouseClick(view.chips["shelf"], LEFT)
    assert view.shelf is not None
    assert view.shelf.isVisible()
    assert not view.side.isVisible()
    assert not view.chips["rays"].isVisible()
    QTest.mouseClick(view.shelf.put, LEFT)
    assert len(session.state.design.shelf) == 1
    QTest.mouseClick(view.chips["shelf"], LEFT)
    assert not view.shelf.isVisible()
    assert view.side.isVisible()
    assert view.chips["rays"].isVisible()
    view.shut()


def test_views_are_reached_by_keys(window: Window, session: Session, qtbot: QtBot) -> None:
    QTest.keyClick(window, Qt.Key.Key_3, Qt.KeyboardModifier.AltModifier)
    qtbot.waitUntil(lambda: session.state.view == "mirror", timeout=60_000)
    QTest.keyClick(window, Qt.Key.Key_1, Qt.KeyboardModifier.AltModifier)
    qtbot.waitUntil(lambda: session.state.view == "plan", timeout=60_000)


def test_ribs_typed_in_the_sheet_change_drawing_intercept_and_day(
    window: Window, view: MirrorView, session: Session, qtbot: QtBot
) -> None:
    words, front, accepted = view.words.text(), picture(view.front), view.model.drawing.accepted
    day = view.model.day
    edit = editor(window, "Ribs").edit
    assert edit is not None
    edit.setFocus()
    edit.selectAll()
    QTest.keyClicks(edit, "5")
    QTest.keyClick(edit, Qt.Key.Key_Return)
    assert session.state.design.mirror.ribs == 5
    assert view.model.drawing.form.ribs == 5  # at once
    assert view.model.drawing.accepted < accepted - 0.05
    assert view.words.text() != words
    assert picture(view.front) != front
    qtbot.waitUntil(lambda: view.model.day is not day, timeout=60_000)
    assert view.model.day is not None
    assert day is not None
    old, new = (d.curves[0].at(d.curves[0].intercept, 10.5) for d in (day, view.model.day))
    assert new < old - 0.05
    assert new == pytest.approx(view.model.drawing.accepted, abs=0.02)


def test_a_label_drags_its_number_as_one_step_of_undo(
    window: Window, view: MirrorView, session: Session, qtbot: QtBot
) -> None:
    label, steps = editor(window, "Ribs")._label, len(session.state.undo)
    QTest.mousePress(label, LEFT, pos=QPoint(4, 8))
    seen = set()
    for x in range(4, 40, 3):
        QTest.mouseMove(label, QPoint(x, 8))
        qtbot.wait(20)
        seen.add(view.model.drawing.form.ribs)
    assert session.state.preview is not None
    assert len(seen) > 2
    assert session.state.design.mirror.ribs == 11
    QTest.mouseRelease(label, LEFT, pos=QPoint(37, 8))
    assert session.state.preview is None
    assert session.state.design.mirror.ribs == 16
    assert len(session.state.undo) == steps + 1
    QTest.keyClick(window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    assert session.state.design.mirror.ribs == 11


def test_up_and_down_step_a_number(window: Window, view: MirrorView, session: Session) -> None:
    edit = editor(window, "Ribs").edit
    assert edit is not None
    edit.setFocus()
    QTest.keyClick(edit, Qt.Key.Key_Up)
    assert session.state.design.mirror.ribs == 12
    QTest.keyClick(edit, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    assert session.state.design.mirror.ribs == 2
    assert edit.text() == "2"


def test_dragging_the_moment_in_the_calendar_moves_rays_and_spot(
    window: Window, view: MirrorView, session: Session, qtbot: QtBot
) -> None:
    qtbot.waitUntil(
        lambda: session.state.assessment is not None and window.calendar.picture.calendar is not None
    )
    side, spot = view.model.drawing.side, view.model.spot
    before = picture(view.side)
    calendar = window.calendar.picture
    start = QPointF(calendar.x_of(40), calendar.y_of(10.5)).toPoint()
    QTest.mousePress(calendar, LEFT, pos=start)
    QTest.mouseMove(calendar, QPointF(calendar.x_of(40), calendar.y_of(13.0)).toPoint())
    assert session.state.moment.clock_h == pytest.approx(13.0, abs=0.2)
    after = view.model.drawing.side
    assert (after.rays[3].inward != side.rays[3].inward).any()
    assert (after.receiver.window != side.receiver.window).any()
    QTest.mouseRelease(calendar, LEFT)
    qtbot.waitUntil(lambda: view.model.spot is not spot, timeout=60_000)
    assert picture(view.side) != before
    assert view.model.spot is not None
    assert float(view.model.spot.cone.accepted[0]) == pytest.approx(view.model.drawing.accepted, abs=2e-3)


def test_the_hour_is_dragged_in_the_day_curves_too(view: MirrorView, session: Session) -> None:
    plot = view.day.plots()[0]
    at = plot.at(view.day.hours(), 14.0, 0.5).toPoint()
    QTest.mouseClick(view.day, LEFT, pos=at)
    assert session.state.moment.day_of_year == 40
    assert session.state.moment.clock_h == pytest.approx(14.0, abs=0.1)


def test_an_error_bar_tells_where_it_comes_from_and_is_mended_there(
    view: MirrorView, session: Session, qtbot: QtBot
) -> None:
    qtbot.waitUntil(lambda: view.model.bar("slope") is not None, timeout=60_000)
    row = view.budget.rows["slope"]
    assert "% points" in row.accessibleName()
    QTest.mouseClick(row, LEFT)
    assert view.source.isVisible()
    assert view.source.title.text() == "Slope"
    edit = view.source.editors[0].edit
    assert edit is not None
    edit.setFocus()
    edit.selectAll()
    QTest.keyClicks(edit, "8")
    QTest.keyClick(edit, Qt.Key.Key_Return)
    assert session.state.design.mirror.slope_error_mrad == 8.0
    QTest.keyClick(view.source, Qt.Key.Key_Escape)
    assert not view.source.isVisible()


def test_figures_wear_their_sign_while_they_are_worked_out(
    here: Any, view: MirrorView, session: Session, qtbot: QtBot
) -> None:
    qtbot.waitUntil(lambda: view.model.is_whole, timeout=60_000)
    assert not any(panel.stale for panel in view._panels())
    here.go.clear()
    session.apply(set_field(session.state.design, path="mirror.ribs", value=6))
    qtbot.waitUntil(lambda: view.day.stale and view.flux.stale and view.budget.stale, timeout=60_000)
    here.go.set()
    qtbot.waitUntil(lambda: view.model.is_whole, timeout=60_000)
    assert not any(panel.stale for panel in view._panels())


def test_no_work_is_done_while_the_view_is_away(
    here: Any, view: MirrorView, session: Session, qtbot: QtBot
) -> None:
    turn_to(session, "plan")
    qtbot.waitUntil(lambda: view.model.background.idle, timeout=60_000)
    here.asked.clear()
    session.apply(set_field(session.state.design, path="mirror.ribs", value=7))
    session.set_moment(Moment(200, 9.0))
    qtbot.wait(400)
    assert here.asked == []
    turn_to(session, "mirror")
    qtbot.waitUntil(lambda: "day_errand" in here.asked, timeout=60_000)


def test_at_night_the_view_says_so(view: MirrorView, session: Session, qtbot: QtBot) -> None:
    session.set_moment(Moment(40, 2.0))
    qtbot.waitUntil(lambda: view.model.spot is None, timeout=60_000)
    assert "no sun on it" in view.words.text()
    assert "no sun" in view.flux.told()
    for panel in view._panels():
        panel.grab()


def test_a_field_without_lines_still_has_a_mirror(view: MirrorView, session: Session, qtbot: QtBot) -> None:
    session.apply(Edit("Take all lines away", replace(session.state.design, lines=())))
    qtbot.wait(50)
    assert "no line yet" in view.side.about()
    for panel in view._panels():
        panel.grab()


def test_the_selected_lines_mirror_is_shown(window: Window, view: MirrorView, session: Session) -> None:
    session.select(Subject("line", 3))
    assert view.model.drawing.line_id == 3
    assert "Line 3" in view.side.about()
    assert editor(window, "Tilt")


@pytest.mark.parametrize(("size", "below"), [((1280, 720), 2), ((1600, 1000), 3)])
def test_nothing_is_cut_and_what_has_no_room_is_folded(
    window: Window, view: MirrorView, qtbot: QtBot, size: tuple[int, int], below: int
) -> None:
    window.resize(*size)
    view.chips["curves"].click()
    qtbot.wait(30)
    assert len(view._fold()) == below
    room = QRect(0, 0, view.width(), view.height())
    shown = [panel for panel in view._panels() if panel.isVisible()]
    for panel in shown:
        assert room.contains(panel.geometry())
        assert panel.width() >= 150
        assert panel.height() >= 90
    for chip in view.chips.values():
        assert chip.width() >= chip.sizeHint().width()
        assert room.contains(QRect(chip.mapTo(view, QPoint(0, 0)), chip.size()))
    for one in shown:
        assert not any(one.geometry().intersects(other.geometry()) for other in shown if other is not one)
    for row in view.budget.rows.values():
        if row.isVisible():
            assert row.geometry().bottom() < view.budget.height() - view.budget._foot() + 2


def test_chips_fold_rays_tint_and_panels(view: MirrorView, qtbot: QtBot) -> None:
    for key, panel in (("rays", view.side), ("tint", view.front), ("line", view.front)):
        before = picture(panel)
        QTest.mouseClick(view.chips[key], LEFT)
        assert picture(panel) != before
    QTest.mouseClick(view.chips["budget"], LEFT)
    assert not view.budget.isVisible()
    QTest.mouseClick(view.chips["budget"], LEFT)
    assert view.budget.isVisible()


def test_a_patch_of_film_tells_its_strip(view: MirrorView) -> None:
    camera = view.front.front_camera()
    spot = QPointF(*(float(part) for part in camera.to_px((0.05, 0.0))))
    assert "Strip 6, 125 mm wide" in view.front.words_at(spot)
    assert view.front.words_at(QPointF(1.0, 40.0)) == ""


def test_everything_that_takes_the_keyboard_has_a_name_and_says_what_it_shows(
    window: Window, view: MirrorView, qtbot: QtBot
) -> None:
    nameless = [
        part
        for part in view.findChildren(QWidget)
        if part.isVisible()
        and part.focusPolicy() & Qt.FocusPolicy.TabFocus
        and part.focusProxy() is None
        and not part.accessibleName()
    ]
    assert nameless == []
    qtbot.waitUntil(lambda: "kW/m²" in view.flux.accessibleDescription(), timeout=60_000)
    assert "rays reach the window" in view.side.accessibleDescription()
    assert "strip by strip" in view.front.accessibleDescription()


def test_light_and_dark(view: MirrorView, theme: Theme) -> None:
    light = picture(view.flux)
    theme.set_wish("dark")
    assert picture(view.flux) != light
    theme.set_wish("light")
    assert picture(view.flux) == light
