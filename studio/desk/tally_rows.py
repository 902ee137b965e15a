"""The rows of the tally: one figure each, painted in columns that line up down the whole panel."""

from dataclasses import dataclass
from typing import Literal

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen

from studio.desk.icons import draw_icon
from studio.desk.painted import MARGIN, Row, arrow, draw_text, tick_mark
from studio.desk.theme import Theme
from studio.study.figures import Figure, shown
from studio.text import DASH, _, number

Verdict = Literal["better", "worse", ""]
VALUE_SHARE = 0.6
"""Where the column of values ends, as a share of the row's width."""
_UNIT_GAP = 6.0
_SCALE_STEPS = 600
"""What moves on the scale of costs by less than one of so many parts looks as before."""
_NARROW_CHANGE, _NARROW_UNIT = 28.0, 30.0


@dataclass(frozen=True)
class Change:
    """How a figure changed against the kept design: its text, its way, and whether that is better."""

    text: str
    up: bool
    verdict: Verdict


def change_of(figure: Figure, value: float | None, kept: float | None) -> Change | None:
    """The change of a figure against the kept design; None where there is nothing to compare or it reads alike."""
    if value is None or kept is None:
        return None
    per = 0.01 if figure.share else figure.shown_per
    decimals = len(shown(figure, value).partition(".")[2])
    text = number((value - kept) / per, digits=decimals, sign=True)
    if not any(c in "123456789" for c in text):
        return None
    up = value > kept
    if not figure.better:
        return Change(text, up, "")
    return Change(text, up, "better" if up == (figure.better == "more") else "worse")


def draw_change(painter: QPainter, box: QRectF, change: Change | None, theme: Theme, *, stale: bool) -> None:
    """A change at the right of a box: filled arrow better, hollow worse, none where it is neither; a dash if stale."""
    if stale:
        draw_text(painter, box, DASH, theme.font(13), theme.color("ink3"), "right")
        return
    if change is None:
        return
    color = theme.color(change.verdict or "ink2")
    weight = 600 if change.verdict else 400
    needed = theme.font(13, weight).wide(change.text) + (18 if change.verdict else 0)
    font = theme.font(13 if needed <= box.width() else 11, weight)
    wide = draw_text(painter, box, change.text, font, color, "right")
    if change.verdict:
        middle = QPointF(box.right() - wide - 11, box.center().y())
        arrow(painter, middle, up=change.up, filled=change.verdict == "better", color=color)


def told_change(change: Change | None) -> str:
    """A change for a screen reader."""
    if change is None:
        return ""
    words = {"better": _("better"), "worse": _("worse"), "": ""}
    return (
        _("{change} against kept {verdict}").format(change=change.text, verdict=words[change.verdict]).strip()
    )


