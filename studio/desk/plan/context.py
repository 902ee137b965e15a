"""The plan's context menu: what can be done to what lies under the pointer, or to what is selected."""

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtGui import QContextMenuEvent
from PySide6.QtWidgets import QMenu

from studio.desk.plan import paste
from studio.desk.plan.arranging import ACTS, do_act
from studio.desk.plan.tools.corners import TypeCorner, edge_under, new_corner
from studio.desk.plan.tools.pick import PickTool
from studio.desk.plan.tools.tool import Pointer
from studio.desk.plan.tools.under import EDGE_PX, handle_under, subject_under
from studio.text import _

if TYPE_CHECKING:
    from studio.desk.plan.canvas import PlanCanvas


def open_menu(canvas: "PlanCanvas", event: QContextMenuEvent) -> None:
    """Show the menu where it was asked for: at the mouse, or by the menu key at the pointer's place."""
    if not isinstance(canvas.tool, PickTool):
        canvas.tool.leave()
        event.accept()
        return
    spot = event.pos()
    at = Pointer(canvas.camera.to_m(spot.x(), spot.y()), float(spot.x()), float(spot.y()))
    menu = menu_at(canvas, canvas.tool, at, by_mouse=event.reason() == QContextMenuEvent.Reason.Mouse)
    menu.popup(event.globalPos())
    event.accept()


def menu_at(canvas: "PlanCanvas", tool: PickTool, at: Pointer, *, by_mouse: bool) -> QMenu:
    """The menu at a place. What lies there is selected first, unless it is."""
    tool.finish()
    menu = QMenu(canvas)
    menu.setAccessibleName(_("What can be done here"))
    handle = handle_under(tool.handles, at, canvas.camera) if by_mouse else tool.held
    if handle is not None and handle.kind == "corner":
        tool.held = handle
        corner = handle
        _entry(
            menu, _("Type x and y of the corner…"), "Enter", lambda: tool.begin(TypeCorner(canvas, corner))
        )
        _entry(menu, _("Remove the corner"), "Del", tool.remove)
        menu.addSeparator()
    elif by_mouse:
        _edges(menu, canvas, tool, at)
        under = subject_under(canvas.reachable, at, canvas.camera)
        if under is not None and under not in tool.selection:
            canvas.session.select(under)
    state = canvas.session.state
    acts = [act for act in ACTS if act.fits(state)]
    for act in acts:
        _entry(menu, _(act.word), act.keys, partial(do_act, tool, act))
    if acts:
        menu.addSeparator()
    if tool.ids:
        _entry(menu, _("Repeat…"), "Ctrl+D", canvas.repeat_selected)
    if state.selection:
        _entry(menu, _("Cut"), "Ctrl+X", lambda: paste.cut(canvas.session))
        _entry(menu, _("Copy"), "Ctrl+C", lambda: paste.copy(canvas.session))
    _entry(menu, _("Paste"), "Ctrl+V", lambda: paste.paste(canvas))
    if state.selection:
        _entry(menu, _("Remove"), "Del", tool.remove)
        menu.addSeparator()
        _entry(menu, _("Selected in sight"), "Shift+F", canvas.fit_selected)
    _entry(menu, _("Everything in sight"), "F", canvas.fit)
    menu.aboutToHide.connect(menu.deleteLater)
    return menu


def _edges(menu: QMenu, canvas: "PlanCanvas", tool: PickTool, at: Pointer) -> None:
    found = edge_under(tool.design, tool.handles, at.m, EDGE_PX / canvas.camera.px_per_m)
    if found is not None:
        edge, place = found
        _entry(
            menu, _("Insert a corner here"), "", lambda: canvas.apply(new_corner(tool.design, edge, place))
        )
        menu.addSeparator()


def _entry(menu: QMenu, words: str, keys: str, do: Callable[[], object]) -> None:
    action = menu.addAction(f"{words}\t{keys}" if keys else words)
    action.triggered.connect(lambda _checked=False: do())
