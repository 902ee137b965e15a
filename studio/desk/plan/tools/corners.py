"""Corners of the boundary, of areas, of walls and sheds, of the header's drawn route: moved, inserted, taken away, typed."""

from PySide6.QtCore import QPointF

from studio.design.design import Design
from studio.design.obstacles import Block, corners_of
from studio.design.site import Point, Ring
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.caught_by import targets_of
from studio.desk.plan.dimensions import Boxes
from studio.desk.plan.inline import Figures, paint_told
from studio.desk.plan.snaps import to_centimetre
from studio.desk.plan.targets import Targets
from studio.desk.plan.tools.aim import paint_place_at
from studio.desk.plan.tools.drags import Drag
from studio.desk.plan.tools.tool import Host, Pointer
from studio.desk.plan.tools.under import Handle
from studio.desk.plan.typed_place import follow_place, place_figures, read_place
from studio.desk.state import Subject
from studio.edits import header as header_edits
from studio.edits import obstacles as obstacle_edits
from studio.edits import plot as plot_edits
from studio.edits.edit import Edit
from studio.edits.geometry import azimuth_between
from studio.errors import StillfieldError
from studio.text import _

_GUIDE_M = 1e4


def owner(handle: Handle) -> Subject:
    """Whose corner or edge a handle is."""
    if handle.side:
        return Subject("header", handle.side)
    if handle.obstacle is not None:
        return Subject("obstacle", handle.obstacle)
    return Subject("boundary") if handle.area is None else Subject("no_build", handle.area)


def ring_with(design: Design, handle: Handle) -> tuple[Ring, bool]:
    """The corners a handle belongs to, and whether they close to a ring."""
    if handle.side:
        return (design.header.cold if handle.side == "cold" else design.header.hot), False
    if handle.obstacle is not None:
        one = design.obstacles[handle.obstacle]
        return corners_of(one), isinstance(one, Block)
    return (design.plot.boundary if handle.area is None else design.plot.no_build[handle.area].ring), True


def moved_corner(design: Design, handle: Handle, to: Point) -> Edit:
    """The corner somewhere else."""
    x, y = to
    if handle.side:
        return header_edits.move_route_corner(design, side=handle.side, corner=handle.corner, x_m=x, y_m=y)
    if handle.obstacle is not None:
        return obstacle_edits.move_obstacle_corner(
            design, obstacle=handle.obstacle, corner=handle.corner, x_m=x, y_m=y
        )
    return plot_edits.move_corner(design, corner=handle.corner, x_m=x, y_m=y, area=handle.area)


def new_corner(design: Design, edge: Handle, at: Point) -> Edit:
    """One more corner on an edge."""
    x, y = at
    if edge.side:
        return header_edits.insert_route_corner(design, side=edge.side, after=edge.corner, x_m=x, y_m=y)
    if edge.obstacle is not None:
        return obstacle_edits.insert_obstacle_corner(
            design, obstacle=edge.obstacle, after=edge.corner, x_m=x, y_m=y
        )
    return plot_edits.insert_corner(design, after=edge.corner, x_m=x, y_m=y, area=edge.area)


def without_corner(design: Design, handle: Handle) -> Edit:
    """The corner taken away."""
    if handle.side:
        return header_edits.delete_route_corner(design, side=handle.side, corner=handle.corner)
    if handle.obstacle is not None:
        return obstacle_edits.delete_obstacle_corner(design, obstacle=handle.obstacle, corner=handle.corner)
    return plot_edits.delete_corner(design, corner=handle.corner, area=handle.area)


def edge_under(design: Design, found: list[Handle], at: Point, reach_m: float) -> tuple[Handle, Point] | None:
    """The edge of a selected ring under the hand, as its middle's handle, and the place on it."""
    best: tuple[float, Handle, Point] | None = None
    for handle in found:
        if handle.kind != "edge":
            continue
        ring, _closed = ring_with(design, handle)
        start, end = ring[handle.corner], ring[(handle.corner + 1) % len(ring)]
        targets = Targets(edges=[(start, end, "")])
        x, y = (float(part) for part in targets.feet(at)[0])
        away = float(targets.away_from(at)[0])
        if away <= reach_m and (best is None or away < best[0]):
            best = away, handle, (x, y)
    return None if best is None else best[1:]


