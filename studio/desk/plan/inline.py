"""Figures that stand on the drawing and are typed right there: their fields, what was typed, and how they are painted."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from PySide6.QtCore import QPointF, QRectF, Qt

from studio.desk.plan.board import Board
from studio.errors import StillfieldError
from studio.numbers_in import read_number
from studio.text import number

_STARTS = set("0123456789.,(-−")
_MOST = 40


@dataclass
class Figure:
    """One figure: ``value`` follows the hand until something is typed; ``unit`` as the field wears it.

    ``letters`` may begin what is typed besides digits and signs.
    """

    key: str
    label: str
    unit: str
    value: float | None = None
    digits: int = 2
    typed: str = ""
    letters: str = ""

    @property
    def shown(self) -> str:
        """What stands in its box."""
        return self.typed or number(self.value, digits=self.digits)


@dataclass
class Figures:
    """Figures edited together; one is active and takes the keys. ``fault`` is what is wrong with what was typed.

    ``shy`` ones are not shown, and Tab passes them by, until something is typed.
    """

    members: list[Figure]
    active: int = 0
    fault: str = ""
    doubt: str = ""
    touched: bool = field(default=False)
    shy: bool = False

    def __getitem__(self, key: str) -> Figure:
        return next(figure for figure in self.members if figure.key == key)

    def has(self, key: str) -> bool:
        """Whether there is a figure with this key."""
        return any(figure.key == key for figure in self.members)

    @property
    def now(self) -> Figure:
        """The active figure."""
        return self.members[self.active]

    @property
    def typing(self) -> bool:
        """Whether something was typed into any of them."""
        return any(figure.typed for figure in self.members)

    def follow(self, **values: float | None) -> None:
        """Let figures follow the hand; what was typed stays."""
        for figure in self.members:
            if figure.key in values:
                figure.value = values[figure.key]

    def key(self, text: str) -> bool:
        """Take a typed character; letters only once a number was begun. Whether it was taken."""
        if not text or not text.isprintable():
            return False
        if not self.now.typed and not self.begins(text):
            return False
        if len(self.now.typed) < _MOST:
            self.now.typed += text
        self._judge()
        return True

    def begins(self, text: str) -> bool:
        """Whether a character begins something typed into the active figure."""
        return text in _STARTS or (bool(text) and text in self.now.letters)

    def rub_out(self) -> bool:
        """Take the last character back; whether there was one."""
        if not self.now.typed:
            return False
        self.now.typed = self.now.typed[:-1]
        self._judge()
        return True

    def step(self, by: int = 1) -> None:
        """Go on to the next figure."""
        self.active = (self.active + by) % len(self.members)
        self.touched = True

    def clear(self) -> None:
        """Forget what was typed."""
        for figure in self.members:
            figure.typed = ""
        self.fault = self.doubt = ""

    def locked(self, key: str) -> float | None:
        """The value typed into a figure; None where nothing was typed, or nothing that is a number yet."""
        if not self.has(key) or not self[key].typed:
            return None
        try:
            return read_number(self[key].typed, self[key].unit).value
        except StillfieldError:
            return None

    def read(self, key: str) -> float | None:
        """The typed value, else the one that follows the hand. Raises BadInputError for what is no number."""
        figure = self[key]
        return read_number(figure.typed, figure.unit).value if figure.typed else figure.value

    def _judge(self) -> None:
        self.fault = self.doubt = ""
        if self.now.typed:
            try:
                self.doubt = read_number(self.now.typed, self.now.unit).doubt
            except StillfieldError as error:
                # told on taking it: a number half typed is no fault yet
                self.fault = str(error)


def paint_figure(
    board: Board, middle: QPointF, figure: Figure, *, active: bool, selected: bool = True
) -> QRectF:
    """A figure in its box, with the cursor behind what was typed when it is active; the box."""
    text, unit = figure.shown, "" if _wears_unit(figure) else figure.unit
    wide = board.width(text, 12, 600)
    unit_wide = board.width(unit, 11) + (3 if unit and unit != "°" else 0)
    box = figure_box(board, middle, figure)
    painter = board.painter
    painter.setBrush(board.theme.color("view"))
    painter.setPen(board.pen("accent" if active else "edge", 2.0 if active else 1.2))
    painter.drawRoundedRect(box, 4, 4)
    left = box.center().x() - (wide + unit_wide + (3 if active else 0)) / 2
    base = box.center().y() + 4.5
    role = "ink" if selected else "ink2"
    board.text(QPointF(left, base), text, size=12, weight=600, role=role, halo="")
    if active:
        painter.setPen(board.pen("accent", 1.6))
        painter.drawLine(QPointF(left + wide + 1.5, base - 11), QPointF(left + wide + 1.5, base + 3))
        wide += 3
    if unit:
        gap = 0 if unit == "°" else 3
        board.text(QPointF(left + wide + gap, base), unit, role="ink2", halo="")
    return box


def figure_box(board: Board, middle: QPointF, figure: Figure) -> QRectF:
    """The box a figure takes about a point."""
    unit = "" if _wears_unit(figure) else figure.unit
    wide = board.width(figure.shown, 12, 600) + board.width(unit, 11) + 22
    wide = max(wide, 46.0)
    return QRectF(round(middle.x() - wide / 2) + 0.5, round(middle.y() - 10) + 0.5, round(wide), 20)


def _wears_unit(figure: Figure) -> bool:
    return any(letter.isalpha() or letter in "'\"°" for letter in figure.typed)


def paint_told(board: Board, at: QPointF, lines: Sequence[tuple[str, str]]) -> None:
    """Short sentences by the hand, each with its role; empty ones take no room."""
    place = 0
    for text, role in lines:
        if text:
            wide = board.width(text, 12, 500)
            x = min(max(at.x(), 6.0), max(board.camera.width - wide - 6, 6.0))
            plate(board, QRectF(x - 4, at.y() + 16 * place - 13, wide + 8, 17))
            board.text(QPointF(x, at.y() + 16 * place), text, size=12, weight=500, role=role)
            place += 1


def plate(board: Board, box: QRectF) -> None:
    """Quiet ground under words that may lie on mirrors and marks."""
    ground = board.theme.color("view")
    ground.setAlpha(220)
    board.painter.setPen(Qt.PenStyle.NoPen)
    board.painter.setBrush(ground)
    board.painter.drawRoundedRect(box, 3, 3)
