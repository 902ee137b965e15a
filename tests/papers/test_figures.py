"""An assessment as it leaves: JSON keys that others rely on, and tables that are whole at 80 columns."""

import dataclasses
import json
from functools import cache

import pytest

from studio.design.design import Document
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.papers.figures import as_tree, name_of, print_assessment, print_findings
from studio.study.assess import Assessor
from studio.study.assessment import Assessment
from studio.study.figures import FIGURE_LIST, FIGURES

KEYS = (
    "mirrors", "aperture_m2", "plot_area_m2", "pipe_length_m", "header_length_m", "film_m2", "rod_length_m", "rod_bars",
    "oil_litres", "facing_sun_kwh", "annual_heat_kwh", "shade_loss_year", "shade_loss_winter",
    "optical_efficiency_year", "working_hours_per_day", "stagnation_c", "capital_cost", "heat_cost_per_kwh",
)  # fmt: skip
ASSESSOR = Assessor()


@cache
def assessed(
    name: str = "small_dryer", *, lines: int | None = None, site: str = "", currency: str = ""
) -> Assessment:
    document = open_site(example_path(name))
    design = document.design
    design = dataclasses.replace(
        design,
        lines=design.lines[:lines],
        site=dataclasses.replace(design.site, name=site or design.site.name),
        prices=dataclasses.replace(design.prices, currency=currency or design.prices.currency),
    )
    return ASSESSOR.assess(Document(design=design))


def printed(assessment: Assessment, capsys: pytest.CaptureFixture[str]) -> str:
    print_assessment(assessment)
    return capsys.readouterr().out


def test_json_has_the_keys_that_others_rely_on() -> None:
    tree = json.loads(json.dumps(as_tree(assessed()), allow_nan=False))
    for key in KEYS:
        assert set(tree["figures"][key]) == {"value", "unit", "label"}
        assert tree["figures"][key]["value"] is not None
    assert list(tree["figures"]) == [figure.key for figure in FIGURE_LIST]
    assert tree["figures"]["heat_cost_per_kwh"]["unit"] == "EUR/kWh"
    assert tree["figures"]["mirrors"]["value"] == 44
    steps = tree["staircase"]
    assert all({"key", "label", "kwh"} <= set(step) for step in steps)
    losses = sum(step["kwh"] for step in steps if step["key"] not in ("facing", "absorbed", "outlet"))
    assert steps[0]["kwh"] + losses == pytest.approx(steps[-1]["kwh"])
    assert steps[-1]["kwh"] == pytest.approx(tree["figures"]["annual_heat_kwh"]["value"])
    for key, values in tree["months"].items():
        step = next(step for step in steps if step["key"] == key)
        assert sum(values) == pytest.approx(abs(step["kwh"]))
    assert sum(line["annual_heat_kwh"] for line in tree["lines"]) == pytest.approx(steps[-1]["kwh"])
    assert tree["findings"]
    for place, finding in enumerate(tree["findings"], start=1):
        assert {"key", "number", "severity", "sentence", "value", "place", "mend"} <= set(finding)
        assert finding["number"] == place


def test_no_two_figures_leave_under_one_name() -> None:
    names = [name_of(figure) for figure in FIGURE_LIST]
    assert len(set(names)) == len(names)
    assert name_of(FIGURES["rod_bars"]) == "rods, bars"
    assert name_of(FIGURES["oil_litres"]) == "oil"


@pytest.mark.parametrize("columns", ["20", "80", "200"])
def test_tables_are_whole_and_fit_80_columns(
    columns: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    text = printed(assessed(), capsys)
    assert "…" not in text
    assert "\x1b" not in text
    if columns != "200":
        assert max(len(line) for line in text.splitlines()) <= 80
    assert "shade, receivers and pipes" in text
    assert all(month in text for month in ("Jan", "Jun", "Jul", "Dec"))


def test_months_are_the_assessment_s_own(capsys: pytest.CaptureFixture[str]) -> None:
    assessment = assessed()
    text = printed(assessment, capsys)
    rows = [line.split() for line in text.splitlines() if line.startswith("outlet heat ")]
    months = [f"{kwh / 1000:.2f}" for kwh in assessment.months.kwh["outlet"]]
    assert [row[2:] for row in rows[-2:]] == [months[:6], months[6:]]


def test_decimal_points_of_figures_stand_under_each_other(capsys: pytest.CaptureFixture[str]) -> None:
    text = printed(assessed(), capsys)
    rows = text.partition("Where the sun goes")[0].splitlines()[3:]
    points = {row.index(".") for row in rows if "." in row}
    assert len(points) == 1
    whole = next(row for row in rows if row.startswith("mirrors"))
    assert whole.rstrip().endswith("44")
    assert len(whole.rstrip()) == points.pop()


def test_names_of_a_person_are_printed_as_they_are(capsys: pytest.CaptureFixture[str]) -> None:
    """Square brackets and colons would be markup and pictures in a terminal library."""
    text = printed(assessed(site="[/bold] :smile: [red]x", currency="[/EUR]"), capsys)
    assert "[/bold] :smile: [red]x" in text
    assert "[/EUR] a year" in text


def test_a_field_without_lines_prints_dashes(capsys: pytest.CaptureFixture[str]) -> None:
    text = printed(assessed(lines=0), capsys)
    assert "heat cost" in text
    assert "–" in text
    assert "nan" not in text.casefold()
    assert json.dumps(as_tree(assessed(lines=0)), allow_nan=False)


def test_findings_are_broken_between_words_and_nothing_noticed_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assessment = assessed()
    print_findings(assessment)
    text = " ".join(capsys.readouterr().out.split())
    for finding in assessment.findings:
        assert f"{finding.number} {finding.severity} {finding.sentence}" in text
        assert finding.detail in text
    print_findings(dataclasses.replace(assessment, findings=()))
    assert capsys.readouterr().out == "The checks notice nothing.\n"
