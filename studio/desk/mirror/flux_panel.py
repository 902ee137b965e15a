"""The spot on the window's plane by rays: flux in kW/m2, window, contours, peak, scale."""

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QImage, QPainter, QPaintEvent, QPen

from studio.design.fields import mark
from studio.desk.calendar_picture import contours
from studio.desk.cautions import caution_for
from studio.desk.mirror.panel import PAD, Panel
from studio.desk.painted import draw_finding, draw_text
from studio.engine.mirror.flux import FluxPicture
from studio.study.spot import SpotAt
from studio.text import _, number, percent

Array = NDArray[np.float64]
_ENDS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
_LEFT, _TOP, _RIGHT, _FOOT = 44.0, 8.0, 58.0, 100.0
_NARROW_PX = 300
_SEEN = 2.4
"""The picture shows this many windows across; what lands farther out is traced and counted, but not shown."""
_PER_CELL = 2
"""Pixels of the picture to a cell of flux, across and up."""
_FOR_CONTOURS = 4
"""More passes of smoothing for the contours."""
_ENOUGH = 80.0
"""Rays below a spot of the smoothing from which the picture is quiet: 11 % of noise."""


class FluxPanel(Panel):
    """Flux on the plane of the window."""

    title = mark("Flux on the window")
    shows = frozenset({"now", "spot"})

    _kept: tuple[tuple[int, bool, bool], SpotAt, QImage, float] | None = None

    @property
    def stale(self) -> bool:
        return self.model.is_stale("spot")

    def refresh(self) -> None:
        """Say anew what the light there can do."""
        self.setToolTip("\n".join(caution_for("peak_flux_kw_m2")))
        super().refresh()

    def about(self) -> str:
        spot = self.model.spot
        if spot is None or self.width() < _NARROW_PX:
            return _("kW/m²")
        return _("kW/m², {rays} rays").format(rays=number(spot.count, digits=0))

    def told(self) -> str:
        spot = self.model.spot
        if spot is None:
            return self._empty()
        rays, error = spot.rays.accepted, spot.rays.accepted_error
        return _(
            "peak {peak} kW/m², mean over the window {mean} kW/m²; intercept {cone} % by cones, {rays} ± {error} % by rays"
        ).format(
            peak=number(spot.flux.peak_kw_m2), mean=number(spot.window_mean_kw_m2),
            cone=percent(float(spot.cone.accepted[0])), rays=percent(rays), error=percent(error, digits=2),
        )  # fmt: skip

    def _empty(self) -> str:
        if not self.model.drawing.sun_falls_on_it:
            return _("no sun on the mirror")
        return _("tracing rays") if self.model.is_coming("spot") else _("no light on the window")

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        spot, theme = self.model.spot, self.theme
        plot = self.plot(box)
        if spot is None:
            painter.fillRect(plot, theme.color("panel"))
            draw_text(painter, plot, self._empty(), theme.font(12), theme.color("ink2"), "middle")
            return
        image, top = self._picture(spot)
        painter.drawImage(plot, image)
        self._paint_axes(painter, plot)
        self._paint_window(painter, plot, spot)
        self._paint_scale(painter, QRectF(plot.right() + 12, plot.top(), 10, plot.height()), top)
        self._paint_words(painter, box, spot)

    def plot(self, box: QRectF) -> QRectF:
        """Where the picture is; a centimetre is as long along as across."""
        room = box.adjusted(_LEFT, _TOP, -_RIGHT, -_FOOT)
        wide, high = self._size()
        scale = min(room.width() / wide, room.height() / high)
        size = wide * scale, high * scale
        return QRectF(
            room.left() + (room.width() - size[0]) / 2, room.top() + (room.height() - size[1]) / 2, *size
        )

    def _size(self) -> tuple[float, float]:
        """Width and height of what the picture shows, in metres: whole cells, as near ``_SEEN`` windows as they go."""
        spot, receiver = self.model.spot, self.model.design.receiver
        if spot is None:
            return _SEEN * receiver.window_width_m, _SEEN * receiver.window_height_m
        plane, (rows, columns) = spot.flux.plane, self._cells(spot)
        return (
            columns * plane.width_m / plane.columns,
            rows * plane.height_m / plane.rows,
        )

    def _cells(self, spot: SpotAt) -> tuple[int, int]:
        """Rows and columns in the middle of the flux picture that are shown."""
        plane, receiver = spot.flux.plane, self.model.design.receiver

        def within(cells: int, size: float, window: float) -> int:
            aside = max(0, round(cells * (1 - _SEEN * window / size) / 2))
            return max(cells - 2 * aside, 2)

        return (
            within(plane.rows, plane.height_m, receiver.window_height_m),
            within(plane.columns, plane.width_m, receiver.window_width_m),
        )

    def _seen(self, spot: SpotAt) -> tuple[Array, Array]:
        """The flux that is shown, quiet enough for the eye, and quieter for contours."""
        plane, cells = spot.flux.plane, self._cells(spot)
        rows, columns = (
            slice((of - count) // 2, (of - count) // 2 + count)
            for of, count in zip((plane.rows, plane.columns), cells, strict=True)
        )
        quiet = smoothed(spot.flux)
        return quiet[rows, columns], blurred(quiet, _FOR_CONTOURS + 3 * passes_for(spot.flux))[rows, columns]

    def _picture(self, spot: SpotAt) -> tuple[QImage, float]:
        """The picture and the flux at its scale's end; worked out once for each spot and look."""
        key = (id(spot), self.stale, self.theme.dark)
        if self._kept is None or self._kept[0] != key:
            quiet, quieter = self._seen(spot)
            top = scale_top(float(np.max(quieter)))
            self._kept = key, spot, self._image(quiet / top, quieter / top), top
        return self._kept[2], self._kept[3]

    def _image(self, share: Array, lines: Array) -> QImage:
        fine = enlarged(share, _PER_CELL)
        colors = self.theme.heat(fine).astype(float)
        away = self.theme.color("view")
        line = (contours(enlarged(lines, _PER_CELL)) * 0.7)[..., None]
        colors += line * (np.array([away.red(), away.green(), away.blue()], float) - colors)
        if self.stale:
            colors = 0.5 * colors + 0.5 * colors.mean(axis=-1, keepdims=True)
        pixels = np.ascontiguousarray(np.rint(colors[::-1]).astype(np.uint8))
        high, wide = share.shape[0] * _PER_CELL, share.shape[1] * _PER_CELL
        return QImage(pixels.tobytes(), wide, high, 3 * wide, QImage.Format.Format_RGB888).copy()

    def _at(self, plot: QRectF, u: float, v: float) -> QPointF:
        wide, high = self._size()
        return QPointF(
            plot.left() + (u / wide + 0.5) * plot.width(), plot.bottom() - (v / high + 0.5) * plot.height()
        )

    def _paint_axes(self, painter: QPainter, plot: QRectF) -> None:
        theme = self.theme
        ink, font = theme.color("ink2"), theme.font(11)
        painter.setPen(QPen(theme.color("line"), 1))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(plot)
        half_u, half_v = (50 * size for size in self._size())
        step = next(s for s in (1, 2, 5, 10, 20, 50, 100, 200) if max(half_u, half_v) / s <= 3.5)
        for cm in range(-int(half_u // step) * step, int(half_u) + 1, step):
            at = self._at(plot, cm / 100, 0.0).x()
            painter.drawLine(QPointF(at, plot.bottom()), QPointF(at, plot.bottom() + 4))
            words = number(cm, digits=0)
            draw_text(painter, QRectF(at - 20, plot.bottom() + 4, 40, 14), words, font, ink, "middle")
            painter.setPen(QPen(theme.color("line"), 1))
        for cm in range(-int(half_v // step) * step, int(half_v) + 1, step):
            at = self._at(plot, 0.0, cm / 100).y()
            painter.drawLine(QPointF(plot.left() - 4, at), QPointF(plot.left(), at))
            words = number(cm, digits=0)
            draw_text(painter, QRectF(plot.left() - 40, at - 8, 34, 16), words, font, ink, "right")
            painter.setPen(QPen(theme.color("line"), 1))

    def _paint_window(self, painter: QPainter, plot: QRectF, spot: SpotAt) -> None:
        receiver, flux, theme = self.model.design.receiver, spot.flux, self.theme
        half_u, half_v = receiver.window_width_m / 2, receiver.window_height_m / 2
        frame = QRectF(self._at(plot, -half_u, half_v), self._at(plot, half_u, -half_v))
        for width, role in ((4.0, "view"), (2.0, "accent")):
            painter.setPen(QPen(theme.color(role), width))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(frame)
        at = self._at(plot, *flux.centroid_m)
        if np.isfinite(flux.centroid_m).all():
            for width, role in ((3.5, "view"), (1.4, "ink")):
                painter.setPen(QPen(theme.color(role), width))
                painter.drawLine(at - QPointF(5, 0), at + QPointF(5, 0))
                painter.drawLine(at - QPointF(0, 5), at + QPointF(0, 5))

    def _paint_scale(self, painter: QPainter, bar: QRectF, top: float) -> None:
        theme, steps = self.theme, 48
        colors = theme.heat(np.linspace(0.0, 1.0, steps))
        color = theme.color("ink")
        for place in range(steps):
            color.setRgb(*(int(part) for part in colors[place]))
            high = bar.height() / steps
            painter.fillRect(
                QRectF(bar.left(), bar.bottom() - (place + 1) * high, bar.width(), high + 0.5), color
            )
        font, ink = theme.font(11), theme.color("ink2")
        for share in (0.0, 0.25, 0.5, 0.75, 1.0):
            y = bar.bottom() - share * bar.height()
            draw_text(
                painter, QRectF(bar.right() + 5, y - 8, 36, 16), number(share * top, figures=2), font, ink
            )

    def _paint_words(self, painter: QPainter, box: QRectF, spot: SpotAt) -> None:
        """Below the picture: peak, mean, and what the two ways of computing say."""
        theme = self.theme
        narrow = box.width() < _NARROW_PX
        intercept = (
            _("cones {cone} %, rays {rays} ± {error} %")
            if narrow
            else _("intercept: cones {cone} %, rays {rays} ± {error} %")
        )
        lines = (
            _("peak {peak} ± {error}, mean {mean}").format(
                peak=number(spot.flux.peak_kw_m2), error=number(spot.flux.peak_error_kw_m2, figures=1),
                mean=number(spot.window_mean_kw_m2),
            ),
            _("clear sky, DNI {dni} W/m²").format(dni=number(spot.dni_w_m2, digits=0)),
            intercept.format(
                cone=percent(float(spot.cone.accepted[0])), rays=percent(spot.rays.accepted),
                error=percent(spot.rays.accepted_error),
            ),
        )  # fmt: skip
        for place, words in enumerate(lines):
            line = QRectF(box.left() + PAD, box.bottom() - 74 + 17 * place, box.width() - 2 * PAD, 16)
            font = theme.font(12, 400 if self.stale or place else 600)
            role = "ink3" if self.stale else "ink2" if place == 1 else "ink"
            draw_text(painter, line, words, font, theme.color(role))
        last = QRectF(box.left() + PAD + 20, box.bottom() - 22, box.width() - 2 * PAD - 20, 16)
        draw_finding(
            painter, "caution", 0, QPointF(box.left() + PAD + 7, last.center().y()), theme, radius=6.0
        )
        words = _("burns skin and eyes") if narrow else _("burns skin and eyes, lights dry grass")
        draw_text(painter, last, words, theme.font(12), theme.color("ink"))


def scale_top(most: float) -> float:
    """Where the scale ends: a round number that holds the largest value."""
    if most <= 0.0:
        return 1.0
    step = 10.0 ** np.floor(np.log10(most))
    return float(next(k for k in _ENDS if k * step >= most - 1e-9) * step)


def smoothed(flux: FluxPicture) -> Array:
    """The picture's flux, smoothed over as many cells as its noise asks for: (rows, columns), kW/m2."""
    return blurred(flux.kw_m2, passes_for(flux))


def passes_for(flux: FluxPicture) -> int:
    """Passes of ``blurred`` that bring enough rays together where it is bright.

    Each spreads a cell over some six more: 4 pi sigma2, with sigma2 a half.
    """
    bright = flux.kw_m2 > 0.5 * flux.kw_m2.max()
    if not bright.any():
        return 0
    noise = float((flux.noise_kw_m2[bright] / flux.kw_m2[bright]).mean())
    return min(round(noise * noise * _ENOUGH / 6), 12)


def blurred(values: Array, passes: int) -> Array:
    """Values (rows, columns) after so many passes of (1 2 1)/4 both ways; the edges are held."""
    for axis in (0, 1) * passes:
        edges = [(1, 1) if axis == other else (0, 0) for other in (0, 1)]
        wide = np.pad(values, edges, mode="edge")
        count = values.shape[axis]
        low, high = (np.take(wide, range(first, first + count), axis) for first in (0, 2))
        values = 0.5 * values + 0.25 * (low + high)
    return np.asarray(values)


def enlarged(values: Array, times: int) -> Array:
    """Values (rows, columns) at the middles of cells, as (rows x times, columns x times) in straight lines between them."""
    for axis in (0, 1):
        count = values.shape[axis]
        at = np.clip((np.arange(count * times) + 0.5) / times - 0.5, 0, count - 1)
        low = np.minimum(at.astype(np.intp), count - 2)
        part = (at - low).reshape([-1 if a == axis else 1 for a in (0, 1)])
        values = np.take(values, low, axis) * (1 - part) + np.take(values, low + 1, axis) * part
    return np.asarray(values)
