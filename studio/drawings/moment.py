"""What the plan shows of one moment: the sun, the gear where the arm puts it, shadows on the ground, shaded mirrors."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.design.field import Pipe
from studio.design.mirror import Mirror
from studio.design.motion import Motion
from studio.design.obstacles import Obstacle
from studio.design.receiver import Receiver
from studio.design.site import Ground, Site
from studio.drawings.lines import LineOnPlan
from studio.drawings.obstacles import anticlockwise, obstacle_shadows
from studio.engine.ground.surface import Plane
from studio.engine.mirror.form import Errors, MirrorForm, Window
from studio.engine.motion.pose import LineMotion, best_poses, window_frames
from studio.engine.shade.polygons import shadow_outlines
from studio.engine.sky.sun import clock_suns
from studio.ground import surface_of
from studio.study.assessment import PlacedLine
from studio.study.cache import Cache
from studio.study.obstacles import shaded_now
from studio.study.optics import errors_of, motion_of, motions_beside, window_of
from studio.study.place import form_of, row_of
from studio.study.shade import gear_of, line_key, mirror_shade, place_key

Array = NDArray[np.float64]
LOW_SUN_DEG = 1.0
"""Below this the shadows of a field run off the plan and are not drawn."""


@dataclass(frozen=True, eq=False)
class Sun:
    """The sun at a moment: elevation, azimuth, unit vector (3,) towards it, apparent solar time."""

    elevation_deg: float
    azimuth_deg: float
    direction: Array
    solar_h: float

    @property
    def shines(self) -> bool:
        """Whether it stands above the level horizon."""
        return self.elevation_deg > 0.0


@dataclass(frozen=True, eq=False)
class GearOnPlan:
    """A line's moving gear at a moment, site frame.

    ``receivers`` (N, 3) centres of the windows, ``pipe`` (2, 3) its ends over the first and last mirror, ``frames``
    (F, 2, 3) from roll axis to pipe. ``slide_m`` and ``roll_deg`` the pose; ``rests`` when there is no sun to follow.
    """

    receivers: Array
    pipe: Array
    frames: Array
    slide_m: float
    roll_deg: float
    rests: bool


@lru_cache(maxsize=512)
def sun_at(site: Site, day_of_year: int, clock_h: float) -> Sun:
    """The sun of a moment of the site's standard clock time."""
    track = clock_suns(
        [day_of_year], [clock_h], latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg,
        altitude_m=site.altitude_m, utc_offset_h=site.utc_offset_h,
    )  # fmt: skip
    return Sun(
        float(track.elevation_deg[0]), float(track.azimuth_deg[0]), track.direction[0],
        float(track.solar_time_h[0]),
    )  # fmt: skip


@lru_cache(maxsize=512)
def _pose(
    form: MirrorForm, errors: Errors, window: Window, motion: LineMotion, sun: tuple[float, float, float]
) -> tuple[float, float]:
    poses = best_poses(form, errors, window, motion, np.array([sun]))
    return float(poses.slide_m[0]), float(poses.roll_deg[0])


@dataclass(frozen=True, eq=False)
class Parts:
    """The parts of a design that its lines' gear and shadows are drawn from; the same object for the same parts."""

    design: Design


@lru_cache(maxsize=64)
def _parts(mirror: Mirror, receiver: Receiver, motion: Motion, pipe: Pipe, ground: Ground) -> Parts:
    return Parts(Design(mirror=mirror, receiver=receiver, motion=motion, pipe=pipe, ground=ground))


def parts_of(design: Design) -> Parts:
    """A design's parts that its lines are drawn from."""
    return _parts(design.mirror, design.receiver, design.motion, design.pipe, design.ground)


def pose_at(design: Design, placed: PlacedLine, sun: Sun) -> tuple[float, float, bool]:
    """Slide, roll and whether the line rests: the best pose within its limits while the sun is before the mirrors."""
    toward = placed.axes @ sun.direction
    if not sun.shines or toward[2] <= 0.02:
        return design.motion.rest_slide_m, design.motion.rest_roll_deg, True
    form, errors, window = form_of(design.mirror), errors_of(design), window_of(design)
    rounded = (round(float(toward[0]), 6), round(float(toward[1]), 6), round(float(toward[2]), 6))
    poses = [
        (_pose(form, errors, window, motion, rounded), share)
        for motion, share in motions_beside(design, placed)
    ]
    slide, roll = (sum(share * pose[part] for pose, share in poses) for part in (0, 1))
    return slide, roll, False


