"""Form of a mirror: ribs bent to a surface, and strips of film from rib to rib.

Mirror frame: origin at the vertex, z along the mirror axis (towards the focus), y up the slope of the aperture,
x = y cross z; metres.
"""

from dataclasses import dataclass
from itertools import pairwise
from math import asin, asinh, hypot, inf, isfinite, sqrt
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from studio.errors import BadInputError
from studio.text import _

Floats = NDArray[np.float64]
Surface = Literal["paraboloid", "sphere", "circles"]
_AT_THE_EDGE_M = 1e-6


@dataclass(frozen=True)
class MirrorForm:
    """One mirror: a rectangular aperture, ``width_m`` along x by ``height_m`` along y, over a concave surface.

    ``surface``: a paraboloid of focal length ``focal_m``; a sphere of radius twice that; or "circles": every rib the
    same circle of radius 2 ``focal_m``, set out along another of radius 2 ``focal_across_m``. ``focal_across_m`` (None:
    as ``focal_m``) is the focal length in the plane square to the ribs, of a paraboloid too; a sphere has only one.
    ``ribs`` stand in planes x = const, the first and the last on the edges: evenly spaced, or at ``rib_places_m``
    (x of each, rising). Between neighbouring ribs the film follows rulings at equal y, bulged by two curvatures:
    ``tension_ratio`` is the film's tension along the ribs over that across them: without pressure
    T1/R1 + T2/R2 = 0, so a film under tension along concave ribs bulges the wrong way between them, with the curvature
    ratio/(2 f) (R1 taken as 2 f all along). ``pressure_per_m`` is the pressure of wind on the front over the tension
    across, p/T2 in 1/m (Young-Laplace): above 0 it pushes the film back, away from the focus. The flatter zones at a
    strip's two ends, some (strip/pi) sqrt(T1/T2) long, are left out: the bulge runs to the edges.
    Raises ``BadInputError`` where no such surface exists.
    """

    surface: Surface
    width_m: float
    height_m: float
    focal_m: float
    ribs: int
    tension_ratio: float = 0.0
    focal_across_m: float | None = None
    rib_places_m: tuple[float, ...] = ()
    pressure_per_m: float = 0.0

    def __post_init__(self) -> None:
        if not all(0 < length < inf for length in (self.width_m, self.height_m, self.focal_m)):
            raise BadInputError(
                _(
                    "A mirror's width, height and focal length must be above 0 m; found {w}, {h} and {f} m."
                ).format(w=self.width_m, h=self.height_m, f=self.focal_m)
            )
        if self.ribs < 2:
            raise BadInputError(_("A mirror needs at least 2 ribs; found {n}.").format(n=self.ribs))
        if not 0 <= self.tension_ratio < inf:
            raise BadInputError(
                _("The ratio of the film's tensions must not be below 0; found {ratio}.").format(
                    ratio=self.tension_ratio
                )
            )
        if not isfinite(self.pressure_per_m):
            raise BadInputError(
                _("The wind's pressure over the film's tension must be a number; found {p} per m.").format(
                    p=self.pressure_per_m
                )
            )
        if not 0 < self.across_m < inf:
            raise BadInputError(
                _("The focal length across the ribs must be above 0 m; found {f} m.").format(f=self.across_m)
            )
        self._refuse_rib_places()
        self._refuse_beyond_the_surface()

    def _refuse_rib_places(self) -> None:
        places = self.rib_places_m
        if not places:
            return
        if len(places) != self.ribs:
            raise BadInputError(
                _("{places} places are given for {ribs} ribs; give one for each.").format(
                    places=len(places), ribs=self.ribs
                )
            )
        if not all(low < high for low, high in pairwise(places)):
            raise BadInputError(_("The places of the ribs must rise from the left edge to the right one."))
        edge = self.width_m / 2
        if abs(places[0] + edge) > _AT_THE_EDGE_M or abs(places[-1] - edge) > _AT_THE_EDGE_M:
            raise BadInputError(
                _(
                    "The first and the last rib stand on the mirror's edges, at {low} and {high} m; "
                    "found {first} and {last} m."
                ).format(low=-edge, high=edge, first=places[0], last=places[-1])
            )

    def _refuse_beyond_the_surface(self) -> None:
        if self.surface == "sphere":
            if self.across_m != self.focal_m:
                raise BadInputError(
                    _(
                        "A sphere has one focal length; found {f} m along the ribs and {a} m across them. "
                        "Choose a paraboloid or circles for two."
                    ).format(f=self.focal_m, a=self.across_m)
                )
            corner = hypot(self.width_m, self.height_m) / 2
            if corner >= 2 * self.focal_m:
                raise BadInputError(
                    _(
                        "The corner of the mirror is {c:.3f} m from its axis, but a sphere of focal length {f:.3f} m "
                        "ends at {r:.3f} m; make the mirror smaller or the focal length longer."
                    ).format(c=corner, f=self.focal_m, r=2 * self.focal_m)
                )
        if self.surface == "circles":
            for half, focal in ((self.height_m / 2, self.focal_m), (self.width_m / 2, self.across_m)):
                if half >= 2 * focal:
                    raise BadInputError(
                        _(
                            "The edge of the mirror is {c:.3f} m from its axis, but a circle of focal length {f:.3f} m "
                            "ends at {r:.3f} m; make the mirror smaller or the focal length longer."
                        ).format(c=half, f=focal, r=2 * focal)
                    )

    @property
    def across_m(self) -> float:
        """Focal length in the plane square to the ribs."""
        return self.focal_m if self.focal_across_m is None else self.focal_across_m

    @property
    def strip_widths_m(self) -> Floats:
        """Distance between neighbouring ribs along x, (ribs - 1,)."""
        if self.rib_places_m:
            return np.diff(self.rib_places_m)
        return np.full(self.ribs - 1, self.width_m / (self.ribs - 1))

    @property
    def strip_width_m(self) -> float:
        """Width of the widest strip; of all of them where the ribs are evenly spaced."""
        return float(np.max(self.strip_widths_m))

    @property
    def bulge_per_m(self) -> float:
        """Curvature in 1/m of the film between ribs; above 0 its middle stands out towards the focus."""
        return self.tension_ratio / (2 * self.focal_m) - self.pressure_per_m

    @property
    def sunk_m(self) -> float:
        """How far at most, in m, wind presses the film behind the ribs' surface; flat strips lie before it."""
        return max(-self.bulge_per_m - 1 / (2 * self.across_m), 0.0) * self.strip_width_m**2 / 8

    @property
    def aperture_m2(self) -> float:
        """Area of the opening as seen along the mirror axis."""
        return self.width_m * self.height_m

    @property
    def rib_x_m(self) -> Floats:
        """x of the ribs' planes, (ribs,)."""
        if self.rib_places_m:
            return np.array(self.rib_places_m)
        return np.linspace(-self.width_m / 2, self.width_m / 2, self.ribs)

    @property
    def steepest(self) -> float:
        """Steepest slope of the surface (its gradient at the corners); no chord between two of its points is steeper."""
        half_width, half_height = self.width_m / 2, self.height_m / 2
        radius_x, radius_y = 2 * self.across_m, 2 * self.focal_m
        if self.surface == "paraboloid":
            return hypot(half_width / radius_x, half_height / radius_y)
        if self.surface == "circles":
            return hypot(
                half_width / sqrt(radius_x**2 - half_width**2),
                half_height / sqrt(radius_y**2 - half_height**2),
            )
        corner = hypot(half_width, half_height)
        return corner / sqrt(radius_y**2 - corner**2)


