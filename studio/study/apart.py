"""An assessor in a process of its own, so that a window that paints and an assessment that computes never wait for each
other's turn at the interpreter.

Over one pipe go what is asked for and a stop; back come stages, and at last an assessment or what went wrong. Of a design
and of an assessment only what is another than in the last one is sent, so that a drag moves little more than its line. The
process ends when its end of the pipe closes, however the other process ends.
"""

import os
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from multiprocessing import get_context
from multiprocessing.connection import Connection
from time import monotonic

from studio.design.design import Design, Document
from studio.errors import BadInputError, ComputationError, StillfieldError
from studio.study.assessment import Assessment
from studio.study.changes import Changes, changed, changes
from studio.study.watch import StoppedError, Watch, go_on
from studio.text import _

_PATIENCE_S = 0.02
"""How often the asker is asked whether to go on, while a stage is being worked out."""
_GLANCES = 5
"""While a hand drags, of so many answers one brings findings and material list too; the others what is read at a glance."""
_TELL_S = 0.05
"""How often at most a stage is told."""


@dataclass(frozen=True)
class _Asked:
    """What is to be assessed; ``assets`` only where they are others than before, ``design`` by what is another in it."""

    assets: tuple[tuple[str, bytes], ...] | None
    design: Changes
    calendar: bool
    exact: bool


@dataclass(frozen=True)
class _Stage:
    name: str
    share: float


@dataclass(frozen=True)
class _Answer:
    """An assessment but for its design, which the asker has: whole, or what is another than in the last one."""

    whole: Assessment | None
    by: Changes


@dataclass(frozen=True)
class _Failed:
    """What went wrong: a sentence for a person, or the trace of a fault of ours."""

    text: str
    ours: bool


@dataclass(frozen=True)
class _Stop:
    """Leave what is being worked out."""


class AssessorApart:
    """Assesses in a process of its own; asks and answers as :class:`Assessor`. For one thread at a time."""

    def __init__(self) -> None:
        self._pipe: Connection[object, object] | None = None
        self._assets: tuple[tuple[str, bytes], ...] | None = None
        self._asked = self._nothing = Design()
        self._last: Assessment | None = None

    def assess(
        self,
        document: Document,
        design: Design | None = None,
        *,
        watch: Watch = go_on,
        calendar: bool = True,
        exact: bool = True,
    ) -> Assessment:
        """Everything that follows from the design. A process that died is started anew, once."""
        wanted = document.design if design is None else design
        for last in (False, True):
            try:
                return self._ask(document, wanted, watch, calendar=calendar, exact=exact)
            except (EOFError, OSError) as error:
                self._pipe = None
                if last:
                    raise ComputationError(
                        _("The process that works out the design ended by itself; save and start again.")
                    ) from error
        raise AssertionError("unreachable")

    def _ask(
        self, document: Document, design: Design, watch: Watch, *, calendar: bool, exact: bool
    ) -> Assessment:
        if self._pipe is None:
            self._pipe, self._assets, self._asked, self._last = _started(), None, self._nothing, None
        pipe = self._pipe
        assets = None if document.assets is self._assets else document.assets
        pipe.send(_Asked(assets, changes(design, self._asked), calendar, exact))
        self._assets, self._asked = document.assets, design
        stage, stopping = _Stage("", 0.0), False
        while True:
            answer = pipe.recv() if pipe.poll(_PATIENCE_S) else stage
            match answer:
                case _Stage():
                    stage = answer
                    if not stopping and not watch(stage.name, stage.share):
                        pipe.send(_Stop())
                        stopping = True
                case _Answer():
                    self._last = _taken(answer, self._last)
                    if stopping:
                        raise StoppedError("stopped")
                    return replace(self._last, design=design)
                case _Failed():
                    if stopping:
                        raise StoppedError("stopped")
                    if answer.ours:
                        raise RuntimeError(answer.text)
                    raise BadInputError(answer.text)


def _taken(answer: _Answer, last: Assessment | None) -> Assessment:
    if answer.whole is not None:
        return answer.whole
    if last is None:
        raise EOFError("an answer to what this process never asked")
    return changed(last, answer.by)


def _started() -> "Connection[object, object]":
    context = get_context("spawn")
    ours, theirs = context.Pipe()
    with roomy_memory():
        context.Process(target=serve, args=(theirs,), name="assessor", daemon=True).start()
    theirs.close()
    return ours


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


def serve(pipe: "Connection[object, object]") -> None:
    """Answer what comes through the pipe until it closes; runs in the process apart."""
    from studio.study.assess import Assessor  # the process that asks never needs it

    assessor = Assessor()
    document = Document()
    design = Design()
    last: Assessment | None = None
    told, quick = 0.0, 0

    def watch(stage: str, share: float) -> bool:
        nonlocal told
        if monotonic() - told > _TELL_S:
            told = monotonic()
            pipe.send(_Stage(stage, share))
        while pipe.poll():
            if isinstance(pipe.recv(), _Stop):
                return False
        return True

    while True:
        try:
            asked = pipe.recv()
        except (EOFError, OSError, KeyboardInterrupt):
            return
        if not isinstance(asked, _Asked):
            continue  # a stop that came after the answer had left
        if asked.assets is not None:
            document = Document(assets=asked.assets)
        design, told = changed(design, asked.design), monotonic()
        quick = 0 if asked.exact else quick + 1
        try:
            answer = assessor.assess(
                document,
                design,
                watch=watch,
                calendar=asked.calendar,
                exact=asked.exact,
                glance=quick % _GLANCES > 0,
            )
            pipe.send(_answer(answer, last))
            last = answer
        except StillfieldError as error:
            pipe.send(_Failed(str(error), ours=False))
        except OSError:
            return
        except Exception:
            pipe.send(_Failed(traceback.format_exc(), ours=True))


def _answer(answer: Assessment, last: Assessment | None) -> _Answer:
    if last is None:
        return _Answer(replace(answer, design=Design()), {})
    return _Answer(None, changes(answer, last, leave=("design",)))
