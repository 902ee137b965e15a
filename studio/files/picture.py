"""Letting a picture in: looked at as bytes, decoded only once it is known to be harmless, and made small enough to keep.

What is kept has no texts, places or profiles in it, is at most ``MOST_SIDE`` pixels long and ``MOST_KEPT`` bytes large,
and stands upright as its camera held it. Pillow decodes.
"""

import io
import struct
import warnings
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from studio.errors import BadInputError
from studio.files.picture_header import Header, bare_png, broken_off, header_of, scans_of
from studio.keep import doing
from studio.text import _, number

if TYPE_CHECKING:
    from PIL.Image import Image

LARGEST_FILE = 40_000_000
MOST_PIXELS = 60_000_000
MOST_SIDE, LEAST_SIDE = 4000, 16
MOST_KEPT = 3_500_000
"""Bytes; in the site file they take a third more."""
_MOST_SCANS = 64
_QUALITIES = (85, 75, 65)
_SMALLER = 0.8
_ORIENTATION = 0x0112
_UPRIGHT = {1: 0, 2: 0, 3: 3, 4: 1, 5: 5, 6: 4, 7: 6, 8: 2}
"""EXIF orientation (CIPA DC-008, Exif 2.32, tag 274) to Pillow's way of turning the stored rows upright."""


@dataclass(frozen=True)
class PictureRead:
    """A picture that can be kept.

    ``width_px`` by ``height_px`` is what is kept, ``from_width_px`` by ``from_height_px`` what the file holds, upright.
    ``orientation`` is that of EXIF, 1 where the rows stand upright as stored. ``told`` says in sentences what was done.
    """

    name: str
    data: bytes = field(repr=False)
    width_px: int
    height_px: int
    from_width_px: int
    from_height_px: int
    orientation: int = 1
    told: tuple[str, ...] = ()

    @property
    def factor(self) -> float:
        """Pixels of the file in one that is kept."""
        return self.from_width_px / self.width_px


def size_of(data: bytes) -> tuple[int, int]:
    """Width and height in pixels of a kept picture. BadInputError where the bytes are none that is kept here."""
    name = _("the kept picture")
    header = header_of(data, name)
    if max(header.width, header.height) > MOST_SIDE:
        raise BadInputError(
            _("{name} has {width} × {height} pixels; at most {most} on either way are kept.").format(
                name=name, width=header.width, height=header.height, most=MOST_SIDE
            )
        )
    _hold_to_caps(header, data, name)
    return header.width, header.height


def read_picture(path: Path) -> PictureRead:
    """The picture of a PNG or JPEG file.

    Raises BadInputError with one sentence where it is no such picture, too large, or damaged; KeepingError where the
    file cannot be read.
    """
    name = path.name
    with doing(_("reading the picture"), path), path.open("rb") as file:
        data = file.read(LARGEST_FILE + 1)
    if len(data) > LARGEST_FILE:
        raise BadInputError(
            _("{name} is larger than {most} MB; cut the plot and its surroundings out of it.").format(
                name=name, most=LARGEST_FILE // 1_000_000
            )
        )
    return picture_of(data, name)


def picture_of(data: bytes, name: str) -> PictureRead:
    """The picture that a file's bytes hold; errors as ``read_picture``."""
    header = header_of(data, name)
    _hold_to_caps(header, data, name)
    told = []
    ending = Path(name).suffix.lower()
    if ending not in {"PNG": (".png",), "JPEG": (".jpg", ".jpeg", ".jpe", ".jfif")}[header.kind]:
        told.append(
            _("Its name ends in {ending}, but it is a {kind}.").format(ending=ending or "–", kind=header.kind)
        )
    if header.animated:
        told.append(_("It is animated; its still picture was taken."))
    image, orientation = _decoded(header, bare_png(data, name) if header.kind == "PNG" else data, name)
    if header.channels == 4 and header.kind == "JPEG":
        told.append(
            _("Its colours are those of print (CMYK); they were turned into a screen's without a profile.")
        )
    if orientation != 1:
        told.append(_("It was turned upright, as its camera noted."))
    whole = (header.width, header.height) if orientation < 5 else (header.height, header.width)
    kept, image = _kept(image, photo=header.kind == "JPEG")
    if image.size != whole:
        told.append(
            _("{width} × {height} pixels were reduced to {new_width} × {new_height} (1 for {factor}).").format(
                width=whole[0], height=whole[1], new_width=image.width, new_height=image.height,
                factor=number(whole[0] / image.width, figures=3),
            )
        )  # fmt: skip
    return PictureRead(name, kept, image.width, image.height, *whole, orientation, tuple(told))


