"""What a hand does to the picture under the plan."""

from collections.abc import Sequence
from dataclasses import replace

from studio.design.design import Design
from studio.design.site import Underlay
from studio.edits.edit import Edit
from studio.engine.ground.similarity import best_similarity
from studio.errors import BadInputError
from studio.text import _, number


def set_underlay(
    design: Design, *, asset: str, x_m: float, y_m: float, m_per_pixel: float, turned_deg: float = 0.0, origin: str = ""
) -> Edit:  # fmt: skip
    """Lay a kept picture under the plan, its middle at a place; its strength stays as it was."""
    underlay = replace(
        design.underlay, asset=asset, x_m=_fine(x_m), y_m=_fine(y_m), m_per_pixel=_size(m_per_pixel),
        turned_deg=_turn(turned_deg), origin=origin,
    )  # fmt: skip
    name = origin.partition(",")[0] or _("a picture")
    return Edit(_("Lay {name} under the plan").format(name=name), replace(design, underlay=underlay))


def place_underlay(
    design: Design, *, first: Sequence[float], second: Sequence[float], to_first: Sequence[float],
    to_second: Sequence[float],
) -> Edit:  # fmt: skip
    """Scale, turn and move the picture so that what lies under ``first`` and ``second`` (m) comes to lie at
    ``to_first`` and ``to_second``."""
    underlay = _there(design)
    laid, _off = best_similarity([first, second], [to_first, to_second])
    x, y = laid.of([underlay.x_m, underlay.y_m])
    size = _size(underlay.m_per_pixel * laid.scale)
    new = replace(
        underlay, x_m=_fine(x), y_m=_fine(y), m_per_pixel=size, turned_deg=_turn(underlay.turned_deg + laid.turned_deg)
    )  # fmt: skip
    label = _("Scale the picture to {size} m a pixel").format(size=number(size, figures=3))
    return Edit(label, replace(design, underlay=new))


def move_underlay(design: Design, *, dx_m: float, dy_m: float) -> Edit:
    """Move the picture."""
    underlay = _there(design)
    new = replace(underlay, x_m=_fine(underlay.x_m + dx_m), y_m=_fine(underlay.y_m + dy_m))
    return Edit(_("Move the picture"), replace(design, underlay=new))


def turn_underlay(design: Design, *, turned_deg: float) -> Edit:
    """Turn the picture about its middle until it stands so, clockwise."""
    new = replace(_there(design), turned_deg=_turn(turned_deg))
    label = _("Turn the picture to {angle}°").format(angle=number(new.turned_deg, digits=1))
    return Edit(label, replace(design, underlay=new))


def fade_underlay(design: Design, *, strength: float) -> Edit:
    """Show the picture stronger or fainter: 1 in full, 0 not at all."""
    new = replace(_there(design), strength=float(strength))
    label = _("Show the picture at {share} %").format(share=number(100 * new.strength, digits=0))
    return Edit(label, replace(design, underlay=new))


def clear_underlay(design: Design) -> Edit:
    """Take the picture away."""
    _there(design)
    return Edit(_("Take the picture away"), replace(design, underlay=Underlay()))


def _there(design: Design) -> Underlay:
    if not design.underlay.asset:
        raise BadInputError(_("There is no picture under the plan; bring one in from a PNG or JPEG file."))
    return design.underlay


def _turn(angle_deg: float) -> float:
    """An angle as it is kept: above -180 to 180, to a ten-thousandth."""
    return round(180.0 - (180.0 - float(angle_deg)) % 360.0, 4) + 0.0


def _fine(metres: float) -> float:
    """A place as it is kept: to a millimetre."""
    return round(float(metres), 3) + 0.0


def _size(m_per_pixel: float) -> float:
    """Metres a pixel as they are kept: to six figures, so that 500 m are good to 3 mm."""
    return float(f"{m_per_pixel:.6g}")
