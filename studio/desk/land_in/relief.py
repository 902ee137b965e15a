"""Heights as a picture from above, shaded as if lit from the north-west, with the plot's boundary and a scale bar."""

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QImage, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from studio.design.site import HeightGrid, Ring
from studio.desk.land_in.area_row import round_length
from studio.desk.painted import draw_text
from studio.desk.theme import Theme
from studio.files.heights.found import TakenHeights
from studio.files.heights.placing import told_length
from studio.text import _, number

_HIGH, _LEFT, _WIDEST = 190, 16.0, 250.0
_LIGHT = (-0.5, 0.5, 0.7071)
"""Towards a light 45° up in the north-west, as maps are shaded: a picture, not the sun of the site."""
_CONTRAST = 0.6
"""The typical slope is drawn as steep as this."""


def shaded(heights: NDArray[np.float64], step_m: float) -> NDArray[np.uint8]:
    """Lightness (rows, columns), 0 to 255, of heights whose rows run from south to north; 0 where there is none."""
    north, east = np.gradient(heights, step_m)
    steep = np.hypot(north, east)
    typical = float(np.nanmedian(steep)) if np.isfinite(steep).any() else 0.0
    times = _CONTRAST / typical if typical > 1e-9 else 1.0
    x, y = -east * times, -north * times
    light = (x * _LIGHT[0] + y * _LIGHT[1] + _LIGHT[2]) / np.sqrt(x**2 + y**2 + 1.0)
    light[np.isnan(heights)] = np.nan
    lightness = np.nan_to_num(40.0 + 215.0 * np.clip(light, 0.0, 1.0), nan=0.0)
    return np.asarray(np.rint(lightness), dtype=np.uint8)


class Relief(QWidget):
    """The picture; it says in words what it shows."""

    def __init__(self, theme: Theme, taken: TakenHeights, boundary: Ring) -> None:
        super().__init__()
        self._theme, self._taken, self._boundary = theme, taken, boundary
        grey = np.ascontiguousarray(shaded(taken.picture, taken.picture_step_m)[::-1])
        argb = np.empty((*grey.shape, 4), np.uint8)
        argb[..., :3] = grey[..., None]
        argb[..., 3] = np.where(np.isnan(taken.picture[::-1]), 0, 255)
        self._image = QImage(
            argb.data, grey.shape[1], grey.shape[0], 4 * grey.shape[1], QImage.Format.Format_ARGB32
        ).copy()
        low, high = float(np.nanmin(taken.picture)), float(np.nanmax(taken.picture))
        self._words = (
            _("{low} to {high} m").format(low=number(low, digits=1), high=number(high, digits=1)),
            _("rise of {rise} m").format(rise=number(high - low, digits=1)),
        )
        self.setAccessibleName(_("The land from above: {words}").format(words=", ".join(self._words)))
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def sizeHint(self) -> QSize:
        return QSize(320, _HIGH)

    def _corner(self) -> tuple[float, float]:
        """South-west place of the picture in site metres."""
        heights = self._taken.heights
        if isinstance(heights, HeightGrid):
            return heights.x_m, heights.y_m
        return min(spot[0] for spot in heights.spots), min(spot[1] for spot in heights.spots)

    def paintEvent(self, _event: QPaintEvent) -> None:
        theme, step = self._theme, self._taken.picture_step_m
        rows, columns = self._taken.picture.shape
        scale = min(_WIDEST / columns, (_HIGH - 34.0) / rows)
        box = QRectF(_LEFT, 8.0, columns * scale, rows * scale)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform)
        painter.fillRect(box, theme.color("outside"))
        painter.drawImage(box, self._image)
        painter.setPen(QPen(theme.color("edge"), 1.0))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(box)
        x0, y0 = self._corner()
        if self._boundary:
            ring = [
                QPointF(
                    box.left() + ((x - x0) / step + 0.5) * scale,
                    box.bottom() - ((y - y0) / step + 0.5) * scale,
                )
                for x, y in self._boundary
            ]
            painter.setClipRect(box)
            painter.setPen(QPen(theme.color("accent"), 2.0))
            painter.drawPolygon(QPolygonF(ring))
            painter.setClipping(False)
        metres = round_length(box.width() * 0.5 * step / scale)
        wide, foot = metres * scale / step, box.bottom() + 8.0
        painter.setPen(QPen(theme.color("ink2"), 1.0))
        painter.drawLine(QPointF(box.left(), foot), QPointF(box.left() + wide, foot))
        for x in (box.left(), box.left() + wide):
            painter.drawLine(QPointF(x, foot - 3), QPointF(x, foot + 3))
        bar = QRectF(box.left() + wide + 8, foot - 8, 120, 16)
        draw_text(painter, bar, told_length(metres), theme.font(11), theme.color("ink2"))
        words = [*self._words, _("north is up")]
        if self._boundary:
            words.append(_("framed: the plot"))
        for at, word in enumerate(words):
            line = QRectF(box.right() + 14, 8 + 20.0 * at, self.width() - box.right() - 26, 18)
            draw_text(painter, line, word, theme.font(12), theme.color("ink" if at == 0 else "ink2"))
        painter.end()
