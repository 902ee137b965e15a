"""What the land does to lines: too steep, posts too long, oil that does not drain, mirrors in snow or flood."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil
from typing import TYPE_CHECKING

from studio.design.design import Design
from studio.ground import surface_of
from studio.study.assessment import Array, PlacedLine
from studio.study.clearance import clearance_seen
from studio.study.findings import Finding, Mend
from studio.study.lay import lay_of
from studio.study.place import ground_height, stand_of
from studio.text import _, number

if TYPE_CHECKING:
    from studio.study.assess import Worked

DRAIN_MM_M = 2.0
"""Fall of a pipe away from where it drains that leaves oil standing in it: common practice, no source."""
_FREE_M = 0.05
"""Left between what swings and the ground when a line is lowered."""
_MOST_ALONG_AXIS = 0.9
"""As in ``studio.design.rules``, which cannot see the grade that uneven land gives a line."""


def land_findings(work: Worked) -> Iterator[Finding]:
    """One finding for each line and cause, at the worst of its mirrors."""
    design = work.design
    note = surface_of(design.ground).note
    if note:
        yield Finding(
            key="heights_on_one_line", severity="caution", sentence=note,
            detail=_("Measure heights to either side too"), place=_first_spot(design),
        )  # fmt: skip
    for line in work.placed:
        yield from _too_steep(design, line)
        yield from _post_too_long(design, line)
        yield from _drains_against(design, line)
        yield from _low(design, line)
        if design.ground.heights is not None:
            yield from _along_axis(line)


def _first_spot(design: Design) -> tuple[float, float] | None:
    spots = getattr(design.ground.heights, "spots", ())
    return (spots[0][0], spots[0][1]) if spots else None


def _too_steep(design: Design, line: PlacedLine) -> Iterator[Finding]:
    limit, lay = design.marks.ground_limit_percent, lay_of(design, line)
    steep, worst = lay.steepest_percent, lay.steepest_at
    if steep[worst] <= limit * (1 + 1e-9):
        return
    worst = int(line.there[worst])
    yield Finding(
        key="too_steep",
        severity="caution",
        sentence=_("Line {id}: the ground under its mirrors slopes {slope} %, {limit} % is the mark").format(
            id=line.id, slope=number(float(steep.max()), digits=1), limit=number(limit, digits=0)
        ),
        detail=_("Steepest at mirror {mirror}; grade the strip, or move the line to gentler land").format(
            mirror=line.first_number + worst
        ),
        value=float(steep.max()),
        unit="%",
        place=_at(line, worst),
        line_id=line.id,
        mirror=line.first_number + worst,
    )


def _post_too_long(design: Design, line: PlacedLine) -> Iterator[Finding]:
    limit, lay = design.marks.post_limit_m, lay_of(design, line)
    longest = lay.post_ends_m[1]
    over = longest - limit
    if over <= 1e-9:
        return
    worst = int(line.there[lay.posts_m.argmax()])
    mend = None
    lower = _down(stand_of(design.line(line.id), design.mirror).stands_at_m - over)
    clear = clearance_seen(design, line)
    if over + _FREE_M + 0.01 <= min(clear.mirror_m, clear.swung_m) and lower > 0:
        mend = stand_at(design, line, lower)
    yield Finding(
        key="post_too_long",
        severity="caution",
        sentence=_("Line {id}: a post {post} m long, {limit} m is the mark").format(
            id=line.id, post=number(longest, digits=2), limit=number(limit, digits=2)
        ),
        detail=_(
            "At mirror {mirror}; grading the strip would cut {cut} m3 and fill {fill} m3. Or make it two lines, each with its own grade"
        ).format(
            mirror=line.first_number + worst,
            cut=number(lay_of(design, line).earth.cut_m3, digits=0),
            fill=number(lay_of(design, line).earth.fill_m3, digits=0),
        ),
        value=longest,
        unit="m",
        place=_at(line, worst),
        line_id=line.id,
        mirror=line.first_number + worst,
        mend=mend,
    )


def _drains_against(design: Design, line: PlacedLine) -> Iterator[Finding]:
    """A line drains to its drive end, where the cold header joins it."""
    falls = -10 * lay_of(design, line).grade_percent
    if falls <= DRAIN_MM_M * (1 + 1e-9):
        return
    mend = None
    if not design.header.hot and not design.header.cold:
        mend = Mend(_("Turn it end for end"), "turn_lines", {"ids": [line.id], "angle_deg": 180.0})
    yield Finding(
        key="drains_against",
        severity="note",
        sentence=_(
            "Line {id} falls {fall} mm per m away from its drive end: oil stays in its far end when it is drained"
        ).format(id=line.id, fall=number(falls, digits=1)),
        detail=_(
            "Hot oil that stays in a pipe is a danger to whoever opens it: give the far end a drain too"
        ),
        value=falls,
        unit="mm/m",
        place=_at(line, line.count - 1),
        line_id=line.id,
        mend=mend,
    )


def _low(design: Design, line: PlacedLine) -> Iterator[Finding]:
    marks, lay = design.marks, lay_of(design, line)
    if marks.snow_m > 0:
        yield from _below(
            design, line, lay.low_over_m - marks.snow_m, lay.lowest[1], key="mirror_in_snow",
            sentence=_("Line {id}: the low edge of its mirrors lies {cm} cm below the snow"),
            detail=_("Snow up to {height} m is reckoned with").format(height=number(marks.snow_m, digits=2)),
        )  # fmt: skip
    if marks.flood_level_m is not None:
        water = ground_height(design.ground, 0.0, 0.0) + marks.flood_level_m
        yield from _below(
            design, line, lay.low_m - water, lay.lowest[0], key="mirror_in_flood",
            sentence=_("Line {id}: the low edge of its mirrors lies {cm} cm below the flood"),
            detail=_("The water stands {height} m above the land at the reference point").format(
                height=number(marks.flood_level_m, digits=2)
            ),
        )  # fmt: skip


def _below(
    design: Design, line: PlacedLine, clear: Array, worst: int, *, key: str, sentence: str, detail: str
) -> Iterator[Finding]:
    least = float(clear[worst])
    if least >= -1e-9:
        return
    worst = int(line.there[worst])
    stands = stand_of(design.line(line.id), design.mirror).stands_at_m
    yield Finding(
        key=key,
        severity="caution",
        sentence=sentence.format(id=line.id, cm=number(-100 * least, digits=0)),
        detail=detail,
        value=least,
        unit="m",
        place=_at(line, worst),
        line_id=line.id,
        mirror=line.first_number + worst,
        mend=stand_at(design, line, _up(stands - least)),
    )


def stand_at(design: Design, line: PlacedLine, height_m: float) -> Mend:
    """Let one line's mirrors stand at another height."""
    return Mend(
        _("Stand Line {id} at {height} m").format(id=line.id, height=number(height_m, digits=2)),
        "set_field",
        {"path": f"lines.{line.id}.stands_at_m", "value": height_m},
    )


def _along_axis(line: PlacedLine) -> Iterator[Finding]:
    cosine = abs(float(line.along @ line.axes[2]))
    if cosine <= _MOST_ALONG_AXIS:
        return
    yield Finding(
        key="line_along_axis",
        severity="stop",
        sentence=_("Line {id} climbs along its mirrors' axis: its receivers cannot roll about it").format(
            id=line.id
        ),
        detail=_("Turn the line or lower the tilt"),
        value=cosine,
        place=_at(line, 0),
        line_id=line.id,
    )


def _at(line: PlacedLine, mirror: int) -> tuple[float, float]:
    x, y, _z = line.first + mirror * line.spacing_m * line.along
    return float(x), float(y)


def _up(height_m: float) -> float:
    return ceil(height_m * 100 - 1e-6) / 100


def _down(height_m: float) -> float:
    return int(height_m * 100 + 1e-6) / 100
