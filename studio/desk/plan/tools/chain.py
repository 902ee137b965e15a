"""Drawing corner by corner: the boundary, a no-build area, a header's route. Lengths and azimuths can be typed."""

from abc import ABC, abstractmethod

from PySide6.QtCore import QPointF, Qt

from studio.design.site import Point
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.dimensions import paint_segment
from studio.desk.plan.inline import Figure, Figures, paint_told
from studio.desk.plan.snaps import CATCH_PX, Caught, Way, catch, to_centimetre, ways_from
from studio.desk.plan.tools.tool import Host, Pointer, Tool, targets_of
from studio.edits.edit import Edit
from studio.edits.geometry import azimuth_between, direction, distance, moved
from studio.errors import StillfieldError
from studio.text import _


def segment_figures() -> Figures:
    """Length and azimuth of a segment being drawn."""
    return Figures([Figure("length", _("length"), "m"), Figure("azimuth", _("azimuth"), "°", digits=1)])


class Chain(Tool, ABC):
    """Points drawn one after another. A click or Enter sets one; what was typed holds, the rest follows the hand."""

    cursor = Qt.CursorShape.CrossCursor
    closes = True
    least = 3

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.points: list[Point] = []
        self.hand: Caught | None = None

    @abstractmethod
    def edit(self, points: list[Point]) -> Edit:
        """What the drawn points make."""

    @property
    def hint(self) -> str:
        if not self.points:
            return _("Click the first corner")
        if len(self.points) >= self.least:
            return _("Enter or a click on the first corner closes") if self.closes else _("Enter ends it")
        return _("Click the next corner, or type its length; Tab for the azimuth")

    def ways(self) -> list[Way]:
        """What the next segment is caught by."""
        before = azimuth_between(self.points[-2], self.points[-1]) if len(self.points) > 1 else None
        others = [
            (line.azimuth_deg, _("Line {number}").format(number=line.id)) for line in self.design.lines[:1]
        ]
        return ways_from(before, others)

    def press(self, at: Pointer) -> None:
        self.move(at, held=False)
        if len(self.points) >= self.least and self.closes and self._on_first(at):
            self._finish()
        elif self.hand is not None:
            typing = self.figures is not None and self.figures.typing
            self._set(self.hand.point if typing else to_centimetre(self.hand))

    def double(self, at: Pointer) -> None:
        if len(self.points) >= self.least:
            self._finish()

    def move(self, at: Pointer, *, held: bool) -> None:
        start = self.points[-1] if self.points else None
        targets = targets_of(self.host.drawing)
        targets.points.extend((point, _("corner")) for point in self.points[:-1])
        caught = Caught(at.m) if at.free else catch(
            at.m, px_per_m=self.host.camera.px_per_m, targets=targets, start=start,
            ways=self.ways() if start else (), grid_m=self.host.grid_m,
        )  # fmt: skip
        self._follow(caught)

    def _follow(self, caught: Caught) -> None:
        self.hand = caught
        if self.figures is not None and self.points:
            start = self.points[-1]
            length, azimuth = self.figures.locked("length"), self.figures.locked("azimuth")
            turn = azimuth_between(start, caught.point) if azimuth is None else azimuth
            run = distance(start, caught.point) if length is None else length
            if length is not None or azimuth is not None:
                self.hand = Caught(moved(start, direction(turn), run), caught.name if azimuth is None else "")
            self.figures.follow(length=run, azimuth=turn)
        self.host.update()

    def typed(self) -> None:
        if self.hand is not None:
            self._follow(self.hand)

    def take(self) -> bool:
        if not self.points:
            return False
        if self.figures is not None and self.figures.typing:
            try:
                length, azimuth = self.figures.read("length"), self.figures.read("azimuth")
            except StillfieldError as error:
                self.host.tell(str(error))
                return True
            if length is None or azimuth is None or not length > 0:
                self.host.tell(_("A length above 0 m would be right."))
                return True
            self._set(moved(self.points[-1], direction(azimuth), length))
        elif len(self.points) >= self.least:
            self._finish()
        else:
            self.host.tell(self.hint)
        return True

    def rub_out(self) -> bool:
        """Take the last corner back; whether there was one."""
        if not self.points:
            return False
        self.points.pop()
        self.figures = segment_figures() if self.points else None
        self.host.update()
        return True

    def leave(self) -> bool:
        if self.figures is not None and self.figures.typing:
            self.figures.clear()
            self.host.update()
            return True
        had = bool(self.points)
        self.points, self.figures, self.hand = [], None, None
        self.host.update()
        return had

    def _on_first(self, at: Pointer) -> bool:
        first = self.host.camera.to_px(self.points[0])
        return bool((first[0] - at.x) ** 2 + (first[1] - at.y) ** 2 <= CATCH_PX**2)

    def _set(self, point: Point) -> None:
        if self.points and distance(self.points[-1], point) < 1e-6:
            return
        self.points.append((round(point[0], 6), round(point[1], 6)))
        self.figures = segment_figures()
        if self.hand is not None:
            self.figures.follow(
                length=distance(point, self.hand.point), azimuth=azimuth_between(point, self.hand.point)
            )
        self.host.update()

    def _finish(self) -> None:
        points = self.points
        if self.host.apply(self.edit(points)):
            self.points, self.figures, self.hand = [], None, None
        self.host.update()

    def paint(self, board: Board) -> None:
        hand = self.hand
        if not self.points:
            if hand is not None and hand.name:
                self._caught(board, hand)
            return
        drawn = self.points + ([hand.point] if hand else [])
        board.cased(path_of(board.px(drawn)), board.pen("accent", 2.0))
        if self.closes and len(drawn) > 2:
            board.polyline([drawn[-1], drawn[0]], board.pen("accent", 1.2, (5, 4)))
        for place, point in enumerate(self.points):
            first = place == 0 and self.closes and len(self.points) >= self.least
            at = board.at(point)
            if first:
                board.round_handle(at, held=False)
            else:
                board.square_handle(at, held=False, half=3.5)
        if hand is not None and self.figures is not None:
            paint_segment(board, board.at(self.points[-1]), board.at(hand.point), self.figures, away=24.0)
            self._caught(board, hand)

    def _caught(self, board: Board, hand: Caught) -> None:
        at = board.at(hand.point)
        board.dot(at, 4.0, fill="view", rim="accent", width=1.6)
        doubt = self.figures.doubt if self.figures else ""
        name = _("snap: {name}").format(name=hand.name) if hand.name else ""
        paint_told(board, at + QPointF(12, 22), [(name, "accent"), (doubt, "ink")])
