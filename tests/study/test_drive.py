"""The drive table of a design: rest and work, hand settings, groups, and the pages made from it."""

import dataclasses
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from studio.design.design import Design, Document
from studio.design.field import Line
from studio.engine.motion.compact import poses_of
from studio.errors import BadInputError
from studio.study.drive import REST_SHARE, DriveGroup, DriveTable, drive_table_of
from studio.study.drive_weeks import hours_of_months, weeks_of

LINE = Line(id=1, x_m=0.0, y_m=0.0)


def made(*lines: Line, **motion: Any) -> DriveTable:
    """The drive table of invented lines at 36 N, 5.1 E; a coarse mirror, which few points serve."""
    design = Design()
    design = dataclasses.replace(
        design, mirror=dataclasses.replace(design.mirror, ribs=6, slope_error_mrad=9.0)
    )
    site = dataclasses.replace(design.site, latitude_deg=36.0, longitude_deg=5.1, utc_offset_h=1.0)
    design = dataclasses.replace(
        design, site=site, lines=lines or (LINE,), motion=dataclasses.replace(design.motion, **motion)
    )
    return drive_table_of(Document(design=design))


@pytest.fixture(scope="module")
def following() -> DriveTable:
    return made(LINE, dataclasses.replace(LINE, id=4, y_m=3.0, count=25))


@pytest.fixture(scope="module")
def roll_held() -> DriveTable:
    return made(roll="held", hold_days=14, rest_slide_m=-1.0)


def test_lines_that_move_alike_share_a_table_of_every_quarter_hour(following: DriveTable) -> None:
    (group,) = following.groups
    assert group.line_ids == (1, 4)
    assert group.slide_m.shape == group.roll_deg.shape == group.intercept.shape == (365, 96)
    assert group.settings == ()
    assert following.moments.clock_h[1] == 0.25


def test_where_the_line_works_it_stays_in_its_limits_and_elsewhere_it_rests(following: DriveTable) -> None:
    (group,) = following.groups
    works = group.works
    assert np.abs(group.slide_m[works]).max() <= 1.1
    assert np.abs(group.roll_deg[works]).max() <= 29
    assert (group.slide_m[~works] == 0.0).all()
    assert (group.roll_deg[~works] == 29.0).all()
    assert (group.intercept[~works] == 0.0).all()
    assert group.intercept[works].min() > 0.02
    assert 0.6 < group.intercept.max() < 0.95
    assert not works[following.moments.elevation_deg <= 0].any()
    # one run a day
    assert (np.abs(np.diff(works.astype(int), axis=1)).sum(axis=1) == 2).all()


def test_on_an_east_west_line_the_slide_follows_the_hours_and_the_roll_the_season(
    following: DriveTable,
) -> None:
    (group,) = following.groups
    forward = np.diff(np.where(group.works, group.slide_m, np.nan), axis=1)
    caught = np.minimum(group.intercept[:, 1:], group.intercept[:, :-1])
    assert (forward[caught > 0.125] > -2e-3).all()
    # where the windows catch little, the smooth law may come off its stop
    assert (forward[~np.isnan(forward)] > -0.05).all()
    noon = np.argmin(np.abs(following.moments.solar_h - 12), axis=1)
    at_noon = group.roll_deg[np.arange(365), noon]
    assert at_noon[171] > 24
    assert at_noon[354] < -24
    assert np.abs(np.diff(at_noon)).max() < 0.7


def test_moving_evenly_and_in_few_numbers_costs_next_to_nothing(following: DriveTable) -> None:
    (group,) = following.groups
    assert group.error.within
    assert group.error.slide_worst_mm > 0
    assert group.given_up < 1e-3
    moments = following.moments
    at = poses_of(group.even.few, moments.declination_deg[group.works], moments.hour_angle_deg[group.works])
    off = np.abs(at.slide_m - group.slide_m[group.works]).max()
    assert 1000 * off == pytest.approx(group.error.slide_worst_mm)


