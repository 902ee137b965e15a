"""Land from a file on the whole window: opened or dropped, looked at, chosen, taken as one step, undone. The land is invented."""

import json
from collections.abc import Callable, Sequence
from math import cos, radians
from pathlib import Path

import pytest
from PySide6.QtCore import QMimeData, QPointF, QRectF, Qt, QUrl
from PySide6.QtGui import QAction, QDropEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QLabel
from pytestqt.qtbot import QtBot

from studio.desk.land_in.area_row import outline_in, round_length
from studio.desk.land_in.endings import holds_land
from studio.desk.plan.view import PlanView
from studio.desk.session import Session
from studio.desk.window import Window
from studio.files.land.look import look_at

OpenWindow = Callable[[int, int], Window]

Place = tuple[float, float]
LAT, LON = 33.5, -5.0
A_DEGREE_M = 111_200.0
"""Of latitude, near enough for land that is only to be some 100 m wide."""
FIELD = ((0.0, 0.0), (120.0, 0.0), (120.0, 80.0), (60.0, 110.0), (0.0, 80.0))
WELL = ((40.0, 30.0), (40.0, 50.0), (60.0, 50.0), (60.0, 30.0))
YARD = ((130.0, 0.0), (160.0, 2.0), (160.0, 25.0), (130.0, 22.0))
KNOT = ((200.0, 0.0), (260.0, 60.0), (260.0, 0.0), (200.0, 60.0))
LEFT = Qt.MouseButton.LeftButton


def degrees_of(ring: Sequence[Place]) -> list[list[float]]:
    around = [*ring, ring[0]]
    return [
        [LON + x / (A_DEGREE_M * cos(radians(LAT))), LAT + y / A_DEGREE_M] for x, y in around
    ]  # fmt: skip


def write_map(path: Path, **areas: Sequence[Sequence[Place]]) -> Path:
    features = [
        {
            "type": "Feature",
            "properties": {"name": name},
            "geometry": {"type": "Polygon", "coordinates": [degrees_of(ring) for ring in rings]},
        }
        for name, rings in areas.items()
    ]
    path.write_text(json.dumps({"type": "FeatureCollection", "features": features}), encoding="utf-8")
    return path


@pytest.fixture
def window(open_window: OpenWindow) -> Window:
    return open_window(1600, 1000)


@pytest.fixture
def land(tmp_path: Path) -> Path:
    return write_map(tmp_path / "land.geojson", field=(FIELD, WELL), yard=(YARD,), knot=(KNOT,))


def drop(window: Window, path: Path) -> None:
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(path))])
    window.dropEvent(
        QDropEvent(QPointF(10, 10), Qt.DropAction.CopyAction, data, LEFT, Qt.KeyboardModifier.NoModifier)
    )


def looked_at(window: Window, path: Path, qtbot: QtBot) -> None:
    drop(window, path)
    qtbot.waitUntil(lambda: any(row.isVisible() for row in window.arrivals.land.rows), timeout=60_000)


def texts(window: Window) -> str:
    return "\n".join(label.text() for label in window.arrivals.land.findChildren(QLabel) if label.isVisible())


def test_land_is_shown_chosen_taken_and_undone(
    window: Window, session: Session, land: Path, qtbot: QtBot
) -> None:
    before = session.state.design
    looked_at(window, land, qtbot)
    page = window.arrivals.land
    assert session.state.design is before, "looking changes nothing"
    assert "WGS 84" in texts(window)
    assert [row.area.name for row in page.rows] == ["field", "yard", "knot"]
    assert [row.isEnabled() for row in page.rows] == [True, True, False]
    assert "crosses itself" in page.rows[2].accessibleName()
    assert "5 corners, 1 hole" in page.rows[0].accessibleName()
    assert not page.take_button.isEnabled(), "there are two to choose from"
    assert not page.holes.isVisible()
    QTest.mouseClick(page.rows[0], LEFT)
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    assert page.holes.isVisible()
    QTest.mouseClick(page.take_button, LEFT)
    plot = session.state.design.plot
    assert len(plot.boundary) == 5
    assert [len(area.ring) for area in plot.no_build] == [4]
    assert (session.state.design.site.latitude_deg, session.state.design.site.longitude_deg) == pytest.approx(
        (LAT, LON), abs=0.002
    )
    wide = max(x for x, _ in plot.boundary) - min(x for x, _ in plot.boundary)
    assert wide == pytest.approx(120.0, rel=0.005)
    assert not page.isVisible()
    view = window.view
    assert isinstance(view, PlanView)
    x0, y0, x1, y1 = view.canvas.camera.bounds
    assert all(x0 < x < x1 and y0 < y < y1 for x, y in plot.boundary)
    assert [step.label for step in session.state.undo] == ["Bring in the land field"]
    session.undo()
    assert session.state.design == before


