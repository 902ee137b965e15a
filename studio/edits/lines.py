"""What a hand does to lines: place, move, turn, stretch, repeat, remove; pitches."""

from collections.abc import Callable, Collection, Sequence
from dataclasses import replace
from math import hypot
from typing import Literal

from studio.design.design import Design
from studio.design.field import Line
from studio.design.fields import mark
from studio.design.paths import line_of
from studio.edits.edit import Edit
from studio.edits.geometry import (
    azimuth_between,
    behind,
    direction,
    distance,
    first_vertex,
    front_line,
    level_spacing,
    line_names,
    middle,
    mirrors_for,
    moved,
    neighbour,
    offset,
    square,
    turned,
)
from studio.edits.places import kept_part, standing
from studio.errors import BadInputError
from studio.text import _, number, percent

End = Literal["drive", "far"]


def _changed(design: Design, ids: Collection[int], change: Callable[[Line], Line]) -> Design:
    for line_id in ids:
        line_of(design, line_id)
    lines = tuple(change(line) if line.id in ids else line for line in design.lines)
    return replace(design, lines=lines)


def next_id(design: Design) -> int:
    """The number the next line gets: none that a line has or that one had which was taken away."""
    return max(design.last_line, *(line.id for line in design.lines), 0) + 1


def usual_spacing(design: Design) -> float:
    """The spacing a new line gets: that of the last line, else the default, wide enough for mirror and frame."""
    if design.lines:
        return design.lines[-1].spacing_m
    least = design.mirror.width_m + design.motion.frame_room_m
    return max(Line(id=1, x_m=0.0, y_m=0.0).spacing_m, round(least, 2))


def place_line(
    design: Design,
    *,
    x_m: float,
    y_m: float,
    azimuth_deg: float = 90.0,
    length_m: float | None = None,
    count: int | None = None,
    spacing_m: float | None = None,
) -> Edit:
    """Place a line from the vertex of its first mirror.

    ``count`` mirrors stand on it, or as many as ``length_m`` (first vertex to last, on the plan) holds.
    """
    line = Line(
        id=next_id(design), x_m=x_m, y_m=y_m, azimuth_deg=azimuth_deg,
        spacing_m=usual_spacing(design) if spacing_m is None else spacing_m, count=1 if count is None else count,
    )  # fmt: skip
    if count is None and length_m is not None:
        line = replace(line, count=mirrors_for(length_m, level_spacing(line, design.ground)))
    label = _("Place {line} with {count} mirrors").format(line=line_names([line.id]), count=line.mirrors)
    return Edit(label, replace(design, lines=(*design.lines, line)))


def line_between(design: Design, *, start: Sequence[float], end: Sequence[float]) -> Edit:
    """Place a line from one point to another."""
    first, last = (float(start[0]), float(start[1])), (float(end[0]), float(end[1]))
    return place_line(
        design, x_m=first[0], y_m=first[1], azimuth_deg=azimuth_between(first, last), length_m=distance(first, last)
    )  # fmt: skip


def move_lines(design: Design, *, ids: Sequence[int], dx_m: float, dy_m: float) -> Edit:
    """Move lines east and north."""
    moved_design = _changed(design, ids, lambda line: replace(line, x_m=line.x_m + dx_m, y_m=line.y_m + dy_m))
    metres = number(hypot(dx_m, dy_m), digits=2)
    return Edit(_("Move {lines} by {metres} m").format(lines=line_names(ids), metres=metres), moved_design)


def turn_lines(
    design: Design, *, ids: Sequence[int], angle_deg: float, about: Sequence[float] | None = None
) -> Edit:
    """Turn lines clockwise, about a point or about the middle of them all."""
    if not ids:
        raise BadInputError(_("No line is selected to be turned; select one first."))
    middles = [middle(line_of(design, line_id), design.ground) for line_id in ids]
    centre = (
        (float(about[0]), float(about[1]))
        if about is not None
        else (sum(x for x, _y in middles) / len(middles), sum(y for _x, y in middles) / len(middles))
    )

    def turn(line: Line) -> Line:
        # the middle keeps its place: on sloping land the length on the plan changes with the azimuth
        x, y = turned(middle(line, design.ground), centre, angle_deg)
        line = replace(line, azimuth_deg=round((line.azimuth_deg + angle_deg) % 360.0, 9))
        # ... and over uneven ground with the place too, so that it is come near to step by step
        for _step in range(1 if design.ground.heights is None else 3):
            x0, y0 = middle(line, design.ground)
            line = replace(line, x_m=line.x_m + x - x0, y_m=line.y_m + y - y0)
        return line

    label = _("Turn {lines} by {angle}°").format(lines=line_names(ids), angle=number(angle_deg, digits=1))
    return Edit(label, _changed(design, ids, turn))


