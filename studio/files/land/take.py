"""Taking land: the chosen area in site metres about a reference point, its holes and other areas as no-build areas."""

import numpy as np
import shapely

from studio.design.site import NoBuild, Ring
from studio.drawings.on_earth import FARTHEST_M, site_of_degrees
from studio.errors import BadInputError
from studio.files.land.found import LOCAL, AreaFound, Array, LandChoice, LandLook, TakenLand
from studio.files.land.look import area_numbered
from studio.files.land.simplify import fewer_corners
from studio.files.land.systems import told_place
from studio.text import _, number

_MOST_NO_BUILD = 200
_DIGITS = 4
"""Site metres are kept to a tenth of a millimetre."""


def take(look: LandLook, choice: LandChoice | None = None) -> TakenLand:
    """The chosen land in the site frame.

    Raises BadInputError with one sentence where the coordinate system must be said first, where the area is not named
    or cannot be taken, or where a reference point to be kept is too far away.
    """
    choice = choice or LandChoice()
    if not look.system.sure:
        known = look.system.candidates[:4] or ((look.system.code,) if look.system.code else ())
        raise BadInputError(
            _("Which coordinate system {name} is in must be said first: {codes} would do.").format(
                name=look.name, codes=_(" or ").join((*known, LOCAL))
            )
        )
    area = _chosen(look, choice)
    others = [_usable(area_numbered(look, wanted)) for wanted in choice.no_build]
    if area.number in choice.no_build:
        raise BadInputError(
            _("Area {number} cannot be the boundary and a no-build area at once.").format(number=area.number)
        )
    reference = (choice.about or area.middle) if area.middle else None
    told: list[str] = []
    boundary = _ring(_placed(area.rings[0], area.rings[0], reference), told, _("boundary"))
    no_build = [
        NoBuild(
            name=_("hole {number}").format(number=place),
            ring=_ring(_placed(ring, area.rings[0], reference), told, _("hole")),
        )
        for place, ring in enumerate(area.rings[1:], 1)
        if choice.holes
    ]
    no_build += [
        NoBuild(
            name=other.name, ring=_ring(_placed(other.rings[0], area.rings[0], reference), told, other.name)
        )
        for other in others
    ]
    if len(no_build) > _MOST_NO_BUILD:
        raise BadInputError(
            _(
                "{count} holes and areas are too many to keep free one by one; a plot has at most {most}."
            ).format(count=len(no_build), most=_MOST_NO_BUILD)
        )
    if area.holes and not choice.holes:
        told.append(_("Its holes were left out: the whole outline is the plot."))
    told += _told_of_place(look, area, boundary, reference)
    return TakenLand(
        name=area.name,
        boundary=boundary,
        no_build=tuple(no_build),
        latitude_deg=reference[0] if reference else None,
        longitude_deg=reference[1] if reference else None,
        area_m2=area.area_m2,
        told=tuple(told),
    )


def _chosen(look: LandLook, choice: LandChoice) -> AreaFound:
    if choice.area is not None:
        return _usable(area_numbered(look, choice.area))
    if len(look.areas) == 1:
        return _usable(look.areas[0])
    usable = [area for area in look.areas if not area.refused]
    if len(usable) == 1:
        return usable[0]
    if not usable:
        raise BadInputError(_("There is no area in {name} that could be taken.").format(name=look.name))
    raise BadInputError(
        _("{name} has {count} areas; say by its number which is the plot ({few} …).").format(
            name=look.name,
            count=len(usable),
            few=", ".join(f"{area.number}: {area.name}" for area in usable[:3]),
        )
    )


def _usable(area: AreaFound) -> AreaFound:
    if area.refused:
        raise BadInputError(
            _("Area {number} ({name}) cannot be taken: {why}").format(
                number=area.number, name=area.name, why=area.refused
            )
        )
    return area


def _placed(ring: Array, outline: Array, reference: tuple[float, float] | None) -> Array:
    """A ring in site metres. Plain lengths are placed about the middle of the outline where they lie far from 0, 0."""
    if reference is not None:
        placed = site_of_degrees(ring, latitude_deg=reference[0], longitude_deg=reference[1])
        if float(np.abs(placed).max()) > 2 * FARTHEST_M:
            raise BadInputError(
                _("The land lies {km} km from {place}; its metres would be wrong about that point.").format(
                    km=number(float(np.abs(placed).max()) / 1000), place=told_place(*reference)
                )
            )
        return placed
    middle = (outline.min(axis=0) + outline.max(axis=0)) / 2
    moved: Array = ring - np.round(middle) if float(np.abs(outline).max()) > FARTHEST_M else ring
    return moved


def _ring(ring: Array, told: list[str], name: str) -> Ring:
    fewer, shift = fewer_corners(ring)
    if shift > 0:
        told.append(
            _("{name}: {before} corners became {after}; none of them shifted by more than {shift} m.").format(
                name=name, before=len(ring), after=len(fewer), shift=number(shift, figures=2)
            )
        )
    corners = np.round(fewer, _DIGITS) + 0.0
    if not shapely.Polygon(corners).is_valid:
        raise BadInputError(
            _("{name}: at a tenth of a millimetre its edges cross or touch; mend it in the file.").format(
                name=name
            )
        )
    return tuple((float(x), float(y)) for x, y in corners)


def _told_of_place(
    look: LandLook, area: AreaFound, boundary: Ring, reference: tuple[float, float] | None
) -> list[str]:
    if reference is None:
        told = [
            _(
                "Plain lengths: x was taken as east, y as north; latitude and longitude of the site stay as they are."
            )
        ]
        if float(np.abs(area.rings[0]).max()) > FARTHEST_M:
            told.append(
                _("They lie far from 0, 0, so the middle of the boundary became the reference point.")
            )
        return told
    reach = float(np.abs(np.array(boundary)[:, 0]).max())
    return [
        _(
            "Coordinates: {name} ({code}), by WGS 84 to metres of a transverse Mercator about the reference point {place}."
        ).format(name=look.system.name, code=look.system.code[:20], place=told_place(*reference)),
        _(
            "Lengths are true on the ellipsoid within {parts} in 10 million; on land a tape reads 16 mm more in 100 m for every 1,000 m of altitude."
        ).format(parts=max(1, round(1e7 * reach**2 / (2 * 6.371e6**2) + 0.5))),
        _("North is true north, not the map's: azimuths need no convergence."),
    ]
