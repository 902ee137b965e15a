"""Attributes of a map's features that are numbers, and which of them heights are by their names."""

import re
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from studio.text import _

MOST_ATTRIBUTES = 64
_UNIT = r"(?:[_\s(\[]*(m|metres?|meters?|ft|feet|us-?ft)[)\]]*)?$"
_WORDS = re.compile(
    r"(?i)^(z|ele|elev|elevation|height|heights|hgt|alt|altitude|h(oe|ö)he(nlinie)?|kote|cote|cota|quota|contour)"
    + _UNIT
)
_PARTS = re.compile(r"(?i)(elev|altit|contour|hoehe|höhe)")
_NO_HEIGHT = re.compile(r"(?i)(id|index|code|type|name|date)$")
_UNITS = {"m": "m", "f": "ft", "u": "us-ft"}


def names_heights(attribute: str) -> bool:
    """Whether an attribute is called as heights are: ELEV, height_ft, Höhe, contour."""
    name = attribute.strip()
    return bool(_WORDS.match(name) or (_PARTS.search(name) and not _NO_HEIGHT.search(name)))


def unit_of_name(attribute: str) -> str:
    """The unit that the name of an attribute of heights says ('ELEV_FT'); empty: none."""
    found = re.search(r"(?i)[a-zö][_\s(\[]+(m|metres?|meters?|ft|feet|us-?ft)[)\]]*$", attribute.strip())
    return _UNITS[found.group(1)[0].lower()] if found else ""


def numbers_of(column: NDArray[Any]) -> NDArray[np.float64] | None:
    """A column of attributes as numbers, NaN where one has none; None where it holds anything else.

    Numbers that are written as text count too, with a point or a comma.
    """
    if column.dtype.kind in "iuf":
        return column.astype(np.float64)
    if column.dtype.kind != "O":
        return None
    numbers = np.full(len(column), np.nan)
    for place, value in enumerate(column.tolist()):
        text = "" if value is None else str(value).strip()
        if text:
            try:
                numbers[place] = float(text.replace(",", ".") if text.count(",") == 1 else text)
            except ValueError:
                return None
    return numbers


def of_feature(columns: Mapping[str, NDArray[np.float64]], place: int) -> dict[str, float]:
    """The numbers that one feature has."""
    return {key: float(column[place]) for key, column in columns.items() if np.isfinite(column[place])}


def attribute_left_aside(attribute: str) -> str:
    """What is said of land whose lines or points may have heights as an attribute."""
    return _("Its attribute {attribute} may hold heights; it was left aside.").format(attribute=attribute)
