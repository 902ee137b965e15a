"""Painting the ground of a section: its profile, the plot's edges, no-build areas, obstacles, store and headers."""

import numpy as np
from PySide6.QtCore import QPointF, QRectF

from studio.desk.plan.board import Array, Board, path_of
from studio.drawings.section import SectionDrawing
from studio.drawings.section_ground import GroundInSection, ObstacleInSection, Stretch
from studio.text import _, number

_HATCH_PX = 22.0
_FLAG_PX = 30.0
_KERB_PX = 7.0


def paint_earth(board: Board, drawing: SectionDrawing) -> None:
    """The earth below the profile, which is drawn on to both sides as it ends."""
    camera, ground = board.camera, drawing.ground
    profile = _to_the_sides(board, ground.profile)
    inside = _in_sight(board, ground.profile)
    deep = min(camera.bounds[1], float(profile[:, 1].min())) - 1.0
    low = np.array([[profile[-1, 0], deep], [profile[0, 0], deep]])
    board.fill(path_of(board.px(np.concatenate([profile, low])), closed=True), board.theme.color("outside"))
    board.polyline(profile, board.pen("line", 1.4))
    board.polyline(inside, board.pen("ink", 2.0))
    _ticks(board, ground.profile)


def _to_the_sides(board: Board, profile: Array) -> Array:
    x0, _y0, x1, _y1 = board.camera.bounds
    ends = np.array([x0 - 1.0, x1 + 1.0])
    heights = np.interp(ends, profile[:, 0], profile[:, 1])
    near = profile[(profile[:, 0] > ends[0]) & (profile[:, 0] < ends[1])]
    return np.concatenate([[[ends[0], heights[0]]], near, [[ends[1], heights[1]]]])


def _in_sight(board: Board, profile: Array) -> Array:
    """The profile itself as far as it is in sight; a single place where it is not."""
    x0, _y0, x1, _y1 = board.camera.bounds
    ends = np.clip([x0 - 1.0, x1 + 1.0], profile[0, 0], profile[-1, 0])
    heights = np.interp(ends, profile[:, 0], profile[:, 1])
    near = profile[(profile[:, 0] > ends[0]) & (profile[:, 0] < ends[1])]
    return np.concatenate([[[ends[0], heights[0]]], near, [[ends[1], heights[1]]]])


def _ticks(board: Board, profile: Array) -> None:
    """Slanted ticks below the line: what lies there is earth."""
    x0, _y0, x1, _y1 = board.camera.bounds
    step = _HATCH_PX / board.camera.px_per_m
    along = np.arange(np.ceil(max(x0, profile[0, 0]) / step), np.floor(min(x1, profile[-1, 0]) / step) + 1)
    if not len(along):
        return
    at = board.px(np.column_stack([along * step, np.interp(along * step, profile[:, 0], profile[:, 1])]))
    board.stroke(path_of(np.stack([at, at + np.array([-6.0, 7.0])], axis=1)), board.pen("edge", 1.0))


def paint_marks_of_land(board: Board, ground: GroundInSection) -> None:
    """Where the plot ends, and where nothing is built."""
    for along in ground.edges:
        foot = board.at((along, ground.height_at(along)))
        line = path_of(np.array([[foot.x(), foot.y()], [foot.x(), foot.y() - _FLAG_PX]]))
        board.stroke(line, board.pen("ink2", 1.6))
        if board.free(QRectF(foot.x() - 20, foot.y() - _FLAG_PX - 16, 40, 14)):
            board.text(foot + QPointF(0, -_FLAG_PX - 5), _("plot ends"), align="middle")
    for area in ground.areas:
        _kerb(board, ground, area, hatch=True)
        middle = (area.start_m + area.end_m) / 2
        at = board.at((middle, ground.height_at(middle))) + QPointF(0, 20)
        board.text(at, _("no-build: {name}").format(name=area.name), align="middle", halo="outside")


def _kerb(board: Board, ground: GroundInSection, stretch: Stretch, *, hatch: bool) -> None:
    """A band right under the profile."""
    along = np.linspace(stretch.start_m, stretch.end_m, 24)
    top = board.px(np.column_stack([along, ground.heights_at(along)]))
    band = path_of(np.concatenate([top, (top + np.array([0.0, _KERB_PX]))[::-1]]), closed=True)
    if hatch:
        board.hatch(band, board.pen("edge", 1.0), step=6.0)
        board.stroke(band, board.pen("edge", 1.0))
    else:
        board.fill(band, board.theme.color("ink2"))


