"""Plant: the plot planted with lines as the figures beside the tools say; a click on an edge of the plot gives the azimuth."""

from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QPointF, Qt

from studio.design.site import Point
from studio.desk.plan.board import Board, path_of
from studio.desk.plan.inline import paint_told
from studio.desk.plan.planter import TOOL, Planter
from studio.desk.plan.tools.tool import Host, Pointer, Tool
from studio.edits.geometry import azimuth_between
from studio.text import _, number

_REACH_PX = 12.0


@dataclass(frozen=True)
class _Edge:
    """An edge of the boundary under the hand, and the azimuth that a click gives."""

    start: Point
    end: Point
    azimuth_deg: float


class PlantTool(Tool):
    """Shows what the planter gives; Enter plants."""

    name = TOOL
    cursor = Qt.CursorShape.ArrowCursor

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.planter = Planter.of(host.session)
        self._edge: _Edge | None = None
        self._hand = QPointF()

    @property
    def hint(self) -> str:
        if self.planter.fault:
            return _("No lines so: why is told beside the figures")
        return _("{lines}. Enter plants them, a click on an edge turns them along it").format(
            lines=self.planter.told
        )

    def move(self, at: Pointer, *, held: bool) -> None:
        edge = self._under(at)
        if edge is not None or self._edge is not None:
            self._edge, self._hand = edge, QPointF(at.x, at.y)
            self.host.update()

    def press(self, at: Pointer) -> None:
        edge = self._under(at)
        if edge is not None:
            self.planter.set(azimuth_deg=edge.azimuth_deg)
            self.move(at, held=True)

    def take(self) -> bool:
        return self.planter.take()

    def _under(self, at: Pointer) -> _Edge | None:
        """The nearest edge in reach, along the way nearer to the azimuth there is; that one again turns round."""
        ring = self.design.plot.boundary
        if len(ring) < 3:
            return None
        a = self.host.camera.to_px(ring)
        run = np.roll(a, -1, axis=0) - a
        hand = np.array([at.x, at.y])
        along = np.clip(
            np.einsum("ij,ij->i", hand - a, run) / np.maximum(np.einsum("ij,ij->i", run, run), 1e-12), 0, 1
        )
        away = np.hypot(*(a + along[:, None] * run - hand).T)
        nearest = int(away.argmin())
        if away[nearest] > _REACH_PX:
            return None
        start, end = ring[nearest], ring[(nearest + 1) % len(ring)]
        azimuth = round(azimuth_between(start, end), 6) % 360.0
        now = self.planter.wish.azimuth_deg
        if abs((azimuth - now + 180.0) % 360.0 - 180.0) > 90.0:
            azimuth = (azimuth + 180.0) % 360.0
        if abs(azimuth - now) < 1e-6:
            azimuth = (azimuth + 180.0) % 360.0
        return _Edge(start, end, azimuth)

    def paint(self, board: Board) -> None:
        if self._edge is None:
            return
        board.stroke(path_of(board.px([self._edge.start, self._edge.end])), board.pen("accent", 3.4))
        told = _("along this edge: {azimuth}°").format(azimuth=number(self._edge.azimuth_deg, digits=2))
        paint_told(board, self._hand + QPointF(14, 26), [(told, "accent")])
