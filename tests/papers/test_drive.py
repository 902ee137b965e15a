"""The drive's papers as others open them: an independent reader reproduces poses, intercepts and law."""

import csv
import dataclasses
import json
from io import BytesIO, StringIO
from math import cos, radians, sin
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from openpyxl import load_workbook
from pvlib.solarposition import get_solarposition
from pypdf import PdfReader

from studio.design.design import Design, Document
from studio.design.field import Line
from studio.engine.hazard.drive_cautions import drive_cautions
from studio.engine.mirror.cone import WindowFrames, shares_by_sun
from studio.errors import WriteError
from studio.papers.drive import FILES, DrivePaper, drive_paper, write_drive
from studio.papers.drive_csv import settings_csv_of, table_csv_of
from studio.papers.drive_law import law_csv_of
from studio.papers.drive_pdf import pdf_of
from studio.papers.drive_xlsx import xlsx_of
from studio.study.drive import drive_table_of
from studio.study.optics import errors_of, window_of
from studio.study.place import form_of

LATITUDE, LONGITUDE, OFFSET_H, TILT = 36.0, 5.1, 1.0, 36.0


def design_of(azimuth: float, **motion: Any) -> Design:
    design = Design()
    return dataclasses.replace(
        design,
        site=dataclasses.replace(
            design.site, name="Fig terrace", latitude_deg=LATITUDE, longitude_deg=LONGITUDE, altitude_m=310.0,
            utc_offset_h=OFFSET_H,
        ),
        mirror=dataclasses.replace(design.mirror, tilt_deg=TILT, ribs=8, slope_error_mrad=7.0),
        motion=dataclasses.replace(design.motion, **motion),
        lines=(Line(id=3, x_m=0.0, y_m=0.0, azimuth_deg=azimuth),),
    )  # fmt: skip


@pytest.fixture(scope="module")
def east_west() -> DrivePaper:
    return drive_paper(drive_table_of(Document(design=design_of(90.0))))


@pytest.fixture(scope="module")
def north_south() -> DrivePaper:
    motion = {"roll_from_deg": -50.0, "roll_to_deg": 50.0}
    return drive_paper(drive_table_of(Document(design=design_of(0.0, **motion))))


@pytest.fixture(scope="module")
def held() -> DrivePaper:
    return drive_paper(drive_table_of(Document(design=design_of(90.0, roll="held"))))


def rows_of(data: bytes, *, delimiter: str = ",") -> list[dict[str, str]]:
    assert data.startswith(b"\xef\xbb\xbf")
    return list(
        csv.DictReader(StringIO(data.decode("utf-8-sig"), newline=""), delimiter=delimiter, strict=True)
    )


def table_rows(paper: DrivePaper) -> list[dict[str, str]]:
    return [row for row in rows_of(table_csv_of(paper, decimal_comma=False)) if row["group"].isdigit()]


def intercepts_by_hand(rows: list[dict[str, str]], azimuth: float, design: Design) -> Any:
    """Intercepts of rows of the CSV: the sun by pvlib, frames by plain trigonometry, the light by the cone way."""
    zone = f"Etc/GMT{-OFFSET_H:+.0f}"
    times = pd.DatetimeIndex([f"{row['date']} {row['clock']}" for row in rows], tz=zone)
    sun = get_solarposition(times, LATITUDE, LONGITUDE, altitude=310.0)
    elevation, east_of_north = np.radians(sun["apparent_elevation"]), np.radians(sun["azimuth"])
    toward = np.stack(
        [
            np.cos(elevation) * np.sin(east_of_north),
            np.cos(elevation) * np.cos(east_of_north),
            np.sin(elevation),
        ],
        1,
    )
    tilt = radians(TILT)
    # a mirror that faces south: x east, y up the slope to the north, z leaning to the south
    axes = np.array([[1, 0, 0], [0, cos(tilt), sin(tilt)], [0, -sin(tilt), cos(tilt)]])
    e = axes @ np.array([sin(radians(azimuth)), cos(radians(azimuth)), 0.0])
    arm = np.array([0.0, 0.0, 1.235])
    inward = np.array([0.0, 0.0, 1.0]) - e[2] * e
    inward /= np.linalg.norm(inward)
    slide = np.array([float(row["slide_m"]) for row in rows])[:, None]
    roll = np.radians([float(row["roll_deg"]) for row in rows])[:, None]

    def turned(v: Any) -> Any:
        return v * np.cos(roll) + np.cross(e, v) * np.sin(roll) + e * (e @ v) * (1 - np.cos(roll))

    frames = WindowFrames(centre=slide * e + turned(arm), along=e, forward=turned(inward))
    seen = toward @ axes.T
    return shares_by_sun(
        form_of(design.mirror), errors_of(design), window_of(design), seen, frames
    ).into_window


