"""Declared fields by their path: ``mirror.ribs``, ``lines.3.count`` (3 is the line's number), ``oil.rows.2.density_kg_m3``.

Places of a list other than the lines are counted from 1.
"""

import dataclasses
import difflib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, get_args, get_origin

from studio.design.design import Design
from studio.design.field import Line
from studio.design.fields import Declaration, fields_of, hints_of
from studio.errors import BadInputError
from studio.text import MINUS, _


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


def field_at(design: Design, path: str) -> FieldAt:
    """The field at a path. BadInputError names the nearest known paths where there is none."""
    for field in _below(design, "", "", path.split(".")):
        if field.path == path:
            return field
    known = {field.path: field for field in known_fields(design)}
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


def line_of(design: Design, line_id: int) -> Line:
    """The line with this id; BadInputError names those there are."""
    try:
        return design.line(line_id)
    except KeyError:
        there = ", ".join(str(line.id) for line in design.lines) or _("none")
        raise BadInputError(
            _("There is no Line {number}; there are: {there}.").format(number=line_id, there=there)
        ) from None


def with_unit(declaration: Declaration, value: float) -> str:
    """A number as a label shows it, with its unit: 36°, 0.2 m, 11."""
    text = (f"{value:.10g}" if isinstance(value, float) else str(value)).replace("-", MINUS)
    gap = "" if declaration.unit in ("°", "") else " "
    return f"{text}{gap}{_(declaration.unit) if declaration.unit else ''}"


def replaced(design: Design, path: str, value: Any) -> Design:
    """The design with another value at a path that it has; nothing is held to its limits here.

    A line that is counted or numbered anew keeps its empty places empty.
    """
    new = _replaced(design, path.split("."), value)
    assert isinstance(new, Design)
    return new


def _below(part: Any, path: str, name: str, steps: Sequence[str] = ()) -> Iterator[FieldAt]:
    """Fields of a part of the design; with ``steps`` only those that they lead to."""
    cls: Any = type(part)
    declared = {field.name: field for field in fields_of(cls)}
    hints = hints_of(cls)
    for field in dataclasses.fields(part):
        if steps and field.name != steps[0]:
            continue
        value, here = getattr(part, field.name), f"{path}.{field.name}".lstrip(".")
        if (found := declared.get(field.name)) is not None:
            said = ", ".join(filter(None, (name, _(found.declaration.label))))
            yield FieldAt(here, found.declaration, found.optional, value, said)
        elif dataclasses.is_dataclass(value):
            yield from _below(value, here, _(str(getattr(type(value), "TITLE", ""))), steps[1:])
        elif isinstance(value, tuple):
            yield from _members(value, here, name, hints[field.name], steps[1:])


def _members(
    values: tuple[Any, ...], path: str, name: str, hint: Any, steps: Sequence[str]
) -> Iterator[FieldAt]:
    declarations = _declarations(hint)
    for place, value in enumerate(values, start=1):
        if steps and steps[0] != str(value.id if isinstance(value, Line) else place):
            continue
        if isinstance(value, Line):
            yield from _below(
                value, f"{path}.{value.id}", _("Line {number}").format(number=value.id), steps[1:]
            )
        elif dataclasses.is_dataclass(value):
            title = f"{_(str(getattr(type(value), 'TITLE', '')))} {place}"
            yield from _below(value, f"{path}.{place}", title, steps[1:])
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


def _replaced(part: Any, path: Sequence[str], value: Any) -> Any:
    step, rest = path[0], path[1:]
    if isinstance(part, tuple):
        place = _place(part, step)
        new = _replaced(part[place], rest, value) if rest else value
        return (*part[:place], new, *part[place + 1 :])
    if isinstance(part, Line) and isinstance(value, int) and step in ("count", "first_number"):
        return part.with_count(value) if step == "count" else part.numbered_from(value)
    inner = getattr(part, step)
    return dataclasses.replace(part, **{step: _replaced(inner, rest, value) if rest else value})


def _place(values: tuple[Any, ...], step: str) -> int:
    if values and isinstance(values[0], Line):
        return next(place for place, line in enumerate(values) if line.id == int(step))
    return int(step) - 1
