"""Store: put where one clicks, or where its place is typed."""

from studio.design.site import Point
from studio.desk.plan.board import Board
from studio.desk.plan.tools.chain import Drawn
from studio.desk.plan.tools.tool import Pointer
from studio.desk.state import Subject
from studio.edits.header import move_store
from studio.text import _


class StoreTool(Drawn):
    """Puts the store where one clicks."""

    name = "store"

    @property
    def hint(self) -> str:
        return _("Click where the middle of the store stands, or type its x and y")

    def press(self, at: Pointer) -> None:
        self.move(at, held=False)
        point = self.clicked()
        if point is not None:
            self.set_point(point)

    def set_point(self, point: Point) -> None:
        if self.host.apply(move_store(self.design, x_m=point[0], y_m=point[1])):
            self.start_over()
            self.host.session.select(Subject("store"))
            self.host.session.update(tool="pick")

    def take(self) -> bool:
        return self.take_typed()

    def paint(self, board: Board) -> None:
        if self.hand is None:
            return
        radius = max(self.design.store.radius_m * board.camera.px_per_m, 4.0)
        board.dot(board.at(self.hand.point), radius, rim="accent", width=1.6)
        self.paint_hand(board)
