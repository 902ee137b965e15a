"""The section's canvas: shows the drawing, moves the camera, takes clicks and keys. It changes nothing of the design."""

from dataclasses import replace

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QWidget

from studio.desk.plan.board import Board
from studio.desk.plan.camera import Camera
from studio.desk.section import scene
from studio.desk.section.lengths import ROWS_PX
from studio.desk.session import Session
from studio.desk.state import State, Subject
from studio.desk.theme import Theme
from studio.desk.views import turn_to
from studio.drawings.section import CrossedLine, SectionDrawing, section_drawing
from studio.drawings.section_cut import Cut, first_cut, next_mirror

LAYERS = ("rays", "shade", "path", "lengths")
_NEARER, _PAN_PX = 1.25, 60.0
_PICK_PX = 12.0
_SLACK_PX = 4.0
_NEAR_M = 4.4
"""Half of what is shown at first, either way from the line that is looked at."""
_LOW_PX = 440
_MOST_PX_PER_M = 600.0
_KEYS = (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown, Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Escape)
_ARROWS = {
    Qt.Key.Key_Left: (1.0, 0.0), Qt.Key.Key_Right: (-1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0), Qt.Key.Key_Down: (0.0, -1.0),
}  # fmt: skip


class SectionCanvas(QWidget):
    """The ground cut along a line, heights and lengths at one scale."""

    camera_changed = Signal()

    def __init__(self, session: Session, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self.theme = session, theme
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.setMinimumSize(240, 180)
        self._camera = Camera()
        self._fitted = ""
        """What is held in sight through changes of size: "near", "all", or nothing after a hand moved it."""
        self._drawing: SectionDrawing | None = None
        self._own: Cut | None = None
        self._pressed: QPointF | None = None
        self._moved = False
        self._pointer: QPointF | None = None
        self.layers = frozenset(LAYERS)
        session.changed.connect(self._on_changed)
        session.go_to.connect(self._on_go_to)
        theme.changed.connect(self.update)

    # what is shown -----------------------------------------------------------------------------------------------

    @property
    def camera(self) -> Camera:
        """What is in sight."""
        return self._camera

    @property
    def cut(self) -> Cut:
        """Where the ground is cut: as it was drawn, else square to the line at hand."""
        cut = self._session.state.cut
        if cut is not None:
            return cut
        if self._own is None:
            state = self._session.state
            self._own = first_cut(state.shown, state.selected_lines())
        return self._own

    @property
    def drawing(self) -> SectionDrawing:
        """What is drawn now; worked out once for each state that changes it."""
        if self._drawing is None:
            state = self._session.state
            self._drawing = section_drawing(
                state.shown, self.cut, day_of_year=state.moment.day_of_year, clock_h=state.moment.clock_h
            )
        return self._drawing

    @property
    def chosen(self) -> CrossedLine | None:
        """The line whose heights stand beside it: the selected one, else the one nearest to the middle of what is seen."""
        for line_id in self._session.state.selected_lines():
            one = self.drawing.crossed(line_id)
            if one is not None:
                return one
        middle = self._camera.x_m
        return min(self.drawing.lines, key=lambda one: abs(float(one.line.vertex[0]) - middle), default=None)

    def renew(self) -> None:
        """Being looked at anew: a cut that no hand drew goes to the line that is selected by now."""
        state = self._session.state
        cut = state.cut
        if cut is None or not cut.drawn:
            met = set(self.drawing.ids()) if cut is not None else set()
            ids = state.selected_lines()
            if cut is None or (ids and not met.intersection(ids)):
                self._session.update(cut=first_cut(state.shown, ids))
        self._drawing = None
        self.near()

    # the camera --------------------------------------------------------------------------------------------------

    def fit(self) -> None:
        """Everything in sight."""
        self._look(self._grounded(self.drawing.bounds))
        self._fitted = "all"

    def near(self) -> None:
        """The line that is looked at, and its neighbours."""
        drawing = self.drawing
        ids = self._session.state.selected_lines()
        along = [float(one.line.vertex[0]) for one in drawing.lines]
        if not along and not drawing.along:
            self.fit()
            return
        if along:
            own = [float(one.line.vertex[0]) for one in drawing.lines if one.line.id in ids]
            mean = sum(along) / len(along)
            middle = own[0] if own else min(along, key=lambda at: abs(at - mean))
            pitch = min((pitch.along_m for pitch in drawing.pitches), default=2.0)
            half = min(max(1.7 * pitch, _NEAR_M), 9.0)
        else:
            row = drawing.along[0].line.vertices
            middle, half = float(row[len(row) // 2, 0]), 5.0
        tops = [float((one.line.vertex + one.gear.box)[:, 1].max()) for one in drawing.lines]
        tops += [float((row.line.vertices[:, None] + row.gear.box)[..., 1].max()) for row in drawing.along]
        places = [*along, *(float(at) for row in drawing.along for at in row.line.vertices[:, 0])]
        top = max(t for t, at in zip(tops * len(places), places, strict=False) if abs(at - middle) <= half) \
            if any(abs(at - middle) <= half for at in places) else max(tops)  # fmt: skip
        ground = [drawing.ground.height_at(middle + side * half) for side in (-1, 1)]
        self._look(self._grounded((middle - half, min(ground), middle + half, top)))
        self._fitted = "near"

    def toggle_fit(self) -> None:
        """Everything in sight, and from there back to the line that is looked at."""
        self.near() if self._fitted == "all" else self.fit()

    def _grounded(self, bounds: tuple[float, float, float, float]) -> Camera:
        """All of ``bounds`` in sight, what room is left over the ground."""
        room = self._room()
        camera = self._camera.fitted(bounds, **room)
        free = self._camera.height - room["foot"] - float(camera.to_px((bounds[0], bounds[1]))[1])
        return camera.panned(0.0, max(free, 0.0))

    def _room(self) -> dict[str, float]:
        low = self._camera.height < _LOW_PX
        rows = ROWS_PX if "lengths" in self.layers else 20.0
        return {"sides": 24.0, "top": 44.0 if low else 84.0, "foot": rows + (44.0 if low else 60.0)}

    def _look(self, camera: Camera) -> None:
        self._camera = camera
        self.camera_changed.emit()
        self.update()

    def zoom(self, factor: float, at: QPointF | None = None) -> None:
        """Nearer or farther, about a point."""
        spot = at or self._pointer or QPointF(self.width() / 2, self.height() / 2)
        self._fitted = ""
        nearest = _MOST_PX_PER_M / self._camera.px_per_m
        self._look(self._camera.zoomed(min(factor, nearest), spot.x(), spot.y()))

    def pan(self, dx: float, dy: float) -> None:
        """What is shown, moved by pixels."""
        self._fitted = ""
        self._look(self._camera.panned(dx, dy))

    def _on_go_to(self, x: float, y: float) -> None:
        """A place of the site that is to be seen: the part of the cut that is nearest to it."""
        if self.isVisible():
            along = min(max(self.cut.at((x, y))[0], 0.0), self.cut.length_m)
            if not self._camera.bounds[0] < along < self._camera.bounds[2]:
                self.pan((self._camera.x_m - along) * self._camera.px_per_m, 0.0)

    # the cut -----------------------------------------------------------------------------------------------------

    def flip(self) -> None:
        """Look from the other side; what stands in the middle stays there."""
        cut = self.cut
        middle = cut.length_m - self._camera.x_m
        self._session.update(cut=cut.flipped())
        self._look(replace(self._camera, x_m=middle))

    def step(self, by: int) -> None:
        """Move the cut along the line that is looked at, by so many mirrors."""
        one = self.chosen
        if one is not None:
            cut = next_mirror(self._session.state.shown, one.line.id, self.cut, by)
            self._session.update(cut=replace(cut, drawn=True))

    # the session -------------------------------------------------------------------------------------------------

    def _on_changed(self, old: State, new: State) -> None:
        if new.document is not old.document and new.cut is None:
            self._own = None
        changed = new.shown is not old.shown or new.moment != old.moment or new.cut != old.cut
        if changed:
            self._drawing = None
        if not self.isVisible():
            return
        if new.cut is None and old.cut is not None:  # another document
            self.renew()
        if changed or new.selection != old.selection:
            self.update()

    # the mouse ---------------------------------------------------------------------------------------------------

    def line_under(self, spot: QPointF) -> int | None:
        """The line that is under a point of the canvas."""
        at, best, reach = np.array([spot.x(), spot.y()]), None, _PICK_PX
        for one in self.drawing.lines:
            shapes = (one.line.film, one.line.vertex + one.gear.box, one.line.vertex + one.gear.frame)
            away = min(_distance(self._camera.to_px(shape), at) for shape in shapes)
            if away < reach:
                best, reach = one.line.id, away
        for row in self.drawing.along:
            shapes = (*row.line.films, row.pipe)
            away = min(_distance(self._camera.to_px(shape), at) for shape in shapes)
            if away < reach:
                best, reach = row.line.id, away
        return best

    def mousePressEvent(self, event: QMouseEvent) -> None:
        if event.button() in (Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton):
            self._pressed, self._moved = event.position(), False

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        spot, self._pointer = event.position(), event.position()
        if self._pressed is None:
            under = self.line_under(spot) is not None
            self.setCursor(Qt.CursorShape.PointingHandCursor if under else Qt.CursorShape.ArrowCursor)
            return
        by = spot - self._pressed
        if self._moved or by.manhattanLength() > _SLACK_PX:
            self._moved, self._pressed = True, spot
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
            self.pan(by.x(), by.y())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        clicked = self._pressed is not None and not self._moved
        self._pressed = None
        self.setCursor(Qt.CursorShape.ArrowCursor)
        if clicked and event.button() is Qt.MouseButton.LeftButton:
            under = self.line_under(event.position())
            add = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            if under is not None:
                self._session.select(Subject("line", under), add=add)
            elif not add:
                self._session.select()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        under = self.line_under(event.position())
        if under is not None and event.button() is Qt.MouseButton.LeftButton:
            self._session.select(Subject("line", under))
            turn_to(self._session, "mirror")

    def leaveEvent(self, event: QEvent) -> None:
        self._pointer = None

    def wheelEvent(self, event: QWheelEvent) -> None:
        turn = event.angleDelta().y() or event.angleDelta().x()
        self.zoom(1.0015**turn, event.position())
        event.accept()

    # the keys ----------------------------------------------------------------------------------------------------

    def event(self, event: QEvent) -> bool:
        if (
            isinstance(event, QKeyEvent)
            and event.type() is QEvent.Type.ShortcutOverride
            and (event.key() in _KEYS or event.key() in _ARROWS)
        ):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if not self._pressed_key(event):
            event.ignore()

    def _pressed_key(self, event: QKeyEvent) -> bool:
        key, letter = event.key(), event.text().casefold()
        if key in _ARROWS and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            return self._next_line(key)
        if key in _ARROWS:
            dx, dy = _ARROWS[Qt.Key(key)]
            self.pan(dx * _PAN_PX, dy * _PAN_PX)
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            self.step(1 if key == Qt.Key.Key_PageDown else -1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self._session.state.selected_lines():
            turn_to(self._session, "mirror")
        elif key == Qt.Key.Key_Escape and self._session.state.selection:
            self._session.select()
        elif letter in ("+", "=", "-"):
            self.zoom(1 / _NEARER if letter == "-" else _NEARER)
        elif letter == "f":
            self.toggle_fit()
        elif letter == "r":
            self.flip()
        else:
            return False
        return True

    def _next_line(self, key: int) -> bool:
        """Select the line to the left or right of the one at hand, and keep it in sight."""
        if key not in (Qt.Key.Key_Left, Qt.Key.Key_Right) or not self.drawing.lines:
            return False
        order = [one.line.id for one in self.drawing.lines]
        picked = [line_id for line_id in self._session.state.selected_lines() if line_id in order]
        if picked:
            place = order.index(picked[0]) + (1 if key == Qt.Key.Key_Right else -1)
            chosen = order[min(max(place, 0), len(order) - 1)]
        else:
            one = self.chosen
            chosen = order[0] if one is None else one.line.id
        self._session.select(Subject("line", chosen))
        one = self.drawing.crossed(chosen)
        if one is not None:
            x = self._camera.to_px(one.line.vertex)[0]
            if not 0.1 * self.width() < x < 0.9 * self.width():
                self.pan(self.width() / 2 - float(x), 0.0)
        return True

    # paint -------------------------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._camera = replace(self._camera, width=float(self.width()), height=float(self.height()))
        if self._fitted == "all":
            self.fit()
        elif self._fitted == "near":
            self.near()
        else:
            self.camera_changed.emit()

    def paintEvent(self, event: QPaintEvent) -> None:
        painter = QPainter(self)
        self.paint_on(painter)
        painter.end()

    def paint_on(self, painter: QPainter) -> None:
        """Paint the whole section."""
        board = Board(painter, self._camera, self.theme)
        scene.paint(board, self.drawing, self._session.state, self.layers, self.chosen)
        if self.hasFocus():
            painter.setPen(board.pen("line", 2.0))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(1, 1, self.width() - 2, self.height() - 2))

    def focusInEvent(self, event: QEvent) -> None:
        self.update()

    def focusOutEvent(self, event: QEvent) -> None:
        self.update()


def _distance(shape: np.ndarray, at: np.ndarray) -> float:
    """Of a point from a polyline."""
    start, run = shape[:-1], np.diff(shape, axis=0)
    length = np.maximum((run**2).sum(axis=1), 1e-12)
    share = np.clip(((at - start) * run).sum(axis=1) / length, 0.0, 1.0)
    return float(np.hypot(*(start + share[:, None] * run - at).T).min())
