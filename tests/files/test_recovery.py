"""What a crash left is found by content and checksum; nothing is lost by crash upon crash."""

import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from studio.errors import KeepingError, LockedError
from studio.files.journal import Journal, free_path, journals_of
from studio.files.recovery import Kind, Recovery, find_untitled, forget, look_for_recovery
from studio.keep import canonical_json, fingerprint


def edit(number: int) -> Callable[[], bytes]:
    return lambda: canonical_json({"edit": number, "azimuth": 90.5})


def raising(error: KeepingError) -> None:
    raise error


def document_of(data: bytes) -> object:
    try:
        return json.loads(data)["design"]
    except (ValueError, KeyError) as error:
        raise KeepingError("not a site file") from error


def site(number: int) -> bytes:
    return canonical_json({"format": "test", "design": {"edit": number, "azimuth": 90.5}})


def look(path: Path, *, tell: Callable[[KeepingError], None] = raising, tidy: bool = True) -> Recovery | None:
    return look_for_recovery(path, document_of=document_of, tell=tell, tidy=tidy)


def edit_in(recovery: Recovery | None) -> int:
    assert recovery is not None
    number = json.loads(recovery.document)["edit"]
    assert isinstance(number, int)
    return number


@pytest.fixture
def saved(tmp_path: Path) -> Path:
    """A site file with edit 1 saved in it."""
    path = tmp_path / "site.json"
    path.write_bytes(site(1))
    return path


def crash(path: Path, number: int, *, of: int, continues: Recovery | None = None) -> None:
    """A process that noted an edit after opening version ``of`` of the file and then died."""
    journal = Journal(path, of=fingerprint(site(of)), continues=continues, on_error=raising)
    journal.note(f"Move line {number} by 1.20 m", edit(number))
    journal.close()


def test_nothing_to_recover_when_the_file_says_the_same(saved: Path) -> None:
    crash(saved, 1, of=1)
    assert look(saved) is None
    assert journals_of(saved) == ()


def test_edits_after_the_last_save_and_of_another_version(saved: Path) -> None:
    crash(saved, 2, of=1)
    found = look(saved)
    assert found is not None
    assert (found.kind, found.label, found.others) == (Kind.AFTER_LAST_SAVE, "Move line 2 by 1.20 m", ())
    assert found.kind.told == "edits after the last save"
    saved.write_bytes(site(7))  # another program, or another copy put in its place
    found = look(saved)
    assert found is not None
    assert found.kind is Kind.ANOTHER_VERSION
    assert found.kind.told == "edits made to another version of this file"
    assert edit_in(found) == 2


def test_a_crash_inside_a_save_fits_the_file_whichever_it_is(saved: Path) -> None:
    journal = Journal(saved, of=fingerprint(site(1)), on_error=raising)
    journal.note("Plant", edit(2))
    journal.saving(fingerprint(site(2)))
    journal.note("Move", edit(3))
    journal.close()
    for number in (1, 2):
        saved.write_bytes(site(number))
        found = look(saved)
        assert found is not None
        assert found.kind is Kind.AFTER_LAST_SAVE
    saved.write_bytes(site(4))
    found = look(saved)
    assert found is not None
    assert found.kind is Kind.ANOTHER_VERSION


def test_file_times_are_never_asked(saved: Path) -> None:
    crash(saved, 2, of=1)
    crash(saved, 3, of=1)
    paths = [path for _, path in journals_of(saved)]
    answers = []
    for times in ((0, 2**31), (2**31, 0)):
        for path, stamp in zip(paths, times, strict=True):
            os.utime(path, (stamp, stamp))
        os.utime(saved, (2**30, 2**30))
        found = look(saved)
        assert found is not None
        answers.append((found.path, [other.path for other in found.others]))
    assert answers[0] == answers[1] == (paths[0], [paths[1]])


def test_a_second_crash_with_the_first_declined_keeps_both(saved: Path) -> None:
    crash(saved, 2, of=1)
    crash(saved, 3, of=1)
    found = look(saved)
    assert found is not None
    assert edit_in(found) == 3
    assert [edit_in(other) for other in found.others] == [2]


def test_a_journal_that_continues_writes_on_in_the_same_file(saved: Path) -> None:
    crash(saved, 2, of=1)
    first = look(saved)
    assert first is not None
    crash(saved, 3, of=1, continues=first)
    found = look(saved)
    assert found is not None
    assert (edit_in(found), found.path, found.others) == (3, first.path, ())
    assert found.revision == first.revision + 1


