"""Every error a person can meet. Each says in one sentence what, where and what would be right."""

from dataclasses import dataclass


class StillfieldError(Exception):
    """Base of all errors that are shown to a person as they are."""


class BadInputError(StillfieldError):
    """What was given cannot be computed with; nothing was changed."""


class KeepingError(StillfieldError):
    """A file could not be kept or read; the old one is whole."""


class LockedError(KeepingError):
    """The file is open in another window."""


class ComputationError(StillfieldError):
    """A computation found no answer (no convergence); never a quiet number."""


class WriteError(StillfieldError):
    """A paper could not be written; nothing half-written stays."""


@dataclass(frozen=True)
class Fault:
    """One thing wrong with an input.

    ``path`` is where it stands in the file (``$.design.lines[3].count``, or ``line 12`` of a table), ``name`` what a
    person calls it (``Line 4, mirrors``), ``found`` what was there, ``wanted`` what would be right.
    """

    path: str
    name: str
    found: str
    wanted: str

    def __str__(self) -> str:
        return f"{self.name} ({self.path}): found {self.found}; {self.wanted}"


class FaultyFileError(StillfieldError):
    """A file that cannot be taken as it is, with all its faults at once."""

    def __init__(self, summary: str, faults: tuple[Fault, ...] = ()) -> None:
        self.summary = summary
        self.faults = faults
        super().__init__("\n".join([summary, *(f"  {fault}" for fault in faults)]))
