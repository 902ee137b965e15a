"""Tables: their step, their growing, what lies beside the best pose, and settings held for days."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from studio.engine.mirror.cone import cone_shares
from studio.engine.mirror.form import Errors, Floats, MirrorForm, Window
from studio.engine.mirror.points import surface_points
from studio.engine.motion.held import held_optics
from studio.engine.motion.offsets import cubic, offset_table, window_offsets
from studio.engine.motion.pose import LineMotion, best_poses, window_frames
from studio.engine.motion.table import STEP_DEG, OpticsTable, SunGrid, optics_table
from studio.errors import BadInputError, ComputationError

MIRROR = MirrorForm("paraboloid", 1.25, 1.44, 1.3, 11)
WINDOW = Window(0.20, 0.175, 55)
MOTION = LineMotion((1, 0, 0), 0.95 * 1.3, -1.1, 1.1, -29, 29)
LATITUDE_DEG = 36.0


def year(step_hours: float, step_days: int = 1) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Suns of a year in the frame of a mirror tilted to the latitude, their cosines, their days.

    Declination by Cooper 1969, as in Duffie & Beckman eq. 1.6.1a; hour angles 15 degrees an hour.
    """
    day = np.arange(0, 365, step_days)
    declination = np.radians(23.45 * np.sin(2 * np.pi * (285 + day) / 365))
    hour = np.radians(15 * np.arange(-7 + step_hours / 3, 7, step_hours))
    b, a = (grid.ravel() for grid in np.meshgrid(declination, hour, indexing="ij"))
    suns = np.stack([np.cos(b) * np.sin(a), np.sin(b), np.cos(b) * np.cos(a)], axis=-1)
    latitude = np.radians(LATITUDE_DEG)
    up = suns[:, 1] * np.sin(latitude) + suns[:, 2] * np.cos(latitude)
    seen = (up > 0) & (suns[:, 2] > 0)
    return suns[seen], suns[seen, 2], np.repeat(day, len(hour))[seen]


def table_for(suns: Floats, motion: LineMotion = MOTION, step_deg: float = STEP_DEG) -> OpticsTable:
    return optics_table(MIRROR, Errors(), WINDOW, motion, suns=suns, step_deg=step_deg)


def test_halving_the_step_moves_a_year_by_less_than_a_fifth_of_a_per_cent() -> None:
    suns, cosine, _ = year(0.25, 2)
    coarse, fine = (
        float(table_for(suns, step_deg=step).at(suns).accepted @ cosine) for step in (STEP_DEG, STEP_DEG / 2)
    )
    assert abs(coarse / fine - 1) < 0.002


def test_the_table_holds_against_poses_found_for_each_sun() -> None:
    suns, cosine, _ = year(0.7, 9)
    table = table_for(suns).at(suns)
    exact = best_poses(MIRROR, Errors(), WINDOW, MOTION, suns)
    assert table.accepted @ cosine == pytest.approx(exact.accepted @ cosine, rel=0.002)
    near = exact.accepted > 0.4
    assert table.slide_m[near] == pytest.approx(exact.slide_m[near], abs=0.02)
    assert table.roll_deg[near] == pytest.approx(exact.roll_deg[near], abs=0.6)


def test_a_year_works_four_to_six_hours_around_noon() -> None:
    """Common practice, no source: such a mirror works 4 to 6 hours. Hours at half of the day's best or more."""
    suns, cosine, days = year(0.1, 5)
    light = table_for(suns).at(suns).accepted * cosine
    hours = [0.1 * np.sum(light[days == day] >= 0.5 * light[days == day].max()) for day in np.unique(days)]
    assert 4 <= np.mean(hours) <= 6


