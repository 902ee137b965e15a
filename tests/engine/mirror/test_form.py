"""Forms: what is refused, and the surface by its own definition."""

from dataclasses import replace

import numpy as np
import pytest

from studio.engine.mirror.form import (
    Errors,
    MirrorForm,
    Surface,
    Window,
    rib_arc_lengths,
    rib_depth,
    strip_points,
)
from studio.engine.mirror.points import point_counts, surface_points
from studio.errors import BadInputError

DEFAULT = MirrorForm("paraboloid", 1.25, 1.44, 1.3, 11)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("paraboloid", 0.0, 1.0, 1.0, 5), "above 0 m"),
        (("paraboloid", 1.0, 1.0, float("nan"), 5), "above 0 m"),
        (("paraboloid", 1.0, 1.0, 1.0, 1), "at least 2 ribs"),
        (("sphere", 3.0, 3.0, 1.0, 5), "ends at 2.000 m"),
        (("circles", 1.0, 4.0, 1.0, 5), "circle of focal length 1.000 m"),
    ],
)
def test_a_form_that_cannot_be_is_refused(
    arguments: tuple[Surface, float, float, float, int], says: str
) -> None:
    with pytest.raises(BadInputError, match=says):
        MirrorForm(*arguments)


def test_focal_lengths_pressures_and_rib_places_that_cannot_be_are_refused() -> None:
    with pytest.raises(BadInputError, match="A sphere has one focal length"):
        MirrorForm("sphere", 1, 1, 1, 5, focal_across_m=1.1)
    with pytest.raises(BadInputError, match="across the ribs must be above 0 m"):
        MirrorForm("paraboloid", 1, 1, 1, 5, focal_across_m=0.0)
    with pytest.raises(BadInputError, match="circle of focal length"):
        MirrorForm("circles", 2, 1, 1, 5, focal_across_m=0.4)
    with pytest.raises(BadInputError, match="must be a number"):
        MirrorForm("paraboloid", 1, 1, 1, 5, pressure_per_m=float("nan"))
    for places, says in (
        ((-0.5, 0.5), "2 places are given for 3 ribs"),
        ((-0.5, 0.5, 0.5), "must rise"),
        ((-0.5, float("nan"), 0.5), "must rise"),
        ((-0.5, 0.0, 0.49), "stand on the mirror's edges"),
    ):
        with pytest.raises(BadInputError, match=says):
            MirrorForm("paraboloid", 1, 1, 1, 3, rib_places_m=places)


def test_errors_and_windows_that_cannot_be_are_refused() -> None:
    with pytest.raises(BadInputError, match="must not be below 0"):
        Errors(slope_mrad=-1)
    with pytest.raises(BadInputError, match="one of them above"):
        Errors(0, 0, 0)
    with pytest.raises(BadInputError, match="acceptance"):
        Window(0.2, 0.2, 120)


@pytest.mark.parametrize("surface", ["paraboloid", "sphere", "circles"])
def test_ribs_lie_on_the_surface_and_rulings_are_straight(surface: Surface) -> None:
    form = MirrorForm(surface, 1.25, 1.44, 1.3, 11)
    y = np.linspace(-0.7, 0.7, 5)
    left, _ = strip_points(form, 4, 0.0, y)
    right, _ = strip_points(form, 4, 1.0, y)
    middle, _ = strip_points(form, 4, 0.5, y)
    assert left[:, 2] == pytest.approx(rib_depth(form, form.rib_x_m[4], y))
    assert middle == pytest.approx((left + right) / 2)


@pytest.mark.parametrize("surface", ["paraboloid", "sphere", "circles"])
def test_normals_are_square_to_the_film(surface: Surface) -> None:
    form = MirrorForm(surface, 1.25, 1.44, 1.3, 7, tension_ratio=0.25, pressure_per_m=0.1)
    step = 1e-6
    here, normal = strip_points(form, 1, 0.3, 0.4)
    for share, y in ((0.3 + step, 0.4), (0.3, 0.4 + step)):
        beside, _ = strip_points(form, 1, share, y)
        assert abs((beside - here) @ normal) < 1e-10


@pytest.mark.parametrize("surface", ["paraboloid", "sphere", "circles"])
def test_arc_lengths_are_those_of_a_fine_polygon(surface: Surface) -> None:
    form = MirrorForm(surface, 1.25, 1.44, 1.3, 5)
    y = np.linspace(-0.72, 0.72, 20_001)
    polygon = [np.sum(np.hypot(np.diff(y), np.diff(rib_depth(form, x, y)))) for x in form.rib_x_m]
    assert rib_arc_lengths(form) == pytest.approx(polygon, abs=1e-7)


def test_points_cover_the_film_and_never_sit_on_a_rib() -> None:
    points = surface_points(DEFAULT, Errors())
    assert 300 <= len(points) <= 600
    assert np.sum(points.area * points.normal[:, 2]) == pytest.approx(DEFAULT.aperture_m2)
    gap = np.abs(points.position[:, 0, None] - DEFAULT.rib_x_m).min()
    assert gap > 0.02 * DEFAULT.strip_width_m
    assert np.linalg.norm(points.normal, axis=1) == pytest.approx(np.ones(len(points)))


