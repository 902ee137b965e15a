"""What Pick shows: handles, what a drag did and what holds it, and what the next move does."""

from collections.abc import Sequence

from PySide6.QtCore import QPointF

from studio.desk.plan.board import Board
from studio.desk.plan.inline import paint_told
from studio.desk.plan.tools.aim import paint_guides
from studio.desk.plan.tools.drags import Drag
from studio.desk.plan.tools.under import Handle
from studio.drawings.lines import LineOnPlan
from studio.text import _


def hint_for(ids: Sequence[int], count: int, handles: Sequence[Handle], corner: Handle | None) -> str:
    """What the next move does with so many things selected, the lines ``ids`` among them, or with a corner held."""
    if corner is not None:
        return _("Arrow keys nudge the corner, Enter types its x and y, Delete takes it away")
    if len(ids) == 1 and count == 1:
        return _("Drag to move, type a figure; Ctrl+D repeats, Ctrl+Shift+click leaves a mirror out")
    if len(ids) > 1:
        return _("Drag the round handle to widen all pitches alike; right click arranges")
    if any(handle.kind == "corner" for handle in handles):
        return _("Drag a corner, or an edge to draw a new one out of it; Tab takes the next corner")
    return ""


def paint_handles(
    board: Board, handles: Sequence[Handle], *, held: Handle | None, over: Handle | None
) -> None:
    """Square handles at ends and corners, round ones that turn and widen, small ones in the middles of edges."""
    for handle in handles:
        at = board.at(handle.at)
        mine = held is not None and (handle.kind, handle.corner) == (held.kind, held.corner)
        if handle.kind == "edge":
            board.dot(at, 5.0 if handle == over else 3.0, fill="view", rim="accent", width=1.2)
        elif handle.kind in ("turn", "spread"):
            board.round_handle(at, held=mine or handle == over)
        else:
            board.square_handle(at, held=mine or handle == over)


def paint_drag(board: Board, drag: Drag, line: LineOnPlan | None, at: QPointF) -> None:
    """What a drag did, above its line or by the hand, and the guides that hold it."""
    paint_guides(board, drag.guides)
    name = _("snap: {name}").format(name=drag.name) if drag.name else ""
    if line is not None:
        box = board.px(line.corners).reshape(-1, 2)
        across = min(max(float(box[:, 0].mean()), 80.0), board.camera.width - 140.0)
        at = QPointF(across - 60, float(box[:, 1].min()) - 26)
    paint_told(board, at, [(" · ".join(filter(None, (drag.told, name))), "accent")])
