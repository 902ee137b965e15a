"""The process apart: the newest request is next, those between are put together and left, and what is stopped is not heard of."""

import threading
from collections.abc import Iterator
from dataclasses import replace
from math import inf
from time import monotonic, sleep

import pytest

from studio.design.design import Design, Document
from studio.design.site import FileWeather
from studio.errors import BadInputError, ComputationError
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study import apart as apart_of
from studio.study.apart import AssessorApart
from studio.study.assess import Assessor
from studio.study.assessment import Assessment
from studio.study.changes import changes
from studio.study.requests import Answered, Failed, Request
from studio.study.rounds import ROUND, Glance
from studio.study.serving import Answer, Asked, Fault, Stop, answer_all
from studio.study.watch import StoppedError, Watch
from studio.study.wire import Wire, both_ends

WAIT_S = 60.0


class Works:
    """Works out one request after the other, each held until it is let go; tells whose sections it was asked of."""

    def __init__(self) -> None:
        self.go = threading.Semaphore(0)
        self.begun: list[tuple[str, str, Glance | None]] = []
        self.left = 0
        self.error: Exception | None = None

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
        self.begun.append((design.note, design.site.name, glance))
        while not self.go.acquire(timeout=0.005):
            if not watch("shade", 0.5):
                self.left += 1
                raise StoppedError("stopped")
        if self.error is not None:
            raise self.error
        return replace(Assessor().assess(Document(), Design(), calendar=False), exact=exact)


class Asker:
    """The asking end of the wire."""

    def __init__(self, wire: Wire, works: Works) -> None:
        self.wire, self.works, self.design, self.number = wire, works, Design(), 0
        self.said: list[object] = []

    def ask(
        self, note: str, *, grace_s: float = inf, exact: bool = True, name: str = Design().site.name
    ) -> int:
        """Ask for the design with another note; its number."""
        site = self.design.site if name == self.design.site.name else replace(self.design.site, name=name)
        design = replace(self.design, note=note, site=site)
        self.number += 1
        self.wire.send(Asked(self.number, None, changes(design, self.design), False, exact, grace_s))
        self.design = design
        return self.number

    def heard(self) -> object:
        """The next answer or fault."""
        end = monotonic() + WAIT_S
        while monotonic() < end:
            self.said += [said for said in self.wire.taken() if isinstance(said, Answer | Fault)]
            if self.said:
                return self.said.pop(0)
            self.wire.wait(1.0)
        raise AssertionError("nothing was heard")

    def until(self, begun: int) -> None:
        end = monotonic() + WAIT_S
        while len(self.works.begun) < begun and monotonic() < end:
            sleep(0.002)
        assert len(self.works.begun) == begun


@pytest.fixture
def asker() -> Iterator[Asker]:
    ours, theirs = both_ends()
    works = Works()
    thread = threading.Thread(target=answer_all, args=(Wire(theirs), works), daemon=True)
    thread.start()
    yield Asker(ours, works)
    works.go.release(100)
    ours.close()
    thread.join(WAIT_S)
    assert not thread.is_alive(), "it ends when the wire closes"


def test_the_newest_is_next_and_holds_what_those_between_changed(asker: Asker) -> None:
    first = asker.ask("one")
    asker.until(1)
    asker.ask("two")
    asker.ask("three", name="elsewhere")
    last = asker.ask("four", name="elsewhere")
    asker.works.go.release(2)
    one, two = asker.heard(), asker.heard()
    assert isinstance(one, Answer)
    assert isinstance(two, Answer)
    assert (one.number, two.number) == (first, last)
    assert [begun[:2] for begun in asker.works.begun] == [("one", Design().site.name), ("four", "elsewhere")]


def test_an_overtaken_one_runs_to_its_end_within_its_grace_and_is_left_after_it(asker: Asker) -> None:
    asker.ask("one", grace_s=inf)
    asker.until(1)
    asker.ask("two", grace_s=0.0)
    sleep(0.05)
    assert asker.works.left == 0
    asker.works.go.release()
    assert isinstance(asker.heard(), Answer)
    asker.until(2)
    third = asker.ask("three")
    asker.until(3)
    assert asker.works.left == 1
    asker.works.go.release()
    answer = asker.heard()
    assert isinstance(answer, Answer)
    assert answer.number == third


def test_a_stop_leaves_what_runs_and_what_waits_and_not_what_comes_after(asker: Asker) -> None:
    asker.ask("one")
    asker.until(1)
    asker.ask("two")
    asker.wire.send(Stop())
    last = asker.ask("three")
    asker.until(2)
    assert asker.works.left == 1
    asker.works.go.release()
    answer = asker.heard()
    assert isinstance(answer, Answer)
    assert answer.number == last
    assert asker.works.begun[-1][0] == "three"


