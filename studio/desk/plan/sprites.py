"""Pictures of lines, kept while a line looks the same: moving it, or the whole land, only puts them elsewhere."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import replace

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPixmap

from studio.desk.plan.board import Board

_ROOM_PX = 14.0
_MOST_PIXELS = 24_000_000


class Sprites:
    """Pictures by what they show, bounded in pixels; what was used longest ago goes first."""

    def __init__(self) -> None:
        self._held: OrderedDict[Hashable, QPixmap] = OrderedDict()
        self._pixels = 0

    def draw(
        self,
        board: Board,
        key: Hashable,
        box_m: tuple[float, float, float, float],
        paint: Callable[[Board], None],
    ) -> None:
        """Draw what ``paint`` draws in ``box_m`` (x0, y0, x1, y1). One larger than the canvas is painted directly."""
        camera = board.camera
        x0, y0, x1, y1 = box_m
        width = (x1 - x0) * camera.px_per_m + 2 * _ROOM_PX
        height = (y1 - y0) * camera.px_per_m + 2 * _ROOM_PX
        middle = camera.to_px([(x0 + x1) / 2, (y0 + y1) / 2])
        left, top = float(middle[0]) - width / 2, float(middle[1]) - height / 2
        if left > camera.width or top > camera.height or left + width < 0 or top + height < 0:
            return
        if width > 1.6 * camera.width or height > 1.6 * camera.height:
            paint(board)
            return
        ratio = board.painter.device().devicePixelRatio()
        whole = (key, camera.px_per_m, board.theme.dark, ratio)
        picture = self._held.get(whole)
        if picture is None:
            picture = QPixmap(int(width * ratio) + 2, int(height * ratio) + 2)
            picture.setDevicePixelRatio(ratio)
            picture.fill(Qt.GlobalColor.transparent)
            painter = QPainter(picture)
            own = replace(camera, x_m=(x0 + x1) / 2, y_m=(y0 + y1) / 2, width=width, height=height)
            paint(Board(painter, own, board.theme))
            painter.end()
            self._keep(whole, picture)
        else:
            self._held.move_to_end(whole)
        # on whole pixels of the screen, so that the picture stays sharp
        board.painter.drawPixmap(QPointF(round(left * ratio) / ratio, round(top * ratio) / ratio), picture)

    def _keep(self, key: Hashable, picture: QPixmap) -> None:
        self._held[key] = picture
        self._pixels += picture.width() * picture.height()
        while self._pixels > _MOST_PIXELS and len(self._held) > 1:
            _key, gone = self._held.popitem(last=False)
            self._pixels -= gone.width() * gone.height()
