"""The ranked shelf and a search's answer as they leave: JSON for other programs, tables for the terminal."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from textwrap import fill
from typing import TYPE_CHECKING, Any

from studio.design.fields import Count
from studio.design.paths import field_at, with_unit
from studio.papers.terminal import table_of, terminal
from studio.study.figures import FIGURES, shown, unit_of
from studio.study.ranking import Ranked, Ranking
from studio.study.search import Searched, Sought, told
from studio.study.watch import Watch, go_on
from studio.text import DASH, _, number, percent, pretty

if TYPE_CHECKING:
    from rich.console import Console

_WIDEST_NAME = 30
"""Columns of a name; what is longer goes on below."""


def ranking_tree(ranking: Ranking) -> dict[str, Any]:
    """A ranking as plain dicts and lists, the best first; money in its currency, places on the shelf from 1."""
    return {
        "currency": ranking.currency,
        "by": ranking.by,
        "ranked": [
            {
                "label": one.label,
                "shelf": None if one.place is None else one.place + 1,
                "intercept": one.intercept,
                "annual_heat_kwh": one.annual_heat_kwh,
                "aperture_m2": one.aperture_m2,
                "cost_per_m2": one.cost_per_m2,
                "cost_parts_per_m2": [{"label": label, "value": value} for label, value in one.cost_parts],
                "heat_cost_per_kwh": one.heat_cost_per_kwh,
                "reasons": [
                    {
                        "key": reason.key,
                        "value": reason.value,
                        "present": reason.present,
                        "sentence": reason.sentence,
                    }
                    for reason in one.reasons
                ],
                "stops": list(one.stops),
                "cannot": one.cannot,
            }
            for one in ranking.ranked
        ],
        "missing_prices": list(ranking.missing_prices),
    }


def search_tree(searched: Searched) -> dict[str, Any]:
    """A search's answer as plain dicts and lists; values in their fields' units."""
    return {
        "aim": searched.aim,
        "way": searched.way,
        "values": [
            {
                "path": value.path,
                "name": value.name,
                "unit": value.unit,
                "before": value.before,
                "best": value.best,
                "low": value.low,
                "high": value.high,
                "held_back_by": value.held or None,
            }
            for value in searched.values
        ],
        "annual_heat_kwh": {"before": searched.heat_before_kwh, "best": searched.heat_kwh},
        "heat_cost_per_kwh": {"before": searched.cost_before_per_kwh, "best": searched.cost_per_kwh},
        "currency": searched.design.prices.currency,
        "assessed": searched.assessed,
        "passed_over": searched.passed_over,
        "converged": searched.converged,
        "stopped": searched.stopped,
        "missing_prices": list(searched.missing_prices),
        "sentences": list(told(searched)),
    }


def print_ranking(ranking: Ranking) -> None:
    """The ranking as a table, and below it why each mirror stands where it does."""
    console = terminal()
    cost, heat = (_unit(key, ranking.currency) for key in ("heat_cost_per_kwh", "annual_heat_kwh"))
    title = _("Mirrors by heat cost") if ranking.by == "heat_cost_per_kwh" else _("Mirrors by outlet heat")
    table = table_of(
        title, _("mirror"), _("intercept %"), _("outlet heat, {unit}").format(unit=heat),
        pretty(_("{currency}/m2").format(currency=ranking.currency)), cost,
    )  # fmt: skip
    _let_names_go_on(table)
    for one in ranking.ranked:
        table.add_row(
            one.label,
            percent(one.intercept),
            shown(FIGURES["annual_heat_kwh"], one.annual_heat_kwh),
            number(one.cost_per_m2, digits=1),
            shown(FIGURES["heat_cost_per_kwh"], one.heat_cost_per_kwh),
        )
    console.print(table)
    console.print()
    for one in ranking.ranked:
        if said := _why(one):
            _paragraph(console, f"{one.label}: {'; '.join(said)}.")
    if len(ranking.ranked) == 1:
        _paragraph(
            console, _("The shelf is empty; put mirrors on it to see them ranked beside the field's own.")
        )
    if ranking.missing_prices:
        names = ", ".join(ranking.missing_prices)
        _paragraph(console, _("Costs leave out what has no price: {names}.").format(names=names))
    _paragraph(
        console,
        _(
            "A m2 of aperture counts film, rib and stand rods, fixings and labour of the mirror; receivers, pipes and frames are the line's."
        ),
    )


def _why(one: Ranked) -> list[str]:
    if one.cannot:
        return [_("cannot be computed: {why}").format(why=one.cannot.rstrip("."))]
    stops = [_("must not be built so: {why}").format(why=stop.rstrip(".")) for stop in one.stops]
    return [*(reason.sentence for reason in one.reasons), *stops]


def print_search(searched: Searched) -> None:
    """The best values, what they bring, what held the search back, and how to try them."""
    console = terminal()
    table = table_of(_("Best values"), _("field"), _("now"), _("best"), _("from"), _("to"))
    _let_names_go_on(table)
    for value in searched.values:
        table.add_row(
            value.name,
            *(_value(searched, value, x) for x in (value.before, value.best, value.low, value.high)),
        )
    console.print(table)
    figures = table_of(
        _("What they bring, after {count} designs").format(count=searched.assessed), _("figure"), _("now"), _("best"), ""
    )  # fmt: skip
    for key, before, after in (
        ("annual_heat_kwh", searched.heat_before_kwh, searched.heat_kwh),
        ("heat_cost_per_kwh", searched.cost_before_per_kwh, searched.cost_per_kwh),
    ):
        figure = FIGURES[key]
        figures.add_row(
            _(figure.label),
            _figure(key, before),
            _figure(key, after),
            _unit(key, searched.design.prices.currency),
        )
    console.print(figures)
    console.print()
    for sentence in told(searched):
        _paragraph(console, sentence)
    words = " ".join(f"--set {value.path}={value.best:.10g}" for value in searched.values)
    console.print(_("Nothing is changed in the file; try it with: {words}").format(words=words))


def _figure(key: str, value: float | None) -> str:
    """A figure with one digit more than the tally shows, so that a small gain can be seen."""
    return DASH if value is None else number(value / FIGURES[key].shown_per, figures=4)


def _value(searched: Searched, sought: Sought, value: float | None) -> str:
    if value is None:
        return DASH
    declaration = field_at(searched.design, sought.path).declaration
    return with_unit(declaration, round(value) if isinstance(declaration, Count) else value)


def _unit(key: str, currency: str) -> str:
    return pretty(unit_of(FIGURES[key], currency))


def _let_names_go_on(table: Any) -> None:
    names = table.columns[0]
    names.no_wrap, names.overflow, names.max_width = False, "fold", _WIDEST_NAME


def _paragraph(console: Console, text: str) -> None:
    console.print(fill(pretty(text), console.width - 1, subsequent_indent="  ", break_long_words=False))


@contextmanager
def progress() -> Iterator[Watch]:
    """A watch that tells stage and share on one line of standard error, where that is a terminal; gone at the end."""
    stream = sys.stderr
    if not stream.isatty():
        yield go_on
        return

    def watch(stage: str, share: float) -> bool:
        stream.write(f"\r\x1b[K{percent(share, digits=0):>3} %  {stage}"[:100])
        stream.flush()
        return True

    try:
        yield watch
    finally:
        stream.write("\r\x1b[K")
        stream.flush()
