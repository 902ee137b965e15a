"""One small chart of the curves: its scale, its lines with their ends labelled, its marks."""

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from studio.desk.axes import digits_of, round_limits
from studio.desk.painted import draw_finding, draw_text
from studio.desk.theme import Theme
from studio.study.field_curves import CurvePoint
from studio.study.figures import FIGURES, Figure, shown, unit_of
from studio.text import DASH, _, number, pretty

HEAD = 18.0
_LINE_PX = 20.0
"""Between two lines of a scale."""


@dataclass(frozen=True)
class Shape:
    """A chart: the figure on its left scale, one on its right scale or "", and figures that are told beside its value."""

    key: str
    right: str = ""
    beside: tuple[str, ...] = ()
    from_zero: bool = False


@dataclass(frozen=True)
class Scale:
    """Values of a figure, as shown, to heights in a plot."""

    low: float
    high: float
    step: float

    def y(self, plot: QRectF, value: float) -> float:
        """Where a value lies."""
        return plot.bottom() - (value - self.low) / (self.high - self.low) * plot.height()


def shown_value(key: str, point: CurvePoint) -> float | None:
    """A point's figure in the unit that a person sees."""
    value = point.figure(key)
    figure = FIGURES[key]
    return None if value is None else 100.0 * value if figure.share else value / figure.shown_per


def scale_of(key: str, points: Sequence[CurvePoint], plot: QRectF, *, also: Sequence[float] = (), from_zero: bool = False) -> Scale | None:  # fmt: skip
    """An even scale that holds a figure of all points; None without a known one."""
    known = [value for point in points if (value := shown_value(key, point)) is not None]
    if not known:
        return None
    known += also
    if from_zero:
        known.append(0.0)
    return Scale(*round_limits(min(known), max(known), lines=max(1, int(plot.height() / _LINE_PX))))


class Chart:
    """Paints one chart over a common axis."""

    def __init__(self, theme: Theme, shape: Shape) -> None:
        self.theme, self.shape = theme, shape

    def head(
        self, painter: QPainter, box: QRectF, at: CurvePoint | None, now: CurvePoint | None, currency: str, *, stale: bool
    ) -> None:  # fmt: skip
        """Its name at the left, at the right what the point in hand says and by how much that is another than now."""
        theme = self.theme
        figure = FIGURES[self.shape.key]
        font = theme.font(12, 400 if stale else 600)
        name = _capital(_(figure.label))
        said = self.told(at, now, currency)
        room_px = box.width() - theme.font(12).wide(name) - 14
        while len(said) > 1 and font.wide(" · ".join(said)) > room_px:
            said.pop()
        words = " · ".join(said)
        wide = font.wide(words)
        room = QRectF(box.left(), box.top(), box.width() - wide - 8, HEAD)
        draw_text(painter, room, name, theme.font(12), theme.color("ink2"))
        told_at = QRectF(box.right() - wide, box.top(), wide + 1, HEAD)
        draw_text(painter, told_at, words, font, theme.color("ink3" if stale else "ink"), "right")

    def told(self, at: CurvePoint | None, now: CurvePoint | None, currency: str) -> list[str]:
        """The values of a point in words."""
        if at is None:
            return [DASH]
        said = []
        for key in (self.shape.key, *([self.shape.right] if self.shape.right else []), *self.shape.beside):
            figure = FIGURES[key]
            value = at.figure(key)
            if value is None:
                continue
            text = f"{shown(figure, value)} {pretty(unit_of(figure, currency))}".strip()
            if now is not None and at is not now and (change := _change(figure, at, now)):
                text = f"{text} ({change})"
            text = text if key == self.shape.key else _beside(key, text)
            said.append(text)
        return said or [DASH]

    def grid(self, painter: QPainter, plot: QRectF, scale: Scale, key: str, *, right: bool = False) -> None:
        """Hairlines at round numbers, labelled at one side."""
        theme = self.theme
        lines = round((scale.high - scale.low) / scale.step)
        for place in range(lines + 1):
            value = scale.low + place * scale.step
            y = scale.y(plot, value)
            if not right:
                painter.setPen(QPen(theme.color("hair"), 1))
                painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
            words = number(value, digits=digits_of(scale.step))
            box = (
                QRectF(plot.right() + 5, y - 8, 48, 16) if right else QRectF(plot.left() - 53, y - 8, 48, 16)
            )
            draw_text(painter, box, words, theme.font(11), theme.color("ink2"), "left" if right else "right")

    def line(
        self, painter: QPainter, plot: QRectF, xs: Sequence[float], points: Sequence[CurvePoint], scale: Scale, key: str,
        *, color: QColor, dashed: bool = False,
    ) -> list[QPointF | None]:  # fmt: skip
        """A curve through the points there are, broken where there is none; where its points lie."""
        places = [
            None if (value := shown_value(key, point)) is None else QPointF(x, scale.y(plot, value))
            for x, point in zip(xs, points, strict=True)
        ]
        pen = QPen(color, 1.6, Qt.PenStyle.DashLine if dashed else Qt.PenStyle.SolidLine)
        pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
        painter.setPen(pen)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        run: list[QPointF] = []
        for place in [*places, None]:
            if place is not None:
                run.append(place)
                continue
            if len(run) > 1:
                painter.drawPolyline(QPolygonF(run))
            run = []
        return places

    def end_label(self, painter: QPainter, plot: QRectF, place: QPointF, text: str, *, below: bool) -> None:
        """A curve's name at its right end, on a ground of its own."""
        theme = self.theme
        font = theme.font(11)
        wide = font.wide(text) + 4
        top = place.y() + 6 if below else place.y() - 21
        top = min(max(top, plot.top()), plot.bottom() - 15)
        box = QRectF(place.x() - wide - 2, top, wide, 15)
        painter.fillRect(box, theme.color("panel"))
        draw_text(painter, box.adjusted(2, 0, 0, 0), text, font, theme.color("ink2"))

    def dot(self, painter: QPainter, place: QPointF, point: CurvePoint, *, now: bool, best: bool, chosen: bool, stale: bool) -> None:  # fmt: skip
        """A point: a ring; full where the design stands; round it a ring where it is best; an octagon where it must not be."""
        theme = self.theme
        ink = theme.color("ink3" if stale else "ink")
        if best:
            painter.setPen(QPen(ink, 1.2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawEllipse(place, 7.0, 7.0)
        if point.brings is not None and point.brings.stop_count:
            draw_finding(painter, "stop", 0, place, theme, stale=stale, radius=4.5)
            if chosen:
                painter.setPen(QPen(theme.color("accent"), 2.0))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawEllipse(place, 7.0, 7.0)
            return
        color = theme.color("accent") if chosen else ink
        painter.setPen(QPen(color, 1.4))
        painter.setBrush(color if chosen or now else theme.color("panel"))
        size = 5.0 if chosen else 4.2 if now else 2.6
        painter.drawEllipse(place, size, size)


def _beside(key: str, text: str) -> str:
    words = {
        "heat_per_mirror_kwh": _("{value} a mirror"),
        "pipe_length_m": _("pipe {value}"),
    }
    return words[key].format(value=text)


def _change(figure: Figure, at: CurvePoint, now: CurvePoint) -> str:
    value, before = at.figure(figure.key), now.figure(figure.key)
    if value is None or before is None or value == before:
        return ""
    per = 0.01 if figure.share else figure.shown_per
    digits = len(shown(figure, value).partition(".")[2])
    text = number((value - before) / per, digits=digits, sign=True)
    return text if any(digit in "123456789" for digit in text) else ""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
