"""Which shadows may meet which line: pairs of a sun and a row that casts, found for many lines at once.

A row casts a series of equal shadows, evenly stepped. That any of them falls on any mirror of the target is asked in two
steps. Seen from the target's mirrors a row lies within a box, and a box throws its shadow on a strip of the target's plane
only for light that leans within two bounds; so the suns that come into question are a range of those sorted by how they
lean, found without looking at each. Of those each is then asked exactly.
"""

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from studio.engine.shade.reach import LEAST_LIFT_M, Bools, Ints, left_out
from studio.engine.shade.rows import SAME_AXES, Floats, RowOfMirrors

_LEAST_TURN = 1e-13


@dataclass(frozen=True)
class Rows:
    """R pairs of a target and a row before it, the target itself the last of each; in the target's mirror frame from the
    middle of its first aperture.

    ``middle`` (R, 3) is that of the row's first aperture and ``sides`` (R, 2, 3) its half-sides; ``step`` (R, 3) and
    ``count`` (R,) are the row's, ``own_step`` (R, 3) the target's. ``upright`` (R,) marks rows parallel to the target and
    ``own`` (R,) the target itself. ``absent`` [row, place] marks places without a mirror; None where there are none.
    """

    middle: Floats
    sides: Floats
    step: Floats
    count: Ints
    own_step: Floats
    upright: Bools
    own: Bools
    absent: Bools | None


def rows_before(targets: Sequence[tuple[RowOfMirrors, ...]]) -> Rows:
    """The rows before each of some targets: of each its casters, and itself at the end."""
    number: dict[int, int] = {}
    for some in targets:
        for one in some:
            number.setdefault(id(one), len(number))
    each = {id(one): one for some in targets for one in some}
    table = np.array(
        [
            (*one.first, *one.along, *one.axes[0], *one.axes[1], *one.axes[2],
             one.spacing_m, one.width_m, one.height_m, one.plane_z_m, one.count)
            for one in each.values()
        ]
    )  # fmt: skip
    row: Ints = np.array([number[id(one)] for some in targets for one in some], np.int64)
    last = np.cumsum([len(some) for some in targets]) - 1
    target: Ints = np.repeat(row[last], [len(some) for some in targets])
    first, along, axes = table[:, :3], table[:, 3:6], table[:, 6:15].reshape(-1, 3, 3)
    spacing, size, rim = table[:, 15:16], table[:, 16:18], table[:, 18:19]
    frame = axes[target]
    turned = axes[row] @ frame.transpose(0, 2, 1)
    steps = along * spacing
    middle = _turned(first[row] - first[target], frame) + rim[row] * turned[:, 2]
    middle[:, 2] -= rim[target, 0]
    own = np.zeros(len(row), np.bool_)
    own[last] = True
    return Rows(
        middle=middle,
        sides=turned[:, :2] * (size[row] / 2)[..., None],
        step=_turned(steps[row], frame),
        count=table[row, 19].astype(np.int64),
        own_step=_turned(steps[target], frame),
        upright=np.abs(turned - np.eye(3)).max(axis=(1, 2)) < SAME_AXES,
        own=own,
        absent=left_out([one for some in targets for one in some]),
    )


def _turned(vectors: Floats, frame: Floats) -> Floats:
    """Vectors (R, 3) turned into frames (R, 3, 3)."""
    return np.asarray((frame @ vectors[..., None])[..., 0])


@dataclass(frozen=True)
class Look:
    """Some mirrors of the target of a ``task``, its ``seats`` (M,), under some of its suns, ``at`` (L,).

    ``light`` (L, 2): what a shadow shifts for each metre of height; ``order`` (2, L) its suns by each part of that. The
    target's rows are ``rows`` long from ``first_row`` on. Each seat stands for so many mirrors after one another as
    ``stands_for`` (M,) says.
    """

    task: int
    at: Ints
    light: Floats
    order: Ints
    seats: Ints
    stands_for: Ints
    first_row: int
    rows: int


@dataclass(frozen=True)
class Series:
    """P pairs of a sun and a row whose shadows may meet the target, by look, sun and row.

    ``look``, ``row`` and ``seen`` (P,): the number of the look, the row, and the pair's sun among the S that have any
    pair; ``middle`` (2, P) where the row's first shadow falls, ``sides`` (2, 2, P) its half-sides [side, axis], ``step``
    (2, P) to the next and ``own`` (2, P) that of the target's mirrors; ``apart`` (P,) where the shadows of the series do
    not overlap. ``of_look`` and ``sun`` (S,): the look of each sun that is seen, and its number there.
    """

    look: Ints
    row: Ints
    seen: Ints
    middle: Floats
    sides: Floats
    step: Floats
    own: Floats
    apart: Bools
    of_look: Ints
    sun: Ints

    def part(self, chosen: slice) -> "Series":
        """Some of the pairs."""
        some = {field.name: getattr(self, field.name)[..., chosen] for field in fields(self)}
        return Series(**{**some, "of_look": self.of_look, "sun": self.sun})


