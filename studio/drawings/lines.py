"""One line from above, wherever the sun stands."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from studio.design.field import Line
from studio.design.mirror import Mirror
from studio.design.site import Ground
from studio.engine.ground.straight import Straight
from studio.engine.mirror.form import edge_depth
from studio.ground import straight_of
from studio.study.assessment import PlacedLine
from studio.study.place import form_of, placed_on

Array = NDArray[np.float64]
DRIVE_M = 0.55
"""The drive is drawn so far beyond the stroke end on its side."""


@dataclass(frozen=True, eq=False)
class LineOnPlan:
    """One line from above.

    ``corners`` (N, 4, 3): the apertures in the site frame, low edge first (0 to 1), then the high one (2 to 3).
    ``along`` and ``up`` (2,): unit vectors on the plan, along the line and from the low edge to the high one.
    ``stops`` (2, 2): where the pipe ends at full slide, drive end first; ``drive`` (2,): the drive beyond it.
    """

    id: int
    placed: PlacedLine
    corners: Array
    vertices: Array
    along: Array
    up: Array
    stops: Array
    drive: Array

    @cached_property
    def box(self) -> Array:
        """Least and largest x, y, z of its apertures, (2, 3)."""
        return np.stack([self.corners.min(axis=(0, 1)), self.corners.max(axis=(0, 1))])

    @property
    def ends(self) -> Array:
        """First and last vertex on the plan, (2, 2)."""
        return np.asarray(self.vertices[[0, -1], :2])


class LinesOnPlan:
    """Lines from above, each worked out anew only where it, the mirror, the ground or the reach is another."""

    def __init__(self) -> None:
        self._of: tuple[Mirror, Ground, float] | None = None
        self._held: dict[int, tuple[Line, LineOnPlan]] = {}

    def of(
        self, lines: Sequence[Line], mirror: Mirror, ground: Ground, reach_m: float
    ) -> tuple[LineOnPlan, ...]:
        """The lines from above, in their order; what did not change is the very same object."""
        held = self._held if self._of == (mirror, ground, reach_m) else {}
        drawn = {
            line.id: known
            if (known := held.get(line.id)) is not None and known[0] is line
            else (line, line_on_plan(line, mirror, ground, reach_m))
            for line in lines
        }
        self._of, self._held = (mirror, ground, reach_m), drawn
        return tuple(drawn[line.id][1] for line in lines)


def line_on_plan(line: Line, mirror: Mirror, ground: Ground, reach_m: float) -> LineOnPlan:
    """One line from above; ``reach_m`` from the end vertices to where the pipe ends at full slide.

    The same object while the line, and how it lies over the ground, stay.
    """
    return _line_on_plan(line, mirror, straight_of(line, ground), reach_m)


@lru_cache(maxsize=20_000)
def _line_on_plan(line: Line, mirror: Mirror, straight: Straight, reach_m: float) -> LineOnPlan:
    placed = placed_on(line, mirror, straight)
    vertices = placed.vertices()
    x, y, z = placed.axes
    wide, high = x * mirror.width_m / 2, y * mirror.height_m / 2
    rim = z * edge_depth(form_of(mirror))
    aperture = np.stack([-wide - high, wide - high, wide + high, high - wide]) + rim
    along = placed.along[:2] / np.linalg.norm(placed.along[:2])
    up = y[:2] / max(float(np.linalg.norm(y[:2])), 1e-9)
    stops = np.stack([vertices[0, :2] - along * reach_m, vertices[-1, :2] + along * reach_m])
    return LineOnPlan(
        id=line.id, placed=placed, corners=vertices[:, None, :] + aperture, vertices=vertices,
        along=along, up=up, stops=stops, drive=stops[0] - along * DRIVE_M,
    )  # fmt: skip
