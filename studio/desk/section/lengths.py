"""Painting the dimensions of a section: heights at one line, and in rows below the ground shadow, gaps and pitches."""

from collections.abc import Sequence
from math import cos, hypot, sin

import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QPainterPath

from studio.desk.mirror.drawn import paint_length
from studio.desk.plan.board import Board, path_of
from studio.drawings.section import CrossedLine, SectionDrawing
from studio.drawings.section_lengths import Height, Pitch
from studio.text import _, number

ROWS_PX = 112.0
"""Room below the ground that the rows take."""
_FIRST_PX, _ROW_PX = 30.0, 30.0
_LEAST_PX = 26.0
_BARE_PX = 70.0
"""Mirrors that stand closer on the screen get no dimensions."""


def paint_rows(board: Board, drawing: SectionDrawing, chosen: CrossedLine | None) -> None:
    """Shadow of the chosen line, gaps and pitches of all that are in sight."""
    seen = [pitch for pitch in drawing.pitches if _in_sight(board, pitch)]
    scale = board.camera.px_per_m
    if not seen and chosen is None:
        return
    if seen and min(pitch.along_m for pitch in seen) * scale < _BARE_PX:
        return
    lowest = _lowest_px(board, drawing, seen, chosen)
    rows = _Rows(board, drawing)
    if chosen is not None:
        _shadow(board, drawing, rows, chosen, lowest + _FIRST_PX)
    for pitch in seen:
        gap, row = lowest + _FIRST_PX + _ROW_PX, lowest + _FIRST_PX + 2 * _ROW_PX
        if pitch.gap_m > 0:
            text = _fitting(board, pitch.gap_to_m - pitch.gap_from_m, _("gap {m} m"), pitch.gap_m)
            rows.add(pitch.gap_from_m, pitch.gap_to_m, gap, text)
        rows.add(pitch.from_m, pitch.to_m, row, pitch_words(board, pitch))
        if pitch.clears_deg is not None:
            text = _("clear above {deg}°").format(deg=number(pitch.clears_deg, digits=1))
            middle = board.at(((pitch.from_m + pitch.to_m) / 2, 0.0)).x()
            if board.width(text) < pitch.along_m * scale - 8:
                board.text(QPointF(middle, row + 17), text, align="middle", halo="outside")
    rows.paint()


def pitch_words(board: Board, pitch: Pitch) -> str:
    """A pitch as it stands in its break; along an oblique cut it is the longer one, and the square one is told too."""
    if not pitch.parallel or pitch.stretch < 1.0005:
        return _fitting(board, pitch.along_m, _("pitch {m} m"), pitch.along_m)
    text = _("{along} m in the cut, pitch {m} m").format(
        along=number(pitch.along_m, digits=2), m=number(pitch.square_m, digits=2)
    )
    fits = board.width(text, 11, 500) + 34 < pitch.along_m * board.camera.px_per_m
    return text if fits else _fitting(board, pitch.along_m, _("pitch {m} m"), pitch.square_m)


def _fitting(board: Board, metres: float, words: str, value: float) -> str:
    """The words with the figure, or the figure alone where that is all there is room for."""
    figure = number(value, digits=2)
    text = words.format(m=figure)
    return text if board.width(text, 11, 500) + 34 < metres * board.camera.px_per_m else figure


def _in_sight(board: Board, pitch: Pitch) -> bool:
    left, right = board.at((pitch.from_m, 0.0)).x(), board.at((pitch.to_m, 0.0)).x()
    return right > 20 and left < board.camera.width - 20


def _lowest_px(
    board: Board, drawing: SectionDrawing, seen: Sequence[Pitch], chosen: CrossedLine | None
) -> float:
    """The lowest place of the ground in sight under what is dimensioned."""
    along = [at for pitch in seen for at in (pitch.from_m, pitch.to_m)]
    if chosen is not None:
        along.append(float(chosen.line.vertex[0]))
    x0, _y0, x1, _y1 = board.camera.bounds
    held = [min(max(at, x0), x1) for at in along]
    foot = max(board.at((at, drawing.ground.height_at(at))).y() for at in held)
    return min(foot, board.camera.height - ROWS_PX - 26.0)


class _Rows:
    """Level dimension lines, broken for their figures, ticks of 45 degrees at their ends; painted together."""

    def __init__(self, board: Board, drawing: SectionDrawing) -> None:
        self._board, self._ground = board, drawing.ground
        self._down: list[list[list[float]]] = []
        self._level: list[list[list[float]]] = []
        self._texts: list[tuple[QPointF, str]] = []

    def add(self, start: float, end: float, y: float, text: str) -> None:
        """From one place along the cut to another at the height ``y`` in pixels, with its figure where there is room."""
        ends = self._board.px(
            np.column_stack([[start, end], self._ground.heights_at(np.array([start, end]))])
        )
        (left, _foot), (right, _other) = ends.tolist()
        if right - left < _LEAST_PX:
            return
        self._down += [[[x, foot + 8], [x, y + 5]] for x, foot in ends.tolist() if y > foot + 8]
        wide = self._board.width(text, 11, 500)
        text = text if right - left > wide + 30 else ""
        half, middle = (wide + 12) / 2 if text else 0.0, (left + right) / 2
        self._level += [[[left, y], [middle - half, y]], [[middle + half, y], [right, y]]]
        self._level += [[[x - 4.5, y + 4.5], [x + 4.5, y - 4.5]] for x in (left, right)]
        if text:
            self._texts.append((QPointF(middle, y + 4), text))

    def paint(self) -> None:
        """All that was added."""
        board = self._board
        if self._down:
            board.stroke(path_of(np.array(self._down)), board.pen("edge", 0.8, (2.0, 3.0)))
        if self._level:
            board.stroke(path_of(np.array(self._level)), board.pen("ink2", 1.0))
        for at, text in self._texts:
            board.text(at, text, weight=500, role="ink", align="middle", halo="outside")


