"""Painting lines in a section: stands, the dish as it is cut, shaded stretches, receiver on its path, pipe, frame."""

from collections.abc import Iterable

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QColor

from studio.desk.plan.board import Array, Board, path_of
from studio.drawings.section import AlongLine, CrossedLine, SectionDrawing
from studio.drawings.section_light import LightOnMirror
from studio.drawings.section_lines import LineAlong, LineInSection, Seen
from studio.text import number

_SMALL_PX = 26.0
"""A mirror smaller than this on the screen shows neither path nor ticks."""
_POINT_PX = 1.5
_STRETCH = 9


def size_px(board: Board, one: CrossedLine) -> float:
    """How large a mirror is on the screen."""
    ends = board.px(one.line.film[[0, -1]])
    return float(np.hypot(*(ends[1] - ends[0])))


def coarser(board: Board, one: CrossedLine) -> int:
    """Of the points of its film every so many are enough on the screen: the share of 40 that leaves some 2 px between them."""
    size = size_px(board, one)
    return next((step for step in (1, 2, 4, 8, 20) if size * step / len(one.line.film) >= _POINT_PX), 20)


def paint_stands(board: Board, drawing: SectionDrawing) -> None:
    """Legs, braces and the posts under the roll axes."""
    if drawing.lines:
        axes = np.array([one.line.vertex + one.gear.axis for one in drawing.lines])
        feet = np.column_stack([axes[:, 0], drawing.ground.heights_at(axes[:, 0])])
        legs = np.concatenate([one.line.legs for one in drawing.lines])
        braces = np.array([one.line.brace for one in drawing.lines])
        board.stroke(path_of(board.px(legs)), board.pen("rim", 1.6))
        board.stroke(path_of(board.px(braces)), board.pen("rim", 1.0))
        board.stroke(path_of(board.px(np.stack([feet, axes], axis=1))), board.pen("rim", 1.0, (5.0, 3.0)))
    for row in drawing.along:
        legs = row.line.legs.reshape(-1, 2, 2)
        board.stroke(path_of(board.px(legs)), board.pen("rim", 1.2))
        seats = row.frames[:, 0]
        under = np.column_stack([seats[:, 0], drawing.ground.heights_at(seats[:, 0])])
        posts = np.stack([under, seats], axis=1)
        board.stroke(path_of(board.px(posts)), board.pen("rim", 1.0, (5.0, 3.0)))


def paint_films(board: Board, drawing: SectionDrawing, *, bands: bool) -> None:
    """The film of every mirror, and on it with ``bands`` what lies in shade."""
    thick, step = 4.0, 1
    if drawing.lines:
        thick = 4.0 if size_px(board, drawing.lines[0]) >= _SMALL_PX else 2.4
        step = coarser(board, drawing.lines[0])
        films = np.array([one.line.film[::step] for one in drawing.lines])
        board.stroke(path_of(board.px(films)), board.pen("ink", thick))
    for row in drawing.along:
        board.stroke(path_of(board.px(row.line.films)), board.pen("ink", 3.0))
    if not bands:
        return
    every = _Bands(drawing.sun.sun.direction)
    for one in drawing.lines:
        every.add(one.line, one.line.vertex, one.line.film[::step], one.line.chord, one.light)
    for row in drawing.along:
        for place, on in enumerate(row.light):
            every.add(row.line, row.line.vertices[place], row.line.films[place], row.line.chords[place], on)
    for by_pipe, width in ((False, thick + 2.4), (True, thick)):
        stretches = every.stretches(by_pipe=by_pipe)
        if len(stretches):
            path = path_of(board.px(stretches))
            for color, wide in (("view", width + 2.0), ("note", width)):
                pen = board.pen(color, wide)
                pen.setCapStyle(Qt.PenCapStyle.FlatCap)
                board.stroke(path, pen)


