"""Obstacles and skyline in the year: against the slow way, in the staircase, in the cache, in calendar and winter check."""

import dataclasses
import os
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from pvlib import solarposition

from studio.design.design import Design, Document
from studio.design.obstacles import Block, Fence, Horizon, Pole, Tree
from studio.design.site import Ground
from studio.engine.shade.obstacles import Body, ObstacleShade, obstacle_shade
from studio.engine.shade.rows import RowOfMirrors
from studio.files.site import open_site
from studio.study import obstacles as stage
from studio.study.assess import Assessor
from studio.study.assessment import Array, Assessment
from studio.study.light import LOSSES
from studio.study.place import place_lines, row_of
from studio.study.shade import Suns, mirror_shade
from studio.study.sky import sky_of
from tests.study.slow_obstacles import left_on, plates_of, solids_of

EXAMPLE = Path(__file__).parents[2] / "example_sites" / "small_dryer.stillfield"
EACH = 1 if os.environ.get("STILLFIELD_FULL") else 17
"""The slow way looks at every seventeenth hour unless all are asked for."""
RIDGE = Horizon(skyline=((70.0, 4.0), (95.0, 11.0), (130.0, 6.0), (200.0, 0.0), (265.0, 8.0), (300.0, 5.0)))


@cache
def site() -> Document:
    """An invented sloping site: three short lines, a shed, a wall, two trees, a pole, a fence."""
    document = open_site(EXAMPLE)
    design = document.design
    x, y = design.lines[0].x_m, design.lines[0].y_m
    lines = tuple(
        dataclasses.replace(line, x_m=x, y_m=y + 1.75 * place, count=4, azimuth_deg=90.0)
        for place, line in enumerate(design.lines)
    )
    obstacles = (
        Block(name="shed", ring=((x - 8, y - 5), (x - 4, y - 5), (x - 4, y + 2), (x - 8, y + 2)), height_m=3.5),
        Block(name="wall", ring=((x, y - 4), (x + 9, y - 5), (x + 9, y - 4.8), (x, y - 3.8)), height_m=1.8),
        Tree(name="walnut", place=(x + 8.0, y - 7.0), crown_radius_m=2.6, crown_base_m=2.2, height_m=8.5),
        Tree(name="pine", place=(x + 11.0, y + 1.0), crown_radius_m=1.8, crown_base_m=1.0, height_m=9.0,
             passes_in_leaf=0.25, passes_bare=0.25),
        Pole(name="mast", place=(x + 2.0, y - 3.0), radius_m=0.15, height_m=6.0),
        Fence(name="deer fence", path=((x - 2.0, y - 2.2), (x + 9.0, y - 2.6)), height_m=2.0, passes=0.7),
    )  # fmt: skip
    return changed(
        document, lines=lines, obstacles=obstacles, ground=Ground(slope_percent=9.0, falls_towards_deg=150.0)
    )


def changed(document: Document, **parts: Any) -> Document:
    return dataclasses.replace(document, design=dataclasses.replace(document.design, **parts))


@cache
def assessed(*, obstacles: bool = True, horizon: bool = True) -> Assessment:
    document = site()
    parts: dict[str, Any] = {} if obstacles else {"obstacles": ()}
    return Assessor().assess(
        changed(document, horizon=RIDGE if horizon else Horizon(), **parts), calendar=False
    )


def kwh(assessment: Assessment) -> dict[str, float]:
    return {step.key: step.kwh for step in assessment.staircase}


