"""The best values of a few fields for most yearly heat or least heat cost, within bounds that the person sets.

Every design is assessed as ``assess`` does it, by one assessor whose cache makes tilt and facing cheap, so the answer's
figure is the figure. Which way is taken (``studio.study.searching``) follows from what is varied: a figure has no
derivatives and a ripple of some 1e-4 from its tables, so only ways that compare values are fit.
"""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Literal, get_args

from studio.design.design import Design, Document
from studio.design.fields import Count
from studio.design.paths import FieldAt, field_at, replaced, with_unit
from studio.design.validate import hold_to_rules
from studio.errors import BadInputError, StillfieldError
from studio.study.apart import AssessorApart
from studio.study.assess import Assessor
from studio.study.assessment import Assessment
from studio.study.figures import FIGURES, shown, unit_of
from studio.study.ranges import Range, axis_of, ranged_field, start_of
from studio.study.searching import Axis, EnoughError, Point, Way, best_way
from studio.study.watch import StoppedError, Watch, go_on
from studio.text import _, plural

Aim = Literal["annual_heat_kwh", "heat_cost_per_kwh"]
Bound = Literal["", "low", "high"]

AIMS: dict[str, Aim] = {"heat": "annual_heat_kwh", "cost": "heat_cost_per_kwh"}
"""Aims by the word that a person types."""
BUDGET = 200
"""So many designs are assessed at most unless said otherwise: a minute or two for a small field."""
LEAST_BUDGET = 10
MOST_VARIED = 8
"""Beyond it the budget of a search on one machine finds nothing worth telling."""
_NEAR_BOUND = 0.02
"""Share of a range: a best value nearer to its bound is tried at the bound, and the bound against so much inside."""
_TOLD_APART = 1e-6
"""Relative difference of a figure below which a field is taken to change nothing."""


@dataclass(frozen=True)
class Sought:
    """One varied field: its value ``before`` (None: it followed another field), its ``best`` one, its bounds.

    ``held`` names the bound that holds the best value back: the figure gets worse going inside from it.
    """

    path: str
    name: str
    unit: str
    before: float | None
    best: float
    low: float
    high: float
    held: Bound


@dataclass(frozen=True)
class Searched:
    """What a search found. ``design`` carries the best values; figures are None where there is no price or no heat.

    ``assessed`` designs were worked out; ``passed_over`` of all tried cannot be computed or built as they stand, the
    first for the reason ``why_passed_over``. ``converged``: the way came to its end, and neither budget nor a stop cut it short.
    """

    aim: Aim
    way: Way
    values: tuple[Sought, ...]
    design: Design
    heat_before_kwh: float | None
    heat_kwh: float | None
    cost_before_per_kwh: float | None
    cost_per_kwh: float | None
    assessed: int
    passed_over: int
    why_passed_over: str
    converged: bool
    stopped: bool
    missing_prices: tuple[str, ...]


