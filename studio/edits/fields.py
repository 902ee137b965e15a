"""Setting any declared field by its path: ``mirror.ribs``, ``lines.3.count`` (3 is the line's number), ``oil.rows.2.density_kg_m3``.

Places of a list other than the lines are counted from 1.
"""

import dataclasses
import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Annotated, Any, get_args, get_origin, get_type_hints

from studio.design.design import Design
from studio.design.field import Line
from studio.design.fields import Choice, Count, Declaration, Places, Quantity, Text, field_of, fields_of
from studio.edits.edit import Edit
from studio.edits.geometry import line_names
from studio.edits.lines import line_of
from studio.errors import BadInputError
from studio.numbers_in import read_number
from studio.text import DASH, MINUS, _

Value = float | int | str | tuple[float, ...] | None


@dataclass(frozen=True)
class FieldAt:
    """A field as it stands in a design: its path, declaration, value, and what a person calls it."""

    path: str
    declaration: Declaration
    optional: bool
    value: Any
    name: str


def known_fields(design: Design) -> Iterator[FieldAt]:
    """Every field that can be set by its path, in the order of the design."""
    yield from _below(design, "", "")


def _below(part: Any, path: str, name: str) -> Iterator[FieldAt]:
    cls: Any = type(part)
    declared = {field.name: field for field in fields_of(cls)}
    hints = get_type_hints(cls, include_extras=True)
    for field in dataclasses.fields(part):
        value, here = getattr(part, field.name), f"{path}.{field.name}".lstrip(".")
        if (found := declared.get(field.name)) is not None:
            said = ", ".join(filter(None, (name, _(found.declaration.label))))
            yield FieldAt(here, found.declaration, found.optional, value, said)
        elif dataclasses.is_dataclass(value):
            yield from _below(value, here, _(str(getattr(type(value), "TITLE", ""))))
        elif isinstance(value, tuple):
            yield from _members(value, here, name, hints[field.name])


def _members(values: tuple[Any, ...], path: str, name: str, hint: Any) -> Iterator[FieldAt]:
    declarations = _declarations(hint)
    for place, value in enumerate(values, start=1):
        if isinstance(value, Line):
            yield from _below(value, f"{path}.{value.id}", line_names([value.id]))
        elif dataclasses.is_dataclass(value):
            title = f"{_(str(getattr(type(value), 'TITLE', '')))} {place}"
            yield from _below(value, f"{path}.{place}", title)
        elif isinstance(value, int | float | str) and declarations:
            declaration = declarations[min(place, len(declarations)) - 1]
            said = ", ".join(filter(None, (name, f"{_(declaration.label)} {place}")))
            yield FieldAt(f"{path}.{place}", declaration, False, value, said)


def _declarations(hint: Any) -> list[Declaration]:
    if get_origin(hint) is not tuple:
        return []
    return [
        note
        for member in get_args(hint)
        if get_origin(member) is Annotated
        for note in get_args(member)[1:]
        if isinstance(note, Declaration)
    ]


def field_at(design: Design, path: str) -> FieldAt:
    """The field at a path. BadInputError names the nearest known paths where there is none."""
    known = {field.path: field for field in known_fields(design)}
    if path in known:
        return known[path]
    if path.startswith("lines.") and path.split(".")[1].isdigit():
        line_of(design, int(path.split(".")[1]))
    shown = "".join(c if c.isprintable() else "?" for c in path)[:60]
    inside = [name for name in known if name.startswith(path + ".")] if path else []
    last = path.rpartition(".")[2]
    by_end = [name for name in known if last and name.rpartition(".")[2] == last]
    near = inside[:4] or by_end[:3] or difflib.get_close_matches(path, known, n=4, cutoff=0.5)
    near = near or [name for name in known if last and last in name][:4]
    if not near:
        raise BadInputError(
            _("There is no field {path}; mirror.ribs is how a path looks.").format(path=shown)
        )
    if inside:
        raise BadInputError(_("{path} is a group of fields; set one of them, such as {near}.").format(
            path=shown, near=", ".join(near)
        ))  # fmt: skip
    raise BadInputError(
        _("There is no field {path}; near it are {near}.").format(path=shown, near=", ".join(near))
    )


def read_value(declaration: Declaration, value: Value, *, optional: bool = False, name: str = "") -> Value:
    """What was typed (or given), as the field holds it.

    Typed texts are understood with units, decimal comma or point; an empty text, '–' or 'none' follows the field where
    that is possible. Raises BadInputError with one sentence.
    """
    said = name or _(declaration.label)
    typed = value.strip().casefold() if isinstance(value, str) else value
    if optional and typed in (None, "", "–", "-", "none"):
        return None
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
    if isinstance(value, tuple):
        if not value:
            return DASH
        text = "; ".join(f"{part:.10g}" for part in value)
    else:
        text = f"{value:.10g}" if isinstance(value, float) else str(value)
    if isinstance(declaration, Quantity | Count | Places):
        text = text.replace("-", MINUS)
    gap = "" if declaration.unit in ("°", "") else " "
    return f"{text}{gap}{_(declaration.unit) if declaration.unit else ''}"


def set_field(design: Design, *, path: str, value: Value) -> Edit:
    """Set one field; a text is read as it was typed."""
    field = field_at(design, path)
    read = read_value(field.declaration, value, optional=field.optional, name=field.name)
    new = _replaced(design, path.split("."), read)
    assert isinstance(new, Design)
    label = _("Set {name} to {value}").format(
        name=_small(field.name), value=shown_value(field.declaration, read)
    )
    return Edit(label, new)


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
    new: Any = design
    for line_id in ids:
        line_of(design, line_id)
        new = _replaced(new, ["lines", str(line_id), name], read)
    label = _("Set {name} to {value}").format(name=said, value=shown_value(field.declaration, read))
    return Edit(label, new)


def _small(name: str) -> str:
    """A title inside a sentence: 'mirror, ribs'; a line keeps its capital."""
    return name if name.startswith(_("Line {number}").partition(" {")[0]) else name[:1].lower() + name[1:]


def _replaced(part: Any, path: Sequence[str], value: Value) -> Any:
    step, rest = path[0], path[1:]
    if isinstance(part, tuple):
        place = _place(part, step)
        new = _replaced(part[place], rest, value) if rest else value
        return (*part[:place], new, *part[place + 1 :])
    inner = getattr(part, step)
    return dataclasses.replace(part, **{step: _replaced(inner, rest, value) if rest else value})


def _place(values: tuple[Any, ...], step: str) -> int:
    if values and isinstance(values[0], Line):
        return next(place for place, line in enumerate(values) if line.id == int(step))
    return int(step) - 1
