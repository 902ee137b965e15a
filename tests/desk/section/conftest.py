"""The Section view in the real window, on an invented field; the assessment is invented too, the section is not."""

from collections.abc import Callable

import pytest
from pytestqt.qtbot import QtBot

from studio.design.design import Design
from studio.design.field import Line
from studio.design.site import Plot, Site
from studio.desk.section.view import SectionView
from studio.desk.session import Session
from studio.desk.state import Moment
from studio.desk.views import turn_to
from studio.desk.window import Window


@pytest.fixture
def design() -> Design:
    """Four lines so near that they shade each other on a winter morning; invented."""
    return Design(
        site=Site(name="Invented", latitude_deg=36.0, longitude_deg=-5.0, altitude_m=300.0),
        plot=Plot(boundary=((-10.0, -8.0), (50.0, -8.0), (50.0, 28.0), (-10.0, 28.0))),
        lines=tuple(Line(id=n + 1, x_m=0.0, y_m=2.4 * n, count=20) for n in range(4)),
    )


@pytest.fixture
def window(open_window: Callable[[int, int], Window], session: Session, qtbot: QtBot) -> Window:
    session.set_moment(Moment(355, 10.0))
    made = open_window(1600, 1000)
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    return made


@pytest.fixture
def view(window: Window, session: Session) -> SectionView:
    """The Section view, in sight."""
    turn_to(session, "section")
    found = window.view
    assert isinstance(found, SectionView)
    return found
