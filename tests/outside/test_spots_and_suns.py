"""Spots and suns against published values: peaks, Gaussians through windows, limb and aureole. Sources beside each check."""

from collections.abc import Callable
from itertools import pairwise
from math import cos, erf, exp, log, pi, sqrt

import numpy as np
import pytest
from scipy.integrate import dblquad, quad

from studio.engine.mirror.cone import Blur, rectangle_share
from studio.engine.mirror.flux import Plane, concentration_limit, flux_picture
from studio.engine.mirror.form import (
    Errors,
    MirrorForm,
    Window,
)
from studio.engine.mirror.rays import RayHits, ray_hits
from studio.engine.mirror.sunshape import (
    AUREOLE_MRAD,
    DISC_MRAD,
    LIMB,
    SunShape,
    aureole_exponent,
    sample_sun,
)

ON_AXIS = np.array([0.0, 0.0, 1.0])


def perfect_dish(half: float, focal: float, sunshape: SunShape, *, rays: int = 400_000) -> RayHits:
    """A paraboloid of strips so narrow that they are the paraboloid, without scatter and slope, facing the sun."""
    return ray_hits(
        MirrorForm("paraboloid", 2 * half, 2 * half, focal, 3001),
        Errors(2.325, 0.0, 0.0),
        Window(0.1, 0.1, 90),
        sun=ON_AXIS,
        centre=focal * ON_AXIS,
        along=np.array([1.0, 0.0, 0.0]),
        forward=ON_AXIS,
        rays=rays,
        generator=np.random.default_rng(11),
        sunshape=sunshape,
    )


@pytest.mark.parametrize("sunshape", ["disc", "limb"])
def test_the_peak_of_a_perfect_dish_is_the_suns_brightness_over_what_its_focus_sees(
    sunshape: SunShape,
) -> None:
    """From the focus the whole film shines as bright as the middle of the sun; flux is brightness times projected solid

    angle, and never above 1/sin2(4.65 mrad) of an even disc: Winston, Minano & Benitez, Nonimaging Optics (2005), ch. 1."""
    half, focal = 0.7, 0.6
    form = MirrorForm("paraboloid", 2 * half, 2 * half, focal, 3001)
    hits = perfect_dish(half, focal, sunshape)
    plane = Plane(focal * ON_AXIS, np.array([1.0, 0.0, 0.0]), ON_AXIS, 0.012, 0.012, 24, 24)
    picture = flux_picture(form, hits, plane, dni_w_m2=1000, reflectance=1)

    def seen(y: float, x: float) -> float:
        """Projected solid angle of a bit of aperture: cos/distance2, distance f + (x2 + y2)/(4 f) to the focus."""
        rise = (x * x + y * y) / (4 * focal)
        return (focal - rise) / (focal + rise) ** 3

    share = 4 * dblquad(seen, 0, half, 0, half)[0] / pi
    assert picture.peak_concentration < concentration_limit(sunshape)
    apart = picture.peak_concentration - share * concentration_limit(sunshape)
    assert abs(apart) < 3 * picture.peak_error_kw_m2 < 0.08 * picture.peak_concentration
    assert picture.peak_area_m2 == pytest.approx(0.0005**2)
    assert concentration_limit() == pytest.approx(46_248, rel=1e-4)


def point_mirror_spot() -> RayHits:
    """A mirror so small that its spot is the blur alone: Gaussian, 10.735 mrad per axis at 1 m."""
    return ray_hits(
        MirrorForm("paraboloid", 0.001, 0.001, 1.0, 2),
        Errors(2.5, 3.0, 5.0),
        Window(1.0, 1.0, 90),
        sun=ON_AXIS,
        centre=ON_AXIS,
        along=np.array([1.0, 0.0, 0.0]),
        forward=ON_AXIS,
        rays=200_000,
        generator=np.random.default_rng(12),
        sunshape="gaussian",
    )


@pytest.mark.parametrize("sigmas", [0.5, 1.0, 2.0, 3.0])
def test_a_gaussian_through_a_round_window_both_ways(sigmas: float) -> None:
    """1 - exp(-r2/(2 s2)), 0.39347, 0.86466 and 0.98889 for 1, 2 and 3 sigma: Rayleigh's distribution, normal distribution."""
    expected = 1 - exp(-(sigmas**2) / 2)
    hits = point_mirror_spot()
    sigma = 10.735e-3
    traced = float(np.mean(np.hypot(hits.u_m, hits.v_m) < sigmas * sigma))
    assert traced == pytest.approx(expected, abs=0.004)
    # the round window as slices of the cone way's rectangles
    one, edges = np.ones((1, 1)), np.linspace(-sigmas, sigmas, 401)
    slices = sum(
        float(
            rectangle_share(
                -(low + high) / 2 * one,
                0 * one,
                Blur(one, one, 0 * one, one),
                half_width=(high - low) / 2,
                half_height=sqrt(sigmas**2 - ((low + high) / 2) ** 2),
            )[0, 0]
        )
        for low, high in pairwise(edges)
    )
    assert slices == pytest.approx(expected, abs=2e-4)


