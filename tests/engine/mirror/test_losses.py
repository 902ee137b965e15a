"""Fates of rays: what bodies they meet, by their own geometry, and shares that add up."""

import dataclasses

import numpy as np
import pytest

from studio.engine.mirror.blockers import Blocker, Box, Rod, meets, meets_neighbour, meets_own_film
from studio.engine.mirror.form import Errors, Floats, MirrorForm, Surface, Window, rib_depth
from studio.engine.mirror.losses import Fate, RaySummary, ray_fates, ray_summary
from studio.engine.mirror.rays import RayHits, ray_hits, ray_shares
from studio.errors import BadInputError

FORM = MirrorForm("paraboloid", 1.25, 1.44, 1.3, 11)
SQUARE = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
RECEIVER = Box("receiver", (0.0, 0.0, 1.4), SQUARE, (0.15, 0.12, 0.1))
PIPE = Rod("pipe", (-3.0, 0.0, 1.45), (3.0, 0.0, 1.45), 0.06)
ARM = Rod("arm", (0.0, 0.3, 0.0), (0.0, 0.1, 1.35), 0.02)
UP = np.array([0.0, 0.0, 1.0])


def traced(form: MirrorForm = FORM, *, sun: Floats = UP, rays: int = 40_000) -> RayHits:
    return ray_hits(
        form,
        Errors(),
        Window(0.20, 0.175, 40),
        sun=sun,
        centre=np.array([0.0, 0.0, 1.3]),
        along=np.array([1.0, 0.0, 0.0]),
        forward=UP,
        rays=rays,
        generator=np.random.default_rng(3),
    )


def total(summary: RaySummary) -> float:
    shares = dataclasses.asdict(summary)
    del shares["accepted_error"]
    assert all(share >= 0 for share in shares.values())
    return float(sum(shares.values()))


def test_a_box_and_a_rod_are_met_where_a_march_in_small_steps_meets_them() -> None:
    generator = np.random.default_rng(8)
    turn = np.linalg.qr(generator.standard_normal((3, 3)))[0]
    first, second, third = ((float(x), float(y), float(z)) for x, y, z in turn)
    box = Box("receiver", (0.1, -0.2, 0.5), (first, second, third), (0.5, 0.4, 0.3))
    rod = Rod("pipe", (-0.4, 0.1, 0.3), (0.5, 0.2, 0.8), 0.3)
    start = generator.uniform(-1, 1, (400, 3))
    way = generator.standard_normal((400, 3))
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    reach = generator.uniform(0.2, 3, 400)
    steps = np.linspace(0, 1, 3001)[:, None, None] * reach[:, None] * way + start
    off = (steps - box.centre_m) @ turn.T
    marched = np.any(np.all(np.abs(off) < box.half_m, axis=2), axis=0)
    assert np.mean(meets(box, start, way, reach) == marched) > 0.995
    axis = np.subtract(rod.end_m, rod.start_m)
    share = (steps - rod.start_m) @ axis / (axis @ axis)
    aside = np.linalg.norm(steps - rod.start_m - share[..., None] * axis, axis=2)
    marched_rod = np.any((share > 0) & (share < 1) & (aside < rod.radius_m), axis=0)
    assert np.mean(meets(rod, start, way, reach) == marched_rod) > 0.995
    assert 20 < marched.sum() < 380
    assert 20 < marched_rod.sum() < 380


@pytest.mark.parametrize("surface", ["paraboloid", "sphere", "circles"])
def test_a_neighbours_film_is_met_where_a_march_in_small_steps_meets_it(surface: Surface) -> None:
    form = MirrorForm(surface, 1.2, 1.4, 0.9, 11)
    generator = np.random.default_rng(9)
    start = np.column_stack([generator.uniform(-1, 3, (600, 2)), generator.uniform(-0.2, 1.0, 600)])
    way = generator.standard_normal((600, 3))
    way[:, 2] *= 0.3
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    reach = np.full(600, 2.5)
    steps = np.linspace(0, 1, 4001)[:, None, None] * reach[:, None] * way + start - (1.35, 0.0, 0.1)
    x, y = np.clip(steps[..., 0], -0.6, 0.6), np.clip(steps[..., 1], -0.7, 0.7)
    over = (np.abs(steps[..., 0]) < 0.6) & (np.abs(steps[..., 1]) < 0.7)
    above = np.where(over, np.sign(steps[..., 2] - rib_depth(form, x, y)), 0)
    marched = (above == 1).any(axis=0) & (above == -1).any(axis=0)
    found = meets_neighbour(form, (1.35, 0.0, 0.1), start, way, reach)
    assert np.mean(found == marched) > 0.99
    assert 20 < marched.sum() < 580


