"""The Mirror view: side, front and spot above; day, error budget and curves below. What has no room is folded."""

from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QHideEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import QLabel, QWidget

from studio.design.fields import mark
from studio.desk.chips import Chip, head_row
from studio.desk.mirror.budget_panel import BudgetPanel
from studio.desk.mirror.curve_panel import CurvePanel
from studio.desk.mirror.day_panel import DayPanel
from studio.desk.mirror.flux_panel import FluxPanel
from studio.desk.mirror.front_panel import FrontPanel
from studio.desk.mirror.model import RIBS, WINDOW, MirrorModel
from studio.desk.mirror.panel import Panel
from studio.desk.mirror.side_panel import SidePanel
from studio.desk.mirror.source import BarSource
from studio.desk.session import Session
from studio.desk.shelf.page import ShelfPage, shelf_page
from studio.desk.theme import Theme
from studio.text import _, number, percent

CHIPS = (
    ("rays", mark("Rays"), mark("Central rays of the moment; dashed ones miss the window")),
    ("tint", mark("Strip tint"), mark("Strips tinted by the share of their light that the window takes")),
    ("line", mark("Along line"), mark("The pipe's slide above the mirror and its neighbours")),
    ("day", mark("Day"), mark("Intercept and optical efficiency through the day")),
    ("budget", mark("Error budget"), mark("What a year would gain without each error")),
    ("curves", mark("Ribs, window"), mark("Field heat over the number of ribs and the window's width")),
    ("shelf", mark("Shelf"), mark("Mirrors kept side by side, ranked by heat cost; and the search for better ones")),
)  # fmt: skip
_LOWER = ("day", "budget", "curves")
_SHELF = "shelf"
_HEAD_PX = 40
_WIDE_PX, _HIGH_PX = 860, 520
_UPPER_SHARE = 0.58
_LOW_PX = 230
_SHARES = {"day": 0.40, "budget": 0.34, "curves": 0.26}
_SHARES_OF_TWO = {"day": 1.15, "budget": 1.0, "curves": 1.0}
"""How the panels below share the width, all three and where there is room for two."""


