"""Lines of mirrors in a section, wherever the sun stands: those that the cut crosses, and those that it runs along.

A crossed line is seen along its own direction e: everything of it slides along e into the cut, so that pitches, shadows
of long rows and the pipe come out as the cut meets them, whatever angle the cut makes with the line. An oblique cut so
stretches what is square to the line by 1 / cos of the angle from square. A line that the cut runs along is seen square
to the cut.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import atan2, cos, degrees, radians

import numpy as np
from numpy.typing import NDArray

from studio.design.mirror import Mirror
from studio.drawings.section_cut import Cut, angle_to
from studio.drawings.section_ground import GroundInSection
from studio.engine.mirror.form import MirrorForm, edge_depth, strip_points
from studio.study.assessment import PlacedLine
from studio.study.place import form_of

Array = NDArray[np.float64]
ALONG_DEG = 20.0
"""A cut that makes a smaller angle with a line runs along it."""
_CURVE = 41
_ROUNDS = 8
_DIGITS = 11
_BESIDE = 0.6
"""A cut runs along a line as long as it stays within this share of a mirror's height from its vertices on plan."""


@dataclass(frozen=True, eq=False)
class Seen:
    """How mirrors of a line come into the section: a vector (3,) of the mirror frame falls at ``see`` (3, 2) @ it.

    ``normal`` (3,) is the cut plane's normal in the mirror frame.
    """

    see: Array
    normal: Array

    def film(self, form: MirrorForm) -> tuple[Array, Array]:
        """Places x, y (n,) of the film that the upright plane through the vertex cuts, from left to right."""
        reach, way, square = self._ways(form)
        at = np.linspace(-reach, reach, _CURVE)
        x, y = at * way[0], at * way[1]
        for _round in range(
            _ROUNDS
        ):  # the film stands before its vertex plane: the cut leaves the straight line
            shift = -self.normal[2] * self._depth(form, x, y)
            x, y = at * way[0] + shift * square[0], at * way[1] + shift * square[1]
            x = np.clip(x, -form.width_m / 2, form.width_m / 2)
            y = np.clip(y, -form.height_m / 2, form.height_m / 2)
        # a cut along a rib stays on one side of it: there the strips' normals change
        return np.round(x, 9), np.round(y, 9)

    def beyond(self, form: MirrorForm) -> tuple[Array, Array]:
        """The same of the edge that stands behind the cut, or before it: its ends are the aperture's corners."""
        reach, way, _square = self._ways(form)
        at = np.linspace(-reach, reach, _CURVE)
        x = np.clip(at * way[0] + abs(way[1]) * form.width_m / 2, -form.width_m / 2, form.width_m / 2)
        y = np.clip(at * way[1] + abs(way[0]) * form.height_m / 2, -form.height_m / 2, form.height_m / 2)
        return x, y

    def chord(self, form: MirrorForm) -> Array:
        """Where the same plane cuts the flat aperture at the rim: its two ends (2, 3) in the mirror frame."""
        reach, way, square = self._ways(form)
        rim = edge_depth(form)
        foot = -self.normal[2] * rim * square
        half = np.array([form.width_m, form.height_m]) / 2
        with np.errstate(divide="ignore", invalid="ignore"):
            ends = np.stack([(-half - foot) / way, (half - foot) / way])
        level = np.abs(way) < 1e-9
        low = float(np.where(level, -2 * reach, ends.min(axis=0)).max())
        high = float(np.where(level, 2 * reach, ends.max(axis=0)).min())
        flat = foot + np.array([[low], [max(high, low)]]) * way
        return np.column_stack([flat, [rim, rim]])

    def _ways(self, form: MirrorForm) -> tuple[float, Array, Array]:
        """How far the cut runs through the aperture's middle, its way there, and what meets the plane per its normal."""
        flat = self.normal[:2]
        size = max(float(flat @ flat), 1e-12)
        way = np.array([flat[1], -flat[0]]) / np.sqrt(size)
        way = way if float(way @ self.see[:2, 0]) >= 0 else -way
        half = np.array([form.width_m, form.height_m]) / 2
        return float(np.min(half / np.maximum(np.abs(way), 1e-9))), way, flat / size

    @staticmethod
    def _depth(form: MirrorForm, x: Array, y: Array) -> Array:
        return film_points(form, x, y)[:, 2]


