"""The error budget: each bar against a year computed another way, and the coarser table against the year's own."""

import os
from collections.abc import Callable
from dataclasses import replace
from math import hypot

import numpy as np
import pytest

from studio.design.design import Design, Document
from studio.design.field import Line
from studio.design.mirror import Mirror
from studio.design.motion import Motion
from studio.engine.motion.pose import best_poses
from studio.engine.motion.table import STEP_DEG
from studio.study.budget import STEP_DEG as COARSE_DEG
from studio.study.budget import SWITCHES, Sum, bar_of, mattering, optics_in, serves, year_sum
from studio.study.cache import Cache
from studio.study.heat import shares_of
from studio.study.mirror_day import mirror_line
from studio.study.sky import Sky, sky_of
from studio.study.watch import StoppedError

FULL = bool(os.environ.get("STILLFIELD_FULL"))
LINES = (Line(id=1, x_m=0.0, y_m=0.0, count=12),)
DESIGN = Design(lines=LINES)
Year = Callable[..., Sum]


@pytest.fixture(scope="module")
def sky() -> Sky:
    return sky_of(DESIGN.site, Document().asset, Cache())


@pytest.fixture(scope="module")
def year(sky: Sky) -> Year:
    """A year's sum, worked out once for each question."""
    known: dict[object, Sum] = {}

    def of(design: Design = DESIGN, switch: str = "", step_deg: float = COARSE_DEG) -> Sum:
        key = (design, switch, step_deg)
        if key not in known:
            known[key] = year_sum(design, mirror_line(design), sky, switch=switch, step_deg=step_deg)
        return known[key]

    return of


@pytest.mark.parametrize("switch", [s.key for s in SWITCHES] if FULL else ["strips", "sun"])
def test_the_coarser_table_moves_no_bar_by_two_tenths_of_a_point(year: Year, switch: str) -> None:
    coarse = bar_of(switch, year(), year(switch=switch))
    fine = bar_of(switch, year(step_deg=STEP_DEG), year(switch=switch, step_deg=STEP_DEG))
    assert abs(coarse.gain - fine.gain) < 0.002


def test_without_strips_is_what_ever_more_ribs_come_to(year: Year) -> None:
    many = replace(DESIGN, mirror=replace(DESIGN.mirror, ribs=60))
    assert year(switch="strips").accepted == pytest.approx(year(many).accepted, abs=0.003)
    assert year(switch="strips").accepted - year().accepted > 0.02


def test_without_saddle_is_a_film_that_is_not_pulled_along_its_ribs(year: Year) -> None:
    flat = replace(DESIGN, mirror=replace(DESIGN.mirror, pull_along_n_m=0.0))
    without, other = optics_in(DESIGN, mirror_line(DESIGN)), optics_in(flat, mirror_line(flat))
    saddle = next(s for s in SWITCHES if s.key == "saddle")
    assert saddle.off is not None
    assert saddle.off(without).form == other.form
    assert year().accepted < year(switch="saddle").accepted < year(switch="strips").accepted


def test_the_ideal_form_of_a_sphere_is_the_paraboloid(year: Year) -> None:
    sphere = replace(DESIGN, mirror=replace(DESIGN.mirror, surface="sphere"))
    assert "form" not in mattering(DESIGN, mirror_line(DESIGN))
    assert "form" in mattering(sphere, mirror_line(sphere))
    assert year(sphere, "form").accepted == pytest.approx(year().accepted, abs=1e-5)
    assert year(sphere).accepted != pytest.approx(year().accepted, abs=1e-4)


@pytest.mark.parametrize("scatter", [0.0, 1.8, 2.6])
def test_slope_goes_down_to_where_the_gaussian_sun_still_serves(scatter: float) -> None:
    design = replace(DESIGN, mirror=replace(DESIGN.mirror, scatter_mrad=scatter))
    slope = next(s for s in SWITCHES if s.key == "slope")
    assert slope.off is not None
    off = slope.off(optics_in(design, mirror_line(design))).errors
    assert off.gaussian_sun_serves
    assert hypot(off.scatter_mrad, 2 * off.slope_mrad) == pytest.approx(max(2.0, scatter), abs=1e-6)


def test_a_bar_that_the_cone_way_cuts_short_says_so(year: Year) -> None:
    assert not year(switch="scatter").limited
    assert not year(switch="sun").limited
    sharp = replace(
        DESIGN, mirror=Mirror(slope_error_mrad=0.6, scatter_mrad=1.0, ribs=3, width_m=0.3, height_m=0.3)
    )
    assert serves(DESIGN)
    assert not serves(sharp)


def test_off_axis_away_is_the_one_sun_on_the_axis(year: Year) -> None:
    optics = optics_in(DESIGN, mirror_line(DESIGN))
    axis = np.array([[0.0, 0.0, 1.0]])
    best = best_poses(optics.form, optics.errors, optics.window, optics.motion, axis).accepted[0]
    assert year(switch="off_axis").accepted == pytest.approx(float(best), abs=1e-9)


def test_heat_is_the_accepted_share_of_the_years_sun_on_the_mirror(year: Year, sky: Sky) -> None:
    """Energy balance: DNI times aperture times cosine, part of an hour by part, times what film, window and absorber leave."""
    line, shares = mirror_line(DESIGN), shares_of(DESIGN)
    facing = np.clip(sky.part_suns @ line.axes[2], 0.0, None)
    on_mirror = float(sky.part_dni @ facing) * 1.25 * 1.44 / 1000.0
    expected = on_mirror * shares.reflectance * shares.absorptance * year().accepted
    assert year().absorbed_kwh == pytest.approx(expected, rel=1e-9)


def test_aim_and_growth_have_bars_once_there_is_any(year: Year) -> None:
    assert not {"aim", "growth"} & set(mattering(DESIGN, mirror_line(DESIGN)))
    rough = replace(DESIGN, motion=Motion(aim_slide_mm=40.0, aim_roll_deg=1.0, spaced_for="cold"))
    assert {"aim", "growth"} <= set(mattering(rough, mirror_line(rough)))
    base = year(rough)
    assert base.accepted < year().accepted
    assert bar_of("aim", base, year(rough, "aim")).gain > 0.005
    assert bar_of("growth", base, year(rough, "growth")).gain > 0.0


def test_who_wants_no_more_is_heard(sky: Sky) -> None:
    def stop() -> None:
        raise StoppedError("stopped")

    with pytest.raises(StoppedError):
        year_sum(DESIGN, mirror_line(DESIGN), sky, switch="saddle", watch=stop)
    with pytest.raises(KeyError):
        year_sum(DESIGN, mirror_line(DESIGN), sky, switch="luck")
