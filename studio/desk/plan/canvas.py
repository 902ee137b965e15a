"""The plan's canvas: shows the drawing, moves the camera, and hands mouse and keys to the tool in hand."""

from collections.abc import Callable
from dataclasses import replace
from time import monotonic

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPixmap,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from studio.desk.plan import furniture, land, rows
from studio.desk.plan.board import Board
from studio.desk.plan.camera import Camera
from studio.desk.plan.inline import paint_told
from studio.desk.plan.nudges import Nudges
from studio.desk.plan.sprites import Sprites
from studio.desk.plan.tools.land import HeaderTool, NoBuildTool, PlotTool
from studio.desk.plan.tools.line import LineTool
from studio.desk.plan.tools.pick import PickTool
from studio.desk.plan.tools.place import MeasureTool, StoreTool
from studio.desk.plan.tools.tool import Pointer, Tool
from studio.desk.session import Session
from studio.desk.state import State, Subject
from studio.desk.theme import Theme
from studio.drawings.plan import PlanDrawing, plan_drawing
from studio.edits.edit import Edit
from studio.edits.geometry import compass_word, ground_height
from studio.study.findings import Finding
from studio.text import _, number

TOOLS: dict[str, type[Tool]] = {
    tool.name: tool
    for tool in (PickTool, PlotTool, NoBuildTool, LineTool, HeaderTool, StoreTool, MeasureTool)
}
LETTERS = {
    "k": "pick",
    "p": "plot",
    "n": "no_build",
    "l": "line",
    "h": "header",
    "s": "store",
    "m": "measure",
}
"""Single letters that choose tools while nothing is being typed."""
_FRAME_S = 1 / 60
_ARROWS = {
    Qt.Key.Key_Left: (-1.0, 0.0), Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0), Qt.Key.Key_Down: (0.0, -1.0),
}  # fmt: skip
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
_PAN_PX = 60.0


