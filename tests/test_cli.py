"""The command line as its user meets it: exit status, one sentence, no traceback, no Qt."""

from __future__ import annotations

import csv
import dataclasses
import json
import os
import subprocess
import sys
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

import jsonschema
import numpy as np
import openpyxl
import pytest

from studio.design.site import FileWeather
from studio.edits.places import lane_across
from studio.engine.sky.kept_year import unpack_weather
from studio.engine.sky.sun import hour_suns
from studio.files.examples import example_names, example_path
from studio.files.site import open_site, write_site
from studio.files.weather_taken import solar_clock, with_weather_file

if TYPE_CHECKING:
    from tests.conftest import Told

SMALL = example_path("small_dryer")
TMY3 = Path(str(resources.files("pvlib") / "data" / "723170TYA.CSV"))
_RUN = """
import sys
from studio.cli import main
sys.argv[0] = "stillfield"
status = 0
try:
    main()
except SystemExit as ended:
    status = ended.code or 0
seen = [name for name in ("PySide6", "shiboken6", "pyqtgraph") if name in sys.modules]
if seen:
    sys.stderr.write(f"imported {seen}")
    status = 99
sys.exit(status)
"""


def run(*words: str | Path, cwd: Path | None = None, **env: str) -> tuple[int, str, str]:
    """Exit status, standard output and standard error of a process; 99 when it has met Qt."""
    done = subprocess.run(
        [sys.executable, "-c", _RUN, *map(str, words)],
        cwd=cwd, capture_output=True, encoding="utf-8", timeout=60, check=False,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[1]), **env},
    )  # fmt: skip
    return done.returncode, done.stdout, done.stderr


@pytest.fixture
def eight_lines(tmp_path: Path) -> Path:
    """The small example's field made to eight lines."""
    tree = json.loads(SMALL.read_text(encoding="utf-8"))
    first = tree["design"]["lines"][0]
    tree["design"]["lines"] = [
        {**first, "id": n, "y_m": first["y_m"] + 2.6 * n, "count": 6} for n in range(1, 9)
    ]
    tree["design"]["plot"]["boundary"] = []
    path = tmp_path / "eight.stillfield"
    path.write_text(json.dumps(tree), encoding="utf-8")
    return path


def test_each_command_runs_without_qt(tmp_path: Path) -> None:
    status, out, err = run("assess", SMALL, "--json")
    assert (status, err) == (0, "")
    assert json.loads(out)["figures"]["annual_heat_kwh"]["value"] > 0
    spot = ("spot", SMALL, "--sun", "180", "50", "--rays", "2000")
    for words in (
        ("assess", SMALL, "--curved"),
        ("check", SMALL),
        spot,
        ("build", SMALL),
        ("schema",),
        ("example",),
        ("example", "small_dryer"),
    ):
        status, out, err = run(*words, cwd=tmp_path)
        assert (status, err) == (0, "")
        assert out
    assert (tmp_path / "small_dryer.stillfield").read_bytes() == SMALL.read_bytes()
    status, out, err = run("materials", SMALL, "--into", tmp_path / "lists")
    assert (status, err) == (0, "")
    assert sorted(Path(line).name for line in out.split("\n") if line) == [
        "materials.csv", "materials.pdf", "materials.xlsx",
    ]  # fmt: skip
    assert all(Path(line).stat().st_size > 500 for line in out.split("\n") if line)


def test_a_skyline_is_brought_into_another_site_file(told: Told, tmp_path: Path) -> None:
    table, out_file = tmp_path / "ridge.csv", tmp_path / "ridged.stillfield"
    table.write_text("azimuth;elevation\n60;3\n110;30\n160;4\n", encoding="utf-8")
    status, out, err = told("horizon", SMALL, table, "--into", out_file)
    assert (status, out.strip(), err) == (0, str(out_file), "")
    status, out, _err = told("assess", out_file, "--json")
    assert status == 0
    assert json.loads(out)["figures"]["horizon_loss_year"]["value"] > 0.01
    before = out_file.read_bytes()
    status, out, err = told("horizon", SMALL, table, "--into", out_file)
    assert (status, out) == (3, "")
    assert "--overwrite" in err
    table.write_text("60;3\n60;4\n", encoding="utf-8")
    status, out, err = told("horizon", SMALL, table, "--into", out_file, "--overwrite")
    assert (status, out) == (3, "")
    assert "rise" in err
    assert out_file.read_bytes() == before


