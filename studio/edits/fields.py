"""Setting any declared field by its path."""

import difflib
import re
from collections.abc import Mapping, Sequence
from math import isfinite
from typing import Any

from studio.design.design import Design
from studio.design.field import Line
from studio.design.fields import (
    Choice,
    Count,
    Declaration,
    Numbers,
    Places,
    Quantity,
    Text,
    field_of,
    fields_of,
)
from studio.design.paths import field_at, line_of, replaced, with_unit
from studio.edits.edit import Edit
from studio.edits.geometry import line_names
from studio.edits.places import in_ranges
from studio.errors import BadInputError
from studio.numbers_in import read_number
from studio.text import DASH, MINUS, _

Value = float | int | str | tuple[float, ...] | None


def read_value(declaration: Declaration, value: Value, *, optional: bool = False, name: str = "") -> Value:
    """What was typed (or given), as the field holds it.

    Typed texts are understood with units, decimal comma or point; an empty text, '–' or 'none' follows the field where
    that is possible. Raises BadInputError with one sentence.
    """
    said = name or _(declaration.label)
    typed = value.strip().casefold() if isinstance(value, str) else value
    if optional and typed in (None, "", "–", "-", "none"):
        return None
    if isinstance(declaration, Numbers):
        return _numbers(declaration, value, said)
    if isinstance(declaration, Places):
        return _places(declaration, value)
    if typed in (None, "") and not isinstance(declaration, Text):
        raise BadInputError(_("{name} needs a value.").format(name=said))
    match declaration:
        case Quantity(unit=unit):
            return _amount(value, unit)
        case Count():
            amount = _amount(value, declaration.unit)
            if not isfinite(amount) or amount != round(amount):
                raise BadInputError(
                    _("{name}: {value} will not do; a whole number would be right.").format(
                        name=said, value=value
                    )
                )
            return int(amount)
        case Choice(words=words):
            return _chosen(words, str(value), said)
    return str(value or "")


def _amount(value: Value, unit: str) -> float:
    if isinstance(value, str):
        return read_number(value, unit).value
    return float(value) if isinstance(value, int | float) else 0.0


def _places(declaration: Places, value: Value) -> tuple[float, ...]:
    """A list as it was typed: figures parted by semicolons or spaces, so that a decimal comma stays one."""
    if isinstance(value, tuple):
        return value
    words = str("" if value is None else value).replace(";", " ").split()
    return tuple(
        read_number(word, declaration.unit).value for word in words if word.strip("–-") or word == "0"
    )


_RANGE = re.compile(r"(\d+)(?:\s*(?:-|–|−|\.\.)\s*(\d+))?")


def _numbers(declaration: Numbers, value: Value, name: str) -> tuple[int, ...]:
    """A list of whole numbers as it was typed, ranges with a dash, in any order: '4, 9-12'."""
    if isinstance(value, tuple):
        return tuple(int(one) for one in value)
    found: set[int] = set()
    text = str("" if value is None else value).strip()
    if text in ("–", "-"):
        return ()
    rest = _RANGE.sub(" ", text).replace(",", " ").replace(";", " ")
    ranges = [(int(low), int(high or low)) for low, high in _RANGE.findall(text) if len(low) < 8 > len(high)]
    for low, high in ranges:
        if 0 <= high - low < 1_000:
            found |= set(range(low, high + 1))
    if rest.strip() or any(not 0 <= high - low < 1_000 for low, high in ranges) or (text and not found):
        raise BadInputError(
            _("{name}: “{value}” will not do; numbers and ranges as 4, 9-12 would be right.").format(
                name=name, value=text[:40]
            )
        )
    return tuple(sorted(found))


def _chosen(words: Any, value: str, name: str) -> str:
    plain = value.strip().casefold()
    for key, word in words.items():
        if plain in (str(key).casefold(), str(word).casefold(), _(str(word)).casefold()):
            return str(key)
    raise BadInputError(
        _("{name}: “{value}” is no choice; one of {words} would be right.").format(
            name=name, value=value[:40], words=", ".join(words)
        )
    )


def shown_value(declaration: Declaration, value: Value) -> str:
    """A value as a label shows it, with its unit."""
    if value is None:
        return _("as field")
    if isinstance(declaration, Choice):
        return _(declaration.words.get(str(value), str(value)))
    if isinstance(value, str):
        return value
    if isinstance(value, tuple):
        if not value:
            return DASH
        if isinstance(declaration, Numbers):
            return in_ranges([int(part) for part in value])
        *first, last = value
        return "; ".join(
            [*(f"{part:.10g}".replace("-", MINUS) for part in first), with_unit(declaration, last)]
        )
    return with_unit(declaration, value)


def set_field(design: Design, *, path: str, value: Value) -> Edit:
    """Set one field; a text is read as it was typed."""
    field = field_at(design, path)
    read = read_value(field.declaration, value, optional=field.optional, name=field.name)
    new = replaced(design, path, read)
    label = _("Set {name} to {value}").format(
        name=_small(field.name), value=shown_value(field.declaration, read)
    )
    return Edit(label, new)


def set_fields(design: Design, *, values: Mapping[str, Value]) -> Edit:
    """Set several fields, by their paths, in one step; texts are read as they were typed."""
    if not values:
        raise BadInputError(_("No field is named; name at least one by its path, such as mirror.ribs."))
    new, told = design, []
    for path, value in values.items():
        field = field_at(new, path)
        read = read_value(field.declaration, value, optional=field.optional, name=field.name)
        new = replaced(new, path, read)
        told.append(
            _("{name} to {value}").format(name=_small(field.name), value=shown_value(field.declaration, read))
        )
    return Edit(_("Set {fields}").format(fields="; ".join(told)), new)


def set_line_field(design: Design, *, ids: Sequence[int], name: str, value: Value) -> Edit:
    """Set one field of several lines alike."""
    try:
        field = field_of(Line, name)
    except KeyError:
        near = difflib.get_close_matches(name, [f.name for f in fields_of(Line)], n=3, cutoff=0.3)
        raise BadInputError(
            _("A line has no field {name}; near it are {near}.").format(
                name=name[:60], near=", ".join(near) or "count"
            )
        ) from None
    if not ids:
        raise BadInputError(_("No line is selected; select one first."))
    said = f"{line_names(ids)}, {_(field.declaration.label)}"
    read = read_value(field.declaration, value, optional=field.optional, name=said)
    new = design
    for line_id in ids:
        line_of(design, line_id)
        new = replaced(new, f"lines.{line_id}.{name}", read)
    label = _("Set {name} to {value}").format(name=said, value=shown_value(field.declaration, read))
    return Edit(label, new)


def _small(name: str) -> str:
    """A title inside a sentence: 'mirror, ribs'; a line keeps its capital."""
    return name if name.startswith(_("Line {number}").partition(" {")[0]) else name[:1].lower() + name[1:]
