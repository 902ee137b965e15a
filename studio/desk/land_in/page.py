"""The page of a land file over the view: what was found, what is doubtful and what would mend it, which area becomes the plot."""

from dataclasses import replace
from functools import partial
from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QButtonGroup, QLabel, QLineEdit, QPushButton, QSizePolicy, QWidget

from studio.desk.land_in.area_row import AreaRow
from studio.desk.land_in.reader import LandReader, Ready
from studio.desk.layouts import column, line
from studio.desk.overlay import Overlay, told
from studio.desk.session import Session
from studio.desk.shelf.tick_box import TickBox
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.errors import StillfieldError
from studio.files.land.found import AreaFound, Doubt, How, LandChoice, LandLook
from studio.files.land.told import misclosure_line
from studio.text import _, plural

_AT_ONCE = 40
"""Rows shown before one asks for more."""
_CODE_SHOWN = 20
_ROW_PX = 440
"""As wide as buttons stand beside each other."""


class LandPage(Overlay):
    """Shows a land file. ``taken`` once its land is in the design."""

    taken = Signal()

    def __init__(self, parent: QWidget, session: Session, theme: Theme) -> None:
        super().__init__(parent, theme)
        self._session = session
        self._path = Path()
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
        self.mends: list[QPushButton] = []
        self.system = QLineEdit()
        self._group = QButtonGroup(self)
        self.holes = TickBox(theme, _("Its holes are no-build areas"))
        self.holes.setAccessibleName(self.holes.text())
        self.holes.setChecked(True)
        self.holes.clicked.connect(self._weigh)
        self.does = told("", theme, size=12)
        self.does.setContentsMargins(0, 2, 0, 2)
        self.take_button = QPushButton(_("Take as the plot"))
        self.take_button.clicked.connect(self.take)
        self.leave_button = QPushButton(_("Leave it"))
        self.leave_button.clicked.connect(self.put_away)
        self.how_told: QLabel | None = None
        self._foot = QWidget()
        foot = column(self._foot, margins=(16, 6, 16, 8), spacing=6)
        foot.addWidget(self.holes)
        foot.addWidget(self.does)
        buttons = line(spacing=8)
        buttons.addWidget(self.take_button)
        buttons.addWidget(self.leave_button)
        buttons.addStretch(1)
        foot.addLayout(buttons)
        whole = self.layout()
        assert whole is not None
        whole.addWidget(self._foot)
        session.changed.connect(self._hear)
        theme.changed.connect(self._recolor)

    # what is asked ---------------------------------------------------------------------------------------------

    def open(self, path: Path) -> None:
        """Read a file and show what is in it."""
        site = self._session.state.design.site
        self._path, self.look = path, None
        self._read(How(near=(site.latitude_deg, site.longitude_deg)))
        self.show_titled(_("Land from {name}").format(name=path.name))

    def look_again(self, how: How, _checked: bool = False) -> None:
        """Read the file as a person says it is to be read."""
        self._read(how)

    def _read(self, how: How) -> None:
        self._fault, self.chosen, self.ready = "", None, None
        self.no_build.clear()
        self._shown = _AT_ONCE
        self.reader.look(self._path, how)
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
            self._say(_("Reading {name} …").format(name=self._path.name), role="ink2")
        elif self.look is None:
            self._say(self._fault)
            self._say(_("Nothing was changed."), size=12, role="ink2")
        else:
            self._build_look(self.look)
        self.body.addStretch(1)
        self._fill_foot()
        self.fit_later()

    def _build_look(self, look: LandLook) -> None:
        self._say(
            _("{kind}: {layers}").format(
                kind=look.kind[:1].upper() + look.kind[1:], layers=_told_layers(look)
            )
        )
        if missed := misclosure_line(look):
            self._say(missed[:1].upper() + missed[1:])
        self._build_system(look)
        for doubt in look.doubts:
            self._build_doubt(doubt)
        if not look.areas:
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
        self._say(words, weight=600)
        for area in look.areas[: self._shown]:
            self._build_area(area, area.layer if len(look.layers) > 1 else "")
        self._show_ticks()
        left = len(look.areas) - self._shown
        if left > 0:
            more = QPushButton(plural("Show {count} more", "Show {count} more", min(left, _AT_ONCE)))
            more.clicked.connect(self._show_more)
            self._indent(more)
        self.how_told = told("", self.theme, size=12, role="ink2")
        self.body.addSpacing(4)
        self.body.addWidget(self.how_told)

    def _build_system(self, look: LandLook) -> None:
        found = look.system
        how = _("said") if found.said else _("taken") if found.sure else _("guessed")
        code = f" ({found.code})" if 0 < len(found.code) <= _CODE_SHOWN else ""
        self._say(
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
            self.look_again(replace(self.look.how, crs=self.system.text().strip()))

    def _build_doubt(self, doubt: Doubt) -> None:
        self._say(f"?  {doubt.sentence}")
        row: list[QPushButton] = []
        for mend in doubt.mends:
            button = QPushButton(
                mend.label[:1].upper() + mend.label[1:] if len(mend.label) > 5 else mend.label
            )
            button.setFont(self.theme.font(12))
            button.setAccessibleName(_("Look again: {mend}").format(mend=mend.label))
            button.setToolTip(_("Look again, read so"))
            button.clicked.connect(partial(self.look_again, mend.how))
            self.mends.append(button)
            if sum(one.sizeHint().width() + 8 for one in (*row, button)) > _ROW_PX:
                self._indent(*row)
                row = []
            row.append(button)
        self._indent(*row)

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

    def _say(self, text: str, *, size: int = 13, weight: int = 400, role: str = "ink") -> None:
        self.body.addWidget(told(text, self.theme, size=size, weight=weight, role=role))

    def _indent(self, *buttons: QPushButton) -> None:
        held = QWidget()
        row = line(held, margins=(34, 2, 16, 2), spacing=8)
        for button in buttons:
            button.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
            row.addWidget(button)
        row.addStretch(1)
        self.body.addWidget(held)

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
        self.does.setText("\n".join(sentences))
        palette = self.does.palette()
        palette.setColor(self.does.foregroundRole(), self.theme.color("ink" if self._fault else "ink2"))
        self.does.setPalette(palette)
        self.does.setVisible(bool(sentences))
        if self.how_told is not None:
            self.how_told.setText("\n".join(self.ready.taken.told) if self.ready is not None else "")
            self.how_told.setVisible(self.ready is not None)
        self.take_button.setVisible(look is not None)
        self.take_button.setEnabled(self.ready is not None)
        self.fit_later()

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.fillRect(1, self._foot.y(), self.width() - 2, 1, self.theme.color("hair"))
        painter.end()

    def wanted_height(self) -> int:
        foot = self._foot.layout()
        assert foot is not None
        wide = max(50, self.width() - 2)
        return super().wanted_height() + (
            foot.heightForWidth(wide) if foot.hasHeightForWidth() else foot.sizeHint().height()
        )


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
