"""Stage: what has no room on the plot, told once for each line and cause, with the worst place."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import shapely

from studio.design.design import Design
from studio.design.obstacles import Block, Fence, Pole
from studio.engine.ground.line_on_plan import LineOnPlan, line_on_plan
from studio.engine.ground.spacing import Conflict, Plot, spacing_conflicts
from studio.engine.ground.standing import Standing, standing_conflicts
from studio.ground import surface_of
from studio.study.assessment import HeaderRun, PlacedLine
from studio.study.cache import Cache
from studio.study.findings import Finding, Mend, Severity
from studio.study.place import row_of, swept_m
from studio.study.shade import gear_of
from studio.text import _, number, plural

if TYPE_CHECKING:
    from studio.study.assess import Worked

_TRUNK_M = 0.15
"""Half a trunk's thickness: an assumption of ours."""
_SCREEN_M = 0.03
"""Half a fence's thickness with its posts: an assumption of ours."""
DRIVE_M = 0.5
"""Side of the square that a drive stands on, beyond the pipe's end at full slide."""


def conflicts_of(
    design: Design, placed: tuple[PlacedLine, ...], header: HeaderRun, cache: Cache
) -> tuple[Conflict, ...]:
    """Everything that has no room; nothing is outside a plot that is not drawn yet."""
    plot = design.plot
    if len(plot.boundary) >= 3:
        boundary = shapely.Polygon(plot.boundary)
    else:
        boundary = shapely.box(-1e6, -1e6, 1e6, 1e6)
    lines = tuple(on_plan(design, line, cache) for line in placed)
    met = bool(plot.no_build or design.obstacles)  # all that a header can meet
    headers = tuple(shapely.LineString(run) for run in (*header.hot, *header.cold)) if met else ()
    found = spacing_conflicts(
        Plot(
            boundary=boundary,
            setback_m=plot.setback_m if plot.boundary else 0.0,
            no_build=tuple(shapely.Polygon(area.ring) for area in plot.no_build if len(area.ring) >= 3),
        ),
        lines,
        maintenance_gap_m=plot.maintenance_gap_m,
        clearance_m=max(0.0, (design.motion.frame_room_m - design.motion.frame_width_m) / 2),
        headers=headers,
    )
    if not design.obstacles:
        return found
    standing = cache.get(("standing parts", design.obstacles), lambda: tuple(_standing(design)))
    return found + standing_conflicts(standing, lines, surface_of(design.ground), headers=headers)


def _standing(design: Design) -> Iterator[Standing]:
    """What of the obstacles can be met, over their own ground."""
    for place, one in enumerate(design.obstacles):
        if isinstance(one, Block):
            yield Standing(place, shapely.Polygon(one.ring), 0.0, one.height_m)
        elif isinstance(one, Fence):
            screen = shapely.LineString(one.path).buffer(_SCREEN_M, cap_style="flat")
            yield Standing(place, screen, 0.0, one.height_m)
        elif isinstance(one, Pole):
            yield Standing(place, shapely.Point(one.place).buffer(one.radius_m), 0.0, one.height_m)
        else:
            middle = shapely.Point(one.place)
            yield Standing(place, middle.buffer(_TRUNK_M), 0.0, one.height_m)
            yield Standing(place, middle.buffer(one.crown_radius_m), one.crown_base_m, one.height_m)


def on_plan(design: Design, line: PlacedLine, cache: Cache) -> LineOnPlan:
    motion = design.motion

    def place() -> LineOnPlan:
        along = line.along[:2] / (line.along[:2] @ line.along[:2]) ** 0.5
        end = line.first[:2] - along * (swept_m(design) + DRIVE_M / 2)
        half = DRIVE_M / 2
        drive = shapely.box(end[0] - half, end[1] - half, end[0] + half, end[1] + half)
        return line_on_plan(
            row_of(line, design.mirror),
            gear_of(design, line),
            slide_m=(-motion.stroke_m, motion.stroke_m),
            roll_deg=(motion.roll_from_deg, motion.roll_to_deg),
            drive=drive,
        )

    reads = line, design.mirror, design.receiver, motion, design.pipe
    return cache.slots.get("on plan", line.id, reads, place)


