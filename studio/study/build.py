"""Stage: what one mirror is built from: its rods, its film, and the slope error that follows from both.

All of it depends on the mirror and the rod's diameter alone and is kept by them.
"""

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from math import copysign, sqrt

import numpy as np

from studio.design.design import Design
from studio.design.mirror import Mirror
from studio.engine.mirror.film import (
    POLYESTER,
    FilmStress,
    FilmStuff,
    StripShape,
    Tension,
    Wrinkling,
    dynamic_pressure_pa,
    end_zone_m,
    film_stress,
    rib_lift_n_m,
    strip_in_wind,
    strip_shape,
    tension_when_warmer,
    wrinkling,
)
from studio.engine.mirror.form import MirrorForm, rib_arc_lengths
from studio.engine.mirror.rods import (
    MILD_STEEL,
    Bow,
    RadiusScatter,
    RibBending,
    RodStuff,
    end_rib_bow,
    radius_scatter,
    radius_to_bend_to_m,
    rib_bending,
    rib_bow,
)
from studio.engine.mirror.workmanship import Workmanship, combined_slope_mrad, workmanship_table
from studio.study.assessment import Array
from studio.study.place import form_of

PULLED_AT_C = 20.0
"""Film and rods while the film is pulled, in a workshop (common practice, no source)."""
AT_WORK_C = 35.0
"""Film and rods in the sun, 10 K above air of 25 degC: the year's light is reckoned at it (a guess)."""
COLD_C, HOT_C = -10.0, 50.0
"""Film and rods on a clear winter night, and in summer's sun and calm at 40 degC in the air (guesses)."""

YIELD_SCATTER_SHARE = MILD_STEEL.yield_scatter_pa / MILD_STEEL.yield_pa


@dataclass(frozen=True)
class RibBuild:
    """One rib, in the plane ``x_m`` of the mirror.

    ``radius_m`` is that of its middle, the tightest; a parabola ends at ``radius_at_ends_m``. A straight rod is bent to
    ``bending.bend_to_m`` at the middle and ``bend_to_at_ends_m`` at the ends, or sprung (``bending.hold_n_m``).
    ``scatter`` is of rods bent alike and ``tip_scatter_m`` where it puts their ends (one standard deviation). ``bow``
    is what the film's lift does between the rib's holds, ``bow_in_wind`` with the mirror's wind on its face.
    """

    x_m: float
    arc_m: float
    radius_m: float
    radius_at_ends_m: float
    bending: RibBending
    bend_to_at_ends_m: float
    scatter: RadiusScatter
    tip_scatter_m: float
    bow: Bow
    bow_in_wind: Bow


@dataclass(frozen=True)
class FilmBuild:
    """The film of a mirror, its widest strip.

    ``calm`` is the strip in still air (the saddle), ``in_wind`` with the mirror's wind on its face. ``cold`` and ``hot`` are
    the tensions at ``COLD_C`` and ``HOT_C``; ``at_work`` and ``when_hot`` tell of wrinkles. ``slack_above_c`` is where one
    direction has lost its pull (None: never). ``yield_share`` is the largest stress over yield of: as pulled, cold, in
    wind. ``racking_mm_per_m``: how far the frame may be racked out of square, once the film is on, before the film
    wrinkles (see ``racking_allowed``). ``clip_n_m`` is what lifts the film off a metre of the ribs, ``clip_in_wind_n_m`` the
    same with the mirror's wind on its back; end ribs bear half.
    """

    stuff: FilmStuff
    pulled: Tension
    stress: FilmStress
    yield_share: float
    calm: StripShape
    in_wind: StripShape
    end_zone_m: float
    cold: Tension
    hot: Tension
    at_work: Wrinkling
    when_hot: Wrinkling
    slack_above_c: float | None
    racking_mm_per_m: float
    clip_n_m: float
    clip_in_wind_n_m: float

    @property
    def tension_ratio(self) -> float:
        """T1/T2."""
        return self.pulled.along_n_m / self.pulled.across_n_m


