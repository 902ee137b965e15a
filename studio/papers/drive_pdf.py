"""The drive's page for the wall, one for each group of lines that move alike. How it looks is in the template."""

import json
from pathlib import Path

import studio
from studio.errors import WriteError
from studio.papers.drive import DrivePaper, by_hand, hours_between, lines_told, month_day, signed
from studio.study.drive import DriveGroup
from studio.study.drive_weeks import hours_of_months
from studio.text import DASH, _, number

_TEMPLATE = Path(studio.__file__).resolve().parent.parent / "resources" / "papers" / "drive.typ"


def pdf_of(paper: DrivePaper) -> bytes:
    """An A4 page for every group: settings by week, a month-by-hour summary, cautions.

    Every text goes to the template as data. Raises WriteError when the template is not there or does not typeset.
    """
    import typst

    if not _TEMPLATE.is_file():
        raise WriteError(
            _("The template {template} is missing; install the studio anew").format(template=_TEMPLATE)
        )
    said = json.dumps(_said(paper), ensure_ascii=False)
    try:
        pages = typst.compile(_TEMPLATE, format="pdf", sys_inputs={"said": said})
    except (typst.TypstError, UnicodeError) as error:
        raise WriteError(_("The drive's page could not be typeset: {why}").format(why=error)) from error
    if not isinstance(pages, bytes):
        raise WriteError(_("The drive's page could not be typeset: no page came back"))
    return pages


def _said(paper: DrivePaper) -> dict[str, object]:
    return {
        "title": paper.title,
        "site": paper.table.site.name,
        "date": _("Made {date}").format(date=paper.date),
        "notes": list(paper.notes[: -len(paper.table.groups)]),
        "groups": [_group(paper, group) for group in paper.table.groups],
        "cautions_head": _("Cautions"),
        "cautions": [{"title": caution.title, "sentence": caution.sentence} for caution in paper.cautions],
        "page": _("Page"),
    }


def _group(paper: DrivePaper, group: DriveGroup) -> dict[str, object]:
    hand = by_hand(group)
    weeks = paper.weeks(group)
    months = hours_of_months(group, paper.table.moments)
    return {
        "heading": _("Group {number}: lines {lines}").format(number=group.number, lines=lines_told(group)),
        "weeks_head": _week_heading(hand, group),
        "week_heads": [_("days"), _("slide m"), _("roll °"), _("works, clock")],
        "weeks": [
            {
                "days": f"{month_day(week.first_day)} {DASH} {month_day(week.last_day)}",
                "slide": signed(week.slide_m, digits=3),
                "roll": signed(week.roll_deg, digits=1),
                "works": hours_between(week),
            }
            for week in weeks
        ],
        "by_hand": list(hand),
        "months_head": _("Middle of each month by clock hour: slide in m above, roll in ° below"),
        "month": _("month"),
        "hours": [f"{hour.clock_h}" for hour in months[0]],
        "months": [
            {
                "month": f"{row[0].month:02d}" if row else "",
                "cells": [[signed(hour.slide_m, digits=2), signed(hour.roll_deg, digits=1)] for hour in row],
            }
            for row in months
        ],
        "travel": _(
            "In a year the slide runs {slide} m, at most {slide_h} m in an hour; the roll turns {roll}°, at most "
            "{roll_h}° in an hour while it follows."
        ).format(
            slide=number(group.slide_travel.total, digits=0),
            slide_h=number(group.slide_travel.fastest_per_h, digits=2),
            roll=number(group.roll_travel.total, digits=0),
            roll_h=number(group.roll_travel.fastest_per_h, digits=1),
        ),
        "note": paper.group_note(group),
    }


def _week_heading(hand: tuple[bool, bool], group: DriveGroup) -> str:
    if hand == (True, True):
        return _("Set both by hand, every {days} days; both stay so at rest").format(
            days=group.motion.hold_days
        )
    if hand[1]:
        return _("Set the roll by hand, every {days} days; the slide follows (told: solar noon)").format(
            days=group.motion.hold_days
        )
    if hand[0]:
        return _("Set the slide by hand, every {days} days; the roll follows (told: solar noon)").format(
            days=group.motion.hold_days
        )
    return _("Nothing is set by hand; where the receivers stand at solar noon, to check the drive by")
