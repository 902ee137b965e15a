"""Film under tension on concave ribs: its bulge, its stress, its wrinkles, and what it asks of the clips.

Along is along the ribs, across is from rib to rib. A bulge is counted towards the focus, the wrong way. Pressure is
positive where wind presses on the reflecting side. Ribs are taken as stiff, slopes as small (up to about 0.2).
"""

from dataclasses import dataclass
from math import atan2, degrees, hypot, inf, isfinite, pi, radians, sqrt, tan
from typing import Literal

import numpy as np

from studio.errors import BadInputError
from studio.text import _

STEEL_EXPANSION_1_K = 12e-6
"""Structural steel up to 100 degC: EN 1993-1-1, 3.2.6."""


def must_be_above_zero(what: str, value: float, unit: str) -> None:
    """Raise ``BadInputError`` unless ``value`` is a number above 0; ``what`` begins the sentence."""
    if not 0 < value < inf:
        raise BadInputError(
            _("{what} must be above 0 {unit}; found {value:g} {unit}.").format(
                what=what, unit=unit, value=value
            )
        )


@dataclass(frozen=True)
class FilmStuff:
    """A film: thickness in m, elastic modulus and yield stress in Pa, Poisson's ratio, expansion in 1/K.

    One value serves both directions. A film under load creeps, more so when warm: its yield is that of a test that
    takes minutes. Raises ``BadInputError`` where a value cannot be.
    """

    thickness_m: float
    modulus_pa: float
    poisson: float
    yield_pa: float
    expansion_1_k: float

    def __post_init__(self) -> None:
        must_be_above_zero(_("The film's thickness"), self.thickness_m, "m")
        must_be_above_zero(_("The film's elastic modulus"), self.modulus_pa, "Pa")
        must_be_above_zero(_("The film's yield stress"), self.yield_pa, "Pa")
        if not 0 <= self.poisson < 0.5 or not isfinite(self.expansion_1_k):
            raise BadInputError(
                _(
                    "A film's Poisson's ratio must be from 0 to below 0.5 and its expansion a number; "
                    "found {ratio:g} and {growth:g} per K."
                ).format(ratio=self.poisson, growth=self.expansion_1_k)
            )

    @property
    def stiffness_n_m(self) -> float:
        """Tension per strain with the other direction held: E t/(1 - nu2)."""
        return self.modulus_pa * self.thickness_m / (1 - self.poisson**2)


POLYESTER = FilmStuff(50e-6, 4.5e9, 0.38, 100e6, 1.7e-5)
"""Biaxially drawn polyester (PET), 50 um, 23 degC.

Modulus and stress at 5 % strain (taken as yield) are typical values of the film trade, tested by ISO 527. Expansion
(trade: 1.6 to 1.9e-5) and Poisson's ratio (0.37 to 0.44) are from memory: look them up for the film in hand.
"""


@dataclass(frozen=True)
class Tension:
    """Pull in N per metre of film: along the ribs (T1) and across them (T2). Below 0 the film would be pushed."""

    along_n_m: float
    across_n_m: float

    def __post_init__(self) -> None:
        if not (isfinite(self.along_n_m) and isfinite(self.across_n_m)):
            raise BadInputError(
                _(
                    "A film's tension must be a number; found {along:g} along and {across:g} N/m across."
                ).format(along=self.along_n_m, across=self.across_n_m)
            )


@dataclass(frozen=True)
class StripShape:
    """A strip between two ribs, away from its ends.

    ``curvature_1_m`` across, positive where the film bulges the wrong way; ``sag_m`` the middle over the edges
    (towards the focus); ``tension`` what holds it.
    """

    curvature_1_m: float
    strip_width_m: float
    tension: Tension

    @property
    def sag_m(self) -> float:
        return self.curvature_1_m * self.strip_width_m**2 / 8

    @property
    def edge_slope_mrad(self) -> float:
        """Slope at the ribs against the straight strip."""
        return 1000 * self.curvature_1_m * self.strip_width_m / 2

    @property
    def slope_rms_mrad(self) -> float:
        """RMS over the strip's width of the slope that the bulge adds."""
        return abs(self.edge_slope_mrad) / sqrt(3)


def dynamic_pressure_pa(wind_m_s: float, *, air_kg_m3: float = 1.25) -> float:
    """Pressure of wind brought to rest, 1/2 rho v2 (EN 1991-1-4, eq. 4.10).

    It is not the design load: gusts, height and shape factors belong to the local code and to who is licensed for it.
    """
    must_be_above_zero(_("The density of air"), air_kg_m3, "kg/m3")
    if not 0 <= wind_m_s < inf:
        raise BadInputError(_("A wind speed must not be below 0 m/s; found {v:g} m/s.").format(v=wind_m_s))
    return air_kg_m3 * wind_m_s**2 / 2