def test_only_touched_nodes_are_computed_and_a_table_grows() -> None:
    suns, _, _ = year(1.0, 30)
    table = table_for(suns[:20])
    assert table.covering(suns[:20]) is table
    grown = table.covering(suns)
    assert table.known.sum() < grown.known.sum() < len(grown.known)
    assert np.array_equal(grown.accepted[table.known], table.accepted[table.known])
    whole = table_for(suns)
    assert grown.at(suns).accepted == pytest.approx(whole.at(suns).accepted)
    with pytest.raises(ComputationError, match="does not reach"):
        table.at(suns)


def test_symmetry_saves_work_and_changes_nothing() -> None:
    suns, _, _ = year(1.0, 40)
    askew = replace(MOTION, slide_max_m=1.1 + 1e-9)
    assert table_for(suns, askew).at(suns).accepted == pytest.approx(
        table_for(suns).at(suns).accepted, abs=1e-3
    )
    north = LineMotion((0, 0.81, -0.59), 1.235, -1.1, 1.1, -60, 60)
    uneven = replace(north, roll_max_deg=60 + 1e-9)
    assert table_for(suns, uneven).at(suns).accepted == pytest.approx(
        table_for(suns, north).at(suns).accepted, abs=3e-3
    )


def test_sparse_weights_give_the_same_as_the_table_and_sum_to_one() -> None:
    suns, _, _ = year(1.0, 30)
    table = table_for(suns)
    nodes, weights = table.weights(suns)
    on_grid = np.degrees(np.abs(np.arctan2(suns[:, 0], suns[:, 2]))) <= 70 + 1e-9
    assert weights.sum(axis=1) == pytest.approx(on_grid.astype(float))
    slide = np.sum(np.where(weights > 0, table.slide_m[nodes], 0) * weights, axis=1)
    assert slide == pytest.approx(table.at(suns).slide_m)


def test_suns_behind_and_beyond_bring_nothing() -> None:
    table = table_for(np.array([[0.0, 0.0, 1.0]]))
    beyond = np.array([[0.0, 0.1, -0.9], [0.99, 0.0, 0.14], [0.0, 0.95, 0.31]])
    assert table.covering(beyond) is table
    assert table.at(beyond).accepted.tolist() == [0.0, 0.0, 0.0]


def test_nodes_of_the_grid_are_where_their_weights_are() -> None:
    grid = SunGrid(2.5)
    nodes = np.array([100, 777, 1501])
    found, weights = grid.weights(grid.suns(nodes))
    assert found[np.arange(3), np.argmax(weights, axis=1)].tolist() == nodes.tolist()
    turned = grid.suns(grid.mirrored(nodes))
    assert turned == pytest.approx(grid.suns(nodes) * [-1, 1, 1])


def test_a_step_that_cannot_be_is_refused() -> None:
    with pytest.raises(BadInputError, match="step"):
        optics_table(MIRROR, Errors(), WINDOW, MOTION, step_deg=40)


def test_cubic_meets_its_nodes_parabolas_and_ends() -> None:
    at = np.linspace(-2, 2, 9)
    values = 0.9 - 0.1 * at**2
    assert cubic(values, at, at) == pytest.approx(values)
    inside = np.array([-1.3, 0.1, 0.77])
    assert cubic(values, at, inside) == pytest.approx(0.9 - 0.1 * inside**2)
    assert cubic(values, at, np.array([-2.1, 2.01])).tolist() == [0, 0]


def test_beside_the_best_pose_the_table_holds_against_the_cone_way() -> None:
    suns, _, _ = year(1.3, 30)
    table = table_for(suns)
    offsets = offset_table(
        table,
        suns,
        slide_offsets_m=window_offsets(WINDOW.width_m, reach=0.6),
        roll_offsets_deg=np.degrees(window_offsets(WINDOW.height_m, reach=0.6) / MOTION.arm_m),
    )
    generator = np.random.default_rng(4)
    slide, roll = generator.uniform(-0.1, 0.1, len(suns)), generator.uniform(-4, 4, len(suns))
    beside = offsets.at(suns, slide_offset_m=slide, roll_offset_deg=roll)
    frames = window_frames(MOTION, beside.slide_m, beside.roll_deg)
    exact = cone_shares(surface_points(MIRROR, Errors()), Errors(), WINDOW, suns, frames)
    assert np.abs(beside.accepted - exact.accepted).max() < 0.03
    assert beside.accepted.sum() == pytest.approx(exact.accepted.sum(), rel=0.005)
    with pytest.raises(ComputationError, match="offsets"):
        offset_table(
            table,
            suns[:1],
            slide_offsets_m=offsets.slide_offsets_m,
            roll_offsets_deg=offsets.roll_offsets_deg,
        ).at(suns, slide_offset_m=slide, roll_offset_deg=roll)


