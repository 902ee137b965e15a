"""The whole section in the order it is painted."""

from dataclasses import replace
from math import radians, tan

from PySide6.QtCore import QPointF, QRectF

from studio.desk.plan.board import Board
from studio.desk.plan.furniture import paint_scale_bar
from studio.desk.plan.inline import paint_told
from studio.desk.section import land, lengths, light, mirrors, words
from studio.desk.state import State
from studio.drawings.section import CrossedLine, SectionDrawing
from studio.edits.geometry import compass_word
from studio.text import _

_BESIDE_M = 2.5
"""Lines so far outside are still drawn: their receivers and shadows reach in."""


def paint(
    board: Board, drawing: SectionDrawing, state: State, layers: frozenset[str], chosen: CrossedLine | None
) -> None:
    """Paint a section; ``layers`` are those that are shown, ``chosen`` is the line that wears its heights."""
    ids = frozenset(state.selected_lines())
    lit = _in_sight(board, drawing, light=True)
    drawing = _in_sight(board, drawing, light=False)
    if chosen is not None and drawing.crossed(chosen.line.id) is None:
        chosen = None
    board.painter.fillRect(QRectF(0, 0, board.camera.width, board.camera.height), board.theme.color("view"))
    if "rays" in layers:
        light.paint_beams(board, lit)
    land.paint_earth(board, drawing)
    land.paint_obstacles(board, drawing, beside=True)
    if "shade" in layers:
        light.paint_ground_shadows(board, lit)
    land.paint_marks_of_land(board, drawing.ground)
    land.paint_obstacles(board, drawing, beside=False)
    land.paint_store(board, drawing)
    land.paint_headers(board, drawing)
    mirrors.paint_stands(board, drawing)
    if "rays" in layers:
        light.paint_rays(board, lit)
    if "shade" in layers:
        light.paint_shade_edges(board, lit)
    if "path" in layers:
        mirrors.paint_paths(board, drawing, ids)
    mirrors.paint_films(board, drawing, bands="shade" in layers)
    mirrors.paint_gear(board, drawing, ids)
    if "lengths" in layers:
        if chosen is not None:
            lengths.paint_heights(board, drawing, chosen)
        lengths.paint_rows(board, drawing, chosen)
        lengths.paint_along(board, drawing)
    light.paint_names(board, drawing, ids)
    land.paint_obstacle_names(board, drawing)
    land.paint_header_names(board, drawing)
    _furniture(board, drawing, chosen)


def _in_sight(board: Board, drawing: SectionDrawing, *, light: bool) -> SectionDrawing:
    """The drawing without the lines that are outside; with ``light`` those stay whose light or shadow comes into sight."""
    x0, y0, x1, y1 = board.camera.bounds
    room = _BESIDE_M
    if light and drawing.sun.profile_deg is not None:
        room += (y1 - y0) / max(tan(radians(drawing.sun.profile_deg)), 0.05)

    def near(one: CrossedLine) -> bool:
        return x0 - room < float(one.line.vertex[0]) < x1 + room

    return replace(drawing, lines=tuple(one for one in drawing.lines if near(one)))


def _furniture(board: Board, drawing: SectionDrawing, chosen: CrossedLine | None) -> None:
    """The ends' letters and where they look, what the sun does, the scale."""
    camera = board.camera
    right = camera.width - 16.0
    azimuth = drawing.cut.azimuth_deg
    left_word, right_word = compass_word(azimuth + 180.0), compass_word(azimuth)
    end = board.text(QPointF(16, 26), "A", size=13, weight=600, role="ink").right()
    board.text(QPointF(end + 6, 26), left_word, size=12)
    board.text(QPointF(right, 26), "B", size=13, weight=600, role="ink", align="right")
    board.text(QPointF(right - 14, 26), right_word, size=12, align="right")
    if chosen is not None:
        text = words.nearest_words(drawing, chosen.line.id)
        board.text(QPointF(camera.width / 2, 26), text, size=12, align="middle", role="ink2")
    if words.no_light(drawing):
        wide = board.width(words.sun_words(drawing), 12, 500)
        paint_told(board, QPointF(camera.width / 2 - wide / 2, 50), [(words.sun_words(drawing), "ink")])
    if not drawing.lines and not drawing.along:
        text = _("no line crosses this cut")
        paint_told(board, QPointF(camera.width / 2 - board.width(text, 12, 500) / 2, 72), [(text, "ink2")])
    foot = camera.height - 18.0
    board.painter.fillRect(QRectF(0, foot - 22, camera.width, 40), board.theme.color("outside"))
    paint_scale_bar(board, words.foot_words(drawing), halo="outside", room=camera.width - 16.0)
