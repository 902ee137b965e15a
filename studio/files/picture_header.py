"""What the bytes of a PNG or JPEG say of themselves, read before anything is decoded.

PNG after W3C, Portable Network Graphics (PNG) Specification (third edition, 2025), sections 5 and 11; JPEG markers
after ITU-T T.81 (1992), annex B.
"""

import struct
from dataclasses import dataclass
from typing import Literal

from studio.errors import BadInputError
from studio.text import _

Kind = Literal["PNG", "JPEG"]

PNG, JPEG = b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"
_OTHERS = (
    (b"GIF8", "GIF"), (b"BM", "BMP"), (b"II*\0", "TIFF"), (b"MM\0*", "TIFF"), (b"II+\0", "TIFF"), (b"MM\0+", "TIFF"),
    (b"%PDF", "PDF"), (b"\0\0\0\x0cjP", "JPEG 2000"), (b"PK\x03\x04", "ZIP"), (b"<svg", "SVG"), (b"<?xml", "XML"),
    (b"\xff\x0a", "JPEG XL"), (b"\0\0\0\x0cJXL ", "JPEG XL"),
)  # fmt: skip
_SHOWN = (b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND")
"""Chunks that a still picture is made of; texts, profiles and animation stay behind."""
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
"""Start-of-frame markers: C4, C8 and CC are tables and a reserved one."""
_BARE = frozenset({0x01, *range(0xD0, 0xDA)})
"""Markers without a length."""


@dataclass(frozen=True)
class Header:
    """Kind and size in pixels as they are stored, colour channels, and what is out of the usual."""

    kind: Kind
    width: int
    height: int
    channels: int = 3
    animated: bool = False


def header_of(data: bytes, name: str = "") -> Header:
    """The header of a picture's bytes. Raises BadInputError with one sentence where they are no PNG or JPEG."""
    name = name or _("the picture")
    if data.startswith(PNG):
        header = _png(data)
    elif data.startswith(JPEG):
        header = _jpeg(data)
    else:
        raise BadInputError(_told_kind(data, name))
    if header is None:
        raise BadInputError(
            _("{name} begins like a picture but breaks off before it tells its size; a whole PNG or JPEG would be right.")
            .format(name=name)
        )  # fmt: skip
    if header.width < 1 or header.height < 1:
        raise BadInputError(
            _("{name} says it is {width} by {height} pixels, which is no picture.").format(
                name=name, width=header.width, height=header.height
            )
        )
    return header


def _told_kind(data: bytes, name: str) -> str:
    if not data:
        return _("{name} is empty; a PNG or JPEG picture would be right.").format(name=name)
    kind = next(
        (word for start, word in _OTHERS if data.lstrip(b"\xef\xbb\xbf \r\n\t").startswith(start)), ""
    )
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        kind = "WebP"
    if kind:
        return _("{name} is {kind}, which is not read here; save it as PNG or JPEG.").format(
            name=name, kind=kind
        )
    return _(
        "{name} is no picture that is read here, whatever its name says; a PNG or JPEG would be right."
    ).format(name=name)


def _png(data: bytes) -> Header | None:
    if len(data) < 33 or data[8:16] != b"\0\0\0\rIHDR":
        return None
    width, height, _depth, colour = struct.unpack(">IIBB", data[16:26])
    first = data.find(b"IDAT", 33)
    animated = 0 <= data.find(b"acTL", 33) < (first if first >= 0 else len(data))
    return Header("PNG", width, height, {0: 1, 2: 3, 3: 3, 4: 2, 6: 4}.get(colour, 3), animated)


def bare_png(data: bytes, name: str) -> bytes:
    """A PNG of the chunks that its still picture is made of. Raises BadInputError where it breaks off before its end."""
    parts, at = [PNG], len(PNG)
    while at + 12 <= len(data):
        (length,) = struct.unpack(">I", data[at : at + 4])
        kind, after = data[at + 4 : at + 8], at + 12 + length
        if after > len(data):
            break
        if kind in _SHOWN:
            parts.append(data[at:after])
        if kind == b"IEND":
            return b"".join(parts)
        at = after
    raise BadInputError(broken_off(name))


def broken_off(name: str) -> str:
    """The sentence for a picture that is not whole."""
    return _("{name} is damaged or breaks off before its end; copy the picture anew.").format(name=name)


def _jpeg(data: bytes) -> Header | None:
    at = 2
    while at + 4 <= len(data):
        if data[at] != 0xFF:
            return None
        marker = data[at + 1]
        if marker == 0xFF:  # any number of them may fill the room before a marker
            at += 1
        elif marker in _BARE:
            at += 2
        else:
            (length,) = struct.unpack(">H", data[at + 2 : at + 4])
            if length < 2 or marker in (0xD9, 0xDA):
                return None
            if marker in _FRAMES:
                if at + 10 > len(data):
                    return None
                height, width, channels = struct.unpack(">HHB", data[at + 5 : at + 10])
                return Header("JPEG", width, height, channels)
            at += 2 + length
    return None


def scans_of(data: bytes) -> int:
    """How many scans a JPEG has: each is a pass over all of its pixels."""
    return data.count(b"\xff\xda")