class PlanCanvas(QWidget):
    """The land from above at true scale."""

    camera_changed = Signal()

    def __init__(self, session: Session, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self.theme = session, theme
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(240, 180)
        self._camera = Camera()
        self._fitted = False
        self._sprites = Sprites()
        self._drawing: PlanDrawing | None = None
        self._under: tuple[tuple[object, ...], QPixmap] | None = None
        self._shade: tuple[tuple[object, ...], bool, QPixmap] | None = None
        self._rest = QTimer(self, singleShot=True, interval=120)
        self._rest.timeout.connect(self.update)
        self._pointer: Pointer | None = None
        self._pan_from: QPointF | None = None
        self._space = False
        self._pending: tuple[Edit | None] | None = None
        self._last_frame = 0.0
        self._frame = QTimer(self, singleShot=True, timerType=Qt.TimerType.PreciseTimer)
        self._frame.timeout.connect(self.flush)
        self.nudges = Nudges(self)
        self.tool: Tool = TOOLS[session.state.tool if session.state.tool in TOOLS else "pick"](self)
        session.changed.connect(self._on_changed)
        session.go_to.connect(self._on_go_to)
        theme.changed.connect(self.repaint)

    # what tools ask ----------------------------------------------------------------------------------------------

    @property
    def session(self) -> Session:
        """Where edits go."""
        return self._session

    @property
    def camera(self) -> Camera:
        """What is in sight."""
        return self._camera

    @property
    def drawing(self) -> PlanDrawing:
        """What is drawn now; worked out once for each state that changes it."""
        if self._drawing is None:
            state = self._session.state
            findings = state.assessment.findings if state.assessment is not None else ()
            self._drawing = plan_drawing(
                state.shown, day_of_year=state.moment.day_of_year, clock_h=state.moment.clock_h, findings=findings,
                shadows="shadows" in state.layers, tint="tint" in state.layers,
            )  # fmt: skip
        return self._drawing

    @property
    def grid_m(self) -> float | None:
        """The grid's step while it is shown."""
        if "grid" not in self._session.state.layers:
            return None
        return land.grid_step(self._camera.px_per_m) / 5

    def preview(self, edit: Edit | None) -> None:
        """Show an edit that the hand still holds: the newest one at each frame, however fast the hand is."""
        self._pending = (edit,)
        wait = _FRAME_S - (monotonic() - self._last_frame)
        if wait <= 0:
            self.flush()
        elif not self._frame.isActive():
            self._frame.start(max(1, int(wait * 1000)))

    def flush(self) -> None:
        """Show what waits for its frame."""
        if self._pending is None:
            return
        (edit,), self._pending = self._pending, None
        self._last_frame = monotonic()
        design = edit.design if edit is not None else None
        if design is not self._session.state.preview:
            self._session.preview(design)

    def apply(self, edit: Edit) -> bool:
        """Commit an edit as one step of undo."""
        self._pending = None
        return self._session.apply(edit)

    def tell(self, text: str) -> None:
        """One sentence to the person."""
        self._session.update(notice=text)

    def repaint(self) -> None:  # type: ignore[override]
        """Paint anew soon."""
        self.update()

    def mark_under(self, at: Pointer) -> Finding | None:
        """The finding whose mark is under the hand."""
        found = furniture.marks_px(self._camera, self.drawing)
        return next(
            (f for f, spot in reversed(found) if (spot - QPointF(at.x, at.y)).manhattanLength() < 14), None
        )

    # the camera --------------------------------------------------------------------------------------------------

    def fit(self) -> None:
        """Everything in sight."""
        self._look(self._camera.fitted(self.drawing.bounds))
        self._fitted = True

    def _look(self, camera: Camera) -> None:
        self._camera = camera
        self._rest.start()
        self.camera_changed.emit()
        self.update()

    def _on_go_to(self, x: float, y: float) -> None:
        x0, y0, x1, y1 = self._camera.bounds
        room = 0.12 * (x1 - x0)
        if not (x0 + room < x < x1 - room and y0 + room < y < y1 - room):
            at = self._camera.to_px((x, y))
            dx, dy = self._camera.width / 2 - float(at[0]), self._camera.height / 2 - float(at[1])
            self._look(self._camera.panned(dx, dy))
        self._fitted = False

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._camera = replace(self._camera, width=float(self.width()), height=float(self.height()))
        if self._fitted or event.oldSize().width() <= 0:
            self.fit()
        else:
            self.camera_changed.emit()

    # the session -------------------------------------------------------------------------------------------------

    def _on_changed(self, old: State, new: State) -> None:
        first = old.document is not new.document and old.path != new.path
        if (
            new.shown is not old.shown
            or new.moment != old.moment
            or new.layers != old.layers
            or new.assessment is not old.assessment
        ):
            self._drawing = None
        if new.document is not old.document and new.saved_design is not old.saved_design and not new.undo:
            first = True
        if new.tool != old.tool:
            self._take_up(new.tool)
        self.nudges.changed(new)
        self.tool.changed()
        if first:
            self.fit()
        self.update()

    def _take_up(self, name: str) -> None:
        self.nudges.commit()
        if isinstance(self.tool, PickTool):
            self.tool.finish()
        self.tool.leave()
        self.tool.leave()
        self.tool = TOOLS.get(name, PickTool)(self)
        self.setCursor(self.tool.cursor)

    # the mouse ---------------------------------------------------------------------------------------------------

    def _at(self, event: QMouseEvent) -> Pointer:
        spot, held = event.position(), event.modifiers()
        x, y = self._camera.to_m(spot.x(), spot.y())
        return Pointer(
            (float(x), float(y)), spot.x(), spot.y(),
            add=bool(held & Qt.KeyboardModifier.ShiftModifier), free=bool(held & Qt.KeyboardModifier.AltModifier),
        )  # fmt: skip

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self.nudges.commit()
        self._pointer = at = self._at(event)
        if event.button() is Qt.MouseButton.MiddleButton or (
            event.button() is Qt.MouseButton.LeftButton and self._space
        ):
            self._pan_from = event.position()
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
        elif event.button() is Qt.MouseButton.LeftButton:
            if self._session.state.notice:
                self.tell("")
            self.tool.press(at)
        self.update()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        if event.button() is Qt.MouseButton.LeftButton and not self._space:
            self.tool.double(self._at(event))
            self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        self._pointer = at = self._at(event)
        if self._pan_from is not None:
            by = event.position() - self._pan_from
            self._pan_from = event.position()
            self._fitted = False
            self._look(self._camera.panned(by.x(), by.y()))
            return
        self.tool.move(at, held=bool(event.buttons() & Qt.MouseButton.LeftButton))
        self.update(QRectF(0, self.height() - 44, self.width(), 44).toRect())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._pan_from is not None:
            self._pan_from = None
            self.setCursor(Qt.CursorShape.OpenHandCursor if self._space else self.tool.cursor)
        elif event.button() is Qt.MouseButton.LeftButton:
            self.tool.release(self._at(event))
        self.update()

    def leaveEvent(self, event: QEvent) -> None:
        self._pointer = None
        self.update()

    def wheelEvent(self, event: QWheelEvent) -> None:
        turn = event.angleDelta().y() or event.angleDelta().x()
        self._fitted = False
        self._look(self._camera.zoomed(1.0015**turn, event.position().x(), event.position().y()))
        event.accept()

    # the keys ----------------------------------------------------------------------------------------------------

    def event(self, event: QEvent) -> bool:
        if event.type() is QEvent.Type.ShortcutOverride and isinstance(event, QKeyEvent):
            if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                self.nudges.commit()
            elif self._wants(event):
                event.accept()
                return True
        if (
            event.type() is QEvent.Type.KeyPress
            and isinstance(event, QKeyEvent)
            and self._step_figures(event)
        ):
            event.accept()
            return True
        return super().event(event)

    def _wants(self, event: QKeyEvent) -> bool:
        """Keys that are the canvas' own while it has the focus, whatever shortcuts the window has."""
        typing = self.tool.figures is not None and self.tool.figures.now.typed
        plain = bool(event.text()) and event.text().isprintable()
        return bool(typing and plain) or (plain and event.text() in "0123456789.,-(") or event.key() in (
            Qt.Key.Key_Backspace, Qt.Key.Key_Delete, Qt.Key.Key_Escape, *_ENTER, *_ARROWS
        )  # fmt: skip

    def _step_figures(self, event: QKeyEvent) -> bool:
        back = event.key() == Qt.Key.Key_Backtab
        figures = self.tool.figures
        if not (back or event.key() == Qt.Key.Key_Tab) or figures is None or len(figures.members) < 2:
            return False
        if isinstance(self.tool, PickTool) and not self.tool.open:
            self.tool.open = True
        figures.step(-1 if back else 1)
        self.update()
        return True

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, text = event.key(), event.text()
        held = event.modifiers()
        control = bool(held & Qt.KeyboardModifier.ControlModifier)
        handled = self._typing_key(key, text, control=control) or self._tool_key(key, held, control=control)
        if not handled and not control:
            handled = self._view_key(key, text)
        if not handled:
            event.ignore()
            return
        self.update()

    def _typing_key(self, key: int, text: str, *, control: bool) -> bool:
        figures = self.tool.figures
        if key in _ENTER:
            self.nudges.commit()
            return self.tool.take()
        if key == Qt.Key.Key_Escape:
            if self.nudges.drop() or self.tool.leave():
                return True
            if self._session.state.tool != "pick":
                self._session.update(tool="pick")
            elif self._session.state.selection:
                self._session.select()
            return True
        if figures is None or control:
            return False
        taken = figures.rub_out() if key == Qt.Key.Key_Backspace else figures.key(text)
        if taken:
            self.nudges.commit()
            self.tool.typed()
            self.flush()
        return taken

    def _tool_key(self, key: int, held: Qt.KeyboardModifier, *, control: bool) -> bool:
        pick = self.tool if isinstance(self.tool, PickTool) else None
        if control and key == Qt.Key.Key_D:
            return self.repeat_selected()
        if control and key == Qt.Key.Key_A:
            return self._select_all()
        if key == Qt.Key.Key_Backspace and pick is None:
            rub_out = getattr(self.tool, "rub_out", None)
            return bool(rub_out and rub_out())
        if pick is None or control:
            return False
        if key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self.nudges.commit()
            return pick.remove()
        if key in _ARROWS and self._session.state.selection:
            metres = 1.0 if held & Qt.KeyboardModifier.ShiftModifier else 0.1
            dx, dy = _ARROWS[Qt.Key(key)]
            return self.nudges.by(dx * metres, dy * metres)
        return False

    def _view_key(self, key: int, text: str) -> bool:
        letter = text.casefold()
        middle = self._pointer or Pointer((0, 0), self.width() / 2, self.height() / 2)
        if letter in LETTERS:
            self._session.update(tool=LETTERS[letter])
        elif letter == "f":
            self.fit()
        elif text in ("+", "=", "-"):
            self._fitted = False
            self._look(self._camera.zoomed(1 / 1.25 if text == "-" else 1.25, middle.x, middle.y))
        elif key == Qt.Key.Key_Space:
            self._space = True
            if self._pan_from is None:
                self.setCursor(Qt.CursorShape.OpenHandCursor)
        elif key in _ARROWS:
            dx, dy = _ARROWS[Qt.Key(key)]
            self._fitted = False
            self._look(self._camera.panned(-dx * _PAN_PX, dy * _PAN_PX))
        else:
            return False
        return True

    def keyReleaseEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space = False
            self.setCursor(self.tool.cursor)
        super().keyReleaseEvent(event)

    def focusOutEvent(self, event: QEvent) -> None:
        self.nudges.commit()
        self._space = False
        self.update()

    def repeat_selected(self) -> bool:
        """Show copies of the selected lines, whatever tool is in hand."""
        self.nudges.commit()
        if self._session.state.tool != "pick" and self._session.state.selected_lines():
            self._session.update(tool="pick")
        return self.tool.begin_repeat() if isinstance(self.tool, PickTool) else False

    def _select_all(self) -> bool:
        self._session.select(*(Subject("line", line.id) for line in self._session.state.design.lines))
        return True

    # paint -------------------------------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        self.paint_on(painter)
        painter.end()

    def paint_on(self, painter: QPainter) -> None:
        """Paint the whole plan."""
        state, drawing = self._session.state, self.drawing
        layers, chosen = state.layers, state.selection
        board = Board(painter, self._camera, self.theme)
        self._paint_underlay(board, state)
        self._paint_shadows(board)
        land.paint_plot(board, drawing, chosen)
        land.paint_header(board, drawing, chosen)
        rows.paint_mirrors(board, self._sprites, drawing, tint="tint" in layers)
        ids = state.selected_lines()
        rows.paint_selection(board, drawing, ids)
        rows.paint_gear(board, self._sprites, drawing, ids)
        furniture.paint_marks(board, drawing, stale=not state.fresh)
        if "names" in layers:
            rows.paint_line_names(board, drawing, ids)
            land.paint_land_names(board, drawing, chosen, setback_m=state.shown.plot.setback_m)
        self.tool.paint(board)
        self._paint_furniture(board, state)
        if self.hasFocus() and not self.tool.figures:
            painter.setPen(board.pen("line", 2.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(1, 1, self.width() - 2, self.height() - 2))

    def _paint_underlay(self, board: Board, state: State) -> None:
        """The land's surface, grid and contours, kept as a picture while neither they nor the camera change."""
        ratio = self.devicePixelRatioF()
        grid = "grid" in state.layers
        key = (self._camera, self.drawing.land, state.shown.ground, grid, self.theme.dark, ratio)
        if self._under is None or self._under[0] != key:
            picture = self._picture(
                lambda on: land.paint_ground(on, self.drawing, state.shown.ground, grid=grid)
            )
            self._under = (key, picture)
        board.painter.drawPixmap(0, 0, self._under[1])

    def _paint_shadows(self, board: Board) -> None:
        """Shadows as a picture of their own: rough while something moves, smooth once it rests."""
        drawing = self.drawing
        if not drawing.shadows:
            return
        key = (self._camera, id(drawing.shadows), self.theme.dark)
        quick = self._session.state.preview is not None or self._rest.isActive()
        kept = self._shade
        if kept is None or kept[0] != key or (kept[1] and not quick):
            self._shade = (key, quick, self._picture(lambda on: land.paint_shadows(on, drawing, quick=quick)))
        if quick and not self._rest.isActive():
            self._rest.start()
        assert self._shade is not None
        board.painter.drawPixmap(0, 0, self._shade[2])

    def _picture(self, paint: Callable[[Board], None]) -> QPixmap:
        ratio = self.devicePixelRatioF()
        picture = QPixmap(int(self.width() * ratio), int(self.height() * ratio))
        picture.setDevicePixelRatio(ratio)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        paint(Board(painter, self._camera, self.theme))
        painter.end()
        return picture

    def _paint_furniture(self, board: Board, state: State) -> None:
        furniture.paint_scale(board, self._told(state))
        if "tint" in state.layers and state.shown.lines and self.width() > 560:
            furniture.paint_tint_scale(board)
        furniture.paint_compass(board, self.drawing.sun)
        hint = self.tool.hint or self._empty_hint(state)
        if hint:
            paint_told(board, QPointF(16, 26), [(hint, "ink2")])

    def _empty_hint(self, state: State) -> str:
        if not state.shown.plot.boundary:
            return _("Draw the plot with P: click its corners or type their distances")
        if not state.shown.lines:
            return _("Place a line with L")
        return ""

    def _told(self, state: State) -> str:
        ground = state.shown.ground
        parts = []
        if self._pointer is not None:
            x, y = self._pointer.m
            height = ground_height(ground, x, y)
            parts += [
                _("x {x} m").format(x=number(x, digits=2)), _("y {y} m").format(y=number(y, digits=2)),
                _("height {z} m").format(z=number(height, digits=2)),
            ]  # fmt: skip
        if ground.slope_percent > 0:
            parts.append(
                _("falls {slope} % to {way}").format(
                    slope=number(ground.slope_percent, digits=1).removesuffix(".0"),
                    way=compass_word(ground.falls_towards_deg),
                )
            )
        else:
            parts.append(_("level ground"))
        return "   ".join(parts)

    def line_centre(self, line_id: int) -> QPointF:
        """Where the middle of a line stands in pixels."""
        line = self.drawing.line(line_id)
        if line is None:
            raise KeyError(line_id)
        x, y = self._camera.to_px(np.mean(line.vertices[:, :2], axis=0))
        return QPointF(float(x), float(y))
