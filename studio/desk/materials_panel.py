"""The material list over the view: what to buy, what it costs, what may hurt; and its files."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QRectF, Signal
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QPushButton, QWidget

from studio.desk.overlay import Overlay, told
from studio.desk.painted import draw_text
from studio.desk.session import Session
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.engine.parts.listing import PricedLine
from studio.text import _, number, pretty


class _LineOfList(QWidget):
    """One line: part, quantity, unit, price each, sum; below, where the quantity comes from."""

    def __init__(self, theme: Theme, line: PricedLine) -> None:
        super().__init__()
        self._theme, self._line = theme, line
        self.setFixedHeight(38)
        amount = _amount(line)
        self.setAccessibleName(f"{line.label}: {amount} {line.unit}")
        self.setToolTip(line.source)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, line, painter = self._theme, self._line, QPainter(self)
        right = self.width() - 16.0
        columns = [right - 300, right - 232, right - 170, right - 86, right]
        cost = None if line.unit_price is None else line.unit_price * line.quantity
        amount = _amount(line)
        draw_text(painter, QRectF(16, 2, columns[0] - 90, 18), line.label, theme.font(13), theme.color("ink"))
        box = QRectF(columns[0] - 70, 2, 70, 18)
        draw_text(painter, box, amount, theme.font(13, 600), theme.color("ink"), "right")
        draw_text(
            painter, QRectF(columns[0] + 6, 2, 64, 18), pretty(line.unit), theme.font(12), theme.color("ink2")
        )
        price = number(line.unit_price, digits=2)
        box = QRectF(columns[1], 2, columns[3] - columns[1], 18)
        draw_text(painter, box, price, theme.font(13), theme.color("ink2"), "right")
        draw_text(
            painter,
            QRectF(columns[3], 2, 86, 18),
            number(cost, digits=0),
            theme.font(13, 600),
            theme.color("ink"),
            "right",
        )
        draw_text(painter, QRectF(16, 19, right - 16, 16), line.source, theme.font(11), theme.color("ink3"))
        painter.end()


class _HeadOfList(QWidget):
    """What the columns are."""

    def __init__(self, theme: Theme, currency: str) -> None:
        super().__init__()
        self._theme, self._currency = theme, currency
        self.setFixedHeight(20)

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter, right = self._theme, QPainter(self), self.width() - 16.0
        font, ink = theme.font(11), theme.color("ink2")
        draw_text(
            painter, QRectF(16, 0, right - 420, 18), _("Part, and where its quantity comes from"), font, ink
        )
        draw_text(painter, QRectF(right - 400, 0, 100, 18), _("Quantity"), font, ink, "right")
        each = _("{currency} each").format(currency=self._currency)
        draw_text(painter, QRectF(right - 232, 0, 146, 18), each, font, ink, "right")
        draw_text(painter, QRectF(right - 86, 0, 86, 18), self._currency, font, ink, "right")
        painter.end()


def _amount(line: PricedLine) -> str:
    """A quantity: what comes in pieces without decimals."""
    whole = abs(line.quantity - round(line.quantity)) < 1e-9
    return number(line.quantity, digits=0 if whole else None, figures=4)


class MaterialsPanel(Overlay):
    """Shows the list of the assessment and keeps up with it; ``wants_folder`` asks where its files go."""

    wants_folder = Signal()

    def __init__(self, parent: QWidget, session: Session, theme: Theme, tell: Callable[[str], None]) -> None:
        super().__init__(parent, theme)
        self._session, self._tell = session, tell
        button = QPushButton(_("Write files…"))
        button.setToolTip(_("As spreadsheet, table and page: XLSX, CSV, PDF"))
        button.clicked.connect(self.wants_folder)
        self.tools.addWidget(button)
        session.changed.connect(self._hear)

    def open_list(self) -> None:
        """Show it."""
        self._fill()
        self.show_titled(_("Material list"))

    def _hear(self, old: State, new: State) -> None:
        if self.isVisible() and new.assessment is not old.assessment and new.fresh:
            self._fill()

    def _fill(self) -> None:
        self.empty()
        assessment = self._session.state.assessment
        if assessment is None:
            self.body.addWidget(told(_("Being worked out"), self.theme, role="ink2"))
            return
        from studio.papers.list_of import material_paper
        from studio.papers.materials import missing_sentence

        paper = material_paper(assessment)
        self.body.addWidget(_HeadOfList(self.theme, paper.currency))
        for heading, lines in paper.blocks:
            self.body.addSpacing(8)
            self.body.addWidget(told(heading, self.theme, weight=600))
            for line in lines:
                self.body.addWidget(_LineOfList(self.theme, line))
        total = paper.total
        known = f"{number(total.known, digits=0)} {paper.currency}"
        self.body.addSpacing(8)
        self.body.addWidget(told(_("Sum of known prices: {sum}").format(sum=known), self.theme, weight=600))
        if total.missing:
            self.body.addWidget(told(missing_sentence(paper), self.theme, size=12, role="ink2"))
        for caution in paper.cautions:
            self.body.addSpacing(4)
            self.body.addWidget(told(f"{caution.title}. {caution.sentence}", self.theme, size=12))
        self.body.addStretch(1)

    def write(self, folder: Path, *, overwrite: bool) -> bool:
        """Write the files into a folder; whether they are there now."""
        from studio.errors import StillfieldError
        from studio.papers.list_of import material_paper
        from studio.papers.materials import write_materials

        assessment = self._session.state.assessment
        if assessment is None or not self._session.state.fresh:
            self._tell(_("The list is still being worked out; write it in a moment."))
            return False
        try:
            paths = write_materials(material_paper(assessment), folder, overwrite=overwrite)
        except StillfieldError as error:
            self._tell(str(error))
            return False
        self._tell(_("Written: {names}").format(names=", ".join(path.name for path in paths)))
        return True
