"""The plan's canvas: shows the drawing, moves the camera, and hands mouse and keys to the tool in hand."""

from dataclasses import replace
from time import monotonic

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from studio.design.site import Point
from studio.desk.plan import furniture, land
from studio.desk.plan.board import Board
from studio.desk.plan.camera import Camera
from studio.desk.plan.context import open_menu
from studio.desk.plan.foot import empty_hint, told_at_foot
from studio.desk.plan.keys import Keys
from studio.desk.plan.layers import in_sight, within_reach
from studio.desk.plan.nudges import Nudges
from studio.desk.plan.pace import Pace
from studio.desk.plan.pointers import pointer_of
from studio.desk.plan.repaint import comes_anyway, looks_anew
from studio.desk.plan.scene import Scene
from studio.desk.plan.tools.every import TOOLS
from studio.desk.plan.tools.pick import PickTool
from studio.desk.plan.tools.tool import Pointer, Tool
from studio.desk.plan.tools.under import bounds_of
from studio.desk.plan.underlay import bounds_to_fit
from studio.desk.session import Session
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.drawings.plan import PlanDrawing, plan_drawing
from studio.edits.edit import Edit
from studio.study.findings import Finding

_FRAME_S = 1 / 60
_LOW_PX = 480
"""A canvas lower than this spares less room around the plan."""