def test_light_that_leaves_a_deep_bowl_flat_meets_its_other_side() -> None:
    deep = MirrorForm("paraboloid", 1.6, 1.6, 0.6, 17)
    start = np.array([[0.5, 0.0, 0.5**2 / 2.4]] * 3)
    way = np.array([[-1.0, 0.0, 0.02], [-1.0, 0.0, 1.0], [-1.0, 0.0, 0.02]])
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    assert meets_own_film(deep, start, way, np.array([9.0, 9.0, 0.4])).tolist() == [True, False, False]


def test_shares_add_up_to_one_and_each_body_takes_some() -> None:
    sun = np.array([0.3, 0.2, 0.0])
    sun[2] = np.sqrt(1 - sun @ sun)
    hits = traced(sun=sun)
    gear: list[Blocker] = [RECEIVER, PIPE, ARM]
    summary = ray_summary(
        hits, ray_fates(FORM, hits, blockers=gear, neighbours_m=[(1.35, 0, 0), (-1.35, 0, 0)])
    )
    assert total(summary) == pytest.approx(1, abs=1e-12)
    for name in ("shaded_by_receiver", "shaded_by_pipe", "shaded_by_arm", "missed_window"):
        assert getattr(summary, name) > 0.0005, name


def test_with_nothing_in_the_way_the_summary_is_the_plain_shares() -> None:
    hits = traced()
    summary, shares = ray_summary(hits, ray_fates(FORM, hits)), ray_shares(hits)
    assert summary.accepted == pytest.approx(shares.accepted, abs=1e-12)
    assert summary.accepted_error == pytest.approx(shares.accepted_error, rel=1e-9)
    assert summary.accepted + summary.outside_acceptance == pytest.approx(shares.into_window, abs=1e-12)
    assert total(summary) == pytest.approx(1, abs=1e-12)


def test_a_receiver_on_the_axis_shades_its_own_outline() -> None:
    """Light along the axis: outline over aperture, geometry; the disc of the sun smears it by a few mm."""
    hits = traced(rays=400_000)
    summary = ray_summary(hits, ray_fates(FORM, hits, blockers=[RECEIVER]))
    assert summary.shaded_by_receiver == pytest.approx(0.3 * 0.24 / FORM.aperture_m2, rel=0.03)
    assert summary.stopped_by_receiver == 0.0
    pipe = ray_summary(hits, ray_fates(FORM, hits, blockers=[PIPE]))
    assert pipe.shaded_by_pipe == pytest.approx(0.12 * 1.25 / FORM.aperture_m2, rel=0.03)


def test_a_body_before_the_window_stops_light_and_one_behind_it_does_not() -> None:
    hits = traced()
    before = Rod("arm", (-1.0, 0.0, 1.0), (1.0, 0.0, 1.0), 0.05)
    behind = Rod("arm", (-1.0, 0.0, 1.5), (1.0, 0.0, 1.5), 0.05)
    assert ray_summary(hits, ray_fates(FORM, hits, blockers=[before])).stopped_by_arm > 0.1
    to_window = ray_fates(FORM, hits, blockers=[behind])[hits.inside]
    assert not np.any(to_window == Fate.STOPPED_BY_ARM)


def test_a_low_sun_puts_a_neighbour_in_the_way() -> None:
    sun = np.array([0.985, 0.0, 0.17])
    sun /= np.linalg.norm(sun)
    hits = traced(sun=sun)
    fates = ray_fates(FORM, hits, neighbours_m=[(1.3, 0.0, 0.3)])
    summary = ray_summary(hits, fates)
    assert summary.shaded_by_own_rim > 0.01
    assert summary.shaded_by_neighbour > 0.02
    assert (
        ray_summary(hits, ray_fates(FORM, hits, neighbours_m=[(-1.3, 0.0, 0.3)])).shaded_by_neighbour == 0.0
    )


def test_wind_that_presses_the_film_back_shades_nothing_by_itself() -> None:
    pressed = MirrorForm("paraboloid", 1.25, 1.44, 1.3, 5, pressure_per_m=2.0)
    assert pressed.sunk_m > 0.01
    hits = traced(pressed, sun=np.array([0.0, 0.5, np.sqrt(0.75)]))
    assert ray_summary(hits, ray_fates(pressed, hits)).shaded_by_own_rim == 0.0


def test_bodies_that_cannot_be_are_refused() -> None:
    with pytest.raises(BadInputError, match="square to each other"):
        Box("receiver", (0, 0, 0), ((1, 0, 0), (1, 0, 0), (0, 0, 1)), (1, 1, 1))
    with pytest.raises(BadInputError, match="more than 0 m"):
        Box("receiver", (0, 0, 0), SQUARE, (1, 0, 1))
    with pytest.raises(BadInputError, match="radius and a length"):
        Rod("pipe", (0, 0, 0), (0, 0, 0), 0.1)
    with pytest.raises(BadInputError, match="cannot stand where"):
        ray_fates(FORM, traced(rays=100), neighbours_m=[(0.0, 0.0, 0.0)])