@dataclass(frozen=True)
class Errors:
    """What widens the spot, each as RMS per axis in mrad: the sun's disc, the film's scatter, the surface's slope.

    The RMS per axis of a uniform disc is half its radius (4.65 mrad: 2.325 mrad).
    """

    sun_mrad: float = 2.325
    scatter_mrad: float = 1.8
    slope_mrad: float = 5.0

    def __post_init__(self) -> None:
        parts = (self.sun_mrad, self.scatter_mrad, self.slope_mrad)
        if not all(0 <= part < inf for part in parts) or self.blur_mrad <= 0:
            raise BadInputError(
                _(
                    "Sun, scatter and slope error must not be below 0 mrad, and one of them above; "
                    "found {sun}, {scatter} and {slope} mrad."
                ).format(sun=self.sun_mrad, scatter=self.scatter_mrad, slope=self.slope_mrad)
            )

    @property
    def blur_mrad(self) -> float:
        """RMS per axis of all three at normal incidence; a slope error turns the ray by twice its size.

        Bendt, Rabl, Gaul & Reed, SERI/TR-34-092 (1979).
        """
        return sqrt(self.sun_mrad**2 + self.scatter_mrad**2 + 4 * self.slope_mrad**2)

    @property
    def gaussian_sun_serves(self) -> bool:
        """Whether the blur of scatter and slope, 2 mrad per axis or more, hides that the sun is a disc."""
        return hypot(self.scatter_mrad, 2 * self.slope_mrad) >= 2.0


