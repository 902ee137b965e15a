"""The two ways of the mirror's light against each other on random mirrors: intercepts within 0.005, outright."""

import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np
import pytest

from studio.engine.mirror.cone import WindowFrames, acceptance, blurs, cone_shares, landings, rectangle_share
from studio.engine.mirror.form import Errors, Floats, MirrorForm, Surface, Window
from studio.engine.mirror.points import spot_points, surface_points
from studio.engine.mirror.rays import ray_hits, ray_shares
from studio.engine.mirror.sunshape import SunShape
from studio.engine.motion.pose import LineMotion, best_poses, window_frames

FULL = os.environ.get("STILLFIELD_FULL") == "1"
MIRRORS = 200 if FULL else 10
"""Of each of the two series."""
RAYS = 200_000
BOUND = 0.005
SHAPES: tuple[SunShape, ...] = ("gaussian", "disc")


@dataclass(frozen=True)
class Case:
    """One mirror, one sun, one place of its window."""

    form: MirrorForm
    errors: Errors
    window: Window
    sun: Floats
    frames: WindowFrames


def cases(seed: int, *, film: bool) -> Iterator[Case]:
    """Random mirrors without end; with ``film`` of every surface, with uneven ribs, bulging film, an acceptance,
    and receivers off their spots by the growth of the pipe.

    Every second has its window scaled so that 0.2 to 0.8 of the light enters.
    """
    generator = np.random.default_rng(seed)
    number = 0
    while True:
        number += 1
        form = random_form(generator, film=film)
        errors = Errors(2.325, generator.uniform(0, 3), generator.uniform(2, 10))
        focal = form.focal_m
        wide, high = focal * generator.uniform(0.06, 0.25, 2)
        window = Window(wide, high, generator.uniform(30, 80) if film else 90)
        turn = generator.uniform(0, 2 * np.pi)
        motion = LineMotion(
            (np.cos(turn), np.sin(turn), generator.uniform(-0.2, 0.2)),
            focal * generator.uniform(0.85, 1.0),
            -2.5 * focal,
            2.5 * focal,
            -80,
            80,
            axis_offset_m=(0.0, generator.uniform(-0.1, 0.1), generator.uniform(-0.05, 0.1)),
        )
        off, about = np.radians(generator.uniform(0, 60)), generator.uniform(0, 2 * np.pi)
        sun = np.array([[np.sin(off) * np.cos(about), np.sin(off) * np.sin(about), np.cos(off)]])
        poses = best_poses(form, errors, window, motion, sun)
        # off its best, so that slopes show too; with ``film`` as far as the growth of a long hot pipe takes it
        nudge = window.width_m * generator.uniform(-0.2, 0.2, 1) * (3 if film else 1)
        frames = window_frames(motion, poses.slide_m + nudge, poses.roll_deg)
        if number % 2 == 0:
            window = scaled_to(generator.uniform(0.2, 0.8), form, errors, window, sun, frames)
        yield Case(form, errors, window, sun[0], frames)


def random_form(generator: np.random.Generator, *, film: bool) -> MirrorForm:
    height = generator.uniform(0.8, 1.6)
    width = height * generator.uniform(0.7, 1.2)
    focal = height * generator.uniform(0.6, 1.5)
    ribs = int(generator.integers(5, 18))
    if not film:
        kinds: tuple[Surface, ...] = ("paraboloid", "sphere")
        return MirrorForm(kinds[generator.integers(2)], width, height, focal, ribs)
    surfaces: tuple[Surface, ...] = ("paraboloid", "sphere", "circles")
    surface = surfaces[generator.integers(3)]
    widths = generator.uniform(0.6, 1.4, ribs - 1)
    places = np.concatenate([[0.0], np.cumsum(widths)]) / np.sum(widths) - 0.5
    return MirrorForm(
        surface,
        width,
        height,
        focal,
        ribs,
        tension_ratio=generator.uniform(0, 0.5),
        focal_across_m=None if surface == "sphere" else focal * generator.uniform(0.9, 1.1),
        rib_places_m=tuple(float(place) for place in places * width),
        pressure_per_m=generator.uniform(-0.1, 0.3) / focal,
    )


def scaled_to(
    share: float, form: MirrorForm, errors: Errors, window: Window, sun: Floats, frames: WindowFrames
) -> Window:
    """``window`` made larger or smaller until ``share`` of the light enters it; as near as it comes."""
    points = surface_points(form, errors)
    low, high = 0.05, 20.0
    for _halving in range(12):
        scale = np.sqrt(low * high)
        trial = replace(window, width_m=window.width_m * scale, height_m=window.height_m * scale)
        enters = cone_shares(points, errors, trial, sun, frames).into_window[0]
        low, high = (scale, high) if enters < share else (low, scale)
    return trial


