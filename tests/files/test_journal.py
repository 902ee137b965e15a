"""The journal: at most a second behind, never in the way, never over what it does not contain."""

import json
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from studio.errors import KeepingError
from studio.files.journal import Journal
from studio.keep import FileCalls, canonical_json, fingerprint

FIRST = fingerprint(b"the file as it was opened")
SECOND = fingerprint(b"the file as it was saved")


def edit(number: int) -> Callable[[], bytes]:
    return lambda: canonical_json({"edit": number, "azimuth": 90.5})


def raising(error: KeepingError) -> None:
    raise error


def journalled(path: Path) -> int | None:
    """The edit in the journal beside a site file; None without one."""
    try:
        number = json.loads(path.with_name(f"{path.name}.journal").read_bytes())["document"]["edit"]
    except FileNotFoundError:
        return None
    assert isinstance(number, int)
    return number


@pytest.fixture
def saved(tmp_path: Path) -> Path:
    path = tmp_path / "site.json"
    path.write_bytes(b"the file as it was opened")
    return path


def test_an_edit_is_on_the_disk_within_a_second(saved: Path) -> None:
    journal = Journal(saved, of=FIRST, on_error=raising)
    late = []
    for number in range(2, 12):
        noted = time.monotonic()
        journal.note("Move line 1 by 1.20 m", edit(number))
        while journalled(saved) != number:
            assert time.monotonic() - noted < 1.0
            time.sleep(0.005)
        late.append(time.monotonic() - noted)
    journal.close()
    assert max(late) > 0.1  # it does gather edits, rather than write each


def test_a_burst_of_edits_is_written_a_few_times_and_the_last_one_always(saved: Path) -> None:
    made: list[int] = []

    def producing(number: int) -> Callable[[], bytes]:
        def produce() -> bytes:
            made.append(number)
            return edit(number)()

        return produce

    journal = Journal(saved, of=FIRST, on_error=raising)
    started = time.monotonic()
    for number in range(2, 202):
        journal.note("drag", producing(number))
        time.sleep(0.002)
    journal.close()
    assert made[-1] == 201
    assert len(made) <= (time.monotonic() - started) / 0.25 + 2
    assert journalled(saved) == 201


def test_the_content_says_what_it_started_from(saved: Path) -> None:
    journal = Journal(saved, of=FIRST, on_error=raising)
    assert journal.note("Set the plot", edit(2)) == 1
    assert journal.note("Plant 8 lines", edit(3)) == 2
    assert journal.flush()
    assert journal.path == saved.with_name("site.json.journal")
    tree = json.loads(journal.path.read_bytes())
    assert list(tree)[:2] == ["format", "version"]
    assert tree["of"] == FIRST
    assert (tree["revision"], tree["label"]) == (2, "Plant 8 lines")
    assert tree["document"] == {"edit": 3, "azimuth": 90.5}
    assert tree["checksum"] == fingerprint(edit(3)())
    assert tree["written_at"].endswith("+00:00")
    journal.close()


def test_noting_does_not_wait_for_the_disk(saved: Path) -> None:
    gate = threading.Event()

    class Slow(FileCalls):
        def sync(self, descriptor: int) -> None:
            gate.wait(5)
            super().sync(descriptor)

    journal = Journal(saved, on_error=raising, calls=Slow())
    started = time.perf_counter()
    for number in range(1000):
        journal.note("drag", edit(number))
    assert time.perf_counter() - started < 0.5
    gate.set()
    journal.close()
    assert journalled(saved) == 999


def test_discarding_after_a_save_removes_it(saved: Path) -> None:
    journal = Journal(saved, of=FIRST, on_error=raising)
    number = journal.note("Plant", edit(2))
    journal.flush()
    journal.discard(up_to=number, of=SECOND)
    journal.close()
    assert [p.name for p in saved.parent.iterdir()] == ["site.json"]


