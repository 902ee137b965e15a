"""The newest request wins, stale answers are dropped, and the window's thread alone touches the session."""

import dataclasses
import threading
from collections.abc import Callable, Iterator
from multiprocessing import active_children
from typing import Protocol

import pytest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from studio.design.design import Design, Document
from studio.desk.session import Session
from studio.desk.state import State
from studio.desk.worker import GRACE_S, Assesses, Worker
from studio.errors import ComputationError
from studio.study import apart
from studio.study.apart import AssessorApart
from studio.study.requests import Request
from studio.study.serving import Asked
from studio.study.wire import Wire, both_ends


class FakeAssessor(Assesses, Protocol):
    """What the tests need of the assessor of the fixtures."""

    go: threading.Event
    posted: list[Request]
    asked: list[Design]
    stopped: int
    error: Exception | None


@pytest.fixture
def begin(session: Session) -> Iterator[Callable[[Assesses], Worker]]:
    """Starts a worker and closes it after the test."""
    workers: list[Worker] = []

    def start(assessor: Assesses) -> Worker:
        worker = Worker(session, lambda: assessor, rest_ms=20)
        workers.append(worker)
        worker.start()
        return worker

    yield start
    for worker in workers:
        worker.close()


def has_calendar(session: Session) -> bool:
    assessment = session.state.assessment
    return session.state.fresh and assessment is not None and assessment.calendar is not None


def with_ribs(design: Design, ribs: int) -> Design:
    return dataclasses.replace(design, mirror=dataclasses.replace(design.mirror, ribs=ribs))


def test_figures_come_first_and_the_calendar_when_the_hand_rests(
    begin: Callable[[Assesses], Worker], session: Session, assessor: FakeAssessor, qtbot: QtBot
) -> None:
    without: list[bool] = []

    def hear(old: State, new: State) -> None:
        if new.assessment is not None and new.assessment is not old.assessment:
            without.append(new.assessment.calendar is None)

    session.changed.connect(hear)
    begin(assessor)
    qtbot.waitUntil(lambda: len(without) == 2, timeout=60_000)
    assert without == [True, False]
    assert session.state.fresh


def test_a_drag_ends_on_the_last_design_and_skips_between(
    begin: Callable[[Assesses], Worker], session: Session, held_assessor: FakeAssessor, qtbot: QtBot
) -> None:
    begin(held_assessor)
    qtbot.waitUntil(lambda: len(held_assessor.asked) == 1, timeout=60_000)
    for ribs in range(3, 40):
        session.preview(with_ribs(session.state.design, ribs))
    held_assessor.go.set()
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    assert session.state.assessment is not None
    assert session.state.assessment.design.mirror.ribs == 39
    assert len(held_assessor.asked) < 10


def test_the_newest_is_posted_while_an_older_one_is_worked_out_and_both_are_shown(
    begin: Callable[[Assesses], Worker], session: Session, held_assessor: FakeAssessor, qtbot: QtBot
) -> None:
    shown: list[int] = []

    def hear(old: State, new: State) -> None:
        if (
            new.assessment is not None
            and new.assessment is not old.assessment
            and not new.assessment.calendar
        ):
            shown.append(new.assessment.design.mirror.ribs)
            assert (new.assessed_revision == new.revision) == (new.assessment.design == new.shown)

    session.changed.connect(hear)
    begin(held_assessor)
    qtbot.waitUntil(lambda: len(held_assessor.asked) == 1, timeout=60_000)
    before = session.state.design.mirror.ribs
    session.preview(with_ribs(session.state.design, before + 1))
    qtbot.waitUntil(lambda: len(held_assessor.posted) == 2, timeout=60_000)
    assert len(held_assessor.asked) == 1
    held_assessor.go.set()
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    assert shown[:2] == [before, before + 1]


def test_requests_of_a_drag_are_near_enough_and_the_calendar_makes_way_at_once(
    begin: Callable[[Assesses], Worker], session: Session, assessor: FakeAssessor, qtbot: QtBot
) -> None:
    begin(assessor)
    qtbot.waitUntil(lambda: has_calendar(session), timeout=60_000)
    session.preview(with_ribs(session.state.design, 5))
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    session.preview(None)
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    first, calendar, dragged, *later = assessor.posted
    assert (first.calendar, first.exact, first.grace_s) == (False, True, GRACE_S)
    assert (calendar.calendar, calendar.exact, calendar.grace_s) == (True, True, 0.0)
    assert (dragged.calendar, dragged.exact, dragged.grace_s) == (False, False, GRACE_S)
    assert any(request.exact and request.revision == session.state.revision for request in later)


