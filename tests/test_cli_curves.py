"""The command ``curves`` as its user meets it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from studio.edits.variants import variant
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.assess import Assessor

if TYPE_CHECKING:
    from pathlib import Path

    from tests.conftest import Told

SMALL = example_path("small_dryer")


def test_a_table_with_the_present_pitch_and_the_passing_one_marked(told: Told) -> None:
    status, out, err = told("curves", SMALL, "--from", "2.2", "--to", "3.4", "--points", "4")
    assert (status, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80
    rows = [line.split() for line in out.splitlines()]
    values = [row[0] for row in rows if row and row[0][:1].isdigit() and "." in row[0] and len(row) >= 8]
    assert values == ["2.20", "2.58", "2.60", "2.65", "3.00", "3.40"]
    marked = {row[0]: " ".join(row[8:]) for row in rows if row and row[0] in values}
    assert "fails" in marked["2.20"]
    assert marked["2.58"] == "passes from here"
    assert "now" in marked["2.65"]
    assert sum("best" in mark for mark in marked.values()) == 1
    assert "The winter check says: from a mean pitch of 2.58 m every line passes" in " ".join(out.split())
    assert "All pitches are scaled alike" in out


def test_json_tells_the_same_as_an_assessment(told: Told) -> None:
    status, out, _err = told(
        "curves", SMALL, "--over", "azimuth", "--from", "80", "--to", "100", "--points", "2", "--json"
    )
    assert status == 0
    tree = json.loads(out)
    assert [point["value"] for point in tree["points"]] == [80.0, 90.0, 100.0]
    assert (tree["over"], tree["unit"], tree["planted"]) == ("azimuth", "°", False)
    document = open_site(SMALL)
    made = variant(document.design, over="azimuth", value=80.0)
    alone = Assessor().assess(document, made.design, calendar=False)
    first = tree["points"][0]
    for key in (
        "annual_heat_kwh",
        "shade_loss_winter",
        "heat_cost_per_kwh",
        "header_length_m",
        "ground_cover",
    ):
        assert first[key] == pytest.approx(alone.figures[key], rel=1e-12)
    assert first["label"] == made.label
    assert tree["present"]["annual_heat_kwh"] == tree["points"][1]["annual_heat_kwh"]


def test_csv_has_a_row_a_point_and_is_not_written_over(told: Told, tmp_path: Path) -> None:
    table = tmp_path / "pitches.csv"
    words = ("curves", SMALL, "--from", "2.4", "--to", "2.9", "--points", "2", "--planted", "--csv", table)
    status, out, _err = told(*words)
    assert (status, out) == (0, f"{table}\n")
    rows = table.read_text(encoding="utf-8-sig").splitlines()
    assert rows[0].startswith('"mean_pitch_m"')
    assert len(rows) == 4
    status, _out, err = told(*words)
    assert status == 3
    assert "pitches.csv" in err
    assert told(*words, "--overwrite")[0] == 0


def test_wrong_use_is_told(told: Told) -> None:
    status, _out, err = told("curves", SMALL, "--over", "tilt")
    assert (status, err) == (2, "--over wants pitch, spacing or azimuth; found 'tilt'.\n")
    status, _out, err = told("curves", SMALL, "--facing-turns")
    assert status == 2
    status, _out, err = told("curves", SMALL, "--from", "3", "--to", "2")
    assert status == 3
    assert err == "From 3 to 2 there is nothing; let the upper end lie above the lower one.\n"
