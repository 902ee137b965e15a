"""Looking at a file of heights as it would be taken into a design; nothing is changed."""

from pathlib import Path

from studio.design.design import Design
from studio.files.heights.found import HeightsHow, HeightsLook
from studio.files.heights.look_raster import look_at_raster
from studio.files.heights.look_spots import look_at_spots
from studio.files.heights.raster import is_raster, let_in_raster
from studio.files.heights.spots import spots_of_map, spots_of_text
from studio.files.land.letting_in import let_in
from studio.files.land.look import text_of

_NO_HOW = HeightsHow()


def look_at_heights(path: Path | str, design: Design, *, how: HeightsHow = _NO_HOW) -> HeightsLook:
    """What a file of heights holds and what a design would take of it.

    Reads GeoTIFF and ASCII grids, tables of spot heights, and points, lines and areas with heights in the kinds of map
    that land is read from, also where the heights of lines and points are an attribute. Raises KeepingError where the file cannot be opened, FaultyFileError where it is broken,
    hostile or of another kind, BadInputError where ``how`` cannot be, each in one sentence.
    """
    path = Path(path)
    if is_raster(path):
        return look_at_raster(let_in_raster(path), design, how=how)
    parts = let_in(path)
    if parts[0].kind == "table":
        return look_at_heights_text(text_of(parts[0]), design, name=path.name, how=how)
    table = spots_of_map(parts, name=path.name, attribute=how.attribute)
    return look_at_spots(table, path.name, design, how=how)


def look_at_heights_text(text: str, design: Design, *, name: str, how: HeightsHow = _NO_HOW) -> HeightsLook:
    """What a pasted table of spot heights holds and what a design would take of it."""
    return look_at_spots(spots_of_text(text, name=name, how=how.land), name, design, how=how)
