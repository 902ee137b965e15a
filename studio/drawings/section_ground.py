"""What the ground carries along a cut: its profile, plot, no-build areas, obstacles, store and headers; metres, no Qt.

Places are (along, height): metres from A along the cut, and above the site's reference point.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, sqrt

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from studio.design.design import Design
from studio.design.field import PipeKey, Store
from studio.design.obstacles import Block, Fence, Obstacle, Pole, Tree
from studio.design.site import Ground, Plot, Point, Ring
from studio.drawings.section_cut import Cut
from studio.engine.heat.pipe import pipe_size
from studio.ground import surface_of
from studio.study.assessment import HeaderRun
from studio.study.place import ground_height

Array = NDArray[np.float64]
BESIDE_M = 10.0
"""Obstacles and the store are shown up to this distance before and behind the cut."""
_STEP_M, _MOST_STEPS = 0.25, 1200
_ROUND = 48
_SCREEN_M = 0.03
_TRUNK_M = 0.15
"""Half the width a trunk is drawn with where nothing is known of it."""


@dataclass(frozen=True, eq=False)
class Stretch:
    """A stretch of the ground along the cut, and what it is called."""

    name: str
    start_m: float
    end_m: float


@dataclass(frozen=True, eq=False)
class ObstacleInSection:
    """An obstacle: outlines (n, 2) of its parts, not closed; ``off_m`` behind the cut (before it below 0), 0: cut through."""

    name: str
    kind: str
    outlines: tuple[Array, ...]
    off_m: float


@dataclass(frozen=True, eq=False)
class HeaderInSection:
    """A header that crosses the cut: the middle of the pipe (2,) as it lies on the ground in its insulation, radii in m."""

    hot: bool
    middle: Array
    radius_m: float
    insulated_m: float


@dataclass(frozen=True, eq=False)
class GroundInSection:
    """The ground along the cut.

    ``profile`` (n, 2) from A to B. ``edges``: where the cut crosses the plot's boundary. ``store``: the ground it takes
    up and its distance as of an obstacle, or None where it stands farther off.
    """

    profile: Array
    edges: tuple[float, ...]
    areas: tuple[Stretch, ...]
    obstacles: tuple[ObstacleInSection, ...]
    store: tuple[Stretch, float] | None

    def height_at(self, along_m: float) -> float:
        """Height of the ground at a place along the cut; beyond its ends that of the end."""
        return float(np.interp(along_m, self.profile[:, 0], self.profile[:, 1]))

    def heights_at(self, along_m: Array) -> Array:
        """The same at many places (N,)."""
        return np.asarray(np.interp(along_m, self.profile[:, 0], self.profile[:, 1]))

    def fall_percent(self) -> float:
        """How much the ground falls from A to B on the whole, in m per 100 m."""
        (x0, z0), (x1, z1) = self.profile[0], self.profile[-1]
        return float(100 * (z0 - z1) / max(x1 - x0, 1e-9))

    def met_by(self, starts: Array, ways: Array) -> Array:
        """Where straight lines from ``starts`` (K, 2) along ``ways`` (K, 2) come down to the ground, (K, 2); nan: not here."""
        x, z = self.profile.T
        run, rise = ways.T
        upright = np.abs(run) < 1e-9
        run = np.where(upright, 1e-9, run)
        above = starts[:, 1:] + (x - starts[:, :1]) * (rise / run)[:, None] - z
        # between neighbouring places of the profile, the one ahead of the start and the first that is met
        ahead = ((x - starts[:, :1]) * run[:, None] > 0.0)[:, 1:] | (
            (x - starts[:, :1]) * run[:, None] > 0.0
        )[:, :-1]
        crossed = ahead & (above[:, 1:] * above[:, :-1] <= 0.0) & (above[:, 1:] != above[:, :-1])
        order = np.where(run[:, None] > 0, np.arange(len(x) - 1), np.arange(len(x) - 1)[::-1])
        first = np.where(crossed, order, len(x)).argmin(axis=1)
        rows = np.arange(len(starts))
        before, after = above[rows, first], above[rows, first + 1]
        share = before / np.where(before == after, 1.0, before - after)
        at = x[first] + share * (x[first + 1] - x[first])
        found = np.stack([at, z[first] + share * (z[first + 1] - z[first])], axis=1)
        return np.where(crossed[rows, first][:, None], found, np.nan)


def ground_in_section(design: Design, cut: Cut) -> GroundInSection:
    """The ground along a cut; the same object while ground, plot, obstacles, store and cut stay."""
    return _ground(design.ground, design.plot, design.obstacles, design.store, cut)


@lru_cache(maxsize=64)
def _ground(
    ground: Ground, plot: Plot, obstacles: tuple[Obstacle, ...], store: Store, cut: Cut
) -> GroundInSection:
    def height(point: tuple[float, float]) -> float:
        return ground_height(ground, *point)

    return GroundInSection(
        profile=_profile(cut, ground),
        edges=_edges(plot, cut),
        areas=tuple(_areas(plot, cut)),
        obstacles=tuple(_obstacles(obstacles, cut, height)),
        store=_store(store, cut),
    )


def _profile(cut: Cut, ground: Ground) -> Array:
    steps = min(_MOST_STEPS, max(2, ceil(cut.length_m / _STEP_M)))
    along = np.linspace(0.0, cut.length_m, steps + 1)
    x, y = (cut.start[axis] + along * cut.way[axis] for axis in (0, 1))
    return np.column_stack([along, surface_of(ground).height_at(x, y)])


def _line(cut: Cut) -> shapely.LineString:
    return shapely.LineString([cut.start, cut.end])


def _edges(plot: Plot, cut: Cut) -> tuple[float, ...]:
    if len(plot.boundary) < 3:
        return ()
    met = shapely.get_coordinates(_line(cut).intersection(shapely.LinearRing(plot.boundary)))
    return tuple(sorted(cut.at((float(x), float(y)))[0] for x, y in met))


def _stretches(cut: Cut, ring: tuple[tuple[float, float], ...]) -> list[tuple[float, float]]:
    """The stretches of the cut inside a ring."""
    if len(ring) < 3:
        return []
    shared = _line(cut).intersection(shapely.Polygon(ring).buffer(0))
    found = []
    for part in shapely.get_parts(shared):
        along = [cut.at((float(x), float(y)))[0] for x, y in shapely.get_coordinates(part)]
        if part.geom_type == "LineString" and along and max(along) - min(along) > 1e-6:
            found.append((min(along), max(along)))
    return found


def _areas(plot: Plot, cut: Cut) -> Iterator[Stretch]:
    for area in plot.no_build:
        for start, end in _stretches(cut, area.ring):
            yield Stretch(area.name, start, end)


def _obstacles(
    obstacles: tuple[Obstacle, ...], cut: Cut, height: Callable[[tuple[float, float]], float]
) -> Iterator[ObstacleInSection]:
    for one in obstacles:
        if isinstance(one, Block):
            yield from _block(one, cut, height)
            continue
        if isinstance(one, Fence):
            yield from _fence(one, cut, height)
            continue
        along, off = cut.at(one.place)
        radius = one.radius_m if isinstance(one, Pole) else one.crown_radius_m
        if abs(off) - radius > BESIDE_M or not -radius < along < cut.length_m + radius:
            continue
        through = abs(off) < radius
        # what is cut shows the cut itself, what stands beside it its outline
        half = sqrt(radius**2 - off**2) if through else radius
        foot = height(one.place)
        outlines = (
            (_upright(along, half, foot, foot + one.height_m),)
            if isinstance(one, Pole)
            else _tree(one, along, half, foot)
        )
        yield ObstacleInSection(one.name, one.kind, outlines, 0.0 if through else off)


def _upright(along: float, half: float, low: float, high: float) -> Array:
    return np.array([[along - half, low], [along + half, low], [along + half, high], [along - half, high]])


def _tree(one: Tree, along: float, half: float, foot: float) -> tuple[Array, ...]:
    """The crown's ellipsoid cut or seen, and its trunk."""
    middle = foot + (one.crown_base_m + one.height_m) / 2
    tall = (one.height_m - one.crown_base_m) / 2 * half / one.crown_radius_m
    turn = np.linspace(0.0, 2 * np.pi, _ROUND, endpoint=False)
    crown = np.column_stack([along + half * np.cos(turn), middle + tall * np.sin(turn)])
    return crown, _upright(along, min(_TRUNK_M, half / 3), foot, middle - tall)


