"""An assessor in a process of its own, so that a window that paints and an assessment that computes never wait for each
other's turn at the interpreter. What goes to that process and comes back is in ``serving``.

Whoever only wants an answer asks :meth:`AssessorApart.assess`. Whoever follows a hand posts each request as it comes, also
while an older one is being worked out, and hears answers as they come: then the process is never idle for as long as it
takes to notice an answer and ask anew.
"""

import os
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from multiprocessing import get_context
from multiprocessing.connection import Connection, wait

from studio.design.design import Design, Document
from studio.errors import BadInputError, ComputationError
from studio.study.assessment import Assessment
from studio.study.changes import changed, changes
from studio.study.requests import Answered, Failed, Request, Told, Word
from studio.study.serving import Answer, Asked, Fault, Stage, Stop, serve
from studio.study.watch import StoppedError, Watch, go_on
from studio.text import _

_PATIENCE_S = 0.02
"""How often the asker is asked whether to go on, while a stage is being worked out."""


class AssessorApart:
    """Assesses in a process of its own. For one thread at a time, but for :meth:`wake`."""

    def __init__(self) -> None:
        self._context = get_context("spawn")
        self._pipe: Connection[object, object] | None = None
        self._nothing = Design()
        self._begin_anew()
        self._number = 0
        self._newest: Request | None = None
        self._died = False
        self._ears, self._bell = self._context.Pipe(duplex=False)
        self._rung = False
        self._ringing = threading.Lock()

    def assess(
        self,
        document: Document,
        design: Design | None = None,
        *,
        watch: Watch = go_on,
        calendar: bool = True,
        exact: bool = True,
    ) -> Assessment:
        """Everything that follows from the design, as :meth:`Assessor.assess` has it. A process that died is started anew,
        once. What the process says of requests posted before is dropped."""
        asked = Request(document, document.design if design is None else design, calendar, exact)
        self.post(asked)
        stage, share = "", 0.0
        while True:
            match self.hear(_PATIENCE_S):
                case Answered(request, assessment) if request is asked:
                    return assessment
                case Failed(request, error) if request is asked:
                    raise error
                case Told(request) as told if request is asked:
                    stage, share = told.stage, told.share
            if not watch(stage, share):
                self.stop()
                raise StoppedError("stopped")

    def post(self, request: Request) -> None:
        """Ask for what is newest now; it is begun as soon as the process is free."""
        self._newest = request
        with suppress(OSError):  # whoever hears finds that the process is gone
            self._send(request)

    def stop(self) -> None:
        """Leave all that was posted: nothing is heard of it, unless it was on its way already."""
        self._newest = None
        if self._pipe is not None:
            with suppress(OSError):
                self._pipe.send(Stop())

    def wake(self) -> None:
        """Have whoever hears return at once, with nothing unless there is something. For any thread."""
        with self._ringing:
            if not self._rung:
                self._rung = True
                self._bell.send_bytes(b"!")

    def hear(self, timeout_s: float | None = None) -> Word | None:
        """The next word; None after so many seconds without one, or woken. A process that died is started anew and asked
        for the newest request; where it dies again over that, the request has failed."""
        try:
            return self._heard(timeout_s)
        except (EOFError, OSError) as error:
            self._pipe = None
            request, again = self._newest, not self._died
            self._died = again
            if request is None:
                return None
            if again:
                self.post(request)
                return None
            self._newest = None
            told = ComputationError(
                _("The process that works out the design ended by itself; save and start again.")
            )
            told.__cause__ = error
            return Failed(request, told)

    # the pipe --------------------------------------------------------------------------------------------------

    def _begin_anew(self) -> None:
        """Nothing was said yet."""
        self._assets: tuple[tuple[str, bytes], ...] | None = None
        self._asked = self._nothing
        self._last: Assessment | None = None
        self._sent: dict[int, Request] = {}

    def _send(self, request: Request) -> None:
        if self._pipe is None:
            self._begin_anew()
            self._pipe = self._started()
        document, design = request.document, request.design
        assets = None if document.assets is self._assets else document.assets
        self._number += 1
        self._sent[self._number] = request
        by = changes(design, self._asked)
        self._assets, self._asked = document.assets, design
        self._pipe.send(Asked(self._number, assets, by, request.calendar, request.exact, request.grace_s))

    def _started(self) -> "Connection[object, object]":
        ours, theirs = self._context.Pipe()
        with roomy_memory():
            self._context.Process(target=serve, args=(theirs,), name="assessor", daemon=True).start()
        theirs.close()
        return ours

    def _heard(self, timeout_s: float | None) -> Word | None:
        pipe = self._pipe
        ready = wait([self._ears] if pipe is None else [self._ears, pipe], timeout_s)
        if self._ears in ready:
            with self._ringing:
                self._ears.recv_bytes()
                self._rung = False
        return self._word(pipe.recv()) if pipe is not None and pipe in ready else None

    def _word(self, said: object) -> Word | None:
        match said:
            case Stage(number, name, share, seconds):
                return Told(self._sent[number], name, share, seconds)
            case Answer():
                self._last = _taken(said, self._last)
                request = self._done(said.number)
                return Answered(request, replace(self._last, design=request.design))
            case Fault(number, text, ours):
                return Failed(self._done(number), RuntimeError(text) if ours else BadInputError(text))
        return None

    def _done(self, number: int) -> Request:
        """The request of that number; it and those it overtook are waited for no more."""
        request = self._sent[number]
        self._sent = {later: each for later, each in self._sent.items() if later > number}
        self._died = False
        if request is self._newest:
            self._newest = None
        return request


def _taken(answer: Answer, last: Assessment | None) -> Assessment:
    if answer.whole is not None:
        return answer.whole
    if last is None:
        raise EOFError("an answer to what this process never asked")
    return changed(last, answer.by)


@contextmanager
def roomy_memory() -> Iterator[None]:
    """Let the process that is started keep freed memory: giving back and fetching pages takes a fifth of an assessment.

    Variables of the C library's allocator, read once at a process's start; elsewhere they mean nothing.
    """
    before = {name: os.environ.get(name) for name in _ALLOCATOR}
    os.environ.update({name: value for name, value in _ALLOCATOR.items() if before[name] is None})
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)


_ALLOCATOR = {"MALLOC_MMAP_THRESHOLD_": "500000000", "MALLOC_TRIM_THRESHOLD_": "500000000"}
