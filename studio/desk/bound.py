"""What a field of the sheet edits: how its value is read from a design, and the edit that sets what was typed."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from studio.design.design import Design
from studio.design.fields import Declaration
from studio.edits.edit import Edit


@dataclass(frozen=True)
class Bound:
    """What an editor edits.

    ``read`` gives the value in a design; ``edit`` the edit that sets what was typed. ``inherited`` gives, for a value
    that may follow the field's, that value. ``many`` gives all values when several things are edited alike.
    """

    declaration: Declaration
    read: Callable[[Design], Any]
    edit: Callable[[Design, str], Edit]
    optional: bool = False
    label: str = ""
    inherited: Callable[[Design], Any] | None = None
    many: Callable[[Design], tuple[Any, ...]] | None = None
