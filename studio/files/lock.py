"""One writer for a file: a lock that dies with its process.

The lock is held on ``.NAME.lock`` beside the file itself (symbolic links followed, so that every name of a file has
one lock). The system drops it when its process ends, however it ends; a lock file that is left is harmless and is
taken over. Who holds it stands in ``.NAME.holder``, which is only ever read to tell a person.
"""

import errno
import json
import os
import platform
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Self

from filelock import BaseFileLock, FileLock, Timeout

from studio.errors import LockedError
from studio.keep import doing
from studio.text import _

# long enough to take over a lock file that its holder is just removing, short enough for a click
_PATIENCE_S = 0.2
_POLL_S = 0.02


@dataclass(frozen=True)
class Holder:
    """Who holds a lock: the process number and the host it runs on."""

    pid: int
    host: str


class Hold:
    """A lock that is held until ``release``, the end of a ``with`` block, or the end of the process."""

    def __init__(self, lock: BaseFileLock, *, lock_path: Path, holder_path: Path) -> None:
        self._lock = lock
        self._lock_path = lock_path
        self._holder_path = holder_path

    def release(self) -> None:
        """Let go and remove both files; doing it twice does no harm."""
        if not self._lock.is_locked:
            return
        # removed while held, so that nobody else's is removed; whoever waits on the old file sees it unlinked
        for path in (self._holder_path, self._lock_path):
            with suppress(OSError):
                path.unlink()
        with suppress(OSError):
            self._lock.release()
        if (
            os.name == "nt"
        ):  # a held file cannot be removed there; one that the next holder holds cannot either
            with suppress(OSError):
                self._lock_path.unlink()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.release()


def hold(path: Path) -> Hold:
    """Hold the lock of the file ``path``, which need not exist; its folder must.

    Raises LockedError when another process, or another window of this one, holds it, and KeepingError when the
    folder takes no lock (no right to write there, or a file system without locks).
    """
    lock_path, holder_path = _paths(path)
    # not bound to a thread: what one thread opens another may close
    lock = FileLock(lock_path, timeout=_PATIENCE_S, thread_local=False)
    with doing(_("locking the file"), path):
        lock_path.parent.stat()  # the lock would make a folder that is not there
        try:
            lock.acquire(poll_interval=_POLL_S)
        except Timeout:
            raise LockedError(_told(path)) from None
        except NotImplementedError as error:
            raise OSError(errno.ENOTSUP, os.strerror(errno.ENOTSUP)) from error
    with suppress(OSError):  # who holds it is only told; the lock does not need it
        holder_path.write_text(json.dumps({"pid": os.getpid(), "host": platform.node()}), encoding="utf-8")
    return Hold(lock, lock_path=lock_path, holder_path=holder_path)


def holder_of(path: Path) -> Holder | None:
    """Who last took the lock of a file and has not released it; None when nobody did or it cannot be read."""
    try:
        told = json.loads(_paths(path)[1].read_text(encoding="utf-8"))
        return Holder(pid=int(told["pid"]), host=str(told["host"]))
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None


def _paths(path: Path) -> tuple[Path, Path]:
    target = Path(os.path.realpath(path))
    return target.with_name(f".{target.name}.lock"), target.with_name(f".{target.name}.holder")


def _told(path: Path) -> str:
    holder = holder_of(path)
    mend = _("close it there, or open a copy")
    if holder is None:
        return _("{name} in {folder} is open in another window; {mend}").format(
            name=path.name, folder=path.parent, mend=mend
        )
    return _("{name} in {folder} is open in another window (process {pid} on {host}); {mend}").format(
        name=path.name, folder=path.parent, pid=holder.pid, host=holder.host, mend=mend
    )
