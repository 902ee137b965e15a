"""What comes too near the ground: a mirror's low edge, and receivers and pipe anywhere within their slide and roll."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from studio.design.design import Design
from studio.engine.ground.plane import height_at
from studio.ground import surface_of
from studio.study.assessment import Array, PlacedLine
from studio.study.findings import Finding, Mend
from studio.study.line_seen import LineSeen, OfLines, reads_of
from studio.study.place import stand_of
from studio.study.shade import gear_of
from studio.study.swung import swung
from studio.text import _, number

_ROLLS = 33


@dataclass(frozen=True)
class Clearance:
    """Heights (m) over the ground of the lowest corner of a line's mirrors, and of what swings at the worst roll."""

    mirror_m: float
    swung_m: float


def clearance_of(design: Design, line: PlacedLine) -> Clearance:
    """How near a line comes to its ground: over a plane one mirror stands for all, over uneven ground each is looked at."""
    mirror = design.mirror
    corners = np.array([[x, y, 0.0] for x in (-0.5, 0.0, 0.5) for y in (-0.5, 0.5)])
    corners = corners * (mirror.width_m, mirror.height_m, 0.0)
    over = _over_ground(design, line, corners)
    return Clearance(mirror_m=float(over.min()), swung_m=_swung(design, line))


def _swung(design: Design, line: PlacedLine) -> float:
    gear = gear_of(design, line)
    rolls = np.linspace(design.motion.roll_from_deg, design.motion.roll_to_deg, _ROLLS)
    parts = swung(design.motion, gear, line.axes @ line.along, slide_m=np.zeros(_ROLLS), roll_deg=rolls)
    of_receiver = _over_ground(design, line, parts.edges)
    of_pipe = _over_ground(design, line, parts.pipe) - gear.pipe_diameter_m / 2
    return float(min(of_receiver.min(), of_pipe.min()))


def _over_ground(design: Design, line: PlacedLine, points: Array) -> Array:
    """Heights of points (N, 3) of the mirror frame over the ground: (N,) over a plane with the vertex as high as it stands,

    (N, M) over uneven ground with those of all M places.
    """
    away = points @ line.axes
    ground = design.ground
    if ground.heights is not None:
        return surface_of(ground).over(away[:, None] + line.vertices())
    level = height_at(
        away[:, 0], away[:, 1], slope_percent=ground.slope_percent, falls_towards_deg=ground.falls_towards_deg
    )
    return np.asarray(_stands_at(design, line) + away[:, 2] - level)


def _stands_at(design: Design, line: PlacedLine) -> float:
    return stand_of(design.line(line.id), design.mirror).stands_at_m


@lru_cache(maxsize=512)
def _clearance(seen: LineSeen) -> Clearance:
    return clearance_of(seen.design, seen.line)


_near: OfLines[Clearance] = OfLines()


def clearance_seen(design: Design, line: PlacedLine) -> Clearance:
    """How near a line comes to its ground, worked out once for lines that stand alike."""
    return _near.get(line, reads_of(design, line), lambda: _clearance(LineSeen(design, line)))


def ground_findings(design: Design, placed: Sequence[PlacedLine]) -> Iterator[Finding]:
    """Mirrors and receivers that touch the ground, one finding a cause: the line for which it is worst."""
    if not placed:
        return
    near = [clearance_seen(design, line) for line in placed]
    worst = min(range(len(placed)), key=lambda place: near[place].mirror_m)
    if near[worst].mirror_m < 0:
        yield _touches(
            design, placed[worst], near[worst].mirror_m, key="mirror_in_ground",
            sentence=_("Line {id}: the low edge of its mirrors lies {cm} cm in the ground"),
        )  # fmt: skip
    worst = min(range(len(placed)), key=lambda place: near[place].swung_m)
    if near[worst].swung_m < 0:
        yield _touches(
            design, placed[worst], near[worst].swung_m, key="receiver_meets_ground",
            sentence=_("Line {id}: rolled to its limit a receiver goes {cm} cm into the ground"),
        )  # fmt: skip


def _touches(design: Design, line: PlacedLine, over_m: float, *, key: str, sentence: str) -> Finding:
    higher = round(_stands_at(design, line) - over_m + 0.05, 2)
    own = design.line(line.id).stands_at_m is not None
    path = f"lines.{line.id}.stands_at_m" if own else "mirror.stands_at_m"
    return Finding(
        key=key,
        severity="stop",
        sentence=sentence.format(id=line.id, cm=number(-100 * over_m, digits=0)),
        detail=_("Stand the mirrors at {height} m, or change tilt, arm or roll limits").format(
            height=number(higher, digits=2)
        ),
        value=over_m,
        unit="m",
        place=(float(line.first[0]), float(line.first[1])),
        line_id=line.id,
        mend=Mend(
            _("Stand at {height} m").format(height=number(higher, digits=2)),
            "set_field",
            {"path": path, "value": higher},
        ),
    )
