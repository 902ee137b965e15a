"""The findings: shape and number as on the drawing, a sentence, a detail; a click selects and goes there."""

from functools import lru_cache

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFont, QPainter, QPaintEvent, QResizeEvent, QTextLayout, QTextOption
from PySide6.QtWidgets import QPushButton, QWidget

from studio.desk.layouts import column, line
from studio.desk.painted import MARGIN, Row, draw_finding, draw_text
from studio.desk.session import Session
from studio.desk.state import Subject
from studio.desk.theme import Theme
from studio.errors import StillfieldError
from studio.study.findings import ORDER, Finding
from studio.text import _, plural, pretty

_INDENT = MARGIN + 26


class FindingRow(Row):
    """One finding. Its sentence may take two lines; its detail stands below where there is room."""

    def __init__(self, theme: Theme, finding: Finding) -> None:
        super().__init__(theme, 24)
        self.finding = finding
        self.plain = False
        self.held = False
        self._sized: tuple[object, ...] = ()

    def show_finding(self, finding: Finding, *, stale: bool, plain: bool, held: bool) -> None:
        """Show a finding; ``plain`` leaves its detail away unless it forbids, ``held`` marks the selected one."""
        self.finding, self.stale, self.plain, self.held = finding, stale, plain, held
        if not self.shows_anew(finding, stale, plain, held):
            return
        words = {"stop": _("stop"), "caution": _("caution"), "note": _("note")}
        told = f"{words[finding.severity]} {finding.number}: {finding.sentence}"
        self.setAccessibleName(told)
        self.setAccessibleDescription(finding.detail)
        self.setToolTip(finding.detail)
        self._size()

    def fit(self, width: int) -> None:
        """Be as high as the sentence needs at this width."""
        self._size(width)

    def _size(self, width: int = 0) -> None:
        room = self._room(width or self.width())
        sized = (room, self.finding.sentence, self.finding.detail, self.plain, self.theme.font(12).family())
        if sized == self._sized:
            return
        self._sized = sized
        count = len(_broken(pretty(self.finding.sentence), room, self.theme, 600))
        below = len(_broken(pretty(self.finding.detail), room, self.theme, 400)) if self._has_detail() else 0
        self.set_height(6 + 17 * count + 16 * below)

    def _room(self, width: int) -> float:
        return max(80.0, width - _INDENT - MARGIN)

    def _has_detail(self) -> bool:
        return bool(self.finding.detail) and (not self.plain or self.finding.forbids)

    def paintEvent(self, event: QPaintEvent) -> None:
        with self.painting() as (painter, box):
            self._paint(painter, box)

    def _paint(self, painter: QPainter, box: QRectF) -> None:
        theme, finding = self.theme, self.finding
        if self.held:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.color("hair"))
            painter.drawRoundedRect(box.adjusted(8, 0, -8, 0), 4, 4)
        draw_finding(
            painter, finding.severity, finding.number, QPointF(MARGIN + 9, 11.5), theme, stale=self.stale
        )
        ink = theme.color("ink3" if self.stale else "ink")
        y = 3.0
        weight = 400 if self.stale else 600
        for part in _broken(pretty(finding.sentence), self._room(self.width()), theme, 600):
            draw_text(
                painter, QRectF(_INDENT, y, self._room(self.width()), 17), part, theme.font(12, weight), ink
            )
            y += 17
        if self._has_detail():
            for part in _broken(pretty(finding.detail), self._room(self.width()), theme, 400):
                box = QRectF(_INDENT, y - 1, self._room(self.width()), 16)
                draw_text(painter, box, part, theme.font(12), theme.color("ink2"))
                y += 16


