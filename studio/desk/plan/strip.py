"""The strip above what is selected: how several things can be arranged."""

from PySide6.QtCore import QEvent, QPoint, QRectF, QSize, Qt, QTimer
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QHBoxLayout, QToolButton, QWidget

from studio.desk.plan.arranging import ACTS, Act, do_act
from studio.desk.plan.canvas import PlanCanvas
from studio.desk.plan.tools.change import things_of
from studio.desk.plan.tools.pick import PickTool
from studio.desk.plan.tools.under import bounds_of
from studio.text import _

_ROOM = 34
"""Pixels between what is selected and the strip, so that the round handle stays free."""
_TOP, _FOOT = 40, 52


class ArrangeStrip(QWidget):
    """Shown while several things are selected and nothing is dragged or typed."""

    def __init__(self, canvas: PlanCanvas) -> None:
        super().__init__(canvas)
        self._canvas = canvas
        self.setAccessibleName(_("Arrange what is selected"))
        self.setCursor(Qt.CursorShape.ArrowCursor)
        row = QHBoxLayout(self)
        row.setContentsMargins(4, 3, 4, 3)
        row.setSpacing(0)
        self.buttons: dict[str, QToolButton] = {}
        for act in ACTS:
            button = QToolButton(self)
            button.setText(_(act.word))
            button.setToolTip(f"{_(act.about)} ({act.keys})")
            button.setAccessibleName(_(act.about))
            button.setAutoRaise(True)
            button.setFont(canvas.theme.font(12, 500))
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            button.setMinimumSize(QSize(0, 24))
            button.clicked.connect(lambda _checked=False, act=act: self._do(act))
            self.buttons[act.key] = button
            row.addWidget(button)
        self._soon = QTimer(self, singleShot=True, interval=0)
        self._soon.timeout.connect(self.place)
        self._placed: tuple[object, ...] = ()
        canvas.installEventFilter(self)
        self.place()

    def _do(self, act: Act) -> None:
        tool = self._canvas.tool
        if isinstance(tool, PickTool):
            do_act(tool, act)
        self._canvas.setFocus()
        self._canvas.flush()
        self.place()

    def place(self) -> None:
        """Above what is selected, within the plan; away while it would be in the way."""
        canvas = self._canvas
        state, tool = canvas.session.state, canvas.tool
        free = isinstance(tool, PickTool) and tool.mode is None and tool.pressed is None
        wanted = free and state.preview is None and len(things_of(state.selection)) > 1
        now = (wanted, state.selection, state.design, canvas.camera)
        if now == self._placed:
            return
        self._placed = now
        bounds = bounds_of(canvas.drawing, state.selection) if wanted else None
        if bounds is None:
            self.hide()
            return
        for act in ACTS:
            self.buttons[act.key].setVisible(act.fits(state))
        self.adjustSize()
        (left, top), (right, foot) = canvas.camera.to_px([(bounds[0], bounds[3]), (bounds[2], bounds[1])])
        x = (max(left, 0.0) + min(right, canvas.width())) / 2 - self.width() / 2
        above, below = top - _ROOM - self.height(), foot + _ROOM
        y = above if above >= _TOP else min(max(below, _TOP), canvas.height() - _FOOT - self.height())
        self.move(QPoint(
            round(min(max(x, 8.0), max(canvas.width() - self.width() - 8.0, 8.0))), round(y)
        ))  # fmt: skip
        self.show()
        self.raise_()

    def eventFilter(self, watched: object, event: QEvent) -> bool:
        """The plan is painted anew: something of it changed."""
        if event.type() is QEvent.Type.Paint:
            self._soon.start()
        return False

    def paintEvent(self, event: QPaintEvent) -> None:
        painter, theme = QPainter(self), self._canvas.theme
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(theme.color("edge"), 1.0))
        painter.setBrush(theme.color("panel"))
        painter.drawRoundedRect(QRectF(self.rect()).adjusted(0.5, 0.5, -0.5, -0.5), 7, 7)
        painter.end()
