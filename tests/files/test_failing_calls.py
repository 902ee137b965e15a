"""Every call to the file system fails, once or for good, before or after it did its work: nothing is lost by it."""

import errno
import os
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from functools import wraps
from itertools import count
from pathlib import Path
from typing import Any, Literal

import pytest

from studio.errors import KeepingError
from studio.files.keeping import Keeper
from studio.files.recovery import look_for_recovery
from studio.keep import FileCalls, backup_of, canonical_json, clean_strays, write_whole

CODES = (errno.ENOSPC, errno.EACCES, errno.EIO)
NAMES = frozenset(name for name in vars(FileCalls) if not name.startswith("_"))
OLD, NEW = b"old " * 1000, b"new " * 1500

When = Literal["once", "for good", "after the work", "every one of its name"]
WHENS: tuple[When, ...] = ("once", "for good", "after the work", "every one of its name")


class FailingCalls(FileCalls):
    """Real calls, of which number ``at`` fails with ``code``; None lets all pass and only counts."""

    def __init__(self, at: int | None = None, *, code: int = errno.EIO, when: When = "once") -> None:
        self.at = at
        self.code = code
        self.when = when
        self.seen: list[str] = []

    def __getattribute__(self, name: str) -> Any:
        found = super().__getattribute__(name)
        return self._watched(name, found) if name in NAMES else found

    def _watched(self, name: str, call: Callable[..., Any]) -> Callable[..., Any]:
        @wraps(call)
        def watched(*arguments: Any) -> Any:
            number = len(self.seen)
            self.seen.append(name)
            if self.at is None or number < self.at:
                return call(*arguments)
            if self.when == "every one of its name" and name != self.seen[self.at]:
                return call(*arguments)
            if self.when in ("once", "after the work") and number != self.at:
                return call(*arguments)
            # a descriptor is closed even by a close that fails
            if self.when == "after the work" or name == "close":
                result = call(*arguments)
                if name == "create":
                    os.close(result)
            raise OSError(self.code, os.strerror(self.code))

        return watched


def is_one_sentence(text: str, code: int, *, name: str) -> bool:
    reason = {errno.ENOSPC: "disk is full", errno.EACCES: "no right", errno.EIO: "input or output error"}[
        code
    ]
    one = "\n" not in text and ". " not in text and not text.endswith(".")
    return one and text.startswith(name) and " failed because " in text and reason in text and "; " in text


def strays(folder: Path) -> list[str]:
    return [p.name for p in folder.iterdir() if p.name.endswith("-part")]


def every_failure() -> Iterator[tuple[int, When]]:
    yield from ((code, when) for code in CODES for when in WHENS)


def existing(folder: Path) -> Path:
    (folder / "site.json").write_bytes(OLD)
    return folder / "site.json"


def new(folder: Path) -> Path:
    return folder / "site.json"


def linked(folder: Path) -> Path:
    (folder / "real").mkdir()
    existing(folder / "real")
    (folder / "site.json").symlink_to(Path("real") / "site.json")
    return folder / "site.json"


def backed_up(folder: Path) -> Path:
    """A save failed after the backup was made: file and backup are one and the same."""
    path = existing(folder)
    backup_of(path).hardlink_to(path)
    return path


SCENES = [existing, new, linked, backed_up]


@pytest.mark.skipif(sys.platform == "win32", reason="links of POSIX")
@pytest.mark.parametrize("backup", [True, False])
@pytest.mark.parametrize("scene", SCENES)
def test_a_failing_call_leaves_the_old_or_the_new_file_whole(
    tmp_path: Path, scene: Callable[[Path], Path], backup: bool
) -> None:
    folders = (tmp_path / str(n) for n in count())
    refused: Counter[str] = Counter()

    def write(calls: FailingCalls) -> None:
        folder = next(folders)
        folder.mkdir()
        path = scene(folder)
        was = path.read_bytes() if path.exists() else None
        real = path.resolve()
        if was is not None:
            real.chmod(0o640)
        error = None
        try:
            write_whole(path, NEW, backup=backup, calls=calls)
        except KeepingError as raised:
            error = raised
        now = path.read_bytes() if path.exists() else None
        if error is None:
            assert now == NEW
        else:
            assert now in (was, NEW)
            assert is_one_sentence(str(error), calls.code, name="site.json"), str(error)
            refused[calls.seen[calls.at or 0]] += 1
        if was is not None:
            assert real.stat().st_mode & 0o777 == 0o640
        assert path.is_symlink() == (scene is linked)
        if calls.when == "once" and calls.at is not None and calls.seen[calls.at] != "unlink":
            assert strays(real.parent) == []
        clean_strays(real.parent)
        assert strays(real.parent) == []
        kept = backup_of(real)
        assert not kept.exists() or kept.read_bytes() == OLD
        write_whole(path, NEW, backup=backup)  # and the next save, on a whole disk, succeeds
        assert path.read_bytes() == NEW
        assert strays(real.parent) == []

    dry = FailingCalls()
    write(dry)
    for at in range(len(dry.seen)):
        for code, when in every_failure():
            write(FailingCalls(at, code=code, when=when))
    must_refuse = {"resolve", "mode", "create", "write", "sync", "close", "read", "replace", "sync_folder"}
    assert must_refuse <= set(refused)


