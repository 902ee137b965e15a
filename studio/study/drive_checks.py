"""What the checks notice about pipe and drive: twist that rolls receivers off their spots, sag, growth."""

from collections.abc import Hashable, Iterator, Sequence
from functools import lru_cache
from math import degrees

from studio.design.design import Design
from studio.study.assessment import PlacedLine
from studio.study.findings import Finding, Mend
from studio.study.line_seen import LineSeen
from studio.study.one_drive import DriveStatics, statics_of
from studio.text import _, number

_OFF_SPOT = 1 / 8
"""Share of the window by which a receiver may stand off its spot before a person should know."""


def drive_findings(design: Design, placed: Sequence[PlacedLine]) -> Iterator[Finding]:
    """At most one finding for each cause: that of the line for which it is worst."""
    if not placed:
        return
    of_makes: dict[Hashable, PlacedLine] = {}
    for line in placed:  # lines of one make have the same statics
        of_makes.setdefault(line.make, line)
    makes = list(of_makes.values())
    found = [_statics(LineSeen(design, line)) for line in makes]
    window_deg = degrees(design.receiver.window_height_m / design.motion.arm_m)
    worst = max(found, key=lambda one: one.off_roll_deg)
    if worst.off_roll_deg > _OFF_SPOT * window_deg:
        yield _twisted(design, worst, makes[found.index(worst)])
    worst = max(found, key=lambda one: one.sag.deepest_m)
    if worst.sag.deepest_m > _OFF_SPOT * design.receiver.window_height_m:
        yield Finding(
            key="pipe_sags",
            severity="caution",
            sentence=_("The pipe of Line {id} sags {mm} mm between its frames").format(
                id=worst.line_id, mm=number(1000 * worst.sag.deepest_m, digits=0)
            ),
            detail=_("Receivers leave their spots by as much: set frames closer or take a stiffer pipe"),
            value=worst.sag.deepest_m,
            unit="m",
            line_id=worst.line_id,
        )
    worst = max(found, key=lambda one: one.off_spot_m)
    if worst.off_spot_m > _OFF_SPOT * design.receiver.window_width_m:
        yield Finding(
            key="pipe_grows",
            severity="caution",
            sentence=_("Hot, the end receivers of Line {id} stand {mm} mm off their spots").format(
                id=worst.line_id, mm=number(1000 * worst.off_spot_m, digits=0)
            ),
            detail=_(
                "They are spaced for the cold pipe, which grows by {mm} mm; space them for the hot one"
            ).format(mm=number(1000 * worst.growth_m, digits=0)),
            value=worst.off_spot_m,
            unit="m",
            line_id=worst.line_id,
            mend=Mend(
                _("Space for the hot pipe"), "set_field", {"path": "motion.spaced_for", "value": "hot"}
            ),
        )


def _twisted(design: Design, worst: DriveStatics, line: PlacedLine) -> Finding:
    balanced = design.motion.balance_share >= 1
    detail = (
        _("A thicker pipe, lighter rollers or a shorter line twist less")
        if balanced
        else _(
            "Counterweights of {moment} kg m at every frame take it off; a thicker pipe or a shorter line twist less"
        ).format(moment=number(worst.hangs_kg_m, digits=0))
    )
    middle = line.first + line.along * line.spacing_m * (line.count - 1) / 2
    return Finding(
        key="pipe_twists",
        severity="caution",
        sentence=_(
            "Turned from one end, the pipe of Line {id} twists its receivers up to {deg}° off their spots"
        ).format(id=worst.line_id, deg=number(worst.off_roll_deg, digits=1)),
        detail=detail,
        value=worst.off_roll_deg,
        unit="°",
        place=(float(middle[0]), float(middle[1])),
        line_id=worst.line_id,
        mend=None
        if balanced
        else Mend(_("Balance the frames"), "set_field", {"path": "motion.balance_share", "value": 1.0}),
    )


@lru_cache(maxsize=512)
def _statics(seen: LineSeen) -> DriveStatics:
    return statics_of(seen.design, seen.line)
