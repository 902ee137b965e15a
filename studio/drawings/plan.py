"""The plan as display data in metres: what the screen, DXF and PDF render. No Qt, no colours, no pixels."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, floor, log10

import numpy as np
import shapely
from numpy.typing import NDArray

from studio.design.design import Design
from studio.design.site import Ground, Plot
from studio.drawings.lines import LineOnPlan, LinesOnPlan
from studio.drawings.moment import TINTS_NOW, GearOnPlan, Shadows, Sun, gear_at, parts_of, shadows_at, sun_at
from studio.drawings.obstacles import ObstacleOnPlan, obstacles_on_plan
from studio.engine.ground.contours import contour_segments
from studio.engine.ground.surface import Surface
from studio.ground import surface_of
from studio.study.assessment import HeaderRun, PlacedLine
from studio.study.findings import Finding
from studio.study.header import header_of
from studio.study.place import swept_m

Array = NDArray[np.float64]
Bounds = tuple[float, float, float, float]
_LOOKS = 9
"""Places across and along at which the land in sight is looked at for its lowest and highest."""


@dataclass(frozen=True, eq=False)
class Area:
    """A no-build area: its name and its corners (n, 2)."""

    name: str
    ring: Array


@dataclass(frozen=True, eq=False)
class Land:
    """The plot from above: rings are (n, 2), not closed; ``setback`` may have several parts, or none."""

    boundary: Array
    setback: tuple[Array, ...]
    areas: tuple[Area, ...]


@dataclass(frozen=True, eq=False)
class Contour:
    """A line of equal height in straight pieces (S, 2, 2), and its height in the site frame."""

    pieces: Array
    height_m: float


@dataclass(frozen=True, eq=False)
class PlanDrawing:
    """All of the plan at one moment.

    ``gear`` and ``tints`` are by line id; a tint (N,) is the share of each mirror's light that other mirrors and obstacles
    take now.
    ``shadows`` overlap on the ground; their union is the shadow. None where none are shown or the sun stands too low.
    ``bounds``: x least, y least, x most, y most of everything that stands.
    """

    land: Land
    obstacles: tuple[ObstacleOnPlan, ...]
    lines: tuple[LineOnPlan, ...]
    header: HeaderRun
    store: tuple[float, float, float]
    has_store: bool
    sun: Sun
    gear: dict[int, GearOnPlan]
    tints: dict[int, Array]
    shadows: Shadows | None
    marks: tuple[Finding, ...]
    bounds: tuple[float, float, float, float]

    def line(self, line_id: int) -> LineOnPlan | None:
        """The line with this id."""
        return next((line for line in self.lines if line.id == line_id), None)


_drawn = LinesOnPlan()


@lru_cache(maxsize=64)
def land_on_plan(plot: Plot) -> Land:
    """The plot from above, its setback worked out."""
    boundary = np.array(plot.boundary, dtype=float).reshape(-1, 2)
    areas = tuple(Area(area.name, np.array(area.ring, dtype=float).reshape(-1, 2)) for area in plot.no_build)
    if len(boundary) < 3 or plot.setback_m <= 0:
        return Land(boundary, (), areas)
    inside = shapely.Polygon(boundary).buffer(-plot.setback_m, join_style="mitre")
    parts = [part for part in shapely.get_parts(inside) if not part.is_empty]
    rings = tuple(shapely.get_coordinates(shapely.get_exterior_ring(part))[:-1] for part in parts)
    return Land(boundary, rings, areas)


def plan_drawing(
    design: Design,
    *,
    day_of_year: int,
    clock_h: float,
    findings: Sequence[Finding] = (),
    shadows: bool = True,
    tint: bool = True,
) -> PlanDrawing:
    """The plan of a design at a moment of standard clock time. What is not shown is not worked out."""
    reach = swept_m(design)
    lines = _drawn.of(design.lines, design.mirror, design.ground, reach)
    placed = tuple(line.placed for line in lines)
    sun = sun_at(design.site, day_of_year, clock_h)
    parts = parts_of(design)
    gear = {line.id: gear_at(parts, line, sun) for line in lines}
    land, obstacles = land_on_plan(design.plot), obstacles_on_plan(design.obstacles)
    store = (design.store.x_m, design.store.y_m, design.store.radius_m)
    return PlanDrawing(
        land=land,
        obstacles=obstacles,
        lines=lines,
        header=header_on_plan(design, placed, reach),
        store=store,
        has_store=bool(lines or len(land.boundary)),
        sun=sun,
        gear=gear,
        tints=TINTS_NOW.of(design, lines, sun, day_of_year) if tint else {},
        shadows=shadows_at(parts, lines, list(gear.values()), sun, design.obstacles) if shadows else None,
        marks=tuple(finding for finding in findings if finding.place is not None),
        bounds=_bounds(land, obstacles, lines, store),
    )


_headers: dict[tuple[object, ...], HeaderRun] = {}


def header_on_plan(design: Design, placed: tuple[PlacedLine, ...], reach: float) -> HeaderRun:
    """How the header of a design runs between its lines; ``reach`` as of a line on the plan. Kept while nothing of it moves."""
    key = (
        design.header,
        design.store,
        reach,
        design.mirror.height_m,
        design.plot.no_build,
        design.ground,
        *((line.first.tobytes(), line.along.tobytes(), line.count) for line in placed),
    )
    if key not in _headers:
        if len(_headers) > 200:
            _headers.clear()
        _headers[key] = header_of(design, placed)
    return _headers[key]


def _bounds(
    land: Land,
    obstacles: tuple[ObstacleOnPlan, ...],
    lines: tuple[LineOnPlan, ...],
    store: tuple[float, float, float],
) -> tuple[float, float, float, float]:
    rings = [*(area.ring for area in land.areas), *(one.ring for one in obstacles)]
    points = [land.boundary, *rings, *(line.stops for line in lines)]
    if lines or len(land.boundary):
        x, y, r = store
        points.append(np.array([[x - r, y - r], [x + r, y + r]]))
    everything = np.concatenate([part.reshape(-1, 2) for part in points])
    if not len(everything):
        return -30.0, -20.0, 30.0, 20.0
    (x0, y0), (x1, y1) = everything.min(axis=0), everything.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def nice_step(least: float) -> float:
    """The smallest of 1, 2, 5 times a power of ten that is no smaller than ``least``."""
    power = 10.0 ** floor(log10(least))
    return next(power * lead for lead in (1, 2, 5, 10) if power * lead >= least * (1 - 1e-9))


def scale_bar(metres_per_pixel: float, *, room_px: float = 140.0) -> float:
    """Length in metres of half a scale bar that fills about ``room_px``: 1, 2 or 5 times a power of ten."""
    most = room_px / 2 * metres_per_pixel
    step = nice_step(most)
    return step if step <= most * 1.001 else nice_step(step / 2.6)


_CLOSEST_M = 0.05
"""Between neighbouring contours in height."""


def contours(ground: Ground, bounds: Bounds, within: Bounds | None = None) -> tuple[Contour, ...]:
    """Lines of equal height across ``bounds`` (x0, y0, x1, y1); level land has none.

    Measured land has them where it was measured, and no farther than ``within``, the plot's own bounds.
    """
    if ground.heights is None and ground.slope_percent <= 0:
        return ()
    if ground.heights is not None and within is not None:
        low, high = np.maximum(bounds[:2], within[:2]), np.minimum(bounds[2:], within[2:])
        if (low >= high).any():
            return ()
        bounds = float(low[0]), float(low[1]), float(high[0]), float(high[1])
    return _contours(surface_of(ground), bounds)


@lru_cache(maxsize=8)
def _contours(surface: Surface, bounds: Bounds) -> tuple[Contour, ...]:
    x0, y0, x1, y1 = bounds
    triangles = surface.triangles(bounds)
    if not len(triangles):
        return ()
    # triangles reach out of sight; the step goes by the heights in sight
    seen = _clipped_heights(surface, triangles, bounds)
    step = nice_step(max((seen[1] - seen[0]) / 10, _CLOSEST_M))
    found = []
    for turn in range(ceil(seen[0] / step), floor(seen[1] / step) + 1):
        segments = contour_segments(triangles, turn * step)
        inside = (segments.max(axis=1) >= (x0, y0)).all(axis=1) & (segments.min(axis=1) <= (x1, y1)).all(
            axis=1
        )
        if inside.any():
            found.append(Contour(segments[inside], turn * step))
    return tuple(found)


def _clipped_heights(surface: Surface, triangles: Array, bounds: Bounds) -> tuple[float, float]:
    """The least and the largest height of measured land within bounds: at corners of triangles, or at the rim."""
    x0, y0, x1, y1 = bounds
    corners = triangles.reshape(-1, 3)
    inside = ((corners[:, :2] >= (x0, y0)) & (corners[:, :2] <= (x1, y1))).all(axis=1)
    x, y = np.meshgrid(np.linspace(x0, x1, _LOOKS), np.linspace(y0, y1, _LOOKS))
    heights = np.concatenate([corners[inside, 2], surface.height_at(x, y).ravel()])
    return float(heights.min()), float(heights.max())