def document_of(data: bytes) -> object:
    return data.decode()


@pytest.mark.parametrize("recovering", [False, True])
def test_a_failing_call_of_a_save_leaves_the_design_open_and_journalled(
    tmp_path: Path, recovering: bool
) -> None:
    folders = (tmp_path / str(n) for n in count())

    def leave_a_crash(path: Path) -> None:
        crashed = Keeper(document_of=document_of, tell=lambda error: None)
        crashed.open(path)
        crashed.note("Move line 1 by 1.20 m", lambda: canonical_json("edit 0"))
        crashed.close()

    def edit_and_save(calls: FailingCalls) -> None:
        folder = next(folders)
        folder.mkdir()
        path = folder / "site.json"
        path.write_bytes(b"saved")
        if recovering:
            leave_a_crash(path)
        told: list[KeepingError] = []
        keeper = Keeper(document_of=document_of, tell=told.append, calls=calls)
        armed, calls.at = calls.at, None
        recovery = keeper.open(path).recovery
        if recovering:
            assert recovery is not None
            keeper.recover(recovery)
        calls.seen.clear()
        calls.at = armed
        keeper.note("Move line 2 by 1.20 m", lambda: canonical_json("edit 1"))
        error = None
        try:
            keeper.save(b"edit 1")
        except KeepingError as raised:
            error = raised
            assert is_one_sentence(str(error), calls.code, name="site.json"), str(error)
        calls.at = None
        now = path.read_bytes()
        assert now in (b"saved", b"edit 1")
        if error is None:
            assert now == b"edit 1"
        for journal_error in told:
            assert is_one_sentence(str(journal_error), calls.code, name="site.json"), str(journal_error)
        if error is not None:  # still open: the same save, on a whole disk, goes through
            keeper.save(b"edit 1")
            assert path.read_bytes() == b"edit 1"
        keeper.note("Move line 3 by 1.20 m", lambda: canonical_json("edit 2"))
        keeper.close()
        clean_strays(folder)
        assert strays(folder) == []
        left = look_for_recovery(path, document_of=document_of, tell=told.append)
        assert left is not None
        assert left.document == canonical_json("edit 2")

    dry = FailingCalls()
    edit_and_save(dry)
    for at in range(len(dry.seen)):
        for when in WHENS:
            edit_and_save(FailingCalls(at, code=errno.ENOSPC, when=when))


def test_every_file_call_is_made_to_fail_somewhere(tmp_path: Path) -> None:
    """The sweeps above reach every call there is: whole writing, opening and looking for journals together."""
    calls = FailingCalls()
    path = tmp_path / "site.json"
    write_whole(path, OLD, calls=calls)
    write_whole(path, NEW, calls=calls)
    keeper = Keeper(document_of=lambda data: None, tell=lambda error: None, calls=calls)
    keeper.open(path)
    keeper.note("Plant", lambda: b"1")
    keeper.close()
    keeper.open(path)
    keeper.close()
    assert set(calls.seen) == NAMES


@pytest.mark.parametrize("code", CODES)
def test_a_failing_call_of_opening_is_one_sentence_and_changes_nothing(tmp_path: Path, code: int) -> None:
    path = tmp_path / "site.json"
    path.write_bytes(b"saved")
    keeper = Keeper(document_of=document_of, tell=lambda error: None)
    keeper.open(path)
    keeper.note("Move line 1 by 1.20 m", lambda: canonical_json("edit 1"))
    keeper.close()
    for at in count():
        told: list[KeepingError] = []
        calls = FailingCalls(at, code=code)
        opening = Keeper(document_of=document_of, tell=told.append, calls=calls)
        try:
            assert opening.open(path).data == b"saved"
            opening.close()
        except KeepingError as error:
            told.append(error)
        for heard in told:
            assert is_one_sentence(str(heard), code, name="site.json"), str(heard)
        left = look_for_recovery(path, document_of=document_of, tell=told.append)
        assert left is not None
        assert left.document == canonical_json("edit 1")
        if len(calls.seen) <= at:
            break
    assert at > 5
