"""One design kept: opened, edited, saved, recovered; the file open twice or changed by others."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import studio
from studio.errors import KeepingError, LockedError
from studio.files.keeping import AlreadyThereError, ChangedOnDiskError, Keeper
from studio.files.recovery import Kind, find_untitled
from studio.keep import backup_of, canonical_json, fingerprint


def document_of(data: bytes) -> object:
    return json.loads(data)


def raising(error: KeepingError) -> None:
    raise error


def keeper_of(state: Path | None = None) -> Keeper:
    return Keeper(document_of=document_of, tell=raising, state_folder=state)


@pytest.fixture
def saved(tmp_path: Path) -> Path:
    path = tmp_path / "site.json"
    path.write_bytes(b"1")
    return path


def names(folder: Path) -> list[str]:
    return sorted(p.name for p in folder.iterdir())


def test_open_edit_save_close(saved: Path) -> None:
    keeper = keeper_of()
    opened = keeper.open(saved)
    assert (opened.data, opened.recovery, opened.locked) == (b"1", None, True)
    keeper.note("Move line 3 by 1.20 m", lambda: b"2")
    assert keeper.save(b"2") == fingerprint(b"2")
    assert keeper.save(b"2") == fingerprint(b"2")
    keeper.note("Move line 3 by 1.20 m", lambda: b"3")
    keeper.save(b"3")
    keeper.close()
    assert (saved.read_bytes(), backup_of(saved).read_bytes()) == (b"3", b"2")
    assert names(saved.parent) == ["site.json", "site.json~"]


def test_the_same_file_open_twice(saved: Path) -> None:
    first, second = keeper_of(), keeper_of()
    first.open(saved)
    with pytest.raises(LockedError):
        second.open(saved)
    first.close()
    assert second.open(saved).data == b"1"
    second.close()


def test_a_file_changed_by_another_program_is_not_written_over(saved: Path) -> None:
    keeper = keeper_of()
    keeper.open(saved)
    keeper.note("Plant", lambda: b"2")
    saved.write_bytes(b"7")
    with pytest.raises(
        ChangedOnDiskError, match=r"changed by another program .*; save a copy, reload it or compare"
    ):
        keeper.save(b"2")
    assert saved.read_bytes() == b"7"
    assert keeper.look() == b"7"  # compare
    copy = saved.with_name("copy.json")
    keeper.save_copy(b"2", copy)  # save a copy
    assert (copy.read_bytes(), keeper.path) == (b"2", saved)
    assert keeper.reload() == b"7"  # reload
    keeper.save(b"8")
    keeper.close()
    assert names(saved.parent) == ["copy.json", "site.json", "site.json~"]


def test_a_changed_file_is_written_over_when_the_person_says_so(saved: Path) -> None:
    keeper = keeper_of()
    keeper.open(saved)
    saved.write_bytes(b"7")
    keeper.save(b"2", overwrite=True)
    keeper.save(b"3")
    keeper.close()
    assert (saved.read_bytes(), backup_of(saved).read_bytes()) == (b"3", b"2")


def test_a_file_that_went_away_is_written_again(saved: Path) -> None:
    keeper = keeper_of()
    keeper.open(saved)
    saved.unlink()
    keeper.save(b"2")
    keeper.close()
    assert saved.read_bytes() == b"2"


def test_a_new_time_on_an_unchanged_file_is_no_change(saved: Path) -> None:
    keeper = keeper_of()
    keeper.open(saved)
    saved.write_bytes(b"1")
    os.utime(saved, (2**31, 2**31))
    keeper.save(b"2")
    keeper.close()
    assert saved.read_bytes() == b"2"


def test_save_as_moves_the_lock_and_asks_before_overwriting(saved: Path) -> None:
    other = saved.with_name("other.json")
    other.write_bytes(b"theirs")
    keeper = keeper_of()
    keeper.open(saved)
    keeper.note("Plant", lambda: b"2")
    with pytest.raises(AlreadyThereError, match="already there; choose another name"):
        keeper.save(b"2", other)
    assert (keeper.path, other.read_bytes()) == (saved, b"theirs")
    keeper.save(b"2", other, overwrite=True)
    assert (keeper.path, other.read_bytes(), saved.read_bytes()) == (other, b"2", b"1")
    with pytest.raises(LockedError):
        keeper_of().open(other)
    free = keeper_of()
    free.open(saved)
    free.close()
    keeper.close()
    assert names(saved.parent) == ["other.json", "other.json~", "site.json"]


def test_save_as_over_a_file_open_elsewhere_is_refused(saved: Path) -> None:
    other = saved.with_name("other.json")
    other.write_bytes(b"5")
    theirs, ours = keeper_of(), keeper_of()
    theirs.open(other)
    ours.open(saved)
    for save in (ours.save, ours.save_copy):
        with pytest.raises(LockedError):
            save(b"2", other, overwrite=True)
    theirs.close()
    ours.close()
    assert other.read_bytes() == b"5"


def test_edits_after_the_state_being_saved_stay_journalled(saved: Path) -> None:
    keeper = keeper_of()
    keeper.open(saved)
    number = keeper.note("Plant", lambda: b"2")
    keeper.note("Move", lambda: b"3")
    keeper.save(b"2", up_to=number)
    keeper.close()
    again = keeper_of()
    recovery = again.open(saved).recovery
    assert recovery is not None
    assert (recovery.document, recovery.kind) == (b"3", Kind.AFTER_LAST_SAVE)
    again.close()


def test_a_recovered_design_is_not_the_file_until_it_is_saved(saved: Path) -> None:
    crashed = keeper_of()
    crashed.open(saved)
    crashed.note("Plant", lambda: b"2")
    crashed.close()
    keeper = keeper_of()
    recovery = keeper.open(saved).recovery
    assert recovery is not None
    assert keeper.recover(recovery) == b"2"
    assert saved.read_bytes() == b"1"
    assert recovery.path.exists()
    keeper.save(b"2")
    assert not recovery.path.exists()
    keeper.close()
    assert names(saved.parent) == ["site.json", "site.json~"]


def test_recovering_after_edits_keeps_those_too(saved: Path) -> None:
    crashed = keeper_of()
    crashed.open(saved)
    crashed.note("Plant", lambda: b"2")
    crashed.close()
    keeper = keeper_of()
    recovery = keeper.open(saved).recovery
    assert recovery is not None
    keeper.note("Move", lambda: b"3")
    keeper.recover(recovery)
    keeper.close()
    again = keeper_of()
    found = again.open(saved).recovery
    assert found is not None
    assert [one.document for one in (found, *found.others)] == [b"3", b"2"]
    again.close()


def test_closing_without_keeping_leaves_nothing(saved: Path) -> None:
    keeper = keeper_of()
    keeper.open(saved)
    keeper.note("Plant", lambda: b"2")
    keeper.close(discard=True)
    assert names(saved.parent) == ["site.json"]


def test_untitled_from_the_first_edit_to_the_first_save(tmp_path: Path) -> None:
    state = tmp_path / "state"
    keeper = keeper_of(state)
    keeper.start()
    keeper.note("Set the plot", lambda: b"1")
    with pytest.raises(KeepingError, match="no file yet; choose a name"):
        keeper.save(b"1")
    keeper.close()  # as a crash would leave it
    (found,) = find_untitled(tell=raising, folder=state)
    again = keeper_of(state)
    assert again.recover(found) == b"1"
    assert find_untitled(tell=raising, folder=state) == ()
    path = tmp_path / "site.json"
    again.save(b"1", path)
    assert again.path == path
    again.note("Plant", lambda: b"2")
    again.save(b"2")
    again.close()
    assert names(state) == []
    assert names(tmp_path) == ["site.json", "site.json~", "state"]


@pytest.mark.skipif(sys.platform == "win32", reason="symbolic links need a right there")
def test_a_link_is_the_same_file(saved: Path) -> None:
    link = saved.with_name("link.json")
    link.symlink_to("site.json")
    keeper = keeper_of()
    keeper.open(link)
    keeper.note("Plant", lambda: b"2")
    keeper.save(b"2", saved)
    assert keeper.path == link
    keeper.close()
    assert saved.read_bytes() == b"2"
    assert link.is_symlink()


def test_a_file_that_is_not_there_is_one_sentence(tmp_path: Path) -> None:
    keeper = keeper_of()
    with pytest.raises(
        KeepingError, match="reading the file failed because the file or its folder is not there"
    ):
        keeper.open(tmp_path / "site.json")
    assert names(tmp_path) == []
    keeper.start()  # still fresh
    keeper.close()


def test_a_keeper_keeps_one_design(saved: Path) -> None:
    keeper = keeper_of()
    with pytest.raises(RuntimeError, match="no design is open"):
        keeper.note("Plant", lambda: b"2")
    keeper.open(saved)
    with pytest.raises(RuntimeError, match="one design"):
        keeper.start()
    keeper.close()


def test_where_no_lock_can_be_had_reading_still_works(saved: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refused(path: Path) -> None:
        raise KeepingError("no right to write there")

    monkeypatch.setattr("studio.files.keeping.hold", refused)
    keeper = keeper_of()
    opened = keeper.open(saved)
    assert (opened.data, opened.locked) == (b"1", False)
    saved.write_bytes(b"7")
    with pytest.raises(ChangedOnDiskError):
        keeper.save(b"2")
    keeper.close()


def test_another_process_writing_between_is_seen(saved: Path) -> None:
    keeper = keeper_of()
    keeper.open(saved)
    code = f"from pathlib import Path; from studio.keep import write_whole; write_whole(Path({str(saved)!r}), b'9')"
    subprocess.run([sys.executable, "-c", code], check=True, cwd=Path(studio.__file__).parent.parent)
    with pytest.raises(ChangedOnDiskError):
        keeper.save(canonical_json(2))
    keeper.close()
