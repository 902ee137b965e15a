"""The mirror's form and light against published formulas, traced on the engine's own surfaces."""

from collections.abc import Callable
from itertools import pairwise
from math import asin, cos, degrees, erf, exp, log, pi, radians, sin, sqrt, tan

import numpy as np
import pytest
from scipy.integrate import dblquad, quad

from studio.engine.mirror.cone import Blur, WindowFrames, cone_shares, landings, rectangle_share
from studio.engine.mirror.flux import Plane, concentration_limit, flux_picture
from studio.engine.mirror.form import (
    Errors,
    Floats,
    MirrorForm,
    Window,
    edge_depth,
    rib_arc_lengths,
    rib_depth,
    strip_points,
)
from studio.engine.mirror.points import Points, surface_points
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


def fine_sphere(x: float) -> MirrorForm:
    """A sphere of R = 2 m with a rib at ``x`` and strips so narrow that they are the sphere."""
    return MirrorForm("sphere", 2.2 * x, 0.02, 1.0, 22_001)


def reflected_at(form: MirrorForm, x: float, y: float = 0.0, sun: Floats = ON_AXIS) -> tuple[Floats, Floats]:
    """Start and unit direction of the ray that leaves the film at the rib nearest to x."""
    rib = round((x / form.width_m + 0.5) * (form.ribs - 1))
    # mean of the normals either side of the rib: that of the surface itself
    sides = [strip_points(form, rib - 1, 1.0, y), strip_points(form, rib, 0.0, y)]
    normal = np.asarray(sides[0][1] + sides[1][1])
    normal /= np.linalg.norm(normal)
    return sides[0][0], 2 * (normal @ sun) * normal - sun


@pytest.mark.parametrize(
    ("angle", "crossing"), [(10, 0.507713), (20, 0.532089), (30, 0.577350), (45, 0.707107), (60, 1.0)]
)
def test_a_spheres_ray_crosses_the_axis_where_the_law_of_reflection_says(
    angle: float, crossing: float
) -> None:
    """R/(2 cos t) from the centre: law of reflection, textbook."""
    radius = 2.0
    x = radius * sin(radians(angle))
    start, ray = reflected_at(fine_sphere(x), x)
    z = start[2] - start[0] * ray[2] / ray[0]
    assert (radius - z) / radius == pytest.approx(crossing, abs=1e-6)
    assert crossing == pytest.approx(1 / (2 * cos(radians(angle))), abs=1e-6)


@pytest.mark.parametrize(
    ("height", "miss"), [(0.1, 0.00051149), (0.2, 0.00439220), (0.3, 0.0168515), (0.5, 0.133975)]
)
def test_a_spheres_transverse_miss_at_half_the_radius(height: float, miss: float) -> None:
    """Exact reflection; third order h3/(2 R3): Born & Wolf, Principles of Optics, spherical aberration."""
    radius = 2.0
    start, ray = reflected_at(fine_sphere(radius * height), radius * height)
    at_plane = start[0] + ray[0] / ray[2] * (radius / 2 - start[2])
    assert abs(at_plane) / radius == pytest.approx(miss, abs=1e-6)


@pytest.mark.parametrize(
    ("incidence", "near", "far"),
    [(10, 0.49240, 0.50771), (20, 0.46985, 0.53209), (30, 0.43301, 0.57735), (45, 0.35355, 0.70711)],
)
def test_a_small_patch_of_sphere_has_coddingtons_two_foci(incidence: float, near: float, far: float) -> None:
    """(R/2) cos i and (R/2)/cos i: Coddington's equations, as in Born & Wolf, Principles of Optics."""
    patch = MirrorForm("sphere", 0.01, 0.01, 1.0, 401)
    radius = 2 * patch.focal_m
    sun = np.array([sin(radians(incidence)), 0.0, cos(radians(incidence))])
    chief = np.array([-sun[0], 0.0, sun[2]])

    def focus(axis: Floats, x: float, y: float) -> float:
        """Where the ray from x, y comes back to the chief ray, seen along ``axis``."""
        start, ray = reflected_at(patch, x, y, sun)
        return float(-(start @ axis) / (ray @ axis) * (ray @ chief) + start @ chief)

    sagittal = focus(np.array([0.0, 1.0, 0.0]), 0.0, 0.004)
    across = np.cross(chief, [0.0, 1.0, 0.0])
    # coma moves the two sides of the patch apart, evenly about the focus
    tangential = (focus(across, 0.004, 0.0) + focus(across, -0.004, 0.0)) / 2
    assert sagittal / radius == pytest.approx(far, abs=1e-5)
    assert tangential / radius == pytest.approx(near, abs=1e-5)


