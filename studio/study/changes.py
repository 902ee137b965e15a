"""What is another between two values of one kind, small enough to be sent while a hand drags."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

_T = TypeVar("_T", bound="DataclassInstance")


@dataclass(frozen=True)
class Some:
    """Of a tuple: what stands at some of its places now."""

    at: Mapping[int, Any]


Changes = Mapping[str, Any]
"""By the name of a field: its value now, or of a tuple as long as before :class:`Some`."""


def changes(now: _T, then: _T, *, leave: Collection[str] = ()) -> Changes:
    """What ``now`` holds otherwise than ``then``, another value of its dataclass; fields to ``leave`` are not looked at.

    Things are the same where they are one object, and things in tuples where they are equal too.
    """
    found: dict[str, Any] = {}
    for name in (field.name for field in fields(now) if field.name not in leave):
        new, old = getattr(now, name), getattr(then, name)
        if new is old:
            continue
        if isinstance(new, tuple) and isinstance(old, tuple) and len(new) == len(old):
            pairs = enumerate(zip(new, old, strict=True))
            some = {place: one for place, (one, other) in pairs if one is not other and one != other}
            if some:
                found[name] = Some(some)
        else:
            found[name] = new
    return found


def changed(then: _T, by: Changes) -> _T:
    """``then`` with what is another; all else is the very same object."""
    news = {}
    for name, new in by.items():
        if isinstance(new, Some):
            parts = list(getattr(then, name))
            for place, one in new.at.items():
                parts[place] = one
            new = tuple(parts)
        news[name] = new
    return replace(then, **news)
