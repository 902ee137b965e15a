"""Killed at any moment, no file is lost, no edit older than a second, and nothing stays behind.

100 random kills run by default; ``STILLFIELD_FULL=1 pytest tests/files/test_kill.py`` runs 1,000.
"""

import os
import random
import runpy
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

import studio
from studio.errors import KeepingError
from studio.files.keeping import Keeper
from studio.keep import canonical_json

WORKER = Path(__file__).with_name("kill_worker.py")
KILLS = 1000 if os.environ.get("STILLFIELD_FULL") == "1" else 100
CHAINS = 5  # folders worked on side by side, each killed again and again
BEHIND_S = 1.0  # what may be missing from the journal

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="SIGKILL and fork")

worker: dict[str, Any] = runpy.run_path(str(WORKER))
site: Callable[[int], bytes] = worker["site"]
edit_in: Callable[[bytes], int] = worker["edit_in"]
document_of: Callable[[bytes], object] = worker["document_of"]


@dataclass
class Said:
    """What a child said before it died."""

    saved: int = 0
    edits: list[tuple[int, float]] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    finished: bool = False

    def hear(self, text: str) -> None:
        for line in text.splitlines():
            match line.split():
                case ["saved", number]:
                    self.saved = int(number)
                case ["edit", number, moment]:
                    self.edits.append((int(number), float(moment)))
                case ["finished"]:
                    self.finished = True
                case ["told", *words]:
                    self.told.append(" ".join(words))


@dataclass(frozen=True)
class Found:
    """What the next start found: the edit in the file, and the newest there is with the journals."""

    in_file: int
    newest: int


def child(*arguments: str) -> subprocess.Popen[str]:
    root = Path(studio.__file__).parent.parent
    return subprocess.Popen(
        [sys.executable, str(WORKER), *arguments],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONPATH": str(root)},
    )


def next_start(folder: Path) -> Found:
    """Open the folder's file as the next start does; every document found is whole, and nothing stays behind."""
    told: list[KeepingError] = []
    keeper = Keeper(document_of=document_of, tell=told.append)
    opened = keeper.open(folder / "site.json")
    keeper.close()
    assert told == []
    in_file = edit_in(canonical_json(document_of(opened.data)))
    assert opened.data == site(in_file)
    journals = [opened.recovery, *opened.recovery.others] if opened.recovery else []
    newest = max([in_file, *(edit_in(journal.document) for journal in journals)])
    kept = {"site.json", "site.json~", "said", *(journal.path.name for journal in journals)}
    assert {p.name for p in folder.iterdir()} <= kept
    return Found(in_file=in_file, newest=newest)


def judge(found: Found, said: Said, *, killed: float) -> None:
    """Nothing acknowledged is lost, and no edit that was a second old."""
    assert found.in_file >= said.saved, "an acknowledged save is lost"
    old = [number for number, moment in said.edits if moment < killed - BEHIND_S]
    assert found.newest >= max(old, default=0), "an edit more than a second old is lost"


def chain(folder: Path, kills: int, seed: int) -> int:
    """Kill a child again and again over the same folder; how many old edits only a journal kept."""
    chance = random.Random(seed)
    (folder / "site.json").write_bytes(site(0))
    only_in_journal = saved = 0
    for turn in range(kills):
        with child("loop", str(folder), str(seed * 10_000 + turn)) as process:
            assert process.stdout is not None
            assert process.stdout.readline() == "ready\n"
            time.sleep(chance.choice([chance.uniform(0, 0.4), chance.uniform(1.0, 1.6)]))
            killed = time.monotonic()
            process.kill()
            said = Said(saved=saved)
            said.hear(process.stdout.read())
        found = next_start(folder)
        judge(found, said, killed=killed)
        assert said.told == []
        saved = found.in_file
        only_in_journal += sum(n > found.in_file and moment < killed - BEHIND_S for n, moment in said.edits)
    return only_in_journal


def test_killed_at_random(tmp_path: Path) -> None:
    folders = [tmp_path / str(n) for n in range(CHAINS)]
    for folder in folders:
        folder.mkdir()
    with ThreadPoolExecutor(CHAINS) as pool:
        old_edits = list(pool.map(chain, folders, [KILLS // CHAINS] * CHAINS, range(1, CHAINS + 1)))
    assert sum(old_edits) > 100  # the journal had something to prove


def test_killed_at_every_file_call_of_a_sitting(tmp_path: Path) -> None:
    with child("sweep", str(tmp_path)) as process:
        process.communicate()
    assert process.returncode == 0
    folders = sorted(tmp_path.iterdir(), key=lambda folder: int(folder.name))
    assert len(folders) > 60
    strays = 0
    outcomes = set()
    for folder in folders:
        said = Said()
        said.hear((folder / "said").read_text())
        strays += any(p.name.endswith("-part") for p in folder.iterdir())
        found = next_start(folder)
        assert found.in_file >= said.saved
        # whatever the call, at most the edit that was just being noted is missing
        assert found.newest >= max((number for number, _ in said.edits), default=0) - 1
        outcomes.add((found.in_file, found.newest))
    assert said.finished
    assert strays > 10  # there was something to clean up
    assert {(0, 1), (1, 1), (1, 2), (2, 2), (2, 3)} <= outcomes


@pytest.mark.parametrize("inside", [0, 1, 3, 5, 8])
def test_five_crashes_in_a_row_one_inside_the_recovery(tmp_path: Path, inside: int) -> None:
    (tmp_path / "site.json").write_bytes(site(0))
    for turn, at in enumerate([1_000_000, 1_000_000, inside, 1_000_000, 1_000_000]):
        before = next_start(tmp_path).newest
        with child("crash", str(tmp_path), str(at)) as process:
            process.communicate()
        assert process.returncode == -9
        after = next_start(tmp_path)
        assert after.in_file == 0
        assert after.newest == before + 1 if turn != 2 else after.newest >= before
    assert next_start(tmp_path).newest >= 4


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (Found(in_file=3, newest=9), Said(saved=4)),
        (Found(in_file=3, newest=4), Said(saved=3, edits=[(4, 98.0), (5, 98.9), (6, 99.5)])),
    ],
)
def test_a_loss_would_be_seen(found: Found, said: Said) -> None:
    with pytest.raises(AssertionError, match="is lost"):
        judge(found, said, killed=100.0)


def test_a_torn_file_would_be_seen(tmp_path: Path) -> None:
    (tmp_path / "site.json").write_bytes(site(3)[:-1000])
    with pytest.raises(KeepingError, match="not a site file"):
        next_start(tmp_path)
    (tmp_path / "site.json").write_bytes(site(3).replace(b'"edit":3', b'"edit":4'))
    with pytest.raises(ValueError, match="4"):
        next_start(tmp_path)
