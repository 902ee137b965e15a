"""Keeping one design: its file, its lock, its journal.

A ``Keeper`` goes through these states, and a failing call leaves it in the one it was in:

    fresh ──start()──▶ untitled ──save(data, path)──┐
      │                                            ▼
      └──open(path)─────────────────────────────▶ kept ──save / save as──▶ kept
                                                   │
                        any of them ──close()──▶ closed

- ``open`` takes the file's lock, removes what killed processes left, reads the file and looks for journals. What it
  finds is offered, not applied: ``recover`` makes the recovered design the one that is edited, and its journal stays
  and is written on until the design is saved. Edits without ``recover`` get a journal of their own beside it.
- ``note`` journals an edit in the background.
- ``save`` compares the file on the disk with what was last read or written here, tells the journal what is about to be
  written, writes the file whole, and only then forgets the edits that are in it. Killed at any point of this, the file
  is the old or the new version, and the journal fits it.
- ``close`` keeps the journal of unsaved edits, or throws it away when the person said so.

Bytes go in and out; what they mean is the caller's matter.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from studio.errors import KeepingError, LockedError
from studio.files.journal import Journal
from studio.files.lock import Hold, hold
from studio.files.recovery import Recovery, look_for_recovery
from studio.keep import CALLS, FileCalls, clean_strays, doing, fingerprint, write_whole
from studio.text import _


class ChangedOnDiskError(KeepingError):
    """Another program changed the file since it was last read or written here: save a copy, reload or compare."""


class AlreadyThereError(KeepingError):
    """A file of that name exists and nobody said to overwrite it."""


@dataclass(frozen=True)
class Opened:
    """The bytes of a file, and what a crash left beside it.

    ``locked`` is False where the folder takes no lock (nothing can be written there, or the file system has none);
    then only the comparison before each save guards the file.
    """

    data: bytes
    recovery: Recovery | None
    locked: bool


class Keeper:
    """The keeping of one open design; for the next design make another one.

    ``document_of`` gives the design in the bytes of a site file as a JSON tree, the same tree that is journalled, and
    raises StillfieldError when they are not one. ``tell`` hears of what went wrong in the background: the journal
    cannot be written, or one could not be read; it may be called on another thread. ``state_folder`` stands in for
    the platform's.
    """

    def __init__(
        self,
        *,
        document_of: Callable[[bytes], object],
        tell: Callable[[KeepingError], None],
        state_folder: Path | None = None,
        calls: FileCalls = CALLS,
    ) -> None:
        self._document_of = document_of
        self._tell = tell
        self._state_folder = state_folder
        self._calls = calls
        self._path: Path | None = None
        self._hold: Hold | None = None
        self._journal: Journal | None = None
        # fingerprints the file on the disk may have: what was last read or written here, and after a failed save,
        # which may have got as far as the new file, that too
        self._known: set[str] = set()

    @property
    def path(self) -> Path | None:
        """The file, None while untitled."""
        return self._path

    def start(self) -> None:
        """Begin a design that has no file yet."""
        self._expect_fresh()
        self._journal = self._new_journal(None)

    def open(self, path: Path) -> Opened:
        """Lock and read a file and look for what a crash left beside it.

        Raises LockedError when it is open elsewhere, KeepingError when it cannot be read.
        """
        self._expect_fresh()
        held = _hold_if_possible(path)
        try:
            if held is not None:
                target = self._resolve(path)
                clean_strays(target.parent, locked=(target.name, f"{target.name}.journal"), calls=self._calls)
            data = self._read(path)
            recovery = look_for_recovery(
                path, document_of=self._document_of, tell=self._tell, tidy=held is not None, calls=self._calls
            )
        except BaseException:
            if held is not None:
                held.release()
            raise
        self._path, self._hold, self._known = path, held, {fingerprint(data)}
        self._journal = self._new_journal(path, of=fingerprint(data))
        return Opened(data=data, recovery=recovery, locked=held is not None)

    def recover(self, recovery: Recovery) -> bytes:
        """Go on from a recovered design; its document.

        It is not the file until it is saved: its journal stays, and is written on. Edits noted before stay in the
        journal they have. A fresh keeper takes up a design that was never saved; LockedError when another window has.
        """
        journal = self._new_journal(self._path, of=recovery.of, continues=recovery)
        if self._journal is not None:
            self._journal.close()
        self._journal = journal
        return recovery.document

    def note(self, label: str, produce: Callable[[], bytes]) -> int:
        """Journal an edit within a second; its number. ``produce``: see ``Journal.note``. Raises nothing."""
        return self._open_journal().note(label, produce)

    def save(
        self, data: bytes, path: Path | None = None, *, up_to: int | None = None, overwrite: bool = False
    ) -> str:
        """Write the file; its fingerprint.

        ``path`` is where, if not where it was; the design belongs there from then on. ``up_to`` is the number of the
        last edit that is in ``data``: all so far without it. ``overwrite`` writes over a file that changed on the disk
        (it stays as the version before), or over another one that is there.

        Raises ChangedOnDiskError, AlreadyThereError, LockedError, or KeepingError for a failed call; the design stays
        open and journalled, and the file is whole.
        """
        journal = self._open_journal()
        up_to = journal.revision if up_to is None else up_to
        target = path if path is not None else self._path
        if target is None:
            raise KeepingError(_("this design has no file yet; choose a name to save it under"))
        if self._path is not None and self._resolve(target) == self._resolve(self._path):
            if not overwrite:
                self._expect_unchanged(self._path)
            journal.saving(fingerprint(data))
            self._known.add(fingerprint(data))
            saved = write_whole(self._path, data, calls=self._calls)
            journal.discard(up_to=up_to, of=saved)
        else:
            saved = self._save_as(target, data, journal=journal, up_to=up_to, overwrite=overwrite)
        self._known = {saved}
        return saved

    def save_copy(self, data: bytes, path: Path, *, overwrite: bool = False) -> str:
        """Write the design to another file and stay with this one; the copy's fingerprint. Errors as ``save``."""
        held = _hold_if_possible(path)
        try:
            return self._write_other(path, data, overwrite=overwrite)
        finally:
            if held is not None:
                held.release()

    def look(self) -> bytes:
        """The file as it is on the disk now, to compare with; nothing changes."""
        return self._read(self._expect_path())

    def reload(self) -> bytes:
        """Take the file as it is on the disk now and forget the edits made here; its bytes."""
        data = self._read(self._expect_path())
        self._open_journal().discard(of=fingerprint(data))
        self._known = {fingerprint(data)}
        return data

    def close(self, *, discard: bool = False) -> None:
        """Let go of the file. Unsaved edits stay in the journal unless ``discard``."""
        if self._journal is not None:
            if discard:
                self._journal.discard()
            self._journal.close()
        if self._hold is not None:
            self._hold.release()
        self._path, self._hold, self._journal, self._known = None, None, None, set()

    def _save_as(self, path: Path, data: bytes, *, journal: Journal, up_to: int, overwrite: bool) -> str:
        held = _hold_if_possible(path)
        try:
            saved = self._write_other(path, data, overwrite=overwrite)
        except BaseException:
            if held is not None:
                held.release()
            raise
        journal.discard(up_to=up_to, of=saved, site_path=path)
        if self._hold is not None:
            self._hold.release()
        self._path, self._hold = path, held
        return saved

    def _write_other(self, path: Path, data: bytes, *, overwrite: bool) -> str:
        if not overwrite and self._fingerprint_on_disk(path) is not None:
            raise AlreadyThereError(
                _(
                    "{name} in {folder} is already there; choose another name, or say that it may be overwritten"
                ).format(name=path.name, folder=path.parent)
            )
        return write_whole(path, data, calls=self._calls)

    def _expect_unchanged(self, path: Path) -> None:
        on_disk = self._fingerprint_on_disk(path)
        if on_disk is not None and on_disk not in self._known:  # a file that is gone has nothing to lose
            raise ChangedOnDiskError(
                _(
                    "{name} in {folder} was changed by another program since it was opened or saved here; "
                    "save a copy, reload it or compare the two"
                ).format(name=path.name, folder=path.parent)
            )

    def _fingerprint_on_disk(self, path: Path) -> str | None:
        try:
            return fingerprint(self._read(path))
        except KeepingError as error:
            if isinstance(error.__cause__, FileNotFoundError):
                return None
            raise

    def _resolve(self, path: Path) -> Path:
        with doing(_("looking at the file"), path):
            return self._calls.resolve(path)

    def _read(self, path: Path) -> bytes:
        with doing(_("reading the file"), path):
            return self._calls.read(self._calls.resolve(path))

    def _new_journal(
        self, path: Path | None, *, of: str | None = None, continues: Recovery | None = None
    ) -> Journal:
        return Journal(
            path,
            of=of,
            continues=continues,
            on_error=self._tell,
            state_folder=self._state_folder,
            calls=self._calls,
        )

    def _expect_fresh(self) -> None:
        if self._journal is not None:
            raise RuntimeError("a keeper keeps one design: close it, or make another one")

    def _expect_path(self) -> Path:
        if self._path is None:
            raise RuntimeError("no file is open")
        return self._path

    def _open_journal(self) -> Journal:
        if self._journal is None:
            raise RuntimeError("no design is open")
        return self._journal


def _hold_if_possible(path: Path) -> Hold | None:
    try:
        return hold(path)
    except LockedError:
        raise
    except KeepingError:
        return None  # no right to write there, or no locks: reading is still right, and saving says what is wrong