def room_findings(work: Worked) -> list[Finding]:
    """One finding for each line and cause; the worst of its mirrors gives value and place."""
    grouped: dict[tuple[str, int | None, int | None], list[Conflict]] = {}
    for conflict in work.conflicts:
        other = None if conflict.mirror is not None and conflict.kind.startswith("mirror") else conflict.other
        grouped.setdefault((conflict.kind, conflict.line, other), []).append(conflict)
    return [_finding(work, members) for members in grouped.values()]


def _finding(work: Worked, members: list[Conflict]) -> Finding:
    worst = max(members, key=lambda one: abs(one.limit_m - one.measured_m))
    ids = [line.id for line in work.placed]
    line_id = ids[worst.line] if worst.line is not None else None
    obstacle = worst.kind.endswith("obstacle")
    other = ids[worst.other] if worst.other is not None and worst.line is not None and not obstacle else None
    severity, sentence = _SAID[worst.kind](line_id, other, members, worst)
    mirror = None
    if worst.mirror is not None and worst.line is not None and worst.kind.startswith("mirror"):
        mirror = work.placed[worst.line].first_number + worst.mirror
    return Finding(
        key=worst.kind.replace(" ", "_").replace("-", "_"),
        severity=severity,
        sentence=sentence,
        detail=_in_obstacle(work.design, worst, mirror) if obstacle else _detail(worst, mirror),
        value=worst.measured_m,
        unit="m",
        place=worst.place,
        line_id=line_id,
        mirror=mirror,
        mend=_mend(work, members, worst, line_id),
    )


def _detail(worst: Conflict, mirror: int | None) -> str:
    measured, limit = number(worst.measured_m, digits=2), number(worst.limit_m, digits=2)
    if mirror is not None:
        if worst.limit_m > 0:
            return _("mirror {mirror} is {measured} m from the boundary, {limit} m wanted").format(
                mirror=mirror, measured=measured, limit=limit
            )
        return _("mirror {mirror} reaches {measured} m into it").format(mirror=mirror, measured=measured)
    if worst.limit_m > 0:
        return _("{measured} m where {limit} m are wanted").format(measured=measured, limit=limit)
    return _("by {measured} m").format(measured=measured)


def _in_obstacle(design: Design, worst: Conflict, mirror: int | None) -> str:
    name = design.obstacles[worst.other].name if worst.other is not None else ""
    measured = number(worst.measured_m, digits=2)
    if mirror is not None:
        return _("mirror {mirror} meets {name} over {measured} m; move the line or the obstacle").format(
            mirror=mirror, name=name, measured=measured
        )
    return _("it meets {name} over {measured} m; move one or the other").format(name=name, measured=measured)


