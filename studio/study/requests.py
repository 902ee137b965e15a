"""What an assessor in a process apart is asked for, and what it says: words between whoever asks and whoever answers."""

from dataclasses import dataclass
from math import inf

from studio.design.design import Design, Document
from studio.study.assessment import Assessment


@dataclass(frozen=True, eq=False)
class Request:
    """What is to be assessed: ``design``, with the assets of ``document``.

    ``calendar`` and ``exact`` as :meth:`Assessor.assess` has them. Overtaken by a newer request, it is left unanswered where
    it was not begun, runs to its end while younger than ``grace_s`` seconds, and is left after that. ``revision`` is the
    asker's own number, by which it knows the request again.
    """

    document: Document
    design: Design
    calendar: bool = True
    exact: bool = True
    grace_s: float = inf
    revision: int = 0


@dataclass(frozen=True)
class Answered:
    """The assessment of a request."""

    request: Request
    assessment: Assessment


@dataclass(frozen=True)
class Failed:
    """Why a request has no answer: an error of ours for a person, or a fault of the program."""

    request: Request
    error: Exception


@dataclass(frozen=True)
class Told:
    """How far a request is: its stage, the share of the whole (0..1), and the seconds it has taken so far."""

    request: Request
    stage: str
    share: float
    seconds: float


Word = Answered | Failed | Told
"""What comes back."""
