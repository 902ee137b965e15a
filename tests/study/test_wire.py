"""Messages along a wire: whole, in order, without waiting for the other end, and told when it is gone."""

import socket
import threading
from collections.abc import Iterator

import numpy as np
import pytest

from studio.study.wire import Wire, both_ends

WAIT_S = 60.0
LARGE = bytes(range(256)) * 40_000
"""More than a socket takes at once."""


@pytest.fixture
def ends() -> Iterator[tuple[Wire, Wire]]:
    ours, theirs = both_ends()
    other = Wire(theirs)
    yield ours, other
    ours.close()
    other.close()


def heard(end: Wire) -> list[object]:
    """What comes next, waited for."""
    came: list[object] = []
    while not came:
        end.wait(WAIT_S)
        came = end.taken()
    return came


def test_messages_come_whole_and_in_order(ends: tuple[Wire, Wire]) -> None:
    here, there = ends
    assert there.taken() == []
    here.put({"a": (1, 2.5)})
    here.put("two")
    there.wait(WAIT_S)
    assert there.taken() == [{"a": (1, 2.5)}, "two"]
    there.put(np.arange(3.0))
    here.wait(WAIT_S)
    (came,) = here.taken()
    assert isinstance(came, np.ndarray)
    assert came.tolist() == [0.0, 1.0, 2.0]


def test_what_the_other_end_does_not_take_yet_keeps_nobody_waiting(ends: tuple[Wire, Wire]) -> None:
    here, there = ends
    here.put(LARGE)
    here.put("after it")
    assert here.sending
    came: list[object] = []
    while len(came) < 2:
        came += there.taken()
        here.flush()
    assert came == [LARGE, "after it"]
    assert not here.sending


def test_who_waits_while_sending_sends_on(ends: tuple[Wire, Wire]) -> None:
    here, there = ends
    came: list[object] = []

    def take() -> None:
        came.extend(heard(there))
        there.send("thanks")

    taker = threading.Thread(target=take)
    taker.start()
    here.put(LARGE)
    assert heard(here) == ["thanks"]
    taker.join(WAIT_S)
    assert came == [LARGE]


def test_both_may_send_much_at_once(ends: tuple[Wire, Wire]) -> None:
    here, there = ends
    sender = threading.Thread(target=there.send, args=(LARGE,))
    sender.start()
    here.put(LARGE)
    assert heard(here) == [LARGE]
    sender.join(WAIT_S)
    got: list[object] = []
    while not got:
        here.flush()
        got = there.taken()
    assert got == [LARGE]


def test_what_was_sent_before_the_end_is_taken_and_then_the_end_is_told() -> None:
    ours, theirs = both_ends()
    other = Wire(theirs)
    other.put("last words")
    other.close()
    ours.wait(WAIT_S)
    assert ours.taken() == ["last words"]
    with pytest.raises(EOFError):
        ours.taken()
    with pytest.raises(BrokenPipeError):
        ours.put("to nobody")


def test_half_a_message_is_none() -> None:
    raw, theirs = socket.socketpair()
    wire = Wire(theirs)
    raw.sendall((1000).to_bytes(8, "big") + b"half")
    wire.wait(WAIT_S)
    assert wire.taken() == []
    raw.close()
    with pytest.raises(EOFError):
        wire.taken()
    wire.close()
