"""A line by what its own statics read, wherever on a plane it stands: so that a drag does not work them out again."""

from collections.abc import Callable, Hashable, Sequence
from operator import is_
from typing import Generic, TypeVar
from weakref import WeakKeyDictionary

from studio.design.design import Design
from studio.ground import surface_of
from studio.study.assessment import PlacedLine

_T = TypeVar("_T")


class OfLines(Generic[_T]):
    """What was worked out last of each line that stands, with the very objects it was worked out from: told by a look. It goes
    when the line goes; so it must not hold the line."""

    def __init__(self) -> None:
        self._held: WeakKeyDictionary[PlacedLine, tuple[tuple[object, ...], _T]] = WeakKeyDictionary()

    def get(self, line: PlacedLine, reads: tuple[object, ...], compute: Callable[[], _T]) -> _T:
        """What is held of the line, computed unless it was from the same objects ``reads``."""
        held = self._held.get(line)
        if held is not None and all(map(is_, held[0], reads)):
            return held[1]
        value = compute()
        self._held[line] = reads, value
        return value


class OfMakes(Generic[_T]):
    """What was worked out last of the lines that stand, by their make, with the very objects it was worked out from."""

    def __init__(self) -> None:
        self._reads: tuple[object, ...] = ()
        self._held: dict[Hashable, _T] = {}

    def of_all(
        self,
        placed: Sequence[PlacedLine],
        reads: tuple[object, ...],
        compute: Callable[[PlacedLine], _T],
    ) -> tuple[_T, ...]:
        """What each line has, computed for makes that were not there or that came from other objects."""
        same = len(reads) == len(self._reads) and all(map(is_, reads, self._reads))
        held, found = self._held if same else {}, dict[Hashable, _T]()
        for line in placed:
            if line.make not in found:
                found[line.make] = held[line.make] if line.make in held else compute(line)
        self._reads, self._held = reads, found
        return tuple(found[line.make] for line in placed)


class LineSeen:
    """A line of a design as a key: alike where make, motion, pipe, oil, ground and the line's own stand are alike."""

    def __init__(self, design: Design, line: PlacedLine) -> None:
        self.design, self.line = design, line
        own = design.line(line.id)
        self._reads = (
            design.motion, design.mirror, design.receiver, design.pipe, design.oil, surface_of(design.ground), line.id, line.count, line.absent,
            line.spacing_m, line.along.tobytes(), line.axes.tobytes(), own.stands_at_m,
            None if design.ground.heights is None else line.first.tobytes(),
        )  # fmt: skip
        self._hash = hash(self._reads)

    def __hash__(self) -> int:
        return self._hash

    def __eq__(self, other: object) -> bool:
        return isinstance(other, LineSeen) and self._reads == other._reads


def reads_of(design: Design, line: PlacedLine) -> tuple[object, ...]:
    """The objects that the statics of a line that stands come from, to be told by a look."""
    return (
        design.motion, design.mirror, design.receiver, design.pipe, design.oil, design.ground, design.line(line.id),
    )  # fmt: skip
