"""What the pages of land and of heights share: sentences, doubts with their mends, a foot with take and leave."""

from collections.abc import Callable, Sequence

from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QSizePolicy, QVBoxLayout, QWidget

from studio.desk.layouts import column, line
from studio.desk.overlay import Overlay, told
from studio.desk.theme import Theme
from studio.files.doubts import Doubt, How
from studio.text import _

_ROW_PX = 440
"""As wide as buttons stand beside each other."""


class LookPage(Overlay):
    """A page that shows what was found before it is taken. Subclasses fill the body."""

    def __init__(self, parent: QWidget, theme: Theme, take_words: str) -> None:
        super().__init__(parent, theme)
        self.mends: list[QPushButton] = []
        self.does = told("", theme, size=12)
        self.does.setContentsMargins(0, 2, 0, 2)
        self.take_button = QPushButton(take_words)
        self.leave_button = QPushButton(_("Leave it"))
        self.leave_button.clicked.connect(self.put_away)
        self._foot = QWidget()
        self.foot: QVBoxLayout = column(self._foot, margins=(16, 6, 16, 8), spacing=6)
        self.foot.addWidget(self.does)
        self.buttons: QHBoxLayout = line(spacing=8)
        self.buttons.addWidget(self.take_button)
        self.buttons.addWidget(self.leave_button)
        self.buttons.addStretch(1)
        self.foot.addLayout(self.buttons)
        whole = self.layout()
        assert whole is not None
        whole.addWidget(self._foot)

    def say(self, text: str, *, size: int = 13, weight: int = 400, role: str = "ink") -> None:
        """A paragraph of the body."""
        self.body.addWidget(told(text, self.theme, size=size, weight=weight, role=role))

    def say_doubt(self, doubt: Doubt[How], look_again: Callable[[How], None]) -> None:
        """A doubtful thing, with a button for each likely mend: the file is looked at again as it says."""
        self.say(f"?  {doubt.sentence}")
        row: list[QPushButton] = []
        for mend in doubt.mends:
            button = QPushButton(
                mend.label[:1].upper() + mend.label[1:] if len(mend.label) > 5 else mend.label
            )
            button.setFont(self.theme.font(12))
            button.setAccessibleName(_("Look again: {mend}").format(mend=mend.label))
            button.setToolTip(_("Look again, read so"))
            button.clicked.connect(lambda _checked=False, how=mend.how: look_again(how))
            self.mends.append(button)
            if sum(one.sizeHint().width() + 8 for one in (*row, button)) > _ROW_PX:
                self.indent(*row)
                row = []
            row.append(button)
        self.indent(*row)

    def indent(self, *buttons: QPushButton) -> None:
        """Buttons beside each other under a paragraph."""
        held = QWidget()
        row = line(held, margins=(34, 2, 16, 2), spacing=8)
        for button in buttons:
            button.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
            row.addWidget(button)
        row.addStretch(1)
        self.body.addWidget(held)

    def say_in_foot(self, sentences: Sequence[str], *, fault: bool) -> None:
        """What taking would do, or what stands in its way."""
        self.does.setText("\n".join(sentences))
        palette = self.does.palette()
        palette.setColor(self.does.foregroundRole(), self.theme.color("ink" if fault else "ink2"))
        self.does.setPalette(palette)
        self.does.setVisible(bool(sentences))

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        painter = QPainter(self)
        painter.fillRect(1, self._foot.y(), self.width() - 2, 1, self.theme.color("hair"))
        painter.end()

    def wanted_height(self) -> int:
        foot = self._foot.layout()
        assert foot is not None
        wide = max(50, self.width() - 2)
        return super().wanted_height() + (
            foot.heightForWidth(wide) if foot.hasHeightForWidth() else foot.sizeHint().height()
        )
