"""Painting the land: plot, setback, no-build areas, grid, contours, header, store."""

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QPointF, QRectF

from studio.design.site import Ground
from studio.desk.plan.board import Board, path_of, path_of_runs
from studio.desk.plan.contours import paint_contours
from studio.desk.state import Subject
from studio.drawings.plan import PlanDrawing, nice_step
from studio.text import _, number

Run = tuple[tuple[float, float], ...]
GRID_PX = 56.0
GRID_PARTS = 5
"""Between two lines of the grid the pointer is caught so many times."""
_STRIP_PX = 15.0
"""A setback narrower than this has no room for its name."""


def paint_ground(
    board: Board,
    drawing: PlanDrawing,
    ground: Ground,
    *,
    grid: bool,
    heights: bool,
    picture: Callable[[], None],
) -> None:
    """The outside, the plot's surface, what ``picture`` paints on them, contours and grid."""
    camera = board.camera
    everything = QRectF(0, 0, camera.width, camera.height)
    boundary = drawing.land.boundary
    board.painter.fillRect(everything, board.theme.color("outside" if len(boundary) >= 3 else "view"))
    if len(boundary) >= 3:
        board.fill(path_of(board.px(boundary), closed=True), board.theme.color("view"))
    picture()
    if heights:
        paint_contours(board, boundary, ground)
    if grid:
        _grid(board)


def _grid(board: Board) -> None:
    x0, y0, x1, y1 = board.camera.bounds
    step = nice_step(GRID_PX / board.camera.px_per_m)
    xs = np.arange(np.ceil(x0 / step), np.floor(x1 / step) + 1) * step
    ys = np.arange(np.ceil(y0 / step), np.floor(y1 / step) + 1) * step
    upright = np.stack(
        [np.stack([xs, np.full_like(xs, y0)], -1), np.stack([xs, np.full_like(xs, y1)], -1)], 1
    )
    level = np.stack([np.stack([np.full_like(ys, x0), ys], -1), np.stack([np.full_like(ys, x1), ys], -1)], 1)
    board.stroke(path_of(board.px(np.concatenate([upright, level]))), board.pen("hair", 1.0))


def grid_step(px_per_m: float) -> float:
    """Distance between the lines of the grid, in metres."""
    return nice_step(GRID_PX / px_per_m)


def paint_setback(board: Board, drawing: PlanDrawing) -> None:
    """The inner edge of the setback."""
    for ring in drawing.land.setback:
        board.polyline(ring, board.pen("edge", 1.2, (5, 4)), closed=True)


def paint_areas(board: Board, drawing: PlanDrawing, chosen: frozenset[Subject]) -> None:
    """No-build areas."""
    for place, area in enumerate(drawing.land.areas):
        if len(area.ring) < 3:
            continue
        path = path_of(board.px(area.ring), closed=True)
        picked = Subject("no_build", place) in chosen
        board.fill(path, board.theme.color("view"))
        board.hatch(path, board.pen("line", 1.0))
        board.stroke(path, board.pen("accent" if picked else "edge", 1.8 if picked else 1.3))


def paint_boundary(board: Board, drawing: PlanDrawing, chosen: frozenset[Subject]) -> None:
    """The boundary of the plot."""
    boundary = drawing.land.boundary
    if len(boundary) >= 2:
        picked = Subject("boundary") in chosen
        board.polyline(boundary, board.pen("accent" if picked else "ink", 2.0), closed=len(boundary) > 2)


def paint_header(board: Board, drawing: PlanDrawing, chosen: frozenset[Subject]) -> None:
    """Hot and cold header, and the store they lead to."""
    for side, runs in (("cold", drawing.header.cold), ("hot", drawing.header.hot)):
        role = "accent" if Subject("header", side) in chosen else "ink"
        trunks, branches = (runs, ()) if side == "cold" else ((*runs[:1], *runs[1:][-1:]), runs[1:-1])
        pens = (
            (board.pen(role, 1.8, (7, 4)),)
            if side == "cold"
            else (board.pen(role, 3.0), board.pen(role, 1.3))
        )
        for pen, parts in zip(pens, (trunks, branches), strict=False):
            if parts:
                corners = [corner for run in parts for corner in run]
                board.stroke(path_of_runs(board.px(corners), [len(run) for run in parts]), pen)
    if not drawing.has_store:
        return
    x, y, radius = drawing.store
    at = board.at((x, y))
    size = max(radius * board.camera.px_per_m, 4.0)
    role = "accent" if Subject("store") in chosen else "ink2"
    board.dot(at, size, fill="hair", rim=role, width=1.8)
    board.dot(at, max(size - 5.0, size * 0.5), rim=role, width=1.0)


