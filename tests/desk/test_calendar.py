"""The sun calendar: the moment under the hand and the keys, and a picture that is true to its numbers."""

from collections.abc import Callable

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from studio.desk.calendar import Calendar
from studio.desk.calendar_picture import at_moment, axes_of, day_profile, resampled, scale_top
from studio.desk.calendar_view import clock, day_and_month
from studio.desk.freshness import Freshness
from studio.desk.session import Session
from studio.desk.state import Moment
from studio.desk.theme import Theme
from studio.study.assessment import Assessment, SunCalendar

Assess = Callable[..., Assessment]


@pytest.fixture
def calendar(session: Session, theme: Theme, qtbot: QtBot, assess: Assess) -> Calendar:
    made = Calendar(session, theme, Freshness(session))
    qtbot.addWidget(made)
    made.resize(980, 224)
    made.show()
    session.take_assessment(session.state.revision, assess(session.state.design, calendar=True))
    return made


def shown(calendar: Calendar) -> SunCalendar:
    found = calendar.picture.calendar
    assert found is not None
    return found


@pytest.mark.parametrize(
    ("day", "words"), [(1, "1 January"), (60, "1 March"), (355, "21 December"), (365, "31 December")]
)
def test_days_of_the_nominal_year(day: int, words: str) -> None:
    assert day_and_month(day) == words


def test_clock_rounds_to_the_minute() -> None:
    assert [clock(h) for h in (0.0, 14.0 + 1 / 3, 11.9999, 23.9999)] == ["00:00", "14:20", "12:00", "00:00"]


def test_a_click_and_a_drag_move_the_moment(calendar: Calendar, session: Session, qtbot: QtBot) -> None:
    picture = calendar.picture
    x, y = picture.x_of(100), picture.y_of(9.0)
    QTest.mousePress(picture, Qt.MouseButton.LeftButton, pos=QPoint(round(x), round(y)))
    assert abs(session.state.moment.day_of_year - 100) <= 1
    assert abs(session.state.moment.clock_h - 9.0) <= 0.17
    QTest.mouseMove(picture, QPoint(round(picture.x_of(200)), round(picture.y_of(15.0))))
    QTest.mouseRelease(picture, Qt.MouseButton.LeftButton)


def test_the_place_and_the_moment_are_inverse(calendar: Calendar) -> None:
    from PySide6.QtCore import QPointF

    picture = calendar.picture
    for day in (1, 17, 182, 365):
        for hour in (6.0, 12.0 + 1 / 6, 17.5):
            moment = picture.moment_at(QPointF(picture.x_of(day), picture.y_of(hour)))
            assert moment == Moment(day, round(hour, 4))


def test_keys_move_the_moment_by_days_and_minutes(calendar: Calendar, session: Session, qtbot: QtBot) -> None:
    session.set_moment(Moment(1, 12.0))
    for key in (Qt.Key.Key_Left, Qt.Key.Key_Up):
        QTest.keyClick(calendar.picture, key)
    assert session.state.moment == Moment(365, round(12.0 + 1 / 6, 4))
    QTest.keyClick(calendar.picture, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    QTest.keyClick(calendar.picture, Qt.Key.Key_Down, Qt.KeyboardModifier.ShiftModifier)
    assert session.state.moment == Moment(7, round(11.0 + 1 / 6, 4))


def test_moving_the_moment_leaves_the_picture_as_it_is(
    calendar: Calendar, session: Session, qtbot: QtBot
) -> None:
    qtbot.wait(20)
    before = calendar.picture._image
    assert before is not None
    session.set_moment(Moment(30, 10.0))
    qtbot.wait(20)
    assert calendar.picture._image is before


def test_pixels_carry_the_calendars_values(calendar: Calendar) -> None:
    values, up = resampled(shown(calendar), "heat", axes_of(shown(calendar)), 730, 240)
    assert values.shape == up.shape == (240, 730)
    assert values.max() == pytest.approx(20.0, rel=0.005)
    row = int(np.argmax(values[:, 400]))
    assert 6 + (240 - row - 0.5) / 20 == pytest.approx(12.0, abs=0.05)


def test_a_day_between_two_is_between_them() -> None:
    days, hours = np.array([1.0, 11.0]), np.array([11.0, 12.0, 13.0])
    heat = np.array([[1.0, 2.0, np.nan], [3.0, 4.0, 5.0]])
    made = SunCalendar(days, hours, heat, heat, heat, np.array([6.0, 6.0]), np.array([18.0, 18.0]))
    assert day_profile(made, "heat", 6.0)[:2].tolist() == [2.0, 3.0]
    assert day_profile(made, "heat", 9.0)[2] == 5.0
    assert day_profile(made, "heat", 400.0).tolist() == [3.0, 4.0, 5.0]
    assert at_moment(made, "heat", 1, 11.5) == pytest.approx(1.5)
    assert np.isnan(at_moment(made, "heat", 1, 20.0))


def test_the_scale_ends_on_a_round_number_that_holds_all(calendar: Calendar) -> None:
    made = shown(calendar)
    assert scale_top(made, "heat") == 20.0
    assert scale_top(made, "intercept") == 1.0


def test_it_is_marked_stale_until_its_own_design_is_worked_out(
    calendar: Calendar, session: Session, assess: Assess
) -> None:
    design = session.state.design
    assert not calendar.picture._stale
    session.preview(type(design)(lines=design.lines[:2]))
    assert calendar.picture._stale
    session.take_assessment(session.state.revision, assess(session.state.shown))
    assert calendar.picture._stale
    session.take_assessment(session.state.revision, assess(session.state.shown, calendar=True))
    assert not calendar.picture._stale


def test_clock_and_solar_time_both_stand(calendar: Calendar, session: Session) -> None:
    session.set_moment(Moment(355, 10.5))
    words = calendar._head.accessibleName()
    assert "21 December" in words
    assert "10:30 clock" in words
    assert "solar" in words
    assert "° up, azimuth" in words
