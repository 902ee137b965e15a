"""What the desk shows, in one frozen value. Views redraw when the part they show is another object."""

import dataclasses
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from studio.design.design import Design, Document
from studio.study.assessment import Assessment

SubjectKind = Literal["line", "boundary", "no_build", "obstacle", "header", "store", "site"]


@dataclass(frozen=True)
class Subject:
    """Something that can be selected: ``("line", 3)``, ``("no_build", 0)``, ``("obstacle", 0)``, ``("header", "hot")``, ``("store", 0)``."""

    kind: SubjectKind
    key: int | str = 0


@dataclass(frozen=True)
class Moment:
    """The date and clock time whose sun the views show: day of the year from 1, clock hours of standard time."""

    day_of_year: int = 355
    clock_h: float = 10.5


@dataclass(frozen=True)
class UndoStep:
    """A step that can be taken back: its label and the design before it."""

    label: str
    design: Design


@dataclass(frozen=True)
class Progress:
    """What is being worked out: the stage's words, how far (0..1), and which stages are done."""

    stage: str
    share: float


LAYERS = ("shadows", "tint", "names", "grid")


@dataclass(frozen=True)
class State:
    """Everything the desk shows.

    ``design`` is what is committed; ``preview`` what a hand holds while it drags (None otherwise); ``shown`` is the one
    the views draw. ``revision`` counts every change of ``shown``; ``assessed_revision`` tells which one ``assessment``
    is of: where they differ, every figure wears its sign of being worked out.
    """

    document: Document = field(default_factory=Document)
    preview: Design | None = None
    steady: bool = False
    """Whether the preview is looked at and not dragged, so that its figures are worth being exact."""
    revision: int = 0
    assessment: Assessment | None = None
    assessed_revision: int = -1
    kept_assessment: Assessment | None = None
    progress: Progress | None = None
    moment: Moment = Moment()
    selection: frozenset[Subject] = frozenset()
    layers: frozenset[str] = frozenset({"shadows", "tint", "names"})
    tool: str = "pick"
    view: str = "plan"
    path: Path | None = None
    saved: Document | None = None
    saved_clock: str = ""
    undo: tuple[UndoStep, ...] = ()
    redo: tuple[UndoStep, ...] = ()
    notice: str = ""
    calendar_of: str = "heat"
    curves: bool = False
    """Whether the page of curves stands beside the plan."""

    @property
    def design(self) -> Design:
        """The committed design."""
        return self.document.design

    @property
    def shown(self) -> Design:
        """The design the views draw: the preview while a hand drags, else the committed one."""
        return self.preview if self.preview is not None else self.document.design

    @property
    def fresh(self) -> bool:
        """Whether the assessment is of the design that is shown."""
        return self.assessment is not None and self.assessed_revision == self.revision

    @property
    def unsaved(self) -> bool:
        """Whether the design, what was kept or a draft differs from what was last saved or opened."""
        now, then = self.document, self.saved
        if then is None or now is then:
            return then is None
        return (now.design, now.kept, now.drafts) != (then.design, then.kept, then.drafts)

    def selected_lines(self) -> tuple[int, ...]:
        """Ids of the selected lines, ascending."""
        return tuple(sorted(int(s.key) for s in self.selection if s.kind == "line"))


def with_design(document: Document, design: Design) -> Document:
    """The document with another design; assets, kept and drafts stay."""
    return dataclasses.replace(document, design=design)
