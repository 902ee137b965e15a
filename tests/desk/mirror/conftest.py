"""The Mirror view in the real window. Errands are done in this process unless a test asks for one apart."""

import threading
from collections.abc import Callable
from typing import ClassVar

import pytest
from pytestqt.qtbot import QtBot

from studio.desk.mirror import model
from studio.desk.mirror.view import MirrorView
from studio.desk.session import Session
from studio.desk.state import Moment
from studio.desk.views import turn_to
from studio.desk.window import Window
from studio.study.errands import Assets, Bench, Errand, never
from studio.study.watch import StoppedError


class Here:
    """Does errands on the thread that asks; can be held, so that figures go stale."""

    go = threading.Event()
    asked: ClassVar[list[str]] = []

    def __init__(self) -> None:
        self._bench = Bench()

    def run(self, errand: Errand, assets: Assets, overtaken: Callable[[], bool] = never) -> object:
        Here.asked.append(errand.function.__name__)
        while not Here.go.wait(0.005):
            if overtaken():
                raise StoppedError("stopped")
        return errand.function(self._bench, *errand.args)

    def close(self) -> None:
        Here.go.set()


@pytest.fixture
def here(monkeypatch: pytest.MonkeyPatch) -> type[Here]:
    """Errands here; few rays."""
    Here.go.set()
    Here.asked.clear()
    monkeypatch.setattr(model, "Errands", Here)
    monkeypatch.setattr(model, "RAYS_AT_ONCE", 3000)
    monkeypatch.setattr(model, "MORE_RAYS", (6000,))
    return Here


@pytest.fixture
def window(
    here: type[Here], open_window: Callable[[int, int], Window], session: Session, qtbot: QtBot
) -> Window:
    session.set_moment(Moment(40, 10.5))
    made = open_window(1600, 1000)
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    return made


@pytest.fixture
def view(window: Window, session: Session, qtbot: QtBot) -> MirrorView:
    """The Mirror view, with its day and its first rays there; the curves folded, for they take a while."""
    turn_to(session, "mirror")
    found = window.view
    assert isinstance(found, MirrorView)
    found.chips["curves"].click()
    qtbot.waitUntil(lambda: found.model.day is not None and found.model.spot is not None, timeout=60_000)
    return found
