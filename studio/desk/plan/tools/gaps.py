"""Where the dimension of a line's pitch stands on the drawing."""

import numpy as np

from studio.design.design import Design
from studio.design.field import Line
from studio.design.site import Point
from studio.desk.plan.camera import Camera
from studio.edits.geometry import direction, last_vertex, level_length, neighbour, offset, square
from studio.edits.lines import End


def _in_sight(camera: Camera, start: Point, along: Point, runs: np.ndarray) -> np.ndarray:
    x, y = camera.to_px(np.array(start) + np.outer(runs, along)).T
    return np.asarray((x > 90) & (x < camera.width - 90) & (y > 60) & (y < camera.height - 60))


def end_point(line: Line, end: End, design: Design) -> Point:
    """The end vertex of a line."""
    return (line.x_m, line.y_m) if end == "drive" else last_vertex(line, design.ground)


def gap_ends(design: Design, line: Line, camera: Camera) -> tuple[Point, Point] | None:
    """Where the dimension of a line's pitch stands: near its far end as far as that is in sight, square to it."""
    other = neighbour(design, line)
    if other is None:
        return None
    apart = offset(line, other, design.ground)
    along, side = direction(line.azimuth_deg), square(line.azimuth_deg)
    start = (line.x_m, line.y_m)
    mine = level_length(line, design.ground)
    runs = [
        (point[0] - start[0]) * along[0] + (point[1] - start[1]) * along[1]
        for point in ((other.x_m, other.y_m), last_vertex(other, design.ground))
    ]
    run = min(mine, max(runs)) if max(runs) > 0.3 * mine else mine * 0.5
    run = max(run - 1.6 * line.spacing_m, 0.0)
    runs_there = np.linspace(0.0, mine, 41)
    seen = runs_there[_in_sight(camera, start, along, runs_there)].tolist()
    if seen:
        run = min(max(run, seen[0]), seen[-1])
    foot = (start[0] + along[0] * run, start[1] + along[1] * run)
    return foot, (foot[0] + side[0] * apart, foot[1] + side[1] * apart)
