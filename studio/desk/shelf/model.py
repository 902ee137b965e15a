"""What the shelf's page shows: its mirrors with the figures of the newest ranking, and the newest search."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace

from PySide6.QtCore import QObject, QTimer, Signal

from studio.design.design import Design, Document, Shelved
from studio.design.fields import fields_of
from studio.design.shelf import called, of_field
from studio.desk.background import Background, Job
from studio.desk.session import Session
from studio.desk.state import Progress, State
from studio.edits.fields import shown_value
from studio.errors import StillfieldError
from studio.study.apart import AssessorApart
from studio.study.assess import Assessor
from studio.study.ranges import Range
from studio.study.ranking import Ranked, Ranking, rank
from studio.study.search import Aim, Searched, search
from studio.study.watch import Watch
from studio.text import _

Assesses = Assessor | AssessorApart
RANK, SEARCH = "rank", "search"
FIELD = -1
"""Stands for the place of the mirror that the field is built of."""
_REST_MS = 400
_URGENCY = {SEARCH: 0, RANK: 1}


@dataclass(frozen=True)
class Entry:
    """A mirror of the page: its ``place`` on the shelf from 0 or ``FIELD``, and its figures once there are any.

    ``rank`` counts from 1; 0 until it is ranked.
    """

    place: int
    label: str
    shelved: Shelved
    ranked: Ranked | None
    rank: int


@dataclass(frozen=True)
class _Question:
    """What a search is asked."""

    design: Design
    vary: tuple[Range, ...]
    aim: Aim
    budget: int


class ShelfModel(QObject):
    """Keeps the ranking up to date while the page is in sight, and runs searches.

    ``changed`` tells what is another: ``rows``, ``progress`` or ``search``.
    """

    changed = Signal(str)
    crashed = Signal(object)
    """An exception that is not ours: a fault of the program."""

    def __init__(
        self, session: Session, *, make: Callable[[], Assesses] = AssessorApart, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self.session = session
        self.background = Background(make, self)
        self.ranking: Ranking | None = None
        self.searched: Searched | None = None
        self.trouble: dict[str, str] = {}
        """Why there is no ranking or no answer, by kind."""
        self._progress: dict[str, Progress] = {}
        self._ranked_design: Design | None = None
        self._searched_design: Design | None = None
        self._tried: Design | None = None
        """The design whose ranking was stopped or failed: it is not tried again by itself."""
        self._asked: Design | None = None
        self._awake = False
        self._rest = QTimer(self, interval=_REST_MS, singleShot=True)
        self._rest.timeout.connect(self._ask)
        self.background.answered.connect(self._take)
        self.background.failed.connect(self._fail)
        self.background.left.connect(self._leave)
        self.background.went_on.connect(self._go_on)
        session.changed.connect(self._hear)

    # what is shown ---------------------------------------------------------------------------------------------

    @property
    def design(self) -> Design:
        """The committed design."""
        return self.session.state.design

    def entries(self) -> tuple[Entry, ...]:
        """The field's mirror and all on the shelf, in the order of the ranking; what is not ranked yet at the end."""
        members = [(FIELD, _("in the field"), of_field(self.design))]
        members += [
            (place, called(shelved, place), shelved) for place, shelved in enumerate(self.design.shelf)
        ]
        order = self.ranking.ranked if self.ranking is not None else ()
        found = []
        for place, label, shelved in members:
            at = next((at for at, one in enumerate(order) if _is_of(one, place, shelved)), None)
            found.append(
                (
                    len(order) if at is None else at,
                    Entry(place, label, shelved, None if at is None else order[at], 0),
                )
            )
        found.sort(key=lambda pair: pair[0])
        return tuple(
            replace(entry, rank=number if entry.ranked is not None and not entry.ranked.cannot else 0)
            for number, (_at, entry) in enumerate(found, start=1)
        )

    @property
    def stale(self) -> bool:
        """Whether the ranking is of another field than the one that is shown."""
        return self._ranked_design is not None and not _same_field(
            self._ranked_design, self.session.state.shown
        )

    @property
    def before_search(self) -> bool:
        """Whether the field is still the one that the search began with."""
        return self._searched_design is not None and _same_field(
            self._searched_design, self.session.state.shown
        )

    @property
    def search_stale(self) -> bool:
        """Whether the field is neither the one that the search began with nor the one it found."""
        if self.searched is None or self.before_search:
            return False
        return not _same_field(self.searched.design, self.session.state.shown)

    @property
    def wanting(self) -> bool:
        """Whether a ranking is due."""
        entries = self.entries()
        return len(entries) > 1 and (self.stale or any(entry.ranked is None for entry in entries))

    @property
    def resting(self) -> bool:
        """Whether no ranking comes by itself, since it was stopped or failed."""
        return self._tried is not None and self._tried == self.design

    def progress(self, kind: str) -> Progress | None:
        """What of a ranking or search is being worked out."""
        return self._progress.get(kind)

    def differences(self, shelved: Shelved) -> tuple[str, ...]:
        """Where a mirror differs from the field's, field by field: 'Mirror, ribs 15 (field 11)'."""
        told, present = [], of_field(self.design)
        for here, there in (
            (shelved.mirror, present.mirror), (shelved.receiver, present.receiver), (shelved.motion, present.motion),
        ):  # fmt: skip
            cls: type = type(here)
            for field in fields_of(cls):
                value, other = getattr(here, field.name), getattr(there, field.name)
                if value != other:
                    told.append(
                        _("{name} {value} (field {present})").format(
                            name=f"{_(here.TITLE)}, {_(field.declaration.label)}",
                            value=shown_value(field.declaration, value),
                            present=shown_value(field.declaration, other),
                        )
                    )
        return tuple(told)

    # what is asked ---------------------------------------------------------------------------------------------

    def wake(self) -> None:
        """The page is in sight."""
        self._awake = True
        self._follow()

    def sleep(self) -> None:
        """The page is out of sight: the ranking can wait, a search goes on."""
        self._awake = False
        self._rest.stop()
        self.background.stop(RANK)

    def rank_now(self) -> None:
        """Rank again, after a stop or a fault."""
        self._tried = None
        self._ask()

    def stop(self, kind: str) -> None:
        """Stop a ranking or a search."""
        if kind == RANK:
            self._tried = self.design
        self.background.stop(kind)

    def search(self, vary: tuple[Range, ...], aim: Aim, budget: int) -> None:
        """Search the best values for the design as it stands."""
        document = self.session.state.document

        def do(assessor: Assesses, watch: Watch) -> object:
            return search(document, vary=vary, aim=aim, watch=watch, budget=budget, assessor=assessor)

        self.trouble.pop(SEARCH, None)
        self._progress[SEARCH] = Progress(_("begins"), 0.0)
        asked = _Question(document.design, vary, aim, budget)
        self.background.ask(Job(SEARCH, asked, do, _URGENCY[SEARCH]))
        self.changed.emit("search")

    def refuse_search(self, why: str) -> None:
        """Say why no search begins."""
        self.trouble[SEARCH] = why
        self.changed.emit("search")

    def _hear(self, old: State, new: State) -> None:
        if new.document is old.document and new.shown is old.shown:
            return
        if old.saved is not new.saved and new.document is new.saved and not new.undo:
            self._forget()
        self._follow()

    def _forget(self) -> None:
        """Another document: nothing of the old one is shown."""
        self.ranking = self.searched = self._ranked_design = self._searched_design = self._tried = None
        self.trouble.clear()
        for kind in (RANK, SEARCH):
            self.background.stop(kind)

    def _follow(self) -> None:
        if not self._awake:
            return
        if self._tried is not None and not self.resting:
            self._tried = None
            self.trouble.pop(RANK, None)
        self.changed.emit("rows")
        if self.session.state.preview is None and not self.resting and self.wanting:
            self._rest.start()

    def _ask(self) -> None:
        """Once the hand rests."""
        document = self.session.state.document
        if not self._awake or self.resting or not self.wanting:
            return
        if RANK in self._progress and self._asked == document.design:
            return
        self._asked = document.design
        self.trouble.pop(RANK, None)
        self._progress[RANK] = Progress(_("waits for its turn"), 0.0)
        self.background.ask(Job(RANK, document.design, _ranking_of(document), _URGENCY[RANK]))
        self.changed.emit("progress")

    # what comes back -------------------------------------------------------------------------------------------

    def _take(self, kind: str, tag: Hashable, answer: object) -> None:
        self._progress.pop(kind, None)
        if isinstance(answer, Ranking):
            assert isinstance(tag, Design)
            self.ranking, self._ranked_design = answer, tag
            self._follow()
        elif isinstance(answer, Searched):
            assert isinstance(tag, _Question)
            self.searched, self._searched_design = answer, tag.design
            self.changed.emit("search")

    def _fail(self, kind: str, tag: Hashable, error: object) -> None:
        self._progress.pop(kind, None)
        if isinstance(error, StillfieldError):
            self.trouble[kind] = str(error)
        else:
            self.trouble[kind] = _("This could not be worked out; a fault of the program.")
            self.crashed.emit(error)
        if kind == RANK:
            assert isinstance(tag, Design)
            self._tried = tag
        self.changed.emit("rows" if kind == RANK else "search")

    def _leave(self, kind: str) -> None:
        self._progress.pop(kind, None)
        self.changed.emit("rows" if kind == RANK else "search")

    def _go_on(self, kind: str, stage: str, share: float) -> None:
        self._progress[kind] = Progress(stage, share)
        self.changed.emit("progress" if kind == RANK else "search_progress")


def _ranking_of(document: Document) -> Callable[[Assesses, Watch], Ranking]:
    def do(assessor: Assesses, watch: Watch) -> Ranking:
        return rank(document, assessor=assessor, watch=watch)

    return do


def _is_of(one: Ranked, place: int, shelved: Shelved) -> bool:
    """Whether a ranked mirror is this one, whatever it is called and wherever on the shelf it stands."""
    if (one.place is None) != (place == FIELD):
        return False
    return place == FIELD or replace(one.shelved, label="") == replace(shelved, label="")


def _same_field(one: Design, other: Design) -> bool:
    return replace(one, shelf=()) == replace(other, shelf=())
