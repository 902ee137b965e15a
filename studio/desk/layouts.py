"""Layouts without margins or gaps unless asked for."""

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

Margins = tuple[int, int, int, int]
_NONE = (0, 0, 0, 0)


def column(parent: QWidget | None = None, *, margins: Margins = _NONE, spacing: int = 0) -> QVBoxLayout:
    """Parts below each other."""
    made = QVBoxLayout(parent) if parent is not None else QVBoxLayout()
    made.setContentsMargins(*margins)
    made.setSpacing(spacing)
    return made


def line(parent: QWidget | None = None, *, margins: Margins = _NONE, spacing: int = 0) -> QHBoxLayout:
    """Parts beside each other."""
    made = QHBoxLayout(parent) if parent is not None else QHBoxLayout()
    made.setContentsMargins(*margins)
    made.setSpacing(spacing)
    return made


def grid(parent: QWidget | None = None, *, margins: Margins = _NONE, spacing: int = 0) -> QGridLayout:
    """Parts in rows and columns."""
    made = QGridLayout(parent) if parent is not None else QGridLayout()
    made.setContentsMargins(*margins)
    made.setSpacing(spacing)
    return made


def scrolling(inside: QWidget) -> QScrollArea:
    """A part that scrolls up and down where there is no room for it."""
    area = QScrollArea()
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setWidgetResizable(True)
    area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    area.setWidget(inside)
    return area
