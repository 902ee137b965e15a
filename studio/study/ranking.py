"""The shelf: every mirror on it put into the field in place of the present one, assessed, and ranked with reasons."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from studio.design.design import Document, Shelved
from studio.design.shelf import called, in_field, of_field
from studio.design.validate import hold_to_rules
from studio.errors import BadInputError, StillfieldError
from studio.study.apart import AssessorApart
from studio.study.assess import Assessor
from studio.study.assessment import Assessment
from studio.study.light import LOSSES
from studio.study.sums import HEAT_LOSSES, SHADE
from studio.study.watch import StoppedError, Watch, go_on
from studio.text import _, number

By = Literal["heat_cost_per_kwh", "annual_heat_kwh"]

MOST_REASONS = 3
LEAST_TOLD = 5e-4
"""Share of the sun on facing mirrors: stairs that differ by less are no reason."""
_LEAST_MONEY_TOLD = 0.005
COUNTED = "mirror"
"""The block of the material list that is the mirror's own: film, rib rod, stand rod, fixings, labour. Receivers, pipes,
frames and drives are the line's."""


@dataclass(frozen=True)
class Reason:
    """Where a mirror differs from the present one. ``key`` is a stair of the staircase, its values shares of the sun on

    facing mirrors that are lost there; or ``cost_per_m2``, its values money per square metre of aperture."""

    key: str
    value: float
    present: float
    sentence: str


@dataclass(frozen=True)
class Ranked:
    """One mirror in the field. ``place`` on the shelf counts from 0, None for the mirror that the field is built of.

    ``intercept``: share of the year's reflected light that enters the windows. ``cost_per_m2``: the mirror's own
    materials and labour per m2 of aperture, by ``cost_parts`` (label, money per m2); None where no price is known.
    ``stops``: what forbids building it as the lines stand. ``cannot``: why it cannot be computed; its figures are None then.
    """

    place: int | None
    label: str
    shelved: Shelved
    intercept: float | None
    annual_heat_kwh: float | None
    aperture_m2: float | None
    cost_per_m2: float | None
    cost_parts: tuple[tuple[str, float], ...]
    heat_cost_per_kwh: float | None
    reasons: tuple[Reason, ...]
    stops: tuple[str, ...]
    cannot: str = ""


@dataclass(frozen=True)
class Ranking:
    """The present mirror and all on the shelf, the best first. ``by``: heat cost, or heat where no price is known."""

    by: By
    currency: str
    ranked: tuple[Ranked, ...]
    missing_prices: tuple[str, ...]


def rank(
    document: Document, *, assessor: Assessor | AssessorApart | None = None, watch: Watch = go_on
) -> Ranking:
    """Rank the shelf together with the present mirror: same lines, same plot, same prices.

    Raises BadInputError where there is no line, StoppedError once ``watch`` answers no.
    """
    design = document.design
    if not design.lines:
        raise BadInputError(_("The design has no line to put a mirror into; place a line of mirrors first."))
    assessor = assessor or Assessor()
    members: list[tuple[int | None, str, Shelved]] = [(None, _("in the field"), of_field(design))]
    members += [(place, called(shelved, place), shelved) for place, shelved in enumerate(design.shelf)]
    ranked: list[Ranked] = []
    present: Assessment | None = None
    for done, (place, label, shelved) in enumerate(members):

        def inner(_stage: str, share: float, done: int = done, label: str = label) -> bool:
            return watch(label, (done + share) / len(members))

        built = in_field(design, shelved)
        try:
            hold_to_rules(design, built)
            assessment = assessor.assess(document, built, watch=inner, calendar=False)
        except StoppedError:
            raise
        except StillfieldError as error:
            if present is None:
                raise
            ranked.append(_impossible(place, label, shelved, str(error)))
            continue
        present = present or assessment
        ranked.append(_ranked(place, label, shelved, assessment, present))
    assert present is not None
    by: By = "annual_heat_kwh" if present.figures["heat_cost_per_kwh"] is None else "heat_cost_per_kwh"
    return Ranking(
        by=by,
        currency=design.prices.currency,
        ranked=tuple(sorted(ranked, key=lambda one: _order(one, by))),
        missing_prices=present.missing_prices,
    )


def _order(one: Ranked, by: By) -> float:
    value = one.heat_cost_per_kwh if by == "heat_cost_per_kwh" else one.annual_heat_kwh
    if value is None:
        return float("inf")
    return value if by == "heat_cost_per_kwh" else -value


