"""The pipe as beam and shaft: the drive's torque and force, travel, and how many mirrors one drive carries."""

import numpy as np
import pytest

from studio.engine.motion.beam import (
    Carried,
    FrameLoad,
    Tube,
    lean_of_arm_deg,
    most_mirrors,
    sag_of,
    slide_force_n,
    stiffness_left,
    travel_of,
    twist_of,
)
from studio.engine.motion.growth import LightBeside, loss_of_rolls
from studio.errors import BadInputError

PIPE = Tube(outside_m=0.0269, wall_m=0.0026)


def test_weight_turns_most_where_the_arm_lies_flattest() -> None:
    frame = FrameLoad(friction_nm=2.0, mass_kg=10.0, arm_m=1.2, upright_deg=36.0)
    assert frame.weight_nm(np.array([-36.0])) == pytest.approx(0.0, abs=1e-9)
    assert frame.weight_nm(np.array([54.0])) == pytest.approx(10 * 9.80665 * 1.2)
    assert frame.most_nm((-29, 29)) == pytest.approx(2 + 117.6798 * np.sin(np.radians(65)), rel=1e-6)
    # past the horizontal it falls again, and the worst lies inside the limits
    assert frame.most_nm((-29, 80)) == pytest.approx(2 + 117.6798, rel=1e-3)
    balanced = FrameLoad(2.0, 10.0, 1.2, upright_deg=36.0, balance_kg_m=12.0)
    assert balanced.most_nm((-29, 29)) == pytest.approx(2.0)


def test_a_grade_takes_gravity_out_of_the_roll() -> None:
    steep = FrameLoad(0.0, 10.0, 1.0, grade_percent=100.0)
    assert steep.weight_nm(np.array([90.0])) == pytest.approx(10 * 9.80665 / np.sqrt(2))


def test_the_lean_of_an_arm_is_right_handed_about_the_line() -> None:
    # facing south at 36 degrees, line to the east: the arm leans south, a right-handed turn about east by + 36
    south = (0.0, -np.sin(np.radians(36)), np.cos(np.radians(36)))
    assert lean_of_arm_deg(arm_east_north_up=south, along=(1, 0, 0)) == pytest.approx(36.0)
    assert lean_of_arm_deg(arm_east_north_up=south, along=(-1, 0, 0)) == pytest.approx(-36.0)


def test_twist_gathers_towards_the_drive() -> None:
    places = 0.6 + 2.7 * np.arange(6)
    torques = np.array([3.0, 4.0, 3.0, 5.0, 3.0, 3.0])
    twist = twist_of(PIPE, places, torques)
    assert twist.torque_nm == pytest.approx(21.0)
    # every torque twists all that lies between it and the drive
    alone = sum(
        np.degrees(t * np.minimum(places, at) / PIPE.twisting_n_m2)
        for t, at in zip(torques, places, strict=True)
    )
    assert twist.by_frame_deg == pytest.approx(alone)
    assert twist.centred_deg[0] == pytest.approx(-twist.centred_deg[-1])


def test_hot_steel_twists_and_sags_more() -> None:
    hot = Tube(0.0269, 0.0026, pipe_c=300.0)
    torques = np.ones(3)
    places = np.array([1.0, 2.0, 3.0])
    ratio = twist_of(hot, places, torques).by_frame_deg / twist_of(PIPE, places, torques).by_frame_deg
    assert ratio == pytest.approx(np.full(3, 1 / 0.8))
    assert sag_of(hot, 50.0, span_m=3).hinged_m == pytest.approx(sag_of(PIPE, 50.0, span_m=3).hinged_m / 0.8)
    with pytest.raises(BadInputError, match="up to 400"):
        stiffness_left(500.0)


def test_a_run_on_pipe_sags_between_the_bounds_of_one_span() -> None:
    carried = Carried(oil_kg_m=0.3, insulation_kg_m=1.5, receiver_kg=4.0, spacing_m=1.35)
    load = 9.80665 * (PIPE.mass_kg_m + carried.mass_kg_m)
    sag = sag_of(PIPE, load, span_m=2.7, spans=7, overhang_m=(0.8, 0.8))
    assert sag.fixed_m < sag.deepest_m < sag.hinged_m
    print(
        f"DN 20 at 2.7 m: hinged {1000 * sag.hinged_m:.1f} mm, fixed {1000 * sag.fixed_m:.1f} mm, "
        f"run on {1000 * sag.deepest_m:.1f} mm, leans {sag.steepest_deg:.2f} deg"
    )


def test_a_load_on_one_of_two_spans_sags_it_and_lifts_the_other() -> None:
    """0.0092 w l^4/(E I) (AISC Steel Construction Manual, table 3-23, case 29; from memory)."""
    sag = sag_of(PIPE, [40.0, 0.0], span_m=3.0, spans=2)
    assert sag.deepest_m * PIPE.bending_n_m2 / (40.0 * 3.0**4) == pytest.approx(0.0092, abs=5e-5)
    both = sag_of(PIPE, 40.0, span_m=3.0, spans=2)
    assert both.deepest_m * PIPE.bending_n_m2 / (40.0 * 3.0**4) == pytest.approx(
        0.0054, abs=5e-5
    )  # case 8 of two
    assert both == sag_of(PIPE, [40.0, 40.0], span_m=3.0, spans=2)


