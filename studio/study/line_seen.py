"""A line by what its own statics read, wherever on a plane it stands: so that a drag does not work them out again."""

from studio.design.design import Design
from studio.ground import surface_of
from studio.study.assessment import PlacedLine


class LineSeen:
    """A line of a design as a key: alike where make, motion, pipe, oil, ground and the line's own stand are alike."""

    def __init__(self, design: Design, line: PlacedLine) -> None:
        self.design, self.line = design, line
        own = design.line(line.id)
        self._reads = (
            design.motion, design.mirror, design.receiver, design.pipe, design.oil, surface_of(design.ground), line.id, line.count,
            line.spacing_m, line.along.tobytes(), line.axes.tobytes(), own.stands_at_m,
            None if design.ground.heights is None else line.first.tobytes(),
        )  # fmt: skip

    def __hash__(self) -> int:
        return hash(self._reads)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, LineSeen) and self._reads == other._reads
