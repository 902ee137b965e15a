"""Invented pictures of land from above, made on the spot."""

import io
import struct
import zlib

import numpy as np
from PIL import Image


def land(width: int = 64, height: int = 48, *, mode: str = "RGB") -> Image.Image:
    """A corner of each colour on a field: red upper left, green upper right, blue lower left."""
    pixels = np.full((height, width, 3), (120, 140, 90), np.uint8)
    high, wide = height // 4, width // 4
    pixels[:high, :wide] = (220, 30, 30)
    pixels[:high, -wide:] = (30, 200, 30)
    pixels[-high:, :wide] = (30, 30, 220)
    return Image.fromarray(pixels).convert(mode)


def noise(width: int, height: int) -> Image.Image:
    """A picture that does not compress."""
    return Image.fromarray(np.random.default_rng(1).integers(0, 256, (height, width, 3), dtype=np.uint8))


def coded(image: Image.Image, kind: str = "PNG", **options: object) -> bytes:
    """The picture's bytes."""
    into = io.BytesIO()
    image.save(into, kind, **options)
    return into.getvalue()


def oriented(image: Image.Image, orientation: int) -> bytes:
    """A JPEG whose camera noted how it was held."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    return coded(image, "JPEG", exif=exif, quality=95)


def chunk(kind: bytes, body: bytes) -> bytes:
    """A PNG chunk."""
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def png(width: int, height: int, *, data: bytes = b"", more: bytes = b"", colour: int = 2) -> bytes:
    """A PNG that says it has a size, whatever is in it."""
    head = struct.pack(">IIBBBBB", width, height, 8, colour, 0, 0, 0)
    rest = chunk(b"IDAT", data) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + more + rest
