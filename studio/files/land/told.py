"""What was found in a land file, and what was taken of it, for the terminal and for other programs."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from studio.files.land.found import AreaFound, LandLook
from studio.files.land.into_site import Brought
from studio.files.land.systems import told_place
from studio.text import _, number, plural, pretty

_MOST_LISTED = 60


def look_lines(look: LandLook) -> Iterator[str]:
    """What was found, line by line."""
    yield f"{look.name}: {look.kind}"
    for layer in look.layers:
        yield "  " + _("layer {name}: {areas} areas, {lines} lines, {points} points").format(
            name=layer.name or "-", areas=layer.areas, lines=layer.lines, points=layer.points
        )
    how = (
        _("said")
        if look.system.said
        else _("taken")
        if look.system.sure
        else _("guessed; say it before it is taken")
    )
    code = f" ({look.system.code[:20]})" if look.system.code else ""
    yield "  " + _("coordinates: {name}{code}, numbers in {unit} [{how}]").format(
        name=look.system.name, code=code, unit=look.system.unit, how=how
    )
    if look.misclosure is not None:
        yield "  " + misclosure_line(look)
    for area in look.areas[:_MOST_LISTED]:
        yield from _area_lines(area)
    if len(look.areas) > _MOST_LISTED:
        yield "  " + _("and {count} areas more").format(count=len(look.areas) - _MOST_LISTED)
    for doubt in look.doubts:
        yield f"  ? {doubt}"
        for mend in doubt.mends:
            option = f" (--crs {mend.how.crs})" if mend.how.crs and mend.how.crs != look.how.crs else ""
            yield f"      - {mend.label}{option}"


def misclosure_line(look: LandLook) -> str:
    """The misclosure of a traverse in one line; empty without one."""
    missed = look.misclosure
    if missed is None:
        return ""
    if missed.length_m < 5e-5:
        return _("traverse of {perimeter} m: it closes").format(
            perimeter=number(missed.perimeter_m, digits=2)
        )
    return _(
        "traverse of {perimeter} m: misclosure {length} m towards {bearing}°, 1 in {ratio}{adjusted}"
    ).format(
        perimeter=number(missed.perimeter_m, digits=2),
        length=number(missed.length_m, digits=4),
        bearing=number(missed.bearing_deg, digits=1),
        ratio=number(missed.ratio, digits=0),
        adjusted=_(", spread by the compass rule") if missed.adjusted else "",
    )


def _area_lines(area: AreaFound) -> Iterator[str]:
    if area.refused:
        yield f"  {area.number:>3}  {area.name}: {area.refused}"
        return
    holes = plural(", {count} hole", ", {count} holes", area.holes) if area.holes else ""
    place = f", {told_place(*area.middle)}" if area.middle else ""
    yield pretty(
        _("  {number:>3}  {name}: {area} m2, {width} m by {depth} m, {corners} corners{holes}{place}").format(
            number=area.number, name=area.name, area=number(area.area_m2, digits=1), width=number(area.width_m, digits=1),
            depth=number(area.depth_m, digits=1), corners=area.corners, holes=holes, place=place,
        )
    )  # fmt: skip
    for doubt in area.doubts:
        yield f"       ? {doubt}"


def look_tree(look: LandLook) -> dict[str, Any]:
    """What was found, as plain data."""
    missed = look.misclosure
    return {
        "name": look.name,
        "kind": look.kind,
        "layers": [vars(layer) for layer in look.layers],
        "coordinates": {**vars(look.system), "candidates": list(look.system.candidates)},
        "misclosure": None
        if missed is None
        else {**vars(missed), "ratio": None if missed.ratio == float("inf") else missed.ratio},
        "areas": [_area_tree(area) for area in look.areas],
        "doubts": [
            {"sentence": doubt.sentence, "mends": [mend.label for mend in doubt.mends]}
            for doubt in look.doubts
        ],
    }


def _area_tree(area: AreaFound) -> dict[str, Any]:
    return {
        "number": area.number,
        "name": area.name,
        "layer": area.layer,
        "feature": area.feature,
        "part": area.part,
        "parts": area.parts,
        "area_m2": area.area_m2,
        "width_m": area.width_m,
        "depth_m": area.depth_m,
        "corners": area.corners,
        "holes": area.holes,
        "latitude_deg": area.middle[0] if area.middle else None,
        "longitude_deg": area.middle[1] if area.middle else None,
        "doubts": list(area.doubts),
        "refused": area.refused,
    }


def taken_lines(brought: Brought, into: Path) -> Iterator[str]:
    """What was taken into a site file, line by line."""
    taken = brought.taken
    yield pretty(
        _("{path}: {name}, {area} m2, {corners} corners, {count} no-build areas").format(
            path=into,
            name=taken.name,
            area=number(taken.area_m2, digits=1),
            corners=len(taken.boundary),
            count=len(taken.no_build),
        )
    )
    for sentence in (*brought.doubts, *taken.told, *brought.told):
        yield f"  {sentence}"


def taken_tree(brought: Brought) -> dict[str, Any]:
    """What was taken, as plain data, with sentences about what was kept."""
    taken = brought.taken
    return {
        "name": taken.name,
        "area_m2": taken.area_m2,
        "latitude_deg": taken.latitude_deg,
        "longitude_deg": taken.longitude_deg,
        "boundary": [list(corner) for corner in taken.boundary],
        "no_build": [
            {"name": area.name, "ring": [list(corner) for corner in area.ring]} for area in taken.no_build
        ],
        "doubts": list(brought.doubts),
        "told": [*taken.told, *brought.told],
    }
