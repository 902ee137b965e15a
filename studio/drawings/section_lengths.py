"""What is dimensioned in a section: pitches, gaps, the lowest sun that clears, heights, shadows; metres, no Qt."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from math import atan2, degrees

import numpy as np
from numpy.typing import NDArray

from studio.drawings.moment import Sun
from studio.drawings.section_cut import Cut
from studio.drawings.section_gear import GearInSection
from studio.drawings.section_ground import GroundInSection
from studio.drawings.section_lines import LineInSection

Array = NDArray[np.float64]
_PARALLEL_DEG = 1.0
_LEVEL = 1e-3
"""Rise of light that runs as good as level and throws no shadow that would end here."""


@dataclass(frozen=True)
class Pitch:
    """Between two neighbouring lines of the section, ``left`` and ``right`` their ids.

    ``from_m`` and ``to_m`` are their vertices along the cut, ``gap_from_m`` and ``gap_to_m`` the facing edges of their mirrors on
    plan. ``stretch`` is the cut's, by which pitch and gap square to the lines are shorter; ``parallel``: the lines run alike.
    ``clears_deg``: the lowest sun in the cut at which the mirrors of ``front`` leave those of the other in full light; None
    where the two overlap on plan.
    """

    left: int
    right: int
    front: int
    from_m: float
    to_m: float
    gap_from_m: float
    gap_to_m: float
    stretch: float
    parallel: bool
    clears_deg: float | None

    @property
    def along_m(self) -> float:
        """Between the vertices, along the cut."""
        return self.to_m - self.from_m

    @property
    def square_m(self) -> float:
        """Between the vertices, square to the lines."""
        return self.along_m / self.stretch

    @property
    def gap_m(self) -> float:
        """Clear between the mirrors on plan, square to the lines; below 0 they overlap."""
        return (self.gap_to_m - self.gap_from_m) / self.stretch


@dataclass(frozen=True, eq=False)
class Height:
    """How high a part (``low``, ``vertex``, ``high``, ``receiver``, ``post``) stands above the ground right below it."""

    key: str
    at: Array
    foot_m: float

    @property
    def height_m(self) -> float:
        """Above the ground below it."""
        return float(self.at[1]) - self.foot_m


@dataclass(frozen=True, eq=False)
class Shadow:
    """The shadow of a line's mirrors on the ground of the cut: of the upper edge ``high`` and of the lower edge ``low`` (2,).

    Either may be None where it falls beyond the cut. ``length_m``: level, from below the upper edge to its shadow.
    """

    high: Array | None
    low: Array | None
    length_m: float | None


@lru_cache(maxsize=64)
def pitches_of(lines: tuple[LineInSection, ...], cut: Cut) -> tuple[Pitch, ...]:
    """Between neighbouring lines, from left to right; the same object whatever the sun."""
    return tuple(_pitch(one, other, cut) for one, other in pairwise(lines))


def _pitch(left: LineInSection, right: LineInSection, cut: Cut) -> Pitch:
    faces_left = float(right.placed.axes[2][:2] @ np.array(cut.way)) <= 0.0
    front, back = (left, right) if faces_left else (right, left)
    azimuths = [degrees(atan2(line.placed.along[0], line.placed.along[1])) for line in (left, right)]
    apart = (azimuths[0] - azimuths[1]) % 180.0
    return Pitch(
        left=left.id,
        right=right.id,
        front=front.id,
        from_m=float(left.vertex[0]),
        to_m=float(right.vertex[0]),
        gap_from_m=float(left.on_plan[1]),
        gap_to_m=float(right.on_plan[0]),
        stretch=left.stretch,
        parallel=min(apart, 180.0 - apart) < _PARALLEL_DEG,
        clears_deg=_clears(front, back),
    )


def _clears(front: LineInSection, back: LineInSection) -> float | None:
    """From the lower edge of the one behind to the upper edge of the one in front, the rims of both.

    At this profile angle p the pitch is D = h (cos b + sin b / tan p) for like mirrors of height h and tilt b on level
    ground: the spacing of unshaded rows (Duffie & Beckman, Solar Engineering of Thermal Processes).
    """
    upper = max(front.chord, key=lambda end: float(end[1]))
    lower = min(back.chord, key=lambda end: float(end[1]))
    run = abs(float(lower[0] - upper[0]))
    beyond = (lower[0] - upper[0]) * (back.vertex[0] - front.vertex[0]) > 0.0
    if not beyond:
        return None
    return max(degrees(atan2(float(upper[1] - lower[1]), run)), 0.0)


def heights_of(line: LineInSection, gear: GearInSection, ground: GroundInSection) -> tuple[Height, ...]:
    """Lower edge, vertex, upper edge, the receiver's highest corner, and the post under the roll axis."""
    box = line.vertex + gear.box
    parts = {
        "low": line.low,
        "vertex": line.vertex,
        "high": line.high,
        "receiver": box[int(np.argmax(box[:, 1]))],
        "post": line.vertex + gear.axis,
    }
    return tuple(Height(key, at, ground.height_at(float(at[0]))) for key, at in parts.items())


def shadows_of(lines: Sequence[LineInSection], sun: Sun, ground: GroundInSection) -> list[Shadow | None]:
    """Where the edges of each line's mirrors throw their shadows on the ground; None without sun."""
    if not lines:
        return []
    light = np.array([line.placed.axes @ sun.direction @ line.seen.see for line in lines])
    chords = np.array([line.chord for line in lines])
    rows, top = np.arange(len(lines)), chords[..., 1].argmax(axis=1)
    upper, lower = chords[rows, top], chords[rows, 1 - top]
    high, low = ground.met_by(upper, -light), ground.met_by(lower, -light)
    found: list[Shadow | None] = []
    for place in range(len(lines)):
        if not sun.shines or light[place, 1] <= _LEVEL:
            found.append(None)
            continue
        there = [None if np.isnan(end[place, 0]) else end[place] for end in (high, low)]
        far = there[0]
        found.append(Shadow(far, there[1], None if far is None else abs(float(far[0] - upper[place, 0]))))
    return found
