"""The tools of the plan by their names."""

from studio.desk.plan.tools.cut import CutTool
from studio.desk.plan.tools.heights import HeightsTool
from studio.desk.plan.tools.land import HeaderTool, NoBuildTool, PlotTool
from studio.desk.plan.tools.line import LineTool
from studio.desk.plan.tools.measure import MeasureTool
from studio.desk.plan.tools.obstacle import ObstacleTool
from studio.desk.plan.tools.pick import PickTool
from studio.desk.plan.tools.picture import PictureTool
from studio.desk.plan.tools.place import StoreTool
from studio.desk.plan.tools.plant import PlantTool
from studio.desk.plan.tools.tool import Tool

_TOOLS = (
    PickTool, PlotTool, NoBuildTool, ObstacleTool, HeightsTool, LineTool, PlantTool, HeaderTool, StoreTool, MeasureTool,
    PictureTool, CutTool,
)  # fmt: skip
TOOLS: dict[str, type[Tool]] = {tool.name: tool for tool in _TOOLS}
