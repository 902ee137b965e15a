"""The Plant tool on the whole window: figures typed beside the tools, an edge clicked on the plan, lines planted as one step.

The site is invented.
"""

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from shapely import LineString, Polygon

from studio.design.design import Design
from studio.design.field import Store
from studio.design.site import NoBuild, Plot
from studio.desk.plan.canvas import PlanCanvas
from studio.desk.plan.view import PlanView
from studio.desk.session import Session
from studio.desk.window import Window
from studio.edits.geometry import first_vertex, last_vertex, offset, parallel
from studio.edits.plant import plant_lines
from studio.edits.plot import clear_boundary

Key = Qt.Key
LEFT = Qt.MouseButton.LeftButton
PLOT = Plot(
    boundary=((-10.0, -8.0), (50.0, -8.0), (54.0, 28.0), (-10.0, 28.0)),
    no_build=(NoBuild(name="well", ring=((38.0, 16.0), (42.0, 16.0), (42.0, 20.0), (38.0, 20.0))),),
)


@pytest.fixture
def design(design: Design) -> Design:
    return replace(design, plot=PLOT, store=Store(x_m=45.0, y_m=3.0))


@pytest.fixture
def window(open_window: Callable[[int, int], Window], qtbot: QtBot) -> Window:
    made = open_window(1280, 720)
    made.activateWindow()
    qtbot.waitUntil(made.isActiveWindow)
    canvas_of(made).setFocus()
    return made


def canvas_of(window: Window) -> PlanCanvas:
    view = window.view
    assert isinstance(view, PlanView)
    return view.canvas


def type_in(window: Window, key: str, text: str) -> None:
    field = window.planting.fields[key]
    field.setFocus()
    field.selectAll()
    if text:
        QTest.keyClicks(field, text)
    else:
        QTest.keyClick(field, Key.Key_Delete)


def take_up(window: Window, session: Session, qtbot: QtBot) -> None:
    QTest.keyClick(canvas_of(window), Key.Key_A)
    qtbot.waitUntil(lambda: session.state.preview is not None)


def test_lines_are_previewed_counted_planted_and_undone(
    window: Window, session: Session, qtbot: QtBot
) -> None:
    before = session.state.design
    assert not window.planting.isVisible()
    take_up(window, session, qtbot)
    form = window.planting
    assert form.isVisible()
    assert QApplication.focusWidget() is form.fields["azimuth_deg"], "digits go into the figures at once"
    assert form.fields["azimuth_deg"].text() == "90.00"
    assert form.fields["pitch_m"].text() == "3.20", "as the lines there are"
    type_in(window, "pitch_m", "4")
    type_in(window, "longest", "12")
    expected = plant_lines(before, azimuth_deg=90.0, pitch_m=4.0, longest=12).design.lines
    mirrors = sum(line.count for line in expected)
    assert form.told.text().startswith(f"{len(expected)} lines, {mirrors} mirrors")
    qtbot.waitUntil(lambda: session.state.shown.lines == expected)
    assert session.state.design is before, "nothing is planted yet"
    QTest.keyClick(form.fields["longest"], Key.Key_Return)
    assert session.state.design.lines == expected
    assert len(session.state.undo) == 1
    assert session.state.undo[-1].label.startswith(f"Plant {len(expected)} lines with {mirrors} mirrors")
    assert session.state.tool == "pick"
    assert not form.isVisible()
    assert QApplication.focusWidget() is canvas_of(window)
    inside = Polygon(PLOT.boundary)
    for line in expected:
        assert inside.covers(LineString([first_vertex(line), last_vertex(line, before.ground)]))
    session.undo()
    assert session.state.design == before


def test_escape_leaves_everything_as_it_was(window: Window, session: Session, qtbot: QtBot) -> None:
    before = session.state.design
    take_up(window, session, qtbot)
    QTest.keyClick(window.planting.fields["azimuth_deg"], Key.Key_Escape)
    qtbot.waitUntil(lambda: session.state.preview is None)
    assert session.state.tool == "pick"
    assert session.state.design is before
    assert not window.planting.isVisible()
    take_up(window, session, qtbot)
    QTest.mouseClick(window.tools.buttons["line"], LEFT)
    qtbot.waitUntil(lambda: session.state.preview is None)
    assert session.state.tool == "line"
    assert session.state.undo == ()


