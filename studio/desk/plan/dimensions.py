"""Dimensions that are figures being edited: a length in the break of its line, an azimuth at the fixed end."""

from math import atan2, cos, degrees, hypot, radians, sin

import numpy as np
from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QPainterPath, QPolygonF

from studio.desk.plan.board import Board
from studio.desk.plan.inline import Figure, Figures, figure_box, paint_figure

Boxes = dict[str, QRectF]
_TOP_PX = 44.0
"""No figure stands higher: there are the hints."""


def paint_segment(
    board: Board,
    start: QPointF,
    end: QPointF,
    figures: Figures,
    *,
    away: float = 26.0,
    extra: tuple[str, ...] = (),
) -> Boxes:
    """A segment's length on a line beside it and its azimuth at its start; where the figures stand, by key.

    ``away`` pixels to the upper side of the segment. ``extra`` figures stand behind the length.
    """
    boxes: Boxes = {}
    run = QPointF(end - start)
    length = hypot(run.x(), run.y())
    if length < 1.0:
        return boxes
    way = run / length
    side = QPointF(way.y(), -way.x())
    if side.y() > 1e-6:
        side = -side
    # an upright segment keeps clear of its own figures, which are wider than high
    lift = side * (away + 20.0 * abs(way.y()))
    if min((start + lift).y(), (end + lift).y()) < _TOP_PX:
        side, lift = -side, -lift  # above it would leave the plan
    a, b = start + lift, end + lift
    pen = board.pen("accent", 1.3)
    for foot, head in ((start, a), (end, b)):
        path = QPainterPath(foot + side * 4)
        path.lineTo(head + side * 5)
        board.stroke(path, board.pen("accent", 1.0))
    has_angle = figures.has("azimuth")
    room = 70.0 if has_angle else 0.0
    middle = a + way * (length / 2 + (room / 2 if length > 190 else 0.0))
    keys = ["length", *extra]
    spots = [middle] if length > 120 else [a + way * (length / 2) + side * 16]
    gap = figure_box(board, spots[0], figures["length"]).adjusted(-5, -3, 5, 3) if length > 120 else None
    board.ticked(a, b, pen, gap=gap)
    boxes["length"] = paint_figure(board, spots[0], figures["length"], active=figures.now.key == "length")
    at = boxes["length"]
    for key in keys[1:]:
        figure = figures[key]
        spot = QPointF(at.right() + 8 + figure_box(board, at.center(), figure).width() / 2, at.center().y())
        boxes[key] = paint_figure(board, spot, figure, active=figures.now.key == key)
        at = boxes[key]
    if has_angle:
        boxes["azimuth"] = _azimuth(board, a, way, length, figures["azimuth"], active=figures.now.key == "azimuth",
                                    taken=list(boxes.values()))  # fmt: skip
    return boxes


def _azimuth(
    board: Board,
    at: QPointF,
    way: QPointF,
    length: float,
    figure: Figure,
    *,
    active: bool,
    taken: list[QRectF],
) -> QRectF:
    """North from the fixed end, the arc to the segment, and the azimuth's figure."""
    radius = min(30.0, max(14.0, length * 0.4))
    path = QPainterPath(at)
    path.lineTo(at + QPointF(0, -radius - 8))
    board.stroke(path, board.pen("accent", 1.0, (4, 3)))
    turn = degrees(atan2(way.x(), -way.y())) % 360.0
    steps = np.radians(np.linspace(0.0, turn, 24))
    arc = QPainterPath(at + QPointF(0, -radius))
    for angle in steps[1:]:
        arc.lineTo(at + QPointF(sin(angle) * radius, -cos(angle) * radius))
    board.stroke(arc, board.pen("accent", 1.3))
    tip = at + QPointF(sin(radians(turn)), -cos(radians(turn))) * radius
    tangent = QPointF(cos(radians(turn)), sin(radians(turn)))
    inward = QPointF(-tangent.y(), tangent.x())
    painter = board.painter
    painter.setBrush(board.theme.color("accent"))
    painter.setPen(board.pen("accent", 0.8))
    painter.drawPolygon(QPolygonF([tip, tip - tangent * 7 + inward * 3, tip - tangent * 7 - inward * 3]))
    own = figure_box(board, at, figure)
    for spot in (
        at + way * min(72.0, length * 0.3), at + QPointF(-own.width() / 2 - 12, -radius - 4),
        at + QPointF(0, -radius - 24), at + QPointF(own.width() / 2 + 40, -radius - 16),
        at + QPointF(-own.width() / 2 - 12, radius + 16), at + QPointF(own.width() / 2 + 12, radius + 16),
    ):  # fmt: skip
        box = figure_box(board, spot, figure)
        if box.top() > _TOP_PX and not any(box.adjusted(-4, -2, 4, 2).intersects(other) for other in taken):
            return paint_figure(board, spot, figure, active=active)
    return paint_figure(board, at + QPointF(0, -radius - 44), figure, active=active)


def paint_gap(board: Board, a: QPointF, b: QPointF, figure: Figure, *, active: bool) -> QRectF:
    """A distance between two lines: a ticked line broken for its figure, or beside it where it is narrow."""
    length = hypot(b.x() - a.x(), b.y() - a.y())
    middle = (a + b) / 2
    size = figure_box(board, middle, figure)
    upright = abs(b.y() - a.y()) > abs(b.x() - a.x())
    fits = length > (size.height() if upright else size.width()) + 22
    if not fits:
        middle = middle + QPointF(size.width() / 2 + 10, 0) if upright else middle - QPointF(0, 22)
        if middle.x() + size.width() / 2 > board.camera.width - 4:
            middle -= QPointF(size.width() + 20, 0)
    gap = figure_box(board, middle, figure).adjusted(-4, -4, 4, 4) if fits else None
    board.ticked(a, b, board.pen("accent", 1.3), gap=gap)
    return paint_figure(board, middle, figure, active=active)
