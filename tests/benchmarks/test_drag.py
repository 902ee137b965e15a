"""A line dragged across 60 positions of an example, on the real window with the real assessment.

Printed: frames per second against moving the same picture with no assessment at all, how many frames old the figures
are, and how soon they stand after the release. Both ways are dragged in turn in one run, in the same window by the same
events; the medians of several rounds count. Asserted in the example of forty lines: at least 90 % of the frame rate, and
figures at most two frames old in 80 % of the frames; everywhere, that no frame shows figures of another revision without
their sign. Asked of a machine that has two cores to spare.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median
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
from studio.study.requests import Request, Word

EXAMPLES = Path(__file__).parents[2] / "example_sites"
POSITIONS = 60
ROUNDS = 5
LEAST_RATIO, LEAST_YOUNG, YOUNG = 0.9, 0.8, 2
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
    line: int
    frames: list[Frame] = field(default_factory=list)

    def run(self, *, wait: bool = True) -> float:
        """Drag to and fro; the seconds from the release until all figures stand, if they are waited for."""
        view = self.window.view
        assert isinstance(view, PlanView)
        canvas = view.canvas
        session = self.window.session
        session.select()  # a selected line has handles where it is grasped
        start = canvas.line_centre(self.line)
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


class Both:
    """The process that assesses, or while it is ``resting`` nothing at all: the same window, and no answers."""

    def __init__(self) -> None:
        self.resting = False
        self._real = AssessorApart()

    def start(self) -> None:
        self._real.start()

    def post(self, request: Request) -> None:
        if not self.resting:
            self._real.post(request)

    def words(self) -> list[Word]:
        return self._real.words()

    def stop(self) -> None:
        self._real.stop()

    def close(self) -> None:
        self._real.close()

    def fileno(self) -> int:
        return self._real.fileno()

    @property
    def sending(self) -> bool:
        return self._real.sending


@pytest.fixture
def both() -> Both:
    return Both()


@pytest.fixture
def window(example: str, both: Both, qapp: QApplication, tmp_path: Path, qtbot: QtBot) -> Iterator[Window]:
    settings = QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat)
    session = Session(open_site(EXAMPLES / f"{example}.stillfield"))
    made = Window(session, Theme(qapp, wish="light"), lambda: both, settings, state_folder=tmp_path / "state")
    made.resize(1600, 1000)
    made.show()
    made.worker.start()
    yield made
    both.resting = False
    made.worker.close()
    made.deleteLater()


def stands(window: Window) -> bool:
    """Whether all figures and the calendar are of what is shown."""
    state = window.session.state
    return state.fresh and state.assessment is not None and state.assessment.calendar is not None


@pytest.mark.parametrize(("example", "line"), [("workshop_plot", 4), ("large_field", 21)])
def test_figures_follow_a_dragged_line(
    example: str, line: int, window: Window, both: Both, qtbot: QtBot, capsys: pytest.CaptureFixture[str]
) -> None:
    qtbot.waitUntil(lambda: stands(window), timeout=60_000)
    followed: list[Drag] = []
    bare: list[Drag] = []
    stood: list[float] = []
    for number in range(ROUNDS + 1):
        for drags in (followed, bare):
            both.resting = drags is bare
            qtbot.wait(400)  # what came before is over, and no answer is waited for
            drag = Drag(window, line)
            seconds = drag.run(wait=not both.resting)
            if number:  # the first round warms up
                drags.append(drag)
                stood += [] if both.resting else [seconds]
            both.resting = False
            window.session.undo()
            qtbot.waitUntil(lambda: stands(window), timeout=60_000)
    rates = [median(drag.frames_per_second for drag in drags) for drags in (followed, bare)]
    ratio = rates[0] / rates[1]
    ages = [frame.revision - frame.assessed for drag in followed for frame in drag.frames]
    young = sum(age <= YOUNG for age in ages) / len(ages)
    with capsys.disabled():
        print(
            f"\n{example}: {ROUNDS} rounds of {POSITIONS} frames, medians: {rates[0]:.0f} a second against {rates[1]:.0f} "
            f"without assessment, ratio {ratio:.2f}; figures at most {YOUNG} frames old in {young:.0%} (median "
            f"{sorted(ages)[len(ages) // 2]}); all stand {median(stood):.2f} s after the release"
        )
    shown = [frame for drag in followed for frame in drag.frames]
    assert not [frame for frame in shown if frame.revision != frame.assessed and not frame.signed]
    if example == "large_field":
        assert young >= LEAST_YOUNG
        assert ratio >= LEAST_RATIO
