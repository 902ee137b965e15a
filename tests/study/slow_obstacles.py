"""What obstacles and mirrors take of the light the slow way: true shapes, each aperture, each sun, cut with shapely."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from studio.design.design import Design
from studio.design.obstacles import Block, Fence, Pole, Tree
from studio.engine.shade.clip import aperture_corners
from studio.engine.shade.rows import RowOfMirrors

Floats = NDArray[np.float64]
_TURNS, _LEVELS = 36, 13


@dataclass(frozen=True)
class Solid:
    """A convex body as corners (P, 3) and edges (E, 2), and what it lets through on day ``d``: ``passes[d - 1]``."""

    corners: Floats
    edges: NDArray[np.intp]
    passes: Floats


def solids_of(design: Design) -> list[Solid]:
    """The obstacles of a design; blocks must be convex, fences straight."""
    fall, way = design.ground.slope_percent / 100, np.radians(design.ground.falls_towards_deg)

    def ground(x: Floats, y: Floats) -> Floats:
        return np.asarray(-fall * (x * np.sin(way) + y * np.cos(way)))

    turn = np.arange(_TURNS) * 2 * np.pi / _TURNS
    solids = []
    for one in design.obstacles:
        passes = np.zeros(365)
        if isinstance(one, Block):
            ring = np.array(one.ring)
            low = np.column_stack([ring, ground(*ring.T)])
            rings = [low, low + np.array([0.0, 0.0, one.height_m])]
        elif isinstance(one, Fence):
            ends = np.array(one.path)
            low = np.column_stack([ends, ground(*ends.T)])
            rings = [low, low + np.array([0.0, 0.0, one.height_m])]
            passes = np.full(365, one.passes)
        elif isinstance(one, Pole):
            ring = np.array(one.place) + one.radius_m * np.column_stack([np.cos(turn), np.sin(turn)])
            foot = float(ground(*np.array(one.place)))
            rings = [np.column_stack([ring, np.full(_TURNS, foot + z)]) for z in (0.0, one.height_m)]
        else:
            rings = _crown(one, float(ground(*np.array(one.place))))
            days = np.arange(1, 366)
            in_leaf = (days >= one.leaf_from_day) & (days <= one.leaf_to_day)
            passes = np.where(in_leaf, one.passes_in_leaf, one.passes_bare)
        solids.append(Solid(np.concatenate(rings), _edges(len(rings), len(rings[0])), passes))
    return solids


def _crown(tree: Tree, foot: float) -> list[Floats]:
    middle, half = (tree.crown_base_m + tree.height_m) / 2, (tree.height_m - tree.crown_base_m) / 2
    turn = np.arange(_TURNS) * 2 * np.pi / _TURNS
    # the polyhedron is a little larger outside and smaller inside: the same silhouette on the mean
    wide = tree.crown_radius_m / np.sqrt(np.sinc(1 / _TURNS))
    rings = []
    for level in np.cos(np.linspace(np.pi, 0.0, _LEVELS)):
        radius = wide * np.sqrt(max(0.0, 1.0 - level * level))
        ring = np.array(tree.place) + radius * np.column_stack([np.cos(turn), np.sin(turn)])
        rings.append(np.column_stack([ring, np.full(_TURNS, foot + middle + half * level)]))
    return rings


def _edges(rings: int, size: int) -> NDArray[np.intp]:
    number = np.arange(rings * size).reshape(rings, size)
    round_it = np.stack([number, np.roll(number, -1, axis=1)], axis=-1).reshape(-1, 2)
    upward = np.stack([number[:-1], number[1:]], axis=-1).reshape(-1, 2)
    return np.concatenate([round_it, upward])


def plates_of(rows: list[RowOfMirrors]) -> list[Solid]:
    """Every aperture as a caster."""
    edges = np.array([[0, 1], [1, 2], [2, 3], [3, 0]])
    return [Solid(corners, edges, np.zeros(365)) for row in rows for corners in aperture_corners(row)]


def left_on(row: RowOfMirrors, solids: list[Solid], sun: Floats, day: int) -> Floats:
    """Share (M,) of the light on each aperture of ``row`` that ``solids`` leave; porous ones leave the product."""
    axes = np.array(row.axes)
    toward = axes @ sun
    aperture = shapely.box(-row.width_m / 2, -row.height_m / 2, row.width_m / 2, row.height_m / 2)
    left = np.ones(row.count)
    if toward[2] <= 0:
        return left
    for mirror, vertex in enumerate(row.vertices()):
        middle = vertex + row.plane_z_m * axes[2]
        opaque: list[tuple[BaseGeometry, float]] = []
        porous: list[tuple[BaseGeometry, float]] = []
        for solid in solids:
            shadow = _shadow((solid.corners - middle) @ axes.T, solid.edges, toward).intersection(aperture)
            if shadow.area > 0:
                passes = float(solid.passes[day - 1])
                (porous if passes > 0 else opaque).append((shadow, passes))
        lit = aperture.difference(shapely.union_all([shadow for shadow, _ in opaque]))
        left[mirror] = _through(lit, porous) / aperture.area
    return left


def _through(lit: BaseGeometry, porous: list[tuple[BaseGeometry, float]]) -> float:
    """Light through crowns: of the area behind the first the share it passes, and so on for the rest on either part."""
    if not porous or lit.is_empty:
        return float(lit.area)
    (shadow, passes), rest = porous[0], porous[1:]
    return passes * _through(lit.intersection(shadow), rest) + _through(lit.difference(shadow), rest)


def _shadow(points: Floats, edges: NDArray[np.intp], toward: Floats) -> BaseGeometry:
    """A convex body's shadow on z = 0 from the part of it in front of that plane."""
    front = points[:, 2] > 1e-9
    cut = edges[front[edges[:, 0]] != front[edges[:, 1]]]
    start, end = points[cut[:, 0]], points[cut[:, 1]]
    crossing = start + (end - start) * (start[:, 2] / (start[:, 2] - end[:, 2]))[:, None]
    ahead = np.concatenate([points[front], crossing])
    flat = ahead[:, :2] - ahead[:, 2:] * toward[:2] / toward[2]
    return shapely.MultiPoint(flat).convex_hull
