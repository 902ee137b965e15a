"""Painting light in a section: beams and rays of the moment, shade's edges, shadows on the ground."""

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPolygonF

from studio.desk.mirror.drawn import ray_color
from studio.desk.plan.board import Align, Array, Board, path_of
from studio.desk.section.mirrors import coarser, faint, film_shares, mixed, stretch_of
from studio.drawings.section import AlongLine, CrossedLine, SectionDrawing
from studio.drawings.section_light import LightOnMirror
from studio.drawings.section_lines import Seen
from studio.text import _, number, percent

_RAYS_PX = 34.0
"""Of a mirror that is smaller on the screen single rays would run into one another: its beam alone is shown."""
_SHADOW_PX = 4.0
_CROWDED_PX, _NAMES_PX, _WORDS_PX = 30.0, 70.0, 180.0
"""Lines that stand closer on the screen wear no name, their number alone, and no sentence of who shades them."""


def paint_beams(board: Board, drawing: SectionDrawing) -> None:
    """The light that reaches each mirror, as a faint band from the sun.

    Bands do not lie over one another, so they are painted whole on the bare ground: letting it through takes seven times as long.
    """
    if drawing.sun.state != "shines":
        return
    color = mixed(board.theme.heat_color(0.25), board.theme.color("view"), 0.22)
    far = _far_m(board)
    board.painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)  # large, and half as quick with it
    known: dict[tuple[Seen, float, float], Array] = {}  # mirrors that are cut alike have beams alike
    for one in drawing.lines:
        for start, end in lit_stretches(one.light) if one.gear.lit else ():
            key = (one.line.seen, start, end)
            if key not in known:
                light, film = _toward(drawing, one), one.line.film[:: coarser(board, one)]
                foot = stretch_of(film, film_shares(film, one.line.chord, light), start, end)
                known[key] = np.concatenate([foot, foot[[-1, 0]] + far * light]) - one.line.vertex
            beam = board.px(one.line.vertex + known[key])
            if board.meets(beam):
                board.fill(path_of(beam, closed=True), color)
    board.painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)


def lit_stretches(light: LightOnMirror) -> list[tuple[float, float]]:
    """What the shadows of mirrors and obstacles leave of a chord."""
    found, reached = [], 0.0
    shaded = [(band.start, band.end) for band in light.bands if not band.by_pipe]
    for start, end in sorted([*shaded, *light.behind]):
        if start > reached:
            found.append((reached, start))
        reached = max(reached, end)
    return [*found, (reached, 1.0)] if reached < 1.0 else found


def _far_m(board: Board) -> float:
    """So far that it begins outside, from wherever in sight."""
    return 1.2 * (board.camera.width + board.camera.height) / board.camera.px_per_m


def _toward(drawing: SectionDrawing, one: CrossedLine) -> Array:
    light = one.line.placed.axes @ drawing.sun.sun.direction @ one.line.seen.see
    return np.asarray(light / max(float(np.hypot(*light)), 1e-9))


def paint_rays(board: Board, drawing: SectionDrawing) -> None:
    """Rays that the window takes whole, those that miss it dashed, those that something stops ending there."""
    if drawing.sun.state != "shines":
        return
    parts: dict[str, list[Array]] = {"reaches": [], "misses": [], "stopped": []}
    scale, far = board.camera.px_per_m, _far_m(board)
    for one in drawing.lines:
        if one.gear.lit and float(np.hypot(*np.ptp(one.line.film, axis=0))) * scale >= _RAYS_PX:
            light = one.line.placed.axes @ drawing.sun.sun.direction @ one.line.seen.see
            _collect(parts, one.line.vertex, one, one.light, light, far)
    for row in drawing.along:
        if row.gear.lit and row.line.placed.spacing_m * scale >= 2 * _RAYS_PX:
            light = row.line.placed.axes @ drawing.sun.sun.direction @ row.line.seen.see
            for vertex, on in zip(row.line.vertices, row.light, strict=True):
                _collect(parts, vertex, row, on, light, far)
    for kind, found in parts.items():
        segments = np.concatenate([np.zeros((0, 2, 2)), *found])
        dash = (4.0, 3.0) if kind == "misses" else ()
        pen = board.pen("ink3", 1.0 if kind == "reaches" else 0.8, dash)
        pen.setColor(
            faint(board, "note", 0.8) if kind == "stopped" else ray_color(board, reaches=kind == "reaches")
        )
        inside = clipped(board.px(segments), board.camera.width, board.camera.height)
        if len(inside):
            board.stroke(path_of(inside), pen)
    for x, y in board.px(np.concatenate([np.zeros((0, 2)), *(found[:, 1] for found in parts["stopped"])])):
        board.dot(QPointF(x, y), 1.8, fill="note", rim="")


