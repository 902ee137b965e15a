"""Which attribute of a map's lines and points holds their heights: as a person says, by its name, else to be asked."""

from collections.abc import Sequence
from dataclasses import dataclass

from studio.errors import BadInputError, FaultyFileError
from studio.files.heights.found import HIGHEST_M, LOWEST_M
from studio.files.land.attributes import names_heights
from studio.files.land.shapes import Shape
from studio.text import _

_FOOT_M = 0.3048
_MOST_NAMED = 6


@dataclass(frozen=True)
class HeightAttribute:
    """``name`` is the one whose values are read, ``others`` those that may be heights too; ``sure``: none of these as well."""

    name: str
    others: tuple[str, ...]
    sure: bool


def attributes_of(shapes: Sequence[Shape]) -> tuple[str, ...]:
    """The attributes of lines and points whose values may be heights of land, in metres or feet; those called so first."""
    names = dict.fromkeys(key for shape in shapes for key in shape.numbers)
    found = []
    for name in names:
        values = {shape.numbers[name] for shape in shapes if name in shape.numbers}
        if len(values) > 1 and min(values) >= LOWEST_M / _FOOT_M and max(values) <= HIGHEST_M / _FOOT_M:
            found.append(name)
    return tuple(sorted(found, key=lambda name: not names_heights(name)))


def attribute_of(shapes: Sequence[Shape], said: str, *, name: str) -> HeightAttribute:
    """The attribute of the heights of a map that has none at its points.

    ``said`` is what a person says, empty: nothing. BadInputError where that is none of them, FaultyFileError where no
    attribute can be heights.
    """
    known = attributes_of(shapes)
    if said:
        numbers = dict.fromkeys(key for shape in shapes for key in shape.numbers)
        chosen = next((one for one in numbers if one.casefold() == said.strip().casefold()), None)
        if chosen is None:
            raise BadInputError(
                _("{name} has no attribute {said} that holds numbers; {known} would be right.").format(
                    name=name, said=said[:40], known=", ".join(known[:_MOST_NAMED]) or _("none of its attributes")
                )
            )  # fmt: skip
        return HeightAttribute(chosen, tuple(one for one in known if one != chosen), sure=True)
    if not known:
        raise FaultyFileError(_("{name} holds no point with a height.").format(name=name))
    called = [one for one in known if names_heights(one)]
    return HeightAttribute(known[0], known[1 : _MOST_NAMED + 1], sure=len(called) == 1)
