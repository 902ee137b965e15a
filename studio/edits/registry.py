"""Every edit by its key, so that a finding's mend, which is only data, can be applied."""

from collections.abc import Callable, Mapping
from inspect import signature
from types import MappingProxyType
from typing import Any, Protocol

from studio.design.design import Design
from studio.edits import (
    arrange,
    fields,
    header,
    land,
    lines,
    obstacles,
    places,
    plant,
    plot,
    shelf,
    spots,
    underlay,
)
from studio.edits.edit import Edit, admit
from studio.errors import BadInputError
from studio.text import _

_ALL: tuple[Callable[..., Edit], ...] = (
    plot.set_boundary, plot.move_boundary, plot.clear_boundary, plot.move_corner, plot.insert_corner,
    plot.delete_corner, plot.add_no_build, plot.move_no_build, plot.rename_no_build, plot.delete_no_build,
    plot.set_setback, land.take_land, land.set_heights,
    spots.set_spots, spots.add_spot, spots.move_spot, spots.set_spot_height, spots.delete_spot, spots.clear_heights,
    obstacles.add_block, obstacles.add_fence, obstacles.add_tree, obstacles.add_pole, obstacles.move_obstacle,
    obstacles.delete_obstacle,
    obstacles.move_obstacle_corner, obstacles.insert_obstacle_corner, obstacles.delete_obstacle_corner,
    obstacles.set_skyline, obstacles.type_skyline,
    underlay.set_underlay, underlay.place_underlay, underlay.move_underlay, underlay.turn_underlay,
    underlay.fade_underlay, underlay.clear_underlay,
    lines.place_line, lines.line_between, lines.move_lines, lines.turn_lines, lines.stretch_line, lines.shorten_line,
    lines.repeat_lines, lines.delete_lines, lines.set_pitch, lines.scale_pitches, lines.scale_spacings,
    places.leave_out, places.put_back, places.lane_across,
    arrange.align_lines, arrange.space_evenly, arrange.mirror_lines, arrange.turn_lines_to, arrange.set_pitches,
    arrange.turn_field, plant.plant_lines,
    header.set_header_route, header.clear_header, header.move_store, header.move_route_corner, header.insert_route_corner,
    header.delete_route_corner,
    shelf.put_on_shelf, shelf.take_off_shelf, shelf.rename_on_shelf, shelf.build_of_shelved,
    fields.set_field, fields.set_fields, fields.set_line_field,
)  # fmt: skip
EDITS: Mapping[str, Callable[..., Edit]] = MappingProxyType({edit.__name__: edit for edit in _ALL})
"""Edit by key; each takes the design and then its arguments by keyword."""


def apply_edit(design: Design, key: str, arguments: Mapping[str, object]) -> Edit:
    """The edit ``key`` with its arguments, admitted. BadInputError where key, arguments or result will not do."""
    edit = EDITS.get(key)
    if edit is None:
        raise BadInputError(
            _("There is no edit {key}; there are {known}.").format(key=key, known=", ".join(EDITS))
        )
    try:
        signature(edit).bind(design, **arguments)
    except TypeError:
        wanted = ", ".join(list(signature(edit).parameters)[1:])
        raise BadInputError(_("{key} takes {wanted}; given were {given}.").format(
            key=key, wanted=wanted, given=", ".join(arguments) or _("none")
        )) from None  # fmt: skip
    return admit(design, edit(design, **arguments))


class MendData(Protocol):
    """What a finding's mend holds: an edit's key and its arguments."""

    @property
    def edit(self) -> str:
        """The key of an edit."""
        ...

    @property
    def arguments(self) -> Mapping[str, Any]:
        """The edit's arguments by keyword."""
        ...


def apply_mend(design: Design, mend: MendData) -> Edit:
    """What a finding's mend does to the design."""
    return apply_edit(design, mend.edit, mend.arguments)
