"""Measure: distances, azimuths, rise and fall along a chain of points, and the area it closes. It changes nothing."""

from dataclasses import dataclass
from itertools import pairwise
from math import hypot

import shapely
from PySide6.QtCore import QPointF
from PySide6.QtGui import QGuiApplication

from studio.design.design import Design
from studio.design.site import Point
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.dimensions import paint_segment
from studio.desk.plan.inline import paint_told
from studio.desk.plan.tools.aim import paint_caught, paint_place
from studio.desk.plan.tools.chain import Drawn
from studio.desk.plan.tools.tool import Host, Pointer
from studio.desk.plan.typed_place import follow_place
from studio.edits.geometry import azimuth_between, distance
from studio.study.place import ground_height
from studio.text import _, number, percent

_SAME_M = 1e-6
_REST_PX = 2.0


@dataclass(frozen=True)
class Measured:
    """What a chain of points measures. Lengths are those of the plan (m); ``slope`` is rise over the level distance.

    ``rise_m`` goes from the first point of the last leg to its end, ``whole_rise_m`` from the chain's beginning.
    ``area_m2`` and ``round_m`` are those of the chain closed to its beginning; None below three points, or where it
    crosses itself.
    """

    points: tuple[Point, ...]
    leg_m: float
    azimuth_deg: float
    rise_m: float
    total_m: float
    whole_rise_m: float
    area_m2: float | None
    round_m: float | None
    crosses: bool

    @property
    def slope(self) -> float | None:
        """Rise over the level distance of the last leg."""
        return self.rise_m / self.leg_m if self.leg_m > _SAME_M else None

    @property
    def along_ground_m(self) -> float:
        """The last leg as a tape reads it that lies straight from end to end."""
        return hypot(self.leg_m, self.rise_m)


def measured(design: Design, points: list[Point]) -> Measured | None:
    """What a chain measures; None below two points."""
    if len(points) < 2:
        return None
    before, last = points[-2:]
    heights = [ground_height(design.ground, *point) for point in (points[0], before, last)]
    total = sum(distance(a, b) for a, b in pairwise(points))
    ring = shapely.Polygon(points) if len(points) > 2 else None
    crosses = ring is not None and not ring.is_valid
    whole = ring is not None and not crosses
    return Measured(
        points=tuple(points), leg_m=distance(before, last), azimuth_deg=azimuth_between(before, last),
        rise_m=heights[2] - heights[1], total_m=total, whole_rise_m=heights[2] - heights[0],
        area_m2=float(ring.area) if ring is not None and whole else None,
        round_m=total + distance(last, points[0]) if whole else None, crosses=crosses,
    )  # fmt: skip


def told_of(measure: Measured) -> list[str]:
    """What is measured, line by line, with units."""
    slope = measure.slope
    lines = [
        _("rises {metres} m") if measure.rise_m >= 0 else _("falls {metres} m"),
    ]
    lines[0] = lines[0].format(metres=number(abs(measure.rise_m), digits=2))
    if slope is not None:
        lines[0] += _(", {slope} %; {metres} m along the ground").format(
            slope=percent(abs(slope)), metres=number(measure.along_ground_m, digits=2)
        )
    if len(measure.points) > 2:
        lines.append(
            _("chain {metres} m, {rise} m up").format(
                metres=number(measure.total_m, digits=2),
                rise=number(measure.whole_rise_m, digits=2, sign=True),
            )
        )
        if measure.crosses:
            lines.append(_("it crosses itself: no area"))
        else:
            lines.append(
                _("closed: area {area} m², perimeter {metres} m").format(
                    area=number(measure.area_m2, digits=1), metres=number(measure.round_m, digits=2)
                )
            )
    return lines