def test_a_held_roll_costs_little_on_an_east_west_line_and_a_held_slide_a_lot() -> None:
    suns, cosine, days = year(0.5, 1)
    free = float(table_for(suns).at(suns).accepted @ cosine)
    shares = []
    held = replace(MOTION, roll_mode="held")
    table = table_for(suns, held)
    for hold_days in (1, 3, 7, 30):
        result = held_optics(table, suns, weights=cosine, days=days, hold_days=hold_days)
        shares.append(float(result.optics.accepted @ cosine) / free)
    assert 0.98 < shares[0] <= 1.0
    assert shares[2] > 0.96
    assert shares[0] >= shares[1] >= shares[2] >= shares[3]
    # the hours' answers against the cone way at the very same poses
    frames = window_frames(held, result.optics.slide_m, result.optics.roll_deg)
    exact = cone_shares(surface_points(MIRROR, Errors()), Errors(), WINDOW, suns, frames).accepted @ cosine
    assert result.optics.accepted @ cosine == pytest.approx(exact, rel=0.005)
    slide = replace(MOTION, slide_mode="held")
    stuck = held_optics(table_for(suns, slide), suns, weights=cosine, days=days).optics
    assert float(stuck.accepted @ cosine) / free < 0.3


def test_within_a_block_the_setting_is_one_and_no_other_is_better() -> None:
    suns, cosine, days = year(0.5, 1)
    early = days < 21
    suns, cosine, days = suns[early], cosine[early], days[early]
    held = replace(MOTION, roll_mode="held", hold_days=7)
    result = held_optics(table_for(suns, held), suns, weights=cosine, days=days)
    assert result.roll_deg.shape == (3,)
    assert result.optics.roll_deg == pytest.approx(result.roll_deg[result.block])
    points = surface_points(MIRROR, Errors())
    first = result.block == 1

    def brought(roll: float) -> float:
        frames = window_frames(held, result.optics.slide_m[first], np.full(first.sum(), roll))
        return float(cone_shares(points, Errors(), WINDOW, suns[first], frames).accepted @ cosine[first])

    best = brought(float(result.roll_deg[1]))
    assert all(brought(float(result.roll_deg[1]) + off) < best * 1.002 for off in (-1.5, -0.5, 0.5, 1.5))


def test_with_nothing_held_and_with_both_held() -> None:
    suns, cosine, days = year(1.0, 5)
    free = table_for(suns)
    assert held_optics(free, suns, weights=cosine, days=days).optics.accepted == pytest.approx(
        free.at(suns).accepted
    )
    both = replace(MOTION, roll_mode="held", slide_mode="held", hold_days=30)
    result = held_optics(table_for(suns, both), suns, weights=cosine, days=days)
    assert 0 < result.optics.accepted @ cosine < free.at(suns).accepted @ cosine
    assert np.unique(result.optics.slide_m[result.block == 2].round(6)).size == 1


def test_held_settings_refuse_what_does_not_fit() -> None:
    suns, cosine, days = year(1.0, 60)
    table = table_for(suns)
    with pytest.raises(BadInputError, match="as many suns"):
        held_optics(table, suns, weights=cosine[1:], days=days)
    with pytest.raises(BadInputError, match="at least 1 day"):
        held_optics(table, suns, weights=cosine, days=days, hold_days=0)
