"""Work for a page in the background, one question at a time: the newest counts."""

import threading
from collections.abc import Callable
from contextlib import suppress

from PySide6.QtCore import QObject, Qt, Signal

from studio.errors import StillfieldError


class Asking(QObject):
    """Asks in the background. ``answered`` tells the answer to the newest question, or its StillfieldError."""

    answered = Signal(object)
    _came = Signal(int, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._turn = 0
        self._came.connect(self._answer, Qt.ConnectionType.QueuedConnection)

    def ask(self, work: Callable[[], object]) -> None:
        """Do the work; what was asked before is no longer told."""
        self._turn += 1
        turn = self._turn

        def run() -> None:
            try:
                answer = work()
            except StillfieldError as error:
                answer = error
            with suppress(RuntimeError):  # the page may be gone by now
                self._came.emit(turn, answer)

        threading.Thread(target=run, name="land", daemon=True).start()

    def leave(self) -> None:
        """Forget what was asked; a late answer is not told."""
        self._turn += 1

    def _answer(self, turn: int, answer: object) -> None:
        if turn == self._turn:
            self.answered.emit(answer)
