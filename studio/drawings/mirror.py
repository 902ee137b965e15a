"""One mirror as it is drawn: from the side, along its line and from the front, with rays of a moment; metres, no Qt.

Side and long section are seen square to the line: ``aside`` is square to the line and the mirror axis, + up the slope;
``up`` is square to the line, as near the mirror axis as that allows. The front is seen along the mirror axis.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.drawings.mirror_light import DrawnRay, LitFilm
from studio.drawings.moment import Sun, pose_at
from studio.engine.heat.pipe import pipe_size
from studio.engine.mirror.blockers import Blocker
from studio.engine.mirror.cone import cone_shares
from studio.engine.mirror.form import Errors, MirrorForm, Window, rib_depth
from studio.engine.mirror.points import Points, surface_points
from studio.engine.motion.pose import LineMotion, transverse_axes, window_frames
from studio.engine.shade.gear import GearShape
from studio.study.assessment import PlacedLine
from studio.study.optics import errors_of, motion_of, window_of
from studio.study.place import form_of, up_the_slope
from studio.study.shade import gear_of
from studio.study.spot import gear_blockers

Array = NDArray[np.float64]
RAYS, RAYS_ALONG = 17, 11
_CURVE = 97
_ARC = 49
_LEAST_COSINE = 0.02
"""Below it (as in the plan) receivers rest."""


@dataclass(frozen=True, eq=False)
class Receiver:
    """A receiver in a view: its ``box`` (4, 2), ``window`` (2, 2) of that the opening, middle of the ``pipe`` (2,)."""

    box: Array
    window: Array
    pipe: Array


@dataclass(frozen=True, eq=False)
class SideView:
    """The mirror square to its line: (aside, up).

    ``film`` (n, 2) cut through the vertex, ``rib`` (n, 2) the edge beyond it; ``arm`` (2, 2) from roll axis to window;
    ``swing`` (n, 2) the window's way from the lower roll limit to the upper; ``focus`` (2,) of the mirror.
    """

    film: Array
    rib: Array
    axis: Array
    arm: Array
    frame: Array
    receiver: Receiver
    pipe_radius_m: float
    insulated_radius_m: float
    swing: Array
    focus: Array
    rays: tuple[DrawnRay, ...]


@dataclass(frozen=True, eq=False)
class LongView:
    """The mirror and its neighbours along the line: (along, up). ``films`` (K, n, 2), its own is ``own``.

    ``stroke`` (2, 2): where the middle of its window stands at the ends of the slide, ``ends`` (2, 2) of the pipe drawn.
    """

    films: Array
    own: int
    receivers: tuple[Receiver, ...]
    stroke: Array
    pipe: Array
    rays: tuple[DrawnRay, ...]


@dataclass(frozen=True, eq=False)
class FrontView:
    """The mirror seen along its axis: (x, y). ``ribs_x_m`` (R,); ``shares`` (R - 1, rows, columns) of each patch's light

    that the window takes, rows from the lower edge up; NaN where no sun falls on it. ``receiver`` (4, 2): the opening's
    outline as it stands before the mirror; ``pipe`` (2, 2).
    """

    ribs_x_m: Array
    shares: Array
    receiver: Array
    pipe: Array


@dataclass(frozen=True, eq=False)
class MirrorDrawing:
    """A mirror of a line at a moment. ``accepted`` and ``into_window``: shares of the reflected light, by the cone way.

    ``aside_azimuth_deg``: the azimuth that the right of the side view looks to, ``along_azimuth_deg`` that of the long view.
    """

    form: MirrorForm
    window: Window
    line_id: int
    count: int
    spacing_m: float
    side: SideView
    long: LongView
    front: FrontView
    slide_m: float
    roll_deg: float
    roll_limits_deg: tuple[float, float]
    rests: bool
    sun_falls_on_it: bool
    off_axis_deg: float
    aside_azimuth_deg: float
    along_azimuth_deg: float
    accepted: float
    into_window: float
    arm_m: float
    depth_m: float


def mirror_drawing(
    design: Design, placed: PlacedLine, sun: Sun, *, pose: tuple[float, float] | None = None
) -> MirrorDrawing:
    """A mirror of a line under a sun; its receiver in ``pose`` (slide in m, roll in degrees), the best one unless given."""
    slide, roll, rests = pose_at(design, placed, sun)
    if pose is not None and not rests:
        slide, roll = pose
    toward = placed.axes @ sun.direction
    lit = sun.shines and float(toward[2]) > _LEAST_COSINE
    views = views_of(design, placed, slide, roll)
    form, errors, window, motion = views.form, views.lit.errors, views.window, views.motion
    frame = views.lit.frame
    suns = toward[None, :]
    accepted = into = 0.0
    if lit:
        shares = cone_shares(_points(form, errors), errors, window, suns, frame)
        accepted, into = float(shares.accepted[0]), float(shares.into_window[0])
    blockers = gear_blockers(design, placed, motion, slide, roll)
    sunlit = toward if lit else None
    size = pipe_size(design.pipe.size).outside_mm / 2000
    return MirrorDrawing(
        form=form,
        window=window,
        line_id=placed.id,
        count=placed.count,
        spacing_m=placed.spacing_m,
        side=views.side(sunlit, blockers, size),
        long=views.long(sunlit, blockers, placed),
        front=views.front(sunlit),
        slide_m=slide,
        roll_deg=roll,
        roll_limits_deg=motion.roll_limits_deg,
        rests=rests,
        sun_falls_on_it=lit,
        aside_azimuth_deg=_azimuth(views.aside @ placed.axes),
        along_azimuth_deg=_azimuth(placed.along),
        off_axis_deg=float(np.degrees(np.arccos(np.clip(toward[2], -1.0, 1.0)))),
        accepted=accepted,
        into_window=into,
        arm_m=motion.arm_m,
        depth_m=float(rib_depth(form, 0.0, form.height_m / 2)),
    )


@lru_cache(maxsize=8)
def _points(form: MirrorForm, errors: Errors) -> Points:
    return surface_points(form, errors)


def _azimuth(direction: Array) -> float:
    return float(np.degrees(np.arctan2(direction[0], direction[1])) % 360.0)


@dataclass(frozen=True)
class Views:
    """The parts in the mirror frame, and how each view sees them."""

    lit: LitFilm
    motion: LineMotion
    gear: GearShape
    slide_m: float
    roll_deg: float

    @property
    def form(self) -> MirrorForm:
        return self.lit.form

    @property
    def window(self) -> Window:
        return self.lit.window

    @property
    def along(self) -> Array:
        return np.array(self.motion.along)

    @property
    def aside(self) -> Array:
        return up_the_slope(self.along)

    @property
    def up(self) -> Array:
        return transverse_axes(self.motion)[1]

    def side(self, sun: Array | None, blockers: tuple[Blocker, ...], pipe_radius: float) -> SideView:
        see = np.stack([self.aside, self.up], axis=1)
        beyond = self.lit.section(self.aside, off_m=1.0)
        frame = self.lit.frame
        offset = np.array(self.motion.axis_offset_m)
        swing = np.linspace(*self.motion.roll_limits_deg, _ARC)
        arc = window_frames(self.motion, np.full(_ARC, self.slide_m), swing).centre
        centre = frame.centre[0]
        pipe = self.pipe_middle()
        return SideView(
            film=self.lit.section(self.aside) @ see,
            rib=beyond @ see,
            axis=offset @ see,
            arm=np.stack([offset + self.slide_m * self.along, centre]) @ see,
            frame=np.stack([offset + self.slide_m * self.along, pipe]) @ see,
            receiver=self.receiver(see),
            pipe_radius_m=pipe_radius,
            insulated_radius_m=self.gear.pipe_diameter_m / 2,
            swing=arc @ see,
            focus=np.array([0.0, 0.0, self.form.focal_m]) @ see,
            rays=self.lit.rays(self.lit.cut_points(self.aside, RAYS), sun, blockers, see),
        )

    def long(self, sun: Array | None, blockers: tuple[Blocker, ...], placed: PlacedLine) -> LongView:
        see = np.stack([self.along, self.up], axis=1)
        film = self.lit.section(self._level_along()) @ see
        steps = np.array([-1.0, 0.0, 1.0])[slice(0, 3) if placed.count > 2 else slice(1, 1 + placed.count)]
        shift = np.stack([steps * placed.spacing_m, np.zeros(len(steps))], axis=1)
        own = self.receiver(see)
        middle = self.lit.frame.centre[0] @ see
        low, high = self.motion.slide_limits_m
        ends = middle + np.array([[low - self.slide_m, 0.0], [high - self.slide_m, 0.0]])
        reach = np.abs(shift[:, 0]).max() + self.form.width_m / 2
        pipe = self.pipe_middle() @ see
        return LongView(
            films=film[None] + shift[:, None, :],
            own=int(np.argmin(np.abs(steps))),
            receivers=tuple(Receiver(own.box + by, own.window + by, own.pipe + by) for by in shift),
            stroke=ends,
            pipe=np.array([[-reach, pipe[1]], [reach + shift[-1, 0] - np.abs(shift[:, 0]).max(), pipe[1]]]),
            rays=self.lit.rays(self.lit.cut_points(self._level_along(), RAYS_ALONG), sun, blockers, see),
        )

    def front(self, sun: Array | None) -> FrontView:
        see = np.eye(3)[:, :2]
        pipe = self.pipe_middle() - self.slide_m * self.along
        run = 0.6 * self.form.width_m * self.along
        window = self.receiver(np.eye(3), opening=True).box
        return FrontView(
            ribs_x_m=self.form.rib_x_m,
            shares=self.lit.patch_shares(sun),
            receiver=window @ see,
            pipe=np.stack([pipe - run, pipe + run]) @ see,
        )

    # parts -----------------------------------------------------------------------------------------------------

    def pipe_middle(self) -> Array:
        """The pipe rides on the arm, however the window is turned on it."""
        straight = replace(self.motion, window_turn_deg=0.0)
        outward = window_frames(straight, np.array([self.slide_m]), np.array([self.roll_deg])).forward[0]
        out, aside = self.gear.pipe_offset_m
        centre = self.lit.frame.centre[0]
        return np.asarray(centre + out * outward + aside * np.cross(self.along, outward))

    def receiver(self, see: Array, *, opening: bool = False, end_on: bool | None = None) -> Receiver:
        """Its box as the view sees it; with ``opening`` the window's own outline.

        Seen along the line (``end_on``; by itself where ``see`` looks that way) the box shows its height, from aside its width.
        """
        frame = self.lit.frame
        centre, forward = frame.centre[0], frame.forward[0]
        across = frame.across[0]
        end_on = abs(float((frame.along @ see)[0])) < 0.5 if end_on is None else end_on
        side = across if end_on else frame.along
        half = (self.gear.receiver_height_m if end_on else self.gear.receiver_width_m) / 2
        clear = (self.window.height_m if end_on else self.window.width_m) / 2
        back = self.gear.receiver_depth_m * forward
        box = np.stack(
            [
                centre - half * side,
                centre + half * side,
                centre + half * side + back,
                centre - half * side + back,
            ]
        )
        if opening:
            wide, high = self.window.width_m / 2 * frame.along, self.window.height_m / 2 * across
            box = np.stack(
                [centre - wide - high, centre + wide - high, centre + wide + high, centre - wide + high]
            )
        return Receiver(
            box=box @ see,
            window=np.stack([centre - clear * side, centre + clear * side]) @ see,
            pipe=self.pipe_middle() @ see,
        )

    def _level_along(self) -> Array:
        """The line's direction laid into the aperture."""
        flat = self.along * [1.0, 1.0, 0.0]
        return np.asarray(flat / np.linalg.norm(flat))


def views_of(design: Design, placed: PlacedLine, slide_m: float, roll_deg: float) -> Views:
    """The parts of a line's mirrors with the receivers in a pose."""
    motion = motion_of(design.motion, placed.axes @ placed.along)
    frame = window_frames(motion, np.array([slide_m]), np.array([roll_deg]))
    lit = LitFilm(form_of(design.mirror), errors_of(design), window_of(design), frame)
    return Views(lit, motion, gear_of(design, placed), slide_m, roll_deg)
