"""Drawing corner by corner: the boundary, a no-build area, a header's route. Every point can be typed."""

from abc import ABC, abstractmethod

from PySide6.QtCore import Qt

from studio.design.site import Point
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.dimensions import paint_segment
from studio.desk.plan.inline import Figures
from studio.desk.plan.snaps import CATCH_PX, Caught, to_centimetre
from studio.desk.plan.targets import Targets
from studio.desk.plan.tools.aim import Aim, paint_caught, paint_place
from studio.desk.plan.tools.tool import Host, Pointer, Tool
from studio.desk.plan.typed_place import first_figures, follow_place, place_figures, read_place, typed_place
from studio.edits.edit import Edit
from studio.edits.geometry import azimuth_between, distance
from studio.errors import StillfieldError
from studio.text import _

_FAR_M = 1e4
"""Guides through the first corner run so far."""


class Drawn(Tool, ABC):
    """Points drawn one after another. A click or Enter sets one; what was typed holds, the rest follows the hand.

    ``pointed`` is where the mouse was caught, ``hand`` where that and what was typed put the next point.
    """

    cursor = Qt.CursorShape.CrossCursor

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.points: list[Point] = []
        self.hand: Caught | None = None
        self.pointed: Caught | None = None
        self.aim = Aim(host)
        self.figures: Figures | None = first_figures()
        self._own: tuple[tuple[Point, ...], Targets] = (), Targets()

    def segment(self) -> Figures:
        """The figures of a segment being drawn."""
        return place_figures()

    def parallel(self) -> list[tuple[float, str]]:
        """Directions that a segment is caught by besides those of edges near it."""
        return [
            (line.azimuth_deg, _("Line {number}").format(number=line.id)) for line in self.design.lines[:1]
        ]

    def own(self) -> Targets:
        """What catches the hand of what was drawn so far: corners, edges, and ways level with the first corner."""
        points = tuple(self.points)
        if self._own[0] != points:
            self._own = points, self._drawn_targets()
        return self._own[1]

    def _drawn_targets(self) -> Targets:
        own = Targets()
        for point in self.points[:-1]:
            own.add_point(point, _("corner"))
        for start, end in zip(self.points[:-1], self.points[1:-1], strict=False):
            own.add_edge(start, end, _("what is drawn"))
        if len(self.points) > 1:
            first = azimuth_between(self.points[0], self.points[1])
            for azimuth in {round(angle % 180.0, 6) for angle in (first, first + 90.0, 0.0, 90.0)}:
                own.add_guide(self.points[0], azimuth, -_FAR_M, _FAR_M, _("level with the first corner"))
        return own

    def move(self, at: Pointer, *, held: bool) -> None:
        before = azimuth_between(self.points[-2], self.points[-1]) if len(self.points) > 1 else None
        start = self.points[-1] if self.points else None
        self.follow(self.aim.at(at, start=start, before=before, own=self.own(), parallel=self.parallel()))

    def follow(self, caught: Caught) -> None:
        """The mouse came to a place."""
        self.hand = self.pointed = caught
        start = self.points[-1] if self.points else None
        if self.figures is not None:
            typed = typed_place(self.figures, start, caught.point, self.design.site)
            if typed is not None:
                self.hand = Caught(typed, caught.name if _on_way(caught, start, typed) else "")
            follow_place(self.figures, start, self.hand.point)
        self.host.update()

    def typed(self) -> None:
        if self.pointed is None:
            self.pointed = Caught(self.points[-1] if self.points else (0.0, 0.0))
        self.follow(self.pointed)

    def take_typed(self) -> bool:
        """Set the point that is typed; whether something was. What cannot be read is told and stays."""
        if self.figures is None or not self.figures.typing:
            return False
        start = self.points[-1] if self.points else None
        hand = self.pointed.point if self.pointed is not None else (start or (0.0, 0.0))
        try:
            point = read_place(self.figures, start, hand, self.design.site)
        except StillfieldError as error:
            self.host.tell(str(error))
            return True
        self.set_point(point)
        return True

    def set_point(self, point: Point) -> None:
        """One more point, unless it is the last one again."""
        if self.points and distance(self.points[-1], point) < 1e-6:
            return
        self.points.append((round(point[0], 6), round(point[1], 6)))
        self.aim.held = None
        self.figures = self.segment()
        if self.pointed is not None:
            self.follow(self.pointed)
        self.host.update()

    def clicked(self) -> Point | None:
        """Where a click sets a point: what was typed, where it was caught, or to the centimetre."""
        if self.hand is None:
            return None
        typing = self.figures is not None and self.figures.typing
        return self.hand.point if typing else to_centimetre(self.hand)

    def rub_out(self) -> bool:
        if not self.points:
            return False
        self.points.pop()
        self.figures = self.segment() if self.points else first_figures()
        if self.pointed is not None:
            self.follow(self.pointed)
        self.host.update()
        return True

    def start_over(self) -> None:
        """Nothing is drawn."""
        self.points, self.figures = [], first_figures()
        self.hand = self.pointed = self.aim.held = None

    def leave(self) -> bool:
        if self.figures is not None and self.figures.typing:
            self.figures.clear()
            self.typed()
            return True
        had = bool(self.points)
        self.start_over()
        self.host.update()
        return had

    def paint_hand(self, board: Board, *told: tuple[str, str]) -> None:
        """The hand, what catches it, and the figures of what is drawn to it."""
        if self.hand is None:
            return
        at = board.at(self.hand.point)
        if self.points and self.figures is not None:
            paint_segment(board, board.at(self.points[-1]), at, self.figures, away=24.0)
        doubt = self.figures.doubt if self.figures is not None else ""
        paint_caught(board, self.hand, *told, (doubt, "ink"))
        if self.figures is not None:
            paint_place(board, at, self.figures)


