"""Where the mouse is on the land, and which keys are held with it."""

from PySide6.QtCore import Qt
from PySide6.QtGui import QMouseEvent

from studio.desk.plan.camera import Camera
from studio.desk.plan.tools.tool import Pointer


def pointer_of(event: QMouseEvent, camera: Camera) -> Pointer:
    """A mouse event as tools take it."""
    spot, held = event.position(), event.modifiers()
    x, y = camera.to_m(spot.x(), spot.y())
    return Pointer(
        (float(x), float(y)), spot.x(), spot.y(),
        add=bool(held & Qt.KeyboardModifier.ShiftModifier), free=bool(held & Qt.KeyboardModifier.AltModifier),
        one=bool(held & Qt.KeyboardModifier.ShiftModifier and held & Qt.KeyboardModifier.ControlModifier),
    )  # fmt: skip
