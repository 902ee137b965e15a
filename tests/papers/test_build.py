"""What to build a mirror from, as tables and as offsets that a second reader finds on the curve."""

import csv
import dataclasses
import io
from pathlib import Path

import pytest

from studio.design.design import Design
from studio.design.mirror import Mirror
from studio.errors import WriteError
from studio.papers.build import print_build, write_ribs


def read(path: Path) -> list[list[str]]:
    return list(csv.reader(io.StringIO(path.read_text(encoding="utf-8-sig"))))


def test_offsets_lie_on_the_parabola_and_on_the_sphere(tmp_path: Path) -> None:
    design = Design(mirror=Mirror(ribs=5))
    (path,) = write_ribs(design, tmp_path, decimal_comma=False)
    head, *rows = read(path)
    assert len(head) == 8
    assert {row[0] for row in rows} == {"1", "2", "3", "4", "5"}
    for row in rows:
        x, along, depth, height = (float(cell) for cell in row[1:5])
        y = along - 0.72
        assert height == pytest.approx(1000 * (x * x + y * y) / (4 * 1.3), abs=0.02)
        assert depth == pytest.approx(1000 * (0.72**2 - y * y) / (4 * 1.3), abs=0.02)
    ends = [row for row in rows if float(row[3]) == 0]
    assert len(ends) == 10
    sphere = dataclasses.replace(design, mirror=dataclasses.replace(design.mirror, surface="sphere"))
    (path,) = write_ribs(sphere, tmp_path / "sphere", decimal_comma=False)
    middle = [row for row in read(path)[1:] if row[0] == "3" and row[2] == "0.72"]
    assert float(middle[0][6]) == pytest.approx(2.6)


def test_a_table_that_is_there_is_not_written_over(tmp_path: Path) -> None:
    write_ribs(Design(), tmp_path)
    with pytest.raises(WriteError, match="already"):
        write_ribs(Design(), tmp_path)


def test_the_pages_say_radii_pulls_workmanship_and_cautions(capsys: pytest.CaptureFixture[str]) -> None:
    print_build(Design())
    out = capsys.readouterr().out
    for words in ("Ribs", "bend to, m", "pulled at 20 °C", "guess", "Sprung rods", "2.600"):
        assert words in out
    assert max(len(line) for line in out.splitlines()) <= 80


def test_springy_rods_say_what_holds_them(capsys: pytest.CaptureFixture[str]) -> None:
    mirror = Mirror(rib_yield_mpa=1500.0)
    print_build(Design(mirror=mirror))
    out = capsys.readouterr().out
    assert "sprung" in out
