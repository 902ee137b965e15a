"""World files: six numbers beside a picture that say where it lies on the land.

In the file's order A, D, B, E, C, F (one a line): x = A col + B row + C, y = D col + E row + F, with col and row counted
from the **centre** of the upper-left pixel, which so lies at C, F; E is negative where rows run southwards. (Common
practice, as ESRI's description of world files for raster datasets has it.)
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from studio.drawings.on_earth import FARTHEST_M, site_of_degrees
from studio.engine.ground.similarity import best_similarity
from studio.errors import BadInputError
from studio.files.land.found import Doubt, How, SystemFound
from studio.files.land.systems import Decided, decide, degrees_of
from studio.files.picture import PictureRead
from studio.keep import doing
from studio.text import _, number

Array = NDArray[np.float64]
_ENDINGS = {".png": (".pgw", ".pngw"), ".jpg": (".jgw", ".jpgw"), ".jpeg": (".jgw", ".jpegw", ".jpgw")}
_ANY = (".wld", ".pgw", ".jgw")
WORLD_ENDINGS = (".pgw", ".pngw", ".jgw", ".jpgw", ".jpegw", ".wld")
_LARGEST = 10_000
_COMMA = re.compile(r"^[-+]?\d+,\d+([eE][-+]?\d+)?$")
_STORED = {
    1: lambda x, y: (x, y), 2: lambda x, y: (1 - x, y), 3: lambda x, y: (1 - x, 1 - y), 4: lambda x, y: (x, 1 - y),
    5: lambda x, y: (y, x), 6: lambda x, y: (y, 1 - x), 7: lambda x, y: (1 - y, 1 - x), 8: lambda x, y: (1 - y, x),
}  # fmt: skip
"""Where a place of the upright picture, from its upper-left corner in shares of its sides, stands in the stored rows."""
_TOLD_PX = 0.5
"""A world file that departs from turning and one scale by less than this is taken without a word."""


@dataclass(frozen=True)
class WorldFile:
    """The six numbers in the file's order, and the text of a coordinate system that lay beside it."""

    name: str
    numbers: tuple[float, float, float, float, float, float]
    said: str = ""


@dataclass(frozen=True)
class Placement:
    """Where a picture lies: middle in site metres, metres a kept pixel, turn clockwise, and how far that is off at most.

    ``system`` is the coordinate system of the numbers; None where two points or a hand placed it.
    """

    x_m: float
    y_m: float
    m_per_pixel: float
    turned_deg: float
    off_m: float = 0.0
    system: SystemFound | None = None
    doubts: tuple[Doubt, ...] = ()
    told: tuple[str, ...] = ()


def world_beside(picture: Path) -> Path | None:
    """The world file beside a picture, by its name; capitals do not matter."""
    wanted = dict.fromkeys((*_ENDINGS.get(picture.suffix.lower(), ()), *_ANY, picture.suffix.lower() + "w"))
    try:
        there = {path.name.casefold(): path for path in picture.parent.iterdir()}
    except OSError:
        return None
    names = ((picture.stem + ending).casefold() for ending in wanted)
    return next((there[name] for name in names if name in there and there[name].is_file()), None)


def read_world(path: Path) -> WorldFile:
    """A world file. Raises BadInputError with one sentence, KeepingError where it cannot be read."""
    with doing(_("reading the world file"), path):
        data = path.open("rb").read(_LARGEST + 1) if path.is_file() else path.read_bytes()
        prj = path.with_suffix(".prj")
        said = prj.read_bytes()[:_LARGEST].decode("utf-8", "replace").strip() if prj.is_file() else ""
    return WorldFile(path.name, six_of(data, path.name), said)


def six_of(data: bytes, name: str) -> tuple[float, float, float, float, float, float]:
    """The six numbers of a world file's bytes; a decimal comma is understood. BadInputError in one sentence."""
    wrong = _("{name} is no world file: it should hold six numbers, one a line; found {found}.")
    if len(data) > _LARGEST or b"\0" in data:
        raise BadInputError(wrong.format(name=name, found=_("something else")))
    words = data.decode("utf-8-sig", "replace").split()
    if len(words) != 6:
        raise BadInputError(wrong.format(name=name, found=_("{count} of them").format(count=len(words))))
    numbers = []
    for word in words:
        try:
            value = float(word.replace(",", ".") if _COMMA.match(word) else word)
        except ValueError:
            value = float("nan")
        if not isfinite(value) or abs(value) > 1e12:
            shown = "".join(c if c.isprintable() else " " for c in word)[:20]
            raise BadInputError(wrong.format(name=name, found=f"“{shown}”"))
        numbers.append(value)
    a, d, b, e, c, f = numbers
    if a * e - b * d == 0:
        raise BadInputError(
            _(
                "{name} gives a pixel no width or no height; its first and fourth number should not be 0."
            ).format(name=name)
        )
    return a, d, b, e, c, f


