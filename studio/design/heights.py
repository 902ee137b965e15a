"""Heights of a grid in compact form, so that a design holds them as one text and stays whole by itself.

The form is ours: one bit a place (whether it has a height), then whole millimetres as the difference from the place
before, int32, little-endian, rows from south to north; packed by zlib and written in base64. A place without a height
repeats the one before it.
"""

import base64
import binascii
import zlib

import numpy as np
from numpy.typing import NDArray

from studio.errors import BadInputError
from studio.text import _

MOST_PLACES = 250_000
"""Places of a grid: 500 by 500."""
_PER_M = 1000.0
_FARTHEST_M = 1e6


def packed_heights(heights: NDArray[np.float64]) -> str:
    """The compact form of heights (rows, columns), m, rows from south to north; NaN where there is none.

    Heights are kept to the millimetre. Raises BadInputError for more than ``MOST_PLACES`` or a height that is none.
    """
    if heights.size > MOST_PLACES:
        raise BadInputError(
            _("A grid of {count} heights is too large; up to {most} would be right.").format(
                count=heights.size, most=MOST_PLACES
            )
        )
    flat = np.asarray(heights, dtype=float).ravel()
    there = ~np.isnan(flat)
    if (np.abs(flat[there]) > _FARTHEST_M).any():
        raise BadInputError(_("A height of the grid is no height on Earth; metres would be right."))
    before = np.maximum.accumulate(np.where(there, np.arange(flat.size), 0))
    filled = np.rint(np.nan_to_num(flat[before]) * _PER_M).astype(np.int64)
    steps = np.diff(filled, prepend=0).astype("<i4")
    raw = np.packbits(there).tobytes() + steps.tobytes()
    return base64.b64encode(zlib.compress(raw, 9)).decode("ascii")


def unpacked_heights(cells: str, *, rows: int, columns: int) -> NDArray[np.float64]:
    """Heights (rows, columns), m, of their compact form. Raises BadInputError where it holds another number of them."""
    count = rows * columns
    wanted = -(-count // 8) + 4 * count
    try:
        if count > MOST_PLACES:
            raise ValueError("too many places")
        unpacker = zlib.decompressobj()
        raw = unpacker.decompress(base64.b64decode(cells, validate=True), wanted)
        if len(raw) != wanted or unpacker.unconsumed_tail or not unpacker.eof:
            raise ValueError("another number of places")
    except (ValueError, binascii.Error, zlib.error):
        raise BadInputError(
            _(
                "The heights of the ground are not {rows} rows of {columns} places; bring the land in anew."
            ).format(rows=rows, columns=columns)
        ) from None
    bits = -(-count // 8)
    there = np.unpackbits(np.frombuffer(raw[:bits], np.uint8), count=count).astype(bool)
    heights = np.cumsum(np.frombuffer(raw[bits:], "<i4"), dtype=np.int64) / _PER_M
    return np.where(there, heights, np.nan).reshape(rows, columns)
