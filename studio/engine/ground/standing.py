"""What of the field meets something that stands on the land: mirrors, strokes, drives and headers against obstacles.

On plan by shapely, in height over the ground: a receiver may pass under a crown and over a kerb.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from studio.engine.ground.line_on_plan import LineOnPlan
from studio.engine.ground.spacing import Conflict, Kind
from studio.engine.ground.surface import Surface

HEADER_M = 0.6
"""How high over the ground a header with its insulation and supports reaches: an assumption of ours."""


@dataclass(frozen=True)
class Standing:
    """A part of an obstacle: its outline on plan, and from where to where it stands over its ground, m.

    ``number`` is the obstacle's place in its list; a tree is its trunk and its crown.
    """

    number: int
    outline: Polygon
    low_m: float
    high_m: float


def standing_conflicts(
    standing: Sequence[Standing],
    lines: Sequence[LineOnPlan],
    ground: Surface,
    *,
    headers: Sequence[BaseGeometry] = (),
) -> tuple[Conflict, ...]:
    """Mirrors, strokes and drives of every line and headers that meet an obstacle.

    A mirror does where it reaches into one, or where its stand's foot (below the middle of its aperture) does.
    ``measured_m`` is the longest stretch inside, ``other`` the obstacle's number. Heights count from the ground below
    each point; over uneven ground that of an obstacle is taken as level with it over the few metres where they meet.
    """
    found: list[Conflict] = []
    if lines and standing:
        own, others = np.array([line.bounds for line in lines]), shapely.bounds([p.outline for p in standing])
        near = (own[:, None, :2] <= others[:, 2:]).all(axis=2) & (own[:, None, 2:] >= others[:, :2]).all(
            axis=2
        )
        for number, place in np.argwhere(near).tolist():
            found += _of_line(number, lines[number], standing[place], ground)
    for header in headers:
        for part in standing:
            if part.low_m < HEADER_M:
                common = header.intersection(part.outline)
                if common.length > 0:
                    found.append(_conflict("header in obstacle", None, None, part, common))
    return tuple(found)


def _of_line(number: int, line: LineOnPlan, part: Standing, ground: Surface) -> Iterator[Conflict]:
    common = shapely.intersection(line.feet, part.outline)
    over = ground.over(line.corners)
    middles = shapely.points(line.corners.mean(axis=1)[:, :2])
    reached = (shapely.area(common) > 0) & (part.high_m > over.min(axis=1)) & (part.low_m < over.max(axis=1))
    foot = shapely.intersects(middles, part.outline) & (part.low_m < over.max(axis=1))
    for mirror in np.flatnonzero(reached | foot).tolist():
        yield _conflict("mirror in obstacle", number, int(line.places[mirror]), part, common[mirror])
    bars = ground.over(line.bars)
    if part.high_m > bars.min() - line.bar_radius_m and part.low_m < bars.max() + line.bar_radius_m:
        swept = line.swept.intersection(part.outline)
        if swept.area > 0:
            yield _conflict("stroke in obstacle", number, None, part, swept)
    if line.drive is not None and part.low_m < HEADER_M:
        inside = line.drive.intersection(part.outline)
        if inside.area > 0:
            yield _conflict("drive in obstacle", number, None, part, inside)


def _conflict(
    kind: Kind, line: int | None, mirror: int | None, part: Standing, common: BaseGeometry
) -> Conflict:
    middle = shapely.centroid(common)
    stretch = 2 * float(shapely.minimum_bounding_radius(common))
    return Conflict(kind, line, mirror, part.number, stretch, 0.0, (float(middle.x), float(middle.y)))
