"""Painting contours, each with its height."""

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF

from studio.design.site import Ground
from studio.desk.plan.board import Board, path_of
from studio.drawings.plan import Bounds, Contour, contours
from studio.text import number

Array = NDArray[np.float64]


def paint_contours(board: Board, boundary: Array, ground: Ground) -> None:
    """Lines of equal height: of a slope over all the land in sight, of measured land within the plot's bounds."""
    within = _bounds(boundary) if len(boundary) >= 3 and ground.heights is not None else None
    found = contours(ground, board.camera.bounds, within)
    if not found:
        return
    board.painter.save()
    if within is not None:
        (left, foot), (right, top) = board.px(np.array(within).reshape(2, 2))
        board.painter.setClipRect(QRectF(left, top, right - left, foot - top))
    pen = board.pen("line", 0.8)
    for contour in found:
        board.stroke(path_of(board.px(contour.pieces)), pen)
    board.painter.restore()
    digits = 2 if len(found) > 1 and found[1].height_m - found[0].height_m < 0.099 else 1
    for contour in found:
        _height(board, contour, within, digits)


def _bounds(boundary: Array) -> Bounds:
    (x0, y0), (x1, y1) = boundary.min(axis=0), boundary.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


def _height(board: Board, contour: Contour, within: Bounds | None, digits: int) -> None:
    """A contour's height, where it leaves the canvas or the plot on the right or at the foot."""
    pieces = board.px(contour.pieces)
    right, foot = board.camera.width - 150.0, board.camera.height - 120.0
    if within is not None:
        (_left, plot_foot), (plot_right, _top) = board.px(np.array(within).reshape(2, 2))
        right, foot = min(right, float(plot_right) - 30.0), min(foot, float(plot_foot) - 12.0)
    start, run = pieces[:, 0], pieces[:, 1] - pieces[:, 0]
    for axis, edge in ((0, right), (1, foot)):
        with np.errstate(divide="ignore", invalid="ignore"):
            share = (edge - start[:, axis]) / run[:, axis]
        for piece in np.flatnonzero((share >= 0) & (share <= 1)):
            x, y = start[piece] + run[piece] * share[piece]
            if 90 < y < foot + 1 and 60 < x < right + 1:
                text = number(contour.height_m, digits=digits)
                board.text(QPointF(x, y + 4), text, align="middle", role="ink3", halo="outside")
                return
