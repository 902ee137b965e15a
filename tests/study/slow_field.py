"""A design's lines, ready to be posed and traced the slow way: where gear stands, what it throws and which rays get through are
worked out here with shapely and with ``studio.engine.mirror.rays``."""

from dataclasses import dataclass
from math import pi, sin

import numpy as np
import shapely
from numpy.typing import NDArray

from studio.design.design import Document
from studio.engine.heat.pipe import pipe_size
from studio.engine.mirror.form import edge_depth
from studio.engine.mirror.rays import RayHits, ray_hits
from studio.study.cache import Cache
from studio.study.heat import receiver_of
from studio.study.optics import errors_of, table_covering, window_of
from studio.study.place import form_of, place_lines

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]

CAUSES = ("on aperture", "mirrors", "gear", "film", "intercept", "acceptance", "absorptance", "absorbed")
_FRONT_M = 1e-9
_ROUND_PIPE, _ROUND_ROD = 24, 8


@dataclass(frozen=True)
class Cast:
    """Rays of one sun: where they fell, the light (N,) of each in m2 of aperture square to the sun, the ``mirror`` (N,) of each,
    the sun in the mirror frame, and the gear around."""

    hits: RayHits
    light: Floats
    mirror: Ints
    seen: Floats
    gear: list[Floats]


