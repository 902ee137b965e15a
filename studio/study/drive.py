"""The drive table: slide and roll of every group of lines that move alike, day by day and quarter hour by quarter hour.

Clock time is the site's standard time (a fixed offset from UTC, no summer time); days are those of the nominal year.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design, Document
from studio.design.motion import Motion
from studio.design.site import Site
from studio.engine.mirror.cone import Shares, shares_by_sun
from studio.engine.motion.beam import Travel, travel_of
from studio.engine.motion.compact import (
    LawError,
    LawVector,
    law_error,
    vectors_of,
)
from studio.engine.motion.even import EvenLaw, care_of, even_law
from studio.engine.motion.held import held_optics
from studio.engine.motion.pose import LineMotion, window_frames
from studio.engine.motion.table import OpticsAt, OpticsTable
from studio.engine.sky.calendar import DAYS_PER_YEAR, NOMINAL_EPOCH_S
from studio.engine.sky.clear import clear_dni, daily_turbidity, monthly_turbidity
from studio.engine.sky.short_sun import ShortSun, short_sun
from studio.engine.sky.sun import clock_suns, sun_track
from studio.errors import BadInputError
from studio.study.assessment import Array, PlacedLine
from studio.study.cache import Cache
from studio.study.optics import errors_of, optics_key, optics_motion, table_covering, window_of
from studio.study.place import form_of, place_lines
from studio.study.sky import GRID_DAYS
from studio.text import _

STEP_H = 0.25
REST_SHARE = 2e-3
"""Share of a clear year's accepted light that the darkest moments bring together; the line rests at them."""
SLIDE_DIGITS, ROLL_DIGITS, INTERCEPT_DIGITS = 4, 3, 4


@dataclass(frozen=True)
class Moments:
    """The sun at every quarter hour of the year, D days by Q clock hours; ``suns`` (D, Q, 3) in the site frame.

    ``declination_deg`` and ``hour_angle_deg`` are geometric (no refraction), as a controller computes them.
    """

    clock_h: Array
    solar_h: Array
    elevation_deg: Array
    suns: Array
    clear_w_m2: Array
    declination_deg: Array
    hour_angle_deg: Array


@dataclass(frozen=True)
class Setting:
    """A hand setting from ``first_day`` to ``last_day`` of the year (1 on 1 January); None for a motion not set by hand."""

    first_day: int
    last_day: int
    slide_m: float | None
    roll_deg: float | None


@dataclass(frozen=True)
class DriveGroup:
    """Lines that move alike. Arrays are (365, 96); where ``works`` is False the line rests and the intercept is 0.

    ``even`` is the law the table was made from and its compact form, ``error`` how far that one is from the table where
    the line works. ``given_up``: share of a clear year's accepted light lost against the very best poses by
    moving evenly (rest at the darkest moments apart).
    """

    number: int
    line_ids: tuple[int, ...]
    motion: LineMotion
    axes: Array
    works: NDArray[np.bool_]
    slide_m: Array
    roll_deg: Array
    intercept: Array
    settings: tuple[Setting, ...]
    even: EvenLaw
    error: LawError
    vectors: tuple[LawVector, ...]
    given_up: float
    slide_travel: Travel
    roll_travel: Travel


@dataclass(frozen=True)
class DriveTable:
    """The drive table of a design."""

    site: Site
    rest_slide_m: float
    rest_roll_deg: float
    moments: Moments
    sun: ShortSun
    groups: tuple[DriveGroup, ...]


def drive_table_of(
    document: Document, design: Design | None = None, *, cache: Cache | None = None
) -> DriveTable:
    """The drive table of ``design`` (the document's own unless given).

    Raises ``BadInputError`` where there is no line, or one that never works.
    """
    design = document.design if design is None else design
    cache = Cache() if cache is None else cache
    if not design.lines:
        raise BadInputError(_("The design has no line, so there is no drive; place a line of mirrors first."))
    moments = moments_of(design.site)
    groups = tuple(
        _group(number, lines, design, moments, cache)
        for number, lines in enumerate(_alike(design, place_lines(design)), start=1)
    )
    return DriveTable(
        site=design.site,
        rest_slide_m=design.motion.rest_slide_m,
        rest_roll_deg=design.motion.rest_roll_deg,
        moments=moments,
        sun=short_sun(),
        groups=groups,
    )


def moments_of(site: Site) -> Moments:
    """The sun at every quarter hour of the nominal year at a site."""
    place = {
        "latitude_deg": site.latitude_deg,
        "longitude_deg": site.longitude_deg,
        "altitude_m": site.altitude_m,
    }
    days = np.arange(1, DAYS_PER_YEAR + 1)[:, None]
    clock = np.arange(0.0, 24.0, STEP_H)
    track = clock_suns(days, clock[None, :], **place, utc_offset_h=site.utc_offset_h)
    unix_s = NOMINAL_EPOCH_S + 86400.0 * (days - 1) + 3600.0 * (clock[None, :] - site.utc_offset_h)
    airless = sun_track(unix_s, **place, pressure_pa=0.0)
    turbidity = daily_turbidity(monthly_turbidity(site.latitude_deg, site.longitude_deg))
    return Moments(
        clock_h=clock,
        solar_h=track.solar_time_h,
        elevation_deg=track.elevation_deg,
        suns=track.direction,
        clear_w_m2=clear_dni(
            track.elevation_deg, days, altitude_m=site.altitude_m, turbidity=turbidity[:, None]
        ),
        declination_deg=airless.declination_deg,
        hour_angle_deg=airless.hour_angle_deg,
    )


def _alike(design: Design, placed: Sequence[PlacedLine]) -> list[list[PlacedLine]]:
    groups: dict[tuple[object, ...], list[PlacedLine]] = {}
    for line in placed:
        groups.setdefault((*optics_key(design, line), line.axes.tobytes()), []).append(line)
    return list(groups.values())


