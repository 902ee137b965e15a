"""Where the sun goes: the staircase of a year as bars, from the sun on facing mirrors down to outlet heat."""

from dataclasses import dataclass

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter, QPaintEvent

from studio.desk.painted import MARGIN, Row, draw_text, hatch
from studio.desk.theme import Theme
from studio.study.assessment import Step
from studio.text import _, number

FLIGHTS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("shade", "Shade", ("horizon", "obstacles", "mirrors", "gear")),
    ("intercept", "Intercept", ("intercept", "acceptance")),
    ("pipes", "Pipe loss", ("line_pipe", "header")),
)
"""Steps that share a row where there is little room: key, label, the steps' keys."""
_KWH_PER_SHOWN = 1000.0
_SHARE, _GAP = 46.0, 6.0
"""Width of the column of shares, and the gap between columns."""
_BAR_STEPS = 400
"""A bar that changes by less than one of so many parts of the sun looks as before."""


@dataclass(frozen=True)
class Stair:
    """A row: what is left before and after, in kWh; ``shown`` is what its column says, ``share`` of the sun."""

    key: str
    label: str
    before: float
    after: float
    landing: bool
    shown: str
    share: str


def stairs(steps: tuple[Step, ...], *, few: bool = False) -> tuple[Stair, ...]:
    """The rows of a staircase. What is left is rounded, then subtracted, so that the columns add up as shown."""
    if not steps or steps[0].kwh <= 0.0:
        return ()
    sun = steps[0].kwh
    digits = 0 if sun >= 100.0 * _KWH_PER_SHOWN else 1 if sun >= 10.0 * _KWH_PER_SHOWN else 2
    rows, left = [], 0.0
    for step in _joined(steps) if few else steps:
        before = left
        left = step.kwh if step.landing else left + step.kwh
        if step.landing:
            shown = number(left / _KWH_PER_SHOWN, digits=digits)
            share = number(100 * left / sun, digits=0)
        else:
            rounded = [round(x / _KWH_PER_SHOWN, digits) for x in (before, left)]
            shown = number(rounded[1] - rounded[0], digits=digits)
            share = number(round(100 * before / sun) - round(100 * left / sun), digits=0)
        label = step.label[:1].upper() + step.label[1:]
        rows.append(Stair(step.key, label, before, left, step.landing, shown, share))
    return tuple(rows)


def _joined(steps: tuple[Step, ...]) -> list[Step]:
    flight_of = {key: flight for flight in FLIGHTS for key in flight[2]}
    out: list[Step] = []
    middle_landings = steps[1:-1]
    for step in steps:
        if step.landing and step in middle_landings:
            continue
        flight = flight_of.get(step.key)
        if flight is None:
            out.append(step)
        elif out and out[-1].key == flight[0]:
            out[-1] = Step(flight[0], _(flight[1]), out[-1].kwh + step.kwh)
        else:
            out.append(Step(flight[0], _(flight[1]), step.kwh))
    return out


def column_widths(rows: tuple[Stair, ...], theme: Theme, *, size: int) -> tuple[float, float]:
    """How wide the widest label and the widest figure in MWh are."""
    fonts = {True: theme.font(size, 600), False: theme.font(size)}
    labels = max((fonts[row.landing].wide(row.label) for row in rows), default=0.0)
    return labels, max((fonts[row.landing].wide(row.shown) for row in rows), default=0.0) + _GAP


class StairRow(Row):
    """One row of the staircase."""

    def __init__(self, theme: Theme, height: int = 18) -> None:
        super().__init__(theme, height)
        self._stair: Stair | None = None
        self._sun, self._columns = 1.0, (100.0, 42.0)
        self.text_size = 12

    def show_stair(self, stair: Stair, sun: float, *, columns: tuple[float, float], stale: bool) -> None:
        """Show a row of a staircase that starts at ``sun`` kWh and with columns of these widths for labels and MWh."""
        bar = [round(_BAR_STEPS * kwh / sun) for kwh in (stair.before, stair.after)]
        told = stair.key, stair.label, stair.shown, stair.share, stair.landing
        if not self.shows_anew(*told, *bar, columns, stale, self.text_size):
            return
        self._stair, self._sun, self._columns, self.stale = stair, sun, columns, stale
        self.setAccessibleName(
            _("{label}: {kwh} MWh, {share} % of the sun").format(
                label=stair.label, kwh=stair.shown, share=stair.share
            )
        )

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        stair, theme = self._stair, self.theme
        if stair is None:
            return
        high, right = box.height(), box.width() - MARGIN
        weight = 600 if stair.landing and not self.stale else 400
        ink = theme.color("ink3" if self.stale else "ink")
        kwh = right - _SHARE - self._columns[1]
        columns = kwh - self._bar_width(), kwh, right - _SHARE
        label_ink = ink if stair.landing else theme.color("ink2")
        draw_text(
            painter,
            QRectF(MARGIN, 0, columns[0] - MARGIN - 6, high),
            stair.label,
            theme.font(self.text_size, weight),
            label_ink,
        )
        self._paint_bar(painter, QRectF(columns[0], high / 2 - 4.5, columns[1] - columns[0], 9), stair)
        kwh_box = QRectF(columns[1], 0, columns[2] - columns[1], high)
        draw_text(painter, kwh_box, stair.shown, theme.font(self.text_size, weight), ink, "right")
        share_box = QRectF(columns[2], 0, right - columns[2], high)
        draw_text(
            painter, share_box, stair.share + " %", theme.font(self.text_size, weight), label_ink, "right"
        )

    def _bar_width(self) -> float:
        """What the widest label leaves, within reason."""
        room = self.width() - 2 * MARGIN - _SHARE - sum(self._columns) - _GAP
        return min(90.0, max(18.0, room))

    def _paint_bar(self, painter: QPainter, box: QRectF, stair: Stair) -> None:
        theme = self.theme

        def part(low: float, high: float) -> QRectF:
            per = box.width() / self._sun
            return QRectF(box.left() + low * per, box.top(), max(0.0, (high - low) * per), box.height())

        if self.stale:
            whole = part(0.0, stair.after if stair.landing else max(stair.before, stair.after))
            painter.fillRect(whole, theme.color("hair"))
            hatch(painter, whole, theme.color("ink3"), step=5.0)
        elif stair.landing:
            painter.fillRect(part(0.0, stair.after), theme.heat_color(0.5))
        else:
            painter.fillRect(part(0.0, stair.after), theme.heat_color(0.25))
            painter.fillRect(part(stair.after, stair.before), theme.color("loss"))