def film_points(form: MirrorForm, x: Array, y: Array) -> Array:
    """Points (N, 3) of the film over places of the aperture, mirror frame."""
    strip = np.clip(np.searchsorted(form.rib_x_m, x, side="right") - 1, 0, form.ribs - 2)
    share = (x - form.rib_x_m[strip]) / form.strip_widths_m[strip]
    return strip_points(form, strip, share, y)[0]


@dataclass(frozen=True, eq=False)
class LineInSection:
    """A line that the cut crosses, of its mirrors that are there the nearest to the cut slid along the line into it.

    ``vertex`` (2,) stands in the cut; ``film`` (n, 2), the mirror's side edge ``beyond`` it (n, 2) and the rim's ``chord``
    (2, 2) run from left to right (``rim`` (2, 3) is the chord in the mirror frame); ``low`` and ``high`` (2,) are the edges. ``legs`` (2, 2, 2) of the stand from their feet up, ``brace`` (2, 2); ``post`` (2, 2) under the roll
    axis. ``mirror`` counts from 0 (``number`` from the line's first number), ``off_m`` is how far its vertex stands from the cut
    along the line; ``stretch`` what the cut's angle makes of lengths square to the line. ``on_plan`` (2,): least and most
    along the cut of what its aperture covers there.
    """

    id: int
    placed: PlacedLine
    seen: Seen
    mirror: int
    number: int
    off_m: float
    stretch: float
    vertex: Array
    film: Array
    film_at: tuple[Array, Array]
    beyond: Array
    rim: Array
    chord: Array
    low: Array
    high: Array
    legs: Array
    brace: Array
    on_plan: Array

    @property
    def stand(self) -> Array:
        """The vertex (3,) of the mirror that is shown, site frame."""
        return np.asarray(self.placed.first + self.mirror * self.placed.spacing_m * self.placed.along)


@dataclass(frozen=True, eq=False)
class LineAlong:
    """A line that the cut runs along, from aside: of every mirror that is there ``films`` (N, n, 2), ``chords`` (N, 2, 2), ``vertices`` (N, 2)

    and ``legs`` (N, 2, 2, 2)."""

    id: int
    placed: PlacedLine
    seen: Seen
    vertices: Array
    films: Array
    film_at: tuple[Array, Array]
    rim: Array
    chords: Array
    legs: Array


@dataclass(frozen=True, eq=False)
class _Shape:
    """What mirrors that stand and are cut alike share, from the vertex (0, 0): as of a line in the section."""

    seen: Seen
    film: Array
    film_at: tuple[Array, Array]
    beyond: Array
    rim: Array
    chord: Array
    on_plan: Array


def _shape_of(form: MirrorForm, see: Array, normal: Array) -> _Shape:
    """The shape of mirrors that come into the section so; places are rounded, so that a cut that moves keeps it."""
    return _shape(form, (np.round(see, _DIGITS) + 0.0).tobytes(), (np.round(normal, _DIGITS) + 0.0).tobytes())


@lru_cache(maxsize=500)
def _shape(form: MirrorForm, see: bytes, normal: bytes) -> _Shape:
    seen = Seen(np.frombuffer(see).reshape(3, 2), np.frombuffer(normal))
    at, rim = seen.film(form), seen.chord(form)
    corners = (_corners(form) @ seen.see)[:, 0]
    return _Shape(
        seen=seen,
        film=film_points(form, *at) @ seen.see,
        film_at=at,
        beyond=film_points(form, *seen.beyond(form)) @ seen.see,
        rim=rim,
        chord=rim @ seen.see,
        on_plan=np.array([corners.min(), corners.max()]),
    )


