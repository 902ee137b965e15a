"""What gear adds to the shade of a line's mirrors: union of all shadows, less that of the mirrors."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import lcm

import numpy as np

from studio.engine.mirror.favour import TERMS, along_y, in_powers
from studio.engine.shade.blocks import Shadows, covered, in_front, scan
from studio.engine.shade.gear import KINDS, GearShape, LineGear, pose_gear
from studio.engine.shade.meeting import reached
from studio.engine.shade.outlook import Outlook, Sources, hits, outlook, sources_of, steps_alike
from studio.engine.shade.parallel import LineShade
from studio.engine.shade.reach import Bools, Slots, fill_slots, not_left_out, patterns
from studio.engine.shade.rows import LEAST_SUN_COSINE, Floats, RowOfMirrors

_LONG_ROW = 60
"""Neighbours either way that an interior mirror is given."""
_LEAST_FRAMES = 4
"""A row of fewer frames is not long."""
_UPRIGHT_M = 1e-9
_SLABS = 24
"""Slabs an aperture is cut into at least; the error falls with their square."""
_TOGETHER = 20_000
"""Shadows on apertures worked on at once, so that they stay in near memory."""


@dataclass(frozen=True)
class GearShade:
    """Shade by gear on one line, shares 0..1 by sun (S,).

    ``extra`` is the union of all shadows less that of the mirrors, mean over the line; ``worst`` the largest share of
    a single mirror that lies in the shadow of mirrors or gear. ``uneven`` (S,): of the light that the line's windows
    would accept, the share that all shade, mirrors' and gear's, takes over and above its share of the apertures, by where on
    them it falls and how the light favours parts of them; below 0 where it spares that light.
    All 0 where the line's ``favour`` is not given.
    """

    extra: Floats
    worst: Floats
    uneven: Floats


def _bodies_in(sources: Sources, slots: Slots) -> tuple[Floats, Floats]:
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


def _present(sources: Sources, slots: Slots, *, mirrors: int) -> Bools:
    """Which slots exist for each mirror of the view: (A, M, K)."""
    number = slots.k[:, None, :] + np.arange(mirrors)[:, None]
    first, last, stride = (
        bound[slots.source][:, None, :] for bound in (sources.first, sources.last, sources.stride)
    )
    within = slots.used[:, None, :] & (number >= first) & (number <= last)
    within &= (number % stride == 0) | (number == last)
    if sources.absent is not None:
        within &= not_left_out(slots.k, slots.source, sources.absent, mirrors=mirrors)
    return np.asarray(within)


_Found = tuple[Floats, Floats, Floats]
"""Shares (R, mirrors) of apertures in the shade, what (R, mirrors) of accepted light it takes besides, and shares (R, mirrors)
that mirrors alone shade, 0 where each mirror of a line is looked at."""


def _shares(looks: Sequence[Outlook]) -> list[_Found]:
    """What is in the shadow of any member within the ranges of each of ``looks``.

    Apertures of all looks are of one size; they are worked out together, some ``_TOGETHER`` shadows at a time.
    """
    shares: list[_Found] = []
    batch: list[Outlook] = []
    crowd = 0
    for look in looks:
        members = int(np.maximum(look.high - look.low + 1, 0).sum())
        if batch and crowd + members > _TOGETHER:
            shares += _shares_together(batch)
            batch, crowd = [], 0
        batch.append(look)
        crowd += members
    return shares + (_shares_together(batch) if batch else [])


def _shares_together(looks: Sequence[Outlook]) -> list[_Found]:
    slots = [fill_slots(look.low, look.high) for look in looks]
    ends = np.cumsum([len(some.row) for some in slots])
    size, mirrors = max(some.k.shape[1] for some in slots), max(look.mirrors for look in looks)
    centre, extents = np.zeros((ends[-1], size, 2)), np.zeros((ends[-1], size, 3, 2))
    used = np.zeros((ends[-1], size), np.bool_)
    present = np.zeros((ends[-1], mirrors, size), np.bool_)
    of_some = np.zeros((ends[-1], size), np.bool_)  # shadows of mirrors, where some mirrors stand for all
    for look, some, end in zip(looks, slots, ends, strict=True):
        mine, width = slice(end - len(some.row), end), some.k.shape[1]
        if look.some is not None:
            of_some[mine, :width] = some.used & (some.source % len(KINDS) == 0)
        used[mine, :width] = some.used
        centre[mine, :width], extents[mine, :width] = _bodies_in(look.sources, some)
        present[mine, : look.mirrors, :width] = _present(look.sources, some, mirrors=look.mirrors)
    period = lcm(*(int(stride) for look in looks for stride in look.sources.stride))
    share, uneven, alone = np.zeros((3, ends[-1], mirrors))
    favour = _favours(looks, slots)
    crowd = used.sum(axis=1)
    limit = 0
    while limit < crowd.max(initial=0):  # like crowds together, so that a few do not pad all the others
        below, limit = limit, max(8, 2 * limit)
        rows = np.flatnonzero((crowd > below) & (crowd <= limit))
        if rows.size:
            most = int(crowd[rows].max())
            share[rows], uneven[rows], alone[rows] = _crowd(
                looks[0].row,
                centre[rows, :most],
                extents[rows, :most],
                used[rows, :most],
                present[rows, :, :most],
                of_some[rows, :most],
                None if favour is None else favour[rows],
                period=period,
            )
    found = []
    for look, some, end in zip(looks, slots, ends, strict=True):
        parts = np.zeros((3, len(look.low), look.mirrors))
        for part, of_all in zip(parts, (share, uneven, alone), strict=True):
            part[some.row] = of_all[end - len(some.row) : end, : look.mirrors]
        found.append((parts[0], parts[1], parts[2]))
    return found


def _favours(looks: Sequence[Outlook], slots: Sequence[Slots]) -> Floats | None:
    """How light favours parts of the apertures of each row of all ``slots``, one after the other; None where no look tells."""
    if all(look.favour is None for look in looks):
        return None
    return np.concatenate(
        [
            np.zeros((len(some.row), TERMS))
            if look.favour is None
            else look.favour[look.sources.sun[some.row]]
            for look, some in zip(looks, slots, strict=True)
        ]
    )


def _crowd(
    target: RowOfMirrors,
    centre: Floats,
    extents: Floats,
    used: Bools,
    present: Bools,
    of_some: Bools,
    favour: Floats | None,
    *,
    period: int,
) -> _Found:
    """Share (A, M) of apertures like the target's under K shadows, of which each of M mirrors sees those ``present``, what
    they take besides (A, M) of light that favours parts by ``favour`` (A, TERMS), and what those ``of_some`` (A, K) shade
    alone of the first mirror."""
    hidden = _hidden(target, centre, extents, used).astype(np.float32)
    of_some = of_some & present[:, 0]
    present = present & (
        present.astype(np.float32) @ hidden == 0
    )  # what lies in another's shadow makes no pattern of its own
    shared = patterns(present, period=period)
    needed: Bools = np.asarray(present.any(axis=1) | of_some)
    width, height = target.width_m, target.height_m
    scans = scan(centre, extents, needed, width=width, height=height, slabs=_SLABS)
    weights = None
    if favour is not None:
        levels = along_y(scans.y / (height / 2))
        weights = np.einsum("fkq,fq->fk", in_powers(favour)[scans.row], levels)
    area, besides = covered(scans, shared.row, shared.present, right=width / 2, weights=weights)
    alone = np.zeros(present.shape[:2])
    asked = np.flatnonzero(of_some.any(axis=1))
    alone[asked, 0] = covered(scans, asked, of_some[asked], right=width / 2)[0]
    aperture = width * height
    return area[shared.of] / aperture, besides[shared.of] / aperture, alone / aperture


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


@dataclass(frozen=True)
class GearTask:
    """What is asked of :func:`gear_shade`: what the gear of ``target`` and of ``casters`` adds to the shade of mirrors on
    the target, ``mean`` and ``worst`` (S,) as in :class:`LineShade`.

    All lines are posed for the same suns. ``own`` is what the target's gear does alone (:func:`own_gear_of_line`, which
    does not change when a line moves as a whole); where neither a foreign shadow nor one of the row's own mirrors
    reaches the target it is taken as it is, and without it computed. ``kept`` is an earlier answer with the suns (S,) at
    which it still holds (see :func:`reached`). At the suns that are ``dim`` (S,) some mirrors stand for all, but where all
    rows step alike.
    """

    target: LineGear
    casters: tuple[LineGear, ...]
    mean: Floats
    worst: Floats
    own: GearShade | None = None
    kept: tuple[GearShade, Bools] | None = None
    dim: Bools | None = None

    def looks(self) -> list[Outlook]:
        """What reaches the target at the suns that nothing is known of."""
        wanted = np.ones(len(self.target.suns), np.bool_) if self.kept is None else ~self.kept[1]
        found = []
        dim = np.zeros_like(wanted) if self.dim is None else self.dim
        for lines, suns in _by_step(self.target, self.casters, wanted):
            for roughly, some in ((False, suns & ~dim), (True, suns & dim)):
                if some.any():
                    look = outlook(self.target, lines, some, roughly=roughly)
                    found.append(look if self.own is None else look.only(look.foreign()))
        return found

    def answer(self, looks: list[Outlook], shares: list[_Found]) -> GearShade:
        """The answer from the ``shares``, over views and suns, found for the :meth:`looks`."""
        suns = len(self.target.suns)
        extra, worst, uneven = np.zeros((3, suns))
        everywhere = np.ones(suns, np.bool_)
        for known, holds in ((self.own, everywhere), *([self.kept] if self.kept is not None else [])):
            if known is not None:
                extra[holds], worst[holds] = known.extra[holds], known.worst[holds]
                uneven[holds] = known.uneven[holds]
        for look, (share, besides, alone) in zip(looks, shares, strict=True):
            if look.some is not None:
                _places, each = look.some
                by_view = (part.reshape(each.size, look.lit.size) for part in (share, besides, alone))
                all_of_it, uneven_of_it, of_mirrors = by_view
                weights = each / each.sum()
                extra[look.lit] = np.maximum(weights @ (all_of_it - of_mirrors), 0.0)
                worst[look.lit] = np.maximum(all_of_it.max(axis=0), self.worst[look.lit])
                uneven[look.lit] = weights @ uneven_of_it
                continue
            by_mirror, uneven_by = (self._by_mirror(look, part) for part in (share, besides))
            extra[look.lit] = np.maximum(by_mirror.mean(axis=1) - self.mean[look.lit], 0.0)
            worst[look.lit] = np.maximum(by_mirror.max(axis=1), self.worst[look.lit])
            uneven[look.lit] = uneven_by.mean(axis=1)
        return GearShade(extra=extra, worst=worst, uneven=uneven)

    def _by_mirror(self, look: Outlook, part: Floats) -> Floats:
        """What is told over views and suns, by sun and mirror that is there."""
        row = self.target.row
        by_view = part.reshape(row.count // look.mirrors, look.lit.size, look.mirrors).transpose(1, 0, 2)
        return np.asarray(by_view.reshape(look.lit.size, row.count)[:, row.there])


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
        (alike if steps_alike(target.row, caster.row) else others).append(caster)
    if not others:
        return [(casters, wanted)]
    met = reached(target, tuple(others)).any(axis=0)
    return [(tuple(alike), wanted & ~met), (casters, wanted & met)]


def own_gear_of_line(line: LineGear, dim: Bools | None = None) -> GearShade:
    """Shade of the row's own gear on its own mirrors, ends of the row included, without any mirror's shadow; at the suns that
    are ``dim`` (S,) that on the mirrors of its middle frame, of a row that is long and whole."""
    row, together = line.row, int(line.shadows.stride.max())
    if dim is None or row.absent or row.count < _LEAST_FRAMES * together:
        dim = np.zeros(len(line.suns), np.bool_)
    first = row.count // (2 * together) * together
    extra, worst, uneven = np.zeros((3, len(line.suns)))
    for some, begin, seats in ((~dim, 0, row.there), (dim, first, np.arange(together))):
        if some.any():
            seen = replace(
                line.shadows.at(some), first=line.shadows.first - begin, last=line.shadows.last - begin
            )
            under = replace(
                line, suns=line.suns[some], favour=None if line.favour is None else line.favour[some]
            )
            share, besides = (part[:, seats] for part in _own_shares(under, seen, mirrors=int(seats[-1]) + 1))
            extra[some], worst[some] = share.mean(axis=1), share.max(axis=1)
            uneven[some] = besides.mean(axis=1)
    return GearShade(extra=extra, worst=worst, uneven=uneven)


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
    endless = replace(
        line.shadows, first=np.where(lasting, -far, 0), last=np.where(lasting, far, -1), absent=()
    )
    share, _uneven = _own_shares(line, endless, mirrors=gear.mirrors_per_frame)
    return np.asarray(share.mean(axis=1))


def _own_shares(line: LineGear, shadows: Shadows, *, mirrors: int) -> tuple[Floats, Floats]:
    """What is in the shadow of the row's own gear, by sun; its apertures cast nothing."""
    sun = line.row.into_mirror_frame(line.suns)
    lit = np.flatnonzero(sun[:, 2] > LEAST_SUN_COSINE)
    blind = replace(shadows, last=np.where(np.arange(len(KINDS)) == 0, shadows.first - 1, shadows.last))
    sources = sources_of([blind], np.zeros((1, 1, 3)), sun, lit)
    low, high = hits(line.row, sources, mirrors=mirrors)
    share, uneven = np.zeros((2, len(sun), mirrors))
    share[lit], uneven[lit], _alone = _shares(
        [Outlook(line.row, lit, sources, low, high, mirrors, line.favour)]
    )[0]
    return share, uneven