class PlanCanvas(QWidget):
    """The land from above at true scale."""

    camera_changed = Signal()
    layers_asked = Signal()
    """The list of layers is asked for."""

    def __init__(self, session: Session, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self.theme = session, theme
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(240, 180)
        self._camera = Camera()
        self._fitted = False
        self.scene = Scene()
        self._drawing: PlanDrawing | None = None
        self._reach: PlanDrawing | None = None
        self.scene.underlays.ready.connect(self.update)
        self._rest = QTimer(self, singleShot=True, interval=120)
        self._rest.timeout.connect(self._smooth)
        self._pointer: Pointer | None = None
        self._pan_from: QPointF | None = None
        self._space = False
        self._pending: tuple[Edit | None] | None = None
        self._due = 0.0
        self._frame = QTimer(self, singleShot=True, timerType=Qt.TimerType.PreciseTimer)
        self._frame.timeout.connect(self.flush)
        self.pace = Pace(session)
        self.nudges = Nudges(self)
        self.keys = Keys(self)
        self.tool: Tool = TOOLS[session.state.tool if session.state.tool in TOOLS else "pick"](self)
        session.changed.connect(self._on_changed)
        session.go_to.connect(self._on_go_to)
        session.tool_again.connect(lambda: self.tool.again())
        theme.changed.connect(self.update)

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
            whole = plan_drawing(
                state.shown, day_of_year=state.moment.day_of_year, clock_h=state.moment.clock_h, findings=findings,
                shadows="shadows" in state.layers, tint="tint" in state.layers,
            )  # fmt: skip
            self._drawing, self._reach = in_sight(whole, state), within_reach(whole, state)
        return self._drawing

    @property
    def reachable(self) -> PlanDrawing:
        """What of the drawing a hand can take: without locked layers."""
        sight = self.drawing
        return self._reach or sight

    @property
    def grid_m(self) -> float | None:
        """The grid's step while it is shown."""
        if "grid" not in self._session.state.layers:
            return None
        return land.grid_step(self._camera.px_per_m) / land.GRID_PARTS

    def preview(self, edit: Edit | None) -> None:
        """Show an edit that the hand still holds: the newest one at each frame, however fast the hand is; None puts back
        what was, at once."""
        self._pending = (edit,)
        wait = self._due - monotonic()
        if edit is None or wait <= 0:
            self.flush()
        elif not self._frame.isActive():
            self._frame.start(max(1, int(wait * 1000)))

    def flush(self) -> None:
        """Show what waits for its frame."""
        if self._pending is None:
            return
        (edit,) = self._pending
        if edit is not None and self.pace.wait():
            self._frame.start(2)
            return
        self._pending = None
        now = monotonic()
        # a frame that came late hurries the next: what counts is how many there are in a second
        self._due = min(max(self._due, now - _FRAME_S / 2), now) + _FRAME_S
        design = edit.design if edit is not None else None
        if design is not self._session.state.preview:
            self._session.preview(design)

    def apply(self, edit: Edit) -> bool:
        """Commit an edit as one step of undo."""
        self._pending = None
        self.pace.let_go()
        return self._session.apply(edit)

    def tell(self, text: str) -> None:
        """One sentence to the person."""
        self._session.update(notice=text)

    def sees_pointer(self) -> bool:
        """Whether the mouse is over the plan."""
        return self._pointer is not None

    @property
    def pointer_m(self) -> Point:
        """Where the mouse is, else the middle of what is in sight."""
        return self._pointer.m if self._pointer is not None else (self._camera.x_m, self._camera.y_m)

    def mark_under(self, at: Pointer) -> Finding | None:
        """The finding whose mark is under the hand."""
        return furniture.mark_at(self._camera, self.drawing, QPointF(at.x, at.y))

    # the camera --------------------------------------------------------------------------------------------------

    def fit(self) -> None:
        """Everything in sight."""
        low = self._camera.height < _LOW_PX
        room = {"sides": 36.0, "top": 44.0, "foot": 46.0} if low else {}
        self._look(self._camera.fitted(bounds_to_fit(self.drawing, self._session.state), **room))
        self._fitted = True

    def fit_selected(self) -> None:
        """What is selected in sight; with nothing selected everything."""
        bounds = bounds_of(self.drawing, self._session.state.selection)
        if bounds is None:
            self.fit()
            return
        self._look(self._camera.fitted(bounds, sides=70.0, top=90.0, foot=80.0))
        self._fitted = False

    def _look(self, camera: Camera) -> None:
        self._camera = camera
        self._rest.start()
        self.camera_changed.emit()
        self.update()

    def _smooth(self) -> None:
        """Paint in full once nothing moves any more; what a hand holds stays rough till it lets go."""
        if self._session.state.preview is None:
            self.update()

    def _on_go_to(self, x: float, y: float) -> None:
        brought = self._camera.brought((x, y))
        if brought != self._camera:
            self._look(brought)
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
            or new.locked != old.locked
            or new.assessment is not old.assessment
        ):
            self._drawing = None
        if new.document is not old.document and new.saved is not old.saved and not new.undo:
            first = True
        if new.tool != old.tool:
            self._take_up(new.tool)
        if new.assessed_revision != old.assessed_revision and self._pending is not None:
            self._frame.start(0)  # a frame may have waited for just these figures
        if comes_anyway(old, new):
            return
        self.nudges.changed(new)
        self.tool.changed()
        if first:
            self.fit()
        if looks_anew(old, new):
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

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self.nudges.commit()
        self._pointer = at = pointer_of(event, self._camera)
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
            self.tool.double(pointer_of(event, self._camera))
            self.update()

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        self._pointer = at = pointer_of(event, self._camera)
        if self._pan_from is not None:
            by = event.position() - self._pan_from
            self._pan_from = event.position()
            self._fitted = False
            self._look(self._camera.panned(by.x(), by.y()))
            return
        self.tool.move(at, held=bool(event.buttons() & Qt.MouseButton.LeftButton))
        if self._session.state.preview is None and self._pending is None:  # else a whole frame is coming
            self.update(QRectF(0, self.height() - 44, self.width(), 44).toRect())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        if self._pan_from is not None:
            self._pan_from = None
            self.setCursor(Qt.CursorShape.OpenHandCursor if self._space else self.tool.cursor)
        elif event.button() is Qt.MouseButton.LeftButton:
            self.tool.release(pointer_of(event, self._camera))
        self.update()

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        open_menu(self, event)

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
        if isinstance(event, QKeyEvent):
            if event.type() is QEvent.Type.ShortcutOverride and self.keys.wants(event):
                event.accept()
                return True
            if event.type() is QEvent.Type.KeyPress and self.keys.step(event):
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if self.keys.press(event):
            self.update()
        else:
            event.ignore()

    def zoom(self, factor: float) -> None:
        """Nearer or farther, about the pointer."""
        at = self._pointer or Pointer((0.0, 0.0), self.width() / 2, self.height() / 2)
        self._fitted = False
        self._look(self._camera.zoomed(factor, at.x, at.y))

    def pan(self, dx: float, dy: float) -> None:
        """The land moved by pixels."""
        self._fitted = False
        self._look(self._camera.panned(dx, dy))

    def hold_land(self) -> None:
        """Space is down: the mouse pans."""
        self._space = True
        if self._pan_from is None:
            self.setCursor(Qt.CursorShape.OpenHandCursor)

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
        done = isinstance(self.tool, PickTool) and self.tool.begin_repeat()
        self.flush()
        return done

    # paint -------------------------------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        self.paint_on(painter)
        painter.end()

    def paint_on(self, painter: QPainter) -> None:
        """Paint the whole plan."""
        state = self._session.state
        board = Board(painter, self._camera, self.theme)
        moving = state.preview is not None or self._rest.isActive()
        if self.scene.paint_plan(board, self.drawing, state, quick=moving) and not self._rest.isActive():
            self._rest.start()
        self.tool.paint(board)
        hint = self.tool.hint or empty_hint(state)
        at = self._pointer.m if self._pointer is not None else None
        self.scene.paint_furniture(
            board, self.drawing, state, told=told_at_foot(state, at, self.grid_m), hint=hint
        )
        if self.hasFocus() and (self.tool.figures is None or self.tool.figures.shy):
            painter.setPen(board.pen("line", 2.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(1, 1, self.width() - 2, self.height() - 2))

    def line_centre(self, line_id: int) -> QPointF:
        """Where the middle of a line stands in pixels."""
        line = self.drawing.line(line_id)
        if line is None:
            raise KeyError(line_id)
        x, y = self._camera.to_px(np.mean(line.vertices[:, :2], axis=0))
        return QPointF(float(x), float(y))
