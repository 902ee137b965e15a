"""The material list as others open it: spreadsheet, CSV and typeset page."""

import csv
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from pypdf import PdfReader

from studio.engine.hazard.cautions import cautions
from studio.engine.parts.listing import PricedLine
from studio.errors import WriteError
from studio.papers.materials import MaterialPaper, sum_known, write_materials
from studio.papers.materials_csv import csv_of
from studio.papers.materials_pdf import pdf_of
from studio.papers.materials_xlsx import xlsx_of

SUM = 588 * 3.72 + 196.25 * 14.9 - 2 * 12.5
FORMULAS = ("=1+1", "+1+1", "-1+1", "@SUM(A1:A9)", "\t=1+1", "\r=1+1", '=HYPERLINK("x")', "  =1+1")
MARKUP = "#panic() *bold* $x^2$ _a_ <label> @ref \\ [ ] { } // `raw`"
POINTS_PER_MM = 72 / 25.4


def named(paper: MaterialPaper, *labels: str) -> MaterialPaper:
    """The paper with a block of lines of these names, 2.5 m at minus 3 each."""
    lines = tuple(PricedLine(f"k{n}", label, 2.5, "m", label, "x", -3.0) for n, label in enumerate(labels))
    return replace(paper, site_name=labels[0], blocks=(*paper.blocks, ("More", lines)))


def cells(data: bytes) -> list[tuple[Any, ...]]:
    sheet = load_workbook(BytesIO(data)).worksheets[0]
    return [tuple(row) for row in sheet.iter_rows(values_only=True)]


def rows(data: bytes, *, delimiter: str = ",") -> list[list[str]]:
    assert data.startswith(b"\xef\xbb\xbf")
    return list(csv.reader(StringIO(data.decode("utf-8-sig"), newline=""), delimiter=delimiter, strict=True))


def text_of(data: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(data)).pages).split())


def test_all_three_are_written_and_say_the_same_sum(paper: MaterialPaper, tmp_path: Path) -> None:
    written = write_materials(paper, tmp_path / "papers" / "today")
    assert [path.name for path in written] == ["materials.xlsx", "materials.csv", "materials.pdf"]
    assert sorted(tmp_path.rglob("*.*")) == sorted(written)
    (in_sheet,) = (row[5] for row in cells(written[0].read_bytes()) if row[0] == "Sum of known prices")
    assert in_sheet == pytest.approx(SUM)
    (in_csv,) = (row[5] for row in csv.reader(written[1].open(encoding="utf-8-sig")) if "Sum of" in row[0])
    assert float(in_csv.replace(",", ".")) == pytest.approx(SUM)
    assert "Sum of known prices 5 086.49" in text_of(written[2].read_bytes()).replace("\u202f", " ")


def test_spreadsheet_holds_numbers_as_numbers_and_says_what_is_missing(paper: MaterialPaper) -> None:
    by_part = {row[1]: row for row in cells(xlsx_of(paper)) if row[1]}
    assert by_part["Steel pipe DN 20"][2:6] == (196.25, "m", 14.9, pytest.approx(196.25 * 14.9))
    assert by_part["Drums given back"][2:6] == (2, "pieces", -12.5, -25)
    assert by_part["Film, metallised polyester"][2:6] == (281.4, "m²", "price missing", None)


def test_spreadsheet_takes_no_text_for_a_formula_or_a_link(paper: MaterialPaper) -> None:
    book = load_workbook(BytesIO(xlsx_of(named(paper, *FORMULAS, "https://example.org", "12.5"))))
    types = {str(cell.value): cell.data_type for row in book.worksheets[0].iter_rows() for cell in row}
    assert "f" not in types.values()
    assert all(types[text] == "s" for text in ("=1+1", "+1+1", "-1+1", "@SUM(A1:A9)", "  =1+1", "12.5"))
    assert not any(cell.hyperlink for row in book.worksheets[0].iter_rows() for cell in row)


