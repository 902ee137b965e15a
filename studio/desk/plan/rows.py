"""Painting lines: mirrors by tint, ribs, low edges; frames, pipe, receivers, stroke ends, drive; their names."""

from collections.abc import Iterable

import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QPen

from studio.desk.plan.board import Array, Board, path_of
from studio.drawings.plan import LineOnPlan, PlanDrawing
from studio.text import _

BINS = 16
MOST_SHADE = 0.4
"""Share of shade at the dark end of the tint scale."""
_BOW_PX = 3.4
_BOW_STEPS = 5
_FULL_PX = 11.0
"""Mirrors narrower than this on the screen are plain quads without ribs."""
_SPECK_PX = 3.0


def paint_mirrors(board: Board, drawing: PlanDrawing, *, tint: bool) -> None:
    """All mirrors: one path for each of 16 tints, then rims, ribs and low edges as one path each."""
    if not drawing.lines:
        return
    corners = board.px(np.concatenate([line.corners for line in drawing.lines]))
    inside = _in_sight(board, corners)
    if not inside.any():
        return
    shades = (
        np.concatenate([drawing.tints[line.id] for line in drawing.lines])
        if tint and drawing.tints
        else np.zeros(len(corners))
    )
    corners, shades = corners[inside], shades[inside]
    wide = float(np.median(np.hypot(*(corners[:, 1] - corners[:, 0]).T)))
    bow = _BOW_PX if wide >= _FULL_PX * 2 else _BOW_PX * 0.7
    bowed = wide >= _FULL_PX
    shapes = _bowed(corners, bow) if bowed else corners
    _tinted(board, shapes, shades)
    if wide < _SPECK_PX:
        return
    if bowed:
        board.stroke(
            path_of(_ribs(corners, bow, 4 if wide >= 2 * _FULL_PX else 3)), _soft(board, "rim", 0.8, 150)
        )
    board.stroke(path_of(shapes, closed=True), board.pen("rim", 1.0 if bowed else 0.7))
    low = shapes[:, : _BOW_STEPS + 1] if bowed else shapes[:, :2]
    board.stroke(path_of(low), board.pen("rim", 2.2 if bowed else 1.4))


def _soft(board: Board, role: str, width: float, opacity: int) -> QPen:
    pen = board.pen(role, width)
    color = pen.color()
    color.setAlpha(opacity)
    pen.setColor(color)
    return pen


def _in_sight(board: Board, corners: Array) -> np.ndarray:
    low, high = corners.min(axis=1), corners.max(axis=1)
    return np.asarray(
        (high[:, 0] > -20) & (low[:, 0] < board.camera.width + 20)
        & (high[:, 1] > -20) & (low[:, 1] < board.camera.height + 20)
    )  # fmt: skip


def _tinted(board: Board, shapes: Array, shades: Array) -> None:
    bins = np.clip((shades / MOST_SHADE * (BINS - 1)).round().astype(int), 0, BINS - 1)
    colors = board.theme.shade(np.linspace(0.0, 1.0, BINS))
    for place in np.unique(bins):
        r, g, b = (int(part) for part in colors[place])
        board.fill(path_of(shapes[bins == place], closed=True), QColor(r, g, b))


def _bowed(corners: Array, bow: float) -> Array:
    """Outlines (N, 2 steps + 2, 2) with both edges bowed up the slope by ``bow`` pixels: a dish, not a slab."""
    share = np.linspace(0.0, 1.0, _BOW_STEPS + 1)[None, :, None]
    lift = _up_px(corners)[:, None, :] * (4 * share * (1 - share) * bow)
    low = corners[:, 0:1] + (corners[:, 1:2] - corners[:, 0:1]) * share + lift
    high = corners[:, 2:3] + (corners[:, 3:4] - corners[:, 2:3]) * share + lift
    return np.concatenate([low, high], axis=1)


def _ribs(corners: Array, bow: float, count: int) -> Array:
    share = (np.arange(count) + 1.0)[None, :, None] / (count + 1)
    lift = _up_px(corners)[:, None, :] * (4 * share * (1 - share) * bow)
    low = corners[:, 0:1] + (corners[:, 1:2] - corners[:, 0:1]) * share + lift
    high = corners[:, 3:4] + (corners[:, 2:3] - corners[:, 3:4]) * share + lift
    return np.stack([low, high], axis=2).reshape(-1, 2, 2)


def _up_px(corners: Array) -> Array:
    up = corners[:, 3] - corners[:, 0]
    return up / np.maximum(np.hypot(up[:, 0], up[:, 1]), 1e-6)[:, None]


def paint_gear(board: Board, drawing: PlanDrawing, chosen: Iterable[int]) -> None:
    """Frames, pipe and receivers where the arm puts them at the moment, stroke ends and drives."""
    picked = set(chosen)
    for selected in (False, True):
        lines = [line for line in drawing.lines if (line.id in picked) is selected]
        if lines:
            _gear(board, drawing, lines, "accent" if selected else "ink", heavy=selected)


