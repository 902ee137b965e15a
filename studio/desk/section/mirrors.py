"""Painting lines in a section: stands, the dish as it is cut, shaded stretches, receiver on its path, pipe, frame."""

from collections.abc import Iterable

import numpy as np
from PySide6.QtCore import QPointF
from PySide6.QtGui import QColor

from studio.desk.plan.board import Array, Board, path_of
from studio.drawings.section import AlongLine, CrossedLine, SectionDrawing
from studio.drawings.section_gear import GearInSection
from studio.drawings.section_light import LightOnMirror
from studio.text import number

_SMALL_PX = 26.0
"""A mirror smaller than this on the screen shows neither path nor ticks."""
_BAND_PX = 5.0


def size_px(board: Board, one: CrossedLine) -> float:
    """How large a mirror is on the screen."""
    ends = board.px(one.line.film[[0, -1]])
    return float(np.hypot(*(ends[1] - ends[0])))


def paint_stands(board: Board, drawing: SectionDrawing) -> None:
    """Legs, braces and the posts under the roll axes."""
    for one in drawing.lines:
        legs = board.px(one.line.legs)
        board.stroke(path_of(legs), board.pen("rim", 1.6))
        board.stroke(path_of(board.px(one.line.brace)), board.pen("rim", 1.0))
        axis = one.line.vertex + one.gear.axis
        post = np.array([[axis[0], drawing.ground.height_at(float(axis[0]))], axis])
        board.stroke(path_of(board.px(post)), board.pen("rim", 1.0, (5.0, 3.0)))
    for row in drawing.along:
        legs = row.line.legs.reshape(-1, 2, 2)
        board.stroke(path_of(board.px(legs)), board.pen("rim", 1.2))
        feet = [[float(seat[0]), drawing.ground.height_at(float(seat[0]))] for seat in row.frames[:, 0]]
        posts = np.stack([np.array(feet), row.frames[:, 0]], axis=1)
        board.stroke(path_of(board.px(posts)), board.pen("rim", 1.0, (5.0, 3.0)))


def paint_films(board: Board, drawing: SectionDrawing, *, bands: bool) -> None:
    """The film of every mirror, and on it with ``bands`` what lies in shade."""
    sun = drawing.sun.sun.direction
    for one in drawing.lines:
        thick = 4.0 if size_px(board, one) >= _SMALL_PX else 2.4
        board.polyline(one.line.film, board.pen("ink", thick))
        if bands:
            light = one.line.placed.axes @ sun @ one.line.seen.see
            _bands(board, one.line.film, one.line.chord, one.light, light, thick)
    for row in drawing.along:
        board.stroke(path_of(board.px(row.line.films)), board.pen("ink", 3.0))
        light = row.line.placed.axes @ sun @ row.line.seen.see
        for film, chord, on in zip(row.line.films, row.line.chords, row.light, strict=True):
            if bands:
                _bands(board, film, chord, on, light, 3.0)


def _bands(board: Board, film: Array, chord: Array, light: LightOnMirror, sun: Array, thick: float) -> None:
    """Shaded stretches along the film: mirrors' in full, pipes' slimmer on top."""
    if not light.bands:
        return
    shares = film_shares(film, chord, sun)
    for band in sorted(light.bands, key=lambda one: one.by_pipe):
        stretch = stretch_of(film, shares, band.start, band.end)
        width = thick + (2.4 if not band.by_pipe else 0.0)
        casing = board.pen("view", width + 2.0)
        pen = board.pen("note", width)
        for each in (casing, pen):
            each.setCapStyle(each.capStyle().FlatCap)
            board.polyline(stretch, each)


def film_shares(film: Array, chord: Array, sun: Array) -> Array:
    """Where the light (2,) that ends on each point (n, 2) of the film passes the chord (2, 2): 0 at its left end, 1 at its right."""
    run = chord[1] - chord[0]
    across = run[0] * sun[1] - run[1] * sun[0]
    if abs(across) < 1e-9:
        return np.linspace(0.0, 1.0, len(film))
    off = film - chord[0]
    return np.asarray((off[:, 0] * sun[1] - off[:, 1] * sun[0]) / across)


def stretch_of(film: Array, shares: Array, start: float, end: float) -> Array:
    """The film between two shares, with its ends put in exactly."""
    order = np.argsort(shares, kind="stable")
    inside = (shares[order] > start) & (shares[order] < end)
    ends = [[np.interp(at, shares[order], film[order, axis]) for axis in (0, 1)] for at in (start, end)]
    return np.concatenate([[ends[0]], film[order][inside], [ends[1]]])


def paint_paths(board: Board, drawing: SectionDrawing, chosen: Iterable[int]) -> None:
    """Each receiver's way between its roll limits: a dotted arc with ticks, their figures at the selected ones."""
    picked = set(chosen)
    for one in drawing.lines:
        if size_px(board, one) < _SMALL_PX:
            continue
        own = one.line.id in picked
        path, axis = one.line.vertex + one.gear.path, one.line.vertex + one.gear.axis
        board.polyline(path, board.pen("accent" if own else "ink3", 1.2, (1.5, 3.5)))
        for end, limit in zip((path[0], path[-1]), one.gear.roll_limits_deg, strict=True):
            _tick(board, end, end - axis, "accent" if own else "ink2")
            if own or len(drawing.lines) == 1:
                _limit(
                    board, board.at(end), board.at(axis), number(limit, digits=0, sign=True) + "°", own=own
                )