def test_stop_keeps_the_old_figures_with_their_sign(
    begin: Callable[[Assesses], Worker], session: Session, assessor: FakeAssessor, qtbot: QtBot
) -> None:
    worker = begin(assessor)
    qtbot.waitUntil(lambda: has_calendar(session), timeout=60_000)
    before = session.state.assessment
    assessor.go.clear()
    session.preview(with_ribs(session.state.design, 5))
    qtbot.waitUntil(lambda: session.state.progress is not None, timeout=60_000)
    worker.stop()
    qtbot.waitUntil(lambda: assessor.stopped == 1, timeout=500)
    assert session.state.assessment is before
    assert not session.state.fresh
    assert session.state.progress is None
    session.preview(with_ribs(session.state.design, 6))
    assessor.go.set()
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)


def test_what_cannot_be_computed_is_told_in_a_notice(
    begin: Callable[[Assesses], Worker], session: Session, assessor: FakeAssessor, qtbot: QtBot
) -> None:
    assessor.error = ComputationError("Line 2: no balance was found.")
    begin(assessor)
    qtbot.waitUntil(lambda: session.state.notice == "Line 2: no balance was found.", timeout=60_000)


def test_a_fault_of_the_program_is_handed_on(
    begin: Callable[[Assesses], Worker], session: Session, assessor: FakeAssessor, qtbot: QtBot
) -> None:
    assessor.error = ZeroDivisionError("x")
    worker = Worker(session, lambda: assessor)
    with qtbot.waitSignal(worker.crashed, timeout=60_000) as told:
        worker.start()
    worker.close()
    assert isinstance(told.args[0], ZeroDivisionError)


def test_the_session_is_touched_on_the_windows_thread_only(
    begin: Callable[[Assesses], Worker], session: Session, assessor: FakeAssessor, qtbot: QtBot
) -> None:
    threads: set[int] = set()
    session.changed.connect(lambda _old, _new: threads.add(threading.get_ident()))
    begin(assessor)
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    assert threads == {threading.get_ident()}


def test_a_new_document_is_assessed(
    begin: Callable[[Assesses], Worker], session: Session, assessor: FakeAssessor, qtbot: QtBot
) -> None:
    begin(assessor)
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    session.show_document(Document())
    qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
    assert session.state.assessment is not None
    assert session.state.assessment.design == Design()


def test_a_process_that_died_is_heard_of_and_another_answers(
    begin: Callable[[Assesses], Worker], session: Session, qtbot: QtBot
) -> None:
    """Also while something is asked of it, and while nothing is; the new one is listened to as the old one was."""
    begin(AssessorApart())
    qtbot.waitUntil(lambda: has_calendar(session), timeout=60_000)
    for ribs, asked_first in ((5, False), (6, True), (5, False)):
        if asked_first:
            session.preview(with_ribs(session.state.design, ribs))
        for process in active_children():
            if process.name == "assessor":
                process.kill()
                process.join()
        if not asked_first:
            qtbot.wait(20)
            session.preview(with_ribs(session.state.design, ribs))
        qtbot.waitUntil(lambda: session.state.fresh, timeout=60_000)
        assert session.state.assessment is not None
        assert session.state.assessment.design.mirror.ribs == ribs


def test_a_document_larger_than_the_way_to_the_process_keeps_nobody_waiting(
    qapp: QApplication, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The process is not listening yet; what it is asked goes out as it takes it."""
    ours, theirs = both_ends()
    monkeypatch.setattr(apart, "_started", lambda: ours)
    session = Session(Document(assets=(("0" * 64, bytes(30_000_000)),)))
    assessor = AssessorApart()
    worker = Worker(session, lambda: assessor, rest_ms=20)
    worker.start()
    qtbot.waitUntil(lambda: assessor.sending, timeout=60_000)
    qtbot.wait(50)
    assert assessor.sending
    process = Wire(theirs)
    taken: list[object] = []

    def all_taken() -> bool:
        taken.extend(process.taken())
        return bool(taken)

    qtbot.waitUntil(all_taken, timeout=60_000)
    (asked,) = taken
    assert isinstance(asked, Asked)
    assert asked.assets == session.state.document.assets
    assert not assessor.sending
    worker.close()
    process.close()
