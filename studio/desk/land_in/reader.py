"""Reading land in the background: what a file holds, and what taking a choice of it would do. The newest question counts."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal

from studio.design.design import Design
from studio.desk.land_in.asking import Asking
from studio.edits.edit import Edit, admit

if TYPE_CHECKING:
    from studio.files.land.found import How, LandChoice, LandLook, TakenLand


@dataclass(frozen=True)
class Ready:
    """A choice that can be taken into ``before``: the land in site metres, the edit, and what stays and goes."""

    before: Design
    taken: "TakenLand"
    edit: Edit
    kept: tuple[str, ...]


class LandReader(Asking):
    """Asks the land files. ``looked`` tells a LandLook, ``weighed`` a Ready, either of them a StillfieldError instead."""

    looked = Signal(object)
    weighed = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._looks = True
        self.answered.connect(self._sort)

    def look(self, path: Path, how: "How", *, text: str | None = None) -> None:
        """Look at a file, or at a pasted ``text`` of that name."""

        def work() -> object:
            from studio.files.land.look import look_at, look_at_text

            return look_at(path, how=how) if text is None else look_at_text(text, name=path.name, how=how)

        self._looks = True
        self.ask(work)

    def weigh(self, look: "LandLook", choice: "LandChoice", design: Design) -> None:
        """See what taking a choice into a design would do."""

        def work() -> object:
            from studio.files.land.into_site import edit_of, kept_and_replaced, with_reference_kept
            from studio.files.land.take import take

            taken = take(look, with_reference_kept(design, look, choice))
            edit = admit(design, edit_of(design, taken))
            return Ready(design, taken, edit, kept_and_replaced(design, edit.design))

        self._looks = False
        self.ask(work)

    def _sort(self, answer: object) -> None:
        (self.looked if self._looks else self.weighed).emit(answer)