UNEVEN = MirrorForm(
    "paraboloid", 1.25, 1.44, 1.3, 5, rib_places_m=(-0.625, -0.4, -0.1, 0.35, 0.625), tension_ratio=0.2
)


def test_places_that_are_even_are_the_evenly_spaced_ribs() -> None:
    placed = replace(DEFAULT, rib_places_m=tuple(float(x) for x in DEFAULT.rib_x_m))
    ours, theirs = surface_points(placed, Errors()), surface_points(DEFAULT, Errors())
    assert ours.position == pytest.approx(theirs.position, abs=1e-12)
    assert ours.area == pytest.approx(theirs.area, abs=1e-12)


def test_uneven_strips_cover_the_film_and_wide_ones_get_more_points() -> None:
    points = surface_points(UNEVEN, Errors())
    assert np.sum(points.area * points.normal[:, 2]) == pytest.approx(UNEVEN.aperture_m2)
    assert UNEVEN.strip_width_m == pytest.approx(0.45)
    x = points.position[:, 0]
    for left, width in zip(UNEVEN.rib_x_m[:-1], UNEVEN.strip_widths_m, strict=True):
        own = (x > left) & (x < left + width)
        across = len(np.unique(np.round(x[own], 9)))
        # the rule itself: two sigma of the blur at the focus, images of a bulging strip apart by 1 + ratio
        assert 1.2 * width / across <= 2e-3 * Errors().blur_mrad * UNEVEN.focal_m
        assert np.sum((points.area * points.normal[:, 2])[own]) == pytest.approx(width * UNEVEN.height_m)


@pytest.mark.parametrize("surface", ["paraboloid", "circles"])
def test_two_focal_lengths_curve_the_vertex_by_one_over_twice_each(surface: Surface) -> None:
    form = MirrorForm(surface, 1.2, 1.4, 1.3, 7, focal_across_m=0.9)
    step = 1e-3
    assert 2 * float(rib_depth(form, step, 0.0)) / step**2 == pytest.approx(1 / 1.8, rel=1e-5)
    assert 2 * float(rib_depth(form, 0.0, step)) / step**2 == pytest.approx(1 / 2.6, rel=1e-5)


def test_circles_are_one_circle_set_out_along_another() -> None:
    form = MirrorForm("circles", 1.2, 1.4, 1.3, 7, focal_across_m=0.9)
    y = np.linspace(-0.7, 0.7, 9)
    for x in form.rib_x_m:
        rise = rib_depth(form, x, y) - rib_depth(form, x, 0.0)
        assert (2.6 - rise) ** 2 + y**2 == pytest.approx(np.full(9, 2.6**2))
    assert (1.8 - rib_depth(form, 0.6, 0.0)) ** 2 + 0.36 == pytest.approx(1.8**2)


def test_no_chord_of_a_surface_is_steeper_than_it_says() -> None:
    for form in (
        MirrorForm("paraboloid", 1.2, 1.4, 0.9, 7, focal_across_m=0.7),
        MirrorForm("sphere", 1.2, 1.4, 0.9, 7),
        MirrorForm("circles", 1.2, 1.4, 0.9, 7, focal_across_m=0.7),
    ):
        x, y = np.random.default_rng(1).uniform(-0.5, 0.5, (2, 2, 4000)) * [[[1.2]], [[1.4]]]
        z = rib_depth(form, x, y)
        chords = np.abs(z[0] - z[1]) / np.hypot(x[0] - x[1], y[0] - y[1])
        assert 0.7 * form.steepest < chords.max() < form.steepest


def test_pressure_that_makes_up_for_the_flat_strip_makes_the_cylinder_that_it_replaces() -> None:
    """Across y = 0 a strip pushed back by 1/(2 f) is the parabola itself."""
    pressed = replace(DEFAULT, ribs=5, pressure_per_m=1 / (2 * 1.3))
    share = np.linspace(0, 1, 11)
    position, normal = strip_points(pressed, 1, share, 0.0)
    assert position[:, 2] == pytest.approx(rib_depth(pressed, position[:, 0], 0.0))
    assert -normal[:, 0] == pytest.approx(position[:, 0] / 2.6)


def test_more_blur_needs_fewer_points_and_wider_strips_more() -> None:
    sharp, dull = Errors(slope_mrad=2), Errors(slope_mrad=8)
    assert point_counts(DEFAULT, sharp)[0] > point_counts(DEFAULT, dull)[0]
    wide = MirrorForm("paraboloid", 1.25, 1.44, 1.3, 6)
    across = point_counts(wide, Errors())[0]
    assert across > point_counts(DEFAULT, Errors())[0]
    # the rule itself: two sigma of the blur at the focus
    assert wide.strip_width_m / across <= 2e-3 * Errors().blur_mrad * wide.focal_m


def test_a_sun_without_other_blur_is_no_gaussian() -> None:
    assert Errors().gaussian_sun_serves
    assert not Errors(2.325, 1.0, 0.5).gaussian_sun_serves


def test_a_ratio_of_tensions_below_zero_is_refused() -> None:
    with pytest.raises(BadInputError, match="tensions"):
        MirrorForm("paraboloid", 1, 1, 1, 5, tension_ratio=-0.1)
