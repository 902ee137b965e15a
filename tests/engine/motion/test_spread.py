"""Receivers beside their spots: the meaned table against poses moved one by one."""

import numpy as np
import pytest

from studio.engine.mirror.cone import cone_shares
from studio.engine.mirror.form import Errors, MirrorForm, Window
from studio.engine.mirror.points import surface_points
from studio.engine.motion.pose import LineMotion, window_frames
from studio.engine.motion.spread import Spread, spread_table
from studio.engine.motion.table import optics_table
from studio.errors import BadInputError

FORM = MirrorForm(surface="paraboloid", width_m=1.25, height_m=1.44, focal_m=1.3, ribs=9, tension_ratio=0.25)
ERRORS = Errors()
WINDOW = Window(width_m=0.2, height_m=0.175, acceptance_deg=55.0)
EAST = LineMotion(
    along=(1.0, 0.0, 0.0),
    arm_m=1.235,
    slide_min_m=-1.1,
    slide_max_m=1.1,
    roll_min_deg=-29.0,
    roll_max_deg=29.0,
)
SUNS = np.array([[0.0, 0.1, 1.0], [0.4, -0.2, 1.0]])
SUNS /= np.linalg.norm(SUNS, axis=1, keepdims=True)
TABLE = optics_table(FORM, ERRORS, WINDOW, EAST, suns=SUNS)


def moved(slide_m: float, roll_deg: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Accepted shares at the table's own nodes, the receiver moved from its best pose."""
    nodes = np.flatnonzero(TABLE.known)
    frames = window_frames(EAST, TABLE.slide_m[nodes] + slide_m, TABLE.roll_deg[nodes] + roll_deg)
    shares = cone_shares(surface_points(FORM, ERRORS), ERRORS, WINDOW, TABLE.grid.suns(nodes), frames)
    return shares.accepted


def test_on_their_spots_the_table_is_the_same_object() -> None:
    assert spread_table(TABLE, SUNS, Spread()) is TABLE
    assert Spread((0.0, 0.0)).none


def test_three_receivers_bring_the_mean_of_what_each_brings() -> None:
    offsets = (-0.06, 0.0, 0.05)
    meaned = spread_table(TABLE, SUNS, Spread(offsets))
    nodes = np.flatnonzero(TABLE.known)
    expected = np.mean([moved(offset, 0.0) for offset in offsets], axis=0)
    np.testing.assert_allclose(meaned.accepted[nodes], expected, atol=4e-3)
    assert np.all(meaned.accepted[nodes] < TABLE.accepted[nodes])
    np.testing.assert_array_equal(meaned.slide_m, TABLE.slide_m)


def test_aim_scattered_along_and_across_against_seeded_draws() -> None:
    spread = Spread(slide_rms_m=0.03, roll_rms_deg=1.5)
    meaned = spread_table(TABLE, SUNS, spread)
    nodes = np.flatnonzero(TABLE.known)
    draws = np.random.default_rng(8).normal(size=(300, 2)) * (spread.slide_rms_m, spread.roll_rms_deg)
    expected = np.mean([moved(slide, roll) for slide, roll in draws], axis=0)
    np.testing.assert_allclose(meaned.accepted[nodes], expected, atol=8e-3)


def test_many_receivers_are_gathered_without_a_change() -> None:
    offsets = np.linspace(-0.09, 0.09, 400)
    many = spread_table(TABLE, SUNS, Spread(tuple(offsets), slide_rms_m=0.01))
    few = spread_table(TABLE, SUNS, Spread(tuple(offsets.reshape(40, 10).mean(axis=1)), slide_rms_m=0.01))
    nodes = np.flatnonzero(TABLE.known)
    np.testing.assert_allclose(many.accepted[nodes], few.accepted[nodes], atol=5e-4)


def test_a_receiver_far_off_its_spot_takes_in_nothing() -> None:
    meaned = spread_table(TABLE, SUNS, Spread((0.0, 5.0)))
    nodes = np.flatnonzero(TABLE.known)
    np.testing.assert_allclose(meaned.accepted[nodes], TABLE.accepted[nodes] / 2, atol=1e-3)


def test_no_spread_below_zero() -> None:
    with pytest.raises(BadInputError, match="0 or more"):
        Spread(slide_rms_m=-0.1)
