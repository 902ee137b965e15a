"""The mirror's form and light against published formulas, traced on the engine's own surfaces."""

from math import asin, cos, degrees, pi, radians, sin, sqrt, tan

import numpy as np
import pytest

from studio.engine.mirror.cone import Blur, WindowFrames, cone_shares, landings, rectangle_share
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
from studio.engine.mirror.rays import ray_hits

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
