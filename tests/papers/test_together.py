"""Papers come into a folder together or not at all, whatever call fails."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from studio.errors import WriteError
from studio.keep import FileCalls
from studio.papers.together import write_together

NEW = {"a.txt": b"new a", "b.txt": b"new b", "c.txt": b"new c"}


class FailingCalls(FileCalls):
    """File calls of which one fails: the n-th, and with ``for_good`` all after it but removing."""

    def __init__(self, fails_at: int, *, for_good: bool) -> None:
        self.fails_at, self.for_good, self.made = fails_at, for_good, 0

    def __getattribute__(self, name: str) -> Any:
        found = super().__getattribute__(name)
        if name.startswith("_") or not callable(found) or name in ("resolve", "close", "unlink", "counted"):
            return found
        return self.counted(found)

    def counted(self, call: Callable[..., Any]) -> Callable[..., Any]:
        def run(*given: Any) -> Any:
            self.made += 1
            if self.made == self.fails_at or (self.for_good and self.made > self.fails_at):
                raise OSError(28, "No space left on device")
            return call(*given)

        return run


def content(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()} if folder.exists() else {}


def test_all_arrive_in_a_folder_that_is_made(tmp_path: Path) -> None:
    into = tmp_path / "new" / "folder"
    assert write_together(into, NEW) == tuple(into / name for name in NEW)
    assert content(into) == NEW


def test_nothing_is_overwritten_unasked(tmp_path: Path) -> None:
    (tmp_path / "b.txt").write_bytes(b"mine")
    with pytest.raises(WriteError, match=r"b\.txt is already in"):
        write_together(tmp_path, NEW)
    assert content(tmp_path) == {"b.txt": b"mine"}


def test_asked_it_overwrites_and_keeps_mode_and_links(tmp_path: Path) -> None:
    (tmp_path / "away").mkdir()
    kept = tmp_path / "away" / "kept.txt"
    kept.write_bytes(b"old")
    kept.chmod(0o640)
    into = tmp_path / "papers"
    into.mkdir()
    (into / "a.txt").symlink_to(kept)
    write_together(into, NEW, overwrite=True)
    assert content(into) == NEW
    assert (into / "a.txt").is_symlink()
    assert kept.read_bytes() == b"new a"
    assert kept.stat().st_mode & 0o777 == 0o640
    assert list(kept.parent.iterdir()) == [kept]


def test_a_file_that_appears_meanwhile_is_not_touched(tmp_path: Path) -> None:
    class Meanwhile(FileCalls):
        def link(self, there: Path, new: Path) -> None:
            if new.name == "c.txt":
                new.write_bytes(b"someone else's")
            super().link(there, new)

    with pytest.raises(WriteError, match=r"c\.txt is already in"):
        write_together(tmp_path, NEW, calls=Meanwhile())
    assert content(tmp_path) == {"c.txt": b"someone else's"}


def test_a_file_system_without_links_takes_them_too(tmp_path: Path) -> None:
    class NoLinks(FileCalls):
        def link(self, there: Path, new: Path) -> None:
            raise OSError(1, "Operation not permitted")

    write_together(tmp_path, NEW, calls=NoLinks())
    assert content(tmp_path) == NEW


def test_a_folder_of_that_name_is_said(tmp_path: Path) -> None:
    (tmp_path / "a.txt").mkdir()
    with pytest.raises(WriteError, match=r"a\.txt in .* is a folder"):
        write_together(tmp_path, NEW, overwrite=True)


def test_a_file_in_place_of_the_folder_is_said(tmp_path: Path) -> None:
    (tmp_path / "papers").write_bytes(b"mine")
    with pytest.raises(WriteError, match="could not be written into"):
        write_together(tmp_path / "papers", NEW)
    assert content(tmp_path) == {"papers": b"mine"}


@pytest.mark.parametrize("old", [{}, {"b.txt": b"old b"}, dict.fromkeys(NEW, b"old")])
def test_whichever_call_fails_once_the_folder_is_as_it_was(old: dict[str, bytes], tmp_path: Path) -> None:
    failures = 0
    for fails_at in range(1, 60):
        into = tmp_path / str(fails_at)
        if old:
            into.mkdir()
            for name, data in old.items():
                (into / name).write_bytes(data)
        calls = FailingCalls(fails_at, for_good=False)
        said = ""
        try:
            write_together(into, NEW, overwrite=True, calls=calls)
        except WriteError as error:
            said = str(error)
        failures += bool(said)
        assert ("No space left on device" in said) == bool(said)
        assert content(into) == (old if said else NEW)
        assert into.exists() == bool(old or not said)
    assert failures >= 4 * len(NEW)


def test_a_disk_that_fails_for_good_leaves_each_file_old_or_new_and_whole(tmp_path: Path) -> None:
    for fails_at in range(1, 25):
        into = tmp_path / str(fails_at)
        into.mkdir()
        (into / "b.txt").write_bytes(b"old b")
        calls = FailingCalls(fails_at, for_good=True)
        try:
            write_together(into, NEW, overwrite=True, calls=calls)
        except WriteError:
            now = content(into)
            assert now.pop("b.txt") in (b"old b", b"new b")
            assert now == {}
