"""The mirror through the day: intercept and optical efficiency for four dates, from the optics table."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.design.field import Line
from studio.engine.motion.held import held_optics
from studio.engine.motion.spread import spread_table
from studio.engine.motion.table import OpticsAt
from studio.engine.sky.calendar import day_of_year
from studio.engine.sky.clear import clear_dni, daily_turbidity, monthly_turbidity
from studio.engine.sky.sun import clock_suns
from studio.study.assessment import Array, PlacedLine
from studio.study.beside import spread_of
from studio.study.cache import Cache
from studio.study.heat import shares_of
from studio.study.optics import table_covering
from studio.study.place import place_line

STEP_H = 0.25
MARKS = (day_of_year(6, 21), day_of_year(12, 21), day_of_year(3, 20))
"""Solstices and an equinox."""
BETWEEN = day_of_year(5, 5)
"""Stands in for a mark that the moment's own date is."""


@dataclass(frozen=True, eq=False)
class DayCurve:
    """One date, every quarter hour of clock time (Q,): accepted share of the reflected light (``intercept``), absorbed

    light per sunlight on an aperture that faced the sun (``efficiency``: cosine, film, intercept and absorber, no
    shade), and the pose. NaN where the sun is not before the mirror.
    """

    day_of_year: int
    clock_h: Array
    intercept: Array
    efficiency: Array
    slide_m: Array
    roll_deg: Array

    def hours_above(self, share: float) -> float:
        """Hours with an intercept of ``share`` or more; straight between quarter hours."""
        fine = np.arange(self.clock_h[0], self.clock_h[-1], STEP_H / 25)
        values = np.interp(fine, self.clock_h, np.nan_to_num(self.intercept, nan=0.0))
        return float(np.count_nonzero(values >= share) * STEP_H / 25)

    def at(self, values: Array, clock_h: float) -> float:
        """One of its own ``values`` (Q,) at a clock hour; NaN outside the hours with sun."""
        known = np.isfinite(values)
        if not known.any():
            return float("nan")
        hours = self.clock_h[known]
        if not hours[0] - STEP_H <= clock_h <= hours[-1] + STEP_H:
            return float("nan")
        return float(np.interp(clock_h, hours, values[known]))


@dataclass(frozen=True, eq=False)
class MirrorDay:
    """Four dates; the first is the moment's."""

    curves: tuple[DayCurve, ...]


def mirror_line(design: Design, selected: tuple[int, ...] = ()) -> PlacedLine:
    """The line whose mirrors are looked at: the first selected one, else the first; without any, one along east-west."""
    chosen = [line for line in design.lines if line.id in selected] or list(design.lines)
    line = chosen[0] if chosen else Line(id=1, x_m=0.0, y_m=0.0)
    return place_line(line, design.mirror, design.ground)


def dates_beside(day: int) -> tuple[int, ...]:
    """The moment's date and three others, all different."""
    others = tuple(BETWEEN if mark == day else mark for mark in MARKS)
    return (day, *others)


def mirror_day(design: Design, line: PlacedLine, *, day: int, cache: Cache) -> MirrorDay:
    """The mirrors of a line on ``day`` of the year (from 1) and on three other dates.

    A held motion stands, on every date, where it brings most over the days that it is held for.
    """
    return MirrorDay(tuple(_curve(design, line, date, cache) for date in dates_beside(day)))


def _curve(design: Design, line: PlacedLine, day: int, cache: Cache) -> DayCurve:
    clock = np.arange(STEP_H / 2, 24.0, STEP_H)
    days = _held_days(design, day)
    site = design.site
    track = clock_suns(
        days[:, None] + 1.0, clock[None, :], latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg,
        altitude_m=site.altitude_m, utc_offset_h=site.utc_offset_h,
    )  # fmt: skip
    toward = track.direction @ line.axes.T
    lit = (track.elevation_deg > 0.0) & (toward[..., 2] > 0.0)
    table = table_covering(design, line, toward[lit], cache)
    table = spread_table(table, toward[lit], spread_of(design, line))
    if len(days) == 1:
        at = table.at(toward[lit])
    else:
        turbidity = daily_turbidity(monthly_turbidity(site.latitude_deg, site.longitude_deg))
        day_of = np.broadcast_to(days[:, None], lit.shape)[lit]
        clear = clear_dni(
            track.elevation_deg[lit], day_of + 1, altitude_m=site.altitude_m, turbidity=turbidity[day_of]
        )
        at = held_optics(table, toward[lit], weights=clear * toward[lit][:, 2], days=day_of).optics
    row = int(np.searchsorted(days, day - 1))
    return _spread(design, day, clock, lit, toward[row, :, 2], at, row)


def _held_days(design: Design, day: int) -> NDArray[np.intp]:
    """The days (from 0) over which what is held on ``day`` is set; the day alone where nothing is held."""
    motion = design.motion
    if "held" not in (motion.slide, motion.roll):
        return np.array([day - 1])
    first = (day - 1) // motion.hold_days * motion.hold_days
    return np.arange(first, min(first + motion.hold_days, 365))


def _spread(
    design: Design, day: int, clock: Array, lit: NDArray[np.bool_], cosine: Array, at: OpticsAt, row: int
) -> DayCurve:
    """The values at lit moments (of all held days) laid out over the hours of one."""

    def over_day(values: Array) -> Array:
        picture = np.full(lit.shape, np.nan)
        picture[lit] = values
        return np.asarray(picture[row])

    shares = shares_of(design)
    intercept = over_day(at.accepted)
    return DayCurve(
        day_of_year=day,
        clock_h=clock,
        intercept=intercept,
        efficiency=intercept * cosine * (shares.reflectance * shares.absorptance),
        slide_m=over_day(at.slide_m),
        roll_deg=over_day(at.roll_deg),
    )
