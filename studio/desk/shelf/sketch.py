"""A mirror in a few strokes at true proportions: its curve from the side with window and axis up to the focus, its ribs from the front."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from studio.design.design import Shelved
from studio.desk.theme import Theme
from studio.engine.mirror.form import rib_depth
from studio.study.place import form_of

Array = NDArray[np.float64]
_CURVE = 33
_GAP = 12.0
_LEAST_HEIGHT_M = 0.1


@dataclass(frozen=True, eq=False)
class Sketch:
    """From the side, in metres: ``film`` (n, 2) of the middle rib as (up the slope, over the vertex), ``window`` (2, 2) with

    the receiver in the middle of its roll, ``focus`` (2,). From the front: ``ribs_x_m`` (R,), width and height.
    """

    film: Array
    window: Array
    focus: Array
    ribs_x_m: Array
    width_m: float
    height_m: float

    @property
    def top_m(self) -> float:
        """The highest point over the vertex."""
        return float(max(self.focus[1], self.window[:, 1].max(), self.film[:, 1].max()))


@lru_cache(maxsize=128)
def sketch_of(shelved: Shelved) -> Sketch:
    """The strokes of a mirror with its receiver at roll 0."""
    form, motion = form_of(shelved.mirror), shelved.motion
    y = np.linspace(-form.height_m / 2, form.height_m / 2, _CURVE)
    lean = np.radians(motion.arm_lean_deg)
    turn = lean + np.radians(motion.window_turn_deg)
    axis = np.array([motion.axis_aside_m, motion.axis_up_m])
    middle = axis + motion.arm_m * np.array([-np.sin(lean), np.cos(lean)])
    half = shelved.receiver.window_height_m / 2 * np.array([np.cos(turn), np.sin(turn)])
    return Sketch(
        film=np.column_stack([y, rib_depth(form, 0.0, y)]),
        window=np.array([middle - half, middle + half]),
        focus=np.array([0.0, form.focal_m]),
        ribs_x_m=np.asarray(form.rib_x_m),
        width_m=form.width_m,
        height_m=form.height_m,
    )


def common_scale(sketches: Iterable[Sketch], box: QRectF) -> float:
    """Pixels per metre at which each of them fits into a box of this size, so that sizes can be compared by eye."""
    all_of = list(sketches)
    wide = max((one.height_m + one.width_m for one in all_of), default=1.0)
    high = max((max(one.top_m, one.height_m, _LEAST_HEIGHT_M) for one in all_of), default=1.0)
    return min((box.width() - _GAP) / wide, (box.height() - 8.0) / high)


def paint_sketch(
    painter: QPainter, box: QRectF, sketch: Sketch, px_per_m: float, theme: Theme, *, ink: QColor
) -> None:
    """Side view at the left, front view at the right, both standing on the box's foot."""
    foot = box.bottom() - 3.0
    middle = box.left() + sketch.height_m / 2 * px_per_m + 1.0

    def at(point: Array) -> QPointF:
        return QPointF(middle + float(point[0]) * px_per_m, foot - float(point[1]) * px_per_m)

    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(theme.color("line"), 1.0, Qt.PenStyle.DashLine))
    painter.drawLine(at(sketch.film[_CURVE // 2]), at(sketch.focus))
    painter.setPen(QPen(ink, 2.4, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap))
    painter.drawLine(at(sketch.window[0]), at(sketch.window[1]))
    painter.setPen(QPen(ink, 2.0, Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin))
    painter.drawPolyline(QPolygonF([at(point) for point in sketch.film]))
    left = box.left() + sketch.height_m * px_per_m + _GAP
    front = QRectF(
        left, foot - sketch.height_m * px_per_m, sketch.width_m * px_per_m, sketch.height_m * px_per_m
    )
    painter.setPen(QPen(ink, 0.8))
    for x in sketch.ribs_x_m:
        across = front.center().x() + float(x) * px_per_m
        painter.drawLine(QPointF(across, front.top()), QPointF(across, front.bottom()))
