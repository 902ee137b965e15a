"""Every finding of the land and the rows leads to its place: a click in the list brings it into sight, marked and selected."""

from dataclasses import replace
from functools import cache
from typing import Any

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from studio.design.design import Design, Document
from studio.design.field import Line, Store
from studio.design.money import Marks
from studio.design.obstacles import Block, Tree
from studio.design.site import Ground, NoBuild, Plot, SpotHeights
from studio.desk.findings_list import FindingsList
from studio.desk.plan import furniture
from studio.desk.plan.view import PlanView
from studio.desk.session import Session
from studio.desk.state import Subject
from studio.desk.theme import Theme
from studio.study.assess import Assessor

WIDE = Plot(boundary=((-30.0, -30.0), (60.0, -30.0), (60.0, 60.0), (-30.0, 60.0)), setback_m=2.0)


@cache
def assessor() -> Assessor:
    return Assessor()


def row(number: int, y_m: float, **parts: Any) -> Line:
    return replace(Line(id=number, x_m=0.0, y_m=y_m, spacing_m=1.35, count=8), **parts)


def field(*lines: Line, plot: Plot = WIDE, **parts: Any) -> Design:
    made = Design(plot=plot, lines=lines or (row(1, 0.0),), store=Store(x_m=30.0, y_m=20.0))
    return replace(made, **parts)


def no_build(x: float, y: float, side: float = 3.0) -> Plot:
    ring = ((x, y), (x + side, y), (x + side, y + side), (x, y + side))
    return replace(WIDE, no_build=(NoBuild(name="pit", ring=ring),))


def shed(x: float, y: float, side: float = 2.0, height_m: float = 3.0) -> Block:
    return Block(
        name="shed", ring=((x, y), (x + side, y), (x + side, y + side), (x, y + side)), height_m=height_m
    )


def along(*heights: float) -> Ground:
    step = 9.45 / (len(heights) - 1)
    spots = tuple((step * place, y, z) for place, z in enumerate(heights) for y in (-30.0, 30.0))
    return Ground(heights=SpotHeights(spots=spots))


def rolling(arm_m: float, roll_deg: float) -> Design:
    design = field()
    motion = replace(design.motion, arm_m=arm_m, roll_from_deg=-roll_deg, roll_to_deg=roll_deg)
    return replace(design, motion=motion)


END = 7 * 1.35
TREE = Tree(name="walnut", place=(4.0, -5.0), crown_radius_m=2.5, crown_base_m=1.0, height_m=7.0)
PROVOKED: dict[str, Design] = {
    "mirror_outside_plot": field(row(1, 59.8)),
    "mirror_inside_setback": field(row(1, 57.6)),
    "mirror_in_no_build_area": field(plot=no_build(1.0, -1.5)),
    "drive_outside_plot": field(row(1, 0.0, x_m=-28.4)),
    "drive_in_no_build_area": field(plot=no_build(-4.3, -1.5, 2.0)),
    "stroke_outside_plot": field(row(1, 0.0, x_m=-28.4)),
    "stroke_in_no_build_area": field(plot=no_build(END + 1.5, -1.5)),
    "stroke_meets_mirror": field(row(1, 0.0), row(2, 0.0, x_m=END + 2.0, stands_at_m=2.1)),
    "strokes_meet": field(row(1, 0.0), row(2, 0.0, x_m=END + 2.6)),
    "stroke_meets_support": field(row(1, 0.0, stands_at_m=1.2), row(2, -1.15, stands_at_m=2.6)),
    "lines_near": field(row(1, 0.0), row(2, 1.7)),
    "lines_cross": field(row(1, 0.0), Line(id=2, x_m=3.0, y_m=-4.0, azimuth_deg=0.0, count=7)),
    "no_room_for_frame": field(row(1, 0.0, spacing_m=1.3)),
    "header_in_no_build_area": field(
        plot=no_build(18.0, 6.0, 4.0), header=replace(Design().header, hot=((14.0, 8.0), (30.0, 8.0)))
    ),
    "mirror_in_obstacle": field(obstacles=(shed(1.0, -1.0),)),
    "stroke_in_obstacle": field(obstacles=(shed(END + 1.2, -1.0, height_m=5.0),)),
    "drive_in_obstacle": field(obstacles=(shed(-4.3, -0.5, 1.5),)),
    "header_in_obstacle": field(
        obstacles=(shed(20.0, 7.0),), header=replace(Design().header, hot=((14.0, 8.0), (30.0, 8.0)))
    ),
    "obstacle_shade": field(obstacles=(TREE,), marks=Marks(obstacle_limit=0.01)),
    "winter_shade": field(*(row(n, 2.2 * n, count=20) for n in range(1, 5))),
    "mirror_in_ground": field(row(1, 0.0, stands_at_m=0.3)),
    "receiver_meets_ground": field(
        row(1, 0.0, stands_at_m=0.8, tilt_deg=70.0),
        motion=replace(Design().motion, roll_from_deg=-29.0, roll_to_deg=60.0),
    ),
    "receiver_meets_own_mirror": rolling(0.6, 60.0),
    "too_steep": field(ground=Ground(slope_percent=26.0, falls_towards_deg=180.0)),
    "post_too_long": field(ground=along(0.0, -3.2, 0.0), marks=Marks(post_limit_m=2.0)),
    "drains_against": field(ground=Ground(slope_percent=2.0, falls_towards_deg=90.0)),
    "mirror_in_snow": field(marks=Marks(snow_m=1.4)),
    "mirror_in_flood": field(marks=Marks(flood_level_m=1.4)),
}


@pytest.mark.parametrize("key", PROVOKED)
def test_a_click_goes_to_its_place(key: str, qapp: QApplication, qtbot: QtBot) -> None:
    design = PROVOKED[key]
    session = Session(Document(design=design))
    theme = Theme(qapp, wish="light")
    view, panel = PlanView(session, theme), FindingsList(session, theme)
    for widget, size in ((view, (900, 640)), (panel, (320, 900))):
        qtbot.addWidget(widget)
        widget.resize(*size)
        widget.show()
    assessment = assessor().assess(Document(design=design), calendar=False)
    session.take_assessment(session.state.revision, assessment)
    panel.show_findings(assessment.findings, stale=False)
    finding = next(one for one in assessment.findings if one.key == key)
    assert finding.place is not None
    canvas = view.canvas
    canvas.zoom(3.0)
    canvas.pan(4000.0, 3000.0)  # somewhere else
    x0, y0, x1, y1 = canvas.camera.bounds
    assert not (x0 < finding.place[0] < x1 and y0 < finding.place[1] < y1)
    rows = [one for one in panel._rows if one.isVisible()]
    QTest.mouseClick(rows[finding.number - 1], Qt.MouseButton.LeftButton)
    x0, y0, x1, y1 = canvas.camera.bounds
    assert x0 < finding.place[0] < x1
    assert y0 < finding.place[1] < y1
    marks = {mark.number: spot for mark, spot in furniture.marks_px(canvas.camera, canvas.drawing)}
    assert (marks[finding.number] - QPointF(*canvas.camera.to_px(finding.place))).manhattanLength() < 60
    if finding.line_id is not None:
        assert session.state.selection == {Subject("line", finding.line_id)}
