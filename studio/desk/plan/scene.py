"""The whole plan in the order it is painted, with the pictures that are kept from one frame to the next."""

from collections.abc import Callable, Hashable, Sequence

from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPainter, QPixmap

from studio.desk.plan import furniture, land, obstacles, rows
from studio.desk.plan.board import Board
from studio.desk.plan.cut_line import paint_cut
from studio.desk.plan.inline import paint_told
from studio.desk.plan.sprites import Sprites
from studio.desk.state import State
from studio.drawings.plan import Land, PlanDrawing

_ROOM_FOR_TINT = 560


class Scene:
    """Paints plans; keeps what did not change: the land's surface, the shadows, each line's picture."""

    def __init__(self) -> None:
        self._sprites = Sprites()
        self._under: tuple[Hashable, Land, QPixmap] | None = None
        self._shade: tuple[Hashable, object, bool, QPixmap] | None = None

    def paint_plan(self, board: Board, drawing: PlanDrawing, state: State, *, quick: bool) -> bool:
        """Everything that stands on the land. ``quick`` while something moves; whether it came out rough for that."""
        layers, chosen, ids = state.layers, state.selection, state.selected_lines()
        self._surface(board, drawing, state)
        rough = self._shadows(board, drawing, quick=quick)
        land.paint_plot(board, drawing, chosen)
        obstacles.paint_obstacles(board, drawing, chosen)
        land.paint_header(board, drawing, chosen)
        rows.paint_mirrors(board, self._sprites, drawing, tint="tint" in layers)
        rows.paint_selection(board, drawing, ids)
        rows.paint_gear(board, self._sprites, drawing, ids)
        if state.cut is not None:
            paint_cut(board, state.cut)
        furniture.paint_marks(board, drawing, stale=not state.fresh)
        if "names" in layers:
            rows.paint_line_names(board, drawing, ids)
            obstacles.paint_obstacle_names(board, drawing, chosen)
            land.paint_land_names(board, drawing, chosen, setback_m=state.shown.plot.setback_m)
        return rough

    def paint_furniture(
        self, board: Board, drawing: PlanDrawing, state: State, *, told: Sequence[str], hint: str
    ) -> None:
        """Everything that stands on the canvas and not on the land."""
        tinted = "tint" in state.layers and bool(state.shown.lines) and board.camera.width > _ROOM_FOR_TINT
        room = board.camera.width - (furniture.TINT_ROOM_PX if tinted else 16.0)
        furniture.paint_scale(board, drawing, told, room=room)
        if tinted:
            furniture.paint_tint_scale(board, drawing)
        furniture.paint_compass(board, drawing)
        paint_told(board, QPointF(16, 26), [(hint, "ink2")])

    def _surface(self, board: Board, drawing: PlanDrawing, state: State) -> None:
        ground, grid = state.shown.ground, "grid" in state.layers
        key = (board.camera, ground, grid, board.theme.dark, _ratio(board))
        kept = self._under
        if kept is None or kept[0] != key or kept[1] is not drawing.land:
            picture = _picture(board, lambda on: land.paint_ground(on, drawing, ground, grid=grid))
            kept = self._under = key, drawing.land, picture
        board.painter.drawPixmap(0, 0, kept[2])

    def _shadows(self, board: Board, drawing: PlanDrawing, *, quick: bool) -> bool:
        """Shadows as a picture of their own: rough while something moves, smooth once it rests."""
        if not drawing.shadows:
            return False
        key = (board.camera, board.theme.dark, _ratio(board))
        kept = self._shade
        if kept is None or kept[0] != key or kept[1] is not drawing.shadows or (kept[2] and not quick):
            picture = _picture(board, lambda on: land.paint_shadows(on, drawing, quick=quick))
            kept = self._shade = key, drawing.shadows, quick, picture
        board.painter.drawPixmap(0, 0, kept[3])
        return kept[2]


def _ratio(board: Board) -> float:
    return float(board.painter.device().devicePixelRatio())


def _picture(board: Board, paint: Callable[[Board], None]) -> QPixmap:
    ratio = _ratio(board)
    picture = QPixmap(int(board.camera.width * ratio), int(board.camera.height * ratio))
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    paint(Board(painter, board.camera, board.theme))
    painter.end()
    return picture