def _block(
    one: Block, cut: Cut, height: Callable[[tuple[float, float]], float]
) -> Iterator[ObstacleInSection]:
    """A block's top runs with the ground."""
    through = _stretches(cut, one.ring)
    if through:
        outlines = []
        for start, end in through:
            along = np.linspace(start, end, max(2, ceil((end - start) / 0.5) + 1))
            low = np.array([height(cut.point(float(at))) for at in along])
            lower, upper = np.column_stack([along, low]), np.column_stack([along, low + one.height_m])
            outlines.append(np.concatenate([lower, upper[::-1]]))
        yield ObstacleInSection(one.name, one.kind, tuple(outlines), 0.0)
        return
    if len(one.ring) >= 3:
        yield from _beside(one, one.ring, shapely.Polygon(one.ring).buffer(0), cut, height)


def _fence(
    one: Fence, cut: Cut, height: Callable[[tuple[float, float]], float]
) -> Iterator[ObstacleInSection]:
    """Upright where the cut crosses it, seen from aside where it stands beside."""
    met = shapely.get_coordinates(_line(cut).intersection(shapely.LineString(one.path)))
    if not len(met):
        yield from _beside(one, one.path, shapely.LineString(one.path), cut, height)
        return
    outlines = []
    for x, y in met:
        foot = height((float(x), float(y)))
        outlines.append(_upright(cut.at((float(x), float(y)))[0], _SCREEN_M, foot, foot + one.height_m))
    yield ObstacleInSection(one.name, one.kind, tuple(outlines), 0.0)


