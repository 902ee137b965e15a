"""Samples of the sun: their own shares, and what is refused."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from studio.engine.mirror.form import Floats
from studio.engine.mirror.sunshape import (
    AUREOLE_MRAD,
    DISC_MRAD,
    LIMB,
    SunShape,
    aureole_exponent,
    sample_sun,
)
from studio.errors import BadInputError


def radii_mrad(shape: SunShape, share: float, *, sun_mrad: float = 2.325, rays: int = 400_000) -> Floats:
    generator = np.random.default_rng(5)
    angles = sample_sun(shape, sun_mrad=sun_mrad, circumsolar_share=share, rays=rays, generator=generator)
    return np.asarray(1e3 * np.hypot(*angles))


@pytest.mark.parametrize("shape", ["disc", "limb"])
def test_no_ray_comes_from_beyond_the_disc_without_an_aureole(shape: SunShape) -> None:
    radius = radii_mrad(shape, 0.0)
    assert radius.max() <= DISC_MRAD + 1e-9
    assert radius.max() > 0.998 * DISC_MRAD


def test_the_limb_darkened_disc_has_its_own_profile() -> None:
    """Counts per ring against the integral of the profile by a library's quadrature."""
    radius = radii_mrad("limb", 0.0) / DISC_MRAD
    edges = np.linspace(0, 1, 9)
    counted = np.histogram(radius, edges)[0] / len(radius)
    whole = quad(lambda t: t * (1 - LIMB * t**4), 0, 1)[0]
    rings = [quad(lambda t: t * (1 - LIMB * t**4), low, high)[0] / whole for low, high in pairwise(edges)]
    assert counted == pytest.approx(np.array(rings), abs=0.002)


@pytest.mark.parametrize("share", [0.02, 0.1, 0.3])
def test_the_aureole_holds_its_share_and_falls_as_its_power(share: float) -> None:
    radius = radii_mrad("limb", share)
    outside = radius[radius > DISC_MRAD]
    assert len(outside) / len(radius) == pytest.approx(share, abs=0.002)
    assert outside.max() <= AUREOLE_MRAD + 1e-9
    power = aureole_exponent(share)
    whole = quad(lambda t: t ** (power + 1), DISC_MRAD, AUREOLE_MRAD)[0]
    inner = quad(lambda t: t ** (power + 1), DISC_MRAD, 12.0)[0] / whole
    assert np.mean(outside < 12.0) == pytest.approx(inner, abs=0.015)


def test_a_sun_set_to_nothing_is_a_point_aureole_and_all() -> None:
    assert radii_mrad("limb", 0.1, sun_mrad=0.0, rays=100).max() == 0.0


def test_shares_that_cannot_be_are_refused() -> None:
    with pytest.raises(BadInputError, match="share must lie"):
        radii_mrad("disc", 0.9, rays=10)
    with pytest.raises(BadInputError, match="no edge"):
        radii_mrad("gaussian", 0.1, rays=10)
