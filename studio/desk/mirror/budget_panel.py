"""The error budget: a bar for each error, as long as what the year would gain without it."""

from PySide6.QtCore import QPointF, QRectF, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QWidget

from studio.design.fields import mark
from studio.desk.mirror.model import MirrorModel
from studio.desk.mirror.panel import HEAD, PAD, Panel
from studio.desk.painted import Row, draw_text, hatch
from studio.desk.theme import Theme
from studio.study.budget import SWITCHES, Bar, Switch, serves
from studio.text import DASH, _, number, percent

_LABEL, _POINTS, _KWH = 96.0, 62.0, 74.0
_ROW, _LEAST_ROW = 22, 13
_BREAK = 2.0
"""A bar so many times as long as the next is drawn broken."""
_OTHERS = 0.78
"""Share of the room that the longest unbroken bar takes beside a broken one."""


class BarRow(Row):
    """One error; a click tells where its bar comes from."""

    def __init__(self, theme: Theme, switch: Switch, parent: QWidget) -> None:
        super().__init__(theme, _ROW, parent)
        self.switch = switch
        self.bar: Bar | None = None
        self._scale, self._broken = 1.0, False

    def show_bar(self, bar: Bar | None, *, scale: float, broken: bool, stale: bool) -> None:
        """Show a bar in a row where ``scale`` is the whole length."""
        self.bar, self._scale, self._broken, self.stale = bar, scale, broken, stale
        label = _(self.switch.label)
        if bar is None:
            self.setAccessibleName(_("{error}: being worked out").format(error=label))
        else:
            self.setAccessibleName(
                _("without {error}: {points} % points, {kwh} kWh a mirror and year").format(
                    error=label, points=number(100 * bar.gain, digits=1, sign=True),
                    kwh=number(bar.gain_kwh, digits=0, sign=True),
                )
            )  # fmt: skip
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        theme, size = self.theme, 12 if box.height() >= 16 else 11
        ink = theme.color("ink3" if self.stale else "ink")
        draw_text(
            painter,
            QRectF(PAD, 0, _LABEL - PAD, box.height()),
            _(self.switch.label),
            theme.font(size),
            theme.color("ink2"),
        )
        right = box.width() - PAD
        kwh = QRectF(right - _KWH, 0, _KWH, box.height())
        points = QRectF(right - _KWH - _POINTS, 0, _POINTS, box.height())
        bar = self.bar
        if bar is None:
            draw_text(painter, points, DASH, theme.font(size), theme.color("ink3"), "right")
            draw_text(painter, kwh, DASH, theme.font(size), theme.color("ink3"), "right")
            return
        self._paint_bar(painter, QRectF(_LABEL, 0, points.left() - _LABEL - 4, box.height()), bar)
        weight = 400 if self.stale else 500
        told = number(100 * bar.gain, digits=1, sign=True)
        draw_text(
            painter, points, told + ("*" if bar.limited else ""), theme.font(size, weight), ink, "right"
        )
        draw_text(painter, kwh, number(bar.gain_kwh, digits=0, sign=True), theme.font(size), ink, "right")

    def _paint_bar(self, painter: QPainter, room: QRectF, bar: Bar) -> None:
        theme = self.theme
        high = min(11.0, room.height() - 5)
        share = min(abs(bar.gain) / self._scale, 1.0) if self._scale > 0 else 0.0
        wide = room.width() if self._broken else share * room.width() * _OTHERS
        box = QRectF(room.left(), room.center().y() - high / 2, max(wide, 1.0), high)
        if self.stale:
            painter.fillRect(box, theme.color("hair"))
            hatch(painter, box, theme.color("ink3"), step=5.0)
        else:
            painter.fillRect(box, theme.heat_color(0.5) if bar.gain >= 0 else theme.color("loss"))
        if self._broken:
            at = room.left() + 0.86 * room.width()
            for width, role in ((6.0, "view"), (1.2, "ink2")):
                painter.setPen(QPen(theme.color(role), width))
                for side in (-3.0, 3.0) if width < 2 else (0.0,):
                    painter.drawLine(
                        QPointF(at + side - 3, box.bottom() + 3), QPointF(at + side + 3, box.top() - 3)
                    )