def series_of(rows: Rows, looks: Sequence[Look], half: Floats) -> Series:
    """The pairs that may meet at all; the targets' apertures reach ``half`` (2,) either way."""
    look = np.repeat(np.arange(len(looks)), [each.rows for each in looks])
    row = np.concatenate([np.arange(each.first_row, each.first_row + each.rows) for each in looks])
    ends = np.array([(each.seats[0], each.seats[-1]) for each in looks])
    suns = np.array([len(each.at) for each in looks])
    base = np.cumsum(suns) - suns
    light = np.concatenate([each.light for each in looks])
    look, row, sun = _leaning(rows, looks, half, look, row, ends, base)
    met = _met(rows, half, row, ends[look], light[base[look] + sun])
    look, row, sun = look[met], row[met], sun[met]
    order = np.lexsort((row, base[look] + sun))
    look, row, sun = look[order], row[order], sun[order]
    place = base[look] + sun
    new = np.flatnonzero(np.diff(place, prepend=-1))
    at = light[place].T
    sides = rows.sides[row].transpose(1, 2, 0)
    sides = sides[:, :2] - at * sides[:, 2:]
    step, own = rows.step[row].T, rows.own_step[row].T
    step, own = step[:2] - at * step[2], own[:2] - at * own[2]
    middle = rows.middle[row].T
    (across, up), (across_y, up_y) = sides[:, 0], sides[:, 1]
    turn = across * up_y - across_y * up
    safe = np.where(np.abs(turn) > _LEAST_TURN, turn, np.inf)
    on, over = (step[0] * up_y - step[1] * up) / safe, (across * step[1] - across_y * step[0]) / safe
    return Series(
        look=look,
        row=row,
        seen=np.repeat(np.arange(new.size), np.diff(new, append=place.size)),
        middle=middle[:2] - at * middle[2],
        sides=sides,
        step=step,
        own=own,
        apart=(np.abs(on) >= 2.0) | (np.abs(over) >= 2.0),
        of_look=look[new],
        sun=sun[new],
    )


def _leaning(
    rows: Rows, looks: Sequence[Look], half: Floats, look: Ints, row: Ints, ends: Ints, base: Ints
) -> tuple[Ints, Ints, Ints]:
    """Look, row and sun (Q,) of the pairs that come into question, from those of look and ``row``."""
    low, high = _boxes(rows, row, ends[look])
    bottom, top = np.maximum(low[:, 2], 0.0), high[:, 2]
    starts, stops = np.zeros((2, 2, len(row)), np.int64)
    lights = {id(each.light): each for each in looks}  # targets that face alike share their light
    shared = np.array([id(each.light) for each in looks])[look]
    groups = [(each, np.flatnonzero(shared == which)) for which, each in lights.items()]
    with np.errstate(divide="ignore", invalid="ignore"):
        for axis in (0, 1):
            # the box meets the strip where its least y - l z is below half and its most above -half
            least, most = low[:, axis] - half[axis], high[:, axis] + half[axis]
            from_ = np.where(least == 0.0, 0.0, least / np.where(least > 0.0, top, bottom))
            to = np.where(most == 0.0, 0.0, most / np.where(most > 0.0, bottom, top))
            for each, some in groups:
                lean = each.light[each.order[axis], axis]
                starts[axis, some] = np.searchsorted(lean, from_[some])
                stops[axis, some] = np.searchsorted(lean, to[some], side="right")
    number = np.where(top > LEAST_LIFT_M, np.maximum(stops - starts, 0), 0)
    axis = number.argmin(axis=0)
    which = np.arange(len(row))
    number, starts = number[axis, which], starts[axis, which]
    order = np.concatenate([each.order for each in looks], axis=1)
    pair = np.repeat(which, number)
    place = np.arange(pair.size) + np.repeat(starts - (np.cumsum(number) - number), number)
    return look[pair], row[pair], order[axis[pair], base[look[pair]] + place]


def _boxes(rows: Rows, row: Ints, ends: Ints) -> tuple[Floats, Floats]:
    """Corners (N, 3) each of the boxes in which the mirrors of ``row`` (N,) lie as seen from the seats between ``ends``
    (N, 2); of a target itself the others than the one that looks, as far as they stand before its plane."""
    last = (rows.count[row] - 1)[:, None]
    reach = np.abs(rows.sides[row]).sum(axis=1)
    run = rows.step[row] * last
    away = rows.own_step[row][:, None] * ends[..., None]
    low = rows.middle[row] + np.minimum(run, 0.0) - away.max(axis=1)
    high = rows.middle[row] + np.maximum(run, 0.0) - away.min(axis=1)
    forward = rows.own_step[row] * np.sign(rows.own_step[row, 2:])
    own = (rows.own[row] & (last[:, 0] > 0))[:, None]
    low = np.where(own, np.minimum(forward, forward * last), low)
    high = np.where(own, np.maximum(forward, forward * last), high)
    return low - reach, high + reach


def _met(rows: Rows, half: Floats, row: Ints, ends: Ints, light: Floats) -> Bools:
    """Whether (Q,) any shadow of ``row`` may fall on any seat under ``light`` (Q, 2)."""
    last = (rows.count[row] - 1) / 2
    middle_seat, seats = ends.sum(axis=1) / 2, (ends[:, 1] - ends[:, 0]) / 2
    met = np.ones(row.size, np.bool_)
    for axis in (0, 1):
        lean = light[:, axis]
        step = rows.step[row, axis] - lean * rows.step[row, 2]
        own = rows.own_step[row, axis] - lean * rows.own_step[row, 2]
        away = rows.middle[row, axis] - lean * rows.middle[row, 2] + step * last - own * middle_seat
        reach = np.abs(step) * last + np.abs(own) * seats + half[axis]
        for side in (0, 1):
            reach += np.abs(rows.sides[row, side, axis] - lean * rows.sides[row, side, 2])
        # shadows of the target's own mirrors fall on their neighbours first
        met &= np.where(rows.own[row], np.abs(own) < 2 * half[axis], np.abs(away) < reach)
    return met