class MirrorView(QWidget):
    """One mirror of the selected line, or of the first, at the moment."""

    def __init__(self, session: Session, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._theme = session, theme
        self.model = MirrorModel(session, parent=self)
        self.side, self.front = SidePanel(self.model, theme, self), FrontPanel(self.model, theme, self)
        self.flux, self.day = FluxPanel(self.model, theme, self), DayPanel(self.model, theme, session, self)
        self.budget = BudgetPanel(self.model, theme, self)
        self.ribs = CurvePanel(self.model, theme, RIBS, mark("Ribs"), self)
        self.window_width = CurvePanel(self.model, theme, WINDOW, mark("Window, cm"), self)
        self.source = BarSource(self, session, self.model, theme)
        self.budget.picked.connect(self.source.explain)
        self.shelf: ShelfPage | None = None
        self.chips: dict[str, Chip] = {}
        self._order = list(reversed(_LOWER))
        """Panels below that are wanted, the one that was asked for last at the end."""
        self.words = QLabel(self)
        self._head = QWidget(self)
        self._lay_out_head()
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setFocusProxy(self.side)
        self.model.changed.connect(self._hear)
        self.setAccessibleName(_("Mirror"))
        theme.changed.connect(self._tell)

    def _lay_out_head(self) -> None:
        row = head_row(self._head)
        for key, name, about in CHIPS:
            chip = Chip(self._theme, _(name), self._head)
            chip.setObjectName(key)
            chip.setToolTip(_(about))
            chip.setChecked(key != _SHELF)
            chip.clicked.connect(self._toggle)
            self.chips[key] = chip
            row.addWidget(chip)
        row.addStretch(1)
        self.words.setParent(self._head)
        self.words.setFont(self._theme.font(12, 500))
        row.addWidget(self.words)

    def shut(self) -> None:
        """End the work in the background."""
        self.model.background.close()
        if self.shelf is not None:
            self.shelf.shut()

    # what is in sight ------------------------------------------------------------------------------------------

    def _toggle(self) -> None:
        chip = self.sender()
        assert isinstance(chip, Chip)
        key = chip.objectName()
        if key == _SHELF:
            self._take_out_shelf()
        elif key in _LOWER:
            seen = key in self._fold()
            self._order = [other for other in self._order if other != key] + ([] if seen else [key])
        self._arrange()

    def _take_out_shelf(self) -> None:
        """The shelf lies over the panels, which rest meanwhile; it is made when it is first asked for."""
        out = self.chips[_SHELF].isChecked()
        if self.shelf is None:
            self.shelf = shelf_page(self._session, self._theme, self)
        for key, chip in self.chips.items():
            chip.setVisible(key == _SHELF or not out)
        for panel in self._panels():
            panel.setVisible(not out)
        self.shelf.setVisible(out)

    @property
    def _roomy(self) -> bool:
        return self.width() >= _WIDE_PX and self.height() >= _HIGH_PX

    def _fold(self) -> list[str]:
        """The panels below that are in sight; in a small window two of them, the last ones asked for."""
        shown = self._order if self._roomy else self._order[-2:]
        return [key for key in _LOWER if key in shown]

    def _arrange(self) -> None:
        """Give every panel its place."""
        below = self._fold()
        for key in _LOWER:
            self.chips[key].setChecked(key in below)
        self.side.shows_rays = self.front.shows_rays = self.chips["rays"].isChecked()
        self.front.shows_tint = self.chips["tint"].isChecked()
        self.front.shows_line = self.chips["line"].isChecked()
        self._head.setGeometry(0, 0, self.width(), _HEAD_PX)
        room = self.height() - _HEAD_PX
        if self.shelf is not None and not self.shelf.isHidden():
            self.shelf.setGeometry(0, _HEAD_PX, self.width(), room)
            self.shelf.raise_()
            return
        upper = round(room * (_UPPER_SHARE if below else 1.0))
        top = QRect(0, _HEAD_PX, self.width(), upper)
        _share_out(top, ((self.side, 0.35), (self.front, 0.29), (self.flux, 0.36)))
        foot = QRect(0, _HEAD_PX + upper, self.width(), room - upper)
        shares = _SHARES if self._roomy else _SHARES_OF_TWO
        total = sum(shares[key] for key in below)
        left = foot.left()
        for key in _LOWER:
            wide = round(foot.width() * shares[key] / total) if key in below else 0
            self._place(key, QRect(left, foot.top(), wide, foot.height()))
            left += wide
        self.model.want_curves("curves" in below)
        for panel in self._panels():
            panel.refresh()
        self.source.place()

    def _place(self, key: str, box: QRect) -> None:
        """One of the panels below; without width it is folded. The curves stand one over the other, or side by side where it is low."""
        if key == "curves":
            first, second = QRect(box), QRect(box)
            if box.height() < _LOW_PX:
                first.setRight(box.left() + box.width() // 2 - 1)
                second.setLeft(first.right() + 1)
            else:
                first.setBottom(box.top() + box.height() // 2 - 1)
                second.setTop(first.bottom() + 1)
            parts: tuple[tuple[Panel, QRect], ...] = ((self.ribs, first), (self.window_width, second))
        else:
            parts = ((self.day if key == "day" else self.budget, box),)
        for panel, place in parts:
            panel.setVisible(box.width() > 0)
            panel.setGeometry(place)

    def _panels(self) -> tuple[Panel, ...]:
        return (self.side, self.front, self.flux, self.day, self.budget, self.ribs, self.window_width)

    # events ----------------------------------------------------------------------------------------------------

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._arrange()
        self._tell()

    def showEvent(self, event: QShowEvent) -> None:
        self.model.wake()

    def hideEvent(self, event: QHideEvent) -> None:
        self.model.sleep()

    def _hear(self, what: str) -> None:
        if what == "now":
            self._tell()

    def _tell(self) -> None:
        """The moment in figures, as far as there is room."""
        if not self.isVisible():
            return
        drawing = self.model.drawing
        parts = [
            _("intercept {share} %").format(share=percent(drawing.accepted))
            if drawing.sun_falls_on_it
            else _("no sun on it"),
            _("sun {deg}° off axis").format(deg=number(drawing.off_axis_deg, digits=1)),
            _("roll {deg}°").format(deg=number(drawing.roll_deg, digits=1, sign=True)),
            _("slide {m} m").format(m=number(drawing.slide_m, digits=2, sign=True)),
            self._line_name(),
        ]
        self.setAccessibleDescription(", ".join(parts))
        chips = sum(chip.sizeHint().width() + 8 for chip in self.chips.values() if not chip.isHidden()) + 40
        metrics = self.words.fontMetrics()
        gap = "  ·  "
        while parts and metrics.horizontalAdvance(gap.join(parts)) > self.width() - chips:
            parts.pop()
        self.words.setText(gap.join(reversed(parts)))

    def _line_name(self) -> str:
        if not self.model.design.lines:
            return _("no line yet")
        return _("Line {number}").format(number=self.model.drawing.line_id)


def _share_out(box: QRect, parts: tuple[tuple[Panel, float], ...]) -> None:
    """Panels side by side, each with its share of the width."""
    left = box.left()
    for place, (panel, share) in enumerate(parts):
        wide = box.right() + 1 - left if place == len(parts) - 1 else round(box.width() * share)
        panel.setGeometry(QRect(left, box.top(), wide, box.height()))
        left += wide
