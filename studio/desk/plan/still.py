"""A picture of what stays, so that a moving hand does not have it painted anew."""

from collections.abc import Callable, Hashable, Mapping

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPixmap

from studio.desk.plan.board import Board

_MOST_MOVING = 0.5
"""Where more than this share of all changed, all is painted anew."""


class Still:
    """Keeps one picture of many things and tells which of them are in motion.

    A thing is known by its number and looks like the objects it is painted from: while those are the very same, so is
    its picture. What changed since the picture was made is in motion: it is left out of the picture, to be painted on
    top, until the land itself is looked at otherwise.
    """

    def __init__(self) -> None:
        self._key: Hashable = None
        self._looks: Mapping[int, tuple[object, ...]] = {}
        self.moving: frozenset[int] = frozenset()
        self.taken: list[QRectF] = []
        self.picture: QPixmap | None = None

    def keep(
        self,
        board: Board,
        key: Hashable,
        looks: Mapping[int, tuple[object, ...]],
        paint: Callable[[Board, frozenset[int]], None],
        *,
        held: frozenset[int] = frozenset(),
    ) -> QPixmap:
        """The picture of all that does not move; ``paint`` paints all but some things.

        ``key`` tells what else it depends on besides the camera; ``held`` are likely to move next.
        """
        whole = (key, board.camera, board.theme.dark, ratio_of(board))
        before, alike = self._looks, whole == self._key
        changed = {each for each, look in looks.items() if not _same(look, before.get(each))}
        changed |= before.keys() - looks.keys()
        self._key, self._looks = whole, looks
        if self.picture is not None and alike and changed <= self.moving:
            return self.picture
        grown = changed | self.moving
        few = alike and len(grown) <= _MOST_MOVING * len(looks)
        self.moving = frozenset(grown if few else held)
        self.picture = blank(board)
        painter = QPainter(self.picture)
        on = Board(painter, board.camera, board.theme)
        paint(on, self.moving)
        painter.end()
        self.taken = on.taken
        return self.picture


def _same(look: tuple[object, ...], before: tuple[object, ...] | None) -> bool:
    return before is not None and all(one is other for one, other in zip(look, before, strict=True))


def ratio_of(board: Board) -> float:
    """Pixels of the screen to a logical one."""
    return float(board.painter.device().devicePixelRatio())


def blank(board: Board) -> QPixmap:
    """A clear picture as large as the canvas."""
    ratio = ratio_of(board)
    picture = QPixmap(int(board.camera.width * ratio), int(board.camera.height * ratio))
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    return picture
