"""From a plain tree to a Design, and what is wrong with it, in our words.

The validator's findings are mapped to ``Fault`` by their type; its own words never reach a person. Faults between
fields are found together with faults of single fields.
"""

import dataclasses
from collections.abc import Mapping
from functools import cache
from typing import Any, get_args, get_origin

from pydantic_core import ErrorDetails, ValidationError

from studio.design.design import Design
from studio.design.fields import Choice, Count, Declaration, Numbers, Places, Quantity, Text, hints_of
from studio.design.obstacles import OBSTACLES
from studio.design.rules import between_fields, of_a_size
from studio.design.schema import Adapter
from studio.design.site import FileWeather, HeightGrid, MonthlyWeather, SpotHeights
from studio.errors import BadInputError, Fault
from studio.text import _

_SHOWN = 60
"""How many characters of a wrong value are shown."""
MOST_FAULTS = 200
"""So many faults are told one by one, the rest by their number."""


@cache
def adapter() -> Adapter:
    """The validator of a whole design, built once."""
    return Adapter(Design)


def design_from_tree(tree: Any) -> tuple[Design | None, tuple[Fault, ...]]:
    """The design that a tree (as JSON gives it) describes, or None with every fault of it at once."""
    design: Design | None = None
    faults = list(of_a_size(tree))
    if faults:
        return None, tuple(faults)
    try:
        design = adapter().validate_python(tree)
    except ValidationError as error:
        found = error.errors(include_url=False, include_context=False)
        faults = [_fault(detail) for detail in found[:MOST_FAULTS]]
        if len(found) > MOST_FAULTS:
            more = _("{count} faults more").format(count=len(found) - MOST_FAULTS)
            faults.append(Fault("$.design", _("the design"), more, _("mend those above first")))
    if isinstance(tree, Mapping):
        faults += between_fields(tree)
    return (None if faults else design), tuple(faults)


def tree_of(design: Design) -> dict[str, Any]:
    """A design as a plain tree of dicts, lists, numbers and texts, defaults written out."""
    tree = adapter().dump_python(design, mode="json")
    assert isinstance(tree, dict)
    return tree


def hold_to_rules(old: Design | None, new: Design) -> None:
    """Refuse a design that could not be opened again; only what differs from ``old`` is looked at.

    Raises BadInputError with one sentence for the first thing wrong.
    """
    if old is new:
        return
    for field in dataclasses.fields(new):
        part = getattr(new, field.name)
        if old is None or part is not getattr(old, field.name):
            for fault in of_a_size(part, f"$.design.{field.name}"):
                raise BadInputError(_sentence(fault))
            try:
                _part_adapter(field.name).validate_python(_plain(field.name, part))
            except ValidationError as error:
                detail = error.errors(include_url=False)[0]
                raise BadInputError(_sentence(_fault(detail, (field.name,)))) from None
    # a fault may lie between a part that changed and one that did not
    whole = {field.name: _plain(field.name, getattr(new, field.name)) for field in dataclasses.fields(new)}
    for fault in between_fields(whole):
        raise BadInputError(_sentence(fault))


def _sentence(fault: Fault) -> str:
    return _("{name}: {found} will not do; {wanted}.").format(
        name=fault.name, found=fault.found, wanted=fault.wanted
    )


@cache
def _part_adapter(section: str) -> Adapter:
    return Adapter(hints_of(Design)[section])


def _plain(section: str, part: Any) -> Any:
    return _part_adapter(section).dump_python(part, mode="python")


def _fault(detail: ErrorDetails, before: tuple[str | int, ...] = ()) -> Fault:
    kind = detail["type"]
    places = (*before, *detail["loc"])
    path, name, declaration = _locate(places)
    found = shown(detail["input"])
    if kind == "missing":
        return Fault(path, name, _("nothing"), _("this field must be there"))
    if kind in ("unexpected_keyword_argument", "extra_forbidden"):
        return Fault(path, str(places[-1]), found, _("there is no such field; remove it or correct its name"))
    return Fault(path, name, found, _wanted(kind, declaration, path))


