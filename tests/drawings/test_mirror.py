"""The mirror as it is drawn: rays against the parabola's own law, lengths against the form, shares against the cone way."""

from dataclasses import replace

import numpy as np
import pytest

from studio.design.design import Design
from studio.design.field import Line
from studio.design.mirror import Mirror
from studio.design.motion import Motion
from studio.design.receiver import Receiver
from studio.drawings.mirror import RAYS, MirrorDrawing, mirror_drawing
from studio.drawings.moment import Sun
from studio.study.mirror_day import mirror_line

LINE = Line(id=3, x_m=0.0, y_m=0.0, azimuth_deg=90.0, spacing_m=1.35, count=9)
DESIGN = Design(mirror=Mirror(tilt_deg=36.0, facing_deg=180.0), lines=(LINE,))


def sun_from(design: Design, toward: tuple[float, float, float]) -> Sun:
    """A sun that stands so in the mirror frame."""
    unit = np.array(toward) / np.linalg.norm(toward)
    site = unit @ mirror_line(design).axes
    return Sun(float(np.degrees(np.arcsin(site[2]))), 0.0, site, 12.0)


def drawn(design: Design = DESIGN, toward: tuple[float, float, float] = (0.1, -0.2, 1.0)) -> MirrorDrawing:
    return mirror_drawing(design, mirror_line(design), sun_from(design, toward))


def test_rays_along_the_axis_of_a_paraboloid_meet_in_its_focus() -> None:
    """The parabola's defining property; 60 ribs, so that strips are as good as none; the pipe far off the light."""
    tiny = Receiver(window_width_m=0.02, window_height_m=0.02, depth_m=0.01, back_insulation_mm=1.0)
    motion = Motion(arm_m=1.3, pipe_out_m=0.02, pipe_aside_m=-1.5)
    design = replace(
        DESIGN, mirror=replace(DESIGN.mirror, ribs=60, pull_along_n_m=0.0), receiver=tiny, motion=motion
    )
    drawing = drawn(design, (0.0, 0.0, 1.0))
    passing = [ray for ray in drawing.side.rays if ray.onward is not None]
    assert len(passing) >= RAYS - 1
    for ray in passing:
        assert ray.onward is not None
        assert ray.onward[1] == pytest.approx(drawing.side.focus, abs=1.5e-3)
        assert ray.reaches


