"""A pasted table: the text, and beside it at once how it is understood: corners, a traverse, or spot heights."""

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import QPlainTextEdit, QWidget

from studio.design.design import Design
from studio.desk.land_in.asking import Asking
from studio.desk.land_in.look_page import LookPage
from studio.desk.overlay import told
from studio.desk.theme import Theme
from studio.errors import StillfieldError
from studio.text import _

LONGEST = 2_000_000
"""Signs of a pasted text; a table of 20,000 lines has no more."""
_WAIT_MS = 200
_TEXT_HIGH = 190


@dataclass(frozen=True)
class Understood:
    """How a text is understood: its lines, and whether it holds heights rather than corners."""

    lines: tuple[str, ...]
    heights: bool


def understood(text: str, design: Design) -> Understood:
    """How a pasted text is understood. Raises what the readers raise, in one sentence."""
    from studio.files.heights.found import HeightsHow
    from studio.files.heights.look import look_at_heights_text
    from studio.files.heights.spots import holds_spots
    from studio.files.heights.told import look_lines as heights_lines
    from studio.files.land.found import How
    from studio.files.land.look import look_at_text
    from studio.files.land.told import look_lines

    name, near = _("the pasted table"), (design.site.latitude_deg, design.site.longitude_deg)
    heights = holds_spots(text)
    lines = (
        heights_lines(look_at_heights_text(text, design, name=name, how=HeightsHow(land=How(near=near))))
        if heights
        else look_lines(look_at_text(text, name=name, how=How(near=near)))
    )
    told_so = [line.strip() for line in lines if not line.strip().startswith("-")]
    return Understood(tuple(line[:1].upper() + line[1:] for line in told_so), heights)


class PastePage(LookPage):
    """The text and how it is understood. ``corners`` and ``heights`` hand it on to the page that takes it."""

    corners = Signal(str)
    heights = Signal(str)

    def __init__(self, parent: QWidget, design_of: Callable[[], Design], theme: Theme) -> None:
        super().__init__(parent, theme, _("Go on"))
        self._design_of = design_of
        self.found: Understood | None = None
        self.asking = Asking(self)
        self.asking.answered.connect(self._take_answer)
        self.text = QPlainTextEdit()
        self.text.setAccessibleName(_("The table"))
        self.text.setPlaceholderText(
            _(
                "Corners: x and y, latitude and longitude, or bearing and distance. Heights: x, y and height. One place a line."
            )
        )
        self.text.setTabChangesFocus(True)
        self.text.setFixedHeight(_TEXT_HIGH)
        self._wait = QTimer(self, interval=_WAIT_MS, singleShot=True)
        self._wait.timeout.connect(self._ask)
        self.text.textChanged.connect(self._changed)
        self.says = told("", theme)
        self.body.setContentsMargins(16, 4, 16, 8)
        self.body.addWidget(self.text)
        self.body.addWidget(self.says)
        self.body.addStretch(1)
        self.says.setContentsMargins(0, 6, 0, 2)
        self.take_button.clicked.connect(self.go_on)
        theme.changed.connect(self._recolor)
        self._recolor()
        self._fill()

    def open(self, text: str) -> None:
        """Show a text that was pasted; empty: to be pasted or typed."""
        self.show_titled(_("A pasted table"))
        self.text.setPlainText(text[:LONGEST])
        self.text.setFocus()

    def put_away(self) -> None:
        """Leave the table."""
        self.asking.leave()
        super().put_away()

    def go_on(self) -> None:
        """Hand the text on to the page that shows all of it and takes it."""
        found = self.found
        if found is None:
            return
        self.put_away()
        (self.heights if found.heights else self.corners).emit(self.text.toPlainText())

    def _changed(self) -> None:
        self.found = None
        self.asking.leave()
        self.says.setText(
            _("Reading {name} …").format(name=_("the table")) if self.text.toPlainText().strip() else ""
        )
        self._wait.start()
        self._fill()

    def _ask(self) -> None:
        text, design = self.text.toPlainText(), self._design_of()
        if text.strip() and self.isVisible():
            self.asking.ask(lambda: understood(text, design))

    def _take_answer(self, answer: object) -> None:
        if isinstance(answer, Understood):
            self.found = answer
            self.says.setText("\n".join(answer.lines))
        elif isinstance(answer, StillfieldError):
            self.says.setText(str(answer))
        self._fill()

    def _fill(self) -> None:
        self.say_in_foot([], fault=False)
        self.take_button.setEnabled(self.found is not None)
        self.fit_later()

    def _recolor(self) -> None:
        self.text.setFont(self.theme.font(13))
        self.says.setFont(self.theme.font(13))
        palette = self.says.palette()
        palette.setColor(self.says.foregroundRole(), self.theme.color("ink"))
        self.says.setPalette(palette)
