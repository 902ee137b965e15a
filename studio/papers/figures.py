"""An assessment as it leaves: JSON for other programs, tables for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from studio.design.fields import mark
from studio.engine.shade.curved import CurvedShade
from studio.papers.terminal import broken, table_of, terminal
from studio.study.assessment import Assessment
from studio.study.figures import FIGURE_LIST, Figure, shown, unit_of
from studio.text import _, number, percent, pretty

if TYPE_CHECKING:
    from rich.console import Console

_MONTHS = (
    mark("Jan"), mark("Feb"), mark("Mar"), mark("Apr"), mark("May"), mark("Jun"),
    mark("Jul"), mark("Aug"), mark("Sep"), mark("Oct"), mark("Nov"), mark("Dec"),
)  # fmt: skip
_SEVERITIES = {"stop": mark("stop"), "caution": mark("caution"), "note": mark("note")}


def as_tree(assessment: Assessment) -> dict[str, Any]:
    """An assessment as plain dicts and lists: figures, staircase, lines, months, findings. Units as in ``FIGURES``."""
    currency = assessment.design.prices.currency
    return {
        "site": assessment.design.site.name,
        "currency": currency,
        "figures": {
            figure.key: {
                "value": assessment.figures[figure.key],
                "unit": figure.unit.replace("currency", currency),
                "label": name_of(figure),
            }
            for figure in FIGURE_LIST
        },
        "staircase": [
            {"key": step.key, "label": step.label, "kwh": step.kwh} for step in assessment.staircase
        ],
        "lines": [
            {
                "id": line.id,
                "mirrors": line.mirrors,
                "annual_heat_kwh": line.annual_heat_kwh,
                "absorbed_kwh": line.absorbed_kwh,
                "shade_loss_year": line.shade_loss_year,
                "horizon_loss_year": line.horizon_loss_year,
                "obstacle_loss_year": line.obstacle_loss_year,
                "obstacles_by": [
                    {"obstacle": assessment.design.obstacles[place].name, "share_alone": share}
                    for place, share in line.obstacles_by
                ],
                "shade_loss_winter": line.winter_mean,
                "winter_largest": line.winter_largest,
                "winter_largest_solar_hour": line.winter_largest_hour,
                "winter_largest_mirror": line.winter_largest_mirror,
                "winter_with_gear": line.winter_with_gear,
                "winter_with_all": line.winter_with_all,
                "winter_by": [{"line": caster, "share": share} for caster, share in line.winter_by],
                "passes": line.passes,
                "pipe_length_m": line.pipe_m,
                "grade_percent": line.grade_percent,
                "post_shortest_m": line.post_shortest_m,
                "post_longest_m": line.post_longest_m,
                "cut_m3": line.cut_m3,
                "fill_m3": line.fill_m3,
            }
            for line in assessment.lines
        ],
        "months": {key: [float(value) for value in values] for key, values in assessment.months.kwh.items()},
        "missing_prices": list(assessment.missing_prices),
        "findings": [
            {
                "key": finding.key,
                "number": finding.number,
                "severity": finding.severity,
                "sentence": finding.sentence,
                "detail": finding.detail,
                "value": finding.value,
                "unit": finding.unit,
                "place": list(finding.place) if finding.place else None,
                "line": finding.line_id,
                "mend": (
                    {
                        "label": finding.mend.label,
                        "edit": finding.mend.edit,
                        "arguments": dict(finding.mend.arguments),
                    }
                    if finding.mend
                    else None
                ),
            }
            for finding in assessment.findings
        ],
    }


def print_assessment(assessment: Assessment) -> None:
    """Figures, staircase, lines, months and findings as tables on the terminal, none wider than 80 columns."""
    console = terminal()
    console.print(assessment.design.site.name, style="bold")
    _print_figures(console, assessment)
    _print_staircase(console, assessment)
    if assessment.lines:
        _print_lines(console, assessment)
        _print_months(console, assessment)
    console.print()
    print_findings(assessment)


def print_findings(assessment: Assessment) -> None:
    """What the checks notice, one under the other, broken between words."""
    console = terminal()
    if not assessment.findings:
        console.print(_("The checks notice nothing."))
    for finding in assessment.findings:
        head = f"{finding.number:>3}  {_(_SEVERITIES[finding.severity]):<8}  "
        indent = " " * len(head)
        for text, first in ((finding.sentence, head), (finding.detail, indent)):
            if text:
                console.print(broken(text, first=first, after=indent, width=console.width))


def print_curved(curved: CurvedShade) -> None:
    """What the mirrors' curved form differs from flat apertures by, in one sentence."""
    sentence = _(
        "Shade of mirrors on mirrors, by seeded rays over the year's DNI: flat apertures {flat} %, curved mirrors {curved} % "
        "of the light on the apertures; difference {apart} % ± {error} %."
    ).format(
        flat=percent(curved.flat, digits=2),
        curved=percent(curved.curved, digits=2),
        apart=percent(curved.difference, digits=2),
        error=percent(curved.error, digits=2),
    )
    console = terminal()
    console.print(broken(sentence, width=console.width))


