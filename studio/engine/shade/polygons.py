"""Shadows on the ground at one moment, as outlines for drawing on the plan."""

from dataclasses import dataclass

import numpy as np

from studio.engine.mirror.frame import Vector
from studio.engine.shade.clip import aperture_corners
from studio.engine.shade.gear import KINDS, GearShape, pose_gear
from studio.engine.shade.rows import Floats, RowOfMirrors

_LEAST_SUN_HEIGHT = 1e-3
"""Sine of the sun's height above the ground's plane below which no outline is given (it would be endless)."""
_LEVEL_GROUND: Vector = (0.0, 0.0, 1.0)
_ORIGIN: Vector = (0.0, 0.0, 0.0)


def on_ground(
    points: Floats, sun: Vector, *, normal: Vector = _LEVEL_GROUND, through: Vector = _ORIGIN
) -> Floats:
    """Shadow (..., 3) of ``points`` (..., 3) on the plane ``through`` a point and square to ``normal``.

    Site frame, m; ``sun`` is the unit vector to the sun. p - s ((p - g).n)/(s.n), parallel projection. A sun in or
    below the plane gives nan.
    """
    light, up = np.array(sun), np.array(normal)
    height = float(light @ up)
    if height < _LEAST_SUN_HEIGHT:
        return np.full(np.shape(points), np.nan)
    return np.asarray(points - light * ((points - np.array(through)) @ up / height)[..., None])


@dataclass(frozen=True)
class Outlines:
    """Shadows of one line on the ground, plan coordinates x east, y north, m.

    ``mirrors`` (M, 4, 2), ``receivers`` (M, 6, 2), ``frames`` (F, 4, 2) and ``pipe`` (1, 4, 2) are convex outlines. Empty
    (0, ., 2) when the sun does not shine on the ground.
    """

    mirrors: Floats
    receivers: Floats
    frames: Floats
    pipe: Floats


def mirror_outlines(
    row: RowOfMirrors, sun: Vector, *, normal: Vector = _LEVEL_GROUND, through: Vector = _ORIGIN
) -> Floats:
    """Outlines (M, 4, 2) of the shadows of the apertures of ``row`` on the ground, plan, m; (0, 4, 2) with no sun."""
    return _plan(on_ground(aperture_corners(row), sun, normal=normal, through=through))


def shadow_outlines(
    row: RowOfMirrors,
    gear: GearShape,
    sun: Vector,
    *,
    slide_m: float,
    roll_deg: float,
    normal: Vector = _LEVEL_GROUND,
    through: Vector = _ORIGIN,
) -> Outlines:
    """Shadows of a line's apertures and gear on the ground for one ``sun`` and pose."""
    line = pose_gear(gear, row, np.array([sun]), slide_m=np.array([slide_m]), roll_deg=np.array([roll_deg]))
    axes = np.array(row.axes)
    rim = np.array(row.first) + row.plane_z_m * axes[2]
    centre, extents = line.bodies.centre[0] @ axes + rim, line.bodies.extents[0] @ axes
    step = row.step()
    number = {name: place for place, name in enumerate(KINDS)}
    receiver, frame = number["receiver"], number["frame"]
    gaps = np.append(np.arange(0, row.count, gear.mirrors_per_frame), row.count)
    before, after = number["pipe before"], number["pipe after"]
    ends = np.stack(
        [
            centre[before] - extents[before, 0],
            centre[after] + extents[after, 0] + (row.count - 1) * step,
        ]
    )
    girth = extents[before, 1]

    def shadow(points: Floats) -> Floats:
        return on_ground(points, sun, normal=normal, through=through)

    def falls(vectors: Floats) -> Floats:
        return np.asarray(shadow(np.array(through) + vectors) - np.array(through))

    boxes = shadow(centre[receiver] + row.there[:, None] * step)
    rods = shadow(centre[frame] + gaps[:, None] * step)
    return Outlines(
        mirrors=mirror_outlines(row, sun, normal=normal, through=through),
        receivers=_plan(boxes[:, None] + _hexagon(falls(extents[receiver]))),
        frames=_plan(rods[:, None] + _parallelogram(falls(extents[frame, :2]))),
        pipe=_plan(
            shadow(np.stack([ends[0] + girth, ends[1] + girth, ends[1] - girth, ends[0] - girth]))[None]
        ),
    )


def _parallelogram(sides: Floats) -> Floats:
    return np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]], dtype=float) @ sides


def _hexagon(sides: Floats) -> Floats:
    """Corners (6, 3) of the outline of a box whose three half-edges fall as ``sides`` (3, 3), in order around it.

    Turned so that all point to one half of the plan and taken by their direction, the edges follow one another.
    """
    turned = (
        np.where((sides[:, 1] < 0) | ((sides[:, 1] == 0) & (sides[:, 0] < 0)), -1.0, 1.0)[:, None] * sides
    )
    turned = turned[np.argsort(np.arctan2(turned[:, 1], turned[:, 0]))]
    return (
        np.array([[-1, -1, -1], [1, -1, -1], [1, 1, -1], [1, 1, 1], [-1, 1, 1], [-1, -1, 1]], dtype=float)
        @ turned
    )


def _plan(outlines: Floats) -> Floats:
    return np.asarray(outlines[np.isfinite(outlines).all(axis=(1, 2))][..., :2])
