"""One writer for a file, by a lock that dies with its process."""

import os
import platform
import subprocess
import sys
import threading
from pathlib import Path

import pytest

import studio
from studio.errors import KeepingError, LockedError
from studio.files.lock import Holder, hold, holder_of

HOLDING = """
import sys, time
from pathlib import Path
from studio.files.lock import hold
held = hold(Path(sys.argv[1]))
print("held", flush=True)
sys.stdin.readline()
"""


def holding(path: Path) -> subprocess.Popen[str]:
    """A process that holds the lock of ``path`` until it is killed or its input ends."""
    child = subprocess.Popen(
        [sys.executable, "-c", HOLDING, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=Path(studio.__file__).parent.parent,
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "held\n"
    return child


def test_a_second_window_is_told_who_holds_the_file(tmp_path: Path) -> None:
    path = tmp_path / "site.json"
    with hold(path):
        assert holder_of(path) == Holder(pid=os.getpid(), host=platform.node())
        with pytest.raises(
            LockedError, match=rf"open in another window \(process {os.getpid()} on .+\); close it"
        ):
            hold(path)
    with hold(path):
        pass
    assert list(tmp_path.iterdir()) == []


def test_another_process_is_refused_and_its_death_frees_the_file(tmp_path: Path) -> None:
    path = tmp_path / "site.json"
    with holding(path) as child:
        with pytest.raises(LockedError, match=f"process {child.pid} on"):
            hold(path)
        child.kill()
        child.wait()
        assert sorted(p.name for p in tmp_path.iterdir()) == [".site.json.holder", ".site.json.lock"]
        with hold(path):
            told = holder_of(path)
            assert told is not None
            assert told.pid == os.getpid()
    assert list(tmp_path.iterdir()) == []


def test_a_lock_file_that_was_left_is_harmless(tmp_path: Path) -> None:
    (tmp_path / ".site.json.lock").write_bytes(b"left by something else")
    (tmp_path / ".site.json.holder").write_bytes(b"[" * 100_000)
    assert holder_of(tmp_path / "site.json") is None
    hold(tmp_path / "site.json").release()
    assert list(tmp_path.iterdir()) == []


def test_a_holder_that_cannot_be_read_is_still_refused(tmp_path: Path) -> None:
    path = tmp_path / "site.json"
    with hold(path):
        (tmp_path / ".site.json.holder").write_bytes(b"{}")
        with pytest.raises(LockedError, match="is open in another window; close it there"):
            hold(path)


@pytest.mark.skipif(sys.platform == "win32", reason="symbolic links need a right there")
def test_every_name_of_a_file_has_the_same_lock(tmp_path: Path) -> None:
    (tmp_path / "site.json").write_bytes(b"{}")
    (tmp_path / "link").symlink_to("site.json")
    with hold(tmp_path / "link"), pytest.raises(LockedError):
        hold(tmp_path / "site.json")


def test_releasing_twice_does_not_take_the_lock_of_the_next(tmp_path: Path) -> None:
    path = tmp_path / "site.json"
    first = hold(path)
    first.release()
    with hold(path):
        first.release()
        with pytest.raises(LockedError):
            hold(path)


def test_what_one_thread_holds_another_may_release(tmp_path: Path) -> None:
    held = hold(tmp_path / "site.json")
    thread = threading.Thread(target=held.release)
    thread.start()
    thread.join()
    hold(tmp_path / "site.json").release()


def test_a_folder_that_is_gone_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(
        KeepingError, match="locking the file failed because the file or its folder is not there"
    ):
        hold(tmp_path / "gone" / "site.json")
    assert list(tmp_path.iterdir()) == []
