"""Picture: scales the picture under the plan by two known points, moves it, turns it by its corners."""

from collections.abc import Callable
from contextlib import suppress
from math import degrees, hypot

import numpy as np
from PySide6.QtCore import QPointF, Qt

from studio.design.site import Point, Underlay
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.dimensions import Boxes, paint_segment
from studio.desk.plan.inline import Figure, Figures, figure_box, paint_figure, paint_told
from studio.desk.plan.tools.tool import Host, Pointer, Tool
from studio.desk.plan.underlay import picture_size
from studio.drawings.underlay import corners_of, laid, pixel_at
from studio.edits.edit import Edit
from studio.edits.geometry import azimuth_between, direction, distance, moved
from studio.edits.underlay import clear_underlay, move_underlay, place_underlay, turn_underlay
from studio.errors import BadInputError, StillfieldError
from studio.text import _, number

_SLACK_PX = 4.0
_NEAR_PX = 10.0
_WHOLE_DEG = 0.5
"""A turn is caught by whole degrees this near, unless Alt is held."""
_PLACES = ("x1", "y1", "x2", "y2")
Pixel = tuple[float, float]


class PictureTool(Tool):
    """Two clicks on the picture, then their true distance, azimuth or places are typed; Enter takes."""

    name = "picture"
    cursor = Qt.CursorShape.CrossCursor

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.points: list[Pixel] = []
        """The known points, as pixels right and up from the picture's middle, so that they stay on what they show."""
        self.hand: Point | None = None
        self.pressed: Pointer | None = None
        self.drag: Callable[[Pointer], Edit | None] | None = None
        self.dragging = False
        self.edit: Edit | None = None
        self.boxes: Boxes = {}
        self._asset = self.underlay.asset

    # what there is ---------------------------------------------------------------------------------------------------

    @property
    def underlay(self) -> Underlay:
        """The picture as it lies in the committed design."""
        return self.design.underlay

    @property
    def shown(self) -> Underlay:
        """The picture as it is shown."""
        return self.host.session.state.shown.underlay

    @property
    def corners(self) -> np.ndarray | None:
        """Corners (4, 2) of the picture as it is shown; None where there is none."""
        size = picture_size(self.host.session.state)
        return None if size is None else corners_of(self.shown, size)

    @property
    def hint(self) -> str:
        if self.corners is None:
            return _("No picture yet: drop a PNG or JPEG here, or take it in by the menu")
        if len(self.points) == 2:
            return _("Type their true distance; Tab for azimuth and places, Enter takes, Esc leaves")
        if self.points:
            return _("Click the second point")
        return _("Click two points whose distance you know; drag moves the picture, a corner turns it")

    def changed(self) -> None:
        if self.underlay.asset != self._asset:
            self._asset = self.underlay.asset
            self._forget()
        self._follow()

    # the mouse -------------------------------------------------------------------------------------------------------

    def press(self, at: Pointer) -> None:
        for key, box in self.boxes.items():
            if self.figures is not None and box.adjusted(-2, -2, 2, 2).contains(at.x, at.y):
                self.figures.active = next(i for i, one in enumerate(self.figures.members) if one.key == key)
                self.host.update()
                return
        self.pressed, self.dragging, self.edit, self.drag = at, False, None, None
        corners = self.corners
        if corners is None:
            self.host.tell(self.hint)
            self.pressed = None
        elif (place := self._point_under(at)) is not None:
            self.drag = lambda to: self._drag_point(place, to)
        elif any(self._near(corner, at) for corner in corners):
            self.drag = self._turned
        elif self._on_picture(at):
            self.drag = self._moved

    def move(self, at: Pointer, *, held: bool) -> None:
        self.hand = at.m
        if not held or self.pressed is None or self.drag is None:
            self.host.update()
            return
        if not self.dragging and hypot(at.x - self.pressed.x, at.y - self.pressed.y) < _SLACK_PX:
            return
        self.dragging = True
        self.edit = self.drag(at)
        self.host.preview(self.edit)
        self.host.update()

    def release(self, at: Pointer) -> None:
        if self.pressed is None:
            return
        self.move(at, held=True)
        if self.dragging:
            if self.edit is not None:
                self.host.apply(self.edit)
        elif self._on_picture(at):
            self._set(at)
        else:
            self.host.tell(_("Click on the picture, on a point that you know."))
        self._let_go()

    def _let_go(self) -> None:
        self.pressed, self.drag, self.edit, self.dragging = None, None, None, False
        self._follow()
        self.host.update()

    def _near(self, point: Point | np.ndarray, at: Pointer) -> bool:
        x, y = self.host.camera.to_px([point[0], point[1]])
        return hypot(x - at.x, y - at.y) <= _NEAR_PX

    def _on_picture(self, at: Pointer) -> bool:
        size = picture_size(self.host.session.state)
        if size is None:
            return False
        right, up = pixel_at(self.shown, at.m)
        return abs(right) <= size[0] / 2 and abs(up) <= size[1] / 2

    def _point_under(self, at: Pointer) -> int | None:
        found = (place for place, point in enumerate(self._places(self.shown)) if self._near(point, at))
        return next(found, None)

    def _places(self, underlay: Underlay) -> list[Point]:
        return [(float(x), float(y)) for x, y in laid(underlay).of(np.array(self.points).reshape(-1, 2))]

    def _set(self, at: Pointer) -> None:
        if len(self.points) == 2:
            if self.figures is not None and self.figures.typing:
                self.host.tell(_("Enter takes what is typed, Esc leaves it."))
                return
            self._forget()
        if any(self._near(point, at) for point in self._places(self.shown)):
            return
        self.points.append(pixel_at(self.underlay, at.m))
        if len(self.points) == 2:
            self.figures = Figures(
                [Figure("length", _("distance"), "m"), Figure("azimuth", _("azimuth"), "°", digits=1),
                 Figure("x1", "x", "m"), Figure("y1", "y", "m"), Figure("x2", "x", "m"), Figure("y2", "y", "m")]
            )  # fmt: skip

    def _drag_point(self, place: int, to: Pointer) -> Edit | None:
        self.points[place] = pixel_at(self.underlay, to.m)
        self._follow()
        return None

    def _moved(self, to: Pointer) -> Edit:
        assert self.pressed is not None
        (x0, y0), (x1, y1) = self.pressed.m, to.m
        return move_underlay(self.design, dx_m=round(x1 - x0, 3), dy_m=round(y1 - y0, 3))

    def _turned(self, to: Pointer) -> Edit:
        assert self.pressed is not None
        middle = complex(self.underlay.x_m, self.underlay.y_m)
        run = (complex(*to.m) - middle) / (complex(*self.pressed.m) - middle)
        turned = self.underlay.turned_deg - degrees(np.angle(run))
        whole = round(turned)
        caught = (
            whole if abs(turned - whole) < _WHOLE_DEG and not to.free and whole % 5 == 0 else round(turned, 1)
        )
        return turn_underlay(self.design, turned_deg=caught)

    # the keys --------------------------------------------------------------------------------------------------------

    def typed(self) -> None:
        figures = self.figures
        if figures is None:
            return
        opposed = {"x2": ("length", "azimuth"), "length": ("x2", "y2")}
        opposed |= {"y2": opposed["x2"], "azimuth": opposed["length"]}
        if figures.now.typed:
            for key in opposed.get(figures.now.key, ()):
                figures[key].typed = ""  # what is typed last says where the second point lies
        edit = None
        if figures.typing:
            with suppress(StillfieldError):
                edit = self._placed()
        self.host.preview(edit)
        self._follow()
        self.host.update()

    def _targets(self) -> tuple[Point, Point]:
        """Where the two points are to lie, as far as figures are typed. Raises BadInputError for what is no number."""
        assert self.figures is not None
        figures, (first, second) = self.figures, self._places(self.underlay)

        def said(key: str, otherwise: float) -> float:
            value = figures.read(key) if figures[key].typed else None
            return otherwise if value is None else value

        to_first = said("x1", first[0]), said("y1", first[1])
        if figures["x2"].typed or figures["y2"].typed:
            return to_first, (said("x2", second[0]), said("y2", second[1]))
        length, turn = (
            said("length", distance(first, second)),
            said("azimuth", azimuth_between(first, second)),
        )
        if not length > 0:
            raise BadInputError(_("A distance above 0 m would be right."))
        return to_first, moved(to_first, direction(turn), length)

    def _placed(self) -> Edit:
        first, second = self._places(self.underlay)
        to_first, to_second = self._targets()
        return place_underlay(self.design, first=first, second=second, to_first=to_first, to_second=to_second)

    def _follow(self) -> None:
        if self.figures is None or len(self.points) != 2:
            return
        first, second = self._places(self.shown)
        self.figures.follow(
            length=distance(first, second), azimuth=azimuth_between(first, second) % 360.0,
            x1=first[0], y1=first[1], x2=second[0], y2=second[1],
        )  # fmt: skip

    def take(self) -> bool:
        if self.figures is None:
            return False
        if not self.figures.typing:
            self.host.tell(self.hint)
            return True
        try:
            edit = self._placed()
        except StillfieldError as error:
            self.host.tell(str(error))
            return True
        if self.host.apply(edit):
            self._forget()
        return True

    def leave(self) -> bool:
        if self.dragging:
            self._let_go()
            self.host.preview(None)
            return True
        if self.figures is not None and self.figures.typing:
            self.figures.clear()
            self.host.preview(None)
            self._follow()
            return True
        had = bool(self.points)
        self._forget()
        return had

    def remove(self) -> bool:
        """Delete: the picture is taken away; whether there was one."""
        return bool(self.underlay.asset) and self.host.apply(clear_underlay(self.design))

    def _forget(self) -> None:
        self.points, self.figures, self.boxes = [], None, {}
        self.host.update()

    # paint -----------------------------------------------------------------------------------------------------------

    def paint(self, board: Board) -> None:
        self.boxes = {}
        corners = self.corners
        if corners is None:
            return
        board.polyline(corners, board.pen("accent", 1.2, (5, 4)), closed=True)
        for corner in corners:
            board.round_handle(board.at(corner), held=self.dragging and self.drag == self._turned)
        places = [board.at(point) for point in self._places(self.shown)]
        if len(places) == 1 and self.hand is not None:
            board.cased(
                path_of(board.px([*self._places(self.shown), self.hand])), board.pen("accent", 1.2, (4, 3))
            )
        if len(places) == 2 and self.figures is not None:
            self._paint_figures(board, places[0], places[1], self.figures)
        for at in places:
            board.dot(at, 6.0, fill="view", rim="accent", width=1.6)
            board.dot(at, 1.6, fill="accent", rim="")
        if self.dragging and self.pressed is not None and self.edit is not None:
            told = _("turned {angle}°").format(angle=number(self.shown.turned_deg, digits=1))
            if self.drag != self._turned:
                told = _("x {x} m, y {y} m").format(
                    x=number(self.shown.x_m, digits=2), y=number(self.shown.y_m, digits=2)
                )
            paint_told(board, QPointF(self.pressed.x + 18, self.pressed.y + 28), [(told, "accent")])

    def _paint_figures(self, board: Board, first: QPointF, second: QPointF, figures: Figures) -> None:
        board.cased(
            path_of(np.array([[first.x(), first.y()], [second.x(), second.y()]])), board.pen("accent", 1.6)
        )
        self.boxes |= paint_segment(board, first, second, figures, away=24.0)
        for at, keys in ((first, _PLACES[:2]), (second, _PLACES[2:])):
            for row, key in enumerate(keys):
                own = figure_box(board, at, figures[key])
                middle = QPointF(at.x() + 26 + own.width() / 2, at.y() + 18 + 23 * row)
                label = QPointF(middle.x() - own.width() / 2 - 5, middle.y() + 4)
                board.text(label, figures[key].label, align="right", role="ink2")
                self.boxes[key] = paint_figure(board, middle, figures[key], active=figures.now.key == key)
        lowest = max((box.bottom() for box in self.boxes.values()), default=max(first.y(), second.y()))
        told = [(self._result(), "accent"), (figures.doubt, "ink")]
        left = min(box.left() for box in self.boxes.values()) if self.boxes else first.x()
        paint_told(board, QPointF(left, min(lowest + 20, board.camera.height - 56)), told)

    def _result(self) -> str:
        """The size and the turn that would be taken."""
        size, shown = picture_size(self.host.session.state), self.shown
        if size is None or self.host.session.state.preview is None:
            return ""
        return _("picture then {width} m × {height} m, {size} m a pixel, turned {angle}°").format(
            width=number(size[0] * shown.m_per_pixel, digits=1), height=number(size[1] * shown.m_per_pixel, digits=1),
            size=number(shown.m_per_pixel, figures=3), angle=number(shown.turned_deg, digits=1),
        )  # fmt: skip
