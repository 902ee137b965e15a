"""Heights: sets measured spots on the land, moves them, and types their heights."""

from math import hypot

from PySide6.QtCore import QPointF, QRectF, Qt

from studio.design.site import HeightGrid, Point, SpotHeights
from studio.desk.plan.board import Board
from studio.desk.plan.inline import Figure, Figures, paint_figure, paint_told
from studio.desk.plan.snaps import CATCH_PX, Caught, to_centimetre
from studio.desk.plan.tools.aim import Aim, paint_caught
from studio.desk.plan.tools.tool import Host, Pointer, Tool
from studio.edits.edit import Edit
from studio.edits.geometry import ground_height
from studio.edits.spots import LEAST_SPOTS, Spot, add_spot, delete_spot, move_spot, set_spot_height, set_spots
from studio.errors import StillfieldError
from studio.text import _, number, plural

_DRAG_PX = 4.0
_DOT_PX = 3.5


class HeightsTool(Tool):
    """A click sets a spot or takes one in hand, its height is typed. The first spots wait until three make a ground."""

    name = "heights"
    cursor = Qt.CursorShape.CrossCursor

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.hand: Caught | None = None
        self.drafts: list[Spot] = []
        self.chosen: int | None = None
        self.placing: Point | None = None
        self.aim = Aim(host)
        self._held: Pointer | None = None
        self._dragged = False

    @property
    def spots(self) -> tuple[Spot, ...]:
        """The spots of the design; those that wait while it has none."""
        heights = self.host.session.state.shown.ground.heights
        return heights.spots if isinstance(heights, SpotHeights) else tuple(self.drafts)

    @property
    def _grid(self) -> bool:
        return isinstance(self.design.ground.heights, HeightGrid)

    @property
    def hint(self) -> str:
        if self._grid:
            return _(
                "This land has measured heights from a grid; take them away on the sheet of the ground to set spots"
            )
        if self.placing is not None:
            return _("Type the height that was measured here; Enter sets it")
        if self.chosen is not None:
            return _("Type another height, drag the spot, or remove it with Delete")
        if isinstance(self.design.ground.heights, SpotHeights):
            return _("Click where a height was measured, or a spot to change it")
        wanted = LEAST_SPOTS - len(self.drafts)
        if wanted == LEAST_SPOTS:
            return _("Click where a height was measured; three spots make the ground")
        return plural("{count} more spot makes the ground", "{count} more spots make the ground", wanted)

    # the mouse -----------------------------------------------------------------------------------------------------

    def press(self, at: Pointer) -> None:
        if self._grid:
            self.host.tell(self.hint)
            return
        if self.figures is not None and self.figures.typing and not self._commit():
            return
        self.move(at, held=False)
        spot = self._under(at)
        if spot is not None:
            self._choose(spot)
            self._held, self._dragged = at, False
        elif self.hand is not None:
            self.chosen, self.placing = None, to_centimetre(self.hand)
            self.figures = _figures(self._height_here(self.placing))
        self.host.update()

    def move(self, at: Pointer, *, held: bool) -> None:
        if not (held and self._held is not None):
            self.hand = self.aim.at(at)
            self.host.update()
            return
        self._dragged |= hypot(at.x - self._held.x, at.y - self._held.y) > _DRAG_PX
        if self._dragged:
            self.hand = self.aim.at(at)
            edit = self._moved(to_centimetre(self.hand))
            if edit is not None:
                self.host.preview(edit)
            self.host.update()

    def release(self, at: Pointer) -> None:
        held, self._held = self._held, None
        if held is None or not self._dragged or self.hand is None:
            return
        self._dragged = False
        self.hand = self.aim.at(at)
        edit = self._moved(to_centimetre(self.hand))
        if edit is not None and not self.host.apply(edit):
            self.host.preview(None)
        self.host.update()

    def _moved(self, to: Point) -> Edit | None:
        """The edit that moves the chosen spot; one that waits moves by itself."""
        if self.chosen is None:
            return None
        if self.design.ground.heights is None:
            self.drafts[self.chosen] = (*to, self.drafts[self.chosen][2])
            return None
        return move_spot(self.design, spot=self.chosen, x_m=to[0], y_m=to[1])

    def _under(self, at: Pointer) -> int | None:
        found, nearest = None, CATCH_PX
        for place, (x, y, _height) in enumerate(self.spots):
            px, py = self.host.camera.to_px((x, y))
            apart = hypot(float(px) - at.x, float(py) - at.y)
            if apart <= nearest:
                found, nearest = place, apart
        return found

    # figures -------------------------------------------------------------------------------------------------------

    def _choose(self, spot: int) -> None:
        self.chosen, self.placing = spot, None
        self.figures = _figures(self.spots[spot][2])

    def _height_here(self, place: Point) -> float:
        """What would be typed for a place if the ground there were as it is taken now."""
        heights = self.design.ground.heights
        if heights is None and self.drafts:
            return self.drafts[-1][2]
        return ground_height(self.design.ground, *place) + (0.0 if heights is None else heights.zero_m)

    def typed(self) -> None:
        self.host.update()

    def take(self) -> bool:
        return False if self.figures is None else self._commit() or True

    def _commit(self) -> bool:
        """Set the height in its figure; whether it could be."""
        figures = self.figures
        if figures is None:
            return True
        try:
            height = figures.read("height")
        except StillfieldError as error:
            self.host.tell(str(error))
            return False
        if height is None:
            return False
        done = self._set(round(height, 3))
        self.host.update()
        return done

    def _set(self, height: float) -> bool:
        design, chosen = self.design, self.chosen
        if design.ground.heights is None:
            return self._draft(height)
        if chosen is not None:
            done = self.host.apply(set_spot_height(design, spot=chosen, height_m=height))
        elif self.placing is not None:
            x, y = self.placing
            done = self.host.apply(add_spot(design, x_m=x, y_m=y, height_m=height))
            chosen = len(self.spots) - 1
        else:
            return True
        if done and chosen is not None:
            self._choose(chosen)
        return done

    def _draft(self, height: float) -> bool:
        """The first spots wait; the third makes the ground."""
        if self.chosen is not None:
            x, y, _was = self.drafts[self.chosen]
            self.drafts[self.chosen] = (x, y, height)
        elif self.placing is not None:
            self.drafts.append((*self.placing, height))
        self.chosen, self.placing, self.figures = None, None, None
        if len(self.drafts) < LEAST_SPOTS:
            return True
        if self.host.apply(set_spots(self.design, spots=self.drafts)):
            self.drafts = []
            return True
        self.drafts.pop()
        return False

    def remove(self) -> bool:
        """Take the chosen spot away; whether there was one."""
        if self.chosen is None:
            return False
        if self.design.ground.heights is None:
            del self.drafts[self.chosen]
        else:
            try:
                edit = delete_spot(self.design, spot=self.chosen)
            except StillfieldError as error:
                self.host.tell(str(error))
                return True
            self.host.apply(edit)
        self._let_go()
        return True

    def leave(self) -> bool:
        if self.figures is not None and self.figures.typing:
            self.figures.clear()
            self.host.update()
            return True
        if self._held is not None and self._dragged:
            self._held, self._dragged = None, False
            self.host.preview(None)
            return True
        had = self.placing is not None or self.chosen is not None
        if not had and self.drafts:
            self.drafts, had = [], True
        self._let_go()
        return had

    def _let_go(self) -> None:
        self.chosen, self.placing, self.figures = None, None, None
        self.host.update()

    def changed(self) -> None:
        if self.design.ground.heights is not None:
            self.drafts = []
        if self.chosen is not None and self.chosen >= len(self.spots):
            self._let_go()
        elif self.chosen is not None and self.figures is not None:
            self.figures.follow(height=self.spots[self.chosen][2])

    # paint ---------------------------------------------------------------------------------------------------------

    def paint(self, board: Board) -> None:
        for place, (x, y, height) in enumerate(self.spots):
            at = board.at((x, y))
            picked = place == self.chosen
            board.dot(at, _DOT_PX, fill="view", rim="accent" if picked else "ink2", width=1.6)
            if picked:
                continue
            text = number(height, digits=2)
            box = QRectF(at.x() + 6, at.y() - 16, board.width(text) + 4, 14)
            if board.free(box):
                board.text(QPointF(at.x() + 7, at.y() - 5), text, role="ink2")
                board.taken.append(box)
        mark = self.placing
        if self.chosen is not None and self.chosen < len(self.spots):
            mark = self.spots[self.chosen][:2]
        if mark is not None and self.figures is not None:
            at = board.at(mark)
            board.dot(at, _DOT_PX + 1.0, fill="view", rim="accent", width=1.8)
            paint_figure(board, at + QPointF(0, -22), self.figures["height"], active=True)
            if self.figures.doubt:
                paint_told(board, at + QPointF(14, 26), [(self.figures.doubt, "ink")])
        elif self.hand is not None and not self._grid:
            paint_caught(board, self.hand)


def _figures(height_m: float) -> Figures:
    return Figures([Figure("height", _("height"), "m", value=height_m)])