def test_spreadsheet_refuses_a_text_beyond_its_limit(paper: MaterialPaper) -> None:
    with pytest.raises(WriteError, match="40000 characters is too long"):
        xlsx_of(named(paper, "x" * 40_000))


def test_csv_with_point_and_with_comma_holds_the_same_numbers(paper: MaterialPaper) -> None:
    point = rows(csv_of(paper, decimal_comma=False))
    comma = rows(csv_of(paper, decimal_comma=True), delimiter=";")
    assert point[3][:6] == ["Lines", "Steel pipe DN 20", "196.25", "m", "14.9", "2924.125"]
    assert comma[3][:6] == ["Lines", "Steel pipe DN 20", "196,25", "m", "14,9", "2924,125"]
    assert point[4][4:6] == ["-12.5", "-25"]
    assert point[2][4:6] == ["", ""]
    assert {len(row) for row in point} == {len(row) for row in comma} == {7}


def test_csv_follows_the_region(paper: MaterialPaper, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("LC_ALL", "LC_CTYPE", "LANGUAGE", "LANG"):
        monkeypatch.delenv(name, raising=False)
    for region, comma in (("de_DE.UTF-8", True), ("en_GB.UTF-8", False), ("C", False)):
        monkeypatch.setenv("LC_NUMERIC", region)
        assert csv_of(paper) == csv_of(paper, decimal_comma=comma)


def test_csv_quotes_text_and_disarms_formulas(paper: MaterialPaper) -> None:
    data = csv_of(named(paper, *FORMULAS, 'He said "x"; a, b\nnew line'), decimal_comma=False)
    labels = [row[1] for row in rows(data) if row[0] == "More"]
    assert labels == [*("'" + text for text in FORMULAS), 'He said "x"; a, b\nnew line']
    assert [row[2] for row in rows(data) if row[0] == "More"] == ["2.5"] * len(labels)
    assert "'Terrace" not in data.decode()


def test_page_lists_every_line_and_what_is_missing(paper: MaterialPaper) -> None:
    said = text_of(pdf_of(paper)).replace("\u202f", " ")
    for line in paper.lines:
        assert line.label in said
        assert line.source in said
    assert said.count("price missing") == 1
    assert "1 price is missing, so the sum is not the whole cost: Film, metallised polyester" in said
    assert "−25.00" in said
    assert "Terrace plot" in said
    assert "Prices in EUR of 2026-03-12" in said


def test_every_format_carries_every_caution(paper: MaterialPaper) -> None:
    assert {caution.key for caution in paper.cautions} >= {"light", "eyes", "oil", "wind", "lifting", "codes"}
    said = text_of(pdf_of(paper))
    sheet = {row[6] for row in cells(xlsx_of(paper))}
    table = {row[6] for row in rows(csv_of(paper, decimal_comma=False))}
    for caution in cautions():
        assert caution.sentence in said
        assert caution.sentence in sheet
        assert caution.sentence in table


def test_names_are_text_to_the_page_never_markup(paper: MaterialPaper) -> None:
    said = text_of(pdf_of(named(paper, MARKUP, '"; #panic("', "Ünïçødé")))
    assert MARKUP in said
    assert '"; #panic("' in said
    assert "Ünïçødé" in said


def test_long_list_numbers_its_pages_and_repeats_its_heads(paper: MaterialPaper) -> None:
    pages = PdfReader(BytesIO(pdf_of(named(paper, *(f"Part {n}" for n in range(120)))))).pages
    texts = [page.extract_text() for page in pages]
    listing = [text for text in texts if "\nPart " in text.replace("\nPart Quantity", "")]
    assert len(listing) >= 4
    assert all("Price each, EUR" in text for text in listing)
    assert all("More" in text for text in listing)
    for n, text in enumerate(texts, start=1):
        assert f"Page {n} / {len(texts)}" in " ".join(text.split())


def test_long_names_stay_within_the_page(paper: MaterialPaper) -> None:
    reader = PdfReader(BytesIO(pdf_of(named(paper, "W" * 300, "long words " * 60))))
    for page in reader.pages:
        ends: list[float] = []

        def visit(
            text: str, cm: list[float], tm: list[float], _font: object, size: float, ends: list[float] = ends
        ) -> None:
            ends.append(tm[4] * cm[0] + cm[4] + 0.45 * size * len(text.strip()))

        page.extract_text(visitor_text=visit)
        assert max(ends) < 210 * POINTS_PER_MM
    assert sum(page.extract_text().count("W") for page in reader.pages) >= 600


def strokes(data: bytes) -> Iterator[list[tuple[float, float, float, float]]]:
    """The straight strokes of each page as x1, y1, x2, y2 in points on paper, top of the page first or not."""
    for page in PdfReader(BytesIO(data)).pages:
        found: list[tuple[float, float, float, float]] = []
        at = [0.0, 0.0]

        def visit(
            operator: bytes,
            operands: list[Any],
            cm: list[float],
            _tm: list[float],
            found: list[tuple[float, float, float, float]] = found,
            at: list[float] = at,
        ) -> None:
            if operator in (b"m", b"l"):
                x, y = (float(operand) for operand in operands)
                there = [cm[0] * x + cm[2] * y + cm[4], cm[1] * x + cm[3] * y + cm[5]]
                if operator == b"l":
                    found.append((at[0], at[1], there[0], there[1]))
                at[:] = there

        page.extract_text(visitor_operand_before=visit)
        yield found


def test_control_line_on_each_page_is_100_mm(paper: MaterialPaper) -> None:
    pages = list(strokes(pdf_of(named(paper, *(f"Part {n}" for n in range(60))))))
    assert len(pages) > 1
    for page in pages:
        long = [
            abs(x2 - x1) / POINTS_PER_MM
            for x1, y1, x2, y2 in page
            if abs(y2 - y1) < 0.01 and abs(x2 - x1) > 1
        ]
        assert sum(abs(length - 100) < 0.05 for length in long) == 1


def test_pages_are_a4(paper: MaterialPaper) -> None:
    for page in PdfReader(BytesIO(pdf_of(paper))).pages:
        assert float(page.mediabox.width) / POINTS_PER_MM == pytest.approx(210, abs=0.1)
        assert float(page.mediabox.height) / POINTS_PER_MM == pytest.approx(297, abs=0.1)


def test_without_a_single_price_no_sum_is_claimed(paper: MaterialPaper) -> None:
    lines = tuple(replace(line, unit_price=None) for line in paper.lines)
    bare = replace(paper, blocks=(("All", lines),), price_date="", date="")
    assert sum_known(lines) is None
    said = text_of(pdf_of(bare))
    assert "Sum of known prices –" in said
    assert "0.00" not in said
    assert "Prices in EUR without a date" in said
    assert [row[5] for row in rows(csv_of(bare, decimal_comma=False)) if row[0] == "Sum of known prices"] == [
        ""
    ]


def test_with_all_prices_the_sum_is_plain(paper: MaterialPaper) -> None:
    whole = replace(paper, blocks=(paper.blocks[1],))
    said = text_of(pdf_of(whole))
    assert "missing" not in said
    assert "known" not in said


def test_empty_list_is_said_and_leaves_nothing(paper: MaterialPaper, tmp_path: Path) -> None:
    with pytest.raises(WriteError, match="place a line of mirrors first"):
        write_materials(replace(paper, blocks=()), tmp_path / "papers")
    assert list(tmp_path.iterdir()) == []


def test_half_a_character_is_said_and_leaves_nothing(paper: MaterialPaper, tmp_path: Path) -> None:
    for kind in ("xlsx", "csv", "pdf"):
        with pytest.raises(WriteError, match="cannot be written"):
            write_materials(named(paper, "bad \ud800 name"), tmp_path / "papers", formats=(kind,))
    assert list(tmp_path.iterdir()) == []


def test_chosen_formats_only(paper: MaterialPaper, tmp_path: Path) -> None:
    assert write_materials(paper, tmp_path, formats=("csv", "csv")) == (tmp_path / "materials.csv",)
    assert [path.name for path in tmp_path.iterdir()] == ["materials.csv"]