def name_of(figure: Figure) -> str:
    """A figure's label; where two figures share one (rods in m and in bars) its unit tells them apart."""
    label = _(figure.label)
    twin = any(other.label == figure.label and other.key != figure.key for other in FIGURE_LIST)
    return f"{label}, {_(figure.unit)}" if twin else label


def _aligned(texts: list[str]) -> list[str]:
    """Numbers padded on both sides so that their decimal points stand under each other."""
    behind = [len(text) - text.find(".") if "." in text else 0 for text in texts]
    padded = [text + " " * (max(behind) - after) for text, after in zip(texts, behind, strict=True)]
    width = max(len(text) for text in padded)
    return [text.rjust(width) for text in padded]


def _print_figures(console: Console, assessment: Assessment) -> None:
    currency = assessment.design.prices.currency
    values = _aligned([shown(figure, assessment.figures[figure.key]) for figure in FIGURE_LIST])
    table = table_of(_("Figures"), _("figure"), _("value").rjust(len(values[0])), "")
    for column in table.columns:
        column.justify = "left"  # the library takes spaces away on the right where it justifies to the right
    for figure, value in zip(FIGURE_LIST, values, strict=True):
        table.add_row(name_of(figure), value, pretty(unit_of(figure, currency)))
    console.print(table)


def _print_staircase(console: Console, assessment: Assessment) -> None:
    table = table_of(_("Where the sun goes"), _("step"), "kWh", _("% of sun"))
    whole = assessment.staircase[0].kwh
    for step in assessment.staircase:
        text = number(step.kwh, digits=0)
        table.add_row(step.label, text, percent(abs(step.kwh) / whole if whole else None))
    console.print(table)


def _print_lines(console: Console, assessment: Assessment) -> None:
    table = table_of(
        _("Lines"), _("line"), _("mirrors"), _("outlet heat, kWh"), _("shade, year %"), _("winter %"),
        _("largest %"), _("passes"),
    )  # fmt: skip
    for line in assessment.lines:
        table.add_row(
            str(line.id), str(line.mirrors), number(line.annual_heat_kwh, digits=0), percent(line.shade_loss_year),
            percent(line.winter_mean), percent(line.winter_largest), _("yes") if line.passes else _("no"),
        )  # fmt: skip
    console.print(table)


def _print_months(console: Console, assessment: Assessment) -> None:
    """Two tables of half a year each: twelve columns do not fit a terminal."""
    months = assessment.months.kwh
    largest = max((float(abs(values).max()) for values in months.values()), default=0.0)
    digits = 2 if largest < 100_000 else 1 if largest < 1_000_000 else 0
    for title, half in (
        (_("January to June, MWh"), range(6)),
        (_("July to December, MWh"), range(6, 12)),
    ):
        table = table_of(title, _("step"), *(_(_MONTHS[month]) for month in half))
        for step in assessment.staircase:
            sign = 1.0 if step.landing else -1.0
            kwh = (sign * float(months[step.key][month]) for month in half)
            table.add_row(step.label, *(number(value / 1000.0, digits=digits) for value in kwh))
        console.print(table)
