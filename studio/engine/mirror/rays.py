"""The ray way: single rays, sampled sun, slopes and scatter, on the full surface of the strips.

It shares nothing with the cone way but the parameters, and checks it; it also says which rays enter, for the slow
truth and for the picture of the flux.
"""

from dataclasses import dataclass
from math import cos, radians

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.form import Errors, Floats, MirrorForm, Window
from studio.engine.mirror.sunshape import SunShape, sample_sun
from studio.errors import BadInputError
from studio.text import _


@dataclass(frozen=True)
class RayHits:
    """N rays of one sun. ``start`` (N, 3): where they leave the film, mirror frame, m; ``facing`` (N,): light of each
    if nothing stood in its way, as the cosine on its bit of film per bit of aperture; ``weight`` (N,): the same, but 0
    where the mirror's own rim shades it; ``toward_sun`` and ``reflected`` (N, 3): unit vectors; ``reach_m`` (N,): way from
    film to window's plane, ``u_m``, ``v_m`` (N,): where on it the ray lands, from its centre, NaN where it never does;
    ``inside`` (N,): it enters the rectangle from the front; ``accepted`` (N,): inside and within the acceptance.
    """

    start: Floats
    facing: Floats
    weight: Floats
    toward_sun: Floats
    reflected: Floats
    reach_m: Floats
    u_m: Floats
    v_m: Floats
    inside: NDArray[np.bool_]
    accepted: NDArray[np.bool_]


@dataclass(frozen=True)
class RayShares:
    """Shares of the reflected light inside the window and accepted, each with its standard error."""

    into_window: float
    accepted: float
    into_window_error: float
    accepted_error: float


def ray_hits(
    form: MirrorForm,
    errors: Errors,
    window: Window,
    *,
    sun: Floats,
    centre: Floats,
    along: Floats,
    forward: Floats,
    rays: int,
    generator: np.random.Generator,
    sunshape: SunShape = "disc",
    circumsolar_share: float = 0.0,
) -> RayHits:
    """Trace ``rays`` rays from the sun at unit vector ``sun`` (3,) by way of the film to the window.

    The window's plane lies at ``centre`` (3,) with unit vectors ``along`` (its width) and ``forward`` (the way light
    goes in), mirror frame. Starts are uniform over the aperture. The sun is ``sunshape`` of ``errors.sun_mrad`` with
    an aureole of ``circumsolar_share`` (``sample_sun``); normals tilt by a Gaussian in their own tangent plane; scatter
    turns the reflected ray by a Gaussian.
    """
    if sun[2] <= 0:
        raise BadInputError(_("The sun stands behind the mirror's aperture; no ray reaches the film."))
    start, normal = _film(form, generator.uniform(-0.5, 0.5, (2, rays)))
    from_sun = sample_sun(
        sunshape,
        sun_mrad=errors.sun_mrad,
        circumsolar_share=circumsolar_share,
        rays=rays,
        generator=generator,
    )
    toward = _tilted(np.broadcast_to(sun, (rays, 3)), from_sun)
    facing = np.maximum(_dot(normal, toward) / normal[:, 2], 0.0)
    weight = np.where(_behind_own_rim(form, start, toward), 0.0, facing)
    rough = _tilted(normal, 1e-3 * errors.slope_mrad * generator.standard_normal((2, rays)))
    mirrored = 2 * _dot(rough, toward)[:, None] * rough - toward
    reflected = _tilted(mirrored, 1e-3 * errors.scatter_mrad * generator.standard_normal((2, rays)))
    against = reflected @ forward
    ahead = (centre - start) @ forward
    meets = (against > 0) & (ahead > 0)
    way = np.where(meets, ahead / np.where(meets, against, 1.0), np.nan)
    landed = start + way[:, None] * reflected - centre
    u, v = landed @ along, landed @ np.cross(forward, along)
    inside = meets & (np.abs(u) <= window.width_m / 2) & (np.abs(v) <= window.height_m / 2)
    accepted = inside & (against >= cos(radians(window.acceptance_deg)))
    return RayHits(start, facing, weight, toward, reflected, way, u, v, inside, accepted)


