"""A line dragged across 60 positions in the 8-line example, on the real window with the real assessment.

Printed: frames per second against moving the same picture with no assessment at all, how many frames old the figures
are, and how soon they stand after the release. Asserted: what must hold on any machine, that no frame shows figures of
another revision without their sign.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from time import perf_counter

import pytest
from PySide6.QtCore import QEvent, QEventLoop, QObject, QPointF, QSettings, Qt, QTimer
from PySide6.QtGui import QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from studio.desk.plan.view import PlanView
from studio.desk.session import Session
from studio.desk.theme import Theme
from studio.desk.window import Window
from studio.files.site import open_site
from studio.study.apart import AssessorApart

EXAMPLE = Path(__file__).parents[2] / "example_sites" / "workshop_plot.stillfield"
POSITIONS = 60
LINE = 4
REACH_M = 0.7
"""How much nearer to the next line it is dragged, to and fro."""


@dataclass
class Frame:
    """What a painted frame showed."""

    at: float
    revision: int
    assessed: int
    signed: bool


@dataclass
class Drag:
    """A drag that moves on with every frame that was painted."""

    window: Window
    frames: list[Frame] = field(default_factory=list)

    def run(self, *, wait: bool = True) -> float:
        """Drag to and fro; the seconds from the release until all figures stand, if they are waited for."""
        view = self.window.view
        assert isinstance(view, PlanView)
        canvas = view.canvas
        session = self.window.session
        session.select()  # a selected line has handles where it is grasped
        start = canvas.line_centre(LINE)
        QTest.mousePress(canvas, Qt.MouseButton.LeftButton, pos=start.toPoint())
        loop = QEventLoop()
        watcher = _Painted(canvas)
        canvas.installEventFilter(watcher)
        step = 0

        def move() -> None:
            nonlocal step
            step += 1
            if step > POSITIONS:
                loop.quit()
                return
            there = REACH_M * canvas.camera.px_per_m * (step / POSITIONS) * (1 if step % 2 else 0.9)
            spot = start + QPointF(0.0, -5.0 - there)
            event = QMouseEvent(
                QEvent.Type.MouseMove, spot, canvas.mapToGlobal(spot), Qt.MouseButton.NoButton,
                Qt.MouseButton.LeftButton, Qt.KeyboardModifier.AltModifier,
            )  # fmt: skip
            QApplication.sendEvent(canvas, event)

        def painted() -> None:
            state = session.state
            last = self.frames[-1].revision if self.frames else -1
            if state.preview is not None and state.revision != last:
                self.frames.append(
                    Frame(
                        perf_counter(),
                        state.revision,
                        state.assessed_revision,
                        not self.window.tally.rail.isHidden(),
                    )
                )
                QTimer.singleShot(0, move)

        watcher.painted = painted
        QTimer.singleShot(0, move)
        guard = QTimer(singleShot=True, interval=60_000)
        guard.timeout.connect(loop.quit)
        guard.start()
        loop.exec()
        canvas.removeEventFilter(watcher)
        QTest.mouseRelease(
            canvas,
            Qt.MouseButton.LeftButton,
            pos=(start - QPointF(0, 5 + REACH_M * canvas.camera.px_per_m)).toPoint(),
        )
        released = perf_counter()
        while wait and not session.state.fresh and perf_counter() - released < 10:
            pause = QEventLoop()
            QTimer.singleShot(2, pause.quit)
            pause.exec()
        return perf_counter() - released

    @property
    def frames_per_second(self) -> float:
        """Frames over the time between the first and the last."""
        return (len(self.frames) - 1) / (self.frames[-1].at - self.frames[0].at)


class _Painted(QObject):
    """Tells when the canvas was painted."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self.painted = _nothing

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() is QEvent.Type.Paint:
            QTimer.singleShot(0, self.painted)
        return False


def _nothing() -> None:
    return None


@pytest.fixture
def window(qapp: QApplication, tmp_path: Path, qtbot: QtBot) -> Iterator[Window]:
    settings = QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat)
    session = Session(open_site(EXAMPLE))
    made = Window(
        session, Theme(qapp, wish="light"), AssessorApart, settings, state_folder=tmp_path / "state"
    )
    made.resize(1600, 1000)
    made.show()
    made.worker.start()
    qtbot.waitUntil(
        lambda: session.state.assessment is not None and session.state.assessment.calendar is not None,
        timeout=30_000,
    )
    yield made
    made.worker.close()
    made.deleteLater()


def test_figures_follow_a_dragged_line(
    window: Window, qtbot: QtBot, capsys: pytest.CaptureFixture[str]
) -> None:
    Drag(window).run()  # once to warm up
    window.session.undo()
    qtbot.waitUntil(lambda: window.session.state.fresh, timeout=10_000)
    followed = Drag(window)
    stood = followed.run()
    window.worker.close()
    window.session.undo()
    bare = Drag(window)
    bare.run(wait=False)
    ages = [frame.revision - frame.assessed for frame in followed.frames]
    young = sum(age <= 2 for age in ages) / len(ages)
    with capsys.disabled():
        print(
            f"\n{len(ages)} frames: {followed.frames_per_second:.0f} a second against {bare.frames_per_second:.0f} "
            f"without assessment, ratio {followed.frames_per_second / bare.frames_per_second:.2f}; figures at most 2 "
            f"frames old in {young:.0%} (median {sorted(ages)[len(ages) // 2]}); all stand {stood:.2f} s after the release"
        )
    unsigned = [frame for frame in followed.frames if frame.revision != frame.assessed and not frame.signed]
    assert not unsigned
