"""The sun calendar: a whole year, day across, time upwards, colour a quantity; the cross-hair is the moment."""

import calendar as dates
from datetime import date, timedelta

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import (
    QImage,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QPolygonF,
    QResizeEvent,
)
from PySide6.QtWidgets import QWidget

from studio.design.fields import mark
from studio.desk.calendar_picture import (
    Axes,
    at_moment,
    axes_of,
    day_profile,
    picture_of,
    scale_top,
)
from studio.desk.painted import draw_text, hatch
from studio.desk.session import Session
from studio.desk.state import Moment
from studio.desk.theme import Theme
from studio.engine.sky.calendar import DAYS_OF_MONTHS, NOMINAL_YEAR, day_of_year
from studio.study.assessment import SunCalendar
from studio.text import _, number

MARKS = (
    (day_of_year(3, 20), mark("equinox")),
    (day_of_year(6, 21), mark("solstice")),
    (day_of_year(9, 22), mark("equinox")),
    (day_of_year(12, 21), mark("solstice")),
)
_BOTTOM, _LEFT, _RIGHT, _TOP, _GAP = 22.0, 48.0, 16.0, 4.0, 12.0
_PROFILE = 0.14
_NO_HOURS = Axes(5.0, 20.0)
_STEP_H = 10.0 / 60.0


def day_and_month(day_of_year: int, *, short: bool = False) -> str:
    """'17 January' for day 17; short '17 Jan'."""
    day = date(NOMINAL_YEAR, 1, 1) + timedelta(days=day_of_year - 1)
    names = dates.month_abbr if short else dates.month_name
    return f"{day.day} {_(names[day.month])}"