def _mend(work: Worked, members: list[Conflict], worst: Conflict, line_id: int | None) -> Mend | None:
    design = work.design
    if worst.kind in _MIRROR_KINDS and worst.line is not None:
        return _without(work.placed[worst.line], {one.mirror for one in members if one.mirror is not None})
    if worst.kind == "no room for frame" and line_id is not None:
        spacing = design.line(line_id).spacing_m + worst.limit_m - worst.measured_m
        spacing = -(-spacing * 100 // 1) / 100
        return Mend(
            _("Space the mirrors at {spacing} m").format(spacing=number(spacing, digits=2)),
            "set_field",
            {"path": f"lines.{line_id}.spacing_m", "value": spacing},
        )
    return None


_MIRROR_KINDS = (
    "mirror outside plot",
    "mirror inside setback",
    "mirror in no-build area",
    "mirror in obstacle",
)
_WORTH_KEEPING = 0.4
"""Of a line's mirrors: with fewer left it is no mend but another line."""


def _without(line: PlacedLine, bad: set[int]) -> Mend | None:
    """The line without the mirrors at some of its places: shortened where they are its last ones, else they are left out."""
    there = line.there.tolist()
    stay = [place for place in there if place not in bad]
    if len(stay) < _WORTH_KEEPING * len(there):
        return None
    first, last = line.first_number + stay[0], line.first_number + stay[-1]
    if stay == [place for place in there if stay[0] <= place <= stay[-1]]:
        return Mend(
            _("Keep mirrors {first} to {last} only").format(first=first, last=last),
            "shorten_line",
            {"id": line.id, "first": stay[0], "count": last - first + 1},
        )
    numbers = sorted(line.first_number + place for place in bad)
    return Mend(
        plural("Leave out {count} mirror", "Leave out {count} mirrors", len(numbers)),
        "leave_out",
        {"id": line.id, "mirrors": numbers},
    )


_Said = Callable[[int | None, int | None, list[Conflict], Conflict], tuple[Severity, str]]


def _mirrors_said(one: str, many: str) -> _Said:
    def said(
        line: int | None, other: int | None, members: list[Conflict], worst: Conflict
    ) -> tuple[Severity, str]:
        return "stop", plural(one, many, len(members)).replace("[line]", str(line))

    return said


def _plain_said(severity: Severity, sentence: str) -> _Said:
    def said(
        line: int | None, other: int | None, members: list[Conflict], worst: Conflict
    ) -> tuple[Severity, str]:
        return severity, _(sentence).format(line=line, other=other)

    return said


_SAID: dict[str, _Said] = {
    "mirror outside plot": _mirrors_said(
        "Line [line]: {count} mirror stands outside the plot",
        "Line [line]: {count} mirrors stand outside the plot",
    ),
    "mirror inside setback": _mirrors_said(
        "Line [line]: {count} mirror stands in the setback",
        "Line [line]: {count} mirrors stand in the setback",
    ),
    "mirror in no-build area": _mirrors_said(
        "Line [line]: {count} mirror stands in a no-build area",
        "Line [line]: {count} mirrors stand in a no-build area",
    ),
    "drive outside plot": _plain_said("stop", "Line {line}: its drive stands outside the plot"),
    "drive in no-build area": _plain_said("stop", "Line {line}: its drive stands in a no-build area"),
    "stroke outside plot": _plain_said("stop", "Line {line}: at full slide its receivers leave the plot"),
    "stroke in no-build area": _plain_said(
        "caution", "Line {line}: its sliding receivers reach over a no-build area"
    ),
    "stroke meets support": _plain_said(
        "stop", "Line {line}: rolled to its limit its receivers hit the posts of Line {other}"
    ),
    "stroke meets mirror": _plain_said(
        "stop", "Line {line}: its sliding receivers hit mirrors of Line {other}"
    ),
    "strokes meet": _plain_said("stop", "Lines {line} and {other}: their sliding receivers meet"),
    "lines near": _plain_said("caution", "Lines {line} and {other} stand nearer than the maintenance gap"),
    "lines cross": _plain_said("stop", "Lines {line} and {other} cross"),
    "no room for frame": _plain_said("stop", "Line {line}: no room for a swing frame between its mirrors"),
    "mirror in obstacle": _mirrors_said(
        "Line [line]: {count} mirror stands inside an obstacle",
        "Line [line]: {count} mirrors stand inside an obstacle",
    ),
    "stroke in obstacle": _plain_said("stop", "Line {line}: its sliding receivers hit an obstacle"),
    "drive in obstacle": _plain_said("stop", "Line {line}: its drive stands inside an obstacle"),
    "header in obstacle": _plain_said("stop", "The header runs through an obstacle"),
    "header in no-build area": _plain_said("stop", "The header runs through a no-build area"),
}
