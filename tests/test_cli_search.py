"""The commands ``rank`` and ``search`` as their user meets them."""

from __future__ import annotations

import dataclasses
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from studio.design.money import Prices
from studio.design.paths import replaced
from studio.edits.registry import apply_edit
from studio.files.examples import example_path
from studio.files.site import open_site, write_site

if TYPE_CHECKING:
    from tests.conftest import Told

SMALL = example_path("small_dryer")


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """One line of the small example, and two invented mirrors on its shelf."""
    document = open_site(SMALL)
    design = dataclasses.replace(document.design, lines=document.design.lines[:1])
    for label, ribs in (
        ("[7 ribs] that a long name was given, for which there is no room", 7),
        ("15 ribs", 15),
    ):
        other = replaced(design, "mirror.ribs", ribs)
        shelved = apply_edit(other, "put_on_shelf", {"label": label[:60]}).design.shelf
        design = dataclasses.replace(design, shelf=shelved)
    path = tmp_path / "shelf.stillfield"
    path.write_bytes(write_site(dataclasses.replace(document, design=design)))
    return path


def test_rank_prints_a_table_and_its_reasons(told: Told, site: Path) -> None:
    status, out, err = told("rank", site)
    assert (status, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80
    assert "…" not in out
    table, _blank, _reasons = out.strip().partition("\n\n")  # the reasons below may break before a number
    rows = [line.split() for line in table.splitlines()]
    assert rows[0] == ["Mirrors", "by", "heat", "cost"]
    assert ["mirror", "intercept", "%", "outlet", "heat,", "MWh", "EUR/m²", "ct/kWh"] in rows
    numbers = [row for row in rows if len(row) >= 5 and row[-1].replace(".", "").isdigit()]
    assert [row[0] for row in numbers] == ["15", "in", "[7"]
    costs = [float(row[-1]) for row in numbers]
    assert costs == sorted(costs)
    text = " ".join(out.split())
    assert "15 ribs: less intercept loss: " in text
    assert "counts film, rib and stand rods, fixings and labour" in text


def test_rank_as_json_holds_what_a_picture_needs(told: Told, site: Path) -> None:
    status, out, err = told("rank", site, "--json")
    assert (status, err) == (0, "")
    tree = json.loads(out)
    assert (tree["by"], tree["currency"]) == ("heat_cost_per_kwh", "EUR")
    assert [one["shelf"] for one in tree["ranked"]] == [2, None, 1]
    for one in tree["ranked"]:
        assert 0 < one["intercept"] < 1
        assert one["annual_heat_kwh"] > 0
        assert one["cost_per_m2"] == pytest.approx(sum(part["value"] for part in one["cost_parts_per_m2"]))
        assert bool(one["reasons"]) == (one["shelf"] is not None)


def test_rank_of_an_empty_shelf_says_so(told: Told, site: Path) -> None:
    document = open_site(site)
    design = dataclasses.replace(document.design, shelf=(), prices=Prices())
    site.write_bytes(write_site(dataclasses.replace(document, design=design)))
    status, out, _err = told("rank", site)
    assert status == 0
    text = " ".join(out.split())
    assert "Mirrors by outlet heat" in text
    assert "The shelf is empty" in text
    assert "Costs leave out what has no price: film" in text


def test_search_prints_values_figures_and_how_to_try_them(told: Told, site: Path) -> None:
    before = site.read_bytes()
    status, out, err = told("search", site, "--vary", "mirror.ribs=11..13")
    assert (status, err) == (0, "")
    assert max(map(len, out.splitlines())) <= 80
    rows = [" ".join(line.split()) for line in out.splitlines()]
    assert "Mirror, ribs 11 13 11 13" in rows
    assert "Mirror, ribs is held back by its upper bound of 13." in rows
    assert rows[-1] == "Nothing is changed in the file; try it with: --set mirror.ribs=13"
    assert site.read_bytes() == before
    heats = next(row.split() for row in rows if row.startswith("outlet heat"))
    out = told("assess", site, "--json", "--set", "mirror.ribs=13")[1]
    kwh = json.loads(out)["figures"]["annual_heat_kwh"]["value"]
    assert float(heats[3]) == pytest.approx(kwh / 1000, rel=1e-3)


def test_search_as_json(told: Told, site: Path) -> None:
    status, out, err = told(
        "search",
        site,
        "--json",
        "--aim",
        "cost",
        "--vary",
        "mirror.ribs = 12..14",
        "--set",
        "prices.rod_bar=60",
    )
    assert (status, err) == (0, "")
    tree = json.loads(out)
    assert tree["aim"] == "heat_cost_per_kwh"
    (value,) = tree["values"]
    assert (value["path"], value["before"], value["low"], value["high"]) == ("mirror.ribs", 11, 12.0, 14.0)
    assert value["best"] in (12, 13, 14)
    assert tree["assessed"] == 4
    assert tree["converged"]
    assert tree["heat_cost_per_kwh"]["best"] > 0


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("search", SMALL), 2, "--vary"),
        (("search", SMALL, "--vary", "mirror.tilt_deg=20..50", "--aim", "joy"), 2, "heat, cost"),
        (("search", SMALL, "--vary", "mirror.tilt_deg=50"), 3, "mirror.tilt_deg=20..50 is how one looks"),
        (("search", SMALL, "--vary", "mirror.tilt_deg=50..20"), 3, "hold nothing"),
        (("search", SMALL, "--vary", "mirror.tilt=20..50"), 3, "near it are"),
        (("search", SMALL, "--vary", "mirror.tilt_deg=20..x"), 3, "is no number"),
        (("rank", "none.stillfield"), 3, "none.stillfield"),
        (("rank",), 2, ""),
    ],
)
def test_wrong_use_is_2_and_bad_input_3(told: Told, words: tuple[Any, ...], status: int, said: str) -> None:
    found, out, err = told(*words)
    assert (found, out) == (status, "")
    assert said in err
    assert "Traceback" not in err
    if status == 3:
        assert len(err.splitlines()) == 1


def test_progress_is_one_line_on_a_terminal_and_gone_at_the_end(
    told: Told, site: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(type(sys.stderr), "isatty", lambda stream: True)
    status, out, err = told("search", site, "--vary", "mirror.ribs=11..12")
    assert status == 0
    assert "\r" not in out
    assert "1 design assessed, best " in err
    assert " 50 %" in err
    assert err.endswith("\r\x1b[K")
    assert "\n" not in err