def stretch_line(
    design: Design, *, id: int, end: End, length_m: float | None = None, count: int | None = None
) -> Edit:
    """Add or drop mirrors at one end, so that the line is about ``length_m`` long or has ``count`` mirrors, places left out
    counted too.

    Those that stay keep their places and numbers. Mirrors added at the drive end count down from the first one; where
    that would go below 1, the line is numbered anew from 1.
    """
    line = line_of(design, id)
    step = level_spacing(line, design.ground)
    if count is None:
        count = mirrors_for((length_m or 0.0) + step * 0.5, step)
    stretched = _from_drive_end(design, line, count) if end == "drive" else line.with_count(count)
    count = stretched.count
    label = _("Stretch {line} to {count} mirrors").format(line=line_names([id]), count=count)
    return Edit(label, _changed(design, [id], lambda _line: stretched))


def _from_drive_end(design: Design, line: Line, count: int) -> Line:
    """A line of ``count`` places that ends where it ended."""
    if 1 <= count <= line.count:
        return kept_part(design, line, line.last_number - count + 1, line.last_number)
    added = count - line.count
    x, y = moved(first_vertex(line), direction(line.azimuth_deg), -added * level_spacing(line, design.ground))
    longer = replace(line, x_m=x, y_m=y, count=count)
    least = min(line.first_number, 1)
    if line.first_number - added >= least:
        return replace(longer, first_number=line.first_number - added)
    shifted = longer.numbered_from(least + added)  # the old first mirror comes after those added
    return replace(shifted, first_number=least)


def shorten_line(design: Design, *, id: int, first: int, count: int) -> Edit:
    """Keep ``count`` places of a line from its ``first`` (counted from 0); those that stay keep their places and numbers, and
    empty ones at the ends go too."""
    line = line_of(design, id)
    if not (first >= 0 and count >= 1 and first + count <= line.count):
        raise BadInputError(
            _("{line} has {count} mirrors; let those that stay be among them.").format(
                line=line_names([id]), count=line.count
            )
        )
    numbers = line.first_number + first, line.first_number + first + count - 1
    if not set(range(numbers[0], numbers[1] + 1)) & set(standing(line)):
        raise BadInputError(
            _("No mirror of {line} stands there; let one stay.").format(line=line_names([id]))
        )
    kept = kept_part(design, line, *numbers)
    numbers = kept.first_number, kept.last_number
    label = _("Keep mirrors {first} to {last} of {line}").format(
        first=numbers[0], last=numbers[1], line=line_names([id])
    )
    return Edit(label, _changed(design, [id], lambda _line: kept))


_TIMES = tuple(
    mark(word) for word in ("", "once", "twice", "three times", "four times", "five times", "six times")
)


def repeat_lines(design: Design, *, ids: Sequence[int], times: int, pitch_m: float) -> Edit:
    """Duplicates of lines at a pitch, behind them (in front where the pitch is negative).

    Several lines are repeated as one block: the pitch lies between the block's last line and its copy's first.
    """
    if not ids:
        raise BadInputError(_("No line is selected to be repeated; select one first."))
    if not 1 <= times <= 200:
        raise BadInputError(_("{times} times will not do; a whole number from 1 to 200 would be right.").format(
            times=times
        ))  # fmt: skip
    chosen = [line_of(design, line_id) for line_id in sorted(ids)]
    lead = front_line(design, chosen)
    side = behind(design, lead)
    extent = max(abs(offset(lead, line, design.ground)) for line in chosen)
    step = side * (pitch_m + extent if pitch_m >= 0 else pitch_m - extent)
    way = square(lead.azimuth_deg)
    new, number_now = list(design.lines), next_id(design)
    for turn in range(1, times + 1):
        for line in chosen:
            x, y = moved(first_vertex(line), way, turn * step)
            new.append(replace(line, id=number_now, x_m=round(x, 9), y_m=round(y, 9)))
            number_now += 1
    count = _(_TIMES[times]) if times < len(_TIMES) else _("{times} times").format(times=times)
    label = _("Repeat {lines} {times} at {pitch} m").format(
        lines=line_names(ids), times=count, pitch=number(pitch_m, digits=2)
    )
    return Edit(label, replace(design, lines=tuple(new)))


