"""An assessor in a process of its own, so that a window that paints and an assessment that computes never wait for each
other's turn at the interpreter. What goes to that process and comes back is in ``serving``.

Whoever only wants an answer asks :meth:`AssessorApart.assess`. Whoever follows a hand posts each request as it comes, also
while an older one is being worked out, and takes words as they come: then the process is never idle for as long as it
takes to notice an answer and ask anew. Neither waits, so a window needs no thread for it: one that listened would take the
interpreter from painting twice a frame.
"""

import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from multiprocessing import get_context

from studio.design.design import Design, Document
from studio.errors import BadInputError, ComputationError
from studio.study.assessment import Assessment
from studio.study.changes import changed, changes
from studio.study.requests import Answered, Failed, Request, Told, Word
from studio.study.serving import Answer, Asked, Fault, Stage, Stop, serve
from studio.study.watch import StoppedError, Watch, go_on
from studio.study.wire import Wire, both_ends
from studio.text import _

_PATIENCE_S = 0.02
"""How often the asker is asked whether to go on, while a stage is being worked out."""


class AssessorApart:
    """Assesses in a process of its own. For one thread at a time."""

    def __init__(self) -> None:
        self._wire: Wire | None = None
        self._nothing = Design()
        self._begin_anew()
        self._number = 0
        self._newest: Request | None = None
        self._died = False

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
            for word in self.words(_PATIENCE_S):
                match word:
                    case Answered(request, assessment) if request is asked:
                        return assessment
                    case Failed(request, error) if request is asked:
                        raise error
                    case Told(request) as told if request is asked:
                        stage, share = told.stage, told.share
            if not watch(stage, share):
                self.stop()
                raise StoppedError("stopped")

    def start(self) -> None:
        """Start the process, if there is none."""
        if self._wire is None:
            self._begin_anew()
            self._wire = _started()

    def post(self, request: Request) -> None:
        """Ask for what is newest now; it is begun as soon as the process is free. Never waits for the process."""
        self._newest = request
        self.start()
        with suppress(OSError):  # whoever takes words finds that the process is gone
            self._put(request)

    def stop(self) -> None:
        """Leave all that was posted: nothing is heard of it, unless it was on its way already."""
        self._newest = None
        if self._wire is not None:
            with suppress(OSError):
                self._wire.put(Stop())

    def close(self) -> None:
        """End the process; a later request starts another."""
        if self._wire is not None:
            self._wire.close()
            self._wire = None
        self._newest = None

    def fileno(self) -> int:
        """What to listen to: it can be read once there are :meth:`words`, written once what is :attr:`sending` can go on.
        Another one after a process was started anew; -1 before the first."""
        return -1 if self._wire is None else self._wire.fileno()

    @property
    def sending(self) -> bool:
        """Whether part of what was posted still waits to be taken by the process."""
        return self._wire is not None and self._wire.sending

    def words(self, timeout_s: float = 0.0) -> list[Word]:
        """What was said since, waiting at most so many seconds for it. A process that died is started anew and asked for
        the newest request; where it dies again over that, the request has failed."""
        if self._wire is None:
            return []
        try:
            if timeout_s > 0.0:
                self._wire.wait(timeout_s)
            else:
                self._wire.flush()
            return [word for said in self._wire.taken() if (word := self._word(said)) is not None]
        except (EOFError, OSError) as error:
            return self._died_over(error)

    def _died_over(self, error: Exception) -> list[Word]:
        """The process is gone."""
        request, again = self._newest, not self._died
        self.close()
        self._died = again
        if request is None:
            return []
        if again:
            self.post(request)
            return []
        told = ComputationError(
            _("The process that works out the design ended by itself; save and start again.")
        )
        told.__cause__ = error
        return [Failed(request, told)]

    # the wire --------------------------------------------------------------------------------------------------

    def _begin_anew(self) -> None:
        """Nothing was said yet."""
        self._assets: tuple[tuple[str, bytes], ...] | None = None
        self._asked = self._nothing
        self._last: Assessment | None = None
        self._sent: dict[int, Request] = {}

    def _put(self, request: Request) -> None:
        document, design = request.document, request.design
        assets = None if document.assets is self._assets else document.assets
        self._number += 1
        self._sent[self._number] = request
        by = changes(design, self._asked)
        self._assets, self._asked = document.assets, design
        assert self._wire is not None
        self._wire.put(Asked(self._number, assets, by, request.calendar, request.exact, request.grace_s))

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


def _started() -> Wire:
    """A process that serves, and the wire to it."""
    wire, theirs = both_ends()
    with theirs, roomy_memory():
        get_context("spawn").Process(target=serve, args=(theirs,), name="assessor", daemon=True).start()
    return wire


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
