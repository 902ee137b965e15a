"""Apertures on which shadows overlap, put off until there are many: unions are cut for many lines together."""

from dataclasses import dataclass

import numpy as np

from studio.engine.shade.parallel import union_of_rectangles
from studio.engine.shade.reach import Ints
from studio.engine.shade.rings import union_of_rings
from studio.engine.shade.rows import Floats


@dataclass(frozen=True)
class _Put:
    """Cells of a field ``into`` that are put off: ``cell`` (n,) of it, ``number`` (n,) of shadows in each, their ``boxes``
    (m, 4) and, where they are slanted, their ``rings`` (m, R, 2)."""

    into: Floats
    cell: Ints
    number: Ints
    boxes: Floats
    rings: Floats | None
    half: Floats


class Crowded:
    """Unions of shadows, put off until there are many to work out together."""

    def __init__(self) -> None:
        self._put: list[_Put] = []
        self.shadows = 0

    def put_off(
        self, into: Floats, cell: Ints, number: Ints, boxes: Floats, rings: Floats | None, half: Floats
    ) -> None:
        """Cells whose shares of ``into`` (suns, M) are to be those of unions."""
        self._put.append(_Put(into, cell, number, boxes, rings, half))
        self.shadows += len(boxes) * (1 if rings is None else rings.shape[1])

    def settle(self) -> None:
        """Work out all that was put off."""
        kinds: dict[tuple[int, bytes], list[_Put]] = {}
        for put in self._put:
            corners = 0 if put.rings is None else put.rings.shape[1]
            kinds.setdefault((corners, put.half.tobytes()), []).append(put)
        self._put, self.shadows = [], 0
        for some in kinds.values():
            shares = iter(np.split(_union_shares(some), np.cumsum([len(put.cell) for put in some])[:-1]))
            for put in some:
                put.into.reshape(-1)[put.cell] = next(shares)


def _union_shares(some: list[_Put]) -> Floats:
    """Shares (n,) of the aperture under the union of the shadows of each cell of ``some``, all of one kind."""
    number = np.concatenate([put.number for put in some])
    boxes = np.concatenate([put.boxes for put in some])
    rings = [put.rings for put in some if put.rings is not None]
    half, ring = some[0].half, np.concatenate(rings) if rings else None
    begins = np.cumsum(number) - number
    area = np.zeros(len(number))
    limit = 1
    while limit < number.max(initial=0):  # like crowds together, so that a few do not pad all the others
        below, limit = limit, max(limit + 1, limit * 4 // 3)
        chosen = np.flatnonzero((number > below) & (number <= limit))
        slot = np.arange(limit)
        used = slot < number[chosen][:, None]
        members = begins[chosen][:, None] + np.where(used, slot, 0)
        if ring is None:
            area[chosen] = union_of_rectangles(boxes[members][..., [0, 2, 1, 3]], used=used)
        else:
            area[chosen] = union_of_rings(ring[members], used, half)
    return np.asarray(area / (4.0 * float(half.prod())))