def test_a_lane_is_left_across_the_lines(told: Told, tmp_path: Path) -> None:
    before, out = open_site(SMALL).design, tmp_path / "lane.stillfield"
    line = before.lines[1]
    assert line.azimuth_deg == 90.0
    middle = line.x_m + 6.5 * line.spacing_m  # between the 7th and the 8th vertex
    ends = ("--from", f"{middle},{line.y_m - 90}", "--to", f"{middle},{line.y_m + 90}")
    assert line.spacing_m < before.mirror.width_m + 0.5 < 2 * line.spacing_m
    looked = told("lane", SMALL, *ends, "--width", "0.5")
    assert looked[0] == 0
    assert not looked[2]
    status, text, _error = told("lane", SMALL, *ends, "--width", "0.5", "--into", out)
    assert status == 0
    assert text == f"{looked[1]}{out}\n"
    assert f"Line {line.id}: without 7-8, {line.count - 2} stand" in text
    assert "passes below the pipes or not at all" in text
    after = open_site(out).design
    assert after.line(line.id).left_out == (7, 8)
    assert (
        after
        == lane_across(before, start=(middle, line.y_m - 90), end=(middle, line.y_m + 90), width_m=0.5).design
    )


@pytest.mark.parametrize(
    ("words", "status", "sentence"),
    [
        (("--from", "3;4", "--to", "3,40", "--width", "3"), 2, "--from wants two lengths in metres, as 12.5,-40; found '3;4'."),
        (("--from", "3,4", "--to", "3,4,5", "--width", "3"), 2, "--to wants two lengths in metres, as 12.5,-40; found '3,4,5'."),
        (("--from", "3,4", "--to", "3,inf", "--width", "3"), 2, "--to wants two lengths in metres, as 12.5,-40; found '3,inf'."),
        (("--from", "3,4", "--to", "3,4", "--width", "3"), 3, "A lane of 3.00 m between these points will not do; up to 100 m between two places would be right."),
        (("--from", "3,-40", "--to", "3,40", "--width", "-1"), 3, "A lane of −1.00 m between these points will not do; up to 100 m between two places would be right."),
        (("--from", "900,-40", "--to", "900,40", "--width", "3"), 3, "The lane meets no mirror; draw it across the lines."),
    ],
)  # fmt: skip
def test_a_lane_that_will_not_do_is_told_in_a_sentence(
    told: Told, tmp_path: Path, words: tuple[str, ...], status: int, sentence: str
) -> None:
    out = tmp_path / "lane.stillfield"
    assert told("lane", SMALL, *words, "--into", out) == (status, "", f"{sentence}\n")
    assert not out.exists()


def test_a_piped_table_is_whole_and_utf_8_whatever_the_terminal_says() -> None:
    status, out, err = run("assess", SMALL, COLUMNS="40", LC_ALL="C", PYTHONIOENCODING="ascii")
    assert (status, err) == (0, "")
    assert "…" not in out
    assert "\u2212" in out
    assert max(map(len, out.splitlines())) <= 80


