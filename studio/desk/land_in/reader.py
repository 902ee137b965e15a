"""Reading land in the background: what a file holds, and what taking a choice of it would do. The newest question counts."""

import threading
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal

from studio.design.design import Design
from studio.edits.edit import Edit, admit
from studio.errors import StillfieldError

if TYPE_CHECKING:
    from studio.files.land.found import How, LandChoice, LandLook, TakenLand


@dataclass(frozen=True)
class Ready:
    """A choice that can be taken into ``before``: the land in site metres, the edit, and what stays and goes."""

    before: Design
    taken: "TakenLand"
    edit: Edit
    kept: tuple[str, ...]


class LandReader(QObject):
    """Asks the land files. ``looked`` tells a LandLook, ``weighed`` a Ready, either of them a StillfieldError instead."""

    looked = Signal(object)
    weighed = Signal(object)
    _answered = Signal(int, bool, object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._turn = 0
        self._answered.connect(self._answer, Qt.ConnectionType.QueuedConnection)

    def look(self, path: Path, how: "How") -> None:
        """Look at a file."""

        def work() -> object:
            from studio.files.land.look import look_at

            return look_at(path, how=how)

        self._ask(work, look=True)

    def weigh(self, look: "LandLook", choice: "LandChoice", design: Design) -> None:
        """See what taking a choice into a design would do."""

        def work() -> object:
            from studio.files.land.into_site import edit_of, kept_and_replaced, with_reference_kept
            from studio.files.land.take import take

            taken = take(look, with_reference_kept(design, look, choice))
            edit = admit(design, edit_of(design, taken))
            return Ready(design, taken, edit, kept_and_replaced(design, edit.design))

        self._ask(work, look=False)

    def leave(self) -> None:
        """Forget what was asked; a late answer is not told."""
        self._turn += 1

    def _ask(self, work: Callable[[], object], *, look: bool) -> None:
        self._turn += 1
        turn = self._turn

        def run() -> None:
            try:
                answer = work()
            except StillfieldError as error:
                answer = error
            self._answered.emit(turn, look, answer)

        threading.Thread(target=run, name="land", daemon=True).start()

    def _answer(self, turn: int, look: bool, answer: object) -> None:
        if turn == self._turn:
            (self.looked if look else self.weighed).emit(answer)
