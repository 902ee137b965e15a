"""The drive table and the list of hand settings as CSV.

Heads are the same in every language, for these are read by programs; notes and cautions stand below the rows.
"""

from collections.abc import Iterable

from studio.papers.drive import DrivePaper, by_hand, clock, date_of, lines_of
from studio.papers.materials_csv import BYTE_ORDER_MARK, Cell, csv_field, region_has_decimal_comma

TABLE_HEADS = ("group", "date", "day", "clock", "solar_time", "state", "slide_m", "roll_deg", "intercept")
SETTINGS_HEADS = (
    "group", "first_date", "last_date", "slide_m", "roll_deg", "slide_is", "roll_is", "works_from", "works_to",
)  # fmt: skip
WORKS, RESTS = "works", "rests"
SET, AT_NOON, FIXED = "set by hand", "at solar noon", "fixed"


def rows_as_csv(rows: Iterable[tuple[Cell, ...]], *, decimal_comma: bool | None) -> bytes:
    """Rows as UTF-8 with byte-order mark, text quoted and guarded as in the material list."""
    comma = region_has_decimal_comma() if decimal_comma is None else decimal_comma
    separator = ";" if comma else ","
    lines = (separator.join(csv_field(cell, comma) for cell in row) + "\r\n" for row in rows)
    return (BYTE_ORDER_MARK + "".join(lines)).encode("utf-8")


def table_csv_of(paper: DrivePaper, *, decimal_comma: bool | None = None) -> bytes:
    """A row for every group, day and quarter hour; the intercept is 0 where the line rests."""
    return rows_as_csv(
        [TABLE_HEADS, *_table(paper), *_below(paper, len(TABLE_HEADS))], decimal_comma=decimal_comma
    )


def _table(paper: DrivePaper) -> Iterable[tuple[Cell, ...]]:
    moments = paper.table.moments
    clocks = [clock(hour) for hour in moments.clock_h]
    for group in paper.table.groups:
        columns = (moments.solar_h, group.works, group.slide_m, group.roll_deg, group.intercept)
        for day, rows in enumerate(zip(*(part.tolist() for part in columns), strict=True), start=1):
            iso = date_of(day).isoformat()
            for at, (solar_h, works, slide, roll, intercept) in enumerate(zip(*rows, strict=True)):
                yield (
                    group.number, iso, day, clocks[at], clock(solar_h), WORKS if works else RESTS, slide, roll, intercept,
                )  # fmt: skip


def settings_csv_of(paper: DrivePaper, *, decimal_comma: bool | None = None) -> bytes:
    """A row for every group and hand setting, or week where nothing is set by hand."""
    return rows_as_csv(
        [SETTINGS_HEADS, *_settings(paper), *_below(paper, len(SETTINGS_HEADS))], decimal_comma=decimal_comma
    )


def _settings(paper: DrivePaper) -> Iterable[tuple[Cell, ...]]:
    for group in paper.table.groups:
        kinds = [
            SET if hand else (FIXED if mode == "fixed" else AT_NOON)
            for hand, mode in zip(
                by_hand(group), (group.motion.slide_mode, group.motion.roll_mode), strict=True
            )
        ]
        for week in paper.weeks(group):
            yield (
                group.number,
                date_of(week.first_day).isoformat(),
                date_of(week.last_day).isoformat(),
                week.slide_m,
                week.roll_deg,
                *kinds,
                "" if week.from_h is None else clock(week.from_h),
                "" if week.to_h is None else clock(week.to_h),
            )


def _below(paper: DrivePaper, width: int) -> list[tuple[Cell, ...]]:
    told = [("lines", f"{group.number}", lines_of(group)) for group in paper.table.groups]
    told += [("note", paper.table.site.name, paper.date)]
    told += [("note", text, "") for text in paper.notes]
    told += [("caution", caution.title, caution.sentence) for caution in paper.cautions]
    return [(*row, *(None,) * (width - len(row))) for row in told]
