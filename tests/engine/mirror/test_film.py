"""Film on concave ribs: balances, stiffening, temperature and wrinkles by their own definitions."""

from dataclasses import replace
from math import exp, pi, radians, sqrt, tan

import numpy as np
import pytest
from scipy.integrate import quad, solve_bvp
from scipy.sparse import diags_array, eye_array, kron
from scipy.sparse.linalg import spsolve

from studio.engine.mirror.film import (
    POLYESTER,
    FilmStuff,
    Tension,
    dynamic_pressure_pa,
    end_zone_m,
    film_stress,
    rib_lift_n_m,
    strip_in_wind,
    strip_shape,
    tension_when_warmer,
    wrinkling,
)
from studio.engine.mirror.form import Floats, MirrorForm, strip_points
from studio.errors import BadInputError

CALM = Tension(100.0, 400.0)
THIN = replace(POLYESTER, thickness_m=23e-6)


@pytest.mark.parametrize(
    ("along", "across", "pressure", "edge_mrad", "sag_mm"),
    [
        (100.0, 100.0, 0.0, 31.25, 1.953125),
        (0.0, 100.0, 100.0, -125.0, -7.8125),
        (100.0, 400.0, 25.0, 0.0, 0.0),  # the wind that makes the strip flat: T1/R1
        (100.0, 400.0, -25.0, 15.625, 0.9765625),
    ],
)
def test_a_strip_bulges_by_the_balance_of_its_tensions(
    along: float, across: float, pressure: float, edge_mrad: float, sag_mm: float
) -> None:
    """Strip of 0.25 m on ribs of 4 m."""
    shape = strip_shape(Tension(along, across), rib_radius_m=4.0, strip_width_m=0.25, pressure_pa=pressure)
    assert shape.edge_slope_mrad == pytest.approx(edge_mrad)
    assert 1000 * shape.sag_m == pytest.approx(sag_mm)
    off = np.linspace(-0.125, 0.125, 10_001)
    assert shape.slope_rms_mrad == pytest.approx(
        1000 * np.sqrt(np.mean((shape.curvature_1_m * off) ** 2)), rel=1e-3
    )


def test_the_bulge_is_that_of_the_mirrors_form() -> None:
    form = MirrorForm("paraboloid", 1.25, 1.44, 1.3, 11, tension_ratio=0.25)
    flat = MirrorForm("paraboloid", 1.25, 1.44, 1.3, 11)
    shape = strip_shape(CALM, rib_radius_m=2.6, strip_width_m=form.strip_width_m)
    (bulged, normal), (straight, upright) = (strip_points(each, 3, [0.5, 0.0], 0.2) for each in (form, flat))
    assert bulged[0, 2] - straight[0, 2] == pytest.approx(shape.sag_m)
    assert upright[1, 0] - normal[1, 0] == pytest.approx(shape.edge_slope_mrad / 1000)


def stretched_by_the_full_equation(
    film: FilmStuff, calm: Tension, radius: float, width: float, pressure: float
) -> tuple[float, float, float]:
    """Sag, edge slope and tension across from the differential equation of the strip, strain by strain.

    T2 w'' = p - T1(x)/R1; T2 even over the width, T1 by the local strain -w/R1; the strip's ends do not move.
    """
    stretch, poisson = film.modulus_pa * film.thickness_m, film.poisson
    first = calm.along_n_m / calm.across_n_m / radius

    def along(x: Floats, w: Floats, across: float) -> Floats:
        start = first / 2 * ((width / 2) ** 2 - x**2)
        gained = poisson * (across - calm.across_n_m) - stretch * (w - start) / radius
        return np.asarray(calm.along_n_m + gained)

    def equation(x: Floats, y: Floats, unknown: Floats) -> Floats:
        t1 = along(x, y[0], unknown[0])
        slope = (pressure - t1 / radius) / unknown[0]
        strain = ((unknown[0] - calm.across_n_m) - poisson * (t1 - calm.along_n_m)) / stretch
        longer = (y[1] ** 2 - (first * x) ** 2) / 2
        return np.vstack([y[1], slope, longer - strain])

    def edges(left: Floats, right: Floats, unknown: Floats) -> Floats:
        return np.array([left[0], right[0], left[2], right[2]])

    x = np.linspace(-width / 2, width / 2, 41)
    guess = strip_in_wind(film, calm, rib_radius_m=radius, strip_width_m=width, pressure_pa=pressure)
    k = guess.curvature_1_m
    start = np.vstack([k / 2 * (width**2 / 4 - x**2), -k * x, 0 * x])
    found = solve_bvp(equation, edges, x, start, p=[guess.tension.across_n_m], tol=1e-7)
    assert found.success
    assert found.p is not None
    middle = found.sol(0.0)[0]
    return float(middle), float(found.sol(-width / 2)[1]), float(found.p[0])


