"""Store and Measure."""

from PySide6.QtCore import QPointF, Qt

from studio.design.site import Point
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.dimensions import paint_segment
from studio.desk.plan.inline import paint_told
from studio.desk.plan.snaps import Caught, catch, to_centimetre, ways_from
from studio.desk.plan.tools.chain import segment_figures
from studio.desk.plan.tools.tool import Host, Pointer, Tool, targets_of
from studio.desk.state import Subject
from studio.edits.geometry import azimuth_between, direction, distance, ground_height, moved
from studio.edits.header import move_store
from studio.text import _, number


class StoreTool(Tool):
    """Puts the store where one clicks."""

    name = "store"
    cursor = Qt.CursorShape.CrossCursor

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.hand: Caught | None = None

    @property
    def hint(self) -> str:
        return _("Click where the middle of the store stands")

    def move(self, at: Pointer, *, held: bool) -> None:
        self.hand = Caught(at.m) if at.free else catch(
            at.m, px_per_m=self.host.camera.px_per_m, targets=targets_of(self.host.drawing), grid_m=self.host.grid_m
        )  # fmt: skip
        self.host.update()

    def press(self, at: Pointer) -> None:
        self.move(at, held=False)
        if self.hand is not None:
            x, y = to_centimetre(self.hand)
            if self.host.apply(move_store(self.design, x_m=x, y_m=y)):
                self.host.session.select(Subject("store"))
                self.host.session.update(tool="pick")

    def leave(self) -> bool:
        self.hand = None
        return False

    def paint(self, board: Board) -> None:
        if self.hand is None:
            return
        at = board.at(self.hand.point)
        radius = max(self.design.store.radius_m * board.camera.px_per_m, 4.0)
        board.dot(at, radius, rim="accent", width=1.6)
        if self.hand.name:
            paint_told(
                board, at + QPointF(14, 26), [(_("snap: {name}").format(name=self.hand.name), "accent")]
            )


class MeasureTool(Tool):
    """Tells the distance, azimuth and fall between two points. It changes nothing."""

    name = "measure"
    cursor = Qt.CursorShape.CrossCursor

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.start: Point | None = None
        self.hand: Caught | None = None
        self.still = False

    @property
    def hint(self) -> str:
        return _("Click two points") if self.start is None else _("Click the second point")

    def press(self, at: Pointer) -> None:
        if self.start is None or self.still:
            self.start, self.still, self.figures = None, False, None
            self.move(at, held=False)
            self.start = self.hand.point if self.hand else at.m
            self.figures = segment_figures()
        else:
            self.take()
        self.move(at, held=False)

    def release(self, at: Pointer) -> None:
        if self.start is not None and distance(self.start, at.m) * self.host.camera.px_per_m > 24:
            self.still = True

    def move(self, at: Pointer, *, held: bool) -> None:
        if self.still:
            return
        self.hand = Caught(at.m) if at.free else catch(
            at.m, px_per_m=self.host.camera.px_per_m, targets=targets_of(self.host.drawing), start=self.start,
            ways=ways_from(None) if self.start else (), grid_m=self.host.grid_m,
        )  # fmt: skip
        self.typed()

    def typed(self) -> None:
        if self.start is not None and self.hand is not None and self.figures is not None:
            length, azimuth = self.figures.locked("length"), self.figures.locked("azimuth")
            turn = azimuth_between(self.start, self.hand.point) if azimuth is None else azimuth
            run = distance(self.start, self.hand.point) if length is None else length
            self.hand = Caught(moved(self.start, direction(turn), run), self.hand.name)
            self.figures.follow(length=run, azimuth=turn)
        self.host.update()

    def take(self) -> bool:
        had = self.start is not None and not self.still
        self.still = self.start is not None
        self.host.update()
        return had

    def leave(self) -> bool:
        had = self.start is not None
        self.start, self.hand, self.figures, self.still = None, None, None, False
        self.host.update()
        return had

    def paint(self, board: Board) -> None:
        if self.hand is None:
            return
        at = board.at(self.hand.point)
        name = _("snap: {name}").format(name=self.hand.name) if self.hand.name and not self.still else ""
        told = ""
        if self.start is not None and self.figures is not None:
            board.cased(path_of(board.px([self.start, self.hand.point])), board.pen("accent", 1.6))
            paint_segment(board, board.at(self.start), at, self.figures, away=24.0)
            ground = self.design.ground
            rise = ground_height(ground, *self.hand.point) - ground_height(ground, *self.start)
            if ground.slope_percent > 0 or ground.heights is not None:
                told = _("rises {metres} m") if rise >= 0 else _("falls {metres} m")
                told = told.format(metres=number(abs(rise), digits=2))
        board.dot(at, 4.0, fill="view", rim="accent", width=1.6)
        paint_told(board, at + QPointF(12, 22), [(name, "accent"), (told, "ink2")])
