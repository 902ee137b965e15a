"""What a hand does to several lines at once: align their ends, space them evenly, mirror them, turn them to an azimuth."""

from collections.abc import Sequence
from dataclasses import replace
from math import hypot
from typing import Literal, get_args

from studio.design.design import Design
from studio.design.field import Line
from studio.design.paths import line_of
from studio.design.site import Ground, Point
from studio.edits.edit import Edit
from studio.edits.geometry import (
    azimuth_between,
    direction,
    first_vertex,
    front_line,
    last_vertex,
    line_names,
    middle,
    moved,
    offset,
    parallel,
    square,
    turned,
)
from studio.edits.lines import next_id, turn_lines
from studio.errors import BadInputError
from studio.text import _, number

Part = Literal["drive", "middle", "far"]
_SAME_STRIP_M = 1e-3
"""Lines that lie nearer to one another, square to them, stand end to end."""
_LEAST_COSINE = 0.1
"""Between two lines' directions; below it one cannot be slid along itself to where the other ends."""


def _chosen(design: Design, ids: Sequence[int], least: int) -> list[Line]:
    """The lines of a selection, in the order of the design. BadInputError where they are too few."""
    chosen = [line_of(design, line_id) for line_id in sorted(set(ids))]
    if not chosen:
        raise BadInputError(_("No line is selected; select one first."))
    if len(chosen) < least:
        raise BadInputError(
            _("This takes {least} lines or more; {count} selected, so select more.").format(
                least=least, count=len(chosen)
            )
        )
    return chosen


def _with(design: Design, changed: Sequence[Line]) -> Design:
    by_id = {line.id: line for line in changed}
    return replace(design, lines=tuple(by_id.get(line.id, line) for line in design.lines))


def _shifted(line: Line, way: Point, by: float) -> Line:
    x, y = moved(first_vertex(line), way, by)
    return replace(line, x_m=round(x, 9), y_m=round(y, 9))


def _part_of(line: Line, part: Part, ground: Ground) -> Point:
    if part == "drive":
        return first_vertex(line)
    return last_vertex(line, ground) if part == "far" else middle(line, ground)


def align_lines(design: Design, *, ids: Sequence[int], part: Part = "drive", to: int | None = None) -> Edit:
    """Slide lines along themselves until their first vertices (or middles, or last vertices) stand square to one of them.

    That one stays where it is: the line ``to``, else the front one.
    """
    chosen = _chosen(design, ids, 2)
    if part not in get_args(Part):
        raise BadInputError(
            _("Lines have no {part} to align by; {known} would be right.").format(
                part=part, known=", ".join(get_args(Part))
            )
        )
    lead = front_line(design, chosen) if to is None else line_of(design, to)
    along, mark = direction(lead.azimuth_deg), _part_of(lead, part, design.ground)
    changed = []
    for line in chosen:
        own, there = direction(line.azimuth_deg), _part_of(line, part, design.ground)
        cosine = own[0] * along[0] + own[1] * along[1]
        if abs(cosine) < _LEAST_COSINE:
            raise BadInputError(
                _("{line} runs square to {lead} and cannot be aligned with it; turn it first.").format(
                    line=line_names([line.id]), lead=line_names([lead.id])
                )
            )
        ahead = (mark[0] - there[0]) * along[0] + (mark[1] - there[1]) * along[1]
        changed.append(line if line.id == lead.id else _shifted(line, own, ahead / cosine))
    label = {
        "drive": _("Align {lines} at their drive ends"),
        "middle": _("Align {lines} at their middles"),
        "far": _("Align {lines} at their far ends"),
    }[part]
    return Edit(label.format(lines=line_names(ids)), _with(design, changed))


def _strips(
    design: Design, ids: Sequence[int], least: int
) -> tuple[Line, dict[int, float], list[list[Line]]]:
    """The front line of a selection, how far each line lies from it, and the lines in strips, those end to end in one.

    BadInputError where the lines do not run alike or lie on fewer strips than ``least``.
    """
    chosen = _chosen(design, ids, least)
    lead = front_line(design, chosen)
    for line in chosen:
        if not parallel(lead, line):
            raise BadInputError(
                _(
                    "{line} does not run like {lead}, so there is no pitch between them; turn it first."
                ).format(line=line_names([line.id]), lead=line_names([lead.id]))
            )
    apart = {line.id: offset(lead, line, design.ground) for line in chosen}
    strips: list[list[Line]] = []
    for line in sorted(chosen, key=lambda line: apart[line.id]):
        if strips and apart[line.id] - apart[strips[-1][0].id] < _SAME_STRIP_M:
            strips[-1].append(line)
        else:
            strips.append([line])
    if len(strips) < least:
        raise BadInputError(
            _("{lines} lie on {count} strips; of {least} or more the pitches can be set.").format(
                lines=line_names(ids), count=len(strips), least=least
            )
        )
    return lead, apart, strips


def space_evenly(design: Design, *, ids: Sequence[int]) -> Edit:
    """Make the pitches between lines equal; the outermost stay where they are, and lines end to end stay together."""
    lead, apart, strips = _strips(design, ids, 3)
    low, high = apart[strips[0][0].id], apart[strips[-1][0].id]
    pitch = (high - low) / (len(strips) - 1)
    way = square(lead.azimuth_deg)
    changed = [
        _shifted(line, way, low + place * pitch - apart[line.id])
        for place, strip in enumerate(strips[1:-1], start=1)
        for line in strip
    ]
    label = _("Space {lines} evenly, {pitch} m apart").format(
        lines=line_names(ids), pitch=number(pitch, digits=2)
    )
    return Edit(label, _with(design, changed))


