"""Shade between flat apertures of any tilt, facing and step, exact and without a loop over mirrors.

A shadow of a plane aperture by parallel light is a parallelogram (a rectangle where it is parallel to the target's). Of
each pair of a casting line and a sun it is first asked whether any of the line's shadows falls on any mirror of the target;
then which members fall on which mirror; then how much each covers, in closed form. Where shadows overlap, their union is
cut exactly (:mod:`studio.engine.shade.rings`, :func:`studio.engine.shade.parallel.union_of_rectangles`).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from studio.engine.shade.crowded import Crowded
from studio.engine.shade.parallel import LineShade
from studio.engine.shade.reach import LEAST_LIFT_M, Bools, Ints
from studio.engine.shade.rings import ring_areas
from studio.engine.shade.rows import LEAST_SUN_COSINE, SAME_AXES, Floats, RowOfMirrors

_CORNERS = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
DIM_STRIDE = 6
"""At dim suns one mirror in so many is looked at."""
_LEAST_SHARE = 1e-13
_NOTHING = 1e-15
_MOST_WAITING = 200_000
"""Corners and boxes of overlapping shadows that wait to be worked out together."""
_TOGETHER = 24_000
"""Pairs of a shadow series and a mirror worked on at once, so that they stay in near memory."""


@dataclass(frozen=True)
class _Scene:
    """B casting rows before a target under L suns, in its mirror frame from the middle of its first aperture.

    ``middle`` (B, 3) is that of each row's first aperture and ``sides`` (B, 2, 3) its half-sides; ``step`` (B, 3) and
    ``count`` (B,) are the row's own. ``upright`` (B,) marks rows parallel to the target; the last row is the target
    itself. ``light`` (L, 2): what a shadow shifts for each metre of height. ``seats`` (M,): the target's mirrors that are
    looked at.
    """

    target: RowOfMirrors
    own_step: Floats
    half: Floats
    middle: Floats
    sides: Floats
    step: Floats
    count: Ints
    upright: Bools
    light: Floats
    seats: Ints

    def fallen(self, vectors: Floats, axis: int) -> Floats:
        """Shadows (L, B) along one axis of vectors (B, 3) on the target's plane, for every sun."""
        return np.asarray(vectors[..., axis] - self.light[:, axis, None] * vectors[..., 2])


@dataclass(frozen=True)
class _Series:
    """P pairs of a sun and a row whose shadows may meet the target: ``sun`` and ``row`` (P,); ``middle`` (P, 2) where the
    row's first shadow falls, ``sides`` (P, 2, 2) its half-sides, ``step`` (P, 2) to the next and ``own`` (P, 2) that of
    the target's mirrors; ``apart`` (P,) where the shadows of the series do not overlap."""

    sun: Ints
    row: Ints
    middle: Floats
    sides: Floats
    step: Floats
    own: Floats
    apart: Bools

    def part(self, chosen: slice) -> "_Series":
        """Some of the pairs."""
        return _Series(*(getattr(self, field.name)[chosen] for field in fields(self)))


@dataclass(frozen=True)
class LineTask:
    """What is asked of :func:`shade_of_lines`: the shade on ``target`` by ``casters`` and by its own row for ``suns`` (S, 3),
    unit, site frame. At the suns that are ``dim`` (S,) hardly any light is lost or won: one mirror in ``DIM_STRIDE``
    stands for its neighbours there."""

    target: RowOfMirrors
    casters: tuple[RowOfMirrors, ...]
    suns: Floats
    dim: Bools | None = None


def shade_of_line(
    target: RowOfMirrors, casters: tuple[RowOfMirrors, ...], suns: Floats, *, dim: Bools | None = None
) -> LineShade:
    """:func:`shade_of_lines` of one task, see :class:`LineTask`."""
    return next(shade_of_lines([LineTask(target, casters, suns, dim)]))


def shade_of_lines(tasks: Sequence[LineTask]) -> Iterator[LineShade]:
    """The answers to many tasks, in their order: unions are cut for many lines together, which is quicker.

    Tilt, facing, size, step and place of the rows are free. Fields as in :class:`LineShade`; exact to rounding but at
    dim suns.
    """
    waiting: list[_Answer] = []
    crowded = Crowded()
    for task in tasks:
        waiting.append(_Answer(task, crowded))
        if crowded.shadows > _MOST_WAITING:
            crowded.settle()
            yield from (answer.shade() for answer in waiting)
            waiting = []
    crowded.settle()
    yield from (answer.shade() for answer in waiting)