def place_by_world(
    picture: PictureRead,
    world: WorldFile,
    *,
    latitude_deg: float,
    longitude_deg: float,
    how: How | None = None,
) -> Placement:
    """Where a world file lays a picture in the site frame about its reference point.

    ``system.sure`` is False where the coordinate system had to be guessed; such a placement is only to be shown, with
    ``doubts`` and what would settle them. Turning and one scale are all that is kept: ``off_m`` tells how far a place
    of the picture then lies from where the world file has it, and ``told`` says so in words.

    Raises BadInputError where the picture would stand mirrored or too far away, or what a person says cannot be.
    """
    how = replace(how or How(), near=(latitude_deg, longitude_deg))
    upright = _grid()
    world_xy = _in_world(world, picture, upright)
    spread = float(np.ptp(world_xy, axis=0).max())
    decided = decide(world_xy, spread=spread, said=world.said, unit="", kind=_("world file"), how=how)
    pairs = world_xy[:, ::-1] if decided.swap else world_xy
    site = _in_site(pairs, decided, latitude_deg, longitude_deg)
    pixels = (upright - 0.5) * np.array([picture.width_px, -picture.height_px])
    _hold_upright(pixels, site, world.name)
    laid, off = best_similarity(pixels, site)
    middle = laid.of([0.0, 0.0])
    far = float(np.abs(middle).max())
    if far > FARTHEST_M and decided.found.sure:
        raise BadInputError(
            _(
                "{name} lays the picture {km} km from the site's reference point; another coordinate system, or another "
                "site, would be right."
            ).format(name=world.name, km=number(far / 1000, digits=0))
        )
    told = []
    if off > _TOLD_PX * laid.scale:
        told.append(
            _(
                "{name} also shears or stretches the picture, which is not done here: places of it are up to {off} m off."
            ).format(name=world.name, off=number(off, figures=2))
        )
    return Placement(
        float(middle[0]), float(middle[1]), laid.scale, laid.turned_deg, off, decided.found,
        _of_pictures(decided), tuple(told),
    )  # fmt: skip


def place_by_points(
    picture: PictureRead, pixels: Sequence[Sequence[float]], places: Sequence[Sequence[float]]
) -> Placement:
    """Where a picture lies when two of its pixels lie at two places in site metres.

    ``pixels`` (col, row) are of the file's upright picture, counted from its upper-left corner, rows downwards.
    """
    from_size = np.array([picture.from_width_px, picture.from_height_px])
    at = np.asarray(pixels, dtype=float)
    if not ((at >= 0).all() and (at <= from_size).all()):
        raise BadInputError(
            _("A point lies outside the picture, which is {width} × {height} pixels.").format(
                width=picture.from_width_px, height=picture.from_height_px
            )
        )
    kept = (at / from_size - 0.5) * np.array([picture.width_px, -picture.height_px])
    laid, _off = best_similarity(kept, places)
    middle = laid.of([0.0, 0.0])
    return Placement(float(middle[0]), float(middle[1]), laid.scale, laid.turned_deg)


def _grid() -> Array:
    """Corners, edges' middles and middle of a picture, in shares of its sides from the upper-left corner."""
    share = np.array([0.0, 0.5, 1.0])
    return np.stack(np.meshgrid(share, share), axis=-1).reshape(-1, 2)


def _in_world(world: WorldFile, picture: PictureRead, upright: Array) -> Array:
    a, d, b, e, c, f = world.numbers
    wide, high = picture.from_width_px, picture.from_height_px
    if picture.orientation >= 5:
        wide, high = high, wide
    x, y = _STORED[picture.orientation](upright[:, 0], upright[:, 1])
    col, row = x * wide - 0.5, y * high - 0.5  # 0, 0 is the centre of the first pixel
    return np.column_stack([a * col + b * row + c, d * col + e * row + f])


def _in_site(pairs: Array, decided: Decided, latitude_deg: float, longitude_deg: float) -> Array:
    if decided.crs is None:
        return pairs * decided.scale
    degrees = degrees_of(pairs * decided.scale, decided.crs)
    if not np.isfinite(degrees).all():
        raise BadInputError(_("In {name} the picture lies nowhere on earth.").format(name=decided.found.name))
    return site_of_degrees(degrees, latitude_deg=latitude_deg, longitude_deg=longitude_deg)


def _hold_upright(pixels: Array, site: Array, name: str) -> None:
    """A picture seen from above is turned, never mirrored."""
    side, down = pixels[2] - pixels[0], pixels[6] - pixels[0]
    to_side, to_down = site[2] - site[0], site[6] - site[0]
    if (side[0] * down[1] - side[1] * down[0]) * (to_side[0] * to_down[1] - to_side[1] * to_down[0]) < 0:
        raise BadInputError(
            _(
                "{name} would lay the picture mirrored: its fourth number should be negative, as rows run southwards, or "
                "its pairs stand north first."
            ).format(name=name)
        )


def _of_pictures(decided: Decided) -> tuple[Doubt, ...]:
    """Doubts as they stand for a picture: that it has no place on earth is none, it lies in site metres."""
    if decided.crs is not None or not decided.found.sure:
        return decided.doubts
    if decided.found.said:
        return ()
    mends = tuple(mend for doubt in decided.doubts for mend in doubt.mends)
    return (Doubt(_("No coordinate system is said; the numbers were taken as metres of this site."), mends),)