class FindingsList(QWidget):
    """The findings block of the tally."""

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__()
        self._session, self._theme = session, theme
        self._findings: tuple[Finding, ...] | None = None
        self._stale = self._plain = False
        self._held = 0
        self._rows: list[FindingRow] = []
        self._head = _Head(theme)
        self._mend = QPushButton()
        self._mend.clicked.connect(self._apply_mend)
        self._mend.hide()
        self._column = column(self)
        self._column.addWidget(self._head)
        self._mend_row = line(margins=(_INDENT, 2, MARGIN, 6))
        self._mend_row.addWidget(self._mend)
        self._mend_row.addStretch(1)
        self._column.addLayout(self._mend_row)

    def set_plain(self, plain: bool) -> None:
        """Leave details away."""
        if plain != self._plain:
            self._plain = plain
            self._fill()

    def show_findings(self, findings: tuple[Finding, ...] | None, *, stale: bool) -> None:
        """Show findings; None before the first assessment."""
        if findings is not self._findings or stale != self._stale:
            self._findings, self._stale = findings, stale
            self._fill()

    def resizeEvent(self, event: QResizeEvent) -> None:
        for row in self._rows:
            row.fit(self.width())

    def _fill(self) -> None:
        findings = self._findings or ()
        self.setVisible(self._findings is not None)
        self._head.show_findings(findings)
        while len(self._rows) < len(findings):
            row = FindingRow(self._theme, findings[len(self._rows)])
            row.clicked.connect(lambda _checked=False, row=row: self._go(row.finding))
            self._rows.append(row)
            self._column.insertWidget(len(self._rows), row)
        for place, row in enumerate(self._rows):
            row.setVisible(place < len(findings))
            if place < len(findings):
                finding = findings[place]
                row.show_finding(
                    finding, stale=self._stale, plain=self._plain, held=finding.number == self._held
                )
                row.fit(self.width())
        self._show_mend(findings)

    def _show_mend(self, findings: tuple[Finding, ...]) -> None:
        """What would mend the finding in hand, as a button below the list."""
        held = next((finding for finding in findings if finding.number == self._held), None)
        mend = held.mend if held is not None else None
        self._mend.setVisible(mend is not None and not self._stale)
        self._mend_row.setContentsMargins(_INDENT, 2, MARGIN, 6 if mend is not None else 0)
        if mend is not None and held is not None:
            self._mend.setFont(self._theme.font(12))
            self._mend.setText(mend.label)
            self._mend.setToolTip(held.sentence)

    def _apply_mend(self) -> None:
        held = next((finding for finding in self._findings or () if finding.number == self._held), None)
        if held is None or held.mend is None:
            return
        from studio.edits.registry import (
            apply_mend,
        )  # every edit there is: no start of the desk waits for them

        try:
            edit = apply_mend(self._session.state.design, held.mend)
        except StillfieldError as error:
            self._session.update(notice=str(error))
            return
        self._held = 0
        self._session.apply(edit)

    def _go(self, finding: Finding) -> None:
        self._held = finding.number
        self._fill()
        if finding.line_id is not None:
            self._session.select(Subject("line", finding.line_id))
        if finding.place is not None:
            self._session.show_layer("findings")
            self._session.go_to.emit(*finding.place)


class _Head(QWidget):
    """Title and how many there are of each severity."""

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        self._counts: dict[str, int] = {}
        self.setFixedHeight(28)

    def show_findings(self, findings: tuple[Finding, ...]) -> None:
        """Count them."""
        counts: dict[str, int] = {
            severity: sum(f.severity == severity for f in findings) for severity in ORDER
        }
        if counts == self._counts:
            return
        self._counts = counts
        self.setAccessibleName(plural("{count} finding", "{count} findings", len(findings)))
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter = self._theme, QPainter(self)
        line = QRectF(MARGIN, 0, self.width() - 2 * MARGIN, self.height())
        draw_text(painter, line, _("Findings"), theme.font(13, 600), theme.color("ink"))
        right = line.right()
        if not any(self._counts.values()):
            draw_text(painter, line, _("none"), theme.font(12), theme.color("ink2"), "right")
        for severity in reversed(ORDER):
            count = self._counts.get(severity, 0)
            if count:
                box = QRectF(line.left(), 0, right - line.left(), line.height())
                wide = draw_text(painter, box, str(count), theme.font(12), theme.color("ink"), "right")
                middle = QPointF(right - wide - 12, line.center().y())
                draw_finding(painter, severity, 0, middle, theme, radius=6)
                right -= wide + 32
        painter.end()


def _broken(text: str, width: float, theme: Theme, weight: int) -> tuple[str, ...]:
    """A sentence broken into at most three lines; the last one is shortened where it is painted."""
    return _broken_in(text, width, theme.font(12, weight).toString())


@lru_cache(maxsize=512)
def _broken_in(text: str, width: float, font: str) -> tuple[str, ...]:
    """The lines of a text in a font, as ``QFont`` writes itself down."""
    made = QFont()
    made.fromString(font)
    layout = QTextLayout(text, made)
    option = QTextOption()
    option.setWrapMode(QTextOption.WrapMode.WordWrap)
    layout.setTextOption(option)
    layout.beginLayout()
    parts: list[str] = []
    while (line := layout.createLine()).isValid():
        line.setLineWidth(width)
        start, length = line.textStart(), line.textLength()
        parts.append(text[start : start + length].rstrip())
    layout.endLayout()
    if len(parts) > 3:
        parts = [*parts[:2], " ".join(parts[2:])]
    return tuple(parts)
