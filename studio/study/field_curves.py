"""What a whole field brings, value by value of its pitch, its spacing or its azimuth: each point a design assessed by itself."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING, Protocol

from studio.design.design import Design, Document
from studio.design.validate import hold_to_rules
from studio.errors import StillfieldError
from studio.study.assessment import Assessment
from studio.study.watch import StoppedError, Watch, go_on
from studio.text import _

if TYPE_CHECKING:
    from studio.study.apart import AssessorApart
    from studio.study.assess import Assessor

KEYS = (
    "annual_heat_kwh", "heat_per_mirror_kwh", "shade_loss_winter", "land_use", "ground_cover", "field_area_m2",
    "pipe_length_m", "header_length_m", "mirrors", "capital_cost", "heat_cost_per_kwh",
)  # fmt: skip
"""The figures that a point tells."""
_MANY_MIRRORS = 1000
_EACH_AT_FIRST = 3
"""Of a field of many mirrors every so many-th point is worked out before those between."""


class Made(Protocol):
    """A variant of the field: what undo would call it, and its design."""

    @property
    def label(self) -> str:
        """In words."""
        ...

    @property
    def design(self) -> Design:
        """The field so changed."""
        ...


@dataclass(frozen=True)
class FieldPoint:
    """What an assessed field brings: ``figures`` by ``KEYS``; who is shaded most in the winter check, and whether all pass.

    ``stops`` are the sentences of findings that forbid building, one of a kind; ``stop_count`` counts all of them.
    """

    figures: Mapping[str, float | None]
    worst_line: int | None
    passes: bool
    stops: tuple[str, ...]
    stop_count: int


@dataclass(frozen=True)
class CurvePoint:
    """The field at a ``value``; without ``brings`` it cannot be made or computed so, and ``cannot`` says why."""

    value: float
    label: str
    design: Design | None
    brings: FieldPoint | None
    cannot: str = ""

    def figure(self, key: str) -> float | None:
        """One of ``KEYS``; None where it is not known."""
        return None if self.brings is None else self.brings.figures[key]

    @property
    def sound(self) -> bool:
        """Whether it can be computed and nothing forbids building it."""
        return self.brings is not None and not self.brings.stop_count


@dataclass(frozen=True)
class FieldCurve:
    """Points in rising order of their value, and the design as it stands (``here`` its value, ``present`` what it brings).

    ``passing_pitch_m`` is the figure of that name: the smallest mean pitch at which the field as it stands passes the
    winter check, all pitches scaled alike.
    """

    here: float
    present: FieldPoint
    points: tuple[CurvePoint, ...]
    passing_pitch_m: float | None


def point_of(assessment: Assessment) -> FieldPoint:
    """What an assessment says of its field."""
    worst = max(assessment.lines, key=lambda line: line.winter_mean, default=None)
    stops = [finding for finding in assessment.findings if finding.forbids]
    first = {finding.key: finding.sentence for finding in reversed(stops)}
    return FieldPoint(
        figures={key: assessment.figures[key] for key in KEYS},
        worst_line=worst.id if worst is not None and worst.winter_mean > 0.0 else None,
        passes=all(line.passes for line in assessment.lines),
        stops=tuple(reversed(first.values())),
        stop_count=len(stops),
    )


def _nothing(_point: CurvePoint) -> None:
    """What nobody waits for."""


def field_curve(
    document: Document,
    values: Sequence[float],
    *,
    here: float,
    make: Callable[[float], Made],
    assessor: Assessor | AssessorApart,
    watch: Watch = go_on,
    found: Callable[[CurvePoint], None] = _nothing,
    known: Mapping[Design, FieldPoint] | None = None,
    with_passing: bool = True,
) -> FieldCurve:
    """The field at each of ``values``, made by ``make``; ``here`` is the value that the document's design has.

    ``found`` is told each point as it comes, those next to the present one first (of a large field every third one
    before those between). Designs that are ``known`` are not assessed again. Without ``with_passing`` the pitch that
    passes is not looked for. Raises StoppedError once ``watch`` answers no.
    """
    known = dict(known or {})
    steps = len(values) + 1

    def told(done: int) -> Watch:
        words = _("{done} of {count} points").format(done=max(done - 1, 0), count=len(values))
        return lambda _stage, share: watch(words, (done + share) / steps)

    def brought(done: int, design: Design) -> FieldPoint:
        if design not in known:
            known[design] = point_of(assessor.assess(document, design, watch=told(done), calendar=False))
        elif not told(done)("", 0.0):
            raise StoppedError("stopped")
        return known[design]

    present = brought(0, document.design)
    points = []
    for done, value in enumerate(in_order(document.design, values, here), start=1):
        points.append(_point(document.design, value, make, partial(brought, done)))
        found(points[-1])
    passing = None
    if with_passing:
        whole = assessor.assess(document, document.design, watch=told(len(values)), calendar=True)
        passing = whole.figures["passing_pitch_m"]
    return FieldCurve(here, present, tuple(sorted(points, key=lambda point: point.value)), passing)


def _point(
    before: Design, value: float, make: Callable[[float], Made], brought: Callable[[Design], FieldPoint]
) -> CurvePoint:
    made: Made | None = None
    try:
        made = make(value)
        hold_to_rules(before, made.design)
        return CurvePoint(value, made.label, made.design, brought(made.design))
    except StoppedError:
        raise
    except StillfieldError as error:
        return CurvePoint(value, made.label if made else "", made.design if made else None, None, str(error))


def in_order(design: Design, values: Sequence[float], here: float) -> tuple[float, ...]:
    """Values in the order in which they are worked out."""
    near = sorted(values, key=lambda value: (abs(value - here), value))
    if sum(line.count for line in design.lines) < _MANY_MIRRORS:
        return tuple(near)
    rising = sorted(values)
    start = min(range(len(rising)), key=lambda place: abs(rising[place] - here), default=0)
    coarse = {value for place, value in enumerate(rising) if (place - start) % _EACH_AT_FIRST == 0}
    return (
        *(value for value in near if value in coarse),
        *(value for value in near if value not in coarse),
    )


def usual_points(design: Design) -> int:
    """How many points a curve has unless told otherwise: fewer for fields that take longer."""
    mirrors = sum(line.mirrors for line in design.lines)
    return 15 if mirrors <= 1000 else 11 if mirrors <= 4000 else 7


def best_point(points: Sequence[CurvePoint]) -> CurvePoint | None:
    """Of what may be built the point of least heat cost; without prices that of most heat; None where none may be."""
    sound = [point for point in points if point.sound]
    priced = [point for point in sound if point.figure("heat_cost_per_kwh") is not None]
    if priced:
        return min(priced, key=lambda point: point.figure("heat_cost_per_kwh") or 0.0)
    return max(sound, key=lambda point: point.figure("annual_heat_kwh") or 0.0, default=None)


def passing_spans(points: Sequence[CurvePoint], limit: float) -> tuple[tuple[float, float], ...]:
    """Where the winter shade of the worst line is within its mark: spans of the value, straight between points."""
    spans: list[tuple[float, float]] = []

    def add(start: float, end: float) -> None:
        if spans and abs(spans[-1][1] - start) < 1e-12:
            spans[-1] = (spans[-1][0], end)
        elif end >= start:
            spans.append((start, end))

    known = [(point.value, point.figure("shade_loss_winter")) for point in points]
    for (value, shade), (after, next_shade) in pairwise(known):
        if shade is None or next_shade is None:
            continue
        if shade <= limit and next_shade <= limit:
            add(value, after)
        elif (shade <= limit) != (next_shade <= limit):
            edge = value + (after - value) * (limit - shade) / (next_shade - shade)
            add(*((value, edge) if shade <= limit else (edge, after)))
    return tuple(spans)
