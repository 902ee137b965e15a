"""Intercept and optical efficiency through the day, four dates; the accent one is the moment's."""

from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QMouseEvent, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from studio.design.fields import mark
from studio.desk.calendar_view import clock, day_and_month
from studio.desk.mirror.model import MirrorModel
from studio.desk.mirror.panel import PAD, Array, Panel
from studio.desk.painted import draw_text
from studio.desk.session import Session
from studio.desk.state import Moment
from studio.desk.theme import Theme
from studio.study.mirror_day import DayCurve
from studio.text import DASH, _, number, percent

_DASHES: tuple[tuple[str, tuple[float, ...]], ...] = (
    ("accent", ()), ("ink", ()), ("better", (5.0, 2.5)), ("note", (1.5, 2.5)),
)  # fmt: skip
"""Role and dashes (in widths of the line) of each curve; never colour alone."""
_ROW, _HEAD_ROW = 17.0, 16.0
_STEP_H = 1 / 6
_LOW_PX, _LOW_SHARE = 235, 0.55
_AXIS_LEFT, _AXIS_FOOT, _GAP = 40.0, 20.0, 14.0


@dataclass(frozen=True)
class Plot:
    """One of the two plots: its box, what it shows, and the value at its top."""

    box: QRectF
    key: str
    title: str
    top: float

    def at(self, hours: tuple[float, float], clock_h: float, value: float) -> QPointF:
        """Where a value of an hour stands."""
        across = (clock_h - hours[0]) / (hours[1] - hours[0])
        return QPointF(
            self.box.left() + across * self.box.width(),
            self.box.bottom() - value / self.top * self.box.height(),
        )


