"""How long a section of forty lines takes to follow the moment, and to be painted, as a ratio to the plan's data at the

same moments; CPU time, every moment a new one.
"""

from pathlib import Path
from time import process_time

import pytest
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QApplication

from studio.desk.section.canvas import SectionCanvas
from studio.desk.session import Session
from studio.desk.state import Moment
from studio.desk.theme import Theme
from studio.drawings.plan import plan_drawing
from studio.drawings.section import section_drawing
from studio.drawings.section_cut import first_cut
from studio.files.site import open_site

EXAMPLE = Path(__file__).parents[2] / "example_sites" / "large_field.stillfield"
MOMENTS = [8.0 + step / 12 for step in range(60)]


def _middle(times: list[float]) -> float:
    return 1e3 * sorted(times)[len(times) // 2]


def test_forty_lines_follow_the_moment(qapp: QApplication, capsys: pytest.CaptureFixture[str]) -> None:
    document = open_site(EXAMPLE)
    design = document.design
    cut = first_cut(design, ())
    section_drawing(design, cut, day_of_year=172, clock_h=7.5)
    plan_drawing(design, day_of_year=171, clock_h=7.5)
    section, plan, painted = [], [], []
    for hour in MOMENTS:
        start = process_time()
        section_drawing(design, cut, day_of_year=172, clock_h=hour)
        section.append(process_time() - start)
        start = process_time()
        plan_drawing(design, day_of_year=171, clock_h=hour)
        plan.append(process_time() - start)
    session = Session(document)
    canvas = SectionCanvas(session, Theme.of(qapp))
    image = QImage(980, 690, QImage.Format.Format_RGB32)
    canvas.near()
    for hour in MOMENTS:
        session.set_moment(Moment(172, hour))
        assert canvas.drawing.lines  # worked out above, so that only the painting is timed
        painter = QPainter(image)
        start = process_time()
        canvas.paint_on(painter)
        painted.append(process_time() - start)
        painter.end()
    with capsys.disabled():
        print(
            f"\nsection of 40 lines: data {_middle(section):.1f} ms, painting {_middle(painted):.1f} ms, plan's data "
            f"{_middle(plan):.1f} ms, ratio {_middle(section) / _middle(plan):.2f}"
        )
    assert _middle(section) < 3 * _middle(plan)
