"""From a map to a field on the real window with the real assessment, by real events: land in, a picture to scale, planted,

a line past a tree, and three findings mended by what they propose. The site is invented.
"""

import json
from collections.abc import Callable
from math import cos, radians
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from studio.design.design import Design, Document
from studio.design.obstacles import Tree
from studio.desk.plan.canvas import PlanCanvas
from studio.desk.plan.tools.tool import Pointer
from studio.desk.plan.view import PlanView
from studio.desk.session import Session
from studio.desk.window import Window
from studio.desk.worker import assessor_apart
from studio.study.findings import Finding
from tests.files.pictures import coded, land

LEFT = Qt.MouseButton.LeftButton
Key = Qt.Key
LAT, LON = 36.8, 5.2
A_DEGREE_M = 111_132.95
CORNERS = ((-20.0, -10.0), (16.0, -11.0), (17.0, 12.0), (-19.0, 11.0))


@pytest.fixture
def window(open_window: Callable[..., Window], qtbot: QtBot) -> Window:
    made = open_window(1600, 1000, Session(Document(design=Design())), assessor_apart)
    made.files.new()
    made.activateWindow()
    qtbot.waitUntil(lambda: made.session.state.fresh, timeout=60_000)
    return made


class Person:
    """Someone at the window."""

    def __init__(self, window: Window, qtbot: QtBot) -> None:
        self.window, self.session, self.qtbot = window, window.session, qtbot

    @property
    def canvas(self) -> PlanCanvas:
        view = self.window.view
        assert isinstance(view, PlanView)
        return view.canvas

    @property
    def design(self) -> Design:
        return self.session.state.design

    def drop(self, path: Path) -> None:
        data = QMimeData()
        data.setUrls([QUrl.fromLocalFile(str(path))])
        self.window.dropEvent(
            QDropEvent(QPointF(10, 10), Qt.DropAction.CopyAction, data, LEFT, Qt.KeyboardModifier.NoModifier)
        )

    def px(self, at: tuple[float, float]) -> QPoint:
        x, y = self.canvas.camera.to_px(at)
        return QPoint(round(float(x)), round(float(y)))

    def on_a_mark(self, at: tuple[float, float]) -> bool:
        spot = self.px(at)
        return self.canvas.mark_under(Pointer(at, spot.x(), spot.y())) is not None

    def click(
        self, at: tuple[float, float], held: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier
    ) -> None:
        QTest.mouseMove(self.canvas, self.px(at))
        QTest.mouseClick(self.canvas, LEFT, held, self.px(at))

    def drag(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        a, b = self.px(start), self.px(end)
        QTest.mouseMove(self.canvas, a)
        QTest.mousePress(self.canvas, LEFT, pos=a)
        for step in range(1, 7):
            QTest.mouseMove(self.canvas, a + (b - a) * (step / 6))
        QTest.mouseRelease(self.canvas, LEFT, pos=b)

    def keys(self, *keys: Qt.Key) -> None:
        for key in keys:
            QTest.keyClick(self.canvas, key)

    def settled(self) -> None:
        def still() -> bool:
            state = self.session.state
            there = state.assessment is not None and state.assessment.calendar is not None
            return there and state.fresh and state.progress is None and state.preview is None

        self.qtbot.waitUntil(still, timeout=60_000)

    def finding(self, key: str) -> Finding | None:
        assessment = self.session.state.assessment
        assert assessment is not None
        return next((one for one in assessment.findings if one.key == key), None)

    def mend(self, key: str) -> str:
        """Click a finding in the list and then the button that mends it; what undo calls that."""
        self.settled()
        found = self.finding(key)
        assert found is not None, key
        panel = self.window.tally._findings
        rows = [row for row in panel._rows if row.isVisible()]
        self.window.tally._scroll.ensureWidgetVisible(rows[found.number - 1])
        QTest.mouseClick(rows[found.number - 1], LEFT)
        assert panel._mend.isVisible()
        QTest.mouseClick(panel._mend, LEFT)
        self.settled()
        return self.session.state.undo[-1].label


def test_from_a_map_to_a_field_without_a_finding_that_mends_itself(
    window: Window, tmp_path: Path, qtbot: QtBot
) -> None:
    person = Person(window, qtbot)
    # the boundary comes from a map
    ring = [
        [LON + x / (A_DEGREE_M * cos(radians(LAT))), LAT + y / A_DEGREE_M] for x, y in (*CORNERS, CORNERS[0])
    ]
    shape = {"type": "Polygon", "coordinates": [ring]}
    feature = {"type": "Feature", "properties": {"name": "terrace"}, "geometry": shape}
    path = tmp_path / "terrace.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": [feature]}), encoding="utf-8")
    person.drop(path)
    page = window.arrivals.land
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    QTest.mouseClick(page.take_button, LEFT)
    assert len(person.design.plot.boundary) == 4
    # a picture is laid under it and scaled by a length that is known: the plot's southern edge
    picture = tmp_path / "above.png"
    picture.write_bytes(coded(land(640, 480)))
    person.drop(picture)
    qtbot.waitUntil(lambda: bool(person.design.underlay.asset), timeout=60_000)
    before = person.design.underlay.m_per_pixel
    middle = QPoint(person.canvas.width() // 2, person.canvas.height() // 2)
    for spot in (middle - QPoint(90, 0), middle + QPoint(90, 0)):
        QTest.mouseMove(person.canvas, spot)
        QTest.mouseClick(person.canvas, LEFT, pos=spot)
    QTest.keyClicks(person.canvas, "12")
    person.keys(Key.Key_Return)
    scaled = person.design.underlay.m_per_pixel
    assert scaled == pytest.approx(before * 12.0 * person.canvas.camera.px_per_m / 180.0, rel=0.01)
    person.keys(Key.Key_Escape, Key.Key_Escape)
    # planted, with a pitch too small for winter
    person.keys(Key.Key_A)
    qtbot.waitUntil(lambda: person.session.state.preview is not None, timeout=60_000)
    pitch = window.planting.fields["pitch_m"]
    pitch.setFocus()
    pitch.selectAll()
    QTest.keyClicks(pitch, "2.3")
    QTest.keyClick(pitch, Key.Key_Return)
    person.settled()
    assert len(person.design.lines) > 3
    person.mend("winter_shade")
    assert person.finding("winter_shade") is None
    # one line's mirrors are set too close for its frames, on the sheet
    front = min(person.design.lines, key=lambda line: line.y_m)
    person.keys(Key.Key_Escape)
    person.click((front.x_m + (front.count - 1) * front.spacing_m / 2, front.y_m))
    assert person.session.state.selected_lines() == (front.id,)
    spacing = next(
        box
        for box in window.sheet.findChildren(QLineEdit)
        if box.isVisible() and box.accessibleName().lower().startswith("spacing")
    )
    spacing.setFocus()
    spacing.selectAll()
    QTest.keyClicks(spacing, "1.3")
    QTest.keyClick(spacing, Key.Key_Return)
    person.mend("no_room_for_frame")
    assert person.finding("no_room_for_frame") is None
    # a tree stands south of the front line, which is dragged up to it and past it
    front = person.design.line(front.id)
    person.canvas.setFocus()
    person.keys(Key.Key_Escape, Key.Key_O)
    person.click((front.x_m, front.y_m - 3.2), Qt.KeyboardModifier.ShiftModifier)
    assert isinstance(person.design.obstacles[0], Tree)
    person.keys(Key.Key_Escape, Key.Key_Escape, Key.Key_Escape)
    assert (person.session.state.tool, person.session.state.selection) == ("pick", frozenset())
    person.settled()  # where a finding's mark lies on the line, a press goes to the finding
    start = next(
        place
        for place in ((front.x_m + mirror * front.spacing_m, front.y_m) for mirror in range(front.count))
        if not person.on_a_mark(place)
    )
    person.drag(start, (start[0], start[1] - 0.5))
    person.settled()
    moved = person.design.line(front.id)
    assert moved.y_m < front.y_m - 0.3
    assert person.finding("obstacle_shade") is not None
    assert "Keep mirrors" in person.mend("obstacle_shade")
    assert person.finding("obstacle_shade") is None
    labels = [step.label for step in person.session.state.undo]
    assert labels[0].startswith("Bring in the land")
    while person.session.state.undo:
        person.session.undo()
    assert not person.design.plot.boundary
