"""The command ``plant`` as its user meets it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from studio.edits.registry import apply_edit
from studio.files.examples import example_path
from studio.files.site import open_site

if TYPE_CHECKING:
    from tests.conftest import Told

PLOT = example_path("workshop_plot")


def test_plant_prints_what_fits_and_writes_nothing(told: Told) -> None:
    before = PLOT.read_bytes()
    status, out, err = told("plant", PLOT, "--azimuth", "90", "--pitch", "3.2")
    assert (status, err) == (0, "")
    lines = apply_edit(
        open_site(PLOT).design, "plant_lines", {"azimuth_deg": 90.0, "pitch_m": 3.2}
    ).design.lines
    mirrors = sum(line.count for line in lines)
    rows = out.splitlines()
    assert rows[0] == f"Plant {len(lines)} lines with {mirrors} mirrors at 3.20 m"
    assert rows[1].startswith(f"{len(lines)} lines, {mirrors} mirrors, ")
    assert (
        rows[2]
        == f"Line 1 lies {lines[0].y_m:.3f} m from the reference point, square to the lines, towards north"
    )
    # a mirror is 1.25 m by 1.44 m; the plot's area by the shoelace formula, here of its six corners
    corners = open_site(PLOT).design.plot.boundary
    twice = sum(
        x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(corners, (*corners[1:], corners[0]), strict=True)
    )
    share = 100 * mirrors * 1.25 * 1.44 / (abs(twice) / 2)
    assert rows[3] == f"Land use: {share:.1f} % of the plot is mirror aperture"
    assert PLOT.read_bytes() == before


def test_without_an_azimuth_it_prints_what_each_edge_offers(told: Told) -> None:
    status, out, err = told("plant", PLOT, "--pitch", "3.2", "--longest", "20")
    assert (status, err) == (0, "")
    mirrors = [int(row.split()[2]) for row in out.splitlines()]
    assert mirrors == sorted(mirrors, reverse=True)
    assert len(mirrors) == 8
    best = out.split("°")[0].removeprefix("along ")
    planted = told("plant", PLOT, "--pitch", "3.2", "--longest", "20", "--azimuth", best)[1]
    assert f" {mirrors[0]} mirrors" in planted


def test_into_a_site_file_with_lanes_and_again_beside_what_is_there(told: Told, tmp_path: Path) -> None:
    site = tmp_path / "planted.stillfield"
    words = (
        "--azimuth",
        "92",
        "--pitch",
        "4.5",
        "--spacing",
        "1.5",
        "--longest",
        "12",
        "--lane-every",
        "2",
        "--lane",
        "3",
    )
    status, out, err = told("plant", PLOT, *words, "--into", site)
    assert (status, err) == (0, "")
    assert out.splitlines()[-1] == str(site)
    design = open_site(site).design
    assert {(line.azimuth_deg, line.spacing_m) for line in design.lines} == {(92.0, 1.5)}
    assert max(line.count for line in design.lines) <= 12
    assert told("check", site)[0] == 0
    status, out, err = told(
        "plant",
        site,
        "--azimuth",
        "92",
        "--pitch",
        "4.5",
        "--least",
        "2",
        "--longest",
        "3",
        "--keep",
        "--into",
        site,
    )
    assert (status, err) == (0, "")
    more = open_site(site).design.lines
    assert more[: len(design.lines)] == design.lines
    assert out.splitlines()[2].startswith(f"Line {design.lines[-1].id + 1} lies ")
    assert site.with_name(site.name + "~").exists()


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (("plant", PLOT), 2, "--pitch"),
        (("plant", PLOT, "--pitch", "3", "--into", "a.stillfield"), 2, "--into wants --azimuth"),
        (("plant", PLOT, "--azimuth", "90", "--pitch", "0.5"), 3, "lets lines overlap"),
        (
            ("plant", PLOT, "--azimuth", "90", "--pitch", "3", "--least", "100"),
            3,
            "the longest that fits has",
        ),
        (("plant", PLOT, "--azimuth", "90", "--pitch", "3", "--into", "a.json"), 3, "is no site file"),
        (("plant", "none.stillfield", "--azimuth", "90", "--pitch", "3"), 3, "none.stillfield"),
    ],
)
def test_wrong_use_is_2_and_bad_input_3(told: Told, words: tuple[Any, ...], status: int, said: str) -> None:
    found, out, err = told(*words)
    assert (found, out) == (status, "")
    assert said in err
    assert "Traceback" not in err
