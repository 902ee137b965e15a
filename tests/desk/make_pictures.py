"""Makes the README's pictures of the desk from the example sites: ``python tests/desk/make_pictures.py``."""

import os
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from time import monotonic

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from PySide6.QtCore import QEventLoop, QPoint, QSettings, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from studio.desk.mirror.view import MirrorView
from studio.desk.plan.view import PlanView
from studio.desk.session import Session
from studio.desk.state import Moment, Subject
from studio.desk.theme import Theme, Wish
from studio.desk.views import turn_to
from studio.desk.window import Window
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.apart import AssessorApart

INTO = Path(__file__).resolve().parents[2] / "resources" / "pictures"
WIDE, SMALL = (1600, 1000), (1280, 720)
PATIENCE_S = 60.0


def wait(milliseconds: int) -> None:
    """Let the desk live for a while."""
    loop = QEventLoop()
    QTimer.singleShot(milliseconds, loop.quit)
    loop.exec()


def settle(window: Window) -> None:
    """Wait until every figure and the calendar stand."""
    end = monotonic() + PATIENCE_S
    while monotonic() < end:
        wait(50)
        state = window.session.state
        if state.fresh and state.assessment is not None and state.assessment.calendar is not None:
            break
    wait(400)


def picture(
    app: QApplication, name: str, example: str, wish: Wish, size: tuple[int, int], *, drag: bool
) -> None:
    """One picture of the desk on an example; with ``drag`` a line is in the hand."""
    session = Session(open_site(example_path(example)))
    with TemporaryDirectory() as folder:
        settings = QSettings(str(Path(folder) / "settings.ini"), QSettings.Format.IniFormat)
        window = Window(session, Theme(app, wish=wish), AssessorApart, settings, state_folder=Path(folder))
        window.resize(*size)
        session.set_moment(Moment(355, 10.5))
        window.show()
        window.worker.start()
        settle(window)
        session.keep("2026-03-01")
        settle(window)
        view = window.view
        assert isinstance(view, PlanView)
        if drag:
            line = session.state.design.lines[len(session.state.design.lines) // 2]
            session.select(Subject("line", line.id))
            start = view.canvas.line_centre(line.id).toPoint() + QPoint(60, 0)
            QTest.mousePress(view.canvas, Qt.MouseButton.LeftButton, pos=start)
            for step in range(1, 9):
                QTest.mouseMove(view.canvas, start - QPoint(0, step))
                wait(40)
            settle(window)
        INTO.mkdir(parents=True, exist_ok=True)
        window.grab().save(str(INTO / f"{name}.png"))
        window.worker.close()
        window.deleteLater()


def other_picture(app: QApplication, name: str, example: str, wish: Wish, *, curves: bool = False) -> None:
    """One picture of the section through a line, or of the plan with the field's curves."""
    session = Session(open_site(example_path(example)))
    with TemporaryDirectory() as folder:
        settings = QSettings(str(Path(folder) / "settings.ini"), QSettings.Format.IniFormat)
        window = Window(session, Theme(app, wish=wish), AssessorApart, settings, state_folder=Path(folder))
        window.resize(*WIDE)
        session.set_moment(Moment(355, 10.5))
        window.show()
        window.worker.start()
        settle(window)
        if curves:
            window.curves.toggle()
            end = monotonic() + PATIENCE_S
            page = window.curves.page
            assert page is not None
            while monotonic() < end and not (page.model.answer is not None and page.model.answer.whole):
                wait(200)
        else:
            lines = session.state.design.lines
            session.select(Subject("line", lines[len(lines) // 3].id))
            turn_to(session, "section")
        wait(800)
        window.grab().save(str(INTO / f"{name}.png"))
        window.worker.close()
        window.deleteLater()


def mirror_picture(
    app: QApplication, name: str, example: str, wish: Wish, moment: Moment, *, shelf: bool = False
) -> None:
    """One picture of the Mirror view at a moment, with everything worked out; with ``shelf`` that lies over it."""
    session = Session(open_site(example_path(example)))
    with TemporaryDirectory() as folder:
        settings = QSettings(str(Path(folder) / "settings.ini"), QSettings.Format.IniFormat)
        window = Window(session, Theme(app, wish=wish), AssessorApart, settings, state_folder=Path(folder))
        window.resize(*WIDE)
        session.set_moment(moment)
        window.show()
        window.worker.start()
        turn_to(session, "mirror")
        settle(window)
        view = window.view
        assert isinstance(view, MirrorView)
        end = monotonic() + PATIENCE_S
        while monotonic() < end and not view.model.is_whole:
            wait(100)
        if shelf:
            view.chips["shelf"].click()
            page = view.shelf
            assert page is not None
            while monotonic() < end and (page.model.ranking is None or page.model.wanting):
                wait(100)
            page.table.select(1)
        wait(400)
        INTO.mkdir(parents=True, exist_ok=True)
        window.grab().save(str(INTO / f"{name}.png"))
        view.shut()
        window.worker.close()
        window.deleteLater()


def main() -> None:
    """Every picture."""
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication)
    picture(app, "plan_light", "small_dryer", "light", WIDE, drag=False)
    picture(app, "plan_dark", "workshop_plot", "dark", WIDE, drag=True)
    picture(app, "plan_small", "workshop_plot", "light", SMALL, drag=True)
    picture(app, "land_light", "terraces", "light", WIDE, drag=False)
    other_picture(app, "section_light", "terraces", "light")
    other_picture(app, "section_dark", "terraces", "dark")
    other_picture(app, "curves_light", "workshop_plot", "light", curves=True)
    mirror_picture(app, "mirror_light", "small_dryer", "light", Moment(17, 14.3333))
    mirror_picture(app, "mirror_dark", "workshop_plot", "dark", Moment(120, 10.5))
    mirror_picture(app, "shelf_light", "workshop_plot", "light", Moment(120, 10.5), shelf=True)


if __name__ == "__main__":
    main()