@pytest.mark.parametrize("pressure", [-400.0, -100.0, 20.0, 100.0, 400.0])
def test_stiffening_in_wind_is_that_of_the_full_equation(pressure: float) -> None:
    """Within the error of a parabola for the strip's shape, 2 % of the sag, 5 % of the slope."""
    shape = strip_in_wind(THIN, CALM, rib_radius_m=2.6, strip_width_m=0.125, pressure_pa=pressure)
    sag, slope, across = stretched_by_the_full_equation(THIN, CALM, 2.6, 0.125, pressure)
    assert shape.sag_m == pytest.approx(sag, rel=0.02)
    assert shape.edge_slope_mrad == pytest.approx(1000 * slope, rel=0.05)
    assert shape.tension.across_n_m == pytest.approx(across, rel=0.01)


def test_a_soft_film_in_wind_keeps_its_tension() -> None:
    soft = replace(POLYESTER, modulus_pa=1e3)
    wind = {"rib_radius_m": 2.6, "strip_width_m": 0.125, "pressure_pa": 150.0}
    assert strip_in_wind(soft, CALM, **wind).sag_m == pytest.approx(strip_shape(CALM, **wind).sag_m, rel=1e-5)
    assert abs(strip_in_wind(POLYESTER, CALM, **wind).sag_m) < abs(strip_shape(CALM, **wind).sag_m)


@pytest.mark.parametrize("film", [POLYESTER, THIN])
def test_a_growing_wind_bends_the_strip_without_a_jump(film: FilmStuff) -> None:
    pressures = np.linspace(-500, 500, 401)
    sags = [
        strip_in_wind(film, CALM, rib_radius_m=2.6, strip_width_m=0.125, pressure_pa=float(p)).sag_m
        for p in pressures
    ]
    steps = np.diff(sags)
    assert np.all(steps < 0)
    assert np.max(np.abs(steps)) < 5e-5
    tiny = strip_in_wind(film, CALM, rib_radius_m=2.6, strip_width_m=0.125, pressure_pa=1e-14)
    assert tiny.sag_m == pytest.approx(
        strip_shape(CALM, rib_radius_m=2.6, strip_width_m=0.125).sag_m, rel=1e-9
    )


def test_the_bulge_grows_over_the_end_zone() -> None:
    """Laplace's equation on a long half strip, straight at its end, by its series at the middle of the strip."""
    width, zone = 0.125, end_zone_m(CALM, strip_width_m=0.125)
    assert zone == pytest.approx(width / pi / 2)
    shape = strip_shape(CALM, rib_radius_m=2.6, strip_width_m=width)
    odd = np.arange(1, 400, 2)

    def sag(y: float) -> float:
        # the parabola as a series of cosines, each fading over a length of its own, and taken off at the end
        part = 4 * shape.curvature_1_m * width**2 / (pi * odd) ** 3 * np.sin(odd * pi / 2)
        return float(np.sum(part * (1 - np.exp(-odd * y / zone))))

    assert sag(20 * zone) == pytest.approx(shape.sag_m, rel=1e-6)
    for y in (2.0, 3.0):
        left = 1 - sag(y * zone) / shape.sag_m
        assert left == pytest.approx(32 / pi**3 * exp(-y), rel=0.01)


