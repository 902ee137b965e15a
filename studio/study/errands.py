"""Small jobs of a view, done one after the other in a process of their own, so that a window paints undisturbed.

An errand is a function of a module, asked with plain values: ``function(bench, *args)``. Its ``bench`` keeps stages
from one errand to the next, and ``bench.go_on()`` leaves the errand when the asker has something more urgent.
"""

import traceback
from collections.abc import Callable
from dataclasses import dataclass, field
from multiprocessing import get_context
from multiprocessing.connection import Connection
from typing import Any

from studio.design.design import Document
from studio.errors import ComputationError, StillfieldError
from studio.study.apart import roomy_memory
from studio.study.assess import Assessor
from studio.study.cache import Cache
from studio.study.watch import StoppedError
from studio.text import _

Assets = tuple[tuple[str, bytes], ...]
_PATIENCE_S = 0.01
_MOST_BYTES = 128_000_000


def never() -> bool:
    """Whether an errand is wanted no longer, of one that always is."""
    return False


@dataclass
class Bench:
    """What errands share: the document's assets, an assessor, and whether they are wanted no longer."""

    document: Document = field(default_factory=Document)
    assessor: Assessor = field(default_factory=lambda: Assessor(most_bytes=_MOST_BYTES))
    overtaken: Callable[[], bool] = never

    @property
    def cache(self) -> Cache:
        """The assessor's cache."""
        return self.assessor.cache

    def go_on(self) -> None:
        """Raise StoppedError once the errand is wanted no longer."""
        if self.overtaken():
            raise StoppedError("stopped")


@dataclass(frozen=True)
class Errand:
    """What is to be done: ``function(bench, *args)``."""

    function: Callable[..., object]
    args: tuple[Any, ...]


@dataclass(frozen=True)
class _Asked:
    errand: Errand
    assets: Assets | None
    """None: as before."""


@dataclass(frozen=True)
class _Done:
    value: object


@dataclass(frozen=True)
class _Failed:
    """The error as it was, if it is one of ours to tell; else its trace."""

    error: StillfieldError | None
    trace: str


@dataclass(frozen=True)
class _Stop:
    """Leave the errand."""


class Errands:
    """Runs errands in a process that is started with the first one. For one thread at a time."""

    def __init__(self) -> None:
        self._pipe: Connection[object, object] | None = None
        self._assets: Assets | None = None

    def run(self, errand: Errand, assets: Assets, overtaken: Callable[[], bool] = never) -> object:
        """The errand's answer. Raises StoppedError if it was left since ``overtaken`` answered yes, else what it raised."""
        try:
            answer = self._ask(errand, assets, overtaken)
        except (EOFError, OSError) as error:
            self._pipe = None
            raise ComputationError(
                _("The process that works for this view ended by itself; change something to start it anew.")
            ) from error
        if isinstance(answer, _Done):
            return answer.value
        assert isinstance(answer, _Failed)
        raise answer.error or RuntimeError(answer.trace)

    def _ask(self, errand: Errand, assets: Assets, overtaken: Callable[[], bool]) -> object:
        if self._pipe is None:
            self._pipe, self._assets = _started(), None
        self._pipe.send(_Asked(errand, None if assets is self._assets else assets))
        self._assets = assets
        stopping = False
        while not self._pipe.poll(_PATIENCE_S):
            if not stopping and overtaken():
                self._pipe.send(_Stop())
                stopping = True
        return self._pipe.recv()

    def close(self) -> None:
        """End the process."""
        if self._pipe is not None:
            self._pipe.close()
            self._pipe = None


def _started() -> "Connection[object, object]":
    context = get_context("spawn")
    ours, theirs = context.Pipe()
    with roomy_memory():
        context.Process(target=serve, args=(theirs,), name="errands", daemon=True).start()
    theirs.close()
    return ours


def serve(pipe: "Connection[object, object]") -> None:
    """Do what comes through the pipe until it closes; runs in the process apart."""
    bench = Bench()

    def overtaken() -> bool:
        return any(isinstance(pipe.recv(), _Stop) for _each in range(pipe.poll()))

    bench.overtaken = overtaken
    while True:
        try:
            asked = pipe.recv()
            if isinstance(asked, _Asked):
                pipe.send(_answer(bench, asked))  # else a stop that came after the answer had left
        except (EOFError, OSError, KeyboardInterrupt):
            return


def _answer(bench: Bench, asked: _Asked) -> _Done | _Failed:
    if asked.assets is not None:
        bench.document = Document(assets=asked.assets)
    try:
        return _Done(asked.errand.function(bench, *asked.errand.args))
    except StillfieldError as error:
        return _Failed(type(error)(str(error)), "")
    except Exception:
        return _Failed(None, traceback.format_exc())
