"""Background assessment: frozen requests with a revision go in, assessments come out; the newest request wins.

One thread asks and hears. A request goes out at once, also while an older one is being worked out, so that the assessor is
never idle while a hand drags. Qt is touched on the window's thread only: the thread's words arrive there by queued signals.
"""

import sys
import threading
from collections.abc import Callable
from typing import Protocol

from PySide6.QtCore import QObject, Qt, QTimer, Signal

from studio.desk.session import Session
from studio.desk.state import Progress, State
from studio.errors import StillfieldError
from studio.study.requests import Answered, Failed, Request, Told, Word

REST_MS = 150
"""How long the hand must rest before the calendar is worked out."""
PATIENCE_S = 0.25
"""What takes longer shows its progress."""
DRAG_PATIENCE_S = 1.0
"""While a hand drags: figures that come a little late are marked, and rows do not make room for how far they are."""
GRACE_S = 1.0
"""An overtaken assessment younger than this runs to its end, so that figures follow a hand that never pauses; one that
only adds the calendar makes way at once."""
_SWITCH_S = 0.002
"""An answer is taken in at several turns of its thread; each waits no longer than this for the window's."""


class Assesses(Protocol):
    """What the worker needs of an assessor; all but ``wake`` is called on one thread."""

    def post(self, request: Request) -> None:
        """Ask for what is newest now, whether or not an older one is still being worked out."""
        ...

    def hear(self) -> Word | None:
        """Wait for the next word of what was posted; None if woken before."""
        ...

    def wake(self) -> None:
        """Have whoever hears return at once."""
        ...

    def stop(self) -> None:
        """Leave all that was posted."""
        ...


def assessor_apart() -> Assesses:
    """The assessor in a process of its own; what it takes to start one is loaded when it is asked for."""
    from studio.study.apart import AssessorApart

    return AssessorApart()


class _Voice(QObject):
    """The thread's way to the window."""

    said = Signal(object)
    broke = Signal(object)


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
        self._voice.said.connect(self._take_in, queued)
        self._voice.broke.connect(self.crashed, queued)
        self._state = threading.Condition()
        self._assessor: Assesses | None = None
        self._next: Request | None = None
        self._stopping = self._closed = False
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
            self._next, self._stopping = None, True
            self._call()
        self._rest.stop()
        self._stopped_revision = self._session.state.revision
        self._session.take_progress(None)

    def close(self) -> None:
        """Stop the thread and wait for it."""
        with self._state:
            self._closed = True
            self._call()
        self._rest.stop()
        if self._thread.is_alive():
            self._thread.join(timeout=5.0)

    def _call(self) -> None:
        """Have the thread look at what is wanted now, whichever it waits for."""
        self._state.notify_all()
        if self._assessor is not None:
            self._assessor.wake()

    # on the window's thread ------------------------------------------------------------------------------------

    def _hear(self, old: State, new: State) -> None:
        if new.revision != old.revision:
            self._post(calendar=False)

    def _post(self, *, calendar: bool) -> None:
        state = self._session.state
        exact = calendar or state.preview is None or state.steady
        grace = 0.0 if calendar else GRACE_S
        with self._state:
            self._next = Request(state.document, state.shown, calendar, exact, grace, state.revision)
            self._call()

    def _ask_for_calendar(self) -> None:
        state = self._session.state
        if state.fresh and state.assessment is not None and state.assessment.calendar is None:
            self._post(calendar=True)

    def _take_in(self, word: Word) -> None:
        match word:
            case Answered():
                self._take(word)
            case Failed():
                self._fail(word)
            case Told():
                self._progress(word)

    def _take(self, answered: Answered) -> None:
        request = answered.request
        if not request.calendar:
            self._rest.start()
        if request.revision == self._stopped_revision:
            return
        self._session.take_assessment(request.revision, answered.assessment)
        state = self._session.state
        if request.revision == state.revision and state.progress is not None:
            self._session.take_progress(None)

    def _fail(self, failed: Failed) -> None:
        if failed.request.revision != self._session.state.revision:
            return
        self._session.take_progress(None)
        if isinstance(failed.error, StillfieldError):
            self._session.update(notice=str(failed.error))
        else:
            self.crashed.emit(failed.error)

    def _progress(self, told: Told) -> None:
        if told.seconds < (PATIENCE_S if told.request.exact else DRAG_PATIENCE_S):
            return
        revision = self._session.state.revision
        if told.request.revision == revision and revision not in (self._stopped_revision, self._done()):
            self._session.take_progress(Progress(told.stage, told.share))

    def _done(self) -> int:
        state = self._session.state
        return state.assessed_revision if state.assessment and state.assessment.calendar else -1

    # on the thread ---------------------------------------------------------------------------------------------

    def _work(self) -> None:
        """Post what is wanted as it comes, hand on what is heard."""
        assessor: Assesses | None = None
        awaited: Request | None = None
        while self._called(idle=awaited is None):
            try:
                assessor = assessor or self._make()
                request, stopping = self._wanted(assessor)
                if stopping:
                    assessor.stop()
                    awaited = None
                if request is not None:
                    assessor.post(request)
                    awaited = request
                word = assessor.hear() if awaited is not None else None
            except Exception as error:
                awaited = None
                self._voice.broke.emit(error)
                continue
            if word is not None:
                self._voice.said.emit(word)
                if word.request is awaited and not isinstance(word, Told):
                    awaited = None

    def _called(self, *, idle: bool) -> bool:
        """Whether to go on; whoever is idle waits until there is something to do."""
        with self._state:
            while idle and not (self._next or self._stopping or self._closed):
                self._state.wait()
            return not self._closed

    def _wanted(self, assessor: Assesses) -> tuple[Request | None, bool]:
        """What is to be asked for, and whether to leave first what was; from now on ``assessor`` is woken for the next."""
        with self._state:
            self._assessor = assessor
            request, stopping = self._next, self._stopping
            self._next, self._stopping = None, False
            return request, stopping
