"""What a field brings, value by value: each rib more or less, each centimetre of window."""

from collections.abc import Sequence
from dataclasses import dataclass

from studio.design.design import Document
from studio.design.fields import Count, Declaration, Quantity
from studio.design.paths import FieldAt, field_at, replaced, with_unit
from studio.design.validate import hold_to_rules
from studio.errors import BadInputError, StillfieldError
from studio.study.apart import AssessorApart
from studio.study.assess import Assessor
from studio.study.figures import FIGURES, shown, unit_of
from studio.study.watch import StoppedError, Watch, go_on
from studio.text import _

_STEPS = {"m": 0.01, "°": 1.0, "mrad": 1.0}
"""Steps that a hand would make, by unit; else one of the last digit that the field shows."""


@dataclass(frozen=True)
class Gain:
    """What a step from the design's value to ``value`` brings: heat in kWh a year, cost in currency/kWh (None: not known)."""

    value: float
    heat_kwh: float
    cost_per_kwh: float | None


@dataclass(frozen=True)
class Curve:
    """Heat and cost over the values of one field; None where a value will not do or a figure is not known.

    ``here`` is the design's own value; ``more`` and ``less`` are one step up and down from it, None where that will not do.
    """

    path: str
    name: str
    values: tuple[float, ...]
    annual_heat_kwh: tuple[float | None, ...]
    heat_cost_per_kwh: tuple[float | None, ...]
    here: float
    more: Gain | None
    less: Gain | None


def step_of(declaration: Declaration) -> float:
    """The step that a curve tells: one of a count, a centimetre, a degree, a milliradian."""
    if isinstance(declaration, Count):
        return 1.0
    assert isinstance(declaration, Quantity)
    return _STEPS.get(declaration.unit, 10.0**-declaration.digits)


def curve(
    document: Document,
    path: str,
    values: Sequence[float],
    *,
    assessor: Assessor | AssessorApart | None = None,
    watch: Watch = go_on,
) -> Curve:
    """Yearly heat and heat cost with the field at ``path`` set to each of ``values``, all else as it is.

    Raises BadInputError for a field that is no number or follows another one; StoppedError once ``watch`` answers no.
    """
    field = field_at(document.design, path)
    declaration = field.declaration
    if not isinstance(declaration, Quantity | Count):
        raise BadInputError(_("{name} is no number, so there is no curve over it.").format(name=field.name))
    if field.value is None:
        raise BadInputError(
            _("{name} has no value of its own; set one to see what a step brings.").format(name=field.name)
        )
    if isinstance(declaration, Count) and any(value != round(value) for value in values):
        raise BadInputError(_("{name}: whole numbers would be right.").format(name=field.name))
    here, step = float(field.value), step_of(declaration)
    wanted = (here, round(here + step, 9), round(here - step, 9), *(float(value) for value in values))
    figures = _figures(document, field, tuple(dict.fromkeys(wanted)), assessor or Assessor(), watch)
    return Curve(
        path=field.path,
        name=field.name,
        values=wanted[3:],
        annual_heat_kwh=tuple(figures[value][0] for value in wanted[3:]),
        heat_cost_per_kwh=tuple(figures[value][1] for value in wanted[3:]),
        here=here,
        more=_gain(figures, here, wanted[1]),
        less=_gain(figures, here, wanted[2]),
    )


def told(document: Document, found: Curve) -> tuple[str, ...]:
    """What one step more and one step less bring, a sentence each."""
    field, currency = field_at(document.design, found.path), document.design.prices.currency
    return tuple(
        _gain_told(field, found.here, gain, currency) for gain in (found.more, found.less) if gain is not None
    )


_Figures = dict[float, tuple[float | None, float | None]]


def _figures(
    document: Document,
    field: FieldAt,
    values: tuple[float, ...],
    assessor: Assessor | AssessorApart,
    watch: Watch,
) -> _Figures:
    """Heat and cost at each value, by the value; in rising order, so that neighbours share what the cache holds."""
    whole = isinstance(field.declaration, Count)
    found: _Figures = {}
    for done, value in enumerate(sorted(values)):

        def inner(stage: str, share: float, done: int = done) -> bool:
            return watch(stage, (done + share) / len(values))

        design = replaced(document.design, field.path, round(value) if whole else value)
        try:
            hold_to_rules(document.design, design)
            figures = assessor.assess(document, design, watch=inner, calendar=False).figures
        except StoppedError:
            raise
        except StillfieldError:
            found[value] = (None, None)
        else:
            found[value] = (figures["annual_heat_kwh"], figures["heat_cost_per_kwh"])
    return found


def _gain(figures: _Figures, here: float, there: float) -> Gain | None:
    (heat, cost), (other_heat, other_cost) = figures[here], figures[there]
    if heat is None or other_heat is None:
        return None
    dearer = None if cost is None or other_cost is None else other_cost - cost
    return Gain(there, other_heat - heat, dearer)


def _gain_told(field: FieldAt, here: float, gain: Gain, currency: str) -> str:
    whole = isinstance(field.declaration, Count)
    start, end = (
        with_unit(field.declaration, round(value) if whole else value) for value in (here, gain.value)
    )
    text = _("{name} from {start} to {end}: {heat} a year").format(
        name=field.name, start=start, end=end, heat=_shown("annual_heat_kwh", gain.heat_kwh, currency)
    )
    if gain.cost_per_kwh is None:
        return text + "."
    return text + _(", heat cost {cost}.").format(
        cost=_shown("heat_cost_per_kwh", gain.cost_per_kwh, currency)
    )


def _shown(key: str, value: float, currency: str) -> str:
    figure = FIGURES[key]
    return f"{shown(figure, value, sign=True)} {unit_of(figure, currency)}"
