"""The validator of a part of the document, built from its declarations.

The validator's core is asked for directly: what the library above it needs to read any class at all would take a good
part of the time in which the desk opens. ``tests/design/test_schema.py`` holds the two against each other.
"""

import dataclasses
from functools import cached_property
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic_core import CoreSchema, SchemaSerializer, SchemaValidator, core_schema

from studio.design.fields import CONFIG, ByKind, Declaration, hints_of


class Adapter:
    """Holds plain trees to a type of the document, and writes values of that type out as plain trees."""

    def __init__(self, hint: Any) -> None:
        self._hint = hint

    @cached_property
    def _schema(self) -> CoreSchema:
        parts: dict[str, CoreSchema] = {}
        whole = _schema_of(self._hint, parts)
        return core_schema.definitions_schema(whole, list(parts.values()))

    @cached_property
    def _validator(self) -> SchemaValidator:
        return SchemaValidator(self._schema)

    @cached_property
    def _serializer(self) -> SchemaSerializer:
        return SchemaSerializer(self._schema)

    def validate_python(self, tree: Any) -> Any:
        """The value that a tree describes; raises pydantic_core.ValidationError with every fault of it."""
        return self._validator.validate_python(tree)

    def dump_python(self, value: Any, *, mode: Literal["json", "python"] = "python") -> Any:
        """A value as a tree of dicts and tuples, in ``json`` of dicts and lists; defaults are written out."""
        return self._serializer.to_python(value, mode=mode)


def _schema_of(hint: Any, parts: dict[str, CoreSchema]) -> CoreSchema:
    """The schema of a type as the document's classes use them; ``parts`` gathers the classes inside it by their names."""
    if dataclasses.is_dataclass(hint) and isinstance(hint, type):
        if hint.__name__ not in parts:
            parts[hint.__name__] = _schema_of_class(hint, parts)
        return core_schema.definition_reference_schema(hint.__name__)
    origin, inner = get_origin(hint), get_args(hint)
    if origin is Annotated:
        return _schema_of_annotated(inner[0], inner[1:], parts)
    if origin is Literal:
        return core_schema.literal_schema(list(inner))
    if origin is tuple and len(inner) == 2 and inner[1] is Ellipsis:
        return core_schema.tuple_variable_schema(_schema_of(inner[0], parts))
    if origin is tuple:
        return core_schema.tuple_schema([_schema_of(one, parts) for one in inner])
    if origin in (Union, UnionType) and len(inner) == 2 and inner[1] is NoneType:
        return core_schema.nullable_schema(_schema_of(inner[0], parts))
    raise TypeError(f"a field of the document cannot be declared as {hint}")


def _schema_of_annotated(hint: Any, notes: tuple[Any, ...], parts: dict[str, CoreSchema]) -> CoreSchema:
    for note in notes:
        if isinstance(note, Declaration):
            schema = note.schema()
            return core_schema.nullable_schema(schema) if NoneType in get_args(hint) else schema
        if isinstance(note, ByKind):
            kinds = {one.kind: _schema_of(one, parts) for one in get_args(hint)}
            return core_schema.tagged_union_schema(kinds, "kind")
    raise TypeError(f"a field of the document declares nothing of itself: {hint}")


def _schema_of_class(cls: type, parts: dict[str, CoreSchema]) -> CoreSchema:
    hints, declared = hints_of(cls), dataclasses.fields(cls)
    fields = [
        core_schema.dataclass_field(one.name, _with_default(_schema_of(hints[one.name], parts), one))
        for one in declared
    ]
    return core_schema.dataclass_schema(
        cls,
        core_schema.dataclass_args_schema(cls.__name__, fields),
        [one.name for one in declared],
        ref=cls.__name__,
        config={"title": cls.__name__, "extra_fields_behavior": getattr(cls, CONFIG)["extra"]},
    )


def _with_default(schema: CoreSchema, field: "dataclasses.Field[Any]") -> CoreSchema:
    if field.default is dataclasses.MISSING:
        return schema
    return core_schema.with_default_schema(schema, default=field.default)