def _group(
    number: int, lines: list[PlacedLine], design: Design, moments: Moments, cache: Cache
) -> DriveGroup:
    placed = lines[0]
    motion = optics_motion(design, placed)
    by_hand = (motion.slide_mode == "held", motion.roll_mode == "held")
    suns = moments.suns @ placed.axes.T
    cosine = np.where(moments.elevation_deg > 0, np.maximum(suns[..., 2], 0.0), 0.0)
    facing = cosine > 0
    table = table_covering(design, placed, suns[facing], cache)
    best, settings = _best(table, suns[facing], (moments.clear_w_m2 * cosine)[facing], facing)
    light = np.zeros(facing.shape)
    light[facing] = (moments.clear_w_m2 * cosine)[facing] * best.accepted
    works = _brightest(light)

    sampled = np.zeros_like(works)
    sampled[GRID_DAYS - 1] = works[GRID_DAYS - 1]
    of_facing = sampled[facing]
    even = even_law(
        moments.declination_deg[sampled],
        moments.hour_angle_deg[sampled],
        slide_m=best.slide_m[of_facing],
        roll_deg=best.roll_deg[of_facing],
        care=care_of(table, suns[sampled], light[sampled]),
        slide_limits_m=motion.slide_limits_m,
        roll_limits_deg=motion.roll_limits_deg,
        works_at=(moments.declination_deg[works], moments.hour_angle_deg[works]),
        by_hand=by_hand,
    )

    slide, roll = _poses(even, moments, works, design.motion, settings)
    shares = _shares(design, motion, suns[works], slide[works], roll[works])
    intercept = np.zeros(works.shape)
    intercept[works] = shares.into_window.round(INTERCEPT_DIGITS)
    here = sampled[works]
    very_best = _shares(
        design, motion, suns[sampled], best.slide_m[of_facing], best.roll_deg[of_facing]
    ).accepted
    weight = (moments.clear_w_m2 * cosine)[sampled]
    places = moments.declination_deg[works], moments.hour_angle_deg[works]
    return DriveGroup(
        number=number,
        line_ids=tuple(line.id for line in lines),
        motion=motion,
        axes=placed.axes,
        works=works,
        slide_m=slide,
        roll_deg=roll,
        intercept=intercept,
        settings=settings,
        even=even,
        error=law_error(even.few, *places, slide_m=slide[works], roll_deg=roll[works]),
        vectors=vectors_of(even.few, *places),
        given_up=1.0 - float(weight @ shares.accepted[here]) / float(weight @ very_best),
        slide_travel=travel_of(slide, works, step_h=STEP_H),
        roll_travel=travel_of(roll, works, step_h=STEP_H),
    )


def _best(
    table: OpticsTable, suns: Array, weights: Array, facing: NDArray[np.bool_]
) -> tuple[OpticsAt, tuple[Setting, ...]]:
    """Shares and poses of the facing moments, with what is set by hand held for its days."""
    motion = table.motion
    slide_held, roll_held = motion.slide_mode == "held", motion.roll_mode == "held"
    if not (slide_held or roll_held):
        return table.at(suns), ()
    days = np.broadcast_to(np.arange(DAYS_PER_YEAR)[:, None], facing.shape)[facing].astype(np.intp)
    held = held_optics(table, suns, weights=weights, days=days)
    settings = tuple(
        Setting(
            first_day=block * motion.hold_days + 1,
            last_day=min((block + 1) * motion.hold_days, DAYS_PER_YEAR),
            slide_m=round(float(held.slide_m[block]), SLIDE_DIGITS) if slide_held else None,
            roll_deg=round(float(held.roll_deg[block]), ROLL_DIGITS) if roll_held else None,
        )
        for block in range(len(held.slide_m))
    )
    return held.optics, settings


def _poses(
    even: EvenLaw,
    moments: Moments,
    works: NDArray[np.bool_],
    motion: Motion,
    settings: tuple[Setting, ...],
) -> tuple[Array, Array]:
    """Slide and roll (365, 96): the law's where the line works, else at rest. What is set by hand stays day and night,

    and so does what is fixed."""
    slide = np.full(works.shape, motion.rest_slide_m if motion.slide == "follow" else motion.slide_at_m)
    roll = np.full(works.shape, motion.rest_roll_deg if motion.roll == "follow" else motion.roll_at_deg)
    at_slide, at_roll = even.at(moments.declination_deg[works], moments.hour_angle_deg[works])
    if even.full.slide is not None:
        slide[works] = at_slide.round(SLIDE_DIGITS)
    if even.full.roll is not None:
        roll[works] = at_roll.round(ROLL_DIGITS)
    for setting in settings:
        days = slice(setting.first_day - 1, setting.last_day)
        if setting.slide_m is not None:
            slide[days] = setting.slide_m
        if setting.roll_deg is not None:
            roll[days] = setting.roll_deg
    return slide, roll


def _shares(design: Design, motion: LineMotion, suns: Array, slide_m: Array, roll_deg: Array) -> Shares:
    frames = window_frames(motion, slide_m, roll_deg)
    return shares_by_sun(form_of(design.mirror), errors_of(design), window_of(design), suns, frames)


def _brightest(light: Array) -> NDArray[np.bool_]:
    """Where the line works: all but the darkest moments, which bring less than ``REST_SHARE`` of the light together."""
    order = np.argsort(light, axis=None, kind="stable")
    bright = np.empty(light.size, np.bool_)
    bright[order] = np.cumsum(light.ravel()[order]) > REST_SHARE * light.sum()
    return bright.reshape(light.shape) & (light > 0)
