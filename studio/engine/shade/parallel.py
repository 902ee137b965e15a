"""Shade between parallel flat apertures, in closed form.

Under parallel light a flat aperture throws on a parallel plane a copy of itself. Its centre falls at
t - s (t.n)/(s.n) from the target's, t the offset caster minus target, s towards the sun, n the planes' normal
(parallel projection along the ray). Caster and target share their axes, so every shadow on the target is an
axis-aligned rectangle and the share is the exact area of a union of rectangles.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from studio.engine.shade.reach import (
    Bools,
    Ints,
    Views,
    fill_slots,
    index_range,
    left_out,
    not_left_out,
    patterns,
    seen,
    views,
)
from studio.engine.shade.rows import LEAST_SUN_COSINE, Floats, RowOfMirrors, project, same_axes, same_steps


@dataclass(frozen=True)
class LineShade:
    """Shaded share (0..1) of the apertures of one line, for S suns, M places and C casting lines.

    ``mean`` and ``worst`` (S,) are its mean and its largest over the mirrors that are there, ``worst_mirror`` (S,) the place
    of the first of those that lose most. ``by_caster`` (S, C) is what each line would shade alone, and ``by_own_row`` (S,)
    the target's own row, each a sum over its mirrors, so that they may together exceed ``mean``. ``tell`` gives
    ``by_mirror``. A sun behind the apertures gives 0: there is no light to lose.
    """

    mean: Floats
    worst: Floats
    worst_mirror: Ints
    by_caster: Floats
    by_own_row: Floats
    tell: Callable[[], Floats]

    @cached_property
    def by_mirror(self) -> Floats:
        """Shares (S, M), exact (union of shadows), 0 at places left out; put together when first asked for."""
        return self.tell()


def line_shade(target: RowOfMirrors, by_mirror: Floats, by_line: Floats) -> LineShade:
    """The shade of ``target`` from shares ``by_mirror`` (S, M), and from what its casters and last its own row shade alone,
    ``by_line`` (S, C + 1)."""
    return LineShade(
        mean=target.mean(by_mirror),
        worst=by_mirror.max(axis=1),
        worst_mirror=by_mirror.argmax(axis=1),
        by_caster=by_line[:, :-1],
        by_own_row=by_line[:, -1],
        tell=lambda: by_mirror,
    )


def union_of_rectangles(rectangles: Floats, *, used: Bools | None = None) -> Floats:
    """Exact area (...) of the union of K axis-aligned rectangles (..., K, 4), each x0, y0, x1, y1.

    Rectangles that are empty (x1 <= x0 or y1 <= y0) or not ``used`` (..., K) count nothing. K = 0 gives 0.
    """
    lead, members = rectangles.shape[:-2], rectangles.shape[-2]
    if members == 0:
        return np.zeros(lead)
    flat = rectangles.reshape(-1, members, 4)
    valid = (flat[..., 2] > flat[..., 0]) & (flat[..., 3] > flat[..., 1])
    if used is not None:
        valid &= np.broadcast_to(used, (*lead, members)).reshape(-1, members)
    count = valid.sum(axis=1)
    area = np.zeros(len(flat))
    limit = 0
    while limit < members:  # like sizes together, so that a few crowded unions do not pad all the others
        below, limit = limit, min(max(1, 2 * limit), members)
        chosen = np.flatnonzero((count > below) & (count <= limit))
        if chosen.size == 0:
            continue
        order = np.argsort(~valid[chosen], axis=1, kind="stable")[:, :limit].T
        boxes = flat[chosen, order]
        area[chosen] = union_of_boxes(boxes.transpose(2, 0, 1)[[0, 2, 1, 3]], valid[chosen, order])
    return area.reshape(lead)


def union_of_boxes(boxes: Floats, used: Bools) -> Floats:
    """Exact areas (n,) of the unions of K boxes (4, K, n) that are ``used`` (K, n): each least and most x, least and most y.

    In each slab between neighbouring y, a sweep along x.
    """
    boxes = np.where(used, boxes, 0.0)
    x0, x1, y0, y1 = boxes
    if boxes.shape[1] <= 2:
        area = ((x1 - x0) * (y1 - y0)).sum(axis=0)
        if boxes.shape[1] == 2:
            wide = np.minimum(x1[0], x1[1]) - np.maximum(x0[0], x0[1])
            tall = np.minimum(y1[0], y1[1]) - np.maximum(y0[0], y0[1])
            area -= np.maximum(wide, 0.0) * np.maximum(tall, 0.0)
        return np.asarray(area)
    order = np.argsort(np.where(used, x0, np.inf).T, axis=1, kind="stable").T
    levels = np.sort(np.concatenate([y0, y1]).T, axis=1).T
    lower, upper = (np.ascontiguousarray(some) for some in (levels[:-1], levels[1:]))
    length, swept = np.zeros_like(lower), np.full_like(lower, -np.inf)
    for left, right, bottom, top in boxes[:, order, np.arange(boxes.shape[2])].transpose(1, 0, 2):
        end = np.where((bottom <= lower) & (top >= upper), right, -np.inf)
        length += np.maximum(end - np.maximum(swept, left), 0.0)
        swept = np.maximum(swept, end, out=swept)
    return np.asarray((length * (upper - lower)).sum(axis=0))


def shade_of_line(target: RowOfMirrors, casters: tuple[RowOfMirrors, ...], suns: Floats) -> LineShade:
    """Shade on ``target`` by ``casters`` and by the target's own row, for ``suns`` (S, 3).

    Suns are unit vectors towards the sun, site frame. All rows must have the same mirror axes; sizes, directions,
    spacings and counts may differ. Exact to rounding.

    Raises ValueError when a caster's apertures are not parallel to the target's (see
    :func:`studio.engine.shade.clip.shade_of_line`).
    """
    return _shade((target,), casters, views(target, (*casters, target)), suns)[0]


def shade_of_each(
    targets: Sequence[RowOfMirrors], casters: tuple[RowOfMirrors, ...], suns: Floats
) -> list[LineShade]:
    """Shade on each of some ``targets`` by ``casters`` and by its own row, as :func:`shade_of_line` has it; a target may
    stand among the casters and is none to itself. Targets that are alike but for where they stand are worked out at once,
    in little more time than one of them."""
    one = targets[0]
    alike = all(
        _alike(one, other) and same_axes(one, other) and same_steps(one, other) for other in targets[1:]
    )
    if not alike or not all(same_steps(one, caster) for caster in casters):
        return [_by_itself(target, casters, suns) for target in targets]
    firsts = np.array([caster.first for caster in casters]).reshape(-1, 3)
    seats = np.array([target.first for target in targets])
    base = np.zeros((len(targets), len(casters) + 1, 3))
    base[:, :-1] = one.into_mirror_frame(firsts[None] - seats[:, None])
    return _shade(tuple(targets), casters, Views(base=base, mirrors=one.count), suns)


def _by_itself(target: RowOfMirrors, casters: tuple[RowOfMirrors, ...], suns: Floats) -> LineShade:
    others = [place for place, caster in enumerate(casters) if caster is not target]
    shade = shade_of_line(target, tuple(casters[place] for place in others), suns)
    by_caster = np.zeros((len(shade.mean), len(casters)))
    by_caster[:, others] = shade.by_caster
    return replace(shade, by_caster=by_caster)


def _alike(one: RowOfMirrors, other: RowOfMirrors) -> bool:
    def size(row: RowOfMirrors) -> tuple[object, ...]:
        return row.count, row.absent, row.width_m, row.height_m, row.plane_z_m

    return size(one) == size(other)


def _shade(
    targets: tuple[RowOfMirrors, ...], casters: tuple[RowOfMirrors, ...], view: Views, suns: Floats
) -> list[LineShade]:
    """Shade on targets that are alike, seen from a view of each, or on one of them, seen from a view of each of its mirrors."""
    target = targets[0]
    if not all(same_axes(target, caster) for caster in casters):
        raise ValueError(
            "a casting row faces elsewhere than the target; closed-form shade needs parallel apertures"
        )
    everyone = (*casters, target)
    sun = target.into_mirror_frame(np.asarray(suns, dtype=float))
    lit = np.flatnonzero(sun[:, 2] > LEAST_SUN_COSINE)
    by_mirror = np.zeros((len(targets), len(sun), target.count))
    by_line = np.zeros((len(targets), len(sun), len(everyone)))
    size = np.array([[row.width_m, row.height_m] for row in everyone])
    counts = np.array([row.count for row in everyone])
    steps = target.into_mirror_frame(np.array([row.step() for row in everyone]))
    rim = np.array([[0.0, 0.0, row.plane_z_m - target.plane_z_m] for row in everyone])
    seats = len(view.base)
    # rows of the arrays below run over (view, sun), columns over the casting lines
    offset = np.repeat(view.base + rim, lit.size, axis=0)
    light = np.tile(sun[lit], (seats, 1))[:, None, :]
    start, step = project(offset, light), project(steps[None], light)
    own = np.array([target.width_m, target.height_m])
    last = np.tile(counts - 1, (seats, 1))
    itself = np.array([[each is caster for caster in casters] for each in targets], np.bool_)
    last[:, :-1] = np.where(itself, -view.mirrors, last[:, :-1])
    low, high = index_range(
        start,
        step,
        (size + own) / 2,
        offset[..., 2],
        steps[:, 2],
        np.full(len(everyone), 1 - view.mirrors),
        np.repeat(last, lit.size, axis=0),
    )
    slots = fill_slots(low, high)
    if slots.row.size:
        kept = slots.row[:, None]
        centre = start[kept, slots.source] + slots.k[..., None] * step[kept, slots.source]
        half = size[slots.source] / 2
        boxes = np.concatenate(
            [np.maximum(centre - half, -own / 2), np.minimum(centre + half, own / 2)], axis=-1
        )
        present = seen(
            slots.k, slots.used, np.zeros_like(slots.k), counts[slots.source] - 1, mirrors=view.mirrors
        )
        seat, of_sun = np.divmod(slots.row, lit.size)
        of_target = seat if len(targets) > 1 else np.zeros_like(seat)
        mirror = (seat - of_target)[:, None] + np.arange(view.mirrors)
        absent = left_out(everyone)
        if absent is not None:
            present &= not_left_out(slots.k, slots.source, absent, mirrors=view.mirrors)
            present &= ~absent[-1, mirror][..., None]
        shared = patterns(present)
        share = union_of_rectangles(boxes[shared.row], used=shared.present) / own.prod()
        by_mirror[of_target[:, None], lit[of_sun][:, None], mirror] = share[shared.of]
        single = np.maximum(boxes[..., 2:] - boxes[..., :2], 0.0).prod(axis=-1) * present.sum(axis=1)
        place = (of_target * len(sun) + lit[of_sun])[:, None] * len(everyone) + slots.source
        taken = np.where(slots.used, single, 0.0) / own.prod()
        by_line += np.bincount(place.ravel(), taken.ravel(), by_line.size).reshape(by_line.shape)
    by_line /= target.mirrors
    return [line_shade(each, *its) for each, *its in zip(targets, by_mirror, by_line, strict=True)]
