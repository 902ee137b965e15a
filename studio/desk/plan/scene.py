"""The whole plan in the order it is painted, with the pictures that are kept from one frame to the next."""

from collections.abc import Callable, Hashable, Sequence

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPixmap

from studio.desk.plan import furniture, land, obstacles
from studio.desk.plan.board import Board
from studio.desk.plan.cut_line import paint_cut
from studio.desk.plan.field_picture import FieldPicture
from studio.desk.plan.inline import paint_told
from studio.desk.plan.layers import faint
from studio.desk.plan.shadow_picture import ShadowPicture
from studio.desk.plan.still import blank, ratio_of
from studio.desk.plan.underlay import Underlays
from studio.desk.state import State
from studio.drawings.plan import Land, PlanDrawing

_ROOM_FOR_TINT = 560


class Scene:
    """Paints plans; keeps what did not change: the land's surface, the shadows, each line's picture."""

    def __init__(self) -> None:
        self._field = FieldPicture()
        self.underlays = Underlays()
        self._under: tuple[Hashable, Land, QPixmap] | None = None
        self._shadows = ShadowPicture()
        self._corners: dict[str, tuple[Hashable, Land, QPixmap]] = {}

    def paint_plan(self, board: Board, drawing: PlanDrawing, state: State, *, quick: bool) -> bool:
        """Everything that stands on the land. ``quick`` while something moves; whether it came out rough for that."""
        layers, faded, chosen, ids = state.layers, state.faded, state.selection, state.selected_lines()
        self._surface(board, drawing, state)
        rough = self._shadows.paint(board, drawing, quick=quick)
        with faint(board, "land" in faded):
            land.paint_setback(board, drawing)
        with faint(board, "no_build" in faded):
            land.paint_areas(board, drawing, chosen)
        with faint(board, "land" in faded):
            land.paint_boundary(board, drawing, chosen)
        with faint(board, "obstacles" in faded):
            obstacles.paint_obstacles(board, drawing, chosen)
        with faint(board, "headers" in faded):
            land.paint_header(board, drawing, chosen)
        with faint(board, "lines" in faded):
            self._field.paint(
                board, drawing, tint="tint" in layers, names="names" in layers, chosen=frozenset(ids)
            )
        if state.cut is not None:
            paint_cut(board, state.cut)
        furniture.paint_marks(board, drawing, stale=not state.fresh)
        if "names" in layers:
            with faint(board, "obstacles" in faded):
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
            high, wide = furniture.TINT_HIGH_PX, furniture.TINT_ROOM_PX
            box = QRectF(board.camera.width - wide, board.camera.height - high, wide, high)
            self._corner(board, drawing, "tint", box, furniture.paint_tint_scale)
        wide, high = furniture.COMPASS_PX
        box = QRectF(board.camera.width - wide, 0, wide, high)
        self._corner(board, drawing, "compass", box, furniture.paint_compass)
        paint_told(board, QPointF(16, 26), [(hint, "ink2")])

    def _corner(
        self,
        board: Board,
        drawing: PlanDrawing,
        name: str,
        box: QRectF,
        paint: Callable[[Board, PlanDrawing], None],
    ) -> None:
        """What stands in a corner of the canvas, painted anew only with another sun, land or camera."""
        sun = drawing.sun.elevation_deg, drawing.sun.azimuth_deg
        key = (board.camera, sun, board.theme.dark, ratio_of(board))
        kept = self._corners.get(name)
        if kept is None or kept[0] != key or kept[1] is not drawing.land:
            ratio = ratio_of(board)
            picture = QPixmap((box.size() * ratio).toSize())
            picture.setDevicePixelRatio(ratio)
            picture.fill(Qt.GlobalColor.transparent)
            painter = QPainter(picture)
            painter.translate(-box.topLeft())
            paint(Board(painter, board.camera, board.theme), drawing)
            painter.end()
            kept = self._corners[name] = key, drawing.land, picture
        board.painter.drawPixmap(box.topLeft(), kept[2])

    def _surface(self, board: Board, drawing: PlanDrawing, state: State) -> None:
        ground, grid, heights = state.shown.ground, "grid" in state.layers, "contours" in state.layers
        key = (
            board.camera,
            ground,
            grid,
            heights,
            self.underlays.key(state),
            board.theme.dark,
            ratio_of(board),
        )
        kept = self._under
        if kept is None or kept[0] != key or kept[1] is not drawing.land:
            picture = _picture(
                board,
                lambda on: land.paint_ground(
                    on, drawing, ground, grid=grid, heights=heights, picture=lambda: self._underlay(on, state)
                ),
            )
            kept = self._under = key, drawing.land, picture
        board.painter.drawPixmap(0, 0, kept[2])

    def _underlay(self, board: Board, state: State) -> None:
        with faint(board, "picture" in state.faded):
            self.underlays.paint(board, state)


def _picture(board: Board, paint: Callable[[Board], None]) -> QPixmap:
    picture = blank(board)
    painter = QPainter(picture)
    paint(Board(painter, board.camera, board.theme))
    painter.end()
    return picture
