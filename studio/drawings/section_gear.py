"""The moving gear of lines in a section at a moment, and rays on the mirror that is shown; relative to its vertex."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.drawings.mirror import Views, views_of
from studio.drawings.mirror_light import DrawnRay
from studio.drawings.moment import Sun, pose_at
from studio.drawings.section_lines import LineAlong, LineInSection
from studio.engine.heat.pipe import pipe_size
from studio.engine.motion.pose import window_frames
from studio.study.spot import gear_blockers

Array = NDArray[np.float64]
RAYS = 9
_ROUND = 24
_ARC = 41
_LEAST_COSINE = 0.02
"""A sun nearer to the aperture's plane leaves the receivers at rest, as in the plan."""


@dataclass(frozen=True, eq=False)
class RaysDrawn:
    """The rays of a mirror together: where each ends as far as its own gear goes, ``feet`` (R, 2); ``ends``: there it is stopped,

    else it goes on from the film, ``onward`` (R, 2, 2); ``reaches``: into the window."""

    feet: Array
    ends: NDArray[np.bool_]
    onward: Array
    reaches: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class GearInSection:
    """Receiver, pipe, frame and roll path from a mirror's vertex (0, 0), and its rays.

    ``box`` (4, 2) of the receiver and its ``window`` (2, 2); ``pipe`` (2,) its middle, ``steel`` and ``jacket`` (n, 2) outlines of
    the pipe and of its insulation as the cut meets them; ``axis`` (2,) of the roll, ``frame`` (2, 2) from it to the pipe, ``path``
    (n, 2) of the window's middle from the lower roll limit to the upper, ``stroke`` (2, 2) where it stands at the ends of the slide.
    ``lit``: the sun falls on the mirror; ``rests``: the receiver does.
    ``rays`` with the places ``feet`` (R, 3) on the film, mirror frame.
    """

    box: Array
    window: Array
    pipe: Array
    steel: Array
    jacket: Array
    axis: Array
    frame: Array
    path: Array
    stroke: Array
    slide_m: float
    roll_deg: float
    roll_limits_deg: tuple[float, float]
    slide_limits_m: tuple[float, float]
    lit: bool
    rests: bool
    rays: tuple[DrawnRay, ...]
    feet: Array

    @cached_property
    def drawn(self) -> RaysDrawn:
        """Its rays together; none without sun."""
        nowhere = np.zeros((2, 2))
        return RaysDrawn(
            feet=np.array([ray.inward[1] for ray in self.rays]).reshape(-1, 2),
            ends=np.array([ray.onward is None for ray in self.rays], dtype=np.bool_),
            onward=np.array([nowhere if ray.onward is None else ray.onward for ray in self.rays]).reshape(
                -1, 2, 2
            ),
            reaches=np.array([ray.reaches for ray in self.rays], dtype=np.bool_),
        )


def gear_in_section(design: Design, line: LineInSection | LineAlong, sun: Sun) -> GearInSection:
    """The gear of a line at its pose under a sun."""
    placed = line.placed
    slide, roll, rests = pose_at(design, placed, sun)
    toward = placed.axes @ sun.direction
    lit = sun.shines and float(toward[2]) > _LEAST_COSINE
    views, see = views_of(design, placed, slide, roll), line.seen.see
    flat = np.stack([views.aside, views.up])
    crossed = isinstance(line, LineInSection)
    size = pipe_size(design.pipe.size).outside_mm / 2000
    jacket = views.gear.pipe_diameter_m / 2
    pipe_at = views.pipe_middle()
    side = views.receiver(np.eye(3), end_on=crossed)
    offset = np.array(views.motion.axis_offset_m)
    feet, rays = _rays(design, views, line, toward if lit else None)
    low, high = views.motion.slide_limits_m
    centre = views.lit.frame.centre[0]
    stands = centre + np.array([[low - slide], [high - slide]]) * views.along
    # a frame rolls, but does not slide: from aside it stands in the gap, across it is slid into the cut
    frame = np.stack([offset, pipe_at - slide * views.along])
    return GearInSection(
        box=side.box @ see,
        window=side.window @ see,
        pipe=pipe_at @ see,
        steel=_round(pipe_at, flat, size) @ see,
        jacket=_round(pipe_at, flat, jacket) @ see,
        axis=offset @ see,
        frame=frame @ see,
        path=_path(views, slide) @ see,
        stroke=stands @ see,
        slide_m=slide,
        roll_deg=roll,
        roll_limits_deg=views.motion.roll_limits_deg,
        slide_limits_m=views.motion.slide_limits_m,
        lit=lit,
        rests=rests,
        rays=rays,
        feet=feet,
    )


def _round(middle: Array, flat: Array, radius: float) -> Array:
    """A round (n, 3) square to the line: seen along the line it is where the cut meets the pipe."""
    turn = np.linspace(0.0, 2 * np.pi, _ROUND, endpoint=False)
    return np.asarray(middle + radius * np.stack([np.cos(turn), np.sin(turn)], axis=1) @ flat)


def _path(views: Views, slide_m: float) -> Array:
    swing = np.linspace(*views.motion.roll_limits_deg, _ARC)
    return window_frames(views.motion, np.full(_ARC, slide_m), swing).centre


def _rays(
    design: Design, views: Views, line: LineInSection | LineAlong, sun: Array | None
) -> tuple[Array, tuple[DrawnRay, ...]]:
    """Rays at even places of the film's cut."""
    x, y = line.film_at
    places = np.linspace(0.0, len(x) - 1.0, 2 * RAYS + 1)[1::2]
    number = np.arange(len(x))
    points = views.lit.points_at(np.interp(places, number, x), np.interp(places, number, y))
    if sun is None:
        return points.position, ()
    blockers = gear_blockers(design, line.placed, views.motion, views.slide_m, views.roll_deg)
    return points.position, views.lit.rays(points, sun, blockers, line.seen.see)