def delete_lines(design: Design, *, ids: Sequence[int]) -> Edit:
    """Take lines away."""
    for line_id in ids:
        line_of(design, line_id)
    return Edit(_("Remove {lines}").format(lines=line_names(ids)), without_lines(design, ids))


def without_lines(design: Design, ids: Collection[int]) -> Design:
    """A design less some of its lines, whose numbers no later line gets."""
    kept = tuple(line for line in design.lines if line.id not in ids)
    return (
        replace(design, lines=kept, last_line=next_id(design) - 1)
        if len(kept) < len(design.lines)
        else design
    )


def set_pitch(design: Design, *, id: int, pitch_m: float, to: int | None = None) -> Edit:
    """Move a line square to itself so that it stands at a pitch from another (its neighbour unless said)."""
    line = line_of(design, id)
    other = neighbour(design, line) if to is None else line_of(design, to)
    if other is None:
        raise BadInputError(_("{line} has no parallel neighbour to stand at a pitch from.").format(
            line=line_names([id])
        ))  # fmt: skip
    if not pitch_m > 0:
        raise BadInputError(_("A pitch of {pitch} m will not do; more than 0 m would be right.").format(
            pitch=number(pitch_m, digits=2)
        ))  # fmt: skip
    apart = offset(line, other, design.ground)
    x, y = moved((line.x_m, line.y_m), square(line.azimuth_deg), apart - pitch_m * (1 if apart >= 0 else -1))
    label = _("Set the pitch of {line} to {pitch} m").format(
        line=line_names([id]), pitch=number(pitch_m, digits=2)
    )
    return Edit(label, _changed(design, [id], lambda line: replace(line, x_m=round(x, 9), y_m=round(y, 9))))


def scale_pitches(design: Design, *, scale: float, ids: Sequence[int] | None = None) -> Edit:
    """Scale all pitches alike (those between ``ids``, or of the whole field); the front line stays where it is."""
    chosen = [line_of(design, line_id) for line_id in ids] if ids is not None else list(design.lines)
    if not scale > 0:
        raise BadInputError(_("Pitches cannot be scaled by {scale}; more than 0 would be right.").format(
            scale=number(scale)
        ))  # fmt: skip
    if not chosen:
        return Edit(_("Scale pitches"), design)
    lead = front_line(design, chosen)
    way = square(lead.azimuth_deg)

    def shift(line: Line) -> Line:
        x, y = moved((line.x_m, line.y_m), way, (scale - 1.0) * offset(lead, line, design.ground))
        return replace(line, x_m=round(x, 9), y_m=round(y, 9))

    ratio = percent(abs(scale - 1.0))
    label = _("Widen pitches by {ratio} %") if scale >= 1 else _("Narrow pitches by {ratio} %")
    return Edit(
        label.format(ratio=ratio),
        _changed(design, [line.id for line in chosen if line.id != lead.id], shift),
    )


def scale_spacings(design: Design, *, scale: float, ids: Sequence[int] | None = None) -> Edit:
    """Scale the spacing of lines alike (of ``ids``, or of all); counts stay, and the middle of each line keeps its place."""
    chosen = [line_of(design, line_id) for line_id in ids] if ids is not None else list(design.lines)
    if not scale > 0:
        raise BadInputError(_("Spacings cannot be scaled by {scale}; more than 0 would be right.").format(
            scale=number(scale)
        ))  # fmt: skip

    def stretch(line: Line) -> Line:
        x, y = middle(line, design.ground)
        line = replace(line, spacing_m=round(line.spacing_m * scale, 9))
        x0, y0 = middle(line, design.ground)
        return replace(line, x_m=round(line.x_m + x - x0, 9), y_m=round(line.y_m + y - y0, 9))

    ratio = percent(abs(scale - 1.0))
    label = _("Widen spacings by {ratio} %") if scale >= 1 else _("Narrow spacings by {ratio} %")
    return Edit(label.format(ratio=ratio), _changed(design, [line.id for line in chosen], stretch))