def around(design: Design, handle: Handle) -> tuple[Point | None, float | None, Targets]:
    """The corner before one that is moved, the azimuth of the edge that leads to that one, and what catches of the rest.

    The edges that move with the corner catch nothing; ways through the corner behind it do, so that a corner can be set
    square to both its edges.
    """
    ring, closed = ring_with(design, handle)
    count, own = len(ring), Targets()
    after = handle.corner + 1
    rest = [ring[(after + place) % count] for place in range(count)] if closed else []
    if handle.kind == "corner" and closed:
        rest = rest[:-1]
    if not closed:
        rest = list(ring[: handle.corner + (handle.kind == "edge")])
        behind = list(ring[after:])
        own.add_ring(behind, closed=False)
    if len(rest) > 1 or not closed:
        own.add_ring(rest, closed=False)
    if closed and len(rest) > 1:
        way = azimuth_between(rest[0], rest[1])
        for azimuth in {round(angle % 180.0, 6) for angle in (way, way + 90.0, 0.0, 90.0)}:
            own.add_guide(rest[0], azimuth, -_GUIDE_M, _GUIDE_M, _("level with the next corner"))
    before = azimuth_between(rest[-2], rest[-1]) if len(rest) > 1 else None
    return (rest[-1] if rest else None), before, own


class MoveCorner(Drag):
    """Moves a corner, or draws a new one out of an edge."""

    def __init__(self, host: Host, start: Pointer, handle: Handle) -> None:
        super().__init__(host, start)
        self.handle = handle
        self.targets = targets_of(host.drawing, frozenset({owner(handle)}))
        self.before, self.way, self.own = around(self.design, handle)

    def to(self, at: Pointer) -> Edit | None:
        caught = self._take(
            self.aim.at(at, start=self.before, before=self.way, own=self.own, targets=self.targets)
        )
        place = to_centimetre(caught)
        if self.handle.kind == "edge":
            return new_corner(self.design, self.handle, place)
        return moved_corner(self.design, self.handle, place)


class TypeCorner:
    """A corner's x and y as figures beside it; length and azimuth count from the corner before it."""

    follows = False

    def __init__(self, host: Host, handle: Handle) -> None:
        self.host, self.handle = host, handle
        design = host.session.state.design
        self.ring, self.closed = ring_with(design, handle)
        self.own = self.ring[handle.corner]
        before = handle.corner - 1
        self.start = self.ring[before] if before >= 0 or self.closed else None
        both = place_figures()
        keys = ("x", "y") if self.start is None else ("x", "y", "length", "azimuth")
        self._own = Figures([both[key] for key in keys])
        follow_place(self._own, self.start, self.own)

    @property
    def figures(self) -> Figures | None:
        """Its x and y, and length and azimuth from the corner before it."""
        return self._own

    @property
    def worth_taking(self) -> bool:
        """Only once something is typed."""
        return self._own.typing

    @property
    def hint(self) -> str:
        """What the next move does."""
        return _("Type the corner's x and y, Tab for the next figure; Enter takes, Esc leaves")

    def move(self, at: Pointer) -> None:
        """It stands where it is typed."""

    def again(self) -> None:
        """It stands already."""

    def edit(self) -> Edit:
        """The corner where it is typed. Raises BadInputError."""
        design = self.host.session.state.design
        return moved_corner(design, self.handle, read_place(self._own, self.start, self.own, design.site))

    def show(self) -> None:
        """Show the corner where it is typed, as far as that can be read."""
        edit = None
        if self._own.typing:
            try:
                edit = self.edit()
            except StillfieldError:
                edit = None
        self.host.preview(edit)

    def take(self) -> bool:
        """Take what is typed; whether it is done."""
        if not self._own.typing:
            return True
        try:
            return self.host.apply(self.edit())
        except StillfieldError as error:
            self.host.tell(str(error))
            return False

    def paint(self, board: Board) -> Boxes:
        """The figures beside the corner."""
        ring, _closed = ring_with(self.host.session.state.shown, self.handle)
        corner = ring[self.handle.corner] if self.handle.corner < len(ring) else self.own
        at = board.at(corner)
        if self.start is not None:
            board.stroke(path_of(board.px([self.start, corner])), board.pen("accent", 1.0, (2, 3)))
        board.square_handle(at, held=True)
        boxes = paint_place_at(board, at, self._own)
        paint_told(board, at + QPointF(16, 24), [(self._own.doubt, "ink")])
        return boxes
