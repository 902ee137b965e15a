"""What stands on the sheet for the picture under the plan."""

from studio.design.design import Design
from studio.desk.sheet_parts import Group, Page, bound_in
from studio.text import _, number

_FIELDS = ("strength", "turned_deg", "m_per_pixel")
_PLACE = ("x_m", "y_m", "origin")


def picture_page(design: Design) -> Page:
    """The sheet of the picture."""
    return Page(_("Picture"), _about, tuple(picture_groups(design, open_=True)), ("clear_underlay",))


def picture_groups(design: Design, *, open_: bool = False) -> list[Group]:
    """How the picture is shown and where it lies; nothing where there is none."""
    if not design.underlay.asset:
        return []
    bounds = tuple(bound_in(design, f"underlay.{name}") for name in (*_FIELDS, *_PLACE))
    return [Group("underlay", _("Picture underlay"), bounds, _brief, open_)]


def _about(design: Design) -> str:
    return design.underlay.origin or _("under the plan")


def _brief(design: Design) -> str:
    if not design.underlay.asset:
        return ""
    return _("{size} m a pixel").format(size=number(design.underlay.m_per_pixel, figures=3))
