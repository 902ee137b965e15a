"""The ground of a document as the engine's surface: the one place where the two meet, for edits, study and drawings."""

from functools import lru_cache

from studio.design.field import Line
from studio.design.heights import unpacked_heights
from studio.design.site import Ground, SpotHeights
from studio.engine.ground.straight import Straight, straight_over
from studio.engine.ground.surface import Plane, Surface, grid_surface, spot_surface

_at_hand: dict[int, tuple[Ground, Surface]] = {}
_MOST_AT_HAND = 32


def surface_of(ground: Ground) -> Surface:
    """The surface of a ground; the same object for the same ground.

    Asked for each line in each frame of a drag, so the very same ground is known without comparing all its heights.
    """
    known = _at_hand.get(id(ground))
    if known is not None and known[0] is ground:
        return known[1]
    surface = _surface(ground)
    if len(_at_hand) >= _MOST_AT_HAND:
        _at_hand.clear()
    _at_hand[id(ground)] = ground, surface
    return surface


@lru_cache(maxsize=16)
def _surface(ground: Ground) -> Surface:
    heights = ground.heights
    if heights is None:
        return Plane(ground.slope_percent, ground.falls_towards_deg)
    if isinstance(heights, SpotHeights):
        return spot_surface([(x, y, height - heights.zero_m) for x, y, height in heights.spots])
    cells = unpacked_heights(heights.cells, rows=heights.rows, columns=heights.columns)
    return grid_surface(cells - heights.zero_m, x_m=heights.x_m, y_m=heights.y_m, step_m=heights.step_m)


def straight_of(line: Line, ground: Ground) -> Straight:
    """How a line lies over the ground."""
    return straight_over(
        surface_of(ground),
        x_m=line.x_m,
        y_m=line.y_m,
        azimuth_deg=line.azimuth_deg,
        spacing_m=line.spacing_m,
        count=line.count,
    )
