"""Under which suns a line may throw any shadow on another: asked of whole rows at once, without looking at their members.

A row's members stand evenly, and so do the mirrors of the target; what leads from any of these to any of those, seen along
the light on the target's plane, fills a parallelogram. A member may shade a mirror where that comes nearer to nothing than half
the box of its shadow and half the aperture. Whether a parallelogram meets a rectangle is asked along the normals of the sides
of both: convex figures are apart where one of these tells them apart (theorem of separating axes).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from studio.engine.shade.blocks import Shadows, cast
from studio.engine.shade.gear import LineGear
from studio.engine.shade.reach import LEAST_LIFT_M, Bools
from studio.engine.shade.rows import LEAST_SUN_COSINE, Floats, RowOfMirrors, same_axes

_SLACK_M = 1e-9
_AT_ONCE = 16
"""Pairs of lines looked at together, so that they stay in near memory."""


def reached(target: LineGear, casters: Sequence[LineGear], *, mirrors_alone: bool = False) -> Bools:
    """Suns (C, S) at which the mirrors or, unless asked of ``mirrors_alone``, the gear of each of ``casters`` may meet an aperture
    of ``target``.

    Where a line that moves does not reach another, before or after, that other's shade stays as it was. Never misses; boxes
    around slanted shadows, and members taken as if they stood everywhere along their row, make it say yes a little too often.
    """
    found = np.zeros((len(casters), len(target.suns)), np.bool_)
    plane = _Plane.of(target, mirrors_alone)
    shadows = [plane.shadows_of(caster) for caster in casters]
    for first in range(0, len(casters), _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        found[some, plane.lit] = plane.met_by(casters[some], shadows[some], [target])
    return found


def reaches(caster: LineGear, targets: Sequence[LineGear], *, mirrors_alone: bool = False) -> Bools:
    """Suns (T, S) at which ``caster`` may meet an aperture of each of T ``targets``: :func:`reached` turned round, quick
    where many targets face alike."""
    found = np.zeros((len(targets), len(caster.suns)), np.bool_)
    left = list(range(len(targets)))
    while left:
        row = targets[left[0]].row
        alike = [place for place in left if _look_alike(row, targets[place].row)]
        left = [place for place in left if place not in alike]
        plane = _Plane.of(targets[alike[0]], mirrors_alone)
        shadows = [plane.shadows_of(caster)]
        for first in range(0, len(alike), _AT_ONCE):
            some = alike[first : first + _AT_ONCE]
            met = plane.met_by([caster], shadows, [targets[place] for place in some])
            found[np.array(some)[:, None], plane.lit] = met
    return found


def _look_alike(one: RowOfMirrors, other: RowOfMirrors) -> bool:
    same_size = (one.width_m, one.height_m, one.plane_z_m) == (other.width_m, other.height_m, other.plane_z_m)
    return same_size and same_axes(one, other)


@dataclass(frozen=True)
class _Plane:
    """The plane of a target's apertures, and the suns before it: ``lit`` (L,) their numbers and ``lean`` (L, 2) what a shadow
    shifts under each for each metre of height. ``kinds``: what of each line is looked at."""

    target: LineGear
    kinds: slice
    lit: np.ndarray[tuple[int], np.dtype[np.intp]]
    lean: Floats

    @classmethod
    def of(cls, target: LineGear, mirrors_alone: bool) -> "_Plane":
        sun = target.row.into_mirror_frame(target.suns)
        lit = np.flatnonzero(sun[:, 2] > LEAST_SUN_COSINE)
        kinds = slice(1) if mirrors_alone else slice(None)
        return cls(target, kinds, lit, sun[lit, :2] / sun[lit, 2:])

    def shadows_of(self, line: LineGear) -> Shadows:
        return shadows_on(line, self.target)

    def met_by(
        self, casters: Sequence[LineGear], shadows: Sequence[Shadows], targets: Sequence[LineGear]
    ) -> Bools:
        """Whether (P, L) a member of each of P casters may shade a mirror of each of P targets in this plane; one of either
        stands for as many as there are of the other."""
        row = self.target.row
        firsts = np.array([line.row.first for line in casters]) - [line.row.first for line in targets]
        base = row.into_mirror_frame(firsts) + np.array([rim_of(row, line.row) for line in casters])
        own = row.into_mirror_frame(np.array([line.row.step() for line in targets]))
        last_seat = np.array([line.row.count - 1.0 for line in targets])
        step = np.array([its.step for its in shadows])
        low, high = (
            np.array([getattr(its, end)[self.kinds] for its in shadows], float) for end in ("first", "last")
        )
        top, centre, half = (
            np.stack([getattr(its, name)[self.lit, self.kinds] for its in shadows])
            for name in ("top", "centre", "half")
        )
        rise = np.maximum(low * step[:, 2:], high * step[:, 2:])[:, None] - np.minimum(
            0.0, last_seat * own[:, 2]
        ).reshape(-1, 1, 1)
        met = (base[:, None, 2:] + top + rise > LEAST_LIFT_M) & (high >= low)[:, None]
        # (P, L, G): middle of the parallelogram, its half-sides, and half the boxes
        sizes = row.width_m / 2, row.height_m / 2
        members, seats = ((high - low) / 2)[:, None], (last_seat / 2)[:, None, None]
        middle, one, other, reach = [], [], [], []
        for axis in (0, 1):
            lean = self.lean[:, axis]
            pace = (step[:, axis, None] - lean * step[:, 2:])[..., None]
            mine = (own[:, axis, None] - lean * own[:, 2:])[..., None] * seats
            start = (base[:, axis, None] - lean * base[:, 2:])[..., None]
            middle.append(start + centre[..., axis] + pace * ((low + high) / 2)[:, None] - mine)
            one.append(pace * members)
            other.append(mine)
            reach.append(half[..., axis] + (sizes[axis] + _SLACK_M))
            met = met & (np.abs(middle[axis]) <= np.abs(one[axis]) + np.abs(other[axis]) + reach[axis])
        for side, its_other in ((one, other), (other, one)):
            away = np.abs(middle[1] * side[0] - middle[0] * side[1])
            away -= np.abs(its_other[1] * side[0] - its_other[0] * side[1])
            met &= away <= reach[0] * np.abs(side[1]) + reach[1] * np.abs(side[0])
        return np.asarray(met.any(axis=2))


def shadows_on(line: LineGear, target: LineGear) -> Shadows:
    """Shadows of ``line`` on the plane of the target's apertures, as if the two rows' first apertures were one."""
    if same_axes(line.row, target.row):
        return line.shadows
    turn = np.array(line.row.axes) @ np.array(target.row.axes).T
    bodies = line.bodies
    turned = replace(
        bodies, centre=bodies.centre @ turn, extents=bodies.extents @ turn, step=bodies.step @ turn
    )
    return cast(turned, target.row.into_mirror_frame(target.suns))


def rim_of(target: RowOfMirrors, other: RowOfMirrors) -> Floats:
    """From the middle of the target's apertures to that of another row's, their vertices at one place: (3,)."""
    rim = target.into_mirror_frame(other.plane_z_m * np.array(other.axes[2]))
    return np.asarray(rim - np.array([0.0, 0.0, target.plane_z_m]))
