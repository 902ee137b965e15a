"""Form of a mirror: ribs bent to a paraboloid or a sphere, and strips of film, straight from rib to rib.

Mirror frame: origin at the vertex, z along the mirror axis (towards the focus), y up the slope of the aperture,
x = y cross z; metres.
"""

from dataclasses import dataclass
from math import asin, asinh, hypot, inf, sqrt
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from studio.errors import BadInputError
from studio.text import _

Floats = NDArray[np.float64]
Surface = Literal["paraboloid", "sphere"]


@dataclass(frozen=True)
class MirrorForm:
    """One mirror: a rectangular aperture, ``width_m`` along x by ``height_m`` along y, over a concave surface.

    ``surface`` is a paraboloid of focal length ``focal_m`` or a sphere of radius twice that. ``ribs`` stand in
    planes x = const, evenly spaced, the first and the last on the edges; between neighbouring ribs the film
    follows straight rulings at equal y. ``tension_ratio`` is the film's tension along the ribs over that across
    them: without pressure T1/R1 + T2/R2 = 0, so a film under tension along concave ribs bulges the wrong way between
    them, with the curvature ratio/(2 f) (R1 taken as 2 f all along, and the flatter ends of a strip left out).
    Raises ``BadInputError`` where no such surface exists.
    """

    surface: Surface
    width_m: float
    height_m: float
    focal_m: float
    ribs: int
    tension_ratio: float = 0.0

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
        corner = hypot(self.width_m, self.height_m) / 2
        if self.surface == "sphere" and corner >= 2 * self.focal_m:
            raise BadInputError(
                _(
                    "The corner of the mirror is {c:.3f} m from its axis, but a sphere of focal length {f:.3f} m "
                    "ends at {r:.3f} m; make the mirror smaller or the focal length longer."
                ).format(c=corner, f=self.focal_m, r=2 * self.focal_m)
            )

    @property
    def strip_width_m(self) -> float:
        """Distance between neighbouring ribs along x."""
        return self.width_m / (self.ribs - 1)

    @property
    def aperture_m2(self) -> float:
        """Area of the opening as seen along the mirror axis."""
        return self.width_m * self.height_m

    @property
    def rib_x_m(self) -> Floats:
        """x of the ribs' planes, (ribs,)."""
        return np.linspace(-self.width_m / 2, self.width_m / 2, self.ribs)


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

    Paraboloid: (x2 + y2)/(4 f). Sphere: R - sqrt(R2 - x2 - y2), R = 2 f, written without cancellation.
    """
    square = np.square(np.asarray(x_m, dtype=float)) + np.square(np.asarray(y_m, dtype=float))
    if form.surface == "paraboloid":
        return np.asarray(square / (4 * form.focal_m))
    radius = 2 * form.focal_m
    return np.asarray(square / (radius + np.sqrt(radius**2 - square)))


def rib_slope(form: MirrorForm, x_m: ArrayLike, y_m: ArrayLike) -> Floats:
    """dz/dy of the rib in the plane x at y (which broadcast)."""
    x, y = np.asarray(x_m, dtype=float), np.asarray(y_m, dtype=float)
    if form.surface == "paraboloid":
        return np.asarray(y / (2 * form.focal_m) + 0 * x)
    return np.asarray(y / np.sqrt((2 * form.focal_m) ** 2 - x**2 - y**2))


def rib_arc_lengths(form: MirrorForm) -> Floats:
    """Length in metres of every rib from edge to edge, (ribs,), exact.

    Parabola: s = h/2 sqrt(1 + u2) + 2 f asinh(u) with u = h/(4 f). Circle of the sphere at x: radius
    r = sqrt(R2 - x2), s = 2 r asin(h/(2 r)).
    """
    if form.surface == "paraboloid":
        u = form.height_m / (4 * form.focal_m)
        return np.full(form.ribs, form.height_m / 2 * sqrt(1 + u * u) + 2 * form.focal_m * asinh(u))
    radii = [sqrt((2 * form.focal_m) ** 2 - x * x) for x in form.rib_x_m]
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
    left = form.rib_x_m[np.asarray(strip)]
    right = left + form.strip_width_m
    t, y = np.asarray(share, dtype=float), np.asarray(y_m, dtype=float)
    z_left, z_right = rib_depth(form, left, y), rib_depth(form, right, y)
    off_middle = (t - 0.5) * form.strip_width_m
    bulge = form.tension_ratio / (2 * form.focal_m)
    dz_dx = (z_right - z_left) / form.strip_width_m - bulge * off_middle
    dz_dy = (1 - t) * rib_slope(form, left, y) + t * rib_slope(form, right, y)
    height = (1 - t) * z_left + t * z_right + bulge / 2 * ((form.strip_width_m / 2) ** 2 - off_middle**2)
    x, y_all, z = np.broadcast_arrays(left + t * form.strip_width_m, y, height)
    position = np.stack([x, y_all, z], axis=-1)
    normal = np.stack(np.broadcast_arrays(-dz_dx, -dz_dy, np.ones_like(z)), axis=-1)
    return position, normal
