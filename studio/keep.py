"""Keeping bytes: whole or not at all, and known by their fingerprint.

``write_whole`` never writes in place and never deletes before it renames:

1. follow symbolic links to the file itself (the link survives) and take its mode bits;
2. write a temporary file in the same folder, under a name that says whose it is, with the mode bits, and fsync it;
3. read it back and compare its sha256; until here the old file has not been touched;
4. keep the version before as ``NAME~``: a second link to it (a copy where links are not known), moved into place;
5. move the temporary file over the old one in one step, and fsync the folder;
6. read the file back and compare once more; if it differs, put the version before back.

Whatever call fails, once or for good, the file is the old or the new one, whole, and the error is one sentence. A
process killed on the way leaves a temporary file at worst; ``clean_strays`` takes it away at the next start.

This module imports little on purpose: it is needed before anything else is.
"""

import errno
import hashlib
import json
import os
import platform
import re
import secrets
import stat
import sys
import time
from collections.abc import Collection, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from studio.errors import KeepingError
from studio.text import _

BACKUP_MARK = "~"
PART_ENDING = ".stillfield-part"

_PART = re.compile(
    r"\.(?P<stem>.+)\.(?P<host>[0-9a-f]{8})-(?P<pid>\d+)-[0-9a-f]{8}\.stillfield-part", re.DOTALL
)
_LONGEST_STEM = 150  # bytes; file systems end names at 255, and a part's name adds some fifty
_REPLACE_TRIES = 20
_REPLACE_PAUSE_S = 0.05

# temporary files this process is writing right now; others under its number are from an earlier life of the number
_being_written: set[Path] = set()


class FileCalls:
    """Every call to the file system that keeping makes, one method each, so that a test can make each of them fail.

    Bytes go straight to the descriptor: there is no buffer of ours that a flush could lose.
    """

    def resolve(self, path: Path) -> Path:
        """The file itself, with every symbolic link followed; it need not exist."""
        return Path(os.path.realpath(path))  # unlike Path.resolve it leaves a ring of links to the next call

    def mode(self, path: Path) -> int:
        """The mode bits of a file; FileNotFoundError when there is none."""
        return stat.S_IMODE(path.stat().st_mode)

    def create(self, path: Path, mode: int) -> int:
        """A descriptor of a new file to write in; FileExistsError when there is one."""
        return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)

    def write(self, descriptor: int, data: memoryview) -> int:
        """Write what fits; how many bytes did."""
        return os.write(descriptor, data)

    def sync(self, descriptor: int) -> None:
        """Wait until what was written is on the disk."""
        if sys.platform == "darwin":
            import fcntl

            with suppress(
                OSError
            ):  # fsync there only reaches the drive; file systems without this call fall through
                fcntl.fcntl(descriptor, fcntl.F_FULLFSYNC)
                return
        os.fsync(descriptor)

    def close(self, descriptor: int) -> None:
        """Close a descriptor."""
        os.close(descriptor)

    def chmod(self, path: Path, mode: int) -> None:
        """Set mode bits."""
        path.chmod(mode)

    def read(self, path: Path) -> bytes:
        """The whole file."""
        return path.read_bytes()

    def size(self, path: Path) -> int:
        """The length of a file in bytes."""
        return path.stat().st_size

    def link(self, there: Path, new: Path) -> None:
        """A second name for the same file."""
        new.hardlink_to(there)

    def replace(self, source: Path, target: Path) -> None:
        """Move ``source`` over ``target`` in one step."""
        for tries_left in reversed(range(_REPLACE_TRIES)):
            try:
                source.replace(target)
                return
            except PermissionError:
                # on Windows a virus scanner or an indexer may hold either file for a moment
                if sys.platform != "win32" or not tries_left:
                    raise
                time.sleep(_REPLACE_PAUSE_S)

    def sync_folder(self, folder: Path) -> None:
        """Wait until the names in a folder are on the disk; Windows has no such call and needs none."""
        if sys.platform == "win32":
            return
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        except OSError as error:
            if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # a file system that cannot sync folders
                raise
        finally:
            os.close(descriptor)

    def unlink(self, path: Path) -> None:
        """Remove a name; FileNotFoundError when there is none."""
        path.unlink()

    def names(self, folder: Path) -> list[str]:
        """The names in a folder, sorted."""
        return sorted(entry.name for entry in folder.iterdir())


CALLS = FileCalls()