class FigureRow(Row):
    """Label, value, unit, change. A second line, where there is one, says what the figure is held against."""

    def __init__(self, theme: Theme, height: int = 24) -> None:
        super().__init__(theme, height)
        self._line_height = height
        self._label = self._value = self._unit = ""
        self._aside = self._second = self._right = ""
        self.narrow = False
        self.left = MARGIN
        self.least_edge = 0.0
        self._passes: bool | None = None
        self._edge: float | None = None
        self._change: Change | None = None

    def set_line_height(self, height: int) -> None:
        """How high a line of the row is; a second one is lower."""
        self._line_height = height
        self.set_height(height + (16 if self._second else 0))

    def show_figure(
        self, label: str, value: str, unit: str, change: Change | None = None, *,
        stale: bool = False, aside: str = "", second: str = "", passes: bool | None = None,
        right: str = "",
    ) -> None:  # fmt: skip
        """Show a figure.

        ``aside`` stands small after the label, ``second`` below, ``right`` where a change would stand, and ``passes``
        gives its verdict.
        """
        if not self.shows_anew(label, value, unit, change, stale, aside, second, passes, right):
            return
        self._right = right
        self._label, self._value, self._unit, self._change = label, value, unit, change
        self._aside, self._second, self._passes = aside, second, passes
        self.stale = stale
        self._edge = None
        self.set_line_height(self._line_height)
        verdict = {True: _("passes"), False: _("fails"), None: ""}[passes]
        told = [f"{label}: {value} {unit}".strip(), verdict, told_change(change)]
        if stale:
            told.append(_("before the move"))
        self.setAccessibleName(", ".join(part for part in told if part))
        self.setToolTip(_("Where it comes from"))

    def needed_edge(self) -> float:
        """Where the value must end for the label to stand before it whole."""
        if self.isHidden():
            return 0.0
        if self._edge is None:
            aside = self.theme.font(11).wide(self._aside) + 6 if self._aside else 0.0
            label = self.theme.font(13).wide(self._label)
            self._edge = MARGIN + label + aside + 8 + self.theme.font(14, 600).wide(self._value)
        return self._edge

    def narrow_width(self) -> float:
        """Room that label, value, unit and change want beside each other where two rows share a line."""
        label, value = (
            self.theme.font(12).wide(self._label),
            self.theme.font(12, 600).wide(self._value),
        )
        return self.left + label + 4 + value + _NARROW_UNIT + _NARROW_CHANGE + 8

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        if self.narrow:
            self._paint_narrow(painter, box)
            return
        theme, high = self.theme, float(self._line_height)
        ink = theme.color("ink3" if self.stale else "ink")
        value_font = theme.font(14, 400 if self.stale else 600)
        line = QRectF(MARGIN, 0, box.width() - 2 * MARGIN, high)
        edge = max(MARGIN + line.width() * VALUE_SHARE, min(self.least_edge, line.right() - 90))
        wide = value_font.wide(self._value)
        label_box = QRectF(line.left(), 0, edge - wide - 6 - line.left(), high)
        used = draw_text(painter, label_box, self._label, theme.font(13), theme.color("ink2"))
        if self._aside:
            aside_box = label_box.adjusted(used + 6, 1, 0, 1)
            draw_text(painter, aside_box, self._aside, theme.font(11), theme.color("ink3"))
        draw_text(painter, QRectF(edge - wide, 0, wide + 1, high), self._value, value_font, ink)
        unit_box = QRectF(edge + _UNIT_GAP, 0.5, 52, high)
        draw_text(
            painter, unit_box, self._unit, theme.font(12), theme.color("ink3" if self.stale else "ink2")
        )
        if self._right:
            rest = line.adjusted(edge - MARGIN + _UNIT_GAP + 34, 0, 0, 0)
            draw_text(painter, rest, self._right, theme.font(11), theme.color("ink3"), "right")
        else:
            taken = edge + _UNIT_GAP + theme.font(12).wide(self._unit) - line.left()
            draw_change(painter, line.adjusted(taken, 0, 0, 0), self._change, theme, stale=self.stale)
        if self._second:
            self._paint_second(painter, QRectF(line.left(), high - 3, line.width(), 16))

    def _paint_narrow(self, painter: QPainter, box: QRectF) -> None:
        """Half the panel's width: smaller, columns counted from the right."""
        theme, high, right = self.theme, box.height(), box.width() - 8
        ink = theme.color("ink3" if self.stale else "ink")
        edge = right - _NARROW_CHANGE - _NARROW_UNIT
        font = theme.font(12, 400 if self.stale else 600)
        wide = font.wide(self._value)
        draw_text(
            painter,
            QRectF(self.left, 0, edge - wide - 4 - self.left, high),
            self._label,
            theme.font(12),
            theme.color("ink2"),
        )
        draw_text(painter, QRectF(edge - wide, 0, wide + 1, high), self._value, font, ink)
        draw_text(
            painter,
            QRectF(edge + 4, 0, _NARROW_UNIT - 4, high),
            self._unit,
            theme.font(11),
            theme.color("ink2"),
        )
        words = DASH if self.stale else self._change.text if self._change else ""
        draw_text(
            painter, QRectF(edge, 0, right - edge, high), words, theme.font(11), theme.color("ink2"), "right"
        )

    def _paint_second(self, painter: QPainter, box: QRectF) -> None:
        theme = self.theme
        room = box
        if self._passes is not None and not self.stale:
            word = _("passes") if self._passes else _("fails")
            color = theme.color("better" if self._passes else "worse")
            wide = draw_text(painter, box, word, theme.font(12, 600), color, "right")
            mark_at = QPointF(box.right() - wide - 10, box.center().y())
            tick_mark(painter, mark_at, passes=self._passes, color=color)
            room = box.adjusted(0, 0, -wide - 20, 0)
        draw_text(painter, room, self._second, theme.font(11), theme.color("ink3"))


