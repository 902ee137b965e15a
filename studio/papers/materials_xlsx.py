"""The material list as a spreadsheet."""

from io import BytesIO
from typing import Any

from studio.errors import WriteError
from studio.papers.materials import MaterialPaper, Words, missing_sentence, sum_known, words_for
from studio.text import _

_INK, _INK2, _HAIR, _LINE, _DOUBT = "#211E1A", "#5A544B", "#E2DED7", "#C4BEB4", "#8A5A00"
_WIDTHS = (16, 44, 11, 9, 15, 15, 76)
_PART, _QUANTITY, _UNIT, _PRICE, _SUM, _SOURCE = range(1, 7)


def xlsx_of(paper: MaterialPaper) -> bytes:
    """One sheet: title, a table with a row a line, sums, notes and cautions.

    Numbers are numbers; text is written as text whatever it begins with, and nothing is a formula or a link. A
    missing price is the words for it in place of the price, and no sum.
    """
    import xlsxwriter

    held = BytesIO()
    with xlsxwriter.Workbook(held, {"in_memory": True}) as book:
        book.set_properties({"title": paper.title, "subject": paper.site_name})
        _Sheet(book, paper).fill()
    return held.getvalue()


class _Sheet:
    """The sheet while it is filled from the top down."""

    def __init__(self, book: Any, paper: MaterialPaper) -> None:
        self.paper = paper
        self.words: Words = words_for(paper)
        self.sheet = book.add_worksheet(_("Materials"))
        self.row = 0
        font = {"font_size": 10, "font_color": _INK, "valign": "top"}
        ruled = {**font, "bottom": 1, "bottom_color": _HAIR}
        self.styles = {
            "title": book.add_format({**font, "font_size": 16, "bold": True}),
            "plain": book.add_format(font),
            "quiet": book.add_format({**font, "font_color": _INK2}),
            "head": book.add_format(
                {**font, "bold": True, "bottom": 2, "bottom_color": _INK, "text_wrap": True}
            ),
            "head_number": book.add_format(
                {**font, "bold": True, "bottom": 2, "bottom_color": _INK, "text_wrap": True, "align": "right"}
            ),
            "text": book.add_format({**ruled, "text_wrap": True}),
            "source": book.add_format({**ruled, "text_wrap": True, "font_color": _INK2}),
            "count": book.add_format({**ruled, "num_format": "#,##0.##"}),
            "whole": book.add_format({**ruled, "num_format": "#,##0"}),
            "money": book.add_format({**ruled, "num_format": "#,##0.00"}),
            "missing": book.add_format({**ruled, "italic": True, "font_color": _DOUBT, "align": "right"}),
            "sum": book.add_format(
                {**font, "bold": True, "num_format": "#,##0.00", "top": 1, "top_color": _INK}
            ),
            "doubt": book.add_format(
                {**font, "font_color": _DOUBT, "text_wrap": True, "top": 1, "top_color": _INK}
            ),
            "wrapped": book.add_format({**font, "text_wrap": True}),
            "bold": book.add_format({**font, "bold": True, "text_wrap": True}),
        }
        for column, width in enumerate(_WIDTHS):
            self.sheet.set_column(column, column, width)

    def fill(self) -> None:
        """All rows, and how the sheet prints."""
        self._top()
        heads = self.row
        self._heads()
        self._lines()
        self._total()
        self._below()
        self.sheet.freeze_panes(heads + 1, 0)
        self.sheet.hide_gridlines(2)
        self.sheet.set_landscape()
        self.sheet.set_paper(9)  # A4
        self.sheet.fit_to_pages(1, 0)
        self.sheet.repeat_rows(heads)
        self.sheet.set_footer("&R&P / &N")

    def _text(self, column: int, text: str, style: str) -> None:
        if self.sheet.write_string(self.row, column, text, self.styles[style]):
            raise WriteError(
                _(
                    "A text of {count} characters is too long for a spreadsheet; shorten it: {start} ..."
                ).format(count=len(text), start=text[:40])
            )

    def _number(self, column: int, value: float, style: str) -> None:
        self.sheet.write_number(self.row, column, value, self.styles[style])

    def _blank(self, columns: tuple[int, ...], style: str) -> None:
        for column in columns:
            self.sheet.write_blank(self.row, column, None, self.styles[style])

    def _top(self) -> None:
        self._text(0, self.paper.title, "title")
        self.sheet.set_row(self.row, 24)
        self.row += 1
        for text in (self.paper.site_name, f"{self.words.design_of}. {self.words.prices_of}."):
            self._text(0, text, "quiet")
            self.row += 1
        self.row += 1

    def _heads(self) -> None:
        words = self.words
        for column, text in enumerate(
            (words.group, words.part, words.quantity, words.unit, words.unit_price, words.sum, words.source)
        ):
            self._text(column, text, "head_number" if column in (_QUANTITY, _PRICE, _SUM) else "head")
        self.row += 1

    def _lines(self) -> None:
        for heading, lines in self.paper.blocks:
            for line in lines:
                self._text(0, heading, "text")
                self._text(_PART, line.label, "text")
                self._number(
                    _QUANTITY, line.quantity, "whole" if float(line.quantity).is_integer() else "count"
                )
                self._text(_UNIT, line.unit, "text")
                if line.unit_price is None or line.sum is None:
                    self._text(_PRICE, self.words.missing, "missing")
                    self._blank((_SUM,), "money")
                else:
                    self._number(_PRICE, line.unit_price, "money")
                    self._number(_SUM, line.sum, "money")
                self._text(_SOURCE, line.source, "source")
                self.row += 1

    def _total(self) -> None:
        self._text(0, self.words.total, "sum")
        self._blank((_PART, _QUANTITY, _UNIT, _PRICE), "sum")
        known = sum_known(self.paper.lines)
        if known is None:
            self._blank((_SUM,), "sum")
        else:
            self._number(_SUM, known, "sum")
        self._text(_SOURCE, missing_sentence(self.paper), "doubt")
        self.row += 2

    def _below(self) -> None:
        for note in self.paper.notes:
            self._text(0, self.words.note, "quiet")
            self._text(_PART, note, "wrapped")
            self.row += 1
        self.row += 1
        for caution in self.paper.cautions:
            self._text(0, self.words.caution, "quiet")
            self._text(_PART, caution.title, "bold")
            self._text(_SOURCE, caution.sentence, "wrapped")
            self.row += 1
