"""What lies under the hand: handles of the selected, lines, store, areas, header, boundary."""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import hypot
from typing import Literal

import numpy as np

from studio.design.field import Header
from studio.design.site import Point, Ring
from studio.desk.plan.camera import Camera
from studio.desk.plan.rows import outline
from studio.desk.plan.tools.tool import Pointer
from studio.desk.state import Subject
from studio.drawings.lines import LineOnPlan
from studio.drawings.plan import PlanDrawing

HANDLE_PX = 9.0
EDGE_PX = 6.0
TURN_AWAY_PX = 14.0
Kind = Literal["drive", "far", "turn", "spread", "corner", "edge"]


@dataclass(frozen=True)
class Handle:
    """A handle: what it does, where it stands, and whose it is (line id, or corner of an area or an obstacle)."""

    kind: Kind
    at: Point
    line_id: int = 0
    area: int | None = None
    corner: int = 0
    obstacle: int | None = None
    side: Literal["hot", "cold", ""] = ""


def handles(
    drawing: PlanDrawing, selection: frozenset[Subject], camera: Camera, header: Header | None = None
) -> list[Handle]:
    """The handles of what is selected: ends and turn of one line, spread of several, corners of one area or of a drawn
    route of the header."""
    ids = sorted(int(s.key) for s in selection if s.kind == "line")
    if len(ids) == 1 and (line := drawing.line(ids[0])) is not None:
        return _of_line(line, camera)
    if len(ids) > 1:
        chosen = [line for line in (drawing.line(i) for i in ids) if line is not None]
        return _of_lines(chosen, camera)
    if len(selection) == 1:
        (subject,) = selection
        if subject.kind == "boundary":
            return _of_ring(drawing.land.boundary, None)
        if subject.kind == "no_build" and int(subject.key) < len(drawing.land.areas):
            return _of_ring(drawing.land.areas[int(subject.key)].ring, int(subject.key))
        if subject.kind == "obstacle" and int(subject.key) < len(drawing.obstacles):
            one = drawing.obstacles[int(subject.key)]
            if not one.cornered:
                return []
            return _of_ring(one.ring, None, obstacle=int(subject.key), closed=one.closed)
        if subject.kind == "header" and header is not None:
            return _of_route(header.cold, "cold") if subject.key == "cold" else _of_route(header.hot, "hot")
    return []


def _of_route(route: Ring, side: Literal["hot", "cold"]) -> list[Handle]:
    """Corners of a drawn route and the middles between them; one that follows by itself has none."""
    found = [
        Handle("edge", ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), corner=place, side=side)
        for place, (a, b) in enumerate(pairwise(route))
    ]
    return found + [Handle("corner", corner, corner=place, side=side) for place, corner in enumerate(route)]


def _of_line(line: LineOnPlan, camera: Camera) -> list[Handle]:
    box = outline(line, room_m=4.0 / camera.px_per_m)
    drive, far = (box[0] + box[3]) / 2, (box[1] + box[2]) / 2
    top = _upper(box)
    return [
        Handle("drive", (float(drive[0]), float(drive[1])), line.id),
        Handle("far", (float(far[0]), float(far[1])), line.id),
        Handle("turn", top, line.id),
    ]


def _upper(box: np.ndarray) -> Point:
    """The middle of the box's upper long side."""
    one, other = (box[0] + box[1]) / 2, (box[2] + box[3]) / 2
    best = one if one[1] > other[1] else other
    return float(best[0]), float(best[1])


def _of_lines(lines: list[LineOnPlan], camera: Camera) -> list[Handle]:
    """The spread handle, above the middle of the line that stands farthest behind the others."""
    behind = max(lines, key=lambda line: float(line.vertices[:, :2].mean(axis=0) @ lines[0].up))
    x, y = _upper(outline(behind, room_m=4.0 / camera.px_per_m))
    return [Handle("spread", (x, y), behind.id)]


def _of_ring(
    ring: np.ndarray, area: int | None, *, obstacle: int | None = None, closed: bool = True
) -> list[Handle]:
    found = []
    for place, corner in enumerate(ring if closed else ring[:-1]):
        after = ring[(place + 1) % len(ring)]
        between = (corner + after) / 2
        found.append(
            Handle("edge", (float(between[0]), float(between[1])), area=area, corner=place, obstacle=obstacle)
        )
    for place, corner in enumerate(ring):
        found.append(
            Handle("corner", (float(corner[0]), float(corner[1])), area=area, corner=place, obstacle=obstacle)
        )
    return found


def handle_under(found: list[Handle], at: Pointer, camera: Camera) -> Handle | None:
    """The handle under the hand; of two as near the later one."""
    if not found:
        return None
    spots = camera.to_px([handle.at for handle in found])
    away = np.hypot(spots[:, 0] - at.x, spots[:, 1] - at.y)
    nearest = len(away) - 1 - int(away[::-1].argmin())
    return found[nearest] if away[nearest] <= HANDLE_PX else None


def subject_under(drawing: PlanDrawing, at: Pointer, camera: Camera) -> Subject | None:
    """What lies under the hand, the smallest first."""
    return next(subjects_under(drawing, at, camera), None)


