"""Numbers as people type them: '12 ft', '250 mm', '3/8"', '12,5', '3.2*4 + 0.5'.

Decimal comma and point are both understood. A separator with exactly three digits behind it ('1,000', '1.000') can
mean two things: it is read as a decimal sign, and the doubt is told, so that it can be shown beside the field.
"""

import re
from dataclasses import dataclass
from math import isfinite

from studio.errors import BadInputError
from studio.text import _

LENGTHS_M: dict[str, float] = {
    "m": 1.0, "km": 1000.0, "dm": 0.1, "cm": 0.01, "mm": 0.001,
    "ft": 0.3048, "feet": 0.3048, "foot": 0.3048, "'": 0.3048, "\u2032": 0.3048,
    "in": 0.0254, "inch": 0.0254, "inches": 0.0254, '"': 0.0254, "\u2033": 0.0254, "yd": 0.9144,
}  # fmt: skip
"""Metres in one of each unit; foot, inch and yard by the international yard and pound agreement of 1959."""
_ANGLES_DEG = {"°": 1.0, "deg": 1.0, "º": 1.0}
_DEEPEST = 20
_LONGEST = 200


@dataclass(frozen=True)
class Typed:
    """What a typed text means in the field's unit; ``doubt`` is one sentence where it could mean something else."""

    value: float
    doubt: str = ""


def read_number(text: str, unit: str = "") -> Typed:
    """The value of ``text`` in ``unit`` ('m', 'mm', '°', '' or any other word the field wears).

    A bare number is in ``unit``; lengths may carry any unit of length and are converted. Sums, products, fractions and
    brackets are worked out; '5' 3"' and '1 3/8 in' add up.
    Raises BadInputError with one sentence when the text is no number in that unit.
    """
    return _Reader(text, unit).read()


_TOKEN = re.compile(
    r"\s*(?:(?P<number>\d[\d\u202f\u00a0]*(?:[.,]\d+)*[.,]?|[.,]\d+)|(?P<sign>[-+*/()×·÷−–:])"
    r"|(?P<unit>['\"\u2032\u2033°º%]|[^\W\d_][^\s\d()*/+×÷−]*))"
)
_SAME = {"×": "*", "·": "*", "÷": "/", ":": "/", "−": "-", "–": "-"}


