"""Painting what stands on the land: walls and sheds, fences, trees, poles, each with its name and height."""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF

from studio.desk.plan.board import Board, path_of
from studio.desk.state import Subject
from studio.drawings.plan import PlanDrawing
from studio.text import _, number

_LEAST_PX = 4.0
"""A thinner one is drawn as a dot of this radius, so that a hand finds it."""
_STROKE_PX = 12.0
"""Between the strokes across a fence."""


def paint_obstacles(board: Board, drawing: PlanDrawing, chosen: frozenset[Subject]) -> None:
    """Outlines, closely hatched where solid; a crown is ringed twice about its trunk."""
    for place, one in enumerate(drawing.obstacles):
        role = "accent" if Subject("obstacle", place) in chosen else "ink2"
        pen = board.pen(role, 2.0 if role == "accent" else 1.5)
        if not one.closed:
            _paint_fence(board, one.ring, role)
            continue
        at = board.at(one.middle)
        path = path_of(board.px(one.ring), closed=True)
        if max(path.boundingRect().width(), path.boundingRect().height()) < 2 * _LEAST_PX:
            board.dot(at, _LEAST_PX, fill="view", rim=role, width=1.6)
            board.dot(at, 1.2, fill=role, rim=role, width=1.0)
            continue
        if one.kind == "tree":
            inner = one.middle + 0.72 * (one.ring - one.middle)
            board.polyline(inner, board.pen("line", 1.0, (3, 3)), closed=True)
            board.dot(at, 2.2, fill=role, rim=role, width=1.0)
        else:
            board.fill(path, board.theme.color("view"))
            board.hatch(path, board.pen("ink3", 1.0), step=4.0)
        board.stroke(path, pen)


def _paint_fence(board: Board, path: NDArray[np.float64], role: str) -> None:
    """A line with short strokes across it, as far apart on screen at any zoom."""
    board.polyline(path, board.pen(role, 2.0 if role == "accent" else 1.5))
    for start, end in pairwise(board.px(path)):
        along = end - start
        length = float(np.hypot(*along))
        if length < _STROKE_PX:
            continue
        side = np.array([-along[1], along[0]]) / length * 3.0
        for at in np.arange(_STROKE_PX / 2, length, _STROKE_PX):
            middle = start + along * at / length
            ends = np.stack([middle - side, middle + side])
            board.stroke(path_of(ends), board.pen(role, 1.2))


def paint_obstacle_names(board: Board, drawing: PlanDrawing, chosen: frozenset[Subject]) -> None:
    """Name and height below each."""
    for place, one in enumerate(drawing.obstacles):
        role = "accent" if Subject("obstacle", place) in chosen else "ink2"
        box = path_of(board.px(one.ring), closed=True).boundingRect()
        at = QPointF(box.center().x(), max(box.bottom(), box.center().y() + _LEAST_PX) + 14)
        text = _("{name}, {height} m").format(name=one.name, height=number(one.height_m, digits=1))
        board.text(at, text, align="middle", role=role)