def test_a_continued_journal_stays_until_saved_even_without_an_edit(saved: Path) -> None:
    crash(saved, 2, of=1)
    journal = Journal(saved, of=fingerprint(site(1)), continues=look(saved), on_error=raising)
    journal.flush()
    assert edit_in(look(saved)) == 2
    saved.write_bytes(site(2))
    journal.discard(up_to=journal.revision, of=fingerprint(site(2)))
    journal.close()
    assert journals_of(saved) == ()


def test_the_last_begun_comes_first_though_an_earlier_name_is_free_again(saved: Path) -> None:
    crash(saved, 2, of=1)
    crash(saved, 3, of=1)
    found = look(saved)
    assert found is not None
    forget(found.others[0])
    assert free_path(saved).name == "site.json.journal-3"
    crash(saved, 4, of=1)
    found = look(saved)
    assert found is not None
    assert [edit_in(one) for one in (found, *found.others)] == [4, 3]


GOOD = {"of": None, "saving": None, "revision": 1, "written_at": "", "label": ""}


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\xff\xfe",
        b"[]",
        b"[" * 100_000,
        b"1" * 5000,
        b'{"format": "stillfield-journal", "version": 1, "document": {}}',
        canonical_json(
            {**GOOD, "format": "stillfield-journal", "version": 1, "document": {}, "checksum": "00"}
        ),
        canonical_json(
            {**GOOD, "format": "other", "version": 1, "document": 0, "checksum": fingerprint(b"0")}
        ),
        b'{"format": "stillfield-journal", "version": 1, "of": null, "saving": null, "revision": 1, "label": "",'
        b' "written_at": "", "checksum": "", "document": 1e999}',
    ],
)
def test_a_broken_journal_is_set_aside_and_told(saved: Path, content: bytes) -> None:
    broken = saved.with_name("site.json.journal")
    for aside in ("site.json.journal.broken", "site.json.journal.broken-2"):
        broken.write_bytes(content)
        told: list[KeepingError] = []
        assert look(saved, tell=told.append) is None
        assert [aside in str(error) and "is damaged" in str(error) for error in told] == [True]
        assert saved.with_name(aside).read_bytes() == content
        assert not broken.exists()


def test_a_broken_journal_is_left_alone_without_the_lock(saved: Path) -> None:
    broken = saved.with_name("site.json.journal")
    broken.write_bytes(b"")
    told: list[KeepingError] = []
    assert look(saved, tell=told.append, tidy=False) is None
    assert "left where it is" in str(told[0])
    assert broken.exists()


def test_one_flipped_bit_is_found(saved: Path) -> None:
    crash(saved, 2, of=1)
    path = saved.with_name("site.json.journal")
    path.write_bytes(path.read_bytes().replace(b"90.5", b"91.5"))
    told: list[KeepingError] = []
    assert look(saved, tell=told.append) is None
    assert len(told) == 1


def test_a_journal_of_a_later_program_is_left_and_told(saved: Path) -> None:
    path = saved.with_name("site.json.journal")
    path.write_bytes(b'{"format": "stillfield-journal", "version": 2, "else": []}')
    told: list[KeepingError] = []
    assert look(saved, tell=told.append) is None
    assert "written by a later Stillfield; open it there" in str(told[0])
    assert path.exists()
    crash(saved, 2, of=1)
    assert path.exists()


def test_a_broken_or_missing_file_still_has_its_journal(saved: Path) -> None:
    crash(saved, 2, of=1)
    for damage in (lambda: saved.write_bytes(b"rubbish"), saved.unlink):
        damage()
        assert edit_in(look(saved)) == 2


def test_untitled_designs_are_found_only_when_their_window_is_gone(tmp_path: Path) -> None:
    state = tmp_path / "state" / "stillfield"
    assert find_untitled(tell=raising, folder=state) == ()
    open_one = Journal(None, on_error=raising, state_folder=state)
    open_one.note("Plant", edit(1))
    assert open_one.flush()
    gone = Journal(None, on_error=raising, state_folder=state)
    gone.note("Plant", edit(2))
    gone.close()
    found = find_untitled(tell=raising, folder=state)
    assert [(edit_in(one), one.kind, one.of) for one in found] == [(2, Kind.UNTITLED, None)]
    continued = Journal(None, continues=found[0], on_error=raising, state_folder=state)
    with pytest.raises(LockedError):
        Journal(None, continues=found[0], on_error=raising, state_folder=state)
    assert find_untitled(tell=raising, folder=state) == ()
    continued.note("Move", edit(3))
    continued.close()
    assert [edit_in(one) for one in find_untitled(tell=raising, folder=state)] == [3]
    open_one.discard()
    open_one.close()
    assert len(list(state.iterdir())) == 1
