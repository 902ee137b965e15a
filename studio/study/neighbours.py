"""Which lines are near enough to shade each other; of a field in which little moved only that is looked at again."""

import numpy as np
from numpy.typing import NDArray

from studio.engine.shade.reach import Bools
from studio.study.assessment import PlacedLine

Places = NDArray[np.intp]

Near = dict[int, tuple[PlacedLine, ...]]
_FEW = 8
"""Where more lines moved at once, all are looked at."""


class Neighbours:
    """Who is near whom, as last found."""

    def __init__(self) -> None:
        self._placed: tuple[PlacedLine, ...] = ()
        self._reads: tuple[float, float, float] = (0.0, 0.0, 0.0)
        self._near: Bools = np.zeros((0, 0), np.bool_)
        self._found: Near = {}

    def of(self, placed: tuple[PlacedLine, ...], *, tall_m: float, wide_m: float, shadow: float) -> Near:
        """Of each line, by its id, the other lines that can shade its mirrors, in their order.

        A line whose nearest mirror is farther than ``wide_m`` and the longest shadow of its highest point is left out:
        ``tall_m`` is how high gear stands over the lowest point of a mirror, ``shadow`` the longest shadow of a metre's height.
        """
        reads = tall_m, wide_m, shadow
        moved = self._moved(placed) if reads == self._reads else None
        low, high = (
            np.array(corners).reshape(-1, 3)
            for corners in (zip(*(line.box for line in placed), strict=True) if placed else ((), ()))
        )
        every = np.arange(len(placed), dtype=np.intp)

        def near(targets: Places, casters: Places) -> Bools:
            one, other = targets[:, None], casters[None, :]
            gap = np.maximum(np.maximum(low[one] - high[other], low[other] - high[one]), 0.0)
            rise = np.abs(high[other][..., 2] - low[one][..., 2])
            found = np.hypot(gap[..., 0], gap[..., 1]) < (tall_m + rise) * shadow + wide_m
            return np.asarray(found & (one != other))

        if moved is None:
            self._near = near(every, every)
            anew = every
        elif moved.size:
            before = self._near[:, moved].any(axis=1)
            self._near = self._near.copy()
            self._near[moved] = near(moved, every)
            self._near[:, moved] = near(every, moved)
            anew = np.flatnonzero(before | self._near[:, moved].any(axis=1) | np.isin(every, moved))
        else:
            return self._found
        lines = np.fromiter(placed, dtype=object, count=len(placed))
        fresh = {placed[place].id: tuple(lines[self._near[place]].tolist()) for place in anew.tolist()}
        held = self._found
        self._found = {line.id: fresh[line.id] if line.id in fresh else held[line.id] for line in placed}
        self._placed, self._reads = placed, reads
        return self._found

    def _moved(self, placed: tuple[PlacedLine, ...]) -> Places | None:
        """The places of lines that are others than before; None where the field is another or much moved."""
        if [line.id for line in placed] != [line.id for line in self._placed]:
            return None
        pairs = enumerate(zip(placed, self._placed, strict=True))
        moved = [place for place, (now, then) in pairs if now is not then]
        return np.array(moved, np.intp) if len(moved) <= _FEW else None
