"""The views there are and the tools of each: the top bar and the left panel read this list."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

from PySide6.QtWidgets import QWidget

from studio.design.fields import mark
from studio.desk.session import Session
from studio.desk.theme import Theme


@dataclass(frozen=True)
class Tool:
    """A tool: its key (and icon), its word, the letter that chooses it, and what it does."""

    key: str
    word: str
    letter: str
    hint: str


@dataclass(frozen=True)
class View:
    """A view: its key, its word, its tools, what goes with it, and how it is made."""

    key: str
    word: str
    tools: tuple[Tool, ...]
    calendar_of: str
    """What the sun calendar shows beside it, until a hand chooses."""
    make: Callable[[Session, Theme], QWidget]


PLAN_TOOLS = (
    Tool("pick", mark("Pick"), "K", mark("Select, move, turn, stretch")),
    Tool("plot", mark("Plot"), "P", mark("Draw the plot's boundary")),
    Tool("no_build", mark("No-build"), "N", mark("Draw an area where nothing is built")),
    Tool("obstacle", mark("Obstacle"), "O", mark("Draw a wall, shed or fence, place a tree or a pole")),
    Tool("heights", mark("Heights"), "E", mark("Set spots with their measured heights")),
    Tool("line", mark("Line"), "L", mark("Draw a line of mirrors from drive end to far end")),
    Tool("plant", mark("Plant"), "A", mark("Plant the plot with lines at a pitch")),
    Tool("header", mark("Header"), "H", mark("Draw the route of the hot or the cold header")),
    Tool("store", mark("Store"), "S", mark("Place the store")),
    Tool("picture", mark("Picture"), "I", mark("Scale, move and turn the picture under the plan")),
    Tool("measure", mark("Measure"), "M", mark("Measure a distance and its azimuth")),
    Tool(
        "cut", mark("Cut"), "C", mark("Cut the ground along two points, or square to a line, for the section")
    ),
)


def _plan(session: Session, theme: Theme) -> QWidget:
    from studio.desk.plan.view import PlanView

    view: QWidget = PlanView(session, theme)
    return view


def _section(session: Session, theme: Theme) -> QWidget:
    from studio.desk.section.view import SectionView

    view: QWidget = SectionView(session, theme)
    return view


def _mirror(session: Session, theme: Theme) -> QWidget:
    from studio.desk.mirror.view import MirrorView

    view: QWidget = MirrorView(session, theme)
    return view


VIEWS = (
    View("plan", mark("Plan"), PLAN_TOOLS, "heat", _plan),
    View("section", mark("Section"), (), "shade", _section),
    View("mirror", mark("Mirror"), (), "intercept", _mirror),
)


def view_of(key: str) -> View:
    """The view of a key; KeyError for an unknown one."""
    return {view.key: view for view in VIEWS}[key]


def turn_to(session: Session, key: str) -> None:
    """Show a view, with the tool and the sun calendar that go with it; KeyError for an unknown one."""
    view = view_of(key)
    if session.state.view != key:
        tool = view.tools[0].key if view.tools else session.state.tool
        curves = session.state.curves and key == "plan"  # they are of the field, beside the plan
        session.update(view=key, tool=tool, calendar_of=view.calendar_of, curves=curves)


@runtime_checkable
class Shuts(Protocol):
    """A view that has work to end when the window closes."""

    def shut(self) -> None:
        """End it."""
        ...


@runtime_checkable
class Sees(Protocol):
    """A view of the land."""

    @property
    def sight(self) -> tuple[float, float, float, float]:
        """The land in sight: x0, y0, x1, y1 in metres."""
        ...


@runtime_checkable
class Fits(Protocol):
    """A view that can show all there is of the design."""

    def fit(self) -> None:
        """Everything in sight."""
        ...