def _on_way(caught: Caught, start: Point | None, typed: Point) -> bool:
    """Whether what was typed left the direction that holds the hand as it was."""
    if start is None or caught.kind != "way":
        return False
    turn = azimuth_between(start, typed) - azimuth_between(start, caught.point)
    return abs((turn + 180.0) % 360.0 - 180.0) < 1e-6


class Chain(Drawn):
    """Points that become an area or a route."""

    closes = True
    least = 3

    @abstractmethod
    def edit(self, points: list[Point]) -> Edit:
        """What the drawn points make."""

    @property
    def hint(self) -> str:
        if not self.points:
            return _("Click the first corner, or type its x and y")
        if len(self.points) >= self.least:
            return _("Enter or a click on the first corner closes") if self.closes else _("Enter ends it")
        return _("Click the next corner, or type its length; Tab for azimuth, x and y")

    def press(self, at: Pointer) -> None:
        self.move(at, held=False)
        point = self.clicked()
        if len(self.points) >= self.least and self.closes and self._on_first(at):
            self._finish()
        elif point is not None:
            self.set_point(point)

    def double(self, at: Pointer) -> None:
        if len(self.points) >= self.least:
            self._finish()

    def take(self) -> bool:
        if self.take_typed():
            return True
        if not self.points:
            return False
        if len(self.points) >= self.least:
            self._finish()
        else:
            self.host.tell(self.hint)
        return True

    def _on_first(self, at: Pointer) -> bool:
        first = self.host.camera.to_px(self.points[0])
        return bool((first[0] - at.x) ** 2 + (first[1] - at.y) ** 2 <= CATCH_PX**2)

    def _finish(self) -> None:
        if self.host.apply(self.edit(self.points)):
            self.start_over()
        self.host.update()

    def paint(self, board: Board) -> None:
        hand = self.hand
        drawn = self.points + ([hand.point] if hand else [])
        if self.points:
            board.cased(path_of(board.px(drawn)), board.pen("accent", 2.0))
        if self.closes and self.points and len(drawn) > 2:
            board.polyline([drawn[-1], drawn[0]], board.pen("accent", 1.2, (5, 4)))
        for place, point in enumerate(self.points):
            first = place == 0 and self.closes and len(self.points) >= self.least
            at = board.at(point)
            if first:
                board.round_handle(at, held=False)
            else:
                board.square_handle(at, held=False, half=3.5)
        if hand is not None and (
            self.points or hand.name or (self.figures is not None and self.figures.typing)
        ):
            self.paint_hand(board)