def clipped(segments: Array, width: float, height: float) -> Array:
    """What of segments (N, 2, 2) in pixels lies on a canvas (M, 2, 2), and a little beyond: dashes cost by the length."""
    room = 8.0
    start, run = segments[:, 0], segments[:, 1] - segments[:, 0]
    low, high = np.array([-room, -room]), np.array([width + room, height + room])
    safe = np.where(np.abs(run) < 1e-9, 1e-9, run)
    one, other = (low - start) / safe, (high - start) / safe
    first = np.maximum(np.minimum(one, other).max(axis=1), 0.0)
    last = np.minimum(np.maximum(one, other).min(axis=1), 1.0)
    there = last > first
    ends = np.stack([first, last], axis=1)[there]
    return np.asarray(start[there, None] + ends[..., None] * run[there, None])


def _collect(
    parts: dict[str, list[Array]],
    at: Array,
    row: CrossedLine | AlongLine,
    on: LightOnMirror,
    light: Array,
    far: float,
) -> None:
    """Segments (n, 2, 2) of one mirror's rays by what becomes of them; where an obstacle or something of a line stops them."""
    drawn = row.gear.drawn
    way = light / max(float(np.hypot(*light)), 1e-9)
    feet = at + drawn.feet
    beyond = (
        at
        + row.gear.feet @ row.line.seen.see
        + np.where(np.isfinite(on.stops), on.stops, 0.0)[:, None] * light
    )
    met = np.isfinite(on.stops)
    nearer = met & ((beyond - feet) @ way > 0)
    feet = np.where(nearer[:, None], beyond, feet)
    inward = np.stack([feet + far * way, feet], axis=1)
    ends = met | drawn.ends
    parts["stopped"].append(inward[ends])
    for kind, which in (("reaches", ~ends & drawn.reaches), ("misses", ~ends & ~drawn.reaches)):
        parts[kind] += [inward[which], at + drawn.onward[which]]


def paint_ground_shadows(board: Board, drawing: SectionDrawing) -> None:
    """The ground in the shadow of mirrors, a band on its line."""
    if drawing.sun.state != "shines":
        return
    ends = [
        (one.shadow.low[0] if one.shadow.low is not None else one.line.low[0], one.shadow.high[0])
        for one in drawing.lines
        if one.shadow is not None and one.shadow.high is not None
    ]
    if ends:
        starts, highs = np.array(ends, dtype=float).T
        along = np.linspace(starts, highs, 24, axis=1)
        tops = np.stack([along, drawing.ground.heights_at(along)], axis=2)
        pen = board.pen("rim", _SHADOW_PX)
        pen.setColor(faint(board, "rim", 0.75))
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        board.stroke(path_of(board.px(tops) + np.array([0.0, _SHADOW_PX / 2 + 1.0])), pen)


def paint_shade_edges(board: Board, drawing: SectionDrawing) -> None:
    """From the upper edge of each line along the light to what its shadow ends on: a mirror, with an arrow, or the ground."""
    if drawing.sun.state != "shines":
        return
    scale = board.camera.px_per_m
    on_mirrors: list[Array] = []
    on_ground: list[Array] = []
    shaded = {shade.by: shade.on for shade in reversed(drawing.shades)}
    for one in drawing.lines:
        if one.shadow is None:
            continue
        start = max(one.line.chord, key=lambda end: float(end[1]))
        target = drawing.crossed(shaded[one.line.id]) if one.line.id in shaded else None
        end = _edge_on(one.line.id, target) if target is not None else None
        on_mirror = end is not None
        if end is None:
            end = (
                one.shadow.high
                if one.shadow.high is not None
                else start - _far_m(board) * _toward(drawing, one)
            )
        (on_mirrors if on_mirror else on_ground).append(np.stack([start, end]))
        if on_mirror and scale * abs(float(end[0] - start[0])) > _CROWDED_PX:
            _arrow(board, start, end)
    for edges, width in ((on_mirrors, 1.5), (on_ground, 1.0)):
        if edges:
            inside = clipped(board.px(np.array(edges)), board.camera.width, board.camera.height)
            board.stroke(path_of(inside), board.pen("note", width, (7.0, 4.0)))


