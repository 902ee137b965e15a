"""The process that assesses, and what goes along the wire to and from it.

There go what is asked for and a stop; back come stages, and at last an assessment or what went wrong. Of a design and of an
assessment only what is another than in the last one is sent, so that a drag moves little more than its line. A request may
come while an older one is worked out: the newest is begun as soon as the process is free, those between are only put
together. The process ends when the other end of its wire closes, however the other process ends.
"""

import socket
import traceback
from dataclasses import dataclass, replace
from time import monotonic
from typing import Protocol

from studio.design.design import Design, Document
from studio.errors import StillfieldError
from studio.study.assessment import Assessment
from studio.study.changes import Changes, changed, changes
from studio.study.rounds import ROUND, Glance
from studio.study.watch import StoppedError, Watch
from studio.study.wire import Wire

_TELL_S = 0.05
"""How often at most a stage is told."""
_LOOK_S = 0.004
"""How often at most the wire is looked at while something is worked out."""


@dataclass(frozen=True)
class Asked:
    """What is to be assessed; ``assets`` only where they are others than before, ``design`` by what is another in it."""

    number: int
    assets: tuple[tuple[str, bytes], ...] | None
    design: Changes
    calendar: bool
    exact: bool
    grace_s: float


@dataclass(frozen=True)
class Stop:
    """Leave all that was asked for before."""


@dataclass(frozen=True)
class Stage:
    """How far the request of that number is, after so many seconds."""

    number: int
    name: str
    share: float
    seconds: float


@dataclass(frozen=True)
class Answer:
    """An assessment but for its design, which the asker has: whole, or what is another than in the last one."""

    number: int
    whole: Assessment | None
    by: Changes


@dataclass(frozen=True)
class Fault:
    """What went wrong: a sentence for a person, or the trace of a fault of ours."""

    number: int
    text: str
    ours: bool


class Works(Protocol):
    """What works the requests out."""

    def assess(
        self,
        document: Document,
        design: Design,
        *,
        watch: Watch,
        calendar: bool,
        exact: bool,
        glance: Glance | None,
    ) -> Assessment:
        """As :meth:`Assessor.assess`."""
        ...


def serve(end: socket.socket) -> None:
    """Answer what comes along a wire until it closes; runs in the process apart."""
    from studio.study.assess import Assessor  # the process that asks never needs it

    answer_all(Wire(end), Assessor())


def answer_all(wire: Wire, works: Works) -> None:
    """Have what comes along the wire worked out until it closes."""
    inbox = _Inbox(wire)
    last: Assessment | None = None
    quick = 0
    try:
        while True:
            asked = inbox.newest()
            quick = 0 if asked.exact else quick + 1
            try:
                answer = works.assess(
                    inbox.document,
                    inbox.design,
                    watch=_watch(wire, inbox, asked),
                    calendar=asked.calendar,
                    exact=asked.exact,
                    glance=None if asked.exact else ROUND[quick % len(ROUND)],
                )
            except StoppedError:
                continue  # whoever stopped it or asked for more waits for no answer
            except StillfieldError as error:
                wire.send(Fault(asked.number, str(error), ours=False))
            except (EOFError, OSError):
                raise
            except Exception:
                wire.send(Fault(asked.number, traceback.format_exc(), ours=True))
            else:
                wire.send(_answer(asked.number, answer, last))
                last = answer
    except (EOFError, OSError, KeyboardInterrupt):
        return


class _Inbox:
    """Puts together what comes along the wire; ``waiting`` is the newest request that was not begun."""

    def __init__(self, wire: Wire) -> None:
        self._wire = wire
        self._design = Design()
        self._document = Document()
        self.waiting: Asked | None = None
        self.stopped = False
        self.design, self.document = self._design, self._document

    def newest(self) -> Asked:
        """The newest request, waited for; ``design`` and ``document`` are what it asks about."""
        self.look()
        while self.waiting is None:
            self._wire.wait()
            self.look()
        asked, self.waiting, self.stopped = self.waiting, None, False
        self.design, self.document = self._design, self._document
        return asked

    def look(self) -> None:
        """Take in all that has come."""
        for message in self._wire.taken():
            self._take(message)

    def _take(self, what: object) -> None:
        match what:
            case Asked():
                if what.assets is not None:
                    self._document = Document(assets=what.assets)
                self._design = changed(self._design, what.design)
                self.waiting = what
            case Stop():
                self.waiting, self.stopped = None, True


def _watch(wire: Wire, inbox: _Inbox, asked: Asked) -> Watch:
    """Tells stages, and answers no once the request is stopped or has been overtaken for too long."""
    begun = told = looked = monotonic()

    def watch(stage: str, share: float) -> bool:
        nonlocal told, looked
        now = monotonic()
        if now - told > _TELL_S:
            told = now
            wire.send(Stage(asked.number, stage, share, now - begun))
        if now - looked > _LOOK_S:
            looked = now
            inbox.look()
        overtaken = inbox.waiting is not None and now - begun >= asked.grace_s
        return not (inbox.stopped or overtaken)

    return watch


def _answer(number: int, answer: Assessment, last: Assessment | None) -> Answer:
    if last is None:
        return Answer(number, replace(answer, design=Design()), {})
    return Answer(number, None, changes(answer, last, leave=("design",)))
