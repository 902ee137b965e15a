"""Apertures on which shadows overlap, put off until there are many: unions are cut for many lines together.

Where few series of shadows meet and none overlaps itself, inclusion and exclusion give the union of rectangles: of any more
shadows together than there are series, nothing is common. Everywhere else shadows that lie in the largest are left out first.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from studio.engine.shade.parallel import union_of_boxes
from studio.engine.shade.reach import Bools, Ints
from studio.engine.shade.rings import union_of_rings
from studio.engine.shade.rows import Floats

_MOST_WAITING = 200_000
"""Corners and boxes of overlapping shadows that wait to be worked out together."""
_MOST_SERIES, _MOST_SHADOWS = 3, 7
"""On apertures under no more of them the union of rectangles is found by inclusion and exclusion."""
_TOGETHER = 24_000
"""Intersections worked on at once, so that they stay in near memory."""


@dataclass(frozen=True)
class Crowds:
    """Cells (n,) under ``number`` (n,) shadows each, of ``depth`` (n,) series that do not overlap themselves, or 0.

    ``boxes`` and ``inner`` (4, m) are the least boxes around all those shadows and boxes within them, cut by the aperture:
    least and most x, least and most y. ``rings`` (m, R, 2) are polygons of shadows that are slanted; None where all are boxes.
    """

    cell: Ints
    number: Ints
    depth: Ints
    boxes: Floats
    inner: Floats
    rings: Floats | None


class Crowded:
    """Cells of ``into`` (cells,) whose shares are to be those of unions, put off until there are many to work out together.
    Apertures reach ``half`` (2,) either way."""

    def __init__(self, into: Floats, half: Floats) -> None:
        self._into, self._half = into, half
        self._put: list[Crowds] = []
        self._waiting = 0

    def put_off(self, crowds: Crowds) -> None:
        """Cells that are to be worked out."""
        self._put.append(crowds)
        self._waiting += crowds.boxes.shape[1] * (1 if crowds.rings is None else crowds.rings.shape[1])
        if self._waiting > _MOST_WAITING:
            self.settle()

    def settle(self) -> None:
        """Work out all that was put off."""
        kinds: dict[int, list[Crowds]] = {}
        for put in self._put:
            kinds.setdefault(0 if put.rings is None else put.rings.shape[1], []).append(put)
        self._put, self._waiting = [], 0
        for some in kinds.values():
            crowds = _joined(some)
            areas = _unions(crowds, self._half)
            self._into[crowds.cell] = areas / (4.0 * float(self._half.prod()))


def _joined(some: Sequence[Crowds]) -> Crowds:
    rings = [each.rings for each in some if each.rings is not None]
    return Crowds(
        cell=np.concatenate([each.cell for each in some]),
        number=np.concatenate([each.number for each in some]),
        depth=np.concatenate([each.depth for each in some]),
        boxes=np.concatenate([each.boxes for each in some], axis=1),
        inner=np.concatenate([each.inner for each in some], axis=1),
        rings=np.concatenate(rings) if rings else None,
    )


def _unions(crowds: Crowds, half: Floats) -> Floats:
    """Areas (n,) under the shadows of each cell."""
    area = np.zeros(len(crowds.cell))
    begins = np.cumsum(crowds.number) - crowds.number
    few = np.zeros(len(area), np.bool_)
    if crowds.rings is None:
        few = (crowds.depth > 0) & (crowds.depth <= _MOST_SERIES) & (crowds.number <= _MOST_SHADOWS)
        kind = crowds.number * (_MOST_SERIES + 1) + crowds.depth
        for each in np.unique(kind[few]).tolist():
            number, depth = divmod(each, _MOST_SERIES + 1)
            cells = np.flatnonzero(few & (kind == each))
            members = begins[cells] + np.arange(number)[:, None]
            area[cells] = _by_inclusion(crowds.boxes[:, members], depth)
    if not few.all():
        _by_cutting(crowds, begins, np.flatnonzero(~few), half, area)
    return area


def _by_inclusion(boxes: Floats, depth: int) -> Floats:
    """Areas (n,) of unions of K boxes (4, K, n), of no more than ``depth`` of which anything is common."""
    shadows, cells = boxes.shape[1:]
    area = ((boxes[1] - boxes[0]) * (boxes[3] - boxes[2])).sum(axis=0)
    for together in range(2, min(depth, shadows) + 1):
        groups = np.array(list(combinations(range(shadows), together)))
        step = max(1, _TOGETHER // len(groups))
        for first in range(0, cells, step):
            some = boxes[:, :, first : first + step]
            low_x, high_x, low_y, high_y = some[:, groups[:, 0]]
            for member in groups.T[1:]:
                low_x, high_x = np.maximum(low_x, some[0, member]), np.minimum(high_x, some[1, member])
                low_y, high_y = np.maximum(low_y, some[2, member]), np.minimum(high_y, some[3, member])
            common = np.maximum(high_x - low_x, 0.0) * np.maximum(high_y - low_y, 0.0)
            area[first : first + step] -= (-1.0) ** together * common.sum(axis=0)
    return np.asarray(area)


def _by_cutting(crowds: Crowds, begins: Ints, cells: Ints, half: Floats, area: Floats) -> None:
    """Fill ``area`` (n,) of ``cells``: in slabs between sides of boxes, along the edges of polygons."""
    each = crowds.number[cells]
    members = np.repeat(begins[cells] - (np.cumsum(each) - each), each) + np.arange(int(each.sum()))
    seen = _not_hidden(each, crowds.boxes[:, members], crowds.inner[:, members])
    cell = np.repeat(np.arange(cells.size), each)[seen]
    members = members[seen]
    number = np.bincount(cell, minlength=cells.size)
    begins = np.cumsum(number) - number
    if crowds.rings is not None:
        area[cells] = union_of_rings(crowds.rings[members], number, half)
        return
    limit = 0
    while limit < number.max(initial=0):  # like crowds together, so that a few do not pad all the others
        below, limit = limit, max(limit + 1, limit * 4 // 3)
        chosen = np.flatnonzero((number > below) & (number <= limit))
        slot = np.arange(limit)[:, None]
        used = slot < number[chosen]
        shadows = members[begins[chosen] + np.where(used, slot, 0)]
        area[cells[chosen]] = union_of_boxes(crowds.boxes[:, shadows], used)


def _not_hidden(number: Ints, boxes: Floats, inner: Floats) -> Bools:
    """Which of the shadows (m,) do not lie in the one that holds the largest box, cell by cell with ``number`` (n,) each."""
    begins = np.cumsum(number) - number
    size = np.maximum(inner[1] - inner[0], 0.0) * np.maximum(inner[3] - inner[2], 0.0)
    largest = np.repeat(np.maximum.reduceat(size, begins), number) == size
    place = np.where(largest, np.arange(size.size), size.size)
    first = np.repeat(np.minimum.reduceat(place, begins), number)
    around = inner[:, first]
    hidden = (boxes[0] >= around[0]) & (boxes[1] <= around[1]) & (boxes[2] >= around[2])
    hidden &= (boxes[3] <= around[3]) & (first != np.arange(size.size))
    return np.asarray(~hidden)
