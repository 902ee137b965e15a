"""Pointing with a tool: what catches the hand, what was typed instead, and how both are painted."""

from collections.abc import Sequence

from PySide6.QtCore import QPointF, QRectF

from studio.design.site import Point
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.caught_by import targets_of
from studio.desk.plan.inline import Figures, figure_box, paint_figure, paint_told, plate
from studio.desk.plan.snaps import Caught, catch, ways_from, ways_near
from studio.desk.plan.targets import Targets
from studio.desk.plan.tools.tool import Host, Pointer
from studio.text import _


class Aim:
    """Catches the hand of one tool, and remembers what held it last, so that it does not flicker."""

    def __init__(self, host: Host) -> None:
        self.host = host
        self.held: Caught | None = None
        self._joined: tuple[Targets, Targets | None, Targets] | None = None

    def at(
        self,
        at: Pointer,
        *,
        start: Point | None = None,
        before: float | None = None,
        own: Targets | None = None,
        targets: Targets | None = None,
        parallel: Sequence[tuple[float, str]] = (),
        grid: bool = True,
    ) -> Caught:
        """Where the hand is caught. ``start`` begins the segment that is drawn, ``before`` is the azimuth of the one before,
        ``own`` what the tool itself has drawn, ``parallel`` directions to be parallel to."""
        if at.free:
            self.held = None
            return Caught(at.m)
        around = self._with(targets_of(self.host.drawing) if targets is None else targets, own)
        px = self.host.camera.px_per_m
        ways = []
        if start is not None:
            ways = [*ways_from(before, parallel), *ways_near(around, start, at.m, px_per_m=px)]
        self.held = catch(
            at.m, px_per_m=px, targets=around, start=start, ways=ways,
            grid_m=self.host.grid_m if grid else None, held=self.held,
        )  # fmt: skip
        return self.held

    def _with(self, around: Targets, own: Targets | None) -> Targets:
        """Both together, put together anew only where one of them is another."""
        kept = self._joined
        if kept is None or kept[0] is not around or kept[1] is not own:
            kept = self._joined = around, own, around.joined(own)
        return kept[2]


def snap_said(caught: Caught | None) -> str:
    """The snap's name as it is told by the hand."""
    return _("snap: {name}").format(name=caught.name) if caught is not None and caught.name else ""


def paint_guides(board: Board, guides: Sequence[tuple[Point, Point]]) -> None:
    """The lines that hold the hand, thin."""
    for start, end in guides:
        board.stroke(path_of(board.px([start, end])), board.pen("accent", 1.0, (2, 3)))


def paint_caught(board: Board, caught: Caught, *told: tuple[str, str]) -> None:
    """Where the hand is, what catches it, and what else is told there."""
    paint_guides(board, caught.guides)
    at = board.at(caught.point)
    if caught.kind in ("corner", "crossing", "square"):
        board.square_handle(at, held=False, half=4.0)
    else:
        board.dot(at, 4.0, fill="view", rim="accent", width=1.6)
    paint_told(board, at + QPointF(12, 22), [(snap_said(caught), "accent"), *told])


def paint_place(board: Board, at: QPointF, figures: Figures) -> None:
    """The figures of the place itself, where one of them is being typed."""
    if not (figures.has("x") and (figures.now.key in ("x", "y") or figures["x"].typed or figures["y"].typed)):
        return
    if not figures.shy or figures.typing:
        paint_place_at(board, at, figures, keys=("x", "y"))


def paint_place_at(
    board: Board, at: QPointF, figures: Figures, *, keys: Sequence[str] = ("x", "y", "length", "azimuth")
) -> dict[str, QRectF]:
    """Figures in a row above a place, each with its name before it; where they can be clicked, by key."""
    shown = [figures[key] for key in keys if figures.has(key)]
    widths = [board.width(one.label, 12, 500) + 16 + figure_box(board, at, one).width() for one in shown]
    left = max(min(at.x() + 16, board.camera.width - sum(widths) - 8), 8.0)
    spot = QPointF(left, at.y() - 34 if at.y() > 60 else at.y() + 40)
    boxes = {}
    for figure in shown:
        wide = board.width(figure.label, 12, 500)
        plate(board, QRectF(spot.x() - 3, spot.y() - 9, wide + 8, 18))
        board.text(spot + QPointF(0, 4), figure.label, size=12, weight=500, role="accent")
        middle = QPointF(spot.x() + wide + 6 + figure_box(board, spot, figure).width() / 2, spot.y())
        boxes[figure.key] = paint_figure(board, middle, figure, active=figures.now.key == figure.key)
        spot = QPointF(boxes[figure.key].right() + 10, spot.y())
    return boxes
