"""How long a section of forty lines takes to follow the moment or the cut, as a ratio to the plan's data at the same moments,

and to be painted, as a ratio to the same picture played back: its strokes, fills and letters alone, from a QPicture.
CPU time, every moment and every cut a new one.
"""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from time import process_time

import pytest
from PySide6.QtGui import QImage, QPainter, QPicture
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


def _timed(work: Callable[[], object]) -> float:
    start = process_time()
    work()
    return process_time() - start


def test_forty_lines_follow_the_moment_and_the_cut(capsys: pytest.CaptureFixture[str]) -> None:
    design = open_site(EXAMPLE).design
    cut = first_cut(design, ())
    section_drawing(design, cut, day_of_year=172, clock_h=7.5)
    plan_drawing(design, day_of_year=171, clock_h=7.5)
    section, moved, plan = [], [], []
    for step, hour in enumerate(MOMENTS):
        section.append(_timed(partial(section_drawing, design, cut, day_of_year=172, clock_h=hour)))
        plan.append(_timed(partial(plan_drawing, design, day_of_year=171, clock_h=hour)))
        beside = cut.shifted((0.01 * (step + 1), 0.0))
        moved.append(_timed(partial(section_drawing, design, beside, day_of_year=172, clock_h=10.0)))
    with capsys.disabled():
        print(
            f"\nsection of 40 lines: follows the moment in {_middle(section):.1f} ms, the cut in {_middle(moved):.1f} ms, plan's "
            f"data {_middle(plan):.1f} ms: {_middle(section) / _middle(plan):.2f} and {_middle(moved) / _middle(plan):.2f} of it"
        )
    assert _middle(section) < _middle(plan)
    assert _middle(moved) < _middle(plan)


@pytest.mark.parametrize("sight", ["near", "fit"])
def test_a_section_is_painted_in_little_more_than_its_strokes_take(
    qapp: QApplication, capsys: pytest.CaptureFixture[str], sight: str
) -> None:
    session = Session(open_site(EXAMPLE))
    canvas = SectionCanvas(session, Theme.of(qapp))
    canvas.resize(980, 690)
    image = QImage(980, 690, QImage.Format.Format_RGB32)
    getattr(canvas, sight)()
    painted, played = [], []
    for hour in MOMENTS:
        session.set_moment(Moment(172, hour))
        assert canvas.drawing.lines  # worked out above, so that only the painting is timed
        painter = QPainter(image)
        painted.append(_timed(partial(canvas.paint_on, painter)))
        painter.end()
        picture = QPicture()
        painter.begin(picture)
        canvas.paint_on(painter)
        painter.end()
        painter.begin(image)
        played.append(_timed(partial(picture.play, painter)))
        painter.end()
    ratio = _middle(painted) / _middle(played)
    with capsys.disabled():
        print(
            f"\nsection painted ({sight}): {_middle(painted):.1f} ms, played back {_middle(played):.1f} ms, ratio {ratio:.2f}"
        )
    assert ratio < 3.5
