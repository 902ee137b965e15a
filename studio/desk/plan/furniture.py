"""What stands on the canvas and not on the land: findings' marks, scale bar, north, the sun's dial, the tint's scale."""

from collections.abc import Sequence
from math import cos, radians, sin

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QLinearGradient, QPainter, QPainterPath, QPixmap, QPolygonF

from studio.desk.painted import draw_finding
from studio.desk.plan.board import Align, Board
from studio.desk.plan.camera import Camera
from studio.desk.plan.rows import MOST_SHADE
from studio.desk.plan.still import ratio_of
from studio.desk.plan.tools.under import inside
from studio.drawings.moment import Sun
from studio.drawings.plan import PlanDrawing, scale_bar
from studio.study.findings import Finding, Severity
from studio.text import _, number

_MARK_PX = 9.0
_MARK_HALF_PX = 14.0
"""Half the side of the picture of a mark."""
_marks: dict[tuple[object, ...], QPixmap] = {}
_MOST_MARKS = 200
_REACH_PX = 14.0
_MARGIN = 16.0
_TINT_PX = 150.0
TINT_ROOM_PX = _TINT_PX + 130.0
TINT_HIGH_PX = 44.0
COMPASS_PX = (172.0, 96.0)
"""Room for the tint's scale in its corner, and (wide, high) for north and dial in theirs."""


