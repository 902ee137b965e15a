"""Paths handed to Qt in one piece, against the same paths made by Qt's own moves and lines."""

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QPainterPath

from studio.desk.plan.board import Array, path_of


def by_calls(shapes: Array, *, closed: bool) -> QPainterPath:
    path = QPainterPath()
    for shape in shapes.tolist():
        path.moveTo(*shape[0])
        for point in shape[1:]:
            path.lineTo(*point)
        if closed:
            path.lineTo(*shape[0])
    return path


@pytest.mark.parametrize("closed", [False, True])
@pytest.mark.parametrize("shape", [(1, 2), (1, 7), (3, 4), (250, 12)])
def test_a_path_is_the_one_that_single_calls_make(shape: tuple[int, int], closed: bool) -> None:
    shapes = np.random.default_rng(7).uniform(-4000.0, 4000.0, (*shape, 2))
    path, judge = path_of(shapes, closed=closed), by_calls(shapes, closed=closed)
    assert path == judge
    assert path.fillRule() is Qt.FillRule.OddEvenFill
    assert path.boundingRect() == judge.boundingRect()


def test_one_polyline_and_none() -> None:
    line = np.array([[0.0, 1.0], [2.5, -3.0], [7.0, 8.0]])
    assert path_of(line) == path_of(line[None]) == by_calls(line[None], closed=False)
    assert path_of(np.zeros((0, 4, 2))).isEmpty()
