"""Reading JSON that nobody vouches for: size, depth, count, duplicate keys and odd numbers are caught before they cost.

Every fault ends in FaultyFileError with one sentence; nothing else leaves this module.
"""

import json
import re
from dataclasses import dataclass
from math import isfinite
from typing import Any, NoReturn

import numpy as np

from studio.errors import FaultyFileError
from studio.text import _

LARGEST = 16_000_000
"""Bytes a site file may have."""
MOST_VALUES = 150_000
DEEPEST = 40
LONGEST_WHOLE, LONGEST_NUMBER = 18, 60
"""Characters of a whole number, and of any other."""
# an open string runs to the end of the file; possessive, so that no string is gone over twice
_STRINGS = re.compile(rb'"(?:[^"\\]++|\\.)*+(?:"|\\?\Z)', re.DOTALL)
_HALF_CHARACTER = re.compile("[\ud800-\udfff]")
_AT_ONCE = 1 << 20
_RISE = np.zeros(256, dtype=np.int8)
_RISE[list(b"[{")] = 1
_RISE[list(b"]}")] = -1


@dataclass(frozen=True)
class Limits:
    """What a kind of file may have; ``kind`` names it in a sentence, with its article."""

    kind: str
    largest: int
    most_values: int


def parse(data: bytes, *, limits: Limits | None = None) -> Any:
    """The tree that JSON bytes hold, with finite numbers, whole texts and no key twice.

    Without ``limits`` those of a site file hold.
    """
    limits = limits or Limits(_("a site file"), LARGEST, MOST_VALUES)
    if len(data) > limits.largest:
        _refuse(
            _("The file has {size} MB; {kind} has at most {most} MB.").format(
                size=len(data) // 1_000_000, kind=limits.kind, most=limits.largest // 1_000_000
            )
        )
    _measure(data, limits)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        _refuse(_("The file is not UTF-8 text at byte {place}.").format(place=error.start))
    try:
        tree = json.loads(
            text,
            object_pairs_hook=_no_key_twice,
            parse_constant=_no_constant,
            parse_float=_finite,
            parse_int=_short_whole,
        )
    except json.JSONDecodeError as error:
        _refuse(
            _("The file breaks off or is not JSON at line {line}, column {column}.").format(
                line=error.lineno, column=error.colno
            )
        )
    _whole_texts(tree)
    return tree


def _refuse(sentence: str) -> NoReturn:
    raise FaultyFileError(sentence)


def _measure(data: bytes, limits: Limits) -> None:
    """Depth and number of values, without parsing: strings are cut out, brackets and commas counted.

    Worked off in pieces, so that sixteen megabytes of brackets take no more memory than a small file.
    """
    if data.count(b'"') > 6 * limits.most_values:  # key and value of each, and some quotes inside
        _too_many(limits)
    bare = _STRINGS.sub(b"", data)
    depth = 0
    for start in range(0, len(bare), _AT_ONCE):
        depths = depth + np.cumsum(
            _RISE[np.frombuffer(bare[start : start + _AT_ONCE], np.uint8)], dtype=np.int64
        )
        if int(depths.max()) > DEEPEST:
            _refuse(
                _("The file nests deeper than {most} levels, which {kind} never does.").format(
                    most=DEEPEST, kind=limits.kind
                )
            )
        depth = int(depths[-1])
    if bare.count(b",") > limits.most_values:
        _too_many(limits)


def _too_many(limits: Limits) -> NoReturn:
    _refuse(
        _("The file holds more than {most} values; {kind} has fewer.").format(
            most=limits.most_values, kind=limits.kind
        )
    )


def _no_key_twice(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    tree = dict(pairs)
    if len(tree) < len(pairs):
        seen: set[str] = set()
        for key, _value in pairs:
            if key in seen:
                _refuse(_("The field '{name}' stands twice in one group.").format(name=key[:60]))
            seen.add(key)
    return tree


def _no_constant(word: str) -> float:
    _refuse(_("The file holds {word}, which is not a number to compute with.").format(word=word))


def _finite(digits: str) -> float:
    if len(digits) > LONGEST_NUMBER:
        _refuse(_("The file holds a number of {count} characters.").format(count=len(digits)))
    value = float(digits)
    if not isfinite(value):
        _refuse(_("The file holds the number {digits}, which is too large.").format(digits=digits[:30]))
    return value


def _short_whole(digits: str) -> int:
    if len(digits.lstrip("-")) > LONGEST_WHOLE:
        _refuse(_("The file holds a whole number of {count} digits.").format(count=len(digits)))
    return int(digits)


def _whole_texts(tree: Any) -> None:
    """Refuse lone surrogates, which JSON's escapes let in and no other program can read."""
    stack = [tree]
    while stack:
        node = stack.pop()
        if isinstance(node, dict):
            stack.extend(node.keys())
            stack.extend(node.values())
        elif isinstance(node, list):
            stack.extend(node)
        elif isinstance(node, str) and not node.isascii() and _HALF_CHARACTER.search(node):
            _refuse(_("A text in the file holds half a character (a lone surrogate)."))