class HeatCost(Row):
    """The heat cost, large, on a scale with the own fuel and the kept design."""

    def __init__(self, theme: Theme) -> None:
        super().__init__(theme, 96)
        self._value: float | None = None
        self._kept: float | None = None
        self._fuel: float | None = None
        self._tight = False
        self._fuel_name = self._text = self._unit = self._label = self._remark = ""
        self._change: Change | None = None

    def show_cost(
        self, label: str, text: str, unit: str, change: Change | None, *, value: float | None,
        kept: float | None, fuel: float | None, fuel_name: str, stale: bool, remark: str,
    ) -> None:  # fmt: skip
        """Show the cost; ``value``, ``kept`` and ``fuel`` are in the unit shown, for the scale."""
        known = [x for x in (value, kept, fuel) if x is not None]
        most = max(known, default=0.0) or 1.0
        places = [round(_SCALE_STEPS * x / most) for x in known]
        if not self.shows_anew(
            label, text, unit, change, *places, kept, fuel, fuel_name, stale, remark, self._tight
        ):
            return
        self._label, self._text, self._unit, self._change = label, text, unit, change
        self._value, self._kept, self._fuel, self._fuel_name = value, kept, fuel, fuel_name
        self._remark, self.stale = remark, stale
        self._size()
        told = [f"{label}: {text} {unit}", told_change(change), remark]
        if fuel is not None:
            told.append(f"{fuel_name}: {fuel:.3g} {unit}")
        self.setAccessibleName(", ".join(part for part in told if part))
        self.setToolTip(_("Where it comes from"))

    def set_tight(self, tight: bool) -> None:
        """Take less room."""
        self._tight = tight
        self._size()

    def _size(self) -> None:
        self.set_height((94 if self._has_scale() else 64) - (8 if self._tight else 0))

    def _has_scale(self) -> bool:
        return self._value is not None and (self._fuel is not None or self._kept is not None)

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        theme = self.theme
        line = QRectF(MARGIN, 0, box.width() - 2 * MARGIN, 20)
        draw_text(painter, line, self._label, theme.font(13), theme.color("ink2"))
        draw_text(painter, line, self._remark, theme.font(11), theme.color("ink3"), "right")
        ink = theme.color("ink3" if self.stale else "ink")
        up = 6 if self._tight else 0
        big = QRectF(MARGIN, 19 - up / 2, line.width(), 40)
        wide = draw_text(painter, big, self._text, theme.font(32, 400 if self.stale else 600), ink)
        unit_box = QRectF(MARGIN + wide + 8, big.top() + 8, 110, 30)
        draw_text(painter, unit_box, self._unit, theme.font(13), theme.color("ink2"))
        draw_change(painter, big.adjusted(0, 10, 0, 0), self._change, theme, stale=self.stale)
        if self._has_scale():
            self._paint_scale(painter, QRectF(MARGIN, 64 - up, line.width(), 30))

    def _paint_scale(self, painter: QPainter, box: QRectF) -> None:
        """A line from zero; a bar stands for this design, a ring for the kept one, a tick for the fuel."""
        theme = self.theme
        known = [x for x in (self._value, self._fuel, self._kept) if x is not None]
        most = max(known) * 1.12 or 1.0
        y = box.top() + 5

        def at(value: float) -> float:
            return box.left() + box.width() * value / most

        painter.setPen(QPen(theme.color("edge"), 1))
        painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
        painter.drawLine(QPointF(box.left(), y - 3), QPointF(box.left(), y + 3))
        if self._fuel is not None:
            x = at(self._fuel)
            painter.setPen(QPen(theme.color("ink2"), 1.4))
            painter.drawLine(QPointF(x, y - 5), QPointF(x, y + 5))
            words = f"{self._fuel_name} {self._fuel:.3g}"
            half = min(theme.font(11).wide(words) / 2 + 2, box.width() / 2)
            middle = min(max(x, box.left() + half), box.right() - half)
            draw_text(
                painter,
                QRectF(middle - half, y + 7, 2 * half, 15),
                words,
                theme.font(11),
                theme.color("ink2"),
                "middle",
            )
        if self._kept is not None:
            painter.setPen(QPen(theme.color("ink2"), 1.3))
            painter.setBrush(theme.color("panel"))
            painter.drawEllipse(QPointF(at(self._kept), y), 3.4, 3.4)
        if self._value is not None:
            x = at(self._value)
            pen = QPen(
                theme.color("ink3" if self.stale else "ink"), 3, Qt.PenStyle.SolidLine, Qt.PenCapStyle.FlatCap
            )
            painter.setPen(pen)
            painter.drawLine(QPointF(x, y - 6), QPointF(x, y + 6))


class TextRow(Row):
    """A line of quiet text that can be pressed: a heading that folds, or a link to more."""

    def __init__(self, theme: Theme, height: int = 24, *, indent: int = 0) -> None:
        super().__init__(theme, height)
        self._indent = indent
        self._text = self._right = ""
        self.strong = False
        self.folded: bool | None = None

    def show_text(
        self, text: str, right: str = "", *, strong: bool = False, folded: bool | None = None
    ) -> None:
        """Show a text with another at the right; ``folded`` puts a fold mark before it."""
        if not self.shows_anew(text, right, strong, folded):
            return
        self._text, self._right, self.strong, self.folded = text, right, strong, folded
        state = {True: _("folded"), False: _("unfolded"), None: ""}[folded]
        self.setAccessibleName(", ".join(part for part in (text, right, state) if part))

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        theme, left = self.theme, float(MARGIN + self._indent)
        if self.folded is not None:
            name = "folded" if self.folded else "open"
            draw_icon(painter, name, QRectF(left - 4, box.center().y() - 8, 16, 16), theme.color("ink2"))
            left += 16
        line = QRectF(left, 0, box.width() - MARGIN - left, box.height())
        font = theme.font(13, 600) if self.strong else theme.font(12)
        wide = draw_text(painter, line, self._text, font, theme.color("ink" if self.strong else "ink2"))
        rest = line.adjusted(wide + 6, 0, 0, 0)
        draw_text(painter, rest, self._right, theme.font(12), theme.color("ink2"), "right")