class SlowField:
    """A design's lines, ready to be posed and traced. All its lines are posed alike: they must stand alike."""

    def __init__(self, document: Document) -> None:
        design = document.design
        self.design = design
        self.lines = place_lines(design)
        if any(not np.allclose(line.axes, self.lines[0].axes) for line in self.lines):
            raise ValueError("the slow way is written for lines that stand alike")
        self.axes = self.lines[0].axes
        self.along = self.lines[0].along
        self.vertices = np.concatenate([line.vertices()[line.there] for line in self.lines])
        self.form, self.errors, self.window = form_of(design.mirror), errors_of(design), window_of(design)
        self.rim_m = edge_depth(self.form)
        mirror = design.mirror
        half = np.array([mirror.width_m, mirror.height_m]) / 2
        corners = np.array([[*(half * side), self.rim_m] for side in ((-1, -1), (1, -1), (1, 1), (-1, 1))])
        self.corners = self.vertices[:, None] + corners @ self.axes
        self.rims = self.vertices[:, None] + self.rim() @ self.axes
        self.aperture_m2 = len(self.vertices) * mirror.width_m * mirror.height_m
        self.reflectance = mirror.reflectance * mirror.dirt_factor * mirror.age_factor
        self.absorptance = receiver_of(design).absorptance

    def poses(self, suns: Floats) -> tuple[Floats, Floats]:
        """Slide and roll of the design's drive table at suns (S, 3) of the site frame."""
        seen = suns @ self.axes.T
        at = table_covering(self.design, self.lines[0], seen, Cache()).at(seen)
        return at.slide_m, at.roll_deg

    def receiver(self, slide_m: float, roll_deg: float) -> tuple[Floats, Floats, Floats]:
        """Window centre from its own vertex, the way light goes into it, and e cross that: site frame."""
        e, upright = self.along, self.axes[2]
        forward = _turned(upright - (upright @ e) * e, e, roll_deg)
        forward /= np.linalg.norm(forward)
        motion = self.design.motion
        arm = motion.arm_m * _turned(upright, e, roll_deg)
        return motion.axis_up_m * upright + slide_m * e + arm, forward, np.cross(e, forward)

    def rim(self) -> Floats:
        """Points round the film's rim, mirror frame: at every rib along the rulings, and as many along the outer ribs."""
        mirror = self.design.mirror
        x = np.linspace(-0.5, 0.5, mirror.ribs) * mirror.width_m
        y = np.linspace(-0.5, 0.5, mirror.ribs) * mirror.height_m
        low, high = np.full(mirror.ribs, -0.5), np.full(mirror.ribs, 0.5)
        ring_x = np.concatenate([x, high * mirror.width_m, x[::-1], low * mirror.width_m])
        ring_y = np.concatenate([low * mirror.height_m, y, high * mirror.height_m, y[::-1]])
        square, radius = ring_x**2 + ring_y**2, 2 * mirror.focal_m
        depth = (
            square / (2 * radius) if mirror.surface == "paraboloid" else radius - np.sqrt(radius**2 - square)
        )
        return np.stack([ring_x, ring_y, depth], axis=1)

    def gear(self, slide_m: float, roll_deg: float) -> list[Floats]:
        """Receivers, pipes and frames: each (B, P, 3), bodies that are the hull of P points of the site frame."""
        design, e = self.design, self.along
        motion, receiver = design.motion, design.receiver
        centre, forward, square = self.receiver(slide_m, roll_deg)
        z = self.axes[2]
        back = receiver.back_insulation_mm / 1000
        wide, high = receiver.window_width_m / 2 + back, receiver.window_height_m / 2 + back
        box = np.array(
            [
                a * wide * e + b * high * square + c * receiver.depth_m * forward
                for a in (-1, 1)
                for b in (-1, 1)
                for c in (0, 1)
            ]
        )
        boxes = (self.vertices + centre)[:, None] + box
        thick = pipe_size(design.pipe.size).outside_mm / 1000 + 2 * design.pipe.insulation_mm / 1000
        upward = square if square[1] >= 0 else -square  # + is up the mirror's slope
        to_pipe = centre + motion.pipe_out_m * forward + motion.pipe_aside_m * upward
        tail = (design.mirror.width_m / 2 + motion.stroke_m) * e
        pipes, rods = [], []
        for line in self.lines:
            feet = line.vertices()
            pipes.append(_rod(feet[0] + to_pipe - tail, feet[-1] + to_pipe + tail, thick, _ROUND_PIPE))
            for number in range(line.count + 1):
                if number % motion.mirrors_per_frame == 0 or number == line.count:
                    foot = feet[0] + (number - 0.5) * line.spacing_m * e + motion.axis_up_m * z
                    head = foot - motion.axis_up_m * z + to_pipe - slide_m * e
                    rods.append(_rod(foot, head, motion.frame_width_m, _ROUND_ROD))
        return [boxes, np.array(pipes), np.array(rods)]

    def trace(
        self,
        sun: Floats,
        slide_m: float,
        roll_deg: float,
        rays_per_mirror: int,
        generator: np.random.Generator,
    ) -> Floats:
        """m2 of aperture square to the sun: ``CAUSES`` of the curved form, of the flat one, what frames take, and what would be
        absorbed without shade: (18,)."""
        cast = self._cast(sun, slide_m, roll_deg, rays_per_mirror, generator)
        hits, light = cast.hits, cast.light
        results = []
        for of_mirrors, lit in (self._lit(cast, curved=True), self._lit(cast, curved=False)):
            unshaded = light * lit
            film = unshaded.sum() * self.reflectance
            into = (unshaded * hits.inside).sum() * self.reflectance
            accepted = (unshaded * hits.accepted).sum() * self.reflectance
            results += [
                light.sum(),
                (light * of_mirrors).sum(),
                (light * ~(of_mirrors | lit)).sum(),
                unshaded.sum() - film,
                film - into,
                into - accepted,
                accepted * (1 - self.absorptance),
                accepted * self.absorptance,
            ]
        through = self._through_frames(hits.start, hits.reflected, cast.mirror, cast.gear[2])
        on_absorber = self.reflectance * self.absorptance
        caught = (light * (hits.accepted & lit & through)).sum() * on_absorber
        bare = (light * hits.accepted).sum() * on_absorber
        return np.array([*results, caught, bare])

    def absorbed_m2(
        self,
        sun: Floats,
        slide_m: float,
        roll_deg: float,
        rays_per_mirror: int,
        generator: np.random.Generator,
    ) -> Floats:
        """What each mirror's receiver absorbs (2, M), with apertures flat and films curved: m2 of aperture square to the sun."""
        cast = self._cast(sun, slide_m, roll_deg, rays_per_mirror, generator)
        caught = cast.light * cast.hits.accepted * (self.reflectance * self.absorptance)
        return np.stack(
            [
                np.bincount(cast.mirror, weights=caught * self._lit(cast, curved=curved)[1])
                for curved in (False, True)
            ]
        )

    def _cast(
        self,
        sun: Floats,
        slide_m: float,
        roll_deg: float,
        rays_per_mirror: int,
        generator: np.random.Generator,
    ) -> Cast:
        centre, forward, _square = self.receiver(slide_m, roll_deg)
        count = len(self.vertices)
        hits = ray_hits(
            self.form,
            self.errors,
            self.window,
            sun=self.axes @ sun,
            centre=self.axes @ centre,
            along=self.axes @ self.along,
            forward=self.axes @ forward,
            rays=count * rays_per_mirror,
            generator=generator,
        )
        return Cast(
            hits=hits,
            light=hits.weight * self.aperture_m2 / len(hits.weight),
            mirror=np.arange(len(hits.weight)) % count,
            seen=self.axes @ sun,
            gear=self.gear(slide_m, roll_deg),
        )

    def _lit(self, cast: Cast, *, curved: bool) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Which rays a mirror shades, and which nothing does."""
        at, seen = cast.hits.start[:, :2], cast.seen
        if curved:
            at = at + (self.rim_m - cast.hits.start[:, 2])[:, None] * seen[:2] / seen[2]
        rims = self.rims if curved else self.corners
        of_mirrors = _within(self._shadows([rims], seen), cast.mirror, at)
        return of_mirrors, ~(of_mirrors | _within(self._shadows(cast.gear, seen), cast.mirror, at))

    def _shadows(self, bodies: list[Floats], seen: Floats) -> NDArray[np.object_]:
        """Of every mirror the union of the shadows (M,) that bodies throw on the plane of its rim's corners."""
        reach = np.array([self.design.mirror.width_m, self.design.mirror.height_m]) / 2 + 0.3
        planes = (self.vertices + self.rim_m * self.axes[2]) @ self.axes.T
        pieces: list[list[shapely.Geometry]] = [[] for _vertex in self.vertices]
        for kind in bodies:
            local = (kind @ self.axes.T)[None] - planes[:, None, None]
            shadow = local[..., :2] - seen[:2] / seen[2] * local[..., 2:]
            ahead = local[..., 2] > _FRONT_M
            meets = (shadow.min(axis=2) < reach).all(axis=2) & (shadow.max(axis=2) > -reach).all(axis=2)
            for target, body in zip(*np.nonzero(meets & ahead.any(axis=2)), strict=True):
                points, front = shadow[target, body], ahead[target, body]
                if not front.all():
                    piece = shapely.MultiPoint(_cut(local[target, body], front, seen)).convex_hull
                elif kind is self.rims:  # its edges dip between the corners
                    piece = shapely.make_valid(shapely.Polygon(points))
                else:
                    piece = shapely.MultiPoint(points).convex_hull
                pieces[target].append(piece)
        unions = np.array([shapely.union_all(piece) for piece in pieces], dtype=object)
        shapely.prepare(unions)
        return unions

    def _through_frames(
        self, start: Floats, reflected: Floats, mirror: Ints, rods: Floats
    ) -> NDArray[np.bool_]:
        """Whether a reflected ray passes within half a frame's width of a rod beside its mirror, before its window."""
        caught = np.zeros(len(start), dtype=bool)
        from_ = self.vertices[mirror] + start @ self.axes
        way = reflected @ self.axes
        radius = self.design.motion.frame_width_m / 2
        for rod in rods:
            foot, head = rod[:_ROUND_ROD].mean(axis=0), rod[_ROUND_ROD:].mean(axis=0)
            away = self.vertices + self.design.motion.axis_up_m * self.axes[2] - foot
            near = np.abs(away @ self.along) < 2 * self.lines[0].spacing_m
            near &= np.linalg.norm(np.cross(away, self.along), axis=1) < 0.1
            rays = np.flatnonzero(near[mirror])
            length = np.linalg.norm(head - foot)
            axis = (head - foot) / length
            normal = np.cross(way[rays], axis)
            size = np.maximum(np.linalg.norm(normal, axis=1), 1e-12)
            gap = from_[rays] - foot
            miss = np.abs(np.einsum("ij,ij->i", gap, normal)) / size
            up = -np.einsum("ij,ij->i", np.cross(way[rays], gap), normal) / size**2
            on = -np.einsum("ij,ij->i", np.cross(axis, gap), normal) / size**2
            caught[rays] |= (miss < radius) & (up > 0) & (up < length) & (on > 0)
        return caught