def test_examples_are_listed_and_not_overwritten(
    told: Told, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert told("example")[1].split() == list(example_names())
    monkeypatch.chdir(tmp_path)
    assert told("example", "workshop_plot")[0] == 0
    status, out, err = told("example", "workshop_plot")
    assert (status, out) == (3, "")
    assert "nothing was overwritten" in err
    assert told("example", "workshop")[2] == "There is no example 'workshop'; it would be workshop_plot.\n"


def test_schema_is_valid_and_takes_the_examples(told: Told) -> None:
    schema = json.loads(told("schema")[1])
    jsonschema.Draft202012Validator.check_schema(schema)
    for name in example_names():
        jsonschema.validate(json.loads(example_path(name).read_bytes()), schema)


@pytest.mark.parametrize(
    ("words", "status"),
    [
        (("assess",), 2),
        (("assess", SMALL, "--nonsense"), 2),
        (("assess", SMALL, "extra"), 2),
        (("assess", SMALL, "--set", "mirror.ribs"), 2),
        (("materials", SMALL), 2),
        (("--nonsense",), 2),
        (("assess", "none.stillfield"), 3),
        (("assess", "."), 3),
        (("check", __file__), 3),
        (("assess", SMALL, "--set", "mirror.rips=9"), 3),
        (("assess", SMALL, "--set", "mirror.ribs=nine"), 3),
        (("assess", SMALL, "--set", "mirror.ribs=900"), 3),
        (("assess", SMALL, "--set", "oil.outlet_c=400"), 3),
        (("assess", SMALL, "--set", "lines.99.count=4"), 3),
        (("assess", SMALL, "--weather", SMALL), 3),
        (("assess", SMALL, "--weather", "none.epw"), 3),
        (("materials", SMALL, "--into", __file__), 3),
    ],
)
def test_wrong_use_is_2_and_bad_input_3_with_a_sentence(
    told: Told, words: tuple[Any, ...], status: int
) -> None:
    found, out, err = told(*words)
    assert found == status
    assert out == ""
    assert err.strip()
    assert "Traceback" not in err
    if status == 3:
        assert len(err.splitlines()) == 1


def test_a_process_ends_with_the_same_status() -> None:
    assert run("assess")[0] == 2
    status, out, err = run("assess", "none.stillfield")
    assert (status, out, len(err.splitlines())) == (3, "", 1)


def test_a_faulty_file_tells_every_fault(told: Told, tmp_path: Path) -> None:
    tree = json.loads(SMALL.read_text(encoding="utf-8"))
    tree["design"]["lines"][2]["count"] = 4000
    tree["design"]["mirror"]["ribs"] = 1
    path = tmp_path / "faulty.stillfield"
    path.write_text(json.dumps(tree), encoding="utf-8")
    status, out, err = told("assess", path)
    assert (status, out, len(err.splitlines())) == (3, "", 3)
    assert "Line 3, mirrors ($.design.lines[2].count)" in err


def test_check_is_1_when_a_finding_forbids_building(told: Told) -> None:
    assert told("check", SMALL)[0] == 0
    status, out, err = told("check", SMALL, "--set", "oil.bulk_limit_c=150")
    assert (status, err) == (1, "")
    assert "stop" in out
    assert told("assess", SMALL, "--set", "oil.bulk_limit_c=150")[0] == 0


def test_a_change_is_tried_and_nothing_is_saved(told: Told) -> None:
    before = SMALL.read_bytes()
    out = told("assess", SMALL, "--json", "--set", "lines.1.count=5", "--set", "mirror.ribs = 9")[1]
    lines = json.loads(out)["lines"]
    assert [line["mirrors"] for line in lines] == [
        5,
        *(line.count for line in open_site(SMALL).design.lines[1:]),
    ]
    assert SMALL.read_bytes() == before


def test_a_weather_year_that_is_not_in_the_file_is_refused(told: Told, tmp_path: Path) -> None:
    document = with_weather_file(open_site(SMALL), TMY3)
    path = tmp_path / "year.stillfield"
    path.write_bytes(write_site(document))
    status, _out, err = told("assess", path, "--set", "site.weather.asset=" + "a" * 64)
    assert status == 3
    assert "no weather year" in err


def test_eight_lines_with_another_year(told: Told, eight_lines: Path) -> None:
    status, out, _err = told("assess", eight_lines, "--json", "--weather", TMY3)
    assert status == 0
    tree = json.loads(out)
    assert len(tree["lines"]) == 8
    # the file's own sum, as pvlib reads it
    from pvlib.iotools import read_tmy3

    data, _meta = read_tmy3(TMY3, coerce_year=2001, map_variables=True)
    assert tree["figures"]["dni_kwh_m2"]["value"] == pytest.approx(float(data["dni"].sum()) / 1000, rel=0.005)


@pytest.mark.parametrize("file", ["723170TYA.CSV", "12839.tm2", "703165TY.csv"])
def test_a_year_from_another_longitude_is_set_on_the_site_by_solar_time(file: str) -> None:
    """Mornings and afternoons balance: the mean hour angle of the light is near 0, not the 85 degrees between."""
    document = with_weather_file(open_site(SMALL), Path(str(resources.files("pvlib") / "data" / file)))
    site = document.design.site
    weather = site.weather
    assert isinstance(weather, FileWeather)
    year = unpack_weather(dict(document.assets)[weather.asset])
    suns = hour_suns(
        latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg, altitude_m=site.altitude_m,
        utc_offset_h=site.utc_offset_h,
    )  # fmt: skip
    mean = np.average(suns.track.hour_angle_deg, weights=year.dni_w_m2)
    assert abs(mean) < 4.0
    assert "it was set on this site by solar time" in weather.repairs[-1]


def test_a_year_of_the_place_itself_is_left_on_its_clock() -> None:
    document = open_site(SMALL)
    site = dataclasses.replace(
        document.design.site, latitude_deg=36.1, longitude_deg=-79.95, altitude_m=273.0, utc_offset_h=-5.0
    )
    design = dataclasses.replace(document.design, site=site)
    taken = with_weather_file(dataclasses.replace(document, design=design), TMY3)
    assert isinstance(taken.design.site.weather, FileWeather)
    assert taken.design.site.weather.repairs == ()
    assert solar_clock(site, longitude_deg=-79.95) == -5.0
    # 15 degrees farther west the sun stands an hour later
    assert solar_clock(site, longitude_deg=-94.95) == -6.0
    # across the date line the nearer way round, and a clock that there can be
    assert solar_clock(site, longitude_deg=175.05) == pytest.approx(-12.0)
    far_east = dataclasses.replace(site, longitude_deg=175.0, utc_offset_h=12.0)
    assert solar_clock(far_east, longitude_deg=-175.0) == pytest.approx(12.0 + 10.0 / 15.0)
    assert solar_clock(far_east, longitude_deg=-145.0) == pytest.approx(12.0 + 40.0 / 15.0 - 24.0)


@pytest.mark.parametrize("name", ["=1+1", "@x", "+1", "-1", "\u00e9t\u00e9 & <b>"])
def test_no_name_becomes_a_formula_in_a_material_list(told: Told, tmp_path: Path, name: str) -> None:
    tree = json.loads(SMALL.read_text(encoding="utf-8"))
    tree["design"]["site"]["name"] = tree["design"]["note"] = tree["design"]["oil"]["kind"] = name
    path = tmp_path / "named.stillfield"
    path.write_text(json.dumps(tree), encoding="utf-8")
    status, out, err = told("materials", path, "--into", tmp_path / "lists")
    assert (status, err) == (0, "")
    assert len(out.splitlines()) == 3
    book = openpyxl.load_workbook(tmp_path / "lists" / "materials.xlsx")
    cells = [cell for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None]
    assert any(name in str(cell.value) for cell in cells)
    own = [cell for cell in cells if cell.data_type == "f"]
    assert all(name not in str(cell.value) for cell in own)
    text = (tmp_path / "lists" / "materials.csv").read_text(encoding="utf-8-sig")
    fields = [field for row in csv.reader(text.splitlines()) for field in row]
    assert any(name in field for field in fields)
    for field in fields:
        assert not field.startswith(("=", "@", "+"))
        assert not field.startswith("-") or float(field.replace(",", ".")) < 0