@dataclass(frozen=True)
class MirrorBuild:
    """Every number to build a mirror from. Slopes are mrad RMS per axis.

    ``slope_error_total_mrad`` is what the optics takes: the workmanship that the person gave, the ribs' bow and the
    film's wrinkles. ``end_rib`` is the bow of an end rib inward. ``span_m`` is the arc from hold to hold; ``workmanship`` what
    workmanship gives what slope here.
    """

    rod: RodStuff
    rod_diameter_m: float
    ribs: tuple[RibBuild, ...]
    span_m: float
    end_rib: Bow
    film: FilmBuild
    bow_slope_mrad: float
    wrinkle_slope_mrad: float
    slope_error_total_mrad: float
    workmanship: tuple[Workmanship, ...]

    @property
    def middle(self) -> RibBuild:
        """The middle rib."""
        return self.ribs[len(self.ribs) // 2]

    @property
    def tightest(self) -> RibBuild:
        """The rib of the least radius: where its rod stays elastic, every rib's does."""
        return min(self.ribs, key=lambda rib: rib.radius_m)


def mirror_build(design: Design) -> MirrorBuild:
    """What a design's mirrors are built from."""
    return build_of(design.mirror, design.materials.rod_mm)


@lru_cache(maxsize=64)
def build_of(mirror: Mirror, rod_mm: float) -> MirrorBuild:
    """As ``mirror_build``, from what it depends on."""
    form, rod, diameter = form_of(mirror), rod_of(mirror), rod_mm / 1000
    arcs = rib_arc_lengths(form)
    span = float(np.max(arcs)) / (mirror.rib_holds - 1)
    calm, windy = _rib_bows(mirror, diameter, 0.0), _rib_bows(mirror, diameter, _wind_pa(mirror))
    ribs = tuple(
        _rib(form, rod, diameter, float(x), float(arc), bow, in_wind)
        for x, arc, bow, in_wind in zip(form.rib_x_m, arcs, calm, windy, strict=True)
    )
    slope = slope_of(mirror, rod_mm)
    return MirrorBuild(
        rod=rod,
        rod_diameter_m=diameter,
        ribs=ribs,
        span_m=span,
        end_rib=end_rib(mirror, rod_mm, holds=mirror.rib_holds),
        film=_film(mirror, form),
        bow_slope_mrad=slope.bow_mrad,
        wrinkle_slope_mrad=slope.wrinkles_mrad,
        slope_error_total_mrad=slope.total_mrad,
        workmanship=workmanship_table(strip_width_m=form.strip_width_m, held_every_m=span),
    )


@dataclass(frozen=True)
class Slope:
    """A mirror's slope error and what building adds to the person's own, in mrad RMS per axis."""

    bow_mrad: float
    wrinkles_mrad: float
    total_mrad: float


@lru_cache(maxsize=1024)
def slope_of(mirror: Mirror, rod_mm: float) -> Slope:
    """The slope error that the optics takes: workmanship, the ribs' bow in the working wind, wrinkles at ``AT_WORK_C``.

    Bow and wrinkles turn the surface one way only (along the ribs; square to the crests): per axis they are taken as
    one over the root of two of it, the same sum of squares. Both are taken as independent of the rest.
    """
    bow = _bow_slope(form_of(mirror), _rib_bows(mirror, rod_mm / 1000, _wind_pa(mirror))) / sqrt(2)
    wrinkles = wrinkles_at(mirror, AT_WORK_C).slope_rms_mrad / sqrt(2)
    return Slope(bow, wrinkles, combined_slope_mrad(mirror.slope_error_mrad, bow, wrinkles))


def rod_of(mirror: Mirror) -> RodStuff:
    """The ribs' steel; its yield scatters by the same share as that of plain bar."""
    yield_pa = mirror.rib_yield_mpa * 1e6
    return RodStuff(yield_pa=yield_pa, yield_scatter_pa=YIELD_SCATTER_SHARE * yield_pa)


def film_of(mirror: Mirror) -> FilmStuff:
    """The mirror's film: polyester of its thickness."""
    return replace(POLYESTER, thickness_m=mirror.film_um * 1e-6)


def pulled_of(mirror: Mirror) -> Tension:
    """The film's tension as it was pulled."""
    return Tension(mirror.pull_along_n_m, mirror.pull_across_n_m)


def tension_at(mirror: Mirror, temperature_c: float) -> Tension:
    """The film's tension with film and rods at ``temperature_c``.

    A film that was not pulled along the ribs at all is taken as free to slip that way: it then gains and loses
    E t (alpha_film - alpha_rod) dT across alone, as if Poisson's ratio were 0.
    """
    film, pulled, warmer = film_of(mirror), pulled_of(mirror), temperature_c - PULLED_AT_C
    if pulled.along_n_m:
        return tension_when_warmer(film, pulled, warmer_k=warmer)
    free = tension_when_warmer(replace(film, poisson=0.0), pulled, warmer_k=warmer)
    return Tension(0.0, free.across_n_m)


def wrinkles_at(mirror: Mirror, temperature_c: float) -> Wrinkling:
    """Whether the film lies taut in a square frame at ``temperature_c``."""
    return wrinkling(film_of(mirror), tension_at(mirror, temperature_c))


def end_rib(mirror: Mirror, rod_mm: float, *, holds: int) -> Bow:
    """An end rib drawn inward by the film, held at ``holds`` places, its ends among them."""
    return end_rib_bow(
        pulled_of(mirror),
        arc_m=float(rib_arc_lengths(form_of(mirror))[0]),
        spreaders=holds - 2,
        diameter_m=rod_mm / 1000,
        rod=rod_of(mirror),
    )


def racking_allowed(film: FilmStuff, tension: Tension) -> float:
    """Angle in mrad (mm per m) by which the frame may leave the square before a film of ``tension`` wrinkles.

    The least principal tension is 0 where the shear, G t times the angle, is sqrt(T1 T2); G = E/(2 (1 + nu)).
    """
    shear_n_m = film.modulus_pa * film.thickness_m / (2 * (1 + film.poisson))
    return 1000 * sqrt(max(tension.along_n_m, 0.0) * max(tension.across_n_m, 0.0)) / shear_n_m


def _wind_pa(mirror: Mirror) -> float:
    return dynamic_pressure_pa(mirror.wind_on_film_m_s)


def _radius(form: MirrorForm, x_m: float, y_m: float) -> float:
    """Radius of a rib's curve in its own plane: of a parabola 2 f (1 + (y/(2 f))2)^1.5, of a sphere sqrt(R2 - x2)."""
    radius = 2 * form.focal_m
    if form.surface == "paraboloid":
        return float(radius * (1 + (y_m / radius) ** 2) ** 1.5)
    return sqrt(radius**2 - x_m**2) if form.surface == "sphere" else radius


def _rib(
    form: MirrorForm, rod: RodStuff, diameter_m: float, x_m: float, arc_m: float, bow: Bow, in_wind: Bow
) -> RibBuild:
    middle, ends = _radius(form, x_m, 0.0), _radius(form, x_m, form.height_m / 2)
    scatter = radius_scatter(middle, arc_m=arc_m, diameter_m=diameter_m, rod=rod)
    return RibBuild(
        x_m=x_m,
        arc_m=arc_m,
        radius_m=middle,
        radius_at_ends_m=ends,
        bending=rib_bending(middle, diameter_m=diameter_m, rod=rod),
        bend_to_at_ends_m=radius_to_bend_to_m(ends, diameter_m=diameter_m, rod=rod),
        scatter=scatter,
        # an arc whose curvature is off by c leaves its curve by c s2/2 at the distance s from its middle
        tip_scatter_m=scatter.radius_m / middle**2 * (arc_m / 2) ** 2 / 2,
        bow=bow,
        bow_in_wind=in_wind,
    )


def _rib_bows(mirror: Mirror, diameter_m: float, pressure_pa: float) -> tuple[Bow, ...]:
    """Every rib under half of the strips at its two sides."""
    form, rod, tension = form_of(mirror), rod_of(mirror), pulled_of(mirror)
    strips = form.strip_widths_m
    borne = (np.append(strips, 0.0) + np.insert(strips, 0, 0.0)) / 2
    return tuple(
        rib_bow(
            tension,
            rib_radius_m=_radius(form, float(x), 0.0),
            strip_width_m=float(width),
            arc_m=float(arc),
            stands=mirror.rib_holds,
            diameter_m=diameter_m,
            rod=rod,
            pressure_pa=pressure_pa,
        )
        for x, width, arc in zip(form.rib_x_m, borne, rib_arc_lengths(form), strict=True)
    )


def _bow_slope(form: MirrorForm, bows: tuple[Bow, ...]) -> float:
    """RMS over the film (mrad, along the ribs) of the slope that the ribs' bow gives it.

    Bows are alike but for their size, and the film goes straight from rib to rib: between sizes a and b the mean square is
    (a2 + a b + b2)/3.
    """
    slopes = [copysign(bow.slope_rms_mrad, bow.sag_m) for bow in bows]
    squares: Array = np.array([(a * a + a * b + b * b) / 3 for a, b in pairwise(slopes)])
    return float(np.sqrt(np.average(squares, weights=form.strip_widths_m)))


def _film(mirror: Mirror, form: MirrorForm) -> FilmBuild:
    film, pulled, pressure = film_of(mirror), pulled_of(mirror), _wind_pa(mirror)
    radius, width = 2 * form.focal_m, form.strip_width_m
    in_wind = strip_in_wind(film, pulled, rib_radius_m=radius, strip_width_m=width, pressure_pa=pressure)
    cold, hot = tension_at(mirror, COLD_C), tension_at(mirror, HOT_C)
    stresses = [film_stress(film, tension) for tension in (pulled, cold, in_wind.tension)]
    return FilmBuild(
        stuff=film,
        pulled=pulled,
        stress=stresses[0],
        yield_share=max(1 - min(stress.margin_along, stress.margin_across) for stress in stresses),
        calm=strip_shape(pulled, rib_radius_m=radius, strip_width_m=width),
        in_wind=in_wind,
        end_zone_m=end_zone_m(pulled, strip_width_m=width),
        cold=cold,
        hot=hot,
        at_work=wrinkling(film, tension_at(mirror, AT_WORK_C)),
        when_hot=wrinkling(film, hot),
        slack_above_c=_slack_above_c(pulled, hot),
        racking_mm_per_m=racking_allowed(film, pulled),
        clip_n_m=rib_lift_n_m(pulled, rib_radius_m=radius, strip_width_m=width),
        clip_in_wind_n_m=rib_lift_n_m(
            pulled, rib_radius_m=radius, strip_width_m=width, pressure_pa=-pressure
        ),
    )


def _slack_above_c(pulled: Tension, hot: Tension) -> float | None:
    """Where the first direction that loses pull has none left: the loss goes with the temperature."""
    pairs = ((pulled.along_n_m, hot.along_n_m), (pulled.across_n_m, hot.across_n_m))
    at = [
        PULLED_AT_C + (HOT_C - PULLED_AT_C) * before / (before - then)
        for before, then in pairs
        if before > then
    ]
    return min(at) if at else None
