"""Figures of the selected lines: which there are, what typing them does, and where they stand on the drawing."""

from PySide6.QtCore import QPointF

from studio.design.design import Design
from studio.desk.plan.board import Board
from studio.desk.plan.dimensions import Boxes, paint_gap, paint_segment
from studio.desk.plan.inline import Figure, Figures, paint_told
from studio.desk.plan.rows import outline
from studio.desk.plan.tools.gaps import end_point, gap_ends
from studio.desk.plan.tools.under import Handle
from studio.drawings.lines import line_on_plan
from studio.edits import lines as line_edits
from studio.edits.edit import Edit
from studio.edits.geometry import front_line, last_vertex, level_length, offset, pitch
from studio.errors import BadInputError
from studio.study.place import swept_m
from studio.text import _

Ids = tuple[int, ...]
_SHORT_PX = 6.0


def there(design: Design, ids: Ids) -> bool:
    """Whether a design has all these lines."""
    known = {line.id for line in design.lines}
    return all(line_id in known for line_id in ids)


def figures_of(design: Design, ids: Ids) -> Figures | None:
    """Pitch, length, azimuth and mirrors of one line; the mean pitch of several."""
    if not ids or not there(design, ids):
        return None
    if len(ids) > 1:
        return Figures([Figure("pitch", _("mean pitch"), "m")])
    members = [
        Figure("length", _("length"), "m"),
        Figure("azimuth", _("azimuth"), "°", digits=1),
        Figure("mirrors", _("mirrors"), _("mirrors"), digits=0),
    ]
    if pitch(design, design.line(ids[0])) is not None:
        members.insert(0, Figure("pitch", _("pitch"), "m"))
    return Figures(members)


def mean_pitch(design: Design, ids: Ids) -> float:
    """Mean distance between several lines, square to the front one."""
    chosen = [design.line(line_id) for line_id in ids]
    lead = front_line(design, chosen)
    return max(abs(offset(lead, line, design.ground)) for line in chosen) / max(len(chosen) - 1, 1)


def follow(figures: Figures, shown: Design, ids: Ids) -> None:
    """Let the figures tell what is shown."""
    if not there(shown, ids):
        return
    if len(ids) > 1:
        figures.follow(pitch=mean_pitch(shown, ids))
        return
    line = shown.line(ids[0])
    figures.follow(
        pitch=pitch(shown, line),
        length=level_length(line, shown.ground),
        azimuth=line.azimuth_deg % 360.0,
        mirrors=float(line.count),
    )


def typed_edit(figures: Figures, design: Design, ids: Ids, held: Handle | None) -> Edit | None:
    """What the typed figures make of the selected lines. Raises BadInputError for what is no number."""
    if len(ids) > 1:
        mean = mean_pitch(design, ids)
        if mean <= 0:
            raise BadInputError(_("These lines stand end to end; there is no pitch between them to set."))
        return line_edits.scale_pitches(design, scale=(figures.read("pitch") or 0.0) / mean, ids=ids)
    edit = None
    end: line_edits.End = "drive" if held is not None and held.kind == "drive" else "far"
    for figure in figures.members:
        if figure.typed:
            value = figures.read(figure.key) or 0.0
            edit = _one(edit.design if edit else design, ids[0], figure.key, value, end)
    return edit


def _one(design: Design, line_id: int, key: str, value: float, end: line_edits.End) -> Edit:
    if key == "pitch":
        return line_edits.set_pitch(design, id=line_id, pitch_m=value)
    if key == "azimuth":
        return line_edits.turn_lines(
            design, ids=[line_id], angle_deg=value - design.line(line_id).azimuth_deg
        )
    if key == "mirrors":
        return line_edits.stretch_line(design, id=line_id, end=end, count=int(value))
    return line_edits.stretch_line(design, id=line_id, end=end, length_m=value)


def paint_figures(board: Board, figures: Figures, shown: Design, ids: Ids, *, active: bool) -> Boxes:
    """The figures where they stand; where they can be clicked, by key."""
    if not there(shown, ids):
        return {}
    boxes = _of_several(board, figures, shown, ids, active=active) if len(ids) > 1 else _of_one(
        board, figures, shown, ids[0], active=active
    )  # fmt: skip
    if figures.doubt and boxes:
        box = next(iter(boxes.values()))
        paint_told(board, QPointF(box.left(), box.bottom() + 14), [(figures.doubt, "ink")])
    return boxes


def _of_one(board: Board, figures: Figures, shown: Design, line_id: int, *, active: bool) -> Boxes:
    line = shown.line(line_id)
    key = figures.now.key
    if active and key in ("length", "azimuth", "mirrors"):
        start, end = board.at((line.x_m, line.y_m)), board.at(last_vertex(line, shown.ground))
        reach = shown.mirror.height_m * board.camera.px_per_m * 0.45 + 20
        return paint_segment(board, start, end, figures, away=reach, extra=("mirrors",))
    gap = gap_ends(shown, line, board.camera)
    if gap is None or not figures.has("pitch"):
        return {}
    a, b = board.at(gap[0]), board.at(gap[1])
    if abs(a.x() - b.x()) + abs(a.y() - b.y()) <= _SHORT_PX:
        return {}
    return {"pitch": paint_gap(board, a, b, figures["pitch"], active=active)}


def _of_several(board: Board, figures: Figures, shown: Design, ids: Ids, *, active: bool) -> Boxes:
    lead = front_line(shown, [shown.line(line_id) for line_id in ids])
    back = max((shown.line(i) for i in ids), key=lambda line: abs(offset(lead, line, shown.ground)))
    foot = board.at(end_point(lead, "drive", shown))
    along = board.at(end_point(lead, "far", shown)) - foot
    top = (board.at(end_point(back, "drive", shown)) + board.at(end_point(back, "far", shown))) / 2
    share = QPointF.dotProduct(top - foot, along) / max(QPointF.dotProduct(along, along), 1e-9)
    start = foot + along * share
    if abs(start.x() - top.x()) + abs(start.y() - top.y()) <= _SHORT_PX:
        return {}
    return {"pitch": paint_gap(board, start, top, figures["pitch"], active=active)}


def paint_before(board: Board, design: Design, shown: Design, ids: Ids) -> None:
    """Where the selected lines stood before the hand took them."""
    if not there(shown, ids) or not there(design, ids):
        return
    for line_id in ids:
        line = design.line(line_id)
        if line != shown.line(line_id):
            was = line_on_plan(line, design.mirror, design.ground, swept_m(design))
            board.polyline(outline(was), board.pen("ink3", 1.0, (4, 3)), closed=True)
