"""Jobs of a page or view in the background: the most urgent first, of each kind only the newest.

One thread asks, one process computes. Qt is touched on the window's thread only: answers, parts of them and progress
arrive there by queued signals.
"""

import threading
import time
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Any, Protocol, runtime_checkable

from PySide6.QtCore import QObject, Qt, Signal

from studio.errors import StillfieldError
from studio.study.watch import StoppedError, Watch

Do = Callable[[Any, Watch], object]
"""Works with the tool that the background was given; what the watch answers no to raises StoppedError or ends early."""
_TELL_S = 0.05


@dataclass(frozen=True)
class Job:
    """Something of a ``kind`` to be worked out, with what it is of (``tag``); lower ``urgency`` goes first."""

    kind: str
    tag: Hashable
    do: Do
    urgency: int


@runtime_checkable
class Closes(Protocol):
    """A tool that has something to end."""

    def close(self) -> None:
        """End it."""
        ...


class _Voice(QObject):
    """The thread's way to the window."""

    answered = Signal(object, object)
    told = Signal(object, object)
    failed = Signal(object, object)
    left = Signal(object)
    went_on = Signal(object, str, float)


class Background(QObject):
    """Does jobs, of each kind only the newest. ``make`` builds the tool they work with, on the thread.

    ``answered`` tells kind, tag and answer, ``told`` the same of a part of an answer, ``failed`` kind, tag and error,
    ``left`` the kind of a job that was stopped without an answer, ``went_on`` kind, stage and how far (0..1). What is of
    a job that a newer one of its kind has overtaken is not told, unless ``late_too``.
    """

    answered = Signal(str, object, object)
    told = Signal(str, object, object)
    failed = Signal(str, object, object)
    left = Signal(str)
    went_on = Signal(str, str, float)

    def __init__(
        self, make: Callable[[], object], parent: QObject | None = None, *, late_too: bool = False
    ) -> None:
        super().__init__(parent)
        self._make, self._late_too = make, late_too
        self._voice = _Voice()
        queued = Qt.ConnectionType.QueuedConnection
        self._voice.answered.connect(self._take, queued)
        self._voice.told.connect(self._take_part, queued)
        self._voice.failed.connect(self._fail, queued)
        self._voice.left.connect(self._leave, queued)
        self._voice.went_on.connect(self._tell, queued)
        self._state = threading.Condition()
        self._waiting: dict[str, Job] = {}
        self._running: Job | None = None
        self._stop_running = False
        self._closed = False
        self._thread: threading.Thread | None = None

    def ask(self, job: Job) -> None:
        """Do a job, in place of an older one of its kind; what is being done of the same thing goes on."""
        with self._state:
            if self._closed:
                return
            running = self._running
            if (
                running is not None
                and not self._stop_running
                and (running.kind, running.tag) == (job.kind, job.tag)
            ):
                self._waiting.pop(job.kind, None)
                return
            self._waiting[job.kind] = job
            self._state.notify_all()
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="background", daemon=True)
            self._thread.start()

    def stop(self, kind: str = "") -> None:
        """Leave all jobs whose kind begins so; one that can answers with the best it has found."""
        with self._state:
            waited = [key for key in self._waiting if key.startswith(kind)]
            for key in waited:
                del self._waiting[key]
            if self._running is not None and self._running.kind.startswith(kind):
                self._stop_running = True
                waited = [key for key in waited if key != self._running.kind]
        for key in waited:
            self.left.emit(key)

    @property
    def idle(self) -> bool:
        """Whether nothing is being done or waits."""
        with self._state:
            return self._running is None and not self._waiting

    def close(self) -> None:
        """Stop; what is being done is left."""
        with self._state:
            self._closed = True
            self._waiting.clear()
            self._state.notify_all()
        if self._thread is not None:
            self._thread.join(timeout=5.0)

    # on the window's thread ------------------------------------------------------------------------------------

    def _newer(self, job: Job) -> bool:
        with self._state:
            if self._late_too:
                return self._closed
            return self._closed or any(other.kind == job.kind for other in self._jobs() if other is not job)

    def _jobs(self) -> list[Job]:
        return [*self._waiting.values(), *([self._running] if self._running else [])]

    def _take(self, job: Job, answer: object) -> None:
        if not self._newer(job):
            self.answered.emit(job.kind, job.tag, answer)

    def _take_part(self, job: Job, part: object) -> None:
        if not self._newer(job):
            self.told.emit(job.kind, job.tag, part)

    def _fail(self, job: Job, error: object) -> None:
        if not self._newer(job):
            self.failed.emit(job.kind, job.tag, error)

    def _leave(self, job: Job) -> None:
        if not self._newer(job):
            self.left.emit(job.kind)

    def _tell(self, job: Job, stage: str, share: float) -> None:
        with self._state:
            running = self._running is job and not self._stop_running and not self._closed
        if running:
            self.went_on.emit(job.kind, stage, share)

    # on the thread ---------------------------------------------------------------------------------------------

    def tell(self, part: object) -> None:
        """For a job, while it is being done: a part of its answer, before the whole of it."""
        with self._state:
            job = self._running
        if job is not None:
            self._voice.told.emit(job, part)

    def _work(self) -> None:
        tool = self._make()
        while (job := self._wait()) is not None:
            try:
                answer = job.do(tool, self._watch(job))
            except StoppedError:
                if not self._put_back(job):
                    self._voice.left.emit(job)
            except Exception as error:
                if not isinstance(error, StillfieldError):
                    _close(tool)  # a pipe that was left in the middle of an answer is of no use
                    tool = self._make()
                self._voice.failed.emit(job, error)
            else:
                self._voice.answered.emit(job, answer)
        _close(tool)

    def _wait(self) -> Job | None:
        with self._state:
            self._running = None
            self._state.wait_for(lambda: self._closed or bool(self._waiting))
            if self._closed:
                return None
            job = min(self._waiting.values(), key=lambda waiting: waiting.urgency)
            del self._waiting[job.kind]
            self._running, self._stop_running = job, False
            return job

    def _watch(self, job: Job) -> Watch:
        told = 0.0

        def watch(stage: str, share: float) -> bool:
            nonlocal told
            with self._state:
                if self._closed:
                    raise StoppedError("closed")  # there is nobody left to wait for the process's last word
                if self._stop_running or self._must_make_room(job):
                    return False
            now = time.monotonic()
            if stage and now - told > _TELL_S:
                told = now
                self._voice.went_on.emit(job, stage, share)
            return True

        return watch

    def _must_make_room(self, job: Job) -> bool:
        return any(other.urgency < job.urgency or other.kind == job.kind for other in self._waiting.values())

    def _put_back(self, job: Job) -> bool:
        """A job that made room for a more urgent one comes again, unless it was stopped or a newer one waits."""
        with self._state:
            if self._stop_running or self._closed:
                return False
            self._waiting.setdefault(job.kind, job)
            return True


def _close(tool: object) -> None:
    if isinstance(tool, Closes):
        tool.close()