@pytest.mark.parametrize("seed", range(4))
def test_spans_under_unlike_loads_against_beam_elements(seed: int) -> None:
    """Stiffness method with two-node beam elements and consistent loads (Przemieniecki, Theory of Matrix Structural Analysis,
    ch. 5), overhangs as further elements: exact at its nodes."""
    draw = np.random.default_rng(seed)
    span, loads, beyond = 2.7, draw.uniform(0, 60, 5), float(draw.uniform(0, 60))
    overhang = float(draw.uniform(0.2, 1.2)), float(draw.uniform(0.2, 1.2))
    sag = sag_of(PIPE, loads, span_m=span, spans=5, overhang_m=overhang, overhang_n_m=beyond)
    per = 60
    lengths = np.concatenate([[overhang[0]], np.full(5 * per, span / per), [overhang[1]]])
    each = np.concatenate([[beyond], np.repeat(loads, per), [beyond]])
    size = 2 * (len(lengths) + 1)
    stiffness, forces = np.zeros((size, size)), np.zeros(size)
    for place, (a, w) in enumerate(zip(lengths, each, strict=True)):
        at = slice(2 * place, 2 * place + 4)
        stiffness[at, at] += PIPE.bending_n_m2 / a**3 * np.array([
            [12, 6 * a, -12, 6 * a], [6 * a, 4 * a**2, -6 * a, 2 * a**2],
            [-12, -6 * a, 12, -6 * a], [6 * a, 2 * a**2, -6 * a, 4 * a**2],
        ])  # fmt: skip
        forces[at] -= w * np.array([a / 2, a**2 / 12, a / 2, -(a**2) / 12])
    free = np.setdiff1d(np.arange(size), 2 * (1 + per * np.arange(6)))
    moved = np.zeros(size)
    moved[free] = np.linalg.solve(stiffness[np.ix_(free, free)], forces[free])
    up, slope = moved[::2], moved[1::2]
    assert sag.deepest_m == pytest.approx(max(0.0, -up[1:-1].min()), rel=1e-3)
    assert sag.ends_m == pytest.approx((-up[0], -up[-1]), rel=1e-6)
    assert sag.steepest_deg == pytest.approx(np.degrees(np.abs(slope).max()), rel=1e-3)
    assert sag.fixed_m == pytest.approx(loads.max() * span**4 / (384 * PIPE.bending_n_m2))


def test_force_on_level_and_on_a_grade() -> None:
    assert slide_force_n(mass_kg=100, rolling=0.05) == pytest.approx(49.03325)
    assert slide_force_n(mass_kg=100, rolling=0.0, grade_percent=-100) == pytest.approx(980.665 / np.sqrt(2))
    both = slide_force_n(mass_kg=100, rolling=0.05, grade_percent=5)
    assert both == pytest.approx(980.665 * (0.05 + 0.05) / np.hypot(1, 0.05))


def test_travel_counts_the_way_to_rest_but_not_its_speed() -> None:
    poses = np.array([[0.0, -1.0, 0.0, 1.0], [0.0, -0.5, 0.5, 0.0]])
    works = np.array([[False, True, True, True], [False, True, True, False]])
    travel = travel_of(poses, works, step_h=0.25)
    assert travel.total == pytest.approx(1 + 1 + 1 + 1 + 0.5 + 1 + 0.5)
    assert travel.widest == 2.0
    assert travel.per_day == 3.0
    assert travel.fastest_per_h == pytest.approx(4.0)
    assert travel_of(poses, np.zeros_like(works), step_h=0.25).fastest_per_h == 0.0


def twist_at(count: int) -> float:
    """Worst twist left over count mirrors, two to a frame, when the drive leads by half."""
    frames = (count + 1) // 2
    torque = FrameLoad(1.0, 6.0, 0.1).most_nm((-29, 29))
    return float(
        np.abs(twist_of(PIPE, 2.7 * np.arange(1, frames + 1), np.full(frames, torque)).centred_deg).max()
    )


@pytest.mark.parametrize("limit", [0.0, 0.3, 1.0, 5.0, 1e9])
def test_bisection_finds_the_count_that_trying_all_finds(limit: float) -> None:
    within = [count for count in range(1, 61) if twist_at(count) <= limit]
    assert most_mirrors(twist_at, limit=limit, most=60) == max(within, default=0)


def test_the_count_for_a_loss_of_light() -> None:
    rolls = np.linspace(-20, 20, 81)
    light = LightBeside(np.zeros(1), rolls, np.exp(-0.5 * (rolls / 4) ** 2)[None, :])

    def loss_at(count: int) -> float:
        frames = (count + 1) // 2
        return loss_of_rolls(
            light, twist_of(PIPE, 2.7 * np.arange(1, frames + 1), np.full(frames, 2.0)).centred_deg
        )

    most = most_mirrors(loss_at, limit=0.01)
    assert loss_at(most) <= 0.01 < loss_at(most + 1)
    assert 4 < most < 60


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(BadInputError, match="wall above 0"):
        Tube(0.02, 0.012)
    with pytest.raises(BadInputError, match="in order from the drive"):
        twist_of(PIPE, np.array([2.0, 1.0]), np.ones(2))
    with pytest.raises(BadInputError, match="at least 1 span"):
        sag_of(PIPE, 10.0, span_m=0.0)
    for loads in ([10.0, 10.0], [10.0, -1.0, 10.0]):
        with pytest.raises(BadInputError, match="at least 1 span"):
            sag_of(PIPE, loads, span_m=2.0, spans=3)
