"""What a hand does to measured heights: set spots, move them, type their height, take all heights away."""

from collections.abc import Sequence
from dataclasses import replace

from studio.design.design import Design
from studio.design.site import SpotHeights
from studio.edits.edit import Edit
from studio.errors import BadInputError
from studio.text import _, number

Spot = tuple[float, float, float]
LEAST_SPOTS = 3


def _with(design: Design, label: str, heights: SpotHeights) -> Edit:
    return Edit(label, replace(design, ground=replace(design.ground, heights=heights)))


def _spots_of(design: Design) -> SpotHeights:
    heights = design.ground.heights
    if isinstance(heights, SpotHeights):
        return heights
    if heights is None:
        raise BadInputError(
            _("The ground has no spot heights yet; {least} make one.").format(least=LEAST_SPOTS)
        )
    raise BadInputError(
        _("The heights of this land come from a grid and have no spots; take them away to set spots.")
    )


def _spot(design: Design, spot: int) -> tuple[SpotHeights, Spot]:
    heights = _spots_of(design)
    if not 0 <= spot < len(heights.spots):
        raise BadInputError(
            _("There is no spot {number}; there are {count}.").format(
                number=spot + 1, count=len(heights.spots)
            )
        )
    return heights, heights.spots[spot]


def _replaced(design: Design, label: str, place: int, spot: Spot) -> Edit:
    heights = _spots_of(design)
    spots = (*heights.spots[:place], spot, *heights.spots[place + 1 :])
    return _with(design, label, replace(heights, spots=spots))


def set_spots(
    design: Design, *, spots: Sequence[Sequence[float]], zero_m: float = 0.0, origin: str = ""
) -> Edit:
    """Let measured spots (x, y, height in m) make the ground, in place of what it was."""
    read = tuple((float(x), float(y), float(height)) for x, y, height in spots)
    label = _("Set {count} spot heights").format(count=len(read))
    return _with(design, label, SpotHeights(spots=read, zero_m=float(zero_m), origin=origin))


def add_spot(design: Design, *, x_m: float, y_m: float, height_m: float) -> Edit:
    """One more spot among those there are; the height as it was measured."""
    heights = _spots_of(design)
    spot = (float(x_m), float(y_m), float(height_m))
    label = _("Place a spot {height} m high").format(height=number(height_m, digits=2))
    return _with(design, label, replace(heights, spots=(*heights.spots, spot)))


def move_spot(design: Design, *, spot: int, x_m: float, y_m: float) -> Edit:
    """Move a spot (counted from 0); it keeps its height."""
    _heights, (_x, _y, height) = _spot(design, spot)
    label = _("Move spot {number}").format(number=spot + 1)
    return _replaced(design, label, spot, (float(x_m), float(y_m), height))


def set_spot_height(design: Design, *, spot: int, height_m: float) -> Edit:
    """Another height of a spot (counted from 0), as it was measured."""
    _heights, (x, y, _height) = _spot(design, spot)
    label = _("Set spot {number} to {height} m").format(number=spot + 1, height=number(height_m, digits=2))
    return _replaced(design, label, spot, (x, y, float(height_m)))


def delete_spot(design: Design, *, spot: int) -> Edit:
    """Take a spot (counted from 0) away; three stay."""
    heights, _there = _spot(design, spot)
    if len(heights.spots) <= LEAST_SPOTS:
        raise BadInputError(
            _("The ground keeps {least} spots; take all its heights away instead.").format(least=LEAST_SPOTS)
        )
    rest = heights.spots[:spot] + heights.spots[spot + 1 :]
    return _with(design, _("Remove spot {number}").format(number=spot + 1), replace(heights, spots=rest))


def clear_heights(design: Design) -> Edit:
    """Take all measured heights away, of spots or of a grid; the slope counts again."""
    if design.ground.heights is None:
        raise BadInputError(_("The ground has no measured heights to take away."))
    ground = replace(design.ground, heights=None)
    return Edit(_("Take the measured heights away"), replace(design, ground=ground))
