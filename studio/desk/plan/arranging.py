"""What can be done to several selected things at once: the deeds of the strip, of the context menu and of the keys."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt

from studio.design.design import Design
from studio.design.fields import mark
from studio.design.site import Point
from studio.desk.plan.inline import Figure
from studio.desk.plan.tools.change import things_of
from studio.desk.plan.tools.mode import TypedValue
from studio.desk.plan.tools.pick import PickTool
from studio.desk.plan.tools.selected import mean_pitch
from studio.desk.state import State
from studio.edits.arrange import Part, align_lines, set_pitches, space_evenly
from studio.edits.edit import Edit
from studio.edits.geometry import direction, front_line, moved
from studio.edits.together import middle_of, mirror_things, turn_things
from studio.errors import StillfieldError
from studio.text import _

_AXIS_M = 1e4


@dataclass(frozen=True)
class Act:
    """A deed: its word, what it does, its key, and how many lines (or things of any kind) must be selected for it."""

    key: str
    word: str
    about: str
    keys: str
    code: Qt.Key
    least_lines: int
    run: Callable[[PickTool], None]

    def fits(self, state: State) -> bool:
        """Whether it can be done to what is selected."""
        if self.least_lines:
            return len(state.selected_lines()) >= self.least_lines
        return len(things_of(state.selection)) > 0


def _at_once(make: Callable[[Design, Sequence[int]], Edit]) -> Callable[[PickTool], None]:
    def run(tool: PickTool) -> None:
        tool.finish()
        try:
            tool.host.apply(make(tool.design, tool.ids))
        except StillfieldError as error:
            tool.host.tell(str(error))

    return run


def _align(part: Part) -> Callable[[PickTool], None]:
    return _at_once(lambda design, ids: align_lines(design, ids=ids, part=part))


def _pitch(tool: PickTool) -> None:
    tool.finish()
    ids = tool.ids
    figure = Figure("pitch", _("pitch"), "m", value=round(mean_pitch(tool.design, ids), 3))
    _begin(tool, figure, lambda design, metres: set_pitches(design, ids=ids, pitch_m=metres))


def _turn(tool: PickTool) -> None:
    tool.finish()
    things = things_of(tool.selection)
    figure = Figure("angle", _("angle, clockwise"), "°", value=0.0, digits=1)
    _begin(tool, figure, lambda design, angle: turn_things(design, things=things, angle_deg=angle))


def _mirror(tool: PickTool) -> None:
    tool.finish()
    things, design = things_of(tool.selection), tool.design
    lines = [line for line in design.lines if line.id in things.lines]
    across = (front_line(design, lines).azimuth_deg + 90.0) % 180.0 if lines else 0.0
    centre = middle_of(design, things)

    def axis(azimuth: float) -> tuple[Point, Point]:
        way = direction(azimuth)
        return moved(centre, way, -_AXIS_M), moved(centre, way, _AXIS_M)

    figure = Figure("axis", _("azimuth of the axis"), "°", value=across, digits=1)
    _begin(
        tool, figure, lambda design, azimuth: mirror_things(design, things=things, azimuth_deg=azimuth), axis
    )


def _begin(
    tool: PickTool,
    figure: Figure,
    make: Callable[[Design, float], Edit],
    axis: Callable[[float], tuple[Point, Point]] | None = None,
) -> None:
    centre = middle_of(tool.design, things_of(tool.selection))
    tool.begin(TypedValue(tool.host, figure, make, centre, axis=axis))


_K = Qt.Key
ACTS: tuple[Act, ...] = (
    Act("drive", mark("Drive ends"), mark("Drive ends in one row, square to the front line"), "Ctrl+Left", _K.Key_Left,
        2, _align("drive")),
    Act("middle", mark("Middles"), mark("Middles in one row, square to the front line"), "Ctrl+Down", _K.Key_Down, 2,
        _align("middle")),
    Act("far", mark("Far ends"), mark("Far ends in one row, square to the front line"), "Ctrl+Right", _K.Key_Right, 2,
        _align("far")),
    Act("evenly", mark("Evenly"), mark("Equal pitches; the outermost lines stay"), "Ctrl+E", _K.Key_E, 3,
        _at_once(lambda design, ids: space_evenly(design, ids=ids))),
    Act("pitch", mark("Pitch…"), mark("A typed pitch from line to line; the front line stays"), "Ctrl+P", _K.Key_P, 2,
        _pitch),
    Act("mirror", mark("Mirror…"), mark("Mirror about an axis of a typed azimuth through the middle"), "Ctrl+I",
        _K.Key_I, 0, _mirror),
    Act("turn", mark("Turn…"), mark("Turn by a typed angle about the middle"), "Ctrl+T", _K.Key_T, 0, _turn),
)  # fmt: skip


def do_act(tool: PickTool, act: Act) -> bool:
    """Do it to what is selected; whether that could be."""
    if not act.fits(tool.host.session.state):
        return False
    act.run(tool)
    return True