def strip_shape(
    tension: Tension, *, rib_radius_m: float, strip_width_m: float, pressure_pa: float = 0.0
) -> StripShape:
    """Strip of ``tension`` on ribs of ``rib_radius_m``, the tension not changed by the pressure.

    Balance of a film, T1/R1 + T2/R2 = p: curvature (T1/R1 - p)/T2, edge slope half the width of it, sag an eighth of
    the width squared. In wind it is the upper bound, see ``strip_in_wind``.
    """
    _check_strip(tension, rib_radius_m, strip_width_m, pressure_pa)
    curvature = (tension.along_n_m / rib_radius_m - pressure_pa) / tension.across_n_m
    return StripShape(curvature, strip_width_m, tension)


def strip_in_wind(
    film: FilmStuff, tension: Tension, *, rib_radius_m: float, strip_width_m: float, pressure_pa: float
) -> StripShape:
    """As ``strip_shape``, but the film is held at its edges and stretches: it gains tension and bulges less.

    ``tension`` is that without wind. One parabola of sag s serves for the shape. Its strains are 8/3 (s/b)2 across
    and -2/3 s/R1 along, both means over the strip, the stress is plane; the balance is then a cubic in s. Ribs that
    give way let the bulge grow towards ``strip_shape``. A tension below 0 in the result says that the film goes slack
    that way.
    """
    _check_strip(tension, rib_radius_m, strip_width_m, pressure_pa)
    b, stiffness, poisson = strip_width_m, film.stiffness_n_m, film.poisson
    calm = strip_shape(tension, rib_radius_m=rib_radius_m, strip_width_m=b).sag_m
    across_gain, along_gain = stiffness * 8 / (3 * b * b), -stiffness * 2 / (3 * rib_radius_m)
    # tensions as polynomials of s, highest power first
    across = np.array([across_gain, poisson * along_gain, 0.0])
    along = np.array([poisson * across_gain, along_gain, 0.0])
    across[2] = tension.across_n_m - np.polyval(across, calm)
    along[2] = tension.along_n_m - np.polyval(along, calm)
    balance = np.polysub(np.append(8 / b**2 * across, 0.0), along / rib_radius_m)
    balance[-1] += pressure_pa
    roots = np.roots(balance)
    real = roots.real[np.abs(roots.imag) <= 1e-9 * np.abs(roots)]
    # the shape that the calm one moves into as the pressure grows: the nearest on the side it presses to
    beyond = real[(calm - real) * pressure_pa >= -1e-9 * b * abs(pressure_pa)]
    sag = float(beyond[np.argmin(np.abs(beyond - calm))]) if pressure_pa else calm
    held = Tension(float(np.polyval(along, sag)), float(np.polyval(across, sag)))
    return StripShape(8 * sag / b**2, b, held)


def end_zone_m(tension: Tension, *, strip_width_m: float) -> float:
    """Length over which a strip's bulge grows from its straight end to 1 - 1/e: (b/pi) sqrt(T1/T2).

    From T1 w_yy + T2 w_xx = 0 with w = cos(pi x/b) exp(-y/length).
    """
    _check_pull(tension)
    must_be_above_zero(_("The strip's width"), strip_width_m, "m")
    return strip_width_m / pi * sqrt(max(tension.along_n_m, 0.0) / tension.across_n_m)


def tension_when_warmer(
    film: FilmStuff,
    tension: Tension,
    *,
    warmer_k: float,
    rod_expansion_1_k: float = STEEL_EXPANSION_1_K,
) -> Tension:
    """Tension after film and rods have warmed by ``warmer_k`` (below 0: cooled), the film held both ways.

    Plane stress: both ways change by -E t (alpha_film - alpha_rod) dT/(1 - nu). Film and rods are at one temperature;
    where the sun heats the one more, add what it gains to the film's strain.
    """
    if not (isfinite(warmer_k) and isfinite(rod_expansion_1_k)):
        raise BadInputError(
            _("Warming and the rods' expansion must be numbers; found {k:g} K and {growth:g} per K.").format(
                k=warmer_k, growth=rod_expansion_1_k
            )
        )
    strain = (film.expansion_1_k - rod_expansion_1_k) * warmer_k
    lost = film.modulus_pa * film.thickness_m / (1 - film.poisson) * strain
    return Tension(tension.along_n_m - lost, tension.across_n_m - lost)


@dataclass(frozen=True)
class FilmStress:
    """Stress in Pa and what is left of the film's yield (1: unloaded, 0: at yield, below 0: beyond), each way."""

    along_pa: float
    across_pa: float
    margin_along: float
    margin_across: float


def film_stress(film: FilmStuff, tension: Tension) -> FilmStress:
    """Tension over thickness against yield."""
    along, across = tension.along_n_m / film.thickness_m, tension.across_n_m / film.thickness_m
    return FilmStress(along, across, 1 - along / film.yield_pa, 1 - across / film.yield_pa)


