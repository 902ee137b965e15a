"""Painting lines: mirrors by tint, ribs, low edges; frames, pipe, receivers, stroke ends, drive; their names."""

from collections.abc import Sequence
from functools import lru_cache, partial

import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QColor, QPen

from studio.desk.plan.board import Array, Board, path_of
from studio.desk.plan.sprites import Sprites
from studio.drawings.lines import LineOnPlan
from studio.drawings.moment import GearOnPlan
from studio.drawings.plan import PlanDrawing
from studio.text import _

BINS = 16
MOST_SHADE = 0.4
"""Share of shade at the dark end of the tint scale."""
_BOW_PX = 3.4
_BOW_STEPS = 5
_FULL_PX = 11.0
"""Mirrors narrower than this on the screen are plain quads without ribs."""
_SPECK_PX = 3.0
_CROWDED_PX = 32.0
_ROOM_PX = 20.0
"""A line so far outside the screen may still show its rim."""


def in_sight(board: Board, line: LineOnPlan) -> bool:
    """Whether some of a line, from its drive to its last stop, may be on the screen."""
    x0, y0, x1, y1 = board.camera.bounds
    left, low, right, high = _box(line)
    room = _ROOM_PX / board.camera.px_per_m
    return left < x1 + room and right > x0 - room and low < y1 + room and high > y0 - room


def paint_mirrors(
    board: Board, sprites: Sprites, drawing: PlanDrawing, lines: Sequence[LineOnPlan], *, tint: bool
) -> None:
    """Mirrors of lines, each line from its picture as far as it is the same as before, wherever it stands."""
    for line in lines:
        shades = drawing.tints.get(line.id) if tint else None
        bins = _bins(np.zeros(len(line.corners)) if shades is None else shades[line.placed.there])
        key = ("mirrors", _shape(line), bins.tobytes())
        sprites.draw(board, key, _box(line), partial(_mirrors, line=line, bins=bins))


@lru_cache(maxsize=2000)
def _shape(line: LineOnPlan) -> tuple[object, ...]:
    """What a line looks like, wherever it stands."""
    ends = np.round(line.corners[[0, -1]] - line.vertices[0], 4)
    return len(line.corners), ends.tobytes(), line.placed.absent


@lru_cache(maxsize=2000)
def _box(line: LineOnPlan) -> tuple[float, float, float, float]:
    flat = np.concatenate([line.corners[[0, -1]].reshape(-1, 3)[:, :2], line.stops, line.drive[None]])
    (x0, y0), (x1, y1) = flat.min(axis=0), flat.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def _bins(shades: Array) -> np.ndarray:
    return np.clip((shades / MOST_SHADE * (BINS - 1)).round(), 0, BINS - 1).astype(np.uint8)


def _mirrors(board: Board, *, line: LineOnPlan, bins: np.ndarray) -> None:
    """One path for each few mirrors of a tint, then rims, ribs and low edges as one path each."""
    corners = board.px(line.corners)
    inside = _in_sight(board, corners)
    if not inside.any():
        return
    corners, bins = corners[inside], bins[inside]
    wide = float(np.hypot(*(corners[0, 1] - corners[0, 0])))
    bow = _BOW_PX if wide >= _FULL_PX * 2 else _BOW_PX * 0.7
    bowed = wide >= _FULL_PX
    shapes = _bowed(corners, bow) if bowed else corners
    _tinted(board, shapes, bins)
    if wide < _SPECK_PX:
        return
    if bowed:
        ribs = _ribs(corners, bow, 4 if wide >= 2 * _FULL_PX else 3)
        board.stroke(path_of(ribs), _soft(board, "rim", 0.8, 150))
    board.stroke(path_of(shapes, closed=True), board.pen("rim", 1.0 if bowed else 0.7))
    low = shapes[:, : _BOW_STEPS + 1] if bowed else shapes[:, :2]
    board.thick(low, "rim", 2.2 if bowed else 1.4)


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


