"""Where overlays lie: beside the tally, over the view, below the bars."""

from dataclasses import dataclass, field

from PySide6.QtWidgets import QWidget

from studio.desk.overlay import Overlay

_ROOM = 12


@dataclass
class Overlays:
    """The overlays on a window's ``body``, kept clear of its ``left`` and ``right`` panels and of the ``bars`` on top."""

    body: QWidget
    left: QWidget
    right: QWidget
    bars: QWidget
    _held: list[tuple[Overlay, int]] = field(default_factory=list)

    def add(self, overlay: Overlay, width: int) -> None:
        """One more, so wide where there is room."""
        self._held.append((overlay, width))
        overlay.changed.connect(self.place)

    def place(self) -> None:
        """Lay all where they belong now."""
        top = _ROOM + (self.bars.height() if self.bars.isVisible() else 0)
        right = (self.right.x() if self.right.isVisible() else self.body.width()) - _ROOM
        room = self.body.width() - (self.left.width() if self.left.isVisible() else 0) - 40
        for overlay, width in self._held:
            wide = min(width, room)
            overlay.resize(wide, overlay.height())
            high = min(overlay.wanted_height(), self.body.height() - top - _ROOM)
            overlay.setGeometry(right - wide, top, wide, high)
