"""The table that is a picture: a painted row a mirror, with bars on common scales and the field's mirror as a hairline."""

from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from studio.design.design import Shelved
from studio.design.fields import mark
from studio.desk.painted import MARGIN, Row, draw_finding, draw_text, hatch
from studio.desk.shelf.model import FIELD, Entry
from studio.desk.shelf.sketch import paint_sketch, sketch_of
from studio.desk.theme import Theme
from studio.study.figures import FIGURES, shown, unit_of
from studio.study.place import form_of
from studio.study.ranking import Ranked
from studio.text import DASH, _, number, percent, plural, pretty

HEAD_HEIGHT = 38
_NAME_HEIGHT, _FACTS_HEIGHT, _PAD = 22, 17, 6
_BAR = 9.0
_GAP = 14.0
_FIGURE_GAP = 6.0
_WIDE_PX = 860
_MOST_LINES = 2


@dataclass(frozen=True)
class Measure:
    """A column of bars: its key, title, share of the width, and role of its colour."""

    key: str
    title: str
    weight: float
    warm: bool


MEASURES = (
    Measure("heat_cost_per_kwh", mark("heat cost"), 1.5, False),
    Measure("annual_heat_kwh", mark("outlet heat"), 1.0, True),
    Measure("intercept", mark("intercept"), 1.0, True),
    Measure("cost_per_m2", mark("cost of a m2"), 1.0, False),
)


def value_of(ranked: Ranked | None, key: str) -> float | None:
    """A measure of a ranked mirror."""
    value = None if ranked is None else getattr(ranked, key)
    return None if value is None else float(value)


def shown_measure(key: str, value: float | None) -> str:
    """A measure as its column shows it."""
    if key == "intercept":
        return percent(value)
    if key == "cost_per_m2":
        return number(value)
    return shown(FIGURES[key], value)


def unit_of_measure(key: str, currency: str) -> str:
    """The unit of a column."""
    if key == "intercept":
        return "%"
    if key == "cost_per_m2":
        return pretty(f"{currency}/m2")
    return unit_of(FIGURES[key], currency)


@dataclass(frozen=True)
class Columns:
    """Where a row's parts stand, in pixels from its left edge: sketch, name, and each measure's figure and bar."""

    sketch: tuple[float, float]
    name: tuple[float, float]
    figures: tuple[tuple[float, float], ...]
    bars: tuple[tuple[float, float], ...]
    right: float

    @classmethod
    def of(cls, width: float, figure_px: float) -> "Columns":
        """Columns of a table that is ``width`` wide and whose figures need ``figure_px``."""
        roomy = width >= _WIDE_PX
        sketch = 108.0 if roomy else 84.0
        name = 210.0 if roomy else 138.0
        left = MARGIN + sketch + 12.0
        right = width - MARGIN
        start = left + name
        room = right - start - len(MEASURES) * (_GAP + figure_px + _FIGURE_GAP)
        total = sum(measure.weight for measure in MEASURES)
        figures, bars = [], []
        for measure in MEASURES:
            start += _GAP
            figures.append((start, start + figure_px))
            start += figure_px + _FIGURE_GAP
            long = room * measure.weight / total
            bars.append((start, start + long))
            start += long
        return cls((MARGIN, MARGIN + sketch), (left, left + name), tuple(figures), tuple(bars), right)


@dataclass(frozen=True)
class Scales:
    """What all rows share: pixels per metre of the sketches, full length and the field's value of each measure."""

    px_per_m: float
    full: tuple[float, ...]
    present: tuple[float | None, ...]
    currency: str
    by: str


def facts(shelved: Shelved) -> str:
    """The mirror in a few words: '11 ribs · paraboloid · f 1.3 m · window 0.20 × 0.18 m'."""
    mirror, receiver = shelved.mirror, shelved.receiver
    ribs = form_of(mirror).ribs
    return "  ·  ".join(
        [
            plural("{count} rib", "{count} ribs", ribs),
            _(_SURFACES[mirror.surface]),
            _("f {m} m").format(m=number(mirror.focal_m, digits=2)),
            _("window {wide} × {high} m").format(
                wide=number(receiver.window_width_m, digits=2), high=number(receiver.window_height_m, digits=2)
            ),
        ]
    )  # fmt: skip


_SURFACES = {"paraboloid": mark("paraboloid"), "sphere": mark("sphere"), "circles": mark("equal circles")}


def reasons_of(entry: Entry) -> str:
    """Why a mirror stands where it does, as sentences; empty for the field's own."""
    ranked = entry.ranked
    if ranked is None:
        return _("Not ranked yet.")
    if ranked.cannot:
        return _("It cannot be computed: {why}.").format(why=ranked.cannot.rstrip("."))
    if entry.place == FIELD:
        return _("What the field is built of now; the others' reasons compare with it.")
    said = [reason.sentence[:1].upper() + reason.sentence[1:] + "." for reason in ranked.reasons]
    if ranked.stops:
        said.insert(0, _("Must not be built so: {why}.").format(why=ranked.stops[0].rstrip(".")))
    return pretty(" ".join(said)) or _("It does as the field's mirror does.")


