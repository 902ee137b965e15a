"""The cone way against the ray way, a library's bivariate normal, and itself on more points."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from studio.engine.mirror.cone import Blur, WindowFrames, blurs, cone_shares, landings, rectangle_share
from studio.engine.mirror.form import Errors, Floats, MirrorForm, Surface, Window
from studio.engine.mirror.normal import normal_below, quick_below
from studio.engine.mirror.points import surface_points
from studio.engine.mirror.rays import ray_hits, ray_shares
from studio.engine.motion.pose import LineMotion, best_poses, window_frames

MIRROR = MirrorForm("paraboloid", 1.25, 1.44, 1.3, 11)
WINDOW = Window(0.20, 0.175, 55)
MOTION = LineMotion((1, 0, 0), 0.95 * 1.3, -1.1, 1.1, -29, 29)


def suns_at(a_deg: Floats, b_deg: Floats) -> Floats:
    a, b = np.radians(np.broadcast_arrays(a_deg, b_deg))
    return np.stack([np.cos(b) * np.sin(a), np.sin(b), np.cos(b) * np.cos(a)], axis=-1)


def test_the_normal_distributions_against_a_library() -> None:
    x = np.linspace(-9, 9, 4001)
    assert np.abs(normal_below(x, np.exp(-0.5 * x * x)) - norm.cdf(x)).max() < 7.5e-8
    assert np.abs(quick_below(x) - norm.cdf(x)).max() < 2e-4


@pytest.mark.parametrize("correlation", [-0.6, -0.3, 0.0, 0.2, 0.45, 0.6])
def test_the_share_in_a_rectangle_against_a_librarys_bivariate_normal(correlation: float) -> None:
    worst = 0.0
    for u, v, sigma_u, sigma_v in (
        (0, 0, 0.5, 1.5),
        (1, 0.5, 0.7, 0.4),
        (-0.9, 1.2, 1, 1),
        (0.2, -2, 2, 0.9),
    ):
        blur = Blur(*(np.full((1, 1), x) for x in (sigma_u, sigma_v, correlation, 1.0)))
        share = rectangle_share(
            np.full((1, 1), u), np.full((1, 1), v), blur, half_width=1.0, half_height=0.8, orders=24
        )
        covariance = correlation * sigma_u * sigma_v
        library = multivariate_normal([u, v], [[sigma_u**2, covariance], [covariance, sigma_v**2]])
        exact = library.cdf([1.0, 0.8], lower_limit=[-1.0, -0.8])
        worst = max(worst, abs(float(share[0, 0]) - float(exact)))
    assert worst < 2e-5


def test_three_terms_of_the_series_do_for_a_years_suns() -> None:
    a, b = (grid.ravel() for grid in np.meshgrid([0.0, 15, 30, 45, 60], [-23.45, 0, 23.45]))
    suns = suns_at(a, b)
    poses = best_poses(MIRROR, Errors(), WINDOW, MOTION, suns)
    landing = landings(
        surface_points(MIRROR, Errors()), suns, window_frames(MOTION, poses.slide_m, poses.roll_deg)
    )
    blur = blurs(landing, Errors())
    into = [
        np.sum(
            landing.light
            * rectangle_share(landing.u, landing.v, blur, half_width=0.1, half_height=0.0875, orders=orders),
            axis=1,
        )
        / landing.total
        for orders in (0, 3, 40)
    ]
    assert np.abs(into[1] - into[2]).max() < 2e-5
    # and they are needed
    assert np.abs(into[0] - into[2]).max() > 1e-4


def random_case(generator: np.random.Generator) -> tuple[MirrorForm, Errors, Window, LineMotion, Floats]:
    kinds: tuple[Surface, Surface] = ("paraboloid", "sphere")
    focal = generator.uniform(0.9, 2.0)
    width, height = generator.uniform(0.8, 1.6, 2)
    form = MirrorForm(
        kinds[generator.integers(2)],
        width,
        height,
        focal,
        int(generator.integers(5, 20)),
        tension_ratio=generator.uniform(0, 0.4),
    )
    errors = Errors(2.325, generator.uniform(0, 3), generator.uniform(2, 8))
    window = Window(generator.uniform(0.1, 0.3), generator.uniform(0.1, 0.3), generator.uniform(35, 80))
    turn = generator.uniform(0, 2 * np.pi)
    along = (np.cos(turn), np.sin(turn), generator.uniform(-0.2, 0.2))
    motion = LineMotion(
        along,
        focal * generator.uniform(0.85, 1.0),
        -1.5,
        1.5,
        -60,
        60,
        axis_offset_m=(0.0, generator.uniform(-0.1, 0.1), generator.uniform(-0.05, 0.1)),
    )
    return form, errors, window, motion, suns_at(generator.uniform(-45, 45, 1), generator.uniform(-30, 30, 1))


def test_cone_and_rays_agree_on_thirty_random_mirrors(capsys: pytest.CaptureFixture[str]) -> None:
    generator = np.random.default_rng(20)
    differences, signed = [], []
    for _ in range(30):
        form, errors, window, motion, suns = random_case(generator)
        poses = best_poses(form, errors, window, motion, suns)
        # a little off its best, so that slopes show too
        frames = window_frames(motion, poses.slide_m + generator.uniform(-0.05, 0.05, 1), poses.roll_deg)
        cone = cone_shares(surface_points(form, errors), errors, window, suns, frames)
        rays = ray_shares(
            ray_hits(
                form,
                errors,
                window,
                sun=suns[0],
                centre=frames.centre[0],
                along=frames.along,
                forward=frames.forward[0],
                rays=200_000,
                generator=generator,
            )
        )
        for ours, theirs, error in (
            (cone.into_window[0], rays.into_window, rays.into_window_error),
            (cone.accepted[0], rays.accepted, rays.accepted_error),
        ):
            assert abs(ours - theirs) < 0.005 + 2 * error
            differences.append(abs(ours - theirs))
            signed.append(ours - theirs)
    with capsys.disabled():
        print(
            f"\ncone against rays, 30 mirrors: worst {max(differences):.4f}, "
            f"median {np.median(differences):.4f}, mean {np.mean(signed):+.5f}"
        )
    assert max(differences) < 0.006
    assert np.median(differences) < 0.0015
    assert abs(np.mean(signed)) < 0.001


@pytest.mark.parametrize("ribs", [4, 6, 11, 21])
def test_more_points_change_nothing(ribs: int) -> None:
    form = MirrorForm("paraboloid", 1.25, 1.44, 1.3, ribs)
    errors = Errors()
    a, b = (grid.ravel() for grid in np.meshgrid([0.0, 15, 30, 40], [-23.45, -8, 0, 15]))
    suns = suns_at(a, b)
    poses = best_poses(form, errors, WINDOW, MOTION, suns)
    frames = window_frames(MOTION, poses.slide_m, poses.roll_deg)
    values = [
        cone_shares(surface_points(form, errors, fineness=fine), errors, WINDOW, suns, frames).into_window
        for fine in (1.0, 2.0, 4.0)
    ]
    assert np.abs(values[1] - values[2]).max() < 0.002
    assert np.abs(values[0] - values[2]).max() < 0.006
    assert abs(values[0].mean() / values[2].mean() - 1) < 0.001


def test_more_ribs_bring_the_strips_to_the_ideal_surface() -> None:
    sun = suns_at(np.zeros(1), np.zeros(1))
    frames = WindowFrames(np.array([[0.0, 0.0, 1.3]]), np.array([1.0, 0.0, 0.0]), np.array([[0.0, 0.0, 1.0]]))
    narrow = Window(0.08, 0.08, 90)
    shares = [
        float(cone_shares(surface_points(form, Errors()), Errors(), narrow, sun, frames).into_window[0])
        for form in (MirrorForm("paraboloid", 1.25, 1.44, 1.3, ribs) for ribs in (6, 11, 21, 41, 81))
    ]
    assert all(fewer < more for fewer, more in pairwise(shares))
    # the error falls with the square of the strip's width
    assert shares[4] - shares[3] < 0.5 * (shares[3] - shares[2])


def test_no_light_from_behind_and_none_with_the_sun_behind() -> None:
    points = surface_points(MIRROR, Errors())
    suns = np.array([[0.0, 0.0, 1.0], [0.0, 0.0, -1.0], [1.0, 0.0, 0.0]])
    along = np.array([1.0, 0.0, 0.0])
    facing = WindowFrames(np.tile([0.0, 0.0, 1.3], (3, 1)), along, np.tile([0.0, 0.0, 1.0], (3, 1)))
    away = WindowFrames(facing.centre, along, -facing.forward)
    assert cone_shares(points, Errors(), WINDOW, suns, facing).into_window.tolist()[1:] == [0.0, 0.0]
    assert cone_shares(points, Errors(), WINDOW, suns, facing).into_window[0] > 0.9
    assert cone_shares(points, Errors(), WINDOW, suns, away).into_window.tolist() == [0.0, 0.0, 0.0]


def test_a_wider_window_takes_in_more_and_acceptance_only_takes_off() -> None:
    points = surface_points(MIRROR, Errors())
    suns = suns_at(np.array([0.0, 20, 35]), np.array([10.0, 10, 10]))
    poses = best_poses(MIRROR, Errors(), WINDOW, MOTION, suns)
    frames = window_frames(MOTION, poses.slide_m, poses.roll_deg)
    narrow = cone_shares(points, Errors(), WINDOW, suns, frames)
    wide = cone_shares(points, Errors(), Window(0.3, 0.3, 30), suns, frames)
    assert np.all(wide.into_window > narrow.into_window)
    assert np.all(wide.accepted < wide.into_window)
    everything = cone_shares(points, Errors(), Window(20.0, 20.0, 90), suns, frames)
    assert everything.accepted == pytest.approx(np.ones(3), abs=1e-3)


def test_low_suns_lose_what_the_mirrors_own_rim_shades_alike_both_ways() -> None:
    deep = MirrorForm("paraboloid", 1.6, 1.6, 0.6, 17)
    suns = suns_at(np.array([62.0]), np.array([0.0]))
    huge = Window(8.0, 8.0, 90)
    frames = WindowFrames(
        np.array([[-0.5, 0.0, 0.3]]), np.array([0.0, 1.0, 0.0]), np.array([[-0.8, 0.0, 0.6]])
    )
    cone = cone_shares(surface_points(deep, Errors(), fineness=3), Errors(), huge, suns, frames)
    hits = ray_hits(
        deep,
        Errors(),
        huge,
        sun=suns[0],
        centre=frames.centre[0],
        along=frames.along,
        forward=frames.forward[0],
        rays=100_000,
        generator=np.random.default_rng(6),
    )
    shaded = float(np.mean(hits.weight == 0))
    assert shaded > 0.1
    landing = landings(surface_points(deep, Errors(), fineness=3), suns, frames)
    assert landing.total[0] == pytest.approx(float(np.mean(hits.weight)) * deep.aperture_m2, rel=0.01)
    assert cone.into_window[0] == pytest.approx(ray_shares(hits).into_window, abs=0.01)


def test_over_a_years_suns_the_cone_way_has_no_bias() -> None:
    generator = np.random.default_rng(8)
    suns = suns_at(generator.uniform(-40, 40, 40), 23.45 * np.sin(2 * np.pi * generator.random(40)))
    poses = best_poses(MIRROR, Errors(), WINDOW, MOTION, suns)
    frames = window_frames(MOTION, poses.slide_m, poses.roll_deg)
    runs = [
        ray_shares(
            ray_hits(
                MIRROR,
                Errors(),
                WINDOW,
                sun=sun,
                centre=centre,
                along=frames.along,
                forward=forward,
                rays=100_000,
                generator=generator,
            )
        )
        for sun, centre, forward in zip(suns, frames.centre, frames.forward, strict=True)
    ]
    traced = float(suns[:, 2] @ [run.accepted for run in runs])
    error = float(np.sqrt(np.square(suns[:, 2]) @ np.square([run.accepted_error for run in runs]))) / traced
    assert error < 0.0006
    assert abs(float(suns[:, 2] @ poses.accepted) / traced - 1) < 0.001 + 2 * error