def _ranked(
    place: int | None, label: str, shelved: Shelved, assessment: Assessment, present: Assessment
) -> Ranked:
    return Ranked(
        place=place,
        label=label,
        shelved=shelved,
        intercept=intercept_of(assessment),
        annual_heat_kwh=assessment.figures["annual_heat_kwh"],
        aperture_m2=assessment.figures["aperture_m2"],
        cost_per_m2=cost_per_m2(assessment),
        cost_parts=_cost_parts(assessment),
        heat_cost_per_kwh=assessment.figures["heat_cost_per_kwh"],
        reasons=() if assessment is present else tuple(_reasons(assessment, present)),
        stops=tuple(finding.sentence for finding in assessment.findings if finding.forbids),
    )


def _impossible(place: int | None, label: str, shelved: Shelved, why: str) -> Ranked:
    return Ranked(
        place=place, label=label, shelved=shelved, intercept=None, annual_heat_kwh=None, aperture_m2=None,
        cost_per_m2=None, cost_parts=(), heat_cost_per_kwh=None, reasons=(), stops=(), cannot=why,
    )  # fmt: skip


def _kwh(assessment: Assessment) -> dict[str, float]:
    return {step.key: abs(step.kwh) for step in assessment.staircase}


def intercept_of(assessment: Assessment) -> float | None:
    """Of the light that the film reflects, the share that enters the windows; acceptance is a stair of its own."""
    kwh = _kwh(assessment)
    reflected = kwh["facing"] - sum(kwh[key] for key in ("cosine", *SHADE, "film"))
    return 1.0 - kwh["intercept"] / reflected if reflected > 0 else None


def _cost_parts(assessment: Assessment) -> tuple[tuple[str, float], ...]:
    """What of the material list is the mirror's own, each with its money per m2 of aperture."""
    aperture = assessment.figures["aperture_m2"] or 0.0
    lines = [line for block in assessment.materials for line in block.lines if line.group == COUNTED]
    return tuple((line.label, line.sum / aperture) for line in lines if line.sum is not None)


def cost_per_m2(assessment: Assessment) -> float | None:
    """Money of the mirror's own materials and labour per m2 of aperture; None where none of it has a price."""
    parts = _cost_parts(assessment)
    return sum(money for _label, money in parts) if parts else None


def losses_of(assessment: Assessment) -> dict[str, float]:
    """Every loss of the staircase as a share of the sun on facing mirrors."""
    kwh = _kwh(assessment)
    return {key: kwh[key] / kwh["facing"] for key in (*LOSSES, *HEAT_LOSSES)}


def _reasons(assessment: Assessment, present: Assessment) -> Iterator[Reason]:
    """The stairs that differ most from the present mirror's, the largest first, and then the money of a square metre."""
    here, there, names = losses_of(assessment), losses_of(present), _loss_names()
    apart = {key: abs(here[key] - there[key]) for key in here}
    for key in sorted(apart, key=lambda key: -apart[key])[:MOST_REASONS]:
        if apart[key] >= LEAST_TOLD:
            text = (
                _("less {loss}: {value} % against {present} %")
                if here[key] < there[key]
                else _("more {loss}: {value} % against {present} %")
            )
            value, before = _told_apart(100 * here[key], 100 * there[key])
            yield Reason(
                key, here[key], there[key], text.format(loss=names[key], value=value, present=before)
            )
    money, before_money = cost_per_m2(assessment), cost_per_m2(present)
    if money and before_money and abs(money / before_money - 1.0) >= _LEAST_MONEY_TOLD:
        text = (
            _("cheaper a m2: {value} {currency} against {present} {currency}")
            if money < before_money
            else _("dearer a m2: {value} {currency} against {present} {currency}")
        )
        value, before = _told_apart(money, before_money)
        currency = present.design.prices.currency
        sentence = text.format(value=value, present=before, currency=currency)
        yield Reason("cost_per_m2", money, before_money, sentence)


def _loss_names() -> dict[str, str]:
    """What the loss of each stair is called inside a sentence."""
    return {
        "cosine": _("cosine loss"),
        "horizon": _("loss to the horizon"),
        "obstacles": _("shade of obstacles"),
        "mirrors": _("shade of mirrors"),
        "gear": _("shade of receivers and pipes"),
        "film": _("loss in the film"),
        "intercept": _("intercept loss"),
        "acceptance": _("acceptance loss"),
        "absorptance": _("absorber loss"),
        "receiver": _("receiver loss"),
        "line_pipe": _("line pipe loss"),
        "header": _("header loss"),
        "idle": _("idle and warm-up loss"),
    }


def _told_apart(one: float, other: float) -> tuple[str, str]:
    """Two numbers with as few digits as show their difference, two at most."""
    digits = next((digits for digits in (0, 1) if 10.0**-digits <= abs(one - other) / 2), 2)
    return number(one, digits=digits), number(other, digits=digits)