def _tinted(board: Board, shapes: Array, bins: np.ndarray) -> None:
    colors = board.theme.shade(np.linspace(0.0, 1.0, BINS))
    for place in np.flatnonzero(np.bincount(bins, minlength=BINS)):
        r, g, b = (int(part) for part in colors[place])
        board.fill_each(shapes[bins == place], QColor(r, g, b))


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


def paint_gear(
    board: Board, sprites: Sprites, drawing: PlanDrawing, lines: Sequence[LineOnPlan], picked: frozenset[int]
) -> None:
    """Frames, pipe and receivers where the arm puts them at the moment, stroke ends and drives; the selected on top."""
    for line in sorted(lines, key=lambda line: line.id in picked):
        gear, selected = drawing.gear[line.id], line.id in picked
        key = ("gear", _shape(line), gear.slide_m, gear.roll_deg, selected)
        sprites.draw(board, key, _box(line), partial(_gear, line=line, gear=gear, selected=selected))


def _gear(board: Board, *, line: LineOnPlan, gear: GearOnPlan, selected: bool) -> None:
    role = "accent" if selected else "ink"
    pitch_px = line.placed.spacing_m * board.camera.px_per_m
    close = pitch_px >= 7.0
    if pitch_px >= _FULL_PX:
        board.stroke(path_of(board.px(gear.frames)), board.pen(role, 1.0))
    pipe = board.px(gear.pipe)
    board.cased(path_of(pipe), board.pen(role, 2.4 if selected else 2.0), by=1.4 if close else 0.8)
    board.stroke(path_of(_tails(board, line, pipe)), board.pen(role, 1.2, (3, 3)))
    if close:
        _receivers(board, gear.receivers, line, role, pitch_px)
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
    centres = board.px(points)[:, None, :]
    board.fill_each(centres + box * (1 + 1.4 / half), board.theme.color("view"))
    board.fill_each(centres + box, board.theme.color(role))


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


def paint_selection(board: Board, lines: Sequence[LineOnPlan], picked: frozenset[int]) -> None:
    """A box about each selected line, under its pipe, and where a mirror would stand at each place left out."""
    for line in lines:
        if line.id in picked:
            room = 4.0 / board.camera.px_per_m
            board.polyline(outline(line, room_m=room), board.pen("accent", 1.6), closed=True)
            if len(line.left_out):
                board.stroke(path_of(board.px(line.left_out), closed=True), board.pen("accent", 1.0, (3, 3)))


def paint_line_names(
    board: Board, lines: Sequence[LineOnPlan], picked: frozenset[int], *, among: Sequence[LineOnPlan]
) -> None:
    """The number of each of ``lines`` below its drive end, or beside it where others of the field stand close.

    Without room it stays away.
    """
    if not lines:
        return
    places = board.px(np.array([line.stops[0] for line in lines]))
    others = board.px(np.array([line.stops[0] for line in among]))
    apart = np.abs(places[:, None] - others).sum(axis=2)
    near = ((apart > 0) & (apart < _CROWDED_PX)).any(axis=1).tolist()
    ends = [QPointF(*place) for place in places.tolist()]
    for line, at, crowded in sorted(
        zip(lines, ends, near, strict=True), key=lambda one: one[0].id not in picked
    ):
        alone = picked == {line.id}
        text = _("Line {number}").format(number=line.id) if alone else str(line.id)
        wide = board.width(text, 12, 600)
        forward = line.along[0] >= 0
        back = 8 - wide if forward else -8.0
        beside = QPointF(at.x() - wide - 22 if forward else at.x() + 22, at.y() + 4)
        below = QPointF(at.x() + back, at.y() + (-12 if line.up[1] < -0.2 else 20))
        for spot in (beside,) if crowded else (below, beside):
            box = QRectF(spot.x() - 1, spot.y() - 11, wide + 2, 14)
            if board.free(box):
                role = "accent" if line.id in picked else "ink2"
                board.text(spot, text, size=12, weight=600 if line.id in picked else 500, role=role)
                break
