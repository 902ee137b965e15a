"""Shadows on the ground as one union with one tone: those that stay from one picture, those that move on top of it."""

from collections.abc import Iterable

import numpy as np
from PySide6.QtGui import QPainter, QPainterPath, QPixmap

from studio.desk.plan.board import Array, Board, path_of
from studio.desk.plan.still import Still, blank
from studio.drawings.plan import PlanDrawing

_STANDING = -1
"""What stands on the land besides lines, as one thing among them."""


class ShadowPicture:
    """Paints all shadows opaque into a picture of their own, which is then laid on the land as thin as shadows are.

    Overlapping shadows so darken the ground once, and those of lines that do not move are painted once.
    """

    def __init__(self) -> None:
        self._still = Still()
        self._whole: tuple[object, QPixmap] | None = None
        self._shown: tuple[object, bool] | None = None

    def paint(self, board: Board, drawing: PlanDrawing, *, quick: bool) -> bool:
        """Lay the shadows on the land. ``quick`` while something moves; whether they came out rough for that."""
        shadows = drawing.shadows
        if shadows is None:
            return False
        rough = quick
        if self._shown is not None and self._shown[0] is shadows and not self._shown[1]:
            rough = False  # a smooth one of the very same shadows is at hand
        things = {**shadows.by_line, _STANDING: shadows.standing}
        still = self._still.keep(
            board,
            rough,
            {each: (outlines,) for each, outlines in things.items()},
            lambda on, moving: _fill(
                on, [outlines for each, outlines in things.items() if each not in moving], rough=rough
            ),
        )
        picture = still
        if moving := [outlines for each, outlines in things.items() if each in self._still.moving]:
            key = (still.cacheKey(), shadows)
            if self._whole is None or self._whole[0] != key:
                whole = blank(board)
                painter = QPainter(whole)
                painter.drawPixmap(0, 0, still)
                _fill(Board(painter, board.camera, board.theme), moving, rough=rough)
                painter.end()
                self._whole = key, whole
            picture = self._whole[1]
        self._shown = shadows, rough
        board.painter.setOpacity(board.theme.color("shadow").alphaF())
        board.painter.drawPixmap(0, 0, picture)
        board.painter.setOpacity(1.0)
        return rough


def _fill(board: Board, groups: Iterable[tuple[Array, ...]], *, rough: bool) -> None:
    """Fill outlines in full tone; ``rough`` leaves the edges unsmoothed."""
    by_corners: dict[int, list[Array]] = {}
    for group in groups:
        for outlines in group:
            by_corners.setdefault(outlines.shape[1], []).append(outlines)
    tone = board.theme.color("shadow")
    tone.setAlphaF(1.0)
    board.painter.setRenderHint(QPainter.RenderHint.Antialiasing, not rough)
    path = QPainterPath()
    for members in by_corners.values():
        path.addPath(path_of(board.px(np.concatenate(members)), closed=True))
    board.fill(path, tone, union=True)
    board.painter.setRenderHint(QPainter.RenderHint.Antialiasing)