@pytest.mark.parametrize(("azimuth", "name"), [(90.0, "east_west"), (0.0, "north_south"), (90.0, "held")])
def test_an_independent_reader_of_the_csv_reproduces_the_intercepts(
    azimuth: float, name: str, request: pytest.FixtureRequest
) -> None:
    rows = table_rows(request.getfixturevalue(name))
    assert len(rows) == 365 * 96
    working = [row for row in rows if row["state"] == "works"][::23]
    written = np.array([float(row["intercept"]) for row in working])
    off = np.abs(intercepts_by_hand(working, azimuth, design_of(azimuth)) - written)
    print(f"{name}: {len(working)} entries, worst difference of the intercept {off.max():.5f}")
    assert np.ptp(written) > 0.6
    assert off.max() < 1e-3
    # the reader is not blind: 3 cm of slide are seen
    moved = [{**row, "slide_m": str(float(row["slide_m"]) + 0.03)} for row in working]
    assert np.abs(intercepts_by_hand(moved, azimuth, design_of(azimuth)) - written).max() > 0.02


def test_every_moment_stands_once_with_rest_between(east_west: DrivePaper) -> None:
    rows = table_rows(east_west)
    assert len({(row["date"], row["clock"]) for row in rows}) == 365 * 96
    assert (rows[0]["date"], rows[0]["clock"], rows[-1]["date"]) == ("2025-01-01", "00:00", "2025-12-31")
    resting = [row for row in rows if row["state"] == "rests"]
    assert {(float(r["slide_m"]), float(r["roll_deg"]), float(r["intercept"])) for r in resting} == {
        (0, 29, 0)
    }
    # solar time at 5.1 E runs 60 - 20.4 min behind the clock, less the equation of time: -3.6 min on 1 January
    minutes = [60 * int(rows[48][key][:2]) + int(rows[48][key][3:]) for key in ("clock", "solar_time")]
    assert minutes[0] - minutes[1] == pytest.approx(60 - 20.4 + 3.6, abs=1.0)


def test_settings_by_week_are_those_of_the_table(held: DrivePaper, east_west: DrivePaper) -> None:
    table = {(row["date"], row["clock"]): row for row in table_rows(held)}
    settings = [row for row in rows_of(settings_csv_of(held, decimal_comma=False)) if row["group"].isdigit()]
    assert len(settings) == 53
    assert settings[0]["last_date"] == "2025-01-07"
    for row in settings:
        assert (row["roll_is"], row["slide_is"]) == ("set by hand", "at solar noon")
        for clock in ("00:00", "12:15", "20:00"):
            assert float(table[row["first_date"], clock]["roll_deg"]) == float(row["roll_deg"])
        assert table[row["first_date"], "12:15"]["state"] == "works"
    (first, *_rest) = rows_of(settings_csv_of(east_west, decimal_comma=False))
    assert first["roll_is"] == "at solar noon"


def by_own_arithmetic(
    group: dict[str, Any], tree: dict[str, Any], declination: float, hour_angle: float
) -> Any:
    """The law as its own file says to evaluate it, with cosines in place of the recurrence."""
    x, y = declination / tree["declination_scale_deg"], hour_angle / group["reach_deg"]

    def free(motion: dict[str, Any], excess: float) -> float:
        return float(
            sum(
                c * np.cos(i * np.arccos(x)) * np.cos(j * np.arccos(y)) * (excess if coupled else 1.0)
                for i, j, coupled, c in motion["terms_i_j_coupled_coefficient"]
            )
        )

    roll_free = free(group["roll_deg"], 0.0)
    roll = min(max(roll_free, group["roll_deg"]["low"]), group["roll_deg"]["high"])
    slide = free(group["slide_m"], (roll_free - roll) / tree["excess_scale_deg"])
    return min(max(slide, group["slide_m"]["low"]), group["slide_m"]["high"]), roll