def test_what_obstacles_take_of_the_year_is_that_of_the_slow_way() -> None:
    """Obstacles alone and obstacles with mirrors within 0.2 % of the year's light."""
    document, design, cache_ = site(), site().design, Assessor().cache
    sky = sky_of(design.site, document.asset, cache_)
    placed = place_lines(design)
    rows = [row_of(line, design.mirror) for line in placed]
    found = stage.obstacles_of(design, placed, sky, Suns(sky.key, sky.nodes.suns), cache_)
    solids, plates = solids_of(design), plates_of(rows)
    parts = np.arange(EACH // 2, len(sky.part_suns), EACH)
    sums = np.zeros(5)
    for line, row in zip(placed, rows, strict=True):
        light = sky.part_dni * np.maximum(sky.part_suns @ line.axes[2], 0.0)
        taken = found[line.id].at_parts
        mirrors = sky.nodes.blend(
            mirror_shade(row, tuple(other for other in rows if other is not row), sky.nodes.suns).mean
        )
        for part in parts[light[parts] > 0.0]:
            sun, day = sky.part_suns[part], int(sky.part_day[part]) + 1
            alone = left_on(row, solids, sun, day).mean()
            both = left_on(row, [*solids, *plates], sun, day).mean() if mirrors[part] > 0 else alone
            live = 1.0 - taken[part]
            sums += light[part] * np.array([1.0, alone, live, both, live * (1.0 - mirrors[part])])
    alone, live, both, live_both = sums[1:] / sums[0]
    print(
        f"obstacles leave {alone:.4f} slow, {live:.4f} live; with mirrors {both:.4f} slow, {live_both:.4f} live"
    )
    assert alone < 0.95
    assert both < alone - 0.002
    assert live == pytest.approx(alone, abs=0.002)
    assert live_both == pytest.approx(both, abs=0.002)


def test_hours_hidden_by_the_ridge_are_those_of_a_sun_by_five_minutes() -> None:
    """pvlib's sun every five minutes against the skyline by hand; within 0.1 % of the year's light."""
    document = changed(site(), horizon=RIDGE, obstacles=())
    place = document.design.site
    sky = sky_of(place, document.asset, Assessor().cache)
    start = pd.Timestamp("2025-01-01 00:02:30") - pd.Timedelta(hours=place.utc_offset_h)
    moments = pd.date_range(start, periods=12 * 8760, freq="5min", tz="UTC")
    sun = solarposition.get_solarposition(moments, place.latitude_deg, place.longitude_deg)
    elevation, azimuth = sun["apparent_elevation"].to_numpy(), sun["azimuth"].to_numpy()
    at, height = np.array(RIDGE.skyline).T
    skyline = np.interp(azimuth, np.append(at, at[0] + 360), np.append(height, height[0]))
    before = azimuth < at[0]
    skyline[before] = np.interp(azimuth[before] + 360, [at[-1], at[0] + 360], [height[-1], height[0]])
    up = (elevation > 0).reshape(8760, 12).sum(axis=1)
    behind = ((elevation > 0) & (elevation < skyline)).reshape(8760, 12).sum(axis=1)
    hidden = (behind / np.maximum(up, 1))[sky.hour]
    line = place_lines(document.design)[0]
    light = sky.dni * np.maximum(sky.suns @ line.axes[2], 0.0)
    wanted = float(light @ hidden / light.sum())
    live = assessed(obstacles=False).lines[0].horizon_loss_year
    assert wanted > 0.004
    assert live == pytest.approx(wanted, abs=0.001)


def test_the_staircase_closes_with_every_cause() -> None:
    every = assessed()
    steps = kwh(every)
    assert min(-steps[key] for key in ("horizon", "obstacles", "mirrors", "gear")) > 0.0
    left = steps["facing"] + sum(steps[key] for key in LOSSES)
    assert left == pytest.approx(steps["absorbed"], abs=1e-9 * steps["facing"])
    for key in LOSSES:
        assert every.months.kwh[key].sum() == pytest.approx(-steps[key], abs=1e-9 * steps["facing"])
    on_aperture = steps["facing"] + steps["cosine"]
    shade = -sum(steps[key] for key in ("horizon", "obstacles", "mirrors", "gear"))
    assert every.figures["shade_loss_year"] == pytest.approx(shade / on_aperture, rel=1e-12)
    by_lines = sum(line.obstacle_loss_year for line in every.lines) / len(every.lines)
    assert every.figures["obstacle_loss_year"] == pytest.approx(by_lines, rel=1e-9)


def test_each_loss_is_taken_of_what_the_one_before_left() -> None:
    """The ridge hides the same light with or without obstacles; obstacles take less where the ridge stands before them."""
    both, no_ridge, no_obstacles = (
        kwh(assessed()),
        kwh(assessed(horizon=False)),
        kwh(assessed(obstacles=False)),
    )
    assert both["horizon"] == no_obstacles["horizon"]
    assert no_ridge["horizon"] == 0.0
    assert 0.0 > both["obstacles"] > no_ridge["obstacles"]
    assert both["mirrors"] > no_obstacles["mirrors"]


def test_what_is_out_of_reach_and_a_skyline_below_the_sun_change_no_bit() -> None:
    document = changed(site(), obstacles=())
    far = Tree(place=(4000.0, 0.0))
    plain = Assessor().assess(document, calendar=False)
    round_it = Assessor().assess(
        changed(document, obstacles=(far,), horizon=Horizon(skyline=((0.0, -1.0),))), calendar=False
    )
    assert round_it.figures == plain.figures
    assert kwh(round_it) == kwh(plain)


def test_one_obstacle_alone_takes_what_is_said_of_it() -> None:
    document = site()
    mast = document.design.obstacles[4]
    line = Assessor().assess(changed(document, obstacles=(mast,)), calendar=False).lines[0]
    ((place, share),) = line.obstacles_by
    assert place == 0
    assert share == pytest.approx(line.obstacle_loss_year, rel=1e-9)
    among = dict(assessed(horizon=False).lines[0].obstacles_by)
    assert among[4] == pytest.approx(line.obstacle_loss_year, rel=1e-9)


def test_leaves_over_the_turn_of_the_year_shade_the_other_half() -> None:
    document = site()
    walnut = document.design.obstacles[2]
    assert isinstance(walnut, Tree)
    tree = dataclasses.replace(walnut, passes_in_leaf=0.0, passes_bare=1.0)
    months = {}
    for start, end in ((120, 280), (281, 119)):
        one = dataclasses.replace(tree, leaf_from_day=start, leaf_to_day=end)
        months[start] = (
            Assessor().assess(changed(document, obstacles=(one,)), calendar=False).months.kwh["obstacles"]
        )
    always = dataclasses.replace(tree, passes_bare=0.0)
    whole = Assessor().assess(changed(document, obstacles=(always,)), calendar=False).months.kwh["obstacles"]
    assert months[120][0] == 0.0
    assert months[281][6] == 0.0
    assert months[120] + months[281] == pytest.approx(whole, rel=1e-9)


def test_a_line_that_moves_past_a_tree_is_the_only_one_worked_out(monkeypatch: pytest.MonkeyPatch) -> None:
    document = site()
    seen: list[int] = []

    def counted(row: RowOfMirrors, bodies: Sequence[Body], passes: Array, suns: Array) -> ObstacleShade:
        seen.append(row.count)
        return obstacle_shade(row, bodies, passes, suns)

    monkeypatch.setattr(stage, "obstacle_shade", counted)
    assessor = Assessor()
    assessor.assess(document, calendar=False)
    assert len(seen) == 3

    def moved(design: Design, dy: float) -> Design:
        first, *rest = design.lines
        return dataclasses.replace(design, lines=(dataclasses.replace(first, y_m=first.y_m + dy), *rest))

    there = assessor.assess(document, moved(document.design, 0.4), calendar=False)
    assert len(seen) == 4
    assessor.assess(document, calendar=False)
    assert len(seen) == 4
    fresh = Assessor().assess(document, moved(document.design, 0.4), calendar=False)
    assert kwh(there) == pytest.approx(kwh(fresh), rel=1e-12)


def test_calendar_and_working_hours_see_the_ridge() -> None:
    document = changed(site(), obstacles=())
    wall = Horizon(skyline=((0.0, 0.0), (179.0, 0.0), (180.0, 80.0), (359.0, 80.0)))
    free, walled = (Assessor().assess(changed(document, horizon=one)) for one in (Horizon(), wall))
    assert free.calendar is not None
    assert walled.calendar is not None
    afternoon = (free.calendar.clock_h > 13.5) & (free.calendar.clock_h < 16.0)
    shade = walled.calendar.shade[:, afternoon]
    assert np.nanmin(shade) == 1.0
    assert np.nanmax(walled.calendar.heat_kw[:, afternoon]) == 0.0
    hours = [one.figures["working_hours_per_day"] for one in (free, walled)]
    assert hours[0] is not None
    assert hours[1] is not None
    assert 0.3 * hours[0] < hours[1] < 0.7 * hours[0]


def test_winter_check_passes_on_mirrors_alone_and_says_what_all_take() -> None:
    plain, every = assessed(obstacles=False, horizon=False), assessed()
    for bare, line in zip(plain.lines, every.lines, strict=True):
        assert (line.winter_mean, line.winter_with_gear) == (bare.winter_mean, bare.winter_with_gear)
        assert bare.winter_with_all == bare.winter_with_gear
        assert line.winter_with_all >= line.winter_with_gear
    assert max(line.winter_with_all for line in every.lines) > 0.1
