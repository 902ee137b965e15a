"""How a field is declared: once, on its dataclass.

A field's type is written ``Annotated[float, Quantity(...)]`` (or ``Count``, ``Choice``, ``Text``). The site file's
validation and JSON Schema, the sheet's form with unit and limits, tooltips, table headers and the glossary all read
that declaration.
"""

import dataclasses
from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import NoneType
from typing import (
    TYPE_CHECKING,
    Annotated,
    Any,
    TypeVar,
    Union,
    dataclass_transform,
    get_args,
    get_origin,
    get_type_hints,
)

from pydantic_core import CoreSchema, core_schema

if TYPE_CHECKING:  # only who writes the JSON Schema loads it
    from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler

_T = TypeVar("_T")
CONFIG = "__pydantic_config__"
"""Where the validator looks for the settings of a plain dataclass."""


def mark(message: str) -> str:
    """Mark a text for translation where it is declared; it is translated where it is shown."""
    return message


@dataclass_transform(frozen_default=True, kw_only_default=True)
def document(cls: type[_T]) -> type[_T]:
    """Make a class part of the document: frozen, by keyword only, unknown fields refused."""
    setattr(cls, CONFIG, {"extra": "forbid", "title": cls.__name__})
    return dataclass(frozen=True, kw_only=True)(cls)


@dataclass(frozen=True)
class Declaration(ABC):
    """What every declared field says of itself. ``label`` and ``help`` are English, translated when shown."""

    label: str
    unit: str = ""
    help: str = ""

    @abstractmethod
    def schema(self) -> CoreSchema:
        """The validator's schema of a bare value."""

    def __get_pydantic_core_schema__(self, source: Any, handler: "GetCoreSchemaHandler") -> CoreSchema:
        """Let the validator hold a value to this declaration."""
        if NoneType in get_args(source):
            return core_schema.nullable_schema(self.schema())
        return self.schema()

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: "GetJsonSchemaHandler"
    ) -> dict[str, Any]:
        """Carry label, unit and help into the JSON Schema."""
        json_schema = handler(schema)
        json_schema["title"] = self.label
        described = ". ".join(
            part for part in (self.help.rstrip("."), self.unit and f"Unit: {self.unit}") if part
        )
        if described:
            json_schema["description"] = described
        return json_schema


@dataclass(frozen=True)
class Quantity(Declaration):
    """A number with a unit. ``low`` and ``high`` are hard limits: beyond them nothing can be computed."""

    low: float = -1e9
    high: float = 1e9
    digits: int = 2
    step: float = 0.0

    def schema(self) -> CoreSchema:
        """A finite number between the limits."""
        return core_schema.float_schema(strict=True, ge=self.low, le=self.high, allow_inf_nan=False)


@dataclass(frozen=True)
class Places(Declaration):
    """A short list of numbers with a unit, rising; empty where nothing is said."""

    low: float = -1e9
    high: float = 1e9
    longest: int = 60

    def schema(self) -> CoreSchema:
        """So many finite numbers between the limits."""
        inner = core_schema.float_schema(strict=True, ge=self.low, le=self.high, allow_inf_nan=False)
        return core_schema.tuple_variable_schema(inner, max_length=self.longest)


@dataclass(frozen=True)
class Numbers(Declaration):
    """A list of whole numbers, rising; empty where none is named."""

    low: int = 0
    high: int = 1_000_000
    longest: int = 400

    def schema(self) -> CoreSchema:
        """So many whole numbers between the limits."""
        inner = core_schema.int_schema(strict=True, ge=self.low, le=self.high)
        return core_schema.tuple_variable_schema(inner, max_length=self.longest)


@dataclass(frozen=True)
class Count(Declaration):
    """A whole number."""

    low: int = 0
    high: int = 1_000_000

    def schema(self) -> CoreSchema:
        """A whole number between the limits."""
        return core_schema.int_schema(strict=True, ge=self.low, le=self.high)


@dataclass(frozen=True)
class Text(Declaration):
    """A line of text. Control characters and lone surrogates are refused."""

    longest: int = 200

    def schema(self) -> CoreSchema:
        """Text up to the longest length."""
        return core_schema.str_schema(strict=True, max_length=self.longest, pattern=r"^[^\x00-\x1f\x7f]*$")


@dataclass(frozen=True)
class Choice(Declaration):
    """One of a few words; ``words`` maps what the file holds to what a person reads."""

    words: Mapping[str, str] = dataclasses.field(default_factory=dict)

    def schema(self) -> CoreSchema:
        """One of the words."""
        return core_schema.literal_schema(list(self.words))


@dataclass(frozen=True)
class ByKind:
    """Marks a union of classes of the document that tell themselves apart by their field ``kind``."""

    def __get_pydantic_core_schema__(self, source: Any, handler: "GetCoreSchemaHandler") -> CoreSchema:
        """Let the writer of the JSON Schema know it too."""
        kinds = {one.kind: handler.generate_schema(one) for one in get_args(source)}
        return core_schema.tagged_union_schema(kinds, "kind")


@dataclass(frozen=True)
class FieldOf:
    """A declared field of a class of the document."""

    name: str
    declaration: Declaration
    optional: bool


def _declared(name: str, hint: Any) -> FieldOf | None:
    optional = False
    if get_origin(hint) is Union or type(hint).__name__ == "UnionType":
        inner = [arg for arg in get_args(hint) if arg is not NoneType]
        optional = len(inner) < len(get_args(hint))
        if len(inner) == 1:
            hint = inner[0]
    if get_origin(hint) is not Annotated:
        return None
    base, *notes = get_args(hint)
    optional = optional or NoneType in get_args(base)
    for note in notes:
        if isinstance(note, Declaration):
            return FieldOf(name, note, optional)
    return None


@cache
def hints_of(cls: type) -> dict[str, Any]:
    """The types of a class's fields with what is declared of them, by name."""
    return get_type_hints(cls, include_extras=True)


@cache
def fields_of(cls: type) -> tuple[FieldOf, ...]:
    """The declared fields of a class of the document, in the order they are declared."""
    hints = hints_of(cls)
    found = (_declared(field.name, hints[field.name]) for field in dataclasses.fields(cls))
    return tuple(field for field in found if field is not None)


def field_of(cls: type, name: str) -> FieldOf:
    """The declaration of one field; KeyError when the class declares no such field."""
    for field in fields_of(cls):
        if field.name == name:
            return field
    raise KeyError(name)
