"""What was found in a file of heights, and what was or would be taken, for the terminal and for other programs."""

from collections.abc import Iterator
from typing import Any

from studio.design.site import HeightGrid
from studio.files.heights.found import HeightsHow, HeightsLook
from studio.files.heights.skyline import SkylineFound
from studio.files.land.found import SystemFound
from studio.files.land.systems import told_place
from studio.text import _, number, pretty

_CODE_SHOWN = 20


def system_line(found: SystemFound, *, placed: bool) -> str:
    """The coordinate system in one line; ``placed`` where a place for plain lengths was said."""
    how = _("said") if found.said or placed else _("taken") if found.sure else _("say it before it is taken")
    code = f" ({found.code})" if 0 < len(found.code) <= _CODE_SHOWN else ""
    return _("coordinates: {name}{code}, numbers in {unit} [{how}]").format(
        name=found.name, code=code, unit=found.unit, how=how
    )


def heights_line(look: HeightsLook) -> str:
    """Lowest and highest height and where they lie."""
    place = f", {told_place(*look.middle)}" if look.middle else ""
    return _("heights: {low} to {high} m{place}").format(
        low=number(look.lowest_m, digits=1), high=number(look.highest_m, digits=1), place=place
    )


def slopes_line(look: HeightsLook) -> str:
    """Slopes of what would be taken; empty where nothing can be."""
    if look.taken is None:
        return ""
    low, middle, high = look.taken.slopes_percent
    return _("slopes: {low} to {high} %, half of the land below {middle} %").format(
        low=number(low, digits=1), high=number(high, digits=1), middle=number(middle, digits=1)
    )


def look_lines(look: HeightsLook) -> Iterator[str]:
    """What was found and would be taken, line by line."""
    yield f"{look.name}: {look.kind}"
    yield "  " + look.size
    yield "  " + system_line(look.system, placed=look.how.at is not None)
    yield "  " + pretty(heights_line(look))
    if slopes := slopes_line(look):
        yield "  " + slopes
    for doubt in look.doubts:
        yield f"  ? {doubt}"
        for mend in doubt.mends:
            option = options_of(mend.how, look.how)
            yield f"      - {mend.label}" + (f" ({option})" if option else "")
    if look.taken is None:
        if look.refused not in map(str, look.doubts):
            yield f"  {look.refused}"
        return
    for sentence in look.taken.told:
        yield f"  {sentence}"


def options_of(how: HeightsHow, before: HeightsHow) -> str:
    """The options of the command line that say what ``how`` says beyond ``before``."""
    words = []
    if how.land.crs and how.land.crs != before.land.crs and how.at is None:
        words.append(f"--crs {how.land.crs}")
    if how.land.unit and how.land.unit != before.land.unit:
        words.append(f"--unit {_quoted(how.land.unit)}")
    if how.attribute and how.attribute != before.attribute:
        words.append(f"--attribute {_quoted(how.attribute)}")
    if how.height_unit and how.height_unit != before.height_unit:
        words.append(f"--height-unit {_quoted(how.height_unit)}")
    if how.at is not None and how.at != before.at:
        words.append(f"--at={how.at[0]:g},{how.at[1]:g}")
    if how.void is not None and how.void != before.void:
        words.append(f"--void {how.void:g}")
    if how.move_site and not before.move_site:
        words.append("--move-site")
    if how.land.swap != before.land.swap:
        words.append("--swap")
    return " ".join(words)


def _quoted(word: str) -> str:
    return f"'{word}'" if " " in word else word


def look_tree(look: HeightsLook, skyline: SkylineFound | None = None) -> dict[str, Any]:
    """What was found and would be taken, as plain data; of the heights themselves only their measures."""
    taken = look.taken
    return {
        "name": look.name,
        "kind": look.kind,
        "size": look.size,
        "attribute": look.attribute,
        "attributes": list(look.attributes),
        "coordinates": {**vars(look.system), "candidates": list(look.system.candidates)},
        "lowest_m": look.lowest_m,
        "highest_m": look.highest_m,
        "latitude_deg": look.middle[0] if look.middle else None,
        "longitude_deg": look.middle[1] if look.middle else None,
        "doubts": [
            {"sentence": doubt.sentence, "mends": [mend.label for mend in doubt.mends]}
            for doubt in look.doubts
        ],
        "refused": look.refused,
        "taken": None
        if taken is None
        else {
            "kind": taken.heights.kind,
            "places": taken.heights.rows * taken.heights.columns
            if isinstance(taken.heights, HeightGrid)
            else len(taken.heights.spots),
            "step_m": taken.heights.step_m if isinstance(taken.heights, HeightGrid) else None,
            "zero_m": taken.heights.zero_m,
            "slopes_percent": list(taken.slopes_percent),
            "largest_shift_m": taken.largest_shift_m,
            "told": list(taken.told),
        },
        "skyline": None if skyline is None else [list(point) for point in skyline.points],
    }