class _Bands:
    """The shaded stretches of films; those of mirrors that are cut alike are worked out together."""

    def __init__(self, sun: Array) -> None:
        self._sun = sun
        self._films: dict[Seen, tuple[Array, Array]] = {}
        self._held: dict[tuple[Seen, bool], list[tuple[Array, float, float]]] = {}

    def add(
        self, line: LineInSection | LineAlong, vertex: Array, film: Array, chord: Array, light: LightOnMirror
    ) -> None:
        """The stretches of one film (n, 2)."""
        shaded = [(band.start, band.end, band.by_pipe) for band in light.bands]
        shaded += [(start, end, False) for start, end in light.behind]
        seen = line.seen
        if shaded and seen not in self._films:
            way = line.placed.axes @ self._sun @ seen.see
            self._films[seen] = film - vertex, film_shares(film, chord, way)
        for start, end, by_pipe in shaded:
            ends = to_the_edge(self._films[seen][1], start, end)
            self._held.setdefault((seen, by_pipe), []).append((vertex, *ends))

    def stretches(self, *, by_pipe: bool) -> Array:
        """All stretches behind mirrors and obstacles, or behind pipes, (K, _STRETCH, 2)."""
        found = [np.zeros((0, _STRETCH, 2))]
        for (seen, pipes), held in self._held.items():
            if pipes is by_pipe:
                film, shares = self._films[seen]
                order = np.argsort(shares, kind="stable")
                vertices, starts, ends = (np.array(part) for part in zip(*held, strict=True))
                at = np.linspace(starts, ends, _STRETCH, axis=1)
                parts = [np.interp(at, shares[order], film[order, axis]) for axis in (0, 1)]
                found.append(vertices[:, None] + np.stack(parts, axis=2))
        return np.concatenate(found)


def film_shares(film: Array, chord: Array, sun: Array) -> Array:
    """Where the light (2,) that ends on each point (n, 2) of the film passes the chord (2, 2): 0 at its left end, 1 at its right."""
    run = chord[1] - chord[0]
    across = run[0] * sun[1] - run[1] * sun[0]
    if abs(across) < 1e-9:
        return np.linspace(0.0, 1.0, len(film))
    off = film - chord[0]
    return np.asarray((off[:, 0] * sun[1] - off[:, 1] * sun[0]) / across)


def to_the_edge(shares: Array, start: float, end: float) -> tuple[float, float]:
    """A stretch that reaches the chord's end reaches the film's edge: that lies a little behind the rim's corners."""
    return (
        float(shares.min()) if start <= 1e-9 else start,
        float(shares.max()) if end >= 1.0 - 1e-9 else end,
    )


def stretch_of(film: Array, shares: Array, start: float, end: float) -> Array:
    """The film between two shares, with its ends put in exactly."""
    start, end = to_the_edge(shares, start, end)
    order = np.argsort(shares, kind="stable")
    inside = (shares[order] > start) & (shares[order] < end)
    ends = [[np.interp(at, shares[order], film[order, axis]) for axis in (0, 1)] for at in (start, end)]
    return np.concatenate([[ends[0]], film[order][inside], [ends[1]]])


def paint_paths(board: Board, drawing: SectionDrawing, chosen: Iterable[int]) -> None:
    """Each receiver's way between its roll limits: a dotted arc with ticks, their figures at the selected ones."""
    picked = set(chosen)
    for role, lines in _by_role(drawing.lines, picked, other="ink3"):
        if size_px(board, lines[0]) < _SMALL_PX:
            continue
        paths = board.px(np.array([one.line.vertex + one.gear.path for one in lines]))
        axes = board.px(np.array([one.line.vertex + one.gear.axis for one in lines]))
        board.stroke(path_of(paths), board.pen(role, 1.2, (1.5, 3.5)))
        ends = paths[:, [0, -1]]
        out = ends - axes[:, None]
        step = 6.0 * out / np.maximum(np.linalg.norm(out, axis=2, keepdims=True), 1e-9)
        ticks = np.stack([ends - step, ends + step], axis=2).reshape(-1, 2, 2)
        board.stroke(path_of(ticks), board.pen("ink2" if role == "ink3" else role, 1.5))
        if role == "accent" or len(drawing.lines) == 1:
            for one, pair, axis in zip(lines, ends, axes, strict=True):
                for end, limit in zip(pair, one.gear.roll_limits_deg, strict=True):
                    text = number(limit, digits=0, sign=True) + "°"
                    _limit(board, QPointF(*end), QPointF(*axis), text, own=role == "accent")