def test_edits_noted_while_saving_are_not_lost(saved: Path) -> None:
    journal = Journal(saved, of=FIRST, on_error=raising)
    number = journal.note("Plant", edit(2))
    journal.flush()
    journal.note("Move", edit(3))
    journal.discard(up_to=number, of=SECOND)
    assert journalled(saved) == 3
    assert json.loads(saved.with_name("site.json.journal").read_bytes())["of"] == SECOND
    journal.close()
    assert journalled(saved) == 3


def test_a_writing_under_way_does_not_bring_a_discarded_journal_back(saved: Path) -> None:
    started = threading.Event()

    class Slow(FileCalls):
        def sync(self, descriptor: int) -> None:
            started.set()
            time.sleep(0.2)
            super().sync(descriptor)

    journal = Journal(saved, on_error=raising, calls=Slow())
    journal.note("Plant", edit(2))
    assert started.wait(5)
    journal.discard()
    journal.close()
    assert [p.name for p in saved.parent.iterdir()] == ["site.json"]


def test_saving_elsewhere_takes_later_edits_along(saved: Path) -> None:
    journal = Journal(saved, of=FIRST, on_error=raising)
    number = journal.note("Plant", edit(2))
    journal.note("Move", edit(3))
    other = saved.with_name("other.json")
    journal.flush()
    journal.discard(up_to=number, of=SECOND, site_path=other)
    journal.close()
    assert journalled(saved) is None
    assert journalled(other) == 3


def test_an_error_is_told_once_and_again_only_after_a_success(saved: Path) -> None:
    class Full(FileCalls):
        full = True

        def write(self, descriptor: int, data: memoryview) -> int:
            if self.full:
                raise OSError(28, "No space left on device")
            return super().write(descriptor, data)

    calls, told = Full(), list[KeepingError]()
    journal = Journal(saved, on_error=told.append, calls=calls)
    for number in range(2, 6):
        journal.note("Plant", edit(number))
        assert not journal.flush()
    assert len(told) == 1
    assert str(told[0]).startswith("site.json.journal in ")
    assert "writing the new version failed because the disk is full" in str(told[0])
    calls.full = False
    assert journal.flush()
    assert journalled(saved) == 5
    calls.full = True
    journal.note("Plant", edit(6))
    journal.close()
    assert len(told) == 2
    assert journalled(saved) == 5  # the older journal is whole


def test_a_failed_writing_is_tried_again_by_itself(saved: Path) -> None:
    class FullOnce(FileCalls):
        failed = False

        def write(self, descriptor: int, data: memoryview) -> int:
            if not self.failed:
                self.failed = True
                raise OSError(28, "No space left on device")
            return super().write(descriptor, data)

    told: list[KeepingError] = []
    journal = Journal(saved, on_error=told.append, calls=FullOnce())
    journal.note("Plant", edit(2))
    deadline = time.monotonic() + 6
    while not saved.with_name("site.json.journal").exists():
        assert time.monotonic() < deadline
        time.sleep(0.05)
    journal.close()
    assert len(told) == 1


def test_a_document_that_cannot_be_made_is_told_and_the_next_edit_is_written(saved: Path) -> None:
    told: list[KeepingError] = []
    journal = Journal(saved, on_error=told.append)
    journal.note("Plant", lambda: b'{"edit": NaN}')
    assert not journal.flush()
    journal.note("Plant", edit(3))
    assert journal.flush()
    journal.close()
    assert "cannot be journalled because" in str(told[0])
    assert journalled(saved) == 3


def test_an_untitled_design_that_is_saved_leaves_the_state_folder(tmp_path: Path) -> None:
    journal = Journal(None, on_error=raising, state_folder=tmp_path / "state")
    number = journal.note("Plant", edit(2))
    journal.flush()
    journal.note("Move", edit(3))
    path = tmp_path / "site.json"
    journal.discard(up_to=number, of=SECOND, site_path=path)
    assert list((tmp_path / "state").iterdir()) == []
    journal.close()
    assert journalled(path) == 3
