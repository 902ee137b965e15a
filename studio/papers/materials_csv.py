"""The material list as CSV, for a spreadsheet to open."""

from studio.papers.materials import MaterialPaper, missing_sentence, sum_known, words_for

BYTE_ORDER_MARK = "\N{ZERO WIDTH NO-BREAK SPACE}"
_FORMULA_STARTS = tuple("=+-@\t\r\n") + tuple("\uff1d\uff0b\uff0d\uff20")
"""What makes a spreadsheet take text for a formula, full-width forms included."""

Cell = str | float | None


def csv_of(paper: MaterialPaper, *, decimal_comma: bool | None = None) -> bytes:
    """The list as UTF-8 with byte-order mark: a row of heads, a row a line, then sums, notes and cautions.

    Every text is quoted; text that a spreadsheet would take for a formula gets an apostrophe in front. Numbers are
    bare, with a point and fields set apart by commas, or with a comma and semicolons. A missing price is an empty
    field.
    """
    comma = region_has_decimal_comma() if decimal_comma is None else decimal_comma
    separator = ";" if comma else ","
    rows = [separator.join(csv_field(cell, comma) for cell in row) for row in _rows(paper)]
    return (BYTE_ORDER_MARK + "".join(row + "\r\n" for row in rows)).encode("utf-8")


def _rows(paper: MaterialPaper) -> list[tuple[Cell, ...]]:
    words = words_for(paper)
    rows: list[tuple[Cell, ...]] = [
        (words.group, words.part, words.quantity, words.unit, words.unit_price, words.sum, words.source)
    ]
    for heading, lines in paper.blocks:
        rows += [
            (heading, line.label, line.quantity, line.unit, line.unit_price, line.sum, line.source)
            for line in lines
        ]
    missing = missing_sentence(paper)
    rows.append((words.total, "", None, "", None, sum_known(paper.lines), missing))
    told = (paper.title, paper.site_name, words.design_of, words.prices_of, *paper.notes)
    rows += [(words.note, text, None, "", None, None, "") for text in told]
    rows += [
        (words.caution, caution.title, None, "", None, None, caution.sentence) for caution in paper.cautions
    ]
    return rows


def csv_field(cell: Cell, comma: bool) -> str:
    if cell is None:
        return ""
    if isinstance(cell, str):
        text = "'" + cell if cell.lstrip(" ").startswith(_FORMULA_STARTS) else cell
        return '"' + text.replace('"', '""') + '"'
    plain = f"{cell:.6f}".rstrip("0").rstrip(".")
    if plain == "-0":
        plain = "0"
    return plain.replace(".", ",") if comma else plain


def region_has_decimal_comma() -> bool:
    from babel import default_locale
    from babel.numbers import get_decimal_symbol

    return get_decimal_symbol(default_locale("LC_NUMERIC") or "en") == ","