def paint_obstacles(board: Board, drawing: SectionDrawing, *, beside: bool) -> None:
    """Obstacles ``beside`` the cut, their outlines alone, or those that it goes through."""
    for one in drawing.ground.obstacles:
        if (one.off_m != 0.0) is beside:
            _obstacle(board, one)


def _obstacle(board: Board, one: ObstacleInSection) -> None:
    cut = one.off_m == 0.0
    for outline in one.outlines:
        path = path_of(board.px(outline), closed=True)
        if cut:
            board.fill(path, board.theme.color("hair"))
        board.stroke(path, board.pen("ink2", 1.6) if cut else board.pen("edge", 1.0, (4.0, 3.0)))


def paint_obstacle_names(board: Board, drawing: SectionDrawing) -> None:
    """Names over their tops; of what stands beside the cut, how far."""
    for one in drawing.ground.obstacles:
        every = np.concatenate(one.outlines)
        cut = one.off_m == 0.0
        text = one.name if cut else beside_words(one.name, one.off_m)
        left, right = float(every[:, 0].min()), float(every[:, 0].max())
        wide = board.width(text)
        for along in ((left + right) / 2, right, left):
            at = board.at((along, every[:, 1].max())) + QPointF(0, -7)
            if board.free(QRectF(at.x() - wide / 2, at.y() - 11, wide, 14)):
                board.text(at, text, align="middle", role="ink2" if cut else "ink3")
                break


def beside_words(name: str, off_m: float) -> str:
    """What stands beside the cut, and how far."""
    words = _("{name}, {m} m behind") if off_m > 0 else _("{name}, {m} m before")
    return words.format(name=name, m=number(abs(off_m), digits=1))


def paint_store(board: Board, drawing: SectionDrawing) -> None:
    """The ground that the store takes up: how high it is nobody has said yet."""
    if drawing.ground.store is None:
        return
    stretch, off = drawing.ground.store
    ground = drawing.ground
    ends = [board.at((at, ground.height_at(at))) for at in (stretch.start_m, stretch.end_m)]
    pen = board.pen("ink", 2.0) if off == 0.0 else board.pen("edge", 1.2, (4.0, 3.0))
    for end in ends:
        board.stroke(path_of(np.array([[end.x(), end.y()], [end.x(), end.y() - 22.0]])), pen)
    line = [[ends[0].x(), ends[0].y() - 5.0], [ends[1].x(), ends[1].y() - 5.0]]
    board.stroke(path_of(np.array(line)), pen)
    name = _("Store")
    at = (ends[0] + ends[1]) / 2 + QPointF(0, -12)
    board.text(at, name if off == 0.0 else beside_words(name, off), align="middle", weight=500)


def paint_headers(board: Board, drawing: SectionDrawing) -> None:
    """Headers cut across, at true size in their insulation, as they lie on the ground."""
    scale = board.camera.px_per_m
    for one in drawing.headers:
        middle = board.at(one.middle)
        board.dot(middle, max(one.insulated_m * scale, 3.5), fill="panel", rim="ink2", width=1.1)
        board.dot(
            middle, max(one.radius_m * scale, 1.6), fill="ink" if one.hot else "ink3", rim="ink", width=0.8
        )


def paint_header_names(board: Board, drawing: SectionDrawing) -> None:
    """Which header it is, over each that is in sight; away where a figure stands."""
    for one in drawing.headers:
        middle = board.at(one.middle)
        text = _("hot header") if one.hot else _("cold header")
        wide = board.width(text)
        up = max(one.insulated_m * board.camera.px_per_m, 3.5) + 6
        x = min(max(middle.x(), wide / 2 + 4), board.camera.width - wide / 2 - 4)
        box = QRectF(x - wide / 2 - 4, middle.y() - up - 11, wide + 8, 14)
        if 0.0 <= middle.x() <= board.camera.width and board.free(box):
            board.text(QPointF(x, middle.y() - up), text, align="middle")
