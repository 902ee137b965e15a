"""The pace of a drag: the hand's next position is shown when the figures are no more than two frames behind it, as a rule."""

from collections import deque
from time import monotonic

from studio.desk.session import Session
from studio.desk.state import State

MOST_BEHIND = 2
"""Frames that figures may be old."""
_LAST, _YOUNG = 30, 0.8
"""Of so many last frames, the share that shows figures no older than that before one may go on without them."""
PATIENCE_S = 0.3
"""A hand waits no longer than this for figures; where they take longer it goes on without them."""


class Pace:
    """Holds a drag back for figures that are about to come, never for those that are not.

    Only while answers keep coming: the first frames of a drag, a large field and a desk without an assessor are not held
    back at all.
    """

    def __init__(self, session: Session) -> None:
        self._session = session
        self._answered = self._asked = float("-inf")
        self._young: deque[bool] = deque(maxlen=_LAST)
        self._shown = False
        session.changed.connect(self._hear)

    def _hear(self, old: State, new: State) -> None:
        if new.assessed_revision != old.assessed_revision:
            self._answered = monotonic()

    def wait(self) -> bool:
        """Whether the next frame should wait a little."""
        state, now = self._session.state, monotonic()
        if self._shown:  # the frame before has been painted by now, with what had come by then
            self._young.append(state.revision - state.assessed_revision <= MOST_BEHIND)
            self._shown = False
        behind = state.revision + 1 - state.assessed_revision
        if state.preview is None or behind <= MOST_BEHIND or now - self._answered > PATIENCE_S:
            return self._go()
        if len(self._young) == _LAST and sum(self._young) > _YOUNG * _LAST:
            return self._go()
        if self._asked == float("-inf"):
            self._asked = now
        if now - self._asked > PATIENCE_S:
            return self._go()
        return True

    def _go(self) -> bool:
        self._shown = True
        self.let_go()
        return False

    def let_go(self) -> None:
        """Forget how long the hand has waited."""
        self._asked = float("-inf")
