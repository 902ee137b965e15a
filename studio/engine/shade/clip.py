"""Shade between flat apertures of any tilt and facing, by cutting polygons.

Each casting aperture is projected along the sun onto the target's plane (the part of it in front of that plane), and
the union of the shadows is cut with the target. Slower than the closed form of
:mod:`studio.engine.shade.parallel`, which it judges, and needed where lines differ in tilt or facing.
"""

import numpy as np
import shapely
from numpy.typing import NDArray

from studio.engine.shade.parallel import LineShade, line_shade
from studio.engine.shade.reach import Bools, Ints
from studio.engine.shade.rows import LEAST_SUN_COSINE, Floats, RowOfMirrors, project

_CORNERS = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
_LEAST_LIFT_M = 1e-9


def aperture_corners(row: RowOfMirrors) -> Floats:
    """Corners (M, 4, 3) of every aperture of ``row`` that is there, site frame, m."""
    x, y, z = np.array(row.axes)
    sides = _CORNERS * np.array([row.width_m, row.height_m])
    return np.asarray(row.vertices()[row.there, None] + row.plane_z_m * z + sides @ np.stack([x, y]))


def shade_of_line(target: RowOfMirrors, casters: tuple[RowOfMirrors, ...], suns: Floats) -> LineShade:
    """Shade on ``target`` by ``casters`` and by the target's own row, for ``suns`` (S, 3), unit, site frame.

    Tilt, facing, size and place of the rows are free. Fields as in :class:`LineShade`.
    """
    sun = target.into_mirror_frame(np.asarray(suns, dtype=float))
    lit = np.flatnonzero(sun[:, 2] > LEAST_SUN_COSINE)
    everyone = (*casters, target)
    corners = target.into_mirror_frame(np.concatenate([aperture_corners(row) for row in everyone]))
    owner = np.repeat(np.arange(len(everyone)), [row.mirrors for row in everyone])
    middle = target.into_mirror_frame(target.vertices()) + np.array([0.0, 0.0, target.plane_z_m])
    half = np.array([target.width_m, target.height_m]) / 2
    aperture = shapely.box(*-half, *half)
    by_mirror = np.zeros((len(sun), target.count))
    by_line = np.zeros((len(sun), len(everyone)))
    for mirror in target.there.tolist():
        place = middle[mirror]
        faces = corners - place
        caster, rings = _in_front(faces)
        shadow = project(rings[None], sun[lit][:, None, None])
        low, high = shadow.min(axis=2), shadow.max(axis=2)
        near, member = np.nonzero(((low < half) & (high > -half)).all(axis=2))
        cut = np.asarray(shapely.intersection(shapely.polygons(shadow[near, member]), aperture), dtype=object)
        share = shapely.area(cut) / shapely.area(aperture)
        np.add.at(by_line, (lit[near], owner[caster[member]]), share)
        by_mirror[lit, mirror] = _union_areas(cut, near, lit.size) / shapely.area(aperture)
    by_line /= target.mirrors
    return line_shade(target, by_mirror, by_line)


def _in_front(faces: Floats) -> tuple[Ints, Floats]:
    """Faces (N, 4, 3) cut at the plane z = 0: numbers (F,) of those in front of it, and their rings (F, 8, 3).

    Rings repeat points where a face has fewer corners than eight.
    """
    ahead: Bools = faces[..., 2] > _LEAST_LIFT_M
    caster = np.flatnonzero(ahead.any(axis=1))
    face, ahead = faces[caster], ahead[caster]
    after, after_ahead = np.roll(face, -1, axis=1), np.roll(ahead, -1, axis=1)
    drop = face[..., 2] - after[..., 2]
    cuts = ahead != after_ahead
    at = np.where(cuts, face[..., 2] / np.where(cuts, drop, 1.0), 0.0)
    crossing = face + at[..., None] * (after - face)
    # corner, crossing, corner, crossing ...; what does not stand in front repeats the last point before it that does
    ring = np.stack([face, crossing], axis=2).reshape(len(face), 8, 3)
    real = np.stack([ahead, cuts], axis=2).reshape(len(face), 8)
    twice = np.tile(real, (1, 2))
    last = np.maximum.accumulate(np.where(twice, np.arange(16), -1), axis=1)[:, 8:] % 8
    return caster, np.take_along_axis(ring, last[..., None], axis=1)


def _union_areas(cut: NDArray[np.object_], of: Ints, number: int) -> Floats:
    """Area (number,) of the union of the polygons ``cut`` that belong to each; ``of`` is sorted."""
    count = np.bincount(of, minlength=number)
    area = np.zeros(number)
    area[count == 1] = shapely.area(cut[count[of] == 1])
    many = np.flatnonzero(count > 1)
    if many.size:
        first = np.cumsum(count) - count
        table = np.full((many.size, count.max()), None, dtype=object)
        slot = np.arange(count.max()) < count[many][:, None]
        table[slot] = cut[(first[many][:, None] + np.arange(count.max()))[slot]]
        area[many] = shapely.area(shapely.union_all(table, axis=1))
    return area
