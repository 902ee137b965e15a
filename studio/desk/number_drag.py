"""A number that is dragged by its label: the desk follows while the hand moves, one step of undo when it lets go."""

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, Qt, QTimer
from PySide6.QtGui import QMouseEvent
from PySide6.QtWidgets import QLabel

from studio.design.design import Design
from studio.design.fields import Count, Quantity
from studio.desk.plan.pace import Pace
from studio.desk.session import Session
from studio.edits.edit import Edit, admit
from studio.errors import StillfieldError

PX_PER_STEP = 6.0
"""How far the hand goes for one step; with Shift a step is ten."""
_FRAME_MS = 16

EditTo = Callable[[Design, str], Edit]


def step_of(declaration: Quantity | Count) -> float:
    """One of a count, else one of the last digit that the field shows."""
    return 1.0 if isinstance(declaration, Count) else 10.0**-declaration.digits


def stepped(declaration: Quantity | Count, value: float, steps: int) -> float:
    """A value so many steps on, held within the declared limits."""
    digits = 0 if isinstance(declaration, Count) else declaration.digits
    moved = round(value + steps * step_of(declaration), digits + 2)
    return min(max(moved, float(declaration.low)), float(declaration.high))


class NumberDrag(QObject):
    """Drags the number of a field by its ``label``. ``read`` gives its value, None while there is none to start from."""

    def __init__(
        self, label: QLabel, session: Session, declaration: Quantity | Count, *,
        read: Callable[[Design], float | None], edit: EditTo,
    ) -> None:  # fmt: skip
        super().__init__(label)
        self._session, self._declaration, self._read, self._edit = session, declaration, read, edit
        self._start: tuple[float, float] | None = None
        self._held: Edit | None = None
        self._waiting: Edit | None = None
        self._pace = Pace(session)
        self._frame = QTimer(self, interval=_FRAME_MS, singleShot=True)
        self._frame.timeout.connect(self._show)
        label.setCursor(Qt.CursorShape.SizeHorCursor)
        label.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if isinstance(event, QMouseEvent) and event.type() is QEvent.Type.MouseButtonPress:
            value = self._read(self._session.state.design)
            if event.button() is Qt.MouseButton.LeftButton and value is not None:
                self._start = event.globalPosition().x(), float(value)
                return True
        elif isinstance(event, QMouseEvent) and self._start is not None:
            if event.type() is QEvent.Type.MouseMove:
                self._move(event)
                return True
            if event.type() is QEvent.Type.MouseButtonRelease:
                self._let_go()
                return True
        return False

    def _move(self, event: QMouseEvent) -> None:
        assert self._start is not None
        begun, value = self._start
        steps = int((event.globalPosition().x() - begun) / PX_PER_STEP)
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            steps *= 10
        edit = edit_to(
            self._session.state.design,
            self._declaration,
            stepped(self._declaration, value, steps),
            self._edit,
        )
        if edit is not None:  # what will not do is passed over
            self._waiting = edit
            if not self._frame.isActive():
                self._frame.start()

    def _show(self) -> None:
        """The newest value, when the figures have followed."""
        if self._waiting is None:
            return
        if self._pace.wait():
            self._frame.start(2)
            return
        self._held, self._waiting = self._waiting, None
        if self._held.design != self._session.state.shown:
            self._session.preview(self._held.design)

    def _let_go(self) -> None:
        self._start = None
        held, self._held = (self._waiting or self._held), None
        self._waiting = None
        self._pace.let_go()
        self._frame.stop()
        if held is not None:
            self._session.apply(held)
        elif self._session.state.preview is not None:
            self._session.preview(None)


def edit_to(design: Design, declaration: Quantity | Count, value: float, edit: EditTo) -> Edit | None:
    """The edit that sets a value, None if the design will not have it."""
    text = str(round(value)) if isinstance(declaration, Count) else f"{value:.10g}"
    try:
        return admit(design, edit(design, text))
    except StillfieldError:
        return None