@pytest.mark.parametrize(("rim", "ratio"), [(30, 0.93301), (45, 0.60355), (60, 0.43301), (90, 0.25)])
def test_a_paraboloids_rim_angle_follows_from_focal_length_over_diameter(rim: float, ratio: float) -> None:
    """f/D = 1/(4 tan(r/2)): geometry of the parabola, Duffie & Beckman, Solar Engineering, ch. 7."""
    diameter = 1.0
    form = MirrorForm("paraboloid", diameter, diameter, ratio * diameter, 3)
    depth = float(rib_depth(form, diameter / 2, 0.0))
    found = degrees(np.arctan2(diameter / 2, form.focal_m - depth))
    assert found == pytest.approx(rim, abs=1e-3)


def test_every_ray_along_the_axis_of_a_paraboloid_passes_its_focus() -> None:
    """Definition of the parabola; the ribs' own points are on it."""
    form = MirrorForm("paraboloid", 1.2, 1.2, 0.8, 2001)
    for x in (-0.5, -0.2, 0.1, 0.55):
        start, ray = reflected_at(form, x)
        way = (form.focal_m - start[2]) / ray[2]
        assert abs(start[0] + way * ray[0]) < 1e-6


def test_the_suns_image_is_9_3_mm_per_metre_of_focal_length() -> None:
    """2 f tan(4.65 mrad), Rabl, Active Solar Collectors and their Applications (1985); traced with a disc of a sun."""
    form = MirrorForm("paraboloid", 0.02, 0.02, 2.0, 3)
    hits = ray_hits(
        form,
        Errors(2.325, 0.0, 0.0),
        Window(1.0, 1.0, 90),
        sun=ON_AXIS,
        centre=np.array([0.0, 0.0, 2.0]),
        along=np.array([1.0, 0.0, 0.0]),
        forward=ON_AXIS,
        rays=40_000,
        generator=np.random.default_rng(1),
    )
    across_y = float(np.max(hits.v_m) - np.min(hits.v_m))
    assert across_y / form.focal_m == pytest.approx(2 * tan(4.65e-3), rel=0.01)
    # RMS per axis of a uniform disc is half its radius; strips widen x, so y is held
    assert float(np.std(hits.v_m)) / form.focal_m == pytest.approx(2.325e-3, rel=0.01)


def test_no_spot_is_brighter_than_the_concentration_limit_of_the_suns_disc() -> None:
    """1/sin2(4.65 mrad) = 46 248, Winston, Minano & Benitez, Nonimaging Optics; perfect film, window of one square mm."""
    limit = 1 / sin(4.65e-3) ** 2
    assert limit == pytest.approx(46_248, rel=1e-3)
    form = MirrorForm("paraboloid", 1.4, 1.4, 0.6, 1501)
    hits = ray_hits(
        form,
        Errors(2.325, 0.0, 0.0),
        Window(1e-3, 1e-3, 90),
        sun=ON_AXIS,
        centre=np.array([0.0, 0.0, form.focal_m]),
        along=np.array([1.0, 0.0, 0.0]),
        forward=ON_AXIS,
        rays=400_000,
        generator=np.random.default_rng(2),
    )
    share = float(np.mean(hits.inside))
    concentration = share * form.aperture_m2 / 1e-6
    assert concentration < limit
    # sin2(r)/sin2(s) on a flat absorber about the focus, square rim: between the circles inside and around it
    inner, outer = np.arctan2(0.7, 0.6 - 0.7**2 / 2.4), np.arctan2(0.7 * sqrt(2), 0.6 - 2 * 0.7**2 / 2.4)
    assert sin(inner) ** 2 * limit * 0.9 < concentration < sin(outer) ** 2 * limit * 1.02


