"""An assessment as it leaves: JSON for other programs, tables for the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from studio.study.assessment import Assessment
from studio.study.figures import FIGURE_LIST, shown, unit_of
from studio.text import MINUS, _, number, percent

if TYPE_CHECKING:
    from rich.console import Console

_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_SIGNS = {"stop": "stop", "caution": "caution", "note": "note"}


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
                "label": _(figure.label),
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
                "shade_loss_winter": line.winter_mean,
                "winter_largest": line.winter_largest,
                "winter_largest_solar_hour": line.winter_largest_hour,
                "winter_largest_mirror": line.winter_largest_mirror,
                "winter_with_gear": line.winter_with_gear,
                "winter_by": [{"line": caster, "share": share} for caster, share in line.winter_by],
                "passes": line.passes,
                "pipe_length_m": line.pipe_m,
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
    """Figures, staircase, lines, months and findings as tables on the terminal."""
    console = _console()
    console.print(assessment.design.site.name, style="bold")
    _print_figures(console, assessment)
    _print_staircase(console, assessment)
    _print_lines(console, assessment)
    _print_months(console, assessment)
    print_findings(assessment)


def print_findings(assessment: Assessment) -> None:
    """What the checks notice, one under the other."""
    console = _console()
    if not assessment.findings:
        console.print(_("The checks notice nothing."))
    for finding in assessment.findings:
        console.print(
            f"{finding.number:>3}  {_(_SIGNS[finding.severity]):<8} {finding.sentence}", markup=False
        )
        if finding.detail:
            console.print(f"              {finding.detail}", markup=False)


def _console() -> Console:
    from rich.console import Console

    # one line a row, also where the output goes to a file or a narrow window
    return Console(highlight=False, soft_wrap=True, width=None)


def _table(title: str, *columns: str) -> Any:
    from rich.table import Table

    table = Table(title=title, title_justify="left", box=None, pad_edge=False, show_header=bool(columns))
    for place, column in enumerate(columns):
        table.add_column(column, justify="left" if place == 0 else "right", no_wrap=True)
    return table


def _print_figures(console: Console, assessment: Assessment) -> None:
    currency = assessment.design.prices.currency
    table = _table(_("Figures"), _("figure"), _("value"), _("unit"))
    for figure in FIGURE_LIST:
        value = assessment.figures[figure.key]
        table.add_row(_(figure.label), shown(figure, value), unit_of(figure, currency))
    console.print(table)


def _print_staircase(console: Console, assessment: Assessment) -> None:
    table = _table(_("Where the sun goes"), _("step"), "kWh", _("% of sun"))
    whole = assessment.staircase[0].kwh
    for step in assessment.staircase:
        text = number(step.kwh, digits=0)
        table.add_row(step.label, text, percent(abs(step.kwh) / whole if whole else None))
    console.print(table)


def _print_lines(console: Console, assessment: Assessment) -> None:
    table = _table(
        _("Lines"), _("line"), _("mirrors"), _("outlet heat, kWh"), _("shade of the year, %"),
        _("winter shade, %"), _("largest, %"), _("passes"),
    )  # fmt: skip
    for line in assessment.lines:
        table.add_row(
            str(line.id), str(line.mirrors), number(line.annual_heat_kwh, digits=0), percent(line.shade_loss_year),
            percent(line.winter_mean), percent(line.winter_largest), _("yes") if line.passes else _("no"),
        )  # fmt: skip
    console.print(table)


def _print_months(console: Console, assessment: Assessment) -> None:
    months = assessment.months.kwh
    table = _table(_("Months, kWh"), _("step"), *(_(month) for month in _MONTHS))
    for step in assessment.staircase:
        sign = "" if step.landing else MINUS
        values = (float(value) for value in months[step.key])
        table.add_row(step.label, *(sign + number(value, digits=0) for value in values))
    console.print(table)
