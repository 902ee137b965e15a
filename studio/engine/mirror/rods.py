"""Ribs as round bars: what bends them, what bends back, and how far they give under the film.

A bar is elastic up to its yield stress and perfectly plastic beyond; plane sections stay plane; radii are those of the
bar's middle line, much larger than its diameter. Residual stress, hardening and the Bauschinger effect are left out: a
trial bar of the same bundle decides.
"""

from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import asin, inf, pi, sqrt

import numpy as np

from studio.engine.mirror.film import Tension, must_be_above_zero, rib_lift_n_m
from studio.errors import BadInputError
from studio.text import _


@dataclass(frozen=True)
class RodStuff:
    """Steel of a bar: elastic modulus, yield stress and the standard deviation of yield stress, all in Pa.

    Modulus: EN 1993-1-1, 3.2.6. Yield: the least that EN 10025-2 allows S235 up to 16 mm; bars as bought lie above it
    (measure one before choosing what to bend to). Scatter: 7 % of it from delivery to delivery, from memory of the
    JCSS Probabilistic Model Code, part 3; bars of one bundle scatter less (common practice, no source).
    """

    modulus_pa: float = 210e9
    yield_pa: float = 235e6
    yield_scatter_pa: float = 16.5e6

    def __post_init__(self) -> None:
        must_be_above_zero(_("The rod's elastic modulus"), self.modulus_pa, "Pa")
        must_be_above_zero(_("The rod's yield stress"), self.yield_pa, "Pa")
        if not 0 <= self.yield_scatter_pa < inf:
            raise BadInputError(
                _("The scatter of a rod's yield stress must not be below 0 Pa; found {s:g} Pa.").format(
                    s=self.yield_scatter_pa
                )
            )


MILD_STEEL = RodStuff()


@dataclass(frozen=True)
class Section:
    """A round section: second moment of area I, elastic modulus Z and plastic modulus of section."""

    second_moment_m4: float
    modulus_m3: float
    plastic_modulus_m3: float


def round_section(diameter_m: float) -> Section:
    """I = pi d4/64, Z = pi d3/32, plastic d3/6."""
    must_be_above_zero(_("The rod's diameter"), diameter_m, "m")
    return Section(pi * diameter_m**4 / 64, pi * diameter_m**3 / 32, diameter_m**3 / 6)


def least_elastic_radius_m(*, diameter_m: float, rod: RodStuff = MILD_STEEL) -> float:
    """Radius below which a straight rod no longer springs back straight: d E/(2 sigma_y)."""
    must_be_above_zero(_("The rod's diameter"), diameter_m, "m")
    return diameter_m * rod.modulus_pa / (2 * rod.yield_pa)


def bending_moment_n_m(radius_m: float, *, diameter_m: float, rod: RodStuff = MILD_STEEL) -> float:
    """Moment that bends a straight rod to ``radius_m`` (infinite: straight), elastic or beyond."""
    bend = _bend(radius_m, diameter_m, rod)
    return _moment(bend) * rod.yield_pa * round_section(diameter_m).modulus_m3


def radius_left_m(bent_radius_m: float, *, diameter_m: float, rod: RodStuff = MILD_STEEL) -> float:
    """Radius that stays of a straight rod bent to ``bent_radius_m`` and let go; infinite if it stayed elastic.

    The moment goes elastically: 1/R_left = 1/R_bent - M/(E I).
    """
    bend = _bend(bent_radius_m, diameter_m, rod)
    left = bend - _moment(bend)
    limit = least_elastic_radius_m(diameter_m=diameter_m, rod=rod)
    return limit / left if left > 0 else inf


def radius_to_bend_to_m(wanted_radius_m: float, *, diameter_m: float, rod: RodStuff = MILD_STEEL) -> float:
    """Radius to bend a straight rod to so that ``wanted_radius_m`` stays: the inverse of ``radius_left_m``."""
    limit = least_elastic_radius_m(diameter_m=diameter_m, rod=rod)
    return limit / _bend_for(_bend(wanted_radius_m, diameter_m, rod))


@dataclass(frozen=True)
class RibBending:
    """How a straight rod comes to a rib's radius.

    Either it is bent to ``bend_to_m`` and keeps the radius by itself, or, where ``stays_elastic``, it is sprung to the
    radius and held by ``hold_n_m``, a moment E I/R at both ends (a pair of forces of moment over their distance at
    each); None where it does not stay elastic. A sprung rod stores that bending: it must be clamped before it is let go.
    """

    least_elastic_radius_m: float
    stays_elastic: bool
    bend_to_m: float
    hold_n_m: float | None