def _gear(board: Board, drawing: PlanDrawing, lines: list[LineOnPlan], role: str, *, heavy: bool) -> None:
    pitch_px = lines[0].placed.spacing_m * board.camera.px_per_m
    close = pitch_px >= 7.0
    if pitch_px >= _FULL_PX:
        frames = np.concatenate([drawing.gear[line.id].frames for line in lines])
        board.stroke(path_of(board.px(frames)), board.pen(role, 1.2))
    pipes = board.px(np.stack([drawing.gear[line.id].pipe for line in lines]))
    board.cased(path_of(pipes), board.pen(role, 2.4 if heavy else 2.0), by=1.4 if close else 0.8)
    beyond = np.concatenate(
        [np.stack([_tails(board, line, pipe) for line, pipe in zip(lines, pipes, strict=True)])]
    )
    board.stroke(path_of(beyond.reshape(-1, 2, 2)), board.pen(role, 1.2, (3, 3)))
    if close:
        _receivers(
            board,
            np.concatenate([drawing.gear[line.id].receivers for line in lines]),
            lines[0],
            role,
            pitch_px,
        )
    for line in lines:
        _stops(board, line, role)


def _tails(board: Board, line: LineOnPlan, pipe: Array) -> Array:
    """From the pipe's ends to the stroke ends, square to the stroke brackets."""
    stops = board.px(line.stops)
    return np.stack([np.stack([pipe[0], stops[0]]), np.stack([pipe[1], stops[1]])])


def _receivers(board: Board, points: Array, line: LineOnPlan, role: str, pitch_px: float) -> None:
    half = min(3.5, pitch_px * 0.16)
    way = np.array([line.along[0], -line.along[1]]) * half
    side = np.array([line.up[0], -line.up[1]]) * half
    box = np.stack([-way - side, way - side, way + side, side - way])
    path = path_of(board.px(points)[:, None, :] + box, closed=True)
    pen = board.pen("view", 2.6)
    board.stroke(path, pen)
    board.fill(path, board.theme.color(role))


def _stops(board: Board, line: LineOnPlan, role: str) -> None:
    """Brackets where the pipe ends at full slide, and the drive beyond the first."""
    along = np.array([line.along[0], -line.along[1]])
    square = np.array([-along[1], along[0]])
    reach = float(np.clip(board.camera.px_per_m * 0.45, 3.0, 6.5))
    for stop, way in zip(board.px(line.stops), (along, -along), strict=True):
        bracket = np.stack(
            [stop + way * reach * 0.6 - square * reach, stop - square * reach, stop + square * reach,
             stop + way * reach * 0.6 + square * reach]
        )  # fmt: skip
        board.cased(path_of(bracket), board.pen(role, 1.5), by=1.2)
    drive = QPointF(*board.px(line.drive))
    board.dot(drive, reach * 0.75, fill="view", rim=role, width=1.5)
    board.dot(drive, 1.4, fill=role, rim="")


def outline(line: LineOnPlan, *, room_m: float = 0.0) -> Array:
    """The box (4, 2) about a line's mirrors on the plan, low edge first, ``room_m`` wider all round."""
    flat = line.corners[..., :2].reshape(-1, 2)
    square = np.array([-line.along[1], line.along[0]])
    run, side = flat @ line.along, flat @ square
    r0, r1, s0, s1 = run.min() - room_m, run.max() + room_m, side.min() - room_m, side.max() + room_m
    return np.stack([line.along * r + square * s for r, s in ((r0, s0), (r1, s0), (r1, s1), (r0, s1))])


def paint_selection(board: Board, drawing: PlanDrawing, chosen: Iterable[int]) -> None:
    """A box about each selected line, under its pipe."""
    for line_id in chosen:
        line = drawing.line(line_id)
        if line is not None:
            room = 4.0 / board.camera.px_per_m
            board.polyline(outline(line, room_m=room), board.pen("accent", 1.6), closed=True)


def paint_line_names(board: Board, drawing: PlanDrawing, chosen: Iterable[int]) -> None:
    """Each line's number below its drive end, or the name in full where there is room."""
    picked = set(chosen)
    for line in drawing.lines:
        if line.placed.spacing_m * board.camera.px_per_m < 4 and line.id not in picked:
            continue
        at = QPointF(*board.px(line.stops[0]))
        role = "accent" if line.id in picked else "ink2"
        down = -1.0 if line.up[1] < -0.2 else 1.0
        text = str(line.id) if line.id not in picked else _("Line {number}").format(number=line.id)
        wide = board.width(text, 12, 500)
        for dx, dy in ((4, 20 * down), (4, -12 * down), (-wide - 22, 4), (14, 20 * down), (4, 32 * down)):
            spot = at + QPointF(dx, dy)
            box = QRectF(spot.x() - 1, spot.y() - 11, wide + 2, 14)
            if board.free(box) or line.id in picked:
                board.text(spot, text, size=12, weight=600 if line.id in picked else 500, role=role)
                break