def test_while_a_hand_drags_glances_go_round_and_an_exact_one_begins_anew(asker: Asker) -> None:
    for number in range(len(ROUND) + 1):
        asker.works.go.release()
        asker.ask(str(number), exact=False)
        asker.heard()
    glances = [glance for _note, _name, glance in asker.works.begun]
    assert glances == [*ROUND[1:], *ROUND[:2]]
    for exact in (True, False):
        asker.works.go.release()
        asker.ask(f"exact {exact}", exact=exact)
        asker.heard()
    assert [glance for _note, _name, glance in asker.works.begun[-2:]] == [None, ROUND[1]]


def test_what_cannot_be_worked_out_is_told_and_the_next_is_answered(asker: Asker) -> None:
    asker.works.error = ComputationError("Line 2: no balance was found.")
    asker.works.go.release()
    asker.ask("one")
    fault = asker.heard()
    assert isinstance(fault, Fault)
    assert (fault.text, fault.ours) == ("Line 2: no balance was found.", False)
    asker.works.error = ZeroDivisionError("x")
    asker.works.go.release()
    asker.ask("two")
    fault = asker.heard()
    assert isinstance(fault, Fault)
    assert fault.ours
    asker.works.error = None
    asker.works.go.release()
    asker.ask("three")
    assert isinstance(asker.heard(), Answer)


def moved(document: Document, dy: float) -> Design:
    line = replace(document.design.lines[0], y_m=document.design.lines[0].y_m + dy)
    return replace(document.design, lines=(line, *document.design.lines[1:]))


def last_word(apart: AssessorApart, request: Request) -> Answered | Failed:
    """What is said of a request at last."""
    end = monotonic() + WAIT_S
    while monotonic() < end:
        for word in apart.words(1.0):
            if isinstance(word, Answered | Failed):
                assert word.request is request or isinstance(word, Answered)
                if word.request is request:
                    return word
    raise AssertionError("nothing was heard")


def test_posted_ahead_each_answer_is_of_its_own_design_and_as_asked_at_once() -> None:
    document = open_site(example_path("small_dryer"))
    apart = AssessorApart()
    requests = [
        Request(document, moved(document, 0.1 * step), False, exact=True, revision=step) for step in range(4)
    ]
    heard: list[Answered] = []
    for request in requests:
        apart.post(request)
    while not heard or heard[-1].request is not requests[-1]:
        heard += [word for word in apart.words(WAIT_S) if isinstance(word, Answered)]
    for word in heard:
        assert word.assessment.design is word.request.design
        fresh = Assessor().assess(document, word.request.design, calendar=False)
        assert word.assessment.figures["annual_heat_kwh"] == pytest.approx(
            fresh.figures["annual_heat_kwh"], rel=1e-9
        )
    assert apart.assess(document, calendar=False).design is document.design


def test_a_process_that_died_is_started_anew_once_for_a_request(monkeypatch: pytest.MonkeyPatch) -> None:
    document = open_site(example_path("small_dryer"))
    apart = AssessorApart()
    started, real = [], apart_of._started

    def dead() -> Wire:
        started.append(True)
        ours, theirs = both_ends()
        theirs.close()
        return ours

    monkeypatch.setattr(apart_of, "_started", lambda: dead() if not started else real())
    request = Request(document, document.design, calendar=False)
    apart.post(request)
    assert isinstance(last_word(apart, request), Answered)
    monkeypatch.setattr(apart_of, "_started", dead)
    apart.close()
    with pytest.raises(ComputationError, match="ended by itself"):
        apart.assess(document, calendar=False)
    monkeypatch.setattr(apart_of, "_started", real)
    assert apart.assess(document, calendar=False).design is document.design


def test_stopped_by_its_watch_it_says_so_at_once_and_goes_on_with_the_next() -> None:
    document = open_site(example_path("small_dryer"))
    apart = AssessorApart()
    with pytest.raises(StoppedError):
        apart.assess(document, watch=lambda _stage, _share: False)
    assert apart.assess(document, calendar=False).exact


def test_bad_input_is_told_as_such() -> None:
    document = open_site(example_path("small_dryer"))
    site = document.design.site
    design = replace(document.design, site=replace(site, weather=FileWeather(asset="0" * 64)))
    with pytest.raises(BadInputError):
        AssessorApart().assess(document, design, calendar=False)
