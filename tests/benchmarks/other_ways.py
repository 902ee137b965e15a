"""Two other ways to a year's shade, as one would write them with general libraries: cut polygons, and cast rays.

Seen along parallel light a field is a flat picture: an aperture is shaded where one that stands nearer to the sun lies over
it. Both ways get the same suns, one by one, and work on all mirrors at once.
"""

from typing import Any

import numpy as np
import shapely
import trimesh
from numpy.typing import NDArray
from trimesh.ray.ray_pyembree import RayMeshIntersector

from studio.engine.shade.clip import aperture_corners
from studio.engine.shade.rows import Floats, RowOfMirrors

Shapes = NDArray[np.object_]
RAYS = 100
_OFF_M = 1e-4


class Apertures:
    """The apertures of a field: ``corners`` (N, 4, 3), ``normal`` (N, 3), and the line (N,) each belongs to."""

    def __init__(self, rows: tuple[RowOfMirrors, ...]) -> None:
        self.corners = np.concatenate([aperture_corners(row) for row in rows])
        self.line = np.repeat(np.arange(len(rows)), [row.count for row in rows])
        self.normal = np.array([row.axes[2] for row in rows])[self.line]
        self.lines = len(rows)

    def means(self, shares: Floats, mirrors: NDArray[np.intp] | None = None) -> Floats:
        """Means (lines,) of shares by mirror."""
        line = self.line if mirrors is None else self.line[mirrors]
        return np.bincount(line, shares, self.lines) / np.maximum(np.bincount(line, minlength=self.lines), 1)


def cut_polygons(field: Apertures, sun: Floats, wanted: NDArray[np.bool_] | None = None) -> Floats:
    """Shaded share (N,) of every aperture under one sun (3,), by shapely: pairs from its tree, nearer ones cut off.

    ``wanted`` (N,): apertures to work on.
    """
    side = np.cross(sun, [0.0, 0.0, 1.0])
    side /= np.linalg.norm(side)
    over = np.cross(side, sun)
    seen: Shapes = np.asarray(
        shapely.polygons(np.stack([field.corners @ side, field.corners @ over], axis=-1)), dtype=object
    )
    facing = field.normal @ sun > 1e-6
    targets = np.flatnonzero(facing if wanted is None else facing & wanted)
    share = np.zeros(len(seen))
    if targets.size == 0:
        return share
    target, caster = shapely.STRtree(seen).query(seen[targets], predicate="intersects")
    target = targets[target]
    # which of a pair is nearer to the sun: the caster's middle over the target's plane, along the sun
    middles = field.corners.mean(axis=1)
    over_plane = ((middles[caster] - middles[target]) * field.normal[target]).sum(axis=1)
    keep = (target != caster) & (over_plane > 1e-9)
    target, caster = target[keep], caster[keep]
    if target.size == 0:
        return share
    cut: Shapes = np.asarray(shapely.intersection(seen[target], seen[caster]), dtype=object)
    order = np.argsort(target, kind="stable")
    target, cut = target[order], cut[order]
    who, _first, count = np.unique(target, return_index=True, return_counts=True)
    slot = np.arange(count.max())
    table: Shapes = np.full((len(who), count.max()), None, dtype=object)
    table[slot < count[:, None]] = cut
    share[who] = shapely.area(shapely.union_all(table, axis=1)) / shapely.area(seen[who])
    return share


class Rays:
    """Rays from a lattice of points on every aperture, cast towards the sun through trimesh's Embree scene."""

    def __init__(self, field: Apertures) -> None:
        self.field = field
        number = np.arange(len(field.corners))[:, None, None] * 4
        faces = (number + np.array([[0, 1, 2], [0, 2, 3]])).reshape(-1, 3)
        mesh = trimesh.Trimesh(field.corners.reshape(-1, 3), faces, process=False)
        self.scene: Any = RayMeshIntersector(mesh, scale_to_box=False)
        steps = (np.arange(10) + 0.5) / 10
        u, v = (axis.ravel()[:, None] for axis in np.meshgrid(steps, steps))
        first, across, up = (
            field.corners[:, 0],
            field.corners[:, 1] - field.corners[:, 0],
            field.corners[:, 3] - field.corners[:, 0],
        )
        self.points = first[:, None] + u * across[:, None] + v * up[:, None]

    def shares(self, sun: Floats, wanted: NDArray[np.bool_] | None = None) -> Floats:
        """Shaded share (N,) of every aperture under one sun (3,)."""
        facing = self.field.normal @ sun > 1e-6
        targets = np.flatnonzero(facing if wanted is None else facing & wanted)
        share = np.zeros(len(self.field.corners))
        if targets.size == 0:
            return share
        origins = (self.points[targets] + _OFF_M * self.field.normal[targets][:, None]).reshape(-1, 3)
        hit = self.scene.intersects_any(origins, np.broadcast_to(sun, origins.shape))
        share[targets] = hit.reshape(targets.size, RAYS).mean(axis=1)
        return share
