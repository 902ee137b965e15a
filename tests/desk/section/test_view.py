"""The Section by hand: real keys and mouse on the real window."""

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QToolButton
from pytestqt.qtbot import QtBot

from studio.design.design import Document
from studio.design.obstacles import Block, Horizon
from studio.desk.mirror.view import MirrorView
from studio.desk.plan.view import PlanView
from studio.desk.section.view import SectionView
from studio.desk.session import Session
from studio.desk.state import Moment, Subject
from studio.desk.theme import Theme
from studio.desk.views import turn_to
from studio.desk.window import Window
from studio.drawings.plan import plan_drawing
from studio.drawings.section_cut import Cut

LEFT = Qt.MouseButton.LeftButton
Place = tuple[float, float]


def plan_of(window: Window) -> PlanView:
    assert isinstance(window.view, PlanView)
    return window.view


def section_of(window: Window) -> SectionView:
    assert isinstance(window.view, SectionView)
    return window.view


def px(plan: PlanView, at: Place) -> QPoint:
    x, y = plan.canvas.camera.to_px(at)
    return QPoint(round(float(x)), round(float(y)))


def mirror_px(view: SectionView, line_id: int) -> QPoint:
    """A place on the film of the mirror that is shown of a line."""
    one = view.canvas.drawing.crossed(line_id)
    assert one is not None
    x, y = view.canvas.camera.to_px(one.line.film[len(one.line.film) // 3])
    return QPoint(round(float(x)), round(float(y)))


def share_of(view: SectionView, line_id: int) -> float:
    one = view.canvas.drawing.crossed(line_id)
    assert one is not None
    return one.light.share


# making a cut ----------------------------------------------------------------------------------------------------


def test_two_clicks_with_the_cut_tool_open_the_section_there(window: Window, session: Session) -> None:
    plan = plan_of(window)
    plan.canvas.setFocus()
    QTest.keyClick(plan.canvas, Qt.Key.Key_C)
    assert session.state.tool == "cut"
    steps = len(session.state.undo)
    for at in ((6.3, -5.0), (14.2, 15.0)):
        QTest.mouseMove(plan.canvas, px(plan, at))
        QTest.mouseClick(plan.canvas, LEFT, pos=px(plan, at))
    cut = session.state.cut
    assert cut is not None
    assert cut.drawn
    assert cut.start == pytest.approx((6.3, -5.0), abs=0.1)
    assert cut.end == pytest.approx((14.2, 15.0), abs=0.1)
    view = section_of(window)
    assert view.isVisible()
    assert [one.line.id for one in view.canvas.drawing.lines] == [1, 2, 3, 4]
    assert view.canvas.drawing.lines[0].line.stretch > 1.0
    assert len(session.state.undo) == steps, "a cut is looked at, not designed"
    assert session.state.calendar_of == "shade"


def test_length_and_azimuth_of_a_cut_can_be_typed(window: Window, session: Session) -> None:
    plan = plan_of(window)
    plan.canvas.setFocus()
    QTest.keyClick(plan.canvas, Qt.Key.Key_C)
    QTest.mouseClick(plan.canvas, LEFT, pos=px(plan, (10.0, -5.0)))
    QTest.mouseMove(plan.canvas, px(plan, (14.0, 2.0)))
    QTest.keyClicks(plan.canvas, "18")
    QTest.keyClick(plan.canvas, Qt.Key.Key_Tab)
    QTest.keyClicks(plan.canvas, "10")
    QTest.keyClick(plan.canvas, Qt.Key.Key_Return)
    cut = session.state.cut
    assert cut is not None
    assert cut.length_m == pytest.approx(18.0, abs=0.02)
    assert cut.azimuth_deg == pytest.approx(10.0, abs=0.1)


def test_escape_leaves_a_cut_that_is_begun(window: Window, session: Session) -> None:
    plan = plan_of(window)
    plan.canvas.setFocus()
    QTest.keyClick(plan.canvas, Qt.Key.Key_C)
    QTest.mouseClick(plan.canvas, LEFT, pos=px(plan, (10.0, -5.0)))
    QTest.keyClick(plan.canvas, Qt.Key.Key_Escape)
    assert session.state.tool == "cut"
    QTest.keyClick(plan.canvas, Qt.Key.Key_Escape)
    assert session.state.tool == "pick"
    assert session.state.cut is None


def test_a_double_click_on_a_line_cuts_square_to_it_there(window: Window, session: Session) -> None:
    plan = plan_of(window)
    plan.canvas.setFocus()
    QTest.keyClick(plan.canvas, Qt.Key.Key_C)
    at = px(plan, (5.4, 2.4))
    QTest.mouseMove(plan.canvas, at)
    QTest.mouseClick(plan.canvas, LEFT, pos=at)
    QTest.mouseDClick(plan.canvas, LEFT, pos=at)
    cut = session.state.cut
    assert cut is not None
    assert cut.start[0] == pytest.approx(5.4)
    assert cut.looks_deg == pytest.approx(270.0)
    assert session.state.view == "section"


def test_the_letter_twice_cuts_square_to_the_selected_line(window: Window, session: Session) -> None:
    plan = plan_of(window)
    session.select(Subject("line", 3))
    plan.canvas.setFocus()
    QTest.mouseMove(plan.canvas, px(plan, (13.4, 12.0)))
    QTest.keyClick(plan.canvas, Qt.Key.Key_C)
    QTest.mouseMove(plan.canvas, px(plan, (13.6, 13.0)))
    QTest.keyClick(plan.canvas, Qt.Key.Key_C)
    assert session.state.cut is not None
    assert session.state.cut.start[0] == pytest.approx(13.5)
    assert session.state.view == "section"


def test_the_sheet_of_a_line_has_the_command(window: Window, session: Session, qtbot: QtBot) -> None:
    session.select(Subject("line", 2))
    buttons = [one for one in window.sheet.findChildren(QToolButton) if one.text() == "Section"]
    qtbot.waitUntil(lambda: buttons[-1].isVisible(), timeout=60_000)
    button = buttons[-1]
    QTest.mouseClick(button, LEFT)
    assert session.state.view == "section"
    assert session.state.cut is not None
    assert session.state.selected_lines() == (2,)


def test_the_cut_stands_on_the_plan_and_is_dragged_by_its_ends(window: Window, session: Session) -> None:
    cut = Cut((10.0, -5.0), (10.0, 15.0), drawn=True)
    plan = plan_of(window)
    before = plan.canvas.grab().toImage()
    session.update(cut=cut)
    assert plan.canvas.grab().toImage() != before
    start, end = px(plan, cut.end), px(plan, (16.0, 14.0))
    QTest.mouseMove(plan.canvas, start)
    assert "A or B" in plan.canvas.tool.hint
    QTest.mousePress(plan.canvas, LEFT, pos=start)
    QTest.mouseMove(plan.canvas, end)
    QTest.mouseRelease(plan.canvas, LEFT, pos=end)
    moved = session.state.cut
    assert moved is not None
    assert moved.start == cut.start
    assert moved.end == pytest.approx((16.0, 14.0), abs=0.1)
    QTest.mousePress(plan.canvas, LEFT, pos=px(plan, moved.start))
    QTest.mouseMove(plan.canvas, px(plan, (2.0, -6.0)))
    QTest.keyClick(plan.canvas, Qt.Key.Key_Escape)
    QTest.mouseRelease(plan.canvas, LEFT, pos=px(plan, (2.0, -6.0)))
    assert session.state.cut == moved
    QTest.mouseDClick(plan.canvas, LEFT, pos=px(plan, moved.start))
    assert session.state.view == "section"
    assert section_of(window).canvas.cut == moved


def test_it_opens_square_to_the_selected_line_and_never_empty(
    window: Window, session: Session, qtbot: QtBot
) -> None:
    session.select(Subject("line", 2))
    QTest.keyClick(window, Qt.Key.Key_2, Qt.KeyboardModifier.AltModifier)
    qtbot.waitUntil(lambda: session.state.view == "section", timeout=60_000)
    view = section_of(window)
    cut = session.state.cut
    assert cut is not None
    assert not cut.drawn
    one = view.canvas.drawing.crossed(2)
    assert one is not None
    assert one.line.off_m == pytest.approx(0.0, abs=1e-9)
    assert "looking west" in view.words.text()
    session.show_document(Document())
    assert view.canvas.drawing.lines == ()
    assert view.grab().toImage().width() > 0
    turn_to(session, "plan")
    turn_to(session, "section")
    assert session.state.cut is not None


# looking at it ---------------------------------------------------------------------------------------------------


def test_dragging_the_moment_moves_sun_and_shade(
    window: Window, view: SectionView, session: Session, qtbot: QtBot
) -> None:
    calendar = window.calendar.picture
    seen: list[tuple[float, float]] = []
    start = QPointF(calendar.x_of(355), calendar.y_of(10.0)).toPoint()
    QTest.mousePress(calendar, LEFT, pos=start)
    for hour in (9.5, 9.0, 8.5):
        QTest.mouseMove(calendar, QPointF(calendar.x_of(355), calendar.y_of(hour)).toPoint())
        profile = view.canvas.drawing.sun.profile_deg
        assert profile is not None
        seen.append((profile, share_of(view, 2)))
    QTest.mouseRelease(calendar, LEFT, pos=QPointF(calendar.x_of(355), calendar.y_of(8.5)).toPoint())
    assert session.state.moment.clock_h == pytest.approx(8.5, abs=0.2)
    assert [profile for profile, _share in seen] == sorted((p for p, _share in seen), reverse=True)
    shares = [share for _profile, share in seen]
    assert shares == sorted(shares)
    assert shares[-1] > shares[0] + 0.05
    moment = session.state.moment
    tints = plan_drawing(session.state.design, day_of_year=355, clock_h=moment.clock_h).tints
    one = view.canvas.drawing.crossed(2)
    assert one is not None
    assert shares[-1] == pytest.approx(float(tints[2][one.line.mirror]))
    qtbot.waitUntil(lambda: "Line 1 shades Line 2" in view.canvas.accessibleDescription(), timeout=60_000)


def test_a_click_on_a_mirror_selects_its_line_and_a_double_click_shows_the_mirror(
    window: Window, view: SectionView, session: Session
) -> None:
    QTest.mouseMove(view.canvas, mirror_px(view, 3))
    assert view.canvas.cursor().shape() is Qt.CursorShape.PointingHandCursor
    QTest.mouseClick(view.canvas, LEFT, pos=mirror_px(view, 3))
    assert session.state.selected_lines() == (3,)
    assert window.sheet._title.text() == "Line 3"
    QTest.mouseClick(view.canvas, LEFT, Qt.KeyboardModifier.ShiftModifier, mirror_px(view, 2))
    assert session.state.selected_lines() == (2, 3)
    QTest.mouseClick(view.canvas, LEFT, pos=QPoint(20, view.canvas.height() - 60))
    assert session.state.selected_lines() == ()
    QTest.mouseDClick(view.canvas, LEFT, pos=mirror_px(view, 2))
    assert session.state.view == "mirror"
    assert session.state.selected_lines() == (2,)
    assert isinstance(window.view, MirrorView)
    window.view.shut()


def test_a_drag_pans_the_wheel_zooms_and_f_goes_to_and_fro(view: SectionView, session: Session) -> None:
    canvas = view.canvas
    near = canvas.camera
    QTest.mousePress(canvas, LEFT, pos=QPoint(300, 200))
    QTest.mouseMove(canvas, QPoint(340, 210))
    QTest.mouseMove(canvas, QPoint(360, 230))
    QTest.mouseRelease(canvas, LEFT, pos=QPoint(360, 230))
    assert canvas.camera.x_m == pytest.approx(near.x_m - 60 / near.px_per_m)
    assert session.state.selected_lines() == ()
    canvas.setFocus()
    QTest.keyClick(canvas, Qt.Key.Key_F)
    whole = canvas.camera
    assert whole.px_per_m < near.px_per_m
    assert whole.bounds[0] <= 0.0
    assert whole.bounds[2] >= canvas.cut.length_m
    QTest.keyClick(canvas, Qt.Key.Key_F)
    assert canvas.camera.px_per_m == pytest.approx(near.px_per_m)
    QTest.keyClicks(canvas, "+")
    assert canvas.camera.px_per_m == pytest.approx(1.25 * near.px_per_m)
    QTest.keyClick(canvas, Qt.Key.Key_Right)
    assert canvas.camera.x_m > near.x_m
    view.fit()
    assert canvas.camera.px_per_m == pytest.approx(whole.px_per_m)


def test_keys_move_the_cut_flip_it_and_go_from_line_to_line(
    window: Window, view: SectionView, session: Session
) -> None:
    canvas = view.canvas
    canvas.setFocus()
    before = canvas.cut
    QTest.keyClick(canvas, Qt.Key.Key_PageDown)
    assert canvas.cut.start[0] == pytest.approx(before.start[0] + 1.35)
    QTest.keyClick(canvas, Qt.Key.Key_PageUp)
    assert canvas.cut.start[0] == pytest.approx(before.start[0])
    QTest.keyClick(canvas, Qt.Key.Key_R)
    assert (canvas.cut.start, canvas.cut.end) == (before.end, before.start)
    assert "looking east" in view.words.text()
    QTest.mouseClick(view.flip_button, LEFT)
    assert "looking west" in view.words.text()
    QTest.keyClick(canvas, Qt.Key.Key_Right, Qt.KeyboardModifier.ControlModifier)
    first = session.state.selected_lines()
    QTest.keyClick(canvas, Qt.Key.Key_Right, Qt.KeyboardModifier.ControlModifier)
    assert session.state.selected_lines() == (first[0] + 1,)
    QTest.keyClick(canvas, Qt.Key.Key_Left, Qt.KeyboardModifier.ControlModifier)
    assert session.state.selected_lines() == first
    QTest.keyClick(canvas, Qt.Key.Key_Escape)
    assert session.state.selected_lines() == ()


def test_a_finding_s_place_comes_into_sight(view: SectionView, session: Session) -> None:
    x0, _y0, x1, _y1 = view.canvas.camera.bounds
    far = view.canvas.cut.point(view.canvas.cut.length_m - 0.5)
    assert not x0 < view.canvas.cut.at(far)[0] < x1
    session.go_to.emit(*far)
    x0, _y0, x1, _y1 = view.canvas.camera.bounds
    assert x0 < view.canvas.cut.at(far)[0] < x1


def test_chips_take_layers_away(view: SectionView) -> None:
    for key, chip in view.chips.items():
        full = view.canvas.grab().toImage()
        QTest.mouseClick(chip, LEFT)
        assert key not in view.canvas.layers
        assert view.canvas.grab().toImage() != full, key
        QTest.mouseClick(chip, LEFT)
        assert view.canvas.grab().toImage() == full


def test_no_ray_is_painted_of_a_sun_behind_the_skyline(
    window: Window, view: SectionView, session: Session
) -> None:
    canvas = view.canvas
    session.preview(replace(session.state.design, horizon=Horizon(skyline=((0.0, 60.0),))))
    assert canvas.drawing.sun.state == "behind the skyline"
    hidden = canvas.grab().toImage()
    canvas.layers = canvas.layers - {"rays"}
    assert canvas.grab().toImage() == hidden
    session.preview(None)
    without = canvas.grab().toImage()
    canvas.layers = canvas.layers | {"rays"}
    assert canvas.grab().toImage() != without


def test_rays_stop_at_a_wall_on_the_screen(view: SectionView, session: Session) -> None:
    """Between a wall and the mirror that it darkens no ray is painted; before the wall they are."""
    canvas = view.canvas
    wall = Block(name="wall", ring=((-90.0, -4.0), (90.0, -4.0), (90.0, -3.8), (-90.0, -3.8)), height_m=9.0)
    session.preview(replace(session.state.design, obstacles=(wall,)))
    canvas.fit()
    one = canvas.drawing.crossed(1)
    assert one is not None
    assert np.isfinite(one.light.stops).all()
    full = canvas.grab().toImage()
    canvas.layers = canvas.layers - {"rays"}
    bare = canvas.grab().toImage()
    painted = np.array(
        [[full.pixel(x, y) != bare.pixel(x, y) for x in range(full.width())] for y in range(full.height())]
    )
    along = canvas.cut.at((0.0, -4.0))[0]
    x0, y0 = canvas.camera.to_px((along, 1.5))
    x1, _y1 = canvas.camera.to_px((float(one.line.film[:, 0].min()), 0.0))
    assert painted[: int(y0), : int(x0)].any()
    between = painted[:, int(x0) + 12 : int(x1) - 4]
    height = int(canvas.camera.to_px((0.0, 4.0))[1])
    assert between.shape[1] > 5
    assert not between[height:].any()


def test_an_edit_shows_at_once(window: Window, view: SectionView, session: Session) -> None:
    canvas = view.canvas
    pitch = canvas.drawing.pitches[0].square_m
    design = session.state.design
    lines = (design.lines[0], replace(design.lines[1], y_m=3.0), *design.lines[2:])
    session.preview(replace(design, lines=lines))
    assert canvas.drawing.pitches[0].square_m == pytest.approx(pitch + 0.6)
    session.preview(None)
    assert canvas.drawing.pitches[0].square_m == pytest.approx(pitch)


@pytest.mark.parametrize("size", [(1600, 1000), (1280, 720), (960, 600)])
@pytest.mark.parametrize("wish", ["light", "dark"])
def test_it_paints_at_every_size_by_day_by_night_and_along_a_line(
    window: Window, view: SectionView, session: Session, theme: Theme, size: tuple[int, int], wish: str
) -> None:
    theme.set_wish("dark" if wish == "dark" else "light")
    window.resize(*size)
    for cut in (
        canvas_cut := view.canvas.cut,
        Cut((-3.0, 2.4), (30.0, 2.5), drawn=True),
        Cut((60.0, 0.0), (60.0, 9.0), drawn=True),
    ):
        session.update(cut=cut)
        view.canvas.near()
        for moment in (Moment(355, 10.0), Moment(172, 5.2), Moment(355, 1.0), Moment(355, 16.2)):
            session.set_moment(moment)
            assert not view.canvas.grab().isNull()
            assert view.canvas.drawing.cut == cut
    assert canvas_cut is not None
    assert view.fit_button.geometry().right() <= view.width()
