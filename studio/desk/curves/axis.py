"""The axis that all charts of the curves share."""

from PySide6.QtCore import QPointF, QRectF
from PySide6.QtGui import QPainter, QPen

from studio.desk.axes import round_step
from studio.desk.painted import draw_text
from studio.desk.theme import Theme
from studio.edits.variants import Over
from studio.papers.field_curves import UNITS, name_of, value_text
from studio.text import _

_TICK_PX = 52.0
_TURNS_DEG = (1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 45.0, 90.0)


def paint_axis(
    painter: QPainter, plot: QRectF, theme: Theme, over: Over, ends: tuple[float, float], strong: float | None
) -> None:
    """The axis at a plot's foot: the ``strong`` value, both ends and round numbers where there is room, and its title."""
    low, high = ends
    y = plot.bottom()
    painter.setPen(QPen(theme.color("edge"), 1))
    painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
    named = [(strong, True)] if strong is not None else []
    taken: list[tuple[float, float]] = []
    for value, bold in [*named, (low, False), (high, False), *((value, False) for value in _rounds(over, low, high, plot))]:  # fmt: skip
        font = theme.font(11, 600 if bold else 400)
        words = value_text(over, value)
        x = plot.left() + (value - low) / (high - low) * plot.width()
        half = font.wide(words) / 2 + 4
        if any(x - half < end and x + half > start for start, end in taken):
            continue
        taken.append((x - half, x + half))
        painter.setPen(QPen(theme.color("edge"), 1))
        painter.drawLine(QPointF(x, y), QPointF(x, y + 4))
        box = QRectF(x - half, y + 4, 2 * half, 15)
        draw_text(painter, box, words, font, theme.color("ink" if bold else "ink2"), "middle")
    title = _("{name}, {unit}").format(name=name_of(over), unit=UNITS[over])
    foot = QRectF(plot.left(), y + 18, plot.width(), 16)
    draw_text(painter, foot, title, theme.font(11), theme.color("ink2"), "middle")


def _rounds(over: Over, low: float, high: float, plot: QRectF) -> list[float]:
    """Round values between the ends, so many that their figures have room."""
    least = (high - low) / max(1.0, plot.width() / _TICK_PX)
    step = round_step(least)
    if over == "azimuth":
        step = next((turn for turn in _TURNS_DEG if turn >= least), 360.0)
    first = int(-(-low // step))
    last = int(high // step)
    return [place * step for place in range(first, last + 1)]
