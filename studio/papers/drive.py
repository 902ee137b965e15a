"""The drive table as papers: for machines (CSV, and the compact law as JSON), for a desk (XLSX), for the wall (PDF)."""

from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

from studio.engine.hazard.cautions import Caution
from studio.engine.hazard.drive_cautions import drive_cautions
from studio.engine.motion.compact import ROLL_WITHIN_DEG, SLIDE_WITHIN_M
from studio.engine.sky.calendar import NOMINAL_YEAR
from studio.papers.together import write_together
from studio.study.drive import DriveGroup, DriveTable
from studio.study.drive_weeks import Week, weeks_of
from studio.text import DASH, _, number

FILES = ("drive.csv", "drive_settings.csv", "drive_law.json", "drive_law.csv", "drive.xlsx", "drive.pdf")


@dataclass(frozen=True)
class DrivePaper:
    """What stands on the drive's papers; ``date`` is an ISO date. The cautions are always there."""

    title: str
    date: str
    table: DriveTable
    cautions: tuple[Caution, ...] = field(default_factory=drive_cautions)

    @property
    def notes(self) -> tuple[str, ...]:
        """How to read the table, and what holds for all of it."""
        return (
            _(
                "Clock time is {offset} h from UTC all year, without summer time; solar time stands beside it."
            ).format(offset=number(self.table.site.utc_offset_h, digits=2, sign=True)),
            _(
                "Slide in m along the line, + from drive end to far end. Roll in degrees, right-handed about that "
                "direction; 0: arm along the mirror axis."
            ),
            _(
                "Outside its working hours a line rests at slide {slide} m and roll {roll}°; a motion that is set by hand "
                "or fixed stays as it is."
            ).format(
                slide=number(self.table.rest_slide_m, digits=3),
                roll=number(self.table.rest_roll_deg, digits=1),
            ),
            _(
                "Intercepts are those of a receiver on its spot; what the pipe's growth, twist and aim cost comes on top."
            ),
            _("Days are those of a year of 365; in a leap year 29 February takes the row of 28 February."),
            *(self.group_note(group) for group in self.table.groups),
        )

    def group_note(self, group: DriveGroup) -> str:
        """Which lines a group holds, and what the compact law and the even motion cost."""
        return _(
            "Group {number}, lines {lines}: {count} coefficients, within {mm} mm and {deg}° of the table where the line "
            "works (asked for: {most_mm} mm, {most_deg}°); moving evenly costs {share} % of a clear year's light against "
            "the very best poses."
        ).format(
            number=group.number,
            lines=lines_told(group),
            count=group.even.few.coefficients,
            mm=number(group.error.slide_worst_mm, digits=1),
            deg=number(group.error.roll_worst_deg, digits=2),
            most_mm=number(1000 * SLIDE_WITHIN_M, digits=0),
            most_deg=number(ROLL_WITHIN_DEG, digits=1),
            share=number(100 * group.given_up, digits=2),
        )

    def weeks(self, group: DriveGroup) -> tuple[Week, ...]:
        """The group's list by week or by hand setting."""
        return weeks_of(group, self.table.moments)


def drive_paper(table: DriveTable, *, today: date | None = None) -> DrivePaper:
    """The papers of a drive table."""
    return DrivePaper(title=_("Drive table"), date=(today or date.today()).isoformat(), table=table)


def lines_of(group: DriveGroup) -> str:
    """The lines of a group by number, as 1 2 3."""
    return " ".join(str(line_id) for line_id in group.line_ids)


def lines_told(group: DriveGroup) -> str:
    """The lines of a group as a person reads them, as 1–3, 7."""
    runs: list[list[int]] = []
    for line_id in sorted(group.line_ids):
        if runs and line_id == runs[-1][-1] + 1:
            runs[-1].append(line_id)
        else:
            runs.append([line_id])
    return ", ".join(f"{run[0]}{DASH}{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in runs)


def by_hand(group: DriveGroup) -> tuple[bool, bool]:
    """Whether slide and roll are set by hand."""
    return group.motion.slide_mode == "held", group.motion.roll_mode == "held"


def date_of(day: int) -> date:
    """The date of a day of the nominal year, 1 on 1 January."""
    return date(NOMINAL_YEAR, 1, 1) + timedelta(days=day - 1)


def month_day(day: int) -> str:
    """A day of the year as 03-21."""
    return date_of(day).strftime("%m-%d")


def clock(hours: float) -> str:
    """Hours as 07:45, to the minute."""
    minutes = round(hours * 60) % (24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def hours_between(week: Week) -> str:
    """The working hours of a week, as 07:45–16:30."""
    if week.from_h is None or week.to_h is None:
        return _("rests")
    return f"{clock(week.from_h)}{DASH}{clock(week.to_h)}"


def signed(value: float | None, *, digits: int) -> str:
    """A number with its sign, + included; a dash for None."""
    return number(value, digits=digits, sign=True)


def write_drive(
    paper: DrivePaper, into: Path, *, overwrite: bool = False, decimal_comma: bool | None = None
) -> tuple[Path, ...]:
    """Write ``FILES`` into the folder ``into``: all or none.

    ``decimal_comma`` is for the two tables in CSV, as in ``write_materials``; the law is always written with points,
    for it is read by machines.

    Raises WriteError for files that are there already unless ``overwrite``, and when a file call or the making of a
    paper fails.
    """
    from studio.papers.drive_csv import settings_csv_of, table_csv_of
    from studio.papers.drive_law import law_csv_of, law_json_of
    from studio.papers.drive_pdf import pdf_of
    from studio.papers.drive_xlsx import xlsx_of

    made = (
        table_csv_of(paper, decimal_comma=decimal_comma),
        settings_csv_of(paper, decimal_comma=decimal_comma),
        law_json_of(paper),
        law_csv_of(paper),
        xlsx_of(paper),
        pdf_of(paper),
    )
    return write_together(into, dict(zip(FILES, made, strict=True)), overwrite=overwrite)
