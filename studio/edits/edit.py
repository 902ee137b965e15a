"""What an edit is, and the one gate that every edit passes."""

from dataclasses import dataclass

from studio.design.design import Design
from studio.design.validate import hold_to_rules


@dataclass(frozen=True)
class Edit:
    """A new design and what undo calls the step that led to it ("Move Line 3 by 1.20 m")."""

    label: str
    design: Design


def admit(before: Design, edit: Edit) -> Edit:
    """Let an edit through when its design can be computed and opened again.

    Raises BadInputError with one sentence that says what, where and what would be right.
    """
    hold_to_rules(before, edit.design)
    return edit
