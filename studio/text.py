"""What a person reads: translations, numbers, units and dates, formatted in one place."""

import gettext
import re
from functools import lru_cache
from math import floor, isfinite, log10
from pathlib import Path

_LOCALES = Path(__file__).resolve().parent.parent / "resources" / "locale"
_catalogue: gettext.NullTranslations = gettext.NullTranslations()

MINUS = "\N{MINUS SIGN}"
DASH = "\N{EN DASH}"
MARK = "\N{BULLET}"
NARROW_SPACE = "\N{NARROW NO-BREAK SPACE}"


def speak(*languages: str) -> None:
    """Use the first of ``languages`` for which there is a translation, else English."""
    global _catalogue
    _catalogue = gettext.translation("stillfield", _LOCALES, languages or None, fallback=True)


def _(message: str) -> str:
    """The translation of ``message``; placeholders are named and filled by ``str.format`` after translating."""
    return _catalogue.gettext(message)


def plural(one: str, many: str, count: int) -> str:
    """The form of a message that fits ``count``, with ``{count}`` filled in."""
    return _catalogue.ngettext(one, many, count).format(count=count)


def number(value: float | None, *, digits: int | None = None, figures: int = 3, sign: bool = False) -> str:
    """A number as a person reads it.

    ``digits`` fixes the decimals; without it ``figures`` significant figures are shown (never fewer digits than
    the integer part has). Thousands are set apart by a narrow space; the minus is U+2212; None and NaN are a dash.
    """
    if value is None or not isfinite(value):
        return DASH
    if digits is None:
        magnitude = floor(log10(abs(value))) if value else 0
        digits = max(0, figures - 1 - magnitude)
        if value and digits and round(abs(value), digits) >= 10 ** (magnitude + 1):
            digits -= 1
    text = f"{abs(value):,.{digits}f}".replace(",", NARROW_SPACE)
    zero = not any(c in "123456789" for c in text)
    if value < 0 and not zero:
        return MINUS + text
    return "+" + text if sign and not zero else text


def percent(share: float | None, *, digits: int = 1) -> str:
    """A share from 0 to 1 in per cent, without the sign of per cent."""
    return number(None if share is None else 100 * share, digits=digits)


@lru_cache(maxsize=2000)
def pretty(text: str) -> str:
    """Units with raised figures (m², kW/m², kg/m³), and numbers that a line's end parts neither from unit nor from sign."""
    text = text.replace("± ", "±\N{NO-BREAK SPACE}")
    text = re.sub(r"\bm([23])\b", lambda found: "m" + "²³"[int(found[1]) - 2], text)
    return re.sub(r"(\d) (?=(?:°|%|mm?\b|m[²³]|[kM]W|kWh|h\b))", "\\1\N{NO-BREAK SPACE}", text)
