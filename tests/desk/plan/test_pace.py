"""A drag is held back for figures that are about to come, as far as the wanted share of young frames asks, and no further."""

from collections.abc import Callable

import pytest

from studio.desk.plan import pace
from studio.desk.plan.pace import MOST_BEHIND, PATIENCE_S, Pace
from studio.desk.session import Session
from studio.desk.state import State
from studio.edits.lines import move_lines
from studio.study.assessment import Assessment

FRAME_S = 0.02


class Clock:
    """Seconds that go by when told."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(pace, "monotonic", made)
    return made


def drag(
    session: Session, clock: Clock, assess: Callable[..., Assessment], *, answer_s: float, frames: int = 200
) -> tuple[float, float]:
    """Drag with one answer every so many seconds, each of what was shown when it began; the share of frames with young
    figures, and the seconds a frame took."""
    paced = Pace(session)
    design = session.state.design
    session.take_assessment(session.state.revision, assess(design))
    young, begun, begun_at, start = [], -1, clock.now, clock.now

    def answer() -> None:
        nonlocal begun, begun_at
        if clock.now - begun_at >= answer_s:
            state: State = session.state
            if begun >= 0:
                session.take_assessment(begun, assess(state.shown))
            begun, begun_at = state.revision, clock.now

    for step in range(frames):
        while paced.wait():
            clock.now += 0.002
            answer()
        session.preview(move_lines(design, ids=(1,), dx_m=0.01 * (step + 1), dy_m=0.0).design)
        clock.now += FRAME_S
        answer()
        young.append(session.state.revision - session.state.assessed_revision <= MOST_BEHIND)
    return sum(young) / frames, (clock.now - start) / frames


def test_answers_that_keep_up_hold_nothing_back(
    session: Session, clock: Clock, assess: Callable[..., Assessment]
) -> None:
    young, frame_s = drag(session, clock, assess, answer_s=0.9 * FRAME_S)
    assert young > 0.95
    assert frame_s == pytest.approx(FRAME_S, rel=0.02)


def test_answers_that_come_a_little_late_are_waited_for_as_far_as_is_wanted(
    session: Session, clock: Clock, assess: Callable[..., Assessment]
) -> None:
    young, frame_s = drag(session, clock, assess, answer_s=1.7 * FRAME_S)
    assert 0.78 <= young < 0.9
    assert FRAME_S < frame_s < 1.7 * FRAME_S


def test_answers_that_take_too_long_are_not_waited_for(
    session: Session, clock: Clock, assess: Callable[..., Assessment]
) -> None:
    _young, frame_s = drag(session, clock, assess, answer_s=20 * PATIENCE_S)
    assert frame_s == pytest.approx(FRAME_S, rel=0.2)
