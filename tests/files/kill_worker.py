"""A child process that edits and saves until it is killed; test_kill.py starts, kills and judges it.

``loop FOLDER SEED`` edits and saves for ever and is killed from outside, at any moment. ``sweep FOLDER`` kills itself:
for every file call of a sitting one forked child that dies at that call, each in a folder of its own. ``crash FOLDER N``
opens, recovers, edits, and dies at its N-th file call after the recovery (0: as soon as it has recovered).

What it did is said, unbuffered, on its standard output, or for ``sweep`` in the file ``said`` of each folder:
``saved N`` once edit N is acknowledged as saved, ``edit N TIME`` once it is noted, with the monotonic clock.
"""

import json
import os
import random
import signal
import sys
import time
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import Any

from studio.errors import KeepingError
from studio.files.keeping import Keeper
from studio.keep import FileCalls, canonical_json

FILLING = 2000  # numbers in a document, some 30 kB, so that a write is not over at once
FILE_CALLS = frozenset(name for name in vars(FileCalls) if not name.startswith("_"))


def document(number: int) -> bytes:
    """The design after edit ``number``, as it is journalled."""
    return canonical_json({"edit": number, "filling": [number + i / 7 for i in range(FILLING)]})


def site(number: int) -> bytes:
    """The site file with edit ``number`` saved in it."""
    return b'{"design":' + document(number) + b"}"


def document_of(data: bytes) -> object:
    """The design in a site file."""
    try:
        return json.loads(data)["design"]
    except (ValueError, KeyError, TypeError) as error:
        raise KeepingError("not a site file") from error


def edit_in(data: bytes) -> int:
    """The number of the edit in a document, which must be that document, whole; ValueError if not."""
    number = json.loads(data)["edit"]
    if data != document(number):
        raise ValueError(number)
    return int(number)


class DyingCalls(FileCalls):
    """Real calls until the one numbered ``at`` (from 1), inside which the process kills itself."""

    def __init__(self, at: int = 0) -> None:
        self.at = at
        self.made = 0

    def __getattribute__(self, name: str) -> Any:
        found = super().__getattribute__(name)
        return self._counted(name, found) if name in FILE_CALLS else found

    def _counted(self, name: str, call: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(call)
        def counted(*arguments: Any) -> Any:
            self.made += 1
            if self.at and self.made >= self.at:
                if name == "write":  # half of it is on the disk
                    call(arguments[0], arguments[1][: len(arguments[1]) // 2])
                die()
            return call(*arguments)

        return counted


def die() -> None:
    """End at once, as by a power cut: nothing is cleaned up, nothing flushed."""
    os.kill(os.getpid(), signal.SIGKILL)


def say(descriptor: int, text: str) -> None:
    """One line, straight to the descriptor."""
    os.write(descriptor, f"{text}\n".encode())


def note(keeper: Keeper, number: int) -> None:
    """Note an edit; the document is made when it is written."""
    keeper.note(f"Move line {number} by 1.20 m", lambda: document(number))


def opened(folder: Path, calls: FileCalls) -> tuple[Keeper, int]:
    """A keeper of the folder's site file gone on from whatever can be recovered, and the edit it is at."""
    keeper = Keeper(document_of=document_of, tell=lambda error: say(1, f"told {error}"), calls=calls)
    found = keeper.open(folder / "site.json")
    number = edit_in(canonical_json(document_of(found.data)))
    if found.recovery is not None and edit_in(found.recovery.document) > number:
        number = edit_in(keeper.recover(found.recovery))
    return keeper, number


def loop(folder: Path, seed: int) -> None:
    """Edit and save until killed."""
    chance = random.Random(seed)
    share_of_saves = chance.choice([0.0, 0.002, 0.02, 0.3])
    keeper, number = opened(folder, FileCalls())
    say(1, "ready")
    while True:
        number += 1
        note(keeper, number)
        say(1, f"edit {number} {time.monotonic()}")
        if chance.random() < share_of_saves:
            keeper.save(site(number))
            say(1, f"saved {number}")
        time.sleep(chance.uniform(0, 0.006))


def sitting(folder: Path, calls: DyingCalls, said: int, at: int) -> None:
    """Three edits and two saves, to die at file call ``at`` of it or to finish."""
    keeper, number = opened(folder, calls)
    calls.made, calls.at = 0, at
    for save in (True, True, False):
        number += 1
        note(keeper, number)
        say(said, f"edit {number} {time.monotonic()}")
        if save:
            keeper.save(site(number))
            say(said, f"saved {number}")
    keeper.close()
    say(said, "finished")


def sweep(folder: Path) -> None:
    """One child for each file call of a sitting, until one finishes."""
    at = 0
    status = -1
    while status:
        at += 1
        place = folder / str(at)
        place.mkdir()
        (place / "site.json").write_bytes(site(0))
        child = os.fork()
        if not child:
            sitting(place, DyingCalls(), os.open(place / "said", os.O_WRONLY | os.O_CREAT, 0o600), at)
            os._exit(0)
        status = os.waitpid(child, 0)[1]


def crash(folder: Path, at: int) -> None:
    """Recover, edit once and die."""
    calls = DyingCalls()
    keeper, number = opened(folder, calls)
    if not at:
        die()
    calls.made, calls.at = 0, at
    note(keeper, number + 1)
    say(1, f"edit {number + 1} {time.monotonic()}")
    time.sleep(0.3)  # the journal is written within this, as far as it gets
    die()


if __name__ == "__main__":
    place = Path(sys.argv[2])
    match sys.argv[1]:
        case "loop":
            loop(place, int(sys.argv[3]))
        case "sweep":
            sweep(place)
        case "crash":
            crash(place, int(sys.argv[3]))