@pytest.mark.parametrize(
    ("off_u", "off_v", "half_width", "half_height"), [(0, 0, 1, 2), (0.7, -0.4, 1.2, 0.6)]
)
def test_a_gaussian_through_a_rectangle_both_ways(
    off_u: float, off_v: float, half_width: float, half_height: float
) -> None:
    """Product of (erf b - erf a)/2 on both axes: normal distribution."""

    def side(off: float, half: float) -> float:
        return (erf((half - off) / sqrt(2)) - erf((-half - off) / sqrt(2))) / 2

    expected = side(off_u, half_width) * side(off_v, half_height)
    one = np.ones((1, 1))
    share = rectangle_share(
        off_u * one,
        off_v * one,
        Blur(one, one, 0 * one, one),
        half_width=half_width,
        half_height=half_height,
    )
    assert share[0, 0] == pytest.approx(expected, abs=1e-6)
    sigma = 10.735e-3
    plane = Plane(
        ON_AXIS - sigma * np.array([off_u, off_v, 0.0]),
        np.array([1.0, 0.0, 0.0]),
        ON_AXIS,
        2 * half_width * sigma,
        2 * half_height * sigma,
        8,
        8,
    )
    form = MirrorForm("paraboloid", 0.001, 0.001, 1.0, 2)
    picture = flux_picture(form, point_mirror_spot(), plane, dni_w_m2=1000, reflectance=1)
    assert picture.in_picture_kw / picture.landed_kw == pytest.approx(expected, abs=0.004)


def rms_mrad(brightness: Callable[[float], float], low: float, high: float) -> float:
    """RMS per axis of a round sun of ``brightness`` over the angle in mrad."""
    whole = quad(lambda t: t * brightness(t), low, high)[0]
    return sqrt(quad(lambda t: t**3 * brightness(t), low, high)[0] / whole / 2)


def sampled_rms_mrad(shape: SunShape, share: float) -> float:
    angles = sample_sun(
        shape,
        sun_mrad=DISC_MRAD / 2,
        circumsolar_share=share,
        rays=400_000,
        generator=np.random.default_rng(13),
    )
    return 1e3 * sqrt(float(np.mean(np.square(angles))))


def test_the_limb_darkened_suns_rms_lies_among_published_profiles() -> None:
    """Profiles from memory: 1 - 0.5138 (t/4.65)^4, Negi, Bhowmik, Mathur & Kandpal, Solar Energy 36 (1986) 293;

    cos(0.326 t)/cos(0.308 t), Buie, Monger & Dey, Solar Energy 74 (2003) 113; all wavelengths together
    1 - u - v + u m + v m2 with u 0.84, v -0.20, m cosine at the sun's surface, Allen, Astrophysical Quantities (1973)."""
    sampled = sampled_rms_mrad("limb", 0.0)
    assert sampled == pytest.approx(DISC_MRAD * sqrt((1 / 4 - LIMB / 8) / (1 / 2 - LIMB / 6) / 2), rel=0.003)
    assert sampled == pytest.approx(2.2016, rel=0.003)
    measured = rms_mrad(lambda t: cos(0.326 * t) / cos(0.308 * t), 0, DISC_MRAD)

    def astronomers(t: float) -> float:
        m = sqrt(1 - (t / DISC_MRAD) ** 2)
        return 1 - 0.84 + 0.20 + 0.84 * m - 0.20 * m * m

    assert sampled == pytest.approx(measured, rel=0.02)
    assert sampled == pytest.approx(rms_mrad(astronomers, 0, DISC_MRAD), rel=0.03)
    # and narrower than the even disc's 2.325
    assert sampled_rms_mrad("disc", 0.0) == pytest.approx(2.325, rel=0.003)


@pytest.mark.parametrize("share", [0.05, 0.1, 0.2])
def test_the_aureole_is_the_published_one(share: float) -> None:
    """Brightness e^k t^g beyond 4.65 mrad, k = 0.9 ln(13.5 c) c^-0.3, g = 2.2 ln(0.52 c) c^0.43 - 0.1, under a disc of

    cos(0.326 t)/cos(0.308 t): Buie, Monger & Dey, Solar Energy 74 (2003) 113; from memory. Its height gives back about its
    own share c; ours is c itself, and as wide."""
    height, power = exp(0.9 * log(13.5 * share) * share**-0.3), aureole_exponent(share)
    disc = quad(lambda t: t * cos(0.326 * t) / cos(0.308 * t), 0, DISC_MRAD)[0]
    aureole = quad(lambda t: height * t ** (power + 1), DISC_MRAD, AUREOLE_MRAD)[0]
    assert aureole / (disc + aureole) == pytest.approx(share, rel=0.3)
    outer = rms_mrad(lambda t: t**power, DISC_MRAD, AUREOLE_MRAD)
    both = sqrt((1 - share) * sampled_rms_mrad("limb", 0.0) ** 2 + share * outer**2)
    assert sampled_rms_mrad("limb", share) == pytest.approx(both, rel=0.01)
