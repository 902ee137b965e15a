"""One cache for all stages, bounded in bytes; what was used longest ago goes first."""

import dataclasses
from collections import OrderedDict
from collections.abc import Callable, Collection, Hashable
from operator import is_
from threading import Lock
from typing import Any, TypeVar, cast

import numpy as np

_T = TypeVar("_T")
Tick = Callable[[float], None]
"""Told how far (0..1) a long stage is; may raise to stop it."""


def no_tick(share: float) -> None:
    """The tick of one who does not watch."""


class Slots:
    """What was worked out last of each line, stage by stage, with the very objects that it was worked out from.

    A line that nothing touched costs a look; what is held of a line is replaced, never added to.
    """

    def __init__(self) -> None:
        self._held: dict[tuple[str, int], tuple[tuple[object, ...], Any]] = {}

    def get(self, stage: str, line_id: int, reads: tuple[object, ...], compute: Callable[[], _T]) -> _T:
        """The line's result of a stage, computed unless it was from the same objects ``reads``."""
        held = self._held.get((stage, line_id))
        if held is not None and len(held[0]) == len(reads) and all(map(is_, held[0], reads)):
            return cast(_T, held[1])
        value = compute()
        self._held[stage, line_id] = (reads, value)
        return value

    def forget_all_but(self, line_ids: Collection[int]) -> None:
        """Let go of lines that are no longer there."""
        for key in [key for key in tuple(self._held) if key[1] not in line_ids]:
            self._held.pop(key, None)


class Cache:
    """Keeps results by what they were computed from. Safe to ask from several threads. ``slots`` keep those of lines."""

    def __init__(self, *, most_bytes: int = 320_000_000) -> None:
        self.slots = Slots()
        self._most = most_bytes
        self._held: OrderedDict[Hashable, tuple[Any, int]] = OrderedDict()
        self._bytes = 0
        self._lock = Lock()

    def get(self, key: Hashable, compute: Callable[[], _T], *, size: int | None = None) -> _T:
        """The result for ``key``, computed if it is not held; ``size`` spares counting its bytes. Two threads may compute the
        same one; one is kept."""
        with self._lock:
            if key in self._held:
                self._held.move_to_end(key)
                return cast(_T, self._held[key][0])
        value = compute()
        self.put(key, value, size=size)
        return value

    def put(self, key: Hashable, value: Any, *, size: int | None = None) -> None:
        """Hold a result in place of what was held for its key; ``size`` spares counting its bytes."""
        size = size_of(value) if size is None else size
        with self._lock:
            _before, freed = self._held.pop(key, (None, 0))
            self._held[key] = (value, size)
            self._bytes += size - freed
            while self._bytes > self._most and len(self._held) > 1:
                _key, (_value, gone) = self._held.popitem(last=False)
                self._bytes -= gone

    @property
    def held_bytes(self) -> int:
        """How much is held, in bytes of arrays and a rough count of the rest."""
        return self._bytes


def size_of(value: Any) -> int:
    """Bytes of the arrays inside a value of dataclasses, tuples and dicts; 100 for anything else."""
    if isinstance(value, np.ndarray):
        return int(value.nbytes)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return 100 + sum(size_of(getattr(value, field.name)) for field in dataclasses.fields(value))
    if isinstance(value, tuple | list):
        return 100 + sum(size_of(item) for item in value)
    if isinstance(value, dict):
        return 100 + sum(size_of(item) for item in value.values())
    return len(value) if isinstance(value, bytes | str) else 100
