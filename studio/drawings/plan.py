"""The plan as display data in metres: what the screen, DXF and PDF render. No Qt, no colours, no pixels."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import floor, log10

import numpy as np
import shapely
from numpy.typing import NDArray

from studio.design.design import Design
from studio.design.site import Plot
from studio.drawings.lines import LineOnPlan, LinesOnPlan
from studio.drawings.moment import TINTS_NOW, GearOnPlan, Shadows, Sun, gear_at, parts_of, shadows_at, sun_at
from studio.drawings.obstacles import ObstacleOnPlan, obstacles_on_plan
from studio.study.assessment import HeaderRun, PlacedLine
from studio.study.findings import Finding
from studio.study.header import header_of
from studio.study.place import swept_m

Array = NDArray[np.float64]
Bounds = tuple[float, float, float, float]


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
