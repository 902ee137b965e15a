"""Background assessment: frozen requests with a revision go in, assessments come out; the newest request wins.

The assessor works in a process of its own and never keeps whoever asks waiting, so the window's thread asks and listens
itself: a request goes out at once, also while an older one is being worked out, so that the assessor is never idle while a
hand drags. Only what it takes to start that process is done on a thread.
"""

import threading
from collections.abc import Callable
from typing import Protocol, TypeVar

from PySide6.QtCore import QObject, QSocketNotifier, Qt, QTimer, Signal

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

_T = TypeVar("_T")


class Assesses(Protocol):
    """What the worker needs of an assessor. Nothing but ``start`` takes long."""

    def start(self) -> None:
        """Be ready to be asked."""
        ...

    def post(self, request: Request) -> None:
        """Ask for what is newest now, whether or not an older one is still being worked out."""
        ...

    def words(self) -> list[Word]:
        """What was said since of what was posted."""
        ...

    def stop(self) -> None:
        """Leave all that was posted."""
        ...

    def close(self) -> None:
        """End it."""
        ...

    def fileno(self) -> int:
        """What to listen to for words; another one where it had to begin anew, -1 where there is nothing."""
        ...

    @property
    def sending(self) -> bool:
        """Whether it wants ``words`` to be asked for once more can be written to ``fileno``."""
        ...


def assessor_apart() -> Assesses:
    """The assessor in a process of its own; what it takes to start one is loaded when it is asked for."""
    from studio.study.apart import AssessorApart

    return AssessorApart()


class _Ears(QObject):
    """Listens to an assessor, and for its room to send on."""

    called = Signal()

    def __init__(self, parent: QObject, number: int) -> None:
        super().__init__(parent)
        self.number = number
        self._reading = QSocketNotifier(number, QSocketNotifier.Type.Read, self)
        self._writing = QSocketNotifier(number, QSocketNotifier.Type.Write, self)
        self._writing.setEnabled(False)
        self._is_writing = False
        self._reading.activated.connect(self.called)
        self._writing.activated.connect(self.called)

    def listen(self, *, sending: bool) -> None:
        """Be called when there is something to read, and while ``sending`` when there is room to write."""
        if sending != self._is_writing:
            self._is_writing = sending
            self._writing.setEnabled(sending)

    def leave(self) -> None:
        """Listen no more; to be said before what it listens to is closed."""
        self._reading.setEnabled(False)
        self._writing.setEnabled(False)
        self.deleteLater()


class Worker(QObject):
    """Keeps the session's assessment up to date. ``make`` builds the assessor on a thread, imports and all.

    ``crashed`` carries an exception that is not ours: a fault of the program.
    """

    crashed = Signal(object)
    _made = Signal(object)
    _broke = Signal(object)

    def __init__(self, session: Session, make: Callable[[], Assesses], *, rest_ms: int = REST_MS) -> None:
        super().__init__()
        self._session = session
        self._make = make
        self._assessor: Assesses | None = None
        self._ears: _Ears | None = None
        self._next: Request | None = None
        self._closed = False
        self._stopped_revision = -1
        queued = Qt.ConnectionType.QueuedConnection
        self._made.connect(self._begin, queued)
        self._broke.connect(self.crashed, queued)
        self._rest = QTimer(self, interval=rest_ms, singleShot=True)
        self._rest.timeout.connect(self._ask_for_calendar)
        self._starting = threading.Thread(target=self._start, name="assessment", daemon=True)
        session.changed.connect(self._hear)

    def start(self) -> None:
        """Begin, with what the session shows now."""
        self._starting.start()
        self._ask(calendar=False)

    def stop(self) -> None:
        """Leave what is being worked out; the figures there were stay, with their sign."""
        self._next = None
        self._with(lambda assessor: assessor.stop())
        self._rest.stop()
        self._stopped_revision = self._session.state.revision
        self._session.take_progress(None)

    def close(self) -> None:
        """Ask no more, and end the assessor."""
        self._closed = True
        self._rest.stop()
        self._listen_to(-1)
        if self._starting.is_alive():
            self._starting.join(timeout=5.0)
        if self._assessor is not None:
            self._assessor.close()
            self._assessor = None

    # the assessor ----------------------------------------------------------------------------------------------

    def _start(self) -> None:
        """On the thread."""
        try:
            assessor = self._make()
            assessor.start()
        except Exception as error:
            self._broke.emit(error)
        else:
            self._made.emit(assessor)

    def _begin(self, assessor: Assesses) -> None:
        if self._closed:
            assessor.close()
            return
        self._assessor = assessor
        self._post()

    def _post(self) -> None:
        """Ask for what is wanted next, once there is somebody to ask."""
        request = self._next
        if self._assessor is not None and request is not None:
            self._next = None
            self._with(lambda assessor: assessor.post(request))

    def _take_words(self) -> None:
        for word in self._with(lambda assessor: assessor.words()) or ():
            self._take_in(word)

    def _with(self, do: Callable[[Assesses], _T]) -> _T | None:
        """Do something with the assessor, and listen to what it then speaks through. One that broke begins anew when it is
        asked next."""
        assessor, done = self._assessor, None
        if assessor is None:
            return None
        try:
            done = do(assessor)
        except Exception as error:
            self._listen_to(-1)
            assessor.close()
            self.crashed.emit(error)
        else:
            self._listen_to(assessor.fileno())
            if self._ears is not None:
                self._ears.listen(sending=assessor.sending)
        return done

    def _listen_to(self, number: int) -> None:
        if self._ears is not None and self._ears.number != number:
            self._ears.leave()
            self._ears = None
        if self._ears is None and number >= 0:
            self._ears = _Ears(self, number)
            self._ears.called.connect(self._take_words)

    # what is wanted, and what is said ---------------------------------------------------------------------------

    def _hear(self, old: State, new: State) -> None:
        if new.revision != old.revision:
            self._ask(calendar=False)

    def _ask(self, *, calendar: bool) -> None:
        state = self._session.state
        exact = calendar or state.preview is None or state.steady
        grace = 0.0 if calendar else GRACE_S
        self._next = Request(state.document, state.shown, calendar, exact, grace, state.revision)
        self._post()

    def _ask_for_calendar(self) -> None:
        state = self._session.state
        if state.fresh and state.assessment is not None and state.assessment.calendar is None:
            self._ask(calendar=True)

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
