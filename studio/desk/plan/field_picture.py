"""The lines of the field: those that stay from one picture, those that move on top of it."""

from collections.abc import Sequence

from studio.desk.plan import rows
from studio.desk.plan.board import Board
from studio.desk.plan.sprites import Sprites
from studio.desk.plan.still import Still
from studio.drawings.lines import LineOnPlan
from studio.drawings.plan import PlanDrawing

_MANY = 24
"""Fewer lines are painted one by one."""


class FieldPicture:
    """Paints mirrors, gear and names of all lines.

    A drag paints the line in the hand and those whose shade it changes, however large the field is.
    """

    def __init__(self) -> None:
        self._sprites = Sprites()
        self._still = Still()

    def paint(
        self, board: Board, drawing: PlanDrawing, *, tint: bool, names: bool, chosen: frozenset[int]
    ) -> None:
        """The lines in sight."""

        def paint_some(on: Board, lines: Sequence[LineOnPlan]) -> None:
            inside = [line for line in lines if rows.in_sight(on, line)]
            rows.paint_mirrors(on, self._sprites, drawing, inside, tint=tint)
            rows.paint_selection(on, inside, chosen)
            rows.paint_gear(on, self._sprites, drawing, inside, chosen)
            if names:
                rows.paint_line_names(on, inside, chosen, among=drawing.lines)

        if len(drawing.lines) < _MANY:
            paint_some(board, drawing.lines)
            return
        looks = {line.id: (line, drawing.gear[line.id], drawing.tints.get(line.id)) for line in drawing.lines}
        picture = self._still.keep(
            board,
            (tint, names, chosen),
            looks,
            lambda on, moving: paint_some(on, [line for line in drawing.lines if line.id not in moving]),
            held=chosen,
        )
        board.painter.drawPixmap(0, 0, picture)
        board.taken += self._still.taken
        paint_some(board, [line for line in drawing.lines if line.id in self._still.moving])
