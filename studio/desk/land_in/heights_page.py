"""The page of a file or table of heights: what was found, what is doubtful, the land shaded from above, take or leave."""

from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QLabel, QLineEdit, QPushButton, QWidget

from studio.design.design import Design
from studio.desk.land_in.asking import Asking
from studio.desk.land_in.look_page import LookPage
from studio.desk.land_in.relief import Relief
from studio.desk.layouts import grid
from studio.desk.session import Session
from studio.desk.shelf.tick_box import TickBox
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.edits.edit import Edit
from studio.errors import BadInputError, StillfieldError
from studio.files.heights.found import HeightsHow, HeightsLook
from studio.numbers_in import read_number
from studio.text import _


@dataclass(frozen=True, eq=False)
class HeightsReady:
    """A look at heights for the design ``before``; ``edit`` is None where something must be said first."""

    before: Design
    look: HeightsLook
    edit: Edit | None
    told: tuple[str, ...]


def _work(path: Path, text: str | None, design: Design, how: HeightsHow, skyline: bool) -> HeightsReady:
    from studio.files.heights.into_site import edit_of, kept_and_replaced
    from studio.files.heights.look import look_at_heights, look_at_heights_text
    from studio.files.heights.skyline import skyline_of

    look = (
        look_at_heights(path, design, how=how)
        if text is None
        else look_at_heights_text(text, design, name=path.name, how=how)
    )
    if look.taken is None:
        return HeightsReady(design, look, None, ())
    seen = skyline_of(path, design, how=how) if skyline and look.raster else None
    edit = edit_of(design, look, seen)
    told = (*look.taken.told, *(seen.told if seen else ()))
    return HeightsReady(design, look, edit, (*told, *kept_and_replaced(design, edit.design)))