@pytest.mark.parametrize(("half_side", "inside"), [(1, 0.46606), (2, 0.91107), (3, 0.99461)])
def test_a_gaussian_spot_in_a_square_of_so_many_sigma(half_side: float, inside: float) -> None:
    """Product of two normal distributions; Abramowitz & Stegun table 26.1."""
    one = np.ones((1, 1))
    share = rectangle_share(
        0 * one, 0 * one, Blur(one, one, 0 * one, one), half_width=half_side, half_height=half_side
    )
    assert share[0, 0] == pytest.approx(inside, abs=1e-5)


def test_sun_scatter_and_slope_add_in_squares_and_slope_counts_twice() -> None:
    """sqrt(2.5^2 + 3^2 + 10^2) = 10.735 mrad: Bendt, Rabl, Gaul & Reed, SERI/TR-34-092 (1979)."""
    errors = Errors(2.5, 3.0, 5.0)
    assert errors.blur_mrad == pytest.approx(10.735, abs=1e-3)
    hits = ray_hits(
        MirrorForm("paraboloid", 0.01, 0.01, 1.0, 5),
        errors,
        Window(1.0, 1.0, 90),
        sun=ON_AXIS,
        centre=ON_AXIS,
        along=np.array([1.0, 0.0, 0.0]),
        forward=ON_AXIS,
        rays=100_000,
        generator=np.random.default_rng(3),
        sunshape="gaussian",
    )
    assert 1e3 * float(np.std(hits.v_m)) == pytest.approx(10.735, rel=0.01)


def test_flat_strips_have_the_slope_error_of_their_width() -> None:
    """b/(R sqrt 12) = 18.04 mrad and 31.25 mrad at the edge for b 0.25 m on R 4 m: mean square of a uniform spread."""
    form = MirrorForm("paraboloid", 2.0, 0.01, 2.0, 9)
    points = surface_points(form, Errors(), fineness=8)
    slope_x = -points.normal[:, 0] / points.normal[:, 2]
    off = slope_x - points.position[:, 0] / (2 * form.focal_m)
    rms = sqrt(float(np.average(np.square(off), weights=points.area)))
    assert 1e3 * rms == pytest.approx(18.04, rel=5e-3)
    left = strip_points(form, 3, 0.0, 0.0)[1]
    assert abs(-left[0] - form.rib_x_m[3] / 4.0) == pytest.approx(0.03125, rel=1e-6)


def test_arcs_and_depths_of_ribs() -> None:
    """Parabola f 2.5 m, half width 1.25 m: arc 2.52580, depth 0.15625; chord 2.5 m on R 5 m: 2.52680, 0.15877."""
    parabola = MirrorForm("paraboloid", 0.5, 2.5, 2.5, 3)
    assert rib_arc_lengths(parabola) == pytest.approx([2.52580] * 3, abs=1e-5)
    assert float(rib_depth(parabola, 0.0, 1.25)) == pytest.approx(0.15625, abs=1e-9)
    circle = MirrorForm("sphere", 0.5, 2.5, 2.5, 3)
    assert rib_arc_lengths(circle)[1] == pytest.approx(2 * 5 * asin(2.5 / 10), abs=1e-9)
    assert rib_arc_lengths(circle)[1] == pytest.approx(2.52680, abs=1e-5)
    assert float(rib_depth(circle, 0.0, 1.25)) == pytest.approx(0.15877, abs=1e-5)
    assert edge_depth(parabola) == pytest.approx((0.25**2 + 1.25**2) / 10)