@lru_cache(maxsize=4000)
def gear_at(parts: Parts, line: LineOnPlan, sun: Sun) -> GearOnPlan:
    """Where a line's receivers, pipe and frames stand."""
    design, placed = parts.design, line.placed
    slide, roll, rests = pose_at(design, placed, sun)
    motion = motion_of(design.motion, placed.axes @ placed.along)
    # the pipe rides on the arm, however the window is turned on it
    frames = window_frames(replace(motion, window_turn_deg=0.0), np.array([slide]), np.array([roll]))
    window, forward = frames.centre[0], frames.forward[0]
    aside = np.cross(frames.along, forward)
    aside = aside if aside[1] >= 0 else -aside  # + is up the mirror's slope
    centre = window + design.motion.pipe_out_m * forward + design.motion.pipe_aside_m * aside
    vertices = placed.vertices()
    along = frames.along
    half = design.mirror.width_m / 2
    pipe = np.stack(
        [
            vertices[0] + (centre - half * along) @ placed.axes,
            vertices[-1] + (centre + half * along) @ placed.axes,
        ]
    )
    every = design.motion.mirrors_per_frame
    gaps = np.unique(np.append(np.arange(0, placed.count, every), placed.count)) - 0.5
    # frames roll, but do not slide: they stand in the gaps between mirrors
    seats = placed.first + gaps[:, None] * placed.spacing_m * placed.along
    axis = np.array(motion.axis_offset_m)
    heads = seats + (centre - slide * along) @ placed.axes
    return GearOnPlan(
        receivers=vertices + window @ placed.axes,
        pipe=pipe,
        frames=np.stack([seats + axis @ placed.axes, heads], axis=1),
        slide_m=slide,
        roll_deg=roll,
        rests=rests,
    )


@lru_cache(maxsize=4000)
def _outlines(parts: Parts, line: LineOnPlan, gear: GearOnPlan, sun: Sun) -> tuple[Array, ...]:
    design = parts.design
    under = _ground_near(design, line)
    found = shadow_outlines(
        row_of(line.placed, design.mirror), gear_of(design, line.placed), _vector(sun.direction),
        slide_m=gear.slide_m, roll_deg=gear.roll_deg, normal=under.normal, through=under.through,
    )  # fmt: skip
    return tuple(anticlockwise(part) for part in (found.mirrors, found.receivers, found.frames, found.pipe))


_BESIDE = 1.5
"""How far to either side of a line, in heights of a mirror, the ground counts that its shadows fall on."""


def _ground_near(design: Design, line: LineOnPlan) -> Plane:
    """The plane that a line's shadows are drawn on: over uneven ground the one fitted to the ground under the line and
    a mirror and a half to either side. What falls farther, or on a hump in between, is drawn where that plane would catch it.
    """
    feet = line.vertices[:, :2]
    aside = np.array([-line.along[1], line.along[0]]) * _BESIDE * design.mirror.height_m
    return surface_of(design.ground).plane_near(np.concatenate([feet, feet + aside, feet - aside]))


def shadows_at(
    parts: Parts,
    lines: Sequence[LineOnPlan],
    gear: Sequence[GearOnPlan],
    sun: Sun,
    obstacles: tuple[Obstacle, ...] = (),
) -> tuple[Array, ...]:
    """Shadows on the ground, groups of outlines (K, n, 2) that run anticlockwise.

    They overlap; a fill by winding number gives their union, which is the shadow. None while the sun is too low to
    throw any on the plan.
    """
    if sun.elevation_deg < LOW_SUN_DEG:
        return ()
    found = [_outlines(parts, line, pose, sun) for line, pose in zip(lines, gear, strict=True)]
    of_lines = tuple(np.concatenate(group) for group in zip(*found, strict=True))
    return of_lines + obstacle_shadows(obstacles, parts.design.ground, _vector(sun.direction))


def _vector(array: Array) -> tuple[float, float, float]:
    return float(array[0]), float(array[1]), float(array[2])


_tints = Cache(most_bytes=8_000_000)


def tints_at(design: Design, lines: Sequence[LineOnPlan], sun: Sun, day_of_year: int = 1) -> dict[int, Array]:
    """By line id, the share (N,) of each mirror that other mirrors and obstacles shade now; all zero without sun.

    ``day_of_year`` tells whether trees are in leaf.
    """
    placed = [line.placed for line in lines]
    if not sun.shines or not placed:
        return {line.id: np.zeros(line.count) for line in placed}
    suns = sun.direction[None, :]
    size = (form_of(design.mirror), sun.direction.tobytes())
    low = np.array([line.corners.min(axis=(0, 1)) for line in lines])
    high = np.array([line.corners.max(axis=(0, 1)) for line in lines])
    steep = np.tan(np.radians(max(sun.elevation_deg, 0.2)))

    def shaded(line: PlacedLine, casters: tuple[PlacedLine, ...]) -> Callable[[], Array]:
        def work() -> Array:
            rows = tuple(row_of(caster, design.mirror) for caster in casters)
            return np.asarray(mirror_shade(row_of(line, design.mirror), rows, suns).by_mirror[0])

        return work

    found = {}
    for place, line in enumerate(placed):
        # a shadow reaches no farther than the caster's top stands above the target's foot, over the sun's slope
        apart = np.hypot(*np.maximum(np.maximum(low - high[place], low[place] - high), 0.0)[:, :2].T)
        reached = apart <= np.maximum(high[:, 2] - low[place, 2], 0.0) / steep
        casters = tuple(placed[other] for other in np.flatnonzero(reached) if other != place)
        key = (line_key(line), *(place_key(line, caster) for caster in casters), size)
        found[line.id] = _tints.get(key, shaded(line, casters))
        if design.obstacles:
            taken = shaded_now(design, line, sun.direction, day_of_year, _tints)
            if taken is not None:
                found[line.id] = 1.0 - (1.0 - found[line.id]) * (1.0 - taken)
    return found
