"""The canvas' keys: what is typed into figures, what is done to the selected, what moves the view."""

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent

from studio.desk.plan import paste
from studio.desk.plan.arranging import ACTS, do_act
from studio.desk.plan.tools.heights import HeightsTool
from studio.desk.plan.tools.measure import MeasureTool
from studio.desk.plan.tools.pick import PickTool
from studio.desk.plan.tools.picture import PictureTool
from studio.desk.state import Subject

if TYPE_CHECKING:
    from studio.desk.plan.canvas import PlanCanvas

LETTERS = {
    "k": "pick",
    "p": "plot",
    "n": "no_build",
    "o": "obstacle",
    "l": "line",
    "a": "plant",
    "e": "heights",
    "h": "header",
    "s": "store",
    "i": "picture",
    "m": "measure",
    "c": "cut",
}
"""Single letters that choose tools while nothing is being typed."""
_ARROWS = {
    Qt.Key.Key_Left: (-1.0, 0.0), Qt.Key.Key_Right: (1.0, 0.0),
    Qt.Key.Key_Up: (0.0, 1.0), Qt.Key.Key_Down: (0.0, -1.0),
}  # fmt: skip
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
_OWN = (Qt.Key.Key_Backspace, Qt.Key.Key_Delete, Qt.Key.Key_Escape, *_ENTER, *_ARROWS)
_NUMBER = "0123456789.,-("
_PAN_PX = 60.0
_NEARER = 1.25
_NUDGE_M, _FAR_NUDGE_M = 0.1, 1.0


class Keys:
    """Hands each key to whom it belongs."""

    def __init__(self, canvas: "PlanCanvas") -> None:
        self._canvas = canvas

    def wants(self, event: QKeyEvent) -> bool:
        """Whether a key is the canvas' own, whatever shortcuts the window has."""
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self._canvas.nudges.commit()
            return event.key() == Qt.Key.Key_V and paste.holds_copy()
        figures, text = self._canvas.tool.figures, event.text()
        plain = bool(text) and text.isprintable()
        typing = figures is not None and bool(figures.now.typed)
        begins = figures is not None and figures.begins(text)
        return (plain and (typing or begins or text in _NUMBER)) or event.key() in _OWN

    def step(self, event: QKeyEvent) -> bool:
        """Tab and back-tab go from figure to figure while there are several, to what lies beneath, from corner to corner."""
        back = event.key() == Qt.Key.Key_Backtab
        tool, by = self._canvas.tool, -1 if back else 1
        if not (back or event.key() == Qt.Key.Key_Tab):
            return False
        deeper = event.modifiers() & Qt.KeyboardModifier.ControlModifier
        if not (isinstance(tool, PickTool) and tool.beneath(by) if deeper else tool.step(by)):
            return False
        self._canvas.update()
        return True

    def press(self, event: QKeyEvent) -> bool:
        """Whether a key was of use."""
        key, held = event.key(), event.modifiers()
        control = bool(held & Qt.KeyboardModifier.ControlModifier)
        if self._typed(key, event.text(), control=control):
            return True
        if control:
            return self._command(key)
        far = bool(held & Qt.KeyboardModifier.ShiftModifier)
        return self._to_tool(key, far=far) or self._to_view(key, event.text())

    def _typed(self, key: int, text: str, *, control: bool) -> bool:
        canvas, figures = self._canvas, self._canvas.tool.figures
        if key in _ENTER:
            canvas.nudges.commit()
            return canvas.tool.take()
        if key == Qt.Key.Key_Escape:
            self._escape()
            return True
        if figures is None or control:
            return False
        taken = figures.rub_out() if key == Qt.Key.Key_Backspace else figures.key(text)
        if taken:
            canvas.nudges.commit()
            canvas.tool.typed()
            canvas.flush()
        return taken

    def _escape(self) -> None:
        """One step back: what is typed, what is drawn, the tool, the selection."""
        canvas, session = self._canvas, self._canvas.session
        if canvas.nudges.drop() or canvas.tool.leave():
            canvas.flush()
        elif session.state.tool != "pick":
            session.update(tool="pick")
        elif session.state.selection:
            session.select()

    def _command(self, key: int) -> bool:
        canvas, tool = self._canvas, self._canvas.tool
        if key == Qt.Key.Key_D:
            return canvas.repeat_selected()
        if key == Qt.Key.Key_A:
            return self._select_all()
        if key == Qt.Key.Key_V:
            return paste.paste(canvas)
        if isinstance(tool, MeasureTool):
            return key == Qt.Key.Key_C and tool.copy()
        if key in (Qt.Key.Key_C, Qt.Key.Key_X):
            return (paste.copy if key == Qt.Key.Key_C else paste.cut)(canvas.session)
        act = next((act for act in ACTS if act.code == key), None)
        return act is not None and isinstance(tool, PickTool) and do_act(tool, act)

    def _select_all(self) -> bool:
        """All lines; once more, or where there are none, everything that can be carried but the boundary."""
        session = self._canvas.session
        design, free = session.state.design, session.state.within_reach
        lines = frozenset(filter(free, (Subject("line", line.id) for line in design.lines)))
        if lines and not lines <= session.state.selection:
            session.select(*lines)
            return True
        areas = [Subject("no_build", place) for place in range(len(design.plot.no_build))]
        others = [Subject("obstacle", place) for place in range(len(design.obstacles))]
        session.select(*lines, *filter(free, (*areas, *others)))
        return True

    def _to_tool(self, key: int, *, far: bool) -> bool:
        canvas, tool = self._canvas, self._canvas.tool
        if isinstance(tool, HeightsTool):
            return key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace) and tool.remove()
        if isinstance(tool, PictureTool):
            return key == Qt.Key.Key_Delete and tool.remove()
        if not isinstance(tool, PickTool):
            return key == Qt.Key.Key_Backspace and tool.rub_out()
        if key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            canvas.nudges.commit()
            return tool.remove()
        if key in _ARROWS and canvas.session.state.selection:
            metres = _FAR_NUDGE_M if far else _NUDGE_M
            dx, dy = _ARROWS[Qt.Key(key)]
            return canvas.nudges.by(dx * metres, dy * metres)
        return False

    def _to_view(self, key: int, text: str) -> bool:
        canvas, letter = self._canvas, text.casefold()
        if letter in LETTERS:
            canvas.session.take_tool(LETTERS[letter])
        elif letter == "y":
            canvas.layers_asked.emit()
        elif letter == "f":
            canvas.fit_selected() if text == "F" else canvas.fit()
        elif text in ("+", "=", "-"):
            canvas.zoom(1 / _NEARER if text == "-" else _NEARER)
        elif key == Qt.Key.Key_Space:
            canvas.hold_land()
        elif key in _ARROWS:
            dx, dy = _ARROWS[Qt.Key(key)]
            canvas.pan(-dx * _PAN_PX, dy * _PAN_PX)
        else:
            return False
        return True