def test_a_flat_absorber_at_the_focus_needs_the_size_that_the_rim_angle_says() -> None:
    """Half width f-rim distance x sin s/cos(r + s) catches the whole disc: Duffie & Beckman ch. 7, Rabl 1976."""
    form = MirrorForm("paraboloid", 1.0, 0.01, 0.8, 4001)
    rim = np.arctan2(0.5, 0.8 - 0.25 / 3.2)
    distance = 0.5 / sin(rim)
    half = distance * sin(4.65e-3) / cos(rim + 4.65e-3)

    def caught(window_half: float) -> float:
        hits = ray_hits(
            form,
            Errors(2.325, 0.0, 0.0),
            Window(2 * window_half, 1.0, 90),
            sun=ON_AXIS,
            centre=np.array([0.0, 0.0, 0.8]),
            along=np.array([1.0, 0.0, 0.0]),
            forward=ON_AXIS,
            rays=60_000,
            generator=np.random.default_rng(4),
        )
        return float(np.mean(hits.inside))

    assert caught(half * 1.03) == 1.0
    assert 0.97 < caught(half * 0.9) < 1.0


def test_the_cone_ways_spot_of_a_tiny_mirror_is_the_formulas_gaussian() -> None:
    """Peak P/(2 pi sigma2), and 0.39347 of the light within one sigma's circle's square: normal distribution."""
    form = MirrorForm("paraboloid", 0.001, 0.001, 1.0, 2)
    errors = Errors(2.5, 3.0, 5.0)
    frames = WindowFrames(ON_AXIS[None], np.array([1.0, 0.0, 0.0]), ON_AXIS[None])
    tiny = 1e-4
    points: Points = surface_points(form, errors)
    share = cone_shares(points, errors, Window(tiny, tiny, 90), ON_AXIS[None], frames).into_window[0]
    sigma = errors.blur_mrad * 1e-3
    assert share / tiny**2 == pytest.approx(1 / (2 * pi * sigma**2), rel=5e-3)
    assert np.allclose(landings(points, ON_AXIS[None], frames).reach, 1.0, atol=1e-5)


def test_film_as_tight_along_as_across_slopes_31_mrad_the_wrong_way_at_the_ribs() -> None:
    """T1/R1 + T2/R2 = 0 (Young-Laplace, no pressure): T1 = T2, R1 4 m, strip 0.25 m: 0.125/4 = 31.25 mrad."""
    tight = MirrorForm("paraboloid", 2.0, 1.0, 2.0, 9, tension_ratio=1.0)
    slack = MirrorForm("paraboloid", 2.0, 1.0, 2.0, 9)
    for share, extra in ((0.0, 0.03125), (0.5, 0.0), (1.0, -0.03125)):
        slopes = [-strip_points(form, 5, share, 0.2)[1][0] for form in (tight, slack)]
        assert slopes[0] - slopes[1] == pytest.approx(extra, abs=1e-9)
    # sag of a parabola: b2/(8 R2), towards the sun
    humps = [strip_points(form, 5, 0.5, 0.2)[0][2] for form in (tight, slack)]
    assert humps[0] - humps[1] == pytest.approx(0.25**2 / 32)


@pytest.mark.parametrize("angle", [8, 20, 35, 50])
def test_a_spheres_neighbouring_rays_meet_on_the_nephroid(angle: float) -> None:
    """Caustic of the circle for parallel light: x = R sin3 t, z = R/2 cos t (3 - 2 cos2 t) from the centre, the nephroid;

    Lockwood, A Book of Curves (1961), ch. 7."""
    radius, t = 2.0, radians(angle)
    form = fine_sphere(radius * sin(t))
    (here, ray), (beside, other) = (
        reflected_at(form, radius * sin(t) + off) for off in (-form.width_m / 4000, form.width_m / 4000)
    )
    ways = np.linalg.solve(np.stack([ray, -other], axis=1)[[0, 2]], (beside - here)[[0, 2]])
    meet = here + ways[0] * ray
    # the nephroid from the sphere's centre, z towards the mirror
    assert meet[0] / radius == pytest.approx(sin(t) ** 3, abs=5e-5)
    assert (radius - meet[2]) / radius == pytest.approx(cos(t) * (3 - 2 * cos(t) ** 2) / 2, abs=5e-5)


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
