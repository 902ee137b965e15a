"""Pick: selects, drags, and lets the figures of the selected line be typed where they stand."""

from contextlib import suppress

from PySide6.QtCore import QPointF, QRectF, Qt

from studio.design.site import Point
from studio.desk.plan.board import Board
from studio.desk.plan.cut_line import CutLine
from studio.desk.plan.inline import paint_told
from studio.desk.plan.tools import drags, selected
from studio.desk.plan.tools.change import nudged, removal
from studio.desk.plan.tools.repeat import Repeat
from studio.desk.plan.tools.tool import Host, Pointer, Tool
from studio.desk.plan.tools.under import Handle, handle_under, handles, in_box, subject_under
from studio.desk.state import Subject
from studio.edits import plot as plot_edits
from studio.edits.edit import Edit
from studio.edits.obstacles import insert_obstacle_corner
from studio.errors import StillfieldError
from studio.text import _

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
        self.box: tuple[Point, Point] | None = None
        self.held: Handle | None = None
        self.repeat: Repeat | None = None
        self.over: Handle | None = None
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
    def hint(self) -> str:
        if self.over_cut:
            return self.cut_line.hint
        if self.repeat is not None:
            return _("Type how often, Tab for the pitch; Enter takes, Esc leaves")
        if len(self.ids) == 1:
            return _("Drag to move, type a figure, Tab for the next one, Ctrl+D repeats")
        if len(self.ids) > 1:
            return _("Drag the round handle to widen all pitches alike")
        return ""

    def changed(self) -> None:
        """Give the selected lines their figures."""
        state = self.host.session.state
        if state.selection != self._of:
            self._of, self.open, self.held = state.selection, False, None
            self.figures = selected.figures_of(self.design, self.ids)
            self.boxes = {}
        if self.repeat is not None:
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
        if self.cut_line.press(self.host.camera, at.x, at.y):
            return
        for key, box in self.boxes.items():
            if box.adjusted(-2, -2, 2, 2).contains(at.x, at.y):
                self._focus(key)
                return
        self.finish()
        self.pressed, self.dragging, self.edit = at, False, None
        state = self.host.session.state
        handle = handle_under(
            handles(self.host.drawing, state.selection, self.host.camera), at, self.host.camera
        )
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
            self.drag = self._of_handle(handle, at)
            return
        self.held = None
        subject = subject_under(self.host.reachable, at, self.host.camera)
        if subject is None:
            self.box = (at.m, at.m)
            return
        if at.add:
            self.host.session.select(subject, add=True)
            return
        if subject not in state.selection:
            self.host.session.select(subject)
        self.drag = self._of_subject(subject, at)

    def _of_handle(self, handle: Handle, at: Pointer) -> drags.Drag:
        if handle.kind in ("corner", "edge"):
            new = handle.kind == "edge"
            if handle.obstacle is not None:
                return drags.MoveObstacleCorner(
                    self.host, at, obstacle=handle.obstacle, corner=handle.corner, new=new
                )
            return drags.MoveCorner(self.host, at, area=handle.area, corner=handle.corner, new=new)
        if handle.kind == "spread":
            return drags.SpreadLines(self.host, at, self.ids)
        line = self.design.line(handle.line_id)
        if handle.kind == "turn":
            return drags.TurnLine(self.host, at, line)
        return drags.StretchLine(self.host, at, line, "drive" if handle.kind == "drive" else "far")

    def _of_subject(self, subject: Subject, at: Pointer) -> drags.Drag | None:
        if subject.kind == "line":
            ids = self.ids if subject in self.host.session.state.selection else (int(subject.key),)
            return drags.MoveLines(self.host, at, ids, int(subject.key))
        if subject.kind == "store":
            return drags.MoveStore(self.host, at)
        if subject.kind == "no_build":
            return drags.MoveArea(self.host, at, int(subject.key))
        if subject.kind == "obstacle":
            return drags.MoveObstacle(self.host, at, int(subject.key))
        return None

    def move(self, at: Pointer, *, held: bool) -> None:
        if not held:
            state = self.host.session.state
            over = handle_under(
                handles(self.host.drawing, state.selection, self.host.camera), at, self.host.camera
            )
            over_cut = bool(self.cut_line.end_under(self.host.camera, at.x, at.y))
            if over != self.over or over_cut != self.over_cut:
                self.over, self.over_cut = over, over_cut
                self.host.update()
            return
        if self.cut_line.move(at.m):
            return
        if self.box is not None:
            self.box = (self.box[0], at.m)
            self.host.update()
        if self.drag is None or self.pressed is None:
            return
        if not self.dragging and abs(at.x - self.pressed.x) + abs(at.y - self.pressed.y) < _SLACK_PX:
            return
        self.dragging = True
        if self.figures is not None and self.drag.focus:
            self.figures.clear()
            self._focus(self.drag.focus)
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
            start, end = self.box
            self.box = None
            wide = abs(end[0] - start[0]) + abs(end[1] - start[1])
            if wide * self.host.camera.px_per_m > 2 * _SLACK_PX:
                self.host.session.select(*in_box(self.host.reachable, start, end), add=at.add)
            elif not at.add:
                self.host.session.select()
        if self.drag is not None and self.dragging and self.edit is not None:
            self.host.apply(self.edit)
        if not (self.held and self.held.kind == "corner"):
            self.held = None
        self.pressed, self.drag, self.edit, self.dragging = None, None, None, False
        self.host.update()

    def double(self, at: Pointer) -> None:
        if self.cut_line.double(self.host.camera, at.x, at.y):
            return
        self.press(at)
        if self.held is not None and self.held.kind == "edge":
            x, y = self.held.at
            self.drag = None
            self.host.apply(self._new_corner(self.held, x, y))

    def _new_corner(self, edge: Handle, x: float, y: float) -> Edit:
        if edge.obstacle is not None:
            return insert_obstacle_corner(
                self.design, obstacle=edge.obstacle, after=edge.corner, x_m=x, y_m=y
            )
        return plot_edits.insert_corner(self.design, after=edge.corner, x_m=x, y_m=y, area=edge.area)

    # the keys ----------------------------------------------------------------------------------------------------

    def _focus(self, key: str) -> None:
        figures = self.repeat.figures if self.repeat is not None else self.figures
        if figures is not None and figures.has(key):
            figures.active = next(i for i, figure in enumerate(figures.members) if figure.key == key)
            self.open = True
            self.host.update()

    def typed(self) -> None:
        self.open = True
        if self.repeat is not None:
            self.repeat.show()
        else:
            self._show_typed()

    def _show_typed(self) -> None:
        """Show what the typed figures make as far as they can be read."""
        edit = None
        if self.figures is not None and self.figures.typing:
            with suppress(StillfieldError):
                edit = selected.typed_edit(self.figures, self.design, self.ids, self.held)
        self.host.preview(edit)

    def begin_repeat(self) -> bool:
        """Show copies of the selected lines; a second time adds one more. Whether there are any."""
        if self.repeat is not None:
            times = self.repeat.figures["times"]
            times.value, times.typed = (self.repeat.figures.read("times") or 0.0) + 1, ""
            self.repeat.show()
            return True
        if not self.ids:
            return False
        self.repeat = Repeat(self.host, self.ids)
        self.figures = self.repeat.figures
        self.open = True
        return True

    def _end_repeat(self) -> None:
        self.repeat = None
        self.figures = selected.figures_of(self.design, self.ids)
        self.open, self.boxes = False, {}
        if self.figures is not None:
            selected.follow(self.figures, self.host.session.state.shown, self.ids)

    def take(self) -> bool:
        if self.repeat is not None:
            if self.repeat.take():
                self._end_repeat()
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
        """Take what is shown before something else begins; what cannot be read is left."""
        if self.repeat is not None or (self.figures is not None and self.figures.typing):
            self.take()
            self.leave()

    def leave(self) -> bool:
        if self.cut_line.leave():
            return True
        if self.drag is not None and self.dragging:
            self.pressed, self.drag, self.edit, self.dragging = None, None, None, False
            self.host.preview(None)
            return True
        if self.repeat is not None:
            self.host.preview(None)
            self._end_repeat()
            return True
        if self.figures is not None and self.figures.typing:
            self.figures.clear()
            self.host.preview(None)
            return True
        if self.open:
            self.open = False
            self.host.update()
            return True
        return False

    def remove(self) -> bool:
        """Delete: the held corner, else everything selected; whether there was anything."""
        try:
            edit = removal(self.design, self.host.session.state.selection, self.held)
        except StillfieldError as error:
            self.host.tell(str(error))
            return True
        self.held = None
        return edit is not None and self.host.apply(edit)

    def nudge(self, dx: float, dy: float) -> Edit | None:
        """What is selected, moved by arrow keys."""
        return nudged(self.design, self.host.session.state.selection, self.held, dx, dy)

    # paint -------------------------------------------------------------------------------------------------------

    def paint(self, board: Board) -> None:
        self.boxes = {}
        state = self.host.session.state
        if self.box is not None:
            self._paint_box(board, self.box)
        if self.repeat is not None:
            self.boxes = self.repeat.paint(board)
            return
        if state.preview is not None:
            selected.paint_before(board, self.design, state.shown, self.ids)
        if self.figures is not None:
            self.boxes = selected.paint_figures(board, self.figures, state.shown, self.ids, active=self.open)
        for handle in handles(self.host.drawing, state.selection, self.host.camera):
            at = board.at(handle.at)
            held = self.held is not None and (handle.kind, handle.corner) == (
                self.held.kind,
                self.held.corner,
            )
            if handle.kind == "edge":
                board.dot(at, 5.0 if handle == self.over else 3.0, fill="view", rim="accent", width=1.2)
            elif handle.kind in ("turn", "spread"):
                board.round_handle(at, held=held or handle == self.over)
            else:
                board.square_handle(at, held=held or handle == self.over)
        if self.drag is not None and self.dragging and self.pressed is not None:
            self._paint_told(board)

    def _paint_box(self, board: Board, box: tuple[Point, Point]) -> None:
        rect = QRectF(board.at(box[0]), board.at(box[1])).normalized()
        wash = board.theme.color("accent")
        wash.setAlpha(24)
        board.painter.fillRect(rect, wash)
        board.painter.setPen(board.pen("accent", 1.0))
        board.painter.setBrush(Qt.BrushStyle.NoBrush)
        board.painter.drawRect(rect)

    def _paint_told(self, board: Board) -> None:
        assert self.drag is not None
        assert self.pressed is not None
        name = _("snap: {name}").format(name=self.drag.name) if self.drag.name else ""
        line = self.host.drawing.line(self.ids[0]) if len(self.ids) == 1 else None
        if line is not None:
            box = board.px(line.corners).reshape(-1, 2)
            across = min(max(float(box[:, 0].mean()), 80.0), board.camera.width - 140.0)
            at = QPointF(across - 60, float(box[:, 1].min()) - 26)
        else:
            at = QPointF(self.pressed.x + 18, self.pressed.y + 28)
        paint_told(board, at, [(" · ".join(filter(None, (self.drag.told, name))), "accent")])
