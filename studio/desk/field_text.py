"""How a value stands in its field, and the words about it: its range, what it is exactly, how what is typed reads plainly."""

from typing import Any

from studio.design.fields import Count, Declaration, Numbers, Places, Quantity
from studio.edits.places import in_ranges
from studio.text import MINUS, _

_WIDE_OPEN = 1e8
"""Limits beyond this are none that a person needs to be told."""
_DRAWN = ("m", "°")
"""Units of what a hand draws, and so of values with more decimals than anybody means."""


def typed_form(declaration: Declaration, value: Any) -> str:
    """A value as it stands in its field: at least the declared decimals, and no digit of it lost.

    But lengths and angles that come of drawing and planting are rounded to the declared decimals where they have more than
    one beyond them; the field then says on being entered what they are exactly.
    """
    if value is None:
        return ""
    if isinstance(declaration, Quantity):
        rounded = f"{value:.{declaration.digits}f}"
        drawn = declaration.unit in _DRAWN and not _has_decimals(value, declaration.digits + 1)
        text = rounded if drawn or _has_decimals(value, declaration.digits) else _exactly(value)
        return text.replace("-", MINUS)
    if isinstance(declaration, Numbers):
        return in_ranges(value)
    if isinstance(declaration, Places):
        return "; ".join(f"{place:.10g}" for place in value).replace("-", MINUS)
    return str(value)


def _has_decimals(value: float, digits: int) -> bool:
    """Whether so many decimals hold all of a value."""
    return abs(round(value, digits) - value) <= 1e-9 * max(1.0, abs(value))


def _exactly(value: float) -> str:
    return f"{value:.10g}"


def unrounded(declaration: Declaration, value: float | None) -> str:
    """What a value is exactly, with its unit, where its field shows it rounded; empty where it shows all of it."""
    if not isinstance(declaration, Quantity) or value is None:
        return ""
    exactly = _exactly(value).replace("-", MINUS)
    if _has_decimals(value, declaration.digits) or typed_form(declaration, value) == exactly:
        return ""
    return _("exactly {value} {unit}").format(value=exactly, unit=_(declaration.unit))


def range_words(declaration: Declaration) -> str:
    """What may stand in a field, for a person; empty where that needs no words."""
    match declaration:
        case Quantity(low=low, high=high, unit=unit) if low > -_WIDE_OPEN or high < _WIDE_OPEN:
            if high >= _WIDE_OPEN:
                return _("{low} or more {unit}").format(low=_plain(low), unit=_(unit) if unit else "").strip()
            return (
                _("from {low} to {high} {unit}")
                .format(low=_plain(low), high=_plain(high), unit=_(unit) if unit else "")
                .strip()
            )
        case Count(low=low, high=high):
            return _("a whole number from {low} to {high}").format(low=low, high=high)
    return ""


def plainly(text: str) -> float | None:
    """What a text is as a bare number; None where it is more than that."""
    try:
        return float(text.strip().replace(MINUS, "-"))
    except ValueError:
        return None


def _plain(value: float) -> str:
    return f"{value:g}".replace("-", MINUS)
