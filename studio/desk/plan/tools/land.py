"""Plot, No-build and Header: what a chain of points makes of the land."""

from studio.design.site import Point
from studio.desk.plan.tools.chain import Chain
from studio.desk.plan.tools.tool import Host, Pointer
from studio.desk.state import Subject
from studio.edits.edit import Edit
from studio.edits.header import Side, set_header_route
from studio.edits.plot import add_no_build, set_boundary
from studio.text import _


class PlotTool(Chain):
    """Draws the plot's boundary."""

    name = "plot"

    def edit(self, points: list[Point]) -> Edit:
        return set_boundary(self.design, corners=points)

    def _finish(self) -> None:
        super()._finish()
        if not self.points:
            self.host.session.select(Subject("boundary"))
            self.host.session.update(tool="pick")


class NoBuildTool(Chain):
    """Draws an area where nothing is built."""

    name = "no_build"

    def edit(self, points: list[Point]) -> Edit:
        return add_no_build(self.design, corners=points)

    def _finish(self) -> None:
        super()._finish()
        if not self.points:
            self.host.session.select(Subject("no_build", len(self.design.plot.no_build) - 1))


class HeaderTool(Chain):
    """Draws the route of the hot header; with Shift at its first point, of the cold one."""

    name = "header"
    closes = False
    least = 2

    def __init__(self, host: Host) -> None:
        super().__init__(host)
        self.side: Side = "hot"

    @property
    def hint(self) -> str:
        if not self.points:
            return _("Click where the hot header begins, or type its x and y; with Shift the cold one")
        return super().hint

    def press(self, at: Pointer) -> None:
        if not self.points:
            self.side = "cold" if at.add else "hot"
        super().press(at)

    def edit(self, points: list[Point]) -> Edit:
        return set_header_route(self.design, side=self.side, points=points)

    def _finish(self) -> None:
        super()._finish()
        if not self.points:
            self.host.session.select(Subject("header", self.side))
            self.host.session.update(tool="pick")
