"""The field's yearly heat over the values of one field: each rib, each centimetre of window, more or less."""

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from studio.desk.axes import digits_of, round_limits
from studio.desk.mirror.model import RIBS, MirrorModel
from studio.desk.mirror.panel import PAD, Array, Panel
from studio.desk.painted import draw_text
from studio.desk.theme import Theme
from studio.study.curves import Curve
from studio.text import _, number

_LEFT, _RIGHT, _TOP, _FOOT = 44.0, 16.0, 26.0, 22.0
_KWH_PER_SHOWN = 1000.0


class CurvePanel(Panel):
    """Heat against ribs, or against the window's width."""

    shows = frozenset({"design", "curve"})

    def __init__(
        self, model: MirrorModel, theme: Theme, path: str, title: str, parent: QWidget | None = None
    ) -> None:
        self.path, self.title = path, title
        super().__init__(model, theme, parent)

    @property
    def stale(self) -> bool:
        return self.model.is_stale(f"curve:{self.path}")

    @property
    def _per(self) -> float:
        """What a value is multiplied with to be shown: ribs as they are, metres as centimetres."""
        return 1.0 if self.path == RIBS else 100.0

    def about(self) -> str:
        return _("field heat, MWh") if self.width() < 270 else _("field heat, MWh a year")

    def next_step(self, curve: Curve) -> str:
        """What one step more brings, in words."""
        if curve.more is None:
            return ""
        brings = number(curve.more.heat_kwh / _KWH_PER_SHOWN, figures=2, sign=True)
        words = _("next rib {mwh} MWh") if self.path == RIBS else _("next cm {mwh} MWh")
        return words.format(mwh=brings)

    def told(self) -> str:
        curve = self.model.curve(self.path)
        return self._empty() if curve is None else self.next_step(curve)

    def _empty(self) -> str:
        if self.model.has_curve(self.path):
            return _("being worked out")
        return _("no line yet") if not self.model.design.lines else _("ribs stand at given places")

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        theme, curve = self.theme, self.model.curve(self.path)
        plot = box.adjusted(_LEFT, _TOP, -_RIGHT, -_FOOT)
        known = [] if curve is None else [
            (value, heat / _KWH_PER_SHOWN)
            for value, heat in zip(curve.values, curve.annual_heat_kwh, strict=True)
            if heat is not None
        ]  # fmt: skip
        if curve is None or len(known) < 2 or not self.model.has_curve(self.path):
            draw_text(painter, plot, self._empty(), theme.font(12), theme.color("ink3"), "middle")
            return
        values, heats = (np.array(column) for column in zip(*known, strict=True))
        low, high, step = round_limits(
            float(heats.min()), float(heats.max()), lines=max(1, int(plot.height() // 22))
        )
        span = float(values.max() - values.min())

        def at(value: float, heat: float) -> QPointF:
            across, up = (value - values.min()) / span, (heat - low) / (high - low)
            return QPointF(plot.left() + across * plot.width(), plot.bottom() - up * plot.height())

        font, ink2 = theme.font(11), theme.color("ink2")
        for heat in np.arange(low, high + step / 2, step):
            y = at(float(values[0]), float(heat)).y()
            painter.setPen(QPen(theme.color("hair"), 1))
            painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
            words = number(float(heat), digits=digits_of(step))
            draw_text(painter, QRectF(plot.left() - 42, y - 8, 37, 16), words, font, ink2, "right")
        self._paint_values(painter, plot, values)
        line = theme.color("ink3" if self.stale else "ink2")
        painter.setPen(QPen(line, 1.6))
        points = [at(float(value), float(heat)) for value, heat in zip(values, heats, strict=True)]
        painter.drawPolyline(QPolygonF(points))
        painter.setBrush(theme.color("view"))
        for value, point in zip(values, points, strict=True):
            here = abs(value - curve.here) < 1e-9
            painter.setPen(QPen(theme.color("accent") if here else line, 1.4))
            painter.setBrush(theme.color("accent" if here and not self.stale else "view"))
            painter.drawEllipse(point, 5.0 if here else 2.8, 5.0 if here else 2.8)
        words = self.next_step(curve)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        top = QRectF(PAD, box.top() + 2, box.width() - 2 * PAD, 16)
        weight = 400 if self.stale else 600
        draw_text(painter, top, words, theme.font(12, weight), theme.color("ink3" if self.stale else "ink"))

    def _paint_values(self, painter: QPainter, plot: QRectF, values: Array) -> None:
        theme, last = self.theme, -np.inf
        span = float(values.max() - values.min())
        for value in values:
            x = plot.left() + (float(value) - float(values.min())) / span * plot.width()
            if x - last > 26:
                words = number(float(value) * self._per, digits=0)
                box = QRectF(x - 20, plot.bottom() + 4, 40, 15)
                draw_text(painter, box, words, theme.font(11), theme.color("ink2"), "middle")
                last = x
