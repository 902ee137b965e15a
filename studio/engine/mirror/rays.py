"""The ray way: single rays, sampled sun, slopes and scatter, on the full surface of the strips.

It shares nothing with the cone way but the parameters, and checks it; it also says which rays enter, for the slow
truth and for the picture of the flux.
"""

from dataclasses import dataclass
from math import cos, radians
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.form import Errors, Floats, MirrorForm, Window
from studio.errors import BadInputError
from studio.text import _

SunShape = Literal["disc", "gaussian"]


@dataclass(frozen=True)
class RayHits:
    """N rays of one sun. ``start`` (N, 3): where they leave the film, mirror frame, m; ``weight`` (N,): light of each,
    as the cosine on its bit of film per bit of aperture, 0 where the mirror's own rim shades it; ``toward_sun`` and
    ``reflected`` (N, 3): unit vectors; ``u_m``, ``v_m`` (N,): where the ray meets the window's plane, from its
    centre, NaN where it never does; ``inside`` (N,): it enters the rectangle from the front; ``accepted`` (N,):
    inside and within the acceptance.
    """

    start: Floats
    weight: Floats
    toward_sun: Floats
    reflected: Floats
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
) -> RayHits:
    """Trace ``rays`` rays from the sun at unit vector ``sun`` (3,) by way of the film to the window.

    The window's plane lies at ``centre`` (3,) with unit vectors ``along`` (its width) and ``forward`` (the way light
    goes in), mirror frame. Starts are uniform over the aperture. The sun is a uniform disc of radius 2 x
    ``errors.sun_mrad``, or a Gaussian; normals tilt by a Gaussian in their own tangent plane; scatter turns the
    reflected ray by a Gaussian.
    """
    if sun[2] <= 0:
        raise BadInputError(_("The sun stands behind the mirror's aperture; no ray reaches the film."))
    start, normal = _film(form, generator.uniform(-0.5, 0.5, (2, rays)))
    if sunshape == "disc":
        radius = 2e-3 * errors.sun_mrad * np.sqrt(generator.random(rays))
        angle = 2 * np.pi * generator.random(rays)
        from_sun = np.stack([radius * np.cos(angle), radius * np.sin(angle)])
    else:
        from_sun = 1e-3 * errors.sun_mrad * generator.standard_normal((2, rays))
    toward = _tilted(np.broadcast_to(sun, (rays, 3)), from_sun)
    weight = np.maximum(_dot(normal, toward) / normal[:, 2], 0.0)
    weight[_behind_own_rim(form, start, toward)] = 0.0
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
    return RayHits(start, weight, toward, reflected, u, v, inside, accepted)


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


def _height(form: MirrorForm, x: Floats, y: Floats) -> Floats:
    if form.surface == "paraboloid":
        return np.asarray((x * x + y * y) / (4 * form.focal_m))
    return np.asarray(2 * form.focal_m - np.sqrt(4 * form.focal_m**2 - x * x - y * y))


def _film(form: MirrorForm, place: Floats) -> tuple[Floats, Floats]:
    """Points (N, 3) of the ruled strips and unit normals there, from ``place`` (2, N) in widths and heights.

    The normal is the cross product of the ruling from rib to rib (with the bulge's slope on it) and of the chord over a tiny step along y.
    """
    pitch = form.width_m / (form.ribs - 1)
    x, y = place[0] * form.width_m, place[1] * form.height_m
    strip = np.minimum(np.floor((x + form.width_m / 2) / pitch), form.ribs - 2)
    left = strip * pitch - form.width_m / 2
    share = (x - left) / pitch

    # the film's wrong-way bulge between ribs: a parabola of curvature ratio/R over the ruling
    hump = form.tension_ratio * pitch**2 / (4 * form.focal_m)

    def film_height(at: Floats) -> Floats:
        ruled = (1 - share) * _height(form, left, at) + share * _height(form, left + pitch, at)
        return np.asarray(ruled + hump * share * (1 - share))

    step = 1e-5 * form.height_m
    start = np.stack([x, y, film_height(y)], axis=1)
    rise = _height(form, left + pitch, y) - _height(form, left, y) + hump * (1 - 2 * share)
    ruled = np.stack([np.full_like(x, pitch), np.zeros_like(x), rise], axis=1)
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
    return np.asarray(out[:, 2] < _height(form, out[:, 0], out[:, 1]) - 1e-9)
