"""Repeating lines: times and pitch as figures on the drawing, the copies shown while they are typed."""

from PySide6.QtCore import QPointF

from studio.desk.plan.board import Board
from studio.desk.plan.dimensions import Boxes, paint_gap
from studio.desk.plan.inline import Figure, Figures, paint_figure, paint_told
from studio.desk.plan.tools.tool import Host, Pointer
from studio.desk.state import Subject
from studio.edits.edit import Edit
from studio.edits.geometry import behind, front_line, level_length, moved, offset, pitch, square, usual_pitch
from studio.edits.geometry import direction as way_of
from studio.edits.lines import next_id, repeat_lines
from studio.errors import StillfieldError
from studio.text import _


class Repeat:
    """Copies of the selected lines that are shown, but not taken yet."""

    follows = False
    worth_taking = True

    def __init__(self, host: Host, ids: tuple[int, ...]) -> None:
        self.host, self.ids = host, ids
        design = host.session.state.design
        own = pitch(design, design.line(ids[0]))
        start = usual_pitch(design) if own is None or len(ids) > 1 else own
        self.figures: Figures | None = Figures(
            [Figure("times", _("times"), "×", 1.0, digits=0), Figure("pitch", _("pitch"), "m", start)]
        )
        self.show()

    @property
    def hint(self) -> str:
        """What the next move does."""
        return _("Type how often, Tab for the pitch; Enter takes, Esc leaves")

    @property
    def _own(self) -> Figures:
        assert self.figures is not None
        return self.figures

    def again(self) -> None:
        """One copy more."""
        times = self._own["times"]
        times.value, times.typed = (self._own.read("times") or 0.0) + 1, ""
        self.show()

    def move(self, at: Pointer) -> None:
        """The copies stand where they are."""

    def edit(self) -> Edit:
        """The copies as an edit. Raises BadInputError where a figure will not do."""
        times, metres = self._own.read("times") or 0.0, self._own.read("pitch") or 0.0
        design = self.host.session.state.design
        return repeat_lines(design, ids=self.ids, times=int(times), pitch_m=metres)

    def show(self) -> None:
        """Show the copies as far as the figures can be read."""
        try:
            self.host.preview(self.edit())
        except StillfieldError:
            self.host.preview(None)

    def take(self) -> bool:
        """Take the copies; they and their originals are selected. Whether it was done."""
        first = next_id(self.host.session.state.design)
        try:
            done = self.host.apply(self.edit())
        except StillfieldError as error:
            self.host.tell(str(error))
            return False
        if done:
            new = range(first, next_id(self.host.session.state.design))
            self.host.session.select(*(Subject("line", number) for number in (*self.ids, *new)))
        return done

    def paint(self, board: Board) -> Boxes:
        """The figures, between the block and its first copy."""
        design = self.host.session.state.design
        chosen = [design.line(line_id) for line_id in self.ids]
        lead = front_line(design, chosen)
        side = behind(design, lead)
        extent = max(abs(offset(lead, line, design.ground)) for line in chosen)
        metres = self._own.locked("pitch")
        metres = (self._own["pitch"].value or 0.0) if metres is None else metres
        run = level_length(lead, design.ground) * 0.5
        foot = moved((lead.x_m, lead.y_m), way_of(lead.azimuth_deg), run)
        start = moved(foot, square(lead.azimuth_deg), side * extent)
        end = moved(start, square(lead.azimuth_deg), side * metres)
        now = self._own.now.key
        a, b = board.at(start), board.at(end)
        gap = paint_gap(board, a, b, self._own["pitch"], active=now == "pitch")
        spot = QPointF(gap.left() - 34, gap.center().y())
        times = paint_figure(board, spot, self._own["times"], active=now == "times")
        paint_told(
            board,
            QPointF(gap.right() + 12, gap.center().y() + 4),
            [(self._own.doubt, "ink")],
        )
        return {"times": times, "pitch": gap}