@dataclass(frozen=True)
class Window:
    """The opening of a receiver: ``width_m`` along the line, ``height_m`` across it.

    ``acceptance_deg`` is the half-angle about the window's normal within which light may enter.
    """

    width_m: float
    height_m: float
    acceptance_deg: float

    def __post_init__(self) -> None:
        sides = (self.width_m, self.height_m)
        if not (all(0 < side < inf for side in sides) and 0 < self.acceptance_deg <= 90):
            raise BadInputError(
                _(
                    "A window needs a width and a height above 0 m and an acceptance above 0 and up to 90 degrees; "
                    "found {w} m, {h} m and {a} degrees."
                ).format(w=self.width_m, h=self.height_m, a=self.acceptance_deg)
            )


def rib_depth(form: MirrorForm, x_m: ArrayLike, y_m: ArrayLike) -> Floats:
    """Height z in metres of the ideal surface over the vertex at x, y (which broadcast).

    Paraboloid: x2/(4 f across) + y2/(4 f). Sphere: R - sqrt(R2 - x2 - y2), R = 2 f, written without cancellation.
    Circles: the same for x and for y alone, added.
    """
    x_square, y_square = np.square(np.asarray(x_m, dtype=float)), np.square(np.asarray(y_m, dtype=float))
    if form.surface == "paraboloid":
        return np.asarray((x_square * (form.focal_m / form.across_m) + y_square) / (4 * form.focal_m))
    if form.surface == "circles":
        return _circle_depth(2 * form.across_m, x_square) + _circle_depth(2 * form.focal_m, y_square)
    return _circle_depth(2 * form.focal_m, x_square + y_square)


def _circle_depth(radius: float, square: Floats) -> Floats:
    return np.asarray(square / (radius + np.sqrt(radius**2 - square)))


def rib_slope(form: MirrorForm, x_m: ArrayLike, y_m: ArrayLike) -> Floats:
    """dz/dy of the rib in the plane x at y (which broadcast)."""
    x, y = np.asarray(x_m, dtype=float), np.asarray(y_m, dtype=float)
    if form.surface == "paraboloid":
        return np.asarray(y / (2 * form.focal_m) + 0 * x)
    if form.surface == "circles":
        return np.asarray(y / np.sqrt((2 * form.focal_m) ** 2 - y**2) + 0 * x)
    return np.asarray(y / np.sqrt((2 * form.focal_m) ** 2 - x**2 - y**2))


def rib_arc_lengths(form: MirrorForm) -> Floats:
    """Length in metres of every rib from edge to edge, (ribs,), exact.

    Parabola: s = h/2 sqrt(1 + u2) + 2 f asinh(u) with u = h/(4 f). Circle: s = 2 r asin(h/(2 r)), with r = 2 f, or on
    the sphere at x r = sqrt(R2 - x2).
    """
    if form.surface == "paraboloid":
        u = form.height_m / (4 * form.focal_m)
        return np.full(form.ribs, form.height_m / 2 * sqrt(1 + u * u) + 2 * form.focal_m * asinh(u))
    bowed = 1.0 if form.surface == "sphere" else 0.0
    radii = [sqrt((2 * form.focal_m) ** 2 - bowed * x * x) for x in form.rib_x_m]
    return np.array([2 * r * asin(form.height_m / (2 * r)) for r in radii])


def edge_depth(form: MirrorForm) -> float:
    """Height in metres of the mirror's corners over its vertex."""
    return float(rib_depth(form, form.width_m / 2, form.height_m / 2))


def strip_points(
    form: MirrorForm, strip: ArrayLike, share: ArrayLike, y_m: ArrayLike
) -> tuple[Floats, Floats]:
    """Points on the film and its upward normals there.

    ``strip`` counts from 0 at the edge x = -width/2, ``share`` (0..1) goes from the strip's left rib to its right
    one, ``y_m`` up the slope; all broadcast to one shape S. Returns positions (S, 3) in metres and normals
    (S, 3), not of unit length: (-dz/dx, -dz/dy, 1), so that the normal's dot product with the sun, times an area
    in the x-y plane, is the area that the sun sees.
    """
    left, width = form.rib_x_m[np.asarray(strip)], form.strip_widths_m[np.asarray(strip)]
    right = left + width
    t, y = np.asarray(share, dtype=float), np.asarray(y_m, dtype=float)
    z_left, z_right = rib_depth(form, left, y), rib_depth(form, right, y)
    off_middle = (t - 0.5) * width
    bulge = form.bulge_per_m
    dz_dx = (z_right - z_left) / width - bulge * off_middle
    dz_dy = (1 - t) * rib_slope(form, left, y) + t * rib_slope(form, right, y)
    height = (1 - t) * z_left + t * z_right + bulge / 2 * ((width / 2) ** 2 - off_middle**2)
    x, y_all, z = np.broadcast_arrays(left + t * width, y, height)
    position = np.stack([x, y_all, z], axis=-1)
    normal = np.stack(np.broadcast_arrays(-dz_dx, -dz_dy, np.ones_like(z)), axis=-1)
    return position, normal