def clock(hours: float) -> str:
    """'14:20' for 14.33 h, rounded to the minute."""
    minutes = round(hours * 60) % (24 * 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


class CalendarPicture(QWidget):
    """Picture, day's profile and colour scale. ``picked`` tells the moment that a hand or a key chose."""

    picked = Signal(object)

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__()
        self._session, self._theme = session, theme
        self._calendar: SunCalendar | None = None
        self._stale = False
        self._image: QImage | None = None
        self._hours = _NO_HOURS
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.CrossCursor)
        self.setAccessibleName(_("Sun calendar"))
        self.setAccessibleDescription(
            _("Arrow keys move the moment: left and right by days, up and down by ten minutes")
        )
        self.setMinimumHeight(90)

    @property
    def calendar(self) -> SunCalendar | None:
        """What is shown, None before the first one."""
        return self._calendar

    def show_calendar(self, calendar: SunCalendar | None, *, stale: bool) -> None:
        """Show a calendar; ``stale`` when it is from before the move."""
        if calendar is not self._calendar or stale != self._stale:
            self._calendar, self._stale, self._image = calendar, stale, None
            self._hours = axes_of(calendar) if calendar is not None else _NO_HOURS
            self.update()

    def repaint_picture(self) -> None:
        """Paint the picture anew: another quantity, other colours, another size."""
        self._image = None
        self.update()

    # geometry --------------------------------------------------------------------------------------------------

    def plot(self) -> QRectF:
        """Where the picture is."""
        wide = self.width() - _LEFT - _RIGHT
        return QRectF(_LEFT, _TOP, wide * (1 - _PROFILE) - _GAP, self.height() - _TOP - _BOTTOM)

    def _side(self) -> QRectF:
        plot = self.plot()
        return QRectF(plot.right() + _GAP, _TOP, self.width() - _RIGHT - plot.right() - _GAP, plot.height())

    def x_of(self, day: float) -> float:
        """Where a day of the year is, across."""
        plot = self.plot()
        return plot.left() + plot.width() * (day - 0.5) / 365.0

    def y_of(self, clock_h: float) -> float:
        """Where an hour is, down."""
        plot, axes = self.plot(), self._hours
        return plot.bottom() - plot.height() * (clock_h - axes.from_h) / (axes.to_h - axes.from_h)

    def moment_at(self, place: QPointF) -> Moment:
        """The moment under a point, held inside the picture, to the day and ten minutes."""
        plot, axes = self.plot(), self._hours
        day = round((place.x() - plot.left()) / plot.width() * 365.0 + 0.5)
        hour = axes.from_h + (plot.bottom() - place.y()) / plot.height() * (axes.to_h - axes.from_h)
        hour = min(max(hour, axes.from_h), axes.to_h)
        return Moment(min(max(day, 1), 365), round(round(hour / _STEP_H) * _STEP_H, 4))

    # the hand --------------------------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() is Qt.MouseButton.LeftButton:
            self._pick(event.position())

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if event.buttons() & Qt.MouseButton.LeftButton:
            self._pick(event.position())

    def _pick(self, place: QPointF) -> None:
        moment = self.moment_at(place)
        if place.x() > self.plot().right() + _GAP / 2:  # in the day's profile only the time moves
            moment = Moment(self._session.state.moment.day_of_year, moment.clock_h)
        self.picked.emit(moment)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        moment = self._session.state.moment
        far = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        day, hour = moment.day_of_year, moment.clock_h
        match event.key():
            case Qt.Key.Key_Left:
                day -= 7 if far else 1
            case Qt.Key.Key_Right:
                day += 7 if far else 1
            case Qt.Key.Key_Up:
                hour += 1.0 if far else _STEP_H
            case Qt.Key.Key_Down:
                hour -= 1.0 if far else _STEP_H
            case _:
                super().keyPressEvent(event)
                return
        self.picked.emit(Moment((day - 1) % 365 + 1, round(min(max(hour, 0.0), 24.0), 4)))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._image = None

    # paint -----------------------------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        plot = self.plot()
        painter.fillRect(plot, self._theme.color("window"))
        painter.fillRect(self._side(), self._theme.color("panel"))
        if self._calendar is not None:
            self._paint_picture(painter, plot, self._calendar)
            self._paint_profile(painter, self._side(), self._calendar)
        self._paint_axes(painter, plot)
        if self._stale:
            hatch(painter, plot, self._theme.color("line"), step=8.0)
            self._paint_note(painter, plot, _("before the move"))
        self._paint_moment(painter, plot)
        if self.hasFocus():
            painter.setPen(QPen(self._theme.color("accent"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(plot.adjusted(-2, -2, 2, 2), 3, 3)
        painter.end()

    def _paint_picture(self, painter: QPainter, plot: QRectF, calendar: SunCalendar) -> None:
        theme, ratio = self._theme, self.devicePixelRatioF()
        if self._image is None:
            self._image = picture_of(
                calendar, self._session.state.calendar_of, theme, self._hours,
                width=max(2, round(plot.width() * ratio)), height=max(2, round(plot.height() * ratio)), faded=self._stale,
            )  # fmt: skip
            self._image.setDevicePixelRatio(ratio)
            self._draw_edges(self._image, calendar)
        painter.drawImage(plot.topLeft(), self._image)

    def _draw_edges(self, image: QImage, calendar: SunCalendar) -> None:
        """Sunrise and sunset, into the picture."""
        plot = self.plot()
        painter = QPainter(image)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.translate(-plot.topLeft())
        painter.setPen(QPen(self._theme.color("edge"), 1))
        for edge in (calendar.sunrise_h, calendar.sunset_h):
            known = np.isfinite(edge)
            if known.any():
                days, hours = calendar.day_of_year[known], edge[known]
                line = [
                    QPointF(self.x_of(float(d)), self.y_of(float(h)))
                    for d, h in zip(days, hours, strict=True)
                ]
                painter.drawPolyline(line)
        painter.end()

    def _paint_axes(self, painter: QPainter, plot: QRectF) -> None:
        theme, axes = self._theme, self._hours
        small, ink2 = theme.font(11), theme.color("ink2")
        every = 3 if plot.height() > 110 else 6
        first = int(np.ceil(axes.from_h / every) * every)
        for hour in range(first, int(axes.to_h) + 1, every):
            y = self.y_of(hour)
            if plot.top() + 6 < y < plot.bottom() + 1:
                draw_text(
                    painter, QRectF(0, y - 8, plot.left() - 6, 16), f"{hour:02d} h", small, ink2, "right"
                )
        start = 1
        for month in range(1, 13):
            days = DAYS_OF_MONTHS[month - 1]
            left, right = self.x_of(start - 0.5), self.x_of(start + days - 0.5)
            if month > 1:
                painter.setPen(QPen(theme.color("line"), 1))
                painter.drawLine(QPointF(left, plot.bottom()), QPointF(left, plot.bottom() + 4))
            name = _(dates.month_abbr[month])
            draw_text(painter, QRectF(left, plot.bottom() + 4, right - left, 16), name, small, ink2, "middle")
            start += days
        pen = QPen(ink2, 1)
        pen.setDashPattern([1.5, 3.0])
        for day, word in MARKS:
            x = self.x_of(day)
            painter.setPen(pen)
            painter.drawLine(QPointF(x, plot.top()), QPointF(x, plot.bottom()))
            words = _(word)
            wide = small.wide(words) + 4
            left = x + 4 if x + wide + 6 < plot.right() else x - wide - 4
            self._halo_text(painter, QRectF(left, plot.top() + 2, wide, 14), words)

    def _paint_profile(self, painter: QPainter, side: QRectF, calendar: SunCalendar) -> None:
        """The day's values along the same hours, and the colour scale along the same values."""
        theme, state = self._theme, self._session.state
        what = state.calendar_of
        top = scale_top(calendar, what)
        bar = QRectF(side.left(), side.bottom() - 5, side.width(), 5)
        steps = np.linspace(0.0, 1.0, 65)
        colors = theme.shade(steps) if what == "shade" else theme.heat(steps)
        for place in range(64):
            x = bar.left() + bar.width() * place / 64
            rgb = colors[place]
            color = theme.color("ink")
            color.setRgb(int(rgb[0]), int(rgb[1]), int(rgb[2]))
            painter.fillRect(QRectF(x, bar.top(), bar.width() / 64 + 0.5, bar.height()), color)
        label_ink, small = theme.color("ink2"), theme.font(11)
        end = _("{kw} kW").format(kw=number(top, figures=2)) if what == "heat" else "100 %"
        draw_text(painter, QRectF(bar.left(), bar.bottom() + 1, 20, 16), "0", small, label_ink)
        draw_text(
            painter,
            QRectF(bar.left() + 20, bar.bottom() + 1, bar.width() - 20, 16),
            end,
            small,
            label_ink,
            "right",
        )
        self._paint_curve(painter, side, calendar, top)

    def _paint_curve(self, painter: QPainter, side: QRectF, calendar: SunCalendar, top: float) -> None:
        theme, state = self._theme, self._session.state
        what = state.calendar_of
        profile = np.nan_to_num(day_profile(calendar, what, state.moment.day_of_year), nan=0.0)
        low, axes = side.bottom() - 6, self._hours
        span = side.height() / (axes.to_h - axes.from_h)
        down = np.clip(side.bottom() - (calendar.clock_h - axes.from_h) * span, side.top(), low)
        across = side.left() + side.width() * np.minimum(profile / top, 1.0)
        curve = [QPointF(x, y) for x, y in zip(across.tolist(), down.tolist(), strict=True)]
        ends = QPointF(side.left(), low), QPointF(side.left(), side.top())
        path = QPainterPath()
        path.addPolygon(QPolygonF([ends[0], *curve, ends[1]]))
        fill = theme.shade_color(0.25) if what == "shade" else theme.heat_color(0.25)
        edge = theme.shade_color(0.75) if what == "shade" else theme.heat_color(0.75)
        painter.save()
        painter.setClipRect(side)
        painter.setPen(QPen(theme.color("ink3") if self._stale else edge, 1.4))
        painter.setBrush(theme.color("hair") if self._stale else fill)
        painter.drawPath(path)
        painter.restore()

    def _paint_moment(self, painter: QPainter, plot: QRectF) -> None:
        theme, moment = self._theme, self._session.state.moment
        x = self.x_of(moment.day_of_year)
        y = min(max(self.y_of(moment.clock_h), plot.top()), plot.bottom())
        side = self._side()
        lines = [
            (QPointF(x, plot.top()), QPointF(x, plot.bottom())),
            (QPointF(plot.left(), y), QPointF(plot.right(), y)),
        ]
        if self._calendar is not None:
            lines.append((QPointF(side.left(), y), QPointF(side.right(), y)))
        for width, role in ((3.0, "view"), (1.2, "accent")):
            painter.setPen(QPen(theme.color(role), width))
            for begin, end in lines:
                painter.drawLine(begin, end)
        painter.setBrush(theme.color("view"))
        painter.setPen(QPen(theme.color("accent"), 2))
        painter.drawEllipse(QPointF(x, y), 4.5, 4.5)
        if self._calendar is None:
            return
        what = self._session.state.calendar_of
        value = at_moment(self._calendar, what, moment.day_of_year, moment.clock_h)
        if np.isfinite(value):
            share = min(1.0, value / scale_top(self._calendar, what))
            painter.drawEllipse(QPointF(side.left() + side.width() * share, y), 4.0, 4.0)

    def _paint_note(self, painter: QPainter, plot: QRectF, words: str) -> None:
        font = self._theme.font(12, 600)
        wide = font.wide(words) + 16
        box = QRectF(plot.center().x() - wide / 2, plot.center().y() - 11, wide, 22)
        painter.fillRect(box, self._theme.color("view"))
        draw_text(painter, box, words, font, self._theme.color("ink"), "middle")

    def _halo_text(self, painter: QPainter, box: QRectF, words: str) -> None:
        ground = self._theme.color("window")
        ground.setAlphaF(0.8)
        painter.fillRect(box.adjusted(-2, 0, 2, 0), ground)
        draw_text(painter, box, words, self._theme.font(11), self._theme.color("ink"), "left")
