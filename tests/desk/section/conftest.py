"""The Section view in the real window, on an invented field; the assessment is invented too, the section is not."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QMessageBox
from pytestqt.qtbot import QtBot

from studio.design.design import Design
from studio.design.field import Line
from studio.design.site import Plot, Site
from studio.desk.section.view import SectionView
from studio.desk.session import Session
from studio.desk.state import Moment
from studio.desk.theme import Theme
from studio.desk.views import turn_to
from studio.desk.window import Window
from studio.desk.worker import Assesses


@pytest.fixture
def design() -> Design:
    """Four lines so near that they shade each other on a winter morning; invented."""
    return Design(
        site=Site(name="Invented", latitude_deg=36.0, longitude_deg=-5.0, altitude_m=300.0),
        plot=Plot(boundary=((-10.0, -8.0), (50.0, -8.0), (50.0, 28.0), (-10.0, 28.0))),
        lines=tuple(Line(id=n + 1, x_m=0.0, y_m=2.4 * n, count=20) for n in range(4)),
    )


@pytest.fixture
def window(
    session: Session, theme: Theme, assessor: Assesses, settings: QSettings, tmp_path: Path, qtbot: QtBot,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Window]:  # fmt: skip
    monkeypatch.setattr(QMessageBox, "question", lambda *_args, **_kw: QMessageBox.StandardButton.Discard)
    made = Window(session, theme, lambda: assessor, settings, state_folder=tmp_path / "state")
    qtbot.addWidget(made)
    made.resize(1600, 1000)
    session.set_moment(Moment(355, 10.0))
    made.show()
    made.worker.start()
    qtbot.waitUntil(lambda: session.state.fresh, timeout=5000)
    yield made
    made.close()


@pytest.fixture
def view(window: Window, session: Session) -> SectionView:
    """The Section view, in sight."""
    turn_to(session, "section")
    found = window.view
    assert isinstance(found, SectionView)
    return found
