"""What the sheet is made of: pages of folding groups of bound fields."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from studio.design.design import Design
from studio.design.field import Line
from studio.design.paths import field_at
from studio.desk.bound import Bound
from studio.edits.fields import set_field


@dataclass(frozen=True)
class Group:
    """A folding group: its key, title, the fields in it, and what its folded head says of a design."""

    key: str
    title: str
    bounds: tuple[Bound, ...]
    brief: Callable[[Design], str] = lambda _design: ""
    open: bool = False
    under: str = ""
    """The key of the group it belongs to: it shows while that one is unfolded."""
    whole: bool = False
    """Its fields are the same ones whatever is selected and however the design is made up."""


@dataclass(frozen=True)
class Page:
    """Everything the sheet shows for a selection: title, the line below it, what can be done, and the groups."""

    title: str
    about: Callable[[Design], str]
    groups: tuple[Group, ...]
    actions: tuple[str, ...] = ()


def bound_in(design: Design, path: str, *, label: str = "") -> Bound:
    """An editor's binding to the field at a path (``mirror.ribs``, ``oil.rows.2.density_kg_m3``).

    Raises BadInputError when this design has no such field.
    """
    found = field_at(design, path)
    return Bound(
        found.declaration,
        lambda d: _value_at(d, path),
        lambda d, text: set_field(d, path=path, value=text),
        found.optional,
        label,
    )


def _value_at(design: Design, path: str) -> Any:
    """The value at a path that is known to be there: asked for in every frame of a drag, so it looks nothing up."""
    value: Any = design
    for step in path.split("."):
        if isinstance(value, tuple):
            lines = bool(value) and isinstance(value[0], Line)
            value = design.line(int(step)) if lines else value[int(step) - 1]
        else:
            value = getattr(value, step)
    return value