@lru_cache(maxsize=2000)
def crossed_line(
    placed: PlacedLine, mirror: Mirror, cut: Cut, ground_there: GroundInSection
) -> LineInSection | None:
    """A line as the cut crosses it; None where it does not, or runs along it."""
    angle = angle_to(cut, _azimuth_deg(placed))
    if angle < ALONG_DEG:
        return None
    look, way = np.array([*cut.look, 0.0]), np.array([*cut.way, 0.0])
    e = placed.along
    start = np.array([*cut.start, 0.0])
    run = float((start - placed.first) @ look / (e @ look))
    half = mirror.width_m / 2
    if not -half <= run <= (placed.count - 1) * placed.spacing_m + half:
        return None
    met = placed.first + run * e
    along = float((met - start) @ way)
    if not 0.0 <= along <= cut.length_m:
        return None
    number = int(placed.there[np.abs(placed.there - run / placed.spacing_m).argmin()])
    upright = np.array([0.0, 0.0, 1.0])
    fall = np.stack([way - look * (e @ way) / (e @ look), upright - look * e[2] / (e @ look)], axis=1)
    shape = _shape_of(form_of(mirror), placed.axes @ fall, placed.axes @ look)
    vertex = np.array([along, met[2]])
    film, chord = vertex + shape.film, vertex + shape.chord
    flat = film if chord[0, 1] != chord[1, 1] else chord
    ends = flat[[0, -1]] if film[0, 1] <= film[-1, 1] else flat[[-1, 0]]
    legs = np.stack([_leg(end, ground_there) for end in ends])
    return LineInSection(
        id=placed.id, placed=placed, seen=shape.seen, mirror=number, number=placed.first_number + number,
        off_m=abs(run - number * placed.spacing_m), stretch=1.0 / cos(radians(90.0 - angle)), vertex=vertex, film=film,
        film_at=shape.film_at, beyond=vertex + shape.beyond, rim=shape.rim, chord=chord, low=ends[0], high=ends[1],
        legs=legs, brace=np.stack([legs[0, 0], legs[1, 1]]), on_plan=along + shape.on_plan,
    )  # fmt: skip


@lru_cache(maxsize=500)
def line_along(
    placed: PlacedLine, mirror: Mirror, cut: Cut, ground_there: GroundInSection
) -> LineAlong | None:
    """A line that the cut runs along; None where it does not, or passes it by."""
    if angle_to(cut, _azimuth_deg(placed)) >= ALONG_DEG:
        return None
    look, way = np.array([*cut.look, 0.0]), np.array([*cut.way, 0.0])
    start = np.array([*cut.start, 0.0])
    every = placed.vertices()[placed.there]
    away = np.abs((every - start) @ look)
    along = (every - start) @ way
    near = (away <= _BESIDE * mirror.height_m) & (along >= 0.0) & (along <= cut.length_m)
    if not near.any():
        return None
    fall = np.stack([way, np.array([0.0, 0.0, 1.0])], axis=1)
    shape = _shape_of(form_of(mirror), placed.axes @ fall, placed.axes @ look)
    vertices = np.column_stack([along, every[:, 2]])
    films, chords = vertices[:, None] + shape.film, vertices[:, None] + shape.chord
    legs = np.stack([[_leg(film[0], ground_there), _leg(film[-1], ground_there)] for film in films])
    return LineAlong(placed.id, placed, shape.seen, vertices, films, shape.film_at, shape.rim, chords, legs)


def _azimuth_deg(placed: PlacedLine) -> float:
    return degrees(atan2(float(placed.along[0]), float(placed.along[1])))


def _corners(form: MirrorForm) -> Array:
    half, rim = np.array([form.width_m, form.height_m]) / 2, edge_depth(form)
    signs = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    return np.column_stack([signs * half, np.full(4, rim)])


def _leg(head: Array, ground_there: GroundInSection) -> Array:
    return np.array([[head[0], ground_there.height_at(float(head[0]))], head])
