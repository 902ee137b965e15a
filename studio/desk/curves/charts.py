"""The four charts of a field's curves, one under the other over one axis; a point is hovered, stepped to, clicked, taken."""

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QAccessible, QAccessibleEvent, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from studio.desk.curves.axis import paint_axis
from studio.desk.curves.chart import HEAD, Chart, Shape, scale_of, shown_value
from studio.desk.curves.model import CurvesModel
from studio.desk.painted import draw_text, rail, tick_mark
from studio.desk.theme import Theme
from studio.papers.field_curves import name_of, told_value
from studio.study.field_curves import CurvePoint, best_point, passing_spans
from studio.study.figures import FIGURES
from studio.text import _, number, percent

_LEFT, _RIGHT, _TOP, _FOOT, _GAP = 56.0, 50.0, 5.0, 38.0, 7.0
_UNDER = 6.0
"""Between a chart's head and its plot, for the uppermost figure of its scale."""
_LEAST_PLOT = 40
_NEAR_PX = 24.0
_TURNS_DEG = (1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 45.0, 90.0)
_BAND = 0.13


class CurveCharts(QWidget):
    """Paints what the model knows. ``take`` and ``away`` when a key asks for it."""

    take = Signal()
    away = Signal()

    def __init__(self, model: CurvesModel, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.model, self.theme = model, theme
        self.hovered: CurvePoint | None = None
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumHeight(round(_TOP + 4 * (HEAD + _UNDER + _LEAST_PLOT + _GAP) + _FOOT))
        theme.changed.connect(self.update)

    def sizeHint(self) -> QSize:
        return QSize(400, 560)

    # what is shown ---------------------------------------------------------------------------------------------

    def shapes(self) -> tuple[Shape, ...]:
        """The charts: land use counts where the plot is planted anew, else the field's own cover; heat cost needs prices."""
        points = self.points()
        planted = self.model.answer is not None and self.model.answer.question.planted
        priced = any(point.figure("heat_cost_per_kwh") is not None for point in points) or not points
        cost = Shape("heat_cost_per_kwh")
        heat = Shape("annual_heat_kwh", beside=("heat_per_mirror_kwh",) if priced else ())
        return (
            heat,
            Shape("shade_loss_winter", from_zero=True),
            Shape("land_use" if planted else "ground_cover", right="pipe_length_m"),
            cost if priced else Shape("heat_per_mirror_kwh"),
        )

    def points(self) -> list[CurvePoint]:
        """The points there are, rising."""
        return self.model.answer.rising() if self.model.answer is not None else []

    @property
    def now(self) -> CurvePoint | None:
        """The design as it stands, as a point."""
        answer, present = self.model.answer, self.model.present
        if answer is None:
            return None
        if not answer.question.planted and answer.question.here in answer.points:
            return answer.points[answer.question.here]
        if present is None:
            return None
        return CurvePoint(answer.question.here, _("As it stands"), answer.question.design, present)

    @property
    def in_hand(self) -> CurvePoint | None:
        """The point whose values are told: the hovered one, else the chosen one, else the present one."""
        return self.hovered or self.model.chosen or self.now

    @property
    def best(self) -> CurvePoint | None:
        """The best of the points, once all are there."""
        answer = self.model.answer
        return best_point(answer.rising()) if answer is not None and answer.whole else None

    def refresh(self) -> None:
        """Something is another."""
        points = self.points()
        if self.hovered is not None and self.hovered not in points:
            self.hovered = None
        self.update()
        self._tell()

    def _tell(self) -> None:
        over = self.model.over
        self.setAccessibleName(_("Curves over the {name}").format(name=name_of(over)))
        said = self.told(self.in_hand)
        if said != self.accessibleDescription():
            self.setAccessibleDescription(said)
            QAccessible.updateAccessibility(QAccessibleEvent(self, QAccessible.Event.DescriptionChanged))

    def told(self, point: CurvePoint | None) -> str:
        """All that the charts say at a point."""
        if point is None:
            return self._empty()
        currency = self.model.design.prices.currency
        said = [told_value(self.model.over, point.value)]
        for shape in self.shapes():
            chart = Chart(self.theme, shape)
            said.append(f"{_(FIGURES[shape.key].label)}: {', '.join(chart.told(point, self.now, currency))}")
        if point.cannot:
            said.append(point.cannot)
        return "; ".join(said)

    def _empty(self) -> str:
        if self.model.trouble:
            return self.model.trouble
        return _("being worked out") if self.model.progress is not None else ""

    # geometry --------------------------------------------------------------------------------------------------

    def _plots(self) -> list[QRectF]:
        each = (self.height() - _TOP - _FOOT) / 4
        wide, above = self.width() - _LEFT - _RIGHT, HEAD + _UNDER
        return [QRectF(_LEFT, _TOP + place * each + above, wide, each - above - _GAP) for place in range(4)]

    def x_of(self, value: float) -> float:
        """Where a value lies across, in pixels."""
        low, high = self._ends()
        return _LEFT + (value - low) / (high - low) * (self.width() - _LEFT - _RIGHT)

    def place_of(self, point: CurvePoint) -> QPointF:
        """Where a point lies in the uppermost chart, or above its axis where it has no height."""
        plot, shape = self._plots()[0], self.shapes()[0]
        scale = scale_of(shape.key, self.points(), plot)
        value = point.figure(shape.key)
        y = plot.center().y() if scale is None or value is None else scale.y(plot, value / 1000.0)
        return QPointF(self.x_of(point.value), y)

    def _ends(self) -> tuple[float, float]:
        answer = self.model.answer
        values = answer.question.values if answer is not None else (0.0, 1.0)
        return (values[0], values[-1]) if values[-1] > values[0] else (values[0] - 1.0, values[0] + 1.0)

    # hand ------------------------------------------------------------------------------------------------------

    def _near(self, x: float) -> CurvePoint | None:
        points = self.points()
        if not points or self.model.stale:
            return None
        point = min(points, key=lambda point: abs(self.x_of(point.value) - x))
        return point if abs(self.x_of(point.value) - x) <= _NEAR_PX else None

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        near = self._near(event.position().x())
        if near is not self.hovered:
            self.hovered = near
            self.setCursor(Qt.CursorShape.PointingHandCursor if near else Qt.CursorShape.ArrowCursor)
            self.refresh()
            self.model.changed.emit("hovered")

    def leaveEvent(self, event: QEvent) -> None:
        if self.hovered is not None:
            self.hovered = None
            self.refresh()
            self.model.changed.emit("hovered")

    def mousePressEvent(self, event: QMouseEvent) -> None:
        near = self._near(event.position().x())
        if event.button() is Qt.MouseButton.LeftButton and near is not None:
            self.model.choose(near)

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self.mousePressEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, points = event.key(), self.points()
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.take.emit()
        elif key == Qt.Key.Key_Escape:
            self.away.emit()
        elif key in (Qt.Key.Key_Left, Qt.Key.Key_Right, Qt.Key.Key_Home, Qt.Key.Key_End) and points:
            self._step(Qt.Key(key), points)
        else:
            super().keyPressEvent(event)

    def _step(self, key: Qt.Key, points: list[CurvePoint]) -> None:
        """To the next point on this side of the chosen one, or of the present value."""
        answer = self.model.answer
        assert answer is not None
        at = self.model.chosen.value if self.model.chosen is not None else answer.question.here
        beyond = {
            Qt.Key.Key_Left: [point for point in points if point.value < at - 1e-9][-1:],
            Qt.Key.Key_Right: [point for point in points if point.value > at + 1e-9][:1],
            Qt.Key.Key_Home: points[:1],
            Qt.Key.Key_End: points[-1:],
        }[key]
        if beyond:
            self.hovered = None
            self.model.choose(beyond[0])

    # paint -----------------------------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        painter, theme, points = QPainter(self), self.theme, self.points()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        if points:
            plots = self._plots()
            self._paint_pass(painter, plots, points)
            for plot, shape in zip(plots, self.shapes(), strict=True):
                self._paint_chart(painter, plot, Chart(theme, shape), points)
            self._paint_cross(painter, plots)
            self._paint_axis(painter, plots[-1])
        else:
            draw_text(
                painter, QRectF(self.rect()), self._empty(), theme.font(13), theme.color("ink2"), "middle"
            )
        if self.model.stale:
            rail(painter, self.height(), theme)
        if self.hasFocus():
            painter.setPen(QPen(theme.color("accent"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(QRectF(self.rect()).adjusted(2, 1, -2, -1), 4, 4)
        painter.end()

    def _spans(self, points: list[CurvePoint]) -> list[tuple[float, float]]:
        """Where the field passes the winter check: over the pitch the check's own answer, else straight between points."""
        answer, passing = self.model.answer, self.model.passing_pitch_m
        low, high = self._ends()
        if answer is not None and answer.question.over == "pitch" and not answer.question.planted and passing:
            return [(max(passing, low), high)] if passing < high else []
        return list(passing_spans(points, self.model.design.marks.winter_limit))

    def _paint_pass(self, painter: QPainter, plots: list[QRectF], points: list[CurvePoint]) -> None:
        theme = self.theme
        wash = theme.color("better")
        wash.setAlphaF(_BAND)
        low, high = self._ends()
        for start, end in self._spans(points):
            left, right = self.x_of(start), self.x_of(end)
            for plot in plots:
                painter.fillRect(QRectF(left, plot.top(), right - left, plot.height()), wash)
                painter.setPen(QPen(theme.color("better"), 1.2, Qt.PenStyle.DashLine))
                for edge, x in ((start, left), (end, right)):
                    if low < edge < high:
                        painter.drawLine(QPointF(x, plot.top()), QPointF(x, plot.bottom()))

    def _paint_pass_words(self, painter: QPainter, plot: QRectF, points: list[CurvePoint]) -> None:
        theme, font = self.theme, self.theme.font(11, 600)
        color = theme.color("better")
        spans = self._spans(points)
        if not spans:
            words = _("passes nowhere here")
            draw_text(painter, QRectF(plot.left() + 8, plot.top() + 1, plot.width() - 12, 16), words, font, theme.color("worse"), "right")  # fmt: skip
            return
        start, end = max(spans, key=lambda span: span[1] - span[0])
        low, _high = self._ends()
        words = _("passes")
        if self.model.over == "pitch" and start > low:
            exact = self.model.passing_pitch_m is not None and not self.model.planted
            form = _("winter check passes from {pitch} m") if exact else _("passes from about {pitch} m")
            words = form.format(pitch=number(start, digits=2))
        left, right = self.x_of(start), self.x_of(end)
        wide = font.wide(words) + 24
        x = min(max(left + 6, plot.left() + 2), max(plot.right() - wide, plot.left()))
        if right - left < 20:
            return
        tick_mark(painter, QPointF(x + 8, plot.top() + 9), passes=True, color=color)
        draw_text(painter, QRectF(x + 18, plot.top() + 1, wide, 16), words, font, color)

    def _paint_chart(self, painter: QPainter, plot: QRectF, chart: Chart, points: list[CurvePoint]) -> None:
        theme, model, shape = self.theme, self.model, chart.shape
        stale, now = model.stale, self.now
        winter = shape.key == "shade_loss_winter"
        limit = 100.0 * model.design.marks.winter_limit
        head = QRectF(12, plot.top() - HEAD - _UNDER, self.width() - 24, HEAD)
        chart.head(painter, head, self.in_hand, now, model.design.prices.currency, stale=stale)
        shown = [*points, now] if now is not None else points
        scale = scale_of(shape.key, shown, plot, also=(limit,) if winter else (), from_zero=shape.from_zero)
        if scale is None:
            draw_text(painter, plot, _("not known"), theme.font(12), theme.color("ink3"), "middle")
            return
        chart.grid(painter, plot, scale, shape.key)
        xs = [self.x_of(point.value) for point in points]
        line = theme.color("ink3" if stale else "ink2")
        if shape.right and (beside := scale_of(shape.right, shown, plot)):
            chart.grid(painter, plot, beside, shape.right, right=True)
            places = chart.line(painter, plot, xs, points, beside, shape.right, color=line, dashed=True)
        else:
            beside, places = None, []
        if winter:
            self._paint_limit(painter, plot, scale.y(plot, limit), limit)
            self._paint_pass_words(painter, plot, points)
        lies = chart.line(painter, plot, xs, points, scale, shape.key, color=line)
        best = self.best
        for place, point in zip(lies, points, strict=True):
            if place is not None:
                chart.dot(
                    painter, place, point, now=point is now, best=point is best, chosen=point is model.chosen, stale=stale
                )  # fmt: skip
        if now is not None and now not in points and (value := shown_value(shape.key, now)) is not None:
            at = QPointF(self.x_of(now.value), scale.y(plot, value))
            chart.dot(painter, at, now, now=True, best=False, chosen=False, stale=stale)
        if beside is not None:
            self._label_ends(painter, plot, chart, lies, places)
        if shape == self.shapes()[-1]:
            self._label_best(painter, plot, lies, points, best)

    def _paint_limit(self, painter: QPainter, plot: QRectF, y: float, limit: float) -> None:
        theme = self.theme
        painter.setPen(QPen(theme.color("ink2"), 1.2, Qt.PenStyle.DotLine))
        painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
        words = _("mark {limit}").format(limit=percent(limit / 100, digits=0))
        draw_text(painter, QRectF(plot.right() + 4, y - 8, _RIGHT - 4, 16), words, theme.font(11), theme.color("ink2"))  # fmt: skip

    def _label_ends(
        self, painter: QPainter, plot: QRectF, chart: Chart, lies: list[QPointF | None], places: list[QPointF | None]
    ) -> None:  # fmt: skip
        ends = [next((place for place in reversed(run) if place is not None), None) for run in (lies, places)]
        names = (_("cover") if chart.shape.key == "ground_cover" else _("land use"), _("pipe, m"))
        for end, other, name in zip(ends, reversed(ends), names, strict=True):
            if end is not None:
                chart.end_label(painter, plot, end, name, below=other is not None and end.y() > other.y())

    def _label_best(
        self, painter: QPainter, plot: QRectF, lies: list[QPointF | None], points: list[CurvePoint], best: CurvePoint | None
    ) -> None:  # fmt: skip
        if best is None:
            return
        place = lies[points.index(best)]
        if place is None:
            return
        theme, font = self.theme, self.theme.font(11, 600)
        priced = best.figure("heat_cost_per_kwh") is not None
        words = _("least heat cost that may be built") if priced else _("most heat that may be built")
        wide = font.wide(words) + 4
        lefts = [place.x() - wide / 2, place.x() + 12, place.x() - wide - 12]
        tops = [place.y() - 28, place.y() + 12, plot.top() + 2, plot.bottom() - 18]
        boxes = [
            QRectF(min(max(left, plot.left() + 2), plot.right() - wide), top, wide, 16)
            for top in tops
            for left in lefts
        ]
        free = [
            box
            for box in boxes
            if plot.contains(box)
            and not any(point is not None and box.adjusted(-4, -4, 4, 4).contains(point) for point in lies)
        ]
        if not free:
            return
        box = free[0]
        reach = box.bottom() if box.bottom() < place.y() else box.top()
        painter.setPen(QPen(theme.color("ink2"), 1))
        painter.drawLine(
            QPointF(place.x(), reach), QPointF(place.x(), place.y() + (7 if reach > place.y() else -7))
        )
        draw_text(painter, box, words, font, theme.color("ink"), "middle")

    def _paint_cross(self, painter: QPainter, plots: list[QRectF]) -> None:
        point = self.hovered or self.model.chosen
        if point is None:
            return
        theme, x = self.theme, self.x_of(point.value)
        chosen = point is self.model.chosen
        painter.setPen(QPen(theme.color("accent" if chosen else "ink2"), 1.2))
        painter.drawLine(QPointF(x, plots[0].top()), QPointF(x, plots[-1].bottom() + 4))

    def _paint_axis(self, painter: QPainter, plot: QRectF) -> None:
        strong = self.in_hand
        paint_axis(
            painter, plot, self.theme, self.model.over, self._ends(), None if strong is None else strong.value
        )
        for point in self.points():
            if point.brings is None:  # it cannot be made or computed so
                at = QPointF(self.x_of(point.value), plot.bottom() - 7)
                tick_mark(painter, at, passes=False, color=self.theme.color("ink2"))