def _wanted(kind: str, declaration: Declaration | None, path: str) -> str:
    match declaration:
        case Quantity(low=low, high=high, unit=unit):
            return _("a number from {low} to {high} {unit} would be right").format(
                low=f"{low:g}", high=f"{high:g}", unit=_(unit)
            ).replace("  ", " ")  # fmt: skip
        case Places(low=low, high=high, unit=unit, longest=longest):
            return _("a list of at most {longest} numbers from {low} to {high} {unit} would be right").format(
                longest=longest, low=f"{low:g}", high=f"{high:g}", unit=_(unit)
            )
        case Numbers(longest=longest):
            return _("a list of at most {longest} whole numbers would be right").format(longest=longest)
        case Count(low=low, high=high):
            return _("a whole number from {low} to {high} would be right").format(low=low, high=high)
        case Text(longest=longest):
            return _("one line of at most {longest} characters would be right").format(longest=longest)
        case Choice(words=words):
            return _("one of {words} would be right").format(words=", ".join(words))
    if kind in ("tuple_type", "list_type", "too_short", "too_long"):
        return _("a list of the right length would be right")
    if kind.startswith(("dataclass", "model")):
        return _("a group of named fields would be right")
    if kind.startswith("union_tag"):
        if path.startswith("$.design.obstacles"):
            return _("kind {kinds} would be right").format(
                kinds=_(" or ").join(f"'{known}'" for known in OBSTACLES)
            )
        known = _KINDS.get(path.rpartition(".")[2], {})
        return _("kind {kinds} would be right").format(kinds=_(" or ").join(f"'{kind}'" for kind in known))
    if kind == "literal_error":
        return _("the word this part is marked with would be right")
    return _("a value of the right kind would be right")


def _locate(places: tuple[str | int, ...]) -> tuple[str, str, Declaration | None]:
    """Path in the file, the name a person knows, and the declaration, of a place in the tree."""
    path, names = "$.design", [""]
    cls: Any = Design
    declaration: Declaration | None = None
    hint: Any = None
    for place in places:
        if isinstance(place, int):
            path += f"[{place}]"
            members = get_args(hint) if get_origin(hint) is tuple else ()
            pair = [told for member in members if (told := _declared(member)) is not None]
            if declaration is not None and len(pair) == 2 and pair[0].label != pair[1].label:
                # the two of a pair have names of their own
                before, declaration = declaration, pair[place % 2]
                names[-1] = names[-1].replace(_(before.label), _(declaration.label), 1)
                continue
            hint = members[0] if members else None
            names[-1] = f"{names[-1]} {place + 1}".strip()
            continue
        if place in (kinds := _KINDS.get(path.rpartition(".")[2], {})):
            cls = kinds[place]
            continue
        if path.startswith("$.design.obstacles[") and place in OBSTACLES and path.endswith("]"):
            cls = OBSTACLES[place]
            continue
        path += f".{place}"
        hint = hints_of(cls).get(place) if cls else None
        declaration = _declared(hint)
        cls = next((found for found in _within(hint, type) if dataclasses.is_dataclass(found)), None)
        title = declaration.label if declaration else getattr(cls, "TITLE", "")
        names.append(_(title) if title else place.replace("_", " "))
    return path, ", ".join(filter(None, names)) or _("the design"), declaration


def _declared(hint: Any) -> Declaration | None:
    """The first declaration inside a type hint."""
    return next((d for d in _within(hint, object) if isinstance(d, Declaration)), None)


_KINDS: Mapping[str, Mapping[str, type[Any]]] = {
    "weather": {"months": MonthlyWeather, "file": FileWeather},
    "heights": {"spots": SpotHeights, "grid": HeightGrid},
}
"""The kinds that a part may be of, by the word the file marks them with."""


def _within(hint: Any, kind: type[Any]) -> tuple[Any, ...]:
    """Everything of a kind inside a type hint, outermost first."""
    here = (hint,) if isinstance(hint, kind) else ()
    return here + tuple(found for arg in get_args(hint) for found in _within(arg, kind))


def shown(value: Any) -> str:
    """A wrong value in a few words; long ones are cut, groups and lists counted."""
    if isinstance(value, str):
        text = repr(value[: _SHOWN + 1])
    elif isinstance(value, Mapping):
        text = _("a group of {count} fields").format(count=len(value))
    elif isinstance(value, list | tuple):
        text = _("a list of {count}").format(count=len(value))
    elif isinstance(value, bool) or value is None:
        text = {True: "true", False: "false", None: "null"}[value]
    else:
        text = f"{value:g}" if isinstance(value, float) else repr(value)
    text = "".join(c if c.isprintable() else "?" for c in text)
    return text if len(text) <= _SHOWN else text[:_SHOWN] + "…"
