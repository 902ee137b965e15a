"""What every tool is, and what it may ask of the canvas."""

from dataclasses import dataclass
from typing import Protocol

from PySide6.QtCore import Qt

from studio.design.design import Design
from studio.design.site import Point
from studio.desk.plan.board import Board
from studio.desk.plan.camera import Camera
from studio.desk.plan.inline import Figures
from studio.desk.session import Session
from studio.drawings.plan import PlanDrawing
from studio.edits.edit import Edit
from studio.study.findings import Finding


@dataclass(frozen=True)
class Pointer:
    """Where the hand is, in metres and pixels, and what it holds down. ``free`` turns snaps off (Alt)."""

    m: Point
    x: float
    y: float
    add: bool = False
    free: bool = False


class Host(Protocol):
    """The canvas as a tool sees it."""

    @property
    def session(self) -> Session:
        """Where edits go."""
        ...

    @property
    def camera(self) -> Camera:
        """What is in sight."""
        ...

    @property
    def drawing(self) -> PlanDrawing:
        """What is drawn now."""
        ...

    @property
    def reachable(self) -> PlanDrawing:
        """What of the drawing a hand can take: without locked layers."""
        ...

    @property
    def grid_m(self) -> float | None:
        """The grid's step while it is shown."""
        ...

    def preview(self, edit: Edit | None) -> None:
        """Show an edit that the hand still holds, at the next frame; None puts the committed design back."""

    def apply(self, edit: Edit) -> bool:
        """Commit an edit as one step of undo."""
        ...

    def tell(self, text: str) -> None:
        """One sentence to the person."""

    def update(self) -> None:
        """Paint anew soon."""

    def sees_pointer(self) -> bool:
        """Whether the mouse is over the plan."""
        ...

    def mark_under(self, at: Pointer) -> Finding | None:
        """The finding whose mark is under the hand."""
        ...


class Tool:
    """A tool. ``figures`` are what can be typed while it is in hand; None when there is nothing to type."""

    name = ""
    cursor = Qt.CursorShape.ArrowCursor

    def __init__(self, host: Host) -> None:
        self.host = host
        self.figures: Figures | None = None

    @property
    def design(self) -> Design:
        """The committed design."""
        return self.host.session.state.design

    @property
    def hint(self) -> str:
        """What the next move does, in a few words."""
        return ""

    def press(self, at: Pointer) -> None:
        """The left button went down."""

    def move(self, at: Pointer, *, held: bool) -> None:
        """The hand moved; ``held``: with the left button down."""

    def release(self, at: Pointer) -> None:
        """The left button came up."""

    def double(self, at: Pointer) -> None:
        """The left button came down twice."""
        self.press(at)

    def take(self) -> bool:
        """Enter: take what is drawn or typed; whether there was anything."""
        return False

    def step(self, by: int) -> bool:
        """Tab: the next figure, or the one before; whether there was any."""
        figures = self.figures
        if figures is None or len(figures.members) < 2 or (figures.shy and not figures.typing):
            return False
        figures.step(by)
        return True

    def rub_out(self) -> bool:
        """Backspace: take the last corner back; whether there was one."""
        return False

    def leave(self) -> bool:
        """Esc, or another tool: put back what is not done; whether there was anything."""
        return False

    def again(self) -> None:
        """It was chosen once more while in hand."""

    def typed(self) -> None:
        """A figure changed by typing."""

    def changed(self) -> None:
        """The session's state changed."""

    def paint(self, board: Board) -> None:
        """What the tool shows over the plan."""
