"""The cone way: central rays of points on the film, each with its error ellipse on the window's plane.

For every sun one window. Axes of a window: ``along`` (its width, the line's e), ``across`` (its height) and
``forward``, the way light goes in, square to both; along x across = forward. Suns point from mirror to sun.
Suns are worked through in blocks, so that the arrays stay in the processor's cache.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, radians

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.favour import TERMS, products
from studio.engine.mirror.form import Errors, Floats, MirrorForm, Window, rib_depth
from studio.engine.mirror.normal import normal_below, quick_below
from studio.engine.mirror.points import Points, points_by_sun

_BLOCK = 64_000
_ORDERS = 3
"""Terms of the tetrachoric series: exact to 1e-3 for one ray of correlation 0.4, to 1e-5 for a whole spot, over which
the terms cancel."""
_TINY = 1e-12
_TINY_SHARE = 1e-5
_FAR = 4.0
_WIDE_PATCH = 2.0
"""How many standard deviations of a ray's angle, and RMS sizes of a patch at the focal length, an edge may be off and still
matter."""


@dataclass(frozen=True)
class WindowFrames:
    """Windows for S suns in the mirror frame: ``centre`` (S, 3) in m, unit ``along`` (3,), unit ``forward`` (S, 3)."""

    centre: Floats
    along: Floats
    forward: Floats

    @property
    def across(self) -> Floats:
        """forward x along, (S, 3)."""
        x, y, z = self.along
        return np.asarray(self.forward @ np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]]))

    def __getitem__(self, rows: slice | NDArray[np.intp]) -> "WindowFrames":
        return WindowFrames(self.centre[rows], self.along, self.forward[rows])


@dataclass(frozen=True)
class Shares:
    """For S suns, (S,) each: light inside the window's rectangle from the front, and of it what is accepted.

    Both are shares (0..1) of all light that the mirror reflects; ``u_m`` and ``v_m`` are the centre of the spot on
    the window's plane, along and across from the window's centre, NaN where no light arrives. ``over`` (S, TERMS): how
    accepted light lies over the aperture (:mod:`studio.engine.mirror.favour`).
    """

    into_window: Floats
    accepted: Floats
    u_m: Floats
    v_m: Floats
    over: Floats


@dataclass(frozen=True)
class Landing:
    """Central rays of P points under S suns, all (S, P), in the window's axes.

    ``u``, ``v``: where they meet the window's plane; ``reach``: how far they went, in m; ``ray_a``, ``ray_b``: their
    run along and across per run forward; ``front``: cosine to forward; ``normal_a/b/f``: the film's unit normal in
    the window's axes; ``cosine`` of incidence on the film; ``light``: area that the sun sees and whose ray meets the
    window's plane from the front, ``total`` (S,): area that the sun sees.
    """

    u: Floats
    v: Floats
    reach: Floats
    ray_a: Floats
    ray_b: Floats
    front: Floats
    normal_a: Floats
    normal_b: Floats
    normal_f: Floats
    cosine: Floats
    light: Floats
    total: Floats


@dataclass(frozen=True)
class Blur:
    """Spread of every central ray, (S, P): standard deviations on the window's plane in m, their correlation,

    and the standard deviation of the cosine to the window's normal."""

    u: Floats
    v: Floats
    correlation: Floats
    front: Floats