class DayPanel(Panel):
    """Two plots over the same hours, and a table of the dates."""

    title = mark("Through the day")
    shows = frozenset({"now", "day"})

    def __init__(
        self, model: MirrorModel, theme: Theme, session: Session, parent: QWidget | None = None
    ) -> None:
        super().__init__(model, theme, parent)
        self._session = session

    @property
    def stale(self) -> bool:
        return self.model.is_stale("day")

    def about(self) -> str:
        return _("without shade; drag the hour") if self.width() > 340 else ""

    def told(self) -> str:
        day = self.model.day
        if day is None:
            return _("being worked out")
        return "; ".join(
            _("{date}: intercept {now} % now, {hours} h of one half and more").format(
                date=day_and_month(curve.day_of_year),
                now=percent(curve.at(curve.intercept, self.model.clock_h), digits=0),
                hours=number(curve.hours_above(0.5), digits=1),
            )
            for curve in day.curves
        )

    # geometry --------------------------------------------------------------------------------------------------

    @property
    def _low(self) -> bool:
        """Whether there is room for one plot only, with the table beside it."""
        return self.height() < _LOW_PX

    def plots(self) -> tuple[Plot, ...]:
        """Intercept, and where there is room efficiency on its right."""
        box, left = self.body(), PAD + _AXIS_LEFT - 12
        if self._low:
            wide = box.width() * _LOW_SHARE - left
            high = box.height() - 16 - _AXIS_FOOT - 4
            return (Plot(QRectF(left, box.top() + 16, wide, high), "intercept", _("intercept"), 1.0),)
        high = box.height() - (_HEAD_ROW + 4 * _ROW + 6) - _AXIS_FOOT - 16
        wide = (box.width() - 2 * PAD - 2 * _AXIS_LEFT - _GAP + 24) / 2
        second = left + wide + _GAP + _AXIS_LEFT - 12
        return (
            Plot(QRectF(left, box.top() + 16, wide, high), "intercept", _("intercept"), 1.0),
            Plot(QRectF(second, box.top() + 16, wide, high), "efficiency", _("optical efficiency"), 1.0),
        )

    def hours(self) -> tuple[float, float]:
        """The whole hours that hold all curves."""
        day = self.model.day
        lit = [curve.clock_h[np.isfinite(curve.intercept)] for curve in day.curves] if day else []
        found = np.concatenate(lit) if lit else np.array([])
        if not len(found):
            return 6.0, 18.0
        return float(np.floor(found.min())), float(np.ceil(found.max()))

    # paint -----------------------------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        theme, day, hours = self.theme, self.model.day, self.hours()
        for plot in self.plots():
            self._paint_axes(painter, plot, hours)
            if day is None:
                draw_text(
                    painter, plot.box, _("being worked out"), theme.font(12), theme.color("ink3"), "middle"
                )
                continue
            for place in (3, 2, 1, 0):
                curve = day.curves[place]
                values = curve.intercept if plot.key == "intercept" else curve.efficiency
                self._paint_curve(painter, plot, hours, curve.clock_h, values, place)
            self._paint_moment(painter, plot, hours, day.curves[0])
        if day is not None:
            self._paint_table(painter, box, day.curves)

    def _pen(self, place: int) -> QPen:
        role, dashes = _DASHES[place]
        pen = QPen(self.theme.color("ink3" if self.stale else role), 2.2 if place == 0 else 1.5)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        if dashes:
            pen.setDashPattern(list(dashes))
        return pen

    def _paint_axes(self, painter: QPainter, plot: Plot, hours: tuple[float, float]) -> None:
        theme, box = self.theme, plot.box
        font, ink = theme.font(11), theme.color("ink2")
        for share in (0.0, 0.25, 0.5, 0.75, 1.0):
            y = box.bottom() - share * box.height()
            painter.setPen(QPen(theme.color("line" if share in (0.0, 0.5) else "hair"), 1))
            painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
            if box.height() > 90 or share in (0.0, 0.5, 1.0):
                words = percent(share, digits=0)
                draw_text(painter, QRectF(box.left() - 34, y - 8, 29, 16), words, font, ink, "right")
        draw_text(painter, QRectF(box.left(), box.top() - 17, box.width(), 15), f"{plot.title}, %", font, ink)
        every = next(
            step for step in (2, 3, 4, 6) if (hours[1] - hours[0]) / step * 34 <= box.width() or step == 6
        )
        for hour in range(int(np.ceil(hours[0] / every) * every), int(hours[1]) + 1, every):
            x = plot.at(hours, hour, 0.0).x()
            draw_text(painter, QRectF(x - 20, box.bottom() + 3, 40, 15), f"{hour:02d} h", font, ink, "middle")

    def _paint_curve(
        self,
        painter: QPainter,
        plot: Plot,
        hours: tuple[float, float],
        clock_h: Array,
        values: Array,
        place: int,
    ) -> None:
        lit = np.flatnonzero(np.isfinite(values))
        if not len(lit):
            return
        points = [plot.at(hours, float(clock_h[i]), float(values[i])) for i in lit]
        painter.setPen(self._pen(place))
        painter.drawPolyline(QPolygonF(points))

    def _paint_moment(
        self, painter: QPainter, plot: Plot, hours: tuple[float, float], curve: DayCurve
    ) -> None:
        theme, now = self.theme, self.model.clock_h
        if not hours[0] <= now <= hours[1]:
            return
        x = plot.at(hours, now, 0.0).x()
        for width, role in ((3.0, "view"), (1.0, "accent")):
            painter.setPen(QPen(theme.color(role), width))
            painter.drawLine(QPointF(x, plot.box.top()), QPointF(x, plot.box.bottom()))
        value = curve.at(curve.intercept if plot.key == "intercept" else curve.efficiency, now)
        if np.isfinite(value):
            painter.setBrush(theme.color("view"))
            painter.setPen(QPen(theme.color("accent"), 2))
            painter.drawEllipse(plot.at(hours, now, value), 4.5, 4.5)

    def _paint_table(self, painter: QPainter, box: QRectF, curves: tuple[DayCurve, ...]) -> None:
        """Date by date: intercept and efficiency at the moment's hour, and for how long a half is taken in."""
        theme, now = self.theme, self.model.clock_h
        left = box.width() * _LOW_SHARE + 12 if self._low else float(PAD)
        top = box.top() + 8 if self._low else box.bottom() - 4 * _ROW - _HEAD_ROW - 4
        font, ink2 = theme.font(11), theme.color("ink2")
        columns = self._columns(now)[: 1 if self._low else 3]
        right = min(box.right() - PAD, left + 430.0)
        edges: list[float] = []
        for words, _cell in reversed(columns):
            edges.insert(0, right)
            right -= max(font.wide(words), 40.0) + 14
        for edge, (words, _cell) in zip(edges, columns, strict=True):
            draw_text(painter, QRectF(edge - 100, top, 100, _HEAD_ROW), words, font, ink2, "right")
        for place, curve in enumerate(curves):
            y = top + _HEAD_ROW + place * _ROW
            painter.setPen(self._pen(place))
            painter.drawLine(QPointF(left, y + _ROW / 2), QPointF(left + 20, y + _ROW / 2))
            strong = place == 0 and not self.stale
            row, ink = theme.font(12, 600 if strong else 400), theme.color("ink3" if self.stale else "ink")
            room = QRectF(left + 26, y, edges[0] - 40 - left - 26, _ROW)
            date = day_and_month(curve.day_of_year)
            if row.wide(date) > room.width():
                date = day_and_month(curve.day_of_year, short=True)
            draw_text(painter, room, date, row, ink)
            for edge, (_words, cell) in zip(edges, columns, strict=True):
                draw_text(painter, QRectF(edge - 80, y, 80, _ROW), cell(curve), row, ink, "right")

    @staticmethod
    def _columns(now: float) -> tuple[tuple[str, Callable[[DayCurve], str]], ...]:
        """Heads of the table's columns and what stands in them."""
        return (
            (
                _("at {time}").format(time=clock(now)),
                lambda c: _cell(c.at(c.intercept, now)),
            ),
            (_("efficiency"), lambda c: _cell(c.at(c.efficiency, now))),
            (_("50 % and more"), lambda c: number(c.hours_above(0.5), digits=1) + " h"),
        )

    # the hand --------------------------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._pick(event)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        self._pick(event)

    def _pick(self, event: QMouseEvent) -> None:
        """Take the hour under the hand as the moment's."""
        if not event.buttons() & Qt.MouseButton.LeftButton:
            return
        spot = event.position()
        for plot in self.plots():
            if plot.box.adjusted(-8, -8, 8, 8).contains(spot):
                hours = self.hours()
                share = (spot.x() - plot.box.left()) / plot.box.width()
                hour = hours[0] + min(max(share, 0.0), 1.0) * (hours[1] - hours[0])
                rounded = round(round(hour / _STEP_H) * _STEP_H, 4)
                self._session.set_moment(Moment(self.model.day_of_year, rounded))


def _cell(share: float) -> str:
    """A share in the table; a dash where there is no sun."""
    return percent(share, digits=0) + " %" if isfinite(share) else DASH