def test_another_area_can_be_one_where_nothing_is_built(
    window: Window, session: Session, land: Path, qtbot: QtBot
) -> None:
    looked_at(window, land, qtbot)
    page = window.arrivals.land
    assert not any(row.no_build.isVisible() for row in page.rows), "there is no plot yet"
    QTest.mouseClick(page.rows[0], LEFT)
    assert [row.no_build.isVisible() for row in page.rows] == [False, True, False]
    QTest.mouseClick(page.rows[1].no_build, LEFT)
    assert page.chosen == 1, "the tick is not a choice of the plot"
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    QTest.mouseClick(page.take_button, LEFT)
    assert [area.name for area in session.state.design.plot.no_build] == ["hole 1", "yard"]


def test_holes_can_be_left_out_by_keyboard(
    window: Window, session: Session, land: Path, qtbot: QtBot
) -> None:
    looked_at(window, land, qtbot)
    page = window.arrivals.land
    QTest.keyClick(page.rows[0], Qt.Key.Key_Return)
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    QTest.keyClick(page.holes, Qt.Key.Key_Space)
    assert not page.take_button.isEnabled(), "the other choice is being weighed"
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    QTest.keyClick(page.take_button, Qt.Key.Key_Space)
    assert session.state.design.plot.no_build == ()


def test_a_broken_file_is_told_and_changes_nothing(
    window: Window, session: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    before = session.state.design
    broken = tmp_path / "broken.geojson"
    broken.write_text('{"type": "FeatureCollection", "features": [', encoding="utf-8")
    drop(window, broken)
    qtbot.waitUntil(lambda: "Nothing was changed." in texts(window), timeout=60_000)
    assert "broken.geojson" in texts(window)
    assert not window.arrivals.land.take_button.isVisible()
    QTest.keyClick(window.arrivals.land, Qt.Key.Key_Escape)
    assert not window.arrivals.land.isVisible()
    assert session.state.design is before
    assert session.state.undo == ()


def test_a_guessed_system_is_said_by_a_mend(
    window: Window, session: Session, tmp_path: Path, qtbot: QtBot
) -> None:
    table = tmp_path / "corners.csv"
    table.write_text(
        "x,y\n500100,3700000\n500220,3700006\n500218,3700084\n500096,3700080\n", encoding="utf-8"
    )
    looked_at(window, table, qtbot)
    page = window.arrivals.land
    assert page.look is not None
    assert not page.look.system.sure
    qtbot.waitUntil(lambda: "must be said first" in page.does.text(), timeout=60_000)
    assert not page.take_button.isEnabled()
    QTest.mouseClick(page.mends[0], LEFT)
    qtbot.waitUntil(page.take_button.isEnabled, timeout=60_000)
    assert page.look.system.sure
    page.system.setFocus()
    page.system.selectAll()
    QTest.keyClicks(page.system, "EPSG:nonsense")
    QTest.keyClick(page.system, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "nonsense" in page.does.text(), timeout=60_000)
    assert session.state.undo == ()
    assert page.rows, "what was found before still stands"


def test_reading_can_be_left(window: Window, land: Path, qtbot: QtBot) -> None:
    drop(window, land)
    assert "Reading land.geojson" in texts(window)
    QTest.mouseClick(window.arrivals.land.leave_button, LEFT)
    assert not window.arrivals.land.isVisible()
    qtbot.wait(300)
    assert window.arrivals.land.look is None, "a late answer is not taken"
    assert not window.arrivals.land.isVisible()


def test_the_menu_asks_for_a_file(
    window: Window, land: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_args, **_kw: (str(land), ""))
    entry = next(action for action in window.actions() if action.text() == "Land from a file…")
    assert isinstance(entry, QAction)
    entry.trigger()
    qtbot.waitUntil(lambda: window.arrivals.land.look is not None, timeout=60_000)
    assert window.arrivals.land.isVisible()


def test_weather_and_land_are_told_apart(tmp_path: Path, land: Path) -> None:
    year = tmp_path / "year.csv"
    year.write_text("hour,dni\n" + "1,0\n" * 40_000, encoding="utf-8")
    hourly = tmp_path / "hourly.json"
    hourly.write_text('{"inputs": {}, "outputs": {}}', encoding="utf-8")
    shared = tmp_path / "map.json"
    shared.write_bytes(land.read_bytes())
    assert [holds_land(path) for path in (year, hourly, shared, land)] == [False, False, True, True]
    assert not holds_land(tmp_path / "missing.csv")
    assert not holds_land(tmp_path / "year.epw")


def test_outlines_keep_their_proportions(land: Path) -> None:
    area = look_at(land).areas[0]
    path, px_per_m = outline_in(area, QRectF(0, 0, 80, 40))
    box = path.boundingRect()
    assert box.width() / box.height() == pytest.approx(120 / 110, rel=0.01)
    assert box.height() == pytest.approx(40.0)
    assert px_per_m == pytest.approx(40 / 110, rel=0.01)
    assert [round_length(most) for most in (0.7, 1.0, 4.9, 50.0)] == [0.5, 1.0, 2.0, 50.0]
