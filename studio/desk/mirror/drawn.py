"""What side and long section draw alike: rays, receivers, lengths between ticks."""

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QLineF, QPointF, QRectF
from PySide6.QtGui import QColor

from studio.desk.plan.board import Align, Board, path_of
from studio.drawings.mirror import Receiver
from studio.drawings.mirror_light import DrawnRay

Array = NDArray[np.float64]
_HALF_TEXT = 8.0
ABOUT_DEG = 3.0
"""Within it a drawing's end looks the way of a wind: a mirror on sloping ground stands a little askew."""


def paint_rays(board: Board, rays: tuple[DrawnRay, ...]) -> None:
    """Rays that reach the window whole, those that miss it dashed, those that gear takes ending there."""
    for reaches in (False, True):
        pen = board.pen("ink3", 1.0 if reaches else 0.8, () if reaches else (4.0, 3.0))
        pen.setColor(ray_color(board, reaches=reaches))
        board.painter.setPen(pen)
        for ray in rays:
            if ray.reaches is reaches:
                parts = [ray.inward] if ray.onward is None else [ray.inward, ray.onward]
                board.painter.drawLines([QLineF(board.at(part[0]), board.at(part[1])) for part in parts])


def ray_color(board: Board, *, reaches: bool) -> QColor:
    """Warm for what reaches the window, faint for what misses it."""
    if reaches:
        return board.theme.heat_color(0.5)
    faint = board.theme.color("ink3")
    faint.setAlphaF(0.6)
    return faint


def paint_receiver(board: Board, receiver: Receiver, *, own: bool) -> None:
    """The box, and the edge that light goes in by."""
    box = path_of(board.px(receiver.box), closed=True)
    board.fill(box, board.theme.color("panel"))
    board.stroke(box, board.pen("ink2" if own else "edge", 1.2))
    board.stroke(
        path_of(board.px(receiver.window)), board.pen("accent" if own else "edge", 3.6 if own else 2.0)
    )


def paint_pipe_end(board: Board, at: Array, radius_m: float, insulated_m: float) -> None:
    """The pipe cut across at true size, in its insulation."""
    middle, scale = board.at(at), board.camera.px_per_m
    board.dot(middle, max(insulated_m * scale, 3.0), fill="panel", rim="ink2", width=1.1)
    board.dot(middle, max(radius_m * scale, 1.4), fill="ink2", rim="ink", width=0.8)


def paint_length(board: Board, a: QPointF, b: QPointF, text: str) -> None:
    """A dimension line with its figure in its break; beside it where it is too short."""
    pen = board.pen("ink2", 1.0)
    wide, middle = board.width(text, 11, 500), (a + b) / 2
    upright = abs(a.x() - b.x()) < abs(a.y() - b.y())
    long = abs(a.y() - b.y()) if upright else abs(a.x() - b.x())
    if upright:
        board.ticked(a, b, pen, gap=_around(middle, 14.0, wide + 10) if long > wide + 30 else None)
        if long > wide + 30:
            board.text(middle + QPointF(4, 0), text, weight=500, role="ink", align="middle", turn_deg=-90.0)
        else:
            board.text(middle + QPointF(8, 4), text, weight=500, role="ink")
        return
    fits = long > wide + 30
    board.ticked(a, b, pen, gap=_around(middle, wide + 10, 14.0) if fits else None)
    board.text(middle + QPointF(0, 4 if fits else 17), text, weight=500, role="ink", align="middle")


def paint_along(board: Board, a: QPointF, b: QPointF, text: str) -> None:
    """A figure beside the middle of a slanted part, on its right."""
    middle = a * 0.45 + b * 0.55
    align: Align = "left"
    board.text(middle + QPointF(8, 4), text, weight=500, role="ink", align=align)


def _around(middle: QPointF, wide: float, high: float) -> QRectF:
    return QRectF(middle.x() - wide / 2, middle.y() - high / 2, wide, high)
