"""Desk tests run without a display. The assessment here is invented: it stands in where only the showing is tested."""

import socket
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QSettings, QTimer
from PySide6.QtWidgets import QApplication, QMessageBox
from pytestqt.qtbot import QtBot

from studio.design.design import Design, Document
from studio.design.field import Line
from studio.desk.session import Session
from studio.desk.theme import Theme
from studio.desk.window import Window
from studio.desk.worker import Assesses
from studio.study.assessment import Assessment, HeaderRun, LineResult, Months, Step, SunCalendar
from studio.study.figures import FIGURES
from studio.study.findings import Finding, numbered
from studio.study.requests import Answered, Failed, Request, Told, Word

KWH = {
    "facing": 100_400.0, "cosine": -30_300.0, "mirrors": -1_600.0, "gear": -2_400.0, "film": -12_700.0,
    "intercept": -10_350.0, "acceptance": -50.0, "absorptance": -3_000.0, "receiver": -8_400.0, "line_pipe": -2_600.0,
    "header": -1_100.0, "idle": -2_300.0,
}  # fmt: skip
_TURN_MS = 1


def invented_calendar(peak_kw: float = 20.0) -> SunCalendar:
    """A bell over noon of every day, up from 6 to 18 h."""
    days = np.arange(1.0, 366.0, 7.0)
    hours = np.arange(0.0, 24.01, 0.25)
    bell = np.exp(-(((hours - 12.0) / 2.5) ** 2))
    heat = np.where((hours > 6) & (hours < 18), peak_kw * bell, np.nan) * np.ones((len(days), 1))
    six = np.full(len(days), 6.0)
    return SunCalendar(days, hours, heat, heat / peak_kw, 1 - heat / peak_kw, six, six + 12.0)


def invented_staircase() -> tuple[Step, ...]:
    """A staircase that closes: what is left of the sun is the outlet heat."""
    steps = [Step("facing", "sun on facing mirrors", KWH["facing"], landing=True)]
    steps += [Step(key, key.replace("_", " "), kwh) for key, kwh in KWH.items() if key != "facing"]
    absorbed = sum(list(KWH.values())[:8])
    steps.insert(8, Step("absorbed", "absorbed light", absorbed, landing=True))
    return (*steps, Step("outlet", "outlet heat", sum(KWH.values()), landing=True))


def invented_assessment(
    design: Design, *, calendar: bool = False, findings: tuple[Finding, ...] = (), **figures: float | None
) -> Assessment:
    """An assessment with figures that grow with the number of mirrors."""
    mirrors = sum(line.count for line in design.lines)
    values: dict[str, float | None] = dict.fromkeys(FIGURES)
    values |= {
        "heat_cost_per_kwh": 0.0489, "annual_heat_kwh": 650.0 * mirrors, "shade_loss_winter": 0.047,
        "mirrors": float(mirrors), "aperture_m2": 1.8 * mirrors, "capital_cost": 210.0 * mirrors,
        "film_m2": 1.94 * mirrors, "rod_bars": 4.0 * mirrors, "pipe_length_m": 2.0 * mirrors, "oil_litres": 2.7 * mirrors,
        "absorbed_kwh": 40_000.0, "facing_sun_kwh": KWH["facing"],
    } | figures  # fmt: skip
    lines = tuple(
        LineResult(line.id, line.count, 650.0 * line.count, 900.0 * line.count, 0.03, 0.047, 0.12, 10.25, 3, 0.05,
                   ((1, 0.04),), True, 2.0 * line.count, 0.0, 0.0, (), 0.05,
                   1.5, 0.8, 1.45, 12.0, 11.0)
        for line in design.lines
    )  # fmt: skip
    return Assessment(
        design=design, rows=(), header=HeaderRun((), (), 0.0, 0.0), figures=values, staircase=invented_staircase(),
        lines=lines, months=Months({}), materials=(), missing_prices=(), findings=numbered(list(findings)),
        calendar=invented_calendar() if calendar else None,
    )  # fmt: skip


