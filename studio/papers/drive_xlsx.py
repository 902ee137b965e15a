"""The drive table as a spreadsheet: what to read first, the weeks, and a sheet of days by quarter hours for each motion."""

from io import BytesIO
from typing import Any

from studio.errors import WriteError
from studio.papers.drive import DrivePaper, by_hand, clock, date_of, hours_between, lines_told
from studio.study.assessment import Array
from studio.study.drive import INTERCEPT_DIGITS, ROLL_DIGITS, SLIDE_DIGITS, DriveGroup
from studio.text import _

_INK, _INK2, _INK3, _HAIR = "#211E1A", "#5A544B", "#9A9388", "#E2DED7"


def xlsx_of(paper: DrivePaper) -> bytes:
    """A sheet to read first, one of weeks, and for every group slide, roll and intercept: a row a day, a column a

    quarter hour, rest in grey. Numbers are numbers, text is text whatever it begins with, and nothing is a formula."""
    import xlsxwriter

    held = BytesIO()
    with xlsxwriter.Workbook(held, {"in_memory": True}) as book:
        book.set_properties({"title": paper.title, "subject": paper.table.site.name})
        _Book(book, paper).fill()
    return held.getvalue()


class _Book:
    """The workbook while it is filled."""

    def __init__(self, book: Any, paper: DrivePaper) -> None:
        self.book, self.paper = book, paper
        font = {"font_size": 10, "font_color": _INK, "valign": "top"}
        self.styles = {
            "title": book.add_format({**font, "font_size": 16, "bold": True}),
            "plain": book.add_format(font),
            "quiet": book.add_format({**font, "font_color": _INK2}),
            "bold": book.add_format({**font, "bold": True, "text_wrap": True}),
            "wrapped": book.add_format({**font, "text_wrap": True}),
            "head": book.add_format(
                {**font, "bold": True, "bottom": 1, "bottom_color": _HAIR, "text_wrap": True}
            ),
        }
        self.numbers = {
            (digits, works): book.add_format(
                {**font, "num_format": f"0.{'0' * digits}", "font_color": _INK if works else _INK3}
            )
            for digits in (SLIDE_DIGITS, ROLL_DIGITS, INTERCEPT_DIGITS)
            for works in (True, False)
        }

    def fill(self) -> None:
        """All sheets."""
        self._first()
        self._weeks()
        for group in self.paper.table.groups:
            for name, values, digits in (
                (_("Slide m"), group.slide_m, SLIDE_DIGITS),
                (_("Roll deg"), group.roll_deg, ROLL_DIGITS),
                (_("Intercept"), group.intercept, INTERCEPT_DIGITS),
            ):
                self._days(f"{name} {group.number}", group, values, digits)

    def _text(self, sheet: Any, row: int, column: int, text: str, style: str) -> None:
        if sheet.write_string(row, column, text, self.styles[style]):
            raise WriteError(
                _(
                    "A text of {count} characters is too long for a spreadsheet; shorten it: {start} ..."
                ).format(count=len(text), start=text[:40])
            )

    def _first(self) -> None:
        sheet = self.book.add_worksheet(_("Read first"))
        sheet.set_column(0, 0, 34)
        sheet.set_column(1, 1, 110)
        self._text(sheet, 0, 0, self.paper.title, "title")
        self._text(sheet, 1, 0, self.paper.table.site.name, "quiet")
        self._text(sheet, 1, 1, self.paper.date, "quiet")
        row = 3
        for caution in self.paper.cautions:
            self._text(sheet, row, 0, caution.title, "bold")
            self._text(sheet, row, 1, caution.sentence, "wrapped")
            row += 1
        for note in self.paper.notes:
            row += 1
            self._text(sheet, row, 0, _("Note"), "quiet")
            self._text(sheet, row, 1, note, "wrapped")
        sheet.hide_gridlines(2)

    def _weeks(self) -> None:
        sheet = self.book.add_worksheet(_("Weeks"))
        sheet.set_column(0, 0, 9)
        sheet.set_column(1, 6, 16)
        heads = (
            _("Group"), _("Lines"), _("From"), _("To"), _("Slide, m"), _("Roll, °"), _("Works"), _("Set by hand"),
        )  # fmt: skip
        for column, head in enumerate(heads):
            self._text(sheet, 0, column, head, "head")
        row = 1
        for group in self.paper.table.groups:
            hand = by_hand(group)
            told = ", ".join(word for word, held in zip((_("slide"), _("roll")), hand, strict=True) if held)
            for week in self.paper.weeks(group):
                sheet.write_number(row, 0, group.number, self.styles["plain"])
                self._text(sheet, row, 1, lines_told(group), "plain")
                self._text(sheet, row, 2, date_of(week.first_day).isoformat(), "plain")
                self._text(sheet, row, 3, date_of(week.last_day).isoformat(), "plain")
                for column, value, digits in (
                    (4, week.slide_m, SLIDE_DIGITS),
                    (5, week.roll_deg, ROLL_DIGITS),
                ):
                    if value is not None:
                        sheet.write_number(row, column, value, self.numbers[digits, True])
                self._text(sheet, row, 6, hours_between(week), "plain")
                self._text(sheet, row, 7, told or _("nothing: poses at solar noon"), "plain")
                row += 1
        sheet.freeze_panes(1, 0)

    def _days(self, name: str, group: DriveGroup, values: Array, digits: int) -> None:
        sheet = self.book.add_worksheet(name)
        sheet.set_column(0, 0, 11)
        sheet.set_column(1, len(self.paper.table.moments.clock_h), 8)
        self._text(sheet, 0, 0, _("Date"), "head")
        for column, hour in enumerate(self.paper.table.moments.clock_h, start=1):
            self._text(sheet, 0, column, clock(float(hour)), "head")
        works = group.works.tolist()
        for day, row in enumerate(values.tolist(), start=1):
            self._text(sheet, day, 0, date_of(day).isoformat(), "plain")
            for column, value in enumerate(row, start=1):
                sheet.write_number(day, column, value, self.numbers[digits, works[day - 1][column - 1]])
        sheet.freeze_panes(1, 1)
        noon = int(group.works.any(axis=0).argmax())
        sheet.set_top_left_cell(1, 1 + noon)
