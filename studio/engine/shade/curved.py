"""What the curved form of mirrors differs from their flat apertures by, in the shade that they throw on one another.

Seeded rays from the film towards the sun, each judged twice: whether it meets the film of another mirror (the surface its
ribs lie on), and whether the same point of the flat aperture lies in the shadow of another's flat aperture.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from studio.engine.mirror.blockers import meets_neighbour, meets_own_film
from studio.engine.mirror.form import Floats, MirrorForm, rib_depth, rib_slope
from studio.engine.shade.reach import Bools
from studio.engine.shade.rows import LEAST_SUN_COSINE, RowOfMirrors

_FAR_M = 1e4
"""No shadow is longer."""


@dataclass(frozen=True)
class CurvedShade:
    """Shares of the light on the apertures that other mirrors take: ``flat`` and ``curved``; and ``error``, the standard
    error of their difference."""

    flat: float
    curved: float
    error: float

    @property
    def difference(self) -> float:
        """What the flat aperture leaves out, as a share of the light; above 0 where curved mirrors shade more."""
        return self.curved - self.flat


def curved_shade(
    form: MirrorForm,
    rows: Sequence[RowOfMirrors],
    suns: Floats,
    light: Floats,
    *,
    draws: int = 400,
    rays: int = 64,
    seed: int = 0,
) -> CurvedShade:
    """The shade of the mirrors of ``rows``, all of ``form``, on one another, over ``suns`` (S, 3) of the site frame.

    ``light`` (S,) is the weight of each sun, such as its DNI times hours; cosine is added here. So many ``draws`` of a
    mirror, at random, and of a sun, stratified in the order given by its light on that mirror, with ``rays`` each. Own rims,
    which are part of intercept, shade nothing here. Without a row or any light all is 0.
    """
    generator = np.random.default_rng(seed)
    counts = np.array([row.count for row in rows])
    if not len(rows):
        return CurvedShade(0.0, 0.0, 0.0)
    drawn = generator.choice(len(rows), draws, p=counts / counts.sum())
    shares = []
    for number, place in enumerate(drawn):
        target = rows[place]
        sun = target.into_mirror_frame(suns)
        facing = np.maximum(sun[:, 2], 0.0) * light
        if not facing.sum() > 0:
            continue
        upto = np.cumsum(facing)
        at = int(np.searchsorted(upto, upto[-1] * (number + generator.random()) / draws, side="right"))
        seat = target.vertices()[target.there[generator.integers(target.mirrors)]]
        at = min(at, len(suns) - 1)
        if sun[at, 2] > LEAST_SUN_COSINE:
            flat, curved = _both(form, target, seat, rows, sun[at], suns[at], rays, generator)
            shares.append((flat * facing.sum(), curved * facing.sum(), facing.sum()))
    if not shares:
        return CurvedShade(0.0, 0.0, 0.0)
    lost_flat, lost_curved, whole = np.array(shares).T
    apart = (lost_curved - lost_flat) / whole.mean()
    return CurvedShade(
        flat=float(lost_flat.sum() / whole.sum()),
        curved=float(lost_curved.sum() / whole.sum()),
        error=float(apart.std() / np.sqrt(len(apart))),
    )


def _both(
    form: MirrorForm,
    target: RowOfMirrors,
    seat: Floats,
    rows: Sequence[RowOfMirrors],
    sun: Floats,
    toward: Floats,
    rays: int,
    generator: np.random.Generator,
) -> tuple[float, float]:
    """Shares of the light on the mirror at ``seat`` that others take, flat and curved; ``sun`` (3,) is in its own frame,
    ``toward`` (3,) the same in that of the site."""
    x, y = generator.uniform(-0.5, 0.5, (2, rays)) * [[form.width_m], [form.height_m]]
    film = np.stack([x, y, rib_depth(form, x, y)], axis=1)
    flat = np.stack([x, y, np.full(rays, target.plane_z_m)], axis=1)
    slopes = np.stack([_slope_across(form, x, y), rib_slope(form, x, y)], axis=1)
    weight = np.maximum(sun[2] - slopes @ sun[:2], 0.0)
    way = np.broadcast_to(sun, (rays, 3))
    weight[meets_own_film(form, film, way, np.full(rays, _FAR_M))] = 0.0
    axes = np.array(target.axes)
    by_flat, by_film = np.zeros(rays, np.bool_), np.zeros(rays, np.bool_)
    for row in rows:
        turn = axes @ np.array(row.axes).T  # from the target's mirror frame into the row's
        for vertex in _near(row, seat, toward, form):
            offset = row.into_mirror_frame(seat - vertex)
            light = row.into_mirror_frame(toward)
            by_flat |= _meets_flat(row, flat @ turn + offset, light)
            starts = film @ turn + offset
            ways = np.broadcast_to(light, starts.shape)
            by_film |= meets_neighbour(form, (0.0, 0.0, 0.0), starts, ways, np.full(rays, _FAR_M))
    if not weight.sum() > 0:
        return float(by_flat.mean()), 0.0
    return float(by_flat.mean()), float((weight * by_film).sum() / weight.sum())


def _slope_across(form: MirrorForm, x: Floats, y: Floats) -> Floats:
    """dz/dx of the surface, by a central difference of its height."""
    step = 1e-6 * form.width_m
    return np.asarray((rib_depth(form, x + step, y) - rib_depth(form, x - step, y)) / (2 * step))


def _near(row: RowOfMirrors, seat: Floats, toward: Floats, form: MirrorForm) -> Floats:
    """Vertices (N, 3) of a row that stand on the way from ``seat`` to the sun, nearer to it than two mirrors reach."""
    vertices = row.vertices()[row.there]
    away = vertices - seat
    ahead = away @ toward
    reach = np.hypot(form.width_m, form.height_m) + 2 * row.plane_z_m
    beside = np.linalg.norm(away - ahead[:, None] * toward, axis=1)
    itself = np.linalg.norm(away, axis=1) < 1e-9
    return np.asarray(vertices[(beside < reach) & (ahead > -reach) & ~itself])


def _meets_flat(row: RowOfMirrors, start: Floats, way: Floats) -> Bools:
    """Whether rays from ``start`` (N, 3) along ``way`` (3,) meet the flat aperture of a mirror of ``row`` at the origin."""
    if abs(way[2]) < LEAST_SUN_COSINE:
        return np.zeros(len(start), np.bool_)
    run = (row.plane_z_m - start[:, 2]) / way[2]
    met = start[:, :2] + run[:, None] * way[:2]
    return np.asarray((run > 1e-9) & (np.abs(met) < np.array([row.width_m, row.height_m]) / 2).all(axis=1))
