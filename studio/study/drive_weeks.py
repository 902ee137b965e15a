"""What of the drive table fits on a page: week by week, and month by hour."""

from dataclasses import dataclass

import numpy as np

from studio.engine.sky.calendar import DAYS_OF_MONTHS, DAYS_PER_YEAR
from studio.study.drive import ROLL_DIGITS, SLIDE_DIGITS, STEP_H, DriveGroup, Moments

_WEEK_DAYS = 7
_MIDDLE_OF_MONTH = 15


@dataclass(frozen=True)
class Week:
    """Some days of the year (1 on 1 January): the hand settings that hold, or where the receivers stand at solar noon of

    their middle day. ``from_h`` and ``to_h``: the clock hours between which the line works on any of them. None where
    it does not work.
    """

    first_day: int
    last_day: int
    slide_m: float | None
    roll_deg: float | None
    from_h: float | None
    to_h: float | None


@dataclass(frozen=True)
class HourOfMonth:
    """Pose at a clock hour of the middle of a month (1 to 12); None where the line rests."""

    month: int
    clock_h: int
    slide_m: float | None
    roll_deg: float | None


def weeks_of(group: DriveGroup, moments: Moments) -> tuple[Week, ...]:
    """The year in the blocks for which a hand setting holds, or in weeks where nothing is set by hand."""
    if group.settings:
        blocks = [(setting.first_day, setting.last_day) for setting in group.settings]
    else:
        starts = range(1, DAYS_PER_YEAR + 1, _WEEK_DAYS)
        blocks = [(first, min(first + _WEEK_DAYS - 1, DAYS_PER_YEAR)) for first in starts]
    return tuple(_week(group, moments, first, last) for first, last in blocks)


def _week(group: DriveGroup, moments: Moments, first: int, last: int) -> Week:
    works = group.works[first - 1 : last]
    middle = (first + last) // 2 - 1
    noon = int(np.argmin(np.abs(moments.solar_h[middle] - 12.0)))
    slide, roll = (float(at[middle, noon]) for at in (group.slide_m, group.roll_deg))
    at_slide, at_roll = group.even.at(moments.declination_deg[middle, [noon]], np.zeros(1))
    follows = (group.motion.slide_mode == "follow", group.motion.roll_mode == "follow")
    at_work = bool(group.works[middle, noon])
    quarters = np.flatnonzero(works.any(axis=0))
    return Week(
        first_day=first,
        last_day=last,
        slide_m=_told(slide, float(at_slide[0]), SLIDE_DIGITS, follows=follows[0], at_work=at_work),
        roll_deg=_told(roll, float(at_roll[0]), ROLL_DIGITS, follows=follows[1], at_work=at_work),
        from_h=float(moments.clock_h[quarters[0]]) if len(quarters) else None,
        to_h=float(moments.clock_h[quarters[-1]] + STEP_H) if len(quarters) else None,
    )


def _told(stands: float, at_noon: float, digits: int, *, follows: bool, at_work: bool) -> float | None:
    """The pose exactly at solar noon of a motion that follows; what is set by hand or fixed stands there always."""
    if not follows:
        return stands
    return round(at_noon, digits) if at_work else None


def hours_of_months(group: DriveGroup, moments: Moments) -> tuple[tuple[HourOfMonth, ...], ...]:
    """A row for each month, over the clock hours at which the line works in the middle of any month."""
    starts = np.concatenate([[0], np.cumsum(DAYS_OF_MONTHS)[:-1]])
    days = starts + _MIDDLE_OF_MONTH - 1
    hours = np.flatnonzero(np.isclose(moments.clock_h % 1.0, 0.0))
    shown = hours[group.works[np.ix_(days, hours)].any(axis=0)]
    return tuple(
        tuple(
            HourOfMonth(
                month=month,
                clock_h=round(float(moments.clock_h[at])),
                slide_m=float(group.slide_m[day, at]) if group.works[day, at] else None,
                roll_deg=float(group.roll_deg[day, at]) if group.works[day, at] else None,
            )
            for at in shown
        )
        for month, day in enumerate(days, start=1)
    )
