"""What stands in the way of rays: boxes, rods and the films of mirrors, met by exact geometry; mirror frame, metres.

For the ray way alone; shade in the live way is exact polygons.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.form import Floats, MirrorForm
from studio.engine.mirror.rays import surface_height
from studio.errors import BadInputError
from studio.text import _

Gear = Literal["receiver", "pipe", "arm"]
Point = tuple[float, float, float]
_CLOSE_M = 1e-6
"""A ray has left what it starts on, or has come to what it ends on, within this."""


@dataclass(frozen=True)
class Box:
    """A box about ``centre_m``, reaching ``half_m`` either way along its three ``axes`` (unit vectors, square to each

    other). ``gear`` says to whom its shadow is charged."""

    gear: Gear
    centre_m: Point
    axes: tuple[Point, Point, Point]
    half_m: Point

    def __post_init__(self) -> None:
        axes = np.array(self.axes)
        if not np.allclose(axes @ axes.T, np.eye(3), atol=1e-6):
            raise BadInputError(_("The axes of a box must be of length 1 and square to each other."))
        if not all(half > 0 for half in self.half_m):
            raise BadInputError(
                _("A box must reach more than 0 m along each axis; found {half}.").format(half=self.half_m)
            )

    def between(self, start: Floats, way: Floats) -> tuple[Floats, Floats]:
        """Where rays from ``start`` along ``way`` (N, 3) come in and go out, in lengths of ``way``; out before in: never."""
        axes = np.array(self.axes)
        return _within_slabs((start - self.centre_m) @ axes.T, way @ axes.T, np.array(self.half_m))


@dataclass(frozen=True)
class Rod:
    """A round rod or pipe with flat ends, from ``start_m`` to ``end_m``."""

    gear: Gear
    start_m: Point
    end_m: Point
    radius_m: float

    def __post_init__(self) -> None:
        if not (self.radius_m > 0 and self.length_m > 0):
            raise BadInputError(
                _("A rod needs a radius and a length above 0 m; found {radius} m and {length} m.").format(
                    radius=self.radius_m, length=self.length_m
                )
            )

    @property
    def length_m(self) -> float:
        """From end to end."""
        return float(np.linalg.norm(np.subtract(self.end_m, self.start_m)))

    def between(self, start: Floats, way: Floats) -> tuple[Floats, Floats]:
        """As ``Box.between``: inside the cylinder and between its ends at once."""
        axis = np.subtract(self.end_m, self.start_m) / self.length_m
        off = start - np.add(self.start_m, self.end_m) / 2
        run, rise = way @ axis, off @ axis
        aside, sidle = way - run[:, None] * axis, off - rise[:, None] * axis
        a = np.maximum(np.einsum("ij,ij->i", aside, aside), 1e-300)
        b = np.einsum("ij,ij->i", aside, sidle)
        c = np.einsum("ij,ij->i", sidle, sidle) - self.radius_m**2
        under = b * b - a * c
        root = np.sqrt(np.maximum(under, 0.0))
        low, high = _within_slabs(rise[:, None], run[:, None], np.array([self.length_m / 2]))
        first, last = np.maximum(low, (-b - root) / a), np.minimum(high, (-b + root) / a)
        return np.where(under > 0, first, np.inf), np.where(under > 0, last, -np.inf)


Blocker = Box | Rod


def _within_slabs(off: Floats, way: Floats, half: Floats) -> tuple[Floats, Floats]:
    """In and out of |off + t way| <= half for every column, (N,) each."""
    safe = np.where(np.abs(way) < 1e-300, 1e-300, way)
    one, other = (-half - off) / safe, (half - off) / safe
    return np.max(np.minimum(one, other), axis=1), np.min(np.maximum(one, other), axis=1)


def meets(body: Blocker, start: Floats, way: Floats, reach: Floats) -> NDArray[np.bool_]:
    """Whether rays from ``start`` (N, 3) along unit ``way`` (N, 3) meet ``body`` within ``reach`` (N,) metres."""
    first, last = body.between(start, way)
    return np.asarray((first < last) & (last > _CLOSE_M) & (first < reach - _CLOSE_M))


def meets_neighbour(
    form: MirrorForm, offset_m: Point, start: Floats, way: Floats, reach: Floats
) -> NDArray[np.bool_]:
    """Whether rays meet, within ``reach``, the film of a mirror of ``form`` whose vertex lies at ``offset_m``.

    The film is taken as the surface that its ribs lie on, a bowl, convex from below: over its rectangle a ray's height
    above it has one top, near that of the parabola through three of its heights (of a paraboloid, on it). It meets the
    film where it is above it at one place and below it at another.
    """
    off = start - offset_m
    low, high = _within_slabs(off[:, :2], way[:, :2], np.array([form.width_m, form.height_m]) / 2)
    low, high = np.maximum(low, _CLOSE_M), np.minimum(high, reach - _CLOSE_M)
    over = np.flatnonzero(low < high)
    off, way, low, high = off[over], way[over], low[over], high[over]

    def above(at: Floats) -> Floats:
        place = off + at[:, None] * way
        return place[:, 2] - surface_height(form, place[:, 0], place[:, 1])

    first, middle, last = above(low), above((low + high) / 2), above(high)
    bend = first - 2 * middle + last
    shift = np.where(bend < 0, (first - last) / np.where(bend < 0, 4 * bend, 1.0), 0.0)
    top = above(low + np.clip(0.5 + shift, 0.0, 1.0) * (high - low))
    met = np.zeros(len(start), dtype=bool)
    heights = np.stack([first, middle, last, top])
    met[over] = (heights.max(axis=0) > 0) & (heights.min(axis=0) < 0)
    return met


def meets_own_film(form: MirrorForm, start: Floats, way: Floats, reach: Floats) -> NDArray[np.bool_]:
    """Whether rays that leave the film in front meet it again within ``reach``; over its rim they are clear."""
    _low, high = _within_slabs(start[:, :2], way[:, :2], np.array([form.width_m, form.height_m]) / 2)
    end = start + np.minimum(high, reach)[:, None] * way
    return np.asarray(end[:, 2] < surface_height(form, end[:, 0], end[:, 1]) - form.sunk_m - _CLOSE_M)