def differences(case: Case, shape: SunShape, generator: np.random.Generator) -> tuple[float, float, float]:
    """Cone way less ray way, into the window and accepted; and the ray way's standard error."""
    sun, frames = case.sun, case.frames
    points = spot_points(case.form, case.errors, sun=sun)
    cone = cone_shares(points, case.errors, case.window, sun[None], frames)
    rays = ray_shares(
        ray_hits(
            case.form,
            case.errors,
            case.window,
            sun=sun,
            centre=frames.centre[0],
            along=frames.along,
            forward=frames.forward[0],
            rays=RAYS,
            generator=generator,
            sunshape=shape,
        )
    )
    return (
        float(cone.into_window[0]) - rays.into_window,
        float(cone.accepted[0]) - rays.accepted,
        max(rays.into_window_error, rays.accepted_error),
    )


@pytest.mark.parametrize("film", [False, True], ids=["bare_form", "film_uneven_ribs_acceptance"])
def test_both_ways_agree(film: bool, capsys: pytest.CaptureFixture[str]) -> None:
    """Ray noise at 200,000 rays is some 0.001 of itself; the bound holds with it."""
    generator = np.random.default_rng(404)
    found = [
        (*differences(case, shape, generator), shape)
        for number, case in enumerate(islice(cases(2024 + film, film=film), MIRRORS))
        for shape in (SHAPES if FULL else SHAPES[number % 2 :][:1])
    ]
    worst = max(max(abs(into), abs(accepted)) for into, accepted, _error, _shape in found)
    with capsys.disabled():
        for shape in SHAPES:
            apart = np.array([row[:2] for row in found if row[3] == shape])
            print(
                f"\n{MIRRORS} mirrors, {'film' if film else 'bare'}, {shape} sun: into the window, accepted: "
                f"worst {np.abs(apart).max(axis=0).round(4)}, median {np.median(np.abs(apart), axis=0).round(4)}, "
                f"mean {apart.mean(axis=0).round(5)}"
            )
        print(f"largest standard error of the ray way {max(row[2] for row in found):.4f}")
    assert worst <= BOUND
    noise = float(np.linalg.norm([row[2] for row in found])) / len(found)
    for column in (0, 1):
        assert abs(float(np.mean([row[column] for row in found]))) < 0.0002 + 3 * noise


def test_acceptance_knows_where_on_a_small_window_the_rays_land() -> None:
    """A ray from a place on the film to a place on the window has one angle; a cone smeared by all of its blur, most of

    which misses the window, is off by more than the bound allows beside the rays' own noise."""
    case = next(islice(cases(2025, film=True), 17, None))
    points = spot_points(case.form, case.errors, sun=case.sun, fineness=2)
    cone = cone_shares(points, case.errors, case.window, case.sun[None], case.frames)
    hits = ray_hits(
        case.form,
        case.errors,
        case.window,
        sun=case.sun,
        centre=case.frames.centre[0],
        along=case.frames.along,
        forward=case.frames.forward[0],
        rays=500_000,
        generator=np.random.default_rng(9),
        sunshape="gaussian",
    )
    rays = ray_shares(hits)
    assert float(cone.accepted[0]) == pytest.approx(rays.accepted, abs=0.0015)
    landing = landings(points, case.sun[None], case.frames)
    blur = blurs(landing, case.errors)
    inside = landing.light * rectangle_share(
        landing.u,
        landing.v,
        blur,
        half_width=case.window.width_m / 2,
        half_height=case.window.height_m / 2,
    )
    smeared = np.sum(inside * acceptance(landing, blur, case.window.acceptance_deg)) / landing.total[0]
    assert abs(float(smeared) - rays.accepted) > 0.003


@pytest.mark.parametrize("film", [False, True], ids=["bare_form", "film_uneven_ribs_acceptance"])
def test_twice_as_many_points_move_the_spot_by_less_than_0_0005(film: bool) -> None:
    moved = []
    for case in islice(cases(2024 + film, film=film), MIRRORS):
        once, twice = (
            cone_shares(
                spot_points(case.form, case.errors, sun=case.sun, fineness=fineness),
                case.errors,
                case.window,
                case.sun[None],
                case.frames,
            )
            for fineness in (1.0, 2.0)
        )
        moved.append(abs(float(once.into_window[0] - twice.into_window[0])))
    assert max(moved) < 0.0005


def test_a_years_points_serve_a_mean_and_not_every_single_sun(capsys: pytest.CaptureFixture[str]) -> None:
    """What ``surface_points`` leaves: no bias, but single far suns off by more than the bound of the spot's own points."""
    apart = []
    for case in islice(cases(2024, film=False), 200 if FULL else 40):
        coarse, fine = (
            cone_shares(points, case.errors, case.window, case.sun[None], case.frames).into_window[0]
            for points in (
                surface_points(case.form, case.errors),
                spot_points(case.form, case.errors, sun=case.sun),
            )
        )
        apart.append(float(coarse - fine))
    with capsys.disabled():
        print(
            f"\na year's points against a spot's: worst {np.max(np.abs(apart)):.4f}, "
            f"median {np.median(np.abs(apart)):.5f}, mean {np.mean(apart):+.5f}"
        )
    assert abs(np.mean(apart)) < 0.0003
    assert np.max(np.abs(apart)) < 0.01
