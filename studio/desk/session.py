"""The desk's one place of change: every view asks here, and every view hears ``changed(old, new)``."""

import dataclasses
from typing import Any

from PySide6.QtCore import QObject, Signal

from studio.design.design import Design, Document, Kept
from studio.desk.state import (
    HOLDING,
    LAYER_NAMES,
    LAYERS,
    Moment,
    Progress,
    State,
    Subject,
    UndoStep,
    layer_of,
    with_design,
)
from studio.edits.edit import Edit, admit
from studio.errors import StillfieldError
from studio.study.assessment import Assessment
from studio.text import _

UNDO_STEPS = 1000
_LAYER_OF_TOOL = {
    "plot": "land", "no_build": "no_build", "obstacle": "obstacles", "line": "lines", "plant": "lines",
    "header": "headers", "store": "headers", "picture": "picture",
}  # fmt: skip


class Session(QObject):
    """Holds the state; changes it by one signal. Lives on the thread of the window."""

    changed = Signal(object, object)
    go_to = Signal(float, float)
    """A place in the site frame that the view is asked to show."""

    tool_again = Signal()
    """The tool in hand was chosen once more."""

    def __init__(self, document: Document | None = None) -> None:
        super().__init__()
        document = document or Document()
        self._state = State(document=document, saved=document)

    @property
    def state(self) -> State:
        """What is shown now."""
        return self._state

    def update(self, **changes: Any) -> None:
        """Change parts of the state and tell everyone, once."""
        old = self._state
        new = dataclasses.replace(old, **changes)
        if not _alike(old.shown, new.shown):
            new = dataclasses.replace(new, revision=old.revision + 1)
        self._state = new
        self.changed.emit(old, new)

    # edits -----------------------------------------------------------------------------------------------------

    def preview(self, design: Design | None, *, steady: bool = False) -> None:
        """Show a design that a hand still holds, or ``steady`` only looks at; None puts the committed one back."""
        self.update(preview=design, steady=steady)

    def apply(self, edit: Edit) -> bool:
        """Commit an edit as one step of undo. A refused one leaves everything as it was and is told in a notice."""
        before = self._state.design
        try:
            admit(before, edit, assets=dict(self._state.document.assets))
        except StillfieldError as error:
            self.update(preview=None, notice=str(error))
            return False
        if edit.design == before:
            self.update(preview=None)
            return True
        undo = (*self._state.undo, UndoStep(edit.label, before))[-UNDO_STEPS:]
        self._settle(edit.design, undo=undo, redo=())
        return True

    def undo(self) -> None:
        """Take the last step back."""
        if self._state.undo:
            *rest, step = self._state.undo
            redo = (*self._state.redo, UndoStep(step.label, self._state.design))
            self._settle(step.design, undo=tuple(rest), redo=redo)

    def redo(self) -> None:
        """Do again the step last taken back."""
        if self._state.redo:
            *rest, step = self._state.redo
            undo = (*self._state.undo, UndoStep(step.label, self._state.design))
            self._settle(step.design, undo=undo, redo=tuple(rest))

    def _settle(self, design: Design, **changes: Any) -> None:
        document = with_design(self._state.document, design)
        here = frozenset(subject for subject in self._state.selection if _exists(design, subject))
        self.update(document=document, preview=None, notice="", selection=here, **changes)

    # what is looked at -----------------------------------------------------------------------------------------

    def select(self, *subjects: Subject, add: bool = False) -> None:
        """Select subjects; ``add`` toggles them in the selection. What is selected comes into sight; a lock holds."""
        chosen = frozenset(s for s in subjects if layer_of(s) not in self._state.locked)
        selection = self._state.selection ^ chosen if add else chosen
        layers = self._state.layers | {layer_of(subject) for subject in selection if layer_of(subject)}
        self.update(selection=selection, layers=layers)

    def set_moment(self, moment: Moment) -> None:
        """Show the sun of another moment."""
        self.update(moment=moment)

    def toggle_layer(self, layer: str) -> None:
        """Show or hide a layer of the plan; what is selected on a hidden one is let go."""
        if layer in LAYERS:
            self._let_go(layers=self._state.layers ^ {layer})

    def toggle_lock(self, layer: str) -> None:
        """Keep the hand off the things of a layer, or let it take them again."""
        if layer in HOLDING:
            self._let_go(locked=self._state.locked ^ {layer})

    def toggle_fade(self, layer: str) -> None:
        """Draw a layer faintly, or in full again."""
        if layer in HOLDING:
            self.update(faded=self._state.faded ^ {layer})

    def show_layer(self, layer: str) -> None:
        """Bring a layer into sight."""
        if layer in LAYERS and layer not in self._state.layers:
            self.update(layers=self._state.layers | {layer})

    def _let_go(self, **changes: Any) -> None:
        new = dataclasses.replace(self._state, **changes)
        self.update(**changes, selection=frozenset(s for s in new.selection if new.within_reach(s)))

    def keep(self, date: str) -> None:
        """Remember the design for comparison."""
        state = self._state
        kept = Kept(state.design, label=state.design.site.name, date=date)
        document = dataclasses.replace(state.document, kept=kept)
        self.update(document=document, kept_assessment=state.assessment if state.fresh else None)

    # documents -------------------------------------------------------------------------------------------------

    def take_asset(self, fingerprint: str, data: bytes) -> None:
        """Put an asset into the document; undo takes back the design that names it and leaves the asset."""
        document = self._state.document
        if document.asset(fingerprint) is None:
            self.update(
                document=dataclasses.replace(document, assets=(*document.assets, (fingerprint, data)))
            )

    def show_document(self, document: Document, **about: Any) -> None:
        """Show another document: undo starts anew."""
        self.update(
            document=document, preview=None, saved=document, undo=(), redo=(), selection=frozenset(),
            assessment=None, assessed_revision=-1, kept_assessment=None, notice="", cut=None, **about,
        )  # fmt: skip

    # results ---------------------------------------------------------------------------------------------------

    def take_assessment(self, revision: int, assessment: Assessment) -> None:
        """Show an assessment. One that is older than what is shown is dropped, a late one wears its sign.

        The same revision may come again once its sun calendar is there.
        """
        again = revision == self._state.assessed_revision and assessment.calendar is not None
        if revision > self._state.assessed_revision or again:
            self.update(assessment=assessment, assessed_revision=revision)

    def take_tool(self, name: str) -> None:
        """Take a tool in hand; one that is in hand already is told so."""
        state, layer = self._state, _LAYER_OF_TOOL.get(name, "")
        if layer in state.locked:
            self.update(
                notice=_("{layer}: this layer is locked; unlock it under Layers (Y) to work on it.").format(
                    layer=_(LAYER_NAMES[layer])
                )
            )
        elif name == state.tool:
            self.tool_again.emit()
        else:
            layers = state.layers | {layer} if layer else state.layers
            picture = Subject("picture")
            on_picture = name == "picture" and _exists(state.design, picture)
            self.update(
                tool=name, layers=layers, selection=frozenset({picture}) if on_picture else state.selection
            )

    def take_progress(self, progress: Progress | None) -> None:
        """Show what is being worked out."""
        self.update(progress=progress)


def _alike(before: Design, after: Design) -> bool:
    """Whether nothing changed that is worked out: the picture under the plan is only looked at."""
    if before is after or before.underlay is after.underlay:
        return before is after
    return dataclasses.replace(after, underlay=before.underlay) == before


def _exists(design: Design, subject: Subject) -> bool:
    if subject.kind == "line":
        return any(line.id == subject.key for line in design.lines)
    if subject.kind == "no_build":
        return isinstance(subject.key, int) and subject.key < len(design.plot.no_build)
    if subject.kind == "obstacle":
        return isinstance(subject.key, int) and subject.key < len(design.obstacles)
    if subject.kind == "picture":
        return bool(design.underlay.asset)
    return True
