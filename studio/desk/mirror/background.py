"""Errands of a view in the background: the most urgent first, of each kind only the newest.

One thread asks, one process computes. Qt is touched on the window's thread only: answers arrive there by queued signals.
"""

import threading
from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Protocol

from PySide6.QtCore import QObject, Qt, Signal

from studio.errors import StillfieldError
from studio.study.errands import Assets, Errand, Errands
from studio.study.watch import StoppedError

Overtaken = Callable[[], bool]


class Runs(Protocol):
    """Who does errands."""

    def run(self, errand: Errand, assets: Assets, overtaken: Overtaken = ...) -> object:
        """The errand's answer; StoppedError if it was left."""
        ...

    def close(self) -> None:
        """End whatever was started."""
        ...


@dataclass(frozen=True)
class Job:
    """An errand of a ``kind`` with what it is of (``tag``); lower ``urgency`` goes first."""

    kind: str
    tag: Hashable
    errand: Errand
    assets: Assets
    urgency: int


class _Voice(QObject):
    """The thread's way to the window."""

    answered = Signal(str, object, object)
    failed = Signal(str, object)


class Background(QObject):
    """Does jobs. ``answered`` tells kind, tag and answer; ``failed`` a kind and an error that is no stop."""

    answered = Signal(str, object, object)
    failed = Signal(str, object)

    def __init__(self, make: Callable[[], Runs] = Errands, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._make = make
        self._voice = _Voice()
        queued = Qt.ConnectionType.QueuedConnection
        self._voice.answered.connect(self._take, queued)
        self._voice.failed.connect(self._fail, queued)
        self._state = threading.Condition()
        self._waiting: dict[str, Job] = {}
        self._running: Job | None = None
        self._left = False
        self._closed = False
        self._thread: threading.Thread | None = None

    def ask(self, job: Job) -> None:
        """Do a job, in place of an older one of its kind."""
        with self._state:
            if self._closed:
                return
            running = self._running
            if running is not None and not self._left and (running.kind, running.tag) == (job.kind, job.tag):
                self._waiting.pop(job.kind, None)
                return
            self._waiting[job.kind] = job
            self._state.notify_all()
        if self._thread is None:
            self._thread = threading.Thread(target=self._work, name="errands", daemon=True)
            self._thread.start()

    def forget(self, kind: str) -> None:
        """Leave all jobs whose kind begins so."""
        with self._state:
            for key in [key for key in self._waiting if key.startswith(kind)]:
                del self._waiting[key]
            if self._running is not None and self._running.kind.startswith(kind):
                self._left = True

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

    def _take(self, kind: str, tag: object, answer: object) -> None:
        if not self._closed:
            self.answered.emit(kind, tag, answer)

    def _fail(self, kind: str, error: object) -> None:
        if not self._closed:
            self.failed.emit(kind, error)

    # on the thread ---------------------------------------------------------------------------------------------

    def _work(self) -> None:
        runner = self._make()
        while (job := self._wait()) is not None:
            try:
                answer = runner.run(job.errand, job.assets, self._overtaken)
            except StoppedError:
                self._put_back(job)
            except (StillfieldError, RuntimeError) as error:
                self._voice.failed.emit(job.kind, error)
            else:
                self._voice.answered.emit(job.kind, job.tag, answer)
        runner.close()

    def _wait(self) -> Job | None:
        with self._state:
            self._running = None
            self._state.wait_for(lambda: self._closed or bool(self._waiting))
            if self._closed:
                return None
            job = min(self._waiting.values(), key=lambda waiting: waiting.urgency)
            del self._waiting[job.kind]
            self._running, self._left = job, False
            return job

    def _overtaken(self) -> bool:
        with self._state:
            running = self._running
            if self._closed or self._left or running is None:
                return True
            return any(
                job.urgency < running.urgency or job.kind == running.kind for job in self._waiting.values()
            )

    def _put_back(self, job: Job) -> None:
        """A job that made room for a more urgent one comes again, unless it was left or a newer one waits."""
        with self._state:
            if not self._left:
                self._waiting.setdefault(job.kind, job)
