"""What the plan shows of one moment: the sun, the gear where the arm puts it, shadows on the ground, shaded mirrors."""

from collections.abc import Iterator, Mapping, Sequence
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
from studio.study.optics import errors_of, motion_of, motions_beside, window_of
from studio.study.place import form_of, row_of
from studio.study.scenes import place_key
from studio.study.shade import gear_of, mirror_shade

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

    ``receivers`` (N, 3) centres of the windows that are there, ``pipe`` (2, 3) its ends over the first and last mirror, ``frames``
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


@lru_cache(maxsize=20_000)
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
    gaps = np.append(np.arange(0, placed.count, every), placed.count) - 0.5
    # frames roll, but do not slide: they stand in the gaps between mirrors
    seats = placed.first + gaps[:, None] * placed.spacing_m * placed.along
    axis = np.array(motion.axis_offset_m)
    heads = seats + (centre - slide * along) @ placed.axes
    return GearOnPlan(
        receivers=vertices[placed.there] + window @ placed.axes,
        pipe=pipe,
        frames=np.stack([seats + axis @ placed.axes, heads], axis=1),
        slide_m=slide,
        roll_deg=roll,
        rests=rests,
    )


@lru_cache(maxsize=20_000)
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


@dataclass(frozen=True, eq=False)
class Shadows:
    """Shadows on the ground, groups of outlines (K, n, 2) that run anticlockwise and overlap: a fill by winding number

    gives their union, which is the shadow. ``by_line``: of each line's mirrors, receivers, frames and pipe; the very
    same object while the line and its pose are. ``standing``: of the obstacles.
    """

    by_line: Mapping[int, tuple[Array, ...]]
    standing: tuple[Array, ...]

    @property
    def groups(self) -> Iterator[Array]:
        """All groups, those of the lines first."""
        for outlines in (*self.by_line.values(), self.standing):
            yield from outlines


def shadows_at(
    parts: Parts,
    lines: Sequence[LineOnPlan],
    gear: Sequence[GearOnPlan],
    sun: Sun,
    obstacles: tuple[Obstacle, ...] = (),
) -> Shadows | None:
    """All shadows on the ground; None while the sun is too low to throw any on the plan."""
    if sun.elevation_deg < LOW_SUN_DEG:
        return None
    return Shadows(
        {line.id: _outlines(parts, line, pose, sun) for line, pose in zip(lines, gear, strict=True)},
        obstacle_shadows(obstacles, parts.design.ground, _vector(sun.direction)),
    )


def _vector(array: Array) -> tuple[float, float, float]:
    return float(array[0]), float(array[1]), float(array[2])


_tints = Cache(most_bytes=8_000_000)


@dataclass(frozen=True, eq=False)
class _Tinted:
    """A line's tint as last worked out, with what stood before it."""

    line: LineOnPlan
    casters: Mapping[int, LineOnPlan]
    tint: Array


class TintsNow:
    """Which share of each mirror other mirrors and obstacles shade at a moment, line by line.

    A line's tint is worked out anew only where it moved itself or something did that shades it, before or after; else it
    is the very same array.
    """

    def __init__(self) -> None:
        self._of: tuple[object, ...] = ()
        self._held: dict[int, _Tinted] = {}

    def of(
        self, design: Design, lines: Sequence[LineOnPlan], sun: Sun, day_of_year: int = 1
    ) -> dict[int, Array]:
        """By line id the share (N,) at each place, 0 where it is empty; all zero without sun. ``day_of_year`` tells whether trees are in leaf."""
        if not sun.shines or not lines:
            return {line.id: np.zeros(line.placed.count) for line in lines}
        of = (design.mirror, design.obstacles, design.ground, sun, day_of_year)
        held = self._held if self._of == of else {}
        strange = [
            place for place, line in enumerate(lines) if line.id not in held or held[line.id].line is not line
        ]
        now = {line.id for line in lines}
        loose = {lines[place].id for place in strange} | (held.keys() - now)
        reached = _reached(lines, strange, sun)
        size = (form_of(design.mirror), sun.direction.tobytes())
        found = {}
        for place, line in enumerate(lines):
            before = held.get(line.id)
            if before is not None and before.line is line:
                casters = {each: caster for each, caster in before.casters.items() if each not in loose}
                fresh = {
                    lines[other].id: lines[other]
                    for other, reaches in zip(strange, reached.by[:, place].tolist(), strict=True)
                    if reaches
                }
                if not fresh and len(casters) == len(before.casters):
                    found[line.id] = before
                    continue
                casters |= fresh
            else:
                near = np.flatnonzero(reached.on[strange.index(place)]).tolist()
                casters = {lines[other].id: lines[other] for other in near}
            found[line.id] = _Tinted(line, casters, _tint(design, line, casters, sun, day_of_year, size))
        self._of, self._held = of, found
        return {line_id: tinted.tint for line_id, tinted in found.items()}


TINTS_NOW = TintsNow()
"""Of the design that the desk shows: its plan and its section read the same."""


@dataclass(frozen=True)
class _Reached:
    """Of some lines among all (L): which all they may shade, ``by`` (C, L), and which may shade them, ``on`` (C, L)."""

    by: NDArray[np.bool_]
    on: NDArray[np.bool_]


def _reached(lines: Sequence[LineOnPlan], some: Sequence[int], sun: Sun) -> _Reached:
    """A shadow reaches no farther than the caster's top stands above the target's foot, over the sun's slope."""
    low, high = (np.array([line.box[side] for line in lines]) for side in (0, 1))
    mine_low, mine_high = low[some, None], high[some, None]
    apart = np.hypot(
        *np.maximum(np.maximum(low - mine_high, mine_low - high), 0.0)[..., :2].transpose(2, 0, 1)
    )
    steep = np.tan(np.radians(max(sun.elevation_deg, 0.2)))
    by = apart <= np.maximum(mine_high[..., 2] - low[:, 2], 0.0) / steep
    on = apart <= np.maximum(high[:, 2] - mine_low[..., 2], 0.0) / steep
    itself = np.arange(len(lines)) == np.array(some, dtype=int)[:, None]
    return _Reached(by & ~itself, on & ~itself)


def _tint(
    design: Design,
    line: LineOnPlan,
    casters: Mapping[int, LineOnPlan],
    sun: Sun,
    day_of_year: int,
    size: tuple[MirrorForm, bytes],
) -> Array:
    placed, others = line.placed, [caster.placed for caster in casters.values()]

    def shaded() -> Array:
        rows = tuple(row_of(caster, design.mirror) for caster in others)
        return np.asarray(
            mirror_shade(row_of(placed, design.mirror), rows, sun.direction[None, :]).by_mirror[0]
        )

    key = (placed.make, *(place_key(placed, caster) for caster in others), size)
    tint = _tints.get(key, shaded)
    if not design.obstacles:
        return tint
    from studio.study.obstacles import shaded_now  # with all that shades: bare land shows without it

    taken = shaded_now(design, placed, sun.direction, day_of_year, _tints)
    return tint if taken is None else 1.0 - (1.0 - tint) * (1.0 - taken)
