"""What stands at the canvas' foot: where the hand is, how high the land is there, how it falls."""

from math import atan2, degrees, hypot

from studio.design.site import Ground, Point
from studio.edits.geometry import compass_word, ground_height
from studio.ground import surface_of
from studio.text import _, number

_LEVEL_PERCENT = 1e-3


def told_of(ground: Ground, hand: Point | None) -> list[str]:
    """The hand's place and height, and the slope of the ground: of measured heights that at the hand's place."""
    parts = []
    if hand is not None:
        x, y = hand
        parts += [
            _("x {x} m").format(x=number(x, digits=2)), _("y {y} m").format(y=number(y, digits=2)),
            _("height {z} m").format(z=number(ground_height(ground, x, y), digits=2)),
        ]  # fmt: skip
    slope, towards = ground.slope_percent, ground.falls_towards_deg
    if ground.heights is not None:
        if hand is None:
            return [_("measured heights")]
        east, north = surface_of(ground).rise_at(*hand)
        slope, towards = 100 * hypot(east, north), degrees(atan2(-east, -north))
    if slope < _LEVEL_PERCENT:
        parts.append(_("level ground") if ground.heights is None else _("level here"))
    else:
        said = number(slope, digits=1).removesuffix(".0")
        parts.append(_("falls {slope} % to {way}").format(slope=said, way=compass_word(towards)))
    return parts
