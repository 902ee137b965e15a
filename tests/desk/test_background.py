"""Jobs in the background: the newest of each kind, the urgent one first, stopped and closed cleanly."""

import threading
import time
from collections.abc import Callable, Iterator

import pytest
from pytestqt.qtbot import QtBot

from studio.desk.background import Background, Job
from studio.desk.shelf.model import Assesses
from studio.errors import BadInputError
from studio.study.assess import Assessor
from studio.study.watch import StoppedError, Watch


class Held:
    """A job's work: goes on until it is let go, and can be stopped; counts how often it was begun."""

    def __init__(self, answer: object = "done") -> None:
        self.go, self.begun = threading.Event(), 0
        self._answer = answer

    def __call__(self, assessor: Assesses, watch: Watch) -> object:
        self.begun += 1
        while not self.go.wait(0.005):
            if not watch("working", 0.25):
                raise StoppedError("stopped")
        return self._answer


class Ears:
    """What was heard from a background."""

    def __init__(self, background: Background) -> None:
        self.heard: list[tuple[object, ...]] = []
        background.answered.connect(self.answered)
        background.failed.connect(self.failed)
        background.left.connect(self.left)
        background.went_on.connect(self.went_on)
        self.stages: list[tuple[str, str, float]] = []

    def answered(self, kind: str, tag: object, answer: object) -> None:
        self.heard.append(("answered", kind, tag, answer))

    def failed(self, kind: str, tag: object, error: object) -> None:
        self.heard.append(("failed", kind, tag, type(error)))

    def left(self, kind: str) -> None:
        self.heard.append(("left", kind))

    def went_on(self, kind: str, stage: str, share: float) -> None:
        self.stages.append((kind, stage, share))


@pytest.fixture
def background(qtbot: QtBot) -> Iterator[Background]:
    made = Background(Assessor)
    yield made
    made.close()


@pytest.fixture
def ears(background: Background) -> Ears:
    return Ears(background)


def begun(work: Held, times: int = 1) -> Callable[[], bool]:
    return lambda: work.begun == times


def test_a_search_goes_before_a_ranking_which_comes_again(
    background: Background, ears: Ears, qtbot: QtBot
) -> None:
    ranking, search = Held("ranked"), Held("found")
    background.ask(Job("rank", 1, ranking, 1))
    qtbot.waitUntil(begun(ranking))
    background.ask(Job("search", 2, search, 0))
    qtbot.waitUntil(begun(search))
    qtbot.waitUntil(lambda: ("search", "working", 0.25) in ears.stages)
    ranking.go.set()
    search.go.set()
    qtbot.waitUntil(lambda: len(ears.heard) == 2)
    assert ears.heard == [("answered", "search", 2, "found"), ("answered", "rank", 1, "ranked")]
    assert ranking.begun == 2


def test_the_newest_of_a_kind_wins(background: Background, ears: Ears, qtbot: QtBot) -> None:
    old, new = Held("old"), Held("new")
    background.ask(Job("rank", 1, old, 1))
    qtbot.waitUntil(begun(old))
    background.ask(Job("rank", 2, new, 1))
    new.go.set()
    qtbot.waitUntil(lambda: bool(ears.heard))
    qtbot.wait(30)
    assert ears.heard == [("answered", "rank", 2, "new")]
    assert old.begun == 1


def test_stopped_while_it_runs_and_while_it_waits(background: Background, ears: Ears, qtbot: QtBot) -> None:
    search, ranking = Held(), Held()
    background.ask(Job("search", 1, search, 0))
    qtbot.waitUntil(begun(search))
    background.ask(Job("rank", 2, ranking, 1))
    background.stop("rank")
    assert ears.heard == [("left", "rank")]
    background.stop("search")
    qtbot.waitUntil(lambda: len(ears.heard) == 2)
    assert ears.heard[1] == ("left", "search")
    qtbot.waitUntil(lambda: background.idle)
    assert ranking.begun == 0


def test_errors_are_told_and_the_next_job_is_done(background: Background, ears: Ears, qtbot: QtBot) -> None:
    def ours(assessor: Assesses, watch: Watch) -> object:
        raise BadInputError("will not do")

    def fault(assessor: Assesses, watch: Watch) -> object:
        raise KeyError("a fault")

    for kind, work in (("a", ours), ("b", fault), ("c", lambda _assessor, _watch: 7)):
        background.ask(Job(kind, kind, work, 0))
    qtbot.waitUntil(lambda: len(ears.heard) == 3)
    assert sorted(ears.heard, key=str) == [
        ("answered", "c", "c", 7), ("failed", "a", "a", BadInputError), ("failed", "b", "b", KeyError),
    ]  # fmt: skip


def test_closing_does_not_wait_for_what_is_being_done(
    background: Background, ears: Ears, qtbot: QtBot
) -> None:
    work = Held()
    background.ask(Job("rank", 1, work, 1))
    qtbot.waitUntil(begun(work))
    start = time.monotonic()
    background.close()
    assert time.monotonic() - start < 1.0
    qtbot.wait(30)
    assert ears.heard == []


def test_parts_come_before_the_whole_and_the_same_thing_is_not_begun_twice(
    background: Background, ears: Ears, qtbot: QtBot
) -> None:
    parts: list[tuple[object, ...]] = []
    background.told.connect(lambda kind, tag, part: parts.append((kind, tag, part, len(ears.heard))))
    work = Held("whole")

    def do(assessor: Assesses, watch: Watch) -> object:
        background.tell("first")
        background.tell("second")
        return work(assessor, watch)

    background.ask(Job("curve", 1, do, 0))
    qtbot.waitUntil(lambda: len(parts) == 2)
    background.ask(Job("curve", 1, do, 0))
    work.go.set()
    qtbot.waitUntil(lambda: bool(ears.heard) and background.idle)
    assert parts == [("curve", 1, "first", 0), ("curve", 1, "second", 0)]
    assert ears.heard == [("answered", "curve", 1, "whole")]
    assert work.begun == 1


def test_a_tool_is_closed_at_the_end_and_made_anew_after_a_fault(qtbot: QtBot) -> None:
    class Tool:
        closed = False

        def close(self) -> None:
            self.closed = True

    tools: list[Tool] = []

    def make() -> Tool:
        tools.append(Tool())
        return tools[-1]

    def fault(tool: Tool, watch: Watch) -> object:
        raise KeyError("a fault")

    background = Background(make)
    ears = Ears(background)
    background.ask(Job("a", 1, fault, 0))
    background.ask(Job("b", 2, lambda tool, _watch: tool, 1))
    qtbot.waitUntil(lambda: len(ears.heard) == 2)
    assert ears.heard[1] == ("answered", "b", 2, tools[1])
    assert [tool.closed for tool in tools] == [True, False]
    background.close()
    assert [tool.closed for tool in tools] == [True, True]
