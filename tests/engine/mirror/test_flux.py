"""Pictures of flux: power kept, peaks without the lift of noise, and planes elsewhere."""

import numpy as np
import pytest

from studio.engine.mirror.flux import Plane, flux_picture
from studio.engine.mirror.form import Errors, Floats, MirrorForm, Window
from studio.engine.mirror.losses import Fate, ray_fates
from studio.engine.mirror.rays import RayHits, ray_hits, ray_shares
from studio.errors import BadInputError

FORM = MirrorForm("paraboloid", 1.25, 1.44, 1.3, 11)
WINDOW = Window(0.20, 0.175, 40)
ALONG, UP = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
CENTRE = np.array([0.0, 0.0, 1.3])


def traced(rays: int, *, seed: int = 1, form: MirrorForm = FORM, errors: Errors | None = None) -> RayHits:
    return ray_hits(
        form,
        errors or Errors(),
        WINDOW,
        sun=UP,
        centre=CENTRE,
        along=ALONG,
        forward=UP,
        rays=rays,
        generator=np.random.default_rng(seed),
        sunshape="gaussian",
    )


def window_plane(columns: int = 40, rows: int = 35, *, centre: Floats = CENTRE) -> Plane:
    return Plane(centre, ALONG, UP, WINDOW.width_m, WINDOW.height_m, columns, rows)


def test_the_picture_on_the_window_holds_what_the_shares_say() -> None:
    hits = traced(60_000)
    picture = flux_picture(FORM, hits, window_plane(), dni_w_m2=900, reflectance=0.8)
    whole = 0.9 * 0.8 * FORM.aperture_m2
    assert picture.landed_kw == pytest.approx(whole, rel=0.002)
    assert picture.in_picture_kw == pytest.approx(whole * ray_shares(hits).into_window, rel=0.002)
    assert np.sum(picture.kw_m2) * picture.plane.cell_m2 == pytest.approx(picture.in_picture_kw)
    assert picture.mean_kw_m2 == pytest.approx(np.mean(picture.kw_m2))
    assert picture.mean_concentration == pytest.approx(1000 * picture.mean_kw_m2 / 900)


def test_the_told_noise_is_the_scatter_of_many_pictures() -> None:
    pictures = [
        flux_picture(FORM, traced(8000, seed=seed), window_plane(8, 7), dni_w_m2=1000, reflectance=1)
        for seed in range(40)
    ]
    scatter = np.std([picture.kw_m2 for picture in pictures], axis=0, ddof=1)
    told = np.mean([picture.noise_kw_m2 for picture in pictures], axis=0)
    assert np.mean(scatter) == pytest.approx(float(np.mean(told)), rel=0.1)


def test_few_rays_do_not_lift_the_peak() -> None:
    many = flux_picture(FORM, traced(1_000_000), window_plane(), dni_w_m2=1000, reflectance=1)
    few = [
        flux_picture(FORM, traced(20_000, seed=seed), window_plane(), dni_w_m2=1000, reflectance=1)
        for seed in range(20)
    ]
    peaks = [picture.peak_kw_m2 for picture in few]
    assert np.mean(peaks) < 1.005 * many.peak_kw_m2
    assert np.mean(peaks) > 0.93 * many.peak_kw_m2
    # while the highest cell does lift it
    assert np.mean([picture.kw_m2.max() for picture in few]) > 1.1 * many.peak_kw_m2
    assert np.std(peaks) == pytest.approx(np.mean([picture.peak_error_kw_m2 for picture in few]), rel=0.5)
    assert few[0].peak_area_m2 > many.peak_area_m2


def test_a_gaussian_spots_extent_is_its_own() -> None:
    """Of a Gaussian of s per axis 90 % lie in the circle of s sqrt(2 ln 10) and in the square of half side 1.9485 s."""
    point = MirrorForm("paraboloid", 0.001, 0.001, 1.3, 2)
    hits = traced(200_000, form=point, errors=Errors(2.5, 3.0, 5.0))
    shifted = Plane(np.array([0.01, -0.02, 1.3]), ALONG, UP, 0.4, 0.4)
    picture = flux_picture(point, hits, shifted, dni_w_m2=1000, reflectance=1)
    sigma = 1.3 * 10.735e-3
    assert picture.centroid_m == pytest.approx((-0.01, 0.02), abs=2e-4)
    assert picture.rms_m == pytest.approx((sigma, sigma), rel=0.01)
    assert picture.circle_90_m == pytest.approx(2 * sigma * np.sqrt(2 * np.log(10)), rel=0.01)
    assert picture.square_90_m == pytest.approx(2 * 1.9485 * sigma, rel=0.01)


def test_light_that_was_stopped_on_the_way_is_left_out() -> None:
    hits = traced(20_000)
    fates = ray_fates(FORM, hits)
    accepted = flux_picture(
        FORM, hits, window_plane(), dni_w_m2=1000, reflectance=1, passing=fates == Fate.ACCEPTED
    )
    assert accepted.in_picture_kw == pytest.approx(
        FORM.aperture_m2 * float(np.sum(hits.weight[hits.accepted])) / len(hits.weight)
    )


def test_beyond_the_focus_the_light_spreads_again_and_behind_the_plane_none_counts() -> None:
    hits = traced(40_000)
    large = [
        flux_picture(
            FORM,
            hits,
            Plane(np.array([0.0, 0.0, height]), ALONG, UP, 6.0, 6.0),
            dni_w_m2=1000,
            reflectance=1,
        )
        for height in (1.3, 2.6, 5.2)
    ]
    assert large[0].peak_kw_m2 > 3 * large[1].peak_kw_m2 > 9 * large[2].peak_kw_m2
    assert large[0].in_picture_kw == pytest.approx(large[1].in_picture_kw, rel=1e-3)
    away = flux_picture(FORM, hits, Plane(CENTRE, ALONG, -UP, 1.0, 1.0), dni_w_m2=1000, reflectance=1)
    assert away.landed_kw == 0.0
    assert np.isnan(away.peak_kw_m2)
    assert np.isnan(away.circle_90_m)


def test_what_cannot_be_a_picture_is_refused() -> None:
    hits = traced(100)
    with pytest.raises(BadInputError, match="above 0 W/m2"):
        flux_picture(FORM, hits, window_plane(), dni_w_m2=0, reflectance=0.8)
    with pytest.raises(BadInputError, match="at least one cell"):
        Plane(CENTRE, ALONG, UP, 0.2, 0.2, 0, 4)
    with pytest.raises(BadInputError, match="square to each other"):
        Plane(CENTRE, ALONG, ALONG, 0.2, 0.2)