class BudgetPanel(Panel):
    """What the year would gain without each error. ``picked`` tells the error whose row was clicked."""

    title = mark("Error budget")
    shows = frozenset({"design", "year"})
    picked = Signal(str)

    def __init__(self, model: MirrorModel, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(model, theme, parent)
        self.rows = {switch.key: BarRow(theme, switch, self) for switch in SWITCHES}
        for row in self.rows.values():
            row.clicked.connect(self._pick)
        self._shown: list[str] = []

    def _pick(self) -> None:
        row = self.sender()
        if isinstance(row, BarRow):
            self.picked.emit(row.switch.key)

    @property
    def stale(self) -> bool:
        return self.model.is_stale("year:")

    def about(self) -> str:
        return _("gain of a year without each") if self.width() > 330 else ""

    def told(self) -> str:
        year = self.model.year
        if year is None:
            return _("being worked out")
        return _("intercept of the year {share} %, {kwh} kWh absorbed by a mirror").format(
            share=percent(year.accepted), kwh=number(year.absorbed_kwh, digits=0)
        )

    def refresh(self) -> None:
        """Show what is known, longest bars' scale first."""
        self._shown = [key for key in self.rows if self.model.matters(key)]
        bars = {key: self.model.bar(key) for key in self._shown}
        lengths = sorted((abs(bar.gain) for bar in bars.values() if bar is not None), reverse=True)
        longest = lengths[0] if lengths else 0.0
        rest = lengths[1] if len(lengths) > 1 else 0.0
        breaks = longest > _BREAK * rest > 0.0
        for key, row in self.rows.items():
            row.setVisible(key in self._shown)
            bar = bars.get(key)
            row.show_bar(
                bar, scale=rest if breaks else (longest or 1.0),
                broken=breaks and bar is not None and abs(bar.gain) == longest,
                stale=self.model.is_stale(f"year:{key}") or self.model.is_stale("year:"),
            )  # fmt: skip
        self._place()
        super().refresh()

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._place()

    def _foot(self) -> int:
        return 34 if self.height() > 200 else 18

    def _place(self) -> None:
        """Rows between the head of the columns and the words at the foot."""
        top, room = HEAD + 34, self.height() - HEAD - 36 - self._foot()
        high = max(_LEAST_ROW, min(_ROW, room // max(len(self._shown), 1)))
        for place, key in enumerate(self._shown):
            self.rows[key].set_height(high)
            self.rows[key].setGeometry(0, top + place * high, self.width() - 1, high)

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        theme, year = self.theme, self.model.year
        ink2, small = theme.color("ink2"), theme.font(11)
        right = box.right() - PAD
        ink = theme.color("ink3" if self.stale else "ink")
        weight = 400 if self.stale else 600
        first = QRectF(PAD, box.top(), right - PAD, 17)
        draw_text(painter, first, _("All errors on"), theme.font(12, weight), ink)
        shown = percent(year.accepted) + " %" if year is not None else DASH
        kwh = number(year.absorbed_kwh, digits=0) if year is not None else DASH
        draw_text(
            painter,
            QRectF(right - _KWH - _POINTS, box.top(), _POINTS, 17),
            shown,
            theme.font(12, weight),
            ink,
            "right",
        )
        draw_text(
            painter, QRectF(right - _KWH, box.top(), _KWH, 17), kwh, theme.font(12, weight), ink, "right"
        )
        heads = QRectF(PAD, box.top() + 17, right - PAD, 15)
        draw_text(painter, heads, _("without …"), small, ink2)
        draw_text(
            painter,
            QRectF(right - _KWH - _POINTS - 20, heads.top(), _POINTS + 20, 15),
            _("% points"),
            small,
            ink2,
            "right",
        )
        draw_text(painter, QRectF(right - _KWH, heads.top(), _KWH, 15), _("kWh/mirror"), small, ink2, "right")
        for place, words in enumerate(self._footnotes()[: 2 if self._foot() > 20 else 1]):
            line = QRectF(PAD, box.bottom() - self._foot() + 15 * place, right - PAD, 15)
            draw_text(painter, line, words, small, ink2)

    def _footnotes(self) -> list[str]:
        notes = []
        if not serves(self.model.design):
            notes.append(_("blur below 2 mrad: cones are rough here, trust the rays"))
        if any(
            row.bar is not None and row.bar.limited for key, row in self.rows.items() if key in self._shown
        ):
            notes.append(_("* down to the least that cones allow (blur 2 mrad)"))
        none = [_(row.switch.label).lower() for key, row in self.rows.items() if key not in self._shown]
        if none:
            notes.append(_("no part in it: {errors}").format(errors=", ".join(none)))
        return notes
