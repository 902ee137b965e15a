"""Pick: selects, drags, and lets the figures of the selected line be typed where they stand."""

from contextlib import suppress

from PySide6.QtCore import QPointF, QRectF

from studio.desk.plan.board import Board
from studio.desk.plan.cut_line import CutLine
from studio.desk.plan.inline import Figures
from studio.desk.plan.tools import drags, selected
from studio.desk.plan.tools.change import nudged, removal
from studio.desk.plan.tools.corners import (
    TypeCorner,
    edge_under,
    moved_corner,
    new_corner,
    owner,
    ring_with,
    without_corner,
)
from studio.desk.plan.tools.grasp import drag_by_handle, drag_of
from studio.desk.plan.tools.mirrors import take_one
from studio.desk.plan.tools.mode import Mode
from studio.desk.plan.tools.pick_box import PickBox
from studio.desk.plan.tools.picked import hint_for, paint_drag, paint_handles
from studio.desk.plan.tools.repeat import Repeat
from studio.desk.plan.tools.tool import Host, Pointer, Tool
from studio.desk.plan.tools.under import (
    EDGE_PX,
    Handle,
    handle_under,
    handles,
    next_beneath,
    subject_under,
    subjects_under,
)
from studio.desk.state import Subject
from studio.edits.edit import Edit
from studio.errors import StillfieldError

_SLACK_PX = 4.0