def _limit(board: Board, end: QPointF, axis: QPointF, text: str, *, own: bool) -> None:
    """A roll limit's figure, beyond the arc."""
    out = end - axis
    away = out / max(float(np.hypot(out.x(), out.y())), 1e-9) * 22.0
    spot = end + away + QPointF(0, 4)
    board.text(spot, text, align="middle", role="accent" if own else "ink2")


def _tick(board: Board, at: Array, out: Array, role: str) -> None:
    spot = board.at(at)
    way = out / max(float(np.hypot(*out)), 1e-9)
    step = np.array([way[0], -way[1]]) * 6.0
    line = np.array([[spot.x() - step[0], spot.y() - step[1]], [spot.x() + step[0], spot.y() + step[1]]])
    board.stroke(path_of(line), board.pen(role, 1.5))


def paint_gear(board: Board, drawing: SectionDrawing, chosen: Iterable[int]) -> None:
    """Frames, pipes in their insulation, receivers, roll axes; the selected on top."""
    picked = set(chosen)
    for one in sorted(drawing.lines, key=lambda one: one.line.id in picked):
        small = size_px(board, one) < _SMALL_PX
        _crossed(board, one, small=small, selected=one.line.id in picked)
    for row in drawing.along:
        _along(board, row, selected=row.line.id in picked)


def _crossed(board: Board, one: CrossedLine, *, small: bool, selected: bool) -> None:
    gear, at = one.gear, one.line.vertex
    role = "accent" if selected else "ink"
    board.cased(path_of(board.px(at + gear.frame)), board.pen("ink", 1.2 if small else 2.2), by=1.0)
    _receiver(board, at, gear, role, thick=2.0 if small else 3.6)
    jacket = path_of(board.px(at + gear.jacket), closed=True)
    board.fill(jacket, board.theme.color("panel"))
    board.stroke(jacket, board.pen(role, 1.1))
    board.fill(path_of(board.px(at + gear.steel), closed=True), board.theme.color(role))
    if not small:
        axis = board.at(at + gear.axis)
        board.dot(axis, 5.0, fill="view", rim="ink", width=1.7)
        board.dot(axis, 1.6, fill="ink", rim="")


def _receiver(board: Board, at: Array, gear: GearInSection, role: str, *, thick: float) -> None:
    box = path_of(board.px(at + gear.box), closed=True)
    board.fill(box, board.theme.color("wash" if role == "accent" else "hair"))
    board.stroke(box, board.pen(role, 1.4))
    pen = board.pen("ink" if role == "ink" else role, thick)
    pen.setCapStyle(pen.capStyle().FlatCap)
    board.stroke(path_of(board.px(at + gear.window)), pen)


def _along(board: Board, row: AlongLine, *, selected: bool) -> None:
    role = "accent" if selected else "ink"
    board.stroke(path_of(board.px(row.frames)), board.pen("ink2", 1.4))
    wide = float(np.hypot(*np.ptp(board.px(row.gear.jacket), axis=0))) / 2
    pipe = path_of(board.px(row.pipe))
    for color, width in ((role, max(wide, 2.0) + 2.0), ("panel", max(wide, 2.0)), (role, 2.0)):
        pen = board.pen(color, width)
        pen.setCapStyle(pen.capStyle().FlatCap)
        board.stroke(pipe, pen)
    for vertex in row.line.vertices:
        _receiver(board, vertex, row.gear, role, thick=2.4)
    _stops(board, row, role)
    _stroke(board, row, role)


def _stops(board: Board, row: AlongLine, role: str) -> None:
    """Brackets where the pipe ends at full slide."""
    ends = board.px(row.stops)
    tails = np.stack([board.px(row.pipe), ends], axis=1)
    board.stroke(path_of(tails), board.pen(role, 1.2, (3.0, 3.0)))
    for end, inward in zip(ends, (1.0, -1.0), strict=True):
        bracket = end + np.array([[inward * 5.0, -8.0], [0.0, -8.0], [0.0, 8.0], [inward * 5.0, 8.0]])
        board.cased(path_of(bracket), board.pen(role, 1.6), by=1.2)


def _stroke(board: Board, row: AlongLine, role: str) -> None:
    """The way of the middle mirror's receiver over the slide, ticks at its ends."""
    middle = row.line.vertices[len(row.line.vertices) // 2]
    low, high = board.px(middle + row.gear.stroke)
    lift = np.array([0.0, -18.0])
    board.stroke(path_of(np.stack([low, high]) + lift), board.pen(role, 1.2, (1.5, 3.5)))
    for end, limit, left in zip((low, high), row.gear.slide_limits_m, (True, False), strict=True):
        tick = np.stack([end + lift + [0.0, -6.0], end + lift + [0.0, 6.0]])
        board.stroke(path_of(tick), board.pen(role, 1.5))
        text = number(limit, digits=2, sign=True)
        spot = QPointF(end[0] + (-6 if left else 6), end[1] + lift[1] + 4)
        board.text(spot, text, align="right" if left else "left")


def faint(board: Board, role: str, opacity: float) -> QColor:
    """A role's colour, let through."""
    color = board.theme.color(role)
    color.setAlphaF(opacity)
    return color
