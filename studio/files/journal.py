"""The journal: what was edited since the last save, on the disk at most a second behind the hand.

It lies beside the site file as ``NAME.journal`` (for a design that was never saved, in the platform's state folder) and
is written whole each time, in the background. It holds the design only, never weather, rasters or pictures:

    {"format": "stillfield-journal", "version": 1, "of": fingerprint of the saved file the edits started from or null,
     "saving": fingerprint of the file a save was about to write or null, "revision": edits so far,
     "written_at": ISO 8601 in UTC, "label": the last edit, "checksum": sha256 of the canonical document, "document": ...}

**A journal never writes over one that it does not contain.** It writes a file of its own: a free name
(``NAME.journal``, else ``NAME.journal-2`` and so on), or that of the recovered journal it continues. So a crash after a
crash, even with the first recovery declined or itself cut off, leaves every version on the disk until the design is
saved. ``recovery`` finds them again.
"""

import json
import re
import secrets
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Protocol

from studio.errors import KeepingError
from studio.keep import CALLS, FileCalls, canonical_json, doing, explain, fingerprint, write_whole
from studio.text import _

FORMAT = "stillfield-journal"
VERSION = 1
UNTITLED = "untitled"

_PAUSE_S = 0.25  # between two writings; with the writing itself well below the second that is promised
_RETRY_S = 0.75  # after a failed one


class Continued(Protocol):
    """What a journal needs to know of the recovered one it goes on from."""

    @property
    def path(self) -> Path: ...
    @property
    def revision(self) -> int: ...


class Released(Protocol):
    """A lock that can be let go."""

    def release(self) -> None: ...


@dataclass(frozen=True)
class _Edit:
    revision: int
    label: str
    produce: Callable[[], bytes]


class Journal:
    """The journal of one open design.

    ``site_path`` is the file it belongs to, None for a design never saved. ``of`` is the fingerprint of the saved file
    the edits start from. ``continues`` is the recovered journal whose document the edits start from: its file is
    written on. ``on_error`` is told, once until a writing succeeds again, that the journal cannot be written; it is
    called on the writing thread or on the caller's.
    """

    def __init__(
        self,
        site_path: Path | None,
        *,
        of: str | None = None,
        continues: Continued | None = None,
        on_error: Callable[[KeepingError], None],
        state_folder: Path | None = None,
        pause_s: float = _PAUSE_S,
        calls: FileCalls = CALLS,
    ) -> None:
        self._site_path = site_path
        self._of = of
        self._saving: str | None = None
        self._on_error = on_error
        self._state_folder = state_folder
        self._pause_s = pause_s
        self._calls = calls
        self._path = continues.path if continues else None
        self._lock: Released | None = None
        if continues and site_path is None:
            self._lock = _hold(continues.path)
        self._revision = continues.revision if continues else 0
        self._edit: _Edit | None = None
        self._on_disk: tuple[int, str | None, str | None] | None = None
        self._told = False
        self._closed = False
        self._thread: threading.Thread | None = None
        self._file = threading.RLock()  # who writes or removes the file; taken before the next one
        self._state = threading.Condition()  # who reads or sets the fields above

    @property
    def path(self) -> Path | None:
        """Where the journal is on the disk; None before the first writing and after a discard."""
        with self._state:
            return self._path

    @property
    def revision(self) -> int:
        """The number of the last edit noted."""
        with self._state:
            return self._revision

    def note(self, label: str, produce: Callable[[], bytes]) -> int:
        """Note an edit, to be written within a second; its number.

        ``produce`` gives the edited design as JSON. It is called later, on the writing thread and only for the
        newest edit, so it must work on a frozen document. Nothing is raised into the edit.
        """
        with self._state:
            self._revision += 1
            self._edit = _Edit(self._revision, label, produce)
            if self._thread is None and not self._closed:
                self._thread = threading.Thread(target=self._keep_writing, name="journal", daemon=True)
                self._thread.start()
            self._state.notify_all()
            return self._revision

    def flush(self) -> bool:
        """Write what is not on the disk yet; whether all is there now (``on_error`` was told if not)."""
        return self._write()

    def saving(self, of: str) -> bool:
        """Say, and flush, that a save is about to write the file with this fingerprint.

        A crash inside the save then leaves a journal that fits the file, whether it is the old or the new one.
        """
        with self._state:
            self._saving = of
        return self._write()

    def discard(
        self, *, up_to: int | None = None, of: str | None = None, site_path: Path | None = None
    ) -> None:
        """Forget the edits up to number ``up_to`` (all without it): they are saved, or not wanted.

        Edits noted since stay and are written anew. After a save ``of`` is the fingerprint of the saved file, and
        ``site_path`` where it is if that is another place than before.
        """
        with self._file:
            with self._state:
                old, lock = self._path, self._lock
                if of is not None:
                    self._of, self._saving = of, None
                if site_path is not None:
                    self._site_path = site_path
                if up_to is None or (self._edit is not None and self._edit.revision <= up_to):
                    self._edit = None
                self._on_disk = None
                moved = site_path is not None or self._edit is None
                if moved:
                    self._path, self._lock = None, None
            # later edits are on the disk in the new place before they leave the old one
            if self._write() and moved and old is not None:
                self._remove(old)
            if moved and lock is not None:
                lock.release()

    def close(self) -> None:
        """Flush and stop. The journal stays on the disk unless all its edits were discarded before."""
        with self._state:
            self._closed = True
            thread = self._thread
            self._state.notify_all()
        if thread is not None:
            thread.join()
        self._write()
        if self._lock is not None:
            self._lock.release()

    def _keep_writing(self) -> None:
        while True:
            with self._state:
                self._state.wait_for(lambda: self._closed or self._behind())
                if self._closed:
                    return
            written = self._write()
            with self._state:
                self._state.wait_for(lambda: self._closed, self._pause_s if written else _RETRY_S)

    def _behind(self) -> bool:
        return self._edit is not None and self._on_disk != (self._edit.revision, self._of, self._saving)

    def _write(self) -> bool:
        with self._file:
            with self._state:
                if self._edit is None or not self._behind():
                    return True
                edit, of, saving = self._edit, self._of, self._saving
            try:
                body = _body(edit, of=of, saving=saving)
                write_whole(self._own_path(), body, backup=False, calls=self._calls)
            except KeepingError as error:
                self._tell(error)
                return False
            with self._state:
                self._on_disk = (edit.revision, of, saving)
                self._told = False
            return True

    def _own_path(self) -> Path:
        with self._state:
            path, site_path = self._path, self._site_path
        if path is not None:
            return path
        if site_path is not None:
            with doing(_("looking for a name for the journal"), site_path):
                path = free_path(site_path, calls=self._calls)
        else:
            folder = state_folder(self._state_folder)
            with doing(_("making the folder for journals"), folder):
                folder.mkdir(parents=True, exist_ok=True)
            path = folder / f"{UNTITLED}-{secrets.token_hex(6)}.journal"
            self._lock = _hold(path)
        with self._state:
            self._path = path
        return path

    def _remove(self, path: Path) -> None:
        try:
            self._calls.unlink(path)
        except FileNotFoundError:
            return
        except OSError as error:
            self._tell(KeepingError(explain(_("removing the journal"), path, error)))

    def _tell(self, error: KeepingError) -> None:
        with self._state:
            told, self._told = self._told, True
        if not told:
            self._on_error(error)


