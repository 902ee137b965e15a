"""What a line takes up: its mirrors, their posts, what slides over them at every pose, its drive."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from studio.engine.shade.clip import aperture_corners
from studio.engine.shade.gear import KINDS, GearShape, pose_gear
from studio.engine.shade.rows import Floats, RowOfMirrors

_ROLLS = 9
_POST_M = 0.04
"""Half the thickness of the post below a mirror's vertex: an assumption of ours."""
Shapes = NDArray[np.object_]


@dataclass(frozen=True)
class LineOnPlan:
    """What a line takes up, site frame, m.

    ``corners`` (M, 4, 3) are those of the apertures that are there, ``heads`` (M, 3) the tops of the posts they stand on and
    ``places`` (M,) their places in the line, from 0. ``bars`` (N, 2, 3) are the two ends of what slides (pipe with
    receivers) at its farthest either way, for N rolls from one limit to the other, and ``bar_radius_m`` its half
    thickness. ``frame_width_m`` is what must pass between neighbouring mirrors. ``drive`` is its outline on plan.
    """

    corners: Floats
    heads: Floats
    places: NDArray[np.int64]
    bars: Floats
    bar_radius_m: float
    frame_width_m: float
    drive: Polygon | None = None

    @cached_property
    def from_own_support(self) -> tuple[float, int]:
        """How far its sliding bar stays from its own posts, and the mirror whose post it comes nearest to."""
        return distance_from_posts(self, self)

    @cached_property
    def feet(self) -> Shapes:
        """Outlines (M,) of the apertures on plan."""
        return np.asarray(shapely.polygons(self.corners[..., :2]), dtype=object)

    @cached_property
    def stand(self) -> BaseGeometry:
        """Hull of the apertures on plan."""
        return _hull(self.corners)

    @cached_property
    def middle(self) -> BaseGeometry:
        """A line along the middle of its mirrors, out to the far edges of the end ones."""
        return shapely.LineString(_middle_line(self))

    @cached_property
    def gap(self) -> tuple[float, tuple[float, float]] | None:
        """The gap between its first two neighbours along the line, and its place on plan; None where there is none."""
        return _gap(self)

    @cached_property
    def heights(self) -> tuple[float, float]:
        """Least and most height of the sliding bar."""
        z = self.bars[..., 2]
        return float(z.min()) - self.bar_radius_m, float(z.max()) + self.bar_radius_m

    @cached_property
    def swept(self) -> BaseGeometry:
        """What the sliding bar may take up on plan."""
        return _hull(self.bars).buffer(self.bar_radius_m)

    @cached_property
    def bounds(self) -> Floats:
        """Least x, least y, most x, most y of all of it on plan."""
        shapes = [self.stand, self.swept, *([] if self.drive is None else [self.drive])]
        return np.asarray(shapely.total_bounds(shapes))


def line_on_plan(
    row: RowOfMirrors,
    gear: GearShape,
    *,
    slide_m: tuple[float, float],
    roll_deg: tuple[float, float],
    drive: Polygon | None = None,
) -> LineOnPlan:
    """What ``row`` takes up with its ``gear`` at every pose within ``slide_m`` and ``roll_deg`` (least, most).

    The sliding bar is as thick as the farthest corner of a receiver from the bar's middle, halfway between the receivers'
    and the pipe's.
    """
    rolls = np.linspace(*roll_deg, _ROLLS)
    sun = np.tile(np.array(row.axes[2]), (_ROLLS, 1))
    bodies = pose_gear(gear, row, sun, slide_m=np.zeros(_ROLLS), roll_deg=rolls).bodies
    box, pipe = KINDS.index("receiver"), KINDS.index("pipe before")
    along = row.into_mirror_frame(np.array(row.along))
    at_pipe = bodies.centre[:, pipe] + bodies.extents[:, pipe, 0]
    apart = at_pipe - bodies.centre[:, box]
    middle = bodies.centre[:, box] + apart / 2
    radius = float(np.linalg.norm(apart[0])) / 2 + max(
        float(np.hypot(gear.receiver_height_m, gear.receiver_depth_m)) / 2, gear.pipe_diameter_m / 2
    )
    tail = max(gear.overhang_m, gear.receiver_width_m / 2)
    reach = np.array([slide_m[0] - tail, slide_m[1] + tail + (row.count - 1) * row.spacing_m])
    ends = middle[:, None] + reach[:, None] * along
    axes = np.array(row.axes)
    return LineOnPlan(
        corners=aperture_corners(row),
        heads=row.vertices()[row.there],
        places=row.there,
        bars=ends @ axes + np.array(row.first) + row.plane_z_m * axes[2],
        bar_radius_m=radius,
        frame_width_m=gear.frame_width_m,
        drive=drive,
    )


def distance_from_posts(line: LineOnPlan, beside: LineOnPlan) -> tuple[float, int]:
    """How far the sliding bar of ``line`` stays from the posts of ``beside`` (it may be the line itself), and the mirror whose
    post it comes nearest to.

    A post is upright and reaches from below up to its head. The bar's point that is nearest to it on plan stands
    for the bar, which is exact where the bar is level.
    """
    start, way = line.bars[:, 0], line.bars[:, 1] - line.bars[:, 0]
    share = np.einsum("mij,ij->im", beside.heads[:, None, :2] - start[:, :2], way[:, :2])
    share = np.clip(
        share / np.maximum(np.einsum("ij,ij->i", way[:, :2], way[:, :2]), 1e-12)[:, None], 0.0, 1.0
    )
    nearest = start[:, None] + share[..., None] * way[:, None]
    away = nearest - beside.heads
    apart = np.hypot(np.hypot(away[..., 0], away[..., 1]), np.maximum(away[..., 2], 0.0))
    gap = apart - line.bar_radius_m - _POST_M
    roll, mirror = np.unravel_index(int(gap.argmin()), gap.shape)
    return float(gap[roll, mirror]), int(mirror)


def _hull(points: Floats) -> BaseGeometry:
    return MultiPoint(points[..., :2].reshape(-1, 2)).convex_hull


def _middle_line(line: LineOnPlan) -> Floats:
    """Ends (2, 2) on plan of a line's middle, out to the far edges of its end mirrors."""
    middle = line.corners.mean(axis=1)[:, :2]
    if len(middle) == 1:
        return np.asarray(line.corners[0, [0, 1], :2] / 2 + line.corners[0, [3, 2], :2] / 2)
    along = (middle[-1] - middle[0]) / np.linalg.norm(middle[-1] - middle[0])
    reach = (line.corners[0, :, :2] - middle[0]) @ along
    return np.array([middle[0] + reach.min() * along, middle[-1] + reach.max() * along])


def _gap(line: LineOnPlan) -> tuple[float, tuple[float, float]] | None:
    neighbours = np.flatnonzero(np.diff(line.places) == 1)
    if not neighbours.size:
        return None
    two = line.corners[neighbours[0] : neighbours[0] + 2]
    middle = two.mean(axis=1)
    along = (middle[1] - middle[0]) / np.linalg.norm(middle[1] - middle[0])
    reach = (two - middle[:1, None]) @ along
    place = middle[0] / 2 + middle[1] / 2
    return float(reach[1].min() - reach[0].max()), (float(place[0]), float(place[1]))
