"""What the plan shows of one moment: the sun, the gear where the arm puts it, shadows on the ground, shaded mirrors."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.design.site import Site
from studio.engine.mirror.form import Errors, MirrorForm, Window
from studio.engine.motion.pose import LineMotion, best_poses, window_frames
from studio.engine.sky.sun import clock_suns
from studio.study.assessment import PlacedLine
from studio.study.cache import Cache
from studio.study.optics import errors_of, motion_of, window_of
from studio.study.place import form_of, row_of
from studio.study.shade import gear_of, mirror_shade, near, scene_key

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


def pose_at(design: Design, placed: PlacedLine, sun: Sun) -> tuple[float, float, bool]:
    """Slide, roll and whether the line rests: the best pose within its limits while the sun is before the mirrors."""
    toward = placed.axes @ sun.direction
    if not sun.shines or toward[2] <= 0.02:
        return design.motion.rest_slide_m, design.motion.rest_roll_deg, True
    motion = motion_of(design.motion, placed.axes @ placed.along)
    rounded = (round(float(toward[0]), 6), round(float(toward[1]), 6), round(float(toward[2]), 6))
    slide, roll = _pose(form_of(design.mirror), errors_of(design), window_of(design), motion, rounded)
    return slide, roll, False


def gear_at(design: Design, placed: PlacedLine, sun: Sun) -> GearOnPlan:
    """Where a line's receivers, pipe and frames stand."""
    slide, roll, rests = pose_at(design, placed, sun)
    motion = motion_of(design.motion, placed.axes @ placed.along)
    frames = window_frames(motion, np.array([slide]), np.array([roll]))
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
    axis = np.array([0.0, 0.0, design.motion.axis_up_m])
    heads = seats + (centre - slide * along) @ placed.axes
    return GearOnPlan(
        receivers=vertices + window @ placed.axes,
        pipe=pipe,
        frames=np.stack([seats + axis @ placed.axes, heads], axis=1),
        slide_m=slide,
        roll_deg=roll,
        rests=rests,
    )


def shadow_quads(design: Design, corners: Sequence[Array], gear: Sequence[GearOnPlan], sun: Sun) -> Array:
    """Shadows (K, 4, 2) on the ground of mirrors ``corners`` (N, 4, 3 each), receivers and pipes.

    A point's shadow is where its ray meets the plane of the ground. Corners run anticlockwise, so that a fill by
    winding number gives their union. None while the sun is too low to throw any on the plan.
    """
    if sun.elevation_deg < LOW_SUN_DEG or not corners:
        return np.zeros((0, 4, 2))
    shape = gear_of(design)
    quads = [np.concatenate(list(corners))]
    side = np.cross(np.array([0.0, 0.0, 1.0]), sun.direction)
    side /= np.linalg.norm(side) or 1.0
    for part in gear:
        along = part.pipe[1] - part.pipe[0]
        along /= np.linalg.norm(along) or 1.0
        girth = np.cross(along, sun.direction)
        girth *= shape.pipe_diameter_m / 2 / (np.linalg.norm(girth) or 1.0)
        quads.append(_band(part.pipe[None, :, :], girth))
        ends = np.stack(
            [
                part.receivers - along * shape.receiver_width_m / 2,
                part.receivers + along * shape.receiver_width_m / 2,
            ],
            axis=1,
        )
        quads.append(_band(ends, girth * (shape.receiver_height_m / shape.pipe_diameter_m)))
        quads.append(_band(part.frames, side * shape.frame_width_m / 2))
    return _on_ground(design, np.concatenate(quads), sun)


def _band(ends: Array, girth: Array) -> Array:
    """Bands (K, 4, 3) about lines ``ends`` (K, 2, 3), ``girth`` (3,) to either side."""
    start, end = ends[:, 0], ends[:, 1]
    return np.stack([start - girth, end - girth, end + girth, start + girth], axis=1)


def _on_ground(design: Design, quads: Array, sun: Sun) -> Array:
    fall = np.radians(design.ground.falls_towards_deg)
    slope = -design.ground.slope_percent / 100 * np.array([np.sin(fall), np.cos(fall)])
    above = quads[..., 2] - quads[..., :2] @ slope
    sinking = float(sun.direction[2] - sun.direction[:2] @ slope)
    if sinking <= 0.01:
        return np.zeros((0, 4, 2))
    flat = quads[..., :2] - sun.direction[:2] * (above / sinking)[..., None]
    across = flat[:, 2] - flat[:, 0], flat[:, 3] - flat[:, 1]
    clockwise = across[0][:, 0] * across[1][:, 1] - across[0][:, 1] * across[1][:, 0] < 0
    flat[clockwise] = flat[clockwise][:, ::-1]
    return np.asarray(flat)


_tints = Cache(most_bytes=8_000_000)


def tints_at(design: Design, placed: tuple[PlacedLine, ...], sun: Sun) -> dict[int, Array]:
    """By line id, the share (N,) of each mirror that other mirrors shade now; all zero without sun."""
    if not sun.shines:
        return {line.id: np.zeros(line.count) for line in placed}
    suns = sun.direction[None, :]
    size = (form_of(design.mirror), sun.direction.tobytes())

    def shaded(line: PlacedLine, casters: tuple[PlacedLine, ...]) -> Callable[[], Array]:
        def work() -> Array:
            rows = tuple(row_of(caster, design.mirror) for caster in casters)
            return np.asarray(mirror_shade(row_of(line, design.mirror), rows, suns).by_mirror[0])

        return work

    found = {}
    for line in placed:
        casters = near(line, placed, design)
        key = (*scene_key(line, casters), size)
        found[line.id] = _tints.get(key, shaded(line, casters))
    return found