def paint_land_names(
    board: Board, drawing: PlanDrawing, chosen: frozenset[Subject], *, setback_m: float
) -> None:
    """Names of areas, setback, header and store; those that find no free place stay away."""
    for area in drawing.land.areas:
        if len(area.ring) < 3:
            continue
        middle = board.at(area.ring.mean(axis=0))
        text = _("No-build: {name}").format(name=area.name) if area.name != _("no-build") else _("No-build")
        box = path_of(board.px(area.ring), closed=True).boundingRect()
        if box.width() > board.width(text) * 0.7:
            board.text(middle + QPointF(0, 4), text, align="middle", role="ink2")
    if drawing.has_store:
        x, y, radius = drawing.store
        role = "accent" if Subject("store") in chosen else "ink2"
        lift = max(radius * board.camera.px_per_m, 4.0) + 8
        board.text(
            board.at((x, y)) - QPointF(0, lift), _("Store"), align="middle", role=role, size=12, weight=500
        )
    _setback_name(board, drawing, setback_m)
    for side, runs in ((_("hot"), drawing.header.hot), (_("cold"), drawing.header.cold)):
        if runs:
            _along(board, np.array(runs[0]), side)


def _setback_name(board: Board, drawing: PlanDrawing, setback_m: float) -> None:
    if setback_m * board.camera.px_per_m < _STRIP_PX:
        return
    text = _("setback {metres} m").format(metres=number(setback_m, digits=1).removesuffix(".0"))
    for ring in drawing.land.setback[:1]:
        ends = board.px(ring)
        lengths = np.hypot(*(np.roll(ends, -1, axis=0) - ends).T)
        for edge in np.argsort(-lengths)[:3]:
            if _on_edge(
                board, ends[edge], ends[(edge + 1) % len(ends)], text, lift=9.0, away_from=ends.mean(axis=0)
            ):
                return


def _along(board: Board, run: np.ndarray, text: str) -> None:
    ends = board.px(run)
    lengths = np.hypot(*np.diff(ends, axis=0).T)
    if len(lengths):
        edge = int(np.argmax(lengths))
        _on_edge(board, ends[edge], ends[edge + 1], text, lift=9.0)


def _on_edge(
    board: Board,
    start: np.ndarray,
    end: np.ndarray,
    text: str,
    *,
    lift: float,
    away_from: np.ndarray | None = None,
) -> bool:
    """A text along an edge, above it or on the side away from a point; whether it found room."""
    if end[0] < start[0]:
        start, end = end, start
    run = end - start
    length = float(np.hypot(*run))
    width = board.width(text)
    if length < width + 24:
        return False
    turn = float(np.degrees(np.arctan2(run[1], run[0])))
    normal = np.array([run[1], -run[0]]) / length
    if away_from is not None and normal @ (start - away_from) < 0:
        normal = -normal
    for share in (0.5, 0.3, 0.7, 0.15, 0.85):
        middle = start + run * share + normal * lift
        reach = np.abs(run) / length * width / 2 + 8
        box = QRectF(middle[0] - reach[0], middle[1] - reach[1], 2 * reach[0], 2 * reach[1])
        if board.free(box) and box.top() > 0 and box.bottom() < board.camera.height:
            # the baseline lies a third of the letters' height below their middle
            base = middle + np.array([-run[1], run[0]]) / length * 4.0
            board.text(QPointF(*base), text, align="middle", turn_deg=turn)
            board.taken.append(box)
            return True
    return False