def _hold_to_caps(header: Header, data: bytes, name: str) -> None:
    width, height = header.width, header.height
    if width * height > MOST_PIXELS:
        raise BadInputError(
            _(
                "{name} has {width} × {height} pixels; at most {most} million are taken. Cut the plot out of it."
            ).format(name=name, width=width, height=height, most=MOST_PIXELS // 1_000_000)
        )
    if min(width, height) < LEAST_SIDE:
        raise BadInputError(
            _(
                "{name} has {width} × {height} pixels; from {least} on either way there is something to see."
            ).format(name=name, width=width, height=height, least=LEAST_SIDE)
        )
    if header.kind == "JPEG" and scans_of(data) > _MOST_SCANS:
        raise BadInputError(
            _("{name} is built of more than {most} passes, which no camera does; save it anew.").format(
                name=name, most=_MOST_SCANS
            )
        )


def _decoded(header: Header, data: bytes, name: str) -> "tuple[Image, int]":
    """The picture upright, at most ``MOST_SIDE`` long, grey, coloured or see-through; and its EXIF orientation."""
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # our own caps were held before; Pillow warns from a lower one on
            image: Image.Image = Image.open(io.BytesIO(data), formats=(header.kind,))
            if image.size != (header.width, header.height):
                raise BadInputError(broken_off(name))
            orientation = _orientation(image) if header.kind == "JPEG" else 1
            image.draft(None, (MOST_SIDE, MOST_SIDE))
            image.load()
    except (
        OSError,
        SyntaxError,
        ValueError,
        EOFError,
        UnidentifiedImageError,
        Image.DecompressionBombError,
    ) as error:
        raise BadInputError(broken_off(name)) from error
    image = _plain(image)
    image.thumbnail((MOST_SIDE, MOST_SIDE))
    if orientation != 1:
        image = image.transpose(Image.Transpose(_UPRIGHT[orientation]))
    image.info.clear()
    return image, orientation


def _orientation(image: "Image") -> int:
    """How the camera stood, 1 to 8; what cannot be read counts as upright."""
    try:
        found = image.getexif().get(_ORIENTATION, 1)
    except (OSError, SyntaxError, ValueError, LookupError, TypeError, struct.error):
        return 1
    return found if found in _UPRIGHT else 1


def _plain(image: "Image") -> "Image":
    from PIL import Image

    if image.mode.startswith("I"):  # 16 bits of grey: the upper eight are what a screen shows
        return Image.fromarray(np.clip(np.asarray(image).astype(np.int64) >> 8, 0, 255).astype(np.uint8))
    if "A" in image.getbands() or "transparency" in image.info:
        clear = image.convert("RGBA")
        return clear if clear.getchannel("A").getextrema() != (255, 255) else clear.convert("RGB")
    return image if image.mode in ("L", "RGB") else image.convert("RGB")


def _kept(image: "Image", *, photo: bool) -> "tuple[bytes, Image]":
    """The smaller of PNG and JPEG; a picture that is too large for either is drawn smaller until it fits."""
    while True:
        clear = image.mode == "RGBA"
        offers = [] if photo else [_coded(image, "PNG")]
        offers += [] if clear else [_coded(image, "JPEG", _QUALITIES[0])]
        best = min(offers, key=len)
        for quality in () if clear else _QUALITIES[1:]:
            if len(best) > MOST_KEPT:
                best = _coded(image, "JPEG", quality)
        if len(best) <= MOST_KEPT:
            return best, image
        image = image.resize((max(1, round(image.width * _SMALLER)), max(1, round(image.height * _SMALLER))))


def _coded(image: "Image", kind: str, quality: int = 85) -> bytes:
    into = io.BytesIO()
    if kind == "PNG":
        image.save(into, "PNG", compress_level=6)
    else:
        image.save(into, "JPEG", quality=quality, optimize=True)
    return into.getvalue()
