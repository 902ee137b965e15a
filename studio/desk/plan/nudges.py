"""Arrow keys: quick nudges are shown at once and become one step of undo when the hand rests."""

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer

from studio.desk.plan.tools.pick import PickTool
from studio.desk.state import State

if TYPE_CHECKING:
    from studio.desk.plan.canvas import PlanCanvas

_REST_MS = 500


class Nudges(QObject):
    """Collects nudges of what is selected."""

    def __init__(self, canvas: "PlanCanvas") -> None:
        super().__init__(canvas)
        self._canvas = canvas
        self._dx = self._dy = 0.0
        self._busy = False
        self._rest = QTimer(self, singleShot=True, interval=_REST_MS)
        self._rest.timeout.connect(self.commit)

    @property
    def held(self) -> bool:
        """Whether there are nudges that are no step of undo yet."""
        return bool(self._dx or self._dy)

    def by(self, dx: float, dy: float) -> bool:
        """One nudge more; whether there was anything to move."""
        tool = self._canvas.tool
        if not isinstance(tool, PickTool) or tool.nudge(dx, dy) is None:
            return False
        self._dx, self._dy = round(self._dx + dx, 6), round(self._dy + dy, 6)
        edit = tool.nudge(self._dx, self._dy)
        self._busy = True
        self._canvas.preview(edit)
        self._canvas.flush()
        self._busy = False
        self._rest.start()
        return True

    def commit(self) -> None:
        """Make what was nudged one step of undo."""
        tool = self._canvas.tool
        dx, dy = self._forget()
        if (dx or dy) and isinstance(tool, PickTool):
            edit = tool.nudge(dx, dy)
            if edit is not None:
                self._canvas.apply(edit)

    def drop(self) -> bool:
        """Put back what was nudged; whether there was anything."""
        dx, dy = self._forget()
        if dx or dy:
            self._canvas.session.preview(None)
        return bool(dx or dy)

    def changed(self, state: State) -> None:
        """Forget the nudges when something else ended them."""
        if self.held and not self._busy and state.preview is None:
            self._forget()

    def _forget(self) -> tuple[float, float]:
        self._rest.stop()
        dx, dy, self._dx, self._dy = self._dx, self._dy, 0.0, 0.0
        return dx, dy
