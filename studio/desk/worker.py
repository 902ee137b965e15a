"""Background assessment: a frozen request with a revision goes in, an assessment comes out; the newest request wins.

One thread computes. Qt is touched on the window's thread only: the thread's words arrive there by queued signals.
"""

import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from PySide6.QtCore import QObject, Qt, QTimer, Signal

from studio.design.design import Design, Document
from studio.desk.session import Session
from studio.desk.state import Progress, State
from studio.errors import StillfieldError
from studio.study.assessment import Assessment

Watch = Callable[[str, float], bool]
"""Told the stage and how far (0..1) it is; answers whether to go on."""

REST_MS = 150
"""How long the hand must rest before the calendar is worked out."""
PATIENCE_S = 0.25
"""What takes longer shows its progress."""
DRAG_PATIENCE_S = 1.0
"""While a hand drags: figures that come a little late are marked, and rows do not make room for how far they are."""
GRACE_S = 1.0
"""An overtaken assessment younger than this runs to its end, so that figures follow a hand that never pauses; one that
only adds the calendar makes way at once."""
_SWITCH_S = 0.0002
"""An answer is taken in at several turns of its thread; each waits no longer than this for the window's."""
_TELL_S = 0.05


class Assesses(Protocol):
    """What the worker needs of an assessor. After ``watch`` has answered no it raises; what it raises is dropped."""

    def assess(
        self, document: Document, design: Design, *, watch: Watch, calendar: bool = False, exact: bool = True
    ) -> Assessment:
        """Everything that follows from the design; with the sun calendar if asked, near enough while a hand drags."""
        ...


def assessor_apart() -> Assesses:
    """The assessor in a process of its own; what it takes to start one is loaded when it is asked for."""
    from studio.study.apart import AssessorApart

    return AssessorApart()


@dataclass(frozen=True)
class Request:
    """What is to be assessed."""

    revision: int
    document: Document
    design: Design
    calendar: bool
    exact: bool


class _Voice(QObject):
    """The thread's way to the window."""

    answered = Signal(object, object)
    failed = Signal(object, object)
    went_on = Signal(object, str, float)
    idle = Signal()


class Worker(QObject):
    """Keeps the session's assessment up to date. ``make`` builds the assessor on the thread, imports and all.

    ``crashed`` carries an exception that is not ours: a fault of the program.
    """

    crashed = Signal(object)

    def __init__(self, session: Session, make: Callable[[], Assesses], *, rest_ms: int = REST_MS) -> None:
        super().__init__()
        self._session = session
        self._make = make
        self._voice = _Voice()
        queued = Qt.ConnectionType.QueuedConnection
        self._voice.answered.connect(self._take, queued)
        self._voice.failed.connect(self._fail, queued)
        self._voice.went_on.connect(self._progress, queued)
        self._voice.idle.connect(self._rest_now, queued)
        self._state = threading.Condition()
        self._next: Request | None = None
        self._running: Request | None = None
        self._stop_running = False
        self._closed = False
        self._stopped_revision = -1
        self._rest = QTimer(self, interval=rest_ms, singleShot=True)
        self._rest.timeout.connect(self._ask_for_calendar)
        self._thread = threading.Thread(target=self._work, name="assessment", daemon=True)
        session.changed.connect(self._hear)

    def start(self) -> None:
        """Begin, with what the session shows now."""
        sys.setswitchinterval(_SWITCH_S)  # the window's thread must get its turn while the other one computes
        self._thread.start()
        self._post(calendar=False)

    def stop(self) -> None:
        """Leave what is being worked out; the figures there were stay, with their sign."""
        with self._state:
            self._next, self._stop_running = None, True
        self._rest.stop()
        self._stopped_revision = self._session.state.revision
        self._session.take_progress(None)

    def close(self) -> None:
        """Stop the thread and wait for it."""
        with self._state:
            self._closed = self._stop_running = True
            self._next = None
            self._state.notify_all()
        self._rest.stop()
        if self._thread.is_alive():
            self._thread.join(timeout=5.0)

    # on the window's thread ------------------------------------------------------------------------------------

    def _hear(self, old: State, new: State) -> None:
        if new.revision != old.revision:
            self._post(calendar=False)

    def _post(self, *, calendar: bool) -> None:
        state = self._session.state
        with self._state:
            exact = calendar or state.preview is None or state.steady
            self._next = Request(state.revision, state.document, state.shown, calendar, exact)
            self._state.notify_all()

    def _ask_for_calendar(self) -> None:
        state = self._session.state
        if state.fresh and state.assessment is not None and state.assessment.calendar is None:
            self._post(calendar=True)

    def _rest_now(self) -> None:
        self._rest.start()

    def _take(self, request: Request, assessment: Assessment) -> None:
        if request.revision == self._stopped_revision:
            return
        self._session.take_assessment(request.revision, assessment)
        if request.revision == self._session.state.revision:
            self._session.take_progress(None)

    def _fail(self, request: Request, error: Exception) -> None:
        if request.revision != self._session.state.revision:
            return
        self._session.take_progress(None)
        if isinstance(error, StillfieldError):
            self._session.update(notice=str(error))
        else:
            self.crashed.emit(error)

    def _progress(self, request: Request, stage: str, share: float) -> None:
        revision = self._session.state.revision
        if request.revision == revision and revision not in (self._stopped_revision, self._done()):
            self._session.take_progress(Progress(stage, share))

    def _done(self) -> int:
        state = self._session.state
        return state.assessed_revision if state.assessment and state.assessment.calendar else -1

    # on the thread ---------------------------------------------------------------------------------------------

    def _work(self) -> None:
        assessor: Assesses | None = None
        while (request := self._wait()) is not None:
            try:
                assessor = assessor or self._make()
                answer = assessor.assess(
                    request.document,
                    request.design,
                    watch=self._watch(request),
                    calendar=request.calendar,
                    exact=request.exact,
                )
            except Exception as error:
                if not self._told_to_stop() and not self._overtaken(request):
                    self._voice.failed.emit(request, error)
            else:
                self._voice.answered.emit(request, answer)
                if not request.calendar:
                    self._voice.idle.emit()

    def _wait(self) -> Request | None:
        with self._state:
            self._running = None
            self._state.wait_for(lambda: self._closed or self._next is not None)
            if self._closed:
                return None
            self._running, self._next, self._stop_running = self._next, None, False
            return self._running

    def _told_to_stop(self) -> bool:
        with self._state:
            return self._stop_running

    def _overtaken(self, request: Request) -> bool:
        with self._state:
            return self._next is not None and self._next.revision != request.revision

    def _watch(self, request: Request) -> Watch:
        begun = told = time.monotonic()
        patience = PATIENCE_S if request.exact else DRAG_PATIENCE_S

        def watch(stage: str, share: float) -> bool:
            nonlocal told
            now = time.monotonic()
            if now - begun > patience and now - told > _TELL_S:
                told = now
                self._voice.went_on.emit(request, stage, share)
            if (request.calendar or now - begun > GRACE_S) and self._overtaken(request):
                return False
            return not self._told_to_stop()

        return watch
