"""Forms: what is refused, and the surface by its own definition."""

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
    ],
)
def test_a_form_that_cannot_be_is_refused(
    arguments: tuple[Surface, float, float, float, int], says: str
) -> None:
    with pytest.raises(BadInputError, match=says):
        MirrorForm(*arguments)


def test_errors_and_windows_that_cannot_be_are_refused() -> None:
    with pytest.raises(BadInputError, match="must not be below 0"):
        Errors(slope_mrad=-1)
    with pytest.raises(BadInputError, match="one of them above"):
        Errors(0, 0, 0)
    with pytest.raises(BadInputError, match="acceptance"):
        Window(0.2, 0.2, 120)


@pytest.mark.parametrize("surface", ["paraboloid", "sphere"])
def test_ribs_lie_on_the_surface_and_rulings_are_straight(surface: Surface) -> None:
    form = MirrorForm(surface, 1.25, 1.44, 1.3, 11)
    y = np.linspace(-0.7, 0.7, 5)
    left, _ = strip_points(form, 4, 0.0, y)
    right, _ = strip_points(form, 4, 1.0, y)
    middle, _ = strip_points(form, 4, 0.5, y)
    assert left[:, 2] == pytest.approx(rib_depth(form, form.rib_x_m[4], y))
    assert middle == pytest.approx((left + right) / 2)


@pytest.mark.parametrize("surface", ["paraboloid", "sphere"])
def test_normals_are_square_to_the_film(surface: Surface) -> None:
    form = MirrorForm(surface, 1.25, 1.44, 1.3, 7, tension_ratio=0.25)
    step = 1e-6
    here, normal = strip_points(form, 1, 0.3, 0.4)
    for share, y in ((0.3 + step, 0.4), (0.3, 0.4 + step)):
        beside, _ = strip_points(form, 1, share, y)
        assert abs((beside - here) @ normal) < 1e-10


@pytest.mark.parametrize("surface", ["paraboloid", "sphere"])
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