def search(
    document: Document,
    *,
    vary: Sequence[Range],
    aim: Aim = "annual_heat_kwh",
    watch: Watch = go_on,
    budget: int = BUDGET,
    assessor: Assessor | AssessorApart | None = None,
) -> Searched:
    """The best values of the varied fields for ``aim``; the same question gets the same answer.

    A design that the checks forbid to build, and the present one not, is passed over. When ``watch`` answers no or
    ``budget`` designs are assessed, the best so far is the answer. Raises BadInputError with one sentence for a
    question that cannot be asked, StoppedError when it was stopped before there was anything to tell.
    """
    fields = _fields(document.design, vary, aim, budget)
    trials = _Trials(document, fields, vary, aim, watch, budget, assessor or Assessor())
    axes = tuple(axis_of(field, range_) for field, range_ in zip(fields, vary, strict=True))
    start: Point = tuple(start_of(field, axis) for field, axis in zip(fields, axes, strict=True))
    finish = min(2 * len(vary), budget // 4)
    way, converged = best_way(axes, budget - finish), False
    trials.expected = way.most
    with suppress(EnoughError):
        converged = way.run(trials.loss, axes, start, allow=trials.allow, most=budget - finish)
    held: tuple[Bound, ...] = tuple("" for _axis_ in axes)
    if trials.best is not None:
        trials.allow(budget)
        held = _held(trials, axes)
    return trials.told(way.name, held, converged=converged)


def told(searched: Searched) -> tuple[str, ...]:
    """What a person should know of a search besides its numbers, in sentences."""
    sentences = [
        _("{name} is held back by its {side} bound of {bound}.").format(
            name=value.name,
            side=_("lower") if value.held == "low" else _("upper"),
            bound=_bound(searched.design, value),
        )
        for value in searched.values
        if value.held
    ]
    if searched.stopped:
        sentences.append(_("The search was stopped; this is the best it had found."))
    elif not searched.converged:
        sentences.append(
            plural(
                "The search used up its {count} design before it came to its end; allow more.",
                "The search used up its {count} designs before it came to its end; allow more.",
                searched.assessed,
            )
        )
    if searched.passed_over:
        sentences.append(
            plural("{count} design was passed over", "{count} designs were passed over", searched.passed_over)
            + ": " + searched.why_passed_over.rstrip(".") + "."
        )  # fmt: skip
    if searched.aim == "heat_cost_per_kwh" and searched.missing_prices:
        names = ", ".join(searched.missing_prices)
        sentences.append(_("The heat cost leaves out what has no price: {names}.").format(names=names))
    return tuple(sentences)


def _bound(design: Design, value: Sought) -> str:
    bound = value.low if value.held == "low" else value.high
    return with_unit(field_at(design, value.path).declaration, bound)


def _fields(design: Design, vary: Sequence[Range], aim: Aim, budget: int) -> tuple[FieldAt, ...]:
    """The fields that are varied, once the question makes sense."""
    if aim not in get_args(Aim):
        raise BadInputError(
            _("There is no aim {aim}; one of {aims} would be right.").format(
                aim=aim, aims=", ".join(get_args(Aim))
            )
        )
    if not design.lines:
        raise BadInputError(_("The design has no line, so there is no heat; place a line of mirrors first."))
    if not vary:
        raise BadInputError(_("Nothing is varied; give at least one field with its bounds."))
    if len(vary) > MOST_VARIED:
        raise BadInputError(
            _("{count} fields are varied at once; at most {most} would be right.").format(
                count=len(vary), most=MOST_VARIED
            )
        )
    if budget < LEAST_BUDGET:
        raise BadInputError(
            _("A search of {budget} designs finds nothing; {least} or more would be right.").format(
                budget=budget, least=LEAST_BUDGET
            )
        )
    fields = tuple(ranged_field(design, range_) for range_ in vary)
    paths = [field.path for field in fields]
    for path in paths:
        if paths.count(path) > 1:
            raise BadInputError(_("{path} is varied twice; give it once.").format(path=path))
    return fields


class _Trials:
    """The designs of one search: each point is assessed once, the best is remembered."""

    def __init__(
        self,
        document: Document,
        fields: tuple[FieldAt, ...],
        vary: Sequence[Range],
        aim: Aim,
        watch: Watch,
        budget: int,
        assessor: Assessor | AssessorApart,
    ) -> None:
        self.document, self.fields, self.vary, self.aim = document, fields, vary, aim
        self.watch, self.budget, self.assessor = watch, budget, assessor
        self.assessed, self.most, self.expected = 0, budget, budget
        self.stopped = False
        self.refused: dict[Point, str] = {}
        self.losses: dict[Point, float] = {}
        self.best: tuple[Point, float, Assessment] | None = None
        self.before = self._assess(document.design)
        if aim == "heat_cost_per_kwh" and self.before.figures["capital_cost"] is None:
            raise BadInputError(_("No price is known, so there is no heat cost; set prices, or aim at heat."))
        present = self.before.figures[aim]
        self.scale = abs(present) if present else 1.0
        self.stops = _stops(self.before)
        here = tuple(field.value for field in fields)
        inside = all(
            value is not None and range_.low <= value <= range_.high
            for value, range_ in zip(here, vary, strict=True)
        )
        if inside and present is not None:
            self._note(tuple(float(value) for value in here), self.before)

    def allow(self, most: int) -> None:
        """Let so many designs be assessed in all."""
        self.most = min(most, self.budget)

    def loss(self, point: Point) -> float | None:
        """What is made least, about -1 or 1 at the present design; None where a design will not do."""
        if point not in self.losses and point not in self.refused:
            if self.stopped or self.assessed >= self.most:
                raise EnoughError
            self._try(point)
        return self.losses.get(point)

    def design(self, point: Point) -> Design:
        """The design with the values of a point."""
        design = self.document.design
        for field, value in zip(self.fields, point, strict=True):
            whole = isinstance(field.declaration, Count)
            design = replaced(design, field.path, round(value) if whole else float(value))
        return design

    def _try(self, point: Point) -> None:
        design = self.design(point)
        try:
            hold_to_rules(self.document.design, design)
            assessment = self._assess(design)
        except StoppedError:
            self.stopped = True
            raise EnoughError from None
        except StillfieldError as error:
            self.refused[point] = str(error)
            return
        new = [f.sentence for f in assessment.findings if f.forbids and f.key not in self.stops]
        if new or assessment.figures[self.aim] is None:
            self.refused[point] = new[0] if new else _("there is no heat to carry a cost")
            return
        self._note(point, assessment)

    def _note(self, point: Point, assessment: Assessment) -> None:
        value = assessment.figures[self.aim]
        assert value is not None
        loss = (-value if self.aim == "annual_heat_kwh" else value) / self.scale
        self.losses[point] = loss
        if self.best is None or loss < self.best[1]:
            self.best = (point, loss, assessment)

    def _assess(self, design: Design) -> Assessment:
        done = self.assessed
        stage = plural("{count} design assessed", "{count} designs assessed", done)
        if self.best is not None:
            figure = FIGURES[self.aim]
            unit = unit_of(figure, self.document.design.prices.currency)
            value = shown(figure, self.best[2].figures[self.aim])
            stage += _(", best {value} {unit}").format(value=value, unit=unit)

        def inner(_stage: str, share: float) -> bool:
            return self.watch(stage, min(1.0, (done + share) / self.expected))

        assessment = self.assessor.assess(self.document, design, watch=inner, calendar=False)
        self.assessed += 1
        return assessment

    def told(self, way: Way, held: tuple[Bound, ...], *, converged: bool) -> Searched:
        """The result, with the best point there is."""
        if self.best is None:
            if self.stopped:
                raise StoppedError("stopped")
            why = next(iter(self.refused.values())).rstrip(".")
            raise BadInputError(_("No design within these bounds will do: {why}.").format(why=why))
        point, _loss, best = self.best
        values = tuple(
            Sought(
                path=field.path, name=field.name, unit=field.declaration.unit, before=field.value,
                best=round(value) if isinstance(field.declaration, Count) else value,
                low=range_.low, high=range_.high, held=side,
            )
            for field, range_, value, side in zip(self.fields, self.vary, point, held, strict=True)
        )  # fmt: skip
        before, after = self.before.figures, best.figures
        return Searched(
            aim=self.aim,
            way=way,
            values=values,
            design=best.design,
            heat_before_kwh=before["annual_heat_kwh"],
            heat_kwh=after["annual_heat_kwh"],
            cost_before_per_kwh=before["heat_cost_per_kwh"],
            cost_per_kwh=after["heat_cost_per_kwh"],
            assessed=self.assessed,
            passed_over=len(self.refused),
            why_passed_over=next(iter(self.refused.values()), ""),
            converged=converged and not self.stopped,
            stopped=self.stopped,
            missing_prices=best.missing_prices,
        )


def _stops(assessment: Assessment) -> frozenset[str]:
    return frozenset(finding.key for finding in assessment.findings if finding.forbids)


def _held(trials: _Trials, axes: tuple[Axis, ...]) -> tuple[Bound, ...]:
    """Which bounds hold the best point back, once values near a bound have been tried at it."""
    try:
        for place, axis in enumerate(axes):
            best = _best_point(trials)
            for bound in (axis.low, axis.high):
                if 0 < abs(best[place] - bound) <= _NEAR_BOUND * (axis.high - axis.low):
                    trials.loss((*best[:place], bound, *best[place + 1 :]))
        return tuple(_side(trials, place, axis) for place, axis in enumerate(axes))
    except EnoughError:
        return tuple("" for _axis_ in axes)


def _side(trials: _Trials, place: int, axis: Axis) -> Bound:
    best = _best_point(trials)
    if best[place] not in (axis.low, axis.high):
        return ""
    side: Bound = "low" if best[place] == axis.low else "high"
    step = max(_NEAR_BOUND * (axis.high - axis.low), 1.0 if axis.whole else 0.0)
    inward = axis.on_grid(best[place] + (step if side == "low" else -step))
    here, inside = (trials.loss(best), trials.loss((*best[:place], inward, *best[place + 1 :])))
    assert here is not None
    return side if inside is None or inside - here > _TOLD_APART * abs(here) else ""


def _best_point(trials: _Trials) -> Point:
    assert trials.best is not None
    return trials.best[0]
