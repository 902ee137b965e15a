"""Places of a line that are left out, by the numbers of their mirrors, and what keeps these numbers as the line changes."""

from collections.abc import Collection, Sequence
from dataclasses import replace
from math import isfinite

import shapely
from shapely.affinity import translate

from studio.design.design import Design
from studio.design.field import Line
from studio.design.paths import line_of
from studio.edits.edit import Edit
from studio.edits.geometry import direction, first_vertex, last_vertex, level_spacing, line_names, moved
from studio.errors import BadInputError
from studio.text import _, number, plural


def kept_part(design: Design, line: Line, first: int, last: int) -> Line:
    """The part of a line from the mirror numbered ``first`` to that numbered ``last``, less empty places at its ends. What
    stays keeps its place and its number."""
    out = set(line.left_out)
    while first in out:
        first += 1
    while last in out:
        last -= 1
    skipped = first - line.first_number
    x, y = moved(
        first_vertex(line), direction(line.azimuth_deg), skipped * level_spacing(line, design.ground)
    )
    if not skipped:
        x, y = first_vertex(line)
    return replace(
        line, x_m=x, y_m=y, count=last - first + 1, first_number=first,
        left_out=tuple(one for one in line.left_out if first < one < last),
    )  # fmt: skip


def without(design: Design, line: Line, numbers: Collection[int]) -> Line:
    """A line without some of its mirrors: in the middle their places are left out, at an end it is shortened.

    Raises BadInputError where none would be left.
    """
    there = [one for one in standing(line) if one not in numbers]
    if not there:
        raise BadInputError(
            _("{line} would be left without a mirror; remove the line instead.").format(
                line=line_names([line.id])
            )
        )
    out = set(line.left_out) | {one for one in numbers if line.first_number <= one <= line.last_number}
    return kept_part(design, replace(line, left_out=tuple(sorted(out))), there[0], there[-1])


def standing(line: Line) -> tuple[int, ...]:
    """The numbers of the mirrors that stand on a line, rising."""
    out = set(line.left_out)
    return tuple(one for one in range(line.first_number, line.last_number + 1) if one not in out)


def in_ranges(numbers: Sequence[int]) -> str:
    """Rising whole numbers as a person lists them: 4, 9-12."""
    runs: list[tuple[int, int]] = []
    for one in numbers:
        if runs and one == runs[-1][1] + 1:
            runs[-1] = (runs[-1][0], one)
        else:
            runs.append((one, one))
    return ", ".join(f"{low}" if low == high else f"{low}-{high}" for low, high in runs)


def _swapped(design: Design, changed: Sequence[Line]) -> Design:
    by_id = {line.id: line for line in changed}
    return replace(design, lines=tuple(by_id.get(line.id, line) for line in design.lines))


def leave_out(design: Design, *, id: int, mirrors: Sequence[int]) -> Edit:
    """Leave some mirrors of a line out, by their numbers; pipe and drive stay. All others keep their places and numbers.

    A line that loses the mirrors at its end is shortened. Raises BadInputError for a number that no mirror of the line has,
    and where no mirror would be left.
    """
    line, chosen = line_of(design, id), sorted(set(mirrors))
    missing = [one for one in chosen if one not in standing(line)]
    if missing or not chosen:
        raise BadInputError(
            _("{line} has no mirror {number}; those from {first} to {last} that stand there would be right.").format(
                line=line_names([id]), number=missing[0] if missing else "–", first=line.first_number, last=line.last_number
            )
        )  # fmt: skip
    label = _("Leave out mirror {numbers} of {line}") if len(chosen) == 1 else _(
        "Leave out mirrors {numbers} of {line}"
    )  # fmt: skip
    return Edit(
        label.format(numbers=in_ranges(chosen), line=line_names([id])),
        _swapped(design, [without(design, line, chosen)]),
    )


def put_back(design: Design, *, id: int, mirrors: Sequence[int]) -> Edit:
    """Put mirrors back where they were left out, by their numbers. BadInputError for a place that is not empty."""
    line, chosen = line_of(design, id), sorted(set(mirrors))
    wrong = [one for one in chosen if one not in line.left_out]
    if wrong or not chosen:
        raise BadInputError(
            _("Place {number} of {line} is not empty; left out are {numbers}.").format(
                number=wrong[0] if wrong else "–", line=line_names([id]), numbers=in_ranges(line.left_out) or _("none")
            )
        )  # fmt: skip
    filled = replace(line, left_out=tuple(one for one in line.left_out if one not in chosen))
    label = _("Put back mirror {numbers} of {line}") if len(chosen) == 1 else _(
        "Put back mirrors {numbers} of {line}"
    )  # fmt: skip
    return Edit(label.format(numbers=in_ranges(chosen), line=line_names([id])), _swapped(design, [filled]))


def lane_across(design: Design, *, start: Sequence[float], end: Sequence[float], width_m: float) -> Edit:
    """Leave out, in every line, the mirrors that a lane between two points would meet, in one step.

    ``start`` and ``end`` are on the plan (x, y, m), ``width_m`` is the lane's clear width between mirrors. Pipes, frames and
    drives stay: what drives along the lane passes below the pipes or, where they hang too low, not at all. Raises
    BadInputError for a lane of no width or no length, one that meets no mirror, or one that would take a whole line.
    """
    ends = [(float(start[0]), float(start[1])), (float(end[0]), float(end[1]))]
    way = shapely.LineString(ends)
    if not (isfinite(width_m) and 0.0 < width_m <= _WIDEST_LANE_M) or not way.length > 0.0:
        raise BadInputError(
            _("A lane of {width} m between these points will not do; up to {most} m between two places would be right.").format(
                width=number(width_m, digits=2), most=number(_WIDEST_LANE_M, digits=0)
            )
        )  # fmt: skip
    lane = way.buffer(width_m / 2, cap_style="flat")
    changed, gone = [], 0
    for line in design.lines:
        met = mirrors_on(design, line, lane)
        if met:
            changed.append(without(design, line, met))
            gone += len(met)
    if not changed:
        raise BadInputError(_("The lane meets no mirror; draw it across the lines."))
    mirrors = plural("{count} mirror", "{count} mirrors", gone)
    label = _("Leave a lane {width} m wide across {lines}, without {mirrors}").format(
        width=number(width_m, digits=2), lines=line_names([line.id for line in changed]), mirrors=mirrors
    )
    return Edit(label, _swapped(design, changed))


_WIDEST_LANE_M = 100.0


def mirrors_on(design: Design, line: Line, area: shapely.Polygon) -> tuple[int, ...]:
    """The numbers of a line's mirrors whose aperture on the plan reaches into an area."""
    if not _box_of(design, line).intersects(area):
        return ()
    from studio.edits.line_room import foot_of  # asks the engine; most edits of places do not

    foot = shapely.Polygon(foot_of(design, line))
    step, ahead = level_spacing(line, design.ground), direction(line.azimuth_deg)
    found = []
    for one in standing(line):
        x, y = moved(first_vertex(line), ahead, (one - line.first_number) * step)
        if translate(foot, x, y).intersection(area).area > 1e-9:
            found.append(one)
    return tuple(found)


def _box_of(design: Design, line: Line) -> shapely.Polygon:
    """What a line's mirrors surely lie in on the plan."""
    room = max(design.mirror.width_m, design.mirror.height_m)
    return shapely.LineString([first_vertex(line), last_vertex(line, design.ground)]).buffer(room)
