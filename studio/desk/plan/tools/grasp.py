"""What a drag does with what the hand has hold of: a handle of what is selected, or the thing itself."""

from collections.abc import Set as AbstractSet

from studio.desk.plan.tools import drags
from studio.desk.plan.tools.carry import MoveThings
from studio.desk.plan.tools.change import things_of
from studio.desk.plan.tools.corners import MoveCorner
from studio.desk.plan.tools.tool import Host, Pointer
from studio.desk.plan.tools.under import Handle
from studio.desk.state import Subject


def drag_by_handle(host: Host, handle: Handle, at: Pointer, ids: tuple[int, ...]) -> drags.Drag:
    """The drag of a handle; ``ids`` are the selected lines, that one handle spreads."""
    if handle.kind in ("corner", "edge"):
        return MoveCorner(host, at, handle)
    if handle.kind == "spread":
        return drags.SpreadLines(host, at, ids)
    line = host.session.state.design.line(handle.line_id)
    if handle.kind == "turn":
        return drags.TurnLine(host, at, line)
    return drags.StretchLine(host, at, line, "drive" if handle.kind == "drive" else "far")


def drag_of(host: Host, subject: Subject, at: Pointer, selection: AbstractSet[Subject]) -> drags.Drag | None:
    """The drag of a thing, and with it of all that is selected if it is; None where it is not moved by itself."""
    chosen = frozenset(selection) if subject in selection else frozenset({subject})
    things = things_of(chosen)
    if subject.kind == "line":
        return drags.MoveLines(host, at, things, int(subject.key))
    if subject.kind == "boundary" and len(things) == 1:
        return None  # the boundary alone is moved by its corners, so that a slip of the hand does not take the land away
    return MoveThings(host, at, things, subject) if len(things) else None