class _Answer:
    """The answer to a task, complete once what it put off to ``crowded`` is settled."""

    def __init__(self, task: LineTask, crowded: Crowded) -> None:
        target, rows = task.target, (*task.casters, task.target)
        sun = target.into_mirror_frame(np.asarray(task.suns, dtype=float))
        self.mirrors, self.rows, self.suns = target.count, len(rows), len(sun)
        lit = sun[:, 2] > LEAST_SUN_COSINE
        dim = np.zeros(len(sun), np.bool_) if task.dim is None else task.dim
        self.parts: list[tuple[Ints, int, Floats, Floats]] = []
        scene = _scene(target, rows)
        for stride, some in ((1, lit & ~dim), (min(DIM_STRIDE, target.count), lit & dim)):
            at = np.flatnonzero(some)
            if at.size:
                seats = np.arange(target.count)[stride // 2 :: stride]
                looked = replace(scene, light=sun[at, :2] / sun[at, 2:], seats=seats)
                self.parts.append((at, stride, *_looked_at(looked, crowded)))

    def shade(self) -> LineShade:
        """The shade, once all unions are settled."""
        by_mirror = np.zeros((self.suns, self.mirrors))
        by_line = np.zeros((self.suns, self.rows))
        for at, stride, by_seat, by_row in self.parts:
            nearest = np.minimum(np.arange(self.mirrors) // stride, by_seat.shape[1] - 1)
            by_mirror[at] = by_seat if stride == 1 else by_seat[:, nearest]
            by_line[at] = by_row / by_seat.shape[1]
        return LineShade(
            by_mirror=by_mirror,
            mean=by_mirror.mean(axis=1),
            worst=by_mirror.max(axis=1),
            by_caster=by_line[:, :-1],
            by_own_row=by_line[:, -1],
        )


def _looked_at(scene: _Scene, crowded: Crowded) -> tuple[Floats, Floats]:
    """Shares (L, M) of the seats in the shade, once ``crowded`` is settled, and what each row covers alone, summed over the
    seats (L, B)."""
    suns = len(scene.light)
    by_seat, by_row = np.zeros((suns, len(scene.seats))), np.zeros((suns, len(scene.count)))
    series = _series(scene)
    ends = np.cumsum(np.bincount(series.sun, minlength=suns))
    limit = max(1, _TOGETHER // len(scene.seats))
    first = 0
    while first < suns:
        done = int(ends[first - 1]) if first else 0
        last = max(first + 1, int(np.searchsorted(ends, done + limit, side="right")))
        if ends[last - 1] > done:
            chosen = series.part(slice(done, int(ends[last - 1])))
            _shares(scene, chosen, first, by_seat[first:last], by_row[first:last], crowded)
        first = last
    return by_seat, by_row


def _scene(target: RowOfMirrors, rows: tuple[RowOfMirrors, ...]) -> _Scene:
    """The rows before a target, under no sun yet."""
    size = np.array([[row.width_m, row.height_m] for row in rows])
    axes = target.into_mirror_frame(np.array([row.axes for row in rows]))
    firsts = target.into_mirror_frame(np.array([row.first for row in rows]) - np.array(target.first))
    rims = np.array([row.plane_z_m for row in rows])[:, None] * axes[:, 2]
    steps = np.array([row.along for row in rows]) * np.array([row.spacing_m for row in rows])[:, None]
    return _Scene(
        target=target,
        own_step=target.into_mirror_frame(target.step()),
        half=np.array([target.width_m, target.height_m]) / 2,
        middle=firsts + rims - np.array([0.0, 0.0, target.plane_z_m]),
        sides=axes[:, :2] * size[..., None] / 2,
        step=target.into_mirror_frame(steps),
        count=np.array([row.count for row in rows]),
        upright=np.abs(axes - np.eye(3)).max(axis=(1, 2)) < SAME_AXES,
        light=np.zeros((0, 2)),
        seats=np.arange(target.count),
    )


def _series(scene: _Scene) -> _Series:
    """The pairs of sun and row that may meet at all, by sun."""
    last, first_own, last_own = scene.count - 1, int(scene.seats[0]), int(scene.seats[-1])
    rise = np.maximum(0.0, scene.step[:, 2] * last) - min(
        float(scene.own_step[2]) * first_own, float(scene.own_step[2]) * last_own
    )
    ahead = scene.middle[:, 2] + np.abs(scene.sides[..., 2]).sum(axis=1) + rise > LEAST_LIFT_M
    met = np.broadcast_to(ahead, (len(scene.light), len(scene.count)))
    for axis in (1, 0):
        # from the middle of the seats to the middle of the shadows, and how far either reaches from there
        step, own = scene.fallen(scene.step, axis), scene.fallen(scene.own_step[None], axis)
        away = scene.fallen(scene.middle, axis) + step * (last / 2) - own * ((first_own + last_own) / 2)
        reach = np.abs(step) * (last / 2) + np.abs(own) * ((last_own - first_own) / 2) + scene.half[axis]
        for side in range(2):
            reach += np.abs(scene.fallen(scene.sides[:, side], axis))
        met = met & (np.abs(away) < reach)
    sun, row = np.nonzero(met)
    light = scene.light[sun]
    sides = scene.sides[row]
    sides = sides[..., :2] - light[:, None] * sides[..., 2:]
    step = scene.step[row, :2] - light * scene.step[row, 2:]
    across, up = sides[:, 0], sides[:, 1]
    turn = across[:, 0] * up[:, 1] - across[:, 1] * up[:, 0]
    safe = np.where(np.abs(turn) > _LEAST_SHARE, turn, np.inf)
    on = (step[:, 0] * up[:, 1] - step[:, 1] * up[:, 0]) / safe
    over = (across[:, 0] * step[:, 1] - across[:, 1] * step[:, 0]) / safe
    return _Series(
        sun=sun,
        row=row,
        middle=scene.middle[row, :2] - light * scene.middle[row, 2:],
        sides=sides,
        step=step,
        own=scene.own_step[:2] - light * scene.own_step[2],
        apart=(np.abs(on) >= 2.0) | (np.abs(over) >= 2.0),
    )


@dataclass(frozen=True)
class _Shadows:
    """E shadows on seats: ``pair`` (E,) the series of each, ``seat`` which it falls on and ``member`` the mirror that
    throws it; ``x`` and ``y`` (E,) its middle."""

    scene: _Scene
    series: _Series
    pair: Ints
    seat: Ints
    member: Ints
    x: Floats
    y: Floats

    def box(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Its bounds within the aperture: least and most x, least and most y, (E,) each."""
        reach = np.abs(self.series.sides[:, 0]) + np.abs(self.series.sides[:, 1])
        wide, tall = reach[:, 0][self.pair], reach[:, 1][self.pair]
        right, top = self.scene.half
        return (
            np.maximum(self.x - wide, -right),
            np.minimum(self.x + wide, right),
            np.maximum(self.y - tall, -top),
            np.minimum(self.y + tall, top),
        )

    def rings(self, some: Ints) -> Floats:
        """Polygons (N, 4 or 8, 2) of ``some`` (N,): of what of each aperture stands before the target's plane."""
        pair, scene = self.pair[some], self.scene
        row = self.series.row[pair]
        corners = _CORNERS @ self.series.sides[pair]
        corners[..., 0] += self.x[some][:, None]
        corners[..., 1] += self.y[some][:, None]
        seat = scene.seats[self.seat[some]]
        lift = scene.middle[row, 2] + self.member[some] * scene.step[row, 2] - seat * scene.own_step[2]
        heights = lift[:, None] + (scene.sides[..., 2] @ _CORNERS.T)[row]
        return corners if (heights > LEAST_LIFT_M).all() else cut_at_plane(corners, heights)


def _shadows(scene: _Scene, series: _Series) -> _Shadows:
    """The shadows of each series that meet a seat: their boxes do."""
    high: Floats = (scene.count[series.row] - 1).astype(np.float64)[:, None]
    low: Floats = np.zeros_like(high)
    reach = np.abs(series.sides[:, 0]) + np.abs(series.sides[:, 1]) + scene.half
    for axis in (0, 1):
        # shadow k meets seat i where |middle + k step - i own| < reach
        step = series.step[:, axis]
        pace = 1.0 / np.where(np.abs(step) < _NOTHING, _NOTHING, step)
        at: Floats = scene.seats * (series.own[:, axis] * pace)[:, None]
        at -= (series.middle[:, axis] * pace)[:, None]
        within: Floats = (reach[:, axis] * np.abs(pace))[:, None]
        low, high = np.maximum(low, at - within), np.minimum(high, at + within)
    low, high = _ahead(scene, series, low, high)
    least, most = np.ceil(low), np.floor(high)
    some = np.flatnonzero(most >= least)
    first = least.ravel()[some].astype(np.int64)
    each = most.ravel()[some].astype(np.int64) - first + 1
    member = np.repeat(first - (np.cumsum(each) - each), each)
    member += np.arange(member.size)
    pair, seat = np.divmod(np.repeat(some, each), len(scene.seats))
    own = series.row[pair] == len(scene.count) - 1
    if own.any():
        others = np.flatnonzero(~own | (member != scene.seats[seat]))
        pair, seat, member = pair[others], seat[others], member[others]
    x, y = (
        series.middle[:, axis][pair]
        + member * series.step[:, axis][pair]
        - scene.seats[seat] * series.own[:, axis][pair]
        for axis in (0, 1)
    )
    return _Shadows(scene, series, pair, seat, member, x, y)


def _ahead(scene: _Scene, series: _Series, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Bounds (P, M) of the members of each series, cut to those that stand before the target's plane in part."""
    top = scene.middle[:, 2] + np.abs(scene.sides[..., 2]).sum(axis=1) - LEAST_LIFT_M
    rise, fall = scene.step[:, 2], scene.own_step[2] * scene.seats
    least = top + np.minimum(0.0, rise * (scene.count - 1)) - max(float(fall[0]), float(fall[-1]))
    cut = np.flatnonzero(least[series.row] <= 0.0)
    if cut.size:
        row = series.row[cut]
        pace = np.where(np.abs(rise) < _NOTHING, _NOTHING, rise)[row][:, None]
        level = (fall - top[row][:, None]) / pace
        low[cut] = np.where(pace > 0.0, np.maximum(low[cut], level), low[cut])
        high[cut] = np.where(pace > 0.0, high[cut], np.minimum(high[cut], level))
    return low, high


def _shares(
    scene: _Scene, series: _Series, first: int, by_seat: Floats, by_row: Floats, crowded: Crowded
) -> None:
    """Fill the shares ``by_seat`` (suns, M) in the shade and ``by_row`` (suns, B) that each row covers alone, for the suns
    from ``first`` on, whose ``series`` they are. Where shadows overlap it is put off to ``crowded``."""
    seats, rows = len(scene.seats), len(scene.count)
    shadows = _shadows(scene, series)
    box = shadows.box()
    area = np.maximum(box[1] - box[0], 0.0) * np.maximum(box[3] - box[2], 0.0)
    upright = scene.upright[series.row][shadows.pair]
    slanted = np.flatnonzero(~upright & (area > 0.0))
    if slanted.size:
        area[slanted] = ring_areas(shadows.rings(slanted), scene.half)
    share = area / (4.0 * float(scene.half.prod()))
    sun = series.sun - first
    cell = (sun * seats)[shadows.pair] + shadows.seat
    by_row += np.bincount((sun * rows + series.row)[shadows.pair], share, by_row.size).reshape(by_row.shape)
    by_seat += np.bincount(cell, share, by_seat.size).reshape(by_seat.shape)
    order, begins = _crowds(series, shadows.pair, cell, np.flatnonzero(share > _LEAST_SHARE))
    if begins.size:
        cells = cell[order[begins]]
        which = np.repeat(np.arange(begins.size), np.diff(begins, append=order.size))
        plain = np.bincount(which, ~upright[order], begins.size) == 0
        for kind, chosen in ((True, plain), (False, ~plain)):
            if chosen.any():
                members = order[chosen[which]]
                number = np.bincount(which, minlength=begins.size)[chosen]
                boxes = np.stack([side[members] for side in box], axis=-1)
                rings = None if kind else shadows.rings(members)
                crowded.put_off(by_seat, cells[chosen], number, boxes, rings, scene.half)


def _crowds(series: _Series, pair: Ints, cell: Ints, covering: Ints) -> tuple[Ints, Ints]:
    """Of the ``covering`` shadows those (m,) that lie in cells with others which they may overlap, cell by cell, and where
    (n,) each cell begins among them."""
    if not covering.size:
        return covering, covering
    of = cell[covering]
    order = covering[np.bincount(of)[of] > 1]
    order = order[np.argsort(cell[order], kind="stable")]
    begins = np.flatnonzero(np.diff(cell[order], prepend=-1))
    number = np.diff(begins, append=order.size)
    which = np.repeat(np.arange(begins.size), number)
    pairs = pair[order]
    crossed = (pairs != pairs[begins][which]) | ~series.apart[pairs]
    many = np.bincount(which, crossed, begins.size) > 0
    kept = number[many]
    return order[many[which]], np.cumsum(kept) - kept


def cut_at_plane(rings: Floats, heights: Floats) -> Floats:
    """What of the polygons ``rings`` (N, 4, 2) stands higher than a plane, corners at ``heights`` (N, 4) over it: rings
    (N, 8, 2) with corners repeated; all at one place where nothing does."""
    ahead = heights > LEAST_LIFT_M
    after, after_ahead = np.roll(rings, -1, axis=1), np.roll(ahead, -1, axis=1)
    drop = heights - np.roll(heights, -1, axis=1)
    cuts = ahead != after_ahead
    at = np.where(cuts, heights / np.where(cuts, drop, 1.0), 0.0)
    crossing = rings + at[..., None] * (after - rings)
    ring = np.stack([rings, crossing], axis=2).reshape(len(rings), 8, 2)
    real = np.stack([ahead, cuts], axis=2).reshape(len(rings), 8)
    # corner, crossing, corner, crossing ...; what does not stand in front repeats the last point before it that does
    last = np.maximum.accumulate(np.where(np.tile(real, (1, 2)), np.arange(16), -1), axis=1)[:, 8:]
    last = np.where(last < 0, 0, last % 8)
    return np.take_along_axis(ring, last[..., None], axis=1)
