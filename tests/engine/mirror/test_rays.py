"""The ray way by itself: seeds, errors of the mean, and what it refuses."""

import numpy as np
import pytest

from studio.engine.mirror.form import Errors, MirrorForm, Window, rib_depth
from studio.engine.mirror.rays import RayHits, ray_hits, ray_shares
from studio.engine.mirror.sunshape import SunShape
from studio.errors import BadInputError


def traced(
    seed: int, *, rays: int = 20_000, sunshape: SunShape = "disc", sun: tuple[float, float, float] = (0, 0, 1)
) -> RayHits:
    return ray_hits(
        MirrorForm("paraboloid", 1.25, 1.44, 1.3, 11),
        Errors(),
        Window(0.10, 0.08, 20),
        sun=np.array(sun, dtype=float),
        centre=np.array([0.0, 0.0, 1.3]),
        along=np.array([1.0, 0.0, 0.0]),
        forward=np.array([0.0, 0.0, 1.0]),
        rays=rays,
        generator=np.random.default_rng(seed),
        sunshape=sunshape,
    )


def test_the_same_seed_gives_the_same_rays_and_another_gives_others() -> None:
    assert np.array_equal(traced(1).inside, traced(1).inside)
    assert not np.array_equal(traced(1).inside, traced(2).inside)


def test_the_standard_error_is_the_scatter_of_many_runs() -> None:
    runs = [ray_shares(traced(seed, rays=4000)) for seed in range(60)]
    scatter = float(np.std([run.into_window for run in runs], ddof=1))
    assert scatter == pytest.approx(float(np.mean([run.into_window_error for run in runs])), rel=0.3)


def test_rays_start_on_the_film_and_accepted_ones_are_inside() -> None:
    hits = traced(3)
    ideal = rib_depth(MirrorForm("paraboloid", 1.25, 1.44, 1.3, 11), hits.start[:, 0], hits.start[:, 1])
    # chords lie over the curve, by b2/(16 f) at most
    over = hits.start[:, 2] - ideal
    assert over.min() > -1e-12
    assert over.max() <= 0.125**2 / (16 * 1.3) + 1e-12
    assert np.all(hits.inside[hits.accepted])
    assert 0 < np.sum(hits.accepted) < np.sum(hits.inside)
    assert np.linalg.norm(hits.reflected, axis=1) == pytest.approx(np.ones(len(hits.reflected)))


def test_disc_and_gaussian_sun_have_the_same_spread() -> None:
    disc, gaussian = (ray_shares(traced(4, rays=200_000, sunshape=shape)) for shape in ("disc", "gaussian"))
    assert disc.into_window == pytest.approx(gaussian.into_window, abs=0.004)


def test_a_sun_behind_the_mirror_is_refused() -> None:
    with pytest.raises(BadInputError, match="behind the mirror"):
        traced(1, sun=(0.0, 0.6, -0.8))
