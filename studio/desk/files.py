"""Opening, saving and recovering: what the menu's file commands do, and what is told about files in bars."""

import json
from datetime import datetime
from pathlib import Path

from PySide6.QtCore import QObject, QSettings, Signal

from studio.design.design import Design, Document
from studio.design.site import FileWeather
from studio.design.validate import design_from_tree, tree_of
from studio.desk.bars import Bars, Choice
from studio.desk.differences import told_differences
from studio.desk.session import Session
from studio.desk.state import State
from studio.errors import KeepingError, LockedError, StillfieldError
from studio.files.examples import FIRST, example_path
from studio.files.keeping import ChangedOnDiskError, Keeper
from studio.files.recovery import Kind, Recovery, find_untitled, forget
from studio.files.site import read_site, write_site
from studio.text import _

MOST_RECENT = 8


class FileDesk(QObject):
    """Keeps the session's document. ``wants_copy`` asks for a dialog to save a copy under another name."""

    wants_copy = Signal()
    _background = Signal(str)

    def __init__(
        self, session: Session, bars: Bars, settings: QSettings, *, state_folder: Path | None = None
    ) -> None:
        super().__init__()
        self._session, self._bars, self._settings = session, bars, settings
        self._state_folder = state_folder
        self._background.connect(lambda text: bars.tell("journal", text))
        self._quiet = False
        self._noted = 0
        self._keeper = self._new_keeper()
        self._keeper.start()
        session.changed.connect(self._note)

    # opening ---------------------------------------------------------------------------------------------------

    def start(self, path: Path | None) -> None:
        """At the start of the desk: the named file, else the last one, else the finished example."""
        recent = self.recent()
        if path is not None:
            self.open(path)
        elif not (recent and self.open(recent[0])):
            self.open_example(FIRST)
        self._offer_untitled()

    def new(self) -> None:
        """An empty design without a file."""
        self._take(Document(), self._fresh_keeper())

    def open_example(self, name: str) -> None:
        """An example, as a design of one's own that has no file yet."""
        try:
            document = read_site(example_path(name).read_bytes())
        except (StillfieldError, OSError) as error:
            self._bars.tell("file", str(error))
            return
        self._take(document, self._fresh_keeper())

    def open(self, path: Path) -> bool:
        """Open a site file; whether it could be. What is wrong stands in a bar, and what was open stays."""
        keeper = self._new_keeper()
        try:
            opened = keeper.open(path)
            document = read_site(opened.data)
        except LockedError as error:
            keeper.close()
            self._bars.tell("file", str(error), Choice(_("Open a copy"), lambda: self._open_copy(path)))
            return False
        except StillfieldError as error:
            keeper.close()
            self._bars.tell("file", str(error))
            return False
        self._take(document, keeper, path)
        if not opened.locked:
            self._bars.tell(
                "lock",
                _(
                    "This folder takes no lock: another window could change the file too. Each save compares first."
                ),
            )
        if opened.recovery is not None:
            self._offer(opened.recovery, document.design)
        return True

    def _open_copy(self, path: Path) -> None:
        try:
            document = read_site(path.read_bytes())
        except (StillfieldError, OSError) as error:
            self._bars.tell("file", str(error))
            return
        self._take(document, self._fresh_keeper())

    def _fresh_keeper(self) -> Keeper:
        keeper = self._new_keeper()
        keeper.start()
        return keeper

    def _take(self, document: Document, keeper: Keeper, path: Path | None = None) -> None:
        self._keeper.close(discard=True)
        self._keeper = keeper
        for key in ("file", "lock", "recovery", "changed", "journal"):
            self._bars.away(key)
        self._quiet = True
        self._session.show_document(document, path=path, saved_clock="")
        self._quiet = False
        if path is not None:
            self._remember(path)

    # recovery --------------------------------------------------------------------------------------------------

    def _offer(self, recovery: Recovery, saved: Design | None) -> None:
        """Offer a recovered design: when it was written, what was done last, what differs."""
        found = self._design_in(recovery)
        if found is None:
            return
        words = [
            f"{recovery.kind.told[:1].upper()}{recovery.kind.told[1:]}, {_clock_of(recovery.written_at)}"
        ]
        if recovery.label:
            words.append(_("last: {label}").format(label=recovery.label))
        if saved is not None:
            words.append(_("differs in: {what}").format(what=told_differences(saved, found)))
        else:
            words.append(found.site.name)
        self._bars.tell(
            "recovery", "; ".join(words) + ".",
            Choice(_("Go on from these"), lambda: self._recover(recovery)),
            Choice(_("Throw them away"), lambda: self._forget(recovery)),
        )  # fmt: skip

    def _offer_untitled(self) -> None:
        try:
            left = find_untitled(tell=self._tell, folder=self._state_folder)
        except KeepingError as error:
            self._tell(error)
            return
        if left and self._bars.bar("recovery") is None:
            self._offer(left[0], None)

    def _recover(self, recovery: Recovery) -> None:
        design = self._design_in(recovery)
        if design is None:
            return
        keeper, document = self._keeper, self._session.state.document
        if recovery.kind is Kind.UNTITLED and keeper.path is not None:
            keeper = self._new_keeper()
        try:
            keeper.recover(recovery)
        except StillfieldError as error:
            self._bars.tell("file", str(error))
            return
        if keeper is not self._keeper:
            self._keeper.close()
            self._keeper, document = keeper, Document()
        self._quiet = True
        recovered = _with_known_assets(document, design)
        self._session.show_document(recovered, path=keeper.path, saved_clock="")
        self._session.update(saved=document if keeper.path else None)
        self._quiet = False
        lost = [
            sentence
            for sentence, mine, its in (
                (
                    _("The weather read after the last save is not in the journal; read its file again."),
                    design.site.weather, recovered.design.site.weather,
                ),
                (
                    _("The picture laid under the plan after the last save is not in the journal; read its file again."),
                    design.underlay, recovered.design.underlay,
                ),
            )
            if mine != its
        ]  # fmt: skip
        if lost:
            self._bars.tell("file", "\n".join(lost))

    def _forget(self, recovery: Recovery) -> None:
        try:
            forget(recovery)
        except KeepingError as error:
            self._tell(error)

    def _design_in(self, recovery: Recovery) -> Design | None:
        try:
            tree = json.loads(recovery.document)
        except ValueError:
            return None
        design, faults = design_from_tree(tree)
        if design is None:
            self._bars.tell("journal", _("What a crash left cannot be read: {fault}").format(fault=faults[0]))
        return design

    # saving ----------------------------------------------------------------------------------------------------

    def save(self, path: Path | None = None, *, overwrite: bool = False) -> bool:
        """Save where it was, or at ``path``; whether it was. Needs a path when there was none."""
        state = self._session.state
        try:
            data = write_site(state.document)
            self._keeper.save(data, path, up_to=self._noted or None, overwrite=overwrite)
        except ChangedOnDiskError as error:
            self._bars.tell(
                "changed", str(error),
                Choice(_("Save a copy…"), self.wants_copy.emit),
                Choice(_("Reload"), self._reload),
                Choice(_("Save over it"), lambda: self._save_over(path)),
            )  # fmt: skip
            return False
        except StillfieldError as error:
            self._bars.tell("file", str(error))
            return False
        self._bars.away("changed")
        where = path or state.path
        self._session.update(path=where, saved=state.document, saved_clock=datetime.now().strftime("%H:%M"))
        if where is not None:
            self._remember(where)
        return True

    def _save_over(self, path: Path | None) -> None:
        self.save(path, overwrite=True)

    def save_copy(self, path: Path) -> bool:
        """Write a copy and stay with this file."""
        try:
            self._keeper.save_copy(write_site(self._session.state.document), path, overwrite=True)
        except StillfieldError as error:
            self._bars.tell("file", str(error))
            return False
        return True

    def _reload(self) -> None:
        try:
            document = read_site(self._keeper.reload())
        except StillfieldError as error:
            self._bars.tell("file", str(error))
            return
        self._quiet = True
        self._session.show_document(document, saved_clock="")
        self._quiet = False

    def close(self, *, discard: bool) -> None:
        """Let go of the file at the end. What is not saved stays in the journal unless ``discard``."""
        self._keeper.close(discard=discard or not self._session.state.unsaved)

    # the journal -----------------------------------------------------------------------------------------------

    def _note(self, old: State, new: State) -> None:
        if self._quiet or new.design is old.design:
            return
        design = new.design
        label = new.undo[-1].label if len(new.undo) > len(old.undo) and new.undo else _("Undo or redo")
        self._noted = self._keeper.note(label, lambda: json.dumps(tree_of(design)).encode("utf-8"))

    def _new_keeper(self) -> Keeper:
        self._noted = 0
        return Keeper(document_of=_journalled, tell=self._tell, state_folder=self._state_folder)

    def _tell(self, error: KeepingError) -> None:
        self._background.emit(str(error))  # may be called on the journal's thread

    # recent ----------------------------------------------------------------------------------------------------

    def recent(self) -> list[Path]:
        """The files opened last that are still there, the newest first."""
        kept = self._settings.value("recent", [])
        names = [kept] if isinstance(kept, str) else list(kept) if isinstance(kept, list | tuple) else []
        return [Path(str(name)) for name in names if Path(str(name)).is_file()]

    def _remember(self, path: Path) -> None:
        path = path.absolute()
        others = [other for other in self.recent() if other != path]
        self._settings.setValue("recent", [str(p) for p in [path, *others][:MOST_RECENT]])


def _journalled(data: bytes) -> object:
    return tree_of(read_site(data).design)


def _clock_of(written_at: str) -> str:
    try:
        return datetime.fromisoformat(written_at).astimezone().strftime("%Y-%m-%d %H:%M")
    except ValueError:
        return written_at


def _with_known_assets(document: Document, design: Design) -> Document:
    """The document with a recovered design; weather and picture that no asset is there for are the file's own again."""
    import dataclasses

    weather, underlay = design.site.weather, design.underlay
    if isinstance(weather, FileWeather) and document.asset(weather.asset) is None:
        site = dataclasses.replace(design.site, weather=document.design.site.weather)
        design = dataclasses.replace(design, site=site)
    if underlay.asset and document.asset(underlay.asset) is None:
        design = dataclasses.replace(design, underlay=document.design.underlay)
    return dataclasses.replace(document, design=design)


def file_name_of(name: str) -> str:
    """A site's name as a file name: letters, digits and joints."""
    kept = "".join(c if c.isalnum() or c in " -_" else "_" for c in name).strip()
    return kept[:80] or "site"