def fingerprint(data: bytes) -> str:
    """The sha256 of bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def canonical_json(tree: object) -> bytes:
    """The one JSON text of a tree of dicts, lists, texts, numbers, booleans and None, in UTF-8.

    Keys are sorted, nothing is spaced, floats take their shortest form that reads back equal (``1`` and ``1.0`` stay
    two things, as do ``0.0`` and ``-0.0``). Raises ValueError for NaN, infinity or half a surrogate pair, TypeError
    for anything JSON does not know.
    """
    text = json.dumps(tree, sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.encode("utf-8")


def write_whole(path: Path, data: bytes, *, backup: bool = True, calls: FileCalls = CALLS) -> str:
    """Make ``data`` the content of the file ``path``, whole or not at all; its fingerprint.

    With ``backup`` the version before stays beside the file as ``NAME~``; if it holds the very same bytes nothing is
    written, so that saving twice does not lose the version before. Mode bits and symbolic links survive.

    Raises KeepingError, in one sentence, when any file call fails; the file is then the old or the new one, whole.
    """
    wanted = fingerprint(data)
    with doing(_("looking at the file"), path):
        target = calls.resolve(path)
        mode = _mode(target, calls)
    if mode is not None and not mode & 0o222:
        raise KeepingError(
            _("{name} in {folder} is write-protected; allow writing to it or save under another name").format(
                name=target.name, folder=target.parent
            )
        )
    if backup and mode is not None:
        with doing(_("reading the version before"), path):
            same = calls.read(target) == data
        if same:
            return wanted
    part, link = _part(target), _part(target)
    _being_written.update((part, link))
    try:
        with doing(_("writing the new version"), path):
            _write_part(part, data, mode, calls)
        with doing(_("reading the new version back"), path):
            whole = fingerprint(calls.read(part)) == wanted
        if not whole:
            raise KeepingError(_differs(path, _("the version before is untouched")))
        if backup and mode is not None:
            with doing(_("keeping the version before"), path):
                _back_up(target, link, calls)
        with doing(_("putting the new version in place"), path):
            calls.replace(part, target)
        with doing(_("making the new version outlast a power cut"), path):
            calls.sync_folder(target.parent)
        with doing(_("reading the file back"), path):
            whole = fingerprint(calls.read(target)) == wanted
        if not whole:
            raise KeepingError(
                _differs(path, _take_back(target, link, kept=backup, new=mode is None, calls=calls))
            )
    finally:
        for stray in (part, link):
            with suppress(OSError):  # what cannot be removed now is removed at the next start
                calls.unlink(stray)
            _being_written.discard(stray)
    return wanted


def backup_of(path: Path) -> Path:
    """Where the version before of a file is kept."""
    return path.with_name(path.name + BACKUP_MARK)


def clean_strays(folder: Path, *, locked: Collection[str] = (), calls: FileCalls = CALLS) -> tuple[Path, ...]:
    """Remove the temporary files that killed processes left in a folder; those removed.

    A temporary file goes when its process (host and number are in its name) is dead, or when it belongs to a file
    whose name is in ``locked``: one whose lock the caller holds, so that nobody else can be writing it. What a living
    process, or one on another host, is writing stays. What cannot be removed is left for the next start.
    """
    stems = {_stem(name) for name in locked}
    removed = []
    with suppress(OSError):
        for name in calls.names(folder):
            found = _PART.fullmatch(name)
            if found is None or folder / name in _being_written:
                continue
            dead = found["host"] == _host() and not _alive(int(found["pid"]))
            if dead or found["stem"] in stems:
                with suppress(OSError):
                    calls.unlink(folder / name)
                    removed.append(folder / name)
    return tuple(removed)


@contextmanager
def doing(what: str, path: Path) -> Iterator[None]:
    """Turn an OSError of the block into a KeepingError of one sentence: which step, which file, why, what helps."""
    try:
        yield
    except OSError as error:
        raise KeepingError(explain(what, path, error)) from error


def explain(what: str, path: Path, error: OSError) -> str:
    """One sentence about a failed file call: the step, the file, the reason and what helps."""
    match errno.errorcode.get(error.errno or 0):
        case "ENOSPC" | "EDQUOT" | "EFBIG":
            reason = _("the disk is full")
            mend = _("free some space and try again, or choose a folder on another disk")
        case "EACCES" | "EPERM" | "EROFS":
            reason = _("there is no right to do that there")
            mend = _("choose another folder or ask for the right to write in this one")
        case "EIO":
            reason = _("the disk reported an input or output error")
            mend = _("choose a folder on another disk and check this one")
        case "ENOENT" | "ENOTDIR" | "ESTALE":
            reason = _("the file or its folder is not there")
            mend = _("bring it back or choose another one")
        case "EISDIR":
            reason = _("it is a folder")
            mend = _("choose the name of a file")
        case "ENAMETOOLONG":
            reason = _("the name is too long")
            mend = _("choose a shorter name")
        case "EBUSY" | "ETXTBSY":
            reason = _("another program is holding the file")
            mend = _("close it there and try again")
        case _other:
            reason = _("the system said: {text}").format(text=error.strerror or type(error).__name__)
            mend = _("try again or choose another folder")
    return _("{name} in {folder}: {what} failed because {reason}; {mend}").format(
        name=path.name, folder=path.parent, what=what, reason=reason, mend=mend
    )


def _mode(target: Path, calls: FileCalls) -> int | None:
    try:
        return calls.mode(target)
    except FileNotFoundError:
        return None


def _write_part(part: Path, data: bytes, mode: int | None, calls: FileCalls) -> None:
    # a file that was private is private from its first byte on; a new one gets what the umask allows
    descriptor = calls.create(part, 0o666 if mode is None else 0o600)
    try:
        rest = memoryview(data)
        while rest:
            count = calls.write(descriptor, rest)
            if not count:  # a disk that takes nothing and gives no reason would hold us here for ever
                raise OSError(errno.EIO, os.strerror(errno.EIO))
            rest = rest[count:]
        if mode is not None:
            calls.chmod(part, mode)
        calls.sync(descriptor)
    finally:
        calls.close(descriptor)


def _back_up(target: Path, link: Path, calls: FileCalls) -> None:
    _double(target, link, calls)
    # where the backup already is the same file this does nothing, and the caller removes the link
    calls.replace(link, backup_of(target))


def _double(there: Path, new: Path, calls: FileCalls) -> None:
    """A second name for the same file, or a copy where the file system has no links or no more of them."""
    try:
        calls.link(there, new)
    except OSError:
        with suppress(OSError):  # over a network a call may report a failure and yet have been done
            calls.unlink(new)
        _write_part(new, calls.read(there), calls.mode(there), calls)


def _take_back(target: Path, link: Path, *, kept: bool, new: bool, calls: FileCalls) -> str:
    """Put the version before back after a bad read-back; what to say about it."""
    try:
        if new:
            calls.unlink(target)
            return _("the file was removed again")
        if not kept:
            return _("no version before was kept of it")
        _double(backup_of(target), link, calls)
        calls.replace(link, target)
        calls.sync_folder(target.parent)
        return _("the version before was put back")
    except OSError:
        if new:
            return _("the file could not be removed again")
        return _("the version before is in {name}").format(name=backup_of(target).name)


def _differs(path: Path, outcome: str) -> str:
    return _(
        "{name} in {folder}: what was read back is not what was written, and {outcome}; "
        "choose a folder on another disk and check this one"
    ).format(name=path.name, folder=path.parent, outcome=outcome)


def _stem(name: str) -> str:
    if len(os.fsencode(name)) <= _LONGEST_STEM:
        return name
    return fingerprint(os.fsencode(name))[:32]


def _part(target: Path) -> Path:
    name = f".{_stem(target.name)}.{_host()}-{os.getpid()}-{secrets.token_hex(4)}{PART_ENDING}"
    return target.with_name(name)


def _host() -> str:
    return fingerprint(platform.node().encode())[:8]


def _alive(pid: int) -> bool:
    """Whether a process of this host lives; our own number counts as dead: what we write now is known by name."""
    if pid == os.getpid():
        return False
    if sys.platform == "win32":
        import ctypes

        query_limited, still_active = 0x1000, 259
        handle = ctypes.windll.kernel32.OpenProcess(query_limited, False, pid)
        if not handle:
            return bool(ctypes.windll.kernel32.GetLastError() == 5)  # no right to look: it is there
        code = ctypes.c_ulong()
        known = ctypes.windll.kernel32.GetExitCodeProcess(handle, ctypes.byref(code))
        ctypes.windll.kernel32.CloseHandle(handle)
        return not known or code.value == still_active
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except OverflowError:  # not a number that any process has
        return False
    except OSError:
        return True
    return True
