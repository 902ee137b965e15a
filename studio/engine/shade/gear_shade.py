"""What gear adds to the shade of a line's mirrors: union of all shadows, less that of the mirrors."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import lcm

import numpy as np

from studio.engine.shade.blocks import Shadows, cast, covered, in_front, scan
from studio.engine.shade.gear import KINDS, GearShape, LineGear, pose_gear
from studio.engine.shade.parallel import LineShade
from studio.engine.shade.reach import Bools, Ints, Slots, fill_slots, index_range, patterns, views
from studio.engine.shade.rows import LEAST_SUN_COSINE, Floats, RowOfMirrors, project, same_axes

_LONG_ROW = 60
"""Neighbours either way that an interior mirror is given."""
_UPRIGHT_M = 1e-9
_SLABS = 24
"""Slabs an aperture is cut into at least; the error falls with their square."""
_TOGETHER = 20_000
"""Shadows on apertures worked on at once, so that they stay in near memory."""


@dataclass(frozen=True)
class GearShade:
    """Shade by gear on one line, shares 0..1 by sun (S,).

    ``extra`` is the union of all shadows less that of the mirrors, mean over the line; ``worst`` the largest share of
    a single mirror that lies in the shadow of mirrors or gear.
    """

    extra: Floats
    worst: Floats


@dataclass(frozen=True)
class _Sources:
    """All series that may shade a target: B lines of G kinds each (Q = B G) over R rows of (view, sun)."""

    base: Floats  # (R, B, 2) shadow of the middle of a line's first aperture, from the middle of the view's
    lift: Floats  # (R, B) its height in front of the view's plane
    step: Floats  # (R, B, 2)
    lift_step: Floats  # (B,)
    sun: Ints  # (R,) which sun of the shadows
    shadows: tuple[Shadows, ...]  # unlike ones only
    of: Ints  # (B,) which of them are a line's
    first: Ints  # (Q,)
    last: Ints  # (Q,)
    stride: Ints  # (Q,)


def _shadows_on(line: LineGear, target: LineGear) -> Shadows:
    """Shadows of ``line`` on the plane of the target's apertures, as if the two rows' first apertures were one."""
    if same_axes(line.row, target.row):
        return line.shadows
    turn = np.array(line.row.axes) @ np.array(target.row.axes).T
    bodies = line.bodies
    turned = replace(
        bodies, centre=bodies.centre @ turn, extents=bodies.extents @ turn, step=bodies.step @ turn
    )
    return cast(turned, target.row.into_mirror_frame(target.suns))


def _sources(series: list[Shadows], base: Floats, sun: Floats, suns: Ints) -> _Sources:
    """``base`` (V, B, 3) leads from a view's aperture to that of the first mirror of each of B series; ``suns`` number
    those of ``sun`` (S, 3) to take."""
    steps = np.array([shadows.step for shadows in series])
    light = np.tile(sun[suns], (len(base), 1))[:, None, :]
    offset = np.repeat(base, suns.size, axis=0)
    unlike = {id(shadows.extents): shadows for shadows in series}
    places = {key: place for place, key in enumerate(unlike)}
    return _Sources(
        base=project(offset, light),
        lift=offset[..., 2],
        step=project(steps[None], light),
        lift_step=steps[:, 2],
        sun=np.tile(suns, len(base)),
        shadows=tuple(unlike.values()),
        of=np.array([places[id(shadows.extents)] for shadows in series]),
        first=np.concatenate([shadows.first for shadows in series]),
        last=np.concatenate([shadows.last for shadows in series]),
        stride=np.concatenate([shadows.stride for shadows in series]),
    )


def _hits(target: RowOfMirrors, sources: _Sources, *, mirrors: int) -> tuple[Ints, Ints]:
    """Ranges of members (R, Q) whose shadow may meet an aperture of the view (their bounding boxes do)."""
    aperture = np.array([target.width_m, target.height_m]) / 2
    by_line = (1, sources.of.size, len(KINDS))
    low, high = index_range(
        sources.base[:, :, None] + _of_lines(sources, "centre"),
        sources.step[:, :, None],
        _of_lines(sources, "half") + aperture,
        sources.lift[:, :, None] + _of_lines(sources, "top"),
        sources.lift_step[None, :, None],
        (sources.first - (mirrors - 1)).reshape(by_line),
        sources.last.reshape(by_line),
    )
    flat = (len(sources.sun), sources.of.size * len(KINDS))
    return low.reshape(flat), high.reshape(flat)


def _of_lines(sources: _Sources, name: str) -> Floats:
    """A field of the shadows for every row and line: (R, B or 1, G, ...)."""
    fields = [getattr(shadows, name)[sources.sun] for shadows in sources.shadows]
    return fields[0][:, None] if len(fields) == 1 else np.stack(fields, axis=1)[:, sources.of]


def _bodies_in(sources: _Sources, slots: Slots) -> tuple[Floats, Floats]:
    """Centres (A, K, 2) and half-extents (A, K, 3, 2) of the shadows in ``slots``."""
    line, kind = np.divmod(slots.source, len(KINDS))
    row, k = slots.row[:, None], slots.k
    sun = sources.sun[row]
    pick = np.empty((*slots.k.shape, 2 + 1 + 3 + 6))
    for place, shadows in enumerate(sources.shadows):
        mine = sources.of[line] == place
        fields = (shadows.centre, shadows.lift[..., None], shadows.rises, shadows.extents)
        at = np.broadcast_to(sun, k.shape)[mine], kind[mine]
        pick[mine] = np.concatenate(
            [field[at].reshape(at[1].size, int(np.prod(field.shape[2:]))) for field in fields], axis=1
        )
    return in_front(
        pick[..., :2] + sources.base[row, line] + k[..., None] * sources.step[row, line],
        pick[..., 6:].reshape(*k.shape, 3, 2),
        pick[..., 2] + sources.lift[row, line] + k * sources.lift_step[line],
        pick[..., 3:6],
    )


def _present(sources: _Sources, slots: Slots, *, mirrors: int) -> Bools:
    """Which slots exist for each mirror of the view: (A, M, K)."""
    number = slots.k[:, None, :] + np.arange(mirrors)[:, None]
    first, last, stride = (
        bound[slots.source][:, None, :] for bound in (sources.first, sources.last, sources.stride)
    )
    within = slots.used[:, None, :] & (number >= first) & (number <= last)
    return np.asarray(within & ((number % stride == 0) | (number == last)))


@dataclass(frozen=True)
class _Outlook:
    """Series that may shade a target under its suns ``lit`` (L,), and the ranges of their members that meet it."""

    row: RowOfMirrors
    lit: Ints
    sources: _Sources
    low: Ints
    high: Ints
    mirrors: int

    def foreign(self) -> Bools:
        """Suns (L,) at which anything but the target's own gear reaches it."""
        # the target's series is the last, its apertures before its gear
        others = self.high.shape[1] - len(KINDS) + 1
        return _any_view((self.high >= self.low)[:, :others], self.lit.size)

    def only(self, suns: Bools) -> "_Outlook":
        """The same under some of its suns (L,)."""
        rows = np.tile(suns, len(self.low) // max(self.lit.size, 1))
        sources = replace(
            self.sources,
            base=self.sources.base[rows],
            lift=self.sources.lift[rows],
            step=self.sources.step[rows],
            sun=self.sources.sun[rows],
        )
        return replace(self, lit=self.lit[suns], sources=sources, low=self.low[rows], high=self.high[rows])


def _shares(looks: Sequence[_Outlook]) -> list[Floats]:
    """Share (R, mirrors) of each aperture in the shadow of any member within the ranges of each of ``looks``.

    Apertures of all looks are of one size; they are worked out together, some ``_TOGETHER`` shadows at a time.
    """
    shares: list[Floats] = []
    batch: list[_Outlook] = []
    crowd = 0
    for look in looks:
        members = int(np.maximum(look.high - look.low + 1, 0).sum())
        if batch and crowd + members > _TOGETHER:
            shares += _shares_together(batch)
            batch, crowd = [], 0
        batch.append(look)
        crowd += members
    return shares + (_shares_together(batch) if batch else [])


def _shares_together(looks: Sequence[_Outlook]) -> list[Floats]:
    slots = [fill_slots(look.low, look.high) for look in looks]
    ends = np.cumsum([len(some.row) for some in slots])
    size, mirrors = max(some.k.shape[1] for some in slots), max(look.mirrors for look in looks)
    centre, extents = np.zeros((ends[-1], size, 2)), np.zeros((ends[-1], size, 3, 2))
    used = np.zeros((ends[-1], size), np.bool_)
    present = np.zeros((ends[-1], mirrors, size), np.bool_)
    for look, some, end in zip(looks, slots, ends, strict=True):
        mine, width = slice(end - len(some.row), end), some.k.shape[1]
        used[mine, :width] = some.used
        centre[mine, :width], extents[mine, :width] = _bodies_in(look.sources, some)
        present[mine, : look.mirrors, :width] = _present(look.sources, some, mirrors=look.mirrors)
    period = lcm(*(int(stride) for look in looks for stride in look.sources.stride))
    share = np.zeros((ends[-1], mirrors))
    crowd = used.sum(axis=1)
    limit = 0
    while limit < crowd.max(initial=0):  # like crowds together, so that a few do not pad all the others
        below, limit = limit, max(4, 2 * limit)
        rows = np.flatnonzero((crowd > below) & (crowd <= limit))
        if rows.size:
            most = int(crowd[rows].max())
            share[rows] = _crowd(
                looks[0].row,
                centre[rows, :most],
                extents[rows, :most],
                used[rows, :most],
                present[rows, :, :most],
                period=period,
            )
    found = [np.zeros((len(look.low), look.mirrors)) for look in looks]
    for whole, some, end in zip(found, slots, ends, strict=True):
        whole[some.row] = share[end - len(some.row) : end, : whole.shape[1]]
    return found


def _crowd(
    target: RowOfMirrors, centre: Floats, extents: Floats, used: Bools, present: Bools, *, period: int
) -> Floats:
    """Share (A, M) of apertures like the target's under K shadows, of which each of M mirrors sees those ``present``."""
    hidden = _hidden(target, centre, extents, used).astype(np.float32)
    present = present & (
        present.astype(np.float32) @ hidden == 0
    )  # what lies in another's shadow makes no pattern of its own
    shared = patterns(present, period=period)
    needed: Bools = np.asarray(present.any(axis=1))
    scans = scan(centre, extents, needed, width=target.width_m, height=target.height_m, slabs=_SLABS)
    area = covered(scans, shared.row, shared.present, right=target.width_m / 2)
    return np.asarray(area[shared.of] / (target.width_m * target.height_m))


def _hidden(target: RowOfMirrors, centre: Floats, extents: Floats, used: Bools) -> Bools:
    """Whether slot k lies wholly inside slot j, an upright rectangle: (A, j, k). Of two alike the first hides."""
    aperture = np.array([target.width_m, target.height_m]) / 2
    half = np.abs(extents).sum(axis=2)
    low, high = np.maximum(centre - half, -aperture), np.minimum(centre + half, aperture)
    upright = used & ((np.abs(extents).min(axis=3).max(axis=2)) < _UPRIGHT_M)
    within = (low[:, None] >= low[:, :, None]) & (high[:, None] <= high[:, :, None])
    inside = within[..., 0] & within[..., 1] & upright[:, :, None]
    order = np.arange(centre.shape[1])
    alike = inside & inside.transpose(0, 2, 1) & (order[:, None] >= order)
    return np.asarray(inside & ~alike)


def _any_view(met: Bools, suns: int) -> Bools:
    """``met`` (views x suns, Q) for any of the series and views: (suns,)."""
    return np.asarray(met.any(axis=1).reshape(len(met) // max(suns, 1), suns).any(axis=0))


def _outlook(target: LineGear, casters: tuple[LineGear, ...], wanted: Bools) -> _Outlook:
    row, lines = target.row, (*casters, target)
    sun = row.into_mirror_frame(target.suns)
    lit = np.flatnonzero((sun[:, 2] > LEAST_SUN_COSINE) & wanted)
    view = views(row, tuple(line.row for line in lines))
    rims = np.array([line.row.plane_z_m * np.array(line.row.axes[2]) for line in lines])
    rim = row.into_mirror_frame(rims) - np.array([0.0, 0.0, row.plane_z_m])
    sources = _sources([_shadows_on(line, target) for line in lines], view.base + rim, sun, lit)
    low, high = _hits(row, sources, mirrors=view.mirrors)
    return _Outlook(row=row, lit=lit, sources=sources, low=low, high=high, mirrors=view.mirrors)


def reached(target: LineGear, casters: tuple[LineGear, ...]) -> Bools:
    """Suns (C, S) at which the mirrors or the gear of each of ``casters`` may meet an aperture of ``target``.

    Where a line that moves does not reach another, before or after, that other's shade stays as it was. Never misses;
    boxes around slanted shadows make it say yes a little too often.
    """
    everywhere = np.ones(len(target.suns), np.bool_)
    view = _outlook(target, casters, everywhere)
    met = (view.high >= view.low)[:, : len(casters) * len(KINDS)]
    by_caster = met.reshape(-1, view.lit.size, len(casters), len(KINDS)).any(axis=(0, 3))
    found = np.zeros((len(casters), len(target.suns)), np.bool_)
    found[:, view.lit] = by_caster.T
    return found


@dataclass(frozen=True)
class GearTask:
    """What is asked of :func:`gear_shade`: what the gear of ``target`` and of ``casters`` adds to the shade of mirrors on
    the target, ``mean`` and ``worst`` (S,) as in :class:`LineShade`.

    All lines are posed for the same suns. ``own`` is what the target's gear does alone (:func:`own_gear_of_line`, which
    does not change when a line moves as a whole); where neither a foreign shadow nor one of the row's own mirrors
    reaches the target it is taken as it is, and without it computed. ``kept`` is an earlier answer with the suns (S,) at
    which it still holds (see :func:`reached`).
    """

    target: LineGear
    casters: tuple[LineGear, ...]
    mean: Floats
    worst: Floats
    own: GearShade | None = None
    kept: tuple[GearShade, Bools] | None = None

    def looks(self) -> list[_Outlook]:
        """What reaches the target at the suns that nothing is known of."""
        wanted = np.ones(len(self.target.suns), np.bool_) if self.kept is None else ~self.kept[1]
        found = []
        for lines, suns in _by_step(self.target, self.casters, wanted):
            look = _outlook(self.target, lines, suns)
            found.append(look if self.own is None else look.only(look.foreign()))
        return found

    def answer(self, looks: list[_Outlook], shares: list[Floats]) -> GearShade:
        """The answer from the ``shares`` (views x suns, mirrors) found for the :meth:`looks`."""
        suns = len(self.target.suns)
        extra, worst = np.zeros(suns), np.zeros(suns)
        everywhere = np.ones(suns, np.bool_)
        for known, holds in ((self.own, everywhere), *([self.kept] if self.kept is not None else [])):
            if known is not None:
                extra[holds], worst[holds] = known.extra[holds], known.worst[holds]
        for look, share in zip(looks, shares, strict=True):
            seats = self.target.row.count // look.mirrors
            by_view = share.reshape(seats, look.lit.size, look.mirrors).transpose(1, 0, 2)
            by_mirror = by_view.reshape(look.lit.size, self.target.row.count)
            extra[look.lit] = np.maximum(by_mirror.mean(axis=1) - self.mean[look.lit], 0.0)
            worst[look.lit] = np.maximum(by_mirror.max(axis=1), self.worst[look.lit])
        return GearShade(extra=extra, worst=worst)


def gear_shade(tasks: Sequence[GearTask]) -> list[GearShade]:
    """The answers to many tasks at once, which is quicker than one by one and gives the same.

    Exact but for slabs in which the edges of two shadows cross.
    """
    looks = [task.looks() for task in tasks]
    answers: dict[int, GearShade] = {}
    sizes = [(task.target.row.width_m, task.target.row.height_m) for task in tasks]
    for size in set(sizes):
        some = [place for place, its in enumerate(sizes) if its == size]
        shares = iter(_shares([look for place in some for look in looks[place]]))
        for place in some:
            answers[place] = tasks[place].answer(looks[place], [next(shares) for _look in looks[place]])
    return [answers[place] for place in range(len(tasks))]


def line_gear_shade(
    target: LineGear,
    casters: tuple[LineGear, ...],
    mirrors: LineShade,
    *,
    own: GearShade | None = None,
    kept: tuple[GearShade, Bools] | None = None,
) -> GearShade:
    """:func:`gear_shade` of one task, see :class:`GearTask`."""
    return gear_shade([GearTask(target, casters, mirrors.mean, mirrors.worst, own, kept)])[0]


def _by_step(
    target: LineGear, casters: tuple[LineGear, ...], wanted: Bools
) -> list[tuple[tuple[LineGear, ...], Bools]]:
    """Casters with the suns (S,) at which they are looked at together.

    How finely shadows are cut depends on whether all lines step alike. Where a line that steps otherwise does not reach
    the target it is left out, so that what a sun brings depends on nothing but the lines that reach there.
    """
    alike: list[LineGear] = []
    others: list[LineGear] = []
    for caster in casters:
        (alike if views(target.row, (caster.row,)).mirrors == target.row.count else others).append(caster)
    if not others:
        return [(casters, wanted)]
    met = reached(target, tuple(others)).any(axis=0)
    return [(tuple(alike), wanted & ~met), (casters, wanted & met)]


def own_gear_of_line(line: LineGear) -> GearShade:
    """Shade of the row's own gear on its own mirrors, ends of the row included, without any mirror's shadow."""
    share = _own_shares(line, line.shadows, mirrors=line.row.count)
    return GearShade(extra=share.mean(axis=1), worst=share.max(axis=1))


def own_gear_share(
    gear: GearShape, row: RowOfMirrors, suns: Floats, *, slide_m: Floats, roll_deg: Floats
) -> Floats:
    """Share (S,) of an interior mirror's aperture in the shadow of the row's own gear.

    ``suns`` (S, 3) are unit vectors in the **mirror frame**; ``slide_m`` and ``roll_deg`` (S,) the poses. The row is
    taken as long: its direction in the mirror frame, its spacing and its aperture count, not where it stands. The mean
    over the mirrors between two frames. A sun behind the aperture gives 0.
    """
    line = pose_gear(
        gear, row, np.asarray(suns, dtype=float) @ np.array(row.axes), slide_m=slide_m, roll_deg=roll_deg
    )
    far = _LONG_ROW * gear.mirrors_per_frame  # a long row has no ends, so neither has its pipe
    lasting = np.array([name not in ("pipe before", "pipe after") for name in KINDS])
    endless = replace(line.shadows, first=np.where(lasting, -far, 0), last=np.where(lasting, far, -1))
    return np.asarray(_own_shares(line, endless, mirrors=gear.mirrors_per_frame).mean(axis=1))


def _own_shares(line: LineGear, shadows: Shadows, *, mirrors: int) -> Floats:
    """Share (S, mirrors) in the shadow of the row's own gear; its apertures cast nothing."""
    sun = line.row.into_mirror_frame(line.suns)
    lit = np.flatnonzero(sun[:, 2] > LEAST_SUN_COSINE)
    blind = replace(shadows, last=np.where(np.arange(len(KINDS)) == 0, shadows.first - 1, shadows.last))
    sources = _sources([blind], np.zeros((1, 1, 3)), sun, lit)
    low, high = _hits(line.row, sources, mirrors=mirrors)
    share = np.zeros((len(sun), mirrors))
    share[lit] = _shares([_Outlook(line.row, lit, sources, low, high, mirrors)])[0]
    return share