def mirror_lines(
    design: Design, *, ids: Sequence[int], start: Sequence[float], end: Sequence[float], copy: bool = False
) -> Edit:
    """Reflect lines about the axis through two points; ``copy`` leaves them and adds their reflections.

    A line's drive end stays its drive end, and its mirrors face where they faced.
    """
    chosen = _chosen(design, ids, 1)
    first, last = (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))
    if not hypot(last[0] - first[0], last[1] - first[1]) > 0.0:
        raise BadInputError(_("An axis to mirror about goes through two points apart; these are one."))
    axis = azimuth_between(first, last)
    way = square(axis)

    def reflected(line: Line) -> Line:
        # the middle is reflected: on sloping land the length on the plan changes with the azimuth
        x, y = middle(line, design.ground)
        beside = (x - first[0]) * way[0] + (y - first[1]) * way[1]
        x, y = moved((x, y), way, -2.0 * beside)
        turned = replace(line, azimuth_deg=round((2.0 * axis - line.azimuth_deg) % 360.0, 9))
        x0, y0 = middle(turned, design.ground)
        return replace(turned, x_m=round(turned.x_m + x - x0, 9), y_m=round(turned.y_m + y - y0, 9))

    changed = [reflected(line) for line in chosen]
    if not copy:
        return Edit(_("Mirror {lines}").format(lines=line_names(ids)), _with(design, changed))
    number_now = next_id(design)
    added = (replace(line, id=number_now + place) for place, line in enumerate(changed))
    label = _("Mirror {lines} as copies").format(lines=line_names(ids))
    return Edit(label, replace(design, lines=(*design.lines, *added)))


def turn_lines_to(
    design: Design, *, ids: Sequence[int], azimuth_deg: float, about: Sequence[float] | None = None
) -> Edit:
    """Turn lines as one, so that the front one of them gets an azimuth; about a point, or about the middle of them all."""
    lead = front_line(design, _chosen(design, ids, 1))
    edit = turn_lines(design, ids=ids, angle_deg=azimuth_deg - lead.azimuth_deg, about=about)
    label = _("Turn {lines} to {azimuth}°").format(
        lines=line_names(ids), azimuth=number(azimuth_deg, digits=1)
    )
    return Edit(label, edit.design)


def turn_field(design: Design, *, azimuth_deg: float, facing_turns: bool = False) -> Edit:
    """Turn the whole field about the middle of its lines, so that its front line gets an azimuth.

    A drawn header turns with the lines; plot, obstacles and store stay. Mirrors face where they faced, or with
    ``facing_turns`` turn with their lines.
    """
    if not design.lines:
        raise BadInputError(_("There is no line to turn yet; place one or plant the plot first."))
    ids = [line.id for line in design.lines]
    angle = azimuth_deg - front_line(design).azimuth_deg
    edit = turn_lines(design, ids=ids, angle_deg=angle)
    middles = [middle(line, design.ground) for line in design.lines]
    about = (sum(x for x, _y in middles) / len(middles), sum(y for _x, y in middles) / len(middles))
    header = replace(
        design.header,
        hot=tuple(turned(point, about, angle) for point in design.header.hot),
        cold=tuple(turned(point, about, angle) for point in design.header.cold),
    )
    new = replace(edit.design, header=header)
    label = _("Turn the field to {azimuth}°")
    if facing_turns:
        label = _("Turn the field to {azimuth}°, its mirrors with it")
        new = replace(
            new,
            mirror=replace(new.mirror, facing_deg=_turned_by(new.mirror.facing_deg, angle)),
            lines=tuple(
                replace(line, facing_deg=_turned_by(line.facing_deg, angle))
                if line.facing_deg is not None
                else line
                for line in new.lines
            ),
        )
    return Edit(label.format(azimuth=number(azimuth_deg % 360.0, digits=1)), new)


def _turned_by(azimuth_deg: float, angle_deg: float) -> float:
    return round((azimuth_deg + angle_deg) % 360.0, 9)


def set_pitches(design: Design, *, ids: Sequence[int], pitch_m: float) -> Edit:
    """Set the lines of a selection one pitch apart from one to the next; the front line stays, lines end to end together."""
    if not pitch_m > 0:
        raise BadInputError(
            _("A pitch of {pitch} m will not do; more than 0 m would be right.").format(
                pitch=number(pitch_m, digits=2)
            )
        )
    lead, apart, strips = _strips(design, ids, 2)
    way, own = square(lead.azimuth_deg), next(i for i, strip in enumerate(strips) if lead in strip)
    changed = [
        _shifted(line, way, (place - own) * pitch_m - apart[line.id])
        for place, strip in enumerate(strips)
        for line in strip
        if line.id != lead.id
    ]
    label = _("Set the pitch of {lines} to {pitch} m").format(
        lines=line_names(ids), pitch=number(pitch_m, digits=2)
    )
    return Edit(label, _with(design, changed))
