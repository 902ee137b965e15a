"""Stage: how a line lies over the ground: its grade, how long its posts are, and the earth that grading would move."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from studio.design.design import Design
from studio.engine.ground.straight import Earthwork, earthwork
from studio.ground import straight_of, surface_of
from studio.study.assessment import Array, PlacedLine
from studio.study.line_seen import OfLines
from studio.study.place import stand_of


@dataclass(frozen=True, eq=False)
class LineLay:
    """A line over its ground.

    ``grade_percent``: rise towards the far end. ``posts_m`` (N,): from the ground to the vertex of each mirror that is there; the
    shortest is what the line stands at, or longer where a place is left out. ``steepest_percent`` (N,): slope of the ground
    under each mirror, the larger of that along and that across the line. ``earth``: cut and fill if the strip below the
    mirrors were graded instead. ``low_m`` and ``low_over_m`` (N,): the lowest point of each mirror's low edge, as a height and
    over its ground; the rim is taken at the vertex's plane, by its depth too low.
    """

    grade_percent: float
    posts_m: Array
    steepest_percent: Array
    earth: Earthwork
    low_m: Array
    low_over_m: Array

    @cached_property
    def post_ends_m(self) -> tuple[float, float]:
        """Shortest and longest post."""
        return float(self.posts_m.min()), float(self.posts_m.max())

    @cached_property
    def posts_in_all_m(self) -> float:
        """Length of all posts together."""
        return float(self.posts_m.sum())

    @cached_property
    def steepest_at(self) -> int:
        """The mirror under which the ground is steepest."""
        return int(self.steepest_percent.argmax())

    @cached_property
    def lowest(self) -> tuple[int, int]:
        """The mirrors whose low edge is lowest, and lowest over its ground."""
        return int(self.low_m.argmin()), int(self.low_over_m.argmin())


_held: OfLines[LineLay] = OfLines()


def lay_of(design: Design, placed: PlacedLine) -> LineLay:
    """How a line lies over its ground; worked out once while neither line, mirror nor ground changes."""
    reads = surface_of(design.ground), design.line(placed.id), design.mirror
    return _held.get(placed, reads, lambda: _lay(design, placed))


def _lay(design: Design, placed: PlacedLine) -> LineLay:
    surface, line = surface_of(design.ground), design.line(placed.id)
    straight = straight_of(line, design.ground)
    half_along, half_across = footprint(design, placed)
    edges = _low_edges(design, placed)
    return LineLay(
        grade_percent=straight.grade_percent,
        posts_m=posts_of(design, placed),
        steepest_percent=_steepest(design, placed, half_along, half_across),
        earth=earthwork(
            surface,
            straight,
            x_m=line.x_m,
            y_m=line.y_m,
            azimuth_deg=line.azimuth_deg,
            from_m=-half_along,
            to_m=float(np.hypot(*(placed.vertices()[-1] - placed.first)[:2])) + half_along,
            half_width_m=half_across,
        ),
        low_m=edges[..., 2].min(axis=1),
        low_over_m=surface.over(edges).min(axis=1),
    )


def _low_edges(design: Design, line: PlacedLine) -> Array:
    """Ends and middle of the apertures' low edges (M, 3, 3)."""
    wide, high = line.axes[0] * design.mirror.width_m / 2, line.axes[1] * design.mirror.height_m / 2
    low = -high if high[2] >= 0 else high
    return np.asarray(line.vertices()[line.there, None] + np.stack([low - wide, low, low + wide]))


def posts_of(design: Design, placed: PlacedLine) -> Array:
    """From the ground to each mirror's vertex (N,), m."""
    if design.ground.heights is None:
        return np.full(placed.mirrors, stand_of(design.line(placed.id), design.mirror).stands_at_m)
    return surface_of(design.ground).over(placed.vertices()[placed.there])


def footprint(design: Design, placed: PlacedLine) -> tuple[float, float]:
    """Half of what a mirror takes up on plan along its line and across it, m."""
    e = placed.along[:2] / np.hypot(*placed.along[:2])
    wide, high = placed.axes[0, :2] * design.mirror.width_m, placed.axes[1, :2] * design.mirror.height_m
    square = np.array([-e[1], e[0]])
    return (
        float(abs(wide @ e) + abs(high @ e)) / 2,
        float(abs(wide @ square) + abs(high @ square)) / 2,
    )


def _steepest(design: Design, placed: PlacedLine, half_along: float, half_across: float) -> Array:
    """Slope of the ground (N,), %, under each mirror from end to end of its footprint, along or across."""
    e = placed.along[:2] / np.hypot(*placed.along[:2])
    feet = placed.vertices()[placed.there, :2]
    surface, found = surface_of(design.ground), []
    for way, half in ((e, half_along), (np.array([-e[1], e[0]]), half_across)):
        half = max(half, 0.1)  # a mirror that stands upright takes up next to nothing across
        fore, aft = feet + half * way, feet - half * way
        rise = surface.height_at(fore[:, 0], fore[:, 1]) - surface.height_at(aft[:, 0], aft[:, 1])
        found.append(np.abs(rise) / (2 * half))
    return 100 * np.maximum(*found)
