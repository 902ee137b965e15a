"""Pick: selects, drags, and lets the figures of the selected line be typed where they stand."""

from PySide6.QtCore import QPointF, QRectF, Qt

from studio.design.design import Design
from studio.design.site import Point
from studio.desk.plan.board import Board
from studio.desk.plan.dimensions import paint_gap, paint_segment
from studio.desk.plan.inline import Figure, Figures, paint_told
from studio.desk.plan.rows import outline
from studio.desk.plan.tools import drags
from studio.desk.plan.tools.repeat import Repeat
from studio.desk.plan.tools.tool import Host, Pointer, Tool
from studio.desk.plan.tools.under import Handle, handle_under, handles, in_box, subject_under
from studio.desk.state import Subject
from studio.drawings.lines import line_on_plan
from studio.edits import lines as line_edits
from studio.edits import plot as plot_edits
from studio.edits.edit import Edit
from studio.edits.geometry import front_line, last_vertex, level_length, offset, pitch
from studio.edits.header import Side, clear_header, move_store
from studio.errors import StillfieldError
from studio.study.shade import overhang_m
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
        if self.repeat is not None:
            return _("Type how often, Tab for the pitch; Enter takes, Esc leaves")
        if len(self.ids) == 1:
            return _("Drag to move, type a figure, Tab for the next one, Ctrl+D repeats")
        if len(self.ids) > 1:
            return _("Drag the round handle to widen all pitches alike")
        return ""

    def changed(self) -> None:
        """Give the selected line its figures."""
        selection = self.host.session.state.selection
        if selection != self._of:
            self._of, self.open, self.held = selection, False, None
            self.figures = self._figures()
            self.boxes = {}
        if self.figures is not None and self.repeat is None:
            self._follow()

    def _figures(self) -> Figures | None:
        ids = self.ids
        if len(ids) == 1 and self._there(ids):
            members = [Figure("length", _("length"), "m"), Figure("azimuth", _("azimuth"), "°", digits=1),
                       Figure("mirrors", _("mirrors"), _("mirrors"), digits=0)]  # fmt: skip
            if pitch(self.design, self.design.line(ids[0])) is not None:
                members.insert(0, Figure("pitch", _("pitch"), "m"))
            return Figures(members)
        if len(ids) > 1 and self._there(ids):
            return Figures([Figure("pitch", _("mean pitch"), "m")])
        return None

    def _there(self, ids: tuple[int, ...]) -> bool:
        known = {line.id for line in self.host.session.state.shown.lines}
        return all(line_id in known for line_id in ids)

    def _follow(self) -> None:
        shown, ids = self.host.session.state.shown, self.ids
        assert self.figures is not None
        if not self._there(ids):
            return
        if len(ids) == 1:
            line = shown.line(ids[0])
            self.figures.follow(
                pitch=pitch(shown, line), length=level_length(line, shown.ground), azimuth=line.azimuth_deg % 360.0,
                mirrors=float(line.count),
            )  # fmt: skip
        elif len(ids) > 1:
            self.figures.follow(pitch=self._mean_pitch())

    def _mean_pitch(self) -> float:
        shown = self.host.session.state.shown
        chosen = [shown.line(line_id) for line_id in self.ids]
        lead = front_line(shown, chosen)
        return max(abs(offset(lead, line, shown.ground)) for line in chosen) / (len(chosen) - 1)

    # the mouse ---------------------------------------------------------------------------------------------------

    def press(self, at: Pointer) -> None:
        for key, box in self.boxes.items():
            if box.adjusted(-2, -2, 2, 2).contains(at.x, at.y):
                self._focus(key)
                return
        self.finish()
        self.pressed, self.dragging, self.edit = at, False, None
        mark = self.host.mark_under(at)
        if mark is not None:
            self.pressed = None
            self.host.tell(mark.sentence)
            if mark.line_id is not None:
                self.host.session.select(Subject("line", mark.line_id))
            return
        state = self.host.session.state
        handle = handle_under(
            handles(self.host.drawing, state.selection, self.host.camera), at, self.host.camera
        )
        if handle is not None and not at.add:
            self.held = handle
            self.drag = self._of_handle(handle, at)
            return
        self.held = None
        subject = subject_under(self.host.drawing, at, self.host.camera)
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
        return None

    def move(self, at: Pointer, *, held: bool) -> None:
        if not held:
            state = self.host.session.state
            over = handle_under(
                handles(self.host.drawing, state.selection, self.host.camera), at, self.host.camera
            )
            if over != self.over:
                self.over = over
                self.host.repaint()
            return
        if self.box is not None:
            self.box = (self.box[0], at.m)
            self.host.repaint()
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
        if self.box is not None:
            start, end = self.box
            self.box = None
            wide = abs(end[0] - start[0]) + abs(end[1] - start[1])
            if wide * self.host.camera.px_per_m > 2 * _SLACK_PX:
                self.host.session.select(*in_box(self.host.drawing, start, end), add=at.add)
            elif not at.add:
                self.host.session.select()
        if self.drag is not None and self.dragging and self.edit is not None:
            self.host.apply(self.edit)
        if not (self.held and self.held.kind == "corner"):
            self.held = None
        self.pressed, self.drag, self.edit, self.dragging = None, None, None, False
        self.host.repaint()

    def double(self, at: Pointer) -> None:
        self.press(at)
        if self.held is not None and self.held.kind == "edge":
            x, y = self.held.at
            self.drag = None
            self.host.apply(plot_edits.insert_corner(
                self.design, after=self.held.corner, x_m=x, y_m=y, area=self.held.area
            ))  # fmt: skip

    # the keys ----------------------------------------------------------------------------------------------------

    def _focus(self, key: str) -> None:
        figures = self.repeat.figures if self.repeat is not None else self.figures
        if figures is not None and figures.has(key):
            figures.active = next(i for i, figure in enumerate(figures.members) if figure.key == key)
            self.open = True
            self.host.repaint()

    def typed(self) -> None:
        self.open = True
        if self.repeat is not None:
            self.repeat.show()
        else:
            self._show_typed()

    def _show_typed(self) -> None:
        """Show what the typed figures make as far as they can be read."""
        try:
            edit = self._typed_edit()
        except StillfieldError:
            edit = None
        self.host.preview(edit)

    def _typed_edit(self) -> Edit | None:
        figures, design = self.figures, self.design
        if figures is None or not figures.typing:
            return None
        if len(self.ids) > 1:
            wanted, mean = figures.read("pitch") or 0.0, self._committed_pitch()
            return line_edits.scale_pitches(design, scale=wanted / mean, ids=self.ids)
        line_id, edit = self.ids[0], None
        for figure in figures.members:
            if not figure.typed:
                continue
            value = figures.read(figure.key) or 0.0
            edit = self._one(edit.design if edit else design, line_id, figure.key, value)
        return edit

    def _one(self, design: Design, line_id: int, key: str, value: float) -> Edit:
        if key == "pitch":
            return line_edits.set_pitch(design, id=line_id, pitch_m=value)
        if key == "azimuth":
            return line_edits.turn_lines(
                design, ids=[line_id], angle_deg=value - design.line(line_id).azimuth_deg
            )
        end: line_edits.End = "drive" if self.held and self.held.kind == "drive" else "far"
        if key == "mirrors":
            return line_edits.stretch_line(design, id=line_id, end=end, count=int(value))
        return line_edits.stretch_line(design, id=line_id, end=end, length_m=value)

    def _committed_pitch(self) -> float:
        chosen = [self.design.line(line_id) for line_id in self.ids]
        lead = front_line(self.design, chosen)
        extent = max(abs(offset(lead, line, self.design.ground)) for line in chosen)
        return max(extent, 1e-6) / (len(chosen) - 1)

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
        self.figures = self._figures()
        self.open, self.boxes = False, {}
        if self.figures is not None:
            self._follow()

    def take(self) -> bool:
        if self.repeat is not None:
            if self.repeat.take():
                self._end_repeat()
            return True
        if self.figures is None or not self.figures.typing:
            return False
        try:
            edit = self._typed_edit()
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
            self.host.repaint()
            return True
        return False

    def remove(self) -> bool:
        """Delete: the held corner, else everything selected; whether there was anything."""
        state = self.host.session.state
        if self.held is not None and self.held.kind == "corner":
            held, self.held = self.held, None
            try:
                self.host.apply(plot_edits.delete_corner(self.design, corner=held.corner, area=held.area))
            except StillfieldError as error:
                self.host.tell(str(error))
            return True
        if self.ids:
            self.host.apply(line_edits.delete_lines(self.design, ids=self.ids))
            return True
        for subject in state.selection:
            if subject.kind == "no_build":
                self.host.apply(plot_edits.delete_no_build(self.design, area=int(subject.key)))
                return True
            if subject.kind == "boundary":
                self.host.apply(plot_edits.clear_boundary(self.design))
                return True
            if subject.kind == "header":
                side: Side = "hot" if subject.key == "hot" else "cold"
                self.host.apply(clear_header(self.design, side=side))
                return True
        return False

    def nudge(self, dx: float, dy: float) -> Edit | None:
        """The selected things moved by an arrow key."""
        if self.ids:
            return line_edits.move_lines(self.design, ids=self.ids, dx_m=dx, dy_m=dy)
        if self.held is not None and self.held.kind == "corner":
            ring = (
                self.design.plot.boundary
                if self.held.area is None
                else self.design.plot.no_build[self.held.area].ring
            )
            x, y = ring[self.held.corner]
            return plot_edits.move_corner(
                self.design, corner=self.held.corner, x_m=x + dx, y_m=y + dy, area=self.held.area
            )
        for subject in self.host.session.state.selection:
            if subject.kind == "store":
                store = self.design.store
                return move_store(self.design, x_m=round(store.x_m + dx, 6), y_m=round(store.y_m + dy, 6))
            if subject.kind == "no_build":
                return plot_edits.move_no_build(self.design, area=int(subject.key), dx_m=dx, dy_m=dy)
            if subject.kind == "boundary":
                return plot_edits.move_boundary(self.design, dx_m=dx, dy_m=dy)
        return None

    # paint -------------------------------------------------------------------------------------------------------

    def paint(self, board: Board) -> None:
        self.boxes = {}
        state = self.host.session.state
        if self.box is not None:
            self._paint_box(board, self.box)
        if self.repeat is not None:
            self.boxes = self.repeat.paint(board)
            return
        if state.preview is not None and self._there(self.ids):
            self._paint_before(board)
        if len(self.ids) == 1 and self.figures is not None and self._there(self.ids):
            self._paint_line(board)
        elif len(self.ids) > 1 and self.figures is not None and self._there(self.ids):
            self._paint_lines(board)
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

    def _paint_before(self, board: Board) -> None:
        """Where the selected lines stood before the drag."""
        design = self.design
        for line_id in self.ids:
            line = next((line for line in design.lines if line.id == line_id), None)
            if line is not None and line is not self.host.session.state.shown.line(line_id):
                was = line_on_plan(line, design.mirror, design.ground, overhang_m(design))
                board.polyline(outline(was), board.pen("ink3", 1.0, (4, 3)), closed=True)

    def _paint_box(self, board: Board, box: tuple[Point, Point]) -> None:
        rect = QRectF(board.at(box[0]), board.at(box[1])).normalized()
        wash = board.theme.color("accent")
        wash.setAlpha(24)
        board.painter.fillRect(rect, wash)
        board.painter.setPen(board.pen("accent", 1.0))
        board.painter.setBrush(Qt.BrushStyle.NoBrush)
        board.painter.drawRect(rect)

    def _paint_line(self, board: Board) -> None:
        assert self.figures is not None
        shown = self.host.session.state.shown
        line = shown.line(self.ids[0])
        key = self.figures.now.key
        active = self.open
        if key in ("length", "azimuth", "mirrors") and active:
            start, end = board.at((line.x_m, line.y_m)), board.at(last_vertex(line, shown.ground))
            reach = shown.mirror.height_m * board.camera.px_per_m * 0.45 + 20
            self.boxes |= paint_segment(board, start, end, self.figures, away=reach, extra=("mirrors",))
        gap = drags.gap_ends(shown, line)
        if gap is not None and self.figures.has("pitch") and (key == "pitch" or not active):
            a, b = board.at(gap[0]), board.at(gap[1])
            if abs(a.x() - b.x()) + abs(a.y() - b.y()) > 6:
                self.boxes["pitch"] = paint_gap(board, a, b, self.figures["pitch"], active=active)
        if self.figures.doubt and self.boxes:
            box = next(iter(self.boxes.values()))
            paint_told(board, QPointF(box.left(), box.bottom() + 14), [(self.figures.doubt, "ink")])

    def _paint_lines(self, board: Board) -> None:
        assert self.figures is not None
        found = handles(self.host.drawing, self.host.session.state.selection, self.host.camera)
        spread = next((handle for handle in found if handle.kind == "spread"), None)
        shown = self.host.session.state.shown
        lead = front_line(shown, [shown.line(line_id) for line_id in self.ids])
        if spread is None:
            return
        top = board.at(spread.at)
        foot = board.at(drags.end_point(lead, "drive", shown))
        along = board.at(drags.end_point(lead, "far", shown)) - foot
        share = QPointF.dotProduct(top - foot, along) / max(QPointF.dotProduct(along, along), 1e-9)
        self.boxes["pitch"] = paint_gap(
            board, foot + along * share, top, self.figures["pitch"], active=self.open
        )

    def _paint_told(self, board: Board) -> None:
        assert self.drag is not None
        assert self.pressed is not None
        name = _("snap: {name}").format(name=self.drag.name) if self.drag.name else ""
        line = self.host.drawing.line(self.ids[0]) if len(self.ids) == 1 else None
        if line is not None:
            box = board.px(line.corners).reshape(-1, 2)
            at = QPointF(float(box[:, 0].mean()) - 60, float(box[:, 1].max()) + 22)
        else:
            at = QPointF(self.pressed.x + 18, self.pressed.y + 28)
        paint_told(board, at, [(self.drag.told, "accent"), (name, "accent")])