def rib_bending(radius_m: float, *, diameter_m: float, rod: RodStuff = MILD_STEEL) -> RibBending:
    """Both ways to a rib of ``radius_m``. At the elastic limit itself the rod still springs back."""
    limit = least_elastic_radius_m(diameter_m=diameter_m, rod=rod)
    elastic = radius_m >= limit
    return RibBending(
        least_elastic_radius_m=limit,
        stays_elastic=elastic,
        bend_to_m=radius_to_bend_to_m(radius_m, diameter_m=diameter_m, rod=rod),
        hold_n_m=bending_moment_n_m(radius_m, diameter_m=diameter_m, rod=rod) if elastic else None,
    )


@dataclass(frozen=True)
class RadiusScatter:
    """Standard deviation of the radius that stays, in m, and the slope error in mrad, RMS over the rib's arc."""

    radius_m: float
    slope_mrad: float


def radius_scatter(
    wanted_radius_m: float, *, arc_m: float, diameter_m: float, rod: RodStuff = MILD_STEEL
) -> RadiusScatter:
    """What the scatter of yield stress makes of rods that are all bent alike and held nowhere but in their middle.

    By the derivative of spring-back to yield stress. The curvature is off by c all along the arc, the slope by c times
    the distance from the middle: c arc/sqrt(12) RMS. A rib clamped to its curve at several places keeps less of it.
    """
    must_be_above_zero(_("The rib's arc"), arc_m, "m")
    bend = _bend_for(_bend(wanted_radius_m, diameter_m, rod))
    per_pa = 2 / (rod.modulus_pa * diameter_m) * (_moment(bend) - bend * _elastic_share(bend))
    curvature = per_pa * rod.yield_scatter_pa
    return RadiusScatter(curvature * wanted_radius_m**2, 1000 * curvature * arc_m / sqrt(12))


@dataclass(frozen=True)
class Bow:
    """How a rod gives between its supports under an even load.

    ``sag_m`` largest, in the direction of the load; ``slope_rms_mrad`` over the whole length; the largest bending
    moment and its elastic stress (to be added to that of a sprung rib, and held against yield).
    """

    sag_m: float
    slope_rms_mrad: float
    moment_n_m: float
    stress_pa: float


def rod_on_supports(
    load_n_m: float, *, length_m: float, supports: int, diameter_m: float, rod: RodStuff = MILD_STEEL
) -> Bow:
    """A rod over ``supports`` evenly spaced ones, the outer two at its ends, free to turn on each, elastic.

    Two supports: sag 5 w L4/(384 E I), RMS slope sqrt(17/35) w L3/(24 E I). More: the theorem of three moments. The
    rib's own curve is taken as shallow and its supports as giving no thrust.
    """
    must_be_above_zero(_("The rod's length"), length_m, "m")
    if supports < 2:
        raise BadInputError(_("A rod needs at least 2 supports; found {n}.").format(n=supports))
    if not -inf < load_n_m < inf:
        raise BadInputError(_("A load must be a number; found {load:g} N/m.").format(load=load_n_m))
    section = round_section(diameter_m)
    bending = rod.modulus_pa * section.second_moment_m4
    sag, slope, moment = _unit_bow(supports)
    span = length_m / (supports - 1)
    largest = moment * abs(load_n_m) * span**2
    return Bow(
        sag_m=sag * load_n_m * span**4 / bending,
        slope_rms_mrad=1000 * slope * abs(load_n_m) * span**3 / bending,
        moment_n_m=largest,
        stress_pa=largest / section.modulus_m3,
    )


def rib_bow(
    tension: Tension,
    *,
    rib_radius_m: float,
    strip_width_m: float,
    arc_m: float,
    stands: int,
    diameter_m: float,
    rod: RodStuff = MILD_STEEL,
    end_rib: bool = False,
    pressure_pa: float = 0.0,
) -> Bow:
    """A rib between its stands under the film's lift and wind: sag towards the focus (wind on the mirror: away).

    The load is ``film.rib_lift_n_m``; ``arc_m`` the rib's length.
    """
    lift = rib_lift_n_m(
        tension,
        rib_radius_m=rib_radius_m,
        strip_width_m=strip_width_m,
        end_rib=end_rib,
        pressure_pa=pressure_pa,
    )
    return rod_on_supports(lift, length_m=arc_m, supports=stands, diameter_m=diameter_m, rod=rod)