def test_the_end_zone_is_that_of_the_balance_solved_on_a_grid() -> None:
    """T1 w_yy + T2 w_xx = T1/R1 (the rib's own curve) on a strip 8 end zones long, straight at its edges and ends."""
    width, zone = 0.125, end_zone_m(CALM, strip_width_m=0.125)
    nx, ny = 40, 320
    dx, dy = width / nx, 8 * zone / ny
    pull_x, pull_y = (
        diags_array([t / d**2, -2 * t / d**2, t / d**2], offsets=[-1, 0, 1], shape=(n - 1, n - 1))
        for n, d, t in ((nx, dx, CALM.across_n_m), (ny, dy, CALM.along_n_m))
    )
    balance = kron(pull_y, eye_array(nx - 1)) + kron(eye_array(ny - 1), pull_x)
    load = np.full((ny - 1) * (nx - 1), -CALM.along_n_m / 2.6)
    sag = spsolve(balance.tocsc(), load).reshape(ny - 1, nx - 1)[:, nx // 2 - 1]
    shape = strip_shape(CALM, rib_radius_m=2.6, strip_width_m=width)
    assert sag[ny // 2 - 1] == pytest.approx(shape.sag_m, rel=0.04)
    # what is missing fades by e over one zone (40 steps of the grid)
    missing = shape.sag_m - sag
    assert missing[39] / missing[79] == pytest.approx(exp(1), rel=0.03)


def test_warming_by_strains_worked_out_both_ways() -> None:
    """Film free and rods free grow apart; plane stress makes up the difference."""
    warm = tension_when_warmer(POLYESTER, CALM, warmer_k=40.0)
    mismatch = (POLYESTER.expansion_1_k - 12e-6) * 40.0
    stress = np.array([warm.along_n_m - CALM.along_n_m, warm.across_n_m - CALM.across_n_m])
    stress /= POLYESTER.thickness_m
    strain = (stress - POLYESTER.poisson * stress[::-1]) / POLYESTER.modulus_pa
    assert strain == pytest.approx(np.full(2, -mismatch))
    assert warm.across_n_m < CALM.across_n_m < tension_when_warmer(POLYESTER, CALM, warmer_k=-40).across_n_m
    back = tension_when_warmer(POLYESTER, warm, warmer_k=-40.0)
    assert back.along_n_m == pytest.approx(CALM.along_n_m)
    assert tension_when_warmer(POLYESTER, CALM, warmer_k=40.0, rod_expansion_1_k=1.7e-5) == CALM


def test_stress_and_its_margins() -> None:
    stress = film_stress(POLYESTER, Tension(1000.0, 6000.0))
    assert (stress.along_pa, stress.across_pa) == pytest.approx((20e6, 120e6))
    assert (stress.margin_along, stress.margin_across) == pytest.approx((0.8, -0.2))


SHEAR_MODULUS = POLYESTER.modulus_pa / (2 * (1 + POLYESTER.poisson))


def principal(along: float, across: float, racked_deg: float) -> Floats:
    shear = SHEAR_MODULUS * POLYESTER.thickness_m * tan(radians(racked_deg))
    return np.asarray(np.linalg.eigvalsh(np.array([[along, shear], [shear, across]])))


@pytest.mark.parametrize("racked", [-0.3, -0.05, 0.0, 0.1, 0.3])
@pytest.mark.parametrize("keep", [0.0, 20.0])
def test_pull_takes_wrinkles_out_exactly(racked: float, keep: float) -> None:
    found = wrinkling(POLYESTER, CALM, racked_deg=racked, keep_n_m=keep)
    assert (found.least_n_m, found.most_n_m) == pytest.approx(principal(100, 400, racked))
    assert found.state == ("wrinkled" if found.least_n_m < 0 else "taut")
    assert (found.slope_rms_mrad > 0) == (found.state == "wrinkled")
    across, along = found.pull_across_n_m, found.pull_along_n_m
    assert across is not None
    assert along is not None
    if found.least_n_m >= keep:
        assert across == along == 0
        return
    for pull in (Tension(100 + along, 400), Tension(100, 400 + across)):
        mended = wrinkling(POLYESTER, pull, racked_deg=racked)
        assert mended.least_n_m == pytest.approx(keep, abs=1e-9)
        assert mended.state == "taut"


def test_where_one_pull_alone_cannot_help_it_says_so() -> None:
    pushed = wrinkling(POLYESTER, Tension(-10.0, 300.0))
    assert pushed.pull_across_n_m is None
    assert pushed.pull_along_n_m == pytest.approx(10.0)
    assert wrinkling(POLYESTER, Tension(0.0, 300.0)).state == "taut"
    assert wrinkling(POLYESTER, Tension(0.0, 300.0), racked_deg=0.01).pull_across_n_m is None


def test_crests_run_along_the_greatest_tension() -> None:
    """Pure shear towards across: at 45 degrees; a film pulled across only: square to the ribs."""
    assert wrinkling(POLYESTER, Tension(0, 0), racked_deg=0.1).crest_deg == pytest.approx(45)
    assert wrinkling(POLYESTER, Tension(-5, 200)).crest_deg == pytest.approx(90)
    assert wrinkling(POLYESTER, Tension(200, -5)).crest_deg == pytest.approx(0)
    racked = wrinkling(POLYESTER, CALM, racked_deg=0.3)
    shear = SHEAR_MODULUS * POLYESTER.thickness_m * tan(radians(0.3))
    _values, vectors = np.linalg.eigh(np.array([[100, shear], [shear, 400]]))
    assert tan(radians(racked.crest_deg)) == pytest.approx(vectors[1, 1] / vectors[0, 1])


def test_wrinkles_fold_away_what_is_too_wide() -> None:
    """The length of a shallow wave of the slope that is told exceeds its base by the film's spare width."""
    found = wrinkling(POLYESTER, Tension(300.0, -20.0))
    strain_across = (-20 - POLYESTER.poisson * 300) / (POLYESTER.modulus_pa * POLYESTER.thickness_m)
    strain_along = (300 - POLYESTER.poisson * -20) / (POLYESTER.modulus_pa * POLYESTER.thickness_m)
    spare = -POLYESTER.poisson * strain_along - strain_across
    peak = sqrt(2) * found.slope_rms_mrad / 1000
    length, _error = quad(lambda x: sqrt(1 + (peak * np.cos(2 * pi * x)) ** 2), 0, 1)
    assert length - 1 == pytest.approx(spare, rel=1e-3)


def test_warming_takes_a_film_from_taut_to_slack_without_a_jump() -> None:
    rows = [wrinkling(POLYESTER, CALM, warmer_k=float(k)) for k in np.linspace(0, 400, 2001)]
    assert list(dict.fromkeys(row.state for row in rows)) == ["taut", "wrinkled", "slack"]
    squares = np.array([row.slope_rms_mrad**2 for row in rows])
    assert np.all(np.diff(squares) >= 0)
    # one way wrinkled, both shrink into it: faster by 1 + nu than slack both ways
    assert np.max(np.diff(squares)) == pytest.approx((1 + POLYESTER.poisson) * np.diff(squares)[-1])


def test_lift_is_the_balance_of_a_rib() -> None:
    """What holds the film down is what the strips' slopes at the rib pull up: 2 T2 times the edge slope."""
    lift = rib_lift_n_m(CALM, rib_radius_m=2.6, strip_width_m=0.125, pressure_pa=10.0)
    shape = strip_shape(CALM, rib_radius_m=2.6, strip_width_m=0.125, pressure_pa=10.0)
    assert lift == pytest.approx(2 * 400 * shape.edge_slope_mrad / 1000)
    end = rib_lift_n_m(CALM, rib_radius_m=2.6, strip_width_m=0.125, pressure_pa=10.0, end_rib=True)
    assert end == pytest.approx(lift / 2)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(BadInputError, match="thickness must be above 0 m; found 0 m"):
        FilmStuff(0, 1, 0.3, 1, 0)
    with pytest.raises(BadInputError, match="Poisson"):
        FilmStuff(1, 1, 0.5, 1, 0)
    with pytest.raises(BadInputError, match="must be a number"):
        Tension(float("nan"), 1)
    with pytest.raises(BadInputError, match="tension across the ribs must be above 0 N/m"):
        strip_shape(Tension(1, 0), rib_radius_m=1, strip_width_m=1)
    with pytest.raises(BadInputError, match="ribs' radius"):
        rib_lift_n_m(CALM, rib_radius_m=-1, strip_width_m=1)
    with pytest.raises(BadInputError, match="pressure"):
        strip_shape(CALM, rib_radius_m=1, strip_width_m=1, pressure_pa=float("inf"))
    with pytest.raises(BadInputError, match="wind speed"):
        dynamic_pressure_pa(-1)
    with pytest.raises(BadInputError, match="45 degrees"):
        wrinkling(POLYESTER, CALM, racked_deg=50)
    with pytest.raises(BadInputError, match="Warming"):
        tension_when_warmer(POLYESTER, CALM, warmer_k=float("nan"))