def journals_of(site_path: Path, *, calls: FileCalls = CALLS) -> tuple[tuple[int, Path], ...]:
    """The journals beside a site file, each with its number, the highest (the last begun) first.

    Raises OSError when the folder cannot be read.
    """
    target = calls.resolve(site_path)
    pattern = re.compile(re.escape(target.name) + r"\.journal(?:-(\d{1,9}))?")
    found = (pattern.fullmatch(name) for name in calls.names(target.parent))
    return tuple(sorted(((int(m[1] or 1), target.with_name(m[0])) for m in found if m), reverse=True))


def free_path(site_path: Path, *, calls: FileCalls = CALLS) -> Path:
    """A name for a new journal of a site file, after all that are there; OSError as in ``journals_of``."""
    target = calls.resolve(site_path)
    there = journals_of(site_path, calls=calls)
    ending = f".journal-{there[0][0] + 1}" if there else ".journal"
    return target.with_name(target.name + ending)


def state_folder(given: Path | None = None) -> Path:
    """The folder for journals of designs that were never saved: ``given``, or the platform's state folder."""
    if given is not None:
        return given
    import platformdirs

    return platformdirs.user_state_path("stillfield", appauthor=False)


def _hold(path: Path) -> Released:
    from studio.files.lock import hold  # only designs without a file need it here

    return hold(path)


def _body(edit: _Edit, *, of: str | None, saving: str | None) -> bytes:
    """The bytes of a journal; KeepingError when the document cannot be made or is not JSON."""
    try:
        document = canonical_json(json.loads(edit.produce()))
    except Exception as error:  # whatever a document raises, the thread must live and the person be told
        raise KeepingError(
            _("the edit {label} cannot be journalled because {reason}; save the design now").format(
                label=repr(edit.label), reason=error
            )
        ) from error
    head = {
        "format": FORMAT,
        "version": VERSION,
        "of": of,
        "saving": saving,
        "revision": edit.revision,
        "written_at": datetime.now(UTC).isoformat(timespec="milliseconds"),
        "label": edit.label,
        "checksum": fingerprint(document),
    }
    return json.dumps(head).encode()[:-1] + b', "document": ' + document + b"}\n"
