"""What a crash left behind, found again by content and checksum and never by the time of a file.

A journal whose document equals the saved file's has nothing to give and is removed. One that started from the file as
it is now holds the edits after the last save; one that started from another version of the file is offered as that.
Looking deletes nothing else and recovering neither: a journal goes when the design is saved, or when a person throws
it away (``forget``). A journal that cannot be read is set aside under another name and told.
"""

import json
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from enum import Enum
from pathlib import Path
from typing import NoReturn

from studio.errors import KeepingError, LockedError, StillfieldError
from studio.files.journal import FORMAT, UNTITLED, VERSION, journals_of, state_folder
from studio.keep import CALLS, FileCalls, canonical_json, clean_strays, doing, explain, fingerprint
from studio.text import _

LARGEST_JOURNAL = 64 * 2**20  # bytes; a journal holds no assets
_BROKEN_MARK = ".broken"


class Kind(Enum):
    """What the edits of a journal are to the file they lie beside."""

    AFTER_LAST_SAVE = "after_last_save"
    ANOTHER_VERSION = "another_version"
    UNTITLED = "untitled"

    @property
    def told(self) -> str:
        """The kind as a person reads it."""
        return {
            Kind.AFTER_LAST_SAVE: _("edits after the last save"),
            Kind.ANOTHER_VERSION: _("edits made to another version of this file"),
            Kind.UNTITLED: _("edits of a design that was never saved"),
        }[self]


@dataclass(frozen=True)
class Recovery:
    """A design that a crash left in a journal.

    ``of`` is the fingerprint of the saved file it started from, ``revision`` the number of its last edit, ``label`` what
    that was, ``written_at`` when it was written by the clock of that day (ISO 8601, UTC; told, never reasoned with),
    ``document`` the design in canonical JSON. ``others`` are further journals of the same file, each offered alike.
    """

    path: Path
    kind: Kind
    of: str | None
    revision: int
    written_at: str
    label: str
    document: bytes
    others: tuple["Recovery", ...] = ()


@dataclass(frozen=True)
class _Content:
    of: str | None
    saving: str | None
    revision: int
    written_at: str
    label: str
    document: bytes


class _NewerJournalError(KeepingError):
    """Written by a later Stillfield: whole, but not for us."""


class _BrokenJournalError(KeepingError):
    """Not what a journal is."""


def look_for_recovery(
    site_path: Path,
    *,
    document_of: Callable[[bytes], object],
    tell: Callable[[KeepingError], None],
    tidy: bool = True,
    calls: FileCalls = CALLS,
) -> Recovery | None:
    """What the journals beside a site file hold that the file does not; None when there is nothing.

    ``document_of`` gives the design in the bytes of a site file as a JSON tree, the same tree that is journalled; it
    raises StillfieldError when they are not a site file. ``tell`` hears of every journal that could not be read. Edits
    after the last save come first, then the journal begun last. With ``tidy`` journals that hold nothing new are
    removed and broken ones set aside; call it so only while holding the file's lock.

    Raises KeepingError when the folder or the file cannot be read (a missing file is no error: its journal remains).
    """
    with doing(_("looking for a journal"), site_path):
        journals = journals_of(site_path, calls=calls)
    if not journals:
        return None
    saved, document = _saved(site_path, document_of, calls)
    found = []
    for _number, path in journals:
        content = _content_or_tell(path, tell=tell, tidy=tidy, calls=calls)
        if content is None:
            continue
        if content.document == document:
            if tidy:
                with suppress(OSError):  # it says the same as the file, and is found equal again next time
                    calls.unlink(path)
            continue
        fits = saved is not None and saved in (content.of, content.saving)
        found.append(_recovery(path, content, Kind.AFTER_LAST_SAVE if fits else Kind.ANOTHER_VERSION))
    found.sort(key=lambda one: one.kind is not Kind.AFTER_LAST_SAVE)  # stable: the last begun stay first
    return replace(found[0], others=tuple(found[1:])) if found else None