def end_rib_bow(
    tension: Tension, *, arc_m: float, spreaders: int, diameter_m: float, rod: RodStuff = MILD_STEEL
) -> Bow:
    """An end rib drawn inward by the film's pull across, held at its ends and by evenly spaced spreaders between.

    The pull is taken as even: where the rib gives, the film slackens and the bow is less. Its slope lies in the
    mirror's plane; it turns no light by itself, but it lets the film's edge wander.
    """
    if spreaders < 0:
        raise BadInputError(_("The number of spreaders must not be below 0; found {n}.").format(n=spreaders))
    return rod_on_supports(
        tension.across_n_m, length_m=arc_m, supports=spreaders + 2, diameter_m=diameter_m, rod=rod
    )


# Bends are curvatures over the curvature at yield, moments are over the moment at yield.


def _bend(radius_m: float, diameter_m: float, rod: RodStuff) -> float:
    if not radius_m > 0:
        raise BadInputError(
            _("A rod's radius of bending must be above 0 m; found {r:g} m.").format(r=radius_m)
        )
    if radius_m <= diameter_m / 2:
        raise BadInputError(
            _("A rod {d:g} m thick cannot be bent to a radius of {r:g} m; that is within the rod.").format(
                d=diameter_m, r=radius_m
            )
        )
    return least_elastic_radius_m(diameter_m=diameter_m, rod=rod) / radius_m


def _moment(bend: float) -> float:
    """Elastic-plastic moment of a circle whose core of u = 1/bend of its height is elastic.

    The integral of stress times height over the circle: (4/pi) (asin(u)/(2 u) + sqrt(1 - u2) (5 - 2 u2)/6); it ends
    at the shape factor 16/(3 pi).
    """
    if bend <= 1:
        return bend
    u = 1 / bend
    return 4 / pi * (asin(u) / (2 * u) + sqrt(1 - u * u) * (5 - 2 * u * u) / 6)


def _elastic_share(bend: float) -> float:
    """Derivative of ``_moment``: second moment of the elastic core over that of the whole circle."""
    if bend <= 1:
        return 1.0
    u = 1 / bend
    return 2 / pi * (asin(u) - u * sqrt(1 - u * u) * (1 - 2 * u * u))


def _bend_for(left: float) -> float:
    """The bend of which ``left`` stays, by Newton from above: what stays is convex in the bend, so it never overshoots.

    The moment is never above 16/(3 pi): ``left`` plus that is above the answer.
    """
    bend = left + 16 / (3 * pi)
    for _round in range(60):
        slope = 1 - _elastic_share(bend)
        # near the elastic limit what stays is smaller than rounding
        step = (bend - _moment(bend) - left) / slope if slope > 0 else 0.0
        if step <= 1e-15 * bend:
            break
        bend -= step
    return bend


@lru_cache(maxsize=64)
def _unit_bow(supports: int) -> tuple[float, float, float]:
    """Largest sag, RMS slope and largest moment of a rod with E I = 1 under load 1 on spans of 1.

    Three moments of equal spans: M(i-1) + 4 M(i) + M(i+1) = -1/2, 0 at the ends (Timoshenko).
    """
    at_supports = np.zeros(supports)
    if supports > 2:
        inner = supports - 2
        matrix = 4 * np.eye(inner) + np.eye(inner, k=1) + np.eye(inner, k=-1)
        at_supports[1:-1] = np.linalg.solve(matrix, np.full(inner, -0.5))
    gauss_x, gauss_w = np.polynomial.legendre.leggauss(4)
    sag, square, moment = 0.0, 0.0, float(np.max(np.abs(at_supports)))
    for left, right in pairwise(at_supports):
        bending = np.polynomial.Polynomial([left, right - left + 0.5, -0.5])
        slope = 1 / 24 + left / 3 + right / 6 - bending.integ()
        sags = slope.integ()
        # the slope is a cubic: four points are exact for its square
        square += float(gauss_w @ slope((gauss_x + 1) / 2) ** 2) / 2
        level = np.asarray(slope.roots(), dtype=np.complex128)
        within = level.real[(np.abs(level.imag) < 1e-12) & (level.real > 0) & (level.real < 1)]
        sag = max([sag, *(float(sags(place)) for place in within)])
        moment = max(moment, abs(float(bending(0.5 + right - left))))
    return sag, sqrt(square / (supports - 1)), moment
