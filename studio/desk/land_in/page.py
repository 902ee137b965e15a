"""The page of a land file over the view: what was found, what is doubtful and what would mend it, which area becomes the plot."""

from dataclasses import replace
from functools import partial
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QLabel, QLineEdit, QPushButton, QWidget

from studio.desk.land_in.area_row import AreaRow
from studio.desk.land_in.look_page import LookPage
from studio.desk.land_in.reader import LandReader, Ready
from studio.desk.layouts import line
from studio.desk.overlay import told
from studio.desk.session import Session
from studio.desk.shelf.tick_box import TickBox
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.errors import StillfieldError
from studio.files.land.found import AreaFound, How, LandChoice, LandLook
from studio.files.land.told import misclosure_line
from studio.text import _, plural

_AT_ONCE = 40
"""Rows shown before one asks for more."""
_CODE_SHOWN = 20


class LandPage(LookPage):
    """Shows a land file. ``taken`` once its land is in the design."""

    taken = Signal()
    wants_heights = Signal(Path)
    """The file may hold heights, and they are asked for."""

    def __init__(self, parent: QWidget, session: Session, theme: Theme) -> None:
        super().__init__(parent, theme, _("Take as the plot"))
        self._session = session
        self._path = Path()
        self._text: str | None = None
        self._fault = ""
        self._shown = _AT_ONCE
        self.look: LandLook | None = None
        self.chosen: int | None = None
        self.no_build: set[int] = set()
        self.ready: Ready | None = None
        self.reader = LandReader(self)
        self.reader.looked.connect(self._take_look)
        self.reader.weighed.connect(self._take_ready)
        self.rows: list[AreaRow] = []
        self.system = QLineEdit()
        self._group = QButtonGroup(self)
        self.holes = TickBox(theme, _("Its holes are no-build areas"))
        self.holes.setAccessibleName(self.holes.text())
        self.holes.setChecked(True)
        self.holes.clicked.connect(self._weigh)
        self.how_told: QLabel | None = None
        self.take_button.clicked.connect(self.take)
        self.foot.insertWidget(0, self.holes)
        session.changed.connect(self._hear)
        theme.changed.connect(self._recolor)

    # what is asked ---------------------------------------------------------------------------------------------

    def open(self, path: Path, *, text: str | None = None) -> None:
        """Read a file, or a pasted ``text``, and show what is in it."""
        site = self._session.state.design.site
        self._path, self._text, self.look = path, text, None
        self._read(How(near=(site.latitude_deg, site.longitude_deg)))
        self.show_titled(_("Land from {name}").format(name=path.name))

    def open_text(self, text: str) -> None:
        """Show what is in a pasted table of corners."""
        self.open(Path(_("the pasted table")), text=text)

    def _read(self, how: How) -> None:
        """Read the file as a person says it is to be read."""
        self._fault, self.chosen, self.ready = "", None, None
        self.no_build.clear()
        self._shown = _AT_ONCE
        self.reader.look(self._path, how, text=self._text)
        self._build(reading=True)

    def put_away(self) -> None:
        """Leave the file; what is still being read is not waited for."""
        self.reader.leave()
        super().put_away()

    def choose(self, number: int, _checked: bool = False) -> None:
        """Let an area be the plot."""
        self.chosen = number
        self.no_build.discard(number)
        self._show_ticks()
        self._weigh()

    def keep_free(self, number: int, _checked: bool = False) -> None:
        """Let an area beside the plot be a no-build area, or no longer."""
        self.no_build ^= {number}
        self._weigh()

    def take(self) -> None:
        """Put the chosen land into the design, as one step of undo."""
        ready = self.ready
        if ready is None or ready.before is not self._session.state.design:
            return
        self.put_away()
        if self._session.apply(ready.edit):
            self.taken.emit()

    def _weigh(self) -> None:
        self.ready = None
        if self.look is not None and self.chosen is not None:
            choice = LandChoice(self.chosen, tuple(sorted(self.no_build)), self.holes.isChecked())
            self.reader.weigh(self.look, choice, self._session.state.design)
        self._fill_foot()

    # what is answered ------------------------------------------------------------------------------------------

    def _take_look(self, answer: object) -> None:
        if isinstance(answer, LandLook):
            self.look = answer
            usable = [area for area in answer.areas if not area.refused]
            self.chosen = usable[0].number if len(usable) == 1 else None
        elif isinstance(answer, StillfieldError):
            self._fault = str(answer)
        self._build()
        self._weigh()

    def _take_ready(self, answer: object) -> None:
        if isinstance(answer, Ready):
            self.ready, self._fault = answer, ""
        elif isinstance(answer, StillfieldError):
            self._fault = str(answer)
        self._fill_foot()

    def _hear(self, old: State, new: State) -> None:
        if self.isVisible() and new.design is not old.design:
            self._weigh()

    def _recolor(self) -> None:
        self.does.setFont(self.theme.font(12))
        if self.isVisible():
            self._build()
            self._fill_foot()

    # what is shown ---------------------------------------------------------------------------------------------

    def _build(self, *, reading: bool = False) -> None:
        self.empty()
        self.rows, self.mends, self.how_told = [], [], None
        if reading:
            self.say(_("Reading {name} …").format(name=self._path.name), role="ink2")
        elif self.look is None:
            self.say(self._fault)
            self.say(_("Nothing was changed."), size=12, role="ink2")
        else:
            self._build_look(self.look)
        self.body.addStretch(1)
        self._fill_foot()
        self.fit_later()

    def _build_look(self, look: LandLook) -> None:
        self.say(
            _("{kind}: {layers}").format(
                kind=look.kind[:1].upper() + look.kind[1:], layers=_told_layers(look)
            )
        )
        if missed := misclosure_line(look):
            self.say(missed[:1].upper() + missed[1:])
        self._build_system(look)
        for doubt in look.doubts:
            self.say_doubt(doubt, self._read)
        if not look.areas:
            self._offer_heights(look)
            return
        self.body.addSpacing(6)
        usable = sum(not area.refused for area in look.areas)
        words = (
            _("Area")
            if len(look.areas) == 1
            else _("Areas")
            if usable < 2
            else _("Areas: click the one that is the plot")
        )
        self.say(words, weight=600)
        for area in look.areas[: self._shown]:
            self._build_area(area, area.layer if len(look.layers) > 1 else "")
        self._show_ticks()
        left = len(look.areas) - self._shown
        if left > 0:
            more = QPushButton(plural("Show {count} more", "Show {count} more", min(left, _AT_ONCE)))
            more.clicked.connect(self._show_more)
            self.indent(more)
        self._offer_heights(look)
        self.how_told = told("", self.theme, size=12, role="ink2")
        self.body.addSpacing(4)
        self.body.addWidget(self.how_told)

    def _offer_heights(self, look: LandLook) -> None:
        """A file without areas, or with heights beside them, may be one of heights."""
        if self._text is None and (not look.areas or look.may_hold_heights):
            heights = QPushButton(_("Look at its heights"))
            heights.setFont(self.theme.font(12))
            heights.clicked.connect(lambda: self.wants_heights.emit(self._path))
            self.indent(heights)

    def _build_system(self, look: LandLook) -> None:
        found = look.system
        how = _("said") if found.said else _("taken") if found.sure else _("guessed")
        code = f" ({found.code})" if 0 < len(found.code) <= _CODE_SHOWN else ""
        self.say(
            _("Coordinates: {name}{code}, numbers in {unit}; {how}").format(
                name=found.name, code=code, unit=found.unit, how=how
            )
        )
        label = QLabel(_("Read it as"))
        label.setFont(self.theme.font(12))
        self.system = QLineEdit(look.how.crs)
        self.system.setFont(self.theme.font(13))
        self.system.setFixedHeight(26)
        self.system.setMaximumWidth(180)
        self.system.setPlaceholderText(_("such as EPSG:25832"))
        self.system.setAccessibleName(_("Coordinate system to read the file in"))
        self.system.setToolTip(
            _("A code or name of a coordinate system; local: plain lengths about a point of the land")
        )
        self.system.returnPressed.connect(self._read_as)
        label.setBuddy(self.system)
        again = QPushButton(_("Look again"))
        again.setFont(self.theme.font(12))
        again.clicked.connect(self._read_as)
        held = QWidget()
        row = line(held, margins=(16, 2, 16, 4), spacing=8)
        row.addWidget(label)
        row.addWidget(self.system, 1)
        row.addWidget(again)
        row.addStretch(1)
        self.body.addWidget(held)

    def _read_as(self) -> None:
        if self.look is not None:
            self._read(replace(self.look.how, crs=self.system.text().strip()))

    def _build_area(self, area: AreaFound, layer: str) -> None:
        row = AreaRow(self.theme, area, layer=layer)
        self._group.addButton(row)
        row.setChecked(area.number == self.chosen)
        row.clicked.connect(partial(self.choose, area.number))
        row.no_build.clicked.connect(partial(self.keep_free, area.number))
        self.rows.append(row)
        self.body.addWidget(row)

    def _show_ticks(self) -> None:
        """Once there is a plot, each other area may be one where nothing is built."""
        for row in self.rows:
            number = row.area.number
            row.no_build.setChecked(number in self.no_build)
            row.no_build.setVisible(self.chosen not in (None, number) and not row.area.refused)

    def _show_more(self) -> None:
        before, self._shown = len(self.rows), self._shown + _AT_ONCE
        self._build()
        self.rows[before].setFocus()

    def _fill_foot(self) -> None:
        """What taking would do, or what stands in its way."""
        look = self.look
        area = next((area for area in look.areas if area.number == self.chosen), None) if look else None
        self.holes.setVisible(area is not None and area.holes > 0)
        sentences: list[str] = []
        if look is not None and self._fault:
            sentences = [self._fault]
        elif self.ready is not None and area is not None:
            sentences = [
                *area.doubts,
                *([_("Once it is taken:")] if self.ready.kept else []),
                *self.ready.kept,
            ]
        elif look is not None and area is None and any(not one.refused for one in look.areas):
            sentences = [_("No area is chosen yet.")]
        self.say_in_foot(sentences, fault=bool(self._fault))
        if self.how_told is not None:
            self.how_told.setText("\n".join(self.ready.taken.told) if self.ready is not None else "")
            self.how_told.setVisible(self.ready is not None)
        self.take_button.setVisible(look is not None)
        self.take_button.setEnabled(self.ready is not None)
        self.fit_later()


def _told_layers(look: LandLook) -> str:
    told_so = []
    for layer in look.layers:
        parts = [
            words
            for count, words in (
                (layer.areas, plural("{count} area", "{count} areas", layer.areas)),
                (layer.lines, plural("{count} line", "{count} lines", layer.lines)),
                (layer.points, plural("{count} point", "{count} points", layer.points)),
            )
            if count
        ]
        name = f"{layer.name} " if layer.name and len(look.layers) > 1 else ""
        told_so.append(f"{name}({', '.join(parts)})" if name else ", ".join(parts))
    return ", ".join(told_so)