class FakeAssessor:
    """Answers as soon as events are dealt with, or holds each assessment until it is let go; remembers what it began."""

    def __init__(self, *, held: bool = False) -> None:
        self.go = threading.Event()
        self.posted: list[Request] = []
        self.asked: list[Design] = []
        self.calendars = 0
        self.stopped = 0
        self.error: Exception | None = None
        self.sending = False
        self._running: Request | None = None
        self._newest: Request | None = None
        self._said: list[Word] = []
        self._ears, self._bell = socket.socketpair()
        self._turn = QTimer(interval=_TURN_MS)
        self._turn.timeout.connect(self._work)
        if not held:
            self.go.set()

    def start(self) -> None:
        pass

    def post(self, request: Request) -> None:
        self.posted.append(request)
        self._newest = request
        self._turn.start()

    def stop(self) -> None:
        self.stopped += self._running is not None
        self._running = self._newest = None

    def close(self) -> None:
        self._turn.stop()
        self._ears.close()
        self._bell.close()

    def fileno(self) -> int:
        return self._ears.fileno()

    def words(self) -> list[Word]:
        if self._said:
            self._ears.recv(len(self._said))
        said, self._said = self._said, []
        return said

    def _work(self) -> None:
        if self._running is None:
            request, self._newest = self._newest, None
            if request is None:
                self._turn.stop()
                return
            self._running = request
            self.asked.append(request.design)
            self.calendars += request.calendar
        if not self.go.is_set():
            self._say(Told(self._running, "shade", 0.5, 10.0))
            return
        request, self._running = self._running, None
        if self.error is not None:
            self._say(Failed(request, self.error))
        else:
            self._say(Answered(request, invented_assessment(request.design, calendar=request.calendar)))

    def _say(self, word: Word) -> None:
        self._said.append(word)
        self._bell.send(b"!")


@pytest.fixture(scope="session")
def qapp_args() -> list[str]:
    """No display is needed."""
    return ["tests", "-platform", "offscreen"]


@pytest.fixture
def design() -> Design:
    """Four lines; invented."""
    lines = tuple(Line(id=i, x_m=0.0, y_m=3.2 * i, count=20) for i in (1, 2, 3, 4))
    return Design(lines=lines)


@pytest.fixture
def session(qapp: QApplication, design: Design) -> Session:
    """A session on the design."""
    return Session(Document(design=design))


@pytest.fixture
def theme(qapp: QApplication) -> Iterator[Theme]:
    """A theme of its own, light."""
    made = Theme(qapp, wish="light")
    yield made
    made.setParent(None)
    made.deleteLater()


@pytest.fixture
def settings(tmp_path: Path) -> QSettings:
    """Settings of their own."""
    return QSettings(str(tmp_path / "settings.ini"), QSettings.Format.IniFormat)


@pytest.fixture
def assess() -> Callable[..., Assessment]:
    """Makes invented assessments."""
    return invented_assessment


@pytest.fixture
def assessor(qapp: QApplication) -> FakeAssessor:
    """Answers at once."""
    return FakeAssessor()


@pytest.fixture
def held_assessor(qapp: QApplication) -> FakeAssessor:
    """Holds its first assessment until let go."""
    return FakeAssessor(held=True)


@pytest.fixture
def open_window(
    session: Session, theme: Theme, assessor: FakeAssessor, settings: QSettings, tmp_path: Path, qtbot: QtBot,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Callable[..., Window]]:  # fmt: skip
    """Opens the whole window in a size, with invented figures unless it is told what makes them and on what session;
    whoever asks whether to leave work is told to."""
    monkeypatch.setattr(QMessageBox, "question", lambda *_args, **_kw: QMessageBox.StandardButton.Discard)
    opened: list[Window] = []

    def opens(
        width: int, height: int, on: Session = session, make: Callable[[], Assesses] = lambda: assessor
    ) -> Window:
        made = Window(on, theme, make, settings, state_folder=tmp_path / "state")
        qtbot.addWidget(made)
        made.resize(width, height)
        made.show()
        made.worker.start()
        opened.append(made)
        return made

    yield opens
    for made in opened:
        made.close()
