"""Copy, cut and paste: within a window and between windows, by the system's clipboard."""

from typing import TYPE_CHECKING

from PySide6.QtCore import QByteArray, QMimeData
from PySide6.QtGui import QGuiApplication

from studio.design.obstacles import Block, Fence, corners_of
from studio.design.site import Point
from studio.desk.plan.board import Board
from studio.desk.plan.caught_by import targets_of
from studio.desk.plan.dimensions import Boxes
from studio.desk.plan.inline import Figures
from studio.desk.plan.snaps import Caught, to_centimetre
from studio.desk.plan.tools.aim import Aim, paint_caught, paint_place
from studio.desk.plan.tools.change import removal, things_of
from studio.desk.plan.tools.pick import PickTool
from studio.desk.plan.tools.tool import Host, Pointer
from studio.desk.plan.typed_place import first_figures, follow_place, read_place, typed_place
from studio.desk.session import Session
from studio.desk.state import Subject
from studio.edits.edit import Edit
from studio.edits.together import add_things, name_of
from studio.errors import StillfieldError
from studio.files.clip import MIME, Copied, clip_bytes, clip_text, copied_of, read_clip
from studio.text import _

if TYPE_CHECKING:
    from studio.desk.plan.canvas import PlanCanvas


def holds_copy() -> bool:
    """Whether the clipboard holds what was copied from a plan; a table in it is the window's."""
    return QGuiApplication.clipboard().mimeData().hasFormat(MIME)


def copy(session: Session) -> bool:
    """Put what is selected on the clipboard, for the plan and as a table; whether there was anything to copy."""
    design = session.state.design
    copied = copied_of(design, things_of(session.state.selection))
    if not len(copied):
        session.update(notice=_("Lines, no-build areas and obstacles can be copied; select some first."))
        return False
    data = QMimeData()
    data.setData(MIME, QByteArray(clip_bytes(copied)))
    data.setText(clip_text(design, copied))
    QGuiApplication.clipboard().setMimeData(data)
    return True


def cut(session: Session) -> bool:
    """Copy what is selected and take it away, in one step of undo; whether there was anything."""
    state = session.state
    chosen = frozenset(s for s in state.selection if s.kind in ("line", "no_build", "obstacle"))
    if not copy(session):
        return False
    edit = removal(state.design, chosen)
    label = _("Cut {things}").format(things=name_of(state.design, things_of(chosen)))
    return edit is not None and session.apply(Edit(label, edit.design))


def paste(canvas: "PlanCanvas") -> bool:
    """Take what the clipboard holds in hand, to be set by a click; whether there was anything for the plan."""
    session, data = canvas.session, QGuiApplication.clipboard().mimeData()
    if not holds_copy():
        session.update(notice=_("The clipboard holds nothing that was copied from a plan."))
        return False
    try:
        copied = read_clip(bytes(data.data(MIME).data()))
    except StillfieldError as error:
        session.update(notice=str(error))
        return False
    if session.state.tool != "pick":
        session.update(tool="pick")
    tool = canvas.tool
    assert isinstance(tool, PickTool)
    tool.finish()
    tool.begin(Carried(canvas, copied, canvas.pointer_m))
    return True


class Carried:
    """Copied things that follow the pointer until a click sets them. Their first corner is caught, or typed."""

    follows = True
    worth_taking = False

    def __init__(self, host: Host, copied: Copied, at: Point) -> None:
        self.host, self.copied = host, copied
        self.aim = Aim(host)
        self.targets = targets_of(host.drawing)
        self.mark = _first_mark(copied)
        self._figures = first_figures()
        self.hand = Caught(at)
        self.pointed = self.hand
        self.show()

    @property
    def figures(self) -> Figures | None:
        """Where the first corner goes."""
        return self._figures

    @property
    def hint(self) -> str:
        """What the next move does."""
        return _("Click where it goes, or type x and y of its first corner; Esc leaves it")

    def edit(self) -> Edit:
        """The things where they are held."""
        x, y = to_centimetre(self.hand) if not self._figures.typing else self.hand.point
        return add_things(
            self.host.session.state.design, lines=self.copied.lines, no_build=self.copied.no_build,
            obstacles=self.copied.obstacles, dx_m=x - self.mark[0], dy_m=y - self.mark[1],
        )  # fmt: skip

    def show(self) -> None:
        """Show the things where they are held."""
        typed = typed_place(self._figures, None, self.pointed.point, self.host.session.state.design.site)
        self.hand = self.pointed if typed is None else Caught(typed)
        follow_place(self._figures, None, self.hand.point)
        self.host.preview(self.edit())

    def move(self, at: Pointer) -> None:
        """The pointer moved."""
        self.pointed = self.aim.at(at, targets=self.targets)
        self.show()

    def again(self) -> None:
        """It is in hand already."""

    def take(self) -> bool:
        """Set the things; they are selected. Whether it was done."""
        design = self.host.session.state.design
        try:
            if self._figures.typing:
                read_place(self._figures, None, self.pointed.point, design.site)
            edit = self.edit()
        except StillfieldError as error:
            self.host.tell(str(error))
            return False
        if not self.host.apply(edit):
            return False
        known = {line.id for line in design.lines}
        new = [Subject("line", line.id) for line in edit.design.lines if line.id not in known]
        areas, others = len(design.plot.no_build), len(design.obstacles)
        new += [Subject("no_build", areas + place) for place in range(len(self.copied.no_build))]
        new += [Subject("obstacle", others + place) for place in range(len(self.copied.obstacles))]
        self.host.session.select(*new)
        return True

    def paint(self, board: Board) -> Boxes:
        """What catches the first corner."""
        paint_caught(board, self.hand, (self._figures.doubt, "ink"))
        paint_place(board, board.at(self.hand.point), self._figures)
        return {}


def _first_mark(copied: Copied) -> Point:
    """The point by which copied things are held: the first line's first mirror, else a corner, else a place."""
    if copied.lines:
        return copied.lines[0].x_m, copied.lines[0].y_m
    if copied.no_build:
        return copied.no_build[0].ring[0]
    one = copied.obstacles[0]
    return corners_of(one)[0] if isinstance(one, Block | Fence) else one.place