def test_rest_costs_its_share_and_no_more(following: DriveTable) -> None:
    (group,) = following.groups
    moments = following.moments
    cosine = np.maximum((moments.suns @ group.axes.T)[..., 2], 0)
    light = moments.clear_w_m2 * cosine * group.intercept
    # at the last working quarter hours there is still light, but little
    edge = group.works & ~(np.roll(group.works, 1, axis=1) & np.roll(group.works, -1, axis=1))
    assert light[edge].sum() < 30 * REST_SHARE * light.sum()


def test_a_held_roll_stands_for_its_days_at_rest_too(roll_held: DriveTable) -> None:
    (group,) = roll_held.groups
    assert len(group.settings) == 27
    assert (group.settings[0].first_day, group.settings[0].last_day) == (1, 14)
    assert group.settings[-1].last_day == 365
    for setting in group.settings:
        days = slice(setting.first_day - 1, setting.last_day)
        assert setting.slide_m is None
        assert (group.roll_deg[days] == setting.roll_deg).all()
    assert (group.slide_m[~group.works] == -1.0).all()
    assert group.even.few.roll is None
    assert group.error.within
    assert group.roll_travel.fastest_per_h == 0.0
    june = group.settings[12].roll_deg
    assert june is not None
    assert june > 24


def test_what_is_fixed_stays() -> None:
    (group,) = made(roll="fixed", roll_at_deg=7.0).groups
    assert (group.roll_deg == 7.0).all()
    assert group.settings == ()
    assert group.even.few.roll is not None
    assert len(group.even.few.roll.terms) == 1


def test_lines_that_stand_differently_are_groups_of_their_own_and_both_motions_may_be_held() -> None:
    lines = (
        LINE,
        dataclasses.replace(LINE, id=2, y_m=4.0, tilt_deg=50.0),
        dataclasses.replace(LINE, id=3, y_m=8.0),
    )
    groups = made(*lines, roll="held", slide="held", hold_days=60).groups
    assert [group.line_ids for group in groups] == [(1, 3), (2,)]
    assert groups[0].settings != groups[1].settings
    assert all(s.slide_m is not None and s.roll_deg is not None for group in groups for s in group.settings)
    assert groups[0].even.few.coefficients == 0
    assert groups[0].works.any()


def test_a_design_without_lines_has_no_drive() -> None:
    with pytest.raises(BadInputError, match="place a line"):
        drive_table_of(Document())


@pytest.mark.parametrize("of", [lambda f, r: f, lambda f, r: r], ids=["following", "held"])
def test_weeks_and_hours_are_taken_from_the_table(
    following: DriveTable, roll_held: DriveTable, of: Callable[[DriveTable, DriveTable], DriveTable]
) -> None:
    table = of(following, roll_held)
    group: DriveGroup = table.groups[0]
    weeks = weeks_of(group, table.moments)
    assert [w.first_day for w in weeks][:2] == ([1, 15] if group.settings else [1, 8])
    assert weeks[-1].last_day == 365
    for week in weeks:
        days = slice(week.first_day - 1, week.last_day)
        at = group.works[days].max(axis=0)
        assert week.from_h is not None
        assert week.to_h is not None
        assert at[round(4 * week.from_h)]
        assert not at[: round(4 * week.from_h)].any()
        assert not at[round(4 * week.to_h) :].any()
        assert week.slide_m is not None
        assert week.roll_deg is not None
        # an east-west line facing south stands in the middle of its stroke at solar noon
        assert abs(week.slide_m) < 0.002
        middle = group.roll_deg[(week.first_day + week.last_day) // 2 - 1]
        assert np.abs(middle - week.roll_deg).min() < (0.02 if group.settings == () else 1e-9)
    months = hours_of_months(group, table.moments)
    assert [row[0].month for row in months] == list(range(1, 13))
    for row, day in ((months[0], 15), (months[11], 349)):
        for hour in row:
            worked = group.works[day - 1, 4 * hour.clock_h]
            assert (hour.slide_m is None) == (not worked)
            if worked:
                assert hour.slide_m == group.slide_m[day - 1, 4 * hour.clock_h]
                assert hour.roll_deg == group.roll_deg[day - 1, 4 * hour.clock_h]