def _shadow(board: Board, drawing: SectionDrawing, rows: _Rows, chosen: CrossedLine, y: float) -> None:
    """The length of the shadow at the moment, and the sun's height in the cut at its end."""
    shadow = chosen.shadow
    if shadow is None or shadow.high is None or shadow.length_m is None or drawing.sun.state != "shines":
        return
    start, end = float(chosen.line.high[0]), float(shadow.high[0])
    text = _fitting(board, abs(end - start), _("shadow {m} m"), shadow.length_m)
    rows.add(min(start, end), max(start, end), y, text)
    _angle(board, drawing, chosen, board.at(shadow.high))


def _angle(board: Board, drawing: SectionDrawing, chosen: CrossedLine, at: QPointF) -> None:
    """The profile angle where the shadow ends: from the level to the light."""
    light = chosen.line.placed.axes @ drawing.sun.sun.direction @ chosen.line.seen.see
    turn = float(np.arctan2(light[1], abs(light[0])))
    right = light[0] > 0
    radius = 44.0
    way = 1.0 if right else -1.0
    line = np.array([[at.x(), at.y()], [at.x() + way * (radius + 14), at.y()]])
    board.stroke(path_of(line), board.pen("note", 1.0, (3.0, 3.0)))
    arc = QPainterPath(at + QPointF(way * radius, 0.0))
    for angle in np.linspace(0.0, turn, 16)[1:]:
        arc.lineTo(at + QPointF(way * radius * cos(angle), -radius * sin(angle)))
    board.stroke(arc, board.pen("note", 1.2))
    spot = at + QPointF(way * (radius + 8) * cos(turn / 2), -(radius + 8) * sin(turn / 2) + 4)
    text = number(float(np.degrees(turn)), digits=1) + "°"
    board.text(spot, text, role="note", weight=600, align="left" if right else "right")


def paint_heights(board: Board, drawing: SectionDrawing, chosen: CrossedLine) -> None:
    """How high the parts of one line stand above the ground below them."""
    heights = {height.key: height for height in drawing.heights(chosen.line.id)}
    scale = board.camera.px_per_m
    if heights["vertex"].height_m * scale < 2 * _LEAST_PX:
        return
    left = chosen.line.low[0] < chosen.line.high[0]
    out = 1.0 if left else -1.0
    high = board.at(chosen.line.high).x()
    places = {
        "low": board.at(chosen.line.low).x() - out * 16.0,
        "post": board.at(heights["post"].at).x() + out * 18.0,
        "high": high + out * 16.0,
        "receiver": high + out * 44.0,
    }
    if abs(heights["post"].height_m - heights["vertex"].height_m) > 0.005:
        places["vertex"] = board.at(chosen.line.vertex).x() - out * 18.0
    for key, x in places.items():
        _upright(board, heights[key], x)


def _upright(board: Board, height: Height, x: float) -> None:
    top, foot = board.at(height.at), board.at((height.at[0], height.foot_m))
    if foot.y() - top.y() < _LEAST_PX:
        return
    for y, near in ((top.y(), 4.0), (foot.y(), 0.0)):
        away = near if x > top.x() else -near
        if abs(x - top.x()) > 6:
            line = np.array([[top.x() + away, y], [x + (4.0 if x > top.x() else -4.0), y]])
            board.stroke(path_of(line), board.pen("edge", 0.8))
    words = {"high": _("{m} m"), "low": _("{m} m"), "post": _("post {m} m"), "vertex": _("vertex {m} m"),
             "receiver": _("highest {m} m")}[height.key]  # fmt: skip
    text = words.format(m=number(height.height_m, digits=2))
    if board.width(text, 11, 500) + 30 > foot.y() - top.y():
        text = number(height.height_m, digits=2)
    taken = len(board.taken)
    paint_length(board, QPointF(x, foot.y()), QPointF(x, top.y()), text)
    del board.taken[taken:]  # the figure stands upright: the dimension takes its own slim room
    board.taken.append(QRectF(x - 8, top.y(), 16, foot.y() - top.y()))


def paint_along(board: Board, drawing: SectionDrawing) -> None:
    """Spacing, slide and heights of lines that the cut runs along."""
    rows = _Rows(board, drawing)
    for row in drawing.along:
        vertices = row.line.vertices
        if len(vertices) < 2:
            continue
        steps = np.hypot(*np.diff(vertices, axis=0).T)
        side_by_side = np.flatnonzero(steps <= 1.5 * row.line.placed.spacing_m)  # not over an empty place
        if not side_by_side.size:
            continue
        middle = int(side_by_side[np.abs(side_by_side - max(len(vertices) // 2 - 1, 0)).argmin()])
        a, b = vertices[middle], vertices[middle + 1]
        foot = max(board.at((at[0], drawing.ground.height_at(float(at[0])))).y() for at in (a, b))
        y = min(foot + _FIRST_PX, board.camera.height - 60.0)
        spacing = hypot(float(b[0] - a[0]), float(b[1] - a[1]))
        words = _fitting(board, abs(float(b[0] - a[0])), _("spacing {m} m"), spacing)
        start, end = sorted((float(a[0]), float(b[0])))
        rows.add(start, end, y, words)
        _slide(board, row.gear.slide_m, vertices[middle + 1], row.gear.pipe)
    rows.paint()


def _slide(board: Board, slide_m: float, vertex: np.ndarray, pipe: np.ndarray) -> None:
    at = board.at(vertex + pipe) + QPointF(0, 30)
    board.text(
        at, _("slide {m} m").format(m=number(slide_m, digits=2, sign=True)), align="middle", weight=500
    )
