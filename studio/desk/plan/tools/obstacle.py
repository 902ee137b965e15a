"""Obstacle: draws a wall, shed or fence corner by corner, places a tree or a pole with a click."""

from PySide6.QtCore import QPointF

from studio.design.obstacles import Pole, Tree
from studio.design.site import Point
from studio.desk.plan.board import Board
from studio.desk.plan.inline import paint_told
from studio.desk.plan.tools.chain import Chain
from studio.desk.plan.tools.tool import Host, Pointer
from studio.desk.plan.typed_place import first_figures
from studio.desk.state import Subject
from studio.edits.edit import Edit
from studio.edits.obstacles import add_block, add_fence, add_pole, add_tree
from studio.text import _

_KINDS = ("block", "fence", "tree", "pole")


class ObstacleTool(Chain):
    """Chosen once more it goes from wall and shed to fence, tree, pole and round again; Shift places a tree at once."""

    name = "obstacle"

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.kind = "block"

    @property
    def hint(self) -> str:
        if self.points:
            return super().hint
        return {
            "block": _(
                "Wall or shed: click its first corner; Shift plants a tree, O goes on to fence, tree and pole"
            ),
            "fence": _("Fence: click where it begins; O goes on to tree and pole"),
            "tree": _("Tree: click where it stands; O goes on to the pole"),
            "pole": _("Pole: click where it stands; O goes on to wall and shed"),
        }[self.kind]

    def again(self) -> None:
        if not self.points:
            self.kind = _KINDS[(_KINDS.index(self.kind) + 1) % len(_KINDS)]
            self.closes, self.least = (False, 2) if self.kind == "fence" else (True, 3)
            self.host.update()

    def press(self, at: Pointer) -> None:
        kind = self.kind
        if at.add and kind == "block" and not self.points:
            self.kind = "tree"
        super().press(at)
        self.kind = kind

    def set_point(self, point: Point) -> None:
        if self.kind in ("block", "fence"):
            super().set_point(point)
            return
        add = add_tree if self.kind == "tree" else add_pole
        if self.host.apply(add(self.design, x_m=point[0], y_m=point[1])):
            self.figures = first_figures()
            self._select_last()
        self.host.update()

    def edit(self, points: list[Point]) -> Edit:
        return (add_fence if self.kind == "fence" else add_block)(self.design, corners=points)

    def _finish(self) -> None:
        super()._finish()
        if not self.points:
            self._select_last()

    def _select_last(self) -> None:
        self.host.session.select(Subject("obstacle", len(self.design.obstacles) - 1))

    def paint(self, board: Board) -> None:
        super().paint(board)
        if self.points or self.hand is None or self.kind in ("block", "fence"):
            return
        at = board.at(self.hand.point)
        radius = Tree().crown_radius_m if self.kind == "tree" else Pole().radius_m
        board.dot(at, max(radius * board.camera.px_per_m, 4.0), rim="accent", width=1.6)
        paint_told(board, at + QPointF(14, -14), [(_(self.kind), "accent")])
