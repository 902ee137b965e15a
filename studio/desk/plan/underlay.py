"""Painting the picture under the plan: decoded apart from the window, and turned to the screen once for many frames."""

import threading
from collections.abc import Hashable
from functools import lru_cache

import numpy as np
from PySide6.QtCore import QObject, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QImage, QPainter, QPixmap

from studio.design.site import Underlay
from studio.desk.plan.board import Board, path_of
from studio.desk.state import State
from studio.drawings.plan import PlanDrawing
from studio.drawings.underlay import corners_of
from studio.errors import BadInputError
from studio.text import _

_SPARE = 0.35
"""How far beyond the canvas the picture is kept ready for panning, in shares of the canvas."""
_DIM = 0.6
"""Strength in the dark: a picture of daylight would outshine the plan."""
_LEAST_SIDE = 64


def picture_size(state: State) -> tuple[int, int] | None:
    """Pixels of the picture under the shown plan, across and down; None where there is none."""
    asset = state.shown.underlay.asset
    data = state.document.asset(asset) if asset else None
    return _size(data) if data is not None else None


@lru_cache(maxsize=8)
def _size(data: bytes) -> tuple[int, int] | None:
    from studio.files.picture import size_of  # loaded with the first picture

    try:
        return size_of(data)
    except BadInputError:
        return None


def bounds_to_fit(drawing: PlanDrawing, state: State) -> tuple[float, float, float, float]:
    """Everything that stands, x least, y least, x most, y most; on bare land what the picture covers."""
    size = picture_size(state)
    if size is None or drawing.has_store or drawing.obstacles or drawing.land.areas:
        return drawing.bounds
    corners = corners_of(state.shown.underlay, size)
    (x0, y0), (x1, y1) = corners.min(axis=0), corners.max(axis=0)
    return float(x0), float(y0), float(x1), float(y1)


class Underlays(QObject):
    """The decoded picture in halving sizes, and the part of it that lies about the canvas as the screen shows it."""

    ready = Signal()
    """The picture came out of its bytes, or cannot."""
    _decoded = Signal(str, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._asset = ""
        self._levels: list[QImage] = []
        self._broken = False
        self._shot: tuple[Hashable, QRectF, QPixmap] | None = None
        self._decoded.connect(self._take, Qt.ConnectionType.QueuedConnection)

    def ready_for(self, asset: str) -> bool:
        """Whether this picture can be painted now."""
        return asset == self._asset and bool(self._levels)

    def key(self, state: State) -> Hashable:
        """What the look of the picture depends on besides the camera."""
        if "picture" not in state.layers or not state.shown.underlay.asset:
            return None
        return state.shown.underlay, "picture" in state.faded, len(self._levels), self._broken

    def paint(self, board: Board, state: State) -> None:
        """The picture where it lies; while it is being decoded, its outline."""
        underlay, size = state.shown.underlay, picture_size(state)
        if size is None or "picture" not in state.layers:
            return
        self._ask(underlay.asset, state)
        if not self.ready_for(underlay.asset):
            board.polyline(corners_of(underlay, size), board.pen("line", 1.0, (5, 4)), closed=True)
            if self._broken:
                told = _("the kept picture is damaged and cannot be shown")
                board.text(board.at((underlay.x_m, underlay.y_m)), told, align="middle")
            return
        middle = board.at((underlay.x_m, underlay.y_m))
        sight = QRectF(0, 0, board.camera.width, board.camera.height).translated(-middle)
        whole = path_of(board.px(corners_of(underlay, size)), closed=True).boundingRect().translated(-middle)
        seen = sight.intersected(whole)
        if seen.isEmpty():
            return
        box, picture = self._about(seen, sight, whole, board, underlay, size)
        painter = board.painter
        painter.save()
        painter.setOpacity(painter.opacity() * underlay.strength * (_DIM if board.theme.dark else 1.0))
        painter.drawPixmap(middle + box.topLeft(), picture)
        painter.restore()

    def _about(
        self, seen: QRectF, sight: QRectF, whole: QRectF, board: Board, underlay: Underlay, size: tuple[int, int]
    ) -> tuple[QRectF, QPixmap]:  # fmt: skip
        """A part of the picture that covers what is seen, in pixels of the screen about the picture's middle."""
        ratio = float(board.painter.device().devicePixelRatio())
        scale = underlay.m_per_pixel * board.camera.px_per_m
        key = (underlay.asset, scale, underlay.turned_deg, ratio)
        shot = self._shot
        if shot is not None and shot[0] == key and shot[1].contains(seen):
            return shot[1], shot[2]
        spare_x, spare_y = _SPARE * sight.width(), _SPARE * sight.height()
        box = sight.adjusted(-spare_x, -spare_y, spare_x, spare_y).intersected(whole)
        box = QRectF(box.toAlignedRect())
        picture = QPixmap(round(box.width() * ratio), round(box.height() * ratio))
        picture.setDevicePixelRatio(ratio)
        picture.fill(Qt.GlobalColor.transparent)
        level = self._level(scale * ratio)
        painter = QPainter(picture)
        painter.setRenderHints(QPainter.RenderHint.SmoothPixmapTransform | QPainter.RenderHint.Antialiasing)
        painter.translate(-box.topLeft())
        painter.rotate(underlay.turned_deg)
        half = QPointF(size[0] * scale / 2, size[1] * scale / 2)
        painter.drawImage(QRectF(-half, half), level, QRectF(level.rect()))
        painter.end()
        self._shot = key, box, picture
        return box, picture

    def _level(self, scale: float) -> QImage:
        """The smallest halving that still has a pixel for each pixel of the screen."""
        down = int(np.clip(np.floor(-np.log2(max(scale, 1e-9))), 0, len(self._levels) - 1))
        return self._levels[down]

    def _ask(self, asset: str, state: State) -> None:
        """Decode another picture, apart from the window."""
        if asset == self._asset:
            return
        self._asset, self._levels, self._shot, self._broken = asset, [], None, False
        data = state.document.asset(asset)

        def work() -> None:
            self._decoded.emit(asset, _halvings(data or b""))

        threading.Thread(target=work, name="picture", daemon=True).start()

    def _take(self, asset: str, levels: list[QImage]) -> None:
        if asset == self._asset:
            self._levels, self._broken = levels, not levels
            self.ready.emit()


def _halvings(data: bytes) -> list[QImage]:
    """A picture and its halves, each half the size of the one before; none where the bytes cannot be shown."""
    whole = QImage.fromData(data)
    if whole.isNull():
        return []
    clear = whole.hasAlphaChannel()
    whole = whole.convertToFormat(
        QImage.Format.Format_ARGB32_Premultiplied if clear else QImage.Format.Format_RGB32
    )
    levels = [whole]
    while min(levels[-1].width(), levels[-1].height()) >= 2 * _LEAST_SIDE:
        last = levels[-1]
        levels.append(
            last.scaled(
                last.width() // 2, last.height() // 2, Qt.AspectRatioMode.IgnoreAspectRatio,
                Qt.TransformationMode.SmoothTransformation,
            )
        )  # fmt: skip
    return levels
