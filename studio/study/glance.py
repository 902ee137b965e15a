"""What reads longer than a glance: while a hand drags it may be of some answers before, and is looked at in turn."""

from collections.abc import Hashable
from dataclasses import dataclass, fields
from math import atan2

from studio.design.design import Design
from studio.engine.ground.spacing import Conflict
from studio.study.assessment import HeaderRun, PlacedLine
from studio.study.findings import Finding
from studio.study.heat import FieldHeat
from studio.study.hot import HotSpot
from studio.study.parts import Shopping
from studio.study.rounds import Glance


@dataclass(frozen=True)
class Slow:
    """What was last worked out, and what of: the hot spot, which lines stood there, and header with the heat it takes, room,
    material list, working hours and findings; and the share ``through`` of the heat that came through the headers when all
    was last worked out at once."""

    design: Design
    stands: tuple[Hashable, ...]
    hot: HotSpot | None
    header: HeaderRun
    heat: FieldHeat
    conflicts: tuple[Conflict, ...]
    shopping: Shopping
    hours: float
    findings: tuple[Finding, ...]
    through: float

    def serves(self, design: Design, placed: tuple[PlacedLine, ...]) -> bool:
        """Whether nothing but where lines stand is another in ``design``."""
        names = [field.name for field in fields(design) if field.name != "lines"]
        return stands_of(placed) == self.stands and all(
            getattr(design, name) is getattr(self.design, name) for name in names
        )


def standing(before: Slow | None, glance: Glance | None, part: Glance) -> Slow | None:
    """What was last worked out, where it stands for a part; None where the part is to be worked out now."""
    return None if glance == part else before


def stands_of(placed: tuple[PlacedLine, ...]) -> tuple[Hashable, ...]:
    """Which lines stand there and what each is like, wherever it stands and, over uneven ground, at whatever grade."""
    return tuple((line.id, round(atan2(line.along[0], line.along[1]), 9), *line.make[1:]) for line in placed)