def as_text(measure: Measured) -> str:
    """What is measured as a table of tabs for another program, decimal points, and the sentences below it."""
    rows = [_("x m\ty m\tdistance m\tazimuth deg")]
    for place, (x, y) in enumerate(measure.points):
        before = measure.points[place - 1]
        leg = (distance(before, (x, y)), azimuth_between(before, (x, y))) if place else None
        rows.append(f"{x:.3f}\t{y:.3f}\t" + (f"{leg[0]:.3f}\t{leg[1]:.4f}" if leg else "\t"))
    return "\n".join([*rows, *told_of(measure)]) + "\n"


class MeasureTool(Drawn):
    """Clicks go on with the chain; Enter or a double click lets it stand, Esc takes it away, Ctrl+C copies it."""

    name = "measure"

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.still = False

    @property
    def hint(self) -> str:
        if not self.points:
            return _("Click two points or more, or type their x and y")
        if self.still:
            return _("Ctrl+C copies it, Esc takes it away, a click begins anew")
        return _("Click the next point, or type its length; Enter ends, Backspace takes the last point back")

    @property
    def measure(self) -> Measured | None:
        """What stands on the plan now."""
        points = list(self.points)
        if self.hand is not None and not self.still and points:
            away = distance(points[-1], self.hand.point) * self.host.camera.px_per_m
            if away > _REST_PX:  # nearer the hand still rests on the last point
                points.append(self.hand.point)
        return measured(self.design, points)

    def press(self, at: Pointer) -> None:
        if self.still:
            self.start_over()
            self.still = False
        self.move(at, held=False)
        point = self.clicked()
        if point is not None:
            self.set_point(point)
            self._tell_leg()

    def release(self, at: Pointer) -> None:
        if len(self.points) == 1 and distance(self.points[0], at.m) * self.host.camera.px_per_m > 24:
            self.press(at)  # measured by dragging

    def double(self, at: Pointer) -> None:
        self.take()

    def move(self, at: Pointer, *, held: bool) -> None:
        if not self.still:
            super().move(at, held=held)

    def take(self) -> bool:
        if self.take_typed():
            self._tell_leg()
            return True
        had = len(self.points) > 1 and not self.still
        self.still = self.still or had
        if had:
            self._tell_leg()
        self.host.update()
        return had

    def _tell_leg(self) -> None:
        """The last leg's figures, until the hand goes on."""
        if len(self.points) > 1 and self.figures is not None:
            follow_place(self.figures, self.points[-2], self.points[-1])

    def rub_out(self) -> bool:
        self.still = False
        return super().rub_out()

    def leave(self) -> bool:
        had = super().leave()
        if not self.points:
            self.still = False
        return had

    def copy(self) -> bool:
        """Put what is measured on the clipboard; whether there was anything."""
        measure = self.measure
        if measure is None:
            return False
        QGuiApplication.clipboard().setText(as_text(measure))
        self.host.tell(_("What is measured is on the clipboard."))
        return True

    def paint(self, board: Board) -> None:
        measure = self.measure
        if measure is None or self.figures is None:
            if self.hand is not None:
                self.paint_hand(board)
            return
        points = list(measure.points)
        if measure.area_m2 is not None:
            wash = board.theme.color("accent")
            wash.setAlpha(22)
            board.fill(path_of(board.px(points), closed=True), wash)
            board.polyline([points[-1], points[0]], board.pen("accent", 1.2, (5, 4)))
        board.cased(path_of(board.px(points)), board.pen("accent", 1.6))
        for point in points[:-1] if not self.still else points:
            board.dot(board.at(point), 3.5, fill="view", rim="accent", width=1.6)
        paint_segment(board, board.at(points[-2]), board.at(points[-1]), self.figures, away=24.0)
        at = board.at(points[-1])
        told = [(text, "ink") for text in told_of(measure)]
        if self.still or self.hand is None:
            paint_told(board, at + QPointF(12, 22), told)
        else:
            paint_caught(board, self.hand, *told, (self.figures.doubt, "ink"))
            paint_place(board, at, self.figures)