class _Reader:
    def __init__(self, text: str, unit: str) -> None:
        self.text, self.unit = text, unit
        self.doubt = ""
        self.tokens: list[tuple[str, str]] = []
        self.units: dict[str, float] = {}
        if unit in LENGTHS_M:
            self.units = {name: metres / LENGTHS_M[unit] for name, metres in LENGTHS_M.items()}
        elif unit == "°":
            self.units = dict(_ANGLES_DEG)
        elif unit:
            self.units = {unit.casefold().replace(" ", ""): 1.0}

    def read(self) -> Typed:
        place = 0
        text = self.text.strip()
        if not text or len(text) > _LONGEST:
            raise self._fault()
        while place < len(text):
            found = _TOKEN.match(text, place)
            if found is None:
                raise self._fault()
            kind = found.lastgroup or ""
            word = found.group(kind)
            self.tokens.append((kind, _SAME.get(word, word)))
            place = found.end()
        self.tokens.reverse()
        try:
            value, _worn = self._sum(0)
        except (ZeroDivisionError, OverflowError):
            raise self._fault() from None
        if self.tokens or not isfinite(value):
            raise self._fault()
        return Typed(value, self.doubt)

    def _fault(self) -> BadInputError:
        shown = "".join(c if c.isprintable() else "?" for c in self.text.strip())[:40]
        if not shown:
            return BadInputError(_("Nothing was typed; a number would be right."))
        if self.unit in LENGTHS_M:
            wanted = _("a length such as 12.5, 12,5, 12 ft or 250 mm")
        elif self.unit == "°":
            wanted = _("an angle such as 90 or 12.5°")
        else:
            wanted = _("a number such as 12.5 or 12,5")
        return BadInputError(_("“{typed}” is no number here; {wanted} would be right.").format(
            typed=shown, wanted=wanted
        ))  # fmt: skip

    def _next(self, kind: str, words: str = "") -> str:
        if self.tokens and self.tokens[-1][0] == kind and (not words or self.tokens[-1][1] in words):
            return self.tokens.pop()[1]
        return ""

    # a value carries whether it wears a unit: '2 × 3 m' is a length, '2 m × 3 m' is none

    def _sum(self, depth: int) -> tuple[float, bool]:
        value, worn = self._product(depth)
        while sign := self._next("sign", "+-"):
            more, also = self._product(depth)
            value += more if sign == "+" else -more
            worn = worn or also
        return value, worn

    def _product(self, depth: int) -> tuple[float, bool]:
        value, worn = self._signed(depth)
        while sign := self._next("sign", "*/"):
            more, also = self._signed(depth)
            if also and (worn or sign == "/"):
                raise self._fault()
            value, worn = (value * more if sign == "*" else value / more), worn or also
            value, worn = self._with_unit(value, worn)
        return value, worn

    def _signed(self, depth: int) -> tuple[float, bool]:
        if self._next("sign", "-"):
            value, worn = self._bracket_or_measure(depth)
            return -value, worn
        self._next("sign", "+")
        return self._bracket_or_measure(depth)

    def _bracket_or_measure(self, depth: int) -> tuple[float, bool]:
        if depth > _DEEPEST:
            raise self._fault()
        if self._next("sign", "("):
            value, worn = self._sum(depth + 1)
            if not self._next("sign", ")"):
                raise self._fault()
            return self._with_unit(value, worn)
        value, worn = self._part()
        while self._sees("number"):  # 5' 3"
            more, also = self._part()
            if not (worn and also):
                raise self._fault()
            value += more
        return value, worn

    def _part(self) -> tuple[float, bool]:
        """A number or fraction and its unit: 12, 3/8", 1 3/8 in."""
        value = self._plain(self._next("number"))
        if self._sees("number") and self._sees("sign", "/", back=2):
            value += self._plain(self._next("number")) / self._divisor()
        elif self._sees("sign", "/") and self._sees("number", back=2):
            value /= self._divisor()
        return self._with_unit(value, False)

    def _divisor(self) -> float:
        self._next("sign", "/")
        return self._plain(self._next("number"))

    def _sees(self, kind: str, word: str = "", *, back: int = 1) -> bool:
        if len(self.tokens) < back:
            return False
        there, text = self.tokens[-back]
        return there == kind and (not word or text == word)

    def _with_unit(self, value: float, worn: bool) -> tuple[float, bool]:
        word = self._next("unit")
        if not word:
            return value, worn
        scale = self.units.get(word) or self.units.get(word.casefold().rstrip("."))
        if scale is None or worn:
            raise self._fault()
        return value * scale, True

    def _plain(self, word: str) -> float:
        if not word:
            raise self._fault()
        word = word.replace("\u202f", "").replace("\u00a0", "")
        signs = [c for c in word if c in ".,"]
        if len(set(signs)) == 2:  # 1,234.5 or 1.234,5: the last one is the decimal sign
            if signs.count(signs[-1]) > 1 or not _grouped(word.rpartition(signs[-1])[0], signs[0]):
                raise self._fault()
            word = word.replace(signs[0], "")
        elif len(signs) > 1:  # 1,234,567
            if not _grouped(word, signs[0]):
                raise self._fault()
            return float(word.replace(signs[0], ""))
        elif signs and re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", word):
            self.doubt = _("{typed} is read as {small}, not as {large}").format(
                typed=word, small=f"{float(word.replace(',', '.')):g}", large=word.replace(signs[0], "")
            )
        return float(word.replace(",", "."))


def _grouped(word: str, sign: str) -> bool:
    first, *rest = word.split(sign)
    return 1 <= len(first) <= 3 and all(len(part) == 3 and part.isdigit() for part in rest)
