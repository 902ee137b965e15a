"""Painting contours, each with its height."""

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF

from studio.design.site import Ground
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.camera import Camera
from studio.drawings.contours import contours, height_places
from studio.drawings.plan import Bounds
from studio.text import number

Array = NDArray[np.float64]
_ROOM_PX = 26.0
"""Between a height and the plot's edge."""


def paint_contours(board: Board, boundary: Array, ground: Ground) -> None:
    """Lines of equal height: of a slope over all the land in sight, of measured land within the plot."""
    plot = boundary if ground.heights is not None else None
    found = contours(ground, board.camera.bounds, plot)
    pen, halo = board.pen("line", 0.8), "outside" if plot is None else "view"
    for contour in found:
        board.stroke(path_of(board.px(contour.pieces)), pen)
    digits = 2 if len(found) > 1 and found[1].height_m - found[0].height_m < 0.099 else 1
    places = height_places(found, _inner(board.camera), plot, _ROOM_PX / board.camera.px_per_m)
    for contour, place in zip(found, places, strict=True):
        if place is not None:
            at, text = board.at(place), number(contour.height_m, digits=digits)
            board.text(QPointF(at.x(), at.y() + 4), text, align="middle", role="ink3", halo=halo)


def _inner(camera: Camera) -> Bounds:
    """What of the land in sight nothing else is written over: the scales stand to the right and below."""
    x0, y0, x1, y1 = camera.bounds
    m = 1.0 / camera.px_per_m
    return x0 + 60 * m, y0 + 120 * m, x1 - 150 * m, y1 - 90 * m