def mark_spots(board_px: np.ndarray, drawing: PlanDrawing) -> list[tuple[Finding, QPointF]]:
    """Where the findings' marks stand in pixels, set apart where places coincide."""
    placed: list[tuple[Finding, QPointF]] = []
    for finding, (x, y) in zip(drawing.marks, board_px, strict=True):
        spot = QPointF(float(x), float(y))
        turn = 0
        while any((spot - other).manhattanLength() < 2 * _MARK_PX for _found, other in placed) and turn < 24:
            turn += 1
            away = 20.0 * (1 + turn // 6)
            spot = QPointF(x + away * cos(turn * 1.05), y - away * sin(turn * 1.05))
        placed.append((finding, spot))
    return placed


def marks_px(camera: Camera, drawing: PlanDrawing) -> list[tuple[Finding, QPointF]]:
    """The findings' marks of a drawing in pixels."""
    places = [finding.place for finding in drawing.marks if finding.place is not None]
    return mark_spots(camera.to_px(np.array(places).reshape(-1, 2)), drawing)


def mark_at(camera: Camera, drawing: PlanDrawing, spot: QPointF) -> Finding | None:
    """The finding whose mark lies under a pixel, the uppermost of several."""
    found = reversed(marks_px(camera, drawing))
    return next((finding for finding, at in found if (at - spot).manhattanLength() < _REACH_PX), None)


def paint_marks(board: Board, drawing: PlanDrawing, *, stale: bool) -> None:
    """The findings' marks, hollow and dashed when they are from before the move."""
    for finding, spot in marks_px(board.camera, drawing):
        corner = QPointF(round(spot.x()) - _MARK_HALF_PX, round(spot.y()) - _MARK_HALF_PX)
        board.painter.drawPixmap(corner, _mark(board, finding.severity, finding.number, stale=stale))
        board.taken.append(QRectF(spot.x() - 11, spot.y() - 11, 22, 22))


def _mark(board: Board, severity: Severity, which: int, *, stale: bool) -> QPixmap:
    """A finding's mark, painted once for all frames of a drag."""
    theme, ratio = board.theme, ratio_of(board)
    key = (severity, which, stale, theme.dark, ratio, theme.font().family())
    if key not in _marks:
        if len(_marks) >= _MOST_MARKS:
            _marks.clear()
        size = int(2 * _MARK_HALF_PX * ratio)
        picture = QPixmap(size, size)
        picture.setDevicePixelRatio(ratio)
        picture.fill(Qt.GlobalColor.transparent)
        painter, middle = QPainter(picture), QPointF(_MARK_HALF_PX, _MARK_HALF_PX)
        Board(painter, board.camera, theme).dot(middle, _MARK_PX + 2.5, fill="view", rim="")
        draw_finding(painter, severity, which, middle, theme, stale=stale, radius=_MARK_PX)
        painter.end()
        _marks[key] = picture
    return _marks[key]


def _ground(board: Board, drawing: PlanDrawing, x: float, y: float) -> str:
    """The role of the surface that lies under a pixel."""
    ring = drawing.land.boundary
    return "view" if len(ring) < 3 or inside(ring, board.camera.to_m(x, y)) else "outside"


def paint_scale(board: Board, drawing: PlanDrawing, told: Sequence[str], *, room: float) -> None:
    """The scale bar, and what is told of the place under the pointer, bottom left."""
    paint_scale_bar(
        board, told, halo=_ground(board, drawing, _MARGIN + 60, board.camera.height - 18.0), room=room
    )


def paint_scale_bar(board: Board, told: Sequence[str], *, halo: str, room: float) -> None:
    """The scale bar bottom left on a ground of the role ``halo``, and behind it what is told, in two rows as far as there is room."""
    camera, painter = board.camera, board.painter
    half = scale_bar(1 / camera.px_per_m)
    step = half * camera.px_per_m
    x, y = _MARGIN, camera.height - 18.0
    for place, length in enumerate((0.0, half, 2 * half)):
        text = f"{length:g}" + (" m" if place == 2 else "")
        align: Align = "left" if place == 0 else "middle"
        board.text(QPointF(x + place * step, y - 7), text, align=align, halo=halo)
    painter.setPen(board.pen("ink", 1.2))
    painter.setBrush(board.theme.color("ink"))
    painter.drawRect(QRectF(x, y - 2, step, 5))
    painter.setBrush(board.theme.color("view"))
    painter.drawRect(QRectF(x + step, y - 2, step, 5))
    left = at = x + 2 * step + 28
    base = y + 4
    for part in told:
        if at + board.width(part) > room and base > y:
            left, at, base = left + 16, left + 16, y - 12  # what finds no room goes on in a row above
        if at + board.width(part) > room:
            break
        at = board.text(QPointF(at, base), part, halo=halo).right() + 14


def paint_tint_scale(board: Board, drawing: PlanDrawing) -> None:
    """The scale of the mirrors' tint, bottom right."""
    camera, painter = board.camera, board.painter
    width, x1, y = _TINT_PX, camera.width - _MARGIN, camera.height - 20.0
    x0 = x1 - width
    halo = _ground(board, drawing, x0, y)
    shading = QLinearGradient(x0, 0, x1, 0)
    for stop in np.linspace(0.0, 1.0, 9):
        r, g, b = (int(part) for part in board.theme.shade(float(stop)))
        shading.setColorAt(float(stop), QColor(r, g, b))
    painter.setPen(board.pen("rim", 1.0))
    painter.setBrush(shading)
    painter.drawRect(QRectF(x0, y, width, 7))
    most = 100 * MOST_SHADE
    for share, text in ((0.0, "0"), (0.5, f"{most / 2:g}"), (1.0, f"{most:g} %")):
        align: Align = "left" if share == 0 else ("right" if share == 1 else "middle")
        board.text(QPointF(x0 + share * width, y - 5), text, align=align, halo=halo)
    board.text(QPointF(x0 - 10, y + 7), _("mirror in shade"), align="right", halo=halo)


def paint_compass(board: Board, drawing: PlanDrawing) -> None:
    """North, and the dial that shows where the sun stands: the middle is overhead, the rim the horizon."""
    painter = board.painter
    right, top = board.camera.width - 36.0, 26.0
    halo = _ground(board, drawing, right, top + 20)
    arrow = QPolygonF([QPointF(right, top), QPointF(right + 7, top + 30), QPointF(right, top + 23)])
    other = QPolygonF([QPointF(right, top), QPointF(right - 7, top + 30), QPointF(right, top + 23)])
    painter.setPen(board.pen("ink", 1.4))
    painter.setBrush(board.theme.color("ink"))
    painter.drawPolygon(arrow)
    painter.setBrush(board.theme.color("view"))
    painter.drawPolygon(other)
    board.text(QPointF(right, top + 46), _("N"), align="middle", role="ink", weight=600, size=12, halo=halo)
    _dial(board, drawing.sun, QPointF(right - 64, top + 20), halo)


def _dial(board: Board, sun: Sun, middle: QPointF, halo: str) -> None:
    radius = 22.0
    board.dot(middle, radius, rim="line", width=1.2)
    if not sun.shines:
        board.text(middle + QPointF(0, radius + 17), _("sun is down"), align="middle", halo=halo, role="ink2")
        return
    reach = radius * (1 - max(sun.elevation_deg, 0.0) / 90.0)
    azimuth = radians(sun.azimuth_deg)
    spot = middle + QPointF(sin(azimuth) * reach, -cos(azimuth) * reach)
    path = QPainterPath(middle)
    path.lineTo(spot)
    board.stroke(path, board.pen("accent", 1.5))
    board.dot(spot, 5.0, fill="accent", rim="")
    painter = board.painter
    painter.setPen(Qt.PenStyle.NoPen)
    text = _("{angle}° up").format(angle=number(sun.elevation_deg, digits=0))
    board.text(middle + QPointF(0, radius + 17), text, align="middle", halo=halo, role="ink2")