def _within(unions: NDArray[np.object_], mirror: Ints, at: Floats) -> NDArray[np.bool_]:
    """Which rays pass at ``at`` (N, 2) of their mirror's plane within its shadows."""
    return np.asarray(shapely.contains_xy(unions[mirror], at[:, 0], at[:, 1]))


def _turned(vector: Floats, axis: Floats, degrees: float) -> Floats:
    """``vector`` turned right-handed about the unit vector ``axis`` (Rodrigues' formula)."""
    angle = np.radians(degrees)
    return np.asarray(
        vector * np.cos(angle)
        + np.cross(axis, vector) * np.sin(angle)
        + axis * (axis @ vector) * (1 - np.cos(angle))
    )


def _rod(foot: Floats, head: Floats, thick_m: float, corners: int) -> Floats:
    """Points (2 x corners, 3) whose hull is a round rod; as wide on the mean as the round one (Cauchy: mean width is

    girth over pi)."""
    axis = (head - foot) / np.linalg.norm(head - foot)
    one = np.cross(axis, [0.0, 0.0, 1.0] if abs(axis[2]) < 0.9 else [1.0, 0.0, 0.0])
    one /= np.linalg.norm(one)
    angle = 2 * pi * np.arange(corners) / corners
    radius = thick_m / 2 * (pi / corners) / sin(pi / corners)
    ring = radius * (np.cos(angle)[:, None] * one + np.sin(angle)[:, None] * np.cross(axis, one))
    return np.concatenate([foot + ring, head + ring])


def _cut(points: Floats, ahead: NDArray[np.bool_], seen: Floats) -> Floats:
    """Shadow points of the part of a hull in front of the plane: its own corners there and where its chords cross it."""
    front, behind = points[ahead], points[~ahead]
    share = front[:, None, 2] / (front[:, None, 2] - behind[None, :, 2])
    crossing = front[:, None] + share[..., None] * (behind[None] - front[:, None])
    cast = front[:, :2] - seen[:2] / seen[2] * front[:, 2:]
    return np.concatenate([cast, crossing[..., :2].reshape(-1, 2)])
