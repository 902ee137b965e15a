"""Land and heights that were brought in take the place of what is there, each in one step."""

from collections.abc import Sequence
from dataclasses import replace

from studio.design.design import Design
from studio.design.site import HeightGrid, NoBuild, SpotHeights
from studio.edits.edit import Edit
from studio.edits.obstacles import set_skyline
from studio.edits.plot import ring_of
from studio.errors import BadInputError
from studio.text import _

Corners = Sequence[Sequence[float]]


def take_land(
    design: Design,
    *,
    boundary: Corners | None = None,
    no_build: Sequence[tuple[str, Corners]] | None = None,
    latitude_deg: float | None = None,
    longitude_deg: float | None = None,
    name: str = "",
) -> Edit:
    """Replace what is given and leave the rest: the boundary, all no-build areas (name and corners), the reference point.

    Lines, headers and store keep their metres from the reference point. ``name`` is what undo calls the land.
    Raises BadInputError where nothing is given, or one coordinate of the reference point without the other.
    """
    if (latitude_deg is None) != (longitude_deg is None):
        raise BadInputError(_("The reference point needs latitude and longitude together."))
    if boundary is None and no_build is None and latitude_deg is None:
        raise BadInputError(_("Nothing of the land was chosen; boundary, no-build areas or place would be."))
    plot, site = design.plot, design.site
    if boundary is not None:
        plot = replace(plot, boundary=ring_of(boundary))
    if no_build is not None:
        plot = replace(
            plot, no_build=tuple(NoBuild(name=called, ring=ring_of(ring)) for called, ring in no_build)
        )
    if latitude_deg is not None and longitude_deg is not None:
        site = replace(site, latitude_deg=float(latitude_deg), longitude_deg=float(longitude_deg))
    label = _("Bring in the land {name}").format(name=name) if name else _("Bring in the land")
    return Edit(label, replace(design, plot=plot, site=site))


def set_heights(
    design: Design,
    *,
    heights: SpotHeights | HeightGrid | None,
    latitude_deg: float | None = None,
    longitude_deg: float | None = None,
    skyline: Sequence[Sequence[float]] | None = None,
) -> Edit:
    """Other measured heights (None: the plane slope again), and with them, where given, the place and the skyline.

    Raises BadInputError for one coordinate of the reference point without the other.
    """
    if (latitude_deg is None) != (longitude_deg is None):
        raise BadInputError(_("The reference point needs latitude and longitude together."))
    after = replace(design, ground=replace(design.ground, heights=heights))
    if latitude_deg is not None and longitude_deg is not None:
        site = replace(design.site, latitude_deg=float(latitude_deg), longitude_deg=float(longitude_deg))
        after = replace(after, site=site)
    if skyline is not None:
        after = set_skyline(after, points=skyline).design
    if heights is None:
        return Edit(_("Take the measured heights away"), after)
    origin = heights.origin or _("a table")
    return Edit(_("Take heights from {name}").format(name=origin), after)
