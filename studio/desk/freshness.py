"""When figures wear their sign: not for the few frames an answer takes, but as soon as it takes longer."""

from PySide6.QtCore import QObject, QTimer, Signal

from studio.desk.session import Session
from studio.desk.state import State

PATIENCE_MS = 120
"""Figures that follow a drag within this time do not flicker; after it they are marked."""
_BEHIND, _KEPT_UP = 2, 10
"""So many answers in a row that came in time, each no more revisions behind the hand, take the mark off during a drag."""


class Freshness(QObject):
    """Whether what is shown is from before the last move, as a person should be told.

    A drag that answers did not follow wears the sign until they have kept up for a while: it does not flicker with each
    answer that catches up.
    """

    changed = Signal()

    def __init__(
        self, session: Session, parent: QObject | None = None, *, patience_ms: int = PATIENCE_MS
    ) -> None:
        super().__init__(parent)
        self._session = session
        self._stale = False
        self._in_time = 0
        self._timer = QTimer(self, interval=patience_ms, singleShot=True)
        self._timer.timeout.connect(self._wear)
        session.changed.connect(self._hear)

    @property
    def stale(self) -> bool:
        """Whether figures wear their sign now."""
        return self._stale

    def _hear(self, old: State, new: State) -> None:
        if new.assessed_revision != old.assessed_revision:
            in_time = self._timer.isActive() and new.revision - new.assessed_revision <= _BEHIND
            self._in_time = self._in_time + 1 if in_time else 0
        if new.assessment is None or (new.fresh and (new.assessment.exact or not self._stale)):
            self._timer.stop()
            self._set(False)
        elif self._stale and self._in_time >= _KEPT_UP:
            self._timer.start()
            self._set(False)
        elif new.assessed_revision != old.assessed_revision or (
            new.revision != old.revision and not self._timer.isActive() and not self._stale
        ):
            self._timer.start()

    def _wear(self) -> None:
        self._set(True)

    def _set(self, stale: bool) -> None:
        if stale != self._stale:
            self._stale = stale
            self.changed.emit()