class HeightsPage(LookPage):
    """Shows heights before they are taken. ``taken`` once they are in the design."""

    taken = Signal()

    def __init__(self, parent: QWidget, session: Session, theme: Theme) -> None:
        super().__init__(parent, theme, _("Take these heights"))
        self._session = session
        self._path = Path()
        self._text: str | None = None
        self._fault = ""
        self.how = HeightsHow()
        self.ready: HeightsReady | None = None
        self.asking = Asking(self)
        self.asking.answered.connect(self._take_answer)
        self.fields: dict[str, QLineEdit] = {}
        self.skyline = TickBox(theme, _("Take the skyline from these heights too"))
        self.skyline.setAccessibleName(self.skyline.text())
        self.skyline.clicked.connect(self._ask_again)
        self.foot.insertWidget(0, self.skyline)
        self.take_button.clicked.connect(self.take)
        session.changed.connect(self._hear)
        theme.changed.connect(self._recolor)

    def open(self, path: Path, *, text: str | None = None) -> None:
        """Read a file, or a pasted ``text``, and show what is in it."""
        self._path, self._text, self.ready, self.how = path, text, None, HeightsHow()
        self.skyline.setChecked(False)
        self.show_titled(_("Heights from {name}").format(name=path.name))
        self._ask(self.how)

    def open_text(self, text: str) -> None:
        """Show what is in a pasted table of spot heights."""
        self.open(Path(_("the pasted table")), text=text)

    def put_away(self) -> None:
        """Leave the file; what is still being read is not waited for."""
        self.asking.leave()
        super().put_away()

    def take(self) -> None:
        """Put the heights into the design, as one step of undo."""
        ready = self.ready
        if ready is None or ready.edit is None or ready.before is not self._session.state.design:
            return
        self.put_away()
        if self._session.apply(ready.edit):
            self.taken.emit()

    def _ask(self, how: HeightsHow) -> None:
        self.how, self._fault = how, ""
        path, text, skyline = self._path, self._text, self.skyline.isChecked()
        design = self._session.state.design
        if self.ready is None:
            self._build()
        self.take_button.setEnabled(False)
        self.asking.ask(lambda: _work(path, text, design, how, skyline))

    def _ask_again(self) -> None:
        self._ask(self.how)

    def _take_answer(self, answer: object) -> None:
        if isinstance(answer, HeightsReady):
            self.ready = answer
        elif isinstance(answer, StillfieldError):
            self._fault = str(answer)
        if self.ready is None or not self._fault:
            self._build()
        self._fill_foot()

    def _hear(self, old: State, new: State) -> None:
        if self.isVisible() and new.design is not old.design:
            self._ask(self.how)

    def _recolor(self) -> None:
        self.does.setFont(self.theme.font(12))
        if self.isVisible():
            self._build()
            self._fill_foot()

    # what is shown ---------------------------------------------------------------------------------------------

    def _build(self) -> None:
        self.empty()
        self.mends, self.fields = [], {}
        if self.ready is not None:
            self._build_look(self.ready.look)
        elif self._fault:
            self.say(self._fault)
            self.say(_("Nothing was changed."), size=12, role="ink2")
        else:
            self.say(_("Reading {name} …").format(name=self._path.name), role="ink2")
        self.body.addStretch(1)
        self._fill_foot()
        self.fit_later()

    def _build_look(self, look: HeightsLook) -> None:
        from studio.files.heights.told import heights_line, slopes_line, system_line

        self.say(f"{look.kind[:1].upper()}{look.kind[1:]}: {look.size}")
        for doubt in look.doubts:
            self.say_doubt(doubt, self._ask)
        lines = (
            heights_line(look), slopes_line(look), system_line(look.system, placed=look.how.at is not None),
        )  # fmt: skip
        for told_so in filter(None, lines):
            self.say(told_so[:1].upper() + told_so[1:])
        if look.taken is not None:
            boundary = self._session.state.design.plot.boundary
            self.body.addWidget(Relief(self.theme, look.taken, boundary))
        self._build_form(look)
        if self.ready is not None and self.ready.told:
            self.body.addSpacing(4)
            self.say("\n".join(self.ready.told), size=12, role="ink2")

    def _build_form(self, look: HeightsLook) -> None:
        """What a person says where the file is silent."""
        held = QWidget()
        rows = grid(held, margins=(16, 6, 16, 4), spacing=8)
        how = look.how
        at = "" if how.at is None else f"{how.at[0]:g}; {how.at[1]:g}"
        zero = "" if how.zero_m is None else f"{how.zero_m:g}"
        words = [
            ("crs", _("Read x and y as"), how.land.crs, _("EPSG or local")),
            ("unit", _("in units of"), how.land.unit, _("m, ft, 50 ft")),
            ("height_unit", _("Heights in"), how.height_unit, _("m, ft")),
            ("zero", _("from zero at"), zero, _("height at 0, 0")),
            ("at", _("South-west corner at"), at, _("east; north")),
        ]
        if look.attributes:
            hint = ", ".join(look.attributes) if look.attribute else _("their own heights")
            words.append(("attribute", _("from attribute"), how.attribute or look.attribute, hint))
        for place, (key, label, value, hint) in enumerate(words):
            words_of = QLabel(label)
            words_of.setFont(self.theme.font(12))
            field = QLineEdit(value)
            field.setFont(self.theme.font(13))
            field.setFixedHeight(26)
            field.setPlaceholderText(hint)
            field.setAccessibleName(label)
            field.returnPressed.connect(self._read_as)
            words_of.setBuddy(field)
            self.fields[key] = field
            row, column = divmod(place, 2)
            rows.addWidget(words_of, row, 2 * column)
            rows.addWidget(field, row, 2 * column + 1)
        again = QPushButton(_("Look again"))
        again.setFont(self.theme.font(12))
        again.clicked.connect(self._read_as)
        rows.addWidget(again, 2 + len(words) // 6, 3)
        self.body.addWidget(held)

    def _read_as(self) -> None:
        text = {key: field.text().strip() for key, field in self.fields.items()}
        try:
            zero = read_number(text["zero"], "m").value if text["zero"] else None
            at = _two_lengths(text["at"])
        except BadInputError as error:
            self._fault = str(error)
            self._fill_foot()
            return
        land = replace(self.how.land, crs=text["crs"], unit=text["unit"])
        attribute = text.get("attribute", "")
        if self.ready is not None and not self.how.attribute and attribute == self.ready.look.attribute:
            attribute = ""  # nobody said it
        self._ask(
            replace(
                self.how, land=land, height_unit=text["height_unit"], zero_m=zero, at=at, attribute=attribute
            )
        )

    def _fill_foot(self) -> None:
        ready = self.ready
        self.skyline.setVisible(ready is not None and ready.look.raster and ready.look.taken is not None)
        self.take_button.setVisible(ready is not None)
        sentences: list[str] = []
        if ready is not None and self._fault:
            sentences = [self._fault]
        elif ready is not None and ready.edit is None:
            doubted = ready.look.refused in map(str, ready.look.doubts)
            sentences = [
                _("Before they can be taken, the first question above must be settled.")
                if doubted
                else ready.look.refused
            ]
        self.say_in_foot(sentences, fault=True)
        usable = ready is not None and ready.edit is not None and not self._fault
        current = (
            ready is not None and ready.before is self._session.state.design and ready.look.how == self.how
        )
        self.take_button.setEnabled(usable and current)
        self.fit_later()


def _two_lengths(text: str) -> tuple[float, float] | None:
    """Two lengths set apart by a semicolon; None where nothing is said."""
    if not text:
        return None
    parts = text.split(";") if ";" in text else text.split()
    if len(parts) != 2:
        raise BadInputError(
            _("“{typed}” is no place; two lengths such as -380; -275 would be right.").format(typed=text[:40])
        )
    return read_number(parts[0], "m").value, read_number(parts[1], "m").value
