"""What is doubtful about a file that is looked at before it is taken, and what would settle it."""

from dataclasses import dataclass
from typing import Generic, TypeVar

How = TypeVar("How")
"""How a kind of file is looked at: what a person says where it is silent or wrong."""


@dataclass(frozen=True)
class Mend(Generic[How]):
    """A likely mend: what it is called, and how the file is to be looked at then."""

    label: str
    how: How


@dataclass(frozen=True)
class Doubt(Generic[How]):
    """One thing that is doubtful, in a sentence, with what would settle it."""

    sentence: str
    mends: tuple[Mend[How], ...] = ()

    def __str__(self) -> str:
        return self.sentence
