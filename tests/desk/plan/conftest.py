"""A plan on the screen, and a hand that points, drags and types on it. The site is invented."""

from collections.abc import Callable
from dataclasses import dataclass

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from pytestqt.qtbot import QtBot

from studio.design.design import Design, Document
from studio.design.field import Line, Store
from studio.design.site import NoBuild, Plot, Site
from studio.desk.plan.canvas import PlanCanvas
from studio.desk.plan.tools.chain import Chain
from studio.desk.plan.view import PlanView
from studio.desk.session import Session
from studio.desk.state import Moment, State
from studio.desk.theme import Theme

PLOT = Plot(
    boundary=((-10.0, -8.0), (50.0, -8.0), (50.0, 28.0), (-10.0, 28.0)),
    no_build=(NoBuild(name="well", ring=((38.0, 20.0), (46.0, 20.0), (46.0, 26.0), (38.0, 26.0))),),
)
FIELD = Design(
    site=Site(name="Invented", latitude_deg=33.5, longitude_deg=-5.0, altitude_m=900.0),
    plot=PLOT,
    lines=tuple(Line(id=n + 1, x_m=0.0, y_m=3.2 * n, count=20) for n in range(3)),
    store=Store(x_m=42.0, y_m=3.0),
)
EMPTY = Design(site=FIELD.site)
Place = tuple[float, float]


@dataclass
class Hand:
    """Points in metres; ``actions`` counts clicks, drags, typed figures and keys."""

    view: PlanView
    session: Session
    actions: int = 0

    @property
    def canvas(self) -> PlanCanvas:
        return self.view.canvas

    @property
    def state(self) -> State:
        return self.session.state

    def px(self, at: Place) -> QPoint:
        x, y = self.canvas.camera.to_px(at)
        return QPoint(round(float(x)), round(float(y)))

    def point(self, at: Place) -> None:
        QTest.mouseMove(self.canvas, self.px(at))

    def click(self, at: Place, *, shift: bool = False, double: bool = False) -> None:
        self.actions += 1
        held = Qt.KeyboardModifier.ShiftModifier if shift else Qt.KeyboardModifier.NoModifier
        self.point(at)
        if double:
            QTest.mouseDClick(self.canvas, Qt.MouseButton.LeftButton, held, self.px(at))
        else:
            QTest.mouseClick(self.canvas, Qt.MouseButton.LeftButton, held, self.px(at))

    def press(self, at: Place) -> None:
        self.point(at)
        QTest.mousePress(self.canvas, Qt.MouseButton.LeftButton, pos=self.px(at))

    def drag(self, start: Place, end: Place, *, steps: int = 5, let_go: bool = True) -> None:
        self.actions += 1
        self.press(start)
        a, b = self.px(start), self.px(end)
        for turn in range(1, steps + 1):
            QTest.mouseMove(self.canvas, a + (b - a) * (turn / steps))
        if let_go:
            QTest.mouseRelease(self.canvas, Qt.MouseButton.LeftButton, pos=b)

    def key(self, key: Qt.Key, *, control: bool = False, shift: bool = False) -> None:
        self.actions += 1
        held = Qt.KeyboardModifier.NoModifier
        if control:
            held |= Qt.KeyboardModifier.ControlModifier
        if shift:
            held |= Qt.KeyboardModifier.ShiftModifier
        QTest.keyClick(self.canvas, key, held)

    def type(self, text: str) -> None:
        self.actions += 1
        QTest.keyClicks(self.canvas, text)

    @property
    def points(self) -> list[Place]:
        """The points of what is being drawn."""
        assert isinstance(self.canvas.tool, Chain)
        return self.canvas.tool.points

    @property
    def last(self) -> str:
        return self.state.undo[-1].label if self.state.undo else ""


def hand_on(design: Design, qtbot: QtBot, theme: Theme) -> Hand:
    session = Session(Document(design=design))
    session.set_moment(Moment(355, 11.0))
    view = PlanView(session, theme)
    qtbot.addWidget(view)
    view.resize(984, 728)
    view.show()
    qtbot.waitExposed(view)
    view.canvas.setFocus()
    return Hand(view, session)


@pytest.fixture
def hand(qtbot: QtBot, theme: Theme) -> Hand:
    return hand_on(FIELD, qtbot, theme)


@pytest.fixture
def bare(qtbot: QtBot, theme: Theme) -> Hand:
    """A hand on an empty sheet."""
    return hand_on(EMPTY, qtbot, theme)


@pytest.fixture
def hand_in() -> Callable[[PlanView, Session], Hand]:
    """Puts a hand on a plan that stands in a window of its own."""

    def put(view: PlanView, session: Session) -> Hand:
        view.canvas.setFocus()
        return Hand(view, session)

    return put
