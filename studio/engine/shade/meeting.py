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
_ROUGH_M = 1e-3
"""What is looked at roughly is looked at a little too widely: shadows are kept in single precision."""
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
        base, seats, step = np.broadcast_arrays(base, own * (last_seat / 2)[:, None], step)
        around = np.stack([its.around[self.lit] for its in shadows])
        may = self._may_meet(base, seats, step, low, high, around)
        found = np.zeros(may.shape, np.bool_)
        pair, at = np.nonzero(may)
        if not pair.size:
            return found
        top, centre, half = (
            np.concatenate(
                [getattr(its, name)[self.lit[some], self.kinds] for its, some in self._each(shadows, may)]
            )
            for name in ("top", "centre", "half")
        )
        base, seats, step = base[pair], seats[pair], step[pair]
        low, high = (np.broadcast_to(each, (len(may), each.shape[1]))[pair] for each in (low, high))
        # one row (K) for each pair under each sun; columns (G) are kinds
        rise = np.maximum(low * step[:, 2:], high * step[:, 2:]) - np.minimum(0.0, 2.0 * seats[:, 2:])
        met = (base[:, 2:] + top + rise > LEAST_LIFT_M) & (high >= low)
        # (K, G): middle of the parallelogram, its half-sides, and half the boxes
        middle, one, other, reach = [], [], [], []
        for axis in (0, 1):
            lean = self.lean[at, axis]
            start, pace, mine = ((each[:, axis] - lean * each[:, 2])[:, None] for each in (base, step, seats))
            middle.append(start + centre[..., axis] + pace * ((low + high) / 2) - mine)
            one.append(pace * ((high - low) / 2))
            other.append(mine)
            reach.append(half[..., axis] + (self._size[axis] + _SLACK_M))
            met &= np.abs(middle[axis]) <= np.abs(one[axis]) + np.abs(other[axis]) + reach[axis]
        for side, its_other in ((one, other), (other, one)):
            away = np.abs(middle[1] * side[0] - middle[0] * side[1])
            away -= np.abs(its_other[1] * side[0] - its_other[0] * side[1])
            met &= away <= reach[0] * np.abs(side[1]) + reach[1] * np.abs(side[0])
        found[pair, at] = met.any(axis=1)
        return found

    @property
    def _size(self) -> tuple[float, float]:
        """Half the target's aperture."""
        return self.target.row.width_m / 2, self.target.row.height_m / 2

    def _each(self, shadows: Sequence[Shadows], may: Bools) -> list[tuple[Shadows, Bools]]:
        """The shadows of each pair, one standing for as many as there are, and the suns it is asked of."""
        every = shadows if len(shadows) == len(may) else [shadows[0]] * len(may)
        return list(zip(every, may, strict=True))

    def _may_meet(
        self, base: Floats, seats: Floats, step: Floats, low: Floats, high: Floats, around: Floats
    ) -> Bools:
        """Whether (P, L) anything of a caster comes near along x and along y: all its kinds as one box, so that few are left
        to be looked at kind by kind."""
        there = high >= low
        first = np.where(there, low, np.inf).min(axis=1)[:, None]
        last = np.where(there, high, -np.inf).max(axis=1)[:, None]
        some = (first <= last)[..., 0]
        first, last = (np.where(some[:, None], each, 0.0) for each in (first, last))
        may = np.broadcast_to(some[:, None], (len(base), len(self.lit)))
        for axis in (0, 1):
            lean = self.lean[:, axis]
            start, pace, mine = (each[:, axis, None] - lean * each[:, 2:] for each in (base, step, seats))
            least, most = around[..., 0, axis], around[..., 1, axis]
            middle = start + (least + most) / 2 + pace * ((first + last) / 2) - mine
            reach = (most - least) / 2 + (self._size[axis] + _ROUGH_M)
            may = may & (np.abs(middle) <= np.abs(pace) * ((last - first) / 2) + np.abs(mine) + reach)
        return may


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
