"""What stands on the sheet for an obstacle, and the skyline among what stands there for the site."""

from typing import Any

from studio.design.design import Design
from studio.design.fields import Text, fields_of, mark
from studio.design.obstacles import corners_of
from studio.design.site import Ground, SpotHeights
from studio.desk.bound import Bound
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


def ground_groups(design: Design, *, open_: bool = False) -> tuple[Group, ...]:
    """The ground: its slope; measured heights, which stand in place of the slope, before it where there are any."""
    fields = [field.name for field in fields_of(Ground)]
    heights = design.ground.heights
    if heights is None:
        bounds = tuple(bound_in(design, f"ground.{name}") for name in fields)
        return (Group("ground", _(Ground.TITLE), bounds, _slope, open=open_),)
    own = ("zero_m", "origin") if heights.kind == "spots" else ("x_m", "y_m", "step_m", "zero_m", "origin")
    unused = tuple(
        bound_in(design, f"ground.{name}", label=_("{name} (does not count)").format(name=_(field.label)))
        for name, field in ((f.name, f.declaration) for f in fields_of(Ground))
    )
    return (
        Group(
            "ground", _(Ground.TITLE), tuple(bound_in(design, f"ground.heights.{name}") for name in own), _measured, open=True
        ),
        Group("ground.slope", _("Slope without the heights"), unused, under="ground"),
    )  # fmt: skip


def ground_actions(design: Design) -> tuple[str, ...]:
    """What can be done to the ground."""
    return () if design.ground.heights is None else ("clear_heights",)


def _slope(design: Design) -> str:
    slope = design.ground.slope_percent
    return f"{slope:g} %" if slope else _("level")


def _measured(design: Design) -> str:
    heights = design.ground.heights
    if heights is None:
        return _slope(design)
    if isinstance(heights, SpotHeights):
        return plural("{count} spot height", "{count} spot heights", len(heights.spots))
    return _("grid of {columns} × {rows} heights").format(columns=heights.columns, rows=heights.rows)


def horizon_group() -> Group:
    """The skyline as a list that is typed."""
    bound = Bound(_SKYLINE, skyline_text, lambda d, text: type_skyline(d, text=text), optional=True)

    def brief(d: Design) -> str:
        count = len(d.horizon.skyline)
        return plural("{count} point", "{count} points", count) if count else _("level")

    return Group("horizon", _("Horizon"), (bound,), brief)