def _beside(
    one: Block | Fence,
    ring: Ring,
    on_plan: BaseGeometry,
    cut: Cut,
    height: Callable[[tuple[float, float]], float],
) -> Iterator[ObstacleInSection]:
    """What stands beside the cut, as seen from it."""
    apart = _line(cut).distance(on_plan)
    if apart > BESIDE_M:
        return
    corners = [(*cut.at(corner), height(corner)) for corner in ring]
    feet = np.array([[along, foot] for along, _off, foot in corners])
    hull = shapely.MultiPoint(np.concatenate([feet, feet + np.array([0.0, one.height_m])])).convex_hull
    if hull.geom_type == "Polygon" and feet[:, 0].max() > 0 and feet[:, 0].min() < cut.length_m:
        behind = float(np.mean([off for _along, off, _foot in corners])) > 0
        outline = shapely.get_coordinates(hull)[:-1]
        yield ObstacleInSection(one.name, one.kind, (outline,), apart if behind else -apart)


def _store(store: Store, cut: Cut) -> tuple[Stretch, float] | None:
    along, off = cut.at((store.x_m, store.y_m))
    apart = max(abs(off) - store.radius_m, 0.0)
    if apart > BESIDE_M:
        return None
    half = sqrt(store.radius_m**2 - off**2) if apart == 0.0 else store.radius_m
    if along + half < 0 or along - half > cut.length_m:
        return None
    return Stretch("store", along - half, along + half), 0.0 if apart == 0.0 else off


def headers_in_section(
    design: Design, run: HeaderRun, cut: Cut, ground: GroundInSection
) -> tuple[HeaderInSection, ...]:
    """Where headers cross the cut. They are drawn as they lie on the ground: nothing is said yet of how high they run."""
    return _headers(design.header.size, design.header.insulation_mm, run, cut, ground)


@lru_cache(maxsize=64)
def _headers(
    size: PipeKey, insulation_mm: float, run: HeaderRun, cut: Cut, ground: GroundInSection
) -> tuple[HeaderInSection, ...]:
    radius = pipe_size(size).outside_mm / 2000
    insulated = radius + insulation_mm / 1000
    found: list[HeaderInSection] = []
    for hot, runs in ((True, run.hot), (False, run.cold)):
        for x, y in shapely.get_coordinates(shapely.intersection(_routes(runs), _line(cut))).tolist():
            along = cut.at((x, y))[0]
            if any(abs(along - other.middle[0]) < 1e-3 for other in found if other.hot is hot):
                continue
            middle = np.array([along, ground.height_at(along) + insulated])
            found.append(HeaderInSection(hot, middle, radius, insulated))
    return tuple(found)


@lru_cache(maxsize=16)
def _routes(runs: tuple[tuple[Point, ...], ...]) -> NDArray[np.object_]:
    """The runs of a header as lines."""
    return np.array([shapely.LineString(route) for route in runs], dtype=object)