def test_a_click_on_an_edge_gives_the_azimuth_and_again_turns_it_round(
    window: Window, session: Session, qtbot: QtBot
) -> None:
    take_up(window, session, qtbot)
    canvas, azimuth = canvas_of(window), window.planting.fields["azimuth_deg"]
    x, y = canvas.camera.to_px((52.0, 10.0))
    spot = QPoint(round(float(x)), round(float(y)))
    QTest.mouseMove(canvas, spot)
    QTest.mouseClick(canvas, LEFT, pos=spot)
    assert azimuth.text() == "6.34"  # atan(4 / 36)
    QTest.mouseClick(canvas, LEFT, pos=spot)
    assert azimuth.text() == "186.34"
    qtbot.waitUntil(lambda: session.state.preview is not None)
    canvas.setFocus()
    QTest.keyClick(canvas, Key.Key_Return)
    assert {round(line.azimuth_deg, 2) for line in session.state.design.lines} == {186.34}


def test_lanes_lie_between_every_so_many_lines(window: Window, session: Session, qtbot: QtBot) -> None:
    take_up(window, session, qtbot)
    type_in(window, "longest", "")
    type_in(window, "lane_every", "2")
    type_in(window, "lane_m", "2.5")
    QTest.mouseClick(window.planting.plant_button, LEFT)
    design = session.state.design
    first = design.lines[0]
    assert all(parallel(first, line) for line in design.lines)
    places = sorted({round(offset(first, line, design.ground), 6) for line in design.lines})
    gaps = [round(b - a, 6) for a, b in pairwise(places)]
    assert set(gaps) == {3.2, 5.7}
    assert all(a != b for a, b in pairwise(gaps))


def test_what_cannot_be_planted_is_told_and_not_taken(window: Window, session: Session, qtbot: QtBot) -> None:
    before = session.state.design
    take_up(window, session, qtbot)
    form = window.planting
    type_in(window, "pitch_m", "0.2")
    assert "overlap" in form.fault.text()
    assert not form.plant_button.isEnabled()
    QTest.keyClick(form.fields["pitch_m"], Key.Key_Return)
    assert session.state.tool == "plant"
    type_in(window, "pitch_m", "four")
    assert form.fields["pitch_m"].property("refused")
    type_in(window, "longest", "2.5")
    type_in(window, "pitch_m", "12 ft")
    assert "whole number" in form.fault.text()
    type_in(window, "longest", "20")
    assert form.fault.text() == ""
    assert form.planter.wish.pitch_m == pytest.approx(3.6576)
    assert session.state.design is before


def test_lines_there_can_be_kept_and_the_best_edge_taken(
    window: Window, session: Session, qtbot: QtBot
) -> None:
    before = session.state.design
    take_up(window, session, qtbot)
    form = window.planting
    QTest.mouseClick(form.keep, LEFT)
    added = plant_lines(before, azimuth_deg=90.0, pitch_m=3.2, longest=20, replace=False).design.lines[4:]
    assert form.planter.new_lines == added
    QTest.mouseClick(form.edge_button, LEFT)
    best = form.planter.new_lines
    for way in (90.0, 180.0, 270.0, 6.340192, 186.340192):
        form.planter.set(azimuth_deg=way)
        assert sum(line.count for line in form.planter.new_lines) <= sum(line.count for line in best)
    QTest.mouseClick(form.edge_button, LEFT)
    QTest.mouseClick(form.plant_button, LEFT)
    assert session.state.design.lines[:4] == before.lines
    assert session.state.design.lines[4:] == best


def test_without_a_plot_it_says_what_is_missing(window: Window, session: Session, qtbot: QtBot) -> None:
    session.apply(clear_boundary(session.state.design))
    QTest.keyClick(canvas_of(window), Key.Key_A)
    assert "no plot to plant yet" in window.planting.fault.text()
    assert "No lines so" in canvas_of(window).tool.hint
    assert session.state.preview is None
