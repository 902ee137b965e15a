"""A line of text that a hand types into, and what its field must hear of that."""

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QLineEdit


class LineEdit(QLineEdit):
    """A line edit that tells when it is entered and left, and gives Esc and steps up or down to its field."""

    entered = Signal(bool)
    left_alone = Signal()
    stepped = Signal(int)

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        if event.reason() is not Qt.FocusReason.PopupFocusReason:
            self.selectAll()
        self.entered.emit(True)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        super().focusOutEvent(event)
        self.entered.emit(False)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() == Qt.Key.Key_Escape:
            self.left_alone.emit()
            return
        if event.key() in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            steps = 1 if event.key() == Qt.Key.Key_Up else -1
            self.stepped.emit(10 * steps if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else steps)
            return
        super().keyPressEvent(event)