def subjects_under(drawing: PlanDrawing, at: Pointer, camera: Camera) -> Iterator[Subject]:
    """All that lies under the hand, the smallest first."""
    for line in drawing.lines:
        if _in_line(line, at.m, 3.0 / camera.px_per_m):
            yield Subject("line", line.id)
    x, y, radius = drawing.store
    if drawing.has_store and hypot(at.m[0] - x, at.m[1] - y) <= max(radius, 6 / camera.px_per_m):
        yield Subject("store")
    near = EDGE_PX / camera.px_per_m
    for place, one in enumerate(drawing.obstacles):
        if (one.closed and inside(one.ring, at.m)) or edge_away(one.ring, at.m, closed=one.closed) <= near:
            yield Subject("obstacle", place)
    for place, area in enumerate(drawing.land.areas):
        if len(area.ring) >= 3 and (
            inside(area.ring, at.m) or edge_away(area.ring, at.m, closed=True) <= near
        ):
            yield Subject("no_build", place)
    for side, runs in (("hot", drawing.header.hot), ("cold", drawing.header.cold)):
        if any(edge_away(np.array(run), at.m, closed=False) <= near for run in runs):
            yield Subject("header", side)
    if len(drawing.land.boundary) >= 2 and edge_away(drawing.land.boundary, at.m, closed=True) <= near:
        yield Subject("boundary")


def next_beneath(
    drawing: PlanDrawing, at: Pointer, camera: Camera, chosen: Subject, by: int
) -> Subject | None:
    """What comes ``by`` places below ``chosen`` under the hand, round and round; None where it lies there alone or not."""
    found = list(subjects_under(drawing, at, camera))
    if len(found) < 2 or chosen not in found:
        return None
    return found[(found.index(chosen) + by) % len(found)]


def _in_line(line: LineOnPlan, point: Point, room: float) -> bool:
    box = outline(line, room_m=room)
    away = np.array(point) - box[0]
    run, side = box[1] - box[0], box[3] - box[0]
    return bool(0 <= away @ run <= run @ run and 0 <= away @ side <= side @ side)


def inside(ring: np.ndarray, point: Point) -> bool:
    """Whether a point lies in a ring, by crossings of a ray."""
    x, y = point
    a, b = ring, np.roll(ring, -1, axis=0)
    straddles = (a[:, 1] > y) != (b[:, 1] > y)
    rise = np.where(straddles, b[:, 1] - a[:, 1], 1.0)
    cross = a[:, 0] + (y - a[:, 1]) * (b[:, 0] - a[:, 0]) / rise
    return bool((straddles & (x < cross)).sum() % 2)


def edge_away(ring: np.ndarray, point: Point, *, closed: bool) -> float:
    a, b = (ring, np.roll(ring, -1, axis=0)) if closed else (ring[:-1], ring[1:])
    if not len(a):
        return float("inf")
    run = b - a
    share = np.clip(((np.array(point) - a) * run).sum(axis=1) / np.maximum((run**2).sum(axis=1), 1e-12), 0, 1)
    return float(np.hypot(*(a + share[:, None] * run - np.array(point)).T).min())


def in_box(drawing: PlanDrawing, one: Point, other: Point) -> list[Subject]:
    """Every line, area and obstacle that lies wholly in a box drawn from one point to another, either way round."""
    x0, x1 = sorted((one[0], other[0]))
    y0, y1 = sorted((one[1], other[1]))

    def holds(points: np.ndarray) -> bool:
        low, high = points.min(axis=0), points.max(axis=0)
        return bool(x0 <= low[0] and high[0] <= x1 and y0 <= low[1] and high[1] <= y1)

    found = [
        Subject("line", line.id) for line in drawing.lines if holds(line.corners[..., :2].reshape(-1, 2))
    ]
    found += [
        Subject("no_build", place)
        for place, area in enumerate(drawing.land.areas)
        if len(area.ring) and holds(area.ring)
    ]
    found += [
        Subject("obstacle", place) for place, thing in enumerate(drawing.obstacles) if holds(thing.ring)
    ]
    return found


def bounds_of(
    drawing: PlanDrawing, selection: frozenset[Subject]
) -> tuple[float, float, float, float] | None:
    """The land that what is selected takes: x0, y0, x1, y1 in metres; None where it takes none."""
    points = []
    for subject in selection:
        line = drawing.line(int(subject.key)) if subject.kind == "line" else None
        if line is not None:
            points += [line.corners[..., :2].reshape(-1, 2), line.stops]
        elif subject.kind == "no_build" and int(subject.key) < len(drawing.land.areas):
            points.append(drawing.land.areas[int(subject.key)].ring)
        elif subject.kind == "obstacle" and int(subject.key) < len(drawing.obstacles):
            points.append(drawing.obstacles[int(subject.key)].ring)
        elif subject.kind == "boundary":
            points.append(drawing.land.boundary)
        elif subject.kind == "header":
            runs = drawing.header.cold if subject.key == "cold" else drawing.header.hot
            points += [np.array(run) for run in runs]
        elif subject.kind == "store":
            x, y, radius = drawing.store
            points.append(np.array([[x - radius, y - radius], [x + radius, y + radius]]))
    if not sum(len(part) for part in points):
        return None
    whole = np.concatenate([part.reshape(-1, 2) for part in points if len(part)])
    (x0, y0), (x1, y1) = whole.min(axis=0), whole.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)