def find_untitled(
    *, tell: Callable[[KeepingError], None], folder: Path | None = None, calls: FileCalls = CALLS
) -> tuple[Recovery, ...]:
    """The designs that were never saved and whose process is gone; those still open somewhere are left out.

    ``folder`` stands in for the platform's state folder. Raises KeepingError when it cannot be read.
    """
    from studio.files.lock import hold

    place = state_folder(folder)
    if not place.is_dir():
        return ()
    clean_strays(place, calls=calls)
    with doing(_("looking for designs that were never saved"), place):
        names = [n for n in calls.names(place) if n.startswith(f"{UNTITLED}-") and n.endswith(".journal")]
    found = []
    for name in names:
        try:
            with hold(place / name):
                content = _content_or_tell(place / name, tell=tell, tidy=True, calls=calls)
        except LockedError:
            continue
        if content is not None:
            found.append(_recovery(place / name, content, Kind.UNTITLED))
    return tuple(found)


def forget(recovery: Recovery, *, calls: FileCalls = CALLS) -> None:
    """Throw a journal away because a person said so; KeepingError when that fails. Its ``others`` stay."""
    with doing(_("removing the journal"), recovery.path), suppress(FileNotFoundError):
        calls.unlink(recovery.path)


def _saved(
    site_path: Path, document_of: Callable[[bytes], object], calls: FileCalls
) -> tuple[str | None, bytes | None]:
    """The fingerprint and the canonical document of the saved file, each None when there is none."""
    try:
        with doing(_("reading the file"), site_path):
            data = calls.read(calls.resolve(site_path))
    except KeepingError as error:
        if isinstance(error.__cause__, FileNotFoundError):
            return None, None
        raise
    try:
        return fingerprint(data), canonical_json(document_of(data))
    except (StillfieldError, ValueError):
        return fingerprint(data), None  # a file that does not open: all the more is its journal offered


def _recovery(path: Path, content: _Content, kind: Kind) -> Recovery:
    return Recovery(
        path=path,
        kind=kind,
        of=content.of,
        revision=content.revision,
        written_at=content.written_at,
        label=content.label,
        document=content.document,
    )


def _content_or_tell(
    path: Path, *, tell: Callable[[KeepingError], None], tidy: bool, calls: FileCalls
) -> _Content | None:
    try:
        return _content(path, calls)
    except _BrokenJournalError as error:
        tell(_set_aside(path, error, calls) if tidy else error)
    except KeepingError as error:
        tell(error)
    return None


def _content(path: Path, calls: FileCalls) -> _Content:
    with doing(_("reading the journal"), path):
        data = calls.read(path) if calls.size(path) <= LARGEST_JOURNAL else b""
    try:
        tree = json.loads(data, parse_constant=_refuse)
        if tree["format"] != FORMAT:
            raise ValueError(tree["format"])
        if type(tree["version"]) is int and tree["version"] > VERSION:
            raise _NewerJournalError(
                _("{name} in {folder} was written by a later Stillfield; open it there").format(
                    name=path.name, folder=path.parent
                )
            )
        document = canonical_json(tree["document"])
        if tree["version"] != VERSION or fingerprint(document) != tree["checksum"]:
            raise ValueError(tree["checksum"])
        return _Content(
            of=_text_or_none(tree["of"]),
            saving=_text_or_none(tree["saving"]),
            revision=int(tree["revision"]),
            written_at=str(tree["written_at"]),
            label=str(tree["label"]),
            document=document,
        )
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise _BrokenJournalError(
            _("{name} in {folder} is damaged and cannot be recovered from; it was left where it is").format(
                name=path.name, folder=path.parent
            )
        ) from error


def _refuse(constant: str) -> NoReturn:
    raise ValueError(constant)


def _text_or_none(value: object) -> str | None:
    if value is None or isinstance(value, str):
        return value
    raise TypeError(value)


def _set_aside(path: Path, error: KeepingError, calls: FileCalls) -> KeepingError:
    """Rename a broken journal, never over another one; what to tell about it."""
    try:
        there = set(calls.names(path.parent))
        name = path.name + _BROKEN_MARK
        number = 1
        while name in there:
            number += 1
            name = f"{path.name}{_BROKEN_MARK}-{number}"
        calls.replace(path, path.with_name(name))
    except OSError as failed:
        return KeepingError(explain(_("setting a damaged journal aside"), path, failed))
    told = KeepingError(
        _("{name} in {folder} is damaged and cannot be recovered from; it was set aside as {aside}").format(
            name=path.name, folder=path.parent, aside=name
        )
    )
    told.__cause__ = error
    return told
