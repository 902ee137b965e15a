"""What Pick may have in hand besides the selection itself: figures to type, or things that follow the pointer."""

from collections.abc import Callable
from contextlib import suppress
from typing import Protocol

from PySide6.QtCore import QPointF

from studio.design.design import Design
from studio.design.site import Point
from studio.desk.plan.board import Board
from studio.desk.plan.dimensions import Boxes
from studio.desk.plan.inline import Figure, Figures, paint_told
from studio.desk.plan.tools.aim import paint_place_at
from studio.desk.plan.tools.tool import Host, Pointer
from studio.edits.edit import Edit
from studio.errors import StillfieldError
from studio.text import _


class Mode(Protocol):
    """Something begun that Enter takes and Esc leaves. ``follows``: it goes with the pointer until a click sets it."""

    @property
    def figures(self) -> Figures | None:
        """What can be typed."""
        ...

    @property
    def follows(self) -> bool:
        """Whether it goes with the pointer."""
        ...

    @property
    def worth_taking(self) -> bool:
        """Whether it is taken when something else begins; what was only looked at is left."""
        ...

    @property
    def hint(self) -> str:
        """What the next move does."""
        ...

    def show(self) -> None:
        """Show what it makes, as far as that can be worked out."""

    def take(self) -> bool:
        """Make it so; whether it is done."""
        ...

    def move(self, at: Pointer) -> None:
        """The pointer moved."""

    def again(self) -> None:
        """It was asked for once more."""

    def paint(self, board: Board) -> Boxes:
        """Show figures and guides; where the figures stand, by key."""
        ...


class TypedValue:
    """One typed figure that makes an edit: an angle to turn by, an axis to mirror about, a pitch. Shown while it is typed."""

    follows = False

    def __init__(
        self,
        host: Host,
        figure: Figure,
        make: Callable[[Design, float], Edit],
        at: Point,
        *,
        axis: Callable[[float], tuple[Point, Point]] | None = None,
    ) -> None:
        self.host, self.make, self.at, self.axis = host, make, at, axis
        self.figures: Figures | None = Figures([figure])
        self.key = figure.key
        self.show()

    @property
    def hint(self) -> str:
        """What the next move does."""
        return _("Type the {figure}; Enter takes, Esc leaves").format(figure=self._figure.label)

    @property
    def worth_taking(self) -> bool:
        """Only once something is typed."""
        return bool(self._figure.typed)

    @property
    def _figure(self) -> Figure:
        assert self.figures is not None
        return self.figures[self.key]

    @property
    def value(self) -> float:
        """What is typed as far as it can be read, else what it began with."""
        assert self.figures is not None
        typed = self.figures.locked(self.key)
        return (self._figure.value or 0.0) if typed is None else typed

    def edit(self) -> Edit:
        """What it makes. Raises BadInputError where the figure will not do."""
        assert self.figures is not None
        return self.make(self.host.session.state.design, self.figures.read(self.key) or 0.0)

    def show(self) -> None:
        """Show what it makes, as far as that can be read."""
        edit = None
        with suppress(StillfieldError):
            edit = self.edit()
        self.host.preview(edit)

    def take(self) -> bool:
        """Take what is shown; whether it was done."""
        try:
            return self.host.apply(self.edit())
        except StillfieldError as error:
            self.host.tell(str(error))
            return False

    def move(self, at: Pointer) -> None:
        """It stands where it is."""

    def again(self) -> None:
        """It stands already."""

    def paint(self, board: Board) -> Boxes:
        """The figure at the middle of what is selected, and the axis."""
        assert self.figures is not None
        if self.axis is not None:
            board.polyline(self.axis(self.value), board.pen("accent", 1.2, (8, 3, 2, 3)))
        at = board.at(self.at)
        x = min(max(at.x(), 12.0), board.camera.width - 200)
        y = min(max(at.y(), 60.0), board.camera.height - 60)
        board.dot(at, 3.0, fill="accent", rim="view")
        boxes = paint_place_at(board, QPointF(x, y), self.figures, keys=(self.key,))
        paint_told(board, QPointF(x + 16, y + 20), [(self.figures.doubt, "ink")])
        return boxes
