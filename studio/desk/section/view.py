"""The Section view: chips of what is shown, the cut in words, its other side, and the canvas."""

from PySide6.QtCore import QTimer
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QLabel, QWidget

from studio.design.fields import mark
from studio.desk.chips import Chip, IconButton, head_row
from studio.desk.layouts import column
from studio.desk.plan.camera import scale_words
from studio.desk.section.canvas import SectionCanvas
from studio.desk.section.words import cut_words, told
from studio.desk.session import Session
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.text import _

CHIPS = (
    ("rays", mark("Rays"), mark("Central rays of the moment; dashed ones miss the window, blue ones end where something stops them")),
    ("shade", mark("Shade"), mark("Who shades whom: edges of shadows, shaded stretches, shadows on the ground")),
    ("path", mark("Receiver path"), mark("The receiver's way between its roll limits")),
    ("lengths", mark("Dimensions"), mark("Pitches, gaps, heights and the shadow's length")),
)  # fmt: skip
_TELL_MS = 200


class SectionView(QWidget):
    """The ground cut along a line, with its row of chips on top."""

    def __init__(self, session: Session, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._session, self._theme = session, theme
        self.canvas = SectionCanvas(session, theme, self)
        self.setFocusProxy(self.canvas)
        self.chips: dict[str, Chip] = {}
        row = head_row()
        for key, name, about in CHIPS:
            chip = Chip(theme, _(name), self)
            chip.setObjectName(key)
            chip.setToolTip(_(about))
            chip.setChecked(True)
            chip.clicked.connect(self._toggle)
            self.chips[key] = chip
            row.addWidget(chip)
        row.addStretch(1)
        self.words, self.scale = QLabel(self), QLabel(self)
        for label in (self.words, self.scale):
            label.setFont(theme.font(12, 500))
            row.addWidget(label)
        self.scale.setAccessibleName(_("Scale"))
        self.flip_button = IconButton(theme, "flip", _("Look the other way"), self)
        self.flip_button.setToolTip(_("Look the other way (R)"))
        self.flip_button.clicked.connect(self.canvas.flip)
        self.fit_button = IconButton(theme, "fit", _("Fit"), self)
        self.fit_button.setToolTip(_("Everything in sight, and back to the line (F)"))
        self.fit_button.clicked.connect(self.canvas.toggle_fit)
        row.addWidget(self.flip_button)
        row.addWidget(self.fit_button)
        whole = column(self)
        whole.addLayout(row)
        whole.addWidget(self.canvas, 1)
        self._telling = QTimer(self, interval=_TELL_MS, singleShot=True)
        self._telling.timeout.connect(self._describe)
        self.canvas.camera_changed.connect(self._tell_scale)
        session.changed.connect(self._on_changed)
        self.setAccessibleName(_("Section"))
        self.canvas.setAccessibleName(_("Section"))

    def fit(self) -> None:
        """Everything in sight."""
        self.canvas.fit()

    def _toggle(self) -> None:
        self.canvas.layers = frozenset(key for key, chip in self.chips.items() if chip.isChecked())
        self.canvas.update()

    def showEvent(self, event: QShowEvent) -> None:
        self.canvas.renew()
        self._tell()

    def _on_changed(self, old: State, new: State) -> None:
        if self.isVisible() and (
            new.shown is not old.shown or new.moment != old.moment or new.cut != old.cut
        ):
            self._tell()

    def _tell(self) -> None:
        self.words.setText(cut_words(self.canvas.cut))
        self._tell_scale()
        self._telling.start()

    def _tell_scale(self) -> None:
        self.scale.setText(scale_words(self.canvas.camera, self.logicalDpiX()))

    def _describe(self) -> None:
        """Say what is shown, once the hand rests."""
        text = told(self.canvas.drawing)
        keys = _(
            "Page keys move the cut by a mirror, R looks the other way, Control and arrows go from line to line"
        )
        self.setAccessibleDescription(text)
        self.canvas.setAccessibleDescription(f"{text}. {keys}")