class PickTool(Tool):
    """The hand that takes things."""

    name = "pick"

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.pressed: Pointer | None = None
        self.drag: drags.Drag | None = None
        self.dragging = False
        self.edit: Edit | None = None
        self.box: PickBox | None = None
        self.held: Handle | None = None
        self.mode: Mode | None = None
        self.over: Handle | None = None
        self.at: Pointer | None = None
        self.boxes: dict[str, QRectF] = {}
        self.cut_line, self.over_cut = CutLine(host.session), False
        self._of: frozenset[Subject] = frozenset()
        self.open = False
        self.changed()

    # what is selected --------------------------------------------------------------------------------------------

    @property
    def ids(self) -> tuple[int, ...]:
        """Ids of the selected lines."""
        return self.host.session.state.selected_lines()

    @property
    def selection(self) -> frozenset[Subject]:
        """What is selected."""
        return self.host.session.state.selection

    @property
    def handles(self) -> list[Handle]:
        """The handles of what is selected."""
        state = self.host.session.state
        return handles(self.host.drawing, state.selection, self.host.camera, state.shown.header)

    @property
    def hint(self) -> str:
        if self.over_cut:
            return self.cut_line.hint
        if self.mode is not None:
            return self.mode.hint
        return hint_for(self.ids, len(self.selection), self.handles, self._corner_held)

    def changed(self) -> None:
        """Give the selected lines their figures."""
        state = self.host.session.state
        if state.selection != self._of:
            self._of, self.open, self.held = state.selection, False, None
            if self.mode is not None and not self.mode.follows:
                self.mode = None
            self.figures = selected.figures_of(self.design, self.ids)
            self.boxes = {}
        if self.mode is not None:
            self.figures = self.mode.figures
            return
        if self.figures is None or (not self.figures.typing and not self.dragging):
            self._renew()
        if self.figures is not None:
            selected.follow(self.figures, state.shown, self.ids)

    def _renew(self) -> None:
        """A neighbour came or went: the pitch comes or goes with it."""
        wanted = selected.figures_of(self.design, self.ids)
        mine = [figure.key for figure in self.figures.members] if self.figures else []
        if mine != ([figure.key for figure in wanted.members] if wanted else []):
            self.figures = wanted

    # the mouse ---------------------------------------------------------------------------------------------------

    def press(self, at: Pointer) -> None:
        if self.mode is not None and self.mode.follows:
            self.mode.move(at)
            self.take()
            return
        if self.cut_line.press(self.host.camera, at.x, at.y):
            return
        for key, box in self.boxes.items():
            if box.adjusted(-2, -2, 2, 2).contains(at.x, at.y):
                self._focus(key)
                return
        self.finish()
        if at.one and take_one(self.host, at):
            return
        self.pressed, self.dragging, self.edit = at, False, None
        handle = handle_under(self.handles, at, self.host.camera)
        # a handle of what is selected comes before a finding's mark that happens to lie under it
        mark = self.host.mark_under(at) if handle is None else None
        if mark is not None:
            self.pressed = None
            self.host.tell(mark.sentence)
            if mark.line_id is not None:
                self.host.session.select(Subject("line", mark.line_id))
            return
        if handle is not None and not at.add:
            self.held = handle
            self.drag = drag_by_handle(self.host, handle, at, self.ids)
            return
        self.held = None
        subject = subject_under(self.host.reachable, at, self.host.camera)
        if subject is None:
            self.box = PickBox(at.m)
            return
        if at.add:
            self.host.session.select(subject, add=True)
            return
        if subject not in self.selection:
            beneath = self.selection & frozenset(subjects_under(self.host.reachable, at, self.host.camera))
            if len(beneath) == 1 and len(self.selection) == 1:
                (subject,) = beneath  # Tab went to it: a drag takes it, and not what lies above it
            else:
                self.host.session.select(subject)
        self.drag = drag_of(self.host, subject, at, self.selection)

    def move(self, at: Pointer, *, held: bool) -> None:
        self.at = at
        if self.mode is not None and self.mode.follows:
            self.mode.move(at)
            return
        if not held:
            over = handle_under(self.handles, at, self.host.camera)
            over_cut = bool(self.cut_line.end_under(self.host.camera, at.x, at.y))
            if over != self.over or over_cut != self.over_cut:
                self.over, self.over_cut = over, over_cut
                self.host.update()
            return
        if self.cut_line.move(at.m):
            return
        if self.box is not None:
            self.box.move(at)
            self.host.update()
        if self.drag is None or self.pressed is None:
            return
        if not self.dragging and abs(at.x - self.pressed.x) + abs(at.y - self.pressed.y) < _SLACK_PX:
            return
        self.dragging = True
        if self.figures is not None and self.drag.focus:
            self.figures.clear()
            self._turn_to(self.drag.focus)
        try:
            self.edit = self.drag.to(at)
        except StillfieldError as error:
            self.host.tell(str(error))
            return
        self.host.preview(self.edit)

    def release(self, at: Pointer) -> None:
        if self.cut_line.release(at.m):
            return
        self.move(at, held=True)  # the hand may have gone on since it was last seen
        if self.box is not None:
            self.box.take(self.host, add=at.add)
            self.box = None
        if self.drag is not None and self.dragging and self.edit is not None:
            self.host.apply(self.edit)
        if not (self.held and self.held.kind == "corner"):
            self.held = None
        self.pressed, self.drag, self.edit, self.dragging = None, None, None, False
        self.host.update()

    def double(self, at: Pointer) -> None:
        """On a corner: type its place; on an edge of what is selected: a corner there; on an end of the cut: its section."""
        if self.cut_line.double(self.host.camera, at.x, at.y):
            return
        handle = handle_under(self.handles, at, self.host.camera)
        if handle is not None and handle.kind == "corner":
            self.pressed = self.drag = None
            self.held = handle
            self.begin(TypeCorner(self.host, handle))
            return
        on_edge = edge_under(self.design, self.handles, at.m, EDGE_PX / self.host.camera.px_per_m)
        if on_edge is None:
            self.press(at)
            return
        self.finish()
        self.pressed = self.drag = self.held = None
        edge, place = on_edge
        self.host.apply(new_corner(self.design, edge, handle.at if handle is not None else place))

    # the keys ----------------------------------------------------------------------------------------------------

    def step(self, by: int) -> bool:
        """Tab: to the next figure, to what lies beneath the pointer, or to the next corner; whether there was any."""
        if self.figures is not None and len(self.figures.members) > 1:
            self.open = True
            self.figures.step(by)
            return True
        if self.mode is not None:
            return False
        if self.held is None and self.beneath(by):
            return True
        corners = [handle for handle in self.handles if handle.kind == "corner"]
        if not corners:
            return False
        now = self.held.corner if self.held is not None else (-1 if by > 0 else 0)
        self.held = corners[(now + by) % len(corners)]
        return True

    def beneath(self, by: int) -> bool:
        """Select what lies beneath what is selected, under the pointer; whether there is anything."""
        if self.at is None or len(self.selection) != 1 or not self.host.sees_pointer():
            return False
        (chosen,) = self.selection
        found = next_beneath(self.host.reachable, self.at, self.host.camera, chosen, by)
        if found is not None:
            self.host.session.select(found)
        return found is not None

    def _focus(self, key: str) -> None:
        self._turn_to(key)
        self.host.update()

    def _turn_to(self, key: str) -> None:
        if self.figures is not None and self.figures.has(key):
            self.figures.active = next(
                i for i, figure in enumerate(self.figures.members) if figure.key == key
            )
            self.open = True

    def typed(self) -> None:
        self.open = True
        if self.mode is not None:
            self.mode.show()
            return
        edit = None
        if self.figures is not None and self.figures.typing:
            with suppress(StillfieldError):  # show what the typed figures make as far as they can be read
                edit = selected.typed_edit(self.figures, self.design, self.ids, self.held)
        self.host.preview(edit)

    def begin(self, mode: Mode) -> None:
        """Take something in hand that Enter takes and Esc leaves."""
        self.mode, self.open = mode, True
        self.figures: Figures | None = mode.figures
        self.host.update()

    def begin_repeat(self) -> bool:
        """Show copies of the selected lines; a second time adds one more. Whether there are any."""
        if isinstance(self.mode, Repeat):
            self.mode.again()
            return True
        self.finish()
        if not self.ids:
            return False
        self.begin(Repeat(self.host, self.ids))
        return True

    def _end_mode(self) -> None:
        self.mode = None
        self.figures = selected.figures_of(self.design, self.ids)
        self.open, self.boxes = False, {}
        if self.figures is not None:
            selected.follow(self.figures, self.host.session.state.shown, self.ids)
        self.host.update()

    def take(self) -> bool:
        if self.mode is not None:
            if self.mode.take():
                self._end_mode()
            return True
        if self.held is not None and self.held.kind == "corner" and self.held in self.handles:
            self.begin(TypeCorner(self.host, self.held))
            return True
        if self.figures is None or not self.figures.typing:
            return False
        try:
            edit = selected.typed_edit(self.figures, self.design, self.ids, self.held)
        except StillfieldError as error:
            self.host.tell(str(error))
            return True
        self.figures.clear()
        if edit is not None:
            self.host.apply(edit)
        return True

    def finish(self) -> None:
        """Take what is shown before something else begins; what cannot be read, or was only looked at, is left."""
        if self.mode is not None and not self.mode.worth_taking:
            self.leave()
        elif self.mode is not None or (self.figures is not None and self.figures.typing):
            self.take()
            self.leave()

    def leave(self) -> bool:
        if self.cut_line.leave():
            return True
        if self.drag is not None and self.dragging:
            self.pressed, self.drag, self.edit, self.dragging = None, None, None, False
            self.host.preview(None)
            return True
        if self.mode is not None:
            self.host.preview(None)
            self._end_mode()
            return True
        if self.figures is not None and self.figures.typing:
            self.figures.clear()
            self.host.preview(None)
            return True
        if self.open or self.held is not None:
            self.open, self.held = False, None
            self.host.update()
            return True
        return False

    def remove(self) -> bool:
        """Delete: the held corner, else everything selected; whether there was anything."""
        try:
            held = self._corner_held
            edit = removal(self.design, self.selection) if held is None else without_corner(self.design, held)
        except StillfieldError as error:
            self.host.tell(str(error))
            return True
        self.held = None
        return edit is not None and self.host.apply(edit)

    @property
    def _corner_held(self) -> Handle | None:
        return self.held if self.held is not None and self.held.kind == "corner" else None

    def nudge(self, dx: float, dy: float) -> Edit | None:
        """The held corner, else what is selected, moved by arrow keys."""
        if self.mode is not None:
            return None
        corner = self._corner_held
        if corner is not None and owner(corner) in self.selection:
            x, y = ring_with(self.design, corner)[0][corner.corner]
            return moved_corner(self.design, corner, (x + dx, y + dy))
        return nudged(self.design, self.selection, dx, dy)

    # paint -------------------------------------------------------------------------------------------------------

    def paint(self, board: Board) -> None:
        self.boxes = {}
        state = self.host.session.state
        if self.box is not None:
            self.box.paint(board)
        if self.mode is not None:
            self.boxes = self.mode.paint(board)
            return
        if state.preview is not None:
            selected.paint_before(board, self.design, state.shown, self.ids)
        if self.figures is not None:
            self.boxes = selected.paint_figures(board, self.figures, state.shown, self.ids, active=self.open)
        paint_handles(board, self.handles, held=self.held, over=self.over)
        if self.drag is not None and self.dragging and self.at is not None:
            line = self.host.drawing.line(self.ids[0]) if len(self.ids) == 1 else None
            paint_drag(board, self.drag, line, QPointF(self.at.x + 18, self.at.y + 28))
