"""Several papers into one folder, all or none."""

import os
import secrets
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from studio.errors import WriteError
from studio.keep import CALLS, FileCalls
from studio.text import _

_NEW_FILE_MODE = 0o666


@dataclass(frozen=True)
class _Sheet:
    """One file to be: where it goes, where it is written first, and what was there before (None: nothing)."""

    name: str
    target: Path
    part: Path
    before: bytes | None
    mode: int


def write_together(
    into: Path, contents: Mapping[str, bytes], *, overwrite: bool = False, calls: FileCalls = CALLS
) -> tuple[Path, ...]:
    """Write ``contents``, bytes by file name, into the folder ``into``; the paths in the same order.

    All are first written whole under temporary names in the same folder, then moved into place one right after the
    other. If a call fails on the way, what was moved is taken back: the folder is as it was. A folder that is not
    there is made. Without ``overwrite`` no file that is there is touched, not even one that appears meanwhile.

    Raises WriteError in one sentence.
    """
    made = _missing_folders(into)
    sheets: list[_Sheet] = []
    moved: list[_Sheet] = []
    try:
        into.mkdir(parents=True, exist_ok=True)
        sheets = [_sheet(into, name, overwrite, calls) for name in contents]
        for sheet in sheets:
            _write(sheet.part, contents[sheet.name], sheet.mode, calls)
        for sheet in sheets:
            _move(sheet, overwrite, calls)
            moved.append(sheet)
        calls.sync_folder(into)
    except BaseException as error:
        for sheet in reversed(moved):
            _take_back(sheet, calls)
        _remove(sheets, calls)
        for folder in made:
            with suppress(OSError):
                folder.rmdir()
        if isinstance(error, OSError):
            raise WriteError(
                _("The papers could not be written into {folder} ({why}); nothing there was changed").format(
                    folder=into, why=error.strerror or error
                )
            ) from error
        raise
    _remove(sheets, calls)
    return tuple(into / name for name in contents)


def _missing_folders(into: Path) -> list[Path]:
    """The folders that will have to be made, innermost first."""
    return [folder for folder in (into, *into.parents) if not folder.exists()]


def _sheet(into: Path, name: str, overwrite: bool, calls: FileCalls) -> _Sheet:
    path = into / name
    there = os.path.lexists(path)
    if there and not overwrite:
        raise WriteError(_already_there(path))
    if path.is_dir():
        raise WriteError(
            _("{name} in {folder} is a folder; move it away or choose another folder for the papers").format(
                name=name, folder=into
            )
        )
    target = calls.resolve(path) if there else path
    before = calls.read(target) if target.exists() else None
    return _Sheet(
        name=name,
        target=target,
        part=target.with_name(f".{name}.{secrets.token_hex(4)}.part"),
        before=before,
        mode=_NEW_FILE_MODE if before is None else calls.mode(target),
    )


def _already_there(path: Path) -> str:
    return _("{name} is already in {folder}; allow overwriting it or choose another folder").format(
        name=path.name, folder=path.parent
    )


def _write(part: Path, data: bytes, mode: int, calls: FileCalls) -> None:
    descriptor = calls.create(part, mode)
    try:
        rest = memoryview(data)
        while rest:
            rest = rest[calls.write(descriptor, rest) :]
        calls.sync(descriptor)
    finally:
        calls.close(descriptor)


def _move(sheet: _Sheet, overwrite: bool, calls: FileCalls) -> None:
    """Into place in one step; a second name never lands on a file that is there, a move would."""
    if overwrite:
        calls.replace(sheet.part, sheet.target)
        return
    try:
        calls.link(sheet.part, sheet.target)
    except FileExistsError:
        raise WriteError(_already_there(sheet.target)) from None
    except OSError:
        if os.path.lexists(sheet.target):
            raise
        calls.replace(sheet.part, sheet.target)  # a file system without second names


def _take_back(sheet: _Sheet, calls: FileCalls) -> None:
    with suppress(OSError):
        if sheet.before is None:
            calls.unlink(sheet.target)
        else:
            with suppress(OSError):
                calls.unlink(sheet.part)
            _write(sheet.part, sheet.before, sheet.mode, calls)
            calls.replace(sheet.part, sheet.target)


def _remove(sheets: list[_Sheet], calls: FileCalls) -> None:
    for sheet in sheets:
        with suppress(OSError):
            calls.unlink(sheet.part)
