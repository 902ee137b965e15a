"""Reading JSON that nobody vouches for: size, depth, count, duplicate keys and odd numbers are caught before they cost.

Every fault ends in FaultyFileError with one sentence; nothing else leaves this module.
"""

import json
import re
from math import isfinite
from typing import Any, NoReturn

import numpy as np

from studio.errors import FaultyFileError
from studio.text import _

LARGEST = 16_000_000
"""Bytes a site file may have."""
MOST_VALUES = 400_000
DEEPEST = 40
_STRINGS = re.compile(rb'"[^"\\]*(?:\\.[^"\\]*)*"', re.DOTALL)


def parse(data: bytes) -> Any:
    """The tree that JSON bytes hold, with finite numbers, whole texts and no key twice."""
    if len(data) > LARGEST:
        _refuse(
            _("The file has {size} MB; a site file has at most {most} MB.").format(
                size=len(data) // 1_000_000, most=LARGEST // 1_000_000
            )
        )
    _measure(data)
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


def _measure(data: bytes) -> None:
    """Depth and number of values, without parsing: strings are cut out, brackets and commas counted."""
    bare = np.frombuffer(_STRINGS.sub(b"", data), dtype=np.uint8)
    rise = np.isin(bare, np.frombuffer(b"[{", np.uint8)).astype(np.int32)
    rise -= np.isin(bare, np.frombuffer(b"]}", np.uint8))
    if rise.size and int(np.cumsum(rise).max()) > DEEPEST:
        _refuse(_("The file nests deeper than {most} levels, which no site file does.").format(most=DEEPEST))
    values = int(np.count_nonzero(bare == ord(",")))
    if values > MOST_VALUES:
        _refuse(
            _("The file holds {count} values; a site file has at most {most}.").format(
                count=values, most=MOST_VALUES
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
    value = float(digits)
    if not isfinite(value):
        _refuse(_("The file holds the number {digits}, which is too large.").format(digits=digits[:30]))
    return value


def _short_whole(digits: str) -> int:
    if len(digits) > 18:
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
        elif isinstance(node, str) and not node.isascii() and any("\ud800" <= c <= "\udfff" for c in node):
            _refuse(_("A text in the file holds half a character (a lone surrogate)."))