def _edge_on(caster: int, target: CrossedLine) -> Array | None:
    """Where the edge of a caster's shadow meets the target's chord."""
    band = next((b for b in target.light.bands if b.line_id == caster and not b.by_pipe), None)
    if band is None:
        return None
    low_end = 0.0 if target.line.chord[0, 1] <= target.line.chord[1, 1] else 1.0
    share = band.end if low_end == 0.0 else band.start
    return np.asarray(target.line.chord[0] + share * (target.line.chord[1] - target.line.chord[0]))


def _arrow(board: Board, start: Array, end: Array) -> None:
    a, b = board.at(start), board.at(end)
    run = np.array([b.x() - a.x(), b.y() - a.y()])
    way = run / max(float(np.hypot(*run)), 1e-9)
    side = np.array([-way[1], way[0]])
    tip = np.array([b.x(), b.y()])
    corners = [tip, tip - 9.0 * way + 3.5 * side, tip - 9.0 * way - 3.5 * side]
    board.painter.setPen(board.pen("note", 1.0))
    board.painter.setBrush(board.theme.color("note"))
    board.painter.drawPolygon(QPolygonF([QPointF(float(x), float(y)) for x, y in corners]))


def paint_names(board: Board, drawing: SectionDrawing, chosen: frozenset[int]) -> None:
    """Each line's name at its upper edge and what shades it; without room it stays shorter, or away."""
    order = sorted(drawing.lines, key=lambda one: one.line.id not in chosen)
    pitch = min((p.along_m for p in drawing.pitches), default=9.0) * board.camera.px_per_m
    for one in order:
        if pitch < _CROWDED_PX and one.line.id not in chosen:
            continue
        left = one.line.chord[0, 1] > one.line.chord[1, 1]
        way = -1.0 if left else 1.0
        align: Align = "right" if left else "left"
        name = _("Line {number}").format(number=one.line.id) if pitch > _NAMES_PX else str(one.line.id)
        words = shade_words(one, long=pitch > _WORDS_PX) if pitch > _NAMES_PX else []
        wide = max([board.width(name, 12, 600), *(board.width(text, 11, 500) for text in words)])
        edge = board.at(one.line.high)
        for x, y in ((8.0, 2.0), (62.0, 2.0), (8.0, -14.0 - 15.0 * len(words))):
            at = edge + QPointF(way * x, y)
            box = QRectF(at.x() - (wide if left else 0.0), at.y() - 11, wide, 14 + 15.0 * len(words))
            if board.free(box):
                role = "accent" if one.line.id in chosen else "ink"
                board.text(at, name, size=12, weight=600, role=role, align=align)
                for row, text in enumerate(words):
                    board.text(at + QPointF(0, 15.0 * (row + 1)), text, role="note", weight=500, align=align)
                break
    for line in drawing.along:
        at = board.at(line.stops[0]) + QPointF(0, -16)
        at.setX(min(max(at.x(), 24.0), board.camera.width - 120.0))
        role = "accent" if line.line.id in chosen else "ink"
        board.text(at, _("Line {number}").format(number=line.line.id), size=12, weight=600, role=role)


def shade_words(one: CrossedLine, *, long: bool) -> list[str]:
    """What takes light from the mirror that is shown, in words; ``long`` names who."""
    if not one.gear.lit:
        return [_("no sun on it")] if long else []
    light = one.light
    if not long:
        return [f"{percent(light.share)} %"] if light.share >= 5e-4 else []
    words = [
        _("Line {number} shades {share} %").format(number=line_id, share=percent(share))
        for line_id, share in light.by[:2]
    ]
    if light.by_obstacles >= 5e-4:
        words.append(_("obstacles shade {share} %").format(share=percent(light.by_obstacles)))
    if len(light.by) + (light.by_obstacles >= 5e-4) > 1:
        words.append(_("together {share} %").format(share=percent(light.share)))
    pipes = sum(1 for band in light.bands if band.by_pipe)
    if pipes:
        chord = float(np.linalg.norm(one.line.rim[1] - one.line.rim[0]))
        taken = number(100 * chord * light.covered(by_pipe=True), digits=0)
        said = _("pipe takes {cm} cm") if pipes == 1 else _("pipes take {cm} cm")
        words.append(said.format(cm=taken))
    return words