def test_a_controller_that_knows_only_the_json_follows_the_table(
    north_south: DrivePaper, tmp_path: Path
) -> None:
    write_drive(north_south, tmp_path)
    tree = json.loads((tmp_path / "drive_law.json").read_text(encoding="utf-8"))
    (group,) = tree["groups"]
    for vector in group["test_vectors"]:
        pose = by_own_arithmetic(group, tree, vector["declination_deg"], vector["hour_angle_deg"])
        assert pose == pytest.approx((vector["slide_m"], vector["roll_deg"]), abs=1e-4)
    rows = [row for row in table_rows(north_south) if row["state"] == "works"][::97]
    worst = np.zeros(2)
    for row in rows:
        hour, minute = map(int, row["clock"].split(":"))
        utc_h = hour + minute / 60 - tree["utc_offset_h"]
        t = 2 * np.pi * (int(row["day"]) - 1 + utc_h / 24) / 365
        declination, equation = (
            sum(c * np.cos(k * t) + s * np.sin(k * t) for k, (c, s) in enumerate(tree["sun"][key]))
            for key in ("declination_deg", "equation_of_time_min")
        )
        hour_angle = 15 * (utc_h + tree["longitude_deg"] / 15 + equation / 60 - 12)
        pose = by_own_arithmetic(group, tree, declination, hour_angle)
        worst = np.maximum(worst, np.abs(np.subtract(pose, (float(row["slide_m"]), float(row["roll_deg"])))))
    print(f"from clock to pose by the JSON alone: {1000 * worst[0]:.1f} mm, {worst[1]:.2f} deg at worst")
    assert worst[0] < 0.006
    assert worst[1] < 0.35
    assert group["error"]["slide_worst_mm"] <= 5
    assert group["error"]["roll_worst_deg"] <= 0.3


def test_the_law_as_csv_holds_the_same_numbers(north_south: DrivePaper) -> None:
    rows = rows_of(law_csv_of(north_south))
    (group,) = north_south.table.groups
    slide, roll = group.even.few.slide, group.even.few.roll
    assert slide is not None
    assert roll is not None
    for motion, law in (("slide", slide), ("roll", roll)):
        own = [r for r in rows if r["motion"] == motion]
        terms = [
            (int(r["i"]), int(r["j"]), bool(int(r["coupled"])), float(r["value"]))
            for r in own
            if r["kind"] == "term"
        ]
        assert terms == [(t.i, t.j, t.coupled, t.coefficient) for t in law.terms]
        assert [float(r["value"]) for r in own if r["kind"] in ("low", "high")] == [law.low, law.high]
    assert sum(r["kind"] == "vector" for r in rows) == len(group.vectors)


def test_the_spreadsheet_holds_the_same_poses_as_the_csv(east_west: DrivePaper) -> None:
    book = load_workbook(BytesIO(xlsx_of(east_west)), read_only=True)
    assert book.sheetnames == ["Read first", "Weeks", "Slide m 1", "Roll deg 1", "Intercept 1"]
    rows = table_rows(east_west)
    for sheet, key in (("Slide m 1", "slide_m"), ("Intercept 1", "intercept")):
        cells = list(book[sheet].iter_rows(values_only=True))
        assert [cells[0][1], cells[0][-1]] == ["00:00", "23:45"]
        assert cells[171][0] == rows[170 * 96]["date"]
        assert cells[171][1:] == pytest.approx([float(r[key]) for r in rows[170 * 96 : 171 * 96]])


def test_names_are_never_formulas_or_markup(held: DrivePaper) -> None:
    for name in ("=1+1", "@SUM(A1)", "  +1", "#panic() *bold* $x$ <label> @ref `raw`"):
        site = dataclasses.replace(held.table.site, name=name)
        paper = dataclasses.replace(held, table=dataclasses.replace(held.table, site=site))
        written = [
            r[1] for r in csv.reader(StringIO(settings_csv_of(paper).decode("utf-8-sig"))) if r[0] == "note"
        ]
        guarded = name.lstrip()[0] in "=@+"
        assert ("'" + name if guarded else name) in written
    assert "#panic() *bold* $x$" in " ".join(page_texts(pdf_of(paper))[0].split())


def page_texts(data: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(BytesIO(data)).pages]


def test_the_page_is_one_with_every_setting_and_caution(held: DrivePaper) -> None:
    (text,) = page_texts(pdf_of(held))
    text = " ".join(text.split())
    for caution in drive_cautions():
        assert caution.title in text
        assert caution.sentence[:40] in text
    assert "Set the roll by hand, every 7 days" in text
    setting = held.table.groups[0].settings[20].roll_deg
    assert setting is not None
    assert f"{setting:+.1f}" in text
    assert "Group 1: lines 3" in text


@pytest.mark.parametrize("comma", [False, True])
def test_decimal_comma_changes_only_the_marks(held: DrivePaper, comma: bool) -> None:
    rows = rows_of(settings_csv_of(held, decimal_comma=comma), delimiter=";" if comma else ",")
    roll = held.table.groups[0].settings[0].roll_deg
    assert float(rows[0]["roll_deg"].replace(",", ".")) == roll


def test_all_are_written_or_none(held: DrivePaper, tmp_path: Path) -> None:
    written = write_drive(held, tmp_path / "papers")
    assert tuple(path.name for path in written) == FILES
    assert all(path.stat().st_size > 1000 for path in written)
    with pytest.raises(WriteError, match=r"drive\.csv is already"):
        write_drive(held, tmp_path / "papers")
    assert len(write_drive(held, tmp_path / "papers", overwrite=True)) == len(FILES)