def _by_role(
    lines: tuple[CrossedLine, ...], picked: set[int], *, other: str
) -> list[tuple[str, list[CrossedLine]]]:
    """Lines by what they are drawn with, the selected last, so that they lie on top."""
    rest = [one for one in lines if one.line.id not in picked]
    own = [one for one in lines if one.line.id in picked]
    return [(role, some) for role, some in ((other, rest), ("accent", own)) if some]


def _limit(board: Board, end: QPointF, axis: QPointF, text: str, *, own: bool) -> None:
    """A roll limit's figure, beyond the arc."""
    out = end - axis
    away = out / max(float(np.hypot(out.x(), out.y())), 1e-9) * 22.0
    spot = end + away + QPointF(0, 4)
    board.text(spot, text, align="middle", role="accent" if own else "ink2")


def paint_gear(board: Board, drawing: SectionDrawing, chosen: Iterable[int]) -> None:
    """Frames, pipes in their insulation, receivers, roll axes; the selected on top."""
    picked = set(chosen)
    for role, lines in _by_role(drawing.lines, picked, other="ink"):
        _crossed(board, lines, role)
    for row in drawing.along:
        _along(board, row, selected=row.line.id in picked)


def _crossed(board: Board, lines: list[CrossedLine], role: str) -> None:
    """The gear of many lines, part by part: one path each."""
    small = size_px(board, lines[0]) < _SMALL_PX

    vertices = board.px(np.array([one.line.vertex for one in lines]))
    scale = board.camera.px_per_m * np.array([1.0, -1.0])

    def placed(name: str, step: int = 1) -> Array:
        parts = np.array([getattr(one.gear, name) for one in lines])
        return np.asarray(vertices.reshape(-1, *[1] * (parts.ndim - 2), 2) + parts * scale)[:, ::step]

    board.cased(path_of(placed("frame")), board.pen("ink", 1.2 if small else 2.2), by=1.0)
    _receivers(board, placed("box"), placed("window"), role, thick=2.0 if small else 3.6)
    fewer = 3 if small else 1
    jackets = path_of(placed("jacket", fewer), closed=True)
    board.fill(jackets, board.theme.color("panel"))
    board.stroke(jackets, board.pen(role, 1.1))
    board.fill(path_of(placed("steel", fewer), closed=True), board.theme.color(role))
    if not small:
        for x, y in placed("axis").tolist():
            board.dot(QPointF(x, y), 5.0, fill="view", rim="ink", width=1.7)
            board.dot(QPointF(x, y), 1.6, fill="ink", rim="")


def _receivers(board: Board, boxes: Array, windows: Array, role: str, *, thick: float) -> None:
    """Boxes (N, 4, 2) with the edges (N, 2, 2) that light goes in by, in pixels."""
    path = path_of(boxes, closed=True)
    board.fill(path, board.theme.color("wash" if role == "accent" else "hair"))
    board.stroke(path, board.pen(role, 1.4))
    pen = board.pen(role, thick)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    board.stroke(path_of(windows), pen)


def _along(board: Board, row: AlongLine, *, selected: bool) -> None:
    role = "accent" if selected else "ink"
    board.stroke(path_of(board.px(row.frames)), board.pen("ink2", 1.4))
    wide = float(np.hypot(*np.ptp(board.px(row.gear.jacket), axis=0))) / 2
    pipe = path_of(board.px(row.pipe))
    for color, width in ((role, max(wide, 2.0) + 2.0), ("panel", max(wide, 2.0)), (role, 2.0)):
        pen = board.pen(color, width)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        board.stroke(pipe, pen)
    at = row.line.vertices[:, None]
    _receivers(board, board.px(at + row.gear.box), board.px(at + row.gear.window), role, thick=2.4)
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


def mixed(color: QColor, ground: QColor, opacity: float) -> QColor:
    """A colour as it looks where it lets a ground through."""
    own, under = (np.array([one.redF(), one.greenF(), one.blueF()]) for one in (color, ground))
    return QColor.fromRgbF(*(opacity * own + (1.0 - opacity) * under).tolist())


def faint(board: Board, role: str, opacity: float) -> QColor:
    """A role's colour, let through."""
    color = board.theme.color(role)
    color.setAlphaF(opacity)
    return color