class TableHead(QWidget):
    """Titles and units over the columns."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self.columns: Columns | None = None
        self._scales: Scales | None = None
        self.setFixedHeight(HEAD_HEIGHT)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        theme.changed.connect(self.update)

    def show_table(self, columns: Columns, scales: Scales) -> None:
        """Stand over these columns."""
        self.columns, self._scales = columns, scales
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        columns, scales, theme = self.columns, self._scales, self._theme
        if columns is None or scales is None:
            return
        painter = QPainter(self)
        ink, quiet = theme.color("ink"), theme.color("ink2")
        name = QRectF(columns.sketch[0], 4, columns.name[1] - columns.sketch[0], 15)
        draw_text(painter, name, _("mirror"), theme.font(12), quiet)
        draw_text(painter, name.translated(0, 15), _("side and front, one scale"), theme.font(11), quiet)
        for measure, figure, bar in zip(MEASURES, columns.figures, columns.bars, strict=True):
            ranks = measure.key == scales.by
            box = QRectF(figure[0], 4, bar[1] - figure[0], 15)
            title = pretty(_(measure.title))
            draw_text(painter, box, title, theme.font(12, 600 if ranks else 400), ink if ranks else quiet)
            unit = unit_of_measure(measure.key, scales.currency)
            draw_text(painter, box.translated(0, 15), unit, theme.font(11), quiet)
        painter.fillRect(0, self.height() - 1, self.width(), 1, theme.color("line"))
        painter.end()


class MirrorRow(Row):
    """A mirror: sketch, name, its figures as bars, and its reasons."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, 60, parent)
        self.setCheckable(True)
        self.entry: Entry | None = None
        self._columns: Columns | None = None
        self._scales: Scales | None = None
        self._facts = self._reasons = ""
        theme.changed.connect(self.update)

    def show_entry(
        self, entry: Entry, columns: Columns, scales: Scales, *, stale: bool, selected: bool
    ) -> None:
        """Show a mirror; the selected one leaves its reasons to what unfolds below it."""
        self.entry, self._columns, self._scales, self.stale = entry, columns, scales, stale
        self.setChecked(selected)
        self._facts, self._reasons = facts(entry.shelved), reasons_of(entry)
        self._fit_reasons(columns)
        lines = 1 if selected else self._lines_of_reasons(columns)
        self.set_height(2 * _PAD + _NAME_HEIGHT + _FACTS_HEIGHT + round(lines * self._line_px()) + 2)
        self.setAccessibleName(self._told())
        self.setAccessibleDescription(f"{self._facts}. {reasons_of(entry)}")
        self.setToolTip(entry.label if selected else f"{entry.label}\n{reasons_of(entry)}")
        self.update()

    def _told(self) -> str:
        assert self.entry is not None
        assert self._scales is not None
        ranked = self.entry.ranked
        parts = [
            f"{_(measure.title)} {shown_measure(measure.key, value_of(ranked, measure.key))}"
            f" {unit_of_measure(measure.key, self._scales.currency)}"
            for measure in MEASURES
        ]
        return ", ".join([self._name(), *parts])

    def _name(self) -> str:
        assert self.entry is not None
        return f"{self.entry.rank}. {self.entry.label}" if self.entry.rank else self.entry.label

    def _small(self) -> QFont:
        return self.theme.font(12)

    def _line_px(self) -> float:
        return QFontMetricsF(self._small()).lineSpacing()

    def _fit_reasons(self, columns: Columns) -> None:
        """Words that are too many for two lines end with dots; they stand in full below the selected row."""
        if self._lines_of_reasons(columns) <= _MOST_LINES:
            return
        words = self._reasons.split(" ")
        while len(words) > 1 and self._lines_of_reasons(columns) > _MOST_LINES:
            words.pop()
            self._reasons = " ".join(words) + " …"

    def _lines_of_reasons(self, columns: Columns) -> int:
        return round(self._reasons_box(columns).height() / self._line_px())

    def _reasons_box(self, columns: Columns) -> QRectF:
        room = QRectF(0, 0, columns.right - columns.name[0], 1000)
        return QFontMetricsF(self._small()).boundingRect(room, Qt.TextFlag.TextWordWrap, self._reasons)

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        entry, columns, scales, theme = self.entry, self._columns, self._scales, self.theme
        if entry is None or columns is None or scales is None:
            return
        if self.isChecked():
            painter.fillRect(box, theme.color("wash"))
            painter.fillRect(QRectF(box.right() - 3, 0, 3, box.height()), theme.color("accent"))
        quiet = theme.color("ink3" if self.stale else "ink2")
        ink = theme.color("ink3" if self.stale else "ink")
        high = min(box.height(), 2.0 * _PAD + _NAME_HEIGHT + _FACTS_HEIGHT + 2 * self._line_px())
        room = QRectF(columns.sketch[0], 3, columns.sketch[1] - columns.sketch[0], high - 6)
        paint_sketch(painter, room, sketch_of(entry.shelved), scales.px_per_m, theme, ink=theme.color("ink2"))
        left = columns.name[0]
        name = QRectF(left, _PAD, columns.name[1] - left, _NAME_HEIGHT)
        if entry.ranked is not None and (entry.ranked.stops or entry.ranked.cannot):
            draw_finding(
                painter, "stop", 0, QPointF(left + 7, name.center().y()), theme, stale=self.stale, radius=6.5
            )
            name.setLeft(left + 20)
        weight = 600 if entry.place == FIELD or self.isChecked() else 500
        draw_text(painter, name, self._name(), theme.font(13, weight), theme.color("ink"))
        for at in range(len(MEASURES)):
            self._paint_measure(painter, at)
        under = QRectF(left, _PAD + _NAME_HEIGHT, columns.right - left, _FACTS_HEIGHT)
        draw_text(painter, under, self._facts, theme.font(11), theme.color("ink2"))
        if not self.isChecked():
            self._paint_reasons(
                painter, under, quiet if entry.place == FIELD or entry.ranked is None else ink
            )
        painter.fillRect(QRectF(0, box.height() - 1, box.width(), 1), theme.color("hair"))

    def _paint_reasons(self, painter: QPainter, under: QRectF, ink: QColor) -> None:
        assert self._columns is not None
        painter.setFont(self._small())
        painter.setPen(ink)
        top = under.bottom()
        painter.drawText(
            QRectF(under.left(), top, under.width(), self.height() - _PAD - top + 1),
            int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop) | int(Qt.TextFlag.TextWordWrap),
            self._reasons,
        )

    def _paint_measure(self, painter: QPainter, at: int) -> None:
        """A figure and its bar from zero; the field's value is a hairline through every row."""
        assert self.entry is not None
        assert self._columns is not None
        assert self._scales is not None
        theme, measure = self.theme, MEASURES[at]
        value = value_of(self.entry.ranked, measure.key)
        middle = _PAD + _NAME_HEIGHT / 2
        figure, bar = self._columns.figures[at], self._columns.bars[at]
        ranks = measure.key == self._scales.by and not self.stale
        draw_text(
            painter, QRectF(figure[0], _PAD, figure[1] - figure[0], _NAME_HEIGHT),
            DASH if value is None else shown_measure(measure.key, value), theme.font(13, 600 if ranks else 400),
            theme.color("ink3" if self.stale or value is None else "ink"), "right",
        )  # fmt: skip
        full, present = self._scales.full[at], self._scales.present[at]
        long = bar[1] - bar[0]
        if value is not None and full > 0:
            shape = QRectF(bar[0], middle - _BAR / 2, max(1.0, long * value / full), _BAR)
            if self.stale:
                hatch(painter, shape, theme.color("ink3"))
            else:
                painter.fillRect(shape, theme.heat_color(0.5) if measure.warm else theme.color("loss"))
        if present is not None and full > 0:
            x = bar[0] + long * present / full
            if measure.key == self._scales.by:
                self._paint_hairline_below(painter, x)
            painter.setPen(QPen(theme.color("ink3" if self.stale else "ink"), 1.0))
            painter.drawLine(QPointF(x, 0), QPointF(x, _PAD + _NAME_HEIGHT))

    def _paint_hairline_below(self, painter: QPainter, x: float) -> None:
        """The hairline below the bar, faint, and not where words stand."""
        assert self._columns is not None
        left, foot = self._columns.name[0], float(self.height())
        top = float(_PAD + _NAME_HEIGHT)
        painter.setPen(QPen(self.theme.color("line"), 1.0))
        facts_end = left + self.theme.font(11).wide(self._facts) + 4
        words_end = left if self.isChecked() else left + self._reasons_box(self._columns).width() + 4
        for end, y0, y1 in ((facts_end, top, top + _FACTS_HEIGHT), (words_end, top + _FACTS_HEIGHT, foot)):
            if x > end:
                painter.drawLine(QPointF(x, y0), QPointF(x, y1))


def figure_px(theme: Theme, entries: tuple[Entry, ...]) -> float:
    """How wide the widest figure of the table is."""
    font = theme.font(13, 600)
    texts = [
        shown_measure(measure.key, value_of(entry.ranked, measure.key))
        for entry in entries
        for measure in MEASURES
    ]
    return max([font.wide(text) for text in texts] + [28.0]) + 2.0
