"""What the page of curves shows: the points of the shown question as they come, and the one that is being looked at."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass, field

from PySide6.QtCore import QObject, QTimer, Signal

from studio.design.design import Design, Document
from studio.desk.background import Background, Job
from studio.desk.session import Session
from studio.desk.state import Progress, State
from studio.edits.edit import Edit
from studio.edits.variants import Over, present_value, usual_values, variant
from studio.errors import StillfieldError
from studio.study.apart import AssessorApart
from studio.study.field_curves import (
    CurvePoint,
    FieldCurve,
    FieldPoint,
    field_curve,
    point_of,
    usual_points,
)
from studio.study.watch import Watch
from studio.text import _

CURVE = "curve"
_REST_MS = 250
_MOST_KNOWN = 500
"""Designs whose figures are remembered."""


@dataclass(frozen=True)
class Question:
    """What curves are of: a design, over what, at which values, and how its variants are made."""

    design: Design
    over: Over
    values: tuple[float, ...]
    here: float
    planted: bool
    facing_turns: bool

    def made(self, value: float) -> Edit:
        """The variant at a value."""
        return variant(
            self.design, over=self.over, value=value, planted=self.planted, facing_turns=self.facing_turns
        )


@dataclass
class Answer:
    """What is known of a question so far."""

    question: Question
    points: dict[float, CurvePoint] = field(default_factory=dict)
    whole: bool = False

    def rising(self) -> list[CurvePoint]:
        """The points that have come, in order of their value."""
        return [self.points[value] for value in sorted(self.points)]


class CurvesModel(QObject):
    """Works out the curves while the page is in sight.

    ``changed`` tells what is another: ``points``, ``chosen`` or ``progress``. A chosen point is previewed in the session;
    whatever else changes the design lets go of it.
    """

    changed = Signal(str)
    crashed = Signal(object)
    """An exception that is not ours: a fault of the program."""

    def __init__(
        self, session: Session, *, make: Callable[[], object] = AssessorApart, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self.session = session
        self.over: Over = "pitch"
        self.planted = self.facing_turns = False
        self.answer: Answer | None = None
        self.chosen: CurvePoint | None = None
        self.trouble = ""
        self.progress: Progress | None = None
        self.background = Background(make, self)
        self._known: dict[Design, FieldPoint] = {}
        self._assets: object = None
        self._passing: tuple[Design, float | None] | None = None
        self._scales: dict[Over, tuple[float, ...]] = {}
        self._stopped: Question | None = None
        self._awake = False
        self._previewing = False
        self._rest = QTimer(self, interval=_REST_MS, singleShot=True)
        self._rest.timeout.connect(self._ask)
        self.background.told.connect(self._take_point)
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

    @property
    def stale(self) -> bool:
        """Whether the points that are shown are of another question than the one that is asked now."""
        return self.answer is not None and self.answer.question != self._question()

    @property
    def present(self) -> FieldPoint | None:
        """What the design as it stands brings, once it is known."""
        return self._known.get(self.answer.question.design) if self.answer is not None else None

    @property
    def passing_pitch_m(self) -> float | None:
        """The pitch that passes, of the design that the points are of; None while it is not known."""
        if (
            self.answer is None
            or self._passing is None
            or self._passing[0] is not self.answer.question.design
        ):
            return None
        return self._passing[1]

    @property
    def stopped(self) -> bool:
        """Whether this question was stopped or failed: it is not asked again by itself."""
        return self._stopped is not None and self._stopped == self._question()

    # what is asked ---------------------------------------------------------------------------------------------

    def wake(self) -> None:
        """The page is in sight."""
        self._awake = True
        self._learn()
        self._follow()

    def sleep(self) -> None:
        """The page is out of sight: nothing is worked out, and nothing is previewed."""
        self.let_go()
        self._awake = False
        self._rest.stop()
        self.progress = None
        self.background.stop()

    def look_over(self, over: Over) -> None:
        """Draw the curves over another measure."""
        self._change(over=over)

    def set_planted(self, planted: bool) -> None:
        """Plant the plot anew at each point, or let the field be as it stands."""
        self._change(planted=planted)

    def set_facing_turns(self, turns: bool) -> None:
        """Over the azimuth: let mirrors turn with their lines, or keep their facing."""
        self._change(facing_turns=turns)

    def _change(self, **choices: object) -> None:
        self.let_go()
        for name, choice in choices.items():
            setattr(self, name, choice)
        self._follow()

    def again(self) -> None:
        """Go on after a stop or a fault."""
        self._stopped = None
        self._ask()

    def stop(self) -> None:
        """Leave what is being worked out; the points there are stay."""
        self._stopped = self._question()
        self.progress = None
        self.background.stop()
        self.changed.emit("progress")

    # a point in hand -------------------------------------------------------------------------------------------

    def choose(self, point: CurvePoint) -> None:
        """Look at a point: its field is shown on the plan in place of the design, which stays as it is."""
        if self.stale:
            return
        self.chosen = point
        self._previewing = True
        self.session.preview(point.design if point.design is not self.design else None, steady=True)
        self._previewing = False
        self.changed.emit("chosen")

    def let_go(self) -> None:
        """Leave the point: all is as it was."""
        if self.chosen is None:
            return
        self.chosen = None
        if self.session.state.preview is not None:
            self.session.preview(None)
        self.changed.emit("chosen")

    def take(self) -> bool:
        """Make the chosen point the design, as one step of undo. Whether it was."""
        point = self.chosen
        if point is None or point.design is None or self.stale:
            return False
        self.chosen = None
        took = self.session.apply(Edit(point.label, point.design))
        self.changed.emit("chosen")
        return took

    # following -------------------------------------------------------------------------------------------------

    def _hear(self, old: State, new: State) -> None:
        held = self.chosen
        if (
            held is not None
            and not self._previewing
            and new.shown is not old.shown
            and new.shown is not held.design
        ):
            self.chosen = None  # a hand drags, or something was edited or undone
            self.changed.emit("chosen")
        other = old.saved is not new.saved and new.document is new.saved and not new.undo
        if other:
            self.answer, self._stopped, self.trouble = None, None, ""
            self._scales.clear()
        if not self._awake:
            return
        if new.assessment is not old.assessment and self._learn():
            self.changed.emit("points")
        if other or new.design is not old.design:
            self._follow()

    def _learn(self) -> bool:
        """Take over what the tally knows of the design as it stands; whether that was something new."""
        state = self.session.state
        assessment = state.assessment
        if assessment is None or not state.fresh or not assessment.exact or state.preview is not None:
            return False
        self._hold_assets(state.document)
        new = self._known.get(state.design) is None
        self._known[state.design] = point_of(assessment)
        if assessment.calendar is not None and (
            self._passing is None or self._passing[0] is not state.design
        ):
            self._passing, new = (state.design, assessment.figures["passing_pitch_m"]), True
        return new

    def _hold_assets(self, document: Document) -> None:
        """Figures are of a design and the weather beside it."""
        if self._assets is not document.assets or len(self._known) > _MOST_KNOWN:
            self._known.clear()
            self._assets = document.assets

    def _follow(self) -> None:
        """Begin with what is known already, and ask for the rest once the hand rests."""
        if not self._awake:
            return
        self.progress = None
        self.background.stop()
        question = self._question()
        if question is not None:
            self._rest.start()
        self.changed.emit("points")

    def _question(self) -> Question | None:
        """What is asked now; None where there is no curve, and ``trouble`` says why."""
        design = self.design
        asked = self.answer.question if self.answer is not None else None
        choices = (self.over, self.planted, self.facing_turns and self.over == "azimuth")
        if (
            asked is not None
            and asked.design is design
            and choices == (asked.over, asked.planted, asked.facing_turns)
        ):
            return asked
        try:
            here = present_value(design, self.over)
            values = self._values_around(here)
        except StillfieldError as error:
            self.trouble = str(error)
            return None
        self.trouble = ""
        return Question(design, self.over, values, here, choices[1], choices[2])

    def _values_around(self, here: float) -> tuple[float, ...]:
        """Values around the present one; the scale stands while the present one lies on it."""
        scale = self._scales.get(self.over, ())
        if not scale or not scale[0] <= here <= scale[-1]:
            scale = usual_values(self.design, self.over, points=usual_points(self.design))
            self._scales[self.over] = scale
        return tuple(sorted([*(value for value in scale if abs(value - here) > 1e-9), here]))

    def _ask(self) -> None:
        """Once the hand rests."""
        question = self._question()
        if not self._awake or question is None or question == self._stopped:
            return
        if self.answer is not None and self.answer.question == question and self.answer.whole:
            return
        state = self.session.state
        self._hold_assets(state.document)
        if self.answer is None or self.answer.question != question:
            self.answer = Answer(question)
            present = self._known.get(question.design)
            if present is not None and not question.planted:
                here = CurvePoint(question.here, _("As it stands"), question.design, present)
                self.answer.points[question.here] = here
        document, known = state.document, dict(self._known)

        def do(assessor: AssessorApart, watch: Watch) -> object:
            return field_curve(
                document, question.values, here=question.here, make=question.made, assessor=assessor,
                watch=watch, found=self.background.tell, known=known, with_passing=False,
            )  # fmt: skip

        self.trouble = ""
        self.progress = Progress(_("begins"), 0.0)
        self.background.ask(Job(CURVE, question, do, 0))
        self.changed.emit("points")

    # what comes back -------------------------------------------------------------------------------------------

    def _take_point(self, _kind: str, tag: Hashable, part: object) -> None:
        if self.answer is None or tag is not self.answer.question or not isinstance(part, CurvePoint):
            return
        self.answer.points[part.value] = part
        if part.design is not None and part.brings is not None:
            self._known[part.design] = part.brings
        self.changed.emit("points")

    def _take(self, _kind: str, tag: Hashable, answer: object) -> None:
        self.progress = None
        if self.answer is not None and tag is self.answer.question and isinstance(answer, FieldCurve):
            self._known[self.answer.question.design] = answer.present
            self.answer.points = {point.value: point for point in answer.points}
            self.answer.whole = True
        self.changed.emit("points")

    def _fail(self, _kind: str, _tag: Hashable, error: object) -> None:
        self.progress, self._stopped = None, self._question()
        if isinstance(error, StillfieldError):
            self.trouble = str(error)
        else:
            self.trouble = _("This could not be worked out; a fault of the program.")
            self.crashed.emit(error)
        self.changed.emit("points")

    def _leave(self, _kind: str) -> None:
        self.progress = None
        self.changed.emit("progress")

    def _go_on(self, _kind: str, stage: str, share: float) -> None:
        if not self.stopped:
            self.progress = Progress(stage, share)
            self.changed.emit("progress")