@dataclass(frozen=True)
class Wrinkling:
    """Whether a strip wrinkles, how, and what takes the wrinkles out.

    ``least_n_m`` and ``most_n_m`` are the principal tensions the film would have if it could be pushed. Crests run at
    ``crest_deg`` from the ribs (towards across, -90 to 90). ``slope_rms_mrad`` is the wrinkles' own slope, square to
    the crests. ``pull_across_n_m`` and ``pull_along_n_m``: how much more tension that way alone brings the least
    principal tension up to what was asked; None where that way alone never does.
    """

    state: Literal["taut", "wrinkled", "slack"]
    least_n_m: float
    most_n_m: float
    crest_deg: float
    slope_rms_mrad: float
    pull_across_n_m: float | None
    pull_along_n_m: float | None


def wrinkling(
    film: FilmStuff,
    tension: Tension,
    *,
    racked_deg: float = 0.0,
    warmer_k: float = 0.0,
    rod_expansion_1_k: float = STEEL_EXPANSION_1_K,
    keep_n_m: float = 0.0,
) -> Wrinkling:
    """What becomes of a strip when its frame is racked out of square by ``racked_deg`` and warms by ``warmer_k``.

    Racking by the angle g shears the film by G t g, G = E/(2 (1 + nu)). Tension field theory (Stein & Hedgepeth, NASA
    TN D-813, 1961): a film bears no push; where the least principal tension would be below 0 it lies in wrinkles along
    the greatest one, and is slack where the greatest strain is below 0 too. What is too wide by the share e folds away:
    e is half the mean square of the slope of shallow waves, whatever their length; e = -T (1 - nu2)/(E t) for the
    least tension T where wrinkled, minus the least strain where slack. ``keep_n_m`` is the least tension to be kept.
    """
    if not (-45 < racked_deg < 45 and 0 <= keep_n_m < inf):
        raise BadInputError(
            _(
                "A frame may be racked by less than 45 degrees, and the tension to be kept must not be below 0 N/m; "
                "found {angle:g} degrees and {keep:g} N/m."
            ).format(angle=racked_deg, keep=keep_n_m)
        )
    held = tension_when_warmer(film, tension, warmer_k=warmer_k, rod_expansion_1_k=rod_expansion_1_k)
    along, across = held.along_n_m, held.across_n_m
    stretch = film.modulus_pa * film.thickness_m
    shear = stretch / (2 * (1 + film.poisson)) * tan(radians(racked_deg))
    mean, half = (along + across) / 2, hypot((along - across) / 2, shear)
    least, most = mean - half, mean + half
    least_strain = (least - film.poisson * most) / stretch
    most_strain = (most - film.poisson * least) / stretch
    state: Literal["taut", "wrinkled", "slack"]
    # rounding alone makes no wrinkle
    if least >= -1e-9 * abs(most):
        state, too_wide = "taut", 0.0
    elif most_strain > 0:
        state, too_wide = "wrinkled", -least * (1 - film.poisson**2) / stretch
    else:
        state, too_wide = "slack", -least_strain
    return Wrinkling(
        state=state,
        least_n_m=least,
        most_n_m=most,
        crest_deg=degrees(atan2(2 * shear, along - across)) / 2,
        slope_rms_mrad=1000 * sqrt(2 * too_wide),
        pull_across_n_m=_more_pull(across, other=along, shear=shear, keep=keep_n_m),
        pull_along_n_m=_more_pull(along, other=across, shear=shear, keep=keep_n_m),
    )


def rib_lift_n_m(
    tension: Tension,
    *,
    rib_radius_m: float,
    strip_width_m: float,
    end_rib: bool = False,
    pressure_pa: float = 0.0,
) -> float:
    """Force in N per metre of rib that lifts the film off a concave rib, which clips must hold: (T1/R1 - p) b.

    Half of it at an end rib, which bears one strip. Wind on the back (pressure below 0) adds to it; below 0 the film
    is pressed onto the rib.
    """
    must_be_above_zero(_("The ribs' radius"), rib_radius_m, "m")
    must_be_above_zero(_("The strip's width"), strip_width_m, "m")
    width = strip_width_m / 2 if end_rib else strip_width_m
    return (tension.along_n_m / rib_radius_m - pressure_pa) * width


def _more_pull(pull: float, *, other: float, shear: float, keep: float) -> float | None:
    """What ``pull`` lacks until (pull - keep)(other - keep) >= shear2, both factors not below 0."""
    spare = other - keep
    if spare < 0 or (spare == 0 and shear):
        return None
    needed = keep + (shear**2 / spare if shear else 0.0)
    return max(needed - pull, 0.0)


def _check_pull(tension: Tension) -> None:
    must_be_above_zero(_("The film's tension across the ribs"), tension.across_n_m, "N/m")


def _check_strip(tension: Tension, rib_radius_m: float, strip_width_m: float, pressure_pa: float) -> None:
    _check_pull(tension)
    must_be_above_zero(_("The ribs' radius"), rib_radius_m, "m")
    must_be_above_zero(_("The strip's width"), strip_width_m, "m")
    if not isfinite(pressure_pa):
        raise BadInputError(_("A pressure must be a number; found {p:g} Pa.").format(p=pressure_pa))
