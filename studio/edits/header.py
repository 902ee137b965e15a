"""What a hand does to header and store."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from studio.design.design import Design
from studio.edits.edit import Edit
from studio.text import _

Side = Literal["hot", "cold"]


def set_header_route(design: Design, *, side: Side, points: Sequence[Sequence[float]]) -> Edit:
    """Draw the route of the hot or the cold header."""
    route = tuple((float(x), float(y)) for x, y in points)
    header = replace(design.header, hot=route) if side == "hot" else replace(design.header, cold=route)
    label = _("Draw the hot header") if side == "hot" else _("Draw the cold header")
    return Edit(label, replace(design, header=header))


def clear_header(design: Design, *, side: Side | None = None) -> Edit:
    """Let the header (or one side of it) follow the line ends by itself."""
    hot = () if side in (None, "hot") else design.header.hot
    cold = () if side in (None, "cold") else design.header.cold
    label = _("Let the header follow the lines")
    return Edit(label, replace(design, header=replace(design.header, hot=hot, cold=cold)))


def move_store(design: Design, *, x_m: float, y_m: float) -> Edit:
    """Put the store somewhere else."""
    return Edit(_("Move the store"), replace(design, store=replace(design.store, x_m=x_m, y_m=y_m)))
