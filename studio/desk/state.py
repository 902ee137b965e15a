"""What the desk shows, in one frozen value. Views redraw when the part they show is another object."""

import dataclasses
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from studio.design.design import Design, Document
from studio.design.fields import mark
from studio.drawings.section_cut import Cut
from studio.study.assessment import Assessment

SubjectKind = Literal["line", "boundary", "no_build", "obstacle", "header", "store", "picture", "site"]


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


LAYERS = (
    "land", "picture", "contours", "no_build", "obstacles", "lines", "headers", "shadows", "tint", "names", "findings",
    "grid",
)  # fmt: skip
"""What the plan shows, each of it shown or not."""
LAYER_NAMES = {
    "land": mark("Land"), "picture": mark("Picture"), "contours": mark("Contours"), "no_build": mark("No-build areas"),
    "obstacles": mark("Obstacles"), "lines": mark("Lines"), "headers": mark("Headers and store"),
    "shadows": mark("Shadows"), "tint": mark("Shade tint"), "names": mark("Names"), "findings": mark("Findings"),
    "grid": mark("Grid"),
}  # fmt: skip
HOLDING = ("land", "picture", "no_build", "obstacles", "lines", "headers")
"""Layers that hold things a hand can take: they can be locked and faded too."""
_LAYER_OF = {
    "boundary": "land", "no_build": "no_build", "line": "lines", "obstacle": "obstacles", "header": "headers",
    "store": "headers", "picture": "picture",
}  # fmt: skip


def layer_of(subject: Subject) -> str:
    """The layer that holds a subject; empty for the site, which lies on none."""
    return _LAYER_OF.get(subject.kind, "")


@dataclass(frozen=True)
class State:
    """Everything the desk shows.

    ``design`` is what is committed; ``preview`` what a hand holds while it drags (None otherwise); ``shown`` is the one
    the views draw. ``layers`` are those shown, ``locked`` those whose things no hand takes, ``faded`` those drawn faintly;
    they are only looked at and no part of a design, and so is ``cut``, where the section is cut: None until one is asked
    for. ``revision`` counts every change of ``shown`` but of its picture, which no figure depends on;
    ``assessed_revision`` tells which one ``assessment`` is of: where they differ, every figure wears its sign of being
    worked out.
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
    layers: frozenset[str] = frozenset(LAYERS) - {"grid"}
    locked: frozenset[str] = frozenset()
    faded: frozenset[str] = frozenset()
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
    cut: Cut | None = None

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

    def within_reach(self, subject: Subject) -> bool:
        """Whether a hand on the plan can take a subject: its layer is shown and not locked."""
        layer = layer_of(subject)
        return not layer or (layer in self.layers and layer not in self.locked)

    def selected_lines(self) -> tuple[int, ...]:
        """Ids of the selected lines, ascending."""
        return tuple(sorted(int(s.key) for s in self.selection if s.kind == "line"))


def with_design(document: Document, design: Design) -> Document:
    """The document with another design; assets, kept and drafts stay."""
    return dataclasses.replace(document, design=design)
