"""Taking in a picture of the land: read in the background; laid by its world file once one agrees, else by two points."""

import threading
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtWidgets import QFileDialog, QWidget

from studio.desk.bars import Bars, Choice
from studio.desk.session import Session
from studio.desk.state import State, Subject
from studio.desk.views import turn_to
from studio.errors import StillfieldError
from studio.text import _

if TYPE_CHECKING:
    from studio.files.land.found import How
    from studio.files.picture import PictureRead
    from studio.files.picture_world import Placement

KEY = "picture"
SUFFIXES = (".png", ".jpg", ".jpeg")
WORLDS = (".pgw", ".pngw", ".jgw", ".jpgw", ".jpegw", ".wld", ".prj")
_FILLS = 0.7
"""How much of the view a picture of unknown size takes."""
_MOST_OFFERED = 3
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True)
class Found:
    """A picture, its world file, where that lays it, or what is wrong with it."""

    path: Path
    picture: "PictureRead"
    world: Path | None = None
    placement: "Placement | None" = None
    fault: str = ""


class PictureImport(QObject):
    """Reads pictures for the session and asks in a bar. ``sight`` tells what land the plan shows."""

    _read = Signal(int, object)

    def __init__(self, session: Session, bars: Bars, sight: Callable[[], Bounds]) -> None:
        super().__init__()
        self._session, self._bars, self._sight = session, bars, sight
        self._turn = 0
        self._read.connect(self._answer, Qt.ConnectionType.QueuedConnection)
        session.changed.connect(self._hear)

    def ask(self, window: QWidget, folder: str) -> None:
        """Let the person choose a picture."""
        kinds = " ".join(f"*{ending}" for ending in SUFFIXES)
        name, _kind = QFileDialog.getOpenFileName(
            window, _("Picture from a file"), folder, f"{_('Pictures from above')} ({kinds})"
        )
        if name:
            self.take(Path(name))

    def take(self, path: Path) -> None:
        """Read a picture and its world file, and lay it or ask."""
        self._bars.tell(KEY, _("Reading {name} …").format(name=path.name))

        def work() -> Found:
            from studio.files.picture import read_picture
            from studio.files.picture_world import world_beside

            return self._placed(Found(path, read_picture(path), world_beside(path)))

        self._begin(work)

    def _again(self, found: Found, world: Path, how: "How | None" = None) -> None:
        """Look at the same picture by another world file, or read in another way."""
        self._begin(lambda: self._placed(Found(found.path, found.picture, world), how))

    def _begin(self, work: Callable[[], Found]) -> None:
        self._turn += 1
        turn = self._turn

        def run() -> None:
            try:
                answer: object = work()
            except StillfieldError as error:
                answer = error
            self._read.emit(turn, answer)

        threading.Thread(target=run, name="picture", daemon=True).start()

    def _placed(self, found: Found, how: "How | None" = None) -> Found:
        from studio.files.picture_world import place_by_world, read_world

        if found.world is None:
            return found
        site = self._session.state.design.site
        try:
            placement = place_by_world(
                found.picture, read_world(found.world), latitude_deg=site.latitude_deg,
                longitude_deg=site.longitude_deg, how=how,
            )  # fmt: skip
        except StillfieldError as error:
            return Found(found.path, found.picture, found.world, fault=str(error))
        return Found(found.path, found.picture, found.world, placement)

    def _answer(self, turn: int, answer: object) -> None:
        if turn != self._turn:
            return  # another picture came since
        if isinstance(answer, StillfieldError):
            self._bars.tell(KEY, str(answer))
        elif isinstance(answer, Found) and answer.world is None:
            self._lay_in_view(answer)
        elif isinstance(answer, Found):
            self._offer(answer)

    # asked -----------------------------------------------------------------------------------------------------------

    def _offer(self, found: Found) -> None:
        """Where the world file lays the picture, and what would settle its doubts."""
        from studio.files.picture_taken import told_placement

        world, placement = found.world, found.placement
        assert world is not None
        middle = Choice(_("In the middle of the view"), lambda: self._lay_in_view(found))
        if placement is None:
            other = Choice(_("Another world file…"), lambda: self._choose_world(found))
            self._bars.tell(KEY, "\n".join([found.fault, *found.picture.told]), other, middle)
            return
        system = placement.system
        sure = system is None or system.sure
        head = _("{picture} with {world}: {where}") if sure else _("{picture} with {world}")
        lines = [
            head.format(
                picture=found.path.name, world=world.name, where=told_placement(found.picture, placement)
            ),
            *found.picture.told,
            *placement.told,
            *(doubt.sentence for doubt in placement.doubts),
        ]
        choices = [Choice(_("Lay it so"), partial(self._lay, found, placement))] if sure else []
        mends = [mend for doubt in placement.doubts for mend in doubt.mends][: 1 if sure else _MOST_OFFERED]
        choices += [
            Choice(_("Read as {way}").format(way=mend.label), partial(self._again, found, world, mend.how))
            for mend in mends
        ]
        self._bars.tell(KEY, "\n".join(lines), *choices, middle)

    def _choose_world(self, found: Found) -> None:
        kinds = " ".join(f"*{ending}" for ending in WORLDS[:-1])
        name, _kind = QFileDialog.getOpenFileName(
            None, _("World file of {name}").format(name=found.path.name), str(found.path.parent),
            f"{_('World files')} ({kinds})",
        )  # fmt: skip
        if name:
            self._again(found, Path(name))

    # laid ------------------------------------------------------------------------------------------------------------

    def _lay_in_view(self, found: Found) -> None:
        """In the middle of the view at a size that can be seen, with a word about what to do next."""
        from studio.files.picture_world import Placement

        turn_to(self._session, "plan")
        x0, y0, x1, y1 = self._sight()
        size = _FILLS * min((x1 - x0) / found.picture.width_px, (y1 - y0) / found.picture.height_px)
        if self._laid(found, Placement((x0 + x1) / 2, (y0 + y1) / 2, size, 0.0)):
            self._session.take_tool("picture")
            lines = [
                _("{name} lies in the middle of the view; its size is not known yet. Click two points whose distance you "
                  "know, type it, Enter takes.").format(name=found.path.name),
                *found.picture.told,
            ]  # fmt: skip
            self._bars.tell(
                KEY, "\n".join(lines), Choice(_("World file…"), lambda: self._choose_world(found))
            )

    def _lay(self, found: Found, placement: "Placement") -> None:
        self._laid(found, placement)

    def _laid(self, found: Found, placement: "Placement") -> bool:
        """Lay the picture as one step of undo; whether it could be."""
        from studio.files.picture_taken import lay_picture
        from studio.keep import fingerprint

        self._bars.away(KEY)
        turn_to(self._session, "plan")
        self._session.take_asset(fingerprint(found.picture.data), found.picture.data)
        if not self._session.apply(lay_picture(self._session.state.design, found.picture, placement)):
            return False
        self._session.show_layer("picture")
        self._session.select(Subject("picture"))
        return True

    def _hear(self, old: State, new: State) -> None:
        """Once it is scaled, the word about scaling has done its work."""
        before, now = old.design.underlay, new.design.underlay
        if before.asset == now.asset and before.m_per_pixel != now.m_per_pixel:
            self._bars.away(KEY)
