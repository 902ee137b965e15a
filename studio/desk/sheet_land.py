"""What stands on the sheet for an obstacle, and the skyline among what stands there for the site."""

from typing import Any

from studio.design.design import Design
from studio.design.fields import Text, fields_of, mark
from studio.design.obstacles import corners_of
from studio.desk.field_editor import Bound
from studio.desk.sheet_parts import Group, Page, bound_in
from studio.edits.obstacles import skyline_text, type_skyline
from studio.text import _, plural

_SKYLINE = Text(
    mark("skyline"),
    "",
    mark("Azimuth and elevation in degrees, pair by pair, as 90 4.5; 120 8; empty where it is level"),
    longest=20_000,
)


def obstacle_page(design: Design, place: int) -> Page:
    """The sheet of one obstacle."""
    one, path = design.obstacles[place], f"obstacles.{place + 1}"
    where = () if corners_of(one) else ("place.1", "place.2")
    cls: Any = type(one)
    names = [field.name for field in fields_of(cls)]
    bounds = tuple(bound_in(design, f"{path}.{name}") for name in (*names, *where))

    def about(d: Design) -> str:
        kind = _(cls.TITLE)
        if place < len(d.obstacles) and (there := corners_of(d.obstacles[place])):
            corners = plural("{count} corner", "{count} corners", len(there))
            return _("{kind}, {corners}").format(kind=kind, corners=corners)
        return kind

    group = Group("obstacle", _("Obstacle"), bounds, open=True)
    return Page(_("Obstacle {number}").format(number=place + 1), about, (group,), ("delete_obstacle",))


def horizon_group() -> Group:
    """The skyline as a list that is typed."""
    bound = Bound(_SKYLINE, skyline_text, lambda d, text: type_skyline(d, text=text), optional=True)

    def brief(d: Design) -> str:
        count = len(d.horizon.skyline)
        return plural("{count} point", "{count} points", count) if count else _("level")

    return Group("horizon", _("Horizon"), (bound,), brief)