def test_the_receiver_takes_the_ray_behind_it() -> None:
    drawing = drawn(DESIGN, (0.0, 0.0, 1.0))
    middle = drawing.side.rays[RAYS // 2]
    assert middle.onward is None
    assert middle.inward[1][1] > DESIGN.motion.arm_m - 1e-6
    assert not middle.reaches


def test_the_film_is_as_deep_as_a_parabola() -> None:
    """h2/(16 f), geometry of the parabola."""
    drawing = drawn()
    assert drawing.depth_m == pytest.approx(1.44**2 / (16 * 1.3), abs=1e-9)
    assert drawing.side.film[-1] == pytest.approx([0.72, drawing.depth_m], abs=2e-3)
    assert drawing.side.film[0][0] == pytest.approx(-0.72, abs=1e-9)


def test_rays_that_reach_end_on_the_window_and_the_others_do_not() -> None:
    drawing = drawn(DESIGN, (0.35, -0.45, 1.0))
    a, b = drawing.side.receiver.window
    kinds = set()
    for ray in drawing.side.rays:
        if ray.onward is None:
            continue
        kinds.add(ray.reaches)
        if ray.reaches:
            beside = np.linalg.norm(ray.onward[1] - a) + np.linalg.norm(ray.onward[1] - b)
            assert beside == pytest.approx(float(np.linalg.norm(b - a)), abs=1e-9)
    assert kinds == {True, False}


def test_the_window_swings_between_the_limits_at_the_arms_length() -> None:
    side = drawn().side
    away = side.swing - side.axis
    assert np.hypot(*away.T) == pytest.approx(DESIGN.motion.arm_m, abs=1e-9)
    turned = np.degrees(np.arctan2(away[:, 0], away[:, 1]))
    assert sorted(np.abs(turned[[0, -1]])) == pytest.approx([29.0, 29.0], abs=1e-6)
    assert np.linalg.norm(side.arm[1] - side.arm[0]) == pytest.approx(DESIGN.motion.arm_m, abs=1e-9)


def test_neighbours_stand_at_the_spacing_and_the_stroke_ends_where_it_does() -> None:
    drawing = drawn()
    middles = drawing.long.films[:, 48, 0]
    assert np.diff(middles) == pytest.approx([1.35, 1.35])
    assert np.ptp(drawing.long.stroke[:, 0]) == pytest.approx(2 * DESIGN.motion.stroke_m)
    own = drawing.long.receivers[drawing.long.own].window.mean(axis=0)
    assert own[0] == pytest.approx(drawing.slide_m, abs=1e-9)
    alone = drawn(replace(DESIGN, lines=(replace(LINE, count=1),)))
    assert len(alone.long.films) == 1
    pair = drawn(replace(DESIGN, lines=(replace(LINE, count=2),)))
    assert len(pair.long.films) == 2


def test_patches_of_the_film_weigh_up_to_the_intercept() -> None:
    for toward in ((0.1, -0.2, 1.0), (0.45, -0.3, 1.0)):
        drawing = drawn(DESIGN, toward)
        assert float(drawing.front.shares.mean()) == pytest.approx(drawing.accepted, abs=0.03)
        assert drawing.front.shares.shape[0] == DESIGN.mirror.ribs - 1


def test_ribs_stand_where_the_design_has_them() -> None:
    uneven = replace(DESIGN, mirror=replace(DESIGN.mirror, rib_places_m=(-0.2, 0.1, 0.15)))
    drawing = drawn(uneven)
    assert list(drawing.front.ribs_x_m) == pytest.approx([-0.625, -0.2, 0.1, 0.15, 0.625])
    assert len(drawing.front.shares) == 4


def test_without_sun_there_are_no_rays_and_the_receiver_rests() -> None:
    night = mirror_drawing(DESIGN, mirror_line(DESIGN), Sun(-20.0, 0.0, np.array([0.0, 0.9, -0.4]), 0.0))
    assert night.side.rays == ()
    assert night.long.rays == ()
    assert night.rests
    assert np.isnan(night.front.shares).all()
    assert (night.slide_m, night.roll_deg) == (DESIGN.motion.rest_slide_m, DESIGN.motion.rest_roll_deg)
    assert night.accepted == 0.0


def test_a_given_pose_is_drawn_and_takes_in_no_more_than_the_best_one() -> None:
    line, sun = mirror_line(DESIGN), sun_from(DESIGN, (0.1, -0.2, 1.0))
    best, off = mirror_drawing(DESIGN, line, sun), mirror_drawing(DESIGN, line, sun, pose=(0.0, 0.0))
    assert (off.slide_m, off.roll_deg) == (0.0, 0.0)
    assert off.accepted < best.accepted


@pytest.mark.parametrize("azimuth", [0.0, 45.0, 90.0, 200.0])
def test_a_line_that_runs_any_way_is_seen_square_to_itself(azimuth: float) -> None:
    design = replace(
        DESIGN, mirror=replace(DESIGN.mirror, tilt_deg=20.0), lines=(replace(LINE, azimuth_deg=azimuth),)
    )
    drawing = drawn(design)
    side = drawing.side
    line = mirror_line(design)
    along_axis = float((line.axes @ line.along)[2])
    seen = DESIGN.motion.arm_m * np.sqrt(
        1 - along_axis**2
    )  # an arm that leans along the line is foreshortened
    assert np.linalg.norm(side.arm[1] - side.arm[0]) == pytest.approx(seen, abs=1e-6)
    between = (drawing.aside_azimuth_deg - azimuth) % 180.0
    assert 50.0 < between < 130.0
    assert side.rays
