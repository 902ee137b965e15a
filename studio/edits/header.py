"""What a hand does to header and store."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from studio.design.design import Design
from studio.design.site import Ring
from studio.edits.edit import Edit
from studio.errors import BadInputError
from studio.text import _

Side = Literal["hot", "cold"]


def _route(design: Design, side: Side, corner: int) -> Ring:
    """A drawn route that has this corner; BadInputError where it has not."""
    route = design.header.hot if side == "hot" else design.header.cold
    if not 0 <= corner < len(route):
        raise BadInputError(
            _("There is no corner {number}; the drawn route has {count}.").format(
                number=corner + 1, count=len(route)
            )
        )
    return route


def _with_route(design: Design, label: str, side: Side, route: Ring) -> Edit:
    header = replace(design.header, hot=route) if side == "hot" else replace(design.header, cold=route)
    return Edit(label, replace(design, header=header))


def move_route_corner(design: Design, *, side: Side, corner: int, x_m: float, y_m: float) -> Edit:
    """Move one corner (counted from 0) of a drawn route."""
    route = _route(design, side, corner)
    label = _("Move corner {number} of the header").format(number=corner + 1)
    return _with_route(design, label, side, (*route[:corner], (float(x_m), float(y_m)), *route[corner + 1 :]))


def insert_route_corner(design: Design, *, side: Side, after: int, x_m: float, y_m: float) -> Edit:
    """Put a corner on a drawn route behind corner ``after``."""
    route = _route(design, side, after)
    new = (*route[: after + 1], (float(x_m), float(y_m)), *route[after + 1 :])
    return _with_route(design, _("Insert a corner of the header"), side, new)


def delete_route_corner(design: Design, *, side: Side, corner: int) -> Edit:
    """Take one corner of a drawn route away; it keeps two."""
    route = _route(design, side, corner)
    if len(route) <= 2:
        raise BadInputError(_("A drawn route keeps two corners; let the header follow the lines instead."))
    label = _("Remove corner {number} of the header").format(number=corner + 1)
    return _with_route(design, label, side, route[:corner] + route[corner + 1 :])


def set_header_route(design: Design, *, side: Side, points: Sequence[Sequence[float]]) -> Edit:
    """Draw the route of the hot or the cold header."""
    route = tuple((float(x), float(y)) for x, y in points)
    label = _("Draw the hot header") if side == "hot" else _("Draw the cold header")
    return _with_route(design, label, side, route)


def clear_header(design: Design, *, side: Side | None = None) -> Edit:
    """Let the header (or one side of it) follow the line ends by itself."""
    hot = () if side in (None, "hot") else design.header.hot
    cold = () if side in (None, "cold") else design.header.cold
    label = _("Let the header follow the lines")
    return Edit(label, replace(design, header=replace(design.header, hot=hot, cold=cold)))


def move_store(design: Design, *, x_m: float, y_m: float) -> Edit:
    """Put the store somewhere else."""
    return Edit(_("Move the store"), replace(design, store=replace(design.store, x_m=x_m, y_m=y_m)))
