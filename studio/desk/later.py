"""What a first window does not show is loaded in the pauses after it stands, so that no first click waits for it."""

from collections.abc import Iterable, Sequence
from importlib import import_module

from PySide6.QtCore import QObject, Qt, QTimer
from PySide6.QtGui import QGuiApplication

LATER = (
    "studio.desk.explain", "studio.desk.materials_panel", "studio.edits.plant", "studio.edits.registry",
    "studio.files.land.found", "studio.files.land.vetting", "studio.files.heights.spots", "studio.desk.land_in.endings",
    "studio.study.obstacles", "studio.study.light", "studio.study.heat", "studio.engine.mirror.rays", "studio.study.spot",
    "studio.drawings.mirror", "studio.drawings.section", "studio.desk.section.scene", "studio.desk.section.view",
    "studio.study.checks", "studio.study.parts", "studio.study.assess", "studio.desk.mirror.model",
    "studio.desk.mirror.side_panel", "studio.desk.mirror.flux_panel", "studio.desk.mirror.budget_panel",
    "studio.desk.mirror.day_panel", "studio.study.search", "studio.desk.shelf.model", "studio.desk.shelf.page",
    "studio.desk.mirror.view", "studio.study.drive", "studio.papers.field_curves", "studio.desk.curves.model",
    "studio.desk.curves.page", "studio.desk.land_in.heights_page", "studio.desk.land_in.page", "studio.desk.land_in.arrivals",
)  # fmt: skip
"""Parts before what is made of them, so that none takes long."""
PAUSE_MS = 20
_END = object()


class Later(QObject):
    """Loads modules one by one while nobody holds a button of the mouse, then takes the steps of ``then`` one by one.

    ``left`` are the modules that are still to come, ``done`` tells whether nothing is.
    """

    def __init__(self, parent: QObject, names: Sequence[str] = LATER, then: Iterable[None] = ()) -> None:
        super().__init__(parent)
        self.left, self._then, self.done = list(names), iter(then), False
        self._pause = QTimer(self, interval=PAUSE_MS)
        self._pause.timeout.connect(self._load)

    def start(self) -> None:
        """Begin."""
        self._pause.start()

    def _load(self) -> None:
        if QGuiApplication.mouseButtons() != Qt.MouseButton.NoButton:
            return
        if self.left:
            import_module(self.left.pop(0))
        else:
            self.done = next(self._then, _END) is _END
            if self.done:
                self._pause.stop()