def blocks(suns: int, points: int) -> Iterator[slice]:
    """Slices of suns whose arrays over all points fit the processor's cache."""
    step = max(1, _BLOCK // points)
    return (slice(first, first + step) for first in range(0, suns, step))


def landings(points: Points, suns: Floats, frames: WindowFrames) -> Landing:
    """Where the central ray of every point meets the window's plane, by the law of reflection r = 2 (n.s) n - s.

    Points that face away from the sun, or whose sun stands below the mirror's own rim, give no light.
    """
    across = frames.across
    cosine = suns @ points.normal.T
    normal_a = (points.normal @ frames.along)[None, :]
    normal_b = across @ points.normal.T
    normal_f = frames.forward @ points.normal.T
    twice = 2 * cosine
    # in place from here on: the arrays are many, the cache is small
    front = twice * normal_f
    front -= np.sum(suns * frames.forward, axis=1)[:, None]
    safe = np.maximum(front, 1e-3)
    ray_a = twice * normal_a
    ray_a -= (suns @ frames.along)[:, None]
    ray_a /= safe
    ray_b = np.multiply(twice, normal_b, out=twice)
    ray_b -= np.sum(suns * across, axis=1)[:, None]
    ray_b /= safe
    ahead = np.sum(frames.centre * frames.forward, axis=1)[:, None] - frames.forward @ points.position.T
    u = (points.position @ frames.along)[None, :] - (frames.centre @ frames.along)[:, None]
    u += ahead * ray_a
    v = across @ points.position.T
    v -= np.sum(frames.centre * across, axis=1)[:, None]
    v += ahead * ray_b
    seen = np.maximum(cosine, 0.0)
    seen *= points.area
    _clear_of_own_rim(points, suns, seen)
    light = np.where((front > 1e-3) & (ahead > 0), seen, 0.0)
    reach = np.divide(ahead, safe, out=ahead)
    return Landing(
        u, v, reach, ray_a, ray_b, front, normal_a, normal_b, normal_f, cosine, light, np.sum(seen, axis=1)
    )


def _clear_of_own_rim(points: Points, suns: Floats, seen: Floats) -> None:
    """Set ``seen`` to 0, in place, where the way to the sun leaves the aperture below the film's edge.

    The surface is convex along any way, so the way is clear if it is above the film where it leaves the aperture.
    """
    form = points.form
    low = np.flatnonzero(suns[:, 2] < form.steepest * np.hypot(suns[:, 0], suns[:, 1]))
    for row in low:
        toward = suns[row, :2]
        edge = np.copysign([form.width_m / 2, form.height_m / 2], toward)
        out = np.min(
            (edge - points.position[:, :2]) / np.where(toward == 0, np.copysign(_TINY, toward), toward),
            axis=1,
        )
        leaves = points.position + out[:, None] * suns[row]
        seen[row, leaves[:, 2] < rib_depth(form, leaves[:, 0], leaves[:, 1]) - form.sunk_m - 1e-9] = 0.0


def blurs(landing: Landing, errors: Errors) -> Blur:
    """Project every ray's error cone onto the window.

    Turning a ray r by a small dr moves its landing by reach x dr.g, with g = along - (r.along/r.forward) forward
    (and so across). Sun and scatter: dr is isotropic about r. Slope: r turns by twice the normal's tilt in the plane
    of incidence and by 2 cos i square to it, so that a slope variance s2 gives dr.g the variance
    4 s2 [(n.g)2 + cos2 i g.g] and two of them the covariance 4 s2 [(n.g)(n.h) + cos2 i g.h] (from
    r = 2 (n.s) n - s with tilts of n in its tangent plane; Bendt, Rabl, Gaul & Reed 1979 for the factor of two).
    """
    isotropic = 1e-6 * (errors.sun_mrad**2 + errors.scatter_mrad**2)
    slope = 4e-6 * errors.slope_mrad**2
    a, b = landing.ray_a, landing.ray_b
    n_a = landing.normal_a - a * landing.normal_f
    n_b = landing.normal_b - b * landing.normal_f
    spread = isotropic + slope * np.square(landing.cosine)
    var_u = spread * (1 + a * a) + slope * (n_a * n_a)
    var_v = spread * (1 + b * b) + slope * (n_b * n_b)
    covariance = spread * (a * b) + slope * (n_a * n_b)
    n_f = landing.normal_f - landing.front * landing.cosine
    var_front = spread * np.maximum(1 - np.square(landing.front), 0) + slope * (n_f * n_f)
    return Blur(
        u=np.maximum(np.abs(landing.reach) * np.sqrt(var_u), _TINY),
        v=np.maximum(np.abs(landing.reach) * np.sqrt(var_v), _TINY),
        correlation=covariance / np.sqrt(var_u * var_v),
        front=np.sqrt(var_front + _TINY),
    )


def rectangle_share(
    u: Floats, v: Floats, blur: Blur, *, half_width: float, half_height: float, orders: int = _ORDERS
) -> Floats:
    """Share of bivariate normal spots at (u, v) inside a centred rectangle; all arrays of one shape.

    The tetrachoric series: the sum over k of rho^k/k! times the integrals of He_k(x) phi(x) along each side
    (Pearson 1901; Kendall 1941), whose k-th integral is -He_(k-1) phi between the limits.
    """
    u_low, u_high = (-half_width - u) / blur.u, (half_width - u) / blur.u
    v_low, v_high = (-half_height - v) / blur.v, (half_height - v) / blur.v
    sides = (u_low, u_high, v_low, v_high)
    density = [np.exp(-0.5 * side * side) for side in sides]
    below = [normal_below(side, d) for side, d in zip(sides, density, strict=True)]
    share = (below[1] - below[0]) * (below[3] - below[2])
    before, now = [np.zeros_like(d) for d in density], density
    factor = blur.correlation / (2 * np.pi)
    for order in range(1, orders + 1):
        share += factor * (now[1] - now[0]) * (now[3] - now[2])
        if order < orders:
            # He_(k+1) = x He_k - k He_(k-1), each already times the density
            now, before = (
                [x * h - (order - 1) * g for x, h, g in zip(sides, now, before, strict=True)],
                now,
            )
            factor = factor * blur.correlation / (order + 1)
    return np.clip(share, 0.0, 1.0)


def acceptance(landing: Landing, blur: Blur, acceptance_deg: float) -> Floats:
    """Share of every ray's cone within ``acceptance_deg`` of the window's normal, smeared by the ray's errors.

    Quick, for finding poses; ``entering`` also knows where on the window the rays come in.
    """
    return quick_below((landing.front - cos(radians(acceptance_deg))) / blur.front)


def entering(points: Points, landing: Landing, blur: Blur, window: Window, frames: WindowFrames) -> Floats:
    """Share (S, P) of the light of every point that enters the window which comes within its acceptance.

    A ray from a point to a place on the window has one angle to its normal. So the angle is taken from the point to the
    middle of where its cone enters (means of the normal distributions cut off at the window's sides), and smeared by the
    spread there and by the patch of film that the point stands for. Only where that can matter: else all or none.
    """
    edge = cos(radians(window.acceptance_deg))
    over = landing.front - edge
    patch = np.sqrt(np.max(np.sum(np.square(points.patch), axis=2), axis=0))
    margin = _FAR * blur.front + (_WIDE_PATCH / points.form.focal_m) * patch
    shares = (over > 0).astype(float)
    picked = np.flatnonzero((np.abs(over) < margin) & (landing.light > 0))
    if len(picked) == 0:
        return shares
    point = picked % len(points)

    def at(values: Floats) -> Floats:
        return values.ravel()[picked]

    ahead = at(landing.reach) * at(landing.front)
    shift_u, spread_u = _cut(at(landing.u), at(blur.u), window.width_m / 2)
    shift_v, spread_v = _cut(at(landing.v), at(blur.v), window.height_m / 2)
    run_a = at(landing.ray_a) + shift_u / ahead
    run_b = at(landing.ray_b) + shift_v / ahead
    oblique = run_a * run_a + run_b * run_b
    front = 1 / np.sqrt(1 + oblique)
    # d(front) = -front^3 (a da + b db), and a changes by du/ahead as by -du of the point itself
    of_u, of_v = run_a * spread_u, run_b * spread_v
    variance = of_u * of_u + of_v * of_v + 2 * at(blur.correlation) * of_u * of_v
    across = frames.across
    for side in points.patch:
        moved = (side @ frames.along)[point] * run_a
        moved += at(across @ side.T) * run_b
        moved -= at(frames.forward @ side.T) * oblique
        variance += moved * moved
    spread = front**3 * np.sqrt(variance) / ahead
    shares.ravel()[picked] = quick_below((front - edge) / np.maximum(spread, _TINY))
    return shares


def _cut(at: Floats, sigma: Floats, half: float) -> tuple[Floats, Floats]:
    """How far the mean of normal spots at ``at`` (N,) moves, and their standard deviation, within ``half`` either way.

    Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions 1 (1994), 10.1: the doubly truncated normal.
    """
    low, high = (-half - at) / sigma, (half - at) / sigma
    density = [np.exp(-0.5 * side * side) for side in (low, high)]
    between = normal_below(high, density[1]) - normal_below(low, density[0])
    # outside every share worth counting: the nearest side
    reached = between > _TINY_SHARE
    between = np.where(reached, between * np.sqrt(2 * np.pi), 1.0)
    shift = (density[0] - density[1]) / between
    shrunk = 1 + (low * density[0] - high * density[1]) / between - shift * shift
    nearest = np.clip(0.0, low, high)
    return (
        sigma * np.where(reached, shift, nearest),
        sigma * np.sqrt(np.where(reached, np.maximum(shrunk, 0.0), 0.0)),
    )


def cone_shares(points: Points, errors: Errors, window: Window, suns: Floats, frames: WindowFrames) -> Shares:
    """Intercept of ``window`` in ``frames`` (one per sun) for ``suns`` (S, 3), the cone way.

    The Gaussian sun serves where ``errors.gaussian_sun_serves``; below, the ray way with a disc is the better one. The
    bright sky about the sun is left out. How near the answer is hangs on ``points``: those of ``spot_points`` hold any
    sun to 0.0005, those of ``surface_points`` a year's mean, and single suns far off the axis to 0.01 (see
    :func:`shares_by_sun`). A sun behind the aperture gives 0.
    """
    count = len(suns)
    over, nowhere = np.zeros((count, TERMS)), np.full(count, np.nan)
    shares = Shares(np.zeros(count), over[:, 0], nowhere, nowhere.copy(), over)
    half_width, half_height = points.form.width_m / 2, points.form.height_m / 2
    parts = products(points.position[:, 0] / half_width, points.position[:, 1] / half_height)
    for rows in blocks(count, len(points)):
        landing = landings(points, suns[rows], frames[rows])
        blur = blurs(landing, errors)
        inside = landing.light * rectangle_share(
            landing.u, landing.v, blur, half_width=window.width_m / 2, half_height=window.height_m / 2
        )
        lit = (landing.total > 0) & (suns[rows, 2] > 0)
        total = np.where(lit, landing.total, np.inf)[:, None]
        shares.into_window[rows] = np.sum(inside, axis=1) / total[:, 0]
        inside *= entering(points, landing, blur, window, frames[rows])
        # no BLAS: its threads cost more than so few columns are worth
        over[rows] = np.einsum("sp,pt->st", inside, parts) / total
        shares.u_m[rows], shares.v_m[rows] = spot_centre(landing, landing.light)
    return shares


def shares_by_sun(
    form: MirrorForm, errors: Errors, window: Window, suns: Floats, frames: WindowFrames
) -> Shares:
    """:func:`cone_shares` of ``suns`` (S, 3), those far off the axis on more points: :func:`points_by_sun`."""
    count = len(suns)
    into, accepted, u, v = np.zeros((4, count))
    found = Shares(into, accepted, u, v, np.zeros((count, TERMS)))
    for some in points_by_sun(form, errors, suns):
        shares = cone_shares(some.weigh, errors, window, suns[some.rows], frames[some.rows])
        for name in ("into_window", "accepted", "u_m", "v_m", "over"):
            getattr(found, name)[some.rows] = getattr(shares, name)
    return found


def spot_centre(landing: Landing, light: Floats) -> tuple[Floats, Floats]:
    """Centre of ``light`` (S, P) on the window's plane, (S,) each; NaN where there is none."""
    total = np.sum(light, axis=1)
    total = np.where(total > 0, total, np.nan)
    return np.sum(light * landing.u, axis=1) / total, np.sum(light * landing.v, axis=1) / total