def ray_shares(hits: RayHits) -> RayShares:
    """Shares of the light, with the standard error of a ratio of weighted means."""
    total = float(np.sum(hits.weight))
    if total <= 0:
        return RayShares(0.0, 0.0, 0.0, 0.0)

    def share(counted: NDArray[np.bool_]) -> tuple[float, float]:
        value = float(np.sum(hits.weight[counted])) / total
        return value, float(np.sqrt(np.sum(np.square(hits.weight * (counted - value))))) / total

    into, into_error = share(hits.inside)
    accepted, accepted_error = share(hits.accepted)
    return RayShares(into, accepted, into_error, accepted_error)


def _dot(left: Floats, right: Floats) -> Floats:
    return np.asarray(np.einsum("ij,ij->i", left, right))


def surface_height(form: MirrorForm, x: Floats, y: Floats) -> Floats:
    """Height in m over the vertex of the surface that the ribs lie on, at x, y (N,): the ray way's own formulas."""
    if form.surface == "paraboloid":
        return np.asarray((x * x * (form.focal_m / form.across_m) + y * y) / (4 * form.focal_m))
    radius = 2 * form.focal_m
    if form.surface == "circles":
        aside = 2 * form.across_m
        return np.asarray(radius + aside - np.sqrt(radius**2 - y * y) - np.sqrt(aside**2 - x * x))
    return np.asarray(radius - np.sqrt(4 * form.focal_m**2 - x * x - y * y))


def _film(form: MirrorForm, place: Floats) -> tuple[Floats, Floats]:
    """Points (N, 3) of the ruled strips and unit normals there, from ``place`` (2, N) in widths and heights.

    The normal is the cross product of the ruling from rib to rib (with the bulge's slope on it) and of the chord
    over a tiny step along y.
    """
    x, y = place[0] * form.width_m, place[1] * form.height_m
    even = form.width_m / (form.ribs - 1)
    ribs = np.array(form.rib_places_m or [rib * even - form.width_m / 2 for rib in range(form.ribs)])
    strip = np.clip(np.searchsorted(ribs, x, side="right") - 1, 0, form.ribs - 2)
    left = ribs[strip]
    pitch = ribs[strip + 1] - left if form.rib_places_m else np.full_like(x, even)
    share = (x - left) / pitch

    # the film's bulge between ribs: a parabola over the ruling, the wrong way by its tension, back by the wind
    hump = form.tension_ratio * pitch**2 / (4 * form.focal_m) - form.pressure_per_m * pitch**2 / 2

    def film_height(at: Floats) -> Floats:
        ruled = (1 - share) * surface_height(form, left, at) + share * surface_height(form, left + pitch, at)
        return np.asarray(ruled + hump * share * (1 - share))

    step = 1e-5 * form.height_m
    start = np.stack([x, y, film_height(y)], axis=1)
    rise = surface_height(form, left + pitch, y) - surface_height(form, left, y) + hump * (1 - 2 * share)
    ruled = np.stack([pitch, np.zeros_like(x), rise], axis=1)
    up = np.stack(
        [np.zeros_like(x), np.full_like(x, 2 * step), film_height(y + step) - film_height(y - step)], axis=1
    )
    normal = np.cross(ruled, up)
    return start, normal / np.linalg.norm(normal, axis=1, keepdims=True)


def _tilted(vectors: Floats, by: Floats) -> Floats:
    """Unit ``vectors`` (N, 3), each tilted by the small angles ``by`` (2, N) in rad about two axes square to it."""
    aside = np.where(np.abs(vectors[:, :1]) < 0.9, [[1.0, 0.0, 0.0]], [[0.0, 1.0, 0.0]])
    first = np.cross(vectors, aside)
    first /= np.linalg.norm(first, axis=1, keepdims=True)
    second = np.cross(vectors, first)
    tilted = vectors + by[0][:, None] * first + by[1][:, None] * second
    return np.asarray(tilted / np.linalg.norm(tilted, axis=1, keepdims=True))


def _behind_own_rim(form: MirrorForm, start: Floats, toward: Floats) -> NDArray[np.bool_]:
    """Whether the film's edge stands between each point and its sun.

    Along any way over the aperture the film is convex, so what is clear where the way leaves it is clear throughout.
    """
    flat = np.where(np.abs(toward[:, :2]) < 1e-12, 1e-12, toward[:, :2])
    rim = np.where(flat > 0, 0.5, -0.5) * [form.width_m, form.height_m]
    way = np.min((rim - start[:, :2]) / flat, axis=1)
    out = start + way[:, None] * toward
    return np.asarray(out[:, 2] < surface_height(form, out[:, 0], out[:, 1]) - form.sunk_m - 1e-9)
