"""What the light of one sun does on a mirror as it is drawn: single rays on a cut, and the share of every patch of film."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.blockers import Blocker
from studio.engine.mirror.cone import WindowFrames, acceptance, blurs, landings, rectangle_share
from studio.engine.mirror.form import Errors, MirrorForm, Window, strip_points
from studio.engine.mirror.points import Points

Array = NDArray[np.float64]
_CURVE = 97
_PATCHES_ACROSS, _PATCHES_ALONG = 5, 28
_FROM_SUN = 2.4
"""A ray is drawn from this many focal lengths before the film on."""


@dataclass(frozen=True, eq=False)
class DrawnRay:
    """A central ray: (2, 2) from the sun to where it is stopped or meets the film, and (2, 2) on from there.

    ``onward`` ends at the window's plane, and is None where gear takes the ray before the film. ``reaches``: it enters
    the window within its acceptance.
    """

    inward: Array
    onward: Array | None
    reaches: bool


@dataclass(frozen=True)
class LitFilm:
    """The film of a mirror, and its window in ``frame``; mirror frame. Suns (3,) point to the sun."""

    form: MirrorForm
    errors: Errors
    window: Window
    frame: WindowFrames

    def _reach(self, way: Array) -> float:
        """From the vertex to the aperture's edge along a direction in its plane."""
        half = np.array([self.form.width_m, self.form.height_m]) / 2
        steep = np.abs(way[:2])
        return float(np.min(half / np.maximum(steep, 1e-9)))

    def film_at(self, x: Array, y: Array) -> tuple[Array, Array]:
        """Points (N, 3) of the film and unit normals there."""
        strip = np.clip(np.searchsorted(self.form.rib_x_m, x, side="right") - 1, 0, self.form.ribs - 2)
        share = (x - self.form.rib_x_m[strip]) / self.form.strip_widths_m[strip]
        position, normal = strip_points(self.form, strip, share, y)
        return position, normal / np.linalg.norm(normal, axis=1, keepdims=True)

    def section(self, way: Array, *, off_m: float = 0.0) -> Array:
        """The film (n, 3) cut through the vertex along ``way``; with ``off_m`` the edge of the aperture beside it."""
        reach = self._reach(way)
        at = np.linspace(-reach, reach, _CURVE)
        x, y = at * way[0], at * way[1]
        if off_m:
            x = np.clip(x + abs(way[1]) * self.form.width_m / 2, None, self.form.width_m / 2)
            y = np.clip(y + abs(way[0]) * self.form.height_m / 2, None, self.form.height_m / 2)
        return self.film_at(x, y)[0]

    def cut_points(self, way: Array, count: int) -> Points:
        """Points of the film along a cut, as the cone way takes them."""
        reach = self._reach(way) * (1 - 1 / count)
        at = np.linspace(-reach, reach, count)
        return self.points_at(at * way[0], at * way[1])

    def points_at(self, x: Array, y: Array) -> Points:
        """Points of the film over places (N,) of the aperture, as the cone way takes them."""
        position, normal = self.film_at(x, y)
        return Points(
            position=position,
            normal=normal,
            area=np.ones(len(x)),
            patch=np.zeros((2, len(x), 3)),
            form=self.form,
        )

    # light -----------------------------------------------------------------------------------------------------

    def rays(
        self, points: Points, sun: Array | None, blockers: tuple[Blocker, ...], see: Array
    ) -> tuple[DrawnRay, ...]:
        if sun is None:
            return ()
        landing = landings(points, sun[None, :], self.frame)
        half_u, half_v = self.window.width_m / 2, self.window.height_m / 2
        takes = (np.abs(landing.u[0]) <= half_u) & (np.abs(landing.v[0]) <= half_v)
        takes &= (landing.light[0] > 0) & (landing.front[0] > np.cos(np.radians(self.window.acceptance_deg)))
        reflected = 2 * landing.cosine[0][:, None] * points.normal - sun
        back = landing.light[0] <= 0
        reach = np.where(back | (landing.reach[0] <= 0), self.form.focal_m, landing.reach[0])
        from_sun = _FROM_SUN * self.form.focal_m
        ends = points.position + reach[:, None] * reflected
        stopped = np.full(len(points), -np.inf)
        for body in blockers:
            first, last = body.between(points.position, np.broadcast_to(sun, points.position.shape))
            stopped = np.where((first < last) & (first > 0), np.maximum(stopped, last), stopped)
        found = []
        for place, start in enumerate(points.position):
            far = start + from_sun * sun
            shaded = bool(np.isfinite(stopped[place]))
            foot = start + min(float(stopped[place]), from_sun) * sun if shaded else start
            found.append(
                DrawnRay(
                    inward=np.stack([far, foot]) @ see,
                    onward=None if shaded else np.stack([start, ends[place]]) @ see,
                    reaches=bool(takes[place]) and not shaded,
                )
            )
        return tuple(found)

    def patch_shares(self, sun: Array | None) -> Array:
        """Share of the light of patches of every strip that the window takes, by the cone way."""
        form = self.form
        shape = (form.ribs - 1, _PATCHES_ALONG, _PATCHES_ACROSS)
        if sun is None:
            return np.full(shape, np.nan)
        across = (np.arange(_PATCHES_ACROSS) + 0.5) / _PATCHES_ACROSS
        along = ((np.arange(_PATCHES_ALONG) + 0.5) / _PATCHES_ALONG - 0.5) * form.height_m
        x = form.rib_x_m[:-1, None, None] + across * form.strip_widths_m[:, None, None]
        x, y = np.broadcast_arrays(x, along[None, :, None])
        points = self.points_at(x.ravel(), y.ravel())
        landing = landings(points, sun[None, :], self.frame)
        blur = blurs(landing, self.errors)
        share = rectangle_share(
            landing.u,
            landing.v,
            blur,
            half_width=self.window.width_m / 2,
            half_height=self.window.height_m / 2,
        )
        share = share * acceptance(landing, blur, self.window.acceptance_deg) * (landing.light > 0)
        return np.asarray(share.reshape(shape))
